"""Each rule's tables can fail: a small fault is planted for every rule of the catalogue, and a case that is named after
that very rule must notice it, and pass again once the fault is gone.

A fault replaces one name, in its module and wherever that was imported. Those of I1 to I15 are planted in
`test_seasons`, where whole seasons notice them.
"""

import importlib
import pkgutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from types import ModuleType
from typing import Any

import pytest

from athletes.concerns import ReportKind
from programs.engine.reasons import RULES
from tests import engine
from tests.engine.cases import cases_of, holds
from tests.rule_page import rules_of

#: Where the tables are. Walks through whole seasons and values from outside have faults of their own.
TABLES = (
    *(
        f"{package.__name__}.{module.name}"
        for package in (engine,)
        for module in pkgutil.iter_modules(package.__path__)
        if module.name.startswith("test_") and module.name not in {"test_planted_bugs", "test_faults"}
        and module.name not in {"test_rule_page", "test_seasons", "test_metamorphic", "test_command_line"}
    ),
    "tests.athletes.test_screening",
    "tests.athletes.test_triage",
)  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """A name in a module that stands for something wrong. `wrong` is given what it stood for."""

    rule: str
    what: str
    place: str
    wrong: Callable[[Any], Any]


def a(value: Any) -> Callable[[Any], Any]:
    """The name stands for this instead, whatever it stood for."""
    return lambda _right: value


def answers(value: Any) -> Callable[[Any], Any]:
    """The function answers this, whatever it is asked."""
    return lambda _right: lambda *_given, **_named: value


