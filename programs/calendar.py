"""A rider's week as a calendar file (RFC 5545 iCalendar, RFC 5546 for PUBLISH and CANCEL).

`week_ics` makes one event a session. The UID is the session's own and stays through every revision, SEQUENCE rises
with the revision, so that a calendar moves an event instead of showing it twice. Times are local with their zone's
rules in the file; lengths are DURATIONs, which stay exact when the clocks change in between. No health data.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from programs.sheet import Sheet, SheetSession, numbered
from programs.wording import clinician_words, format_words, pain_words, warning_words

PRODID = "-//Ballast//Week plan//EN"


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
        lines.append(f"{number}. {item.name}{pgettext('after a heading', ':')} {words}")
    if session.check_in_url:
        lines.append(_("Check in afterwards: {link}").format(link=session.check_in_url))
    lines += [warning_words(sheet.emergency_note), pain_words(sheet.pain_limit), clinician_words()]
    return "\n".join(lines)
