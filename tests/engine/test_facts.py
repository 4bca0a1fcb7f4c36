"""The values that the engine works with: words that are stored keep their spelling, and what is left out is nothing."""

import dataclasses
import inspect
from decimal import Decimal
from typing import Any

import pytest

from programs.engine import facts
from programs.engine.codec import from_document, to_document
from programs.engine.facts import (
    Absence,
    AbsenceKind,
    AdjustableDumbbells,
    Barbell,
    Block,
    Change,
    CheckResult,
    Criterion,
    Done,
    Exercise,
    Exposure,
    FixedMass,
    Format,
    Growth,
    Holding,
    Item,
    Kit,
    Library,
    Limit,
    Load,
    Loading,
    Measure,
    Opening,
    Part,
    Phase,
    Placement,
    Race,
    Ride,
    Rider,
    SessionDecision,
    SessionRecord,
    SessionState,
    Slot,
    Standing,
    Target,
    TargetDecision,
    Template,
    WeekDecision,
    WeekFacts,
)

#: As they stand in stored facts and decisions, which are read again after years.
STORED: dict[Any, str] = {
    Measure: "reps hold",
    Loading: "body either external",
    Part: "warm-up main assistance cool-down",
    SessionState: "planned done part not-done silent",
    Growth: "yes no unknown",
    CheckResult: "pass not-yet hurts",
    AbsenceKind: "holiday illness injury other",
    Phase: "learn build maintain taper race-week rest return",
    Format: "straight circuit",
    Change: "new same more-reps more-time more-load more-sets slower bridge harder easier less-load fewer-reps "
    "fewer-sets",
}
#: What a value is taken to be where nobody says: no more than one, no load, no permission that was not given.
UNSAID: dict[Any, dict[str, Any]] = {
    Holding: {"count": 1},
    Criterion: {"reps_left": 2},
    Exercise: {
        "sided": False, "furniture": frozenset(), "holdings": (), "primary": frozenset(), "secondary": frozenset(),
        "muscles": (), "lower_s": 2, "pause_s": 0, "lift_s": 2, "for_beginners": True, "needs_safeties": False,
        "trains_balance": False, "lower_body": True, "edges": (), "suits": frozenset(), "rep_increment": 1,
    },
    FixedMass: {"count": 1},
    Barbell: {"collars_kg": Decimal(0), "disc_pairs": ()},
    AdjustableDumbbells: {"count": 1},
    Kit: {"furniture": frozenset(), "fixed": (), "barbell": None, "adjustable": None, "bands": ()},
    Load: {"kg": None, "band": None},
    Target: {"load": None, "rest_s": 90, "reps_left": 3, "lower_s": None, "bridge_load": None, "bridge_sets": 0,
             "bridge_amount": 0},
    Done: {"amounts": None, "left_amounts": None, "right_amounts": None, "load": None, "reps_left": None,
           "out_of_time": False, "held_longer": None},
    Exposure: {"done": None, "session_rpe": None, "light": False},
    SessionRecord: {"done_on": None, "minutes": None, "session_rpe": None, "patterns": frozenset()},
    Limit: {"exercise": None, "pattern": None, "region": None, "max_kg": None, "max_reps": None},
    Rider: {"may_train": True, "why_not": None, "paused": False, "trains_alone": True, "growth": Growth.UNKNOWN,
            "adult_present": False, "limits": (), "minutes_cap": None, "first_week_on": None, "agreed_steps": ()},
    Opening: {"preferred": False},
    Ride: {"key": False},
    Slot: {"exercise": None, "sets": 3, "low": None, "high": None, "rest_s": 90},
    Template: {"format": Format.STRAIGHT, "warm_up_minutes": 6, "cool_down_minutes": 4},
    Block: {"name": ""},
    WeekDecision: {"placement": None, "standings": (), "concerns": (), "may_send": True, "may_send_unapproved": True,
                   "light": False},
    TargetDecision: {"concerns": ()},
    Placement: {"costs": (), "runner_up": None, "runner_up_costs": (), "dropped": 0, "reasons": ()},
    SessionDecision: {"left_out": (), "reasons": ()},
    Library: {"digest": ""},
    Standing: {"since_on": None},
    Absence: {"kind": AbsenceKind.HOLIDAY},
    Item: {"previous": None},
}  # fmt: skip


@pytest.mark.parametrize("kind", STORED, ids=lambda kind: kind.__name__)
def test_i8_what_is_stored_keeps_its_spelling(kind: Any) -> None:
    assert [one.value for one in kind] == STORED[kind].split()
    for one in kind:
        assert from_document(kind, to_document(one)) is one


@pytest.mark.parametrize("kind", UNSAID, ids=lambda kind: kind.__name__)
def test_what_nobody_says_is_taken_as_the_plain_case(kind: Any) -> None:
    given = inspect.signature(kind.__init__).parameters
    for name, value in UNSAID[kind].items():
        assert given[name].default == value and type(given[name].default) is type(value), name


def test_a_week_without_a_diary_is_an_empty_one() -> None:
    given = inspect.signature(WeekFacts.__init__).parameters
    left = {name: one.default for name, one in given.items() if one.default is not inspect.Parameter.empty}
    plain = {"progress_allowed": True, "schema": facts.SCHEMA}
    assert {name: value for name, value in left.items() if value != ()} == plain


def test_a_race_of_no_stated_priority_is_an_ordinary_one() -> None:
    given = inspect.signature(Race.__init__).parameters
    assert given["priority"].default.value == "other"


def test_every_value_with_plain_cases_is_in_the_table() -> None:
    kinds = [one for one in vars(facts).values() if getattr(one, "__module__", "") == facts.__name__]
    for kind in filter(dataclasses.is_dataclass, kinds):
        plain = {
            one.name
            for one in dataclasses.fields(kind)
            if dataclasses.MISSING is not one.default and one.name not in ("engine", "schema")
        }
        assert plain == set(UNSAID.get(kind, {})) or kind in (WeekFacts, Race), kind
