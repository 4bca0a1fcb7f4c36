"""One rider's weeks: revisions of the plan, its sessions and targets, and the decision behind each."""

import uuid

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.tenant import TenantModel
from athletes.retention import PrivacyRule
from programs.engine.facts import Change, Part, Phase


class WeekPlanQuerySet(models.QuerySet["WeekPlan"]):
    """Filters over week plans, each a word."""

    def of_week(self, year: int, number: int) -> "WeekPlanQuerySet":
        return self.filter(iso_year=year, iso_week=number)

    def current(self) -> "WeekPlanQuerySet":
        """The revision in force of each week: those superseded or withdrawn are history."""
        return self.exclude(state__in=[WeekPlan.State.SUPERSEDED, WeekPlan.State.WITHDRAWN])


class WeekPlan(TenantModel):
    """One revision of what a rider does in an ISO week. A sent revision is never altered; a change makes the next."""

    class State(models.TextChoices):
        DRAFT = "draft", _("to be looked at")
        APPROVED = "approved", _("approved")
        SENT = "sent", _("sent")
        HELD = "held", _("held")
        WITHDRAWN = "withdrawn", _("withdrawn")
        SUPERSEDED = "superseded", _("replaced")

    rider = models.ForeignKey("athletes.Rider", on_delete=models.CASCADE, related_name="week_plans")
    iso_year = models.PositiveSmallIntegerField()
    iso_week = models.PositiveSmallIntegerField()
    revision = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=12, choices=State, default=State.DRAFT)
    phase = models.CharField(max_length=12, choices=[(phase.value, phase.value) for phase in Phase])
    is_light = models.BooleanField(default=False)
    reasons = models.JSONField(default=list)
    concerns = models.JSONField(default=list)
    placement = models.JSONField(null=True, blank=True)
    may_send_unapproved = models.BooleanField(default=True)
    is_downward = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    approved_at = models.DateTimeField(null=True, blank=True)
    approved_by = models.ForeignKey(
        "athletes.Coach", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    approved_without_coach = models.BooleanField(default=False)
    sent_at = models.DateTimeField(null=True, blank=True)
    override_reason = models.CharField(max_length=300, blank=True)

    objects = WeekPlanQuerySet.as_manager()
    privacy = PrivacyRule(rider="rider", health=True)

    class Meta:
        ordering = ["-iso_year", "-iso_week", "-revision"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "rider", "iso_year", "iso_week", "revision"], name="one_plan_a_revision"
            ),
            models.UniqueConstraint(
                fields=["club", "rider", "iso_year", "iso_week"],
                condition=~models.Q(state__in=["superseded", "withdrawn"]),
                name="one_current_plan_a_week",
            ),
        ]
        indexes = [models.Index(fields=["club", "iso_year", "iso_week", "state"], name="plans_of_a_week")]


class Decision(TenantModel):
    """What the engine was told and what it answered, for one revision. Replays to the same answer.

    `facts` and `answer` are documents of `programs/engine/codec.py`; `digest` is over the facts; `library` names the
    library version that the engine read.
    """

    plan = models.OneToOneField(WeekPlan, on_delete=models.CASCADE, related_name="decision")
    facts = models.JSONField()
    answer = models.JSONField()
    digest = models.CharField(max_length=64)
    library = models.CharField(max_length=64)
    schema = models.PositiveSmallIntegerField()
    engine = models.PositiveSmallIntegerField()

    privacy = PrivacyRule(rider="plan__rider", health=True)


class SessionKey(TenantModel):
    """The lasting name of one session of one rider's week: survives revisions, owns UID, link and check-in.

    `pinned_on` is the day that a coach pinned the session to; every revision worked out after that keeps to it.
    """

    rider = models.ForeignKey("athletes.Rider", on_delete=models.CASCADE, related_name="session_keys")
    iso_year = models.PositiveSmallIntegerField()
    iso_week = models.PositiveSmallIntegerField()
    ordinal = models.PositiveSmallIntegerField()
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    flagged_at = models.DateTimeField(null=True, blank=True)
    pinned_on = models.DateField(null=True, blank=True)

    privacy = PrivacyRule(rider="rider")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["club", "rider", "iso_year", "iso_week", "ordinal"], name="one_key_a_session"
            )
        ]


class PlannedSession(TenantModel):
    """One session in one revision: when, where, and in what order."""

    plan = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="sessions")
    key = models.ForeignKey(SessionKey, on_delete=models.CASCADE, related_name="planned")
    ordinal = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=60)
    on = models.DateField()
    start = models.TimeField()
    minutes = models.PositiveSmallIntegerField()
    venue = models.CharField(max_length=60)
    format = models.CharField(max_length=10)
    warm_up_minutes = models.PositiveSmallIntegerField()
    cool_down_minutes = models.PositiveSmallIntegerField()
    warm_up = models.JSONField(default=list)
    cool_down = models.JSONField(default=list)
    left_out = models.JSONField(default=list)
    reasons = models.JSONField(default=list)

    privacy = PrivacyRule(rider="plan__rider", health=True)

    class Meta:
        ordering = ["on", "ordinal"]
        constraints = [
            models.UniqueConstraint(fields=["club", "plan", "ordinal"], name="one_session_an_ordinal")
        ]
        indexes = [models.Index(fields=["club", "on"], name="planned_sessions_by_day")]


class PlannedItem(TenantModel):
    """One target of one session. `target` and `previous` are documents of the engine's `Target`."""

    session = models.ForeignKey(PlannedSession, on_delete=models.CASCADE, related_name="items")
    position = models.PositiveSmallIntegerField()
    slot = models.CharField(max_length=40)
    part = models.CharField(max_length=12, choices=[(part.value, part.value) for part in Part])
    pattern = models.CharField(max_length=20)
    exercise = models.ForeignKey(
        "programs.Exercise", on_delete=models.PROTECT, related_name="+", db_constraint=False
    )
    target = models.JSONField()
    previous = models.JSONField(null=True, blank=True)
    change = models.CharField(max_length=12, choices=[(change.value, change.value) for change in Change])
    reasons = models.JSONField(default=list)
    edited_by = models.ForeignKey(
        "athletes.Coach", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    edited_at = models.DateTimeField(null=True, blank=True)
    edit_reason = models.CharField(max_length=300, blank=True)

    privacy = PrivacyRule(rider="session__plan__rider", health=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["club", "session", "position"], name="one_item_a_place")
        ]


class LevelMove(TenantModel):
    """A rider's level in a pattern, each time it moved. The newest counts (H1)."""

    class Why(models.TextChoices):
        CHECK = "check", _("movement check")
        PLAN = "plan", _("a week plan")
        COACH = "coach", _("the coach")

    rider = models.ForeignKey("athletes.Rider", on_delete=models.CASCADE, related_name="level_moves")
    pattern = models.CharField(max_length=20)
    exercise = models.ForeignKey(
        "programs.Exercise", on_delete=models.PROTECT, related_name="+", db_constraint=False
    )
    since_on = models.DateField()
    why = models.CharField(max_length=10, choices=Why)
    plan = models.ForeignKey(
        WeekPlan, on_delete=models.CASCADE, null=True, blank=True, related_name="level_moves"
    )

    privacy = PrivacyRule(rider="rider")

    class Meta:
        ordering = ["since_on", "pk"]
        indexes = [models.Index(fields=["club", "rider", "pattern"], name="levels_of_a_rider")]
