"""A table out of the bytes of a CSV file (RFC 4180, with comma, semicolon or tab between the cells).

Bytes in, rows out; nothing is read that is not text in a known encoding, and every refusal says what to change.

>>> table = read_table(b"name;mail\\nWren;wren@wexenfold.example\\n")
>>> table.headings, table.rows
(('name', 'mail'), ((2, ('Wren', 'wren@wexenfold.example')),))
"""

import csv
import io
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import charset_normalizer
from django.utils.translation import gettext as _

LARGEST_FILE = 1024 * 1024
MOST_ROWS = 1000
MOST_COLUMNS = 60
LONGEST_CELL = 500

#: Encodings that a file may be read as when somebody says so, commonest first, with the names people know.
ENCODINGS = {
    "cp1252": "Windows-1252 (Western Europe)",
    "cp1250": "Windows-1250 (Central Europe)",
    "iso8859_15": "ISO 8859-15 (Latin 9)",
    "iso8859_2": "ISO 8859-2 (Latin 2)",
    "cp1251": "Windows-1251 (Cyrillic)",
    "cp1253": "Windows-1253 (Greek)",
    "cp1254": "Windows-1254 (Turkish)",
    "mac_roman": "Mac Roman",
    "cp850": "DOS 850 (Western Europe)",
    "utf_16_le": "UTF-16, little end first",
    "utf_16_be": "UTF-16, big end first",
}
#: Narrower sets that others contain: named only if nothing wider fits as well.
_WIDER = {"iso8859_1": "cp1252", "latin_1": "cp1252", "iso8859_9": "cp1254", "cp1140": "cp1252"}
#: Bytes beyond ASCII from which the library's statistics say more than the order of `ENCODINGS`.
_ENOUGH_TO_COUNT = 40
#: As much of a file as is looked at to guess.
_SAMPLE = 64 * 1024
_SEPARATORS = (",", ";", "\t")
_MARKS = ((b"\xef\xbb\xbf", "utf_8_sig"), (b"\xff\xfe", "utf_16"), (b"\xfe\xff", "utf_16"))
_NOT_TEXT = (
    (b"PK\x03\x04", "xlsx, ods"),
    (b"\xd0\xcf\x11\xe0", "xls"),
    (b"%PDF", "pdf"),
    (b"\x1f\x8b", "gz"),
)

type Row = tuple[int, tuple[str, ...]]


class UnreadableTable(ValueError):
    """A file that is no table we can read. The message says what to change."""


class FileTooLarge(UnreadableTable):
    """More bytes than `LARGEST_FILE`."""


class NotText(UnreadableTable):
    """A workbook, a PDF, or bytes that no text has."""


class WrongEncoding(UnreadableTable):
    """Text, but not in UTF-8 or UTF-16. `probable` is one of `ENCODINGS`; the file can be read as that on request."""

    def __init__(self, message: str, probable: str) -> None:
        super().__init__(message)
        self.probable = probable


class BadShape(UnreadableTable):
    """No headings, no rows, too many rows or columns, a cell too long, or quotation marks that do not close."""


@dataclass(frozen=True, slots=True)
class Table:
    """Headings, and rows with the number that a spreadsheet program shows beside them (headings are row 1).

    A row may be shorter or longer than the headings; a blank one is left out.
    """

    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    encoding: str
    separator: str


def read_table(data: bytes, *, encoding: str = "") -> Table:
    """The table in the file. `encoding`, one of `ENCODINGS`, is how to read it when it has no mark and is not UTF-8.

    Raises an `UnreadableTable`.
    """
    text, used = read_text(data, encoding=encoding)
    separator, text = _separator(text)
    records = list(_records(text, separator))
    filled = [(number, cells) for number, cells in records if any(cell.strip() for cell in cells)]
    if not filled:
        raise BadShape(_("The file is empty. The first row holds the headings, each further row one rider."))
    headings = _headings(filled[0][1])
    rows = tuple((number, cells) for number, cells in filled[1:])
    if not rows:
        raise BadShape(_("The file has headings and no rows below them. Add one row for each rider."))
    return Table(headings, rows, used, separator)


# --- bytes to text ----------------------------------------------------------------------------------------------------


def read_text(data: bytes, *, encoding: str = "") -> tuple[str, str]:
    """The file as text, and the encoding that it was read by. Raises `FileTooLarge`, `NotText`, `WrongEncoding`."""
    if len(data) > LARGEST_FILE:
        raise FileTooLarge(_("The file is larger than 1 MB. Save only the columns and riders that you need."))
    for start, kind in _NOT_TEXT:
        if data.startswith(start):
            raise NotText(
                _(
                    "This is not a CSV file but one of these: {kind}. In your spreadsheet program save it as CSV."
                ).format(kind=kind)
            )
    used = next((name for mark, name in _MARKS if data.startswith(mark)), encoding or "utf_8")
    if used not in {"utf_8", "utf_8_sig", "utf_16", *ENCODINGS}:
        raise NotText(_("Files are not read in this encoding. Save the file as CSV in UTF-8."))
    try:
        text = data.decode(used)
    except UnicodeDecodeError as broken:
        raise _encoding_fault(data, is_marked=used != "utf_8", at=broken.start) from broken
    if "\x00" in text:
        raise _encoding_fault(data, is_marked=used != "utf_8", at=text.index("\x00"))
    return text, used


