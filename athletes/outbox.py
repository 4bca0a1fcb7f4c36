"""The outbox: every mail is a row before it is a mail. Nothing lost, nothing twice.

A row is made in the transaction that causes it (`enqueue`), claimed under a lease with a fencing token (`claim`), fixed
as bytes before the first attempt (`fix`), marked before it is handed over (`hand_over`: from there nobody cancels it),
and settled by the token's holder alone; only that the server took it (`settle_taken`) is true whoever says so. A sweep
frees leases that ran out. How a mail travels is in `athletes/postman.py`; this module never opens a connection.

States: due -> claimed -> sent | retry | failed | suppressed | cancelled; retry -> claimed.

Locks are taken in one order, here and in the verbs that cancel mail: rider, plan, delivery.
"""

import base64
import hashlib
import random
import socket
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from cryptography.fernet import Fernet, InvalidToken
from django.conf import settings
from django.db import connection, transaction
from django.db.models import Q

from athletes import bell, followups
from athletes.access import as_clock, within
from athletes.concerns import Concern, Topic, Urgency
from athletes.models import Coach, Delivery, Rider, Suppression
from athletes.models.deliveries import DeliveryQuerySet
from athletes.vocabulary import Reason

State = Delivery.State

#: Waits after a passing failure, in minutes; the last one again and again until the delivery is given up.
RETRY_MINUTES = (1, 5, 15, 60, 120, 240, 480)
#: Failing to connect, greet or log in counts no attempt: probe again after this.
PROBE = timedelta(seconds=15)
#: When a mail is given up whose maker names no time.
GIVE_UP = timedelta(days=2)
#: The reason of a row that somebody is making or carrying.
BEGUN = "begun"
#: So many leases lost by begun rows are taken for accidents, and sent again at once; then the message is suspected.
ACCIDENTS = 3

REASONS = {
    "mail-bounces": "Mail to this rider bounces: {code}. No more is sent until the address is mended.",
    "mail-failed": "A mail to this rider could not be delivered after {attempts} tries, and is given up.",
}


@dataclass(frozen=True, slots=True)
class Claim:
    """A delivery in somebody's hands: only the holder of `token` may write back."""

    pk: int
    club_id: uuid.UUID
    token: uuid.UUID
    kind: str
    attempts: int
    rider_id: int | None = None


def lease() -> timedelta:
    """How long a claim holds. Above the time that handing over one mail may take, with all its timeouts."""
    return timedelta(seconds=settings.MAIL_LEASE_SECONDS)


def host_privilege() -> timedelta:
    """How long only the host that claimed a row may free it, since its journal may say that the mail has gone."""
    return timedelta(seconds=settings.MAIL_HOST_SECONDS)


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
    give_up_at: datetime | None = None,
) -> Delivery:
    """The delivery of this key is in the outbox; one that is there already stays as it is.

    With `revive` a cancelled one becomes due again, with a message yet to be made. An address that is suppressed gets a
    row that says so and is never sent. What has not gone by `give_up_at` (two days after `due_at` by default) fails.
    """
    give_up_at = give_up_at or due_at + GIVE_UP
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
            "give_up_at": give_up_at,
            "created_at": now,
        },
    )
    if not is_new and revive and delivery.state == State.CANCELLED:
        Delivery.objects.filter(pk=delivery.pk, state=State.CANCELLED).update(
            **_ANEW, due_at=due_at, next_attempt_at=due_at, give_up_at=give_up_at
        )
        delivery.refresh_from_db()
    if due_at <= now and delivery.state == State.DUE:
        bell.ring_after_commit()
    return delivery


#: What makes a row one that was never tried. Without its Message-ID no journal line is about it any more.
_ANEW: dict[str, Any] = {
    "state": State.DUE,
    "reason": "",
    "attempts": 0,
    "message": None,
    "message_id": "",
    "digest": "",
    "token": None,
    "lease_until": None,
}


def _suppression(club_id: uuid.UUID, recipient: str, channel: str) -> str:
    """Why nothing of this channel is sent to the address; empty when it may be. Stopping mail never stops account and
    safety mail; a bounce stops both."""
    rows = Suppression.objects.filter(club_id=club_id, address__iexact=recipient)
    if channel == Delivery.Channel.ACCOUNT:
        rows = rows.filter(why=Suppression.Why.BOUNCED)
    row = rows.first()
    return row.get_why_display() if row else ""


