"""Weekly hard sets per muscle and sets a session: what a week may hold, and what gives way (rule P12, property I6).

P12 Hard sets are counted by muscle and week, each as the exercise's share of the muscle: 1 where it is trained first
    of all, 0.5 where it helps (S: Pelland 2024, a preprint: counting such sets as halves fits the results best). A hard
    set is any set that the plan asks for in the main part or as assistance, whatever it leaves in reserve: a teaching
    set with 4 good reps left counts too, because the cap of the first weeks is there for those (ours). A set on each
    side is one set; a lowering that is slower or a set at a bridge's load is one like the others; warm-up and cool-down
    are none.

    At most, a muscle and week (the numbers are ours): learning 6, building 10, practised 12, maintaining 4; under 18
    never above 8. The standing is that of the week: its phase, and *practised* from 24 weeks on with a session done
    since the last break of 56 days (ours). A return, a taper and a race week have the cap of building, and their own
    cuts.

    Up by at most 2 a week: no muscle gets more than 2 sets above the most that was done of it in one of the rider's own
    normal weeks in the eight before (ours); light weeks, tapers and returns are not normal, and count only where there
    are no others. Up to 4 sets are never a rise too many: so much two new exercises bring (S2, ours). Learning has its
    own cap instead.

    At most 18 sets a session (ours). At least 4 in a building week for what is trained is a remark for the coach and
    bars nothing (S: Iversen 2021, at least four weekly sets for a muscle group).

    What gives way above a cap is in `trimming`.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import field
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache
from math import ceil

from athletes.values import value_class
from athletes.vocabulary import Figure, Muscle, Reason
from programs.engine.facts import (
    Exercise,
    Exposure,
    Library,
    Part,
    Phase,
    SessionDecision,
    SessionState,
    Week,
    WeekFacts,
)
from programs.engine.families import exercise_of, has_exercise
from programs.engine.history import LEARN_AGAIN_DAYS, was_trained
from programs.engine.quantities import plain, week_of, week_starts_on
from programs.engine.season import done_dates
from programs.engine.strength import NEW_EXERCISES_A_WEEK, START_SETS, AgeLimits

LEARN_SETS, BUILD_SETS, PRACTISED_SETS, MAINTAIN_SETS, YOUNG_SETS = 6, 10, 12, 4, 8
RISE_A_WEEK = 2
#: What a muscle may begin with: two new exercises of two sets.
BEGIN_SETS = NEW_EXERCISES_A_WEEK * START_SETS
SESSION_SETS = 18
#: What is trained gets at least so many sets in a building week, or the coach is told.
FEW_SETS = 4
PRACTISED_WEEKS = 24
RECENT = timedelta(weeks=8)
COUNTED = frozenset({Part.MAIN, Part.ASSISTANCE})

REASONS: dict[str, str] = {
    "too-many-sets": "{sets} hard sets this week for the {muscle}; at most {most}.",
    "too-many-in-session": "{sets} sets in session {ordinal}; at most {most}.",
}

type Sets = dict[Muscle, Decimal]


# --- counting ---------------------------------------------------------------------------------------------------------


def hard_sets(work: Iterable[tuple[Exercise, int]]) -> Sets:
    """Hard sets by muscle of (exercise, sets), each set as the exercise's share of the muscle (P12).

    >>> from athletes.vocabulary import Muscle
    >>> hard_sets([])
    {}
    """
    return {muscle: Decimal(halves) / 2 for muscle, halves in _half_sets(work).items()}


def _half_sets(work: Iterable[tuple[Exercise, int]]) -> dict[Muscle, int]:
    """Twice the hard sets by muscle, which are whole numbers: a rider's eight weeks are quicker to add up so."""
    found: dict[Muscle, int] = defaultdict(int)
    for exercise, sets in work:
        for muscle, halves in halves_of(exercise):
            found[muscle] += halves * sets
    return found


@lru_cache(maxsize=4096)
def halves_of(exercise: Exercise) -> tuple[tuple[Muscle, int], ...]:
    """The exercise's muscles, each with how many half sets one of its sets is for it: one or two."""
    return tuple((muscle, ceil(share * 2)) for muscle, share in exercise.muscles)


