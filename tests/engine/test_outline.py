"""What a program comes to as written: minutes, sets, remarks.

Sources: one leg exercise, one pull and one push as the least of a week: Iversen et al. 2021, Sports Med 51:2079-2095.
Rests as written and 10 reps are this project's own typical work; the hinge is common practice, no source.
"""

from dataclasses import replace
from datetime import date

import pytest

from athletes.vocabulary import Pattern
from programs.engine import facts as engine
from programs.engine.library import read_library
from programs.engine.outline import (
    Remark,
    Roster,
    remarks,
    template_minutes,
    template_sets,
    typical_exercise,
    typical_target,
    weekly_sets,
)
from programs.engine.quantities import shift_week
from programs.library import read_files

LIBRARY = read_library(read_files())
FIRST = engine.Week(2026, 45)


def slot(pattern: Pattern, sets: int = 3, rest_s: int = 120, **more: object) -> engine.Slot:
    return engine.Slot(f"{pattern}-{sets}", engine.Part.MAIN, pattern, sets=sets, rest_s=rest_s, **more)  # type: ignore[arg-type]


def template(*slots: engine.Slot, name: str = "A", ordinal: int = 1) -> engine.Template:
    return engine.Template(ordinal, name, slots)


FULL = template(*(slot(one) for one in (Pattern.SQUAT, Pattern.HINGE, Pattern.PULL, Pattern.PUSH)))


def block(
    *templates: engine.Template,
    first: engine.Week = FIRST,
    weeks: int = 12,
    intent: engine.Phase = engine.Phase.BUILD,
    sessions: int = 2,
) -> engine.Block:
    return engine.Block(first, shift_week(first, weeks - 1), intent, sessions, templates)


def keys(found: tuple[Remark, ...], *, warnings: bool | None = None) -> list[str]:
    return [one.reason.key for one in found if warnings is None or one.is_warning is warnings]


LEARN = block(FULL, weeks=3, intent=engine.Phase.LEARN)
AFTER_LEARN = shift_week(FIRST, 3)


# --- minutes and sets -------------------------------------------------------------------------------------------------


def test_a_pattern_is_timed_by_the_easiest_exercise_that_needs_no_kit() -> None:
    exercise = typical_exercise(slot(Pattern.SQUAT), LIBRARY)
    assert exercise is not None
    assert (exercise.level, exercise.for_beginners, exercise.holdings, exercise.furniture) == (
        1,
        True,
        (),
        frozenset(),
    )


def test_one_slot_takes_its_sets_its_rests_and_the_ends_of_the_session() -> None:
    """By hand: 6 + 4 min, and 3 sets of 10 reps of the half squat (3 + 1 + 2 s a rep) with two rests of 120 s."""
    seconds = 3 * 10 * (3 + 1 + 2) + 2 * 120
    assert seconds == 420
    assert template_minutes(template(slot(Pattern.SQUAT)), LIBRARY) == 10 + 7


def test_a_circuit_takes_less_time_than_straight_sets() -> None:
    circuit = replace(FULL, format=engine.Format.CIRCUIT)
    assert template_minutes(circuit, LIBRARY) < template_minutes(FULL, LIBRARY)


def test_a_longer_warm_up_counts() -> None:
    longer = replace(FULL, warm_up_minutes=10)
    assert template_minutes(longer, LIBRARY) - template_minutes(FULL, LIBRARY) == 4


@pytest.mark.parametrize(
    ("low", "high", "amount"), [(None, None, 10), (12, 15, 12), (None, 8, 8), (5, None, 10)]
)
def test_typical_reps_keep_to_the_range_of_the_slot(low: int | None, high: int | None, amount: int) -> None:
    asked = slot(Pattern.SQUAT, low=low, high=high)
    exercise = typical_exercise(asked, LIBRARY)
    assert exercise is not None
    assert typical_target(asked, exercise).amount == amount


