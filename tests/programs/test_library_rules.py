"""Each rule of the exercise library, shown by a fault planted in a small sound document."""

from collections.abc import Callable

import networkx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.engine.library import FaultyLibraryError, find_faults, read_library
from tests.programs.library_documents import Row, document, exercise, sound, step, warm_up

type Plant = Callable[[dict[str, Row]], object]


def plant(change: Plant) -> Row:
    """The sound document after the change, which sees its exercises by slug and the document under ``"*"``."""
    whole = sound()
    change({**{row["slug"]: row for row in whole["exercises"]}, "*": whole})
    return whole


def reports(faults: list[tuple[str, str]], exercise: str, field: str) -> bool:
    return (exercise, field) in faults


def test_the_sound_documents_have_no_fault() -> None:
    assert find_faults([sound(), warm_up()]) == []


def edit(slug: str, *path: str | int, to: object) -> Plant:
    """A change of one value, at a path into an exercise (or into the document, slug ``"*"``)."""

    def change(rows: dict[str, Row]) -> None:
        place: Row = rows[slug]
        for key in path[:-1]:
            place = place[key]  # type: ignore[index]
        place[path[-1]] = to  # type: ignore[index]

    return change


def leave(slug: str, field: str) -> Plant:
    return lambda rows: rows[slug].pop(field)


def many(*changes: Plant) -> Plant:
    return lambda rows: [change(rows) for change in changes]


BARBELL = [{"implement": "barbell", "how_many": "one"}]
BAND = [{"implement": "band", "how_many": "one"}]

SHAPE: list[tuple[str, Plant, str, str]] = [
    ("two cues are too few", edit("easy-bend", "cues", to=["Bend.", "Stand up."]), "easy-bend", "cues"),
    ("six cues are too many", edit("easy-bend", "cues", to=list("ABCDEF")), "easy-bend", "cues"),
    ("a cue does not cheer", edit("easy-bend", "cues", 0, to="Well done!"), "easy-bend", "cues.0"),
    ("a cue fits a line", edit("easy-bend", "cues", 0, to="Bend " * 20), "easy-bend", "cues.0"),
    (
        "a region is known",
        edit("easy-bend", "regions", "primary", to=["tail"]),
        "easy-bend",
        "regions.primary.0",
    ),
    (
        "an implement is known",
        edit("hard-bend", "holdings", 0, "implement", to="anvil"),
        "hard-bend",
        "holdings.0.implement",
    ),
    ("furniture is known", edit("easy-bend", "furniture", to=["sofa"]), "easy-bend", "furniture.0"),
    ("a muscle is known", edit("easy-bend", "muscles", to={"ears": 1}), "easy-bend", "muscles"),
    (
        "a muscle counts whole or half",
        edit("easy-bend", "muscles", to={"glutes": 0.7}),
        "easy-bend",
        "muscles.glutes",
    ),
    ("a pattern is known", edit("*", "pattern", to="jump"), "jump", "pattern"),
    ("a field is known", edit("easy-bend", "colour", to="plum"), "easy-bend", "colour"),
    ("a field is not missing", leave("easy-bend", "purpose"), "easy-bend", "purpose"),
    ("reps have a tempo", leave("easy-bend", "tempo"), "easy-bend", "tempo"),
    ("a hold has no tempo", edit("hard-bend", "measure", to="hold"), "hard-bend", "tempo"),
    ("a load is held somehow", leave("hard-bend", "holdings"), "hard-bend", "holdings"),
    ("body weight is not held", edit("easy-bend", "holdings", to=BAND), "easy-bend", "holdings"),
    (
        "a note says leave out",
        edit("easy-bend", "leave_out", 0, "words", to="Mind the knee."),
        "easy-bend",
        "leave_out.0.words",
    ),
    (
        "a rep criterion leaves reps",
        edit("easy-bend", "earns", 0, "criterion", to={"kind": "reps", "sets": 2, "value": 12}),
        "easy-bend",
        "earns.0.criterion.reps_left",
    ),
    (
        "a criterion is in reach under 18",
        edit("easy-bend", "earns", 0, "criterion", "value", to=16),
        "easy-bend",
        "earns.0.criterion.value",
    ),
    (
        "the first load of the lower body is at most 8 kg",
        edit("*", "first_load_cap_kg", to=4),
        "squat",
        "first_load_cap_kg",
    ),
]

