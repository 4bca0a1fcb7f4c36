"""One slot of one session becomes one exercise with one target, or is left out with the reason (rules L2, H2, S2, T5).

L2  The rider's level, else the nearest easier one that fits kit and limits, else a sibling, else nothing, said so.
H2  No new exercise in the 14 days before a priority race. One step a key a week: the sessions of one week ask the same.
S1  A named clinician's limits on exercises, patterns and regions are obeyed before anything is chosen.
S2  At most two new exercises a week. The first week of all is the exception (ours): everything is new in it, and it is
    taught at the easiest doses.
T5  What the state of a site stops is not chosen; what stands in for it never loads a sore region more.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cached_property
from statistics import median

from athletes.concerns import BodyState, Gate
from athletes.triage import gate_for, returned_on
from athletes.vocabulary import Implement, Pattern, RacePriority, Reason, Region
from programs.engine.facts import (
    Exercise,
    Exposure,
    Holding,
    Item,
    Kit,
    LeftOut,
    Library,
    Load,
    Loading,
    Rider,
    Slot,
    Standing,
    Target,
    TargetDecision,
    WeekFacts,
)
from programs.engine.families import (
    all_easier,
    exercise_of,
    harder_that_fit,
    has_exercise,
    loads_more,
    resolve_slot,
)
from programs.engine.kit import holdings_for
from programs.engine.layoff import gap_before
from programs.engine.progression import next_target
from programs.engine.quantities import week_of
from programs.engine.season import PhaseDecision, cut_for
from programs.engine.strength import NEW_EXERCISES_A_WEEK, AgeLimits
from programs.engine.target_facts import TargetFacts

NO_NEW_BEFORE_RACE_DAYS = 14
NORMAL_WEEKS = 4

REASONS: dict[str, str] = {
    "limit-exercise": "{exercise} is left out: a clinician's limit.",
    "enough-new": "{count} new exercises this week already, so {exercise} waits.",
    "new-before-race": "{exercise} would be new within {days} days of a priority race, so it waits.",
}


@dataclass
class SlotContext:
    """What all slots of a week share. Made once a week; `new` collects the exercises that are new in it."""

    facts: WeekFacts
    library: Library
    phase: PhaseDecision
    limits: AgeLimits
    state: BodyState
    new: list[str] = field(default_factory=list)
    _answers: dict[tuple[object, ...], TargetDecision | LeftOut] = field(default_factory=dict)

    @cached_property
    def standings(self) -> dict[Pattern, str]:
        return {standing.pattern: standing.exercise for standing in self.facts.standings}

    @cached_property
    def by_exercise(self) -> dict[str, tuple[Exposure, ...]]:
        groups: dict[str, list[Exposure]] = defaultdict(list)
        for exposure in self.facts.exposures:
            groups[exposure.exercise].append(exposure)
        return {slug: tuple(rows) for slug, rows in groups.items()}

    @cached_property
    def done_by_pattern(self) -> dict[Pattern, list[date]]:
        """The days on which each pattern was trained, ascending: what is not known to be done does not count (P10)."""
        days: dict[Pattern, list[date]] = defaultdict(list)
        for exposure in self.facts.exposures:
            if exposure.done is not None and has_exercise(self.library, exposure.exercise):
                days[exercise_of(self.library, exposure.exercise).pattern].append(exposure.on)
        return {pattern: sorted(found) for pattern, found in days.items()}

    @cached_property
    def sore(self) -> frozenset[Region]:
        """Regions that a substitute must not load more (T5)."""
        return frozenset(site.region for site in self.state.gates if site.gate > Gate.FREE) | frozenset(
            back.region for back in self.state.returns
        )

    @cached_property
    def is_first_week(self) -> bool:
        return not self.facts.exposures

    @cached_property
    def max_total_kg(self) -> Decimal | None:
        caps = [limit.max_kg for limit in self.facts.rider.limits if limit.max_kg is not None]
        return min(caps, default=None)

    @cached_property
    def max_reps(self) -> int | None:
        caps = [limit.max_reps for limit in self.facts.rider.limits if limit.max_reps is not None]
        return min(caps, default=None)

    @cached_property
    def limited(self) -> dict[str, tuple[Reason, ...]]:
        """Exercises that a clinician's limit leaves out, with the reason (S1)."""
        return {
            exercise.slug: (Reason("S1", "limit-exercise", {"exercise": exercise.slug}),)
            for exercise in self.library.exercises
            if is_limited(exercise, self.facts.rider)
        }

    @cached_property
    def stopped(self) -> dict[str, tuple[Reason, ...]]:
        """Exercises that the state of a site stops, with the reasons (T1)."""
        if not (self.state.gates or self.state.returns or self.state.stops_everything):
            return {}
        found = {}
        for exercise in self.library.exercises:
            gate, reasons = self.gate_of(exercise)
            if gate is Gate.STOP:
                found[exercise.slug] = reasons
        return found

    def gate_of(self, exercise: Exercise) -> tuple[Gate, tuple[Reason, ...]]:
        """What the state of the body allows for an exercise, and why."""
        return gate_for(exercise.primary, exercise.secondary, self.state)

    def returned_on(self, exercise: Exercise) -> date | None:
        """The day from which a coach lets the rider come back to it after a pain, the newest where several (T5)."""
        return returned_on(exercise.primary | exercise.secondary, self.state)

    def exposures_of(self, exercise: Exercise) -> tuple[Exposure, ...]:
        return self.by_exercise.get(exercise.slug, ())

    def barred(self, session_on: date) -> dict[str, tuple[Reason, ...]]:
        """Exercises that may not be chosen on a day, with the reasons: limits, stops, and what would be one new too
        many or too late."""
        barred = {**self.limited, **self.stopped}
        late = self._is_before_priority_race(session_on)
        full = not self.is_first_week and len(self.new) >= NEW_EXERCISES_A_WEEK
        if late or full:
            for exercise in self.library.exercises:
                if exercise.slug in self.by_exercise or exercise.slug in self.new or exercise.slug in barred:
                    continue
                barred[exercise.slug] = (
                    Reason(
                        "H2", "new-before-race", {"exercise": exercise.slug, "days": NO_NEW_BEFORE_RACE_DAYS}
                    )
                    if late
                    else Reason("S2", "enough-new", {"exercise": exercise.slug, "count": len(self.new)}),
                )
        return barred

    def _is_before_priority_race(self, on: date) -> bool:
        days = [(race.on - on).days for race in self.facts.races if race.priority is RacePriority.PRIORITY]
        return any(0 <= count <= NO_NEW_BEFORE_RACE_DAYS for count in days)

    def usual_sets(self, pattern: Pattern, sessions: int) -> Decimal | None:
        """The pattern's sets in one session of a normal week: the median weekly sets of the last four such weeks,
        shared out over those `sessions` of this week that have the pattern (P10)."""
        weekly: dict[object, int] = defaultdict(int)
        for exposure in self.facts.exposures:
            if exposure.light or exposure.done is None or not has_exercise(self.library, exposure.exercise):
                continue
            if exercise_of(self.library, exposure.exercise).pattern is pattern:
                weekly[week_of(exposure.on)] += exposure.target.sets
        last = [sets for _, sets in sorted(weekly.items(), key=lambda pair: str(pair[0]))][-NORMAL_WEEKS:]
        return Decimal(median(last)) / max(sessions, 1) if last else None


