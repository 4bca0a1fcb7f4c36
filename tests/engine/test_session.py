"""D1 to D3: how long a session takes, what fits into the minutes, how it begins and ends."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.vocabulary import Furniture, Pattern, Region
from programs.engine.facts import (
    Change,
    Exercise,
    Format,
    Item,
    Library,
    Loading,
    Measure,
    Part,
    Target,
)
from programs.engine.session import (
    REASONS,
    Fitted,
    cool_down_for,
    fit,
    session_minutes,
    session_seconds,
    set_seconds,
    warm_up_for,
    warm_up_minutes,
)
from tests.engine.samples import HALL, KETTLEBELL, LIBRARY, PLANK, PRESS, SIT, SPLIT, SQUAT, exercise


def reps(amount: int = 10, sets: int = 3, rest_s: int = 90, **changes: object) -> Target:
    return Target(Measure.REPS, sets, amount, rest_s=rest_s, **changes)  # type: ignore[arg-type]


def hold(seconds: int, sets: int = 2, rest_s: int = 60) -> Target:
    return Target(Measure.HOLD, sets, seconds, rest_s=rest_s)


# --- D1 ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "target", "seconds"),
    [
        (SQUAT, reps(10), 40),  # 2 s down, 2 s up
        (replace(SQUAT, pause_s=1), reps(10), 50),
        (SQUAT, reps(10, lower_s=4), 60),  # a slow lowering in place of the exercise's own
        (SQUAT, reps(10, lower_s=0), 20),
        (SPLIT, reps(8), 32),  # of one side
        (PLANK, hold(45), 45),
    ],
)
def test_d1_seconds_of_one_set(one: Exercise, target: Target, seconds: int) -> None:
    assert set_seconds(one, target) == seconds


@pytest.mark.parametrize(
    ("work", "seconds"),
    [
        ([], 0),
        ([(SQUAT, reps(sets=1))], 40),
        ([(SQUAT, reps())], 3 * 40 + 2 * 90),
        ([(SPLIT, reps())], 6 * 40 + 5 * 90),  # both sides, a rest after each
        ([(SQUAT, reps()), (PLANK, hold(30))], (120 + 180) + 120 + (60 + 60)),
        ([(SQUAT, reps(sets=3, bridge_sets=1, bridge_amount=5))], 2 * 40 + 20 + 2 * 90),
        ([(SQUAT, reps(sets=1, bridge_sets=2, bridge_amount=5))], 20),
    ],
)
def test_d1_seconds_of_straight_sets(work: list[tuple[Exercise, Target]], seconds: int) -> None:
    assert session_seconds(work) == seconds


def test_d1_minutes_are_whole_and_rounded_up_with_warm_up_and_cool_down() -> None:
    assert session_minutes([(SQUAT, reps(sets=1, amount=15))]) == 1  # 60 s
    assert session_minutes([(SQUAT, reps(sets=1, amount=15, lower_s=3))]) == 2  # 75 s
    assert session_minutes([(SQUAT, reps())], warm_up=6, cool_down=4) == 15
    assert session_minutes([], warm_up=6, cool_down=4) == 10


@pytest.mark.parametrize(("asked", "minutes"), [(0, 5), (5, 5), (7, 7), (10, 10), (20, 10)])
def test_d1_a_warm_up_takes_five_to_ten_minutes(asked: int, minutes: int) -> None:
    assert warm_up_minutes(asked) == minutes


MARCH = exercise("march-on-the-spot", 1, pattern=Pattern.WARM_UP, part=Part.WARM_UP, primary=frozenset())
CALF_STRETCH = exercise(
    "calf-stretch", 1, pattern=Pattern.COOL_DOWN, part=Part.COOL_DOWN, primary=frozenset({Region.CALF})
)
THIGH_STRETCH = exercise(
    "thigh-stretch",
    1,
    pattern=Pattern.COOL_DOWN,
    part=Part.COOL_DOWN,
    primary=frozenset({Region.FRONT_THIGH, Region.KNEE}),
)
CHEST_STRETCH = exercise(
    "chest-stretch", 1, pattern=Pattern.COOL_DOWN, part=Part.COOL_DOWN, primary=frozenset({Region.CHEST})
)
WHOLE = Library((*LIBRARY.exercises, MARCH, CALF_STRETCH, THIGH_STRETCH, CHEST_STRETCH), "whole")


def test_d1_the_warm_up_is_light_aerobic_work_and_then_the_patterns_legs_first() -> None:
    patterns = [Pattern.FRONT_TRUNK, Pattern.PUSH, Pattern.SQUAT, Pattern.PUSH]
    assert warm_up_for(patterns, WHOLE) == (
        "march-on-the-spot",
        "sit-to-stand",
        "plank",
        "press-up",
    )


@pytest.mark.parametrize(
    ("terms", "squat"),
    [
        ({}, "sit-to-stand"),
        ({"barred": {"sit-to-stand"}}, "squat"),
        ({"barred": {"sit-to-stand", "squat"}}, None),  # the next level needs a load
        ({"sore": frozenset({Region.KNEE})}, None),
        ({"sore": frozenset({Region.HIP})}, "sit-to-stand"),  # loads the hip, but not first of all
    ],
)
def test_d1_the_warm_up_uses_nothing_that_is_barred_or_loads_a_sore_region(
    terms: dict[str, object], squat: str | None
) -> None:
    parts = warm_up_for([Pattern.SQUAT], WHOLE, **terms)  # type: ignore[arg-type]
    assert parts == (("march-on-the-spot", squat) if squat else ("march-on-the-spot",))


def test_d1_the_warm_up_uses_only_furniture_that_is_there() -> None:
    bench = frozenset({Furniture.BENCH})
    library = Library((exercise("bench-sit", 1, furniture=bench), exercise("half-squat", 2)), "bench")
    assert warm_up_for([Pattern.SQUAT], library) == ("half-squat",)
    assert warm_up_for([Pattern.SQUAT], library, kit=HALL) == ("bench-sit",)


def test_d1_the_cool_down_is_for_the_regions_that_were_loaded() -> None:
    legs = frozenset({Region.KNEE, Region.FRONT_THIGH, Region.CALF})
    assert cool_down_for(legs, WHOLE) == ("thigh-stretch", "calf-stretch")
    assert cool_down_for(legs, WHOLE, sore=frozenset({Region.KNEE})) == ("calf-stretch", "chest-stretch")
    assert cool_down_for(legs, WHOLE, barred={"calf-stretch"}) == ("thigh-stretch", "chest-stretch")


# --- D2 ---------------------------------------------------------------------------------------------------------------


def test_d2_a_circuit_goes_round_by_round_in_pairs() -> None:
    work = [(SQUAT, reps(sets=2, rest_s=60)), (PRESS, reps(sets=2, rest_s=90))]
    assert session_seconds(work, Format.CIRCUIT) == 4 * 40 + 2 * 15 + 90


def test_d2_an_odd_one_out_rests_by_itself_and_what_has_no_sets_left_stands_out() -> None:
    work = [(SQUAT, reps(sets=1)), (PRESS, reps(sets=1)), (PLANK, hold(30, sets=2))]
    # Round one: squat, press, rest 90; plank, rest 60. Round two: plank.
    assert session_seconds(work, Format.CIRCUIT) == 80 + 60 + 15 + 90 + 60


def test_d2_sides_follow_each_other_in_a_circuit() -> None:
    work = [(SPLIT, reps(sets=1)), (PRESS, reps(sets=1))]
    assert session_seconds(work, Format.CIRCUIT) == 2 * 40 + 15 + 40


def test_d2_one_exercise_takes_as_long_in_a_circuit_as_straight() -> None:
    work = [(SQUAT, reps())]
    assert session_seconds(work, Format.CIRCUIT) == session_seconds(work)


# --- D3 ---------------------------------------------------------------------------------------------------------------


def item(slot: str, one: Exercise, target: Target, part: Part = Part.MAIN) -> tuple[Exercise, Item]:
    return one, Item(slot, part, one.pattern, one.slug, target, Change.SAME, ())


DAY = (
    item("a", SQUAT, reps(sets=4)),
    item("b", PRESS, reps(sets=3)),
    item("c", SPLIT, reps(sets=3), Part.ASSISTANCE),
    item("d", PLANK, hold(30, sets=2), Part.ASSISTANCE),
)


def sets(fitted: Fitted) -> dict[str, int]:
    return {one.slot: one.target.sets for one in fitted.items}


WHOLE_DAY = {"a": 4, "b": 3, "c": 3, "d": 2}


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (60, WHOLE_DAY),
        (38, WHOLE_DAY),  # 1900 s and 6 min
        (37, {"a": 4, "b": 3, "c": 2, "d": 2}),  # assistance: the one with the most sets; 34 min
        (33, {"a": 4, "b": 3, "c": 2, "d": 1}),  # the last of equals; 32 min
        (31, {"a": 4, "b": 3, "c": 1, "d": 1}),  # 28 min
        (27, {"a": 3, "b": 3, "c": 1, "d": 1}),  # then main: the one with the most; 26 min
        (25, {"a": 3, "b": 2, "c": 1, "d": 1}),  # 24 min
        (18, {"a": 1, "b": 1, "c": 1, "d": 1}),  # 17 min
        (16, {"a": 1, "b": 1, "c": 1}),  # then whole exercises, assistance first, the last first; 15 min
        (14, {"a": 1, "b": 1}),  # 10 min
        (9, {"a": 1}),  # 7 min
        (6, {}),
    ],
)
def test_d3_sets_go_before_exercises_and_assistance_before_main(
    minutes: int, expected: dict[str, int]
) -> None:
    fitted = fit(DAY, minutes, warm_up=6)
    assert sets(fitted) == expected
    assert fitted.minutes <= max(minutes, 6)
    assert [one.slot for one in fitted.left_out] == [slot for slot in WHOLE_DAY if slot not in expected]


def test_d3_what_went_is_said() -> None:
    fitted = fit(DAY, 16, warm_up=6)
    assert fitted.items[0].reasons[-1].figures == {"from_sets": 4, "to_sets": 1, "minutes": 16}
    assert fitted.items[0].change is Change.FEWER_SETS
    assert fitted.left_out[0].reasons[0].figures == {"minutes": 16, "exercise": "plank"}
    assert fit(DAY, 6, warm_up=6).reasons[0].key == "no-time-for-any"
    for reason in (*fitted.items[0].reasons, *fitted.left_out[0].reasons, *fit(DAY, 0, warm_up=6).reasons):
        assert "{" not in REASONS[reason.key].format(**reason.figures)


def test_d3_what_fits_is_left_as_it_was() -> None:
    assert fit(DAY, 38, warm_up=6) == Fitted(tuple(one for _exercise, one in DAY), (), 38, ())
    assert fit((), 0, warm_up=6) == Fitted((), (), 6, ())


def test_s4_kept_slots_keep_a_set_whatever_the_minutes() -> None:
    fitted = fit(DAY, 5, warm_up=6, kept=frozenset({"d"}))
    assert sets(fitted) == {"d": 1}
    assert fitted.reasons == ()


def test_d3_a_change_upwards_is_still_named_after_sets_went() -> None:
    exercise_, one = DAY[0]
    fitted = fit(((exercise_, replace(one, change=Change.MORE_LOAD)),), 12, warm_up=6)
    assert fitted.items[0].change is Change.MORE_LOAD


def test_d3_one_set_at_least_stays_at_the_load_of_the_target() -> None:
    pair = item("a", SQUAT, reps(sets=3, bridge_sets=2, bridge_amount=5))
    targets = [fit((pair,), minutes, warm_up=0).items[0].target for minutes in (5, 4, 1)]
    assert [(one.sets, one.bridge_sets) for one in targets] == [(3, 2), (2, 1), (1, 0)]


targets = st.builds(reps, st.integers(5, 20), st.integers(1, 5), st.sampled_from([30, 60, 90, 120, 180]))
days = st.lists(
    st.tuples(
        st.sampled_from([SQUAT, SPLIT, PRESS, SIT]), targets, st.sampled_from([Part.MAIN, Part.ASSISTANCE])
    ),
    max_size=8,
).map(lambda rows: [item(f"slot-{at}", *row) for at, row in enumerate(rows)])


@given(days, st.integers(0, 120), st.integers(0, 60), st.sampled_from(Format))
def test_d3_i9_fewer_minutes_never_leave_more_sets_of_anything(
    day: list[tuple[Exercise, Item]], minutes: int, fewer: int, session_format: Format
) -> None:
    roomy = fit(day, minutes, session_format, warm_up=6, cool_down=4)
    tight = fit(day, minutes - fewer, session_format, warm_up=6, cool_down=4)
    assert all(count <= sets(roomy).get(slot, 0) for slot, count in sets(tight).items())
    assert len(roomy.items) + len(roomy.left_out) == len(day)
    assert roomy.minutes <= max(minutes, 10)


@given(days, st.sampled_from(Format))
def test_d3_nothing_is_dropped_while_it_fits(
    day: list[tuple[Exercise, Item]], session_format: Format
) -> None:
    took = session_minutes([(one, it.target) for one, it in day], session_format, warm_up=6)
    assert sets(fit(day, took, session_format, warm_up=6)) == {it.slot: it.target.sets for _one, it in day}
    assert session_minutes([], warm_up=6) == 6


def test_d1_an_exercise_that_needs_a_load_warms_nobody_up() -> None:
    library = Library((exercise("swing", 1, loading=Loading.EXTERNAL, holdings=(KETTLEBELL,)),), "swing")
    assert warm_up_for([Pattern.SQUAT], library, kit=HALL) == ()
