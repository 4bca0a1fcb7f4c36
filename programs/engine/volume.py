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

    What goes above a cap loses sets: assistance before the main part, the last session first, in it the exercise with
    the most sets, of equals the last; before all of these a set that the bridge gave (P3). Never below one set, and
    only then whole exercises, in the same order. Balance work from 65 is not among them (S4). This is worked out on
    the program's own sets for the rider's levels, as far as they can rise this week, before any target is: so it stays
    the same from week to week, reps go on where sets may not, and neither a pain, a missed session nor a lack of
    minutes makes room for something else (I9, ours). Where what stands in for a level trains other muscles and the week
    is above a cap after all, its sets are cut as well.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import field, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache
from math import ceil, floor

from athletes.values import value_class
from athletes.vocabulary import Figure, Muscle, Pattern, Reason
from programs.engine.bridge import EXTRA_SETS
from programs.engine.facts import (
    Exercise,
    Exposure,
    Item,
    Library,
    Part,
    Phase,
    SessionDecision,
    SessionState,
    Slot,
    Week,
    WeekFacts,
)
from programs.engine.families import bottom, exercise_of, has_exercise, pattern_of
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
#: Sets of one exercise in a maintaining week, as `cuts` gives them (P8).
MAINTAIN_SETS_EACH = 2

REASONS: dict[str, str] = {
    "enough-sets": "{to_sets} sets instead of {from_sets}: at most {most} hard sets a week for the {muscle}.",
    "sets-rise-slowly": "{to_sets} sets instead of {from_sets}: at most {most} hard sets this week for the {muscle}, "
    "as they rise by {rise} a week at most.",
    "session-enough-sets": "{to_sets} sets instead of {from_sets}: at most {most} sets in a session.",
    "muscle-full": "Left out: the {muscle} has its {most} hard sets this week without it.",
    "session-full": "Left out: the session has its {most} sets without it.",
    "too-many-sets": "{sets} hard sets this week for the {muscle}; at most {most}.",
    "too-many-in-session": "{sets} sets in session {ordinal}; at most {most}.",
}

type Sets = dict[Muscle, Decimal]
#: A slot of the week: ordinal of the session, id of the slot.
type Place = tuple[int, str]


@value_class
class Allowed:
    """The most sets of one slot, and why."""

    sets: int
    reason: Reason


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
        for muscle, halves in _halves(exercise):
            found[muscle] += halves * sets
    return found


@lru_cache(maxsize=4096)
def _halves(exercise: Exercise) -> tuple[tuple[Muscle, int], ...]:
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
    return hard_sets([*work, *_done_this_week(facts, library, {one.ordinal for one in sessions})])


def in_order(sets: Sets) -> tuple[tuple[Muscle, Decimal], ...]:
    """The sets by muscle in the vocabulary's order, those without any left out."""
    return tuple((muscle, plain(sets[muscle])) for muscle in Muscle if sets.get(muscle))


def _done_this_week(facts: WeekFacts, library: Library, planned: set[int]) -> Iterator[tuple[Exercise, int]]:
    days = {
        record.done_on or record.planned_on
        for record in facts.sessions
        if record.week == facts.week
        and record.state in (SessionState.DONE, SessionState.PART)
        and record.ordinal not in planned
    }
    if not days:
        return
    for one in facts.exposures:
        if one.on in days and was_trained(one) and has_exercise(library, one.exercise):
            yield exercise_of(library, one.exercise), one.target.sets


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


# --- what gives way ---------------------------------------------------------------------------------------------------


@value_class
class Work:
    """The sets of one slot of the week as far as they are asked for now; `fixed` ones never give way (S4)."""

    place: Place
    part: Part
    exercise: Exercise
    sets: int
    fixed: bool = False
    #: What the program asks for, where it is known: an extra set of the bridge goes first (P3).
    programmed: int | None = None


def allowances(
    facts: WeekFacts,
    library: Library,
    phase: Phase,
    limits: AgeLimits,
    caps: Caps,
    slots: Mapping[int, Sequence[Slot]],
) -> dict[Place, Allowed]:
    """The most sets of each slot that the caps of the week leave fewer than the program asks for (P12).

    `slots` are those of the week's usual sessions, by ordinal, whether or not there is time for them.
    """
    standings = {standing.pattern: standing.exercise for standing in facts.standings}
    lately = _most_asked(facts, library)
    written: dict[Pattern, int] = {}
    for slot in (slot for those in slots.values() for slot in those):
        written[slot.pattern] = max(written.get(slot.pattern, 0), slot.sets)
    work = [
        Work(
            (ordinal, slot.id),
            slot.part,
            exercise,
            _asked_sets(slot, phase, limits, lately.get(exercise.pattern), written[slot.pattern]),
            fixed=limits.balance_each_session and slot.pattern is Pattern.BALANCE,
        )
        for ordinal, those in sorted(slots.items())
        for slot in those
        if (exercise := _level(slot, standings, library)) is not None
    ]
    return _give_way(work, caps, {})


def exceeding(
    sessions: Mapping[int, Sequence[Item]],
    facts: WeekFacts,
    library: Library,
    limits: AgeLimits,
    caps: Caps,
    *,
    programmed: Mapping[Place, int] | None = None,
    only: frozenset[Place] | None = None,
    least: Mapping[Muscle, Decimal] | None = None,
) -> dict[Place, Allowed]:
    """The most sets of each slot where a week as it was put together is above a cap; nothing where none is (I6).

    What a slot has above its `programmed` sets gives way first. With `only` no other slot gives way; no cap is below
    `least`.
    """
    work = [
        Work(
            (ordinal, item.slot),
            item.part,
            exercise_of(library, item.exercise),
            item.target.sets,
            fixed=(limits.balance_each_session and item.pattern is Pattern.BALANCE)
            or (only is not None and (ordinal, item.slot) not in only),
            programmed=programmed.get((ordinal, item.slot)) if programmed else None,
        )
        for ordinal, items in sorted(sessions.items())
        for item in items
    ]
    done = hard_sets(_done_this_week(facts, library, set(sessions)))
    return _give_way(work, replace(caps, least=least) if least else caps, done)


