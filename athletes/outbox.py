"""The outbox: every mail is a row before it is a mail. Nothing lost, nothing twice.

A row is made in the transaction that causes it (`enqueue`), claimed under a lease with a fencing token (`claim`), fixed
as bytes before the first attempt (`fix`), and settled by the token's holder alone (`settle_sent`, `settle_failed`). A
sweep frees leases that ran out. How a mail travels is in `athletes/postman.py`; this module never opens a connection.

States: due -> claimed -> sent | retry | failed | suppressed | cancelled; retry -> claimed.
"""

import base64
import hashlib
import random
import socket
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from cryptography.fernet import Fernet
from django.conf import settings
from django.db import connection, transaction
from django.db.models import Q

from athletes import followups
from athletes.access import as_clock, within
from athletes.concerns import Concern, Topic, Urgency
from athletes.models import Coach, Delivery, Rider, Suppression
from athletes.vocabulary import Reason

State = Delivery.State

#: How long a claim holds. Above the time one send may take, with all its timeouts.
LEASE = timedelta(minutes=10)
#: Waits after a passing failure, in minutes; after the last the delivery fails.
RETRY_MINUTES = (1, 5, 15, 60, 120, 240, 480)
#: How long only the host that claimed a row may recover it from its journal.
HOST_PRIVILEGE = timedelta(minutes=10)
#: Failing to connect, greet or log in counts no attempt: probe again after this.
PROBE = timedelta(seconds=15)

REASONS = {
    "mail-bounces": "Mail to this rider bounces: {code}. No more is sent until the address is mended.",
    "mail-failed": "A mail to this rider could not be delivered after {attempts} tries.",
}


@dataclass(frozen=True, slots=True)
class Claim:
    """A delivery in somebody's hands: only the holder of `token` may write back."""

    pk: int
    club_id: uuid.UUID
    token: uuid.UUID
    kind: str
    attempts: int


# --- making and stopping ----------------------------------------------------------------------------------------------


def enqueue(
    *,
    club_id: uuid.UUID,
    kind: str,
    dedup_key: str,
    recipient: str,
    due_at: datetime,
    now: datetime,
    rider: Rider | None = None,
    coach: Coach | None = None,
    channel: str = Delivery.Channel.PLANS,
    payload: dict[str, Any] | None = None,
    revive: bool = False,
) -> Delivery:
    """The delivery of this key is in the outbox; one that is there already stays as it is.

    With `revive` a cancelled one becomes due again, with a message yet to be made. An address that is suppressed gets a
    row that says so and is never sent.
    """
    stopped = _suppression(club_id, recipient, channel)
    delivery, is_new = Delivery.objects.get_or_create(
        club_id=club_id,
        dedup_key=dedup_key,
        defaults={
            "kind": kind,
            "channel": channel,
            "rider": rider,
            "coach": coach,
            "recipient": recipient,
            "payload": payload or {},
            "state": State.SUPPRESSED if stopped else State.DUE,
            "reason": stopped,
            "due_at": due_at,
            "next_attempt_at": due_at,
            "created_at": now,
        },
    )
    if not is_new and revive and delivery.state == State.CANCELLED:
        Delivery.objects.filter(pk=delivery.pk, state=State.CANCELLED).update(
            state=State.DUE, reason="", due_at=due_at, next_attempt_at=due_at, attempts=0, message=None
        )
        delivery.refresh_from_db()
    return delivery


def _suppression(club_id: uuid.UUID, recipient: str, channel: str) -> str:
    """Why nothing of this channel is sent to the address; empty when it may be. Stopping mail never stops account and
    safety mail; a bounce stops both."""
    rows = Suppression.objects.filter(club_id=club_id, address__iexact=recipient)
    if channel == Delivery.Channel.ACCOUNT:
        rows = rows.filter(why=Suppression.Why.BOUNCED)
    row = rows.first()
    return row.get_why_display() if row else ""


