"""The checks can fail: a fault is planted for each rule that has values from outside, and some value must notice it.

Faults are such as people make: a percentage read as what is left instead of what goes, a standard deviation of the
other kind, a limit one off. What the engine remembers is forgotten before and after each.
"""

import importlib
import pkgutil
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from statistics import mean, pstdev
from typing import Any

import pytest

from athletes import triage
from athletes.kit import Kit
from athletes.screening import Needs
from programs.engine import session, strength
from programs.engine.effective_load import SHARES, Segment
from programs.engine.facts import Week
from programs.engine.week import cheapest
from tests import reference
from tests.reference.checks import ANSWERS, REGISTRY

HERE = "tests.reference"


@dataclass(frozen=True)
class Fault:
    """A name in a module that stands for something wrong; where a test took the name itself, `module` is its own."""

    rule: str
    what: str
    module: str
    name: str
    wrong: Any


def calendar_year(on: date) -> Week:
    return Week(on.year, on.isocalendar().week)


def population(daily: list[Decimal | int | None]) -> Decimal:
    known = [Decimal(load or 0) for load in daily]
    return mean(known) / pstdev(known)


def without_symptoms(reports: Any, _symptoms: Any, *others: Any, **named: Any) -> Any:
    return triage.assess(reports, [], *others, **named)


def limits_without_balance(**named: Any) -> strength.AgeLimits:
    return strength.AgeLimits(**{**named, "balance_each_session": False})


def a_circuit_one_after_the_other(work: Any, _station_s: int) -> int:
    return session.session_seconds(work)


def days_that_touch(*given: Any, **named: Any) -> Any:
    return cheapest(*given, **{**named, "apart": 1})


FAULTS = [
    Fault("Q1", "a pound of four digits", "programs.engine.quantities", "POUND", Decimal("0.4536")),
    Fault("Q2", "the year of the date beside the week", f"{HERE}.test_weeks", "week_of", calendar_year),
    Fault(
        "K2",
        "each disc alone",
        "programs.engine.kit",
        "_sides",
        lambda bar: {kg: (kg,) for kg, _n in bar.disc_pairs},
    ),
    Fault(
        "K6",
        "the lightest load forgotten",
        f"{HERE}.test_plates",
        "round_down",
        lambda _kit, _holding, _kg: None,
    ),
    Fault(
        "K7",
        "heavy feet",
        "programs.engine.effective_load",
        "SHARES",
        {**SHARES, Segment.FOOT: Decimal("0.03")},
    ),
    Fault("K1", "nothing read", f"{HERE}.test_plates", "read_kit", lambda _text: (Kit(), ())),
    Fault(
        "S1",
        "nobody referred",
        "athletes.screening",
        "_row",
        lambda _answers: (Needs.NOTHING, "screening-clear"),
    ),
    Fault("S3", "five reps for the young", "programs.engine.strength", "YOUNG_FLOOR", 5),
    Fault("S4", "no balance work", "programs.engine.strength", "AgeLimits", limits_without_balance),
    Fault("P2", "three in a row", "programs.engine.load_step", "EXPOSURES_FOR_A_STEP", 3),
    Fault("P6", "a border of 10", "programs.engine.history", "ASYMMETRY_NOTED_ABOVE", Decimal(10)),
    Fault("P8", "maintaining after 16 weeks", "programs.engine.season", "MAINTAIN_AFTER_WEEKS", 16),
    Fault("P9", "half the cut", "programs.engine.races", "RACE_WEEK_CUT", 30),
    Fault("P10", "50, 30, 20, 10 as what is done", "programs.engine.layoff", "LONG_CUTS", (50, 70, 80, 90)),
    Fault("P11", "more reps left believed", "programs.engine.estimates", "MOST_LEFT", 9),
    Fault("P12", "three sets are enough", "programs.engine.volume", "FEW_SETS", 3),
    Fault("T1", "pain of 6 eased", "athletes.sites", "STOP_FROM", 7),
    Fault("T2", "a rise of 2 let pass", "athletes.sites", "FOLLOW_UP_RISE", 3),
    Fault("T4", "symptoms not read", f"{HERE}.test_pain_sources", "assess", without_symptoms),
    Fault("Y1", "once a week", "programs.engine.season", "USUAL_SESSIONS", 1),
    Fault("W1", "6 hours as good as 24", "programs.engine.spots", "NEAR_SLIGHT", 0),
    Fault("W2", "days that touch", f"{HERE}.test_placement_counts", "cheapest", days_that_touch),
    Fault("D1", "a warm-up of 20 minutes", "programs.engine.session", "MOST_WARM_UP", 20),
    Fault(
        "D2",
        "a circuit without pairs",
        "programs.engine.session",
        "_circuit_seconds",
        a_circuit_one_after_the_other,
    ),
    Fault("M1", "the other standard deviation", "programs.engine.load", "monotony", population),
    Fault(
        "M2",
        "a part instead of a change",
        f"{HERE}.test_monotony",
        "change_percent",
        lambda old, new: 100 * new // (old or 1),
    ),
    Fault("M4", "no interval", "programs.engine.load", "_kendall", lambda _count: 0),
]


def forget() -> None:
    """Nothing that the engine or triage remembered stays."""
    for name, module in list(sys.modules.items()):
        if name.startswith(("programs.engine", "athletes.")):
            for one in list(vars(module).values()):
                if callable(getattr(one, "cache_clear", None)):
                    one.cache_clear()


@pytest.fixture(autouse=True)
def nothing_remembered() -> Iterator[None]:
    for module in pkgutil.iter_modules(reference.__path__):
        importlib.import_module(f"{HERE}.{module.name}")
    forget()
    yield
    forget()


def noticed(rule: str) -> list[str]:
    """The values of a rule that do not come out now."""
    found = []
    for test, check in REGISTRY:
        if check.rule == rule:
            answer: Callable[[Any], Any] = ANSWERS[test]
            right = False
            with suppress(Exception):  # a fault may also break what leads to the answer
                right = check.agrees(answer(check.given))
            if not right:
                found.append(f"{check.what}, {check.inputs}")
    return found


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: f"{fault.rule} {fault.what}")
def test_a_planted_fault_is_noticed(fault: Fault, monkeypatch: pytest.MonkeyPatch) -> None:
    assert noticed(fault.rule) == []
    forget()
    monkeypatch.setattr(f"{fault.module}.{fault.name}", fault.wrong)
    assert noticed(fault.rule) != []


def test_every_rule_with_values_has_a_fault() -> None:
    assert {check.rule for _test, check in REGISTRY} - {fault.rule for fault in FAULTS} == set()
