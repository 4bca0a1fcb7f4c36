"""W1 to W3 and P9 by day: where the sessions of a week stand. H3: what remains after a session on another day.

The week of the tables is 2026-W30, Monday 20 July to Sunday 26 July 2026. Points are this project's own.
"""

from dataclasses import replace
from datetime import date
from itertools import combinations

import pytest

from athletes.concerns import Matter
from athletes.vocabulary import Day, Furniture, Implement, RacePriority, Region, Side
from programs.engine.facts import (
    Absence,
    Exercise,
    Holding,
    Kit,
    Opening,
    Placement,
    Race,
    Ride,
    Rider,
    Week,
)
from programs.engine.spots import Cap, PlaceFacts, gap_hours
from programs.engine.week import REASONS, barbell_alone, needs_approval, place, price_of, shift
from tests.engine.samples import BARBELL, FRONT, HALL, KETTLEBELL, NOTHING, SQUAT

WEEK = Week(2026, 30)
MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY = (date(2026, 7, day) for day in range(20, 27))
EVENING = 18 * 60


def opening(on: date, start: int = EVENING, minutes: int = 60, **changes: object) -> Opening:
    return Opening(on, start, minutes, **{"venue": "home", **changes})  # type: ignore[arg-type]


EVERY_DAY = tuple(opening(date(2026, 7, day)) for day in range(20, 27))


def facts(count: int = 2, openings: tuple[Opening, ...] = EVERY_DAY, **changes: object) -> PlaceFacts:
    return PlaceFacts(week=WEEK, count=count, openings=openings, **changes)  # type: ignore[arg-type]


def days(placement: Placement) -> list[date]:
    return [chosen.on for _ordinal, chosen in placement.chosen]


def keys(placement: Placement) -> list[str]:
    return [reason.key for reason in placement.reasons]


def points(placement: Placement) -> dict[str, int]:
    return {cost.term: cost.points for cost in placement.costs}


# --- W1, hard ---------------------------------------------------------------------------------------------------------


def test_w1_sessions_stand_far_apart_and_early_when_nothing_else_decides() -> None:
    assert days(place(facts(1))) == [MONDAY]
    assert days(place(facts(2))) == [MONDAY, SUNDAY]
    assert days(place(facts(3))) == [MONDAY, THURSDAY, SUNDAY]


def test_w1_two_sessions_never_stand_on_one_day_or_on_days_that_touch() -> None:
    openings = (opening(MONDAY, 7 * 60), opening(MONDAY), opening(TUESDAY), opening(WEDNESDAY))
    assert days(place(facts(2, openings))) == [MONDAY, WEDNESDAY]
    assert place(facts(2, openings[:3])).dropped == 1


@pytest.mark.parametrize(
    ("done_on", "fixed_on", "expected"),
    [
        ((date(2026, 7, 19),), (), [TUESDAY, SUNDAY]),  # done last Sunday: not on Monday
        ((), (date(2026, 7, 27),), [MONDAY, SATURDAY]),  # fixed next Monday: not on Sunday
        ((date(2026, 7, 18),), (date(2026, 7, 28),), [MONDAY, SUNDAY]),  # a clear day lies between
    ],
)
def test_w1_a_clear_day_lies_between_across_the_borders_of_the_week(
    done_on: tuple[date, ...], fixed_on: tuple[date, ...], expected: list[date]
) -> None:
    assert days(place(facts(2, done_on=done_on, fixed_on=fixed_on))) == expected


def test_w1_three_sessions_a_week_are_the_most_whatever_is_asked() -> None:
    placement = place(facts(4, max_days=7))
    assert len(placement.chosen) == 3
    assert placement.dropped == 1
    assert keys(placement)[1:] == ["dropped-for-most-days"]


def test_w1_what_is_done_in_the_week_counts_towards_the_most() -> None:
    placement = place(facts(2, done_on=(MONDAY, WEDNESDAY)))
    assert days(placement) == [FRIDAY]
    assert placement.reasons[1].figures == {"most": 3, "asked": 2, "done": 2}


