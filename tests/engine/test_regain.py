"""What was there before a break comes back sooner than it was built (P2, P7, P8, P10)."""

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

import pytest

from programs.engine.facts import Change, Exposure, Kit, Phase, Target, TargetDecision
from programs.engine.regain import REMEMBERED
from tests.engine.histories import FIFTY, SEVENTEEN, answer, asked, exposure, keys, missed, question, spaced
from tests.engine.samples import GOBLET, bell, kettlebells, rider

BELLS = Kit(fixed=kettlebells(6, 8, 12))
#: 6 to 8 kg is a third more: 20 reps would earn it for the first time.
BEFORE, RETURN, LIGHTER = asked(9, bell(8)), asked(6, bell(6), sets=1), asked(8, bell(6))


def after_a_break(
    *since: Exposure, before: Iterable[Exposure] | None = None, **changes: Any
) -> TargetDecision:
    """The next target of somebody who did 3 x 9 with 8 kg, was away, and has done these since."""
    known = [exposure(BEFORE) for _time in range(7)] if before is None else list(before)
    back = [exposure(RETURN, light=True), exposure(RETURN, light=True)]
    return answer(question(GOBLET, spaced(*known, *back, *since), kit=BELLS, **changes))


@pytest.mark.parametrize(
    ("good", "kg", "amount", "key"),
    [
        (
            0,
            6,
            8,
            "P7 eased-in",
        ),  # right after the lighter sessions: no more than two reps above them, and no load
        (1, 6, 9, "P1 reps-up"),
        (2, 8, 5, "P2 load-back"),
    ],
)
def test_p10_a_load_lifted_before_is_back_after_two_good_sessions(
    good: int, kg: int, amount: int, key: str
) -> None:
    decision = after_a_break(*[exposure(LIGHTER) for _time in range(good)])
    assert (decision.target.load, decision.target.amount) == (bell(kg), amount)
    assert keys(decision)[-1] == key


def test_p2_a_load_never_lifted_is_earned_by_its_reps() -> None:
    low = [exposure(asked(9, bell(6))) for _time in range(7)]
    decision = after_a_break(exposure(LIGHTER), exposure(LIGHTER), before=low)
    assert decision.target.load == bell(6)


@pytest.mark.parametrize("ago", [REMEMBERED, REMEMBERED + timedelta(days=1)])
def test_p2_what_was_lifted_is_remembered_for_26_weeks(ago: timedelta) -> None:
    known = exposure(BEFORE, days_ago=ago.days)
    # What lies between is trained all along, so that nothing is learned again.
    between = [exposure(LIGHTER, days_ago=days) for days in range(ago.days - 7, 0, -7)]
    decision = answer(question(GOBLET, (known, *between), kit=BELLS))
    assert (decision.target.load == bell(8)) is (ago == REMEMBERED)


def test_p5_what_was_missed_since_is_not_come_back_to() -> None:
    decision = after_a_break(missed(LIGHTER), exposure(LIGHTER), exposure(LIGHTER))
    assert decision.target.load == bell(6)


def test_i5_reps_that_are_few_already_rise_before_a_load_comes_back() -> None:
    few = asked(7, bell(6))
    decision = after_a_break(exposure(few), exposure(few))
    assert (decision.target.load, decision.target.amount) == (bell(6), 8)
    assert keys(decision) == ["P1 reps-up"]


def test_s4_from_50_it_takes_one_good_session_more() -> None:
    twice = [exposure(LIGHTER), exposure(LIGHTER)]
    assert after_a_break(*twice, limits=FIFTY, rider=rider(55)).target.load == bell(6)
    assert after_a_break(*twice, exposure(LIGHTER), limits=FIFTY, rider=rider(55)).target.load == bell(8)


def test_s3_under_18_a_step_above_10_percent_keeps_to_its_own_rule() -> None:
    decision = after_a_break(exposure(LIGHTER), exposure(LIGHTER), limits=SEVENTEEN, rider=rider(17))
    assert decision.target.load == bell(6)


@pytest.mark.parametrize("phase", [Phase.BUILD, Phase.MAINTAIN])
def test_p8_reps_come_back_two_at_a_time_in_the_racing_months_as_well(phase: Phase) -> None:
    kept, lower = asked(12, bell(8), sets=2), asked(8, bell(8), sets=2)
    before = [exposure(kept) for _time in range(7)]
    decision = after_a_break(exposure(lower), before=before, phase=phase)
    assert (decision.target.load, decision.target.amount) == (bell(8), 10)
    assert decision.change is Change.MORE_REPS
    assert keys(decision)[-1] == "P7 back-to-kept"


@pytest.mark.parametrize(
    ("asked_now", "sets", "key"),
    [
        (asked(12, bell(8), sets=1), 2, "P7 sets-back-to-kept"),
        (asked(12, bell(8), sets=2), 2, "P8 maintain-kept"),
    ],
)
def test_p8_nothing_rises_above_what_was_kept(asked_now: Target, sets: int, key: str) -> None:
    before = [exposure(asked(12, bell(8), sets=2)) for _time in range(7)]
    decision = after_a_break(exposure(asked_now), before=before, phase=Phase.MAINTAIN)
    assert (decision.target.sets, decision.target.amount) == (sets, 12)
    assert keys(decision)[-1] == key


def test_p8_in_the_racing_months_a_load_comes_back_as_well() -> None:
    decision = after_a_break(exposure(LIGHTER), exposure(LIGHTER), phase=Phase.MAINTAIN)
    assert (decision.target.load, decision.target.amount) == (bell(8), 5)
    assert "P2 load-back" in keys(decision)


def test_p8_a_hard_session_brings_nothing_back() -> None:
    from_hard = exposure(asked(8, bell(8), sets=2), done=None, session_rpe=None)
    before = [exposure(asked(12, bell(8), sets=2)) for _time in range(7)]
    decision = after_a_break(from_hard, before=before, phase=Phase.MAINTAIN)
    assert keys(decision)[-1] == "P8 maintain-kept"
