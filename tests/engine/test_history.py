"""H3 and P6: what past exposures say, and how sides compare."""

from dataclasses import replace

import pytest

from athletes.vocabulary import Side
from programs.engine.facts import Done, Exposure
from programs.engine.history import (
    Achieved,
    Result,
    achieved,
    amounts_done,
    asymmetry,
    asymmetry_reasons,
    distinct,
    is_success,
    last_achieved,
    result_of,
)
from tests.engine.histories import (
    SEVENTEEN,
    TODAY,
    answer,
    asked,
    exposure,
    learned,
    missed,
    question,
    silent,
)
from tests.engine.samples import GOBLET, bell, exercise

EIGHT = asked(8, bell(12))
SIDED = exercise("one-leg", 2, sided=True)


def sides(left: tuple[int, ...] | None, right: tuple[int, ...] | None, **changes: object) -> Exposure:
    done = Done(left_amounts=left, right_amounts=right, reps_left=3)
    return exposure(asked(8), slug="one-leg", done=done, **changes)


@pytest.mark.parametrize(
    ("left", "right", "amounts", "result"),
    [
        ((8, 8, 8), (8, 8, 8), (8, 8, 8), Result.SUCCESS),
        ((10, 10, 10), (8, 8, 7), (8, 8, 7), Result.MISSED),
        ((8, 8), (8, 8, 8), (8, 8), Result.MISSED),
        ((8, 8, 8), None, None, Result.UNKNOWN),
        (None, (8, 8, 8), None, Result.UNKNOWN),
    ],
)
def test_p6_the_weaker_side_decides(
    left: tuple[int, ...] | None,
    right: tuple[int, ...] | None,
    amounts: tuple[int, ...] | None,
    result: Result,
) -> None:
    one = sides(left, right)
    assert (amounts_done(one), result_of(one)) == (amounts, result)


def test_p6_the_next_target_follows_the_weaker_side() -> None:
    target = asked(8)
    uneven = sides((12, 12, 12), (8, 8, 7))
    history = learned(target, uneven, slug="one-leg")
    assert answer(question(SIDED, history)).target.amount == 8


@pytest.mark.parametrize(("times", "noted"), [(2, False), (3, True)])
def test_p6_asymmetry_is_noted_after_three_exposures_and_changes_nothing(times: int, noted: bool) -> None:
    uneven = sides((12, 12, 12), (9, 9, 9))
    even = sides((9, 9, 9), (9, 9, 9))
    target = asked(8)
    history = learned(target, *(uneven,) * times, slug="one-leg")
    decision = answer(question(SIDED, history))
    plain = answer(question(SIDED, learned(target, *(even,) * times, slug="one-leg")))
    assert decision.target == plain.target
    notes = [reason for reason in decision.reasons if reason.rule == "P6"]
    assert bool(notes) is noted
    if noted:
        assert notes[0].figures == {"percent": "25", "side": "right", "exposures": 3}


def test_p6_fifteen_percent_exactly_is_not_noted_nor_is_a_side_that_changes() -> None:
    assert asymmetry_reasons([sides((40,), (34,))] * 3) == ()
    turning = [sides((30,), (20,)), sides((20,), (30,)), sides((30,), (20,))]
    assert asymmetry_reasons(turning) == ()


def test_p6_nothing_on_both_sides_is_undefined() -> None:
    assert asymmetry(0, 0) is None
    equal = asymmetry(8, 8)
    assert equal is not None and equal.weaker is Side.BOTH


def test_h3_two_reports_of_a_day_are_one_exposure_and_the_less_good_stands() -> None:
    good, bad, none = exposure(EIGHT), missed(EIGHT), silent(EIGHT)
    assert distinct([good, bad]) == (bad,)
    assert distinct([bad, good]) == (bad,)
    assert distinct([none, good]) == (good,)
    assert len(distinct([good, replace(good, on=TODAY)])) == 2


def test_h3_a_double_report_never_counts_twice_towards_a_load() -> None:
    target = asked(15, bell(12))
    twice = (*learned(target, exposure(target)), exposure(target))
    assert answer(question(GOBLET, twice)).target.load == bell(12)


def test_p5_the_last_achieved_is_what_was_really_done() -> None:
    assert achieved(silent(EIGHT)) is None
    assert achieved(missed(EIGHT, by=3)) == Achieved(3, 5, bell(12))
    more = exposure(EIGHT, done=Done(amounts=(8, 8, 8, 12), load=bell(12)))
    assert achieved(more) == Achieved(3, 8, bell(12))
    assert last_achieved([exposure(EIGHT), silent(EIGHT)]) == Achieved(3, 8, bell(12))


def test_p1_a_success_outside_the_limits_of_age_is_none() -> None:
    assert is_success(exposure(asked(15)), SEVENTEEN)
    assert not is_success(exposure(asked(16)), SEVENTEEN)
    assert not is_success(exposure(EIGHT), reps_left=3)


def test_h1_another_implement_than_asked_is_unknown() -> None:
    bar_like = Done(amounts=(8, 8, 8), load=None, reps_left=4)
    assert result_of(exposure(EIGHT, done=bar_like)) is Result.UNKNOWN
    added = Done(amounts=(8, 8, 8), load=bell(12), reps_left=4)
    assert result_of(exposure(asked(8), done=added)) is Result.UNKNOWN
