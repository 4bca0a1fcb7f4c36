"""W1, W2, P9 and I3: what each constraint of a week costs, and what it costs to pin a session to a day.

The week of the tables is 2026-W30, Monday 20 July to Sunday 26 July 2026. Points are this project's own.
"""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.vocabulary import Day, RacePriority
from programs.engine.facts import Absence, Opening, Race, Ride, Week
from programs.engine.prices import (
    BARS,
    REASONS,
    TERMS,
    DayPrice,
    constraint_prices,
    day_prices,
    points_of,
    priced,
)
from programs.engine.quantities import week_days
from programs.engine.spots import PlaceFacts
from programs.engine.week import place

WEEK = Week(2026, 30)
MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY = (date(2026, 7, day) for day in range(20, 27))
EVENING, MORNING = 18 * 60, 9 * 60
SATURDAY_RIDE = Ride(SATURDAY, 12 * 60, 240, key=True)


def opening(on: date, start: int = EVENING, minutes: int = 60, **changes: object) -> Opening:
    return Opening(on, start, minutes, **{"venue": "home", **changes})  # type: ignore[arg-type]


EVERY_DAY = tuple(opening(date(2026, 7, day)) for day in range(20, 27))


def facts(count: int = 2, openings: tuple[Opening, ...] = EVERY_DAY, **changes: object) -> PlaceFacts:
    return PlaceFacts(week=WEEK, count=count, openings=openings, **changes)  # type: ignore[arg-type]


def on_day(asked: PlaceFacts, on: date, ordinal: int = 1) -> DayPrice:
    return next(price for price in day_prices(asked, ordinal) if price.on == on)


def keys(price: DayPrice) -> list[str]:
    return [reason.key for reason in price.reasons]


# --- the price of a day -----------------------------------------------------------------------------------------------


def test_w2_every_day_of_the_week_has_a_price_or_says_why_not() -> None:
    for price in day_prices(facts(openings=EVERY_DAY[:5], rides=(SATURDAY_RIDE,)), 1):
        assert price.points is not None or price.reasons
    assert [price.on for price in day_prices(facts(), 2)] == list(week_days(WEEK))


def test_w1_friday_evening_says_how_many_hours_before_saturdays_key_ride_it_ends() -> None:
    price = on_day(facts(1, rides=(SATURDAY_RIDE,)), FRIDAY)
    # Ends at 19:00 on Friday, 17 h before noon on Saturday: 10 points for the hours, 30 for the legs.
    assert price.points == 40
    assert [(one.key, one.figures["hours"], one.figures["points"]) for one in price.reasons] == [
        ("price-legs-before-ride", 17, 40),
    ]
    assert {one.figures["on"] for one in price.reasons} == {"2026-07-25"}


def test_w1_a_session_after_the_key_ride_counts_hours_from_its_end() -> None:
    price = on_day(facts(1, rides=(SATURDAY_RIDE,)), SATURDAY)
    assert [(one.key, one.figures["hours"]) for one in price.reasons] == [("price-after-ride", 2)]
    assert price.points == 100


def test_w1_between_two_key_rides_each_is_named_for_what_it_costs() -> None:
    rides = (Ride(THURSDAY, 15 * 60, 120, key=True), Ride(FRIDAY, 16 * 60, 60, key=True))
    price = on_day(facts(1, rides=rides), THURSDAY)
    # Begins at 18:00, 1 h after the one of Thursday; ends at 19:00, 21 h before the one of Friday.
    assert [(one.key, one.figures["hours"], one.figures["points"]) for one in price.reasons] == [
        ("price-legs-before-ride", 21, 30),
        ("price-after-ride", 1, 100),
    ]


def test_w1_a_session_without_leg_work_pays_for_the_hours_only() -> None:
    price = on_day(facts(1, rides=(SATURDAY_RIDE,), legs=(False,)), FRIDAY)
    assert (price.points, keys(price)) == (10, ["price-before-ride"])


