"""What all slots of a rider's week share: the state of the body, what was done, what is new, what was given (rules P10,
S1, S2, S5, H2, T1, T3).

S1  A named clinician's limits on exercises, patterns and regions are obeyed before anything is chosen.
S2  At most two new exercises a week. The first two weeks of all are the exception (ours): everything is new in them,
    and it is taught at the easiest doses. What was asked before is not new, and what is learned again is not either.
S5  A pattern whose bottom level hurt in the movement check is left out until somebody sets a level.
H2  No new exercise in the 14 days before a priority race. One step a key a week: once one session with it is done, the
    rest of the week repeats.
T1, T3, P10  An illness halves all sets, soreness those of what it loads; with pain of 4 or 5 beside it both hold.
P10 The break is counted by pattern, from days on which it is known to have been trained. Two readings are ours. A
    session that has gone out and is still ahead counts as trained, since a week is worked out before the one before it
    is over; if it is then missed, what is left is worked out again, downwards. And a pattern that was left out for
    under 21 days by a rider who trained others meanwhile is repeated and not cut: the cuts are for people who stopped
    (S: Caterisano 2019), not for one missed session of a pattern that comes once a week. The usual volume is the median
    of the weekly sets of the last four normal weeks before the break, shared out over the slots that the week has for
    the pattern; in the first week, less what has been done since.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from itertools import pairwise

from athletes.concerns import BodyState, Gate
from athletes.triage import gate_for, returned_on
from athletes.values import value_class
from athletes.vocabulary import Pattern, RacePriority, Reason, Region
from programs.engine.facts import (
    Exercise,
    Holding,
    Item,
    Kit,
    LeftOut,
    Library,
    Load,
    Rider,
    Slot,
    Target,
    TargetDecision,
    WeekFacts,
)
from programs.engine.families import family
from programs.engine.kit import same_kit
from programs.engine.layoff import Gap
from programs.engine.past import FIRST_DAYS, Past
from programs.engine.power import why_no_power
from programs.engine.quantities import week_starts_on
from programs.engine.season import PhaseDecision
from programs.engine.strength import NEW_EXERCISES_A_WEEK, AgeLimits
from programs.engine.target_facts import TargetFacts, lowest, rank_of
from programs.engine.trimming import Allowed, Place
from programs.engine.trouble import troubled_since
from programs.engine.volume import PRACTISED_WEEKS, Caps, caps_for, is_practised

NO_NEW_BEFORE_RACE_DAYS = 14
#: What is at a venue that has no kit on record.
NO_KIT = Kit()

REASONS: dict[str, str] = {
    "limit-exercise": "{exercise} is left out: a clinician's limit.",
    "pattern-hurt": "{exercise} is left out: the bottom level of this pattern hurt in the movement check, and nobody "
    "has set a level since.",
    "enough-new": "{count} new exercises this week already, so {exercise} waits.",
    "new-before-race": "{exercise} would be new within {days} days of a priority race, so it waits.",
}


@value_class
class Heard:
    """What one slot was asked with on a day, and the answer: `facts` is None where no exercise was found to ask about.

    `barred` are the exercises that could not be chosen then, with the reasons.
    """

    slot: Slot
    session_on: date
    kit: Kit
    barred: Mapping[str, tuple[Reason, ...]]
    facts: TargetFacts | None
    answer: TargetDecision | LeftOut


@dataclass
class WeekContext:
    """What all slots of a week share. Made once a week; `new` collects the exercises that are new in it.

    `shared` says how many slots of the week have each pattern, `allowed` the most sets of those that P12 holds down.
    `sent` are exercises of the week as it went out. `planned` collects the first day of the week with each pattern,
    `given` the loads; sessions are resolved in order of date.
    """

    facts: WeekFacts
    library: Library
    phase: PhaseDecision
    limits: AgeLimits
    state: BodyState
    shared: Mapping[Pattern, int] = field(default_factory=dict)
    sent: frozenset[str] = frozenset()
    new: list[str] = field(default_factory=list)
    begun: set[str] = field(default_factory=set)
    planned: dict[Pattern, date] = field(default_factory=dict)
    given: dict[tuple[str, Holding], Load] = field(default_factory=dict)
    answers: dict[tuple[object, ...], TargetDecision | LeftOut] = field(default_factory=dict)
    allowed: Mapping[Place, Allowed] = field(default_factory=dict)
    #: What each slot was asked with, collected only where somebody wants it explained.
    heard: list[Heard] | None = None
    #: What was answered to which facts, so that a week put together again asks only about what has changed.
    asked: dict[tuple[object, ...], tuple[TargetFacts, TargetDecision | LeftOut]] = field(
        default_factory=dict
    )
    _gates: dict[tuple[frozenset[Region], frozenset[Region]], tuple[Gate, tuple[Reason, ...]]] = field(
        default_factory=dict
    )
    _barred: dict[tuple[object, ...], Mapping[str, tuple[Reason, ...]]] = field(default_factory=dict)

    def afresh(self, allowed: Mapping[Place, Allowed], state: BodyState | None = None) -> "WeekContext":
        """The same week before anything was chosen in it, with those most sets, in that state or its own."""
        if self.heard is not None:
            self.heard.clear()
        again = replace(
            self,
            allowed=allowed,
            state=self.state if state is None else state,
            heard=self.heard if state is None else None,
            new=[],
            begun=set(),
            planned={},
            given={},
            answers={},
            _gates={},
            _barred={},
        )
        again.past, again.caps = self.past, self.caps
        return again

    @cached_property
    def caps(self) -> Caps:
        """The most hard sets a muscle this week (P12)."""
        return caps_for(self.facts, self.library, self.phase.phase, self.limits)

    @cached_property
    def past(self) -> Past:
        """What the rider did, whatever the body says now."""
        return Past(self.facts, self.library)

    # --- the state of the body ------------------------------------------------------------------------------------

    @cached_property
    def is_troubled(self) -> bool:
        """Whether anything bears on what may be asked."""
        state = self.state
        return bool(
            state.returns
            or state.stops_everything
            or state.halves_everything
            or state.rises_barred
            or any(site.gate > Gate.FREE for site in state.gates)
        )

    @cached_property
    def sore(self) -> frozenset[Region]:
        """Regions that a substitute must not load more (T5)."""
        return sore_regions(self.state)

    @cached_property
    def never(self) -> dict[str, tuple[Reason, ...]]:
        """Exercises that are not given at all this week, with the reasons: a clinician's limit, a pattern that hurt,
        the state of a site, or power that is not for this rider (S1 to S5, T1)."""
        rider, hurting = self.facts.rider, self.facts.hurting
        found: dict[str, tuple[Reason, ...]] = {}
        found.update(self._no_power())
        if not (rider.limits or hurting or self.is_troubled):
            return found
        for exercise in self.library.exercises:
            if is_limited(exercise, rider):
                found[exercise.slug] = (Reason("S1", "limit-exercise", {"exercise": exercise.slug}),)
            elif exercise.pattern in hurting:
                found[exercise.slug] = (Reason("S5", "pattern-hurt", {"exercise": exercise.slug}),)
            elif self.is_troubled:
                gate, reasons = self.gate_of(exercise)
                if gate is Gate.STOP:
                    found[exercise.slug] = reasons
        return found

    def _no_power(self) -> Iterator[tuple[str, tuple[Reason, ...]]]:
        """Quick work that is not for this rider now, with the reasons (S2, S3, S4, T1)."""
        for exercise in family(self.library, Pattern.POWER):
            why = why_no_power(
                exercise,
                gate=self.gate_of(exercise)[0],
                practised=self.is_practised,
                growing=self.limits.adult_needed,
                from_65=self.limits.from_65,
                weeks=PRACTISED_WEEKS,
            )
            if why is not None:
                yield exercise.slug, (why,)

    @cached_property
    def is_practised(self) -> bool:
        """Whether the rider is practised (P12)."""
        return is_practised(self.facts)

    def gate_of(self, exercise: Exercise) -> tuple[Gate, tuple[Reason, ...]]:
        """What the state of the body allows for an exercise, and why."""
        if not self.is_troubled:
            return Gate.FREE, ()
        regions = (exercise.primary, exercise.secondary)
        if regions not in self._gates:
            self._gates[regions] = gate_for(*regions, self.state)
        return self._gates[regions]

    def halved_by(self, exercise: Exercise) -> str | None:
        """The rule that halves its sets, if one does: an illness (P10), or heavy soreness of what it loads (T3)."""
        if not self.is_troubled:
            return None
        if self.state.halves_everything:
            return "P10"
        sore = (one for one in self.state.gates if one.gate is Gate.HALF_SETS)
        return "T3" if any(one.region in exercise.primary for one in sore) else None

    def troubled_since(self, exercise: Exercise) -> date | None:
        """Since when what bears on the exercise has been there (T1, T3, P10)."""
        if not self.is_troubled:
            return None
        facts = self.facts
        return troubled_since(
            exercise.primary | exercise.secondary,
            facts.reports,
            facts.matters,
            facts.symptoms,
            on=facts.today,
            under_18=facts.rider.youngest_age < 18,
        )

    def returned_on(self, exercise: Exercise) -> date | None:
        """The day from which a coach lets the rider come back to it after a pain, the newest where several (T5)."""
        return returned_on(exercise.primary | exercise.secondary, self.state)

    # --- what was done --------------------------------------------------------------------------------------------

    @cached_property
    def standings(self) -> dict[Pattern, str]:
        return {standing.pattern: standing.exercise for standing in self.facts.standings}

    def gap_of(self, pattern: Pattern, session_on: date) -> Gap | None:
        """The break in the pattern that a session on that day comes back from, as the module says under P10."""
        return self.past.gap_of(pattern, session_on, self.planned.get(pattern))

    def usual_sets(self, pattern: Pattern, gap: Gap | None, session_on: date) -> Decimal | None:
        """The pattern's sets in one slot of a normal week, as the module says under P10; `None` without one."""
        usual = self.past.usual_sets(pattern, gap, session_on)
        return None if usual is None else usual / max(self.shared.get(pattern, 1), 1)

    @cached_property
    def monday(self) -> date:
        """The first day of the week."""
        return week_starts_on(self.facts.week)

    def has_stepped(self, exercise: Exercise, holding: Holding | None) -> bool:
        """Whether the exercise rose in this week already, with this implement (H2)."""
        monday = self.monday
        exposures = self.past.by_exercise.get(exercise.slug, ())
        if not exposures or exposures[-1].on < monday:
            return False
        loaded = [one for one in exposures if one.target.load and one.target.load.holding == holding]
        same = loaded or [one for one in exposures if one.target.load is None]
        return any(
            after.on >= monday and _is_above(after.target, before.target) for before, after in pairwise(same)
        )

    @cached_property
    def kits(self) -> dict[str, Kit]:
        """What is at each of the rider's venues, equal kits as one, so that what is kept by kit is found at once."""
        return {name: same_kit(kit) for name, kit in self.facts.venues}

    # --- what is new ----------------------------------------------------------------------------------------------

    @cached_property
    def is_first_week(self) -> bool:
        """Whether everything may be new: nothing was asked for more than a week before this one (S2)."""
        since = self.monday - FIRST_DAYS
        return not any(one.on < since for one in self.facts.exposures)

    def plan(self, items: Iterable[Item], on: date) -> None:
        """The items are given on that day: later sessions of the week go on from there (P10)."""
        for item in items:
            self.begun.add(item.exercise)
            self.planned.setdefault(item.pattern, on)
            if item.target.load is not None:
                self.given.setdefault((item.exercise, item.target.load.holding), item.target.load)

    def is_new(self, slug: str) -> bool:
        """Whether the exercise was neither asked for before nor in this week yet."""
        return slug not in self.past.by_exercise and slug not in self.new and slug not in self.sent

    @property
    def has_room_for_new(self) -> bool:
        return self.is_first_week or len(self.new) < NEW_EXERCISES_A_WEEK

    def barred(self, session_on: date) -> Mapping[str, tuple[Reason, ...]]:
        """Exercises that may not be chosen on a day, with the reasons: `never`, and what would be one new too many or
        too late."""
        late = self._is_before_priority_race(session_on)
        if not late and self.has_room_for_new:
            return self.never
        key = (late, tuple(self.begun if late else self.new))
        if key not in self._barred:
            # Before a race even what was found for an earlier session and then left out has not begun (H2).
            begun = self.begun if late else self.new
            old = frozenset((*self.past.by_exercise, *begun, *self.sent))
            self._barred[key] = _Barred(self.never, old, None if late else len(self.new))
        return self._barred[key]

    def _is_before_priority_race(self, on: date) -> bool:
        return any(0 <= (race_on - on).days <= NO_NEW_BEFORE_RACE_DAYS for race_on in self._priority_races)

    @cached_property
    def _priority_races(self) -> tuple[date, ...]:
        return tuple(race.on for race in self.facts.races if race.priority is RacePriority.PRIORITY)

    # --- a clinician's limits -------------------------------------------------------------------------------------

    @cached_property
    def max_total_kg(self) -> Decimal | None:
        return lowest(*(limit.max_kg for limit in self.facts.rider.limits))

    @cached_property
    def max_reps(self) -> int | None:
        caps = [limit.max_reps for limit in self.facts.rider.limits if limit.max_reps is not None]
        return min(caps, default=None)


