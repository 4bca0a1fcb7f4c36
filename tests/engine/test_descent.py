"""P5: missed targets, and what is not a miss (H3)."""

from dataclasses import replace

import pytest

from athletes.concerns import Topic, Urgency
from programs.engine.facts import Change, Done, Exposure, Target
from tests.engine.histories import answer, asked, exposure, keys, learned, missed, question, silent
from tests.engine.samples import GOBLET, SIT, SQUAT, bell

EIGHT, TEN = asked(8, bell(16)), asked(10, bell(16))


def after(target: Target, *latest: Exposure, **changes: object) -> tuple[list[str], Target]:
    decision = answer(question(GOBLET, learned(replace(target, amount=8), *latest), **changes))
    return keys(decision), decision.target


def test_p5_one_miss_repeats() -> None:
    assert after(TEN, exposure(TEN), missed(TEN)) == (["P5 missed-once"], TEN)


def test_p5_two_misses_go_back_to_the_last_achieved() -> None:
    nine = asked(9, bell(16))
    found, target = after(TEN, exposure(nine), missed(TEN), missed(TEN))
    assert found == ["P5 back-to-achieved"]
    assert (target.amount, target.load, target.sets) == (9, bell(16), 3)


def test_p5_two_misses_after_a_new_load_go_back_to_the_old_one() -> None:
    fifteen, five = asked(15, bell(12)), asked(5, bell(16))
    decision = answer(question(GOBLET, learned(fifteen, exposure(fifteen), missed(five), missed(five))))
    assert (decision.target.load, decision.target.amount) == (bell(12), 15)
    assert decision.change is Change.LESS_LOAD


def test_p5_where_nothing_less_was_achieved_it_is_one_load_down() -> None:
    decision = answer(question(GOBLET, [missed(EIGHT, days_ago=days) for days in (6, 3)]))
    assert keys(decision) == ["P5 one-load-down"]
    assert (decision.target.load, decision.target.amount) == (bell(12), 8)


def test_p5_where_there_is_no_lighter_load_it_asks_for_what_was_done() -> None:
    target = asked(8)
    decision = answer(question(SIT, [missed(target, slug="sit-to-stand", by=2, days_ago=d) for d in (6, 3)]))
    assert keys(decision) == ["P5 back-to-done"]
    assert decision.target.amount == 6


def test_p5_three_misses_go_a_level_down_and_tell_the_coach() -> None:
    facts = question(
        GOBLET,
        learned(EIGHT, exposure(EIGHT), *(missed(TEN),) * 3),
        easier_allowed=frozenset({"squat", "sit-to-stand"}),
    )
    decision = answer(facts)
    assert (decision.exercise, decision.change) == ("squat", Change.EASIER)
    assert (decision.target.sets, decision.target.amount, decision.target.load) == (2, 5, None)
    assert [(one.topic, one.urgency) for one in decision.concerns] == [(Topic.STALLED, Urgency.ROUTINE)]
    assert keys(decision) == ["P5 stalled", "L1 level-down"]


def test_p5_three_misses_with_nothing_easier_step_back_and_tell_the_coach() -> None:
    decision = answer(question(GOBLET, learned(EIGHT, exposure(EIGHT), *(missed(TEN),) * 3)))
    assert decision.exercise == "goblet"
    assert decision.target.amount == 5 or decision.target.amount == 8
    assert [one.topic for one in decision.concerns] == [Topic.STALLED]


def test_p5_a_level_down_never_brings_a_load_where_there_was_none() -> None:
    loaded_below = replace(GOBLET, slug="below", level=1, edges=replace(SQUAT, edges=()).edges)
    assert loaded_below.edges == ()
    target = asked(8)
    facts = question(
        SQUAT,
        [missed(target, slug="squat", days_ago=days) for days in (9, 6, 3)],
        easier_allowed=frozenset({"sit-to-stand"}),
    )
    decision = answer(facts)
    assert (decision.exercise, decision.target.load) == ("sit-to-stand", None)


@pytest.mark.parametrize("between", [silent(TEN), exposure(TEN, light=True)])
def test_p5_unknown_and_light_sessions_neither_add_to_misses_nor_wipe_them_out(between: Exposure) -> None:
    found, _target = after(TEN, exposure(asked(9, bell(16))), missed(TEN), between, missed(TEN))
    assert found == ["P5 back-to-achieved"]


def test_h3_silence_after_two_misses_lowers_nothing_more() -> None:
    found, target = after(TEN, missed(TEN), missed(TEN), silent(EIGHT))
    assert (found, target) == (["H3 not-known"], EIGHT)


@pytest.mark.parametrize(
    ("amounts", "out_of_time", "key"),
    [
        ((10, 10), True, "H3 not-known"),  # no time for the third set: not failing, and not success
        ((10, 10), False, "P5 missed-once"),
        ((10, 8), True, "P5 missed-once"),  # a set that was begun and fell short
        ((10, 10, 9), False, "P5 missed-once"),
        ((), True, "H3 not-known"),
        (None, False, "H3 not-known"),
    ],
)
def test_h3_out_of_time_is_not_failing(amounts: tuple[int, ...] | None, out_of_time: bool, key: str) -> None:
    done = Done(amounts=amounts, load=bell(16), reps_left=3, out_of_time=out_of_time)
    assert after(TEN, exposure(TEN, done=done)) == ([key], TEN)


def test_p5_a_lighter_load_than_asked_is_a_miss_and_a_load_not_told_is_unknown() -> None:
    lighter = Done(amounts=(10, 10, 10), load=bell(12), reps_left=3)
    assert after(TEN, exposure(TEN, done=lighter))[0] == ["P5 missed-once"]
    not_told = Done(amounts=(10, 10, 10), reps_left=3)
    assert after(TEN, exposure(TEN, done=not_told))[0] == ["H3 not-known"]
    heavier = Done(amounts=(10, 10, 10), load=bell(20), reps_left=3)
    assert after(TEN, exposure(TEN, done=heavier))[1].amount == 11
