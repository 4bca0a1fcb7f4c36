"""A club's calendar file read in: what it says, and every file that is refused by name."""

from datetime import date, time

import icalendar
import pytest

from athletes.calendars import (
    LARGEST_FILE,
    MOST_ENTRIES,
    MOST_EVENTS,
    MOST_RECURRING,
    CalendarFileError,
    Entry,
    FileTooLarge,
    NotACalendar,
    RecursTooOften,
    TooManyEvents,
    WindowTooLong,
    read_calendar,
)
from athletes.typed import one_line
from tests.programs.examples import HOSTILE


def calendar_of(*events: str, head: str = "") -> bytes:
    body = "".join(
        f"BEGIN:VEVENT\r\nDTSTAMP:20260101T000000Z\r\n{event.strip()}\r\nEND:VEVENT\r\n" for event in events
    )
    return f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//EN\r\n{head}{body}END:VCALENDAR\r\n".encode()


def races(data: bytes, from_on: date = date(2026, 1, 1), until_on: date = date(2027, 12, 31)) -> list[Entry]:
    return read_calendar(data, from_on=from_on, until_on=until_on, zone="Europe/London")


def test_a_race_all_day_and_one_by_the_clock_are_read() -> None:
    read = races(
        calendar_of(
            "UID:a\r\nSUMMARY:Wexenfold Spring Round\r\nDTSTART;VALUE=DATE:20270411",
            "UID:b\r\nSUMMARY:Skarnock Bank\\, Hill Climb\r\nLOCATION:Skarnock\r\nDTSTART:20270516T083000Z",
        )
    )
    assert read == [
        Entry(date(2027, 4, 11), date(2027, 4, 11), None, "Wexenfold Spring Round", "", "a"),
        Entry(
            date(2027, 5, 16), date(2027, 5, 16), time(9, 30), "Skarnock Bank, Hill Climb", "Skarnock", "b"
        ),
    ]


def test_a_stage_race_has_its_last_day() -> None:
    """RFC 5545, 3.6.1: the end of an all-day event is not part of it."""
    read = races(
        calendar_of("UID:a\r\nSUMMARY:Tolmarrow\r\nDTSTART;VALUE=DATE:20270601\r\nDTEND;VALUE=DATE:20270604")
    )
    assert (read[0].on, read[0].until_on) == (date(2027, 6, 1), date(2027, 6, 3))


def test_a_series_follows_rfc_5545_across_a_year_of_53_weeks() -> None:
    """Every other Wednesday from 2026-12-16: weeks 51 and 53 of 2026, then 2 and 4 of 2027; one out, one moved."""
    read = races(
        calendar_of(
            "UID:s\r\nSUMMARY:Evening series\r\nDTSTART;TZID=Europe/London:20261216T190000\r\n"
            "RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=4\r\nEXDATE;TZID=Europe/London:20261230T190000",
            "UID:s\r\nSUMMARY:Evening series\r\nRECURRENCE-ID;TZID=Europe/London:20270127T190000\r\n"
            "DTSTART;TZID=Europe/London:20270128T193000",
        )
    )
    assert [(race.on, race.start) for race in read] == [
        (date(2026, 12, 16), time(19, 0)),
        (date(2027, 1, 13), time(19, 0)),
        (date(2027, 1, 28), time(19, 30)),
    ]


def test_a_cancelled_race_and_one_outside_the_days_are_left_out() -> None:
    data = calendar_of(
        "UID:a\r\nSUMMARY:Off\r\nSTATUS:CANCELLED\r\nDTSTART;VALUE=DATE:20270411",
        "UID:b\r\nSUMMARY:Before\r\nDTSTART;VALUE=DATE:20251231",
        "UID:c\r\nSUMMARY:First day\r\nDTSTART;VALUE=DATE:20260101",
        "UID:d\r\nSUMMARY:Last day\r\nDTSTART;VALUE=DATE:20271231",
        "UID:e\r\nSUMMARY:After\r\nDTSTART;VALUE=DATE:20280101",
    )
    assert [race.name for race in races(data)] == ["First day", "Last day"]


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_hostile_race_name_comes_in_as_one_safe_line(text: str) -> None:
    event = icalendar.Event()
    event.add("uid", "a")
    event.add("summary", text.encode("utf-8", "replace").decode())
    event.add("dtstart", date(2027, 4, 11))
    calendar = icalendar.Calendar()
    calendar.add_component(event)
    name = races(calendar.to_ical())[0].name
    assert name == one_line(name, 120)
    assert "\n" not in name


