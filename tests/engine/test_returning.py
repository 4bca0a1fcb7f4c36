"""P10 looked ahead: what a break would do to one exercise, week by week, by the same rules as any other target."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from programs.engine.facts import Kit, Library, Measure, Target
from programs.engine.kit import is_reachable
from programs.engine.returning import LayoffQuestion, ReturnWeek, weeks_back
from tests.engine.samples import GOBLET, HALL, LIBRARY, PLANK, bell, kettlebells

LAST = date(2026, 1, 12)
ASKED = LayoffQuestion(
    GOBLET, Target(Measure.REPS, 3, 10, bell(16), reps_left=2), LAST, 20, 35, 36, HALL, library=LIBRARY
)


def targets(weeks: tuple[ReturnWeek, ...]) -> list[tuple[int, int, Decimal | None]]:
    """Sets, reps and load of each week."""
    return [
        (
            one.decision.target.sets,
            one.decision.target.amount,
            one.decision.target.load and one.decision.target.load.kg,
        )
        for one in weeks
        if one.decision is not None
    ]


@pytest.mark.parametrize(
    ("days", "load_cut", "cuts", "is_learned_again", "weeks"),
    [
        (7, 0, (), False, 0),
        (8, 0, (), False, 1),
        (13, 0, (), False, 1),
        (14, 10, (50, 30), False, 2),
        (27, 10, (50, 30), False, 2),
        (28, 20, (50, 30, 20, 10), False, 4),
        (55, 20, (50, 30, 20, 10), False, 4),
        (56, 0, (), True, 2),
    ],
)
def test_p10_the_cuts_go_with_the_days_away(
    days: int, load_cut: int, cuts: tuple[int, ...], is_learned_again: bool, weeks: int
) -> None:
    found = weeks_back(replace(ASKED, days=days))
    assert (found.load_cut_percent, found.volume_cuts_percent) == (load_cut, cuts)
    assert found.is_learned_again is is_learned_again
    assert [one.week for one in found.weeks] == list(range(1, weeks + 1))
    assert [one.on for one in found.weeks] == [LAST + timedelta(days=days + 7 * at) for at in range(weeks)]
    assert [one.volume_cut_percent for one in found.weeks] == list(cuts or (0,) * weeks)


def test_p10_the_weeks_back_of_a_long_break_rise_to_the_usual_and_never_above_it() -> None:
    found = targets(weeks_back(replace(ASKED, days=30, usual_sets=Decimal(3))).weeks)
    assert found == [(1, 8, 12), (2, 8, 12), (2, 10, 12), (2, 10, 12)]


@pytest.mark.parametrize("days", [9, 20, 40, 90])
def test_i2_i10_every_load_can_be_set_up_and_the_first_week_is_at_most_half(days: int) -> None:
    found = weeks_back(replace(ASKED, days=days))
    for one in found.weeks:
        assert one.decision is not None
        assert is_reachable(HALL, one.decision.target.load)
        assert one.decision.reasons
    if days >= 14:
        assert targets(found.weeks)[0][0] * 2 <= ASKED.target.sets


def test_p10_56_days_away_is_learned_again_with_the_lightest() -> None:
    sets, reps, kg = targets(weeks_back(replace(ASKED, days=56)).weeks)[0]
    assert (sets, reps, kg) == (1, 5, 8)


def test_k6_where_nothing_is_light_enough_a_level_down_stands_in_and_the_forecast_ends() -> None:
    kept = weeks_back(replace(ASKED, kit=Kit(fixed=kettlebells(16))))  # 20 days: at the load, with fewer reps
    assert [one.decision.exercise for one in kept.weeks if one.decision] == ["goblet", "goblet"]
    found = weeks_back(replace(ASKED, days=30, kit=Kit(fixed=kettlebells(16))))
    assert len(found.weeks) == 1
    decision = found.weeks[0].decision
    assert decision is not None and decision.exercise == "squat"
    alone = weeks_back(replace(ASKED, days=30, kit=Kit(fixed=kettlebells(16)), library=Library(())))
    assert alone.weeks[0].decision is None and alone.weeks[0].left_out is not None
    assert alone.weeks[0].left_out.reasons


def test_p10_a_hold_comes_back_too() -> None:
    asked = replace(ASKED, exercise=PLANK, target=Target(Measure.HOLD, 3, 45), kit=Kit(), library=Library(()))
    assert targets(weeks_back(asked).weeks) == [(1, 30, None), (2, 30, None)]


def test_s3_under_18_keeps_the_limits_of_the_young() -> None:
    young = replace(
        ASKED, youngest_age=16, oldest_age=16, target=replace(ASKED.target, sets=2), usual_sets=Decimal(2)
    )
    for one in weeks_back(young).weeks:
        assert one.decision is not None
        assert 6 <= one.decision.target.amount <= 15


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"days": 0}, "days: a break has 1"),
        ({"days": 4000}, "days: a break has 1"),
        ({"target": Target(Measure.REPS, 0, 10)}, "at least 1 set"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused(changes: dict[str, object], line: str) -> None:
    with pytest.raises(ValueError, match=line):
        weeks_back(replace(ASKED, **changes))  # type: ignore[arg-type]
