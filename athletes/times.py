"""Weekly times in plain words: when a rider can train, and the rides that come round each week. Pure.

The words: times between semicolons; a time is one or more days, a time of day, a length. `at` names the venue,
`preferred` marks a time that suits best. Words for the time of day stand for the times in `PARTS_OF_DAY`.

>>> times, unread = read_times("Tue, Thu evening; Sat 09:00 3 h; sometimes", minutes=45)
>>> write_times(times)
'Tue 18:30 45 min; Thu 18:30 45 min; Sat 09:00 180 min'
>>> unread[0].found
'sometimes'
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import time

from django.utils.translation import gettext as _

from athletes.typed import Unread, one_line

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
#: What a word for the time of day stands for (ours).
PARTS_OF_DAY = {
    "morning": time(7, 0),
    "lunch": time(12, 15),
    "afternoon": time(16, 0),
    "evening": time(18, 30),
}
#: The shortest and longest that a weekly time may be, in minutes (ours).
SHORTEST, LONGEST = 10, 720
MOST_TIMES = 60


@dataclass(frozen=True, slots=True, order=True)
class WeeklyTime:
    """A time of the week: weekday from Monday 0, start, length in minutes; where, and whether it suits best."""

    weekday: int
    start: time
    minutes: int
    venue: str = ""
    preferred: bool = False


_DAY = r"(mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?s?"
_SPAN = re.compile(rf"\b{_DAY}\s*(?:-|to)\s*{_DAY}\b")
_ONE_DAY = re.compile(rf"\b{_DAY}\b")
_GROUPS = {
    "weekdays": range(5),
    "weekend": range(5, 7),
    "weekends": range(5, 7),
    "every day": range(7),
    "daily": range(7),
}
_VENUE = re.compile(r"\b(?:at|in)\s+(?:the\s+)?([^\d\s].*)$")
_BETWEEN_TIMES = re.compile(r"\b(\d{1,2})[:.](\d{2})\s*(?:-|to|until)\s*(\d{1,2})[:.](\d{2})\b")
_HOURS = re.compile(
    r"\b(\d{1,2}(?:[.,]\d{1,2})?)\s*(?:h|hrs?|hours?)\b(?:\s*(\d{1,2})\s*(?:min|mins|minutes|m)?\b(?![:.]))?"
)
_MINUTES = re.compile(r"\b(\d{1,3})\s*(?:min|mins|minutes|m)\b")
_CLOCK = re.compile(r"\b(\d{1,2})[:.](\d{2})(?:\s*(am|pm))?\b|\b(\d{1,2})\s*(am|pm)\b")
_PREFERRED = re.compile(r"\b(?:preferred|best)\b")
_FILLER = re.compile(r"(?:[\s,&]|\b(?:and|from|for|on)\b)+")
_NOTHING = {"none", "never", "no"}


class _Unreadable(Exception):
    def __init__(self, expected: str) -> None:
        self.expected = expected


def read_times(text: str, *, minutes: int) -> tuple[tuple[WeeklyTime, ...], tuple[Unread, ...]]:
    """The times that the words name, in the order of the week, and the pieces that could not be read.

    `minutes` is the length of a time that gives none.
    """
    times: dict[tuple[int, time], WeeklyTime] = {}
    unread: list[Unread] = []
    for part in re.split(r"[;\n\r|]", text):
        typed = part.strip(" .,")
        if not typed or typed.lower() in _NOTHING:
            continue
        try:
            for one in _read(typed, minutes):
                if (one.weekday, one.start) in times:
                    raise _Unreadable(_("each day and time once"))
                times[one.weekday, one.start] = one
        except _Unreadable as why:
            unread.append(Unread(one_line(typed, 80), why.expected))
    if len(times) > MOST_TIMES:
        unread.append(Unread(str(len(times)), _("at most {most} times a week").format(most=MOST_TIMES)))
    return tuple(sorted(times.values())), tuple(unread)


def _read(typed: str, minutes: int) -> Iterable[WeeklyTime]:
    rest = re.sub(r"\s+", " ", typed.replace("\u2013", "-").replace("\u00a0", " "))
    venue = _VENUE.search(rest)
    place = venue[1].strip() if venue else ""
    rest = (rest[: venue.start()] if venue else rest).lower()
    is_preferred, rest = _take(_PREFERRED, rest)
    days, rest = _days(rest)
    start, length, rest = _clock(rest, minutes)
    if _FILLER.sub("", rest) or not days:
        raise _Unreadable(_("a day, a time and a length, such as Tue 18:30 60 min or Thu evening"))
    if not SHORTEST <= length <= LONGEST:
        raise _Unreadable(_("a length of {least} to {most} minutes").format(least=SHORTEST, most=LONGEST))
    return [WeeklyTime(day, start, length, one_line(place, 60), is_preferred is not None) for day in days]


def _take(pattern: re.Pattern[str], text: str) -> tuple[re.Match[str] | None, str]:
    """The first match, and the text without it."""
    match = pattern.search(text)
    return match, (f"{text[: match.start()]} {text[match.end() :]}" if match else text)


def _days(text: str) -> tuple[list[int], str]:
    days: set[int] = set()
    for words, group in _GROUPS.items():
        found, text = _take(re.compile(rf"\b{words}\b"), text)
        days.update(group if found else ())
    span, text = _take(_SPAN, text)
    while span:
        first, last = _weekday(span[1]), _weekday(span[2])
        days.update((first + step) % 7 for step in range((last - first) % 7 + 1))
        span, text = _take(_SPAN, text)
    day, text = _take(_ONE_DAY, text)
    while day:
        days.add(_weekday(day[1]))
        day, text = _take(_ONE_DAY, text)
    return sorted(days), text


def _weekday(name: str) -> int:
    return DAYS.index(name[:3].title())


def _clock(text: str, minutes: int) -> tuple[time, int, str]:
    """The start, the length in minutes, and what is left of the text."""
    between, text = _take(_BETWEEN_TIMES, text)
    if between:
        start, end = _time(between[1], between[2]), _time(between[3], between[4])
        return start, (end.hour - start.hour) * 60 + end.minute - start.minute, text
    hours, text = _take(_HOURS, text)
    if hours:
        minutes = round(float(hours[1].replace(",", ".")) * 60) + int(hours[2] or 0)
    else:
        shorter, text = _take(_MINUTES, text)
        minutes = int(shorter[1]) if shorter else minutes
    clock, text = _take(_CLOCK, text)
    if clock:
        return _time(clock[1] or clock[4], clock[2] or "0", clock[3] or clock[5] or ""), minutes, text
    for word, start in PARTS_OF_DAY.items():
        found, text = _take(re.compile(rf"\b{word}s?\b"), text)
        if found:
            return start, minutes, text
    raise _Unreadable(
        _("a time of day, such as 18:30, or one of: {words}").format(words=", ".join(PARTS_OF_DAY))
    )


def _time(hour: str, minute: str, half: str = "") -> time:
    hours = int(hour)
    if half:
        if not 1 <= hours <= 12:
            raise _Unreadable(_("an hour of 1 to 12 before am or pm"))
        hours = hours % 12 + (12 if half == "pm" else 0)
    if hours > 23 or int(minute) > 59:
        raise _Unreadable(_("a time from 00:00 to 23:59"))
    return time(hours, int(minute))


def write_times(times: Iterable[WeeklyTime]) -> str:
    """The times in the words that `read_times` reads."""
    return "; ".join(
        f"{DAYS[one.weekday]} {one.start:%H:%M} {one.minutes} min"
        + (" preferred" if one.preferred else "")
        + (f" at {one.venue}" if one.venue else "")
        for one in times
    )
