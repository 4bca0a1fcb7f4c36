"""T1, T3 and T5 as they bear on one target, with I1 and I11."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from athletes.concerns import Gate
from athletes.vocabulary import Reason
from programs.engine.facts import Change, Done, Kit, Measure
from programs.engine.history import is_lightened
from programs.engine.target_facts import SAME_AGAIN
from tests.engine.histories import (
    SEVENTEEN,
    TODAY,
    answer,
    asked,
    exposure,
    keys,
    learned,
    missed,
    question,
    refusal,
    silent,
    spaced,
)
from tests.engine.samples import BAND, GOBLET, HIP_SQUAT, PLANK, SIT, SQUAT, bell, kettlebells, rider

EIGHT = asked(8, bell(16))
WELL = learned(EIGHT, exposure(EIGHT))
#: A reason as the state of the body gives it.
SORE = (Reason("T1", "pain-three", {"score": 3}),)


def test_t1_a_stopped_exercise_is_left_out() -> None:
    left = refusal(question(GOBLET, WELL, gate=Gate.STOP, gate_reasons=SORE))
    assert keys(left) == ["T1 pain-three", "T1 stopped"]


def test_t1_a_pain_of_three_repeats_what_was_done() -> None:
    decision = answer(question(GOBLET, WELL, gate=Gate.HOLD, gate_reasons=SORE))
    assert decision.target == EIGHT
    assert keys(decision) == ["T1 pain-three", "T1 gate-repeat"]


def test_i1_a_hold_is_never_above_the_last_achieved() -> None:
    short = Done(amounts=(7, 6), load=bell(12), reps_left=0)
    decision = answer(question(GOBLET, learned(EIGHT, exposure(EIGHT, done=short)), gate=Gate.HOLD))
    assert (decision.target.sets, decision.target.amount, decision.target.load) == (2, 6, bell(12))
    light = learned(EIGHT, exposure(EIGHT), exposure(asked(6, bell(16), sets=2), light=True))
    eased = answer(question(GOBLET, light, gate=Gate.HOLD))
    assert (eased.target.sets, eased.target.amount) == (2, 6)


def test_i1_with_nothing_known_a_hold_is_no_more_than_a_first_target() -> None:
    decision = answer(question(GOBLET, [silent(EIGHT)], gate=Gate.HOLD))
    assert (decision.target.sets, decision.target.amount, decision.target.load) == (2, 5, bell(8))


def test_t1_a_time_when_nothing_was_done_is_not_repeated_but_eased() -> None:
    none = Done(amounts=(0, 0, 0), load=bell(16))
    decision = answer(question(GOBLET, learned(EIGHT, exposure(EIGHT, done=none)), gate=Gate.HOLD))
    assert decision.target.load == bell(12)


@pytest.mark.parametrize(
    ("masses", "kg"),
    [((8, 12, 16), "12"), ((8, 14, 16), "8"), (("12.8", 16), "12.8"), (("12.9", 16, 8), "8")],
)
def test_t1_eased_is_the_next_load_at_least_a_fifth_lower(masses: tuple[int | str, ...], kg: str) -> None:
    decision = answer(question(GOBLET, WELL, gate=Gate.EASE, kit=Kit(fixed=kettlebells(*masses))))
    assert decision.target.load == bell(kg)
    assert decision.target.amount == 8
    assert decision.change is Change.LESS_LOAD


def test_t1_with_no_lighter_load_it_is_a_level_down_that_loads_nothing_more() -> None:
    facts = question(
        GOBLET,
        WELL,
        gate=Gate.EASE,
        kit=Kit(fixed=kettlebells(16)),
        easier_allowed=frozenset({"squat", "sit-to-stand"}),
    )
    decision = answer(facts)
    assert (decision.exercise, decision.target.load, decision.change) == ("squat", None, Change.EASIER)
    spared = answer(replace(facts, easier_allowed=frozenset({"sit-to-stand"})))
    assert spared.exercise == "sit-to-stand"


def test_t1_with_neither_it_is_half_the_reps() -> None:
    decision = answer(question(GOBLET, WELL, gate=Gate.EASE, kit=Kit(fixed=kettlebells(16))))
    assert (decision.target.sets, decision.target.amount, decision.target.load) == (3, 4, bell(16))
    assert "T1 eased-reps" in keys(decision)


def test_t1_a_band_is_eased_by_a_level_of_band() -> None:
    strong = replace(EIGHT, load=replace(bell(1), holding=BAND, kg=None, band=2))
    history = learned(strong, exposure(strong, slug="hip-squat"), slug="hip-squat")
    decision = answer(question(HIP_SQUAT, history, holding=BAND, gate=Gate.EASE))
    assert decision.target.load is not None and decision.target.load.band == 1


def test_t1_easing_never_adds_a_load_to_body_weight_work() -> None:
    bare = asked(12)
    history = learned(bare, exposure(bare, slug="squat"), slug="squat")
    decision = answer(question(SQUAT, history, gate=Gate.EASE, easier_allowed=frozenset({"sit-to-stand"})))
    assert (decision.exercise, decision.target.load) == ("sit-to-stand", None)


@pytest.mark.parametrize(
    ("sets", "reps", "left"), [(3, 14, (3, 7)), (3, 8, (1, 6)), (2, 6, (1, 6)), (1, 8, None)]
)
def test_i11_under_18_half_the_reps_never_falls_below_six(
    sets: int, reps: int, left: tuple[int, int] | None
) -> None:
    target = asked(reps, sets=sets)
    history = learned(target, exposure(target, slug="sit-to-stand"), slug="sit-to-stand")
    facts = question(SIT, history, gate=Gate.EASE, limits=SEVENTEEN, rider=rider(17))
    if left is None:
        assert keys(refusal(facts))[-1] == "T1 nothing-gentler"
    else:
        found = answer(facts).target
        assert (found.sets, found.amount) == left


@pytest.mark.parametrize(("sets", "left"), [(4, (2, 8)), (3, (1, 8)), (2, (1, 8)), (1, (1, 4))])
def test_t3_heavy_soreness_halves_the_sets(sets: int, left: tuple[int, int]) -> None:
    target = asked(8, bell(16), sets=sets)
    facts = question(GOBLET, learned(target, exposure(target)), gate=Gate.HALF_SETS)
    found = answer(replace(facts, slot=replace(facts.slot, sets=4))).target
    assert (found.sets, found.amount, found.load) == (*left, bell(16))


def test_p10_after_a_fever_sets_are_halved_and_nothing_rises() -> None:
    decision = answer(question(GOBLET, WELL, halve_sets=True))
    assert (decision.target.sets, decision.target.amount, decision.target.load) == (1, 8, bell(16))
    assert "P10 half-sets" in keys(decision)


@pytest.mark.parametrize("gate", [Gate.HOLD, Gate.HALF_SETS, Gate.EASE])
def test_t1_a_gate_comes_before_a_light_week_a_return_and_misses(gate: Gate) -> None:
    for changes in (
        {"light": True},
        {"away_days": 20, "away_since": TODAY - timedelta(days=3), "return_week": 1},
        {},
    ):
        free = answer(question(GOBLET, WELL, **changes)).target
        gated = answer(question(GOBLET, WELL, gate=gate, **changes)).target
        assert gated.sets <= free.sets and gated.amount <= free.amount
        assert gated.load is None or free.load is None or gated.load.kg <= free.load.kg  # type: ignore[operator]
    twice = learned(EIGHT, missed(EIGHT), missed(EIGHT))
    assert answer(question(GOBLET, twice, gate=gate)).target.amount <= 7


def test_t5_the_first_session_after_a_pain_is_half_the_load_and_two_sets_of_eight() -> None:
    target = asked(12, bell(16))
    facts = question(GOBLET, learned(target, exposure(target)), returned_on=TODAY)
    decision = answer(facts)
    assert (decision.target.sets, decision.target.amount, decision.target.load) == (2, 8, bell(8))
    assert "T5 back-after-pain" in keys(decision)
    heavy = replace(facts, kit=Kit(fixed=kettlebells(12, 16)))
    assert keys(refusal(heavy))[-1] == "T1 nothing-gentler"
    assert answer(replace(heavy, easier_allowed=frozenset({"squat"}))).exercise == "squat"


def test_t5_each_step_after_a_pain_takes_two_clean_exposures() -> None:
    target = asked(8, bell(8), sets=2)
    back_on = TODAY - timedelta(days=8)
    before = [replace(one, on=one.on - timedelta(days=20)) for one in WELL]
    for times, sets in ((1, 2), (2, 3)):
        history = (*before, *spaced(*(exposure(target),) * times))
        decision = answer(question(GOBLET, history, returned_on=back_on))
        assert (decision.target.sets, decision.target.load) == (sets, bell(8))


def test_t1_a_new_exercise_under_an_ease_is_half_of_a_first_target() -> None:
    decision = answer(question(SIT, gate=Gate.EASE))
    assert (decision.target.sets, decision.target.amount) == (2, 2)


def test_t1_a_clinicians_cap_holds_under_a_gate_too() -> None:
    decision = answer(question(GOBLET, WELL, gate=Gate.HOLD, max_total_kg=Decimal(12)))
    assert decision.target.load == bell(12)


SQUATS = asked(6, sets=2, reps_left=4)
HALF = replace(SQUATS, amount=3)
FIRST_HALF = replace(SQUATS, amount=2)
EASED = {"gate": Gate.EASE, "gate_reasons": (Reason("T1", "pain-ease", {"score": 5}),)}


def test_t1_what_was_eased_before_it_was_ever_done_is_eased_once_for_one_report() -> None:
    # Planned as new, and halved after a report before the first session: that is what it was eased from.
    first = spaced(exposure(FIRST_HALF, slug="sit-to-stand", light=True), last=4)
    facts = question(SIT, first, troubled_since=TODAY - timedelta(days=6), **EASED)
    decision = answer(facts)
    assert (decision.target.sets, decision.target.amount) == (2, 2)
    assert keys(decision)[-1] == "T1 eased-already"


def test_t1_a_report_on_the_day_itself_halves_once() -> None:
    # The session of that day was eased already; what it was eased from is the one before.
    past = (*learned(asked(8), exposure(asked(8), slug="sit-to-stand"), slug="sit-to-stand"),)
    eased = exposure(asked(4), slug="sit-to-stand", days_ago=2, light=True)
    facts = question(SIT, (*past, eased), troubled_since=TODAY - timedelta(days=2), **EASED)
    assert answer(facts).target.amount == 4


def test_t1_easing_again_is_a_step_below_what_was_asked_until_the_pain_began() -> None:
    # Nobody knows what was done of the eased 2 x 3, so 2 x 5 would be next: half of 6 it is, not half of that.
    past = spaced(
        exposure(SQUATS, slug="sit-to-stand"),
        silent(HALF, slug="sit-to-stand", light=True),
    )
    facts = question(SIT, past, troubled_since=past[0].on, **EASED)
    decision = answer(replace(facts, exposures=(replace(past[0], done=None), past[1])))
    assert (decision.target.sets, decision.target.amount) == (2, 3)


def test_i1_after_a_light_week_with_pain_the_usual_sets_come_back_once_it_is_gone() -> None:
    usual = asked(8, bell(16))
    light = exposure(asked(6, bell(16), sets=1), light=True)
    sore = answer(question(GOBLET, learned(usual, exposure(usual), light), gate=Gate.HOLD))
    assert (sore.target.sets, sore.target.amount) == (1, 6)
    assert is_lightened(reason.key for reason in sore.reasons)  # so it does not stand for what is usual
    kept = exposure(sore.target, light=True)
    well = answer(question(GOBLET, learned(usual, exposure(usual), light, kept)))
    assert (well.target.sets, well.target.load) == (3, bell(16))


@pytest.mark.parametrize("gate", [Gate.EASE, Gate.HALF_SETS])
def test_i8_nothing_is_the_same_again_and_eased(gate: Gate) -> None:
    decision = answer(question(GOBLET, WELL, gate=gate, gate_reasons=SORE))
    assert decision.change is not Change.SAME
    assert not any(reason.key in SAME_AGAIN for reason in decision.reasons)
    down = answer(
        question(
            GOBLET,
            WELL,
            gate=Gate.EASE,
            kit=Kit(fixed=kettlebells(16)),
            easier_allowed=frozenset({"squat"}),
        )
    )
    assert keys(down) == ["T1 eased-level", "L1 level-down"]


def test_i8_back_to_the_usual_after_a_light_session_is_not_the_same_again() -> None:
    light = exposure(asked(6, bell(16), sets=2), light=True)
    hard = exposure(EIGHT, done=Done(amounts=(8, 8, 8), load=bell(16), reps_left=1))
    decision = answer(question(GOBLET, learned(EIGHT, hard, light)))
    assert (decision.change, keys(decision)) == (Change.MORE_SETS, ["P7 eased-in"])


def test_i8_seconds_are_told_with_their_unit() -> None:
    target = asked(40, measure=Measure.HOLD)
    past = learned(target, exposure(target, slug="plank"), slug="plank")
    decision = answer(question(PLANK, past, gate=Gate.EASE))
    assert dict(decision.reasons[-1].figures) == {"from_sets": 3, "from": "40 s", "sets": 3, "amount": "20 s"}


def test_t3_a_half_is_of_what_was_asked_whatever_has_cut_it_meanwhile() -> None:
    # 1 x 6 until it began, and 1 x 5 after a break since: half of it is 3, with a pain beside it or without.
    was = asked(6, sets=1)
    facts = question(
        SQUAT,
        spaced(
            *(exposure(was, slug="squat") for _time in range(7)), exposure(asked(5, sets=1), slug="squat")
        ),
        gate=Gate.HALF_SETS,
        troubled_since=TODAY - timedelta(days=4),
    )
    assert (answer(facts).target.sets, answer(facts).target.amount) == (1, 3)
