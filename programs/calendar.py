"""Calendar files: a rider's week out, a club's races in (RFC 5545 iCalendar, RFC 5546 for PUBLISH and CANCEL).

`week_ics` makes one event a session. The UID is the session's own and stays through every revision, SEQUENCE rises
with the revision, so that a calendar moves an event instead of showing it twice. Times are local with their zone's
rules in the file; lengths are DURATIONs, which stay exact when the clocks change in between. No health data.

`read_races` reads a file that somebody uploaded: its size, its events and its recurrences are limited before anything
is unfolded, and every refusal is a `RaceFileError` that says what to change.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import icalendar
import recurring_ical_events
from django.utils import translation
from django.utils.translation import gettext as _

from programs.sheet import Sheet, SheetSession, numbered, one_line
from programs.wording import clinician_words, format_words, pain_words, warning_words

PRODID = "-//Ballast//Week plan//EN"

# --- out --------------------------------------------------------------------------------------------------------------


def week_ics(sheet: Sheet, *, stamped_at: datetime, method: str = "PUBLISH") -> bytes:
    """The week's sessions as a calendar file; sessions that an earlier revision had and this one dropped are cancelled.

    `stamped_at` is an aware time, the mail's own, so that the same sheet and time give the same bytes. `method` is
    PUBLISH or CANCEL; with CANCEL every event is cancelled.
    """
    cancel_all = method == "CANCEL"
    with translation.override(sheet.language):
        calendar = _calendar(method)
        for session in sheet.sessions:
            calendar.add_component(_event(sheet, session, stamped_at, cancelled=cancel_all))
        held = {session.uid for session in sheet.sessions}
        for session in sheet.dropped:
            if session.uid not in held:
                calendar.add_component(_event(sheet, session, stamped_at, cancelled=True))
        # The zone's rules for a year around the events: no calendar needs more to place them.
        days = [*sheet.days, *(session.on for session in (*sheet.sessions, *sheet.dropped))]
        calendar.add_missing_timezones(min(days) - timedelta(days=200), max(days) + timedelta(days=200))
        return calendar.to_ical()


def cancelled_ics(sheet: Sheet, *, stamped_at: datetime) -> bytes:
    """A file that takes every session of the sheet out of a calendar (RFC 5546 CANCEL, SEQUENCE as on the sheet)."""
    return week_ics(sheet, stamped_at=stamped_at, method="CANCEL")


def _calendar(method: str) -> icalendar.Calendar:
    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", method)
    return calendar


def _event(sheet: Sheet, session: SheetSession, stamped_at: datetime, *, cancelled: bool) -> icalendar.Event:
    event = icalendar.Event()
    event.add("uid", session.uid)
    event.add("dtstamp", stamped_at.astimezone(UTC))
    event.add("sequence", sheet.sequence)
    event.add("dtstart", _local_start(session, sheet.zone))
    event.add("duration", timedelta(minutes=session.minutes))
    event.add("summary", _text(_("{name} ({club})").format(name=session.name, club=sheet.club)))
    if session.venue:
        event.add("location", _text(session.venue))
    event.add("status", "CANCELLED" if cancelled else "CONFIRMED")
    event.add("class", "PRIVATE")
    event.add("transp", "TRANSPARENT" if cancelled else "OPAQUE")
    if sheet.reply_to:
        event.add("organizer", _organizer(sheet))
    if not cancelled:
        event.add("description", _text(_description(sheet, session)))
        if session.check_in_url:
            event.add("url", session.check_in_url)
    return event


def _text(text: str) -> str:
    """The text as the library escapes it faithfully: it takes a typed backslash and capital N for a line break."""
    return text.replace("\\N", "\\n")


def _local_start(session: SheetSession, zone: str) -> datetime:
    """The start in the zone. A time that the clocks skip is read with the offset before the gap (RFC 5545, 3.3.5), and
    written as the real local time that this is, since calendars differ about the unreal one."""
    tz = ZoneInfo(zone)
    wall = datetime.combine(session.on, session.start, tzinfo=tz)
    return wall.astimezone(UTC).astimezone(tz)


def _organizer(sheet: Sheet) -> icalendar.vCalAddress:
    address = icalendar.vCalAddress(f"mailto:{sheet.reply_to}")
    # A quotation mark cannot stand in a parameter (RFC 5545, 3.2), and its escape (RFC 6868) is not read everywhere.
    address.params["CN"] = sheet.coach_name.replace('"', "'")
    return address


def _description(sheet: Sheet, session: SheetSession) -> str:
    lines = [format_words(session.format)]
    for number, item in numbered(session.items):
        words = ", ".join(part for part in (item.line, item.side_line) if part)
        lines.append(f"{number}. {item.name}: {words}")
    if session.check_in_url:
        lines.append(_("Check in afterwards: {link}").format(link=session.check_in_url))
    lines += [warning_words(sheet.emergency_note), pain_words(sheet.pain_limit), clinician_words()]
    return "\n".join(lines)


# --- in ---------------------------------------------------------------------------------------------------------------

LARGEST_FILE = 1024 * 1024
MOST_EVENTS = 2000
MOST_RECURRING = 50
MOST_RACES = 500
LONGEST_WINDOW = timedelta(days=800)
_COARSE = frozenset({"WEEKLY", "MONTHLY", "YEARLY"})
_MOST_DAYS = 31


class RaceFileError(ValueError):
    """A calendar file that cannot be read as races. The message says what to change."""


class FileTooLarge(RaceFileError):
    """More octets than `LARGEST_FILE`."""


class NotACalendar(RaceFileError):
    """Not an iCalendar file, or one with values that it cannot have."""


class TooManyEvents(RaceFileError):
    """More events, recurring events or races than one club has."""


class RecursTooOften(RaceFileError):
    """An event that recurs hourly or oftener, or daily without an end."""


class WindowTooLong(RaceFileError):
    """More days asked about than `LONGEST_WINDOW`, or an end before the beginning."""


@dataclass(frozen=True, slots=True)
class RaceEntry:
    """One race as the file has it: first and last local day, start (None for all day), its name and place."""

    on: date
    until_on: date
    start: time | None
    name: str
    place: str = ""
    uid: str = ""


def read_races(data: bytes, *, from_on: date, until_on: date, zone: str) -> list[RaceEntry]:
    """The races that begin or run between the two days (both included), by day, start and name.

    Recurring events are unfolded with their exceptions, cancelled ones left out. Times with a zone are turned into the
    club's `zone`; floating ones are taken as local. Raises a `RaceFileError`.
    """
    if not timedelta(0) <= until_on - from_on <= LONGEST_WINDOW:
        raise WindowTooLong(_("Ask for two years at most, the first day before the last."))
    tz = ZoneInfo(zone)
    calendars = _parse(data)
    entries: set[RaceEntry] = set()
    for calendar in calendars:
        for event in _unfold(calendar, from_on, until_on):
            entry = _entry(event, tz)
            if entry and entry.on <= until_on and entry.until_on >= from_on:
                entries.add(entry)
    if len(entries) > MOST_RACES:
        raise TooManyEvents(_("The file gives more than {most} races. Upload fewer.").format(most=MOST_RACES))
    return sorted(entries, key=lambda entry: (entry.on, entry.start or time.min, entry.name, entry.uid))


def _parse(data: bytes) -> Sequence[icalendar.Calendar]:
    if len(data) > LARGEST_FILE:
        raise FileTooLarge(_("The file is larger than 1 MB. Export a shorter time from your calendar."))
    try:
        text = data.decode("utf-8-sig")
        calendars = [
            calendar
            for calendar in icalendar.Calendar.from_ical(text, multiple=True)
            if isinstance(calendar, icalendar.Calendar)
        ]
    except (ValueError, KeyError, IndexError, TypeError, AttributeError) as broken:
        raise NotACalendar(_("This is not a calendar file (.ics) in UTF-8.")) from broken
    if not calendars:
        raise NotACalendar(_("This is not a calendar file (.ics): it does not begin with BEGIN:VCALENDAR."))
    _check_limits([event for calendar in calendars for event in calendar.walk("VEVENT")])
    return calendars


def _check_limits(events: Sequence[icalendar.Event]) -> None:
    if len(events) > MOST_EVENTS:
        raise TooManyEvents(_("The file has more than {most} events. Export fewer.").format(most=MOST_EVENTS))
    rules = [rule for event in events for rule in _each(event.get("RRULE"))]
    dates = sum(len(getattr(part, "dts", ())) for event in events for part in _each(event.get("RDATE")))
    if len(rules) > MOST_RECURRING or dates > MOST_RACES:
        raise TooManyEvents(
            _("More than {most} events recur. Upload a calendar of races only.").format(most=MOST_RECURRING)
        )
    for event in events:
        for rule in _each(event.get("RRULE")):
            _check_rule(rule, event)


def _each(value: object) -> Iterable[object]:
    if value is None:
        return ()
    return value if isinstance(value, list) else (value,)


def _check_rule(rule: object, event: icalendar.Event) -> None:
    """Refuse a rule that unfolds into more occurrences than races can have, before it is unfolded."""
    parts = {str(key).upper(): value for key, value in dict(rule).items()}  # type: ignore[call-overload]
    often = {"BYHOUR", "BYMINUTE", "BYSECOND"} & parts.keys()
    frequency = str(next(iter(parts.get("FREQ", [""])))).upper()
    count = next(iter(parts.get("COUNT", [0])))
    short = 0 < int(count) <= _MOST_DAYS or _ends_soon(parts.get("UNTIL"), event)
    if often or not (frequency in _COARSE or (frequency == "DAILY" and short)):
        raise RecursTooOften(
            _("The event {name} recurs too often for a race. Take it out of the calendar.").format(
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
    try:
        return list(recurring_ical_events.of(calendar, components=["VEVENT"]).between(first, last))
    except (
        ValueError,
        KeyError,
        TypeError,
        AttributeError,
        OverflowError,
        ZoneInfoNotFoundError,
        recurring_ical_events.InvalidCalendar,
    ) as broken:
        raise NotACalendar(
            _("An event in the file has a time or a recurrence that cannot be read.")
        ) from broken


def _entry(event: icalendar.Event, tz: ZoneInfo) -> RaceEntry | None:
    if str(event.get("STATUS", "")).upper() == "CANCELLED":
        return None
    begin, end = event.start, event.end
    if isinstance(begin, datetime):
        local = begin.astimezone(tz) if begin.tzinfo else begin
        on, start = local.date(), local.time().replace(second=0, microsecond=0, tzinfo=None)
        last = (end.astimezone(tz) if end.tzinfo else end) - timedelta(microseconds=1)
        until_on = max(on, last.date())
    else:
        on, start = begin, None
        until_on = max(on, end - timedelta(days=1))
    return RaceEntry(
        on,
        until_on,
        start,
        one_line(str(event.get("SUMMARY", "")), 120) or _("Race without a name"),
        one_line(str(event.get("LOCATION", "")), 120),
        one_line(str(event.get("UID", "")), 255),
    )
