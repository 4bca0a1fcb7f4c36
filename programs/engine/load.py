"""Session load and what is watched over weeks (rules M1 to M4).

M1  Session load = session RPE x minutes, in arbitrary units. Monotony = mean / standard deviation of the daily loads of
    seven days, rest days counting as 0; strain = the week's load x monotony. S: Foster 1998 and 2001. The source seen
    does not say which standard deviation; this is the sample one (n - 1), and its monotony is 1 / 1.0801 of the other.
    Without variation both stay undefined, and so they do when the load of a session that was done is unknown (H3).
M2  A change in load is described in percent, and never scored as a risk of injury. S: Impellizzeri 2021 against ratios.
M3  Missed: a sent session without a check-in by the end of the next local day. Two in a row, or a silent fortnight: a
    follow-up (ours). A check-in that says "not done" is not silence.
M4  Trends are Theil-Sen slopes with an interval. S: Theil 1950, Sen 1968 (from memory). Fewer than 5 points: no trend.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from decimal import Context, Decimal, localcontext
from math import sqrt
from statistics import NormalDist, median

from athletes.concerns import Concern, Topic, Urgency
from athletes.values import value_class
from athletes.vocabulary import Figure, Reason
from programs.engine.facts import SessionRecord, SessionState, Week
from programs.engine.quantities import week_days, week_of

TREND_POINTS = 5
MISSED_IN_A_ROW = 2
SILENT_DAYS = 14

_CONTEXT = Context(prec=28)

REASONS: dict[str, str] = {
    "missed-in-a-row": "{count} sessions in a row without a check-in, the last planned on {last_on}.",
    "silent-fortnight": "{days} days without a check-in; {count} sessions were sent in that time.",
}


# --- M1, M2 ---------------------------------------------------------------------------------------


def session_load(session_rpe: int | None, minutes: int | None) -> int | None:
    """Session RPE (0 to 10) times minutes, in arbitrary units; `None` when either was not answered (M1, H3)."""
    if session_rpe is None or minutes is None:
        return None
    return session_rpe * minutes


def daily_loads(records: Iterable[SessionRecord], days: Sequence[date]) -> tuple[int | None, ...]:
    """The load of each day from the sessions done on it: 0 on a rest day, `None` where one is not known (M1)."""
    loads: dict[date, int | None] = dict.fromkeys(days, 0)
    for record in records:
        if record.state in (SessionState.DONE, SessionState.PART):
            on = record.done_on or record.planned_on
            if on in loads:
                load, before = session_load(record.session_rpe, record.minutes), loads[on]
                loads[on] = None if load is None or before is None else before + load
    return tuple(loads[day] for day in days)


def monotony(daily: Sequence[Decimal | int | None]) -> Decimal | None:
    """Mean over sample standard deviation of seven daily loads (M1); `None` when undefined or a load is unknown.

    Raises `ValueError` for anything but seven days: a missing rest day is a 0, not a gap.

    >>> round(monotony([0, 300, 420, 0, 360, 600, 240]), 4)
    Decimal('1.2542')
    """
    known = _seven(daily)
    if known is None:
        return None
    mean = _CONTEXT.divide(sum(known, Decimal(0)), Decimal(7))
    squares = sum((_CONTEXT.multiply(load - mean, load - mean) for load in known), Decimal(0))
    if len(set(known)) == 1:
        return None
    return _CONTEXT.divide(mean, _CONTEXT.sqrt(_CONTEXT.divide(squares, Decimal(6))))


def strain(daily: Sequence[Decimal | int | None]) -> Decimal | None:
    """The week's load times its monotony (M1); `None` when that is undefined."""
    known, ratio = _seven(daily), monotony(daily)
    return None if known is None or ratio is None else _CONTEXT.multiply(sum(known, Decimal(0)), ratio)


def _seven(daily: Sequence[Decimal | int | None]) -> list[Decimal] | None:
    if len(daily) != 7:
        raise ValueError(f"seven daily loads are needed, not {len(daily)}")
    # In order of size, so that not even the last digit hangs on which day was which.
    known = sorted(Decimal(load) for load in daily if load is not None)
    return known if len(known) == 7 else None


@value_class
class WeekLoad:
    """One week's sessions: `sessions` done in it, `load` their session load in all, `monotony` and `strain` (M1), and
    `change_percent` from the week before (M2). What is not known or not defined is `None`."""

    week: Week
    sessions: int
    load: int | None
    monotony: Decimal | None
    strain: Decimal | None
    change_percent: Decimal | None


def week_loads(
    records: Iterable[SessionRecord], weeks: Sequence[Week], *, today: date | None = None
) -> tuple[WeekLoad, ...]:
    """The session load of each week, in the order of `weeks`, which follow one another (M1, M2).

    With `today`, a week that is not over by then has no change: less than a whole week is no less load.
    """
    records = tuple(records)
    found: list[WeekLoad] = []
    for week in weeks:
        daily = daily_loads(records, week_days(week))
        known = [one for one in daily if one is not None]
        total = sum(known) if len(known) == len(daily) else None
        before = found[-1].load if found else None
        is_over = today is None or week_days(week)[6] < today
        found.append(
            WeekLoad(
                week=week,
                sessions=sum(
                    record.state in (SessionState.DONE, SessionState.PART)
                    and week_of(record.done_on or record.planned_on) == week
                    for record in records
                ),
                load=total,
                monotony=monotony(daily),
                strain=strain(daily),
                change_percent=(
                    None if before is None or total is None or not is_over else change_percent(before, total)
                ),
            )
        )
    return tuple(found)


