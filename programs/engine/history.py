"""What was done, read back: results, the last achieved, the run that counts, asymmetry (rules H1, H3, P1, P6, P7, S2).

H1  Reps and load belong to (exercise, implement, side): a kettlebell's history says nothing about a dumbbell's. An
    implement not used for 56 days is as new (ours, after P10).
H3  Unknown is never success. Silence is not a miss. Sets left out for want of time are not failing, and not success.
    A double report is one exposure, and the less good result stands. A loaded target reported without the load is
    unknown.
I12 What is not known never counts as a success, for reps, for load or for a level.
P1  A success: all sets at target with 2 or more good reps left. With session RPE alone, 5 or less is *easy*: enough
    for a rep, never for load or a level (practice). 0 or 1 left, or RPE 6 or more alone: met, and repeated.
P4  A hold has no reps left to tell: it is a success when every set could have gone on for 5 s or more, as asked per
    hold. With session RPE alone, 5 or less is *easy*, which for a hold earns seconds and the next level, never a set or
    a load (ours).
P6  Sided exercises are judged by the weaker side. Asymmetry = (max - min) / max (S: Bishop 2016, 2018), noted above
    15 % in three exposures in a row, never acted on alone. That 15 % is not a norm: it comes from older papers in
    healthy people.
P7  Light, taper and return sessions never count for or against progress, and neither does a target that was cut or
    eased for one exercise alone, or kept to what was last done while a site hurts (ours). After them reps come back to
    where they were, but at most two reps (or 10 s) above the last session, and no load above the last session's (ours).
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise

from athletes.values import value_class
from athletes.vocabulary import Reason, Side
from programs.engine.facts import Exposure, Holding, Load, Loading, Measure, Target
from programs.engine.strength import AgeLimits
from programs.engine.target_facts import USUAL_REPS_LEFT, TargetFacts, figure, rank_of

LEARN_AGAIN_DAYS = 56
LEARN_AGAIN = timedelta(days=LEARN_AGAIN_DAYS)
EASY_RPE = 5
ASYMMETRY_NOTED_ABOVE = Decimal(15)
ASYMMETRY_EXPOSURES = 3
#: What comes back at once after light sessions, matching what P7 takes off.
RESTORED_REPS, RESTORED_S = 2, 10

#: Reasons that say that a target was cut, whatever its week is called. What was merely repeated is not among them.
LIGHTENED_BY = frozenset(
    {
        "light-week",
        "light-week-sets",
        "light-week-amount",
        "before-race",
        "away-load",
        "away-no-lighter",
        "away-load-kept",
        "away-volume",
        "away-cautious",
        "away-cautious-hold",
        "away-volume-intensity",
        "away-first-week",
        "eased-load",
        "eased-level",
        "eased-reps",
        "eased-already",
        "not-above-achieved",
        "nothing-achieved-yet",
        "half-sets",
        "halved-already",
        "back-after-pain",
    }
)

REASONS: dict[str, str] = {
    "asymmetry": "{percent} % less on the {side} side, (larger - smaller) / larger, in each of the last {exposures} "
    "sessions: worth a look, and nothing was changed for it.",
}


class Result(StrEnum):
    """What one exposure says about its target."""

    MISSED = "missed"
    UNKNOWN = "unknown"
    MET = "met"  # all sets at target, but hard, or with the effort unknown
    EASY = "easy"  # all sets at target and a session RPE of 5 or less, reps left not known
    SUCCESS = "success"


_LESS_GOOD_FIRST = tuple(Result)
ACHIEVED = frozenset({Result.MET, Result.EASY, Result.SUCCESS})


@value_class
class Achieved:
    """What was really done: so many sets of at least `amount` with `load`."""

    sets: int
    amount: int
    load: Load | None


def amounts_done(exposure: Exposure) -> tuple[int, ...] | None:
    """Reps or seconds per set, the weaker side's where sides are told apart; `None` is not known (H3, P6)."""
    done = exposure.done
    if done is None:
        return None
    if done.left_amounts is not None and done.right_amounts is not None:
        return tuple(map(min, done.left_amounts, done.right_amounts))
    if done.left_amounts is not None or done.right_amounts is not None:
        return None  # one side alone says nothing about the weaker
    return done.amounts


