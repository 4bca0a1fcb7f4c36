"""Health data: consent, screening, what riders report about their bodies, and what clinicians and coaches set.

Nothing here is written before consent is recorded (T0), nothing here reaches mail, card or calendar, and each read of
it leaves an audit entry.
"""

from enum import StrEnum

from django.core.validators import MaxValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes import concerns, vocabulary
from athletes.models.clubs import Coach
from athletes.models.riders import Rider
from athletes.models.tenant import TenantModel
from athletes.retention import Erasure, PrivacyRule

HEALTH = PrivacyRule(rider="rider", health=True)


def choices(enum: type[StrEnum]) -> list[tuple[str, str]]:
    """Stored values of a vocabulary enum as field choices; the words for people are in `athletes/words.py`."""
    return [(member.value, member.value) for member in enum]


class ConsentQuerySet(models.QuerySet["Consent"]):
    """Filters over consents, each a word."""

    def standing(self) -> "ConsentQuerySet":
        """Those not withdrawn."""
        return self.filter(withdrawn_at__isnull=True)


class Consent(TenantModel):
    """A consent as it was given: to what wording, by whom, when; and when it was withdrawn."""

    class Kind(models.TextChoices):
        HEALTH = "health", _("health data for the strength plan")

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="consents")
    kind = models.CharField(max_length=20, choices=Kind, default=Kind.HEALTH)
    wording = models.CharField(max_length=40)
    given_by = models.CharField(max_length=100)
    by_guardian = models.BooleanField(default=False)
    given_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = ConsentQuerySet.as_manager()
    privacy = PrivacyRule(
        rider="rider",
        erasure=Erasure.DELETE,
    )

    class Meta:
        ordering = ["-given_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["club", "rider", "kind"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="one_standing_consent_a_kind",
            )
        ]


class Screening(TenantModel):
    """One answered health screening and what it asks for; clearance is recorded on it by a coach (S1).

    `needs` is the strictest thing asked for; `limits_needed` says that limits are asked for as well, and
    `clearance_from` from which day a clearance counts.
    """

    class Needs(models.TextChoices):
        NOTHING = "none", _("nothing")
        LIGHT_ONLY = "light-only", _("a light start")
        CLEARANCE = "clearance", _("clearance")
        STOP = "stop-and-clearance", _("stop, and clearance")
        LIMITS = "clinician-limits", _("a named clinician's limits")

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="screenings")
    answers = models.JSONField(default=dict)
    answered_by = models.CharField(max_length=100)
    by_guardian = models.BooleanField(default=False)
    answered_at = models.DateTimeField()
    needs = models.CharField(max_length=20, choices=Needs)
    reasons = models.JSONField(default=list)
    valid_until = models.DateField()
    limits_needed = models.BooleanField(default=False)
    clearance_from = models.DateField(null=True, blank=True)
    cleared_by = models.CharField(_("cleared by"), max_length=120, blank=True)
    cleared_on = models.DateField(_("cleared on"), null=True, blank=True)
    recorded_by = models.ForeignKey(Coach, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")

    privacy = HEALTH

    class Meta:
        ordering = ["-answered_at", "-pk"]


class ClinicianLimit(TenantModel):
    """A limit that a named clinician set, obeyed and never guessed."""

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="limits")
    set_by = models.CharField(_("set by"), max_length=120)
    set_on = models.DateField(_("set on"))
    until_on = models.DateField(_("until"), null=True, blank=True)
    exercise = models.CharField(_("exercise"), max_length=80, blank=True)
    pattern = models.CharField(
        _("movement pattern"), max_length=20, blank=True, choices=choices(vocabulary.Pattern)
    )
    region = models.CharField(_("body region"), max_length=20, blank=True, choices=choices(vocabulary.Region))
    max_kg = models.DecimalField(
        _("largest load in kg"), max_digits=6, decimal_places=2, null=True, blank=True
    )
    max_reps = models.PositiveSmallIntegerField(_("most reps"), null=True, blank=True)

    privacy = HEALTH

    class Meta:
        ordering = ["-set_on", "pk"]


class MovementCheck(TenantModel):
    """Result of one criterion of the movement check: one exercise tried (S5). The newest for an exercise counts."""

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="movement_checks")
    exercise = models.CharField(max_length=80)
    result = models.CharField(
        max_length=10, choices=[("pass", _("pass")), ("not-yet", _("not yet")), ("hurts", _("hurts"))]
    )
    checked_on = models.DateField()
    checked_by = models.CharField(max_length=100)

    privacy = HEALTH

    class Meta:
        ordering = ["checked_on", "pk"]


class BodyReport(TenantModel):
    """What a rider reported about one site on one day: pain or soreness, during and the next morning.

    `check_in` names the check-in version it came with, as "app-less" text so that corrections can replace their own.
    """

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="body_reports")
    on = models.DateField()
    region = models.CharField(max_length=20, choices=choices(vocabulary.Region))
    side = models.CharField(
        max_length=10, choices=choices(vocabulary.Side), default=vocabulary.Side.BOTH.value
    )
    during = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(10)])
    next_morning = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(10)])
    kind = models.CharField(
        max_length=20, choices=choices(concerns.ReportKind), default=concerns.ReportKind.PAIN.value
    )
    signs = models.JSONField(default=list, blank=True)
    traits = models.JSONField(default=list, blank=True)
    hours_since_work = models.PositiveSmallIntegerField(null=True, blank=True)
    reported_at = models.DateTimeField()
    source = models.CharField(max_length=60, blank=True, db_index=True)

    privacy = HEALTH

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(during__isnull=True) | models.Q(during__lte=10),
                name="pain_during_is_0_to_10",
            ),
            models.CheckConstraint(
                condition=models.Q(next_morning__isnull=True) | models.Q(next_morning__lte=10),
                name="pain_next_morning_is_0_to_10",
            ),
        ]
        indexes = [models.Index(fields=["club", "rider", "on"], name="body_reports_by_day")]


class SymptomReport(TenantModel):
    """A warning symptom or an event (illness, crash). It stops or eases the plan until a coach records it cleared."""

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="symptom_reports")
    on = models.DateField()
    symptom = models.CharField(max_length=40, blank=True, choices=choices(concerns.Symptom))
    event = models.CharField(max_length=40, blank=True, choices=choices(concerns.Event))
    reported_at = models.DateTimeField()
    source = models.CharField(max_length=60, blank=True, db_index=True)
    cleared_on = models.DateField(null=True, blank=True)
    cleared_by = models.CharField(max_length=120, blank=True)

    privacy = HEALTH

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~(models.Q(symptom="") & models.Q(event="")), name="symptom_report_says_something"
            )
        ]


class PainBaseline(TenantModel):
    """A long-standing pain that a clinician has seen: the usual score is expected up to `limit` (T2)."""

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="baselines")
    region = models.CharField(max_length=20, choices=choices(vocabulary.Region))
    side = models.CharField(
        max_length=10, choices=choices(vocabulary.Side), default=vocabulary.Side.BOTH.value
    )
    limit = models.PositiveSmallIntegerField(validators=[MaxValueValidator(5)])
    seen_by = models.CharField(_("clinician"), max_length=120)
    review_on = models.DateField(_("review by"))

    privacy = HEALTH

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(limit__lte=5), name="baseline_limit_at_most_5"),
            models.UniqueConstraint(fields=["club", "rider", "region", "side"], name="one_baseline_a_site"),
        ]
