"""Setting type for the card: fonts, safe paragraphs, pencil boxes and QR codes, as pieces with a height.

The face is Atkinson Hyperlegible Next (SIL Open Font License, in `programs/fonts/`), made to be told apart at a
distance. Letters that it lacks, such as Greek and Cyrillic, are set in Noto Sans; what neither has loses its accents,
or becomes a question mark.
"""

import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from xml.sax.saxutils import escape

import segno
from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject

#: Streams as they are, not as text: a fifth smaller, and mail makes text of them anyway.
rl_config.useA85 = 0

INK = HexColor("#1f1a24")

TEXT, BOLD, OTHER_SCRIPTS = "BallastText", "BallastBold", "BallastOther"
_FONTS = Path(__file__).parent / "fonts"


def _register(name: str, file: str) -> frozenset[int]:
    font = TTFont(name, str(_FONTS / file))
    pdfmetrics.registerFont(font)
    return frozenset(font.face.charToGlyph)


_COVERED = _register(TEXT, "AtkinsonHyperlegibleNext-Regular.ttf")
_register(BOLD, "AtkinsonHyperlegibleNext-Bold.ttf")
_COVERED_ELSEWHERE = _register(OTHER_SCRIPTS, "NotoSans-Regular.ttf")


def markup(text: str) -> str:
    """The text for a paragraph: nothing in it is markup, and every character has a glyph.

    >>> markup("Jo & <b>Мила</b>")
    'Jo &amp; &lt;b&gt;<font name="BallastOther">Мила</font>&lt;/b&gt;'
    """
    return "".join(
        f'<font name="{OTHER_SCRIPTS}">{escape(run)}</font>' if elsewhere else escape(run)
        for elsewhere, run in _runs(text)
    )


def _runs(text: str) -> list[tuple[bool, str]]:
    """The text in runs of characters that the face has, and of such as are set in another one (True)."""
    runs: list[tuple[bool, str]] = []
    for character in text:
        for shown in _shown(character):
            elsewhere = ord(shown) not in _COVERED
            if runs and runs[-1][0] is elsewhere:
                runs[-1] = (elsewhere, runs[-1][1] + shown)
            else:
                runs.append((elsewhere, shown))
    return runs


def _shown(character: str) -> str:
    if ord(character) in _COVERED or ord(character) in _COVERED_ELSEWHERE:
        return character
    if unicodedata.combining(character):
        return ""
    plain = "".join(part for part in unicodedata.normalize("NFKD", character) if ord(part) in _COVERED)
    return plain or "?"


def composed(text: str) -> str:
    """The text with accents joined to their letters, so that a typed ``e`` and ``´`` find the one glyph."""
    return unicodedata.normalize("NFC", text)


@dataclass(frozen=True, slots=True)
class Piece:
    """Something to be drawn: `height` in points, and `draw(canvas, x, top)` from its upper left corner."""

    height: float
    draw: Callable[[Canvas, float, float], None]


def space(height: float) -> Piece:
    """Nothing, that high."""
    return Piece(height, lambda canvas, x, top: None)


def paragraph(
    text: str,
    width: float,
    size: float,
    *,
    lead: str = "",
    lead_size: float | None = None,
    bold: bool = False,
    centred: bool = False,
) -> Piece:
    """The text, wrapped to `width` points; a long word is broken, never drawn over the edge.

    `lead` stands before it in bold, at `lead_size`. With neither there is no height.
    """
    if not text and not lead:
        return space(0)
    font, high = BOLD if bold else TEXT, max(size, lead_size or 0)
    lines = _lines(text, font, size, lead, lead_size or size, round(width, 3))
    leading = round(high * 1.2, 1)
    ascent = pdfmetrics.getAscentDescent(font, high)[0]

    def draw(canvas: Canvas, x: float, top: float) -> None:
        pen = canvas.beginText()
        pen.setFillColor(INK)
        for number, line in enumerate(lines):
            indent = (width - line.width) / 2 if centred else 0
            pen.setTextOrigin(x + indent, top - ascent - number * leading)
            _write(pen, line)
        canvas.drawText(pen)

    return Piece(leading * len(lines), draw)


@dataclass(frozen=True, slots=True)
class _Run:
    """Text in one font and size. Its width is in points."""

    text: str
    font: str
    size: float
    width: float


@dataclass(frozen=True, slots=True)
class _Line:
    runs: tuple[_Run, ...]
    width: float


def _write(pen: PDFTextObject, line: _Line) -> None:
    """The line's runs, those alike in one go."""
    text, font, size = "", "", 0.0
    for run in line.runs:
        if (run.font, run.size) != (font, size):
            if text:
                pen.textOut(text)
            text, font, size = "", run.font, run.size
            pen.setFont(font, size)
        text += run.text
    if text:
        pen.textOut(text)


@lru_cache(maxsize=4096)
def _lines(text: str, font: str, size: float, lead: str, lead_size: float, width: float) -> tuple[_Line, ...]:
    """The words in lines of at most that width, as many in each as it holds.

    Kept: a card is laid out several times before it fits, and cards have most sentences in common.
    """
    lines: list[_Line] = []
    line: list[_Run] = []
    used = 0.0
    gap: _Run | None = None
    for word in (*_words(lead, BOLD, lead_size), *_words(text, font, size)):
        wide = sum(run.width for run in word)
        if gap and used + gap.width + wide > width:
            lines.append(_Line(tuple(line), used))
            line, used, gap = [], 0.0, None
        if gap:
            line.append(gap)
            used += gap.width
        *full, rest = _broken(word, width) if wide > width else [list(word)]
        for part in full:
            lines.append(_Line(tuple(part), sum(run.width for run in part)))
        line += rest
        used += sum(run.width for run in rest)
        gap = _run(" ", rest[-1].font, rest[-1].size)
    return (*lines, _Line(tuple(line), used))


