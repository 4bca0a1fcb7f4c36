"""docs/rules.md: it has every rule, names only tests that exist, and was written by a run in which all passed."""

import ast
import re
from functools import cache

import pytest

from programs.engine.reasons import RULES
from tests.rule_page import GROUPS, PAGE, Run, rules_of, written
from tests.rule_prose import ROOT, entries_of, in_short, origins, prose_of

TESTS = ("engine", "reference", "athletes")


@cache
def page() -> dict[str, str]:
    """What the committed page says of each rule: heading to heading."""
    parts = re.split(r"^### ", PAGE.read_text("utf-8"), flags=re.MULTILINE)[1:]
    return {part.split(" ", 1)[0]: part.split("\n## ")[0] for part in parts}


@cache
def functions_of(file: str) -> frozenset[str]:
    path = ROOT / file
    tree = ast.parse(path.read_text("utf-8")) if path.exists() else ast.Module([], [])
    return frozenset(node.name for node in tree.body if isinstance(node, ast.FunctionDef))


def named_on(part: str) -> list[tuple[str, str]]:
    """The tests that a part of the page names: (file, test)."""
    found, file = [], ""
    for line in part.splitlines():
        if heading := re.fullmatch(r"`(tests/\S+)`", line):
            file = heading[1]
        elif test := re.match(r"- `(test_\w+)`: ", line):
            found.append((file, test[1]))
    return found


def test_the_page_has_every_rule_of_the_catalogue_and_no_other() -> None:
    assert list(page()) == sorted(RULES, key=lambda rule: list(GROUPS).index(rule[0]))


@pytest.mark.parametrize("rule", RULES)
def test_the_page_says_what_a_rule_is_and_where_it_comes_from(rule: str) -> None:
    part = page()[rule]
    assert part.startswith(f"{rule} {RULES[rule].title}\n")
    assert RULES[rule].source in part
    assert "In full: `" in part


@pytest.mark.parametrize("rule", RULES)
def test_the_page_names_only_tests_that_exist(rule: str) -> None:
    gone = [(file, test) for file, test in named_on(page()[rule]) if test not in functions_of(file)]
    assert gone == [], "run `make rules` and commit the page"


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_has_a_test_by_its_name_on_the_page_and_it_passed(rule: str) -> None:
    tests = named_on(page()[rule])
    assert tests and all(rule in rules_of(test) for _file, test in tests)
    assert ": all pass</summary>" in page()[rule] and not re.search(r"\d fail\*\*", page()[rule])


def test_every_rule_still_has_a_test_by_its_name() -> None:
    """Also between two runs that write the page."""
    named = {
        rule
        for folder in TESTS
        for path in (ROOT / "tests" / folder).glob("test_*.py")
        for test in functions_of(str(path.relative_to(ROOT)))
        for rule in rules_of(test)
    }
    assert set(RULES) - named == set()


# --- how it is made ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("test", "rules"),
    [
        ("test_p10_a_break", ["P10"]),
        ("test_s3_s4_the_limits", ["S3", "S4"]),
        ("test_i1_to_i3_hold", ["I1", "I2", "I3"]),
        ("test_the_page_of_p2_is_written", []),
        ("test_k_w3_the_ways", []),
    ],
)
def test_a_test_is_named_after_rules_by_its_first_words(test: str, rules: list[str]) -> None:
    assert rules_of(test) == rules


def test_prose_is_read_by_entry_without_tables_and_without_sentences_that_begin_with_an_id() -> None:
    docstring = (
        "Heading (rules P2, S1).\n\nP2  First line: the\n    second.\n\n        up to 5 %   3\n\n    Third (ours).\n"
        "S1, S2  Both.\nI12 and I13 are proven elsewhere.\n    Not part of it.\nP10 Long."
    )
    assert list(entries_of(docstring)) == [
        (["P2"], "First line: the second. Third (ours)."),
        (["S1", "S2"], "Both."),
        (["P10"], "Long."),
    ]


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_has_prose_at_the_head_of_a_module(rule: str) -> None:
    assert prose_of(rule) and len(in_short(rule)) > 10


def test_where_a_sentence_comes_from_is_read_from_its_own_words() -> None:
    said = {text: name for rule in RULES for name, text in origins(rule)}
    assert "published and from memory" in {name for name, _sentence in origins("P2")}
    assert {"published", "practice", "ours", "published and ours"} <= set(said.values())


def test_a_failure_is_written_as_one() -> None:
    run = Run()
    run.tests["P2"]["tests/engine/test_x.py::test_p2_x"].add(False)
    run.tests["P2"]["tests/engine/test_x.py::test_p2_x"].add(True)
    run.tests["P2"]["tests/engine/test_x.py::test_p2_y"].add(True)
    run.values["P2"]["step", "somebody 2009", "C1"].add(False)
    text = written(run)
    assert "1 value from outside and 2 tests: 1 fail</summary>" in text
    assert "- `test_p2_x`: **1 of 2 fail**" in text and "- `test_p2_y`: pass" in text
    assert "| step | somebody 2009 | C1 | **1 of 1 fail** |" in text


def test_the_page_is_the_same_whatever_order_the_tests_ran_in() -> None:
    one, other = Run(), Run()
    names = [f"tests/engine/test_x.py::test_p2_{letter}" for letter in "abc"]
    for run, order in ((one, names), (other, reversed(names))):
        for name in order:
            run.tests["P2"][name].add(True)
    assert written(one) == written(other)