class _Barred(dict[str, tuple[Reason, ...]]):
    """What may never be done, and whatever else would be new and may not begin now: of the whole library, so that a
    reason is made only for what is asked about. `count` is how many are new already, `None` before a priority race."""

    def __init__(
        self, never: Mapping[str, tuple[Reason, ...]], old: frozenset[str], count: int | None
    ) -> None:
        super().__init__(never)
        self.old, self.count = old, count

    def __contains__(self, slug: object) -> bool:
        return super().__contains__(slug) or slug not in self.old

    def __missing__(self, slug: str) -> tuple[Reason, ...]:
        if slug in self.old:
            raise KeyError(slug)
        if self.count is None:
            return (Reason("H2", "new-before-race", {"exercise": slug, "days": NO_NEW_BEFORE_RACE_DAYS}),)
        return (Reason("S2", "enough-new", {"exercise": slug, "count": self.count}),)


def sore_regions(state: BodyState) -> frozenset[Region]:
    """Regions under a gate or coming back from a stop (T5)."""
    gated = frozenset(site.region for site in state.gates if site.gate > Gate.FREE)
    return gated | {back.region for back in state.returns}


def is_limited(exercise: Exercise, rider: Rider) -> bool:
    """Whether a clinician's limit leaves the exercise out (S1)."""
    return any(
        limit.exercise == exercise.slug
        or (limit.pattern is not None and limit.pattern is exercise.pattern)
        or (limit.region is not None and limit.region in exercise.primary | exercise.secondary)
        for limit in rider.limits
    )


def _is_above(after: Target, before: Target) -> bool:
    """Whether one target asks for more than another in any respect at no lighter load."""
    if rank_of(after.load) != rank_of(before.load):
        return rank_of(after.load) > rank_of(before.load)
    return (
        after.amount > before.amount
        or after.sets > before.sets
        or (after.lower_s or 0) > (before.lower_s or 0)
        or after.bridge_sets > before.bridge_sets
    )
