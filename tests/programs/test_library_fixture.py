"""The shipped exercise library keeps its rules, and is what riders with little kit and old injuries need."""

import json
import re
from collections.abc import Iterator
from decimal import Decimal
from functools import cache

import networkx
import pytest
from jsonschema import Draft202012Validator

from athletes.vocabulary import Furniture, Implement, Pattern, Region
from programs.engine.facts import Barbell, Exercise, FixedMass, Kit, Library, Loading, Measure, Part
from programs.engine.families import bottom, family, harder
from programs.engine.kit import holdings_for
from programs.engine.library import Entry, find_faults, read_entries, read_library
from programs.engine.library_schema import DOCUMENT
from tests.programs.library_documents import FIXTURES, shipped

PARTS = (Pattern.WARM_UP, Pattern.COOL_DOWN)
TRAINED = [pattern for pattern in Pattern if pattern not in PARTS]
FAMILIES = [pattern for pattern in TRAINED if pattern is not Pattern.MOBILITY]


@cache
def library() -> Library:
    return read_library(shipped())


@cache
def entries() -> dict[str, Entry]:
    return {entry.exercise.slug: entry for entry in read_entries(shipped())}


def loaded(exercise: Exercise) -> frozenset[Region]:
    return exercise.primary | exercise.secondary


@cache
def unavoidable(pattern: Pattern) -> set[Region]:
    document = next(one for one in shipped() if one["pattern"] == pattern)
    return {Region(one["region"]) for one in document["unavoidable"]}


def graph(pattern: Pattern) -> networkx.DiGraph:
    drawn: networkx.DiGraph = networkx.DiGraph()
    for one in family(library(), pattern):
        drawn.add_node(one.slug)
        drawn.add_edges_from((one.slug, edge.harder) for edge in one.edges)
    return drawn


def test_the_shipped_library_has_no_fault() -> None:
    assert [str(fault) for fault in find_faults(shipped())] == []


