"""What must not matter: weeks in which something is said another way, and the decision that stays the same.

Weeks are lived by invented riders (`seasons`), then told again in another order, with other names, in other weeks of
the year, with the sides swapped, or with something in the diary that is far away. Each week is told again as a
document, so that nothing is left out that a new field may bring.

What pain, missed sessions, kit and minutes may change, and in which direction only, is in `trials` (I9); that a rider's
season is the same whoever else lives one is in `test_rehearsal`.
"""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from itertools import groupby
from operator import attrgetter
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from athletes.kit import read_kit
from athletes.vocabulary import Implement, RacePriority
from programs.engine.codec import from_document, to_document
from programs.engine.facts import (
    Absence,
    FixedMass,
    Kit,
    Library,
    Race,
    SessionRecord,
    SessionState,
    WeekDecision,
    WeekFacts,
)
from programs.engine.load import monotony, strain, week_loads
from programs.engine.quantities import shift_week, week_days, week_of
from programs.engine.resolve import resolve_week
from tests.engine.seasons import LivedWeek, Season
from tests.engine.shipped import shipped

SEASONS, WEEKS = 12, 14
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


@cache
def lived() -> tuple[LivedWeek, ...]:
    """Every third week of some seasons, where something was decided."""
    weeks = [
        week
        for seed in range(SEASONS)
        for number, week in enumerate(Season.begin(shipped(), Random(seed)).live(WEEKS))
        if number % 3 == 1 and week.decision.sessions
    ]
    return tuple(weeks)


class Told(int):
    """The number of a week that was lived: a whole week would fill the screen where a test fails."""

    @property
    def week(self) -> LivedWeek:
        return lived()[self % len(lived())]


a_week = st.integers(0, 10_000).map(Told)
in_any_order = st.randoms(use_true_random=False)
told_again = settings(max_examples=40, deadline=None)


def shuffled[T](draw: Random, values: tuple[T, ...]) -> tuple[T, ...]:
    return tuple(draw.sample(values, len(values)))


def shuffled_within[T](draw: Random, values: tuple[T, ...], key: Callable[[T], Any]) -> tuple[T, ...]:
    """In another order, but those of a later day behind those of an earlier one."""
    days = [tuple(group) for _day, group in groupby(values, key=key)]
    return tuple(one for day in days for one in shuffled(draw, day))


#: Fields that hold a pattern, which may be called as an exercise is.
PATTERNS = {"pattern", "patterns", "suits", "hurting"}


def rewritten(
    value: Any,
    text: Callable[[str], str],
    week: Callable[[Any], Any] = lambda one: one,
    apart: set[str] = frozenset(),  # type: ignore[assignment]
) -> Any:
    """The document with every text, also in the names of fields, and every week put another way; but not the fields
    that are kept apart."""
    match value:
        case str():
            return text(value)
        case {"year": int(), "number": int(), **rest} if not rest:
            return week(value)
        case dict():
            return {
                text(key): one if key in apart else rewritten(one, text, week, apart)
                for key, one in value.items()
            }
        case list():
            return [rewritten(one, text, week, apart) for one in value]
    return value


def as_document(decision: WeekDecision) -> Any:
    return to_document(decision)


# --- order ------------------------------------------------------------------------------------------------------------


def stirred_kit(draw: Random, kit: Kit) -> Kit:
    bar, adjustable = kit.barbell, kit.adjustable
    return replace(
        kit,
        fixed=shuffled(draw, kit.fixed),
        bands=shuffled(draw, kit.bands),
        barbell=bar and replace(bar, disc_pairs=shuffled(draw, bar.disc_pairs)),
        adjustable=adjustable and replace(adjustable, masses=shuffled(draw, adjustable.masses)),
    )


@told_again
@given(a_week, in_any_order)
def test_i8_the_order_of_what_is_in_the_diary_changes_nothing(told: Told, draw: Random) -> None:
    week = told.week
    names = ("openings", "rides", "races", "absences", "bike_weeks", "fixed_days", "hurting", "blocks")
    facts = week.facts
    again = replace(facts, **{name: shuffled(draw, getattr(facts, name)) for name in names})
    assert resolve_week(again, shipped()) == week.decision


@told_again
@given(a_week, in_any_order)
def test_k1_to_k6_the_order_of_venues_masses_discs_and_bands_changes_nothing(
    told: Told, draw: Random
) -> None:
    week = told.week
    venues = tuple((name, stirred_kit(draw, kit)) for name, kit in shuffled(draw, week.facts.venues))
    assert resolve_week(replace(week.facts, venues=venues), shipped()) == week.decision