def is_limited(exercise: Exercise, rider: Rider) -> bool:
    """Whether a clinician's limit leaves the exercise out (S1)."""
    return any(
        limit.exercise == exercise.slug
        or (limit.pattern is not None and limit.pattern is exercise.pattern)
        or (limit.region is not None and limit.region in exercise.primary | exercise.secondary)
        for limit in rider.limits
    )


def resolve_item(
    context: SlotContext, slot: Slot, *, session_on: date, kit: Kit, sessions: int
) -> tuple[Item | LeftOut, Standing | None, tuple[TargetDecision, ...]]:
    """The slot on a day at a venue: the item, or what is left out and why; the level it moves to, if it moves; and the
    target decision, whose concerns are the caller's to collect. `sessions` is how many of the week have the pattern."""
    barred = context.barred(session_on)
    exercise, chosen_why = resolve_slot(
        slot,
        context.library,
        standing=context.standings.get(slot.pattern),
        kit=kit,
        barred=barred,
        beginner=context.is_first_week and slot.exercise is None,
        alone=context.facts.rider.trains_alone,
        sore=context.sore,
    )
    if exercise is None:
        return LeftOut(slot.id, slot.pattern, chosen_why), None, ()
    answer = _target(
        context, slot, exercise, session_on=session_on, kit=kit, sessions=sessions, barred=barred
    )
    if isinstance(answer, LeftOut):
        return LeftOut(slot.id, slot.pattern, (*chosen_why, *answer.reasons)), None, ()
    final = exercise_of(context.library, answer.exercise)
    if final.slug not in context.by_exercise and final.slug not in context.new:
        context.new.append(final.slug)
    item = Item(
        slot=slot.id,
        part=slot.part,
        pattern=slot.pattern,
        exercise=final.slug,
        target=answer.target,
        change=answer.change,
        reasons=(*chosen_why, *answer.reasons),
        previous=_previous(context, final, answer),
    )
    moved = (
        Standing(slot.pattern, final.slug, session_on)
        if final.slug != exercise.slug and slot.exercise is None and _is_level(context, slot, exercise)
        else None
    )
    return item, moved, (answer,)


