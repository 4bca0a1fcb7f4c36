"""P7, P8 and P9: fewer sets at the same load."""

import pytest

from programs.engine.cuts import apply_cut, cut_sets
from programs.engine.facts import Change, Measure, Phase
from tests.engine.histories import answer, asked, exposure, keys, learned, missed, question
from tests.engine.samples import GOBLET, PLANK, bell


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
