"""K1, K2 and K6 against published masses and worked plate sums.

Tags: C1 seen in the primary text; C2 in a page that restates it; CALC worked from those; M from memory, unverified.
"""

from decimal import Decimal

import pytest

from athletes.vocabulary import Implement
from programs.engine.facts import Barbell, FixedMass, Holding, Kit, Load
from programs.engine.kit import (
    discs_on_each_side,
    is_reachable,
    next_load,
    reachable_loads,
    round_down,
    step_percent,
    total_kg,
)

BAR = Holding(Implement.BARBELL)
KETTLEBELL = Holding(Implement.KETTLEBELL)

#: IWF Technical and Competition Rules and Regulations: bars 20 and 15 kg (C1), collars 2.5 kg each, discs (C2).
MEN_KG, WOMEN_KG, COLLARS_KG = Decimal(20), Decimal(15), Decimal(5)
DISCS = tuple((Decimal(kg), 2) for kg in ("25", "20", "15", "10", "5", "2.5", "2", "1.5", "1", "0.5"))
#: Kettlebell sport: permitted masses (C2, four federations).
SPORT_BELLS = (8, 12, 16, 20, 24, 28, 32, 36, 40, 44, 48)

#: Worked sums (CALC from C2): bar, collars, total, discs on each side or None when it cannot be loaded.
PLATE_SUMS = [
    ("20", "5", "100", ["25", "10", "2.5"]),
    ("20", "5", "140", ["25", "25", "5", "2.5"]),
    ("20", "5", "101", ["25", "10", "2.5", "0.5"]),
    ("20", "0", "60", ["20"]),
    ("20", "0", "62.5", None),
    ("15", "5", "57.5", None),
]


@pytest.mark.parametrize(("bar", "collars", "total", "discs"), PLATE_SUMS)
def test_k2_the_worked_plate_sums_come_out(
    bar: str, collars: str, total: str, discs: list[str] | None
) -> None:
    barbell = Barbell(Decimal(bar), Decimal(collars), DISCS)
    found = discs_on_each_side(barbell, Decimal(total))
    assert (found and [str(kg) for kg in found]) == discs
    assert is_reachable(Kit(barbell=barbell), Load(BAR, kg=Decimal(total))) is (discs is not None)


@pytest.mark.parametrize(("smallest", "step"), [("0.5", "1"), ("1.25", "2.5")])
def test_k2_the_smallest_step_of_a_bar_is_two_of_its_smallest_discs(smallest: str, step: str) -> None:
    discs = ((Decimal(5), 4), (Decimal(smallest), 8))
    totals = [
        total_kg(load) for load in reachable_loads(Kit(barbell=Barbell(MEN_KG, COLLARS_KG, discs)), BAR)
    ]
    steps = {heavier - lighter for lighter, heavier in zip(totals, totals[1:], strict=False)}
    assert min(steps) == Decimal(step)


@pytest.mark.parametrize("bar_kg", [MEN_KG, WOMEN_KG])
def test_k2_the_empty_bar_with_collars_is_the_lightest_load(bar_kg: Decimal) -> None:
    lightest = next_load(Kit(barbell=Barbell(bar_kg, COLLARS_KG, DISCS)), BAR, None)
    assert total_kg(lightest) == bar_kg + COLLARS_KG


#: Rounding a computed load down to a step (CALC, "floor" column): value, step, result.
FLOORS = [
    ("83", "2.5", "82.5"),
    ("81.25", "2.5", "80"),
    ("82.5", "5", "80"),
    ("18", "4", "16"),
    ("78.75", "2.5", "77.5"),
    ("66.67", "2.5", "65"),
]


@pytest.mark.parametrize(("kg", "step", "floor"), FLOORS)
def test_k6_a_computed_load_rounds_down_where_others_round_up(kg: str, step: str, floor: str) -> None:
    masses = (Decimal(step) * count for count in range(1, 60))
    kit = Kit(fixed=tuple(FixedMass(Implement.KETTLEBELL, mass) for mass in masses))
    load = round_down(kit, KETTLEBELL, Decimal(kg))
    assert load == Load(KETTLEBELL, kg=Decimal(floor))


#: The smallest step against the 2 to 10 % of the ACSM 2009 stand (the percentages C1, the table CALC):
#: now, step between neighbours, window from, window to, next, per cent, feasible.
FEASIBILITY = [
    ("40", "2.5", "40.80", "44.00", "42.5", "6.2", True),
    ("60", "2.5", "61.20", "66.00", "62.5", "4.2", True),
    ("100", "2.5", "102.00", "110.00", "102.5", "2.5", True),
    ("20", "2.5", "20.40", "22.00", "22.5", "12.5", False),
    ("10", "2", "10.20", "11.00", "12", "20", False),
    ("5", "1", "5.10", "5.50", "6", "20", False),
    ("8", "4", "8.16", "8.80", "12", "50", False),
    ("16", "4", "16.32", "17.60", "20", "25", False),
    ("24", "4", "24.48", "26.40", "28", "16.7", False),
    ("44", "4", "44.88", "48.40", "48", "9.1", True),
]


@pytest.mark.parametrize(("now", "step", "low", "high", "heavier", "percent", "feasible"), FEASIBILITY)
def test_p2_which_kit_can_step_by_2_to_10_per_cent(
    now: str, step: str, low: str, high: str, heavier: str, percent: str, feasible: bool
) -> None:
    mass, gap = Decimal(now), Decimal(step)
    kit = Kit(fixed=tuple(FixedMass(Implement.KETTLEBELL, mass + gap * count) for count in range(-1, 5)))
    load = Load(KETTLEBELL, kg=mass)
    found = next_load(kit, KETTLEBELL, load)
    assert found == Load(KETTLEBELL, kg=Decimal(heavier))
    rise = step_percent(load, found)
    assert rise is not None
    assert float(rise) == pytest.approx(float(percent), abs=0.0501)
    assert (mass * Decimal("1.02"), mass * Decimal("1.10")) == (Decimal(low), Decimal(high))
    assert (2 <= rise <= 10) is feasible
    within = round_down(kit, KETTLEBELL, Decimal(high))
    assert (within is not None and total_kg(within) >= Decimal(low)) is feasible


def test_p2_kettlebells_of_the_sport_meet_10_per_cent_only_from_40_kg_up() -> None:
    kit = Kit(fixed=tuple(FixedMass(Implement.KETTLEBELL, Decimal(kg)) for kg in SPORT_BELLS))
    loads = reachable_loads(kit, KETTLEBELL)
    steps = {lower.kg: step_percent(lower, upper) for lower, upper in zip(loads, loads[1:], strict=False)}
    assert [kg for kg, rise in steps.items() if rise is not None and rise <= 10] == [Decimal(40), Decimal(44)]
    assert steps[Decimal(40)] == 10
