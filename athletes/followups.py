"""Follow-ups: opened by whatever noticed something, closed only by people where pain is concerned.

All verbs run inside `access.within(club)`.
"""

from collections.abc import Iterable
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from athletes.access import name_of, record
from athletes.concerns import NEVER_CLOSE_THEMSELVES, Concern, Topic, Urgency
from athletes.models import Coach, FollowUp, FollowUpEntry, Rider
from athletes.vocabulary import Reason


class AlreadyClosed(Exception):
    """The follow-up is closed; a new report opens a new one."""


class OutcomeMissing(Exception):
    """A health matter is closed with an outcome: say how the rider goes on."""


def due_at(urgency: Urgency, *, now: datetime, zone: ZoneInfo) -> datetime:
    """When a coach must have looked: at once, by 20:00 local the same day, by the end of tomorrow, of the third day."""
    if urgency is Urgency.NOW:
        return now
    local = now.astimezone(zone)
    if urgency is Urgency.TODAY:
        evening = datetime.combine(local.date(), time(20), zone)
        return max(evening.astimezone(now.tzinfo), now + timedelta(hours=1))
    days = 1 if urgency is Urgency.SOON else 3
    return datetime.combine(local.date() + timedelta(days=days), time(20), zone).astimezone(now.tzinfo)


def _documents(reasons: Iterable[Reason]) -> list[dict[str, Any]]:
    return [{"rule": one.rule, "key": one.key, "figures": dict(one.figures)} for one in reasons]


@transaction.atomic
def open_for(*, rider: Rider, concern: Concern, by: Coach | Rider | str, now: datetime) -> FollowUp:
    """Opens a follow-up for the concern, or adds to the one already open for the same rider, topic and site.

    A repeated report never lowers the urgency nor moves the due time back.
    """
    zone = ZoneInfo(rider.club.zone)
    due = due_at(concern.urgency, now=now, zone=zone)
    follow_up, is_new = FollowUp.objects.select_for_update().get_or_create(
        club_id=rider.club_id,
        rider=rider,
        topic=concern.topic.value,
        region=concern.region.value if concern.region else "",
        side=concern.side.value if concern.side else "",
        closed_at=None,
        defaults={
            "urgency": int(concern.urgency),
            "owner_id": rider.squad.coach_id,
            "opened_at": now,
            "due_at": due,
            "reasons": _documents(concern.reasons),
        },
    )
    if not is_new:
        follow_up.urgency = max(follow_up.urgency, int(concern.urgency))
        follow_up.due_at = min(follow_up.due_at, due)
        follow_up.reasons = _documents(concern.reasons)
        follow_up.save(update_fields=["urgency", "due_at", "reasons"])
    _add(
        follow_up,
        FollowUpEntry.Kind.OPENED if is_new else FollowUpEntry.Kind.AGAIN,
        by=by,
        now=now,
        reasons=_documents(concern.reasons),
    )
    return follow_up


@transaction.atomic
def note(*, follow_up: FollowUp, text: str, contact: bool, by: Coach, now: datetime) -> FollowUpEntry:
    """Adds a line to the history: a note, or a contact with the rider."""
    kind = FollowUpEntry.Kind.CONTACT if contact else FollowUpEntry.Kind.NOTE
    return _add(follow_up, kind, by=by, now=now, text=text)


@transaction.atomic
def put_off(*, follow_up: FollowUp, until: datetime, by: Coach, now: datetime) -> None:
    """Moves the due time. Raises `AlreadyClosed`."""
    locked = _open_row(follow_up)
    locked.due_at = until
    locked.save(update_fields=["due_at"])
    _add(locked, FollowUpEntry.Kind.SNOOZED, by=by, now=now, text=until.isoformat())


@transaction.atomic
def hand_over(*, follow_up: FollowUp, to: Coach, by: Coach, now: datetime) -> None:
    """Gives the follow-up to another coach. Raises `AlreadyClosed`."""
    locked = _open_row(follow_up)
    locked.owner = to
    locked.save(update_fields=["owner"])
    _add(locked, FollowUpEntry.Kind.REASSIGNED, by=by, now=now, text=str(to))


@transaction.atomic
def close(*, follow_up: FollowUp, outcome: str, text: str, by: Coach, now: datetime) -> FollowUp:
    """Closes with an outcome, recorded with who and when. Raises `AlreadyClosed`, `OutcomeMissing`."""
    locked = _open_row(follow_up)
    if locked.is_health and not outcome:
        raise OutcomeMissing
    locked.closed_at, locked.closed_by, locked.outcome = now, by, outcome
    locked.save(update_fields=["closed_at", "closed_by", "outcome"])
    _add(locked, FollowUpEntry.Kind.CLOSED, by=by, now=now, text=text)
    record(
        "follow-up.close",
        club_id=locked.club_id,
        by=name_of(by),
        now=now,
        rider=locked.rider,
        subject=str(locked.pk),
    )
    return locked


@transaction.atomic
def settle(*, rider: Rider, topic: Topic, now: datetime) -> int:
    """Closes what has settled by itself, e.g. a missed session that was reported after all. Never a health matter.

    Raises `ValueError` for a topic that only a person may close.
    """
    if topic in NEVER_CLOSE_THEMSELVES:
        raise ValueError(f"{topic.value} is closed by a person only")
    settled = 0
    for follow_up in FollowUp.objects.select_for_update().open().filter(rider=rider, topic=topic.value):
        follow_up.closed_at = now
        follow_up.save(update_fields=["closed_at"])
        _add(follow_up, FollowUpEntry.Kind.CLOSED, by="engine", now=now)
        settled += 1
    return settled


def _open_row(follow_up: FollowUp) -> FollowUp:
    locked = FollowUp.objects.select_for_update(of=("self",)).select_related("rider").get(pk=follow_up.pk)
    if not locked.is_open:
        raise AlreadyClosed
    return locked


def _add(
    follow_up: FollowUp,
    kind: str,
    *,
    by: Coach | Rider | str,
    now: datetime,
    text: str = "",
    reasons: list[dict[str, Any]] | None = None,
) -> FollowUpEntry:
    return FollowUpEntry.objects.create(
        club_id=follow_up.club_id,
        follow_up=follow_up,
        kind=kind,
        text=text,
        reasons=reasons or [],
        made_by=by if isinstance(by, Coach) else None,
        at=now,
    )
