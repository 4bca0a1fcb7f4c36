"""One row of a roster: its cells read into values, each fault with where it is, what was expected and what was found.

Pure: cells in, values and faults out. An empty cell says nothing; a column that nobody chose is never looked at.

>>> row = read_row(2, ("Wren Tollifant", "born 12"), {0: "full_name", 1: "birth_year"}, ("Name", "Age"), year=2026)
>>> row.values
{'given_name': 'Wren', 'family_name': 'Tollifant'}
>>> row.faults[0].column, row.faults[0].found
('Age', 'born 12')
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.utils.translation import gettext as _

from athletes.kit import KG, LB, read_kit
from athletes.times import read_times
from athletes.typed import Unread, looks_like_formula, one_line

LONGEST_NAME, LONGEST_GUARDIAN, LONGEST_NOTE, LONGEST_MAIL = 60, 100, 300, 254
OLDEST_YEAR = 1920
#: The youngest that a rider of a club is taken to be (ours).
YOUNGEST_AGE = 7
LEAST_MINUTES, MOST_MINUTES = 15, 120
OPENING_MINUTES, RIDE_MINUTES = 45, 120
MOST_OPENING_MINUTES = 240
_YES = {"yes", "y", "true", "1", "x", "ja", "oui", "si"}
_NO = {"no", "n", "false", "0", "nein", "non", "nee"}
_UNITS = {"kg": KG, "kgs": KG, "kilo": KG, "kilos": KG, "lb": LB, "lbs": LB, "pound": LB, "pounds": LB}

#: The languages that Ballast speaks to riders, as a roster may name them.
_LANGUAGES = {
    "en": "en-gb", "en-gb": "en-gb", "english": "en-gb", "anglais": "en-gb",
    "fr": "fr", "french": "fr", "français": "fr", "francais": "fr", "française": "fr",
}  # fmt: skip
_LANGUAGE_NAMES = ("English", "French")


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, and where: row as a spreadsheet program numbers it, column by its heading."""

    row: int
    column: str
    expected: str
    found: str


@dataclass(slots=True)
class ReadRow:
    """A row with what could be read. `values` are by field, only where the cell said something; a row whose cells do
    not fit the headings has none, and `fits` False."""

    number: int
    fits: bool = True
    values: dict[str, Any] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)


class _Wrong(Exception):
    """A cell that cannot be read: what was expected."""

    def __init__(self, expected: str, found: str = "") -> None:
        self.expected, self.found = expected, found


def read_row(
    number: int, cells: Sequence[str], columns: Mapping[int, str], headings: Sequence[str], *, year: int
) -> ReadRow:
    """The row's values and faults. `columns` says which field each position holds, `year` is the current one."""
    row = ReadRow(number)
    if any(cell.strip() for cell in cells[len(headings) :]):
        expected = _(
            "{count} cells, as in the headings; a cell that holds the sign between columns needs quotation marks"
        ).format(count=len(headings))
        row.fits = False
        row.faults.append(Fault(number, _("the whole row"), expected, str(len(cells))))
        return row
    for position, name in sorted(columns.items(), key=lambda pair: pair[1] != "unit"):  # kit reads the unit
        raw = cells[position] if position < len(cells) else ""
        if not raw.strip():
            continue
        try:
            row.values.update(_read_cell(name, raw, row.values, year))
        except _Wrong as wrong:
            found = one_line(wrong.found or raw, 120)
            row.faults.append(Fault(number, headings[position], wrong.expected, found))
    row.faults.sort(key=lambda fault: headings.index(fault.column))
    return row


def _read_cell(name: str, raw: str, known: Mapping[str, Any], year: int) -> dict[str, Any]:
    if looks_like_formula(raw):
        raise _Wrong(_("plain text: this looks like a formula, beginning with one of = + - @"))
    text = one_line(raw) if name not in ("kit", "days", "rides") else raw.strip()
    if name == "full_name":
        return _full_name(text)
    if name == "kit":
        kit, unread = read_kit(text, known.get("unit", KG))
        _refuse(unread)
        return {"kit": kit}
    if name == "birth_year":
        return {name: _birth_year(text, year)}
    return {name: _READERS[name](text)}