def cancel(*, club_id: uuid.UUID, reason: str, now: datetime, **filters: Any) -> int:
    """Cancels what is still waiting. A row being sent right now is cancelled too: its sender asks again last thing
    before handing it over, and its token no longer writes."""
    return (
        Delivery.objects.filter(club_id=club_id, **filters)
        .waiting()
        .update(state=State.CANCELLED, reason=reason, message=None, token=None, lease_until=None)
    )


# --- claiming ---------------------------------------------------------------------------------------------------------


def claim(*, now: datetime, limit: int = 20) -> list[Claim]:
    """Takes up to `limit` due rows of all clubs, each for this process alone until its lease ends.

    Two workers never get the same row: candidates are read as the clock, then claimed inside their own club by a
    conditional update under SKIP LOCKED.
    """
    with as_clock():
        due = list(
            Delivery.objects.filter(state__in=[State.DUE, State.RETRY], next_attempt_at__lte=now)
            .order_by("next_attempt_at", "pk")
            .values_list("club_id", "pk")[: limit * 2]
        )
    claims: list[Claim] = []
    for club_id in dict.fromkeys(club for club, _ in due):
        with within(club_id):
            claims += _claim_in(
                club_id, [pk for club, pk in due if club == club_id], limit - len(claims), now
            )
        if len(claims) >= limit:
            break
    return claims


def _claim_in(club_id: uuid.UUID, pks: list[int], limit: int, now: datetime) -> list[Claim]:
    rows = list(
        Delivery.objects.select_for_update(skip_locked=True)
        .filter(pk__in=pks, state__in=[State.DUE, State.RETRY], next_attempt_at__lte=now)
        .order_by("next_attempt_at", "pk")[:limit]
    )
    for row in rows:
        row.state, row.token, row.lease_until, row.host = (
            State.CLAIMED,
            uuid.uuid4(),
            now + LEASE,
            socket.gethostname(),
        )
    Delivery.objects.bulk_update(rows, ["state", "token", "lease_until", "host"])
    return [Claim(row.pk, club_id, row.token, row.kind, row.attempts) for row in rows if row.token]


def held(claim: Claim) -> Delivery | None:
    """The claimed row, locked, or None when the claim is no longer ours. Call inside `within(claim.club_id)`."""
    return (
        Delivery.objects.select_for_update(of=("self",))
        .filter(pk=claim.pk, token=claim.token, state=State.CLAIMED)
        .select_related("rider__club", "rider__squad__coach__user", "coach__user", "club")
        .first()
    )


# --- fixing the message -----------------------------------------------------------------------------------------------


def _cipher() -> Fernet:
    key = settings.MAIL_KEY or settings.SECRET_KEY
    return Fernet(base64.urlsafe_b64encode(hashlib.sha256(f"outbox:{key}".encode()).digest()))


def fix(*, delivery: Delivery, message: bytes, message_id: str) -> None:
    """The exact bytes stand before the first attempt, so that every later attempt sends the same. Kept encrypted, since
    they hold links."""
    delivery.message = _cipher().encrypt(message)
    delivery.message_id = message_id
    delivery.digest = hashlib.sha256(message).hexdigest()
    delivery.save(update_fields=["message", "message_id", "digest"])


def message_of(delivery: Delivery) -> bytes | None:
    """The fixed bytes, or None when the message is not made yet."""
    return _cipher().decrypt(bytes(delivery.message)) if delivery.message else None


def make_message_id() -> str:
    """A Message-ID that names neither rider nor club."""
    domain = settings.MAIL_FROM.rsplit("@", 1)[-1].strip("> ")
    return f"<{uuid.uuid4().hex}@{domain}>"


# --- settling ---------------------------------------------------------------------------------------------------------


@transaction.atomic
def settle_sent(*, claim: Claim, now: datetime) -> Delivery | None:
    """The server took the mail. None when the claim was no longer ours, which changes nothing."""
    row = held(claim)
    if row is None:
        return None
    return _final(row, State.SENT, "", now=now)


@transaction.atomic
def settle_cancelled(*, claim: Claim, reason: str, now: datetime) -> None:
    """What the mail says is no longer in force."""
    row = held(claim)
    if row is not None:
        _final(row, State.CANCELLED, reason, now=now)


