"""The card: a rider's week on paper, to take to the kettlebell.

One A4 or Letter page holds two or three sessions of five or six exercises at 11 points or more. `card_pdf` sets the
sheet as generously as fits on one page (larger type and more cues first); what cannot fit at 11 points goes on a second
page, never into smaller type. It is drawn in ink on white, so that it copies in grey, and holds no health data.

The same sheet always gives the same bytes.
"""

import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas

from programs.drawings import draw_week_strip, strip_height
from programs.engine.facts import Format
from programs.sheet import Sheet, SheetItem, SheetSession, numbered
from programs.typesetting import (
    BOLD,
    BOX,
    BOX_GAP,
    INK,
    TEXT,
    TIGHT_BOX,
    Piece,
    beside,
    boxes_width,
    framed,
    paragraph,
    pencil_boxes,
    qr_code,
    rule,
    space,
    stack,
)
from programs.wording import (
    clinician_words,
    day_words,
    format_words,
    keep_together,
    pain_words,
    strip_legend,
    time_words,
    warning_words,
    week_words,
)

#: No text on the card is smaller (points).
SMALLEST = 11
_MARGIN = 22.0
_GUTTER = 16.0
_PAD = 5.0
_MOST_SLACK = 16.0
#: Width of the column beside a session, and how many exercises stay together.
_ASIDE = 62.0
_TOGETHER = 6
_MOST_BOXES = 6
_MOST_WHY = 3


@dataclass(frozen=True, slots=True)
class Detail:
    """How generously a card is set: text size in points, cues an exercise, changes since last time, reasons, and
    whether the page is tight: what most exercises share is said once at the top, and lines and boxes stand closer."""

    size: float
    cues: int
    changes: bool
    why: bool
    tight: bool = False


#: From the most generous to the plainest; the first that fits is used.
LADDER = (
    Detail(15, 3, changes=True, why=True),
    Detail(14, 3, changes=True, why=True),
    Detail(13, 3, changes=True, why=True),
    Detail(12, 3, changes=True, why=True),
    Detail(12, 2, changes=True, why=True),
    Detail(12, 1, changes=True, why=True),
    Detail(12, 1, changes=True, why=False),
    Detail(11, 3, changes=True, why=True),
    Detail(11, 2, changes=True, why=False),
    Detail(11, 1, changes=True, why=False),
    Detail(11, 0, changes=True, why=False),
    Detail(11, 0, changes=True, why=False, tight=True),
    Detail(11, 0, changes=False, why=False, tight=True),
)


def card_pdf(sheet: Sheet) -> bytes:
    """The card as a PDF in the sheet's language and paper size; for a week without sessions, one that says so."""
    with translation.override(sheet.language):
        pages = _fit(sheet)
        return _draw(sheet, pages)


@dataclass(frozen=True, slots=True)
class _Page:
    top: Piece
    body: tuple[Piece, ...]
    foot: Piece


def _paper(sheet: Sheet) -> tuple[float, float]:
    width, height = LETTER if sheet.paper.casefold() == "letter" else A4
    return float(width), float(height)


def _fit(sheet: Sheet) -> list[_Page]:
    """The pages with the most detail on the fewest sheets of paper, among those that hold everything.

    One page is looked for by halving, since less detail is never higher by more than a line; where even the plainest
    needs more pages, every detail is tried.
    """
    _width, height = _paper(sheet)
    lay_out = cache(lambda number: _lay_out(sheet, LADDER[number]))

    def is_one(number: int) -> bool:
        pages = lay_out(number)
        return len(pages) == 1 and _slack(pages[0], height) >= 0

    low, high = 0, len(LADDER) - 1
    if is_one(high):
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if is_one(middle) else (middle + 1, high)
        return lay_out(high)
    holding = [
        pages
        for pages in map(lay_out, range(len(LADDER)))
        if all(_slack(page, height) >= 0 for page in pages)
    ]
    return min(holding, key=len, default=lay_out(len(LADDER) - 1))


def _slack(page: _Page, page_height: float) -> float:
    """The room that the page leaves, in points; less than none when it is too full."""
    used = page.top.height + page.foot.height + sum(piece.height for piece in page.body)
    return page_height - 2 * _MARGIN - used


