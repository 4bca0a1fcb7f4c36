"""The club's week by exception: what each rider's plan asks a coach to look at, the rest as planned.

    read_week(club=club, week=week, may_see_health=True, now=now)

Reads in a fixed number of queries however many riders there are. A rider stands in the first group that applies; what
else there is to see is named beside it.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Count, Prefetch
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from athletes.models import Club, Coach, FollowUp, Rider
from coaching.desk.findings import LOOKED_AT, TITLES, Finder, Kind
from coaching.desk.words import (
    PHASES,
    STATES,
    exercise_names,
    moment_words,
    short_moment_words,
)
from programs import facts as translator
from programs import plans, wording
from programs.drawings import week_strip_svg
from programs.engine.facts import Week
from programs.engine.quantities import shift_week, week_of
from programs.models import PlannedItem, PlannedSession, WeekPlan
from programs.sheet import StripDay
from programs.sheets import strips_of

State = WeekPlan.State


@dataclass(frozen=True, slots=True)
class SessionLine:
    """One session on one line."""

    day: str
    minutes: int
    exercises: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One rider's week on the desk. `mark`, `word` and `why` say what to look at first, `also` what else there is."""

    plan_id: int
    rider_id: int
    name: str
    squad: str
    state: str
    state_mark: str
    state_word: str
    goes_out: str
    phase: str
    kind: Kind | None
    mark: str
    word: str
    why: str
    also: str
    urgency: int
    follow_up_id: int | None
    sessions: tuple[SessionLine, ...]
    strip: SafeString
    shows_health: bool

    @property
    def anchor(self) -> str:
        """The id of the entry on the page."""
        return f"rider-{self.rider_id}"

    @property
    def can_be_approved(self) -> bool:
        return self.state == State.DRAFT

    @property
    def can_be_withdrawn(self) -> bool:
        return self.state == State.APPROVED

    @property
    def is_waiting(self) -> bool:
        return self.state in (State.DRAFT, State.HELD)


@dataclass(frozen=True, slots=True)
class Group:
    """Entries with the same kind of exception."""

    kind: Kind
    title: str
    hint: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Batch:
    """Plans that one coach approved in one action, which can still be taken back."""

    at: datetime
    at_words: str
    count: int


@dataclass(frozen=True, slots=True)
class WeekDesk:
    """A week of the club. `groups` wait and need a look, `rest` wait as planned, `settled` are approved or sent."""

    week: Week
    dates: str
    before: Week
    after: Week
    is_coming: bool
    is_running: bool
    groups: tuple[Group, ...]
    rest: tuple[Entry, ...]
    settled: tuple[Entry, ...]
    unplanned: tuple[tuple[int, str], ...]
    riders: int
    goes_out: str
    has_gone_out: bool
    works_out: str
    sends_unapproved: bool
    last_batch: Batch | None

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Every rider's entry, wherever it stands."""
        return (*(entry for group in self.groups for entry in group.entries), *self.rest, *self.settled)

    @property
    def to_look_at(self) -> int:
        return sum(len(group.entries) for group in self.groups)

    @property
    def approved(self) -> int:
        return sum(entry.state == State.APPROVED for entry in self.entries)

    @property
    def sent(self) -> int:
        return sum(entry.state == State.SENT for entry in self.entries)

    @property
    def is_resolved(self) -> bool:
        return bool(self.groups or self.rest or self.settled)

    @property
    def approvable(self) -> tuple[int, ...]:
        """The plans that nothing stands against, for the one action that approves them."""
        return tuple(entry.plan_id for entry in self.rest if entry.can_be_approved)

    @property
    def paused(self) -> int:
        return sum(not entry.can_be_approved for entry in self.rest)

    @property
    def health_of(self) -> tuple[int, ...]:
        """The riders of whom something about health is shown, for the audit log."""
        return tuple(sorted(entry.rider_id for entry in self.entries if entry.shows_health))

    def entry_of(self, rider_id: int) -> Entry | None:
        """One rider's entry, wherever it stands."""
        return next((entry for entry in self.entries if entry.rider_id == rider_id), None)


def read_week(
    *, club: Club, week: Week, may_see_health: bool, now: datetime, by: Coach | None = None
) -> WeekDesk:
    """The desk of one week. `by` is whose last action can be undone. Call inside `access.within(club)`."""
    rows = list(
        WeekPlan.objects.of_week(week.year, week.number)
        .current()
        .exclude(rider__state=Rider.State.LEFT)
        .select_related("rider__squad")
        .prefetch_related(_sessions_in_brief())
        .order_by("rider__family_name", "rider__given_name", "pk")
    )
    riders = list(Rider.objects.current().values_list("pk", "given_name", "family_name"))
    running = week_of(plans.local_date(club, now))
    follow_ups = _follow_ups(week >= running)
    names = exercise_names()
    strips = strips_of([plan.rider for plan in rows], week=week, with_pain=may_see_health, now=now)
    sends_at = plans.sends_at(club, week)
    reader = _Reader(club, Finder(follow_ups, names, may_see_health), strips, sends_at)
    entries = [reader.entry(plan) for plan in rows]
    planned = {plan.rider_id for plan in rows}
    to_look_at = [entry for entry in entries if _needs_a_look(entry, week == running)]
    return WeekDesk(
        week=week,
        dates=wording.week_words(week),
        before=shift_week(week, -1),
        after=shift_week(week, 1),
        is_coming=week == shift_week(running, 1),
        is_running=week == running,
        groups=_groups(to_look_at),
        rest=tuple(entry for entry in entries if entry.is_waiting and entry.kind is None),
        settled=tuple(entry for entry in entries if not entry.is_waiting and entry not in to_look_at),
        unplanned=tuple((pk, f"{given} {family}") for pk, given, family in riders if pk not in planned),
        riders=len(riders),
        goes_out=moment_words(sends_at, club.zone),
        has_gone_out=now >= sends_at,
        works_out=moment_words(plans.resolves_at(club, week), club.zone),
        sends_unapproved=club.unapproved == Club.Unapproved.SEND,
        last_batch=_last_batch(rows, by, club),
    )


