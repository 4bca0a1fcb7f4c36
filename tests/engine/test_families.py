"""L1 the graph of a family, L2 what a slot becomes, T5 and I14 substitutes and sore regions."""

import random
from dataclasses import replace

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.vocabulary import Furniture, Pattern, Reason, Region
from programs.engine.facts import Edge, Exercise, Kit, Library, Loading
from programs.engine.families import (
    UnknownExerciseError,
    all_easier,
    bottom,
    check_library,
    criterion_for,
    easier,
    exercise_of,
    family,
    harder,
    harder_that_fit,
    loads_more,
    resolve_slot,
    siblings,
    strain_on,
)
from tests.engine.samples import (
    FRONT,
    GOBLET,
    HALL,
    HIP_SQUAT,
    LIBRARY,
    NOTHING,
    PLANK,
    PRESS,
    SIT,
    SPLIT,
    SQUAT,
    WARMING,
    exercise,
    kettlebells,
    slot,
    step_to,
)

PAIN = (Reason("T1", "pain-stops", {"region": "knee"}),)
BELLS = Kit(fixed=kettlebells(8, 12))


def names(exercises: tuple[Exercise, ...]) -> list[str]:
    return [one.slug for one in exercises]


def test_l1_a_family_is_listed_from_its_bottom_without_warm_up_exercises() -> None:
    found = names(family(LIBRARY, Pattern.SQUAT))
    assert found == ["sit-to-stand", "squat", "goblet", "hip-squat", "front", "split"]
    assert WARMING.slug not in found
    assert family(LIBRARY, Pattern.CARRY) == ()


def test_l1_a_pattern_made_only_for_warm_up_is_a_family_of_those() -> None:
    only = Library((WARMING,))
    assert names(family(only, Pattern.SQUAT)) == ["slow-squat"]


def test_l1_steps_lead_up_and_down() -> None:
    assert names(harder(LIBRARY, "goblet")) == ["front", "split"]
    assert names(easier(LIBRARY, "goblet")) == ["squat"]
    assert names(all_easier(LIBRARY, "split")) == ["goblet", "squat", "sit-to-stand"]
    assert easier(LIBRARY, "sit-to-stand") == ()
    assert names(siblings(LIBRARY, "goblet")) == ["hip-squat"]


def test_l1_each_step_carries_the_criterion_that_earns_it() -> None:
    assert criterion_for(LIBRARY, "squat", "goblet") == SQUAT.edges[0].criterion
    assert criterion_for(LIBRARY, "sit-to-stand", "goblet") is None


def test_l1_a_name_that_the_library_lacks_is_an_error() -> None:
    with pytest.raises(UnknownExerciseError, match="pistol"):
        exercise_of(LIBRARY, "pistol")


def test_l1_two_libraries_are_not_mixed_up() -> None:
    for count in range(20):
        small = Library((exercise(f"only-{count}", 1),))
        assert names(family(small, Pattern.SQUAT)) == [f"only-{count}"]
    assert len(family(LIBRARY, Pattern.SQUAT)) == 6


@pytest.mark.parametrize(
    ("pattern", "kit", "lowest"),
    [
        (Pattern.SQUAT, None, "sit-to-stand"),
        (Pattern.PUSH, NOTHING, "press-up"),
        (Pattern.CARRY, HALL, None),
    ],
)
def test_l1_the_bottom_needs_no_kit(pattern: Pattern, kit: Kit | None, lowest: str | None) -> None:
    found = bottom(LIBRARY, pattern, kit)
    assert (found and found.slug) == lowest


@pytest.mark.parametrize(
    ("what", "exercises", "problem"),
    [
        ("sound", LIBRARY.exercises, None),
        ("twice", (SIT, SIT), "sit-to-stand: listed twice"),
        ("dangling", (SIT,), "sit-to-stand: its harder exercise squat is not in the library"),
        (
            "another pattern",
            (replace(PLANK, edges=step_to("press-up")), PRESS),
            "plank: its harder exercise press-up is of another pattern",
        ),
        (
            "a cycle",
            (exercise("one", 1, edges=step_to("two")), exercise("two", 2, edges=step_to("one"))),
            "two: its harder exercise one is not of a higher level",
        ),
        (
            "a bottom that needs kit",
            (exercise("chair-squat", 1, furniture=frozenset({Furniture.CHAIR})),),
            "squat: no bottom level that needs no kit and suits a beginner",
        ),
        (
            "a bottom that must be loaded",
            (exercise("loaded", 1, loading=Loading.EXTERNAL),),
            "squat: no bottom level that needs no kit and suits a beginner",
        ),
        (
            "a bottom beyond beginners",
            (exercise("deep", 1, for_beginners=False),),
            "squat: no bottom level that needs no kit and suits a beginner",
        ),
    ],
)
def test_l1_a_library_that_breaks_the_rule_says_where(
    what: str, exercises: tuple[Exercise, ...], problem: str | None
) -> None:
    problems = check_library(Library(exercises))
    assert (problem in problems) if problem else problems == (), what