@pytest.mark.parametrize(
    ("data", "error"),
    [
        (b"x" * (LARGEST_FILE + 1), FileTooLarge),
        (b"", NotACalendar),
        (b"name,date\r\nSpring Round,2027-04-11\r\n", NotACalendar),
        (b"PK\x03\x04\xff\xfe\x00", NotACalendar),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n", NotACalendar),
        (b"BEGIN:VEVENT\r\nDTSTART:20270411T100000Z\r\nEND:VEVENT\r\n", NotACalendar),
        (calendar_of("UID:a\r\nDTSTART:20270411T100000Z") * 2 + b"junk", NotACalendar),
        (calendar_of(*["UID:a\r\nDTSTART:20270411T100000Z"] * (MOST_EVENTS + 1)), TooManyEvents),
        (
            calendar_of(*["UID:a\r\nDTSTART:20270411T100000Z\r\nRRULE:FREQ=WEEKLY"] * (MOST_RECURRING + 1)),
            TooManyEvents,
        ),
        (
            calendar_of(
                *[
                    f"UID:{number}\r\nDTSTART:20260111T100000Z\r\nRRULE:FREQ=WEEKLY;COUNT=90"
                    for number in range(MOST_ENTRIES // 90 + 1)
                ]
            ),
            TooManyEvents,
        ),
        (calendar_of("UID:a\r\nDTSTART:20270411T100000Z\r\nRRULE:FREQ=SECONDLY"), RecursTooOften),
        (calendar_of("UID:a\r\nDTSTART:20270411T100000Z\r\nRRULE:FREQ=HOURLY;COUNT=3"), RecursTooOften),
        (
            calendar_of("UID:a\r\nDTSTART:20270411T100000Z\r\nRRULE:FREQ=WEEKLY;BYMINUTE=1,2,3"),
            RecursTooOften,
        ),
        (calendar_of("UID:a\r\nDTSTART:20270411T100000Z\r\nRRULE:FREQ=DAILY"), RecursTooOften),
        (
            calendar_of("UID:a\r\nDTSTART;VALUE=DATE:20270411\r\nRRULE:FREQ=DAILY;UNTIL=20290411"),
            RecursTooOften,
        ),
    ],
)
def test_what_is_no_calendar_of_races_is_refused_by_name(data: bytes, error: type[CalendarFileError]) -> None:
    with pytest.raises(error) as refused:
        races(data)
    assert len(str(refused.value)) > 20


def test_a_daily_stage_race_with_an_end_is_read() -> None:
    read = races(
        calendar_of("UID:a\r\nSUMMARY:Stage\r\nDTSTART;VALUE=DATE:20270601\r\nRRULE:FREQ=DAILY;COUNT=3")
    )
    assert [race.on.day for race in read] == [1, 2, 3]
    read = races(
        calendar_of(
            "UID:a\r\nSUMMARY:Stage\r\nDTSTART;VALUE=DATE:20270601\r\nRRULE:FREQ=DAILY;UNTIL=20270603"
        )
    )
    assert [race.on.day for race in read] == [1, 2, 3]


@pytest.mark.parametrize(
    "until_on", [date(2025, 12, 31), date(2029, 1, 1)], ids=["end before beginning", "three years"]
)
def test_a_window_that_is_no_window_is_refused(until_on: date) -> None:
    with pytest.raises(WindowTooLong):
        races(calendar_of("UID:a\r\nDTSTART:20270411T100000Z"), until_on=until_on)


def test_an_unknown_zone_never_breaks_the_reader() -> None:
    data = calendar_of("UID:a\r\nSUMMARY:Odd\r\nDTSTART;TZID=Nowhere/Made Up:20270411T100000")
    assert [race.on for race in races(data)] == [date(2027, 4, 11)]
