"""The outbox of all mail, the links riders get, the audit log, and the heartbeats of periodic jobs."""

from datetime import datetime

from django.db import models
from django.utils.translation import gettext_lazy as _

from athletes.models.clubs import Coach
from athletes.models.riders import Rider
from athletes.models.tenant import TenantModel
from athletes.retention import NOT_PERSONAL, Erasure, PrivacyRule


class DeliveryQuerySet(models.QuerySet["Delivery"]):
    """Filters over deliveries, each a word."""

    def waiting(self) -> "DeliveryQuerySet":
        """Those that may still be sent."""
        return self.filter(state__in=[Delivery.State.DUE, Delivery.State.CLAIMED, Delivery.State.RETRY])


class Delivery(TenantModel):
    """One message. Unique on (club, dedup key); made in the transaction that causes it; sent by whoever claims it.

    `token` fences a claim: every write-back names it, so a worker whose lease ran out changes nothing. `message` is
    encrypted, holds the exact bytes from before the first attempt, and is erased in a final state; `message_id` and
    `digest` stay. `handover_at` stands from before the message goes over until the server's answer is recorded:
    meanwhile nobody may say that it has not gone. After `give_up_at` it comes too late to be of use.
    """

    class State(models.TextChoices):
        DUE = "due", _("due")
        CLAIMED = "claimed", _("being sent")
        SENT = "sent", _("sent")
        RETRY = "retry", _("to be tried again")
        FAILED = "failed", _("failed")
        SUPPRESSED = "suppressed", _("not sent: address stopped")
        CANCELLED = "cancelled", _("cancelled")

    class Channel(models.TextChoices):
        PLANS = "plans", _("plans")
        ACCOUNT = "account", _("account and safety")

    kind = models.CharField(max_length=30)
    channel = models.CharField(max_length=10, choices=Channel, default=Channel.PLANS)
    dedup_key = models.CharField(max_length=200)
    rider = models.ForeignKey(
        Rider, on_delete=models.CASCADE, null=True, blank=True, related_name="deliveries"
    )
    coach = models.ForeignKey(
        Coach, on_delete=models.CASCADE, null=True, blank=True, related_name="deliveries"
    )
    recipient = models.EmailField()
    payload = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=12, choices=State, default=State.DUE)
    reason = models.CharField(max_length=300, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    due_at = models.DateTimeField()
    next_attempt_at = models.DateTimeField()
    give_up_at = models.DateTimeField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    handover_at = models.DateTimeField(null=True, blank=True)
    token = models.UUIDField(null=True, blank=True)
    host = models.CharField(max_length=120, blank=True)
    message = models.BinaryField(null=True, blank=True)
    message_id = models.CharField(max_length=200, blank=True)
    digest = models.CharField(max_length=64, blank=True)
    created_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)

    objects = DeliveryQuerySet.as_manager()
    privacy = PrivacyRule(
        rider="rider",
        erasure=Erasure.DELETE,
        keeps_days=400,
        dated="created_at",
        why="says that a mail went out and when; never what it said",
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [models.UniqueConstraint(fields=["club", "dedup_key"], name="one_delivery_a_key")]
        indexes = [
            models.Index(
                fields=["next_attempt_at"],
                condition=models.Q(state__in=["due", "retry"]),
                name="deliveries_due",
            ),
            models.Index(
                fields=["lease_until"], condition=models.Q(state="claimed"), name="deliveries_claimed"
            ),
        ]


class Suppression(TenantModel):
    """An address that mail is no longer sent to, and why."""

    class Why(models.TextChoices):
        BOUNCED = "bounced", _("mail bounces")
        STOPPED = "stopped", _("the reader stopped it")

    address = models.EmailField()
    why = models.CharField(max_length=12, choices=Why)
    at = models.DateTimeField()

    privacy = PrivacyRule(
        exports=False, erasure=Erasure.KEEP, why="must outlast the rider, so that the address stays untouched"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["club", "address", "why"], name="one_suppression_an_address")
        ]


class LinkQuerySet(models.QuerySet["Link"]):
    """Filters over links, each a word."""

    def usable(self, now: datetime) -> "LinkQuerySet":
        """Those neither revoked nor expired at `now`."""
        return self.filter(revoked_at__isnull=True, expires_at__gt=now)


class Link(TenantModel):
    """What a rider's link opens: one purpose, one rider, until it expires or is revoked. Only the hash is kept."""

    class Purpose(models.TextChoices):
        SESSION = "session", _("check in after a session")
        REPORT = "report", _("report pain or a symptom")
        PAGE = "page", _("my page")
        CONSENT = "consent", _("consent and screening")
        STOP_MAIL = "stop-mail", _("stop mail")

    rider = models.ForeignKey(Rider, on_delete=models.CASCADE, related_name="links")
    purpose = models.CharField(max_length=12, choices=Purpose)
    subject = models.CharField(max_length=60, blank=True)
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    first_used_at = models.DateTimeField(null=True, blank=True)

    objects = LinkQuerySet.as_manager()
    privacy = PrivacyRule(rider="rider", exports=False, keeps_days=30, dated="expires_at")


class AuditEntry(TenantModel):
    """Who did or read what, when. Append-only: the application's role may neither change nor delete an entry."""

    at = models.DateTimeField()
    actor = models.CharField(max_length=120)
    action = models.CharField(max_length=60)
    rider_key = models.BigIntegerField(null=True, blank=True)
    subject = models.CharField(max_length=120, blank=True)
    details = models.JSONField(default=dict, blank=True)

    privacy = PrivacyRule(
        erasure=Erasure.KEEP,
        exports=False,
        why="proof of who saw what; names no rider, only a number that erasure leaves pointing at nobody",
    )

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["club", "rider_key", "-at"], name="audit_by_rider")]


class Heartbeat(models.Model):
    """When a periodic job last ran, how long it took and what it did. Of no club."""

    job = models.CharField(max_length=40, primary_key=True)
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    result = models.JSONField(default=dict, blank=True)

    privacy = NOT_PERSONAL

    def __str__(self) -> str:
        return self.job


class SignInFailure(models.Model):
    """A wrong try to sign in, under a hash of where from or for whom. Gone after a quarter of an hour. Of no club."""

    key = models.CharField(max_length=64)
    at = models.DateTimeField()

    privacy = NOT_PERSONAL

    class Meta:
        indexes = [models.Index(fields=["key", "at"], name="sign_in_failures_by_key")]

    def __str__(self) -> str:
        return self.key[:8]
