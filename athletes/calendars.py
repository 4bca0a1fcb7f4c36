"""A club's calendar file, read in: races and holidays from iCalendar (RFC 5545). Bytes in, entries out.

The file is somebody's upload: its size, its events and its recurrences are limited before anything is unfolded, and
every refusal is a `CalendarFileError` that says what to change.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import icalendar
import recurring_ical_events
from django.utils.translation import gettext as _

from athletes.typed import one_line

LARGEST_FILE = 1024 * 1024
MOST_EVENTS = 2000
MOST_RECURRING = 50
MOST_ENTRIES = 500
LONGEST_WINDOW = timedelta(days=800)
_COARSE = frozenset({"WEEKLY", "MONTHLY", "YEARLY"})
_MOST_DAYS = 31
#: What the libraries raise, beside the errors of arithmetic, of looking up and of zone files.
_BROKEN = (ValueError, TypeError, AttributeError, recurring_ical_events.InvalidCalendar)


class CalendarFileError(ValueError):
    """A calendar file that cannot be read. The message says what to change."""


class FileTooLarge(CalendarFileError):
    """More octets than `LARGEST_FILE`."""


class NotACalendar(CalendarFileError):
    """Not an iCalendar file, or one with values that it cannot have."""


class TooManyEvents(CalendarFileError):
    """More events, recurring events or entries than one club has."""


class RecursTooOften(CalendarFileError):
    """An event that recurs hourly or oftener, or daily without an end."""


class WindowTooLong(CalendarFileError):
    """More days asked about than `LONGEST_WINDOW`, or an end before the beginning."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One event as the file has it: first and last local day, start (None for all day), its name and place."""

    on: date
    until_on: date
    start: time | None
    name: str
    place: str = ""
    uid: str = ""


def read_calendar(data: bytes, *, from_on: date, until_on: date, zone: str) -> list[Entry]:
    """The events that begin or run between the two days (both included), by day, start and name.

    Recurring events are unfolded with their exceptions, cancelled ones left out. Times with a zone are turned into the
    club's `zone`; floating ones are taken as local. Raises a `CalendarFileError`.
    """
    if not timedelta(0) <= until_on - from_on <= LONGEST_WINDOW:
        raise WindowTooLong(_("Ask for two years at most, the first day before the last."))
    tz = ZoneInfo(zone)
    calendars = _parse(data)
    entries: set[Entry] = set()
    with _refusing(_("An event in the file has a time or a recurrence that cannot be read.")):
        for calendar in calendars:
            for event in _unfold(calendar, from_on, until_on):
                entry = _entry(event, tz)
                if entry and entry.on <= until_on and entry.until_on >= from_on:
                    entries.add(entry)
    if len(entries) > MOST_ENTRIES:
        raise TooManyEvents(
            _("The file gives more than {most} entries. Upload fewer.").format(most=MOST_ENTRIES)
        )
    return sorted(entries, key=lambda entry: (entry.on, entry.start or time.min, entry.name, entry.uid))


@contextmanager
def _refusing(words: str) -> Iterator[None]:
    """Whatever the libraries make of values that a calendar cannot have is a `NotACalendar` with these words."""
    try:
        yield
    except CalendarFileError:
        raise
    except (LookupError, ArithmeticError, OSError, *_BROKEN) as broken:
        raise NotACalendar(words) from broken


def _parse(data: bytes) -> Sequence[icalendar.Calendar]:
    if len(data) > LARGEST_FILE:
        raise FileTooLarge(_("The file is larger than 1 MB. Export a shorter time from your calendar."))
    with _refusing(_("This is not a calendar file (.ics) in UTF-8.")):
        text = data.decode("utf-8-sig")
        calendars = [
            calendar
            for calendar in icalendar.Calendar.from_ical(text, multiple=True)
            if isinstance(calendar, icalendar.Calendar)
        ]
    if not calendars:
        raise NotACalendar(_("This is not a calendar file (.ics): it does not begin with BEGIN:VCALENDAR."))
    events = [event for calendar in calendars for event in calendar.walk("VEVENT")]
    with _refusing(_("An event in the file has a recurrence that cannot be read.")):
        _check_limits([event for event in events if isinstance(event, icalendar.Event)])
    return calendars


