"""M1 and M2 against worked weeks, closed forms, a published table, numpy and pandas; M4 against scipy.

Foster 1998 and 2001 give monotony as mean over standard deviation and do not say which deviation. Ours is the sample
one (n - 1); what the other gives stands beside it.
"""

import random
from dataclasses import fields, is_dataclass
from datetime import date, timedelta
from decimal import Decimal
from math import sqrt

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from programs.engine import load, monitoring
from programs.engine.facts import SessionRecord, SessionState
from programs.engine.load import change_percent, daily_loads, monotony, session_load, strain, theil_sen
from programs.engine.quantities import week_of
from tests.reference.checks import Check, Confidence, against
from tests.reference.sources import ARITHMETIC, BMJ_MILITARY, FOSTER_1998, FOSTER_2001, IMPELLIZZERI

C1, CALC = Confidence.C1, Confidence.CALC
#: Weeks of session loads, Monday first, rest days 0: monotony and strain with n - 1, and with n for comparison.
WEEKS = [
    ("A", [0, 300, 420, 0, 360, 600, 240], 1.2542, 2408.0, 1.3547, 2601.0),
    ("B", [0, 180, 540, 0, 180, 900, 0], 0.7509, 1351.7, 0.8111, 1460.0),
    ("C", [420, 360, 300, 420, 360, 300, 240], 5.1355, 12325.3, 5.5470, 13312.8),
    ("E", [400, 0, 0, 0, 0, 0, 0], 0.3780, 151.2, 0.4082, 163.3),
]
EVEN = [300] * 7
#: k equal sessions in a week, any size: sqrt(6k / 7(7 - k)).
EQUAL = [(1, 0.3780), (2, 0.5855), (3, 0.8018), (4, 1.0690), (5, 1.4639), (6, 2.2678)]


@against(
    (
        Check("M1", "monotony", f"week {name}", daily, ratio, FOSTER_1998, CALC, "monotony", tolerance=5e-5)
        for name, daily, ratio, *_rest in WEEKS
    ),
    Check("M1", "monotony", "seven equal days", EVEN, None, FOSTER_1998, CALC, "monotony"),
)
def test_m1_the_monotony_of_the_worked_weeks_comes_out(given: list[int]) -> Decimal | None:
    return monotony(given)


@against(
    (
        Check("M1", "strain", f"week {name}", daily, effort, FOSTER_1998, CALC, "strain", tolerance=0.05)
        for name, daily, _ratio, effort, *_rest in WEEKS
    ),
    Check("M1", "strain", "seven equal days", EVEN, None, FOSTER_1998, CALC, "strain"),
)
def test_m1_the_strain_of_the_worked_weeks_comes_out(given: list[int]) -> Decimal | None:
    return strain(given)


@pytest.mark.parametrize(("name", "daily", "ratio", "effort", "ratio_n", "effort_n"), WEEKS)
def test_m1_the_other_standard_deviation_differs_by_a_fixed_factor(
    name: str, daily: list[int], ratio: float, effort: float, ratio_n: float, effort_n: float
) -> None:
    found, total = monotony(daily), strain(daily)
    assert found is not None and total is not None, name
    assert round(float(found) * sqrt(7 / 6), 4) == ratio_n
    assert round(float(total) * sqrt(7 / 6), 1) == effort_n
    assert float(found) * sqrt(7 / 6) == pytest.approx(np.mean(daily) / np.std(daily, ddof=0), rel=1e-12)


@against(
    Check("M1", "monotony of equal sessions", f"{sessions} of 7 days", (sessions, size), ratio, FOSTER_1998, CALC,
          "monotony of equal sessions", tolerance=5e-5)
    for (sessions, ratio), size in zip(EQUAL, (1, 240, 977, 1, 240, 977), strict=True)
)  # fmt: skip
def test_m1_equal_sessions_follow_the_closed_form(given: tuple[int, int]) -> Decimal | None:
    sessions, size = given
    found = monotony([size] * sessions + [0] * (7 - sessions))
    assert found is not None
    assert float(found) == pytest.approx(sqrt(6 * sessions / (7 * (7 - sessions))), rel=1e-15)
    return found


def test_m1_five_equal_sessions_stand_on_either_side_of_a_line_at_one_and_a_half() -> None:
    found = monotony([300] * 5 + [0, 0])
    assert found is not None
    assert float(found) < 1.5 < float(found) * sqrt(7 / 6)


