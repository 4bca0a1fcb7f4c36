"""One plan as a coach looks at it: targets with their reasons, what was left out, what the days cost, and the levels.

page = read_plan(plan_id, club=club, may_see_health=True, may_plan=True, now=now)
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from athletes import words
from athletes.models import Club
from coaching.desk.changes import read_changes
from coaching.desk.days import Day, Days, Pin, days_for, pins_of, read_days
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
from programs.engine import codec, volume
from programs.engine import facts as engine
from programs.engine.families import exercise_of, has_exercise
from programs.engine.kit import reachable_loads
from programs.engine.strength import age_limits
from programs.models import PlannedItem, PlannedSession, WeekPlan
from programs.rails import rail_of

State = WeekPlan.State


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
    pinned: Pin | None

    @property
    def has_choice(self) -> bool:
        """Whether there is another day that the session could be pinned to, or a pin to take away."""
        return self.pinned is not None or any(day.is_free for day in self.days)


@dataclass(frozen=True, slots=True)
class MuscleSets:
    """The week's hard sets of one muscle beside the most there may be, and what there is to say about it (P12)."""

    muscle: str
    sets: str
    most: str
    remark: str


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
    pins: tuple[Pin, ...]
    changes: tuple[str, ...]
    muscles: tuple[MuscleSets, ...]
    rails: tuple[Rail, ...]
    current_id: int | None

    @property
    def is_draft(self) -> bool:
        return self.plan.state == State.DRAFT

    @property
    def is_approved(self) -> bool:
        return self.plan.state == State.APPROVED

    @property
    def lost_pins(self) -> tuple[Pin, ...]:
        """Pins whose session does not stand on its day, such as one that became impossible since."""
        return tuple(pin for pin in self.pins if not pin.stands)

    @property
    def week_reasons(self) -> tuple[dict[str, Any], ...]:
        """Why the week is as it is, without what the days cost, which has its own place on the page."""
        return tuple(row for row in self.reasons if not row.get("key", "").startswith("placed-"))

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

    def session_of(self, ordinal: int) -> Session | None:
        return next((one for one in self.sessions if one.ordinal == ordinal), None)


def read_plan(plan_id: int, *, club: Club, may_see_health: bool, may_plan: bool, now: datetime) -> PlanPage:
    """The plan's page. What it could be changed to is worked out only for who may plan, while it waits.

    Raises `WeekPlan.DoesNotExist`. Call inside `access.within(club)`.
    """
    plan = (
        WeekPlan.objects.select_related("rider__squad", "rider__club", "approved_by__user", "decision")
        .prefetch_related("sessions__items__edited_by__user")
        .get(pk=plan_id)
    )
    library = translator.current_library()
    facts = plans.facts_now(plan, club=club, now=now) if may_plan and plan.state == State.DRAFT else None
    reader = _Reader(plan, exercise_names(), library, facts, may_see_health, pins_of(plan))
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
        pins=reader.pins,
        changes=read_changes(plan, library, reader.names),
        muscles=reader.muscles(),
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


def _sets_remark(row: volume.MuscleWeek) -> str:
    if row.is_above:
        return _("above the most")
    return _("fewer than {least}").format(least=volume.FEW_SETS) if row.is_few else ""


# --- inside -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Reader:
    """Turns the plan's rows into words. `facts` is None when nothing may be changed."""

    plan: WeekPlan
    names: Mapping[str, str]
    library: engine.Library
    facts: engine.WeekFacts | None
    may_see_health: bool
    pins: tuple[Pin, ...]

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
            days=days_for(row, self.facts, self.plan, self.names) if self.facts else (),
            pinned=next((pin for pin in self.pins if pin.ordinal == row.ordinal), None),
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

    def days(self) -> Days | None:
        document = self.plan.placement
        return read_days(document, self.rows(document.get("reasons", ()))) if document else None

    # --- sets ---

    def muscles(self) -> tuple[MuscleSets, ...]:
        """The hard sets of each muscle that the plan trains, most first; nothing where its facts cannot be read."""
        facts = self.facts or self._facts_then()
        if facts is None:
            return ()
        decision = translator.read_plan(self.plan)
        rows = volume.look_at(
            decision.sessions,
            facts,
            self.library,
            decision.phase,
            age_limits(facts.rider),
            light=decision.light,
        )
        return tuple(
            MuscleSets(
                str(words.label(row.muscle)),
                volume.figure_of(row.sets),
                volume.figure_of(row.most),
                _sets_remark(row),
            )
            for row in sorted(rows, key=lambda row: -row.sets)
        )

    def _facts_then(self) -> engine.WeekFacts | None:
        """What the plan was made from; None when that was written down in another shape."""
        try:
            return codec.from_document(engine.WeekFacts, self.plan.decision.facts)
        except codec.FactsError:
            return None

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
