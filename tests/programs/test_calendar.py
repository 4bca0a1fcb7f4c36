"""The calendar file, read back with icalendar and with python-dateutil."""

import io
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo

import dateutil.tz
import icalendar
import pytest

from programs.calendar import cancelled_ics, week_ics
from programs.engine.facts import Week
from programs.sheet import Sheet, one_line
from tests.programs.examples import HOSTILE, hostile_sheet, moved, session, sheet

STAMP = datetime(2026, 10, 30, 6, 0, tzinfo=UTC)


def made_of(wanted: Sheet, method: str = "PUBLISH") -> bytes:
    return week_ics(wanted, stamped_at=STAMP, method=method)


def events_of(made: bytes) -> list[icalendar.Event]:
    return list(icalendar.Calendar.from_ical(made).walk("VEVENT"))


def unfolded(made: bytes) -> list[str]:
    """The content lines, unfolded by hand as RFC 5545, 3.1 says."""
    return made.decode().replace("\r\n ", "").split("\r\n")


def at(on: date, start: time, zone: str, minutes: int = 45) -> Sheet:
    base = sheet(1)
    return replace(base, zone=zone, sessions=(replace(session(1, on), start=start, minutes=minutes),))


# --- out --------------------------------------------------------------------------------------------------------------


def test_each_session_is_one_event_with_its_uid_and_length() -> None:
    wanted = sheet(3)
    events = events_of(made_of(wanted))
    assert [str(event["UID"]) for event in events] == [each.uid for each in wanted.sessions]
    for event, each in zip(events, wanted.sessions, strict=True):
        assert event.start == datetime.combine(each.on, each.start, tzinfo=ZoneInfo("Europe/London"))
        assert event.end - event.start == timedelta(minutes=45)
        assert event["STATUS"] == "CONFIRMED"
        assert event["CLASS"] == "PRIVATE"
        assert str(event["URL"]) == each.check_in_url


def test_the_file_has_what_rfc_5545_and_5546_require() -> None:
    """RFC 5545, 3.6: PRODID and VERSION once; RFC 5546, 3.2.1: ORGANIZER in what is published, no ATTENDEE."""
    lines = unfolded(made_of(sheet(2)))
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in lines) == 1
    assert lines.count("METHOD:PUBLISH") == 1
    assert sum(line.startswith("ORGANIZER;") for line in lines) == 2
    assert not any(line.startswith("ATTENDEE") for line in lines)
    assert lines.count("DTSTAMP:20261030T060000Z") == 2


def test_a_revision_keeps_the_uid_and_raises_the_sequence() -> None:
    first = sheet(2)
    second = replace(
        first,
        revision=2,
        sequence=1,
        sessions=(moved(first.sessions[0], 1), first.sessions[1]),
        supersedes=True,
    )
    before, after = events_of(made_of(first)), events_of(made_of(second))
    assert [str(event["UID"]) for event in before] == [str(event["UID"]) for event in after]
    assert [int(event["SEQUENCE"]) for event in before] == [0, 0]
    assert [int(event["SEQUENCE"]) for event in after] == [1, 1]
    assert after[0].start - before[0].start == timedelta(days=1)


def test_a_session_that_a_revision_drops_is_cancelled_in_the_same_file() -> None:
    first = sheet(2)
    second = replace(first, sequence=1, sessions=first.sessions[:1], dropped=first.sessions)
    events = events_of(made_of(second))
    assert [(str(event["UID"]), str(event["STATUS"])) for event in events] == [
        (first.sessions[0].uid, "CONFIRMED"),
        (first.sessions[1].uid, "CANCELLED"),
    ]


def test_a_withdrawn_week_cancels_every_event_and_links_nowhere() -> None:
    made = cancelled_ics(replace(sheet(2), sequence=4), stamped_at=STAMP)
    assert "METHOD:CANCEL" in unfolded(made)
    for event in events_of(made):
        assert event["STATUS"] == "CANCELLED"
        assert int(event["SEQUENCE"]) == 4
        assert "URL" not in event
        assert "DESCRIPTION" not in event


