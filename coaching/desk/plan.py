"""One plan as a coach looks at it: targets with their reasons, what was left out, what the days cost, and the levels.

page = read_plan(plan_id, club=club, may_see_health=True, may_plan=True, now=now)
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from athletes.models import Club
from coaching.desk.levels import rail_of
from coaching.desk.words import (
    CHANGES,
    PHASES,
    STATES,
    exercise_names,
    moment_words,
    pattern_words,
    plain_kg,
    reason_rows,
    unit_of,
)
from programs import facts as translator
from programs import plans, wording
from programs.engine import facts as engine
from programs.engine import spots
from programs.engine.families import exercise_of, has_exercise
from programs.engine.kit import reachable_loads
from programs.engine.quantities import week_days
from programs.engine.resolve import place_facts
from programs.engine.season import phase_of
from programs.engine.spots import PlaceFacts
from programs.engine.strength import age_limits
from programs.engine.week import price_of
from programs.models import PlannedItem, PlannedSession, WeekPlan

State = WeekPlan.State

#: What bars a day, in the order in which it is told.
_BARS = (
    (spots.PAST, gettext_lazy("the day has passed")),
    (spots.AWAY, gettext_lazy("the rider is away")),
    (spots.NEAR_A_RACE, gettext_lazy("too near a race")),
    (spots.SAME_DAY, gettext_lazy("another session is on that day")),
    (spots.NEXT_TO_A_SESSION, gettext_lazy("the day before or after has a session")),
    (spots.ON_A_RIDE, gettext_lazy("a ride takes the time")),
    (spots.NO_KIT, gettext_lazy("no kit on record there")),
    (spots.SHORT, gettext_lazy("the time is too short")),
)
#: Words for the terms of a placement's price.
_TERMS = {
    "near-key-ride": gettext_lazy("close to a key ride"),
    "tired-legs": gettext_lazy("leg work in the day before a key ride"),
    "less-liked-time": gettext_lazy("a time that the rider likes less"),
    "other-day": gettext_lazy("another day than last week"),
    "out-of-order": gettext_lazy("sessions in another order"),
    "long-gap": gettext_lazy("too many days since the last session"),
    "moved": gettext_lazy("another day than planned"),
}


@dataclass(frozen=True, slots=True)
class LoadChoice:
    """A load that can be made up at the venue: `kg` of each implement, and `value` as forms carry it."""

    kg: Decimal
    value: str
    words: str


@dataclass(frozen=True, slots=True)
class Target:
    """One target of a session, in words, with what an edit may set."""

    pk: int
    exercise: str
    slug: str
    pattern: str
    line: str
    details: str
    mark: str
    change: str
    is_change: bool
    reasons: tuple[dict[str, Any], ...]
    edit_reason: str
    is_hold: bool
    sets: int
    amount: int
    kg: str
    loads: tuple[LoadChoice, ...]


@dataclass(frozen=True, slots=True)
class LeftOutSlot:
    """A slot that nothing fits, and why."""

    pattern: str
    reasons: tuple[dict[str, Any], ...]

    @property
    def why(self) -> str:
        return " ".join(row["sentence"] for row in self.reasons)


@dataclass(frozen=True, slots=True)
class Day:
    """A day that a session could move to: its price in points beside the best day, or why it is barred."""

    on: date
    words: str
    start: time | None
    points: int | None
    why: str
    is_now: bool

    @property
    def value(self) -> str:
        return f"{self.on.isoformat()}T{self.start:%H:%M}" if self.start else ""

    @property
    def is_free(self) -> bool:
        return self.points is not None and not self.is_now

    @property
    def price(self) -> str:
        if not self.points:
            return _("costs nothing")
        return ngettext("{count} point", "{count} points", self.points).format(count=self.points)


@dataclass(frozen=True, slots=True)
class Session:
    """One session with its targets."""

    pk: int
    ordinal: int
    name: str
    on: date
    day: str
    start: str
    minutes: int
    venue: str
    order_of_work: str
    warm_up: str
    cool_down: str
    targets: tuple[Target, ...]
    left_out: tuple[LeftOutSlot, ...]
    reasons: tuple[dict[str, Any], ...]
    days: tuple[Day, ...]


@dataclass(frozen=True, slots=True)
class Price:
    """One term of the placement's price: the chosen days and the runner-up."""

    term: str
    chosen: int
    runner_up: int | None