def _check_limits(events: Sequence[icalendar.Event]) -> None:
    if len(events) > MOST_EVENTS:
        raise TooManyEvents(_("The file has more than {most} events. Export fewer.").format(most=MOST_EVENTS))
    rules = [rule for event in events for rule in _each(event.get("RRULE"))]
    dates = sum(len(getattr(part, "dts", ())) for event in events for part in _each(event.get("RDATE")))
    if len(rules) > MOST_RECURRING or dates > MOST_ENTRIES:
        raise TooManyEvents(
            _("More than {most} events recur. Upload a calendar of races and holidays only.").format(
                most=MOST_RECURRING
            )
        )
    for event in events:
        for rule in _each(event.get("RRULE")):
            _check_rule(rule, event)


def _each(value: object) -> Iterable[object]:
    if value is None:
        return ()
    return value if isinstance(value, list) else (value,)


def _check_rule(rule: object, event: icalendar.Event) -> None:
    """Refuse a rule that unfolds into more occurrences than races have, before it is unfolded."""
    parts = {str(key).upper(): value for key, value in dict(rule).items()}  # type: ignore[call-overload]
    often = {"BYHOUR", "BYMINUTE", "BYSECOND"} & parts.keys()
    frequency = str(next(iter(parts.get("FREQ", [""])))).upper()
    count = next(iter(parts.get("COUNT", [0])))
    short = 0 < int(count) <= _MOST_DAYS or _ends_soon(parts.get("UNTIL"), event)
    if often or not (frequency in _COARSE or (frequency == "DAILY" and short)):
        raise RecursTooOften(
            _("The event {name} recurs too often for a race or holiday. Take it out of the calendar.").format(
                name=one_line(str(event.get("SUMMARY", "")), 60) or _("without a name")
            )
        )


def _ends_soon(until: object, event: icalendar.Event) -> bool:
    try:
        begin, end = _day_of(event.decoded("DTSTART")), _day_of(next(iter(until)))  # type: ignore[call-overload]
    except (KeyError, TypeError, ValueError, StopIteration):
        return False
    return (end - begin).days <= _MOST_DAYS


def _day_of(value: date) -> date:
    return value.date() if isinstance(value, datetime) else value


def _unfold(calendar: icalendar.Calendar, from_on: date, until_on: date) -> list[icalendar.Event]:
    # A day to either side: an event far from the club's zone may begin on its day before or after.
    first, last = from_on - timedelta(days=1), until_on + timedelta(days=2)
    return list(recurring_ical_events.of(calendar, components=["VEVENT"]).between(first, last))


def _entry(event: icalendar.Event, tz: ZoneInfo) -> Entry | None:
    if str(event.get("STATUS", "")).upper() == "CANCELLED":
        return None
    begin, end = event.start, event.end
    if isinstance(begin, datetime):
        local = begin.astimezone(tz) if begin.tzinfo else begin
        on, start = local.date(), local.time().replace(second=0, microsecond=0, tzinfo=None)
        until_on = max(on, _last_day(end, tz))
    else:
        on, start = begin, None
        until_on = max(on, end - timedelta(days=1))
    return Entry(
        on,
        until_on,
        start,
        one_line(str(event.get("SUMMARY", "")), 120) or _("Without a name"),
        one_line(str(event.get("LOCATION", "")), 120),
        one_line(str(event.get("UID", "")), 255),
    )


def _last_day(end: date, tz: ZoneInfo) -> date:
    """The local day of the last moment before `end`, which is not part of the event."""
    if not isinstance(end, datetime):
        return end - timedelta(days=1)
    return ((end.astimezone(tz) if end.tzinfo else end) - timedelta(microseconds=1)).date()
