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

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from itertools import pairwise
from statistics import median

from athletes.concerns import BodyState, Gate
from athletes.triage import gate_for, returned_on
from athletes.vocabulary import Pattern, RacePriority, Reason, Region
from programs.engine.facts import (
    Exercise,
    Exposure,
    Holding,
    Item,
    Kit,
    LeftOut,
    Library,
    Load,
    Rider,
    SessionState,
    Slot,
    Target,
    TargetDecision,
    Week,
    WeekFacts,
)
from programs.engine.families import exercise_of, has_exercise
from programs.engine.history import was_trained
from programs.engine.layoff import SHORT_DAYS, Gap, gap_before
from programs.engine.quantities import week_of, week_starts_on
from programs.engine.season import PhaseDecision
from programs.engine.strength import NEW_EXERCISES_A_WEEK, AgeLimits
from programs.engine.target_facts import TargetFacts, lowest, rank_of
from programs.engine.trouble import troubled_since
from programs.engine.volume import Allowed, Place

NO_NEW_BEFORE_RACE_DAYS = 14
FIRST_DAYS = timedelta(weeks=1)
#: From how many days on a pattern left out counts as a break although the rider trained others meanwhile (P10, ours).
PATTERN_MISSED_DAYS = 21
NORMAL_WEEKS = 4
#: What is at a venue that has no kit on record.
NO_KIT = Kit()

REASONS: dict[str, str] = {
    "limit-exercise": "{exercise} is left out: a clinician's limit.",
    "pattern-hurt": "{exercise} is left out: the bottom level of this pattern hurt in the movement check, and nobody "
    "has set a level since.",
    "enough-new": "{count} new exercises this week already, so {exercise} waits.",
    "new-before-race": "{exercise} would be new within {days} days of a priority race, so it waits.",
}


