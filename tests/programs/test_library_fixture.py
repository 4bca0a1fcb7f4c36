"""The shipped exercise library keeps its rules, and is what riders with little kit and old injuries need."""

import json
import re
from collections.abc import Iterator
from decimal import Decimal
from functools import cache

import networkx
import pytest
from jsonschema import Draft202012Validator

from athletes.vocabulary import Implement, Pattern, Region
from programs.engine.facts import Exercise, Kit, Library, Loading, Measure, Part
from programs.engine.families import bottom, family, harder
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
    assert sum(one.pattern in TRAINED for one in library().exercises) >= 60


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


def test_nothing_jumps() -> None:
    """The engine does not know which riders must not jump, so the shipped library has no impact in it."""
    assert not any(entry.has_impact for entry in entries().values())


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