def test_w1_the_best_day_costs_nothing_and_the_price_counts_from_it() -> None:
    asked = facts(1, rides=(SATURDAY_RIDE,), usual_days=frozenset({Day.TUESDAY}))
    assert on_day(asked, TUESDAY).points == 0
    assert (on_day(asked, WEDNESDAY).points, keys(on_day(asked, WEDNESDAY))) == (6, ["price-other-day"])


def test_w2_a_pin_that_moves_another_session_says_where_to() -> None:
    asked = facts(2, openings=(opening(MONDAY), opening(WEDNESDAY), opening(FRIDAY)))
    assert [on for _ordinal, on in ((n, one.on) for n, one in place(asked).chosen)] == [MONDAY, FRIDAY]
    price = on_day(asked, WEDNESDAY, ordinal=2)
    assert price.points == 0
    assert "price-moves" not in keys(price)
    moved = on_day(asked, FRIDAY, ordinal=1)
    assert [one.figures for one in moved.reasons if one.key == "price-moves"] == [
        {"ordinal": 2, "to_on": MONDAY.isoformat()}
    ]
    assert "price-out-of-order" in keys(moved)


@pytest.mark.parametrize(
    ("on", "changes", "expected"),
    [
        (MONDAY, {"openings": EVERY_DAY[1:]}, ["barred-no-time"]),
        (MONDAY, {"not_before": TUESDAY}, ["barred-past"]),
        (MONDAY, {"absences": (Absence(MONDAY, MONDAY),)}, ["barred-away"]),
        (MONDAY, {"venues": frozenset({"hall"})}, ["barred-kit"]),
        (MONDAY, {"openings": (opening(MONDAY, minutes=15), *EVERY_DAY[1:])}, ["barred-short"]),
        (MONDAY, {"rides": (Ride(MONDAY, EVENING, 60),)}, ["barred-ride"]),
        (MONDAY, {"done_on": (date(2026, 7, 19),)}, ["barred-spacing"]),
        (MONDAY, {"fixed_on": (MONDAY,)}, ["barred-same-day"]),
        (SUNDAY, {"races": (Race(SUNDAY, MORNING, "Hill climb"),)}, ["barred-race-day"]),
        (WEDNESDAY, {"pinned": ((2, THURSDAY),)}, ["barred-spacing"]),
        (THURSDAY, {"pinned": ((2, THURSDAY),)}, ["barred-same-day"]),
    ],
)
def test_i3_a_barred_day_has_no_price_and_says_what_bars_it(
    on: date, changes: dict[str, object], expected: list[str]
) -> None:
    price = on_day(facts(2, **changes), on)  # type: ignore[arg-type]
    assert (price.points, price.opening) == (None, None)
    assert keys(price) == expected


def test_p9_a_day_too_near_a_race_says_the_hours_and_how_many_are_kept_clear() -> None:
    race = Race(SATURDAY, MORNING, "Spring round", RacePriority.PRIORITY)
    price = on_day(facts(1, races=(race,)), FRIDAY)
    assert [one.figures for one in price.reasons] == [{"hours": 14, "race": "Spring round", "needed": 72}]
    without_legs = on_day(facts(1, races=(race,), legs=(False,)), FRIDAY)
    assert without_legs.reasons[0].figures["needed"] == 24


def test_w2_a_day_that_would_cost_another_session_is_impossible() -> None:
    asked = facts(2, openings=(opening(TUESDAY), opening(WEDNESDAY), opening(THURSDAY)))
    price = on_day(asked, WEDNESDAY)
    assert price.points is None
    assert [(one.key, one.figures) for one in price.reasons] == [("barred-loses", {"ordinal": 2})]


def test_w2_an_ordinal_that_is_not_asked_for_is_refused() -> None:
    with pytest.raises(ValueError, match="session 3"):
        day_prices(facts(2), 3)


# --- the price of a constraint ----------------------------------------------------------------------------------------


def prices(asked: PlaceFacts) -> dict[str, tuple[int | None, int]]:
    return {one.constraint: (one.points, one.sessions) for one in constraint_prices(asked)}


