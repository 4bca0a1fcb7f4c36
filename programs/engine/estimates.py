"""Estimates of a maximum, and the best holds (rule P11). For display and reports only: no target is made from them.

P11 A maximum is estimated from a set by the seven published formulas and the handbook's table, none above 10 reps; what
    is shown is the median, with the lowest and the highest. S: each formula with its function. S for the 10: Reynolds
    2006 for the linear ones; up to there the formulas lie within 10 % of each other, at 15 reps within 33 %. Reps left
    in the set count with those done; more than 5 left is not used (S: Hackett 2017, where guesses were out by about
    one rep up to 5 and by more than two from 7 on). A check-in's "4 or more" says no number and is not used (H3).
    Four things are ours: an estimate is made only for an exercise that cannot be done without a load, in the patterns
    squat, hinge, single leg, push and pull, since where the body is most of the load the formulas do not hold; of a
    session the least set counts; sets at a bridge's load do not; and the best of the last 56 days is shown.
S3  Under 18 nothing is estimated.
T   An exercise that loads a site with a gate on it has no estimate.

One rep is the maximum itself, whatever the formulas make of it: five of the seven give more than the load at 1 rep.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Context, Decimal, localcontext
from enum import StrEnum
from functools import wraps
from statistics import median

from athletes.concerns import BodyState, Gate
from athletes.triage import gate_for
from athletes.values import value_class
from athletes.vocabulary import Pattern, Reason
from programs.engine.facts import Exercise, Exposure, Holding, Library, Load, Loading, Measure
from programs.engine.families import exercise_of, has_exercise
from programs.engine.history import achieved, amounts_done, distinct
from programs.engine.quantities import plain
from programs.engine.strength import AgeLimits

MOST_REPS, MOST_LEFT = 10, 5
#: The highest answer about reps left that is a number; the next one says "or more".
MOST_LEFT_COUNTED = 3
RECENT_DAYS = 56
ESTIMATED = frozenset({Pattern.SQUAT, Pattern.HINGE, Pattern.SINGLE_LEG, Pattern.PUSH, Pattern.PULL})

_CONTEXT = Context(prec=28)

REASONS: dict[str, str] = {
    "estimate-under-18": "Under 18: no maximum is tested or estimated.",
    "estimate-too-many-reps": "{amount} reps, those left counted in, are above {most}: no estimate.",
    "estimate-too-many-left": "{reps_left} reps left are a guess, and above {most} it is not used: no estimate.",
    "estimate-where-sore": "It loads a site that has been reported: no estimate.",
}


# --- the published formulas: load and reps to failure in, one-rep maximum out -----------------------------------------


class Formula(StrEnum):
    """How an estimate is made: one of the seven formulas, or the handbook's table."""

    EPLEY = "epley"
    BRZYCKI = "brzycki"
    LANDER = "lander"
    LOMBARDI = "lombardi"
    MAYHEW = "mayhew"
    OCONNER = "oconner"
    WATHAN = "wathan"
    HANDBOOK = "handbook"


type _Published = Callable[[Decimal, int], Decimal]


def _in_own_precision(formula: _Published) -> _Published:
    @wraps(formula)
    def computed(kg: Decimal, reps: int) -> Decimal:
        if reps < 1:
            raise ValueError(f"a set has at least 1 rep, not {reps}")
        with localcontext(_CONTEXT):
            return formula(kg, reps)

    return computed


@_in_own_precision
def epley(kg: Decimal, reps: int) -> Decimal:
    """w (1 + r / 30). S: Epley 1985, Poundage chart, in: Boyd Epley Workout, p. 86.

    >>> round(epley(Decimal(60), 8), 2)
    Decimal('76.00')
    """
    return kg * (1 + Decimal(reps) / 30)


@_in_own_precision
def brzycki(kg: Decimal, reps: int) -> Decimal:
    """36 w / (37 - r); without a value at 37 reps. S: Brzycki 1993, JOPERD 64(1):88-90."""
    return 36 * kg / (37 - reps)