def _lay_out(sheet: Sheet, detail: Detail) -> list[_Page]:
    """The pages at that detail. A session stays whole unless it is longer than a page by itself."""
    page_width, page_height = _paper(sheet)
    width, room = page_width - 2 * _MARGIN, page_height - 2 * _MARGIN
    shared = _find_shared(sheet.sessions, detail)
    foot = _foot(sheet, width)
    tops = [_first_top(sheet, detail, shared, width), _next_top(sheet, width)]
    pages: list[list[Piece]] = [[]]

    def left() -> float:
        top = tops[min(len(pages) - 1, 1)]
        return room - top.height - foot.height - sum(piece.height for piece in pages[-1])

    def place(piece: Piece) -> None:
        # The first page's top may be so high that a next page holds more, so an empty first page is left as well.
        if piece.height > left() and (pages[-1] or len(pages) == 1):
            pages.append([])
        pages[-1].append(piece)

    longest = room - tops[1].height - foot.height
    for session in sheet.sessions:
        whole = stack(_session(session, detail, shared, width, _TOGETHER))
        parts = [whole] if whole.height <= longest else _session(session, detail, shared, width, 2)
        for part in parts:
            place(part)
    return [_Page(tops[min(number, 1)], tuple(body), foot) for number, body in enumerate(pages)]


# --- what is said once ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Shared:
    """What holds for all sessions and is said at the top: empty or None where they differ."""

    form: Format | None = None
    warm_up: str = ""
    cool_down: str = ""
    tempo: str = ""
    leave: str = ""


def _find_shared(sessions: Sequence[SheetSession], detail: Detail) -> _Shared:
    forms = {session.format for session in sessions}
    form = next(iter(forms)) if len(forms) == 1 else None
    if not detail.tight:
        return _Shared(form=form)
    items = [item for session in sessions for item in session.items]
    return _Shared(
        form,
        _same([_warm_up(session) for session in sessions]),
        _same([_cool_down(session) for session in sessions]),
        _most([item.tempo for item in items]),
        _most([item.leave for item in items]),
    )


def _same(texts: Sequence[str]) -> str:
    return texts[0] if len(texts) > 1 and len(set(texts)) == 1 else ""


def _most(texts: Sequence[str]) -> str:
    """The text that most share, the first of them in a tie; nothing when no two do."""
    counts = Counter(text for text in texts if text)
    text, count = max(counts.items(), key=lambda pair: pair[1], default=("", 0))
    return text if count > 1 else ""


# --- the parts of a card ----------------------------------------------------------------------------------------------


def _first_top(sheet: Sheet, detail: Detail, shared: _Shared, width: float) -> Piece:
    size = detail.size
    strip_width = width * 0.52
    words_width = width - strip_width - _GUTTER
    words = [
        paragraph(sheet.club, words_width, size),
        paragraph(_("{name}: strength").format(name=sheet.rider_name), words_width, 20, bold=True),
        paragraph(week_words(sheet.week), words_width, 13, bold=True),
    ]
    if sheet.supersedes:
        words.append(paragraph(_("Use this, not the earlier card."), words_width, 13, bold=True))
    below = [sentences(_coming(sheet)), *(sheet.why[:_MOST_WHY] if detail.why else ())]
    if sheet.sessions:
        below.append(sentences(_rules(sheet, shared)))
    else:
        below.insert(0, _("No strength sessions this week."))
    below += [shared.warm_up, shared.cool_down]
    return stack(
        [
            beside([(0, stack(words)), (words_width + _GUTTER, _strip(sheet, detail, strip_width))]),
            *(paragraph(line, width, size) for line in below),
            space(3),
        ]
    )


def _next_top(sheet: Sheet, width: float) -> Piece:
    line = _("{name}: strength, {week}, continued").format(name=sheet.rider_name, week=week_words(sheet.week))
    return stack([paragraph(line, width, 13, bold=True), space(6)])


def _coming(sheet: Sheet) -> list[str]:
    return [
        _("Next key ride: {what}").format(what=sheet.next_ride) if sheet.next_ride else "",
        _("Next race: {what}").format(what=sheet.next_race) if sheet.next_race else "",
    ]


def _rules(sheet: Sheet, shared: _Shared) -> list[str]:
    """How to do every session and how to fill in the boxes."""
    rules = [format_words(shared.form)] if shared.form else []
    usual = ", ".join(words for words in (shared.tempo, shared.leave) if words)
    if usual:
        rules.append(_("Unless it says otherwise: {usual}").format(usual=usual))
    if any(item.side_line for session in sheet.sessions for item in session.items):
        rules.append(_("A split box is left and right"))
    return rules