def test_w2_what_bars_nothing_and_costs_nothing_has_the_price_0() -> None:
    found = prices(facts())
    assert set(found) == {*BARS, *TERMS}
    assert set(found.values()) == {(0, 0)}


def test_w2_a_constraint_that_keeps_a_session_out_has_its_price_in_sessions() -> None:
    found = prices(facts(2, openings=(opening(TUESDAY), opening(WEDNESDAY))))
    assert found["spacing"] == (None, 1)
    away = prices(facts(2, absences=(Absence(TUESDAY, SUNDAY),)))
    assert away["away"] == (None, 1)
    assert away["race"] == (0, 0)


def test_w2_a_constraint_that_moves_a_session_has_its_price_in_points() -> None:
    # Liked on Saturday only, which is a race day: without the race 12 points fewer.
    openings = (*EVERY_DAY[:5], replace(EVERY_DAY[5], preferred=True))
    asked = facts(1, openings=openings, races=(Race(SATURDAY, MORNING, "Hill climb", RacePriority.MINOR),))
    assert prices(asked)["race"] == (12, 0)
    assert prices(asked)["less-liked-time"] == (12, 0)


def test_w2_a_term_costs_what_the_whole_week_saves_without_it() -> None:
    # Both terms apart: 10 for the hours and 30 for the legs; nothing else is open.
    asked = facts(1, openings=(opening(FRIDAY),), rides=(SATURDAY_RIDE,))
    found = prices(asked)
    assert (found["near-key-ride"], found["tired-legs"]) == ((10, 0), (30, 0))


def test_w2_a_placement_with_its_prices_is_the_same_placement() -> None:
    asked = facts(2, rides=(SATURDAY_RIDE,))
    found = priced(asked)
    assert (found.chosen, found.costs, found.reasons) == (
        place(asked).chosen,
        place(asked).costs,
        place(asked).reasons,
    )
    assert len(found.days) == 14
    assert found.constraints == constraint_prices(asked)


@given(st.data())
def test_w2_a_day_at_its_price_can_be_pinned_and_costs_just_that(data: st.DataObject) -> None:
    days = data.draw(st.sets(st.sampled_from(week_days(WEEK)), min_size=1))
    rides = data.draw(st.lists(st.sampled_from(week_days(WEEK)), max_size=2, unique=True))
    pinned = data.draw(st.lists(st.sampled_from(sorted(days)), max_size=1))
    asked = facts(
        2,
        openings=tuple(opening(on) for on in sorted(days)),
        rides=tuple(Ride(on, MORNING, 120, key=True) for on in rides),
        pinned=tuple((2, on) for on in pinned),
    )
    free = place(asked)
    for price in day_prices(asked, 1):
        held = place(replace(asked, pinned=(*asked.pinned, (1, price.on))))
        on = {number: one.on for number, one in held.chosen}.get(1)
        if price.points is None:
            assert on != price.on or dict(free.chosen).keys() - dict(held.chosen).keys()
        else:
            assert on == price.on
            assert points_of(held) - points_of(free) == price.points >= 0


@given(st.sets(st.sampled_from(week_days(WEEK)), min_size=1), st.sampled_from(week_days(WEEK)))
def test_w2_no_constraint_ever_earns_anything(days: set[date], ride: date) -> None:
    asked = facts(
        2, openings=tuple(opening(on) for on in sorted(days)), rides=(Ride(ride, EVENING, 60, key=True),)
    )
    for one in constraint_prices(asked):
        assert one.sessions >= 0
        assert one.points is None or one.points >= 0


def test_w2_every_reason_of_a_price_is_in_the_catalogue() -> None:
    race = Race(SATURDAY, MORNING, "Hill climb")
    asked = facts(
        2, races=(race,), rides=(Ride(TUESDAY, MORNING, 60, key=True),), done_on=(date(2026, 7, 19),)
    )
    found = [reason for price in priced(asked).days for reason in price.reasons]
    assert found
    for reason in found:
        REASONS[reason.key].format(**reason.figures)
