"""Follow-ups: what a coach must look at, with owner, due time and history."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes import concerns, vocabulary
from athletes.models.clubs import Coach
from athletes.models.health import choices
from athletes.models.riders import Rider
from athletes.models.tenant import TenantModel
from athletes.retention import PrivacyRule


class FollowUpQuerySet(models.QuerySet["FollowUp"]):
    """Filters over follow-ups, each a word."""

    def open(self) -> "FollowUpQuerySet":
        """Those that still need somebody."""
        return self.filter(closed_at__isnull=True)

    def by_urgency(self) -> "FollowUpQuerySet":
        """Most urgent first, then the earliest due."""
        return self.order_by("-urgency", "due_at", "pk")


class FollowUp(TenantModel):
    """One matter of one rider: at most one is open for each topic and site."""

    class Outcome(models.TextChoices):
        CARRY_ON = concerns.Outcome.CARRY_ON.value, _("carry on")
        EASE = concerns.Outcome.EASE.value, _("ease")
        PAUSE = concerns.Outcome.PAUSE.value, _("pause")
        REFERRED = concerns.Outcome.REFERRED.value, _("referred to a clinician")
        CLEARED = concerns.Outcome.CLEARED.value, _("cleared")
        RETURN = concerns.Outcome.RETURN.value, _("return in steps")

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="follow_ups")
    topic = models.CharField(max_length=20, choices=choices(concerns.Topic))
    region = models.CharField(max_length=20, blank=True, choices=choices(vocabulary.Region))
    side = models.CharField(max_length=10, blank=True, choices=choices(vocabulary.Side))
    urgency = models.PositiveSmallIntegerField()
    owner = models.ForeignKey(Coach, on_delete=models.PROTECT, related_name="follow_ups")
    opened_at = models.DateTimeField()
    due_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    outcome = models.CharField(_("outcome"), max_length=20, blank=True, choices=Outcome)
    reasons = models.JSONField(default=list)

    objects = FollowUpQuerySet.as_manager()
    privacy = PrivacyRule(rider="rider", health=True)

    class Meta:
        ordering = ["-urgency", "due_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "rider", "topic", "region", "side"],
                condition=models.Q(closed_at__isnull=True),
                name="one_open_follow_up_a_matter",
            )
        ]
        indexes = [
            models.Index(
                fields=["club", "due_at"], condition=models.Q(closed_at__isnull=True), name="open_follow_ups"
            )
        ]

    @property
    def is_open(self) -> bool:
        return self.closed_at is None

    @property
    def is_health(self) -> bool:
        """Whether its topic is health detail, which some roles read as "health reason"."""
        return concerns.Topic(self.topic) in concerns.HEALTH_TOPICS


class FollowUpEntry(TenantModel):
    """One line of a follow-up's history. Never changed."""

    class Kind(models.TextChoices):
        OPENED = "opened", _("opened")
        AGAIN = "again", _("reported again")
        CONTACT = "contact", _("contact")
        NOTE = "note", _("note")
        SNOOZED = "snoozed", _("put off")
        REASSIGNED = "reassigned", _("handed over")
        CLOSED = "closed", _("closed")

    follow_up = models.ForeignKey(FollowUp, on_delete=models.CASCADE, related_name="entries")
    kind = models.CharField(max_length=12, choices=Kind)
    text = models.TextField(blank=True)
    reasons = models.JSONField(default=list)
    made_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    at = models.DateTimeField()

    privacy = PrivacyRule(rider="follow_up__rider", health=True)

    class Meta:
        ordering = ["at", "pk"]
