"""P12 against what is published about counting and amount of weekly sets, and L1 against networkx.

The caps are this project's own; here stands only what the studies say about where they lie.
"""

from decimal import Decimal

import networkx as nx
import pytest

from athletes.vocabulary import Muscle, Pattern
from programs.engine.facts import Part, Phase, Template
from programs.engine.families import all_easier, bottom, family
from programs.engine.volume import hard_sets, look_at, standing_sets
from tests.engine.histories import ADULT, asked, library_of
from tests.engine.samples import exercise, slot
from tests.engine.shipped import shipped
from tests.engine.weeks import block, facts, resolved, weekly
from tests.reference.checks import Between, Check, Confidence, against
from tests.reference.sources import ACSM_2026, IVERSEN_2021, PELLAND, RALSTON, SCHOENFELD_2017

C1, C2, CALC = Confidence.C1, Confidence.C2, Confidence.CALC
QUADS, GLUTES = Muscle.QUADRICEPS, Muscle.GLUTES
FIRST = exercise("first", 1, muscles=((QUADS, Decimal(1)),))
BESIDE = exercise("beside", 1, muscles=((GLUTES, Decimal(1)), (QUADS, Decimal("0.5"))))


@against(
    Check("P12", "weekly sets counted fractionally", f"{direct} direct, {beside} indirect", (direct, beside), count,
          PELLAND, how, "fractional sets")
    for direct, beside, count, how in ((1, 0, 1, C1), (0, 1, 0.5, C1), (4, 6, 7, CALC), (0, 9, 4.5, CALC))
)  # fmt: skip
def test_p12_an_indirect_set_counts_half(given: tuple[int, int]) -> Decimal:
    """A set that trains the muscle first of all counts one, a set of something else that it helps with a half."""
    direct, beside = given
    return hard_sets([(FIRST, direct), (BESIDE, beside)])[QUADS]


@against(
    Check("P12", "shares of a set that the shipped exercises have", part.value, part, {1, 0.5}, PELLAND, C1,
          "shares of a set")
    for part in (Part.MAIN, Part.ASSISTANCE)
)  # fmt: skip
def test_p12_the_library_counts_whole_and_half_sets_only(given: Part) -> set[Decimal]:
    return {share for one in shipped().exercises if one.part is given for _muscle, share in one.muscles}


@against(
    Check("P12", "whether a coach is told that weekly sets are few", f"{count} sets", count, told, IVERSEN_2021, C1,
          "at least four weekly sets")
    for count, told in ((1, True), (3, True), (4, False))
)  # fmt: skip
def test_p12_four_weekly_sets_are_not_few(given: int) -> bool:
    library, past = library_of(FIRST), weekly(asked(8, sets=given), slug="first")
    template = Template(1, "Legs", (slot(id="squat", sets=given),))
    week = resolved(library, blocks=(block(template),), exposures=past, standings=())
    (row,) = look_at(week.sessions, facts(exposures=past), library, Phase.BUILD, ADULT)
    assert row.sets == given
    return row.is_few


@against(
    Check("P12", "cap of weekly sets while building", "an adult", Phase.BUILD, Between(10, None), ACSM_2026, C2,
          "about ten sets for growth"),
    Check("P12", "cap of weekly sets while building", "an adult", Phase.BUILD, Between(10, None), SCHOENFELD_2017, C1,
          "under 5, 5 to 9, 10 and more"),
    Check("P12", "cap of weekly sets while learning", "an adult", Phase.LEARN, Between(5, 9), SCHOENFELD_2017, C1,
          "under 5, 5 to 9, 10 and more"),
    Check("P12", "cap of weekly sets while maintaining", "an adult", Phase.MAINTAIN, Between(1, 5), RALSTON, C1,
          "low is up to 5 sets"),
    Check("P12", "cap of weekly sets while building", "an adult", Phase.BUILD, Between(6, None), RALSTON, C1,
          "low is up to 5 sets"),
)  # fmt: skip
def test_p12_the_caps_lie_in_the_bands_of_the_studies(given: Phase) -> int:
    return standing_sets(given)


# --- L1 ---------------------------------------------------------------------------------------------------------------

PATTERNS = sorted({one.pattern for one in shipped().exercises if one.part in (Part.MAIN, Part.ASSISTANCE)})


def graph_of(pattern: Pattern) -> nx.DiGraph:
    graph = nx.DiGraph()
    for one in family(shipped(), pattern):
        graph.add_node(one.slug, level=one.level)
        graph.add_edges_from((one.slug, edge.harder) for edge in one.edges)
    return graph


@pytest.mark.parametrize("pattern", PATTERNS)
def test_l1_the_shipped_families_are_acyclic_and_rise_as_networkx_sees_them(pattern: Pattern) -> None:
    graph = graph_of(pattern)
    assert nx.is_directed_acyclic_graph(graph)
    levels = nx.get_node_attributes(graph, "level")
    assert [edge for edge in graph.edges if levels[edge[0]] >= levels[edge[1]]] == []
    assert len(list(nx.topological_generations(graph))) <= len(set(levels.values()))


@pytest.mark.parametrize("pattern", PATTERNS)
def test_l1_what_is_easier_is_what_networkx_finds_on_the_way_down(pattern: Pattern) -> None:
    graph = graph_of(pattern)
    for slug in graph:
        assert {one.slug for one in all_easier(shipped(), slug)} == nx.ancestors(graph, slug)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_l1_every_level_is_on_a_way_from_a_bottom_that_needs_no_kit(pattern: Pattern) -> None:
    graph, lowest = graph_of(pattern), bottom(shipped(), pattern)
    assert lowest is not None and not lowest.holdings and not lowest.furniture and lowest.for_beginners
    unreached = set(graph) - nx.descendants(graph, lowest.slug) - {lowest.slug}
    assert {
        slug for slug in unreached if graph.nodes[slug]["level"] > 1 and not nx.ancestors(graph, slug)
    } == set()