def test_an_exercise_that_left_the_library_takes_no_time_and_is_said() -> None:
    gone = template(slot(Pattern.SQUAT, exercise="no-such-exercise"))
    assert template_minutes(gone, LIBRARY) == 10
    assert "outline-retired" in keys(remarks([block(gone)], LIBRARY), warnings=True)


def test_sets_of_a_week_count_sessions_in_turn() -> None:
    """Three a week of two written sessions: the first comes twice."""
    second = template(slot(Pattern.PULL, 2), name="B", ordinal=2)
    counted = weekly_sets(block(template(slot(Pattern.SQUAT)), second, sessions=3))
    assert counted == ((Pattern.SQUAT, 6), (Pattern.PULL, 2))
    assert template_sets(second) == 2


def test_a_rest_block_has_no_sets() -> None:
    assert weekly_sets(block(FULL, intent=engine.Phase.REST)) == ()


# --- remarks ----------------------------------------------------------------------------------------------------------


def test_a_whole_program_in_order_is_left_in_peace() -> None:
    build = block(FULL, replace(FULL, name="B", ordinal=2), first=AFTER_LEARN)
    learn = block(FULL, replace(FULL, name="B", ordinal=2), weeks=3, intent=engine.Phase.LEARN)
    assert remarks([learn, build], LIBRARY) == ()


@pytest.mark.parametrize(
    ("gone", "key"),
    [
        (Pattern.SQUAT, "outline-no-legs"),
        (Pattern.HINGE, "outline-no-hinge"),
        (Pattern.PULL, "outline-no-pull"),
        (Pattern.PUSH, "outline-no-push"),
    ],
)
def test_a_week_without_legs_hinge_pull_or_push_is_pointed_out(gone: Pattern, key: str) -> None:
    rest = template(*(one for one in FULL.slots if one.pattern is not gone))
    assert keys(remarks([block(rest)], LIBRARY), warnings=True) == [key]


def test_single_leg_work_stands_for_the_squat() -> None:
    slots = tuple(
        replace(one, pattern=Pattern.SINGLE_LEG) if one.pattern is Pattern.SQUAT else one
        for one in FULL.slots
    )
    assert "outline-no-legs" not in keys(remarks([block(template(*slots))], LIBRARY))


@pytest.mark.parametrize(("sets", "is_said"), [(18, False), (19, True)])
def test_more_than_18_sets_a_session_are_pointed_out(sets: int, is_said: bool) -> None:
    extra = slot(Pattern.CALF, sets - 12)
    found = keys(remarks([block(replace(FULL, slots=(*FULL.slots, extra)))], LIBRARY))
    assert ("outline-many-sets" in found) is is_said


@pytest.mark.parametrize(("build_weeks", "is_said"), [(4, True), (5, False)])
def test_maintaining_before_8_weeks_at_two_is_pointed_out(build_weeks: int, is_said: bool) -> None:
    """Three weeks of learning count with those of building: 7 are too few, 8 are enough."""
    build = block(FULL, first=AFTER_LEARN, weeks=build_weeks)
    keep = block(FULL, first=shift_week(AFTER_LEARN, build_weeks), intent=engine.Phase.MAINTAIN, sessions=1)
    found = keys(remarks([LEARN, build, keep], LIBRARY), warnings=True)
    assert ("outline-maintain-early" in found) is is_said


def test_weeks_at_one_session_do_not_earn_maintaining() -> None:
    build = block(FULL, first=AFTER_LEARN, weeks=20, sessions=1)
    keep = block(FULL, first=shift_week(AFTER_LEARN, 20), intent=engine.Phase.MAINTAIN, sessions=1)
    assert "outline-maintain-early" in keys(remarks([LEARN, build, keep], LIBRARY))


def test_a_third_session_needs_earning_and_that_is_said() -> None:
    assert "outline-third" in keys(
        remarks([LEARN, block(FULL, first=AFTER_LEARN, sessions=3)], LIBRARY), warnings=False
    )
    assert "outline-third" not in keys(remarks([LEARN, block(FULL, first=AFTER_LEARN)], LIBRARY))


