"""P3 and L1: what stands in for a load step that is too large, refused or not to be had."""

from dataclasses import replace
from decimal import Decimal

import pytest

from programs.engine.facts import Change, Done, Exposure, Growth, Kit, Target
from programs.engine.kit import step_percent
from tests.engine.histories import (
    ADULT,
    FIFTY,
    SEVENTEEN,
    answer,
    asked,
    exposure,
    keys,
    learned,
    library_of,
    missed,
    question,
)
from tests.engine.samples import GOBLET, KETTLEBELL, SIT, bell, exercise, kettlebells, rider, slot, step_to

#: From 8 to 12 kg is half as much again: no step to take at once.
BELLS = Kit(fixed=kettlebells(8, 12))


def on(target: Target, *, times: int = 1, kit: Kit = BELLS, **changes: object) -> tuple[list[str], Target]:
    history = learned(target, *(exposure(target),) * times)
    decision = answer(question(GOBLET, history, kit=kit, **changes))
    return keys(decision), decision.target


def test_p3_the_rungs_are_climbed_in_order() -> None:
    at_top = asked(20, bell(8))
    rungs = [
        (asked(15, bell(8)), {"amount": 16}, "P1 reps-up"),
        (at_top, {"lower_s": 3}, "P3 slower"),
        (replace(at_top, lower_s=3), {"lower_s": 4}, "P3 slower"),
        (
            replace(at_top, lower_s=4),
            {"bridge_load": bell(12), "bridge_sets": 1, "bridge_amount": 5},
            "P3 bridge-set",
        ),
    ]
    for before, changed, key in rungs:
        found, after = on(before)
        assert after == replace(before, **changed)
        assert found[-1] == key


def bridging(sets: int) -> Target:
    return asked(20, bell(8), lower_s=4, bridge_load=bell(12), bridge_sets=sets, bridge_amount=5)


def did_bridge(target: Target, *, reps_left: int = 2) -> Exposure:
    straight = (target.amount,) * (target.sets - target.bridge_sets)
    amounts = (target.bridge_amount,) * target.bridge_sets + straight
    return exposure(target, done=Done(amounts=amounts, load=bell(8), reps_left=reps_left))


def test_p3_each_success_puts_one_more_set_at_the_new_load_until_all_are() -> None:
    target = bridging(1)
    decision = answer(question(GOBLET, learned(target, did_bridge(target)), kit=BELLS))
    assert (decision.target.bridge_sets, decision.target.amount) == (2, 20)
    assert decision.change is Change.BRIDGE
    target = bridging(2)
    decision = answer(question(GOBLET, learned(target, did_bridge(target)), kit=BELLS))
    assert (decision.target.load, decision.target.amount, decision.target.sets) == (bell(12), 5, 3)
    assert (decision.target.bridge_sets, decision.target.bridge_load, decision.target.lower_s) == (
        0,
        None,
        None,
    )
    assert keys(decision)[-1] == "P3 bridge-crossed"
    assert decision.change is Change.MORE_LOAD


@pytest.mark.parametrize("reps_left", [0, 1])
def test_p3_a_hard_session_on_the_bridge_is_repeated(reps_left: int) -> None:
    target = bridging(1)
    history = learned(target, did_bridge(target, reps_left=reps_left))
    assert answer(question(GOBLET, history, kit=BELLS)).target == target


def test_p3_two_misses_on_the_bridge_take_the_new_load_away() -> None:
    plain = asked(20, bell(8), lower_s=4)
    target = bridging(1)
    history = learned(plain, exposure(plain), missed(target, by=16), missed(target, by=16))
    decision = answer(question(GOBLET, history, kit=BELLS))
    assert (decision.target.bridge_sets, decision.target.load, decision.target.amount) == (0, bell(8), 20)


def test_p3_an_easy_session_without_reps_left_never_climbs_the_bridge() -> None:
    target = asked(20, bell(8))
    easy = exposure(target, done=Done(amounts=(20, 20, 20), load=bell(8)), session_rpe=2)
    decision = answer(question(GOBLET, learned(target, easy), kit=BELLS))
    assert decision.target == target
    assert keys(decision) == ["P1 easy-not-enough"]


def test_p3_no_set_at_more_than_twice_the_load() -> None:
    far = Kit(fixed=kettlebells(8, 20))
    percent = step_percent(bell(8), bell(20))
    assert percent == Decimal(150)
    found, after = on(asked(20, bell(8), lower_s=4), kit=far)
    assert after.bridge_sets == 0
    assert found[-1] == "P3 extra-set"


def test_p3_no_set_at_a_load_that_a_clinician_ruled_out() -> None:
    _found, after = on(asked(20, bell(8), lower_s=4), max_total_kg=Decimal(10))
    assert after.bridge_sets == 0


