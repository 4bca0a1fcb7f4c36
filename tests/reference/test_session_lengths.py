"""D1 and D2 against published lengths of sessions and published savings.

There is no published standard formula for the length of a session, so a tenth either side is what the model is asked
for, and a seventh of the shortest, which it over-predicts.
"""

from dataclasses import replace

import pytest

from programs.engine.facts import Exercise, Format, Measure, Target
from programs.engine.session import session_minutes, session_seconds, set_seconds
from programs.forms.builder import SlotForm
from tests.engine.samples import SQUAT, slot
from tests.reference.checks import Between, Check, Confidence, against
from tests.reference.sources import (
    ACSM_2002,
    ACSM_2009,
    ARITHMETIC,
    BURKE,
    IVERSEN_2021,
    NSCA_OLDER,
    SCHOENFELD_2019,
)

C1, C2, CALC, M = Confidence.C1, Confidence.C2, Confidence.CALC, Confidence.M
Work = list[tuple[Exercise, Target]]


def work(exercises: int, sets: int, reps: int, rest_s: int, one: Exercise = SQUAT) -> Work:
    return [(one, Target(Measure.REPS, sets, reps, rest_s=rest_s))] * exercises


def held(exercises: int, sets: int, seconds: int, rest_s: int) -> Work:
    return [(SQUAT, Target(Measure.HOLD, sets, seconds, rest_s=rest_s))] * exercises


# --- D1 ---------------------------------------------------------------------------------------------------------------


@against(
    Check("D1", "minutes of five exercises", "3 x 10 at 2 s down, 2 s up, rests of 120 s", (5, 3, 10, 120), 38,
          ARITHMETIC, CALC, "length by the formula")
)  # fmt: skip
def test_d1_five_exercises_of_three_sets_take_38_minutes(given: tuple[int, int, int, int]) -> int:
    minutes = session_minutes(work(*given))
    assert session_seconds(work(*given)) == 60 * minutes
    return minutes


@against(
    Check("D1", "seconds of a rep", "an exercise that names no tempo", None, Between(2, 4), ACSM_2009, C1,
          "1 to 2 s up and 1 to 2 s down")
)  # fmt: skip
def test_d1_the_usual_tempo_is_what_is_called_moderate(given: None) -> float:
    return set_seconds(SQUAT, Target(Measure.REPS, 1, 10)) / 10


@against(
    Check("D1", "a rest in seconds that a coach may ask for", f"{rest} s", rest, rest, source, how, "rests")
    for source, how, rests in (
        (ACSM_2009, C1, (180, 300)),  # heavy work: 3 to 5 min in the abstract
        (ACSM_2009, M, (120,)),  # the same: 2 to 3 min in the body of the paper
        (ACSM_2002, C1, (180,)),  # at least 3 min
        (NSCA_OLDER, C2, (120,)),
    )
    for rest in rests
)
def test_d1_every_published_rest_may_be_asked_for(given: int) -> int:
    """The paper that gives most of them does not agree with itself, so none of them is forced on a coach."""
    found: int = SlotForm.base_fields["rest_s"].clean(str(given))
    return found


@against(
    Check(
        "D1",
        "the usual rest in seconds",
        "a slot that names none",
        None,
        Between(60, 120),
        ACSM_2009,
        M,
        "rests",
    )
)
def test_d1_the_usual_rest_is_that_of_assistance_work(given: None) -> int:
    return slot().rest_s


#: Seven exercises with rests of 90 s and changes of 120 s. Sets, seconds a set, minutes by the formula.
BY_FORMULA = [(1, 20, 14.3), (3, 20, 40.0), (5, 20, 65.7), (1, 24, 14.8), (3, 24, 41.4), (5, 24, 68.0)]
#: Sets, minutes that a session of them took, how that is known.
SCHOENFELD = [(1, 13, C1), (3, 40, M), (5, 68, M)]


@against(
    Check("D1", "minutes of seven exercises", f"{sets} sets of {seconds} s", (sets, seconds), minutes,
          ARITHMETIC, CALC, "length by the formula", tolerance=0.06)
    for sets, seconds, minutes in BY_FORMULA
)  # fmt: skip
def test_d1_the_formula_gives_what_another_program_made_of_it(given: tuple[int, int]) -> float:
    sets, seconds = given
    return session_seconds(held(7, sets, seconds, 90)) / 60


@against(
    Check("D1", "minutes of a session of the trial", f"{sets} sets of {seconds} s", (sets, seconds), minutes,
          SCHOENFELD_2019, how, "lengths of a trial's sessions", tolerance=minutes * (0.15 if sets == 1 else 0.10))
    for seconds in (20, 24)
    for sets, minutes, how in SCHOENFELD
)  # fmt: skip
def test_d1_the_sessions_of_a_published_trial_come_out_near_the_published_minutes(
    given: tuple[int, int],
) -> float:
    sets, seconds = given
    return session_seconds(held(7, sets, seconds, 90)) / 60


def test_d1_the_pace_of_that_trial_is_that_of_an_exercise() -> None:
    """Ten reps of 1 s down and 1 s up, the quicker end of what ACSM 2009 (C1) calls moderate, are the 20 s above."""
    quick = replace(SQUAT, lower_s=1, lift_s=1)
    assert session_seconds(work(7, 3, 10, 90, quick)) == session_seconds(held(7, 3, 20, 90))


# --- D2 ---------------------------------------------------------------------------------------------------------------


def saving(seconds: int, station_s: int) -> float:
    """Percent of time saved by a circuit of pairs over 24 straight sets, the change being a rest like the others."""
    pairs = held(6, 4, seconds, 120)
    straight = session_seconds(pairs, change_s=120)
    circuit = session_seconds(pairs, Format.CIRCUIT, station_s=station_s)
    return 100 * (straight - circuit) / straight


@against(
    (
        Check("D2", "per cent saved by pairs", f"24 sets of {seconds} s", seconds, percent, ARITHMETIC, CALC,
              "saved by the formula", tolerance=0.05)
        for seconds, percent in ((30, 41.4), (40, 38.7), (45, 37.5), (50, 36.4), (60, 34.3))
    ),
    Check("D2", "per cent saved, as measured", "24 sets of 50 s", 50, 36, BURKE, C1, "saved, as measured",
          tolerance=0.5),
)  # fmt: skip
def test_d2_pairs_with_nothing_in_between_save_what_was_measured(given: int) -> float:
    return saving(given, station_s=0)


@pytest.mark.parametrize("seconds", [30, 40, 45, 50, 60])
def test_d2_with_time_to_change_over_a_circuit_saves_about_a_third(seconds: int) -> None:
    assert saving(seconds, station_s=15) == pytest.approx(100 / 3, abs=4)


@against(
    Check("D2", "part of the time that pairs need", "rests of 75 s", 75, 0.5, IVERSEN_2021, C1,
          "pairs roughly halve the time", tolerance=0.03)
)  # fmt: skip
def test_d2_half_is_saved_only_with_shorter_rests_than_those(given: int) -> float:
    """Where one paper says half and the other measured 36 %, the rest after the pair makes the difference."""
    straight = session_seconds(held(6, 4, 40, 120), change_s=120)
    shorter = session_seconds(held(6, 4, 40, given), Format.CIRCUIT, station_s=0)
    assert saving(40, station_s=0) < 40
    return shorter / straight