MEANING: list[tuple[str, Plant, str, str]] = [
    ("a slug is used once", edit("middle-bend", "slug", to="easy-bend"), "easy-bend", "slug"),
    ("a name is used once", edit("middle-bend", "name", to="Easy bend"), "middle-bend", "name"),
    (
        "a step leads somewhere",
        edit("easy-bend", "earns", 0, "harder", to="nowhere"),
        "easy-bend",
        "earns.harder",
    ),
    ("a step leads up", edit("middle-bend", "level", to=1), "easy-bend", "earns.harder"),
    (
        "a step is given once",
        edit(
            "easy-bend",
            "earns",
            to=[step("middle-bend"), {**step("middle-bend"), "words": "2 x 12 again, 2 good reps left."}],
        ),
        "easy-bend",
        "earns.harder",
    ),
    (
        "a criterion is of the measure",
        edit("easy-bend", "earns", 0, "criterion", to={"kind": "hold", "sets": 2, "value": 12}),
        "easy-bend",
        "earns.criterion.kind",
    ),
    (
        "a criterion is within the range",
        edit("easy-bend", "earns", 0, "criterion", "value", to=5),
        "easy-bend",
        "earns.criterion.value",
    ),
    (
        "words and figures agree",
        edit("easy-bend", "earns", 0, "criterion", "value", to=10),
        "easy-bend",
        "earns.words",
    ),
    (
        "words and reps left agree",
        edit("easy-bend", "earns", 0, "criterion", "reps_left", to=3),
        "easy-bend",
        "earns.words",
    ),
    ("words say a side", edit("easy-bend", "sided", to=True), "easy-bend", "earns.words"),
    ("levels have no gap", edit("hard-bend", "level", to=4), "squat", "level"),
    (
        "each level is earned",
        many(leave("middle-bend", "earns"), leave("hard-bend", "substitutes")),
        "hard-bend",
        "level",
    ),
    ("a pattern is one family", leave("middle-bend", "earns"), "squat", "earns"),
    ("the bottom needs no furniture", edit("easy-bend", "furniture", to=["chair"]), "squat", "level 1"),
    (
        "the bottom needs no load",
        many(edit("easy-bend", "loading", to="external"), edit("easy-bend", "holdings", to=BAND)),
        "squat",
        "level 1",
    ),
    ("the bottom suits a beginner", edit("easy-bend", "for_beginners", to=False), "squat", "level 1"),
    ("a range has two ends", edit("hard-bend", "amount", to={"low": 6, "high": 6}), "hard-bend", "amount"),
    ("reps reach 15", edit("hard-bend", "amount", to={"low": 5, "high": 12}), "hard-bend", "amount"),
    ("reps start at 5 or 6", edit("hard-bend", "amount", to={"low": 8, "high": 20}), "hard-bend", "amount"),
    (
        "a hold runs to 60 s",
        many(
            edit("hard-bend", "measure", to="hold"),
            leave("hard-bend", "tempo"),
            edit("hard-bend", "amount", to={"low": 20, "high": 90}),
        ),
        "hard-bend",
        "amount",
    ),
    (
        "a region is loaded once",
        edit("easy-bend", "regions", "secondary", to=["knee", "hip"]),
        "easy-bend",
        "regions",
    ),
    (
        "an exercise loads something",
        edit("easy-bend", "regions", to={"primary": [], "secondary": []}),
        "easy-bend",
        "regions",
    ),
    (
        "what is held loads the hands",
        edit("hard-bend", "regions", "secondary", to=["hip"]),
        "hard-bend",
        "regions",
    ),
    (
        "what is worn loads the back",
        edit("hard-bend", "holdings", to=[{"implement": "vest", "how_many": "one"}]),
        "hard-bend",
        "regions",
    ),
    (
        "each region is spared",
        edit("*", "unavoidable", to=[{"region": "knee", "why": "The knee bends."}]),
        "squat",
        "regions",
    ),
    (
        "what is unavoidable cannot be spared",
        edit("easy-bend", "regions", "secondary", to=[]),
        "squat",
        "unavoidable",
    ),
    (
        "a barbell squat needs safeties",
        edit("hard-bend", "holdings", to=BARBELL),
        "hard-bend",
        "needs_safeties",
    ),
    (
        "safeties need a rack",
        many(edit("hard-bend", "needs_safeties", to=True), edit("hard-bend", "for_beginners", to=False)),
        "hard-bend",
        "furniture",
    ),
    (
        "safeties are not for beginners",
        edit("hard-bend", "needs_safeties", to=True),
        "hard-bend",
        "for_beginners",
    ),
    ("impact is not for beginners", edit("hard-bend", "impact", to=True), "hard-bend", "for_beginners"),
    ("work says when to leave it out", leave("easy-bend", "leave_out"), "easy-bend", "leave_out"),
    ("work is not a warm-up", edit("*", "part", to="warm-up"), "easy-bend", "part"),
    ("work does not say what it suits", edit("easy-bend", "suits", to=["squat"]), "easy-bend", "suits"),
    (
        "a substitute is known",
        edit("hard-bend", "substitutes", 0, "use", to="nowhere"),
        "hard-bend",
        "substitutes.use",
    ),
    (
        "nothing replaces itself",
        edit("hard-bend", "substitutes", 0, "use", to="hard-bend"),
        "hard-bend",
        "substitutes.use",
    ),
    (
        "a substitute is not harder",
        edit("easy-bend", "substitutes", to=[{"use": "hard-bend", "when": "Never."}]),
        "easy-bend",
        "substitutes.use",
    ),
    (
        "a substitute helps",
        edit("middle-bend", "substitutes", to=[{"use": "easy-bend", "when": "Never."}]),
        "middle-bend",
        "substitutes.use",
    ),
    (
        "a share of body mass has a source",
        edit("easy-bend", "body_mass_share", to={"share": 0.5, "source": "hearsay"}),
        "easy-bend",
        "body_mass_share.source",
    ),
]


