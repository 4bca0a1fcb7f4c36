"""M4: trends of estimated maximum, holds, sets by pattern and session load."""

from datetime import date, timedelta
from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.concerns import BodyState
from athletes.vocabulary import Pattern
from programs.engine.estimates import set_estimates
from programs.engine.facts import Done, Exposure, Measure, SessionRecord, SessionState, Target
from programs.engine.quantities import shift_week, week_of, week_starts_on
from programs.engine.trends import (
    Reading,
    Watched,
    hold_readings,
    load_readings,
    maximum_readings,
    set_readings,
    trend_of,
    weekly_slope,
)
from tests.engine.histories import ADULT, asked
from tests.engine.samples import KETTLEBELL, LIBRARY, bell

MONDAY = date(2026, 1, 5)
WEEKS = [shift_week(week_of(MONDAY), by) for by in range(8)]


def weekly(*values: int | str) -> list[Reading]:
    return [Reading(MONDAY + timedelta(weeks=at), Decimal(value)) for at, value in enumerate(values)]


def goblet(at: int, kg: int = 16, reps: int = 6, left: int | None = 2) -> Exposure:
    """Three sets with a kettlebell so many days after the first Monday."""
    target = asked(reps, bell(kg))
    return Exposure(
        MONDAY + timedelta(days=at), "goblet", target, Done((reps,) * 3, load=bell(kg), reps_left=left)
    )


def plank(at: int, seconds: int | None) -> Exposure:
    done = Done((seconds, seconds - 5)) if seconds is not None else None
    return Exposure(MONDAY + timedelta(days=at), "plank", Target(Measure.HOLD, 2, 30), done)


@given(st.lists(st.integers(0, 500), max_size=4))
def test_m4_fewer_than_five_readings_give_no_trend(values: list[int]) -> None:
    assert weekly_slope(weekly(*values)) is None
    assert trend_of(Watched.HOLD, "plank", weekly(*values)) is None


def test_m4_the_slope_is_a_week_whatever_the_days_between() -> None:
    readings = [Reading(MONDAY + timedelta(days=day), Decimal(20 + day)) for day in (0, 3, 7, 9, 20)]
    trend = trend_of(Watched.HOLD, "plank", readings)
    assert trend is not None
    assert (trend.slope, trend.low, trend.high) == (7, 7, 7)
    assert (trend.first_on, trend.last_on, trend.points) == (MONDAY, MONDAY + timedelta(days=20), 5)
    assert trend.is_clear


def test_m4_the_callers_precision_changes_nothing() -> None:
    readings = weekly("20.123", "21.456", "25.789", "23.012", "27.345", "24.678")
    before = trend_of(Watched.HOLD, "plank", readings)
    with localcontext() as context:
        context.prec = 3
        assert trend_of(Watched.HOLD, "plank", readings) == before


@pytest.mark.parametrize(
    ("values", "is_clear"),
    [
        ((20, 22, 24, 26, 28, 30), True),
        ((30, 28, 26, 24, 22, 20), True),
        ((20, 20, 20, 20, 20), False),
        ((20, 26, 19, 27, 20, 25), False),
    ],
)
def test_m4_a_trend_is_clear_when_its_interval_leaves_0_out(values: tuple[int, ...], is_clear: bool) -> None:
    trend = trend_of(Watched.HOLD, "plank", weekly(*values))
    assert trend is not None
    assert trend.is_clear is is_clear
    assert trend.low <= trend.slope <= trend.high


def test_m4_one_wild_reading_does_not_turn_a_trend() -> None:
    trend = trend_of(Watched.LOAD, "", weekly(200, 210, 220, 9000, 240, 250, 260))
    assert trend is not None and trend.slope == 10


def test_m4_p11_the_trend_of_a_maximum_follows_the_best_estimate_of_each_day() -> None:
    exposures = [goblet(7 * at, reps=5 + at) for at in range(4)]
    found = set_estimates(exposures, LIBRARY, limits=ADULT, state=BodyState(), on=MONDAY + timedelta(days=60))
    readings = maximum_readings([*found, *found[:1]])
    assert list(readings) == [("goblet", KETTLEBELL)]
    assert [one.value for one in readings["goblet", KETTLEBELL]] == [one.estimate.kg for one in found]


def test_m4_h3_holds_that_are_not_known_are_left_out() -> None:
    exposures = [plank(0, 30), plank(3, None), plank(7, 40), goblet(7)]
    assert hold_readings(exposures, LIBRARY) == {
        "plank": (Reading(MONDAY, Decimal(30)), Reading(MONDAY + timedelta(days=7), Decimal(40)))
    }


def test_m4_h3_sets_of_a_week_without_any_are_0_and_of_one_not_known_are_left_out() -> None:
    silent = Exposure(MONDAY + timedelta(days=16), "goblet", asked(6, bell(16)))
    exposures = [goblet(7), goblet(10), silent, goblet(29)]
    readings = set_readings(exposures, LIBRARY, WEEKS)
    assert list(readings) == [Pattern.SQUAT]
    assert [(WEEKS.index(week_of(one.on)), one.value) for one in readings[Pattern.SQUAT]] == [
        (1, 6),
        (3, 0),
        (4, 3),
        (5, 0),
        (6, 0),
        (7, 0),
    ]


def test_m4_a_set_of_nothing_is_no_set() -> None:
    none = Exposure(MONDAY, "goblet", asked(6, bell(16)), Done((6, 0, 0), load=bell(16)))
    assert set_readings([none], LIBRARY, WEEKS[:1])[Pattern.SQUAT] == (Reading(MONDAY, Decimal(1)),)


def record(at: int, rpe: int | None = 5, minutes: int | None = 40) -> SessionRecord:
    on = MONDAY + timedelta(days=at)
    return SessionRecord(week_of(on), 1, on, SessionState.DONE, on, minutes, rpe)


def test_m1_m4_session_load_is_read_by_week_from_the_first_session_on_where_it_is_known() -> None:
    readings = load_readings([record(8), record(10), record(15, rpe=None), record(30)], WEEKS)
    assert [(one.on, one.value) for one in readings] == [
        (week_starts_on(WEEKS[at]), value)
        for at, value in [(1, 400), (3, 0), (4, 200), (5, 0), (6, 0), (7, 0)]
    ]
    assert load_readings([], WEEKS) == ()