def _strip(sheet: Sheet, detail: Detail, width: float) -> Piece:
    scale = 0.55 if detail.tight else 0.8
    height = strip_height(scale, SMALLEST)

    def draw(canvas: Canvas, x: float, top: float) -> None:
        canvas.setStrokeColor(INK)
        canvas.setFillColor(INK)
        draw_week_strip(canvas, sheet.strip, x=x, top=top, width=width, scale=scale, font=TEXT, size=SMALLEST)

    return stack([Piece(height, draw), paragraph(strip_legend(sheet.strip), width, SMALLEST, centred=True)])


def _session(
    session: SheetSession, detail: Detail, shared: _Shared, width: float, together: int
) -> list[Piece]:
    """The session in pieces of `together` exercises. The first has the column with the QR code and what to note."""
    words_width = width - _ASIDE - _GUTTER
    title = _("{ordinal}. {day}, {time}").format(
        ordinal=session.ordinal, day=day_words(session.on), time=time_words(session.start)
    )
    facts = _("{name}, {minutes} minutes, {venue}.").format(
        name=session.name, minutes=session.minutes, venue=session.venue
    )
    head = [
        space(0 if detail.tight else 2),
        paragraph(facts, words_width, detail.size, lead=title, lead_size=12 if detail.tight else 14),
        paragraph("" if shared.form else format_words(session.format), words_width, detail.size),
        paragraph("" if shared.warm_up else _warm_up(session), words_width, detail.size),
        space(0 if detail.tight else 2),
    ]
    items = numbered(session.items)
    grids = [
        _grid(items[start : start + together], detail, shared, words_width)
        for start in range(0, len(items), together)
    ]
    end = paragraph("" if shared.cool_down else _cool_down(session), words_width, detail.size)
    if len(grids) > 1:
        first = stack(head)
    else:
        first, grids = stack([*head, *grids, end]), []
    parts = [
        stack(
            [rule(width, weight=1.6, below=1), beside([(0, first), (words_width + _GUTTER, _aside(session))])]
        )
    ]
    if grids:
        parts += [*grids, end]
    return [*parts, space(1 if detail.tight else 2)]


def _aside(session: SheetSession) -> Piece:
    """The code that opens the check-in, and room to note what it will ask."""
    pieces = [space(2)]
    if session.check_in_url:
        square = qr_code(session.check_in_url)
        pieces += [
            _centred(square),
            paragraph(_("Check in"), _ASIDE, SMALLEST, bold=True, centred=True),
        ]
    for label in (_("Effort 0 to 10"), _("Minutes")):
        pieces += [
            space(3),
            beside(
                [(_ASIDE - boxes_width(1, split=False), pencil_boxes(1)), (0, paragraph(label, 40, SMALLEST))]
            ),
        ]
    return stack(pieces)


def _centred(square: Piece) -> Piece:
    return beside([((_ASIDE - square.height) / 2, square)])


def _part(title: str, minutes: int, what: Sequence[str]) -> str:
    """``Warm up, 6 min: easy spin, hip hinge.``"""
    if minutes:
        title = _("{title}, {minutes} min").format(title=title, minutes=minutes)
    if not what:
        return f"{title}." if minutes else ""
    return f"{title}{pgettext('after a heading', ':')} {', '.join(what)}."


def _warm_up(session: SheetSession) -> str:
    return _part(_("Warm up"), session.warm_up_minutes, session.warm_up)


def _cool_down(session: SheetSession) -> str:
    return _part(_("Cool down"), session.cool_down_minutes, session.cool_down)


def _grid(items: Sequence[tuple[int, SheetItem]], detail: Detail, shared: _Shared, width: float) -> Piece:
    """The exercises in two columns, read down and then across."""
    column = (width - _GUTTER) / 2
    pieces = [_item(number, item, detail, shared, column) for number, item in items]
    left, right = _balance(pieces)
    return beside([(0, stack(left)), (column + _GUTTER, stack(right))])