@pytest.mark.parametrize(
    ("changes", "barred"),
    [
        ({"absences": (Absence(MONDAY, TUESDAY),)}, [MONDAY, TUESDAY]),
        ({"not_before": WEDNESDAY}, [MONDAY, TUESDAY]),
        ({"rides": (Ride(MONDAY, EVENING + 30, 90),)}, [MONDAY]),
        ({"races": (Race(SUNDAY, 9 * 60, "Hill climb", RacePriority.MINOR),)}, [SATURDAY, SUNDAY]),
        ({"races": (Race(SUNDAY, 20 * 60, "Hill climb", RacePriority.MINOR),)}, [SUNDAY]),
        ({"races": (Race(SUNDAY, 9 * 60, "Stage", RacePriority.OTHER),)}, [FRIDAY, SATURDAY, SUNDAY]),
        (
            {"races": (Race(SUNDAY, 9 * 60, "Cup", RacePriority.PRIORITY),)},
            [THURSDAY, FRIDAY, SATURDAY, SUNDAY],
        ),
        (
            {"races": (Race(date(2026, 7, 27), 9 * 60, "Cup", RacePriority.PRIORITY),)},
            [FRIDAY, SATURDAY, SUNDAY],
        ),
        (
            {"races": (Race(SUNDAY, 9 * 60, "Cup", RacePriority.PRIORITY),), "legs": (False,)},
            [SATURDAY, SUNDAY],
        ),
    ],
)
def test_w1_a_session_stands_on_no_day_that_is_barred(changes: dict[str, object], barred: list[date]) -> None:
    for one in EVERY_DAY:
        placement = place(facts(1, (one,), **changes))
        assert days(placement) == ([] if one.on in barred else [one.on]), one.on


def test_p9_hours_before_a_race_by_priority() -> None:
    hours = [gap_hours(Race(SUNDAY, 0, "", priority)) for priority in RacePriority]
    assert hours == [72, 48, 24]


def test_p9_the_gap_is_counted_from_the_end_of_the_session_to_the_minute() -> None:
    race = Race(SUNDAY, 19 * 60, "Cup", RacePriority.PRIORITY)
    exact = opening(THURSDAY, 18 * 60, 60)
    assert days(place(facts(1, (exact,), races=(race,)))) == [THURSDAY]
    assert place(facts(1, (replace(exact, start=18 * 60 + 1),), races=(race,))).dropped == 1


def test_p9_the_last_days_before_a_priority_race_hold_one_session_across_the_week_border() -> None:
    cap = Cap(SATURDAY, date(2026, 7, 31), 1)
    assert days(place(facts(3, caps=(cap,)))) == [MONDAY, THURSDAY, SUNDAY]
    assert days(place(facts(3, caps=(cap,), fixed_on=(date(2026, 7, 30),)))) == [MONDAY, WEDNESDAY, FRIDAY]
    crowded = (opening(MONDAY), opening(THURSDAY), opening(SUNDAY))
    narrow = Cap(THURSDAY, SUNDAY, 1)
    placement = place(facts(3, crowded, caps=(narrow,)))
    assert len(placement.chosen) == 2
    assert "dropped-for-race-cap" in keys(placement)


def test_p9_a_session_done_in_the_last_days_uses_the_cap_up() -> None:
    cap = Cap(date(2026, 7, 18), WEDNESDAY, 1)
    assert days(place(facts(1, done_on=(date(2026, 7, 18),), caps=(cap,)))) == [THURSDAY]


def test_w1_a_venue_without_kit_on_record_and_a_time_too_short_are_not_used() -> None:
    openings = (opening(MONDAY, venue="garage"), opening(WEDNESDAY, minutes=15), opening(FRIDAY))
    placement = place(facts(2, openings, venues=frozenset({"home"})))
    assert days(placement) == [FRIDAY]
    assert keys(placement)[1:] == ["dropped-for-kit", "dropped-for-short-time", "dropped-for-openings"]


def test_w1_openings_of_other_weeks_are_not_used() -> None:
    assert place(facts(1, (opening(date(2026, 7, 19)), opening(date(2026, 7, 27))))).chosen == ()