@dataclass(frozen=True, slots=True)
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
    planned: dict[Pattern, date] = field(default_factory=dict)
    given: dict[tuple[str, Holding], Load] = field(default_factory=dict)
    answers: dict[tuple[object, ...], TargetDecision | LeftOut] = field(default_factory=dict)
    allowed: Mapping[Place, Allowed] = field(default_factory=dict)
    #: What each slot was asked with, collected only where somebody wants it explained.
    heard: list[Heard] | None = None
    _gaps: dict[tuple[Pattern, date, date | None], Gap | None] = field(default_factory=dict)
    _barred: dict[tuple[object, ...], Mapping[str, tuple[Reason, ...]]] = field(default_factory=dict)

    def afresh(self, allowed: Mapping[Place, Allowed], state: BodyState | None = None) -> "WeekContext":
        """The same week before anything was chosen in it, with those most sets, in that state or its own."""
        if self.heard is not None:
            self.heard.clear()
        return replace(
            self,
            allowed=allowed,
            state=self.state if state is None else state,
            heard=self.heard if state is None else None,
            new=[],
            planned={},
            given={},
            answers={},
            _gaps={},
            _barred={},
        )

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
        """Exercises that are not given at all this week, with the reasons: a clinician's limit, a pattern that hurt, or
        the state of a site (S1, S5, T1)."""
        rider, hurting = self.facts.rider, self.facts.hurting
        found: dict[str, tuple[Reason, ...]] = {}
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

    def gate_of(self, exercise: Exercise) -> tuple[Gate, tuple[Reason, ...]]:
        """What the state of the body allows for an exercise, and why."""
        if not self.is_troubled:
            return Gate.FREE, ()
        return gate_for(exercise.primary, exercise.secondary, self.state)

    def halved_by(self, exercise: Exercise) -> str | None:
        """The rule that halves its sets, if one does: an illness (P10), or heavy soreness of what it loads (T3)."""
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

    @cached_property
    def by_exercise(self) -> dict[str, tuple[Exposure, ...]]:
        groups: dict[str, list[Exposure]] = defaultdict(list)
        for exposure in self.facts.exposures:
            groups[exposure.exercise].append(exposure)
        return {slug: tuple(rows) for slug, rows in groups.items()}

    @cached_property
    def by_pattern(self) -> dict[Pattern, list[Exposure]]:
        """What is known to have been trained of each pattern, oldest first: the rest does not count (P10, H3)."""
        groups: dict[Pattern, list[Exposure]] = defaultdict(list)
        for exposure in self.facts.exposures:
            if was_trained(exposure) and has_exercise(self.library, exposure.exercise):
                groups[exercise_of(self.library, exposure.exercise).pattern].append(exposure)
        return groups

    @cached_property
    def active_on(self) -> tuple[date, ...]:
        """The days on which the rider is known to have trained anything, ascending."""
        return tuple(sorted({one.on for one in self.facts.exposures if was_trained(one)}))

    def gap_of(self, pattern: Pattern, session_on: date) -> Gap | None:
        """The break in the pattern that a session on that day comes back from, as the module says under P10."""
        key = (pattern, session_on, self.planned.get(pattern))
        if key not in self._gaps:
            self._gaps[key] = self._find_gap(pattern, session_on)
        return self._gaps[key]

    def _find_gap(self, pattern: Pattern, session_on: date) -> Gap | None:
        trained = {one.on for one in self.by_pattern.get(pattern, ())}
        if not trained:
            return None
        first = self.planned.get(pattern)
        trained |= {first} if first is not None else set()
        trained |= {
            record.planned_on
            for record in self.facts.sessions
            if record.state is SessionState.PLANNED
            and record.planned_on >= self.facts.today
            and pattern in record.patterns
        }
        days = [on for on in sorted(trained) if on < session_on]
        return gap_before([*days, *self._kept_going(days, session_on)], session_on)

    def _kept_going(self, days: list[date], session_on: date) -> list[date]:
        """Days that make a short break in one pattern, in which the rider trained others, a break to repeat after."""
        return [
            later - timedelta(days=SHORT_DAYS - 1)
            for earlier, later in pairwise([*days, session_on])
            if SHORT_DAYS <= (later - earlier).days < PATTERN_MISSED_DAYS
            and any(earlier < on < later for on in self.active_on)
        ]

    def usual_sets(self, pattern: Pattern, gap: Gap | None, session_on: date) -> Decimal | None:
        """The pattern's sets in one slot of a normal week, as the module says under P10; `None` without one."""
        trained = self.by_pattern.get(pattern, [])
        normal = [one for one in trained if not one.light] or trained
        before = [one for one in normal if gap is None or one.on <= gap.since]
        # A return that a new break has interrupted goes by what was less, before it or in it.
        usual = lowest(_weekly_sets(before), _weekly_sets(normal))
        if usual is None:
            return None
        if gap is not None and gap.days >= SHORT_DAYS and gap.week == 1:
            back = (one for one in trained if one.on > gap.since and session_on - one.on < FIRST_DAYS)
            usual = max(Decimal(0), usual - 2 * sum(one.target.sets for one in back))
        return usual / max(self.shared.get(pattern, 1), 1)

    def has_stepped(self, exercise: Exercise, holding: Holding | None) -> bool:
        """Whether the exercise rose in this week already, with this implement (H2)."""
        monday = week_starts_on(self.facts.week)
        exposures = self.by_exercise.get(exercise.slug, ())
        if not exposures or exposures[-1].on < monday:
            return False
        loaded = [one for one in exposures if one.target.load and one.target.load.holding == holding]
        same = loaded or [one for one in exposures if one.target.load is None]
        return any(
            after.on >= monday and _is_above(after.target, before.target) for before, after in pairwise(same)
        )

    # --- what is new ----------------------------------------------------------------------------------------------

    @cached_property
    def is_first_week(self) -> bool:
        """Whether everything may be new: nothing was asked for more than a week before this one (S2)."""
        since = week_starts_on(self.facts.week) - FIRST_DAYS
        return not any(one.on < since for one in self.facts.exposures)

    def plan(self, items: Iterable[Item], on: date) -> None:
        """The items are given on that day: later sessions of the week go on from there (P10)."""
        for item in items:
            self.planned.setdefault(item.pattern, on)
            if item.target.load is not None:
                self.given.setdefault((item.exercise, item.target.load.holding), item.target.load)

    def is_new(self, slug: str) -> bool:
        """Whether the exercise was neither asked for before nor in this week yet."""
        return slug not in self.by_exercise and slug not in self.new and slug not in self.sent

    @property
    def has_room_for_new(self) -> bool:
        return self.is_first_week or len(self.new) < NEW_EXERCISES_A_WEEK

    def barred(self, session_on: date) -> Mapping[str, tuple[Reason, ...]]:
        """Exercises that may not be chosen on a day, with the reasons: `never`, and what would be one new too many or
        too late."""
        late = self._is_before_priority_race(session_on)
        if not late and self.has_room_for_new:
            return self.never
        key = (late, tuple(self.new))
        if key not in self._barred:
            self._barred[key] = {**self._new_ones(late), **self.never}
        return self._barred[key]

    def _new_ones(self, late: bool) -> dict[str, tuple[Reason, ...]]:
        """What may not begin now, and why."""
        found: dict[str, tuple[Reason, ...]] = {}
        for exercise in self.library.exercises:
            slug = exercise.slug
            if not self.is_new(slug):
                continue
            if late:
                why = Reason("H2", "new-before-race", {"exercise": slug, "days": NO_NEW_BEFORE_RACE_DAYS})
            else:
                why = Reason("S2", "enough-new", {"exercise": slug, "count": len(self.new)})
            found[slug] = (why,)
        return found

    def _is_before_priority_race(self, on: date) -> bool:
        days = [(race.on - on).days for race in self.facts.races if race.priority is RacePriority.PRIORITY]
        return any(0 <= count <= NO_NEW_BEFORE_RACE_DAYS for count in days)

    # --- a clinician's limits -------------------------------------------------------------------------------------

    @cached_property
    def max_total_kg(self) -> Decimal | None:
        return lowest(*(limit.max_kg for limit in self.facts.rider.limits))

    @cached_property
    def max_reps(self) -> int | None:
        caps = [limit.max_reps for limit in self.facts.rider.limits if limit.max_reps is not None]
        return min(caps, default=None)


def sore_regions(state: BodyState) -> frozenset[Region]:
    """Regions under a gate or coming back from a stop (T5)."""
    gated = frozenset(site.region for site in state.gates if site.gate > Gate.FREE)
    return gated | {back.region for back in state.returns}


def _weekly_sets(exposures: Sequence[Exposure]) -> Decimal | None:
    """The median of the weekly sets of the last four weeks in which there are any (P10)."""
    weekly: dict[Week, int] = defaultdict(int)
    for one in exposures:
        weekly[week_of(one.on)] += one.target.sets
    return Decimal(median(sets for _week, sets in sorted(weekly.items())[-NORMAL_WEEKS:])) if weekly else None


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