def is_known(exposure: Exposure) -> bool:
    """Whether it is known how much was done: what `amounts_done` would say, without working it out (H3)."""
    done = exposure.done
    if done is None:
        return False
    if done.left_amounts is None and done.right_amounts is None:
        return done.amounts is not None
    return done.left_amounts is not None and done.right_amounts is not None


def was_trained(exposure: Exposure) -> bool:
    """Whether anything of it is known to have been done, on one side at least (P10)."""
    done = exposure.done
    if done is None:
        return False
    # Reps and seconds are never negative, so that any number but 0 in them is something done.
    return any(done.amounts or ()) or any(done.left_amounts or ()) or any(done.right_amounts or ())


def wanted_amounts(target: Target) -> tuple[int, ...]:
    """Reps or seconds per set as asked, most first."""
    straight = (target.amount,) * (target.sets - target.bridge_sets)
    return tuple(sorted((*straight, *(target.bridge_amount,) * target.bridge_sets), reverse=True))


def is_lightened(keys: Iterable[str]) -> bool:
    """Whether a target with reasons of these keys counts neither for nor against progress (P7)."""
    return not LIGHTENED_BY.isdisjoint(keys)


def result_of(exposure: Exposure, *, reps_left: int = USUAL_REPS_LEFT) -> Result:
    """What the exposure says, a success leaving at least `reps_left` good reps (P1, H3)."""
    done, amounts, target = exposure.done, amounts_done(exposure), exposure.target
    if done is None or amounts is None or not _same_implement(target.load, done.load):
        return Result.UNKNOWN
    if done.load != target.load and rank_of(done.load) < rank_of(target.load):
        return Result.MISSED
    if len(amounts) == target.sets and not target.bridge_sets:  # the usual case, decided at once
        return Result.MISSED if amounts and min(amounts) < target.amount else _effort(exposure, reps_left)
    wanted = wanted_amounts(target)
    if len(amounts) < len(wanted) and done.out_of_time:
        # The sets that there was time for are judged; the others are neither done nor failed.
        kept_up = all(did >= asked for did, asked in zip(sorted(amounts), reversed(wanted), strict=False))
        return Result.UNKNOWN if kept_up else Result.MISSED
    best = sorted(amounts, reverse=True)
    if len(best) < len(wanted) or any(did < asked for did, asked in zip(best, wanted, strict=False)):
        return Result.MISSED
    return _effort(exposure, reps_left)


def _same_implement(asked: Load | None, used: Load | None) -> bool:
    if asked is None or used is None:
        return asked is used
    return asked.holding == used.holding


def _effort(exposure: Exposure, reps_left: int) -> Result:
    done = exposure.done
    left = done.reps_left if done else None
    if left is not None:
        return Result.SUCCESS if left >= reps_left else Result.MET
    if done is not None and done.held_longer is not None and exposure.target.measure is Measure.HOLD:
        return Result.SUCCESS if done.held_longer else Result.MET
    rpe = exposure.session_rpe
    return Result.EASY if rpe is not None and rpe <= EASY_RPE else Result.MET


def is_success(
    exposure: Exposure, limits: AgeLimits | None = None, *, reps_left: int = USUAL_REPS_LEFT
) -> bool:
    """Whether the exposure is a full success (P1); with `limits`, also that what was done lay within them (S3)."""
    reps = exposure.target.measure is Measure.REPS
    if limits is not None and reps and not limits.min_reps <= exposure.target.amount <= limits.max_reps:
        return False
    return result_of(exposure, reps_left=reps_left) is Result.SUCCESS


