"""P7, P8 and P9: fewer sets at the same load; S4 where there are none fewer."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from athletes.concerns import Gate
from athletes.vocabulary import Pattern
from programs.engine.cuts import apply_cut, cut_sets
from programs.engine.facts import Change, Measure, Phase, Target
from programs.engine.strength import age_limits
from tests.engine.histories import TODAY, answer, asked, exposure, keys, learned, missed, question
from tests.engine.samples import GOBLET, PLANK, bell, rider, slot


@pytest.mark.parametrize(("sets", "light"), [(4, 2), (3, 2), (2, 1), (1, 1)])
def test_p7_a_light_week_cuts_sets_and_two_reps_and_keeps_the_load(sets: int, light: int) -> None:
    cut, reasons = apply_cut(asked(10, bell(16), sets=sets), floor=5, phase=Phase.BUILD, light=True)
    assert (cut.sets, cut.amount, cut.load) == (light, 8, bell(16))
    assert [reason.rule for reason in reasons] == ["P7"]


@pytest.mark.parametrize(("reps", "light"), [(7, 5), (6, 5), (5, 5), (4, 4)])
def test_p7_reps_stop_at_the_floor_and_never_rise(reps: int, light: int) -> None:
    assert apply_cut(asked(reps), floor=5, phase=Phase.BUILD, light=True)[0].amount == light


def test_p7_a_bridge_waits_in_a_light_week() -> None:
    target = asked(20, bell(8), bridge_load=bell(12), bridge_sets=1, bridge_amount=5)
    cut, _reasons = apply_cut(target, floor=5, phase=Phase.BUILD, light=True)
    assert (cut.bridge_sets, cut.bridge_load, cut.load) == (0, None, bell(8))


def test_p7_a_light_week_neither_uses_nor_loses_what_was_earned() -> None:
    target = asked(8, bell(16))
    history = learned(target, exposure(target))
    light = answer(question(GOBLET, history, light=True))
    assert (light.target.sets, light.target.amount, light.target.load) == (2, 6, bell(16))
    assert light.change is Change.FEWER_SETS
    after = learned(target, exposure(target), exposure(light.target, light=True))
    assert answer(question(GOBLET, after)).target == asked(9, bell(16))
    failed = learned(target, exposure(target), missed(light.target, light=True))
    assert answer(question(GOBLET, failed)).target == asked(9, bell(16))


def test_p7_holds_are_ten_seconds_shorter() -> None:
    target = asked(40, measure=Measure.HOLD)
    history = learned(target, exposure(target, slug="plank"), slug="plank")
    decision = answer(question(PLANK, history, light=True))
    assert (decision.target.sets, decision.target.amount) == (2, 30)


def test_p8_maintaining_takes_two_sets_at_the_same_load_and_reps() -> None:
    target = asked(8, bell(16))
    decision = answer(question(GOBLET, learned(target, exposure(target)), phase=Phase.MAINTAIN))
    assert (decision.target.sets, decision.target.amount, decision.target.load) == (2, 8, bell(16))
    assert keys(decision) == ["P8 maintain-kept", "P8 maintain"]


def test_p8_a_missed_target_still_steps_back_while_maintaining() -> None:
    target = asked(8, bell(16), sets=2)
    facts = question(GOBLET, learned(target, missed(target), missed(target)), phase=Phase.MAINTAIN)
    assert answer(facts).target.amount == 5


@pytest.mark.parametrize(
    ("sets", "percent", "left"),
    [
        (5, 40, 3),
        (4, 40, 2),
        (3, 40, 2),
        (2, 40, 1),
        (1, 40, 1),
        (5, 60, 2),
        (4, 60, 2),
        (3, 60, 1),
        (1, 60, 1),
    ],
)
def test_p9_sets_before_a_race_are_the_nearest_whole_number(sets: int, percent: int, left: int) -> None:
    assert cut_sets(sets, percent) == left


def test_p9_load_and_reps_are_kept_before_a_race() -> None:
    target = asked(8, bell(16))
    history = learned(target, exposure(target))
    decision = answer(question(GOBLET, history, phase=Phase.RACE_WEEK, cut_percent=60))
    assert (decision.target.sets, decision.target.amount, decision.target.load) == (1, 8, bell(16))
    assert keys(decision) == ["P9 before-race"]


def test_p7_p9_together_leave_the_fewer_sets() -> None:
    cut, reasons = apply_cut(asked(10, sets=3), floor=5, phase=Phase.TAPER, light=True, cut_percent=60)
    assert (cut.sets, cut.amount) == (1, 8)
    assert [reason.rule for reason in reasons] == ["P9", "P7"]


@pytest.mark.parametrize(
    ("target", "floor", "key", "figures"),
    [
        (asked(10), 5, "light-week", {"from_sets": 3, "to_sets": 2, "fewer": 2}),
        (asked(5), 5, "light-week-sets", {"from_sets": 3, "to_sets": 2}),
        (asked(10, sets=1), 5, "light-week-amount", {"fewer": 2}),
        (asked(5, sets=1), 5, "light-week-least", {}),
        (asked(40, measure=Measure.HOLD, sets=1), 20, "light-week-amount", {"fewer": "10 s"}),
    ],
)
def test_p7_a_light_week_says_only_what_it_changes(
    target: Target, floor: int, key: str, figures: dict[str, object]
) -> None:
    _cut, (why,) = apply_cut(target, floor=floor, phase=Phase.BUILD, light=True)
    assert (why.key, dict(why.figures)) == (key, figures)


def test_p9_one_set_before_a_race_is_not_told_as_a_cut() -> None:
    cut, (why,) = apply_cut(asked(10, sets=1), floor=5, phase=Phase.TAPER, cut_percent=40)
    assert (cut.sets, why.key) == (1, "before-race-one-set")


BALANCE_SLOT = slot(pattern=Pattern.BALANCE, sets=2)
STAND = asked(30, measure=Measure.HOLD, sets=2)
STOOD = learned(STAND, exposure(STAND, slug="plank"), slug="plank")


@pytest.mark.parametrize(
    "changes",
    [
        {"light": True},
        {"phase": Phase.TAPER, "cut_percent": 60},
        {
            "away_days": 20,
            "away_since": TODAY - timedelta(days=3),
            "return_week": 1,
            "usual_sets": Decimal(2),
        },
        {
            "away_days": 40,
            "away_since": TODAY - timedelta(days=3),
            "return_week": 1,
            "usual_sets": Decimal(2),
        },
    ],
)
def test_s4_balance_work_from_65_is_not_cut(changes: dict[str, Any]) -> None:
    old = {"limits": age_limits(rider(70)), "rider": rider(70)}
    decision = answer(question(PLANK, STOOD, slot=BALANCE_SLOT, **old, **changes))
    assert (decision.target.sets, decision.target.amount) == (2, 30)
    assert {"balance-kept", "since-return"} & {reason.key for reason in decision.reasons}
    cut = answer(question(PLANK, STOOD, slot=BALANCE_SLOT, **changes)).target
    assert cut.sets == 1


def test_s4_pain_cuts_balance_work_too() -> None:
    old = {"limits": age_limits(rider(70)), "rider": rider(70)}
    eased = answer(question(PLANK, STOOD, slot=BALANCE_SLOT, gate=Gate.EASE, **old)).target
    assert eased.amount == 15
