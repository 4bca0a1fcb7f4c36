"""What gives way where a week would hold more sets than it may (rule P12, property I6).

P12 What goes above a cap loses sets: those of a third session first of all (Y1), then a set that the bridge gave (P3)
    and what is there for the rider's level or is a new one, whose other muscles the program did not count on; then
    assistance before the main part, the last session first, in it the exercise with the most sets, of equals the last.
    Never below one set, and only then whole exercises, in the same order. Balance work from 65 is not among them (S4).
    This is worked out on the program's own sets for the rider's levels, as far as they can rise this week, before any
    target is: so it stays the same from week to week, reps go on where sets may not, and neither a pain, a missed
    session nor a lack of minutes makes room for something else (I9, ours). Where what stands in for a level trains
    other muscles and the week is above a cap after all, its sets are cut as well. Each cap is looked at by itself and
    the lowest answer stands, so that a lower cap never leaves more of anything (ours).
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from math import floor

from athletes.values import value_class
from athletes.vocabulary import Figure, Muscle, Pattern, Reason
from programs.engine.bridge import EXTRA_SETS
from programs.engine.facts import Exercise, Item, Library, Part, Phase, Slot, WeekFacts
from programs.engine.families import bottom, exercise_of, has_exercise, pattern_of
from programs.engine.quantities import week_starts_on
from programs.engine.season import USUAL_SESSIONS
from programs.engine.strength import START_SETS, AgeLimits
from programs.engine.volume import (
    COUNTED,
    RECENT,
    RISE_A_WEEK,
    SESSION_SETS,
    Caps,
    done_this_week,
    figure_of,
    halves_of,
    hard_sets,
)

#: Sets of one exercise in a maintaining week, as `cuts` gives them (P8).
MAINTAIN_SETS_EACH = 2

REASONS: dict[str, str] = {
    "enough-sets": "{to_sets} sets instead of {from_sets}: at most {most} hard sets a week for the {muscle}.",
    "sets-rise-slowly": "{to_sets} sets instead of {from_sets}: at most {most} hard sets this week for the {muscle}, "
    "as they rise by {rise} a week at most.",
    "session-enough-sets": "{to_sets} sets instead of {from_sets}: at most {most} sets in a session.",
    "muscle-full": "Left out: the {muscle} has its {most} hard sets this week without it.",
    "session-full": "Left out: the session has its {most} sets without it.",
}

#: A slot of the week: ordinal of the session, id of the slot.
type Place = tuple[int, str]


@value_class
class Allowed:
    """The most sets of one slot, and why."""

    sets: int
    reason: Reason


@value_class
class Work:
    """The sets of one slot of the week as far as they are asked for now; `fixed` ones never give way (S4)."""

    place: Place
    part: Part
    exercise: Exercise
    sets: int
    fixed: bool = False
    #: What the program asks for, where it is known: an extra set of the bridge goes first (P3), and what is there in
    #: the place of the rider's level, or above it.
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
        if (exercise := level_of(slot, standings, library)) is not None
    ]
    return _give_way(work, caps, {})


def exceeding(
    sessions: Mapping[int, Sequence[Item]],
    facts: WeekFacts,
    library: Library,
    limits: AgeLimits,
    caps: Caps,
    *,
    programmed: Mapping[Place, tuple[int, str]] | None = None,
    only: frozenset[Place] | None = None,
    least: Mapping[Muscle, Decimal] | None = None,
) -> dict[Place, Allowed]:
    """The most sets of each slot where a week as it was put together is above a cap; nothing where none is (I6).

    `programmed` says how many sets of what exercise the program asks for at the rider's level: what a slot has above
    these sets, or in the place of that exercise, gives way first. With `only` no other slot gives way; no cap is below
    `least`.
    """
    known = programmed or {}
    work = [
        Work(
            (ordinal, item.slot),
            item.part,
            exercise_of(library, item.exercise),
            item.target.sets,
            fixed=(limits.balance_each_session and item.pattern is Pattern.BALANCE)
            or (only is not None and (ordinal, item.slot) not in only),
            programmed=_programmed(known.get((ordinal, item.slot)), item),
        )
        for ordinal, items in sorted(sessions.items())
        for item in items
    ]
    done = hard_sets(done_this_week(facts, library, set(sessions)))
    return _give_way(work, replace(caps, least=least) if least else caps, done)


def _programmed(known: tuple[int, str] | None, item: Item) -> int | None:
    """The sets that count as the program's: none of an exercise that is not the one it asks for."""
    if known is None:
        return None
    return known[0] if item.exercise == known[1] else 0


def level_of(slot: Slot, standings: Mapping[Pattern, str], library: Library) -> Exercise | None:
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
        for muscle, halves in halves_of(one.exercise):
            shares[muscle].append((one, halves))
    return [(muscle, shares[muscle]) for muscle in Muscle if muscle in shares]


def _trimmed(shares: Sequence[tuple[Work, int]], most: int) -> Iterator[tuple[Work, int]]:
    """Those that lose sets so that there are at most `most` half sets, with what is left of them."""
    total = sum([share * one.sets for one, share in shares])
    if total <= most:
        return
    left = [one.sets for one, _share in shares]
    free = [at for at, (one, _share) in enumerate(shares) if not one.fixed]
    third = [at for at in free if shares[at][0].place[0] > USUAL_SESSIONS]
    for those, least in ((third, 1), (third, 0), (free, 1), (free, 0)):
        while total > most:
            at = _next_to_go([at for at in those if left[at] > least], shares, left)
            if at is None:
                break
            left[at] -= 1
            total -= shares[at][1]
    for (one, _share), sets in zip(shares, left, strict=True):
        if sets < one.sets:
            yield one, sets


def _next_to_go(those: Sequence[int], shares: Sequence[tuple[Work, int]], left: Sequence[int]) -> int | None:
    """Which of those loses a set next; `None` when there is none (P12)."""

    def rank(at: int) -> tuple[bool, bool, int, int, int]:
        one = shares[at][0]
        is_extra = one.programmed is not None and left[at] > one.programmed
        return is_extra, one.part is not Part.MAIN, one.place[0], left[at], at

    return max(those, key=rank, default=None)


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