def achieved(exposure: Exposure) -> Achieved | None:
    """What was really done, set by set the least of it; `None` when it is not known or nothing was done (P5, I1).

    Sets at a bridge's heavier load are left aside. A load that was not reported is taken as the one asked for.
    """
    amounts = amounts_done(exposure)
    if exposure.done is None or not amounts:
        return None
    straight = max(1, exposure.target.sets - exposure.target.bridge_sets)
    kept = sorted(amounts, reverse=True)[:straight]
    if kept[-1] <= 0:
        return None
    return Achieved(len(kept), kept[-1], exposure.done.load or exposure.target.load)


def last_achieved(exposures: Sequence[Exposure]) -> Achieved | None:
    """The latest of what was really done, light sessions included."""
    found = (one for one in map(achieved, reversed(exposures)) if one is not None)
    return next(found, None)


# --- the run that counts ----------------------------------------------------------------------------------------------


@value_class
class History:
    """`run`: the exposures of this exercise and implement that still say something, oldest first; `counted`: those of
    them that count for progress. `taught` are the known exposures of the exercise with any implement, `known` those of
    this implement."""

    run: tuple[Exposure, ...]
    counted: tuple[Exposure, ...]
    taught: int
    known: int


def history_of(facts: TargetFacts) -> History:
    """The history that bears on this target (H1, H3, S2)."""
    every = _since_long_gap(distinct(_ever(facts)), facts.session_on)
    holding = facts.holding
    loaded = tuple(one for one in every if one.target.load and one.target.load.holding == holding)
    run = every if len(loaded) == len(every) else _since_long_gap(loaded, facts.session_on)
    if not run and facts.exercise.loading is not Loading.EXTERNAL:
        bare = tuple(one for one in every if one.target.load is None)
        run = every if len(bare) == len(every) else _since_long_gap(bare, facts.session_on)
    taught = sum(map(is_known, every))
    return History(
        run=run,
        counted=tuple(one for one in run if not one.light),
        taught=taught,
        known=taught if run is every else sum(map(is_known, run)),
    )


def last_load(facts: TargetFacts) -> Load | None:
    """The load asked for last with this implement, however long ago; `None` when there never was one (H1)."""
    loads = (one.target.load for one in reversed(_ever(facts)))
    return next((load for load in loads if load is not None and load.holding == facts.holding), None)


def was_bare(facts: TargetFacts) -> bool:
    """Whether it was at body weight that the exercise was last asked for, other implements left aside."""
    loads = (one.target.load for one in reversed(_ever(facts)))
    return next((load is None for load in loads if load is None or load.holding == facts.holding), False)


def _ever(facts: TargetFacts) -> tuple[Exposure, ...]:
    slug, on = facts.exercise.slug, facts.session_on
    return tuple(one for one in facts.exposures if one.exercise == slug and one.on < on)


def ever(facts: TargetFacts, load: Load | None) -> tuple[Exposure, ...]:
    """Every exposure with the implement of that load, or at body weight, however long ago."""
    holding = load.holding if load is not None else None
    return tuple(
        one
        for one in _ever(facts)
        if (one.target.load.holding if one.target.load is not None else None) == holding
    )


def distinct(exposures: Sequence[Exposure]) -> tuple[Exposure, ...]:
    """One exposure a day and implement: a reported one before a silent one, then the less good result (H3)."""
    if all(earlier.on < later.on for earlier, later in pairwise(exposures)):
        return tuple(exposures)
    found: dict[tuple[date, Holding | None], Exposure] = {}
    for one in exposures:
        key = (one.on, one.target.load.holding if one.target.load is not None else None)
        if key not in found or _worth(one) < _worth(found[key]):
            found[key] = one
    return tuple(sorted(found.values(), key=lambda one: one.on))


def _worth(exposure: Exposure) -> tuple[bool, int]:
    return exposure.done is None, _LESS_GOOD_FIRST.index(result_of(exposure))


