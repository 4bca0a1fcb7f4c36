"""Follow-ups as a coach reads them: a list by urgency, and one with its history."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from athletes import words
from athletes.concerns import Event, Outcome, Symptom, Topic, Urgency
from athletes.models import Club, Coach, FollowUp, FollowUpEntry, Screening, SymptomReport
from athletes.readiness import NEEDS_CLEARANCE
from coaching.desk.words import (
    capital,
    exercise_names,
    matter_words,
    moment_words,
    reason_line,
    reason_rows,
)
from programs import facts as translator
from programs import wording

#: Most closed follow-ups on the list.
MOST_CLOSED = 100

_ENTRY_MARKS = {
    FollowUpEntry.Kind.OPENED: "open",
    FollowUpEntry.Kind.AGAIN: "look",
    FollowUpEntry.Kind.CONTACT: "done-tick",
    FollowUpEntry.Kind.NOTE: "note",
    FollowUpEntry.Kind.SNOOZED: "due",
    FollowUpEntry.Kind.REASSIGNED: "forward",
    FollowUpEntry.Kind.CLOSED: "closed",
}
#: Topics of which an uncleared report may stand behind, with the events that belong to them.
_EVENTS = {
    Topic.SYMPTOM: None,
    Topic.ILLNESS: ("illness", "fever-or-chest"),
    Topic.CRASH: ("crash",),
    Topic.NUMBNESS: ("numbness-on-bike",),
    Topic.SCREENING: ("surgery",),
}
_HALTING = frozenset({Outcome.PAUSE.value, Outcome.REFERRED.value})


@dataclass(frozen=True, slots=True)
class Row:
    """One follow-up on one line. `due` says when, `is_overdue` that it has passed."""

    pk: int
    rider_id: int
    rider: str
    mark: str
    word: str
    why: str
    owner: str
    urgency: str
    is_urgent: bool
    due: str
    is_overdue: bool
    is_open: bool
    closed: str
    outcome: str
    shows_health: bool


@dataclass(frozen=True, slots=True)
class ListPage:
    """The follow-ups that the address asks for."""

    whose: str
    state: str
    rows: tuple[Row, ...]
    open_count: int
    overdue_count: int
    health_of: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a history."""

    mark: str
    word: str
    who: str
    at: str
    text: str
    reasons: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class ToClear:
    """Something that stops or eases the plan until somebody has cleared it. `kind` is ``report`` or ``screening``."""

    kind: str
    pk: int
    what: str
    since: date


@dataclass(frozen=True, slots=True)
class FollowUpPage:
    """One follow-up with its history. Detail is empty where it is about health and the reader may not see it."""

    follow_up: FollowUp
    row: Row
    reasons: tuple[dict[str, Any], ...]
    lines: tuple[Line, ...]
    is_hidden: bool
    is_pain: bool
    to_clear: tuple[ToClear, ...]
    still_halted: bool


def row_of(
    follow_up: FollowUp, *, club: Club, may_see_health: bool, now: datetime, names: Mapping[str, str]
) -> Row:
    """One follow-up as a line. `rider` and `owner__user` should come with it."""
    mark, word = matter_words(follow_up, may_see_health=may_see_health)
    is_overdue = follow_up.is_open and follow_up.due_at < now
    reasons = translator.read_reasons(follow_up.reasons[:1])
    hidden = follow_up.is_health and not may_see_health
    return Row(
        pk=follow_up.pk,
        rider_id=follow_up.rider_id,
        rider=follow_up.rider.name,
        mark=mark,
        word=word,
        why="" if hidden else reason_line(reasons, may_see_health=may_see_health, names=names),
        owner=str(follow_up.owner.user),
        urgency=str(words.label(Urgency(follow_up.urgency))),
        is_urgent=follow_up.urgency >= Urgency.TODAY,
        due=_due_words(follow_up.due_at, club, now),
        is_overdue=is_overdue,
        is_open=follow_up.is_open,
        closed=moment_words(follow_up.closed_at, club.zone) if follow_up.closed_at else "",
        outcome="" if hidden or not follow_up.outcome else follow_up.get_outcome_display(),
        shows_health=follow_up.is_health and may_see_health,
    )