@_in_own_precision
def lander(kg: Decimal, reps: int) -> Decimal:
    """100 w / (101.3 - 2.67123 r). S: Lander 1985, NSCA J 6(6):60-61."""
    return 100 * kg / (Decimal("101.3") - Decimal("2.67123") * reps)


@_in_own_precision
def lombardi(kg: Decimal, reps: int) -> Decimal:
    """w r^0.10. S: Lombardi 1989, Beginning Weight Training."""
    return kg * Decimal(reps) ** Decimal("0.10")


@_in_own_precision
def mayhew(kg: Decimal, reps: int) -> Decimal:
    """100 w / (52.2 + 41.9 e^(-0.055 r)). S: Mayhew et al. 1992, J Appl Sport Sci Res 6(4):200-206."""
    return 100 * kg / (Decimal("52.2") + Decimal("41.9") * (Decimal("-0.055") * reps).exp())


@_in_own_precision
def oconner(kg: Decimal, reps: int) -> Decimal:
    """w (1 + 0.025 r). S: O'Conner, Simmons and O'Shea 1989, Weight Training Today."""
    return kg * (1 + Decimal("0.025") * reps)


@_in_own_precision
def wathan(kg: Decimal, reps: int) -> Decimal:
    """100 w / (48.8 + 53.8 e^(-0.075 r)). S: Wathan 1994, in: Essentials of Strength Training and Conditioning."""
    return 100 * kg / (Decimal("48.8") + Decimal("53.8") * (Decimal("-0.075") * reps).exp())


#: Percent of the maximum that goes with so many reps. S: NSCA training load chart. From 11 reps on sources do not agree
#: (at 12 70 % there, 67 % in the textbook, from memory), and nothing above 10 is used.
HANDBOOK_PERCENT: Mapping[int, int] = {1: 100, 2: 95, 3: 93, 4: 90, 5: 87, 6: 85, 7: 83, 8: 80, 9: 77, 10: 75}


@_in_own_precision
def handbook(kg: Decimal, reps: int) -> Decimal:
    """100 w / percent of the table. Raises `ValueError` above its 10 reps. S: NSCA training load chart."""
    if reps not in HANDBOOK_PERCENT:
        raise ValueError(f"the table ends at {MOST_REPS} reps")
    return 100 * kg / HANDBOOK_PERCENT[reps]


FORMULAS: Mapping[Formula, _Published] = {
    Formula.EPLEY: epley,
    Formula.BRZYCKI: brzycki,
    Formula.LANDER: lander,
    Formula.LOMBARDI: lombardi,
    Formula.MAYHEW: mayhew,
    Formula.OCONNER: oconner,
    Formula.WATHAN: wathan,
    Formula.HANDBOOK: handbook,
}


def one_rep_maximum(formula: Formula, kg: Decimal, reps: int) -> Decimal:
    """The maximum by one formula; at 1 rep the load itself. Raises `ValueError` above 10 reps or below 1."""
    _check_reps(reps)
    return kg if reps == 1 else FORMULAS[formula](kg, reps)


def load_for(formula: Formula, maximum_kg: Decimal, reps: int) -> Decimal:
    """The load that goes with so many reps to failure: the same formula the other way. All are linear in the load.

    >>> round(load_for(Formula.BRZYCKI, Decimal(120), 5), 2)
    Decimal('106.67')
    """
    return _CONTEXT.divide(maximum_kg, one_rep_maximum(formula, Decimal(1), reps))


def _check_reps(reps: int) -> None:
    if not 1 <= reps <= MOST_REPS:
        raise ValueError(f"a maximum is estimated from 1 to {MOST_REPS} reps, not {reps}")


# --- one set ----------------------------------------------------------------------------------------------------------


@value_class
class Estimate:
    """What one set says of the maximum, in kg rounded half-up to two places, of each implement as a load is.

    `kg` is the median of `by`, the values of the formulas and the table; `low` and `high` are the ends of their spread.
    `reps` are those done and those left together. For display and reports only.
    """

    kg: Decimal
    low: Decimal
    high: Decimal
    reps: int
    by: tuple[tuple[Formula, Decimal], ...]


