"""The club's week by exception: what each rider's plan asks a coach to look at, the rest as planned.

    read_week(club=club, week=week, may_see_health=True, now=now)

Reads in a fixed number of queries however many riders there are. A rider stands in the first group that applies; what
else there is to see is named beside it.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from enum import IntEnum
from typing import Any

from django.utils.functional import Promise
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from athletes import readiness
from athletes.concerns import Topic
from athletes.models import Club, Coach, FollowUp, Rider
from athletes.vocabulary import Reason
from coaching.desk.words import (
    CHANGES,
    PHASES,
    STATES,
    capital,
    exercise_names,
    matter_words,
    moment_words,
    reason_line,
    short_moment_words,
    unit_of,
)
from programs import facts as translator
from programs import plans, wording
from programs.drawings import week_strip_svg
from programs.engine.facts import Change, Week
from programs.engine.quantities import shift_week, week_of
from programs.engine.safety import BIG_STEP_PERCENT
from programs.engine.spots import NEAR_MILD
from programs.models import PlannedItem, PlannedSession, WeekPlan
from programs.sheet import StripDay
from programs.sheets import strips_of

State = WeekPlan.State
type Names = Mapping[str, str]


class Kind(IntEnum):
    """What asks for a look, in the order in which the desk shows it."""

    HEALTH = 0
    HELD = 1
    STALLED = 2
    QUIET = 3
    PLACEMENT = 4
    CHANGES = 5
    FIRST = 6


TITLES: dict[Kind, tuple[str | Promise, str | Promise]] = {
    Kind.HEALTH: (
        gettext_lazy("Health: a decision is needed"),
        gettext_lazy("pain, symptoms, what was eased"),
    ),
    Kind.HELD: (gettext_lazy("Held"), gettext_lazy("nothing goes out until this is settled")),
    Kind.STALLED: (gettext_lazy("Stalled or left out"), gettext_lazy("no gain, or nothing that fits")),
    Kind.QUIET: (gettext_lazy("Missed or silent"), gettext_lazy("sessions without a word")),
    Kind.PLACEMENT: (gettext_lazy("Days"), gettext_lazy("sessions dropped, clashes with rides")),
    Kind.CHANGES: (
        gettext_lazy("Big changes"),
        gettext_lazy("load steps above 10 %, new exercises, level moves"),
    ),
    Kind.FIRST: (
        gettext_lazy("First weeks"),
        gettext_lazy("a coach always looks before the first plan goes out"),
    ),
}

#: What a follow-up's topic is to the desk; topics of health that are not here stand with health.
_TOPIC_KINDS = {
    Topic.SCREENING: Kind.HELD,
    Topic.STALLED: Kind.STALLED,
    Topic.LEFT_OUT: Kind.STALLED,
    Topic.MISSED: Kind.QUIET,
    Topic.SILENT: Kind.QUIET,
    Topic.BOUNCED: Kind.QUIET,
    Topic.LOAD_STEP: Kind.CHANGES,
}
#: Reasons for a slot left out that need nobody's look: time ran short, or new work waits its turn.
_EXPECTED_LEFT_OUT = frozenset(
    {"enough-new", "new-before-race", "sets-dropped-for-time", "exercise-dropped-for-time"}
)
_NOTHING_PLANNED = frozenset({"no-block", "no-templates", "nothing-fits-session"})
_EASED = frozenset({Change.EASIER, Change.LESS_LOAD, Change.FEWER_REPS, Change.FEWER_SETS})


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to look at in a rider's week."""

    kind: Kind
    mark: str
    word: str
    why: str
    urgency: int = 0
    follow_up_id: int | None = None
    is_state: bool = False

    def says_more_than(self, first: "Finding") -> bool:
        """Whether it is worth naming beside the first: another word, and not only the state that the first explains."""
        return self.word != first.word and not (self.is_state and first.kind is self.kind)


@dataclass(frozen=True, slots=True)
class SessionLine:
    """One session on one line. `count` is of exercises."""

    day: str
    minutes: int
    count: int
    name: str


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
    def to_look_at(self) -> int:
        return sum(len(group.entries) for group in self.groups)

    @property
    def approved(self) -> int:
        return sum(entry.state == State.APPROVED for entry in self.settled)

    @property
    def sent(self) -> int:
        return sum(entry.state == State.SENT for entry in self.settled)

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
        entries = [*self.settled, *self.rest, *(entry for group in self.groups for entry in group.entries)]
        return tuple(sorted(entry.rider_id for entry in entries if entry.shows_health))

    def entry_of(self, rider_id: int) -> Entry | None:
        """One rider's entry, wherever it stands."""
        entries = [*(entry for group in self.groups for entry in group.entries), *self.rest, *self.settled]
        return next((entry for entry in entries if entry.rider_id == rider_id), None)


