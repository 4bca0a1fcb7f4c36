"""K1, K2, K6 and P2 against published masses, worked plate sums, and steps in load that a kit can or cannot give."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml

from athletes.kit import read_kit
from athletes.models import KitItem
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
from programs.engine.load_step import reps_to_earn
from programs.engine.quantities import shown_mass
from programs.facts.gathering import _barbell
from tests.reference.checks import Check, Confidence, against
from tests.reference.sources import ACSM_2009, ARITHMETIC, IWF, KETTLEBELL_SPORT

C2, CALC = Confidence.C2, Confidence.CALC
ROOT = Path(__file__).parents[2]
BAR = Holding(Implement.BARBELL)
KETTLEBELL = Holding(Implement.KETTLEBELL)

#: The competition's bars, both collars together, and discs.
MEN_KG, WOMEN_KG, COLLARS_KG = Decimal(20), Decimal(15), Decimal(5)
DISCS = tuple((Decimal(kg), 2) for kg in ("25", "20", "15", "10", "5", "2.5", "2", "1.5", "1", "0.5"))
SPORT_BELLS = (8, 12, 16, 20, 24, 28, 32, 36, 40, 44, 48)

#: Bar, collars, total, discs on each side or None when it cannot be loaded.
PLATE_SUMS = [
    ("20", "5", "100", ["25", "10", "2.5"]),
    ("20", "5", "140", ["25", "25", "5", "2.5"]),
    ("20", "5", "101", ["25", "10", "2.5", "0.5"]),
    ("20", "0", "60", ["20"]),
    ("20", "0", "62.5", None),
    ("15", "5", "57.5", None),
]


@against(
    Check(
        "K2",
        "discs on each side",
        f"{bar} + {collars}: {total}",
        (bar, collars, total),
        discs,
        IWF,
        CALC,
        "plates",
    )
    for bar, collars, total, discs in PLATE_SUMS
)
def test_k2_the_worked_plate_sums_come_out(given: tuple[str, str, str]) -> list[str] | None:
    bar, collars, total = (Decimal(kg) for kg in given)
    barbell = Barbell(bar, collars, DISCS)
    found = discs_on_each_side(barbell, total)
    assert is_reachable(Kit(barbell=barbell), Load(BAR, kg=total)) is (found is not None)
    return [str(kg) for kg in found] if found is not None else None


@against(
    Check(
        "K2", "least step of a bar", f"discs of {disc}", disc, Decimal(step), IWF, CALC, "least step of a bar"
    )
    for disc, step in (("0.5", "1"), ("1.25", "2.5"))
)
def test_k2_the_smallest_step_of_a_bar_is_two_of_its_smallest_discs(given: str) -> Decimal:
    discs = ((Decimal(5), 4), (Decimal(given), 8))
    loads = reachable_loads(Kit(barbell=Barbell(MEN_KG, COLLARS_KG, discs)), BAR)
    totals = [total_kg(load) for load in loads]
    return min(heavier - lighter for lighter, heavier in zip(totals, totals[1:], strict=False))


@against(
    Check("K2", "the lightest load of a bar with collars", bar, bar, Decimal(total), IWF, how, "empty bar")
    for bar, total, how in (("20", "25", CALC), ("15", "20", CALC))
)
def test_k2_the_empty_bar_with_collars_is_the_lightest_load(given: str) -> Decimal:
    return total_kg(next_load(Kit(barbell=Barbell(Decimal(given), COLLARS_KG, DISCS)), BAR, None))


@against(
    Check("K2", "a bar of which no mass is known", "", None, Decimal(20), IWF, Confidence.C1, "mass of a bar")
)
def test_k2_a_bar_without_a_mass_is_taken_for_the_standard_one(given: None) -> Decimal:
    return _barbell(KitItem(implement=Implement.BARBELL.value, kg=given)).bar_kg


#: Rounding a computed load down to a step: value, step, result. Where a nearest step would go up, this does not.
FLOORS = [
    ("83", "2.5", "82.5"),
    ("81.25", "2.5", "80"),
    ("82.5", "5", "80"),
    ("18", "4", "16"),
    ("78.75", "2.5", "77.5"),
    ("66.67", "2.5", "65"),
]


@against(
    Check(
        "K6",
        "kg rounded down to a step",
        f"{kg} by {step}",
        (kg, step),
        Decimal(floor),
        ARITHMETIC,
        CALC,
        "rounding down",
    )
    for kg, step, floor in FLOORS
)
def test_k6_a_computed_load_rounds_down_where_others_round_up(given: tuple[str, str]) -> Decimal | None:
    kg, step = (Decimal(value) for value in given)
    masses = (step * count for count in range(1, 60))
    kit = Kit(fixed=tuple(FixedMass(Implement.KETTLEBELL, mass) for mass in masses))
    load = round_down(kit, KETTLEBELL, kg)
    return load and load.kg


@pytest.mark.parametrize(
    ("kg", "shown"), [("81.25", "81.3"), ("82.65", "82.7"), ("0.05", "0.1"), ("2.45", "2.5")]
)
def test_q1_what_is_shown_rounds_half_up_where_python_rounds_to_even(kg: str, shown: str) -> None:
    assert str(shown_mass(Decimal(kg), "kg")) == shown
    assert str(round(Decimal(kg), 1)) != shown


@against(
    Check("K1", "masses read from what a coach types", "kettlebells of the sport", "kettlebell 8 to 48 by 4",
          SPORT_BELLS, KETTLEBELL_SPORT, C2, "bells of the sport"),
    Check("K1", "masses read from what a coach types", "a federation's steps of 2 kg", "kettlebell 8 to 16 by 2",
          (8, 10, 12, 14, 16), KETTLEBELL_SPORT, C2, "bells of the sport"),
)  # fmt: skip
def test_k1_the_bells_of_the_sport_are_read_from_plain_words(given: str) -> tuple[Decimal | None, ...]:
    kit, unread = read_kit(given)
    assert unread == ()
    return tuple(sorted(item.kg for item in kit.items if item.kg is not None))


@against(
    Check("K2", "discs in pairs read from what a coach types", "discs of the competition",
          "barbell 20; collars 5; discs 2 x 0.5, 2 x 1, 2 x 1.5, 2 x 2, 2 x 2.5, 2 x 5, 2 x 10, 2 x 15, 2 x 20, 2 x 25",
          sorted(kg for kg, _pairs in DISCS), IWF, C2, "discs of the competition"),
)  # fmt: skip
def test_k2_the_discs_of_the_competition_are_read_from_plain_words(given: str) -> list[Decimal]:
    kit, unread = read_kit(given)
    assert unread == ()
    (bar,) = kit.items
    assert (bar.kg, bar.collars) == (20, 5) and {pairs for _kg, pairs in bar.discs} == {1}
    return [kg for kg, _pairs in bar.discs]


@against(
    Check("K1", "bells of the invented club that the sport does not have", "its kit", "kettlebell", set(),
          KETTLEBELL_SPORT, C2, "bells of the sport")
)  # fmt: skip
def test_k1_the_invented_club_has_bells_that_there_are(given: str) -> set[int]:
    club = yaml.safe_load((ROOT / "fixtures" / "demo" / "wexenfold.yaml").read_text("utf-8"))
    found = set(masses_in(club, given))
    assert len(found) > 3
    return found - set(SPORT_BELLS)


def masses_in(part: Any, implement: str) -> Iterator[int]:
    """Every mass of an implement that is written anywhere in a part of the fixture."""
    if isinstance(part, dict):
        if part.get("implement") == implement:
            yield from part["masses"]
        for name, value in part.items():
            yield from value if name == implement else masses_in(value, implement)
    elif isinstance(part, list):
        for one in part:
            yield from masses_in(one, implement)


# --- 2 to 10 % with the kit that is there -----------------------------------------------------------------------------

#: Now, step between neighbours, window from, window to, next, per cent, feasible.
STEPS = [
    ("40", "2.5", "40.80", "44.00", "42.5", 6.25, True),
    ("60", "2.5", "61.20", "66.00", "62.5", 4.2, True),
    ("100", "2.5", "102.00", "110.00", "102.5", 2.5, True),
    ("100", "10", "102.00", "110.00", "110", 10, True),  # the upper end is inclusive
    ("20", "2.5", "20.40", "22.00", "22.5", 12.5, False),
    ("10", "2", "10.20", "11.00", "12", 20, False),
    ("5", "1", "5.10", "5.50", "6", 20, False),
    ("8", "4", "8.16", "8.80", "12", 50, False),
    ("16", "4", "16.32", "17.60", "20", 25, False),
    ("24", "4", "24.48", "26.40", "28", 16.7, False),
    ("40", "4", "40.80", "44.00", "44", 10, True),
    ("44", "4", "44.88", "48.40", "48", 9.1, True),
]


def neighbours(now: str, step: str) -> tuple[Kit, Load, Load]:
    """A kit with that step, the load now and the next one."""
    mass, gap = Decimal(now), Decimal(step)
    kit = Kit(fixed=tuple(FixedMass(Implement.KETTLEBELL, mass + gap * count) for count in range(5)))
    load = Load(KETTLEBELL, kg=mass)
    following = next_load(kit, KETTLEBELL, load)
    assert following is not None
    return kit, load, following


@against(
    Check("P2", "per cent to the next load", f"{now} by {step}", (now, step), percent, ACSM_2009, CALC,
          "step in per cent", tolerance=0.05)
    for now, step, _low, _high, _next, percent, _feasible in STEPS
)  # fmt: skip
def test_p2_the_next_load_is_so_many_per_cent_heavier(given: tuple[str, str]) -> Decimal | None:
    _kit, load, following = neighbours(*given)
    return step_percent(load, following)


@against(
    Check("P2", "the next load within 2 to 10 %", f"{now} by {step}", (now, step), feasible, ACSM_2009, CALC,
          "2 to 10 per cent with a kit")
    for now, step, _low, _high, _next, _percent, feasible in STEPS
)  # fmt: skip
def test_p2_where_the_kit_cannot_keep_to_2_to_10_per_cent_reps_come_first(given: tuple[str, str]) -> bool:
    """A step within the published range is earned with 10 reps at most; any other asks for more reps first."""
    _kit, load, following = neighbours(*given)
    percent = step_percent(load, following)
    assert percent is not None
    earned = reps_to_earn(percent, 5)
    return earned is not None and earned <= 10


@pytest.mark.parametrize(("now", "step", "low", "high", "heavier", "_percent", "feasible"), STEPS)
def test_p2_the_published_window_holds_a_load_exactly_where_it_is_feasible(
    now: str, step: str, low: str, high: str, heavier: str, _percent: float, feasible: bool
) -> None:
    kit, load, following = neighbours(now, step)
    assert following == Load(KETTLEBELL, kg=Decimal(heavier))
    within = round_down(kit, KETTLEBELL, Decimal(high))
    assert (within is not None and total_kg(within) >= Decimal(low)) is feasible
    assert within is not None and (within == load) is not feasible


@against(
    Check("P2", "lightest bell from which a step is at most 10 %", "bells of the sport", SPORT_BELLS, Decimal(40),
          KETTLEBELL_SPORT, CALC, "bells of the sport"),
    Check("P2", "lightest bell from which a step is at most 25 %", "bells of the sport", SPORT_BELLS[:6],
          Decimal(16), KETTLEBELL_SPORT, CALC, "bells of the sport"),
)  # fmt: skip
def test_p2_the_bells_of_the_sport_step_by_4_kg(given: tuple[int, ...]) -> Decimal | None:
    kit = Kit(fixed=tuple(FixedMass(Implement.KETTLEBELL, Decimal(kg)) for kg in given))
    loads = reachable_loads(kit, KETTLEBELL)
    most = 10 if len(given) == len(SPORT_BELLS) else 25
    steps = [(lower.kg, step_percent(lower, upper)) for lower, upper in zip(loads, loads[1:], strict=False)]
    return next(kg for kg, rise in steps if rise is not None and rise <= most)