# --- W1, soft ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ride", "term"),
    [
        (Ride(WEDNESDAY, 14 * 60, 61, key=True), {"near-key-ride": 100}),  # 2 h 59 min before the session
        (Ride(WEDNESDAY, 14 * 60, 60, key=True), {"near-key-ride": 40}),  # 3 h
        (Ride(WEDNESDAY, 11 * 60, 60, key=True), {"near-key-ride": 10}),  # 6 h
        (Ride(TUESDAY, 17 * 60, 60, key=True), {}),  # 24 h
        (Ride(THURSDAY, 9 * 60, 60, key=True), {"near-key-ride": 10, "tired-legs": 30}),  # 14 h after it
        (Ride(THURSDAY, 19 * 60, 60, key=True), {}),  # 24 h after it
        (Ride(WEDNESDAY, 20 * 60, 60, key=True), {"near-key-ride": 100, "tired-legs": 30}),
        (Ride(WEDNESDAY, 14 * 60, 61), {}),  # not a key ride
    ],
)
def test_w1_hours_from_a_key_ride_cost_by_steps(ride: Ride, term: dict[str, int]) -> None:
    assert points(place(facts(1, (opening(WEDNESDAY),), rides=(ride,)))) == term


def test_w1_a_session_without_leg_work_does_not_tire_the_legs() -> None:
    ride = Ride(THURSDAY, 9 * 60, 60, key=True)
    placement = place(facts(1, (opening(WEDNESDAY),), rides=(ride,), legs=(False,)))
    assert points(placement) == {"near-key-ride": 10}


def test_w1_the_session_without_leg_work_goes_before_the_key_ride_out_of_order() -> None:
    openings = (opening(MONDAY), opening(WEDNESDAY))
    ride = Ride(TUESDAY, 19 * 60 - 1, 60, key=True)
    placement = place(facts(2, openings, rides=(ride,), legs=(True, False)))
    assert [ordinal for ordinal, _ in placement.chosen] == [2, 1]
    assert points(placement)["out-of-order"] == 15


def test_w1_liked_times_and_last_weeks_days_are_kept_to() -> None:
    liked = (*EVERY_DAY[:2], opening(WEDNESDAY, preferred=True), *EVERY_DAY[3:])
    assert days(place(facts(1, liked))) == [WEDNESDAY]
    usual = facts(2, usual_days=frozenset({Day.TUESDAY, Day.FRIDAY}))
    assert days(place(usual)) == [TUESDAY, FRIDAY]


def test_p8_a_maintain_session_comes_within_ten_days_if_it_can() -> None:
    last = date(2026, 7, 13)
    liked = (*EVERY_DAY[:6], opening(SUNDAY, preferred=True))
    assert days(place(facts(1, liked, done_on=(last,)))) == [SUNDAY]
    assert days(place(facts(1, liked, done_on=(last,), max_gap_days=10))) == [MONDAY]
    late = place(facts(1, (opening(SUNDAY),), done_on=(last,), max_gap_days=10))
    assert days(late) == [SUNDAY]
    assert late.reasons[-1].figures == {"days": 13, "most": 10}


# --- W2 ---------------------------------------------------------------------------------------------------------------


def test_w2_the_answer_says_its_points_and_the_runner_up() -> None:
    openings = (opening(MONDAY, preferred=True), opening(WEDNESDAY), opening(FRIDAY, preferred=True))
    placement = place(facts(2, openings))
    assert days(placement) == [MONDAY, FRIDAY]
    assert placement.costs == ()
    assert placement.runner_up is not None
    assert [one.on for _, one in placement.runner_up] == [MONDAY, WEDNESDAY]
    assert placement.reasons[0].figures == {"points": 0, "runner_up": 12}


def test_w2_without_another_choice_there_is_no_runner_up() -> None:
    placement = place(facts(2, (opening(MONDAY), opening(WEDNESDAY))))
    assert placement.runner_up is None
    assert keys(placement) == ["placed-only"]


def test_w2_the_order_of_the_facts_does_not_change_the_answer() -> None:
    backwards = facts(3, EVERY_DAY[::-1])
    assert place(backwards) == place(facts(3))


RACE_ON_SUNDAY = Race(SUNDAY, 9 * 60, "Cup", RacePriority.PRIORITY)