def _balance(pieces: Sequence[Piece]) -> tuple[Sequence[Piece], Sequence[Piece]]:
    """The pieces in two runs, the first at least as many, so that the higher of the two is as low as can be."""
    cuts = range((len(pieces) + 1) // 2, len(pieces) + 1)
    cut = min(cuts, key=lambda at: max(stack(pieces[:at]).height, stack(pieces[at:]).height))
    return pieces[:cut], pieces[cut:]


def _item(number: int, item: SheetItem, detail: Detail, shared: _Shared, width: float) -> Piece:
    """The exercise, its side said in the target's line or below it, whichever is the shorter."""
    ways = (True, False) if item.side_line else (True,)
    options = [_item_set(number, item, detail, shared, width, side_in_line) for side_in_line in ways]
    return min(options, key=lambda piece: piece.height)


def _item_set(
    number: int, item: SheetItem, detail: Detail, shared: _Shared, width: float, side_in_line: bool
) -> Piece:
    size, split = detail.size, bool(item.side_line)
    side = TIGHT_BOX if detail.tight else BOX
    count = min(item.sets, _MOST_BOXES)
    boxes_from = width - boxes_width(count, split, side) + BOX_GAP
    name = paragraph(item.name, boxes_from - 4, size, lead=str(number))
    line = ", ".join(
        words for words in (keep_together(item.line), item.side_line if side_in_line else "") if words
    )
    words = sentences(
        [
            "" if side_in_line else item.side_line,
            item.implement,
            "" if item.tempo == shared.tempo else item.tempo,
            "" if item.leave == shared.leave else item.leave,
            item.change_line if detail.changes else "",
            *item.cues[: max(detail.cues, 1 if item.new else 0)],
        ]
    )
    return stack(
        [
            rule(width, weight=0.4, below=0.5 if detail.tight else 2),
            beside([(0, name), (boxes_from, pencil_boxes(count, split=split, side=side))]),
            paragraph(line, width, size if detail.tight else size + 1, bold=True),
            paragraph(words, width, size),
            space(1 if detail.tight else 3),
        ]
    )


def _foot(sheet: Sheet, width: float) -> Piece:
    """What to do if it hurts, on every page."""
    inner = width - 2 * _PAD
    code: list[tuple[float, Piece]] = []
    words_width = inner
    if sheet.report_pain_url:
        square = qr_code(sheet.report_pain_url)
        words_width = inner - _ASIDE - _PAD
        caption = paragraph(_("Report pain"), _ASIDE, SMALLEST, bold=True, centred=True)
        code = [(words_width + _PAD, stack([_centred(square), caption]))]
    hurts = f"{pain_words(sheet.pain_limit)} {clinician_words()}"
    words = stack(
        [
            paragraph(warning_words(sheet.emergency_note), words_width, SMALLEST, lead=_("Warning signs.")),
            paragraph(hurts, words_width, SMALLEST, lead=_("If it hurts.")),
        ]
    )
    return stack([space(2), framed(beside([(0, words), *code]), width, pad=_PAD)])


def sentences(parts: Sequence[str]) -> str:
    """The parts that say something as sentences: a capital to begin with and a stop at the end.

    >>> sentences(["each side", "", "lower 3 s, pause 1 s", "Heels down."])
    'Each side. Lower 3 s, pause 1 s. Heels down.'
    """
    said = [part[0].upper() + part[1:] for part in parts if part]
    return " ".join(part if part[-1] in ".?:\N{HORIZONTAL ELLIPSIS}" else f"{part}." for part in said)


# --- on paper ---------------------------------------------------------------------------------------------------------


def _draw(sheet: Sheet, pages: Sequence[_Page]) -> bytes:
    page_width, page_height = _paper(sheet)
    output = io.BytesIO()
    canvas = Canvas(
        output, pagesize=(page_width, page_height), invariant=1, pageCompression=1, lang=sheet.language
    )
    canvas.setTitle(_("{name}: strength, {week}").format(name=sheet.rider_name, week=week_words(sheet.week)))
    canvas.setAuthor(sheet.club)
    canvas.setSubject(_("Week plan"))
    for number, page in enumerate(pages, start=1):
        _draw_page(canvas, page, page_height)
        if len(pages) > 1:
            canvas.setFillColor(INK)
            canvas.setFont(BOLD, SMALLEST)
            canvas.drawRightString(
                page_width - _MARGIN,
                page_height - 18,
                _("Page {number} of {all}").format(number=number, all=len(pages)),
            )
        canvas.showPage()
    canvas.save()
    return output.getvalue()


def _draw_page(canvas: Canvas, page: _Page, page_height: float) -> None:
    """Top at the top, foot at the foot, and what room is left shared out between the sessions."""
    gap = min(max(_slack(page, page_height), 0) / (len(page.body) + 1), _MOST_SLACK)
    top = page_height - _MARGIN
    page.top.draw(canvas, _MARGIN, top)
    top -= page.top.height + gap
    for piece in page.body:
        piece.draw(canvas, _MARGIN, top)
        top -= piece.height + gap
    page.foot.draw(canvas, _MARGIN, _MARGIN + page.foot.height)