def _since_long_gap(exposures: tuple[Exposure, ...], until: date) -> tuple[Exposure, ...]:
    """The exposures after the last 56 days in which none is known to have been done."""
    if not exposures:
        return exposures
    known = [one.on for one in exposures if is_known(one)]
    if not known:
        return exposures
    if until - known[-1] >= LEARN_AGAIN:
        return ()
    if until - known[0] < LEARN_AGAIN:
        return exposures  # too short a time for a gap within it
    fresh = [later for earlier, later in pairwise(known) if later - earlier >= LEARN_AGAIN]
    return tuple(one for one in exposures if one.on >= fresh[-1]) if fresh else exposures


def standing_target(history: History) -> Target | None:
    """The target that holds before any rule changes it: the last that counted, eased in after light sessions (P7)."""
    if not history.run:
        return None
    last = history.run[-1].target
    if not history.counted or history.counted[-1] is history.run[-1]:
        return last
    counted = history.counted[-1].target
    if rank_of(last.load) < rank_of(counted.load):
        counted = replace(counted, load=last.load, bridge_load=None, bridge_sets=0, bridge_amount=0)
    most = restored_amount(last)
    return counted if counted.amount <= most else replace(counted, amount=most)


def restored_amount(last: Target) -> int:
    """The most that may be asked next after a light or return session with that target (P7, ours)."""
    return last.amount + (RESTORED_REPS if last.measure is Measure.REPS else RESTORED_S)


def asks_as_much(one: Target, other: Target) -> bool:
    """Whether a target asks for the same reps, load, tempo and bridge as another, in no fewer sets."""
    return (
        one is other
        or one.amount == other.amount
        and one.sets >= other.sets
        and one.lower_s == other.lower_s
        and one.bridge_sets == other.bridge_sets
        and one.load == other.load
        and one.bridge_load == other.bridge_load
    )


def in_a_row(exposures: Sequence[Exposure], test: Callable[[Exposure], bool]) -> int:
    """How many of the latest exposures pass the test without a break."""
    times = 0
    for one in reversed(exposures):
        if not test(one):
            break
        times += 1
    return times


def misses(counted: Sequence[Exposure]) -> int:
    """How many times in a row the target was missed, the latest included; unknown ones change nothing (P5)."""
    if not counted or result_of(counted[-1]) is not Result.MISSED:
        return 0
    said = [one for one in counted if result_of(one) is not Result.UNKNOWN]
    return in_a_row(said, lambda one: result_of(one) is Result.MISSED)


# --- sides ------------------------------------------------------------------------------------------------------------


@value_class
class Asymmetry:
    """How much less one side does, in percent of the better one; `weaker` is `BOTH` when they are equal."""

    percent: Decimal
    weaker: Side


def asymmetry(left: int, right: int) -> Asymmetry | None:
    """(max - min) / max in percent; undefined when neither side did anything (P6).

    >>> asymmetry(30, 24)
    Asymmetry(percent=Decimal('20'), weaker=<Side.RIGHT: 'right'>)
    """
    more = max(left, right)
    if more <= 0:
        return None
    weaker = Side.BOTH if left == right else Side.LEFT if left < right else Side.RIGHT
    return Asymmetry(Decimal(abs(left - right)) * 100 / more, weaker)


def asymmetry_of(exposure: Exposure) -> Asymmetry | None:
    """The asymmetry of one exposure over all its sets; `None` when a side is not known."""
    done = exposure.done
    if done is None or done.left_amounts is None or done.right_amounts is None:
        return None
    return asymmetry(sum(done.left_amounts), sum(done.right_amounts))


def asymmetry_reasons(exposures: Sequence[Exposure]) -> tuple[Reason, ...]:
    """The note on asymmetry, when it is above 15 % on the same side in the last three exposures (P6)."""
    lately = [asymmetry_of(one) for one in exposures[-ASYMMETRY_EXPOSURES:]]
    seen = [one for one in lately if one is not None and one.percent > ASYMMETRY_NOTED_ABOVE]
    if len(seen) < ASYMMETRY_EXPOSURES or len({one.weaker for one in seen}) > 1:
        return ()
    figures = {"percent": figure(seen[-1].percent), "side": seen[-1].weaker.value, "exposures": len(seen)}
    return (Reason("P6", "asymmetry", figures),)