def week_sets(sessions: Iterable[SessionDecision], facts: WeekFacts, library: Library) -> Sets:
    """Hard sets by muscle of a week: those of these sessions, and those done in sessions of the week that are not among
    them."""
    work = [
        (exercise_of(library, item.exercise), item.target.sets)
        for session in sessions
        for item in session.items
        if item.part in COUNTED and has_exercise(library, item.exercise)
    ]
    return hard_sets([*work, *done_this_week(facts, library, {one.ordinal for one in sessions})])


def in_order(sets: Sets) -> tuple[tuple[Muscle, Decimal], ...]:
    """The sets by muscle in the vocabulary's order, those without any left out."""
    return tuple((muscle, plain(sets[muscle])) for muscle in Muscle if sets.get(muscle))


def done_this_week(facts: WeekFacts, library: Library, planned: set[int]) -> Iterator[tuple[Exercise, int]]:
    days = {
        record.done_on or record.planned_on
        for record in facts.sessions
        if record.week == facts.week
        and record.state in (SessionState.DONE, SessionState.PART)
        and record.ordinal not in planned
    }
    if not days:
        return
    # Two sessions done on one day are told apart by nothing, and a double report is one exposure (H3).
    most: dict[tuple[date, str], int] = {}
    for one in facts.exposures:
        if one.on in days and was_trained(one) and has_exercise(library, one.exercise):
            key = (one.on, one.exercise)
            most[key] = max(most.get(key, 0), one.target.sets)
    for (_on, slug), sets in most.items():
        yield exercise_of(library, slug), sets


def sets_done(exposure: Exposure) -> int:
    """How many sets of an exposure were done, at most as many as were asked."""
    done = exposure.done
    if done is None:
        return 0
    most = 0
    for amounts in (done.amounts, done.left_amounts, done.right_amounts):
        if amounts:
            most = max(most, len(amounts) - amounts.count(0))
    return min(most, exposure.target.sets)


# --- caps -------------------------------------------------------------------------------------------------------------


@value_class
class Caps:
    """The most hard sets a muscle and week for one rider: by standing, and by what was done lately (`None`: nothing to
    rise from)."""

    standing: int
    recent: Mapping[Muscle, Decimal] | None
    #: What no cap is below, for a week that has gone out.
    least: Mapping[Muscle, Decimal] = field(default_factory=dict)

    def of(self, muscle: Muscle) -> Decimal:
        """The most hard sets of the muscle this week."""
        return max(self.least.get(muscle, Decimal(0)), min(Decimal(self.standing), self._risen(muscle)))

    def rises_slowly(self, muscle: Muscle) -> bool:
        """Whether it is what was done lately that sets the cap."""
        return self._risen(muscle) < self.standing

    def _risen(self, muscle: Muscle) -> Decimal:
        if self.recent is None:
            return Decimal(self.standing)
        return max(Decimal(BEGIN_SETS), self.recent.get(muscle, Decimal(0)) + RISE_A_WEEK)


def caps_for(facts: WeekFacts, library: Library, phase: Phase, limits: AgeLimits) -> Caps:
    """The caps of a week of that phase (P12)."""
    recent = None if phase is Phase.LEARN else recent_sets(facts.exposures, library, facts.week)
    practised = is_practised(facts)
    return Caps(standing_sets(phase, practised=practised, under_18=limits.under_18), recent)


def standing_sets(phase: Phase, *, practised: bool = False, under_18: bool = False) -> int:
    """The most hard sets a muscle and week by the rider's standing (P12).

    >>> standing_sets(Phase.LEARN), standing_sets(Phase.BUILD), standing_sets(Phase.BUILD, practised=True)
    (6, 10, 12)
    >>> standing_sets(Phase.MAINTAIN), standing_sets(Phase.BUILD, practised=True, under_18=True)
    (4, 8)
    """
    most = {Phase.LEARN: LEARN_SETS, Phase.MAINTAIN: MAINTAIN_SETS}.get(
        phase, PRACTISED_SETS if practised else BUILD_SETS
    )
    return min(most, YOUNG_SETS) if under_18 else most