def test_a_block_that_runs_past_the_last_race_is_pointed_out() -> None:
    """Week 45 begins on 2 November 2026; twelve weeks end on 24 January 2027."""
    race = engine.Race(date(2027, 1, 10), 540, "Skarnock Bank Hill Climb")
    (found,) = [one for one in remarks([block(FULL)], LIBRARY, last_race=race) if one.reason.rule == "Y3"]
    assert (found.is_warning, found.reason.figures["weeks"], found.reason.figures["all"]) == (True, 2, 12)
    later = replace(race, on=date(2027, 1, 24))
    assert "outline-past-season" not in keys(remarks([block(FULL)], LIBRARY, last_race=later))


def test_balance_work_from_65_comes_by_itself_and_that_is_said() -> None:
    roster = Roster(ages=((64, 65), (30, 31)), minutes=(90, 90))
    (found,) = [
        one for one in remarks([block(FULL)], LIBRARY, roster=roster) if one.reason.key == "outline-balance"
    ]
    assert (found.is_warning, found.reason.figures["riders"]) == (False, 1)
    with_balance = replace(FULL, slots=(*FULL.slots, slot(Pattern.BALANCE, 2)))
    assert "outline-balance" not in keys(remarks([block(with_balance)], LIBRARY, roster=roster))
    younger = Roster(ages=((63, 64),), minutes=(90,))
    assert "outline-balance" not in keys(remarks([block(FULL)], LIBRARY, roster=younger))


def test_what_age_changes_is_said_beforehand() -> None:
    short = template(*(replace(one, rest_s=60, sets=4) for one in FULL.slots))
    roster = Roster(ages=((49, 50), (13, 14)), minutes=(90, 90))
    found = keys(remarks([block(short)], LIBRARY, roster=roster), warnings=False)
    assert {"outline-older-rest", "outline-young-sets"} <= set(found)
    adults = Roster(ages=((18, 19), (48, 49)), minutes=(90, 90))
    found = keys(remarks([block(short)], LIBRARY, roster=adults))
    assert not {"outline-older-rest", "outline-young-sets"} & set(found)


def test_a_session_too_long_for_most_riders_needs_a_look() -> None:
    minutes = template_minutes(FULL, LIBRARY)
    most = Roster(ages=((30, 31),) * 3, minutes=(minutes - 1, minutes - 1, minutes))
    few = Roster(ages=((30, 31),) * 3, minutes=(minutes - 1, minutes, minutes))
    fits = Roster(ages=((30, 31),) * 3, minutes=(minutes,) * 3)
    assert "outline-minutes" in keys(remarks([block(FULL)], LIBRARY, roster=most), warnings=True)
    assert "outline-minutes" in keys(remarks([block(FULL)], LIBRARY, roster=few), warnings=False)
    assert "outline-minutes" not in keys(remarks([block(FULL)], LIBRARY, roster=fits))


def test_what_is_empty_or_never_comes_up_is_pointed_out() -> None:
    assert keys(remarks([block()], LIBRARY), warnings=True) == ["outline-no-sessions"]
    assert "outline-no-slots" in keys(remarks([block(template())], LIBRARY), warnings=True)
    never = block(FULL, replace(FULL, name="B", ordinal=2), sessions=1)
    assert "outline-never-used" in keys(remarks([never], LIBRARY), warnings=True)
    assert "outline-repeats" in keys(remarks([block(FULL)], LIBRARY), warnings=False)


def test_a_rest_block_has_nothing_to_remark() -> None:
    assert remarks([block(intent=engine.Phase.REST, sessions=0)], LIBRARY) == ()


def test_an_exercise_not_for_beginners_is_said_where_it_is_fixed() -> None:
    hard = next(one for one in LIBRARY.exercises if not one.for_beginners and one.pattern is Pattern.SQUAT)
    fixed = template(slot(Pattern.SQUAT, exercise=hard.slug))
    assert "outline-not-for-beginners" in keys(remarks([block(fixed)], LIBRARY), warnings=False)
