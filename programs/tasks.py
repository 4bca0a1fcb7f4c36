"""The clock: thin Celery tasks. Due-ness and uniqueness live in the database, so 0, 1 or 5 tickers do the same."""

import logging
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import datetime
from typing import Any

from celery import shared_task
from celery.exceptions import SoftTimeLimitExceeded
from django.db import Error as DatabaseError
from django.db import transaction
from django.utils import timezone

from athletes import access, journals, outbox, postman
from athletes.models import Club, Heartbeat
from programs import checkins, clock, completeness, handbooks, letters

log = logging.getLogger(__name__)
#: How many deliveries one run takes, and how long it begins new ones, before it makes room for others.
RUN, RUN_SECONDS = 200, 45.0
BATCH = 10
#: What is wrong with the whole run, not with one row.
WHOLE_RUN = (DatabaseError, SoftTimeLimitExceeded)


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
        settled = journals.read_journals(settle=lambda entry: _settle(entry, now=now))
        return note(settled + outbox.sweep(now=now))


@shared_task
def resolve_weeks() -> int:
    """Works out and sees to the coming week of each club whose hour has come."""
    with _Heartbeat("resolve-weeks") as note:
        return note(_each_club(lambda club, now: clock.keep_timetable(club=club, now=now).made))


@shared_task
def count_missing() -> int:
    """Counts what ought to be there and is not. Anything but 0 is for a person to see."""
    with _Heartbeat("count-missing") as note:
        return note(_each_club(lambda club, now: completeness.count_missing(club=club, now=now)))


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


@shared_task
def make_handbooks() -> int:
    """Makes the handbooks that coaches have asked for."""
    with _Heartbeat("make-handbooks") as note:
        return note(handbooks.make_due(clock=timezone.now))


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


def send(
    *,
    clock: Callable[[], datetime],
    limit: int,
    carrier: postman.Postman | None = None,
    seconds: float = RUN_SECONDS,
) -> int:
    """Claims, makes, carries and settles deliveries until none is due, `limit` went through or `seconds` are over.
    Returns how many went.

    A bad row fails alone with its reason. When the server cannot be reached, what is claimed goes back at once.
    `carrier` is this thread's own by default, whose line to the server lasts from run to run.
    """
    carrier = carrier or postman.kept_postman()
    _settle_unrecorded(carrier, clock)
    ends_at = time.monotonic() + seconds
    sent = tried = 0
    while tried < limit and (claims := outbox.claim(now=clock(), limit=min(BATCH, limit - tried))):
        tried += len(claims)
        went, is_over = _send_batch(carrier, claims, clock, ends_at)
        sent += went
        if is_over:
            break
    carrier.rest()
    return sent


def _send_batch(
    carrier: postman.Postman, claims: Sequence[outbox.Claim], clock: Callable[[], datetime], ends_at: float
) -> tuple[int, bool]:
    """How many went, and whether the run is over. Whatever happens, claims that were not got round to are let go."""
    waiting = list(claims)
    went = 0
    try:
        while waiting:
            if time.monotonic() > ends_at:
                return went, True
            try:
                went += _send_one(carrier, waiting[0], clock)
            except postman.NotReachable as error:
                _put_off(waiting, f"no mail server: {error}", clock)
                waiting.clear()
                return went, True
            waiting.pop(0)
        return went, False
    finally:
        with suppress(DatabaseError):
            outbox.release(waiting)


def _put_off(claims: Sequence[outbox.Claim], reason: str, clock: Callable[[], datetime]) -> None:
    for claim in claims:
        with access.within(claim.club_id):
            outbox.settle_probe(claim=claim, reason=reason, now=clock())


def _send_one(carrier: postman.Postman, claim: outbox.Claim, clock: Callable[[], datetime]) -> bool:
    letter = _prepare(claim, now=clock())
    if letter is None:
        return False
    try:
        carrier.carry(claim=claim, letter=letter, hand_over=lambda: _hand_over(claim, letter, now=clock()))
    except (postman.NotReachable, *WHOLE_RUN):
        raise
    except Exception as error:
        _settle_failure(claim, error, now=clock())
        return False
    return _settle_unrecorded(carrier, clock) > 0