def cancel(*, club_id: uuid.UUID, reason: str, now: datetime, **filters: Any) -> int:
    """Cancels what is still waiting. A claimed row is cancelled too: its sender asks again last thing before handing it
    over, and its token no longer writes. One that is being handed over goes (`is_leaving`)."""
    return (
        Delivery.objects.filter(club_id=club_id, **filters)
        .waiting()
        .filter(handover_at__isnull=True)
        .update(state=State.CANCELLED, reason=reason, message=None, token=None, lease_until=None)
    )


def is_leaving(*, club_id: uuid.UUID, dedup_key: str) -> bool:
    """Whether the mail of this key is being handed over right now: too late to cancel, and not known to have gone.

    Ask with the rider's row locked, as `hand_over` is called.
    """
    return Delivery.objects.filter(
        club_id=club_id, dedup_key=dedup_key, state=State.CLAIMED, handover_at__isnull=False
    ).exists()


def redirect(*, club_id: uuid.UUID, rider: Rider, old: str, new: str, now: datetime) -> int:
    """What waits for the rider's old address goes to the new one, made anew, and so does what failed there and is not
    too late. Returns how many. What is being handed over goes where it goes."""
    rows = Delivery.objects.filter(
        club_id=club_id, rider=rider, coach__isnull=True, recipient__iexact=old, handover_at__isnull=True
    )
    # A row that waits until its hour keeps it.
    moved = rows.filter(state__in=[State.DUE, State.RETRY, State.CLAIMED]).update(**_ANEW, recipient=new)
    return moved + rows.filter(state=State.FAILED, give_up_at__gt=now).update(
        **_ANEW, recipient=new, next_attempt_at=now
    )


# --- claiming ---------------------------------------------------------------------------------------------------------


def claim(*, now: datetime, limit: int = 20) -> list[Claim]:
    """Takes up to `limit` due rows of all clubs, each for this process alone until its lease ends.

    Two workers never get the same row: candidates are read as the clock, then claimed inside their own club by a
    conditional update under SKIP LOCKED.
    """
    if limit < 1:
        return []
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
        row.state, row.token, row.lease_until = State.CLAIMED, uuid.uuid4(), now + lease()
        row.host, row.reason = socket.gethostname(), ""
    Delivery.objects.bulk_update(rows, ["state", "token", "lease_until", "host", "reason"])
    return [
        Claim(row.pk, club_id, row.token, row.kind, row.attempts, row.rider_id) for row in rows if row.token
    ]


def _claimed(claim: Claim) -> DeliveryQuerySet:
    return Delivery.objects.filter(pk=claim.pk, token=claim.token, state=State.CLAIMED)


def begin(*, claim: Claim, now: datetime) -> bool:
    """The claim lasts from now on, and the row says that somebody is at it; False when it is no longer ours. Committed
    before the message is made, so that one that brings down its maker leaves a trace."""
    return bool(_claimed(claim).update(lease_until=now + lease(), reason=BEGUN))


def peek(claim: Claim) -> Delivery | None:
    """The claimed row with what its message is made from, not locked; None when the claim is no longer ours."""
    related = ("rider__club", "rider__squad__coach__user", "coach__user", "club")
    return _claimed(claim).select_related(*related).first()


def held(claim: Claim) -> Delivery | None:
    """The claimed row, locked after its rider's, or None when the claim is no longer ours. Call inside
    `within(claim.club_id)`."""
    lock_rider(claim.rider_id)
    related = ("rider__club", "rider__squad__coach__user", "coach__user", "club")
    return _claimed(claim).select_for_update(of=("self",)).select_related(*related).first()


def lock_rider(rider_id: int | None) -> None:
    """Nobody else changes what the rider is about to get. Locked before plan and delivery, as by every verb that eases
    or withdraws a plan, so that none waits for another in a circle; links and reports are still written."""
    if rider_id is not None:
        Rider.objects.select_for_update(no_key=True).filter(pk=rider_id).first()


def release(claims: Iterable[Claim]) -> None:
    """Claims that nobody got round to are due again at once, unless they are no longer ours or were handed over."""
    for claim in claims:
        with within(claim.club_id):
            _claimed(claim).filter(handover_at__isnull=True).update(
                state=State.RETRY, token=None, lease_until=None
            )


