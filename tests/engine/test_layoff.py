"""P10: coming back after a break."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from programs.engine.facts import Change, Exposure, Kit, Measure, Target
from programs.engine.layoff import Gap, gap_before, load_cut, volume_cuts
from tests.engine.histories import (
    SEVENTEEN,
    TODAY,
    answer,
    asked,
    exposure,
    keys,
    learned,
    question,
    refusal,
    spaced,
)
from tests.engine.samples import BARBELL, GOBLET, KETTLEBELL, PLANK, SIT, SQUAT, bell, kettlebells, rider
from tests.engine.test_progression import BAR_SQUAT, bar


@pytest.mark.parametrize(
    ("days", "load", "cuts"),
    [
        (7, 0, ()),
        (13, 0, ()),
        (14, 10, (50, 30)),
        (27, 10, (50, 30)),
        (28, 20, (50, 30, 20, 10)),
        (55, 20, (50, 30, 20, 10)),
        (56, 0, ()),
    ],
)
def test_p10_longer_breaks_cut_more(days: int, load: int, cuts: tuple[int, ...]) -> None:
    assert (load_cut(days), volume_cuts(days)) == (load, cuts)


START = date(2026, 1, 5)


def on(*days: int) -> list[date]:
    return [START + timedelta(days=day) for day in days]


@pytest.mark.parametrize(
    ("trained", "asked_on", "expected"),
    [
        ((), 3, None),
        ((0, 3), 10, None),  # 7 days
        ((0, 3), 11, Gap(8, on(3)[0], 1)),
        ((0, 3, 12), 15, None),  # a short break is over with the first session
        ((0, 3), 17, Gap(14, on(3)[0], 1)),
        ((0, 3, 17), 20, Gap(14, on(3)[0], 1)),
        ((0, 3, 17, 20), 24, Gap(14, on(3)[0], 2)),
        ((0, 3, 17, 20, 24, 27), 31, None),  # two weeks and the return is over
        ((0, 28, 32, 35, 39, 42, 46), 49, Gap(28, on(0)[0], 4)),
        ((0, 28, 32, 35, 39, 42, 46, 49, 53), 56, None),
        ((0, 56, 60), 63, Gap(56, on(0)[0], 2)),
        (
            (0, 30, 34),
            43,
            Gap(30, on(0)[0], 2),
        ),  # nine more days away within a return: two of them do not count
        ((0, 30, 38, 46), 54, Gap(30, on(0)[0], 4)),  # once every eight days still gets to the end
        ((0, 30, 38, 46, 54), 61, None),
        ((0, 30, 34), 50, Gap(30, on(0)[0], 1)),  # sixteen more: it starts again
        ((0, 14, 17), 45, Gap(28, on(0)[0], 1)),  # with the longer of the two
        ((0, 14, 21), 40, Gap(19, on(21)[0], 1)),  # what was in its last week is over
    ],
)
def test_p10_the_week_of_a_return_is_counted_from_the_first_session_back(
    trained: tuple[int, ...], asked_on: int, expected: Gap | None
) -> None:
    assert gap_before(on(*trained), on(asked_on)[0]) == expected


def back(days: int, week: int = 1, *since: Target, target: Target | None = None, **changes: Any) -> Any:
    """A question in a week of a return: a long history before the break, and light sessions since."""
    usual = target or asked(10, bell(20))
    before = learned(usual, exposure(usual), exposure(usual))
    returned = [exposure(one, light=True) for one in since]
    shift = days + 7 * (week - 1)
    moved = [replace(one, on=one.on - timedelta(days=shift - 3)) for one in before]
    light = spaced(*returned)
    return question(
        GOBLET,
        (*moved, *light),
        kit=Kit(fixed=kettlebells(8, 12, 16, 18, 20, 24)),
        away_days=days,
        away_since=TODAY - timedelta(days=shift),
        return_week=week,
        **changes,
    )


@pytest.mark.parametrize(("days", "kg"), [(14, 18), (27, 18), (28, 16), (55, 16)])
def test_p10_the_load_is_cut_and_rounded_down(days: int, kg: int) -> None:
    decision = answer(back(days))
    assert decision.target.load == bell(kg)
    assert decision.change is Change.LESS_LOAD
    assert [key.split()[0] for key in keys(decision)] == ["P10", "P10", "P10"]


@pytest.mark.parametrize(
    ("usual", "days", "week", "sets"),
    [
        (3, 14, 1, 1),
        (4, 14, 1, 2),
        (3, 14, 2, 2),
        (5, 28, 3, 3),
        (5, 28, 4, 3),
    ],
)
def test_p10_the_volume_is_cut_from_the_usual_and_rounded_down(
    usual: int, days: int, week: int, sets: int
) -> None:
    since = [asked(8, bell(16), sets=1)] if week > 1 else []
    decision = answer(back(days, week, *since, usual_sets=Decimal(usual)))
    assert decision.target.sets == min(sets, 3)


@pytest.mark.parametrize(("usual", "reps"), [("1", 5), ("1.5", 7)])
def test_p10_half_of_less_than_two_sets_is_one_set_of_fewer_reps(usual: str, reps: int) -> None:
    target = answer(back(20, usual_sets=Decimal(usual))).target
    assert (target.sets, target.amount) == (1, reps)
    assert target.amount <= Decimal(usual) * 10 / 2


def test_p10_under_18_less_than_six_reps_is_left_out() -> None:
    facts = back(20, usual_sets=Decimal(1), limits=SEVENTEEN, rider=rider(17))
    assert keys(refusal(facts))[-1] == "P10 away-too-little"


def test_p10_with_no_maximum_known_it_is_two_sets_of_eight_with_four_left() -> None:
    target = answer(back(20, usual_sets=Decimal(6))).target
    assert (target.sets, target.amount, target.reps_left) == (2, 8, 4)


def test_p10_with_a_maximum_known_sets_times_reps_times_share_stay_within_thirty() -> None:
    usual = asked(20, bell(20))
    decision = answer(back(20, target=usual, known_max_kg=Decimal(24), usual_sets=Decimal(6)))
    target = decision.target
    assert target.load is not None and target.load.kg is not None
    assert target.sets * target.amount * target.load.kg / 24 <= 30
    assert "P10 away-volume-intensity" in keys(decision)


def test_p10_no_maximum_is_used_under_18() -> None:
    facts = back(20, known_max_kg=Decimal(24), usual_sets=Decimal(6), limits=SEVENTEEN, rider=rider(17))
    assert answer(facts).target.amount <= 8


def test_p10_nothing_rises_above_the_last_session_of_the_return() -> None:
    eased = asked(8, bell(12), sets=1)
    decision = answer(back(20, 2, eased))
    assert decision.target.load == bell(12)


def test_p10_after_the_return_the_load_of_the_return_is_where_it_goes_on() -> None:
    facts = replace(
        back(20, 3, asked(8, bell(18), sets=2)), away_days=None, away_since=None, return_week=None
    )
    decision = answer(facts)
    assert (decision.target.load, decision.target.amount, decision.target.sets) == (bell(18), 10, 3)
    assert keys(decision) == ["P7 eased-in"]


def test_p10_where_no_lighter_load_is_there_it_goes_a_level_down_or_is_left_out() -> None:
    facts = replace(back(30), kit=Kit(fixed=kettlebells(20)))
    assert "P10 away-no-lighter" in keys(refusal(facts))
    decision = answer(replace(facts, easier_allowed=frozenset({"squat"})))
    assert (decision.exercise, decision.target.load) == ("squat", None)


@pytest.mark.parametrize("one", [SIT, PLANK])
def test_p10_body_weight_exercises_come_back_with_less_volume(one: Any) -> None:
    measure = one.measure
    target = asked(40 if measure is Measure.HOLD else 15, measure=measure)
    history: list[Exposure] = [
        replace(past, on=past.on - timedelta(days=17))
        for past in learned(target, exposure(target, slug=one.slug), slug=one.slug)
    ]
    facts = question(one, history, away_days=20, away_since=TODAY - timedelta(days=20), return_week=1)
    found = answer(facts).target
    assert (found.sets, found.amount) == (1, 30 if measure is Measure.HOLD else 8)


def test_p10_after_eight_weeks_it_is_learned_again() -> None:
    usual = asked(10, bell(20))
    history = [replace(one, on=one.on - timedelta(days=53)) for one in learned(usual, exposure(usual))]
    decision = answer(
        question(GOBLET, history, away_days=56, away_since=TODAY - timedelta(days=56), return_week=1)
    )
    assert (decision.target.sets, decision.target.amount, decision.target.load) == (2, 5, bell(8))
    assert keys(decision) == ["P10 away-learn-again"]
    again = exposure(decision.target, days_ago=0)
    later = answer(question(GOBLET, (*history, again), session_on=TODAY + timedelta(days=3)))
    assert keys(later) == ["H1 new-key"]
    assert later.target.load == bell(8)


def test_p10_learning_again_is_never_with_more_than_before() -> None:
    usual = asked(10, bell(12))
    history = [replace(one, on=one.on - timedelta(days=60)) for one in learned(usual, exposure(usual))]
    facts = question(GOBLET, history, away_days=63, return_week=1, kit=Kit(fixed=kettlebells(16, 20)))
    assert keys(refusal(facts)) == ["K6 no-load-for-it"]
    assert answer(replace(facts, easier_allowed=frozenset({"squat"}))).exercise == "squat"


def test_h1_an_implement_unused_for_eight_weeks_is_new_though_the_pattern_was_trained() -> None:
    loaded, bare = asked(10, bell(8)), asked(15)
    old = [
        replace(one, on=one.on - timedelta(days=60))
        for one in learned(loaded, exposure(loaded, slug="squat"), slug="squat")
    ]
    weekly = spaced(*(exposure(bare, slug="squat"),) * 9, every=7)
    decision = answer(question(SQUAT, (*old, *weekly), holding=KETTLEBELL))
    assert (decision.target.load, decision.target.amount, decision.target.sets) == (bell(8), 5, 2)
    assert keys(decision) == ["P2 first-load"]


def test_p10_what_began_after_the_break_is_repeated_until_the_return_is_over() -> None:
    target = asked(8, bell(12))
    history = learned(target, exposure(target))
    since = history[0].on - timedelta(days=20)
    facts = question(GOBLET, history, away_days=20, away_since=since, return_week=2)
    assert "P10 since-return" in keys(answer(facts))


def test_p10_a_barbell_comes_back_to_a_load_that_can_be_loaded() -> None:
    target = asked(8, bar("50"))
    past = [
        replace(one, on=one.on - timedelta(days=17))
        for one in learned(target, exposure(target, slug="bar-squat"), slug="bar-squat")
    ]
    facts = question(
        BAR_SQUAT, past, holding=BARBELL, away_days=20, away_since=TODAY - timedelta(days=20), return_week=1
    )
    assert answer(facts).target.load == bar("45")


def test_p10_what_the_last_session_of_the_return_used_may_be_gone_and_something_lighter_is_taken() -> None:
    eased = asked(8, bell(12), sets=1)
    without_twelve = Kit(fixed=kettlebells(8, 16, 20))
    decision = answer(replace(back(20, 2, eased), kit=without_twelve))
    assert decision.target.load == bell(8)


@pytest.mark.parametrize(
    ("days", "exercise", "reps", "key"),
    [
        (8, "goblet", 10, "P10 away-repeat"),
        (13, "goblet", 10, "P10 away-repeat"),
        (14, "goblet", 8, "P10 away-load-kept"),
        (27, "goblet", 8, "P10 away-load-kept"),
        (28, "squat", 5, "P10 away-no-lighter"),
    ],
)
def test_p10_with_no_lighter_load_the_level_stays_for_four_weeks_and_reps_give_way(
    days: int, exercise: str, reps: int, key: str
) -> None:
    facts = replace(
        back(days), kit=Kit(fixed=kettlebells(20)), easier_allowed=frozenset({"squat"}), usual_sets=Decimal(4)
    )
    decision = answer(facts)
    assert (decision.exercise, decision.target.amount) == (exercise, reps)
    assert key in keys(decision)
    if exercise == "goblet":
        assert decision.target.load == bell(20)


def test_p10_a_load_that_stays_has_a_tenth_fewer_reps() -> None:
    usual = asked(15, bell(20))
    facts = replace(back(20, target=usual), kit=Kit(fixed=kettlebells(20)), known_max_kg=Decimal(60))
    why = next(reason for reason in answer(facts).reasons if reason.key == "away-load-kept")
    assert (why.figures["from"], why.figures["to"]) == (15, 13)


def test_p10_what_began_after_an_earlier_break_is_cut_after_one_of_its_own() -> None:
    # The pattern's break began five weeks ago, this exercise three weeks ago, and it was last done 14 days ago.
    begun = spaced(*(exposure(asked(8, bell(20))) for _time in range(3)), last=14)
    facts = question(
        GOBLET,
        begun,
        kit=Kit(fixed=kettlebells(8, 12, 16, 18, 20, 24)),
        away_days=21,
        away_since=TODAY - timedelta(days=35),
        return_week=1,
    )
    assert answer(facts).target.load == bell(18)
