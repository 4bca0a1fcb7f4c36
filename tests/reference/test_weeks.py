"""Q2 against the ISO 8601 rule (week 1 holds the first Thursday; Monday first), a table of hard dates, and dateutil.

Tags: CALC computed from the standard's rule with another program than ours.
"""

from datetime import date, datetime, timedelta

import pytest
from dateutil.relativedelta import TH, relativedelta
from dateutil.rrule import FR, MO, SA, SU, TU, WE, WEEKLY, YEARLY, rrule
from dateutil.rrule import TH as THURSDAY

from programs.engine.facts import Week
from programs.engine.quantities import shift_week, week_days, week_of, week_starts_on, weeks_between

#: ISO 8601 week dates at the edges of years (CALC): date, ISO year, week, day of the week.
EDGES = [
    ("2024-12-29", 2024, 52, 7),
    ("2024-12-30", 2025, 1, 1),
    ("2025-12-28", 2025, 52, 7),
    ("2025-12-29", 2026, 1, 1),
    ("2026-01-01", 2026, 1, 4),
    ("2026-01-04", 2026, 1, 7),
    ("2026-01-05", 2026, 2, 1),
    ("2026-12-27", 2026, 52, 7),
    ("2026-12-28", 2026, 53, 1),
    ("2026-12-31", 2026, 53, 4),
    ("2027-01-01", 2026, 53, 5),
    ("2027-01-03", 2026, 53, 7),
    ("2027-01-04", 2027, 1, 1),
    ("2020-12-31", 2020, 53, 4),
    ("2021-01-01", 2020, 53, 5),
    ("2021-01-04", 2021, 1, 1),
    ("2028-01-01", 2027, 52, 6),
    ("2028-12-31", 2028, 52, 7),
    ("2032-12-31", 2032, 53, 5),
    ("2033-01-01", 2032, 53, 6),
]
#: Years of 53 weeks from 2015 to 2050, and how many in a whole cycle of 400 (CALC).
LONG_YEARS = [2015, 2020, 2026, 2032, 2037, 2043, 2048]
LONG_YEARS_IN_400 = 71


@pytest.mark.parametrize(("on", "year", "number", "day"), EDGES)
def test_q2_a_date_at_the_edge_of_a_year_is_in_its_iso_week(
    on: str, year: int, number: int, day: int
) -> None:
    assert week_of(date.fromisoformat(on)) == Week(year, number)
    assert week_days(Week(year, number))[day - 1] == date.fromisoformat(on)


def is_long(year: int) -> bool:
    return shift_week(Week(year, 52), 1) == Week(year, 53)


def test_q2_the_years_of_53_weeks_are_the_published_ones() -> None:
    assert [year for year in range(2015, 2051) if is_long(year)] == LONG_YEARS
    assert sum(is_long(year) for year in range(2000, 2400)) == LONG_YEARS_IN_400


@pytest.mark.parametrize("year", [2015, 2020, 2024, 2026, 2027, 2028, 2032])
def test_q2_dateutil_puts_the_same_days_in_each_week_number(year: int) -> None:
    every_day = (MO, TU, WE, THURSDAY, FR, SA, SU)
    start, end = date(year, 1, 1), date(year, 12, 31)
    for number in range(1, 54):
        rule = rrule(
            YEARLY,
            dtstart=midnight(year),
            until=midnight(year, 12, 31),
            byweekno=number,
            byweekday=every_day,
        )
        theirs = {moment.date() for moment in rule}
        days = (start + timedelta(days=shift) for shift in range((end - start).days + 1))
        ours = {day for day in days if week_of(day).number == number}
        assert ours == theirs


def midnight(year: int, month: int = 1, day: int = 1) -> datetime:
    """A moment without a zone, which is what dateutil's rules work on."""
    return datetime(year, month, day)  # noqa: DTZ001


@pytest.mark.parametrize("year", range(2015, 2051))
def test_q2_the_first_week_holds_the_first_thursday_as_dateutil_finds_it(year: int) -> None:
    assert date(year, 1, 1) + relativedelta(weekday=TH(+1)) in week_days(Week(year, 1))


@pytest.mark.parametrize(
    ("start", "interval", "weeks"),
    [
        ("2026-12-14", 1, [(2026, 51), (2026, 52), (2026, 53), (2027, 1)]),
        # Every second Monday: odd week numbers become even across a year of 53 weeks (CALC).
        ("2026-12-14", 2, [(2026, 51), (2026, 53), (2027, 2), (2027, 4)]),
    ],
)
def test_q2_counting_weeks_on_matches_a_weekly_recurrence(
    start: str, interval: int, weeks: list[tuple[int, int]]
) -> None:
    monday = date.fromisoformat(start)
    rule = rrule(WEEKLY, dtstart=midnight(2026, 12, 14), interval=interval, count=4)
    first = week_of(monday)
    for step, moment in enumerate(rule):
        there = shift_week(first, step * interval)
        assert there == Week(*weeks[step])
        assert week_starts_on(there) == moment.date()
        assert weeks_between(first, there) == step * interval