@value_class
class Withheld:
    """Nothing is worked out, and `reasons` say why."""

    reasons: tuple[Reason, ...]


def estimate(
    kg: Decimal, reps: int, *, under_18: bool, reps_left: int = 0, is_sore: bool = False
) -> Estimate | Withheld:
    """The maximum that a set of `reps` with `reps_left` more in reserve says, or why none is estimated (P11, S3, T).

    Raises `ValueError` for a load that is not above 0, less than one rep, or less than none left.
    """
    if kg <= 0 or reps < 1 or reps_left < 0:
        raise ValueError("an estimate needs a load above 0 kg, at least 1 rep and no less than 0 reps left")
    why = _why_not(reps, reps_left, under_18, is_sore)
    if why is not None:
        return Withheld((why,))
    values = {formula: one_rep_maximum(formula, kg, reps + reps_left) for formula in FORMULAS}
    return Estimate(
        kg=_shown(_median(values.values())),
        low=_shown(min(values.values())),
        high=_shown(max(values.values())),
        reps=reps + reps_left,
        by=tuple((formula, _shown(value)) for formula, value in values.items()),
    )


def _why_not(reps: int, reps_left: int, under_18: bool, is_sore: bool) -> Reason | None:
    if under_18:
        return Reason("S3", "estimate-under-18")
    if is_sore:
        return Reason("P11", "estimate-where-sore")
    if reps_left > MOST_LEFT:
        return Reason("P11", "estimate-too-many-left", {"reps_left": reps_left, "most": MOST_LEFT})
    if reps + reps_left > MOST_REPS:
        return Reason("P11", "estimate-too-many-reps", {"amount": reps + reps_left, "most": MOST_REPS})
    return None


@value_class
class RepLoad:
    """The load that goes with so many reps to failure: `kg` by the median of the formulas, `low` to `high` by all."""

    reps: int
    kg: Decimal
    low: Decimal
    high: Decimal


def rep_loads(maximum_kg: Decimal) -> tuple[RepLoad, ...]:
    """The loads that go with 1 to 10 reps of a maximum: a table to read, from which no target is made (P11)."""
    table = []
    for reps in range(1, MOST_REPS + 1):
        loads = [load_for(formula, maximum_kg, reps) for formula in FORMULAS]
        table.append(RepLoad(reps, _shown(_median(loads)), _shown(min(loads)), _shown(max(loads))))
    return tuple(table)


def _median(values: Iterable[Decimal]) -> Decimal:
    with localcontext(_CONTEXT):
        return median(values)


def _shown(kg: Decimal) -> Decimal:
    return plain(kg.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP, context=_CONTEXT))


# --- a rider's history ------------------------------------------------------------------------------------------------


@value_class
class SetEstimate:
    """An estimate from a rider's check-in: the exercise, its implement, the day, and the set that it was made from.

    `load` was lifted for `amount` reps with `reps_left` good ones left. `holding` is part of what the estimate is of:
    nothing is carried from one implement to another (H1).
    """

    exercise: str
    holding: Holding
    on: date
    load: Load
    amount: int
    reps_left: int
    estimate: Estimate


@value_class
class BestHold:
    """The longest set of a hold in seconds, the weaker side's where sides are told apart, with its day and load."""

    exercise: str
    on: date
    seconds: int
    load: Load | None = None


def set_estimates(
    exposures: Iterable[Exposure], library: Library, *, limits: AgeLimits, state: BodyState, on: date
) -> tuple[SetEstimate, ...]:
    """Every estimate that check-ins up to a day allow, by exercise, oldest first; none under 18 (P11, S3, T)."""
    if not limits.may_estimate:
        return ()
    found: list[SetEstimate] = []
    for exercise, done in _by_exercise(exposures, library, on):
        if may_be_estimated(exercise) and not is_sore(exercise, state):
            found += [one for exposure in done if (one := _of_exposure(exposure, limits)) is not None]
    return tuple(found)