def _due_words(due_at: datetime, club: Club, now: datetime) -> str:
    """When to have looked: ``today, 20:00``, ``tomorrow, 20:00``, ``Tuesday 3 November, 20:00``."""
    zone = ZoneInfo(club.zone)
    local, today = due_at.astimezone(zone), now.astimezone(zone).date()
    at = wording.time_words(local.time())
    if local.date() == today:
        return _("today, {time}").format(time=at)
    if local.date() == today + timedelta(days=1):
        return _("tomorrow, {time}").format(time=at)
    return moment_words(due_at, club.zone)


def read_list(
    *, club: Club, whose: str, state: str, by: Coach, may_see_health: bool, now: datetime
) -> ListPage:
    """The list. `whose` is ``mine`` or ``all``, `state` is ``open`` or ``closed``."""
    rows = FollowUp.objects.select_related("rider", "owner__user")
    if whose == "mine":
        rows = rows.filter(owner=by)
    if state == "closed":
        found = list(rows.filter(closed_at__isnull=False).order_by("-closed_at", "-pk")[:MOST_CLOSED])
    else:
        found = list(rows.open().by_urgency())
    names = exercise_names()
    lines = [row_of(one, club=club, may_see_health=may_see_health, now=now, names=names) for one in found]
    return ListPage(
        whose=whose,
        state=state,
        rows=tuple(lines),
        open_count=sum(line.is_open for line in lines),
        overdue_count=sum(line.is_overdue for line in lines),
        health_of=tuple(sorted({line.rider_id for line in lines if line.shows_health})),
    )


def read_follow_up(follow_up: FollowUp, *, club: Club, may_see_health: bool, now: datetime) -> FollowUpPage:
    """One follow-up with its history."""
    names = exercise_names()
    hidden = follow_up.is_health and not may_see_health
    entries = follow_up.entries.select_related("made_by__user")
    is_halted = not follow_up.is_open and follow_up.topic == Topic.PAIN and follow_up.outcome in _HALTING
    return FollowUpPage(
        follow_up=follow_up,
        row=row_of(follow_up, club=club, may_see_health=may_see_health, now=now, names=names),
        reasons=tuple(
            reason_rows(translator.read_reasons(follow_up.reasons), may_see_health=not hidden, names=names)
        ),
        lines=tuple(_line(entry, club, hidden, names) for entry in entries),
        is_hidden=hidden,
        is_pain=follow_up.topic == Topic.PAIN,
        to_clear=() if hidden else _to_clear(follow_up),
        still_halted=is_halted and not hidden,
    )


def _line(entry: FollowUpEntry, club: Club, hidden: bool, names: Mapping[str, str]) -> Line:
    text = "" if hidden else entry.text
    if entry.kind == FollowUpEntry.Kind.SNOOZED and text:
        text = _("until {moment}").format(moment=moment_words(datetime.fromisoformat(text), club.zone))
    reasons = () if hidden else translator.read_reasons(entry.reasons)
    return Line(
        mark=_ENTRY_MARKS[FollowUpEntry.Kind(entry.kind)],
        word=entry.get_kind_display(),
        who=str(entry.made_by.user) if entry.made_by else "",
        at=moment_words(entry.at, club.zone),
        text=text,
        reasons=tuple(reason_rows(reasons, may_see_health=not hidden, names=names)),
    )


def _to_clear(follow_up: FollowUp) -> tuple[ToClear, ...]:
    """What of this follow-up's kind is on record and not cleared."""
    if follow_up.topic not in _EVENTS:
        return ()
    reports = SymptomReport.objects.filter(rider_id=follow_up.rider_id, cleared_on__isnull=True)
    events = _EVENTS[Topic(follow_up.topic)]
    reports = reports.filter(event__in=events) if events else reports.exclude(symptom="")
    found = [ToClear("report", row.pk, _reported(row), row.on) for row in reports]
    if follow_up.topic == Topic.SCREENING:
        newest = Screening.objects.filter(rider_id=follow_up.rider_id).first()
        if newest and newest.needs in NEEDS_CLEARANCE and newest.cleared_on is None:
            since = newest.clearance_from or newest.answered_at.date()
            found.append(
                ToClear("screening", newest.pk, _("The health screening asks for clearance."), since)
            )
    return tuple(found)


def _reported(row: SymptomReport) -> str:
    return _("{what}, reported on {day}").format(
        what=capital(symptom_words(row)), day=wording.day_words(row.on)
    )


def symptom_words(row: SymptomReport) -> str:
    """What was reported: a warning symptom or an event."""
    return str(words.label(Symptom(row.symptom) if row.symptom else Event(row.event)))