def _is_level(context: SlotContext, slot: Slot, exercise: Exercise) -> bool:
    """Whether the exercise that was asked about is the rider's level, and no stand-in for it."""
    standing = context.standings.get(slot.pattern)
    return standing is None or standing == exercise.slug


def _previous(context: SlotContext, exercise: Exercise, answer: TargetDecision) -> Target | None:
    """The last target of the same exercise and implement (H1)."""
    for exposure in reversed(context.exposures_of(exercise)):
        if _implement(exposure.target.load) is _implement(answer.target.load):
            return exposure.target
    return None


def _implement(load: Load | None) -> Implement:
    return load.holding.implement if load is not None else Implement.NONE


def _target(
    context: SlotContext,
    slot: Slot,
    exercise: Exercise,
    *,
    session_on: date,
    kit: Kit,
    sessions: int,
    barred: Mapping[str, tuple[Reason, ...]],
) -> TargetDecision | LeftOut:
    """The target, the same for the same exercise, slot range and kit within one week (H2)."""
    holding = choose_holding(exercise, kit, context)
    cut = cut_for(context.phase, session_on)
    key = (exercise.slug, slot.sets, slot.low, slot.high, slot.rest_s, holding, id(kit), cut)
    if key not in context._answers:
        context._answers[key] = next_target(
            _target_facts(context, slot, exercise, holding, session_on, kit, sessions, cut, barred)
        )
    return context._answers[key]


def _target_facts(
    context: SlotContext,
    slot: Slot,
    exercise: Exercise,
    holding: Holding | None,
    session_on: date,
    kit: Kit,
    sessions: int,
    cut: int,
    barred: Mapping[str, tuple[Reason, ...]],
) -> TargetFacts:
    facts, state = context.facts, context.state
    gate, reasons = context.gate_of(exercise)
    gap = gap_before(context.done_by_pattern.get(exercise.pattern, ()), session_on)
    alone = facts.rider.trains_alone
    easier = frozenset(
        other.slug
        for other in all_easier(context.library, exercise.slug)
        if other.slug not in barred
        and holdings_for(other, kit, alone=alone)
        and loads_more(other, exercise, context.sore) is None
    )
    return TargetFacts(
        exercise=exercise,
        slot=slot,
        kit=kit,
        holding=holding,
        library=context.library,
        exposures=context.exposures_of(exercise),
        limits=context.limits,
        rider=facts.rider,
        session_on=session_on,
        phase=context.phase.phase,
        gate=gate,
        gate_reasons=reasons,
        light=context.phase.light,
        cut_percent=cut,
        halve_sets=state.halves_everything,
        away_days=gap.days if gap else None,
        away_since=gap.since if gap else None,
        return_week=gap.week if gap else None,
        usual_sets=context.usual_sets(exercise.pattern, sessions),
        progress_allowed=facts.progress_allowed and not state.rises_barred,
        returned_on=context.returned_on(exercise),
        new_allowed=context.is_first_week
        or len(context.new) < NEW_EXERCISES_A_WEEK
        or exercise.slug in context.new,
        harder_allowed=harder_that_fit(
            context.library, exercise.slug, kit=kit, barred=barred, alone=alone, sore=context.sore
        ),
        easier_allowed=easier,
        max_total_kg=context.max_total_kg,
        max_reps=context.max_reps,
    )


def choose_holding(exercise: Exercise, kit: Kit, context: SlotContext) -> Holding | None:
    """How the exercise would be loaded here: the way it was last, else the first that fits.

    An exercise that may be done without load starts without, and is offered a load once it has been done (H1, P2).
    """
    fitting = holdings_for(exercise, kit, alone=context.facts.rider.trains_alone)
    exposures = context.exposures_of(exercise)
    for exposure in reversed(exposures):
        used = exposure.target.load.holding if exposure.target.load is not None else None
        if used is not None and used in fitting:
            return used
    loaded = [holding for holding in fitting if holding is not None]
    if exercise.loading is Loading.EXTERNAL or (exercise.loading is Loading.EITHER and exposures):
        return loaded[0] if loaded else None
    return None
