"""How long a session takes, what fits into the rider's minutes, how it begins and ends (rules D1 to D3).

D1  Minutes = warm-up + work + rests + changes + cool-down, rounded up. Work is sets x sides x reps x tempo, or seconds
    held; there is a rest between all sets and sides of an exercise, and a change between exercises. There is no
    published standard formula; what goes in is published (S: tempo and rests ACSM 2009), and the change of 120 s is
    that of Schoenfeld 2019 (from memory). Warm-up 5 to 10 min of light aerobic work and the patterns of the day
    (S: NSCA 2009, from memory), then the work, then the cool-down (practice).
D2  Straight sets or circuit. In a circuit the exercises go round by round, two back to back and then the longer rest
    of the two. Two with nothing in between save 36 % of 24 sets of 50 s with rests of 120 s (S: Burke 2024 measured
    36 %; Iversen 2021 says that pairs roughly halve the time, which needs shorter rests). Here 15 s to change over
    stand between the two (ours), which leaves about a third.
D3  Fit to the rider's minutes: sets go before exercises, assistance before main, the warm-up never. Sets go one at a
    time from the exercise of that part with the most, the last of equals, down to one; then whole exercises, the last
    first (ours). What went is said. Fewer minutes never leave more sets of anything (I9).
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Final

from athletes.values import value_class
from athletes.vocabulary import LOWER_BODY, Pattern, Reason, Region
from programs.engine.facts import Change, Exercise, Format, Item, Kit, LeftOut, Library, Measure, Part, Target
from programs.engine.families import family
from programs.engine.kit import holdings_for

#: Seconds from one exercise to the next (D1).
CHANGE_S: Final = 120
#: Seconds from one station of a pair to the other (D2).
STATION_S: Final = 15
LEAST_WARM_UP, MOST_WARM_UP = 5, 10
#: Most patterns that the warm-up goes through, and most parts of a cool-down (ours).
WARM_UP_PATTERNS: Final = 4
COOL_DOWN_PARTS: Final = 2

REASONS: dict[str, str] = {
    "sets-dropped-for-time": "{to_sets} sets instead of {from_sets}: the session has {minutes} minutes.",
    "exercise-dropped-for-time": "Left out: the session has {minutes} minutes.",
    "no-time-for-any": "{minutes} minutes are too few for one set of one exercise after the warm-up.",
}

type Work = tuple[Exercise, Target]


@value_class
class Fitted:
    """A session cut to the minutes (D3): what stays, what was left out whole, how long it takes, and why."""

    items: tuple[Item, ...]
    left_out: tuple[LeftOut, ...]
    minutes: int
    reasons: tuple[Reason, ...]


def set_seconds(exercise: Exercise, target: Target) -> int:
    """Seconds of one set of one side: reps x tempo, or the seconds held (D1)."""
    return _work_seconds(exercise, target, target.amount)


def session_seconds(
    work: Sequence[Work],
    session_format: Format = Format.STRAIGHT,
    *,
    change_s: int = CHANGE_S,
    station_s: int = STATION_S,
) -> int:
    """Seconds from the first set to the last, without warm-up and cool-down (D1, D2)."""
    if not work:
        return 0
    if session_format is Format.CIRCUIT:
        return _circuit_seconds(work, station_s)
    seconds = (len(work) - 1) * change_s
    for exercise, target in work:
        sets = target.sets * 2 if exercise.sided else target.sets
        seconds += _all_sets_seconds(exercise, target) + (sets - 1) * target.rest_s
    return seconds


def session_minutes(
    work: Sequence[Work],
    session_format: Format = Format.STRAIGHT,
    *,
    warm_up: int = 0,
    cool_down: int = 0,
    change_s: int = CHANGE_S,
    station_s: int = STATION_S,
) -> int:
    """Whole minutes of a session, rounded up (D1). `warm_up` and `cool_down` are minutes."""
    seconds = session_seconds(work, session_format, change_s=change_s, station_s=station_s)
    return warm_up + cool_down + -(-seconds // 60)


def warm_up_minutes(asked: int) -> int:
    """The minutes of a warm-up, kept to 5 to 10 (D1)."""
    return min(MOST_WARM_UP, max(LEAST_WARM_UP, asked))


def fit(
    pairs: Sequence[tuple[Exercise, Item]],
    minutes: int,
    session_format: Format = Format.STRAIGHT,
    *,
    warm_up: int,
    cool_down: int = 0,
    kept: frozenset[str] = frozenset(),
) -> Fitted:
    """The session cut to `minutes`, in the order given (D3).

    `kept` names slots that keep at least one set whatever the minutes, such as balance work from 65 (S4). When not
    even one set of one exercise fits, nothing stays but what is kept, and the reasons say so.
    """
    work: list[Work] = [(exercise, item.target) for exercise, item in pairs]
    items = [item for _exercise, item in pairs]
    budget = (minutes - warm_up - cool_down) * 60
    while session_seconds(work, session_format) > budget:
        at = _next_set(items, work)
        if at is not None:
            work[at] = (work[at][0], _one_set_fewer(work[at][1]))
            continue
        at = _next_exercise(items, kept)
        if at is None:
            break
        del items[at], work[at]
    took = session_minutes(work, session_format, warm_up=warm_up, cool_down=cool_down)
    stays = {item.slot: target for item, (_exercise, target) in zip(items, work, strict=True)}
    return _fitted([item for _exercise, item in pairs], stays, minutes, took)


def warm_up_for(
    patterns: Sequence[Pattern],
    library: Library,
    *,
    kit: Kit | None = None,
    barred: Collection[str] = (),
    sore: frozenset[Region] = frozenset(),
) -> tuple[str, ...]:
    """What the warm-up consists of: light aerobic work, then the patterns of the day, legs first (D1).

    Each pattern is rehearsed with the warm-up part that suits it, else with its easiest exercise that needs no load.
    What is barred, or loads a sore region first of all, is not used; a pattern with nothing left is not warmed up for.
    """
    return _warm_up(tuple(patterns), library, kit or Kit(), frozenset(barred), sore)


# What goes before and after the same patterns at the same venue is the same for many a rider and week.
@lru_cache(maxsize=4096)
def _warm_up(
    patterns: tuple[Pattern, ...],
    library: Library,
    there: Kit,
    barred: frozenset[str],
    sore: frozenset[Region],
) -> tuple[str, ...]:
    day = sorted(dict.fromkeys(patterns), key=lambda pattern: pattern not in LOWER_BODY)
    parts = []
    for pattern in (Pattern.WARM_UP, *day[:WARM_UP_PATTERNS]):
        for exercise in (*_rehearsals(library, pattern), *family(library, pattern)):
            if exercise.slug in barred or exercise.primary & sore or not exercise.for_beginners:
                continue
            if None in holdings_for(exercise, there):
                parts.append(exercise.slug)
                break
    return tuple(parts)


def _rehearsals(library: Library, pattern: Pattern) -> tuple[Exercise, ...]:
    """The warm-up parts made for one pattern; those that suit every pattern are the light aerobic start."""
    return tuple(one for one in family(library, Pattern.WARM_UP) if one.suits == {pattern})


def cool_down_for(
    regions: frozenset[Region],
    library: Library,
    *,
    kit: Kit | None = None,
    barred: Collection[str] = (),
    sore: frozenset[Region] = frozenset(),
) -> tuple[str, ...]:
    """What the cool-down consists of: the parts for the regions that the session loaded, most shared first (D1)."""
    return _cool_down(regions, library, kit or Kit(), frozenset(barred), sore)


@lru_cache(maxsize=4096)
def _cool_down(
    regions: frozenset[Region],
    library: Library,
    there: Kit,
    barred: frozenset[str],
    sore: frozenset[Region],
) -> tuple[str, ...]:
    fitting = [
        exercise
        for exercise in family(library, Pattern.COOL_DOWN)
        if exercise.slug not in barred
        and not exercise.primary & sore
        and None in holdings_for(exercise, there)
    ]
    fitting.sort(key=lambda exercise: -len(exercise.primary & regions))
    return tuple(exercise.slug for exercise in fitting[:COOL_DOWN_PARTS])


# --- inside -----------------------------------------------------------------------------------------------------------


def _work_seconds(exercise: Exercise, target: Target, amount: int) -> int:
    if target.measure is Measure.HOLD:
        return amount
    lower_s = exercise.lower_s if target.lower_s is None else target.lower_s
    return amount * (lower_s + exercise.pause_s + exercise.lift_s)


def _all_sets_seconds(exercise: Exercise, target: Target) -> int:
    """Work of all sets and sides, the sets at the bridge load included (P3)."""
    bridge_sets = min(target.bridge_sets, target.sets)
    seconds = (target.sets - bridge_sets) * _work_seconds(exercise, target, target.amount)
    seconds += bridge_sets * _work_seconds(exercise, target, target.bridge_amount)
    return seconds * 2 if exercise.sided else seconds


def _circuit_seconds(work: Sequence[Work], station_s: int) -> int:
    """Round by round, those exercises that have sets left; a rest after every second one, none after the last."""
    seconds = sum(_all_sets_seconds(exercise, target) for exercise, target in work)
    last_rest = 0
    for turn in range(max(target.sets for _exercise, target in work)):
        rests = [target.rest_s for _exercise, target in work if target.sets > turn]
        for at in range(0, len(rests), 2):
            pair = rests[at : at + 2]
            last_rest = max(pair)
            seconds += last_rest + (len(pair) - 1) * station_s
    return seconds - last_rest


def _next_set(items: Sequence[Item], work: Sequence[Work]) -> int | None:
    """Which item loses a set next: assistance first; of a part the most sets, the last of equals."""
    found, best = None, (False, 0)
    for at, item in enumerate(items):
        sets = work[at][1].sets
        rank = (item.part is not Part.MAIN, sets)
        if sets > 1 and rank >= best:
            found, best = at, rank
    return found


def _next_exercise(items: Sequence[Item], kept: frozenset[str]) -> int | None:
    """Which item goes whole next: assistance first, the last first."""
    for assistance in (True, False):
        for at in range(len(items) - 1, -1, -1):
            if (items[at].part is not Part.MAIN) is assistance and items[at].slot not in kept:
                return at
    return None


def _one_set_fewer(target: Target) -> Target:
    # One set at least stays at the target's own load.
    sets = target.sets - 1
    return replace(target, sets=sets, bridge_sets=max(0, min(target.bridge_sets, sets - 1)))


def _fitted(asked: Sequence[Item], stays: Mapping[str, Target], minutes: int, took: int) -> Fitted:
    """What stays and what went, with a reason on each item that lost sets."""
    items, left_out = [], []
    for item in asked:
        target = stays.get(item.slot)
        if target is None:
            why = Reason("D3", "exercise-dropped-for-time", {"minutes": minutes, "exercise": item.exercise})
            left_out.append(LeftOut(item.slot, item.pattern, (why,)))
        elif target.sets < item.target.sets:
            figures = {"from_sets": item.target.sets, "to_sets": target.sets, "minutes": minutes}
            reasons = (*item.reasons, Reason("D3", "sets-dropped-for-time", figures))
            change = Change.FEWER_SETS if item.change is Change.SAME else item.change
            items.append(replace(item, target=target, reasons=reasons, change=change))
        else:
            items.append(item)
    reasons = () if items or not asked else (Reason("D3", "no-time-for-any", {"minutes": minutes}),)
    return Fitted(tuple(items), tuple(left_out), took, reasons)
