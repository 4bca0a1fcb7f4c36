"""K1 to K6: what can be loaded, and what stands next to it. W3: no barbell alone without safeties."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.vocabulary import Furniture, Implement
from programs.engine.facts import AdjustableDumbbells, Barbell, FixedMass, Holding, Kit, Load, Loading
from programs.engine.kit import (
    KitError,
    OtherHoldingError,
    discs_on_each_side,
    holdings_for,
    is_reachable,
    lighter_by,
    next_load,
    previous_load,
    reachable_loads,
    round_down,
    step_percent,
    total_kg,
)
from tests.engine.samples import (
    ADJUSTABLE_PAIR,
    BACKPACK,
    BAND,
    BARBELL,
    DUMBBELL,
    DUMBBELL_PAIR,
    FRONT,
    GOBLET,
    HALL,
    KETTLEBELL,
    KETTLEBELL_PAIR,
    NOTHING,
    SIT,
    SPLIT,
    SQUAT,
    bell,
    exercise,
    kettlebells,
)


def masses(kit: Kit, holding: Holding) -> list[str]:
    return [str(load.kg) for load in reachable_loads(kit, holding)]


@pytest.mark.parametrize(
    ("rule", "kit", "holding", "expected"),
    [
        ("K1 one of each", HALL, KETTLEBELL, ["8", "12", "16"]),
        ("K1 a pair only where two exist, however they were listed", HALL, KETTLEBELL_PAIR, ["12"]),
        (
            "K1 equal masses written differently are one",
            Kit(fixed=kettlebells("8", "8.0")),
            KETTLEBELL,
            ["8"],
        ),
        ("K1 and are a pair", Kit(fixed=kettlebells("8", "8.0")), KETTLEBELL_PAIR, ["8"]),
        ("K3 a pair of adjustables", HALL, ADJUSTABLE_PAIR, [str(kg) for kg in range(2, 21, 2)]),
        (
            "K3 one adjustable is not a pair",
            Kit(adjustable=AdjustableDumbbells((Decimal(4),))),
            ADJUSTABLE_PAIR,
            [],
        ),
        (
            "K4 stated masses of a backpack",
            Kit(fixed=(FixedMass(Implement.BACKPACK, Decimal(5)), FixedMass(Implement.BACKPACK, Decimal(2)))),
            BACKPACK,
            ["2", "5"],
        ),
        ("none", HALL, Holding(Implement.NONE), []),
        ("an implement that is not there", NOTHING, KETTLEBELL, []),
        ("no bar", NOTHING, BARBELL, []),
        ("a massless entry is no load", Kit(fixed=kettlebells(0, 8)), KETTLEBELL, ["8"]),
    ],
)
def test_k1_k3_k4_the_loads_that_exist(rule: str, kit: Kit, holding: Holding, expected: list[str]) -> None:
    assert masses(kit, holding) == expected, rule


def test_k2_a_bar_reaches_every_sum_of_its_pairs_and_no_other() -> None:
    bar = Barbell(Decimal(20), Decimal(1), ((Decimal(10), 1), (Decimal("1.25"), 2)))
    assert masses(Kit(barbell=bar), BARBELL) == ["21", "23.5", "26", "41", "43.5", "46"]


def test_k2_a_bar_without_discs_is_a_load() -> None:
    assert masses(Kit(barbell=Barbell(Decimal(15))), BARBELL) == ["15"]


def test_k2_discs_that_would_stall_the_planning_are_refused() -> None:
    odd = tuple((Decimal(1) + Decimal(3) ** power / 10**6, 4) for power in range(8))
    with pytest.raises(KitError, match="different loads"):
        reachable_loads(Kit(barbell=Barbell(Decimal(20), disc_pairs=odd)), BARBELL)


def test_k5_bands_are_ordered_by_level_and_weigh_nothing() -> None:
    loads = reachable_loads(HALL, BAND)
    assert [load.band for load in loads] == [1, 2, 3]
    assert {total_kg(load) for load in loads} == {Decimal(0)}
    assert next_load(HALL, BAND, loads[0]) == loads[1]
    assert previous_load(HALL, BAND, loads[0]) is None
    assert step_percent(loads[0], loads[1]) is None
    assert round_down(HALL, BAND, Decimal(50)) is None
    assert lighter_by(HALL, loads[2], 20) == loads[1]


@pytest.mark.parametrize(
    ("now", "lighter", "heavier"),
    [
        (None, None, bell(8)),
        (bell(8), None, bell(12)),
        (bell(12), bell(8), bell(16)),
        (bell(16), bell(12), None),
        (bell(10), bell(8), bell(12)),  # from another venue: its neighbours here
        (bell(24), bell(16), None),
        (bell("12.0"), bell(8), bell(16)),
    ],
)
def test_k6_next_and_previous_are_the_neighbours_at_that_venue(
    now: Load | None, lighter: Load | None, heavier: Load | None
) -> None:
    assert previous_load(HALL, KETTLEBELL, now) == lighter
    assert next_load(HALL, KETTLEBELL, now) == heavier


@pytest.mark.parametrize(
    ("kg", "load"), [("16", bell(16)), ("15.99", bell(12)), ("100", bell(16)), ("7.99", None)]
)
def test_k6_a_computed_load_rounds_down(kg: str, load: Load | None) -> None:
    assert round_down(HALL, KETTLEBELL, Decimal(kg)) == load


@pytest.mark.parametrize(
    ("load", "percent", "lighter"), [(bell(16), 20, bell(12)), (bell(16), 26, bell(8)), (bell(8), 10, None)]
)
def test_k6_a_lighter_load_is_at_least_that_much_lighter(
    load: Load, percent: int, lighter: Load | None
) -> None:
    assert lighter_by(HALL, load, percent) == lighter


def test_h1_a_load_is_not_looked_up_among_those_of_another_implement() -> None:
    with pytest.raises(OtherHoldingError):
        next_load(HALL, DUMBBELL, bell(8))


@pytest.mark.parametrize(
    ("before", "after", "percent"),
    [
        (bell(16), bell(20), Decimal(25)),
        (bell(8), bell(12), Decimal(50)),
        (None, bell(8), None),
        (Load(DUMBBELL_PAIR, kg=Decimal(10)), Load(DUMBBELL_PAIR, kg=Decimal(12)), Decimal(20)),
        (bell(20), bell(16), Decimal(-20)),
    ],
)
def test_p2_a_step_is_judged_on_external_mass(
    before: Load | None, after: Load, percent: Decimal | None
) -> None:
    assert step_percent(before, after) == percent


def test_k1_a_pair_weighs_twice_one() -> None:
    assert total_kg(Load(DUMBBELL_PAIR, kg=Decimal("7.5"))) == 15
    assert total_kg(None) == 0


@pytest.mark.parametrize(
    ("what", "subject", "kit", "alone", "expected"),
    [
        ("body weight needs nothing", SIT, NOTHING, True, (None,)),
        ("furniture missing", SPLIT, NOTHING, False, ()),
        ("furniture there", SPLIT, HALL, False, (None,)),
        ("may be loaded, nothing there", SQUAT, NOTHING, False, (None,)),
        ("may be loaded, bells there", SQUAT, HALL, False, (None, KETTLEBELL)),
        ("must be loaded, nothing there", GOBLET, NOTHING, False, ()),
        (
            "K3 an adjustable dumbbell is a dumbbell",
            GOBLET,
            HALL,
            False,
            (KETTLEBELL, DUMBBELL, Holding(Implement.ADJUSTABLE_DUMBBELL)),
        ),
        ("W3 alone with safeties", FRONT, HALL, True, (BARBELL,)),
        ("W3 alone without", FRONT, Kit(barbell=HALL.barbell), True, ()),
        ("W3 with others", FRONT, Kit(barbell=HALL.barbell), False, (BARBELL,)),
    ],
)
def test_k_w3_the_ways_an_exercise_can_be_done(
    what: str, subject: object, kit: Kit, alone: bool, expected: tuple[Holding | None, ...]
) -> None:
    assert holdings_for(subject, kit, alone=alone) == expected, what  # type: ignore[arg-type]


def test_w3_an_exercise_that_needs_safeties_is_still_done_with_lighter_things_alone() -> None:
    press = exercise(
        "bench-press", 2, loading=Loading.EXTERNAL, holdings=(BARBELL, DUMBBELL), needs_safeties=True
    )
    kit = Kit(fixed=HALL.fixed, barbell=HALL.barbell)
    assert holdings_for(press, kit, alone=True) == (DUMBBELL,)


# --- random kits ----------------------------------------------------------------------------------

MASS = st.decimals(min_value=Decimal("0.5"), max_value=60, places=1)
KITS = st.builds(
    Kit,
    furniture=st.frozensets(st.sampled_from(Furniture)),
    fixed=st.lists(
        st.builds(
            FixedMass,
            st.sampled_from([Implement.KETTLEBELL, Implement.DUMBBELL, Implement.VEST]),
            MASS,
            st.integers(1, 2),
        ),
        max_size=8,
    ).map(tuple),
    barbell=st.none()
    | st.builds(
        Barbell,
        st.just(Decimal(20)),
        st.just(Decimal(0)),
        st.lists(st.tuples(st.sampled_from([Decimal(5), Decimal("2.5"), Decimal(1)]), st.integers(1, 3))).map(
            lambda pairs: tuple(pairs[:4])
        ),
    ),
    bands=st.lists(st.integers(1, 5), max_size=4).map(tuple),
)
HOLDINGS = st.builds(
    Holding,
    st.sampled_from(
        [Implement.KETTLEBELL, Implement.DUMBBELL, Implement.BARBELL, Implement.VEST, Implement.BAND]
    ),
    st.integers(1, 2),
)


@given(KITS, HOLDINGS)
def test_i2_climbing_by_next_load_visits_every_reachable_load_once_and_comes_back(
    kit: Kit, holding: Holding
) -> None:
    loads = reachable_loads(kit, holding)
    climbed: list[Load] = []
    load = next_load(kit, holding, None)
    while load is not None:
        climbed.append(load)
        load = next_load(kit, holding, load)
    assert tuple(climbed) == loads
    assert all(is_reachable(kit, one) for one in loads)
    for lower, upper in zip(loads, loads[1:], strict=False):
        assert previous_load(kit, holding, upper) == lower


@given(KITS, HOLDINGS, MASS)
def test_k6_rounding_down_gives_a_reachable_load_that_is_not_heavier(
    kit: Kit, holding: Holding, kg: Decimal
) -> None:
    load = round_down(kit, holding, kg)
    lighter = [one for one in reachable_loads(kit, holding) if one.kg is not None and one.kg <= kg]
    if load is None:
        assert lighter == []
    else:
        assert is_reachable(kit, load)
        assert load.kg == max(one.kg for one in lighter if one.kg is not None)


@given(KITS, HOLDINGS, MASS, st.data())
def test_i9_with_less_kit_a_computed_load_is_never_heavier(
    kit: Kit, holding: Holding, kg: Decimal, data: st.DataObject
) -> None:
    less = Kit(
        fixed=tuple(mass for mass in kit.fixed if data.draw(st.booleans())),
        barbell=kit.barbell if data.draw(st.booleans()) else None,
    )
    assert total_kg(round_down(less, holding, kg)) <= total_kg(round_down(kit, holding, kg))


@given(KITS)
def test_k2_the_discs_for_each_side_exist_and_make_up_the_load(kit: Kit) -> None:
    for load in reachable_loads(kit, BARBELL):
        assert kit.barbell is not None and load.kg is not None
        discs = discs_on_each_side(kit.barbell, load.kg)
        assert discs is not None
        assert kit.barbell.bar_kg + kit.barbell.collars_kg + 2 * sum(discs) == load.kg
        assert list(discs) == sorted(discs, reverse=True)
        for kg in set(discs):
            there = sum(count for mass, count in kit.barbell.disc_pairs if mass == kg)
            assert discs.count(kg) <= there