@transaction.atomic
def settle_probe(*, claim: Claim, reason: str, now: datetime) -> None:
    """The server could not be reached, did not greet or let us in: no attempt is counted."""
    _again(claim, reason, now + PROBE, counts=False)


@transaction.atomic
def settle_passing(*, claim: Claim, reason: str, now: datetime) -> None:
    """A failure that may pass (4xx, time-out, dropped): tried again by the table, then failed with a follow-up."""
    if claim.attempts >= len(RETRY_MINUTES):
        row = held(claim)
        if row is not None:
            _final(row, State.FAILED, reason, now=now)
            _follow_up(row, "mail-failed", {"attempts": claim.attempts + 1}, now=now)
        return
    minutes = RETRY_MINUTES[claim.attempts]
    spread = random.uniform(0.9, 1.1)  # noqa: S311 - keeps retries from marching in step, nothing more
    _again(claim, reason, now + timedelta(minutes=minutes * spread), counts=True)


@transaction.atomic
def settle_refused(*, claim: Claim, reason: str, address_is_bad: bool, now: datetime) -> None:
    """A lasting refusal (5xx) or a message that cannot be made: no retry. A bad address (5.1.x) is suppressed."""
    row = held(claim)
    if row is None:
        return
    _final(row, State.FAILED, reason, now=now)
    if address_is_bad:
        Suppression.objects.get_or_create(
            club_id=row.club_id,
            address=row.recipient.lower(),
            why=Suppression.Why.BOUNCED,
            defaults={"at": now},
        )
        _follow_up(row, "mail-bounces", {"code": reason[:60]}, now=now)


def _again(claim: Claim, reason: str, at: datetime, *, counts: bool) -> None:
    row = held(claim)
    if row is None:
        return
    row.state, row.reason, row.next_attempt_at = State.RETRY, reason[:300], at
    row.attempts += int(counts)
    row.token, row.lease_until = None, None
    row.save(update_fields=["state", "reason", "next_attempt_at", "attempts", "token", "lease_until"])


def _final(row: Delivery, state: str, reason: str, *, now: datetime) -> Delivery:
    row.state, row.reason = state, reason[:300]
    row.sent_at = now if state == State.SENT else None
    row.message, row.token, row.lease_until = None, None, None
    row.attempts += 1
    row.save()
    return row


def _follow_up(row: Delivery, key: str, figures: dict[str, Any], *, now: datetime) -> None:
    if row.rider is not None:
        concern = Concern(Topic.BOUNCED, Urgency.SOON, (Reason("M3", key, figures),))
        followups.open_for(rider=row.rider, concern=concern, by="outbox", now=now)


# --- the sweep --------------------------------------------------------------------------------------------------------


def sweep(*, now: datetime) -> int:
    """Frees rows whose lease ran out, so that they are sent by whoever comes next. Returns how many.

    A host that still has a journal settles its own first (`athletes/postman.py`); others wait ten minutes longer.
    """
    host = socket.gethostname()
    with as_clock():
        stale = list(
            Delivery.objects.filter(state=State.CLAIMED)
            .filter(Q(lease_until__lte=now, host=host) | Q(lease_until__lte=now - HOST_PRIVILEGE))
            .values_list("club_id", "pk")[:500]
        )
    freed = 0
    for club_id in dict.fromkeys(club for club, _ in stale):
        with within(club_id):
            freed += Delivery.objects.filter(
                pk__in=[pk for club, pk in stale if club == club_id],
                state=State.CLAIMED,
                lease_until__lte=now,
            ).update(
                state=State.RETRY, reason="lease ran out", next_attempt_at=now, token=None, lease_until=None
            )
    return freed


def renew_lease(*, claim: Claim, now: datetime) -> bool:
    """Makes the claim last from now on; False when it is no longer ours. Asked last thing before handing over."""
    return bool(
        Delivery.objects.filter(pk=claim.pk, token=claim.token, state=State.CLAIMED).update(
            lease_until=now + LEASE
        )
    )


def in_transaction() -> bool:
    """Whether a transaction is open: nothing may be sent then."""
    return connection.in_atomic_block