E, A = "programs.engine", "athletes"
FAULTS = [
    Fault("Q1", "a pound of four digits", f"{E}.quantities.POUND", a(Decimal("0.4536"))),
    Fault("Q2", "weeks counted from New Year", f"{E}.quantities.week_starts_on",
          lambda _right: lambda week: date(week.year, 1, 1) + timedelta(weeks=week.number - 1)),
    Fault("K1", "one kettlebell is enough for two hands", f"{E}.kit._fixed_masses",
          lambda right: lambda kit, holding: right(kit, replace(holding, count=1))),
    Fault("K2", "discs on one side only", f"{E}.kit._barbell_masses",
          lambda _right: lambda bar: set() if bar is None else {bar.bar_kg + kg for kg, _n in bar.disc_pairs}),
    Fault("K3", "an adjustable pair made of one dumbbell", f"{E}.kit._adjustable_masses",
          lambda _right: lambda dumbbells, _count: set(dumbbells.masses) if dumbbells else set()),
    Fault("K4", "no backpack is ever filled", f"{E}.kit._fixed_masses", answers(set())),
    Fault("K5", "bands upside down", f"{E}.kit._rank",
          lambda right: lambda holding, load: -right(holding, load) if load.band else right(holding, load)),
    Fault("K6", "rounding up", f"{E}.kit.round_down",
          lambda right: lambda kit, holding, kg: right(kit, holding, kg + 4)),
    Fault("K7", "the whole body is lifted", f"{E}.effective_load.share_moved", answers(Decimal(1))),
    Fault("L1", "any session earns the next level", f"{E}.bridge.meets", answers(True)),
    Fault("L2", "nothing stands in", f"{E}.families._may_replace", answers(False)),
    Fault("S1", "a clinician's limit on the load is not read", f"{E}.descent.fitting_load",
          lambda _right: lambda _facts, load: load),
    Fault("S2", "three sets to begin with", f"{E}.strength.START_SETS", a(3)),
    Fault("S3", "the young as adults", f"{E}.strength.YOUNG_FLOOR", a(5)),
    Fault("S4", "nobody turns 50", f"{E}.strength.age_limits",
          lambda right: lambda rider: replace(right(rider), from_50=False, extra_exposures=0, min_rest_s=0)),
    Fault("S5", "everybody starts at the bottom", f"{E}.strength._best",
          lambda _right: lambda _library, passed, _kits: passed[0]),
    Fault("H1", "one history for all implements", f"{E}.history._same_implement", answers(True)),
    Fault("H2", "a new exercise the day before the race", f"{E}.context.WeekContext._is_before_priority_race",
          answers(False)),
    Fault("H3", "two reports of a day count twice", f"{E}.history.distinct", a(tuple)),
    Fault("P1", "a rep more after a hard session", f"{E}.history._effort",
          lambda right: lambda exposure, reps_left: right(exposure, 0)),
    Fault("P2", "one good session earns a load", f"{E}.load_step.EXPOSURES_FOR_A_STEP", a(1)),
    Fault("P3", "a bridge to any load", f"{E}.bridge.MOST_BRIDGE_PERCENT", a(Decimal(1000))),
    Fault("P4", "holds grow without end", f"{E}.target_facts.MOST_S", a(600)),
    Fault("P5", "three misses before a step back", f"{E}.descent.BACK_MISSES", a(3)),
    Fault("P6", "the stronger side decides", f"{E}.history.ASYMMETRY_NOTED_ABOVE", a(Decimal(10))),
    Fault("P7", "every fifth week is light", f"{E}.season.LIGHT_EVERY", a(5)),
    Fault("P8", "three sets to maintain", f"{E}.cuts.MAINTAIN_SETS", a(3)),
    Fault("P9", "a quarter less before a race", f"{E}.races.TAPER_CUT", a(25)),
    Fault("P10", "a fifth less in the first week back", f"{E}.layoff.LONG_CUTS", a((20, 20, 10, 10))),
    Fault("P11", "more reps left believed", f"{E}.estimates.MOST_LEFT_COUNTED", a(9)),
    Fault("P12", "any number of sets in a session", f"{E}.volume.SESSION_SETS", a(99)),
    Fault("T0", "what was sent stays as it was", f"{E}.easing.lower_of", lambda _right: lambda sent, _answer: sent),
    Fault("T1", "pain of 6 eased", f"{A}.sites.STOP_FROM", a(7)),
    Fault("T2", "a rise of 2 let pass", f"{A}.sites.FOLLOW_UP_RISE", a(3)),
    Fault("T3", "all soreness is pain", f"{A}.soreness.classify", answers(ReportKind.PAIN)),
    Fault("T4", "symptoms not read", f"{A}.triage.assess",
          lambda right: lambda reports, _symptoms, *rest, **named: right(reports, [], *rest, **named)),
    Fault("T5", "a stand-in that loads the sore site", f"{E}.families.loads_more", answers(None)),
    Fault("Y1", "learning is over at once", f"{E}.season.LEARNING_SESSIONS", a(0)),
    Fault("Y2", "a heavy week on the bike is as any", f"{E}.season._is_heavy", answers(False)),
    Fault("Y3", "the year never tapers", f"{E}.year._racing", answers(None)),
    Fault("W1", "a session right after a key ride", f"{E}.spots.NEAR_STRONG", a(0)),
    Fault("W2", "the runner-up is not kept", f"{E}.week._costs", answers(())),
    Fault("W3", "a barbell alone without safeties", f"{E}.week.barbell_alone", answers(None)),
    Fault("D1", "a set takes no time", f"{E}.session._work_seconds", answers(0)),
    Fault("D2", "no way between two stations", f"{E}.session._circuit_seconds",
          lambda right: lambda work, _station_s: right(work, 0)),
    Fault("D3", "everything fits", f"{E}.session._next_set", answers(None)),
    Fault("M1", "a rest day is not known", f"{E}.load.session_load",
          lambda right: lambda effort, minutes: right(effort, minutes) or None),
    Fault("M2", "a part instead of a change", f"{E}.load.change_percent",
          lambda _right: lambda old, new: 100 * new // (old or 1)),
    Fault("M3", "missed before the day is over", f"{E}.load.grace_ends_on", lambda _right: lambda planned: planned),
    Fault("M4", "no interval", f"{E}.load._kendall", answers(0)),
]  # fmt: skip


@pytest.fixture(autouse=True)
def nothing_remembered() -> Iterator[None]:
    for name in TABLES:
        importlib.import_module(name)
    forget()
    yield
    forget()


def ours() -> list[ModuleType]:
    """The modules of the rules and of their tables."""
    wanted = ("programs.engine", "athletes.", "tests.engine", "tests.reference", "tests.athletes")
    return [module for name, module in list(sys.modules.items()) if name.startswith(wanted)]


def forget() -> None:
    """Nothing that a function remembered stays."""
    for module in ours():
        for one in list(vars(module).values()):
            if callable(getattr(one, "cache_clear", None)):
                one.cache_clear()


def plant(fault: Fault, patch: pytest.MonkeyPatch) -> None:
    """The name stands for what is wrong, also where it was imported before."""
    path, name = fault.place.rsplit(".", 1)
    try:
        owner: Any = importlib.import_module(path)
    except ModuleNotFoundError:
        holder, kind = path.rsplit(".", 1)
        owner = getattr(importlib.import_module(holder), kind)
    right = vars(owner)[name]
    wrong = fault.wrong(right)
    patch.setattr(owner, name, wrong)
    for module in ours():
        if vars(module).get(name) is right:
            patch.setattr(module, name, wrong)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: f"{fault.rule} {fault.what}")
def test_the_tables_of_a_rule_notice_a_fault_in_it(fault: Fault, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        plant(fault, patch)
        forget()
        noticing = next((case for case in cases_of(fault.rule, TABLES) if not holds(case[1])), None)
    assert noticing is not None, f"no case of {fault.rule} notices: {fault.what}"
    forget()
    name, case = noticing
    assert holds(case), f"{name} fails without a fault too"


def test_every_rule_has_a_planted_fault() -> None:
    planted = {fault.rule for fault in FAULTS}
    assert planted == {rule for rule in RULES if rule[0] != "I"}
    assert len(FAULTS) == len(planted), "one line a rule"


def test_the_safety_properties_have_theirs_in_seasons() -> None:
    seasons = importlib.import_module("tests.engine.test_seasons")
    table = seasons.test_a_planted_fault_is_found.pytestmark[0].args[1]
    planted = {broken.split()[0] for broken, _plant, _shows_in in table}
    named = {rule for test in vars(seasons) for rule in rules_of(test)}
    # I13 is a property of the facts themselves: its test makes up a question that breaks it.
    assert {rule for rule in RULES if rule[0] == "I"} - planted == {"I13"}
    assert "I13" in named