def read_week(
    *, club: Club, week: Week, may_see_health: bool, now: datetime, by: Coach | None = None
) -> WeekDesk:
    """The desk of one week. `by` is whose last action can be undone. Call inside `access.within(club)`."""
    rows = list(
        WeekPlan.objects.of_week(week.year, week.number)
        .current()
        .select_related("rider__squad")
        .prefetch_related("sessions__items")
        .order_by("rider__family_name", "rider__given_name", "pk")
    )
    riders = list(Rider.objects.current().values_list("pk", "given_name", "family_name"))
    running = week_of(plans.local_date(club, now))
    follow_ups = _follow_ups(week >= running)
    names = exercise_names()
    strips = strips_of([plan.rider for plan in rows], week=week, with_pain=may_see_health, now=now)
    reader = _Reader(club, follow_ups, strips, names, may_see_health, plans.sends_at(club, week))
    entries = [reader.entry(plan) for plan in rows]
    planned = {plan.rider_id for plan in rows}
    sends_at = plans.sends_at(club, week)
    return WeekDesk(
        week=week,
        dates=wording.week_words(week),
        before=shift_week(week, -1),
        after=shift_week(week, 1),
        is_coming=week == shift_week(running, 1),
        is_running=week == running,
        groups=_groups(entries),
        rest=tuple(entry for entry in entries if entry.is_waiting and entry.kind is None),
        settled=tuple(entry for entry in entries if not entry.is_waiting),
        unplanned=tuple((pk, f"{given} {family}") for pk, given, family in riders if pk not in planned),
        riders=len(riders),
        goes_out=moment_words(sends_at, club.zone),
        has_gone_out=now >= sends_at,
        works_out=moment_words(plans.resolves_at(club, week), club.zone),
        sends_unapproved=club.unapproved == Club.Unapproved.SEND,
        last_batch=_last_batch(rows, by, club),
    )


def _follow_ups(is_ahead: bool) -> dict[int, list[FollowUp]]:
    """Open follow-ups by rider, most urgent first; a week that is over shows none, since they are of today."""
    found: dict[int, list[FollowUp]] = defaultdict(list)
    for follow_up in FollowUp.objects.open().by_urgency() if is_ahead else ():
        found[follow_up.rider_id].append(follow_up)
    return found