def _refuse(unread: Sequence[Unread]) -> None:
    if unread:
        raise _Wrong(unread[0].expected, unread[0].found)


def _short(longest: int) -> Callable[[str], str]:
    def read(text: str) -> str:
        if len(text) > longest:
            raise _Wrong(_("at most {longest} characters").format(longest=longest))
        if not any(character.isalnum() for character in text):
            raise _Wrong(_("letters"))
        return text

    return read


def _full_name(text: str) -> dict[str, str]:
    if "," in text:
        family, given = (part.strip() for part in text.split(",", 1))
    else:
        given, _space, family = text.rpartition(" ")
    if not given or not family:
        raise _Wrong(_("a given name and a family name, such as Wren Tollifant or Tollifant, Wren"))
    read = _short(LONGEST_NAME)
    return {"given_name": read(given), "family_name": read(family)}


def _mail(text: str) -> str:
    try:
        validate_email(text)
    except ValidationError:
        raise _Wrong(_("a mail address, such as wren@wexenfold.example")) from None
    if len(text) > LONGEST_MAIL:
        raise _Wrong(_("at most {longest} characters").format(longest=LONGEST_MAIL))
    return text.lower()


def _birth_year(text: str, year: int) -> int:
    """The year out of a year or a date, whatever the date's order; the day and month are not kept."""
    years = re.findall(r"(?<![0-9])([0-9]{4})(?![0-9])", text)
    others = re.sub(r"(?<![0-9])[0-9]{4}(?![0-9])", "", text, count=1)
    if len(years) != 1 or not re.fullmatch(
        r"[0-9]{0,2}[\s./\-]*[0-9]{0,2}[\s./\-]*(?:[0-9]{1,2}:[0-9:.]*)?", others
    ):
        raise _Wrong(_("a year in four figures or a date with one, such as 1985 or 1985-06-30"))
    if not OLDEST_YEAR <= int(years[0]) <= year - YOUNGEST_AGE:
        raise _Wrong(_("a year from {first} to {last}").format(first=OLDEST_YEAR, last=year - YOUNGEST_AGE))
    return int(years[0])


def _minutes(text: str) -> int:
    match = re.fullmatch(r"([0-9]{1,3})(?:\s*(?:min|mins|minutes|m))?\.?", text.lower())
    if not match or not LEAST_MINUTES <= int(match[1]) <= MOST_MINUTES:
        raise _Wrong(_("minutes from {least} to {most}").format(least=LEAST_MINUTES, most=MOST_MINUTES))
    return int(match[1])


def _yes_or_no(text: str) -> bool:
    word = text.lower()
    if word not in _YES | _NO:
        raise _Wrong(_("yes or no"))
    return word in _YES


def _unit(text: str) -> str:
    unit = _UNITS.get(text.lower().rstrip("."))
    if unit is None:
        raise _Wrong(_("kg or lb"))
    return unit


def _language(text: str) -> str:
    """A language by its code, or by its name in English or in itself."""
    code = _LANGUAGES.get(text.lower())
    if code is None:
        raise _Wrong(_("one of these languages: {languages}").format(languages=", ".join(_LANGUAGE_NAMES)))
    return code


def _openings(text: str) -> Any:
    times, unread = read_times(text, minutes=OPENING_MINUTES)
    _refuse(unread)
    if any(one.minutes > MOST_OPENING_MINUTES for one in times):
        raise _Wrong(_("at most {most} minutes for a time to train").format(most=MOST_OPENING_MINUTES))
    return times


def _rides(text: str) -> Any:
    times, unread = read_times(text, minutes=RIDE_MINUTES)
    _refuse(unread)
    return times


_READERS: dict[str, Callable[[str], Any]] = {
    "given_name": _short(LONGEST_NAME),
    "family_name": _short(LONGEST_NAME),
    "email": _mail,
    "squad": _short(LONGEST_NAME),
    "guardian_name": _short(LONGEST_GUARDIAN),
    "guardian_email": _mail,
    "language": _language,
    "unit": _unit,
    "minutes_cap": _minutes,
    "trains_alone": _yes_or_no,
    "days": _openings,
    "rides": _rides,
    "note": _short(LONGEST_NOTE),
}