@pytest.mark.parametrize(
    ("change", "where", "field"),
    [pytest.param(change, where, field, id=rule) for rule, change, where, field in (*SHAPE, *MEANING)],
)
def test_a_planted_fault_is_reported_where_it_stands(change: Plant, where: str, field: str) -> None:
    faults = find_faults([plant(change)])
    assert reports([(fault.exercise, fault.field) for fault in faults], where, field), faults
    assert all(fault.expected and fault.found for fault in faults)


PARTS: list[tuple[str, Plant, str]] = [
    ("a part says what it suits", lambda row: row.pop("suits"), "suits"),
    ("a part needs no furniture", lambda row: row.update(furniture=["bench"]), "loading"),
    ("a part suits a beginner", lambda row: row.update(for_beginners=False), "loading"),
    ("a part is no hard set", lambda row: row.update(muscles={"glutes": 0.5}), "muscles"),
    ("a part is not progressed", lambda row: row.update(earns=[step("warm-up-bend")]), "earns"),
]


@pytest.mark.parametrize(
    ("change", "field"), [pytest.param(change, field, id=rule) for rule, change, field in PARTS]
)
def test_a_planted_fault_in_a_warm_up_is_reported(change: Plant, field: str) -> None:
    whole = warm_up()
    change(whole["exercises"][0])
    found = [(fault.exercise, fault.field) for fault in find_faults([whole])]
    assert reports(found, "warm-up-bend", field), found


def test_a_warm_up_stands_in_the_part_of_that_name() -> None:
    found = find_faults([{**warm_up(), "part": "main"}])
    assert [(fault.exercise, fault.field) for fault in found] == [("warm-up-bend", "part")]


def test_a_step_to_another_pattern_is_a_fault() -> None:
    row = exercise("other-fold", 1, "middle-bend")
    other = document(row, pattern="hinge")
    found = [(fault.exercise, fault.field) for fault in find_faults([sound(), other])]
    assert ("other-fold", "earns.harder") in found


def test_a_pattern_split_over_two_documents_is_a_fault() -> None:
    apart = document(exercise("far-bend", 1))
    assert [fault.field for fault in find_faults([sound(), apart])] == ["pattern"]


def test_a_fault_says_what_was_expected_and_found() -> None:
    fault, *_ = find_faults([plant(edit("easy-bend", "cues", to=["Bend.", "Stand up."]))])
    assert str(fault) == "easy-bend: cues: expected at least 3 entries, found 2 entries"


def test_a_faulty_library_is_not_read() -> None:
    with pytest.raises(FaultyLibraryError) as caught:
        read_library([plant(edit("easy-bend", "for_beginners", to=False))])
    assert [fault.exercise for fault in caught.value.faults] == ["squat"]


@given(st.sets(st.tuples(st.integers(0, 5), st.integers(0, 5)), max_size=12))
def test_a_cycle_is_found_exactly_where_networkx_finds_one(steps: set[tuple[int, int]]) -> None:
    names = ["ash", "birch", "cedar", "elm", "fir", "oak"]
    above = {name: [names[to] for start, to in sorted(steps) if names[start] == name] for name in names}
    faults = find_faults([document(*(exercise(name, 1, *above[name]) for name in names))])
    graph = networkx.DiGraph((name, other) for name in names for other in above[name])
    assert any(fault.expected == "no cycle" for fault in faults) is not networkx.is_directed_acyclic_graph(
        graph
    )


@given(st.sets(st.tuples(st.integers(0, 5), st.integers(0, 5)), max_size=8))
def test_a_family_is_apart_exactly_where_networkx_finds_it_apart(steps: set[tuple[int, int]]) -> None:
    names = ["ash", "birch", "cedar", "elm", "fir", "oak"]
    above = {name: [names[to] for start, to in sorted(steps) if names[start] == name] for name in names}
    faults = find_faults([document(*(exercise(name, 1, *above[name]) for name in names))])
    graph = networkx.DiGraph()
    graph.add_nodes_from(names)
    graph.add_edges_from((name, other) for name in names for other in above[name])
    apart = any(fault.expected == "one connected family" for fault in faults)
    assert apart is not networkx.is_weakly_connected(graph)


def power(*, high: int = 8, left: int = 4) -> Row:
    """A document of power with one exercise and a harder one."""
    up = step("high-hop")
    up["criterion"] = {"kind": "reps", "sets": 2, "value": 8, "reps_left": left}
    up["words"] = "2 x 8, each one quick."
    low = exercise("low-hop", 1, amount={"low": 5, "high": high}, earns=[up])
    return document(low, exercise("high-hop", 2, amount={"low": 5, "high": 8}), pattern="power")


def test_power_is_few_reps_with_many_left() -> None:
    assert find_faults([power()]) == []
    (fault,) = find_faults([power(high=10)])
    assert (fault.exercise, fault.field, fault.expected) == ("low-hop", "amount", "5 or 6 to at most 8 reps")
    (fault,) = find_faults([power(left=2)])
    assert (fault.exercise, fault.field) == ("low-hop", "earns.criterion.reps_left")