@pytest.mark.parametrize(
    ("given", "dropped", "expected"),
    [
        (facts(2, EVERY_DAY[3:6], races=(RACE_ON_SUNDAY,)), 2, ["dropped-for-race", "dropped-for-openings"]),
        (facts(2, EVERY_DAY[:2]), 1, ["dropped-for-spacing", "dropped-for-openings"]),
        (facts(1, EVERY_DAY, absences=(Absence(MONDAY, SUNDAY),)), 1, ["dropped-for-absence"]),
        (facts(1, EVERY_DAY[:1], not_before=TUESDAY), 1, ["dropped-for-past", "dropped-for-openings"]),
        (
            facts(1, EVERY_DAY[:1], rides=(Ride(MONDAY, EVENING, 60),)),
            1,
            ["dropped-for-ride", "dropped-for-openings"],
        ),
        (
            facts(2, EVERY_DAY, pinned=((1, MONDAY), (2, TUESDAY))),
            1,
            ["dropped-for-spacing", "dropped-for-pin"],
        ),
        (facts(2, ()), 2, ["dropped-for-openings"]),
        (
            facts(1, EVERY_DAY, absences=(Absence(MONDAY, SUNDAY),), not_before=date(2026, 7, 27)),
            1,
            ["dropped-for-several"],
        ),
    ],
)
def test_w2_the_fewest_are_dropped_and_each_constraint_that_did_it_is_named(
    given: PlaceFacts, dropped: int, expected: list[str]
) -> None:
    placement = place(given)
    assert placement.dropped == dropped
    assert [key for key in keys(placement) if key.startswith("dropped")] == expected


def test_w2_pinned_sessions_are_kept_before_others_then_the_lowest_ordinals() -> None:
    assert [ordinal for ordinal, _ in place(facts(2, EVERY_DAY[:2])).chosen] == [1]
    placement = place(facts(2, EVERY_DAY[:2], pinned=((2, TUESDAY),)))
    assert [(ordinal, one.on) for ordinal, one in placement.chosen] == [(2, TUESDAY)]


def test_w2_a_pin_holds_its_day_and_its_price_is_told() -> None:
    liked = (opening(MONDAY, preferred=True), opening(WEDNESDAY), opening(FRIDAY, preferred=True))
    given = facts(2, liked)
    assert price_of(given, (2, WEDNESDAY)) == 12
    assert price_of(given, (2, FRIDAY)) == 0
    assert price_of(given, (2, TUESDAY)) is None
    assert price_of(given, (1, WEDNESDAY)) == 12
    assert price_of(given, (1, FRIDAY)) == 15  # the second session then goes first, out of order


def test_w2_no_sessions_asked_is_an_empty_placement() -> None:
    assert place(facts(0)) == Placement(chosen=())


def test_w2_ordinals_and_leg_flags_must_match() -> None:
    with pytest.raises(ValueError, match="2 sessions asked, 1 ordinals and 1 leg flags"):
        place(facts(2, ordinals=(1,)))


def test_w2_every_reason_has_a_sentence_that_its_figures_fill() -> None:
    given = [
        facts(4, EVERY_DAY[:4], races=(RACE_ON_SUNDAY,), pinned=((1, MONDAY), (2, TUESDAY))),
        facts(1, (opening(SUNDAY),), done_on=(date(2026, 7, 10),), max_gap_days=10),
        facts(2, (opening(MONDAY, minutes=10), opening(TUESDAY, venue="hall")), venues=frozenset({"home"})),
    ]
    told = [reason for one in given for reason in place(one).reasons]
    assert len({reason.key for reason in told}) >= 7
    for reason in told:
        assert "{" not in REASONS[reason.key].format(**reason.figures)


# --- H3 ---------------------------------------------------------------------------------------------------------------

PLANNED = ((1, MONDAY), (2, THURSDAY))


@pytest.mark.parametrize(
    ("done", "today", "expected", "told"),
    [
        ([(1, MONDAY)], TUESDAY, [(2, THURSDAY)], []),  # as planned
        ([(1, TUESDAY)], TUESDAY, [(2, THURSDAY)], []),  # a day late, still a clear day before Thursday
        ([(1, WEDNESDAY)], WEDNESDAY, [(2, FRIDAY)], ["session-shifted"]),  # Thursday would touch
        ([(1, THURSDAY)], THURSDAY, [], ["session-lost-to-shift"]),  # no time after Friday
        ([(2, MONDAY)], MONDAY, [(1, WEDNESDAY)], ["session-shifted"]),  # the other one first
        ([], TUESDAY, [(2, THURSDAY)], []),  # Monday passed in silence: not placed again
        ([(1, MONDAY), (2, WEDNESDAY)], WEDNESDAY, [], []),
    ],
)
def test_h3_the_rest_of_the_week_shifts_or_drops_by_the_actual_dates(
    done: list[tuple[int, date]], today: date, expected: list[tuple[int, date]], told: list[str]
) -> None:
    rest = shift(facts(2, EVERY_DAY[:5]), PLANNED, tuple(done), today)
    assert [(ordinal, one.on) for ordinal, one in rest.chosen] == expected
    assert [reason.key for reason in rest.reasons if reason.rule == "H3"] == told


