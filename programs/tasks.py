"""The clock: thin Celery tasks. Due-ness and uniqueness live in the database, so 0, 1 or 5 tickers do the same."""

import logging
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from typing import Any

from celery import shared_task
from django.db import transaction
from django.utils import timezone

from athletes import access, outbox, postman
from athletes.models import Club, Delivery, Heartbeat
from programs import checkins, letters, plans

log = logging.getLogger(__name__)
#: How many deliveries one run takes before it makes room for others.
RUN = 200
BATCH = 20


@shared_task
def send_due() -> int:
    """Sends what is due. Returns how many went out."""
    with _Heartbeat("send-due") as note:
        return note(send(clock=timezone.now, limit=RUN))


@shared_task
def sweep() -> int:
    """Recovers what dead processes left: journals first, then leases."""
    with _Heartbeat("sweep") as note:
        now = timezone.now()
        settled = postman.read_journals(settle=lambda claim: _settle(claim, now=now))
        return note(settled + outbox.sweep(now=now))


@shared_task
def resolve_weeks() -> int:
    """Works out and sees to the coming week of each club whose hour has come."""
    with _Heartbeat("resolve-weeks") as note:
        return note(_each_club(lambda club, now: plans.keep_timetable(club=club, now=now).made))


@shared_task
def watch_sessions() -> int:
    """Flags missed sessions in each club."""
    with _Heartbeat("watch-sessions") as note:
        return note(_each_club(lambda club, now: checkins.watch(club=club, now=now)))


@shared_task
def send_digests() -> int:
    """Queues the daily digests of each club."""
    with _Heartbeat("send-digests") as note:
        return note(_each_club(lambda club, now: checkins.queue_digests(club=club, now=now)))


def _each_club(verb: Callable[[Club, datetime], int]) -> int:
    """One club's failure never stops the others: it is logged, and the next tick tries again."""
    done = 0
    for club in access.clubs_of_all():
        try:
            with access.within(club):
                done += verb(club, timezone.now())
        except Exception:
            log.exception("club %s failed", club.pk)
    return done


class _Heartbeat:
    """Records when a job began and ended and what it did."""

    def __init__(self, job: str) -> None:
        self.job = job

    def __enter__(self) -> Callable[[int], int]:
        Heartbeat.objects.update_or_create(job=self.job, defaults={"started_at": timezone.now()})
        return self._note

    def _note(self, done: int) -> int:
        self.done = done
        return done

    def __exit__(self, kind: Any, error: Any, trace: Any) -> None:
        result = {"done": getattr(self, "done", None), "error": kind.__name__ if kind else ""}
        Heartbeat.objects.filter(job=self.job).update(finished_at=timezone.now(), result=result)


# --- sending ----------------------------------------------------------------------------------------------------------


def send(*, clock: Callable[[], datetime], limit: int) -> int:
    """Claims, makes, carries and settles deliveries until none is due or `limit` went through. Returns how many went.

    A bad row fails alone with its reason. When the server cannot be reached, what is claimed goes back at once.
    """
    sent = tried = 0
    with postman.Postman() as carrier:
        while tried < limit and (claims := outbox.claim(now=clock(), limit=min(BATCH, limit - tried))):
            tried += len(claims)
            for position, claim in enumerate(claims):
                try:
                    sent += _send_one(carrier, claim, clock)
                except postman.NotReachable as error:
                    for waiting in claims[position:]:
                        with access.within(waiting.club_id):
                            outbox.settle_probe(claim=waiting, reason=f"no mail server: {error}", now=clock())
                    return sent
    return sent


def _send_one(carrier: postman.Postman, claim: outbox.Claim, clock: Callable[[], datetime]) -> bool:
    prepared = _prepare(claim, now=clock())
    if prepared is None:
        return False
    recipient, message = prepared
    try:
        carrier.carry(
            claim=claim,
            recipient=recipient,
            message=message,
            is_in_force=lambda: _is_in_force(claim, now=clock()),
        )
    except postman.NoLongerInForce:
        with access.within(claim.club_id):
            outbox.settle_cancelled(claim=claim, reason="no longer in force", now=clock())
        return False
    except postman.PassingRefusal as error:
        with access.within(claim.club_id):
            outbox.settle_passing(claim=claim, reason=error.reason, now=clock())
        return False
    except postman.LastingRefusal as error:
        with access.within(claim.club_id):
            outbox.settle_refused(
                claim=claim, reason=error.reason, address_is_bad=error.address_is_bad, now=clock()
            )
        return False
    settled = _settle(claim, now=clock())
    carrier.recorded()
    return settled


def _prepare(claim: outbox.Claim, *, now: datetime) -> tuple[str, bytes] | None:
    """The recipient and the fixed bytes; None when the claim is lost or the message cannot or need not be made."""
    with access.within(claim.club_id):
        delivery = outbox.held(claim)
        if delivery is None:
            return None
        message = outbox.message_of(delivery)
        if message is None:
            message = _make(delivery, claim, now=now)
        return (delivery.recipient, message) if message is not None else None


def _make(delivery: Delivery, claim: outbox.Claim, *, now: datetime) -> bytes | None:
    message_id = outbox.make_message_id()
    try:
        with transaction.atomic():
            message = letters.make(delivery=delivery, message_id=message_id, now=now)
    except letters.Void:
        outbox.settle_cancelled(claim=claim, reason="nothing to say any more", now=now)
        return None
    except Exception as error:
        # A row that cannot be made must not stop the others, whatever is wrong with it.
        log.exception("delivery %s cannot be made", claim.pk)
        outbox.settle_refused(
            claim=claim, reason=f"cannot be made: {type(error).__name__}", address_is_bad=False, now=now
        )
        return None
    outbox.fix(delivery=delivery, message=message, message_id=message_id)
    return message


def _is_in_force(claim: outbox.Claim, *, now: datetime) -> bool:
    with access.within(claim.club_id):
        delivery = outbox.held(claim)
        return (
            delivery is not None
            and letters.is_in_force(delivery)
            and outbox.renew_lease(claim=claim, now=now)
        )


def _settle(claim: outbox.Claim, *, now: datetime) -> bool:
    with access.within(claim.club_id):
        delivery = outbox.settle_sent(claim=claim, now=now)
        if delivery is not None:
            letters.note_sent(delivery, now=now)
        return delivery is not None


def wake_sender() -> None:
    """Wakes a worker to send at once. A lost message costs time only: the ticker finds the row."""
    with suppress(Exception):
        send_due.delay()
