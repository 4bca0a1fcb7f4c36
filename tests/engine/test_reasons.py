"""The catalogue of rules holds every id that the engine and triage give, and every key they give has a sentence."""

import ast
import importlib
import pkgutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from programs import engine
from programs.engine.reasons import RULES, Kind

BESIDE = ("triage", "sites", "soreness", "screening", "readiness")
ROOT = Path(__file__).parents[2]
PATHS = [
    *sorted((ROOT / "programs" / "engine").glob("*.py")),
    *(ROOT / f"athletes/{name}.py" for name in BESIDE),
]


def modules() -> Iterator[str]:
    yield from (
        f"programs.engine.{one.name}" for one in pkgutil.iter_modules(engine.__path__) if one.name[0] != "_"
    )
    yield from (f"athletes.{name}" for name in BESIDE)


KEYS = {key for name in modules() for key in getattr(importlib.import_module(name), "REASONS", {})}


def words_of(node: ast.expr | None) -> Iterator[str]:
    """The texts that an argument may be: one, or either of a conditional expression."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from words_of(node.body)
        yield from words_of(node.orelse)


def calls(tree: ast.AST) -> Iterator[tuple[ast.expr, ast.expr]]:
    """The rule and the key of each reason or finding that the code makes."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        if node.func.id == "Reason" and len(node.args) >= 2:
            yield node.args[0], node.args[1]
        if node.func.id == "Finding" and len(node.args) >= 3:
            yield node.args[1], node.args[2]


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.name)
def test_every_rule_and_key_that_the_code_names_is_in_the_catalogues(path: Path) -> None:
    for rule, key in calls(ast.parse(path.read_text("utf-8"))):
        assert set(words_of(rule)) <= set(RULES)
        assert set(words_of(key)) <= KEYS


def test_the_code_that_is_read_here_makes_most_reasons() -> None:
    # Were the code to make its reasons another way, the test above would find nothing and say so nowhere.
    found = {
        word
        for path in PATHS
        for _rule, key in calls(ast.parse(path.read_text("utf-8")))
        for word in words_of(key)
    }
    assert len(found) > 0.6 * len(KEYS)


def test_the_catalogue_holds_each_rule_by_its_number() -> None:
    # Numbers without gaps, so that a rule that is lost or misnamed shows.
    counts = {"Q": 2, "K": 7, "L": 2, "S": 5, "H": 3, "P": 12, "Y": 3, "W": 3, "D": 3, "M": 4, "I": 15}
    numbered = {f"{letter}{number}" for letter, count in counts.items() for number in range(1, count + 1)}
    assert set(RULES) == numbered | {f"T{number}" for number in range(6)}


def test_where_a_rule_is_from_is_told_as_it_is_stored() -> None:
    assert [kind.value for kind in Kind] == ["published", "practice", "ours"]
    assert {rule.kind for rule in RULES.values()} == set(Kind)


def test_every_rule_says_what_it_is_about_and_a_published_one_by_whom() -> None:
    for rule_id, rule in RULES.items():
        assert rule.title and rule.title[0].isupper() and not rule.title.endswith(".")
        assert rule.source or rule.kind is not Kind.PUBLISHED, rule_id
        assert rule.kind is not Kind.OURS or not rule.source


def test_every_published_rule_is_named_with_its_source_in_a_module() -> None:
    prose = "\n".join(path.read_text("utf-8") for path in PATHS)
    for rule_id, rule in RULES.items():
        if rule.kind is Kind.PUBLISHED and rule_id not in {
            "P11",
            "P12",
            "K7",
        }:  # which no module carries out for a rider yet
            assert rule.source.split()[0].rstrip(",") in prose, rule_id