@dataclass(frozen=True, slots=True)
class Days:
    """Where the sessions stand and what that costs, beside the next best choice."""

    chosen: str
    runner_up: str
    prices: tuple[Price, ...]
    total: int
    runner_up_total: int | None
    dropped: int
    reasons: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class Rail:
    """The levels of one pattern for `components/rail.html`, with what the plan asks for marked."""

    pattern: str
    now: str
    levels: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class PlanPage:
    """A plan as a coach looks at it."""

    plan: WeekPlan
    rider_name: str
    week: engine.Week
    dates: str
    state_mark: str
    state_word: str
    phase: str
    goes_out: str
    approved: str
    sessions: tuple[Session, ...]
    reasons: tuple[dict[str, Any], ...]
    days: Days | None
    rails: tuple[Rail, ...]
    current_id: int | None

    @property
    def is_draft(self) -> bool:
        return self.plan.state == State.DRAFT

    @property
    def is_approved(self) -> bool:
        return self.plan.state == State.APPROVED

    @property
    def is_held(self) -> bool:
        return self.plan.state == State.HELD

    @property
    def shows_health(self) -> bool:
        """Whether any reason on the page speaks of health: for the audit log and the clinician's notice."""
        rows = [
            *self.reasons,
            *(row for session in self.sessions for target in session.targets for row in target.reasons),
            *(row for session in self.sessions for slot in session.left_out for row in slot.reasons),
        ]
        return any(row.get("is_health") for row in rows)

    def target(self, pk: int) -> Target | None:
        return next((one for session in self.sessions for one in session.targets if one.pk == pk), None)

    def session(self, pk: int) -> Session | None:
        return next((one for one in self.sessions if one.pk == pk), None)


def read_plan(plan_id: int, *, club: Club, may_see_health: bool, may_plan: bool, now: datetime) -> PlanPage:
    """The plan's page. What it could be changed to is worked out only for who may plan, while it waits.

    Raises `WeekPlan.DoesNotExist`. Call inside `access.within(club)`.
    """
    plan = (
        WeekPlan.objects.select_related("rider__squad", "rider__club", "approved_by__user")
        .prefetch_related("sessions__items__edited_by__user")
        .get(pk=plan_id)
    )
    library = translator.current_library()
    facts = plans.facts_now(plan, club=club, now=now) if may_plan and plan.state == State.DRAFT else None
    reader = _Reader(plan, exercise_names(), library, facts, may_see_health)
    mark, word = STATES[plan.state]
    week = engine.Week(plan.iso_year, plan.iso_week)
    return PlanPage(
        plan=plan,
        rider_name=plan.rider.name,
        week=week,
        dates=wording.week_words(week),
        state_mark=mark,
        state_word=str(word),
        phase=_("{phase}, light week").format(phase=PHASES[plan.phase])
        if plan.is_light
        else str(PHASES[plan.phase]),
        goes_out=_goes_out(plan, club, now),
        approved=_approved(plan, club),
        sessions=tuple(reader.session(row) for row in plan.sessions.all()),
        reasons=reader.rows(plan.reasons),
        days=reader.days(),
        rails=reader.rails(),
        current_id=_current(plan),
    )


def _current(plan: WeekPlan) -> int | None:
    """The revision in force, when this one no longer is."""
    if plan.state not in (State.SUPERSEDED, State.WITHDRAWN):
        return None
    newest = WeekPlan.objects.filter(rider=plan.rider).of_week(plan.iso_year, plan.iso_week).current()
    return newest.values_list("pk", flat=True).first()


def _goes_out(plan: WeekPlan, club: Club, now: datetime) -> str:
    if plan.sent_at:
        return _("Sent on {moment}.").format(moment=moment_words(plan.sent_at, club.zone))
    at = plans.sends_at(club, engine.Week(plan.iso_year, plan.iso_week))
    moment = moment_words(at, club.zone)
    if plan.state == State.APPROVED:
        return _("Goes out now.") if at <= now else _("Goes out on {moment}.").format(moment=moment)
    if plan.state == State.HELD:
        return _("Nothing goes out.")
    return (
        _("Goes out at once when approved.")
        if at <= now
        else _("Goes out on {moment}, if approved.").format(moment=moment)
    )