def test_h3_a_session_keeps_its_planned_day_even_where_another_would_cost_less() -> None:
    ride = Ride(THURSDAY, EVENING + 120, 60, key=True)
    given = facts(2, rides=(ride,), usual_days=frozenset({Day.SUNDAY}))
    assert days(shift(given, PLANNED, ((1, MONDAY),), TUESDAY)) == [THURSDAY]


def test_h3_a_pinned_session_that_would_touch_one_that_was_done_moves_too() -> None:
    given = facts(2, pinned=((2, THURSDAY),))
    rest = shift(given, PLANNED, ((1, WEDNESDAY),), WEDNESDAY)
    assert days(rest) == [FRIDAY]
    assert rest.reasons[-1].figures == {"ordinal": 2, "from_on": "2026-07-23", "to_on": "2026-07-24"}


def test_h3_a_shift_never_adds_a_session() -> None:
    for size in range(4):
        for planned_on in combinations([one.on for one in EVERY_DAY], size):
            planned = tuple(enumerate(planned_on, start=1))
            rest = shift(facts(size), planned, ((1, TUESDAY),), TUESDAY)
            still = [ordinal for ordinal, on in planned if ordinal != 1 and on >= TUESDAY]
            assert {ordinal for ordinal, _ in rest.chosen} <= set(still)
            assert rest.dropped == len(still) - len(rest.chosen)


# --- W3 ---------------------------------------------------------------------------------------------------------------

ADULT = Rider(youngest_age=30, oldest_age=31, first_week_on=date(2026, 5, 4))
RACK = Kit(furniture=frozenset({Furniture.RACK_WITH_SAFETIES}))


@pytest.mark.parametrize(
    ("exercise", "holding", "kit", "alone", "barred"),
    [
        (FRONT, BARBELL, NOTHING, True, True),
        (FRONT, BARBELL, NOTHING, False, False),
        (FRONT, BARBELL, RACK, True, False),
        (FRONT, BARBELL, HALL, True, False),
        (FRONT, KETTLEBELL, NOTHING, True, False),
        (FRONT, None, NOTHING, True, False),
        (SQUAT, Holding(Implement.BARBELL), NOTHING, True, False),  # does not need safeties
    ],
)
def test_w3_nobody_alone_gets_a_barbell_squat_or_press_without_safeties(
    exercise: Exercise, holding: Holding | None, kit: Kit, alone: bool, barred: bool
) -> None:
    why = barbell_alone(exercise, holding, kit, replace(ADULT, trains_alone=alone))
    assert (why is not None) is barred


@pytest.mark.parametrize(
    ("rider", "matters", "expected"),
    [
        (ADULT, [], []),
        (replace(ADULT, first_week_on=None), [], ["first-week-needs-approval"]),
        (replace(ADULT, first_week_on=SUNDAY), [], ["first-week-needs-approval"]),
        (replace(ADULT, first_week_on=date(2026, 7, 19)), [], []),
        (replace(ADULT, youngest_age=17, oldest_age=18), [], ["under-18-needs-approval"]),
        (ADULT, [Matter(Region.KNEE, Side.LEFT, MONDAY)], ["open-pain-needs-approval"]),
        (ADULT, [Matter(Region.KNEE, Side.LEFT, date(2026, 7, 1), closed_on=MONDAY)], []),
    ],
)
def test_w3_a_new_a_young_and_a_hurting_rider_get_nothing_unapproved(
    rider: Rider, matters: list[Matter], expected: list[str]
) -> None:
    assert [reason.key for reason in needs_approval(rider, WEEK, matters, MONDAY)] == expected