def test_l1_sound_levels_leave_no_cycle_as_networkx_sees_it() -> None:
    chance = random.Random(11)
    for _round in range(60):
        levels = [chance.randint(1, 4) for _ in range(9)]
        made = []
        for number, level in enumerate(levels):
            above = [other for other in range(9) if other != number and chance.random() < 0.25]
            edges = tuple(Edge(f"e{other}", SIT.edges[0].criterion) for other in above)
            made.append(exercise(f"e{number}", level, edges=edges))
        library = Library(tuple(made))
        graph = nx.DiGraph((one.slug, edge.harder) for one in made for edge in one.edges)
        graph.add_nodes_from(one.slug for one in made)
        if not check_library(library):
            assert nx.is_directed_acyclic_graph(graph)
        for one in made:
            assert {other.slug for other in all_easier(library, one.slug)} == nx.ancestors(graph, one.slug)


@pytest.mark.parametrize(
    ("what", "standing", "kit", "options", "expected", "keys"),
    [
        ("the rider's level", "goblet", HALL, {}, "goblet", []),
        ("no level yet: the bottom", None, NOTHING, {}, "sit-to-stand", []),
        (
            "kit forbids: the nearest easier that fits",
            "goblet",
            NOTHING,
            {},
            "squat",
            ["kit-missing", "easier-used"],
        ),
        (
            "two levels down when the nearer is barred too",
            "goblet",
            NOTHING,
            {"barred": {"squat": PAIN}},
            "sit-to-stand",
            ["kit-missing", "easier-used"],
        ),
        (
            "then a sibling",
            "goblet",
            HALL,
            {"barred": {"goblet": PAIN, "squat": PAIN, "sit-to-stand": PAIN}},
            "hip-squat",
            ["pain-stops", "sibling-used"],
        ),
        (
            "a sibling must fit the kit too",
            "goblet",
            BELLS,
            {"barred": {"goblet": PAIN, "squat": PAIN, "sit-to-stand": PAIN}},
            None,
            ["pain-stops", "nothing-fits"],
        ),
        (
            "barred without a stated reason is still barred",
            "squat",
            NOTHING,
            {"barred": {"squat": ()}},
            "sit-to-stand",
            ["not-allowed", "easier-used"],
        ),
        (
            "a beginner gets no exercise beyond beginners",
            "front",
            HALL,
            {"beginner": True},
            "goblet",
            ["not-for-beginners", "easier-used"],
        ),
        (
            "W3 alone without safeties",
            "front",
            Kit(fixed=BELLS.fixed, barbell=HALL.barbell),
            {"alone": True},
            "goblet",
            ["kit-missing", "easier-used"],
        ),
        ("W3 not alone", "front", Kit(barbell=HALL.barbell), {}, "front", []),
        (
            "a level that has left the library starts at the bottom",
            "gone",
            HALL,
            {},
            "sit-to-stand",
            ["level-unknown"],
        ),
    ],
)
def test_l2_what_a_slot_becomes(
    what: str,
    standing: str | None,
    kit: Kit,
    options: dict[str, object],
    expected: str | None,
    keys: list[str],
) -> None:
    found, reasons = resolve_slot(slot(), LIBRARY, standing=standing, kit=kit, **options)  # type: ignore[arg-type]
    assert (found and found.slug) == expected, what
    assert [reason.key for reason in reasons] == keys, what


