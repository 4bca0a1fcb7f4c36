"""What a rider receives in one week, as values: what the card, the mail and the calendar file are all made of.

A sheet holds words, never rules: whoever makes one has already turned targets and reasons into sentences with
`programs/wording.py`. It holds no health data, apart from the pain score of a strip day, which only web pages draw.

Every text is made safe when the value is made, so that nothing that a person typed can break a mail header, a calendar
property or a paragraph: control, bidirectional-override and unpaired characters go, white space becomes single spaces,
and what is too long for its place is cut. Links are checked instead, and refused with `BadLinkError`.

>>> StripDay(on=date(2026, 11, 3), planned=True, race="Skarnock\\r\\nBcc: all").race
'Skarnock Bcc: all'
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date, time
from enum import Enum

from athletes import typed
from programs.engine.facts import Format, Part, Week
from programs.engine.quantities import week_days

#: Longer texts are cut: a sheet is read at arm's length, and no page can be made to overflow by one name.
LONGEST_TEXT = 160
#: Fields with a limit of their own (characters).
_LONGEST = {
    "club": 80,
    "coach_name": 80,
    "rider_name": 40,
    "name": 60,
    "venue": 60,
    "line": 90,
    "side_line": 30,
    "tempo": 60,
    "leave": 60,
    "implement": 60,
    "change_line": 90,
    "cues": 90,
    "alternates": 60,
    "warm_up": 60,
    "cool_down": 60,
    "race": 60,
    "next_ride": 100,
    "next_race": 100,
    "uid": 255,
    "reply_to": 254,
}
_LINK = re.compile(r"https?://[^\s<>\"'\\^`{|}\x00-\x1f\x7f]+")
_LONGEST_LINK = 900


class BadLinkError(ValueError):
    """A link that is not one plain http or https address."""


def one_line(text: str, longest: int = LONGEST_TEXT) -> str:
    """The text on one line, without characters that could control anything, at most `longest` characters long.

    >>> one_line("  Wren\\n\\tTollifant\\x00 ")
    'Wren Tollifant'
    """
    line = typed.one_line(text, longest + 1)
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"


def checked_link(link: str) -> str:
    """The link itself, or an empty text when there is none. Raises `BadLinkError` for anything else but a web link."""
    if link and (len(link) > _LONGEST_LINK or not link.isascii() or not _LINK.fullmatch(link)):
        raise BadLinkError("A link must be one http or https address of plain characters.")
    return link


def _is_text(value: object) -> bool:
    """Whether the value is text that somebody may have typed; marked-safe text is text too, a word of ours is not."""
    return isinstance(value, str) and not isinstance(value, Enum)


class SafeTexts:
    """Makes every text field safe as the value is made; a field whose name ends in `_url` is checked as a link."""

    __slots__ = ()

    def __post_init__(self) -> None:
        for field in fields(self):  # type: ignore[arg-type]
            value = getattr(self, field.name)
            longest = _LONGEST.get(field.name, LONGEST_TEXT)
            if _is_text(value):
                safe: object = (
                    checked_link(value) if field.name.endswith("_url") else one_line(value, longest)
                )
            elif isinstance(value, tuple):
                safe = tuple(one_line(each, longest) if _is_text(each) else each for each in value)
            else:
                continue
            object.__setattr__(self, field.name, safe)


@dataclass(frozen=True, slots=True)
class SheetItem(SafeTexts):
    """One exercise of a session in words. `line` has the number first: ``"3 x 8 at 12 kg, rest 90 s"``.

    `side_line` is filled when a side is done at a time; `sets` says how many pencil boxes there are. `change_line` is
    one plain sentence, or nothing; `why_line` says in one what changed and why, for a mail and never for a card that
    lies about, and is empty where that is about health. `cues` are up to three. `alternates` are names of easier
    exercises that may be done instead.
    """

    slug: str
    name: str
    part: Part
    line: str
    sets: int = 3
    side_line: str = ""
    tempo: str = ""
    leave: str = ""
    change_line: str = ""
    why_line: str = ""
    cues: tuple[str, ...] = ()
    new: bool = False
    implement: str = ""
    alternates: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetSession(SafeTexts):
    """One session. `start` is local to the sheet's zone; `minutes` is its length; `uid` is its calendar identity, the
    same in every revision. `check_in_url` may be empty when the session can no longer be reported. `warm_up_slugs` and
    `cool_down_slugs` are the exercises of the names, in their order."""

    ordinal: int
    name: str
    on: date
    start: time
    minutes: int
    venue: str
    format: Format
    warm_up: tuple[str, ...]
    items: tuple[SheetItem, ...]
    cool_down: tuple[str, ...]
    check_in_url: str
    uid: str
    warm_up_minutes: int = 0
    cool_down_minutes: int = 0
    warm_up_slugs: tuple[str, ...] = ()
    cool_down_slugs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StripDay(SafeTexts):
    """One day of the week strip. `done_rpe` is the session RPE (CR-10, 0 to 10) of a session that was done.

    `race` is the race's name or nothing. `pain` is the highest score (0 to 10) and is drawn on web pages only.
    """

    on: date
    planned: bool = False
    done_rpe: int | None = None
    missed: bool = False
    key_ride: bool = False
    race: str = ""
    pain: int | None = None


@dataclass(frozen=True, slots=True)
class Sheet(SafeTexts):
    """A rider's week. `strip` is seven days, Monday first. `revision` counts from 1; `sequence` is the calendar's.

    `supersedes` says that an earlier plan of the same week is out. `dropped` are sessions of that earlier plan that are
    no longer held, so that calendars take them out. `zone` is an IANA name, `paper` is A4 or Letter, `pain_limit` the
    club's limit (0 to 10) for riders who have agreed none. `reply_to` is an address, or nothing.
    """

    club: str
    coach_name: str
    rider_name: str
    week: Week
    zone: str
    sessions: tuple[SheetSession, ...]
    strip: tuple[StripDay, ...]
    revision: int = 1
    sequence: int = 0
    language: str = "en-gb"
    paper: str = "A4"
    why: tuple[str, ...] = ()
    next_ride: str = ""
    next_race: str = ""
    supersedes: bool = False
    report_pain_url: str = ""
    unsubscribe_url: str = ""
    my_page_url: str = ""
    reply_to: str = ""
    emergency_note: str = ""
    pain_limit: int = 2
    dropped: tuple[SheetSession, ...] = ()

    @property
    def days(self) -> tuple[date, ...]:
        """The seven dates of the week, Monday first."""
        return week_days(self.week)


def numbered(items: Iterable[SheetItem]) -> tuple[tuple[int, SheetItem], ...]:
    """The items with the numbers that card, mail and calendar all give them, from 1."""
    return tuple(enumerate(items, start=1))