def _approved(plan: WeekPlan, club: Club) -> str:
    if plan.approved_at is None:
        return ""
    moment = moment_words(plan.approved_at, club.zone)
    if plan.approved_by is None:
        return _("Approved by the club's rule on {moment}.").format(moment=moment)
    return _("Approved by {name} on {moment}.").format(name=plan.approved_by.user, moment=moment)


# --- inside -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Reader:
    """Turns the plan's rows into words. `facts` is None when nothing may be changed."""

    plan: WeekPlan
    names: Mapping[str, str]
    library: engine.Library
    facts: engine.WeekFacts | None
    may_see_health: bool

    def rows(self, document: Sequence[Mapping[str, Any]]) -> tuple[dict[str, Any], ...]:
        reasons = translator.read_reasons(document)
        unit = unit_of(self.plan.rider)
        return tuple(reason_rows(reasons, may_see_health=self.may_see_health, names=self.names, unit=unit))

    def session(self, row: PlannedSession) -> Session:
        return Session(
            pk=row.pk,
            ordinal=row.ordinal,
            name=row.name,
            on=row.on,
            day=wording.day_words(row.on),
            start=wording.time_words(row.start),
            minutes=row.minutes,
            venue=row.venue,
            order_of_work=wording.format_words(engine.Format(row.format)),
            warm_up=", ".join(self.names.get(slug, slug) for slug in row.warm_up),
            cool_down=", ".join(self.names.get(slug, slug) for slug in row.cool_down),
            targets=tuple(self._target(item, row) for item in row.items.all()),
            left_out=tuple(self._left_out(one) for one in row.left_out),
            reasons=self.rows(row.reasons),
            days=self._days_for(row),
        )

    def _target(self, row: PlannedItem, session: PlannedSession) -> Target:
        item = translator.item_of(row)
        unit = unit_of(self.plan.rider)
        mark, word = CHANGES[row.change]
        said = wording.change_line(item.change, item.target, item.previous, unit).rstrip(".") or str(word)
        if row.edited_by:
            mark, said = "look", _("Changed by {name}").format(name=row.edited_by.user)
        if has_exercise(self.library, row.exercise_id):
            exercise = exercise_of(self.library, row.exercise_id)
            line = wording.target_line(item.target, unit, exercise)
            details = [
                wording.side_line(exercise),
                wording.tempo_words(item.target, exercise),
                wording.leave_words(item.target),
            ]
        else:
            line = wording.amount_words(item.target.measure, item.target.sets, item.target.amount)
            details = []
        load = item.target.load
        return Target(
            pk=row.pk,
            exercise=self.names.get(row.exercise_id, row.exercise_id),
            slug=row.exercise_id,
            pattern=pattern_words(row.pattern),
            line=wording.keep_together(line),
            details=", ".join(part for part in details if part),
            mark=mark,
            change=said,
            is_change=item.change is not engine.Change.SAME or row.edited_by is not None,
            reasons=self.rows(row.reasons),
            edit_reason=row.edit_reason,
            is_hold=item.target.measure is engine.Measure.HOLD,
            sets=item.target.sets,
            amount=item.target.amount,
            kg=plain_kg(load.kg) if load is not None and load.kg is not None else "",
            loads=self._loads(load, session.venue),
        )

    def _loads(self, load: engine.Load | None, venue: str) -> tuple[LoadChoice, ...]:
        if self.facts is None or load is None or load.kg is None:
            return ()
        kit = dict(self.facts.venues).get(venue, engine.Kit())
        unit = unit_of(self.plan.rider)
        return tuple(
            LoadChoice(one.kg, plain_kg(one.kg), wording.load_words(one, unit))
            for one in reachable_loads(kit, load.holding)
            if one.kg is not None
        )

    def _left_out(self, document: Mapping[str, Any]) -> LeftOutSlot:
        return LeftOutSlot(pattern_words(document["pattern"]), self.rows(document["reasons"]))

    # --- days ---

    def days(self) -> Days | None:
        document = self.plan.placement
        if not document:
            return None
        chosen = {cost["term"]: cost["points"] for cost in document.get("costs", ())}
        second = document.get("runner_up")
        other = {cost["term"]: cost["points"] for cost in document.get("runner_up_costs", ())}
        return Days(
            chosen=self._stand(document["chosen"]),
            runner_up=self._stand(second) if second else "",
            prices=tuple(
                Price(str(words), chosen.get(term, 0), other.get(term, 0) if second else None)
                for term, words in _TERMS.items()
                if term in chosen or term in other
            ),
            total=sum(chosen.values()),
            runner_up_total=sum(other.values()) if second else None,
            dropped=document.get("dropped", 0),
            reasons=self.rows(document.get("reasons", ())),
        )

    def _stand(self, pairs: Sequence[Any]) -> str:
        return wording.list_words(
            [
                _("{day}, {time}").format(
                    day=wording.short_day_words(date.fromisoformat(opening["on"])),
                    time=wording.time_words(translator.time_of(opening["start"])),
                )
                for _ordinal, opening in pairs
            ]
        )

    def _days_for(self, row: PlannedSession) -> tuple[Day, ...]:
        """Each day of the week with its price for this session, the others staying where they are."""
        if self.facts is None:
            return ()
        others = tuple(
            (one.ordinal, one.on) for one in self.plan.sessions.all() if one.ordinal != row.ordinal
        )
        facts = self._place_facts(row, others)
        if facts is None:
            return ()
        return tuple(self._day(facts, row, others, on) for on in week_days(facts.week))

    def _place_facts(self, row: PlannedSession, others: Sequence[tuple[int, date]]) -> PlaceFacts | None:
        """What decides where this session may stand: the rider's times at its venue, the other sessions pinned."""
        assert self.facts is not None
        limits = age_limits(self.facts.rider)
        phase = phase_of(self.facts, max_days=limits.max_days)
        if not phase.block or not phase.block.templates:
            return None
        facts = place_facts(self.facts, phase, limits, phase.block.templates)
        if row.ordinal not in facts.ordinals:
            return None
        taken = {on for _ordinal, on in others}
        return replace(
            facts,
            pinned=tuple(others),
            openings=tuple(one for one in facts.openings if one.venue == row.venue or one.on in taken),
        )

    def _day(
        self, facts: PlaceFacts, row: PlannedSession, others: Sequence[tuple[int, date]], on: date
    ) -> Day:
        here = [
            spot
            for spot in spots.spots_of(facts)
            if spot.opening.on == on and spot.opening.venue == row.venue
        ]
        points = price_of(facts, (row.ordinal, on)) if here else None
        legs = dict(zip(facts.ordinals, facts.legs, strict=True)).get(row.ordinal, True)
        open_here = [spot for spot in here if not (spot.leg_blocks if legs else spot.blocks)]
        start = translator.time_of(open_here[0].opening.start) if open_here else None
        is_now = on == row.on
        why = "" if points is not None or is_now else self._why_barred(here, others, on, legs)
        return Day(on, wording.day_words(on), start, points if start else None, why, is_now)

    def _why_barred(
        self, here: Sequence[spots.Spot], others: Sequence[tuple[int, date]], on: date, legs: bool
    ) -> str:
        if any(day == on for _ordinal, day in others):
            return str(_BARS[3][1])
        if not here:
            return _("no time for it at this venue")
        if any(abs((day - on).days) < spots.APART for _ordinal, day in others):
            return str(_BARS[4][1])
        bits = min((spot.leg_blocks if legs else spot.blocks for spot in here), default=0)
        return next((str(words) for bit, words in _BARS if bits & bit), _("it would drop a session"))

    # --- levels ---

    def rails(self) -> tuple[Rail, ...]:
        """A rail for each pattern that the plan trains, in order of its first target."""
        slugs: dict[str, str] = {}
        for session in self.plan.sessions.all():
            for item in session.items.all():
                slugs.setdefault(item.pattern, item.exercise_id)
        return tuple(
            Rail(pattern_words(pattern), self.names.get(slug, slug), rail_of(self.library, slug, self.names))
            for pattern, slug in slugs.items()
            if has_exercise(self.library, slug)
        )
