"""M1 against worked weeks, closed forms, a published worked table and numpy; M4 against scipy.

Tags: C1 seen in the primary text; CALC computed from its formula with numpy. Foster 1998 and 2001 give monotony as mean
over standard deviation (C1) and do not say which; both numbers stand here, and ours is the sample one (n - 1).
"""

import random
from decimal import Decimal
from math import sqrt

import numpy as np
import pytest
from scipy import stats

from programs.engine.load import monotony, session_load, strain, theil_sen

#: Weeks of session loads, Monday first, rest days 0 (CALC from the formula, C1): monotony and strain with n - 1, and
#: with n for comparison.
WEEKS = [
    ("A", [0, 300, 420, 0, 360, 600, 240], 1.2542, 2408.0, 1.3547, 2601.0),
    ("B", [0, 180, 540, 0, 180, 900, 0], 0.7509, 1351.7, 0.8111, 1460.0),
    ("C", [420, 360, 300, 420, 360, 300, 240], 5.1355, 12325.3, 5.5470, 13312.8),
    ("E", [400, 0, 0, 0, 0, 0, 0], 0.3780, 151.2, 0.4082, 163.3),
]
#: k equal sessions in a week, any size: sqrt(6k / 7(7 - k)) (CALC).
EQUAL = [(1, 0.3780), (2, 0.5855), (3, 0.8018), (4, 1.0690), (5, 1.4639), (6, 2.2678)]


@pytest.mark.parametrize(("name", "daily", "ratio", "effort", "_ratio_n", "_effort_n"), WEEKS)
def test_m1_the_worked_weeks_come_out(
    name: str, daily: list[int], ratio: float, effort: float, _ratio_n: float, _effort_n: float
) -> None:
    found, total = monotony(daily), strain(daily)
    assert found is not None and total is not None, name
    assert round(float(found), 4) == ratio
    assert round(float(total), 1) == effort


@pytest.mark.parametrize(("name", "daily", "ratio", "effort", "ratio_n", "effort_n"), WEEKS)
def test_m1_the_other_standard_deviation_differs_by_a_fixed_factor(
    name: str, daily: list[int], ratio: float, effort: float, ratio_n: float, effort_n: float
) -> None:
    found, total = monotony(daily), strain(daily)
    assert found is not None and total is not None, name
    assert round(float(found) * sqrt(7 / 6), 4) == ratio_n
    assert round(float(total) * sqrt(7 / 6), 1) == effort_n


def test_m1_a_week_without_variation_is_undefined() -> None:
    assert monotony([300] * 7) is None  # week D of the same table: standard deviation 0


@pytest.mark.parametrize(("sessions", "ratio"), EQUAL)
@pytest.mark.parametrize("size", [1, 240, 977])
def test_m1_equal_sessions_follow_the_closed_form(sessions: int, ratio: float, size: int) -> None:
    found = monotony([size] * sessions + [0] * (7 - sessions))
    assert found is not None
    assert float(found) == pytest.approx(sqrt(6 * sessions / (7 * (7 - sessions))), rel=1e-15)
    assert round(float(found), 4) == ratio


def test_m1_a_published_mean_and_deviation_give_the_published_monotony() -> None:
    # BMJ Military Health 2022;168(4):314-319, doi 10.1136/bmjmilitary-2020-001590, table 1 (C1): 790/897 = 0.88.
    # Its daily values are not printed, so three equal sessions are moved to that mean and sample deviation.
    shape = np.array([0, 1, 0, 1, 0, 1, 0], dtype=float)
    daily = 790 + 897 * (shape - shape.mean()) / shape.std(ddof=1)
    found = monotony([Decimal(load) for load in daily])
    assert found is not None
    assert round(float(found), 2) == 0.88
    assert float(found) == pytest.approx(790 / 897, rel=1e-12)


def test_m1_random_weeks_agree_with_numpy() -> None:
    chance = random.Random(3)
    for _round in range(300):
        daily = [chance.choice([0, chance.randint(1, 1500)]) for _ in range(7)]
        found = monotony(daily)
        if len(set(daily)) == 1:
            assert found is None
        else:
            assert found is not None
            assert float(found) == pytest.approx(np.mean(daily) / np.std(daily, ddof=1), rel=1e-12)


@pytest.mark.parametrize(("rpe", "minutes", "load"), [(5, 60, 300), (7, 60, 420), (4, 90, 360), (10, 1, 10)])
def test_m1_session_load_is_session_rpe_times_minutes(rpe: int, minutes: int, load: int) -> None:
    # Foster C et al. J Strength Cond Res 2001;15(1):109-115 (method C1; products CALC).
    assert session_load(rpe, minutes) == load


@pytest.mark.parametrize("confidence", [0.9, 0.95])
def test_m4_slope_and_interval_agree_with_scipy(confidence: float) -> None:
    # Theil 1950 and Sen 1968 (M), as implemented in scipy.stats.theilslopes; ties in both axes included.
    chance = random.Random(8)
    compared = 0
    for _round in range(200):
        count = chance.randint(5, 25)
        points = [(chance.randint(0, 30), chance.randint(0, 40)) for _ in range(count)]
        trend = theil_sen(points, confidence=confidence)
        if len({x for x, _y in points}) == 1:
            assert trend is None
            continue
        theirs = stats.theilslopes(
            [y for _x, y in points], [x for x, _y in points], alpha=confidence, method="separate"
        )
        assert trend is not None
        ours = [float(value) for value in (trend.slope, trend.intercept, trend.low, trend.high)]
        assert ours == pytest.approx([float(value) for value in theirs], abs=1e-12)
        compared += 1
    assert compared > 150