@pytest.mark.parametrize("seed", range(5))
def test_m1_neither_order_nor_size_changes_monotony_and_size_scales_strain(seed: int) -> None:
    chance = random.Random(seed)
    daily = [chance.choice([0, chance.randint(1, 900)]) for _ in range(6)] + [950]
    shuffled, doubled = chance.sample(daily, 7), [2 * load for load in daily]
    to_the_last_digits = Decimal("1e-20")
    assert monotony(shuffled) == pytest.approx(monotony(daily), rel=to_the_last_digits)
    assert monotony(doubled) == pytest.approx(monotony(daily), rel=to_the_last_digits)
    assert strain(doubled) == pytest.approx(2 * (strain(daily) or 0), rel=to_the_last_digits)


@against(
    Check("M1", "monotony of a published mean and deviation", "790 and 897", (790, 897), 0.88, BMJ_MILITARY, C1,
          "published worked table", tolerance=0.005)
)  # fmt: skip
def test_m1_a_published_mean_and_deviation_give_the_published_monotony(
    given: tuple[int, int],
) -> Decimal | None:
    """The daily values are not printed, so three equal sessions are moved to that mean and sample deviation."""
    mean, deviation = given
    shape = np.array([0, 1, 0, 1, 0, 1, 0], dtype=float)
    daily = mean + deviation * (shape - shape.mean()) / shape.std(ddof=1)
    return monotony([Decimal(load) for load in daily])


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


def test_m1_daily_loads_and_their_weeks_agree_with_pandas() -> None:
    """Days without a session are zeros and not gaps; monotony over any seven days is that of a rolling window."""
    chance, first = random.Random(12), date(2026, 12, 1)
    days = [first + timedelta(days=day) for day in range(70)]
    records = [
        SessionRecord(week_of(on), 1, on, SessionState.DONE, on, minutes=minutes, session_rpe=rpe)
        for on in days
        if chance.random() < 0.6
        for minutes, rpe in [(chance.randint(20, 90), chance.randint(1, 10))]
    ]
    loads = pd.Series(
        [one.minutes * one.session_rpe for one in records if one.minutes and one.session_rpe],
        index=pd.DatetimeIndex([one.planned_on for one in records]),
    ).reindex(pd.date_range(first, periods=70), fill_value=0)
    ours = daily_loads(records, days)
    assert list(ours) == loads.tolist()
    weeks = loads.rolling(7)
    theirs = (weeks.mean() / weeks.std()).dropna()
    assert len(theirs) == 64
    for end, ratio in zip(range(7, 71), theirs, strict=True):
        found = monotony(ours[end - 7 : end])
        assert found is not None and float(found) == pytest.approx(ratio, rel=1e-9)


@against(
    Check("M1", "session RPE times minutes", f"{rpe} for {minutes} min", (rpe, minutes), effort, FOSTER_2001, C1,
          "session load")
    for rpe, minutes, effort in ((5, 60, 300), (7, 60, 420), (4, 90, 360), (10, 1, 10))
)  # fmt: skip
def test_m1_session_load_is_session_rpe_times_minutes(given: tuple[int, int]) -> int | None:
    return session_load(*given)


# --- M2 ---------------------------------------------------------------------------------------------------------------

WEEK_A = sum(WEEKS[0][1])


@against(
    Check("M2", "change in load, per cent", f"{before} to {now}", (before, now), percent, ARITHMETIC, CALC,
          "change in load")
    for before, now, percent in ((WEEK_A, 2496, 30), (WEEK_A, WEEK_A, 0), (400, 300, -25), (0, 300, None))
)  # fmt: skip
def test_m2_a_change_in_load_is_a_percentage_of_what_was_before(given: tuple[int, int]) -> Decimal | None:
    """From nothing it stays undefined, and is no infinity."""
    return change_percent(*given)


def watched_words() -> str:
    """Every name and sentence by which what is watched over weeks reaches a person or another program."""
    classes = [one for module in (load, monitoring) for one in vars(module).values() if is_dataclass(one)]
    names = [one.name for kind in classes for one in fields(kind)]
    return " ".join([*names, *load.REASONS, *load.REASONS.values()]).lower()


@against(
    Check(
        "M2",
        "whether what is watched speaks of it",
        word,
        word,
        False,
        IMPELLIZZERI,
        C1,
        "no score of a risk",
    )
    for word in ("risk", "injury", "ratio", "acute", "chronic")
)
def test_m2_load_is_described_and_never_scored_as_a_risk(given: str) -> bool:
    """Published: ratio scores predict nothing that matters (c-statistic 0.574 against 0.5 by chance)."""
    words = watched_words()
    assert "monotony" in words and "change" in words
    return given in words


# --- M4 ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("confidence", [0.9, 0.95])
def test_m4_slope_and_interval_agree_with_scipy(confidence: float) -> None:
    # Theil 1950 and Sen 1968 (from memory), as implemented in scipy.stats.theilslopes; ties in both axes included.
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
