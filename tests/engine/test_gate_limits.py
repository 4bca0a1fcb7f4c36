"""What a gate leaves of a target, part by part: within the exercise's own past, and half of what was asked (T1, I1)."""

from typing import Any

import pytest

from athletes.vocabulary import Reason
from programs.engine.facts import Done, Exposure, Load, Measure, Target
from programs.engine.gates import half_the_reps, keep_within_past
from tests.engine.histories import ADULT, FIFTY, SEVENTEEN, asked, exposure, question
from tests.engine.samples import BAND, GOBLET, PLANK, bell

SIXTEEN = asked(10, bell(16))


def told(answer: Any) -> tuple[Any, ...]:
    """A refusal as its key and figures; else sets, amount, load and the keys of the reasons."""
    if isinstance(answer, Reason):
        return answer.rule, answer.key, dict(answer.figures)
    target, why = answer
    return target.sets, target.amount, target.load, [reason.key for reason in why]


def done(sets: int, amount: int, load: Load | None, at: Target = SIXTEEN) -> Exposure:
    return exposure(at, done=Done(amounts=(amount,) * sets, load=load, reps_left=2))


def heavy(kg: str) -> tuple[Any, ...]:
    return "T1", "lightest-too-heavy", {"from_kg": kg}


@pytest.mark.parametrize(
    ("exposures", "is_sore", "expected"),
    [
        ([], True, (3, 10, bell(16), [])),
        ([exposure(asked(10, bell(12)))], False, heavy("12")),
        ([exposure(asked(10, bell(12))), exposure(SIXTEEN)], False, (3, 10, bell(16), [])),
        ([exposure(SIXTEEN), exposure(asked(10, bell(12)))], False, heavy("12")),
        ([exposure(asked(10, Load(BAND, band=1)))], True, (3, 10, bell(16), [])),
        ([exposure(asked(4))], True, (3, 10, bell(16), [])),
        ([done(2, 7, bell(16))], False, (3, 10, bell(16), [])),
        ([done(2, 7, bell(16))], True, (2, 7, bell(16), ["not-above-achieved"])),
        ([done(2, 12, bell(16))], True, (2, 10, bell(16), ["not-above-achieved"])),
        ([done(3, 7, bell(16))], True, (3, 7, bell(16), ["not-above-achieved"])),
        ([done(3, 10, bell(16))], True, (3, 10, bell(16), [])),
        ([done(3, 10, bell(12))], True, heavy("12")),
        ([done(3, 10, bell(12))], False, (3, 10, bell(16), [])),
    ],
)
def test_i1_what_begins_anew_keeps_within_its_own_past(
    exposures: list[Exposure], is_sore: bool, expected: tuple[Any, ...]
) -> None:
    assert told(keep_within_past(SIXTEEN, exposures, ADULT, is_sore=is_sore)) == expected


def test_i1_body_weight_keeps_within_what_was_done_at_body_weight() -> None:
    past = [exposure(asked(4, bell(16))), done(2, 7, None, asked(10))]
    assert told(keep_within_past(asked(10), past, ADULT, is_sore=True)) == (
        2,
        7,
        None,
        ["not-above-achieved"],
    )
    assert told(keep_within_past(asked(10), past[:1], ADULT, is_sore=True)) == (3, 10, None, [])


@pytest.mark.parametrize(
    ("limits", "amount", "key"),
    [
        (SEVENTEEN, 5, "nothing-gentler"),
        (SEVENTEEN, 6, "not-above-achieved"),
        (ADULT, 5, "not-above-achieved"),
    ],
)
def test_i1_i11_a_young_rider_is_not_asked_for_fewer_than_six_reps(
    limits: Any, amount: int, key: str
) -> None:
    answer = keep_within_past(SIXTEEN, [done(3, amount, bell(16))], limits, is_sore=True)
    assert (answer.key if isinstance(answer, Reason) else answer[1][0].key) == key


def test_i11_seconds_of_a_young_rider_know_no_least_reps() -> None:
    hold = asked(20, measure=Measure.HOLD)
    answer = keep_within_past(hold, [done(3, 5, None, hold)], SEVENTEEN, is_sore=True)
    assert told(answer) == (3, 5, None, ["not-above-achieved"])


@pytest.mark.parametrize(
    ("limits", "target", "expected"),
    [
        (ADULT, asked(10), (3, 5)),
        (ADULT, asked(11), (3, 5)),
        (ADULT, asked(2), (3, 1)),
        (ADULT, asked(1), (1, 1)),
        (ADULT, asked(1, sets=1), None),
        (FIFTY, asked(3), (3, 1)),
        (SEVENTEEN, asked(12), (3, 6)),
        (SEVENTEEN, asked(11), (1, 6)),
        (SEVENTEEN, asked(6), (1, 6)),
        (SEVENTEEN, asked(6, sets=4), (2, 6)),
        (SEVENTEEN, asked(6, sets=1), None),
        (SEVENTEEN, asked(5), None),
    ],
)
def test_t1_i11_half_the_reps_is_rounded_down_and_never_below_what_may_be_asked(
    limits: Any, target: Target, expected: tuple[int, int] | None
) -> None:
    half = half_the_reps(question(GOBLET, limits=limits), target)
    assert (half and (half.sets, half.amount)) == expected


def test_t1_half_of_a_hold_is_half_its_seconds_also_under_18() -> None:
    half = half_the_reps(question(PLANK, limits=SEVENTEEN), asked(9, measure=Measure.HOLD))
    assert half is not None and (half.sets, half.amount) == (3, 4)


def test_t1_half_the_reps_are_without_a_heavier_set() -> None:
    bridge = asked(10, bell(12), bridge_load=bell(16), bridge_sets=1, bridge_amount=5)
    half = half_the_reps(question(GOBLET), bridge)
    assert half is not None and (half.bridge_load, half.bridge_sets, half.bridge_amount) == (None, 0, 0)
