"""The cases of the tests that are named after a rule, called one by one without pytest: for planted faults."""

import inspect
import sys
from collections.abc import Callable, Iterator
from functools import partial
from itertools import product
from typing import Any

from tests.rule_page import rules_of

type Case = Callable[[], object]


def cases_of(rule: str, modules: tuple[str, ...]) -> Iterator[tuple[str, Case]]:
    """Each case of the rule's tables: its name, and what runs it. Tests that draw or ask for fixtures are left out."""
    for name in modules:
        module = sys.modules[name]
        for test, function in vars(module).items():
            if rule in rules_of(test) and callable(function) and not hasattr(function, "hypothesis"):
                for number, given in enumerate(_given(function)):
                    if set(given) == set(inspect.signature(function).parameters):
                        yield f"{name}.{test}[{number}]", partial(function, **given)


def _given(function: Callable[..., object]) -> Iterator[dict[str, Any]]:
    """What the marks give the arguments, every combination."""
    tables = [mark.args for mark in getattr(function, "pytestmark", ()) if mark.name == "parametrize"]
    for rows in product(*(tuple(values) for _names, values in tables)):
        given: dict[str, Any] = {}
        for (names, _values), row in zip(tables, rows, strict=True):
            keys = [one.strip() for one in names.split(",")] if isinstance(names, str) else list(names)
            values = getattr(row, "values", row) if not isinstance(row, dict) else row
            given |= dict(zip(keys, (values,) if len(keys) == 1 and values is row else values, strict=True))
        yield given


def holds(case: Case) -> bool:
    """Whether the case passes."""
    try:
        case()
    except (Exception, BaseExceptionGroup):
        return False
    except BaseException as failed:  # pytest's own failures are no exceptions of the usual kind
        if type(failed).__name__ != "Failed":
            raise
        return False
    return True
