"""M4 against the worked example of the paper that gave the interval, scipy, and random seasons whose trend is known."""

import random
from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from programs.engine.load import theil_sen
from programs.engine.trends import Reading, Watched, trend_of, weekly_slope
from tests.reference.checks import Check, Confidence, against
from tests.reference.sources import SEN

C2, CALC = Confidence.C2, Confidence.CALC
START = date(2026, 11, 2)
#: The worked example of Sen 1968, as the tests of scipy restate it: at 93 % 4, from 3.71 to 4.38.
SEN_POINTS = list(zip((1, 2, 3, 4, 10, 12, 18), (9, 15, 19, 20, 45, 55, 78), strict=True))


@against(
    Check("M4", f"{what} of the worked example", "seven points, 93 %", what, value, SEN, C2, "Sen's example", tolerance)
    for what, value, tolerance in (("slope", 4, 1e-12), ("low", 3.71, 0.005), ("high", 4.38, 0.005),
                                   ("intercept", 4, 1e-12))
)  # fmt: skip
def test_m4_the_worked_example_comes_out(given: str) -> Decimal:
    trend = theil_sen(SEN_POINTS, confidence=0.93)
    assert trend is not None
    found: Decimal = getattr(trend, given)
    return found


@against(
    Check("M4", f"{what} a week of the worked example in days", "seven days, 95 %", what, value, SEN, CALC,
          "Sen's example", 0.00005)
    for what, value in (("slope", 28), ("low", 7 * 3.714285714), ("high", 7 * 4.375))
)  # fmt: skip
def test_m4_a_slope_a_day_is_seven_times_that_a_week(given: str) -> Decimal:
    readings = [Reading(START + timedelta(days=x), Decimal(y)) for x, y in SEN_POINTS]
    trend = trend_of(Watched.HOLD, "plank", readings)
    assert trend is not None
    found: Decimal = getattr(trend, given)
    return found


def test_m4_trends_of_irregular_days_agree_with_scipy() -> None:
    chance = random.Random(5)
    for _round in range(150):
        days = sorted(chance.sample(range(120), chance.randint(5, 20)))
        values = [Decimal(chance.randint(2000, 4000)) / 100 for _day in days]
        trend = weekly_slope(
            [Reading(START + timedelta(days=day), value) for day, value in zip(days, values, strict=True)]
        )
        theirs = stats.theilslopes([float(value) for value in values], [(day - days[0]) / 7 for day in days])
        assert trend is not None
        ours = [float(value) for value in (trend.slope, trend.low, trend.high)]
        assert ours == pytest.approx([theirs.slope, theirs.low_slope, theirs.high_slope], abs=1e-9)


def test_m4_the_interval_holds_the_true_slope_about_as_often_as_it_says() -> None:
    """A line of 0.5 a week with noise, 400 times: 95 in 100 intervals should hold 0.5. Four standard errors of that
    share are 4.4 in 100."""
    generator = np.random.default_rng(9)
    held = 0
    for _round in range(400):
        values = 20 + 0.5 * np.arange(12) + generator.normal(0, 1.5, 12)
        trend = weekly_slope(
            [
                Reading(START + timedelta(weeks=week), Decimal(f"{value:.6f}"))
                for week, value in enumerate(values)
            ]
        )
        assert trend is not None
        held += trend.low <= Decimal("0.5") <= trend.high
    assert 0.906 <= held / 400 <= 0.994


def test_m4_with_plain_noise_the_slope_is_near_that_of_least_squares_and_with_a_wild_point_nearer_the_truth() -> (
    None
):
    generator = np.random.default_rng(4)
    ours, theirs = [], []
    for _round in range(60):
        values = 30 + 0.8 * np.arange(10) + generator.normal(0, 0.6, 10)
        plain = _slope(values)
        assert plain == pytest.approx(stats.linregress(np.arange(10), values).slope, abs=0.35)
        values[generator.integers(6, 10)] -= 15
        ours.append(abs(_slope(values) - 0.8))
        theirs.append(abs(stats.linregress(np.arange(10), values).slope - 0.8))
    assert np.mean(ours) < np.mean(theirs) / 3


def _slope(values: np.ndarray) -> float:
    trend = weekly_slope(
        [Reading(START + timedelta(weeks=week), Decimal(f"{value:.6f}")) for week, value in enumerate(values)]
    )
    assert trend is not None
    return float(trend.slope)