def _level(slot: Slot, standings: Mapping[Pattern, str], library: Library) -> Exercise | None:
    """The exercise that the slot asks for at the rider's level, whatever kit and body allow."""
    for slug in (slot.exercise, standings.get(slot.pattern)):
        if slug is not None and has_exercise(library, slug):
            return exercise_of(library, slug)
    return bottom(library, slot.pattern)


def _most_asked(facts: WeekFacts, library: Library) -> dict[Pattern, int]:
    """The most sets of one exercise that were asked for lately in a normal session, by pattern."""
    monday = week_starts_on(facts.week)
    since = monday - RECENT
    sets: dict[str, int] = {}
    for one in facts.exposures:
        if since <= one.on < monday and not one.light and one.target.sets > sets.get(one.exercise, 0):
            sets[one.exercise] = one.target.sets
    found: dict[Pattern, int] = {}
    for slug, most in sets.items():
        pattern = pattern_of(library, slug)
        if pattern is not None and most > found.get(pattern, 0):
            found[pattern] = most
    return found


def _asked_sets(slot: Slot, phase: Phase, limits: AgeLimits, lately: int | None, written: int) -> int:
    """The program's sets, as far as phase, age and what was asked lately let them get there, and one more where the
    bridge gave one (S2, P8, S3, H2, P3). `written` are the most sets that the program has for the pattern."""
    most = {Phase.LEARN: START_SETS, Phase.MAINTAIN: MAINTAIN_SETS_EACH}.get(phase, limits.max_sets)
    extra = EXTRA_SETS if lately is not None and lately > written else 0
    return min(slot.sets + extra, most, START_SETS if lately is None else max(START_SETS, lately + 1))


def _give_way(work: Sequence[Work], caps: Caps, done: Mapping[Muscle, Decimal]) -> dict[Place, Allowed]:
    """Each cap by itself, and of several on one slot the lowest: so a lower cap never leaves more of anything."""
    found: dict[Place, Allowed] = {}
    counted = [one for one in work if one.part in COUNTED]
    for ordinal in sorted({one.place[0] for one in counted}):
        here = [(one, 2) for one in counted if one.place[0] == ordinal]
        for one, sets in _trimmed(here, 2 * SESSION_SETS):
            _lower(found, one, sets, _session_reason(one, sets))
    for muscle, shares in _by_muscle(counted):
        most = caps.of(muscle) - done.get(muscle, Decimal(0))
        for one, sets in _trimmed(shares, floor(most * 2)):
            _lower(found, one, sets, _muscle_reason(one, sets, muscle, caps))
    return found


def _by_muscle(work: Iterable[Work]) -> list[tuple[Muscle, list[tuple[Work, int]]]]:
    """What trains each muscle, with the half sets that a set of it is, in the vocabulary's order of muscles."""
    shares: dict[Muscle, list[tuple[Work, int]]] = defaultdict(list)
    for one in work:
        for muscle, halves in _halves(one.exercise):
            shares[muscle].append((one, halves))
    return [(muscle, shares[muscle]) for muscle in Muscle if muscle in shares]


def _trimmed(shares: Sequence[tuple[Work, int]], most: int) -> Iterator[tuple[Work, int]]:
    """Those that lose sets so that there are at most `most` half sets, with what is left of them."""
    total = sum([share * one.sets for one, share in shares])
    if total <= most:
        return
    left = [one.sets for one, _share in shares]
    for least in (1, 0):
        while total > most:
            free = [at for at, (one, _share) in enumerate(shares) if left[at] > least and not one.fixed]
            if not free:
                break
            at = max(free, key=lambda at: (_goes_first(shares[at][0], left[at]), left[at], at))
            left[at] -= 1
            total -= shares[at][1]
    for (one, _share), sets in zip(shares, left, strict=True):
        if sets < one.sets:
            yield one, sets


def _goes_first(one: Work, left: int) -> tuple[bool, bool, int]:
    is_extra = one.programmed is not None and left > one.programmed
    return is_extra, one.part is not Part.MAIN, one.place[0]


def _lower(found: dict[Place, Allowed], one: Work, sets: int, reason: Reason) -> None:
    if one.place not in found or sets < found[one.place].sets:
        found[one.place] = Allowed(sets, reason)


def _session_reason(one: Work, sets: int) -> Reason:
    if not sets:
        return Reason("P12", "session-full", {"most": SESSION_SETS})
    figures: dict[str, Figure] = {"from_sets": one.sets, "to_sets": sets, "most": SESSION_SETS}
    return Reason("P12", "session-enough-sets", figures)


def _muscle_reason(one: Work, sets: int, muscle: Muscle, caps: Caps) -> Reason:
    most = figure_of(caps.of(muscle))
    if not sets:
        return Reason("P12", "muscle-full", {"muscle": muscle.value, "most": most})
    figures: dict[str, Figure] = {
        "from_sets": one.sets,
        "to_sets": sets,
        "most": most,
        "muscle": muscle.value,
    }
    if caps.rises_slowly(muscle):
        return Reason("P12", "sets-rise-slowly", {**figures, "rise": RISE_A_WEEK})
    return Reason("P12", "enough-sets", figures)


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