@told_again
@given(a_week, in_any_order)
def test_h3_the_order_of_what_was_done_on_one_day_changes_nothing(told: Told, draw: Random) -> None:
    week = told.week
    facts = week.facts
    again = replace(
        facts,
        exposures=shuffled_within(draw, facts.exposures, attrgetter("on")),
        sessions=shuffled_within(draw, facts.sessions, attrgetter("week")),
        standings=shuffled(draw, facts.standings),
    )
    assert resolve_week(again, shipped()) == week.decision


@told_again
@given(a_week, in_any_order)
def test_t1_the_order_of_reports_of_one_day_and_of_matters_changes_nothing(told: Told, draw: Random) -> None:
    week = told.week
    facts = week.facts
    again = replace(
        facts,
        reports=shuffled_within(draw, facts.reports, attrgetter("on")),
        symptoms=shuffled_within(draw, facts.symptoms, attrgetter("on")),
        baselines=shuffled(draw, facts.baselines),
        rider=replace(
            facts.rider,
            limits=shuffled(draw, facts.rider.limits),
            agreed_steps=shuffled(draw, facts.rider.agreed_steps),
        ),
    )
    assert resolve_week(again, shipped()) == week.decision


@told_again
@given(a_week, in_any_order)
def test_l1_the_order_of_the_library_changes_nothing(told: Told, draw: Random) -> None:
    week = told.week
    library = Library(shuffled(draw, shipped().exercises), digest=f"stirred {draw.random()}")
    assert resolve_week(week.facts, library) == week.decision


# --- names ------------------------------------------------------------------------------------------------------------


@cache
def slugs() -> frozenset[str]:
    return frozenset(one.slug for one in shipped().exercises)


@cache
def renamed_library(mark: str) -> Library:
    document = rewritten(to_document(shipped()), lambda text: named(mark, text), apart=PATTERNS)
    return replace(from_document(Library, document), digest=f"renamed {mark}")


def named(mark: str, text: str) -> str:
    return mark + text if text in slugs() else text


@told_again
@given(a_week, st.sampled_from(["a-", "other-"]))
def test_l2_other_names_for_the_exercises_change_nothing_but_the_names(told: Told, mark: str) -> None:
    def renamed(document: Any) -> Any:
        return rewritten(document, lambda text: named(mark, text), apart=PATTERNS)

    facts = from_document(WeekFacts, renamed(to_document(told.week.facts)))
    decision = resolve_week(facts, renamed_library(mark))
    assert as_document(decision) == renamed(as_document(told.week.decision))


@told_again
@given(a_week, in_any_order)
def test_i8_other_names_for_slots_and_venues_change_nothing_but_the_names(told: Told, draw: Random) -> None:
    week = told.week
    facts = week.facts
    slots = sorted({slot.id for block in facts.blocks for one in block.templates for slot in one.slots})
    order = draw.sample(range(len(slots)), len(slots))
    names = {old: f"place-{number:03}" for old, number in zip(slots, order, strict=True)}
    names |= {venue: f"the {venue}" for venue, _kit in facts.venues}

    def renamed(text: str) -> str:
        return names.get(text, text)

    again = from_document(WeekFacts, rewritten(to_document(facts), renamed))
    assert as_document(resolve_week(again, shipped())) == rewritten(as_document(week.decision), renamed)


# --- time -------------------------------------------------------------------------------------------------------------


@told_again
@given(a_week, st.integers(1, 20))
def test_q2_the_same_in_another_week_of_the_year_changes_nothing_but_the_dates(told: Told, by: int) -> None:
    week = told.week

    def later(text: str) -> str:
        if not DAY.fullmatch(text):
            return text
        return (date.fromisoformat(text) + timedelta(weeks=by)).isoformat()

    def moved(one: dict[str, int]) -> dict[str, int]:
        monday = date.fromisocalendar(one["year"], one["number"], 1) + timedelta(weeks=by)
        return {"year": monday.isocalendar().year, "number": monday.isocalendar().week}

    facts = from_document(WeekFacts, rewritten(to_document(week.facts), later, moved))
    assert facts.week == shift_week(week.facts.week, by)
    expected = rewritten(as_document(week.decision), later, moved)
    assert as_document(resolve_week(facts, shipped())) == expected