def best_estimates(
    exposures: Iterable[Exposure], library: Library, *, limits: AgeLimits, state: BodyState, on: date
) -> tuple[SetEstimate, ...]:
    """The best estimate of the last 56 days for each exercise and implement, the newest of equals (P11)."""
    best: dict[tuple[str, Holding], SetEstimate] = {}
    for one in set_estimates(exposures, library, limits=limits, state=state, on=on):
        key = one.exercise, one.holding
        if is_recent(one.on, on) and (key not in best or one.estimate.kg >= best[key].estimate.kg):
            best[key] = one
    return tuple(best.values())


def best_holds(
    exposures: Iterable[Exposure], library: Library, *, state: BodyState, on: date
) -> tuple[BestHold, ...]:
    """The longest hold of the last 56 days for each exercise that is held, the newest of equals; none that is sore."""
    best: dict[str, BestHold] = {}
    for exercise, done in _by_exercise(exposures, library, on):
        if exercise.measure is not Measure.HOLD or is_sore(exercise, state):
            continue
        for exposure in done:
            seconds = longest_hold(exposure)
            if seconds is None or not is_recent(exposure.on, on):
                continue
            if exercise.slug not in best or seconds >= best[exercise.slug].seconds:
                load = exposure.done.load if exposure.done else None
                best[exercise.slug] = BestHold(exercise.slug, exposure.on, seconds, load)
    return tuple(best.values())


def longest_hold(exposure: Exposure) -> int | None:
    """The longest set of an exposure in seconds, as far as it is known and above 0."""
    amounts = amounts_done(exposure)
    return max(amounts, default=0) or None if amounts else None


def may_be_estimated(exercise: Exercise) -> bool:
    """Whether the formulas mean anything for the exercise: an external load is all that is lifted (P11, ours)."""
    is_lift = exercise.measure is Measure.REPS and exercise.pattern in ESTIMATED
    return is_lift and exercise.loading is Loading.EXTERNAL


def is_sore(exercise: Exercise, state: BodyState) -> bool:
    """Whether the state of the body bars anything of the exercise."""
    gate, _reasons = gate_for(exercise.primary, exercise.secondary, state)
    return gate is not Gate.FREE


def is_recent(day: date, on: date) -> bool:
    """Whether a day is among the last 56 up to `on`."""
    return on - timedelta(days=RECENT_DAYS) < day <= on


def _by_exercise(
    exposures: Iterable[Exposure], library: Library, on: date
) -> Sequence[tuple[Exercise, tuple[Exposure, ...]]]:
    """The exposures up to a day by exercise, in the order of the library, a double report counted once (H3)."""
    known: dict[str, list[Exposure]] = {}
    for one in exposures:
        if one.on <= on and has_exercise(library, one.exercise):
            known.setdefault(one.exercise, []).append(one)
    places = {exercise.slug: place for place, exercise in enumerate(library.exercises)}
    return [
        (exercise_of(library, slug), distinct(known[slug]))
        for slug in sorted(known, key=lambda slug: places[slug])
    ]


def _of_exposure(exposure: Exposure, limits: AgeLimits) -> SetEstimate | None:
    did, done = achieved(exposure), exposure.done
    if did is None or done is None or did.load is None or did.load.kg is None or exposure.target.bridge_sets:
        return None
    if done.reps_left is None or not 0 <= done.reps_left <= MOST_LEFT_COUNTED or did.load.kg <= 0:
        return None
    found = estimate(did.load.kg, did.amount, under_18=limits.under_18, reps_left=done.reps_left)
    if isinstance(found, Withheld):
        return None
    return SetEstimate(
        exercise=exposure.exercise,
        holding=did.load.holding,
        on=exposure.on,
        load=did.load,
        amount=did.amount,
        reps_left=done.reps_left,
        estimate=found,
    )
