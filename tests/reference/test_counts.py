"""How many values from outside stand here, from how many sources, and that their form tells right from wrong."""

import importlib
import pkgutil
from collections import Counter
from decimal import Decimal

import pytest

from programs.engine.reasons import RULES
from tests import reference
from tests.reference.checks import REGISTRY, Between, Check, Confidence, Source
from tests.rule_page import rules_of

LEAST_VALUES, LEAST_SOURCES, MOST_OF_A_FORMULA = 250, 25, 15


@pytest.fixture(scope="module")
def checks() -> list[Check]:
    """Every check, whichever of the modules this run has collected."""
    for module in pkgutil.iter_modules(reference.__path__):
        importlib.import_module(f"tests.reference.{module.name}")
    return [check for _test, check in REGISTRY]


def test_there_are_at_least_250_values_even_with_15_of_a_source_at_most(checks: list[Check]) -> None:
    by_source = Counter(check.source for check in checks)
    assert sum(min(count, MOST_OF_A_FORMULA) for count in by_source.values()) >= LEAST_VALUES


def test_there_are_at_least_25_sources(checks: list[Check]) -> None:
    assert len({check.source.cite.casefold() for check in checks}) >= LEAST_SOURCES


def test_no_formula_or_table_has_more_than_15_values(checks: list[Check]) -> None:
    families = Counter(check.family for check in checks)
    assert {family: count for family, count in families.items() if count > MOST_OF_A_FORMULA} == {}


def test_every_check_names_a_rule_of_the_catalogue(checks: list[Check]) -> None:
    assert {check.rule for check in checks} - set(RULES) == set()


def test_every_check_says_what_it_is_and_where_it_is_from(checks: list[Check]) -> None:
    assert [one for one in checks if not (one.what and one.source.cite and one.family)] == []
    assert [one for one in checks if not isinstance(one.confidence, Confidence)] == []


def test_no_check_agrees_with_everything(checks: list[Check]) -> None:
    """Of seven answers that have little in common each check takes one at most."""
    answers = [Decimal("-1e9"), Decimal("1e9"), object(), "nothing like it", None, True, False]
    lax = {
        one.what: found for one in checks if len(found := [each for each in answers if one.agrees(each)]) > 1
    }
    assert lax == {}


def test_no_value_is_counted_twice(checks: list[Check]) -> None:
    """Two sources may give the same value, and be checked for it; one source counts once."""
    said = Counter((one.rule, one.what, one.inputs, one.source) for one in checks)
    assert {key: count for key, count in said.items() if count > 1} == {}


def test_every_test_is_named_after_the_rules_that_it_checks(checks: list[Check]) -> None:
    assert checks
    wrong = {test for test, check in REGISTRY if check.rule not in rules_of(test.rpartition(".")[2])}
    assert wrong == set()


# --- the form itself --------------------------------------------------------------------------------------------------


def check(expected: object, tolerance: float = 0) -> Check:
    return Check("Q1", "a", "b", None, expected, Source("nobody"), Confidence.CALC, "c", tolerance)


@pytest.mark.parametrize(
    ("expected", "tolerance", "right", "wrong"),
    [
        (20, 0, Decimal("20.0"), Decimal("20.01")),
        (20.4117, 0.00005, Decimal("20.41165665"), Decimal("20.4118")),
        ("4.5359", 0, "4.5359", "4.53590"),
        (True, 0, True, 1),
        (1, 0, 1, True),
        (None, 0, None, 0),
        (5, 0.5, 5.5, 5.6),
        (5, 0.5, 4.5, None),
        (1, 0.5, 1, True),
        (Between(41, 60), 0, 60, 60.1),
        (Between(41, 60), 0, 41, 40.9),
        (Between(2, None), 0, 99, 1),
        (Between(None, 30), 0, Decimal(30), None),
        ([2, 1], 0, [2, 1], [1, 2]),
    ],
)
def test_a_check_tells_what_was_published_from_what_was_not(
    expected: object, tolerance: float, right: object, wrong: object
) -> None:
    assert check(expected, tolerance).agrees(right)
    assert not check(expected, tolerance).agrees(wrong)