def test_the_published_schema_is_the_one_that_is_used() -> None:
    published = json.loads((FIXTURES / "exercises.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(published)
    assert published == DOCUMENT


def test_every_pattern_has_exercises_and_there_are_enough_of_them() -> None:
    assert {one.pattern for one in library().exercises} == set(Pattern)
    assert len(library().exercises) >= 120
    assert sum(one.pattern in TRAINED for one in library().exercises) >= 120


@pytest.mark.parametrize("pattern", TRAINED)
def test_networkx_finds_no_cycle_and_levels_that_rise(pattern: Pattern) -> None:
    drawn = graph(pattern)
    assert networkx.is_directed_acyclic_graph(drawn)
    levels = {one.slug: one.level for one in family(library(), pattern)}
    assert set(drawn) == set(levels)
    assert all(levels[easy] < levels[hard] for easy, hard in drawn.edges)


@pytest.mark.parametrize("pattern", FAMILIES)
def test_networkx_finds_one_family(pattern: Pattern) -> None:
    assert networkx.is_weakly_connected(graph(pattern))


@pytest.mark.parametrize("pattern", TRAINED)
def test_a_beginner_without_kit_can_start_every_pattern(pattern: Pattern) -> None:
    first = bottom(library(), pattern, Kit())
    assert first is not None
    assert first.level == 1
    assert not first.furniture


@pytest.mark.parametrize("pattern", FAMILIES)
def test_a_rider_without_kit_has_a_second_level_to_earn(pattern: Pattern) -> None:
    """Carrying is the one pattern where nothing more can be done with empty hands."""
    bare = [
        one.level
        for one in family(library(), pattern)
        if not one.furniture and one.loading is not Loading.EXTERNAL
    ]
    assert (max(bare) > 1) is (pattern is not Pattern.CARRY)


@pytest.mark.parametrize("pattern", TRAINED)
def test_every_region_that_can_be_spared_is_spared(pattern: Pattern) -> None:
    for region in Region:
        spared = any(region not in loaded(one) for one in family(library(), pattern))
        assert spared is (region not in unavoidable(pattern)), region


@pytest.mark.parametrize("pattern", [Pattern.SQUAT, Pattern.HINGE, Pattern.SINGLE_LEG, Pattern.CALF])
@pytest.mark.parametrize("region", [Region.SHOULDER, Region.WRIST_HAND, Region.ELBOW, Region.NECK])
def test_a_sore_arm_or_neck_leaves_leg_work_without_kit(pattern: Pattern, region: Region) -> None:
    assert any(
        region not in loaded(one) and not one.furniture and one.loading is not Loading.EXTERNAL
        for one in family(library(), pattern)
    )


@pytest.mark.parametrize("pattern", [Pattern.PUSH, Pattern.PULL, Pattern.FRONT_TRUNK])
@pytest.mark.parametrize("region", [Region.KNEE, Region.HIP, Region.ANKLE, Region.LOWER_BACK])
def test_a_sore_leg_or_back_leaves_upper_body_work(pattern: Pattern, region: Region) -> None:
    assert any(region not in loaded(one) for one in family(library(), pattern))


#: What no exercise of a main pattern can spare. Each has its reason in the family's document.
EXCEPTIONS = {
    Pattern.SQUAT: {Region.KNEE, Region.HIP, Region.FRONT_THIGH},
    Pattern.HINGE: {Region.HIP, Region.BACK_THIGH, Region.LOWER_BACK},
    Pattern.SINGLE_LEG: {Region.KNEE, Region.HIP, Region.FRONT_THIGH, Region.ANKLE},
    Pattern.PUSH: {Region.SHOULDER},
    Pattern.PULL: {Region.SHOULDER, Region.UPPER_BACK},
}


def test_the_exceptions_are_these_and_each_is_explained() -> None:
    parts = {one["pattern"]: one for one in shipped()}
    assert {pattern for pattern in TRAINED if parts[pattern]["part"] == "main"} == set(EXCEPTIONS)
    for pattern, regions in EXCEPTIONS.items():
        assert unavoidable(pattern) == regions
        assert all(len(one["why"]) > 20 for one in parts[pattern]["unavoidable"])


def test_no_region_is_loaded_by_every_family() -> None:
    """Somebody with one sore region always has something to do."""
    for region in Region:
        assert [pattern for pattern in FAMILIES if region not in unavoidable(pattern)]


@pytest.mark.parametrize("pattern", TRAINED)
def test_networkx_finds_a_way_up_to_every_exercise(pattern: Pattern) -> None:
    drawn = graph(pattern)
    levels = {one.slug: one.level for one in family(library(), pattern)}
    bottoms = {slug for slug, level in levels.items() if level == 1}
    assert {slug for slug in drawn if drawn.in_degree(slug) == 0} == bottoms
    reached = bottoms.union(*(networkx.descendants(drawn, slug) for slug in bottoms))
    assert reached == set(levels)


@pytest.mark.parametrize("pattern", FAMILIES)
def test_no_step_up_jumps_more_than_three_levels(pattern: Pattern) -> None:
    """A bar or a jump may wait for its kit or its coach; nobody gets there from the bottom in one step."""
    levels = {one.slug: one.level for one in family(library(), pattern)}
    for easy, hard in graph(pattern).edges:
        assert levels[hard] - levels[easy] <= 3, (easy, hard)
        assert levels[hard] - levels[easy] <= 2 or levels[easy] > 1, (easy, hard)


# --- where a rider with the usual kit ends ----------------------------------------------------------------------------

HOME = frozenset({Furniture.CHAIR, Furniture.STEP, Furniture.TOWEL, Furniture.TABLE})
GYM = frozenset(Furniture)
PAIRS = tuple(FixedMass(Implement.DUMBBELL, Decimal(kg), 2) for kg in (4, 6, 8))
BELL = (FixedMass(Implement.KETTLEBELL, Decimal(12)),)
BELLS = tuple(FixedMass(Implement.KETTLEBELL, Decimal(kg), 2) for kg in (8, 12, 16))
BAR = Barbell(Decimal(20), disc_pairs=((Decimal(10), 2), (Decimal("2.5"), 2)))
KITS = {
    "nothing": Kit(),
    "no weights": Kit(furniture=HOME),
    "bands": Kit(furniture=HOME, bands=(1, 2, 3)),
    "one bell": Kit(furniture=HOME, fixed=BELL),
    "dumbbells": Kit(furniture=HOME, fixed=PAIRS),
    "barbell": Kit(furniture=HOME | {Furniture.BENCH, Furniture.RACK_WITH_SAFETIES}, barbell=BAR),
    "gym": Kit(furniture=GYM, fixed=(*PAIRS, *BELLS), barbell=BAR, bands=(1, 2, 3)),
}
#: Exercises that lead no further below the highest that the kit allows, and why that is right.
ENDS = {
    "one-leg-hinge": "what is harder lies on the floor or is loaded",
    "standing-press": "goes on by load; what is harder is another push",
    "standing-one-arm-press": "goes on by load; what is harder is another push",
    "one-arm-door-frame-row": "what is harder needs a high bar or a low one",
    "hip-swing": "goes on by load; a jump is earned by landings, not by swings",
}


def climbed(pattern: Pattern, kit: Kit) -> tuple[set[str], set[str]]:
    """What is reached from the bottom with the kit, and what of the family could be done with it."""
    fits = {one.slug for one in family(library(), pattern) if holdings_for(one, kit)}
    drawn = graph(pattern).subgraph(fits)
    bottoms = {slug for slug in fits if entries()[slug].exercise.level == 1}
    return bottoms.union(*(networkx.descendants(drawn, slug) for slug in bottoms)), fits


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("pattern", FAMILIES)
def test_whatever_a_kit_allows_can_be_earned_with_it(pattern: Pattern, kit: str) -> None:
    reached, fits = climbed(pattern, KITS[kit])
    assert fits - reached == set()


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("pattern", FAMILIES)
def test_no_rider_is_stuck_below_the_highest_that_the_kit_allows(pattern: Pattern, kit: str) -> None:
    reached, _fits = climbed(pattern, KITS[kit])
    levels = {slug: entries()[slug].exercise.level for slug in reached}
    drawn = graph(pattern).subgraph(reached)
    stuck = {slug for slug in reached if drawn.out_degree(slug) == 0 and levels[slug] < max(levels.values())}
    assert stuck <= set(ENDS)


def test_the_ends_are_all_needed() -> None:
    found: set[str] = set()
    for pattern in FAMILIES:
        for kit in KITS.values():
            reached, _fits = climbed(pattern, kit)
            drawn = graph(pattern).subgraph(reached)
            top = max(entries()[slug].exercise.level for slug in reached)
            found |= {
                slug
                for slug in reached
                if not drawn.out_degree(slug) and entries()[slug].exercise.level < top
            }
    assert found == set(ENDS)


def test_what_is_easier_is_what_leads_here() -> None:
    pairs = {(easy, step.slug) for easy, entry in entries().items() for step in entry.harder}
    back = {(step.slug, hard) for hard, entry in entries().items() for step in entry.easier}
    assert pairs == back
    assert pairs == {
        (one.slug, other.slug) for one in library().exercises for other in harder(library(), one.slug)
    }


def test_every_criterion_can_be_met_under_eighteen() -> None:
    """S3: 6 to 15 reps, 1 to 3 sets (NSCA 2009, numbers from memory)."""
    for one in library().exercises:
        for edge in one.edges:
            assert edge.criterion.sets <= 3
            assert one.measure is Measure.HOLD or 6 <= edge.criterion.value <= 15


def test_no_barbell_squat_or_press_does_without_a_rack() -> None:
    """W3."""
    over_the_body = [
        one
        for one in library().exercises
        if one.pattern in (Pattern.SQUAT, Pattern.PUSH, Pattern.SINGLE_LEG)
        and any(holding.implement is Implement.BARBELL for holding in one.holdings)
    ]
    assert over_the_body
    assert all(one.needs_safeties and "rack-with-safeties" in one.furniture for one in over_the_body)
    assert not any(one.for_beginners for one in over_the_body)


@pytest.mark.parametrize("barbell", ["barbell-deadlift", "barbell-bench-press", "barbell-back-squat"])
def test_a_barbell_is_the_last_thing_that_is_earned(barbell: str) -> None:
    one = entries()[barbell].exercise
    below = networkx.ancestors(graph(one.pattern), barbell)
    assert len({entries()[slug].exercise.level for slug in below}) >= 3
    assert entries()[barbell].harder == ()


def test_only_power_jumps_and_the_engine_keeps_that_from_those_who_must_not() -> None:
    """`programs.engine.power` bars what is not for beginners to the new, the growing and riders from 65."""
    jumps = [entry.exercise for entry in entries().values() if entry.has_impact]
    assert {one.slug for one in jumps} == {"small-step-jump", "small-squat-jump"}
    assert all(one.pattern is Pattern.POWER and not one.for_beginners for one in jumps)


def test_balance_always_starts_with_both_feet_down() -> None:
    first = bottom(library(), Pattern.BALANCE, Kit())
    assert first is not None
    assert first.slug == "feet-together-stand"
    assert all(one.trains_balance for one in family(library(), Pattern.BALANCE))


def test_a_warm_up_begins_with_light_aerobic_work_and_spares_a_sore_foot() -> None:
    march, pedal = family_of_parts(Pattern.WARM_UP)[:2]
    assert (march.slug, pedal.slug) == ("warm-up-march", "warm-up-pedal")
    assert march.low >= 120
    assert Region.FOOT_HEEL in march.primary
    assert Region.FOOT_HEEL not in loaded(pedal)


def family_of_parts(pattern: Pattern) -> tuple[Exercise, ...]:
    return tuple(one for one in library().exercises if one.pattern is pattern)


def test_every_pattern_of_a_day_has_its_rehearsal_and_its_cool_down() -> None:
    for pattern in FAMILIES:
        if pattern is not Pattern.BALANCE:
            assert f"warm-up-{pattern}" in entries()
            assert pattern in entries()[f"warm-up-{pattern}"].suits
        assert any(
            pattern in entry.suits for entry in entries().values() if entry.exercise.part is Part.COOL_DOWN
        )


# Segment masses as fractions of body mass: Winter, Biomechanics and Motor Control of Human Movement, 3rd ed. 2005,
# after Dempster 1955.
FOOT, FOOT_AND_LEG, FOREARM_AND_HAND = Decimal("0.0145"), Decimal("0.061"), Decimal("0.022")


@pytest.mark.parametrize(
    ("slug", "share"),
    [
        ("squat", 1 - 2 * FOOT_AND_LEG),
        ("barbell-back-squat", 1 - 2 * FOOT_AND_LEG),
        ("one-leg-chair-squat", 1 - FOOT_AND_LEG),
        ("heel-raise", 1 - 2 * FOOT),
        ("one-leg-heel-raise", 1 - FOOT),
        ("pull-up", 1 - 2 * FOREARM_AND_HAND),
    ],
)
def test_the_share_of_body_mass_follows_published_segment_masses(slug: str, share: Decimal) -> None:
    assert entries()[slug].body_mass_share == share
    assert "Dempster 1955" in entries()[slug].body_mass_source


def test_push_ups_take_the_measured_share_of_body_mass() -> None:
    """Ebben et al., J Strength Cond Res 2011;25(10):2891-2894; the values are from memory, and the library says so."""
    shares = {
        slug: entries()[slug].body_mass_share for slug in ("knee-push-up", "push-up", "feet-raised-push-up")
    }
    assert shares == {
        "knee-push-up": Decimal("0.49"),
        "push-up": Decimal("0.64"),
        "feet-raised-push-up": Decimal("0.7"),
    }
    assert "from memory" in entries()["push-up"].body_mass_source


def test_a_first_load_is_capped_where_one_can_be_added() -> None:
    """P2 (ours): 8 kg lower body, 4 kg upper."""
    for entry in entries().values():
        expected = None
        if entry.exercise.loading is not Loading.BODY:
            expected = Decimal(8) if entry.exercise.lower_body else Decimal(4)
        assert entry.first_load_cap_kg == expected


def test_new_words_keep_the_digest_and_a_new_region_changes_it() -> None:
    documents = shipped()
    documents[0]["exercises"][0]["purpose"] = "Other words."
    assert read_library(documents).digest == library().digest
    documents[0]["exercises"][0]["regions"]["secondary"].append("knee")
    assert read_library(documents).digest != library().digest


def test_the_digest_does_not_depend_on_the_order_of_files() -> None:
    assert read_library(reversed(shipped())).digest == library().digest


def lines() -> Iterator[tuple[str, str]]:
    for slug, entry in entries().items():
        yield slug, entry.name
        yield slug, entry.purpose
        yield from ((slug, line) for line in (*entry.set_up, *entry.cues))
        yield from ((slug, words) for fault in entry.faults for words in (fault.see, fault.say))
        yield from ((slug, note.words) for note in entry.leave_out)
        yield from ((slug, step.words) for step in entry.harder)
        yield from ((slug, substitute.when) for substitute in entry.substitutes)


def test_no_line_cheers_or_writes_a_tempo_as_digits() -> None:
    wrong = [line for line in lines() if "!" in line[1] or re.search(r"\d\s*[-/]\s*\d\s*[-/]\s*\d", line[1])]
    assert wrong == []


def test_a_cue_and_its_fault_read_at_arms_length() -> None:
    long = [
        words
        for entry in entries().values()
        for words in (*entry.cues, *(fault.say for fault in entry.faults))
        if len(words) > 60
    ]
    assert long == []


@pytest.mark.parametrize("slug", ["heel-raise", "seated-heel-raise", "cool-down-calf"])
def test_a_swollen_calf_is_sent_to_medical_help(slug: str) -> None:
    """T4: calf swelling is a warning symptom."""
    words = [note.words for note in entries()[slug].leave_out if note.region is Region.CALF]
    assert any("swollen" in line and "medical help now" in line for line in words)