def hand_over(*, claim: Claim, now: datetime) -> bool:
    """The claim lasts from now on, and nobody cancels the mail any more; False when it is no longer ours. Asked last
    thing before the message goes over the line; committed before it does."""
    return bool(_claimed(claim).update(lease_until=now + lease(), handover_at=now))


# --- fixing the message -----------------------------------------------------------------------------------------------


def _cipher() -> Fernet:
    key = settings.MAIL_KEY or settings.SECRET_KEY
    return Fernet(base64.urlsafe_b64encode(hashlib.sha256(f"outbox:{key}".encode()).digest()))


def fix(*, claim: Claim, message: bytes, message_id: str) -> bool:
    """The exact bytes stand before the first attempt, so that every later attempt sends the same. Kept encrypted, since
    they hold links. False when the claim is no longer ours, which changes nothing."""
    return bool(
        _claimed(claim).update(
            message=_cipher().encrypt(message),
            message_id=message_id,
            digest=hashlib.sha256(message).hexdigest(),
        )
    )


def message_of(delivery: Delivery) -> bytes | None:
    """The fixed bytes; None when the message is not made yet, or cannot be read since the key was changed. It is then
    made again under the Message-ID it has, by which a reader's mail program knows it if it came before."""
    try:
        return _cipher().decrypt(bytes(delivery.message)) if delivery.message else None
    except InvalidToken:
        return None


def make_message_id() -> str:
    """A Message-ID that names neither rider nor club."""
    domain = settings.MAIL_FROM.rsplit("@", 1)[-1].strip("> ")
    return f"<{uuid.uuid4().hex}@{domain}>"


# --- settling ---------------------------------------------------------------------------------------------------------


@transaction.atomic
def settle_sent(*, claim: Claim, now: datetime) -> Delivery | None:
    """The mail has gone. None when the claim was no longer ours, which changes nothing."""
    row = held(claim)
    return _final(row, State.SENT, "", now=now) if row else None


@transaction.atomic
def settle_taken(*, pk: int, message_id: str, now: datetime) -> Delivery | None:
    """The server took this very message, so the delivery is sent, whoever holds it by now and whatever was made of it
    meanwhile. None when that was known, or the row holds another message by now; then nothing changes."""
    named = Delivery.objects.filter(pk=pk, message_id=message_id).exclude(message_id="")
    lock_rider(named.values_list("rider_id", flat=True).first())
    row = named.exclude(state=State.SENT).select_for_update(of=("self",)).first()
    return _final(row, State.SENT, "", now=now) if row else None


@transaction.atomic
def settle_cancelled(*, claim: Claim, reason: str, now: datetime) -> None:
    """What the mail says is no longer in force."""
    row = held(claim)
    if row is not None:
        _final(row, State.CANCELLED, reason, now=now)


@transaction.atomic
def settle_probe(*, claim: Claim, reason: str, now: datetime) -> None:
    """The server could not be reached, did not greet or let us in: no attempt is counted."""
    row = held(claim)
    if row is not None:
        _again(row, reason, now + PROBE, now=now, counts=False)


@transaction.atomic
def settle_passing(*, claim: Claim, reason: str, now: datetime) -> None:
    """A failure that may pass (4xx, time-out, dropped): tried again by the table until the mail is given up."""
    row = held(claim)
    if row is not None:
        _again(row, reason, now + _wait(row.attempts), now=now, counts=True)


@transaction.atomic
def settle_refused(*, claim: Claim, reason: str, address_is_bad: bool, now: datetime) -> None:
    """A lasting refusal (5xx) or a message that cannot be made: no retry. A rider's bad address (5.1.x) is suppressed,
    and what else waits for it; a coach's is not, since safety mail must always be tried."""
    row = held(claim)
    if row is None:
        return
    if not address_is_bad or row.coach_id is not None:
        _fail(row, reason, now=now)
        return
    _final(row, State.FAILED, reason, now=now)
    why = Suppression.Why.BOUNCED
    Suppression.objects.get_or_create(
        club_id=row.club_id, address=row.recipient.lower(), why=why, defaults={"at": now}
    )
    Delivery.objects.filter(
        club_id=row.club_id, recipient__iexact=row.recipient, handover_at__isnull=True
    ).waiting().update(state=State.SUPPRESSED, reason=why.label, message=None, token=None, lease_until=None)
    _follow_up(row, "mail-bounces", {"code": reason[:60]}, now=now)


