"""Q2 against ISO 8601 (first week: first Thursday), RFC 5545, the clock changes of zones, and dateutil."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import dateutil.tz
import icalendar
import pytest
from dateutil.relativedelta import TH, relativedelta
from dateutil.rrule import FR, MO, SA, SU, TU, WE, WEEKLY, YEARLY, rrule
from dateutil.rrule import TH as THURSDAY

from athletes.calendars import read_calendar
from programs.calendar import week_ics
from programs.engine.facts import Week
from programs.engine.quantities import (
    shift_week,
    week_days,
    week_name,
    week_of,
    week_starts_on,
    weeks_between,
)
from tests.programs.examples import session, sheet
from tests.reference.checks import Check, Confidence, against
from tests.reference.sources import ISO_8601, RFC_5545, TZ

CALC = Confidence.CALC
#: ISO 8601 week dates at the edges of years: date, ISO year, week, day of the week.
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
#: Years of 53 weeks from 2015 to 2050, some years between them.
LONG_YEARS = [2015, 2020, 2026, 2032, 2037, 2043, 2048]
SHORT_YEARS = [2016, 2021, 2025, 2027, 2028, 2033]


def named(year: int, number: int, day: int) -> str:
    return f"{year}-W{number:02}-{day}"


@against(
    Check("Q2", "the ISO week of a date", on, on, (year, number), ISO_8601, CALC, "week of a date")
    for on, year, number, _day in EDGES[::2]
)
def test_q2_a_date_at_the_edge_of_a_year_is_in_its_iso_week(given: str) -> tuple[int, int]:
    week = week_of(date.fromisoformat(given))
    return week.year, week.number


@against(
    Check(
        "Q2", "the date of an ISO week and day", named(*of), of, on, ISO_8601, CALC, "date of a week and day"
    )
    for on, *of in EDGES[1::2]
)
def test_q2_a_day_of_an_iso_week_is_its_date(given: tuple[int, int, int]) -> str:
    year, number, day = given
    return week_days(Week(year, number))[day - 1].isoformat()


@pytest.mark.parametrize(("on", "year", "number", "day"), EDGES)
def test_q2_dates_and_weeks_agree_both_ways(on: str, year: int, number: int, day: int) -> None:
    assert week_of(date.fromisoformat(on)) == Week(year, number)
    assert week_days(Week(year, number))[day - 1] == date.fromisoformat(on)


def is_long(year: int) -> bool:
    return shift_week(Week(year, 52), 1) == Week(year, 53)


@against(
    Check(
        "Q2", "whether a year has 53 weeks", str(year), year, year in LONG_YEARS, ISO_8601, CALC, "long years"
    )
    for year in LONG_YEARS + SHORT_YEARS
)
def test_q2_the_years_of_53_weeks_are_the_published_ones(given: int) -> bool:
    return is_long(given)


@against(
    Check("Q2", "years of 53 weeks in a span", "2015 to 2050", (2015, 2051), 7, ISO_8601, CALC, "long years"),
    Check("Q2", "years of 53 weeks in a span", "400 years", (2000, 2400), 71, ISO_8601, CALC, "long years"),
)
def test_q2_as_many_years_of_53_weeks_as_published(given: tuple[int, int]) -> int:
    return sum(is_long(year) for year in range(*given))


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


EVERY_WEEK = ["2026-W51", "2026-W52", "2026-W53", "2027-W01"]
#: Odd week numbers become even across a year of 53 weeks.
EVERY_SECOND = ["2026-W51", "2026-W53", "2027-W02", "2027-W04"]


@against(
    Check(
        "Q2",
        "weeks of four Mondays from 2026-12-14",
        f"each {by}",
        by,
        weeks,
        ISO_8601,
        CALC,
        "counting weeks on",
    )
    for by, weeks in ((1, EVERY_WEEK), (2, EVERY_SECOND))
)
def test_q2_counting_weeks_on_crosses_a_year_of_53_weeks(given: int) -> list[str]:
    first = week_of(date(2026, 12, 14))
    return [week_name(shift_week(first, step * given)) for step in range(4)]


@pytest.mark.parametrize("interval", [1, 2])
def test_q2_counting_weeks_on_matches_a_weekly_recurrence(interval: int) -> None:
    first = week_of(date(2026, 12, 14))
    for step, moment in enumerate(rrule(WEEKLY, dtstart=midnight(2026, 12, 14), interval=interval, count=4)):
        there = shift_week(first, step * interval)
        assert week_starts_on(there) == moment.date()
        assert weeks_between(first, there) == step * interval


# --- local times ------------------------------------------------------------------------------------------------------

#: 19:00 in a zone, in UTC, on either side of the clock changes of 2026: spring in Europe and autumn in both.
EVENINGS = ("2026-03-26", "2026-04-02", "2026-10-22", "2026-10-29")
IN_UTC = {
    "Europe/London": ("19:00", "18:00", "18:00", "19:00"),
    "Europe/Berlin": ("18:00", "17:00", "17:00", "18:00"),
    "America/New_York": ("23:00", "23:00", "23:00", "23:00"),
}


def sent_start(zone: str, on: str) -> datetime:
    """When a session at 19:00 on that day begins, as the calendar file of a rider in that zone says."""
    wanted = replace(
        sheet(1), zone=zone, sessions=(replace(session(1, date.fromisoformat(on)), start=time(19)),)
    )
    made = icalendar.Calendar.from_ical(week_ics(wanted, stamped_at=datetime(2026, 1, 1, tzinfo=UTC)))
    start = made.walk("VEVENT")[0].start
    assert isinstance(start, datetime)
    return start


@against(
    Check("Q2", "19:00 of a local day in UTC", f"{zone} {on}", (zone, on), utc, TZ, CALC, "local time in UTC")
    for zone, times in IN_UTC.items()
    for on, utc in zip(EVENINGS, times, strict=True)
)
def test_q2_a_session_keeps_its_local_time_across_clock_changes(given: tuple[str, str]) -> str:
    return sent_start(*given).astimezone(UTC).strftime("%H:%M")


@pytest.mark.parametrize("zone", [*IN_UTC, "Asia/Kathmandu", "Australia/Lord_Howe"])
def test_q2_local_times_agree_with_dateutil(zone: str) -> None:
    for on in EVENINGS:
        theirs = datetime.combine(date.fromisoformat(on), time(19), tzinfo=dateutil.tz.gettz(zone))
        assert sent_start(zone, on).utcoffset() == theirs.utcoffset()


#: Recurrences and the days that they give: RFC 5545 prints the first two as its example of WKST.
RECURRENCES = [
    (
        "19970805",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
        Confidence.M,
        "08-05 08-10 08-19 08-24",
    ),
    (
        "19970805",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU",
        Confidence.M,
        "08-05 08-17 08-19 08-31",
    ),
    ("20261221", "FREQ=WEEKLY;BYDAY=MO,TH;COUNT=6", CALC, "12-21 12-24 12-28 12-31 01-04 01-07"),
    ("20261214", "FREQ=WEEKLY;INTERVAL=2;BYDAY=MO;COUNT=4", CALC, "12-14 12-28 01-11 01-25"),
]


@against(
    Check(
        "Q2", "days of a recurring event", f"{start} {rule}", (start, rule), days, RFC_5545, how, "recurrence"
    )
    for start, rule, how, days in RECURRENCES
)
def test_q2_a_recurring_race_falls_on_the_days_that_the_standard_gives(given: tuple[str, str]) -> str:
    start, rule = given
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Larkmoor//Races//EN",
        "BEGIN:VEVENT",
        "UID:1@larkmoor.example",
        "DTSTAMP:19970101T000000Z",
        f"DTSTART:{start}T090000",
        f"RRULE:{rule}",
        "SUMMARY:Evening race",
        "END:VEVENT",
        "END:VCALENDAR",
    ]
    first = datetime.strptime(start, "%Y%m%d").date()  # noqa: DTZ007 - a day, without a time
    entries = read_calendar(
        "\r\n".join([*lines, ""]).encode(),
        from_on=first,
        until_on=first + timedelta(days=60),
        zone="America/New_York",
    )
    return " ".join(entry.on.strftime("%m-%d") for entry in entries)