@pytest.mark.parametrize(
    ("zone", "on", "start", "utc"),
    [
        # The clocks of the European Union and the United Kingdom change on the last Sundays of March and October at
        # 01:00 UTC (Directive 2000/84/EC; the Summer Time Order 2002); those of the United States on the second Sunday
        # of March and the first of November at 02:00 local (15 U.S.C. 260a).
        ("Europe/London", date(2026, 3, 28), time(18, 30), (28, 18, 30)),
        ("Europe/London", date(2026, 3, 29), time(18, 30), (29, 17, 30)),
        ("Europe/London", date(2026, 10, 24), time(18, 30), (24, 17, 30)),
        ("Europe/London", date(2026, 10, 25), time(18, 30), (25, 18, 30)),
        ("Europe/Berlin", date(2026, 10, 25), time(7, 0), (25, 6, 0)),
        ("America/New_York", date(2026, 3, 8), time(7, 0), (8, 11, 0)),
        ("America/New_York", date(2026, 11, 1), time(7, 0), (1, 12, 0)),
        ("Australia/Lord_Howe", date(2026, 10, 4), time(7, 0), (3, 20, 0)),
        ("Asia/Kathmandu", date(2026, 5, 5), time(7, 0), (5, 1, 15)),
    ],
)
def test_the_local_time_holds_in_weeks_when_the_clocks_change(
    zone: str, on: date, start: time, utc: tuple[int, int, int]
) -> None:
    """Read twice: with the system's zone by name, and with dateutil from the VTIMEZONE in the file alone."""
    made = made_of(at(on, start, zone))
    event = events_of(made)[0]
    assert event.start.replace(tzinfo=None) == datetime.combine(on, start)
    assert (lambda u: (u.day, u.hour, u.minute))(event.start.astimezone(UTC)) == utc
    ours = zone_in(made, zone)
    read = datetime.combine(on, start, tzinfo=ours).astimezone(UTC)
    assert (read.day, read.hour, read.minute) == utc


def zone_in(made: bytes, zone: str) -> tzinfo:
    """The zone as dateutil reads it from the VTIMEZONE in the file, without knowing any zone by name."""
    read = dateutil.tz.tzical(io.StringIO(made.decode())).get(zone)
    assert read is not None
    return read


def test_a_time_that_the_clocks_skip_is_read_with_the_offset_before_the_gap() -> None:
    """RFC 5545, 3.3.5: "interpreted using the UTC offset before the gap"."""
    event = events_of(made_of(at(date(2026, 3, 29), time(1, 30), "Europe/London")))[0]
    assert event.start.astimezone(UTC) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert (event.start.hour, event.start.minute) == (2, 30)


def test_a_time_that_comes_twice_is_the_first() -> None:
    """RFC 5545, 3.3.5: a time that occurs twice "refers to the first occurrence"."""
    event = events_of(made_of(at(date(2026, 10, 25), time(1, 30), "Europe/London")))[0]
    assert event.start.astimezone(UTC) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_a_session_across_the_change_lasts_its_minutes() -> None:
    made = made_of(at(date(2026, 10, 25), time(1, 45), "Europe/London", minutes=40))
    assert "DURATION:PT40M" in unfolded(made)
    assert not any(line.startswith("DTEND") for line in unfolded(made))


def test_week_53_lies_where_iso_8601_puts_it() -> None:
    wanted = sheet(3, week=Week(2026, 53))
    assert wanted.days[0] == date(2026, 12, 28)
    assert [event.start.date() for event in events_of(made_of(wanted))] == [
        date(2026, 12, 29),
        date(2027, 1, 1),
        date(2027, 1, 3),
    ]


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_stays_inside_its_property(text: str) -> None:
    made = made_of(hostile_sheet(text))
    plain = made_of(sheet(2))
    events = events_of(made)
    assert len(events) == 2
    assert str(events[0]["SUMMARY"]) == f"{one_line(text, 60)} ({one_line(text, 80)})".replace("\\N", "\\n")
    assert str(events[0]["LOCATION"]) == one_line(text, 60).replace("\\N", "\\n")
    assert events[0]["ORGANIZER"] == "mailto:thessa.brockhollin@wexenfold.example"
    assert sorted(names_in(made)) == sorted(names_in(plain))


def names_in(made: bytes) -> list[str]:
    """The names of the properties of the events, read with nothing but the RFC's folding rule."""
    lines = unfolded(made)
    first = lines.index("BEGIN:VEVENT")
    return [line.split(":")[0].split(";")[0] for line in lines[first:]]


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_no_line_is_longer_than_75_octets_or_cuts_a_letter(text: str) -> None:
    """RFC 5545, 3.1: "Lines of text SHOULD NOT be longer than 75 octets"."""
    for line in made_of(hostile_sheet(text)).split(b"\r\n"):
        assert len(line) <= 75
        assert b"\n" not in line
        line.decode()


def test_pain_never_reaches_the_calendar() -> None:
    calm = sheet(2)
    sore = replace(calm, strip=tuple(replace(day, pain=7) for day in calm.strip))
    assert made_of(sore) == made_of(calm)


def test_the_same_sheet_and_time_give_the_same_bytes() -> None:
    assert made_of(sheet(3)) == made_of(sheet(3))


def test_a_club_without_a_reply_address_publishes_without_an_organizer() -> None:
    assert "ORGANIZER" not in events_of(made_of(replace(sheet(1), reply_to="")))[0]