@told_again
@given(a_week, st.sampled_from(list(RacePriority)), st.integers(30, 60), st.booleans())
def test_p9_a_race_far_away_changes_nothing(
    told: Told, priority: RacePriority, weeks: int, behind: bool
) -> None:
    week = told.week
    days = [week.facts.today, *(race.on for race in week.facts.races)]
    on = min(days) - timedelta(weeks=weeks) if behind else max(days) + timedelta(weeks=weeks)
    race = Race(on, 10 * 60, "A race of another year", priority)
    again = replace(week.facts, races=(*week.facts.races, race))
    assert resolve_week(again, shipped()) == week.decision


@told_again
@given(a_week, st.integers(31, 200), st.integers(0, 40))
def test_y1_an_absence_in_another_month_changes_nothing(told: Told, days: int, length: int) -> None:
    week = told.week
    begin = week_days(week.facts.week)[-1] + timedelta(days=days)
    away = Absence(begin, begin + timedelta(days=length))
    again = replace(week.facts, absences=(*week.facts.absences, away))
    assert resolve_week(again, shipped()) == week.decision


# --- sides and units --------------------------------------------------------------------------------------------------

SWAPPED = {"left": "right", "right": "left", "left_amounts": "right_amounts", "right_amounts": "left_amounts"}


def in_one_order(value: Any) -> Any:
    """Reasons in an order that does not hang on which side is told first."""
    match value:
        case dict():
            return {
                key: sorted(map(in_one_order, one), key=str)
                if key in ("reasons", "concerns")
                else in_one_order(one)
                for key, one in value.items()
            }
        case list():
            return [in_one_order(one) for one in value]
    return value


@told_again
@given(a_week)
def test_p6_t1_left_and_right_swapped_change_only_the_side_that_is_named(told: Told) -> None:
    week = told.week

    def swapped(text: str) -> str:
        return SWAPPED.get(text, text)

    facts = from_document(WeekFacts, rewritten(to_document(week.facts), swapped))
    expected = rewritten(as_document(week.decision), swapped)
    assert in_one_order(as_document(resolve_week(facts, shipped()))) == in_one_order(expected)


def test_p6_t1_the_weeks_hold_sides_to_swap() -> None:
    told = [week for week in lived() if rewritten(to_document(week.facts), lambda text: SWAPPED.get(text, text))
            != to_document(week.facts)]  # fmt: skip
    assert len(told) > len(lived()) / 4


@pytest.mark.parametrize(
    ("pounds", "kilograms"),
    [
        (("20", "35"), ("9.0718474", "15.87573295")),
        (("10", "25", "45"), ("4.5359237", "11.33980925", "20.41165665")),
    ],
)
def test_q1_a_kit_in_pounds_gives_the_week_that_it_gives_in_kilograms(
    pounds: tuple[str, ...], kilograms: tuple[str, ...]
) -> None:
    read, faults = read_kit(f"kettlebells {', '.join(pounds)} lb")
    assert not faults
    entered = tuple(FixedMass(one.implement, one.kg) for one in read.items)
    converted = tuple(FixedMass(Implement.KETTLEBELL, Decimal(kg)) for kg in kilograms)
    assert len(entered) == len(converted)
    for week in lived()[::4]:
        decisions = []
        for fixed in (entered, converted):
            venues = tuple((name, replace(was, fixed=fixed)) for name, was in week.facts.venues)
            decisions.append(resolve_week(replace(week.facts, venues=venues), shipped()))
        assert decisions[0] == decisions[1]


# --- monitoring -------------------------------------------------------------------------------------------------------


@told_again
@given(st.lists(st.integers(0, 900), min_size=1, max_size=6), st.permutations(range(7)))
def test_m1_on_which_days_a_week_rests_changes_nothing(minutes: list[int], days: list[int]) -> None:
    monday = date(2026, 3, 2)
    week = week_of(monday)

    def loads(places: list[int]) -> Any:
        records = tuple(
            SessionRecord(week, number, on, SessionState.DONE, done_on=on, minutes=length, session_rpe=5)
            for number, (length, place) in enumerate(zip(minutes, places, strict=False), 1)
            for on in (monday + timedelta(days=place),)
        )
        (one,) = week_loads(records, (week,), today=monday + timedelta(days=13))
        return one

    usual, other = loads(list(range(7))), loads(days)
    daily = [Decimal(5 * length) for length in minutes] + [Decimal(0)] * (7 - len(minutes))
    assert (
        (usual.monotony, usual.strain) == (other.monotony, other.strain) == (monotony(daily), strain(daily))
    )