def _settle_failure(claim: outbox.Claim, error: Exception, *, now: datetime) -> None:
    with access.within(claim.club_id):
        match error:
            case postman.NoLongerInForce():
                outbox.settle_cancelled(claim=claim, reason="no longer in force", now=now)
            case postman.PassingRefusal(reason=reason):
                outbox.settle_passing(claim=claim, reason=reason, now=now)
            case postman.LastingRefusal(reason=reason, address_is_bad=is_bad):
                outbox.settle_refused(claim=claim, reason=reason, address_is_bad=is_bad, now=now)
            case _:
                # One row must not stop the others, whatever is wrong with it.
                log.error("delivery %s cannot be carried", claim.pk, exc_info=error)
                outbox.settle_passing(
                    claim=claim, reason=f"cannot be carried: {type(error).__name__}", now=now
                )


# --- making -----------------------------------------------------------------------------------------------------------


class _ClaimLost(Exception):
    """Somebody cancelled the delivery, or its lease ran out, while its message was made."""


def _prepare(claim: outbox.Claim, *, now: datetime) -> postman.Letter | None:
    """The letter with its fixed bytes; None when the claim is lost or the message cannot or need not be made.

    Nothing is locked while the message is made: a rider's report must not wait for a card to be drawn.
    """
    with access.within(claim.club_id):
        if not outbox.begin(claim=claim, now=now):
            return None
    with access.within(claim.club_id):
        delivery = outbox.peek(claim)
        if delivery is None:
            return None
        if outbox.is_late(delivery, now=now):
            outbox.settle_late(claim=claim, now=now)
            return None
        message = outbox.message_of(delivery)
        if message is not None:
            return postman.Letter(delivery.recipient, message, delivery.message_id)
        message_id = delivery.message_id or outbox.make_message_id()
        try:
            with transaction.atomic():
                message = letters.make(delivery=delivery, message_id=message_id, now=now)
                if not outbox.fix(claim=claim, message=message, message_id=message_id):
                    raise _ClaimLost
        except _ClaimLost:
            return None
        except letters.Void:
            outbox.settle_cancelled(claim=claim, reason="nothing to say any more", now=now)
            return None
        except WHOLE_RUN:
            raise
        except Exception as error:
            # A row that cannot be made must not stop the others, whatever is wrong with it.
            log.exception("delivery %s cannot be made", claim.pk)
            outbox.settle_refused(
                claim=claim, reason=f"cannot be made: {type(error).__name__}", address_is_bad=False, now=now
            )
            return None
        return postman.Letter(delivery.recipient, message, message_id)


# --- around handing over ----------------------------------------------------------------------------------------------


def _hand_over(claim: outbox.Claim, letter: postman.Letter, *, now: datetime) -> bool:
    """Whether the letter may go: the claim is ours, its address and words hold. From then on nobody cancels it."""
    with access.within(claim.club_id):
        delivery = outbox.held(claim)
        return (
            delivery is not None
            and delivery.recipient == letter.recipient
            and letters.is_in_force(delivery, now=now)
            and outbox.hand_over(claim=claim, now=now)
        )


def _settle_unrecorded(carrier: postman.Postman, clock: Callable[[], datetime]) -> int:
    """The database knows of all that the carrier's server took. Returns how many were news."""
    settled = 0
    for entry in list(carrier.unrecorded):
        settled += _settle(entry, now=clock())
        carrier.recorded(entry)
    return settled


def _settle(entry: journals.Entry, *, now: datetime) -> bool:
    """The server took it. Whatever else follows from that can fail without making it untrue."""
    with access.within(entry.club_id):
        delivery = outbox.settle_taken(pk=entry.pk, message_id=entry.message_id, now=now)
        if delivery is None:
            return False
        try:
            with transaction.atomic():
                letters.note_sent(delivery, now=now)
        except WHOLE_RUN:
            raise
        except Exception:
            log.exception("delivery %s was sent, and what follows from it failed", entry.pk)
        return True
