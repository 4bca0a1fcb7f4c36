"""The response model does what its docstring says. Every number here is ours; nothing stands in a source."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from random import Random

import pytest

from athletes.vocabulary import Implement, Region, Side
from programs.engine.facts import Done, Holding, Load, Measure, Target
from programs.engine.simulate import BODY_WEIGHT_LOAD, Body, Episode, Persona, Spell, season_week

MONDAY = date(2026, 9, 28)


def bell(kg: int) -> Load:
    return Load(Holding(Implement.KETTLEBELL), Decimal(kg))


SQUAT = Target(Measure.REPS, 3, 8, bell(12))
HOLD = Target(Measure.HOLD, 2, 30)
KEY = ("goblet-squat", "kettlebell")


def train(body: Body, sessions: int, every: int = 7, begins: date = MONDAY, seed: int = 5) -> list[float]:
    """The hidden strength after each session, so many days apart."""
    draw, found = Random(seed), []
    for number in range(sessions):
        body.perform("goblet-squat", SQUAT, False, draw, begins + timedelta(days=every * number))
        found.append(body.strength[KEY])
    return found


def test_the_same_seed_gives_the_same_sessions() -> None:
    def lived(seed: int) -> list[object]:
        body, draw = Body.fresh(Persona(misjudges=0.3)), Random(seed)
        return [body.train((("goblet-squat", SQUAT, False),), 40, draw) for _time in range(20)]

    assert lived(3) == lived(3)
    assert lived(3) != lived(4)


def test_strength_rises_with_every_session_and_faster_with_more_gain() -> None:
    slow, fast = (train(Body.fresh(Persona(gain=gain)), 20) for gain in (0.5, 1.5))
    for curve in (slow, fast):
        assert all(later > earlier for earlier, later in zip(curve, curve[1:], strict=False))
    assert fast[0] / slow[0] > 1
    assert fast[-1] / slow[-1] > fast[0] / slow[0]


def test_a_session_done_adds_1_2_per_cent() -> None:
    curve = train(Body.fresh(Persona()), 2)
    assert curve[1] / curve[0] == pytest.approx(1.012)


def test_a_gain_shrinks_towards_its_ceiling_and_never_passes_it() -> None:
    body = Body.fresh(Persona(ceiling=1.6))
    curve = train(body, 400)
    gains = [later - earlier for earlier, later in zip(curve, curve[1:], strict=False)]
    assert gains[0] > gains[100] > gains[300] > 0
    assert 1.55 * body.first[KEY] < curve[-1] <= 1.6 * body.first[KEY]


def test_an_exercise_meets_a_rider_with_so_many_reps_to_spare() -> None:
    for seed in range(40):
        body = Body.fresh(Persona(spare=(4, 14)))
        body.perform("goblet-squat", SQUAT, False, Random(seed))
        possible = 30 * (body.first[KEY] / 12 - 1)
        assert 8 + 4 - 0.01 <= possible <= 8 + 14 + 0.01


@pytest.mark.parametrize(("days", "lost"), [(7, 0.0), (14, 0.0), (21, 0.015), (28, 0.03), (42, 0.06)])
def test_what_is_not_done_for_more_than_a_fortnight_is_lost_by_the_week(days: int, lost: float) -> None:
    body = Body.fresh(Persona())
    before = train(body, 30)[-1]
    last = MONDAY + timedelta(weeks=29)
    body.perform("goblet-squat", SQUAT, False, Random(1), last + timedelta(days=days))
    assert body.strength[KEY] == pytest.approx(before * (1 - lost) * 1.012)


def test_no_break_takes_more_than_was_gained() -> None:
    body = Body.fresh(Persona())
    train(body, 10)
    body.perform("goblet-squat", SQUAT, False, Random(1), MONDAY + timedelta(weeks=300))
    assert body.strength[KEY] == pytest.approx(body.first[KEY] * 1.012)


def test_a_break_of_one_exercise_costs_another_nothing() -> None:
    body, draw = Body.fresh(Persona()), Random(2)
    train(body, 10)
    for week in range(10, 20):
        body.perform("one-arm-row", SQUAT, True, draw, MONDAY + timedelta(weeks=week))
    row = body.strength["one-arm-row", "kettlebell"]
    assert row == pytest.approx(body.first["one-arm-row", "kettlebell"] * 1.012**10)


def test_days_that_are_not_told_lose_nothing() -> None:
    body, draw = Body.fresh(Persona()), Random(2)
    for _time in range(3):
        body.perform("goblet-squat", SQUAT, False, draw)
    assert not body.done_on
    assert body.strength[KEY] == pytest.approx(body.first[KEY] * 1.012**3)


def test_a_hold_grows_by_three_seconds_and_falls_by_three_a_week() -> None:
    body, draw = Body.fresh(Persona()), Random(2)
    for week in range(10):
        body.perform("plank", HOLD, False, draw, MONDAY + timedelta(weeks=week))
    assert body.strength["plank", "hold"] == 30 + 25 + 10 * 3
    body.perform("plank", HOLD, False, draw, MONDAY + timedelta(weeks=9, days=28))
    assert body.strength["plank", "hold"] == 85 - 2 * 3 + 3


def test_a_heavier_load_allows_fewer_reps_and_body_weight_counts_as_40_kg() -> None:
    def most(kg: int) -> int:
        body = Body.fresh(Persona())
        body.strength[KEY] = 24.0
        done = body.perform("goblet-squat", replace(SQUAT, amount=40, load=bell(kg)), False, Random(1))
        return (done.amounts or (0,))[0]

    assert most(12) > most(16) > most(20)
    assert abs(most(16) - 15) <= 1  # 30 x (24 / 16 - 1)
    body = Body.fresh(Persona())
    body.strength["push-up", "none"] = BODY_WEIGHT_LOAD * 1.5
    done = body.perform("push-up", Target(Measure.REPS, 2, 40), False, Random(1))
    assert abs((done.amounts or (0,))[0] - 15) <= 1


def test_nobody_does_more_than_was_asked_nor_tells_more_than_four_left() -> None:
    body, draw = Body.fresh(Persona(gain=4.0, misjudges=0.5)), Random(9)
    for _time in range(60):
        done = body.perform("goblet-squat", SQUAT, False, draw)
        assert done.amounts == (8, 8, 8)
        assert done.reps_left is not None and 0 <= done.reps_left <= 4


def test_who_misjudges_tells_a_rep_too_many_or_too_few_and_does_the_same() -> None:
    def told(misjudges: float) -> list[Done]:
        found = []
        for seed in range(60):
            body = Body.fresh(Persona(misjudges=misjudges))
            body.strength[KEY] = 12 * (1 + 10 / 30)
            found.append(body.perform("goblet-squat", SQUAT, False, Random(seed)))
        return found

    pairs = list(zip(told(0.0), told(1.0), strict=True))
    assert all(honest.amounts == other.amounts for honest, other in pairs)
    apart = {(other.reps_left or 0) - (honest.reps_left or 0) for honest, other in pairs}
    assert apart == {-1, 1}


def test_the_heavier_sets_of_a_bridge_are_as_many_reps_as_the_strength_allows() -> None:
    bridge = replace(SQUAT, amount=12, bridge_load=bell(16), bridge_sets=1, bridge_amount=5)

    def amounts(hidden: float, heeds: bool) -> tuple[int, ...] | None:
        body = Body.fresh(Persona(heeds_bridges=heeds))
        body.strength[KEY] = hidden
        return body.perform("goblet-squat", bridge, False, Random(1)).amounts

    assert amounts(30.0, True) == (12, 12, 5)
    weak = amounts(17.0, True)
    assert weak is not None and weak[2] == 2  # 30 x (17 / 16 - 1)
    assert amounts(30.0, False) == (12, 12, 12)


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_nobody_comes_or_tells_at_0_and_everybody_at_1(share: float) -> None:
    body, draw = Body.fresh(Persona(attends=share, reports=share)), Random(4)
    assert {body.comes(week, draw) for week in range(50)} == {bool(share)}
    assert {body.tells(week, draw) for week in range(50)} == {bool(share)}


def test_adherence_is_the_share_of_sessions_that_are_done() -> None:
    body, draw = Body.fresh(Persona(attends=0.8)), Random(4)
    assert 0.77 < sum(body.comes(0, draw) for _time in range(4000)) / 4000 < 0.83


def test_who_goes_quiet_tells_nothing_from_that_week_on() -> None:
    body, draw = Body.fresh(Persona(reports=1.0, quiet_from=6)), Random(4)
    assert [body.tells(week, draw) for week in range(4, 9)] == [True, True, False, False, False]


def test_a_pain_begins_in_its_week_and_eases_by_a_point_a_week_until_it_is_gone() -> None:
    body = Body.fresh(Persona(episodes=(Episode(3, Region.KNEE, Side.LEFT, 4),)))
    scores = [[score for _region, _side, score in body.pain(week)] for week in range(1, 9)]
    assert scores == [[], [], [4], [3], [2], [1], [], []]


def test_an_illness_holds_its_days_and_no_others() -> None:
    spell = Spell(10, 4)
    body = Body.fresh(Persona(illnesses=(spell,)))
    assert [day for day in range(30) if body.illness(day) is spell] == [10, 11, 12, 13]


def test_a_session_is_as_hard_as_its_hardest_exercise() -> None:
    def rpe(hidden: float) -> float:
        found = []
        for seed in range(200):
            body = Body.fresh(Persona())
            body.strength[KEY] = hidden
            found.append(body.train((("goblet-squat", SQUAT, False),), 40, Random(seed)).session_rpe)
        return sum(found) / len(found)

    assert rpe(12 * (1 + 8 / 30)) > 7 > 5 > rpe(12 * (1 + 16 / 30))


def test_a_season_counts_its_weeks_from_the_first_monday() -> None:
    assert [season_week(MONDAY, MONDAY + timedelta(days=days)) for days in (0, 6, 7, 13, 14)] == [
        0,
        0,
        1,
        1,
        2,
    ]