def _sessions_in_brief() -> Prefetch:
    """The sessions of many plans with what an exception can come of, and how many exercises they hold: what stays as it
    was or only gains a rep is left in the database."""
    looked_at = PlannedItem.objects.filter(change__in=LOOKED_AT)
    sessions = (
        PlannedSession.objects.defer("warm_up", "cool_down", "reasons")
        .annotate(exercises=Count("items"))
        .order_by("on", "ordinal")  # counting drops the order that the rows have by themselves
        .prefetch_related(Prefetch("items", queryset=looked_at))
    )
    return Prefetch("sessions", queryset=sessions)


def _follow_ups(is_ahead: bool) -> dict[int, list[FollowUp]]:
    """Open follow-ups by rider, most urgent first; a week that is over shows none, since they are of today."""
    found: dict[int, list[FollowUp]] = defaultdict(list)
    for follow_up in FollowUp.objects.open().by_urgency() if is_ahead else ():
        found[follow_up.rider_id].append(follow_up)
    return found


def _groups(entries: Sequence[Entry]) -> tuple[Group, ...]:
    by_kind: dict[Kind, list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.kind is not None:
            by_kind[entry.kind].append(entry)
    return tuple(
        Group(kind, str(title), str(hint), tuple(sorted(by_kind[kind], key=lambda entry: -entry.urgency)))
        for kind, (title, hint) in TITLES.items()
        if by_kind[kind]
    )


def _needs_a_look(entry: Entry, is_running: bool) -> bool:
    """Whether something stands against a plan that waits; in the running week health still does once it was sent."""
    return entry.kind is not None and (entry.is_waiting or (is_running and entry.kind is Kind.HEALTH))


def _last_batch(rows: Sequence[WeekPlan], by: Coach | None, club: Club) -> Batch | None:
    mine = [
        plan.approved_at
        for plan in rows
        if by is not None
        and plan.state == State.APPROVED
        and plan.approved_by_id == by.pk
        and plan.approved_at
    ]
    if not mine:
        return None
    newest = max(mine)
    return Batch(newest, short_moment_words(newest, club.zone), mine.count(newest))


# --- one rider's week -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Reader:
    """Turns a plan with its rows into an entry; asks the database nothing."""

    club: Club
    finder: Finder
    strips: Mapping[int, tuple[StripDay, ...]]
    sends_at: datetime
    drawn: dict[tuple[StripDay, ...], SafeString] = field(default_factory=dict)

    def entry(self, plan: WeekPlan) -> Entry:
        sessions = list(plan.sessions.all())
        findings = sorted(self.finder.find(plan, sessions), key=lambda one: (one.kind, -one.urgency))
        first = findings[0] if findings else None
        others = dict.fromkeys(one.word for one in findings[1:] if first and one.says_more_than(first))
        mark, word = STATES[plan.state]
        strip = self.strips[plan.rider_id]
        return Entry(
            plan_id=plan.pk,
            rider_id=plan.rider_id,
            name=plan.rider.name,
            squad=plan.rider.squad.name,
            state=plan.state,
            state_mark=mark,
            state_word=str(word),
            goes_out=self._goes_out(plan),
            phase=_("{phase}, light").format(phase=PHASES[plan.phase])
            if plan.is_light
            else str(PHASES[plan.phase]),
            kind=first.kind if first else None,
            mark=first.mark if first else "",
            word=first.word if first else "",
            why=first.why if first else self._nothing(plan, sessions),
            also=", ".join(others),
            urgency=first.urgency if first else 0,
            follow_up_id=next((one.follow_up_id for one in findings if one.follow_up_id), None),
            sessions=tuple(_line(session) for session in sessions),
            strip=self._draw(strip),
            shows_health=self.finder.may_see_health
            and (
                any(one.kind is Kind.HEALTH for one in findings) or any(day.pain is not None for day in strip)
            ),
        )

    def _draw(self, strip: tuple[StripDay, ...]) -> SafeString:
        """The strip's drawing; many riders of a club have the same week."""
        if strip not in self.drawn:
            self.drawn[strip] = week_strip_svg(strip)
        return self.drawn[strip]

    def _goes_out(self, plan: WeekPlan) -> str:
        if plan.state == State.SENT and plan.sent_at:
            return _("sent {moment}").format(moment=short_moment_words(plan.sent_at, self.club.zone))
        if plan.state == State.APPROVED and plan.approved_at:
            at = max(plan.approved_at, self.sends_at)
            return _("goes out {moment}").format(moment=short_moment_words(at, self.club.zone))
        return ""

    def _nothing(self, plan: WeekPlan, sessions: Sequence[PlannedSession]) -> str:
        """Why an ordinary week holds no session."""
        return "" if sessions else self.finder.say(translator.read_reasons(plan.reasons[:1]), plan)


def _line(session: PlannedSession) -> SessionLine:
    count: int = session.exercises  # type: ignore[attr-defined]  # annotated by _sessions_in_brief
    return SessionLine(
        day=wording.short_day_words(session.on),
        minutes=session.minutes,
        exercises=ngettext("{count} exercise", "{count} exercises", count).format(count=count),
    )