def is_practised(facts: WeekFacts) -> bool:
    """Whether a session was done in at least 24 weeks since the last break of 56 days (P12, ours)."""
    weeks: set[Week] = set()
    later: date | None = None
    for on in reversed(done_dates(facts.sessions, week_starts_on(facts.week))):
        if later is not None and (later - on).days >= LEARN_AGAIN_DAYS:
            break
        weeks.add(week_of(on))
        later = on
    return len(weeks) >= PRACTISED_WEEKS


def recent_sets(exposures: Sequence[Exposure], library: Library, week: Week) -> Sets | None:
    """The most hard sets of each muscle done in one of the normal weeks of the eight before `week`; `None` when nothing
    is known to have been done in them."""
    monday = week_starts_on(week)
    since = monday - RECENT
    lately = [one for one in exposures if since <= one.on < monday and was_trained(one)]
    lately = [one for one in lately if not one.light] or lately
    known = {
        slug: exercise_of(library, slug)
        for slug in {one.exercise for one in lately}
        if has_exercise(library, slug)
    }
    # Weeks by their number before this one: whole sevens of days from its Monday.
    weekly: dict[int, list[tuple[Exercise, int]]] = defaultdict(list)
    for one in lately:
        if one.exercise in known:
            weekly[(one.on - monday).days // 7].append((known[one.exercise], sets_done(one)))
    found: dict[Muscle, int] = {}
    for work in weekly.values():
        for muscle, halves in _half_sets(work).items():
            if halves > found.get(muscle, 0):
                found[muscle] = halves
    return {muscle: Decimal(halves) / 2 for muscle, halves in found.items()} if weekly else None


def figure_of(sets: Decimal) -> str:
    """A number of sets as a figure of a reason: whole, or with its half.

    >>> figure_of(Decimal("10.0")), figure_of(Decimal("8.5"))
    ('10', '8.5')
    """
    return str(plain(sets))


# --- looking at a week ------------------------------------------------------------------------------------------------


@value_class
class MuscleWeek:
    """One muscle in one week: its hard sets, the most there may be, and whether they are few for a week that builds."""

    muscle: Muscle
    sets: Decimal
    most: Decimal
    is_few: bool

    @property
    def is_above(self) -> bool:
        return self.sets > self.most


def look_at(
    sessions: Sequence[SessionDecision],
    facts: WeekFacts,
    library: Library,
    phase: Phase,
    limits: AgeLimits,
    *,
    light: bool = False,
) -> tuple[MuscleWeek, ...]:
    """Each muscle that the week trains, with its cap; few are those under 4 in a week that builds and is not light, of
    a muscle that something in it trains first of all (P12)."""
    caps = caps_for(facts, library, phase, limits)
    firsts = {
        muscle
        for session in sessions
        for item in session.items
        if item.part in COUNTED and has_exercise(library, item.exercise)
        for muscle, share in exercise_of(library, item.exercise).muscles
        if share == 1
    }
    builds = phase is Phase.BUILD and not light
    return tuple(
        MuscleWeek(muscle, sets, caps.of(muscle), builds and sets < FEW_SETS and muscle in firsts)
        for muscle, sets in in_order(week_sets(sessions, facts, library))
    )


def too_much(
    sessions: Sequence[SessionDecision],
    facts: WeekFacts,
    library: Library,
    phase: Phase,
    limits: AgeLimits,
) -> Iterator[tuple[Reason, int | None]]:
    """What a week has above its caps, each with the session where it is about one (I6)."""
    for session in sessions:
        sets = sum(item.target.sets for item in session.items if item.part in COUNTED)
        if sets > SESSION_SETS:
            figures: dict[str, Figure] = {"sets": sets, "ordinal": session.ordinal, "most": SESSION_SETS}
            yield Reason("P12", "too-many-in-session", figures), session.ordinal
    for one in look_at(sessions, facts, library, phase, limits):
        if one.is_above:
            yield (
                Reason(
                    "P12",
                    "too-many-sets",
                    {"sets": figure_of(one.sets), "muscle": one.muscle.value, "most": figure_of(one.most)},
                ),
                None,
            )