def change_percent(before: Decimal | int, now: Decimal | int) -> Decimal | None:
    """The change in load in percent (M2); `None` after a week without load, where a percentage says nothing."""
    return _CONTEXT.divide(100 * (Decimal(now) - before), Decimal(before)) if before else None


# --- M3 -------------------------------------------------------------------------------------------


def grace_ends_on(planned_on: date) -> date:
    """The last local date on which a check-in is in time (M3)."""
    return planned_on + timedelta(days=1)


def is_missed(planned_on: date, *, reported: bool, today: date) -> bool:
    """Whether a sent session counts as missed: nothing was reported by the end of the next local day (M3)."""
    return not reported and today > grace_ends_on(planned_on)


def _is_reported(record: SessionRecord) -> bool:
    return record.state in (SessionState.DONE, SessionState.PART, SessionState.NOT_DONE)


def silence(records: Iterable[SessionRecord], today: date) -> Concern | None:
    """What a coach should look at when a rider goes quiet, or `None` (M3). `records` are of sent sessions, any order.

    A silent fortnight says more than two missed in a row, so it is the one that is told when both hold.
    """
    ordered = sorted(records, key=lambda one: (one.planned_on, one.ordinal))
    due = [
        one for one in ordered if _is_reported(one) or is_missed(one.planned_on, reported=False, today=today)
    ]
    window_from = today - timedelta(days=SILENT_DAYS)
    heard = any(_is_reported(one) and (one.done_on or one.planned_on) >= window_from for one in ordered)
    sent = [one for one in due if one.planned_on >= window_from]
    # A fortnight can only have been silent for a rider who was sent something before it as well.
    before = any(one.planned_on <= window_from for one in ordered)
    if sent and before and not heard:
        figures: dict[str, Figure] = {"days": SILENT_DAYS, "count": len(sent)}
        return Concern(Topic.SILENT, Urgency.SOON, (Reason("M3", "silent-fortnight", figures),))
    last = due[-MISSED_IN_A_ROW:]
    if len(last) == MISSED_IN_A_ROW and not any(_is_reported(one) for one in last):
        row: dict[str, Figure] = {
            "count": _missed_at_the_end(due),
            "last_on": last[-1].planned_on.isoformat(),
        }
        return Concern(Topic.MISSED, Urgency.ROUTINE, (Reason("M3", "missed-in-a-row", row),))
    return None


def _missed_at_the_end(due: Sequence[SessionRecord]) -> int:
    reported = [place for place, one in enumerate(due) if _is_reported(one)]
    return len(due) - 1 - reported[-1] if reported else len(due)


# --- M4 -------------------------------------------------------------------------------------------


@value_class
class Trend:
    """A slope by unit of x, its interval, the line's value at x = 0, and how many points it stands on (M4)."""

    slope: Decimal
    low: Decimal
    high: Decimal
    intercept: Decimal
    points: int


def theil_sen(
    points: Sequence[tuple[Decimal | int, Decimal | int]], *, confidence: float = 0.95
) -> Trend | None:
    """The median slope between all pairs of points, with Sen's interval (M4).

    `None` below `TREND_POINTS` points, or when fewer than two x differ. `intercept` is median(y) - slope x median(x).
    """
    if len(points) < TREND_POINTS:
        return None
    pairs = [(Decimal(x), Decimal(y)) for x, y in points]
    slopes = sorted(
        _CONTEXT.divide(_CONTEXT.subtract(y2, y1), _CONTEXT.subtract(x2, x1))
        for place, (x1, y1) in enumerate(pairs)
        for x2, y2 in pairs[place + 1 :]
        if x1 != x2
    )
    if not slopes:
        return None
    low, high = _interval_ranks(pairs, len(slopes), confidence)
    xs, ys = [x for x, _y in pairs], [y for _x, y in pairs]
    with localcontext(_CONTEXT):
        slope = median(slopes)
        intercept = median(ys) - slope * median(xs)
    return Trend(slope, slopes[low], slopes[high], intercept, len(pairs))


def _interval_ranks(pairs: list[tuple[Decimal, Decimal]], slopes: int, confidence: float) -> tuple[int, int]:
    """The places of the interval's ends among the sorted slopes: Kendall's S, normal approximation, ties taken off."""
    variance = _kendall(len(pairs))
    for axis in (0, 1):
        variance -= sum(_kendall(tied) for tied in Counter(pair[axis] for pair in pairs).values())
    reach = NormalDist().inv_cdf((1 + confidence) / 2) * sqrt(variance / 18)
    low = max(round((slopes - reach) / 2) - 1, 0)
    high = min(round((slopes + reach) / 2), slopes - 1)
    return low, high


def _kendall(count: int) -> int:
    return count * (count - 1) * (2 * count + 5)