def _words(text: str, font: str, size: float) -> Iterable[tuple[_Run, ...]]:
    """The words of the text, each in one run or more; a space that does not break is part of its word."""
    for word in composed(text).split(" "):
        if word:
            yield tuple(
                _run(run, OTHER_SCRIPTS if elsewhere else font, size) for elsewhere, run in _word_runs(word)
            ) or (_run("", font, size),)


@lru_cache(maxsize=4096)
def _word_runs(word: str) -> list[tuple[bool, str]]:
    return _runs(word)


@lru_cache(maxsize=8192)
def _run(text: str, font: str, size: float) -> _Run:
    return _Run(text, font, size, pdfmetrics.stringWidth(text, font, size))


def _broken(word: Sequence[_Run], width: float) -> list[list[_Run]]:
    """A word that is wider than a line, in parts that are not."""
    parts: list[list[_Run]] = [[]]
    used = 0.0
    for run in word:
        for character in run.text:
            one = _run(character, run.font, run.size)
            if used + one.width > width and parts[-1]:
                parts.append([])
                used = 0.0
            parts[-1].append(one)
            used += one.width
    return parts


def stack(pieces: Sequence[Piece]) -> Piece:
    """The pieces one below the other."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for piece in pieces:
            piece.draw(canvas, x, top)
            top -= piece.height

    return Piece(sum(piece.height for piece in pieces), draw)


def beside(placed: Sequence[tuple[float, Piece]]) -> Piece:
    """The pieces side by side, each that many points from the left; as high as the highest."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        for offset, piece in placed:
            piece.draw(canvas, x + offset, top)

    return Piece(max((piece.height for _offset, piece in placed), default=0), draw)


def rule(width: float, *, weight: float, above: float = 0, below: float = 0) -> Piece:
    """A line across, with room above and below it."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(weight)
        canvas.line(x, top - above, x + width, top - above)

    return Piece(above + weight + below, draw)


def framed(piece: Piece, width: float, *, pad: float, weight: float = 1.2) -> Piece:
    """The piece in a frame `width` wide; make the piece `2 * pad` narrower."""

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(weight)
        canvas.rect(x, top - piece.height - 2 * pad, width, piece.height + 2 * pad, stroke=1, fill=0)
        piece.draw(canvas, x + pad, top - pad)

    return Piece(piece.height + 2 * pad, draw)


BOX_GAP = 3.0
#: Six millimetres are easy to write in; five, as on squared paper, will do where the page is full.
BOX, TIGHT_BOX = 17.0, 14.2


def boxes_width(count: int, split: bool, side: float = BOX) -> float:
    """How wide `pencil_boxes` draws, in points."""
    return count * (_box_width(split, side) + BOX_GAP)


def _box_width(split: bool, side: float) -> float:
    return side * 1.6 if split else side


def pencil_boxes(count: int, *, split: bool = False, side: float = BOX) -> Piece:
    """A row of empty boxes to write the reps in, one a set; split ones have a half for the left and for the right."""
    wide = _box_width(split, side)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        for number in range(count):
            left = x + number * (wide + BOX_GAP)
            canvas.setLineWidth(0.9)
            canvas.rect(left, top - side, wide, side, stroke=1, fill=0)
            if split:
                canvas.setLineWidth(0.5)
                canvas.line(left + wide / 2, top - side, left + wide / 2, top)

    return Piece(side + 1, draw)


#: A phone reads a module of 0.42 mm from a hand's length away, also when the print is grey (our own margin).
_MODULE = 1.2
_QUIET = 4
#: One mask for all codes: what a link ends in is random, so none of the eight suits it better than another, and trying
#: each (ISO/IEC 18004, 7.8.3) takes four times as long as the rest. Readers are told which it is and read them all.
_MASK = 0


@lru_cache(maxsize=64)
def _modules(link: str) -> tuple[int, str]:
    """How many modules wide the code is, and its dark ones as rectangles of a PDF path, y downwards."""
    rows = segno.make(link, error="m", micro=False, boost_error=False, mask=_MASK).matrix
    runs = ((down, *run) for down, row in enumerate(rows) for run in _dark_runs(row))
    return len(rows), " ".join(f"{start} {down} {length} 1 re" for down, start, length in runs)


def qr_code(link: str) -> Piece:
    """A square QR code (ISO/IEC 18004, level M, quiet zone of four modules) that is also a link on a screen."""
    count, path = _modules(link)
    side = (count + 2 * _QUIET) * _MODULE

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.saveState()
        canvas.setFillColor(INK)
        canvas.translate(x + _QUIET * _MODULE, top - _QUIET * _MODULE)
        canvas.scale(_MODULE, -_MODULE)
        canvas.addLiteral(f"{path} f")
        canvas.restoreState()
        canvas.linkURL(link, (x, top - side, x + side, top), relative=0)

    return Piece(side, draw)


def _dark_runs(row: Sequence[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for at, dark in enumerate(row):
        if dark and runs and sum(runs[-1]) == at:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        elif dark:
            runs.append((at, 1))
    return runs