def _encoding_fault(data: bytes, *, is_marked: bool, at: int) -> UnreadableTable:
    """What is wrong with bytes that are not what they should be."""
    probable = "" if is_marked else probable_encoding(data)
    if probable:
        return WrongEncoding(
            _("The file is not in UTF-8. It is probably {encoding}: it can be read as that.").format(
                encoding=ENCODINGS[probable]
            ),
            probable,
        )
    return NotText(
        _(
            "The file holds bytes that no text has (the first at position {at}). Save it again as CSV in UTF-8."
        ).format(at=at)
    )


def probable_encoding(data: bytes) -> str:
    """One of `ENCODINGS` that the bytes are probably in, or nothing."""
    sample = data[:4096]
    zeros = (sample[0::2].count(0), sample[1::2].count(0))
    if max(zeros):
        half = len(sample) // 2
        for name, (ours, other) in (("utf_16_le", (zeros[1], zeros[0])), ("utf_16_be", (zeros[0], zeros[1]))):
            if ours > half * 0.6 and other < half * 0.1:
                return name
        return ""
    data = data[:_SAMPLE]
    readings = {name: _decoded(data, name) for name in ENCODINGS if not name.startswith("utf")}
    scores = {name: _likeness(text) for name, text in readings.items() if text}
    best = [name for name in scores if scores[name] == max(scores.values())]
    if len(best) > 1 and sum(byte > 127 for byte in data) >= _ENOUGH_TO_COUNT:
        match = charset_normalizer.from_bytes(data, cp_isolation=best).best()
        named = _WIDER.get(match.encoding, match.encoding) if match else ""
        return named if named in best else best[0]
    return best[0] if best else ""


def _decoded(data: bytes, encoding: str) -> str:
    """The bytes as text, empty when they are none or not all of it could be printed."""
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        return ""
    return text if all(character.isprintable() or character in "\r\n\t" for character in text) else ""


def _likeness(text: str) -> int:
    """How much the words with letters beyond ASCII look like words. A name or two is too little for statistics."""
    score = 0
    for word in re.findall(r"\S*[^\x00-\x7f]\S*", text)[:2000]:
        foreign = [character for character in word if not character.isascii()]
        score -= 3 * sum(unicodedata.category(character)[0] not in "LP" for character in foreign)
        score -= 2 * sum(first.islower() and second.isupper() for first, second in pairwise(word))
        if len(foreign) > 3 and len(foreign) == sum(character.isalpha() for character in word):
            score -= "LATIN" in unicodedata.name(foreign[0], "")
    return score


# --- text to rows -----------------------------------------------------------------------------------------------------


def _separator(text: str) -> tuple[str, str]:
    """What stands between cells: the sign that cuts the headings into most of them. Spreadsheet programs may say it in
    a first line of its own (`sep=;`), which is taken off."""
    first, _break, rest = text.partition("\n")
    hint = first.strip()
    if len(hint) == 5 and hint.lower().startswith("sep=") and hint[4] in _SEPARATORS:
        return hint[4], rest
    counts = {sign: _cells_in_first_row(text, sign) for sign in _SEPARATORS}
    return max(_SEPARATORS, key=lambda sign: counts[sign]), text


def _cells_in_first_row(text: str, separator: str) -> int:
    try:
        return len(next(csv.reader(io.StringIO(text[:50_000], newline=""), delimiter=separator), []))
    except csv.Error:
        return 0


def _records(text: str, separator: str) -> Iterator[Row]:
    """Each record with its number, within the limits."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    number = filled = 0
    while True:
        number += 1
        try:
            cells = next(reader, None)
        except csv.Error as broken:
            raise BadShape(
                _(
                    "Row {row} cannot be read: a quotation mark opens and does not close, or stands in the wrong place."
                ).format(row=number)
            ) from broken
        if cells is None:
            return
        _check_cells(cells, number)
        filled += any(cell.strip() for cell in cells)
        if filled > MOST_ROWS + 1:
            raise BadShape(
                _("The file has more than {most} rows. Split it and upload the parts one by one.").format(
                    most=MOST_ROWS
                )
            )
        yield number, tuple(cells)


def _check_cells(cells: list[str], number: int) -> None:
    if len(cells) > MOST_COLUMNS:
        raise BadShape(
            _("Row {row} has {found} columns; at most {most} are read.").format(
                row=number, found=len(cells), most=MOST_COLUMNS
            )
        )
    for column, cell in enumerate(cells, start=1):
        if len(cell) > LONGEST_CELL:
            raise BadShape(
                _("Row {row}, column {column} holds {found} characters; at most {most} are read.").format(
                    row=number, column=column, found=len(cell), most=LONGEST_CELL
                )
            )


def _headings(cells: tuple[str, ...]) -> tuple[str, ...]:
    if any("@" in cell for cell in cells):
        raise BadShape(
            _(
                "The first row holds a mail address. It must hold the headings, such as name and mail; add them on top."
            )
        )
    return tuple(
        " ".join(cell.split()) or _("Column {number}").format(number=number)
        for number, cell in enumerate(cells, start=1)
    )
