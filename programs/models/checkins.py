"""What riders report after a session. A check-in has versions; a correction adds one, none is ever changed."""

from django.core.validators import MaxValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.tenant import TenantModel
from athletes.retention import PrivacyRule
from programs.models.weeks import PlannedItem, SessionKey


class CheckIn(TenantModel):
    """The one check-in of a session."""

    key = models.OneToOneField(SessionKey, on_delete=models.CASCADE, related_name="check_in")
    first_at = models.DateTimeField()

    privacy = PrivacyRule(rider="key__rider", health=True)


class CheckInVersion(TenantModel):
    """What was reported at one time. `form_key` makes sending twice change nothing."""

    class Outcome(models.TextChoices):
        DONE = "done", _("done")
        PART = "part", _("part of it")
        NOT_DONE = "not-done", _("not done")

    check_in = models.ForeignKey(CheckIn, on_delete=models.CASCADE, related_name="versions")
    number = models.PositiveSmallIntegerField()
    form_key = models.CharField(max_length=64)
    at = models.DateTimeField()
    by = models.CharField(max_length=60)
    outcome = models.CharField(max_length=10, choices=Outcome)
    done_on = models.DateField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    session_rpe = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(10)])
    why_not = models.CharField(max_length=20, blank=True)
    note = models.TextField(blank=True)

    privacy = PrivacyRule(rider="check_in__key__rider", health=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["club", "check_in", "number"], name="one_version_a_number"),
            models.UniqueConstraint(fields=["club", "check_in", "form_key"], name="one_version_a_form"),
            models.CheckConstraint(
                condition=models.Q(session_rpe__isnull=True) | models.Q(session_rpe__lte=10),
                name="session_rpe_is_0_to_10",
            ),
        ]


class ItemReport(TenantModel):
    """What was done of one target. `done` is a document of the engine's `Done`."""

    version = models.ForeignKey(CheckInVersion, on_delete=models.CASCADE, related_name="items")
    item = models.ForeignKey(PlannedItem, on_delete=models.CASCADE, related_name="reports")
    done = models.JSONField(null=True, blank=True)

    privacy = PrivacyRule(rider="version__check_in__key__rider", health=True)

    class Meta:
        ordering = ["item__position"]
        constraints = [models.UniqueConstraint(fields=["club", "version", "item"], name="one_report_an_item")]
