"""Values from outside that this project's code must come out at, in one form, so that they can be counted.

    @against(
        Check("Q1", "pounds in kilograms", "45 lb", given="45", expected=20.4117, tolerance=0.00005,
              source=POUND, confidence=Confidence.CALC, family="pounds in kilograms"),
        ...
    )
    def test_q1_pounds_in_kilograms_as_published(given: str) -> Decimal:
        return pounds_to_kg(Decimal(given))

The test gets `given` and never sees what is expected: it answers what the code found, and the comparison happens here.
So no check can compare a value with itself, and none can be declared without being compared. Fixtures may follow
`given`.

`family` names the formula or table that a value comes from: `test_counts.py` lets no family have more than 15 values.
"""

import inspect
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import wraps
from typing import Any

import pytest


class Confidence(StrEnum):
    """How a value is known."""

    C1 = "C1"  # seen in the primary text: a paper, a standard, its abstract
    C2 = "C2"  # seen in a page that restates the primary text
    CALC = "CALC"  # worked out from a published formula with another program than ours
    M = "from memory"  # not seen in a page; to be confirmed by a person
    PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Source:
    """Who published a value, as it is cited. Two values have the same source when the citation is the same."""

    cite: str


@dataclass(frozen=True, slots=True)
class Between:
    """What is published as a band, a limit or a direction: both ends included, None where an end is open."""

    low: float | None
    high: float | None

    def __contains__(self, found: Any) -> bool:
        return (self.low is None or self.low <= found) and (self.high is None or found <= self.high)


@dataclass(frozen=True, slots=True)
class Check:
    """One value from outside: the rule it bears on, what it is, from what, where it was published and how it is known.

    `tolerance` is absolute; 0 asks for equality. Printed decimals want half a unit of their last place.
    """

    rule: str
    what: str
    inputs: str
    given: Any
    expected: Any
    source: Source
    confidence: Confidence
    family: str
    tolerance: float = 0

    def agrees(self, found: Any) -> bool:
        """Whether what the code found is what was published."""
        is_number = isinstance(found, int | float | Decimal) and not isinstance(found, bool)
        if isinstance(self.expected, Between):
            return is_number and found in self.expected
        if isinstance(found, bool) is not isinstance(self.expected, bool):
            return False
        if not self.tolerance:
            return bool(found == self.expected)
        return is_number and abs(float(found) - float(self.expected)) <= self.tolerance * (1 + 1e-9)


#: Every check of every imported test module, with the name of its test; and what that test answers from what is given.
REGISTRY: list[tuple[str, Check]] = []
ANSWERS: dict[str, Callable[..., Any]] = {}


def against(*checks: Check | Iterable[Check]) -> Callable[[Callable[..., Any]], Callable[..., None]]:
    """Decorate a test that answers, from what is given, the value that the project's own code finds."""
    flat = [one for some in checks for one in ([some] if isinstance(some, Check) else some)]

    def decorate(answer: Callable[..., Any]) -> Callable[..., None]:
        name = f"{answer.__module__}.{answer.__name__}"
        REGISTRY.extend((name, check) for check in flat)
        ANSWERS[name] = answer

        @wraps(answer)
        def compare(check: Check, **fixtures: Any) -> None:
            found = answer(check.given, **fixtures)
            assert check.agrees(found), (
                f"{check.rule} {check.what}, {check.inputs}: the code finds {found!r}, published is "
                f"{check.expected!r} (within {check.tolerance}): {check.source.cite}, {check.confidence}"
            )

        asked = list(inspect.signature(answer).parameters.values())[1:]
        first = inspect.Parameter("check", inspect.Parameter.POSITIONAL_OR_KEYWORD)
        compare.__signature__ = inspect.Signature([first, *asked])  # type: ignore[attr-defined]
        return pytest.mark.parametrize("check", [pytest.param(check, id=check.inputs) for check in flat])(
            compare
        )

    return decorate
