"""K3, K4 and K5 as they reach a target: adjustable dumbbells, added mass, bands."""

from dataclasses import replace
from decimal import Decimal

import pytest

from athletes.vocabulary import Implement
from programs.engine.facts import AdjustableDumbbells, Change, FixedMass, Holding, Kit, Load, Loading
from programs.engine.kit import is_reachable, next_load, previous_load, round_down
from tests.engine.histories import answer, asked, exposure, keys, learned, question
from tests.engine.samples import BACKPACK, BAND, DUMBBELL, GOBLET, PRESS, exercise, slot

ADJUSTABLE = Holding(Implement.ADJUSTABLE_DUMBBELL)
SETTINGS = AdjustableDumbbells(tuple(Decimal(kg) for kg in ("2.5", "5", "10", "10.5")))
BANDED = exercise("banded", 3, loading=Loading.EXTERNAL, holdings=(BAND,))
BANDS = Kit(bands=(1, 2, 4))


def dumbbell(kg: str) -> Load:
    return Load(ADJUSTABLE, kg=Decimal(kg))


@pytest.mark.parametrize(
    ("kg", "before", "after"),
    [("2.5", None, "5"), ("5", "2.5", "10"), ("10", "5", "10.5"), ("10.5", "10", None)],
)
def test_k3_the_neighbours_of_a_setting_are_the_settings_beside_it(
    kg: str, before: str | None, after: str | None
) -> None:
    kit = Kit(adjustable=SETTINGS)
    assert previous_load(kit, ADJUSTABLE, dumbbell(kg)) == (dumbbell(before) if before else None)
    assert next_load(kit, ADJUSTABLE, dumbbell(kg)) == (dumbbell(after) if after else None)


@pytest.mark.parametrize(("kg", "rounded"), [("9.9", "5"), ("10", "10"), ("99", "10.5"), ("2", None)])
def test_k3_a_computed_load_rounds_down_to_a_setting(kg: str, rounded: str | None) -> None:
    kit = Kit(adjustable=SETTINGS)
    assert round_down(kit, ADJUSTABLE, Decimal(kg)) == (dumbbell(rounded) if rounded else None)
    assert is_reachable(kit, dumbbell(kg)) is (kg == "10")


def test_k3_what_was_done_with_a_fixed_dumbbell_is_not_asked_for_with_an_adjustable_one() -> None:
    fixed = asked(12, Load(DUMBBELL, kg=Decimal(10)))
    past = learned(fixed, exposure(fixed), exposure(fixed))
    found = answer(question(GOBLET, past, kit=Kit(adjustable=SETTINGS), holding=ADJUSTABLE)).target
    assert (found.sets, found.amount, found.reps_left) == (2, 5, 4)
    assert found.load == dumbbell("5")  # the heaviest up to 8 kg, whatever was held before


@pytest.mark.parametrize(
    ("masses", "expected"),
    [(("2", "3"), "3"), (("4",), "4"), (("5", "6"), None), ((), None)],
    ids=["the heaviest up to four", "four kilograms at most", "too heavy to begin with", "none there"],
)
def test_k4_a_first_added_mass_is_one_that_is_stated(masses: tuple[str, ...], expected: str | None) -> None:
    kit = Kit(fixed=tuple(FixedMass(Implement.BACKPACK, Decimal(kg)) for kg in masses))
    target = asked(15)
    past = learned(
        target, exposure(target, slug="press-up"), exposure(target, slug="press-up"), slug="press-up"
    )
    found = answer(question(PRESS, past, kit=kit, holding=BACKPACK)).target
    assert found.load == (Load(BACKPACK, kg=Decimal(expected)) if expected else None)


def test_k4_the_masses_of_two_backpacks_are_not_added_up() -> None:
    kit = Kit(fixed=tuple(FixedMass(Implement.BACKPACK, Decimal(kg)) for kg in (2, 3)))
    assert next_load(kit, BACKPACK, Load(BACKPACK, kg=Decimal(3))) is None
    assert not is_reachable(kit, Load(BACKPACK, kg=Decimal(5)))


@pytest.mark.parametrize(
    ("reps", "band", "amount", "change"),
    [(15, 1, 16, Change.MORE_REPS), (19, 1, 20, Change.MORE_REPS), (20, 2, 5, Change.MORE_LOAD)],
)
def test_k5_the_next_band_is_earned_with_20_reps_since_its_step_is_unknown(
    reps: int, band: int, amount: int, change: Change
) -> None:
    target = asked(reps, Load(BAND, band=1))
    past = learned(target, exposure(target, slug="banded"), exposure(target, slug="banded"), slug="banded")
    decision = answer(question(BANDED, past, kit=BANDS, holding=BAND, slot=slot(low=5, high=20)))
    assert (decision.target.load, decision.target.amount) == (Load(BAND, band=band), amount), keys(decision)
    assert decision.change is change


def test_k5_a_level_that_is_not_there_is_passed_over() -> None:
    target = replace(asked(20), load=Load(BAND, band=2))
    past = learned(target, exposure(target, slug="banded"), exposure(target, slug="banded"), slug="banded")
    found = answer(question(BANDED, past, kit=BANDS, holding=BAND)).target
    assert found.load == Load(BAND, band=4)
    assert next_load(BANDS, BAND, found.load) is None
