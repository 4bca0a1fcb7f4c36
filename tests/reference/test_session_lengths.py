"""D1 and D2 against published lengths of sessions and published savings.

| what | published | source | tag |
|---|---|---|---|
| 5 exercises, 3 x 10 at 2 s down and 2 s up, rest 120 s, change 120 s | 38.0 min | the same formula by hand | CALC |
| 7 exercises, 1 set of 8 to 12, rest 90 s, change 120 s | 13 min | Schoenfeld 2019, Med Sci Sports Exerc 51(1) | C1 |
| the same with 3 and with 5 sets | about 40 and 68 min | the same | M |
| time saved by doing exercises in pairs, 24 sets, rests of 120 s | 36 % | Burke 2024, SportRxiv 419 | C1 |
| time saved by pairs, drop sets or rest-pause | roughly half | Iversen 2021, Sports Med 51 | C1 |
| the same 24 sets by the formula, 30 to 60 s a set | 41.4 to 34.3 % | the same formula by hand | CALC |

C1 seen in the paper, M from memory, CALC worked out from the formula with another program than ours. There is no
published standard formula for the length of a session, so a tenth either side is what the model is asked for, and a
seventh of the shortest, which it over-predicts.
"""

from dataclasses import replace

import pytest

from programs.engine.facts import Exercise, Format, Measure, Target
from programs.engine.session import session_minutes, session_seconds
from tests.engine.samples import SQUAT

Work = list[tuple[Exercise, Target]]


def work(exercises: int, sets: int, reps: int, rest_s: int, one: Exercise = SQUAT) -> Work:
    return [(one, Target(Measure.REPS, sets, reps, rest_s=rest_s))] * exercises


def held(exercises: int, sets: int, seconds: int, rest_s: int) -> Work:
    return [(SQUAT, Target(Measure.HOLD, sets, seconds, rest_s=rest_s))] * exercises


def test_d1_five_exercises_of_three_sets_take_38_minutes() -> None:
    assert session_seconds(work(5, 3, 10, 120)) == 38 * 60
    assert session_minutes(work(5, 3, 10, 120)) == 38


#: Sets, seconds a set, minutes by the formula (CALC), minutes published, tag.
SCHOENFELD = [
    (1, 20, 14.3, 13, "C1"),
    (3, 20, 40.0, 40, "M"),
    (5, 20, 65.7, 68, "M"),
    (1, 24, 14.8, 13, "C1"),
    (3, 24, 41.4, 40, "M"),
    (5, 24, 68.0, 68, "M"),
]


@pytest.mark.parametrize(("sets", "seconds", "formula", "published", "tag"), SCHOENFELD)
def test_d1_the_sessions_of_a_published_trial_come_out_near_the_published_minutes(
    sets: int, seconds: int, formula: float, published: int, tag: str
) -> None:
    minutes = session_seconds(held(7, sets, seconds, 90)) / 60
    assert minutes == pytest.approx(formula, abs=0.06)
    assert minutes == pytest.approx(published, rel=0.15 if sets == 1 else 0.10), tag


def test_d1_the_pace_of_that_trial_is_that_of_an_exercise() -> None:
    """Ten reps of 1 s down and 1 s up, the quicker end of what ACSM 2009 (C1) calls moderate, are the 20 s above."""
    quick = replace(SQUAT, lower_s=1, lift_s=1)
    assert session_seconds(work(7, 3, 10, 90, quick)) == session_seconds(held(7, 3, 20, 90))


#: Seconds a set, percent saved by the formula (CALC).
SAVINGS = [(30, 41.4), (40, 38.7), (45, 37.5), (50, 36.4), (60, 34.3)]


def saving(seconds: int, station_s: int) -> float:
    """Percent of time saved by a circuit of pairs over 24 straight sets, the change being a rest like the others."""
    pairs = held(6, 4, seconds, 120)
    straight = session_seconds(pairs, change_s=120)
    circuit = session_seconds(pairs, Format.CIRCUIT, station_s=station_s)
    return 100 * (straight - circuit) / straight


@pytest.mark.parametrize(("seconds", "published"), SAVINGS)
def test_d2_pairs_with_nothing_in_between_save_what_was_measured(seconds: int, published: float) -> None:
    assert saving(seconds, station_s=0) == pytest.approx(published, abs=0.05)


def test_d2_the_measured_36_percent_is_that_of_sets_of_50_seconds() -> None:
    assert round(saving(50, station_s=0)) == 36


@pytest.mark.parametrize("seconds", [30, 40, 45, 50, 60])
def test_d2_with_time_to_change_over_a_circuit_saves_about_a_third(seconds: int) -> None:
    assert saving(seconds, station_s=15) == pytest.approx(100 / 3, abs=4)


def test_d2_half_is_saved_only_with_shorter_rests_than_those() -> None:
    """Where Iversen 2021 says half and Burke 2024 measured 36 %, the rest after the pair makes the difference."""
    straight = session_seconds(held(6, 4, 40, 120), change_s=120)
    shorter = session_seconds(held(6, 4, 40, 75), Format.CIRCUIT, station_s=0)
    assert saving(40, station_s=0) < 40
    assert shorter / straight == pytest.approx(0.5, abs=0.03)