def test_l2_a_slot_with_a_fixed_exercise_asks_for_that_one() -> None:
    fixed = slot(exercise="split")
    found, reasons = resolve_slot(fixed, LIBRARY, standing="squat", kit=HALL)
    assert (found, reasons) == (SPLIT, ())
    found, reasons = resolve_slot(fixed, LIBRARY, standing="squat", kit=BELLS)
    assert found == GOBLET
    assert reasons[-1] == Reason("L2", "easier-used", {"wanted": "split", "used": "goblet", "levels": 1})


def test_l2_a_pattern_without_a_family_is_left_out_with_the_reason() -> None:
    found, reasons = resolve_slot(slot(pattern=Pattern.CARRY), LIBRARY, standing=None, kit=HALL)
    assert found is None
    assert reasons == (Reason("L2", "no-family", {"pattern": "carry"}),)


def test_t5_a_primary_region_counts_more_than_a_secondary_one() -> None:
    assert [strain_on(GOBLET, region) for region in (Region.KNEE, Region.HIP, Region.NECK)] == [2, 1, 0]
    assert loads_more(HIP_SQUAT, GOBLET, frozenset({Region.KNEE})) is None
    assert loads_more(HIP_SQUAT, GOBLET, frozenset({Region.HIP, Region.KNEE})) is Region.HIP


def test_i14_a_sibling_that_loads_the_sore_hip_more_is_not_used() -> None:
    barred = {"goblet": PAIN, "squat": PAIN, "sit-to-stand": PAIN}
    for sore, expected in ((Region.KNEE, HIP_SQUAT), (Region.HIP, None)):
        found, _reasons = resolve_slot(
            slot(), LIBRARY, standing="goblet", kit=HALL, barred=barred, sore=frozenset({sore})
        )
        assert found == expected


def test_l1_a_harder_exercise_is_offered_only_where_it_fits() -> None:
    assert harder_that_fit(LIBRARY, "goblet", kit=HALL) == {"front", "split"}
    assert harder_that_fit(LIBRARY, "goblet", kit=HALL, beginner=True) == {"split"}
    assert harder_that_fit(LIBRARY, "goblet", kit=HALL, barred={"split": PAIN}) == {"front"}
    assert harder_that_fit(LIBRARY, "goblet", kit=BELLS) == frozenset()
    assert harder_that_fit(LIBRARY, "front", kit=HALL) == frozenset()


SQUATS = [SIT, SQUAT, GOBLET, HIP_SQUAT, FRONT, SPLIT]
ALL_KITS = st.sampled_from([NOTHING, BELLS, HALL, Kit(bands=(1,)), Kit(barbell=HALL.barbell)])


@given(
    st.sampled_from(SQUATS),
    ALL_KITS,
    st.frozensets(st.sampled_from([one.slug for one in SQUATS])),
    st.frozensets(st.sampled_from([Region.KNEE, Region.HIP, Region.FRONT_THIGH])),
    st.booleans(),
)
def test_i14_whatever_stands_in_is_allowed_fits_and_loads_no_sore_region_more(
    wanted: Exercise, kit: Kit, barred: frozenset[str], sore: frozenset[Region], beginner: bool
) -> None:
    found, reasons = resolve_slot(
        slot(),
        LIBRARY,
        standing=wanted.slug,
        kit=kit,
        barred=dict.fromkeys(barred, PAIN),
        beginner=beginner,
        sore=sore,
    )
    assert (found != wanted) == bool(reasons)  # I8: a change has a reason, no change has none
    if found is not None:
        assert found.slug not in barred
        assert found.pattern is wanted.pattern
        assert found.level <= wanted.level
        assert found.for_beginners or not beginner
        assert found.furniture <= kit.furniture
        for region in sore:
            assert strain_on(found, region) <= strain_on(wanted, region)


@given(ALL_KITS, st.frozensets(st.sampled_from([one.slug for one in SQUATS])), st.sampled_from(SQUATS))
def test_i9_one_more_barred_exercise_never_gives_a_nearer_easier_level(
    kit: Kit, barred: frozenset[str], more: Exercise
) -> None:
    def level(names: frozenset[str]) -> int:
        found, _reasons = resolve_slot(
            slot(),
            Library((SIT, SQUAT, GOBLET, FRONT, SPLIT)),
            standing="split",
            kit=kit,
            barred=dict.fromkeys(names, PAIN),
        )
        return found.level if found else 0

    # `front` is the one sibling here and no easier level, so it is kept out of the comparison.
    assert level(barred | {more.slug, "front"}) <= level(barred | {"front"})