def test_p3_under_18_there_is_no_set_at_the_new_load() -> None:
    _found, after = on(asked(15, bell(8), lower_s=4), limits=SEVENTEEN, rider=rider(17))
    assert (after.bridge_sets, after.load) == (0, bell(8))


def test_p3_under_18_a_range_too_short_for_the_step_brings_no_heavier_set_either() -> None:
    short = replace(GOBLET, high=12)
    target = asked(12, bell(16), lower_s=4)
    for limits, who, sets in ((ADULT, rider(35), 1), (SEVENTEEN, rider(17, growth=Growth.NO), 0)):
        facts = question(
            short,
            learned(target, exposure(target)),
            kit=Kit(fixed=kettlebells(16, 20)),
            limits=limits,
            rider=who,
        )
        assert answer(facts).target.bridge_sets == sets


def test_i5_no_set_at_a_heavier_load_with_as_many_reps() -> None:
    fixed = replace(GOBLET, low=8, high=8)
    target = asked(8, bell(8), lower_s=4)
    decision = answer(question(fixed, learned(target, exposure(target)), kit=BELLS))
    assert (decision.target.bridge_sets, keys(decision)[-1]) == (0, "P3 extra-set")


def test_p3_an_extra_set_is_the_last_rung_and_comes_once() -> None:
    bells = Kit(fixed=kettlebells(8))
    found, after = on(asked(20, bell(8), lower_s=4), kit=bells)
    assert (after.sets, found[-1]) == (4, "P3 extra-set")
    found, after = on(asked(20, bell(8), lower_s=4, sets=4), kit=bells)
    assert (after.sets, found[-1]) == (4, "P3 at-the-top")


def test_p3_the_extra_set_keeps_within_the_caps_of_age() -> None:
    bells = Kit(fixed=kettlebells(8))
    found, after = on(asked(15, bell(8), lower_s=4), kit=bells, limits=SEVENTEEN, rider=rider(17))
    assert (after.sets, found[-1]) == (3, "P3 at-the-top")


# --- levels -----------------------------------------------------------------------------------------------------------

LOW = exercise("low", 1, edges=step_to("high", 12))
HIGH = exercise("high", 2)
PAIR = library_of(LOW, HIGH)


def level(reps: int, times: int, **changes: object) -> tuple[str, Target]:
    target = asked(reps)
    history = learned(target, *(exposure(target, slug="low"),) * times, slug="low")
    plain = {"library": PAIR, "harder_allowed": frozenset({"high"}), **changes}
    decision = answer(question(LOW, history, **plain))
    return decision.exercise, decision.target


@pytest.mark.parametrize(
    ("reps", "times", "slug", "amount"),
    [(11, 2, "low", 12), (12, 1, "low", 13), (12, 2, "high", 5), (14, 2, "high", 5)],
)
def test_l1_the_next_level_is_earned_by_its_criterion_twice(
    reps: int, times: int, slug: str, amount: int
) -> None:
    found, target = level(reps, times)
    assert (found, target.amount) == (slug, amount)
    if slug == "high":
        assert (target.sets, target.reps_left) == (2, 4)


def test_l1_a_level_that_does_not_fit_is_not_taken() -> None:
    assert level(12, 2, harder_allowed=frozenset())[0] == "low"


def test_h2_no_new_level_before_a_priority_race() -> None:
    assert level(12, 2, new_allowed=False)[0] == "low"


def test_s4_from_fifty_a_level_takes_one_more_exposure() -> None:
    assert level(12, 2, limits=FIFTY, rider=rider(55))[0] == "low"
    assert level(12, 3, limits=FIFTY, rider=rider(55))[0] == "high"


def test_l1_fewer_sets_than_the_criterion_asks_for_do_not_earn_it() -> None:
    target = asked(14, sets=2)
    history = learned(target, *(exposure(target, slug="low"),) * 3, slug="low")
    facts = question(LOW, history, library=PAIR, harder_allowed=frozenset({"high"}), slot=slot(sets=2))
    assert answer(facts).exercise == "low"


def test_p3_with_a_load_step_in_reach_the_level_waits() -> None:
    to_goblet = replace(SIT, slug="goblet-easy", loading=GOBLET.loading, holdings=(KETTLEBELL,))
    harder = exercise("goblet", 3)
    target = asked(12, bell(16))
    history = learned(target, *(exposure(target, slug="goblet-easy"),) * 2, slug="goblet-easy")
    facts = question(
        replace(to_goblet, edges=step_to("goblet")),
        history,
        kit=Kit(fixed=kettlebells(16, 20)),
        library=library_of(replace(to_goblet, edges=step_to("goblet")), harder),
        harder_allowed=frozenset({"goblet"}),
    )
    decision = answer(facts)
    assert (decision.exercise, decision.target.amount) == ("goblet-easy", 13)
