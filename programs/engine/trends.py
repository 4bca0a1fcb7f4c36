"""Where a rider's figures are going (rule M4): estimated maximum, holds, sets by pattern, session load.

M4  Trends are Theil-Sen slopes with Sen's interval, a week being the unit of time; fewer than 5 points give none. What
    is not known is left out, and is not 0 (H3): a week with a session of unknown load has no load, and a week before
    the first session or one that is still running does not count. A trend is *clear* when its interval of 95 % leaves
    0 out, and it says where figures went, not where they will go.
P11 The trend of a maximum follows the estimates of one exercise with one implement, the best of a day. None under 18.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Context, Decimal
from enum import StrEnum

from athletes.values import value_class
from athletes.vocabulary import Pattern
from programs.engine.estimates import SetEstimate, longest_hold
from programs.engine.facts import Exposure, Holding, Library, Measure, SessionRecord, Week
from programs.engine.families import exercise_of, has_exercise
from programs.engine.history import amounts_done, distinct
from programs.engine.load import Trend, theil_sen, week_loads
from programs.engine.quantities import plain, week_of, week_starts_on

_CONTEXT = Context(prec=28)
_PLACES = Decimal("0.0001")


class Watched(StrEnum):
    """What a trend is of, and so its unit a week: kg, seconds, sets, or arbitrary units of session load."""

    MAXIMUM = "estimated-maximum"
    HOLD = "hold"
    SETS = "sets"
    LOAD = "session-load"


@value_class
class Reading:
    """One figure of one day; of a week it is the Monday's."""

    on: date
    value: Decimal


@value_class
class WatchedTrend:
    """Where one figure went between two days.

    `of` names the exercise or pattern, and is empty for session load; `holding` is that of a maximum. `slope` is the
    change in a week, `low` to `high` its interval of 95 %, both to four places; `points` how many readings it stands
    on, from `first_on` to `last_on`. `is_clear` says whether the interval leaves 0 out.
    """

    what: Watched
    of: str
    slope: Decimal
    low: Decimal
    high: Decimal
    points: int
    first_on: date
    last_on: date
    is_clear: bool
    holding: Holding | None = None


def weekly_slope(readings: Sequence[Reading]) -> Trend | None:
    """The Theil-Sen slope a week, with its interval; `None` with fewer than 5 readings or all on one day (M4)."""
    if not readings:
        return None
    start = min(one.on for one in readings)
    return theil_sen(
        [(_CONTEXT.divide(Decimal((one.on - start).days), Decimal(7)), one.value) for one in readings]
    )


def trend_of(
    what: Watched, of: str, readings: Sequence[Reading], holding: Holding | None = None
) -> WatchedTrend | None:
    """The trend of some readings in figures that can be shown, `None` when there is none (M4)."""
    found = weekly_slope(readings)
    if found is None:
        return None
    return WatchedTrend(
        what=what,
        of=of,
        slope=_shown(found.slope),
        low=_shown(found.low),
        high=_shown(found.high),
        points=found.points,
        first_on=min(one.on for one in readings),
        last_on=max(one.on for one in readings),
        is_clear=found.low > 0 or found.high < 0,
        holding=holding,
    )


def _shown(value: Decimal) -> Decimal:
    return plain(value.quantize(_PLACES, rounding=ROUND_HALF_UP, context=_CONTEXT))


# --- readings ---------------------------------------------------------------------------------------------------------


def maximum_readings(
    estimates: Iterable[SetEstimate],
) -> Mapping[tuple[str, Holding], tuple[Reading, ...]]:
    """The best estimate of each day, by exercise and implement (P11)."""
    best: dict[tuple[str, Holding], dict[date, Decimal]] = {}
    for one in estimates:
        days = best.setdefault((one.exercise, one.holding), {})
        days[one.on] = max(days.get(one.on, Decimal(0)), one.estimate.kg)
    return {key: _by_day(days) for key, days in best.items()}


def hold_readings(exposures: Iterable[Exposure], library: Library) -> Mapping[str, tuple[Reading, ...]]:
    """The longest hold of each day, by exercise."""
    best: dict[str, dict[date, Decimal]] = {}
    for one in exposures:
        seconds = longest_hold(one)
        if (
            seconds is None
            or one.target.measure is not Measure.HOLD
            or not has_exercise(library, one.exercise)
        ):
            continue
        days = best.setdefault(one.exercise, {})
        days[one.on] = max(days.get(one.on, Decimal(0)), Decimal(seconds))
    return {slug: _by_day(days) for slug, days in best.items()}


def set_readings(
    exposures: Sequence[Exposure], library: Library, weeks: Sequence[Week]
) -> Mapping[Pattern, tuple[Reading, ...]]:
    """The sets done in each pattern in each of the weeks, 0 where there were none; a week in which what was done of the
    pattern is not known is left out, and so are those before the pattern was first asked for (H3)."""
    mine: dict[str, list[Exposure]] = {}
    for one in exposures:
        if has_exercise(library, one.exercise):
            mine.setdefault(one.exercise, []).append(one)
    sets: dict[Pattern, dict[Week, int | None]] = {}
    for slug, rows in mine.items():
        counted = sets.setdefault(exercise_of(library, slug).pattern, {})
        for one in distinct(rows):
            week = week_of(one.on)
            amounts, before = amounts_done(one), counted.get(week, 0)
            known = amounts is not None and before is not None
            counted[week] = before + sum(amount > 0 for amount in amounts) if known else None  # type: ignore[operator, union-attr]
    return {
        pattern: tuple(
            Reading(week_starts_on(week), Decimal(done))
            for week in weeks
            if week >= min(counted) and (done := counted.get(week, 0)) is not None
        )
        for pattern, counted in sorted(sets.items())
    }


def load_readings(records: Sequence[SessionRecord], weeks: Sequence[Week]) -> tuple[Reading, ...]:
    """The session load of each week from that of the first session on, where it is known (M1, H3)."""
    if not records:
        return ()
    first = min(week_of(record.done_on or record.planned_on) for record in records)
    return tuple(
        Reading(week_starts_on(one.week), Decimal(one.load))
        for one in week_loads(records, [week for week in weeks if week >= first])
        if one.load is not None
    )


def _by_day(days: Mapping[date, Decimal]) -> tuple[Reading, ...]:
    return tuple(Reading(on, days[on]) for on in sorted(days))