@transaction.atomic
def settle_late(*, claim: Claim, now: datetime) -> None:
    """The mail was not sent in its time, and is given up."""
    row = held(claim)
    if row is not None:
        _fail(row, "not sent in time", now=now)


def is_late(delivery: Delivery, *, now: datetime) -> bool:
    """Whether what the mail says comes too late to be of use."""
    return delivery.give_up_at is not None and now > delivery.give_up_at


def _wait(attempts: int) -> timedelta:
    minutes = RETRY_MINUTES[min(attempts, len(RETRY_MINUTES) - 1)]
    spread = random.uniform(0.9, 1.1)  # noqa: S311 - keeps retries from marching in step, nothing more
    return timedelta(minutes=minutes * spread)


def _again(row: Delivery, reason: str, at: datetime, *, now: datetime, counts: bool) -> None:
    if is_late(row, now=at):
        _fail(row, reason, now=now)
        return
    row.state, row.reason, row.next_attempt_at = State.RETRY, reason[:300], at
    row.attempts += int(counts)
    row.token, row.lease_until, row.handover_at = None, None, None
    row.save(
        update_fields=[
            "state",
            "reason",
            "next_attempt_at",
            "attempts",
            "token",
            "lease_until",
            "handover_at",
        ]
    )


def _fail(row: Delivery, reason: str, *, now: datetime) -> None:
    _final(row, State.FAILED, reason, now=now)
    _follow_up(row, "mail-failed", {"attempts": row.attempts}, now=now)


def _final(row: Delivery, state: str, reason: str, *, now: datetime) -> Delivery:
    row.state, row.reason = state, reason[:300]
    row.sent_at = now if state == State.SENT else None
    row.message, row.token, row.lease_until, row.handover_at = None, None, None, None
    row.attempts += 1
    row.save()
    return row


def _follow_up(row: Delivery, key: str, figures: dict[str, Any], *, now: datetime) -> None:
    """Told to the rider's coach. Mail to a coach says what the desk shows anyway, so that its failing opens none."""
    if row.rider is not None and row.coach_id is None:
        concern = Concern(Topic.BOUNCED, Urgency.SOON, (Reason("M3", key, figures),))
        followups.open_for(rider=row.rider, concern=concern, by="outbox", now=now)


# --- the sweep --------------------------------------------------------------------------------------------------------


def sweep(*, now: datetime) -> int:
    """Frees rows whose lease ran out, so that they are sent by whoever comes next. Returns how many.

    A host's own journals are read first (`athletes/journals.py`); other hosts wait longer, so that it can. A lease lost
    by a row that was begun counts as an attempt: what brings down whoever makes it must not be tried for ever.
    """
    host = socket.gethostname()
    with as_clock():
        stale = list(
            Delivery.objects.filter(state=State.CLAIMED)
            .filter(Q(lease_until__lte=now, host=host) | Q(lease_until__lte=now - host_privilege()))
            .values_list("club_id", "pk")[:500]
        )
    freed = 0
    for club_id, pk in stale:
        with within(club_id):
            freed += _free(pk, now=now)
    return freed


def _free(pk: int, *, now: datetime) -> bool:
    stale = Delivery.objects.filter(pk=pk, state=State.CLAIMED, lease_until__lte=now)
    lock_rider(stale.values_list("rider_id", flat=True).first())
    row = stale.select_for_update(of=("self",)).first()
    if row is None:
        return False
    is_begun = row.reason == BEGUN
    is_suspect = is_begun and row.attempts >= ACCIDENTS
    _again(row, "lease ran out", now + _wait(row.attempts) if is_suspect else now, now=now, counts=is_begun)
    return True


def count_overdue(*, now: datetime, by: timedelta = timedelta(minutes=30)) -> int:
    """How many mails of the club in force are waiting for their next attempt, and should have had it some time ago."""
    return Delivery.objects.waiting().filter(next_attempt_at__lte=now - by).count()


def in_transaction() -> bool:
    """Whether a transaction is open: nothing may be sent then."""
    return connection.in_atomic_block