def _groups(entries: Sequence[Entry]) -> tuple[Group, ...]:
    by_kind: dict[Kind, list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.is_waiting and entry.kind is not None:
            by_kind[entry.kind].append(entry)
    return tuple(
        Group(kind, str(title), str(hint), tuple(sorted(by_kind[kind], key=lambda entry: -entry.urgency)))
        for kind, (title, hint) in TITLES.items()
        if by_kind[kind]
    )


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
    follow_ups: Mapping[int, list[FollowUp]]
    strips: Mapping[int, tuple[StripDay, ...]]
    names: Names
    may_see_health: bool
    sends_at: datetime
    drawn: dict[tuple[StripDay, ...], SafeString] = field(default_factory=dict)

    def entry(self, plan: WeekPlan) -> Entry:
        sessions = list(plan.sessions.all())
        findings = sorted(self._findings(plan, sessions), key=lambda one: (one.kind, -one.urgency))
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
            shows_health=self.may_see_health
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
        return "" if sessions else self._say(translator.read_reasons(plan.reasons[:1]), plan)

    def _say(self, reasons: Sequence[Reason], plan: WeekPlan) -> str:
        return reason_line(
            reasons, may_see_health=self.may_see_health, names=self.names, unit=unit_of(plan.rider)
        )

    def _findings(self, plan: WeekPlan, sessions: Sequence[PlannedSession]) -> Iterable[Finding]:
        yield from self._of_follow_ups(plan)
        yield from self._of_state(plan)
        is_first = any(one["key"] == "first-week-needs-approval" for one in plan.reasons)
        items = [item for session in sessions for item in session.items.all()]
        yield from self._of_left_out(plan, sessions)
        yield from self._of_placement(plan)
        yield from self._of_items(plan, items, is_first)
        if is_first:
            yield Finding(
                Kind.FIRST,
                "new",
                _("First week"),
                _("Nothing has gone out to this rider yet. Look at each target."),
            )

    def _of_follow_ups(self, plan: WeekPlan) -> Iterable[Finding]:
        for follow_up in self.follow_ups.get(plan.rider_id, ()):
            mark, word = matter_words(follow_up, may_see_health=self.may_see_health)
            kind = _TOPIC_KINDS.get(Topic(follow_up.topic), Kind.HEALTH)
            why = self._say(translator.read_reasons(follow_up.reasons[:1]), plan)
            yield Finding(kind, mark, word, why, follow_up.urgency, follow_up.pk)

    def _of_state(self, plan: WeekPlan) -> Iterable[Finding]:
        reasons = translator.read_reasons(plan.reasons)
        if plan.state == State.HELD and reasons and reasons[0].key != "paused":
            # What readiness asks for is a paper that is missing; the rest stops a rider for what they reported.
            stops = wording.is_health(reasons[0]) and reasons[0].key not in readiness.REASONS
            kind = Kind.HEALTH if stops else Kind.HELD
            mark = "private" if stops and not self.may_see_health else "stop" if stops else "paused"
            yield Finding(
                kind, mark, _("Stopped") if stops else _("Held"), self._say(reasons, plan), 1, None, True
            )
        for reason in reasons:
            if reason.key in _NOTHING_PLANNED:
                yield Finding(Kind.HELD, "look", _("Nothing planned"), self._say([reason], plan))
        if plan.is_downward:
            why = _("The rest of the week was eased at once after a report.")
            yield Finding(Kind.HEALTH, *self._health_words("down", _("Eased")), why)

    def _health_words(self, mark: str, word: str) -> tuple[str, str]:
        return (mark, word) if self.may_see_health else ("private", _("Health reason"))

    def _of_left_out(self, plan: WeekPlan, sessions: Sequence[PlannedSession]) -> Iterable[Finding]:
        for session in sessions:
            for slot in session.left_out:
                reasons = translator.read_reasons(slot["reasons"])
                if not reasons or any(one.key in _EXPECTED_LEFT_OUT for one in reasons):
                    continue
                of_health = next((one for one in reasons if wording.is_health(one)), None)
                said = self._say([of_health or reasons[-1]], plan)
                if of_health:
                    yield Finding(Kind.HEALTH, *self._health_words("hold", _("Left out")), said)
                else:
                    yield Finding(Kind.STALLED, "look", _("Left out"), said)

    def _of_placement(self, plan: WeekPlan) -> Iterable[Finding]:
        placement = plan.placement or {}
        if placement.get("dropped"):
            reasons = translator.read_reasons(placement.get("reasons", ()))
            dropped = [one for one in reasons if one.key.startswith("dropped-")]
            yield Finding(Kind.PLACEMENT, "look", _("Session dropped"), self._say(dropped, plan))
        for cost in placement.get("costs", ()):
            if cost["term"] == "near-key-ride" and cost["points"] >= NEAR_MILD:
                why = _("A session stands within 6 h of a key ride: {points} points.").format(
                    points=cost["points"]
                )
                yield Finding(Kind.PLACEMENT, "clash", _("Clash with a key ride"), why)

    def _of_items(self, plan: WeekPlan, items: Sequence[PlannedItem], is_first: bool) -> Iterable[Finding]:
        for item in items:
            change = Change(item.change)
            if change is Change.SAME:
                continue
            reasons = translator.read_reasons(item.reasons)
            mark, word = CHANGES[change]
            name = self.names.get(item.exercise_id, item.exercise_id)
            if change in _EASED and any(wording.is_health(one) for one in reasons):
                of_health = [one for one in reasons if wording.is_health(one)]
                said = f"{name}: {self._say(of_health, plan)}"
                yield Finding(Kind.HEALTH, *self._health_words("down", _("Eased")), said)
            elif (
                change in (Change.HARDER, Change.EASIER)
                or (change is Change.NEW and not is_first)
                or (change in (Change.MORE_LOAD, Change.BRIDGE) and _is_big_step(item))
            ):
                why = f"{name}: {self._say(reasons, plan)}"
                yield Finding(Kind.CHANGES, mark, capital(word), why)


def _is_big_step(item: PlannedItem) -> bool:
    """Whether external load rises by more than 10 %, or from nothing (I5). Read from the stored documents."""
    before = _mass(item.previous, "load")
    after = max(_mass(item.target, "load"), _mass(item.target, "bridge_load"))
    return after > before and (not before or (after - before) * 100 > before * BIG_STEP_PERCENT)


def _mass(target: Mapping[str, Any] | None, field: str) -> Decimal:
    load = (target or {}).get(field) or {}
    return Decimal(str(load.get("kg") or 0)) * load.get("holding", {}).get("count", 1)


def _line(session: PlannedSession) -> SessionLine:
    return SessionLine(
        day=wording.short_day_words(session.on),
        minutes=session.minutes,
        count=len(session.items.all()),
        name=session.name,
    )
