"""The card: a rider's week on paper, to take to the kettlebell.

One A4 or Letter page holds two or three sessions of five or six exercises at 11 points or more. `card_pdf` sets the
sheet as generously as fits on one page (larger type and more cues first); what cannot fit at 11 points goes on a second
page, never into smaller type. It is drawn in ink on white, so that it copies in grey, and holds no health data.

The same sheet always gives the same bytes.
"""

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache

from django.utils import translation
from django.utils.translation import gettext as _
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas

from programs.card import (
    SMALLEST,
    TOGETHER,
    Detail,
    Shown,
    find_shared,
    first_top,
    lay_foot,
    lay_session,
    next_top,
)
from programs.sheet import Sheet
from programs.typesetting import BOLD, INK, Piece, stack
from programs.wording import week_words

_MARGIN = 22.0
_MOST_SLACK = 16.0

#: From the most generous to the plainest, each hardly higher than the one before; the first that fits is used. Figures
#: are 30 mm wide where there is room, then 25, then 22, the least at which they read. A card that would need a second
#: page for them shows only those of exercises that are new.
LADDER = (
    Detail(14, 3, 85, columns=1),
    Detail(13, 3, 85, columns=1),
    Detail(12, 3, 85, columns=1),
    Detail(14, 3, 85),
    Detail(13, 3, 85),
    Detail(12, 3, 85),
    Detail(12, 2, 78),
    Detail(12, 1, 71),
    Detail(11, 3, 71),
    Detail(11, 2, 71, why=False),
    Detail(11, 1, 71, why=False),
    Detail(11, 2, 66, why=False, tight=True),
    Detail(11, 1, 66, why=False, tight=True),
    Detail(11, 0, 62, why=False, tight=True),
    Detail(11, 0, 62, why=False, tight=True, changes=False),
    Detail(11, 0, 62, Shown.ONCE, why=False, tight=True, changes=False),
    Detail(11, 0, 62, Shown.NEW, why=False, tight=True),
    Detail(11, 0, 62, Shown.NEW, why=False, tight=True, changes=False),
    Detail(11, 0, 50, Shown.NEW, why=False, tight=True, changes=False),
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
    needs more pages, every detail is tried. Warm-up and cool-down have figures where they need no further page.
    """
    width, height = _paper(sheet)
    foot = lay_foot(sheet, width - 2 * _MARGIN)
    lay_out = cache(lambda detail: _lay_out(sheet, detail, foot))

    def holds(detail: Detail, pages: int) -> bool:
        laid = lay_out(detail)
        return len(laid) <= pages and all(_slack(page, height) >= 0 for page in laid)

    if holds(LADDER[-1], 1):
        best = LADDER[_first_that(lambda number: holds(LADDER[number], 1))]
    else:
        steps = [detail for detail in LADDER if detail.shown is Shown.EVERY]
        holding = [detail for detail in steps if holds(detail, len(lay_out(detail)))]
        best = min(holding, key=lambda detail: len(lay_out(detail)), default=steps[-1])
    with_small = replace(best, small=True)
    return lay_out(with_small if holds(with_small, len(lay_out(best))) else best)


def _first_that(fits: Callable[[int], bool]) -> int:
    """The first step of the ladder that fits, found by halving; the last one does."""
    low, high = 0, len(LADDER) - 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle + 1, high)
    return high


def _slack(page: _Page, page_height: float) -> float:
    """The room that the page leaves, in points; less than none when it is too full."""
    used = page.top.height + page.foot.height + sum(piece.height for piece in page.body)
    return page_height - 2 * _MARGIN - used


def _lay_out(sheet: Sheet, detail: Detail, foot: Piece) -> list[_Page]:
    """The pages at that detail. A session stays whole unless it is longer than a page by itself."""
    page_width, page_height = _paper(sheet)
    width, room = page_width - 2 * _MARGIN, page_height - 2 * _MARGIN
    shared = find_shared(sheet.sessions, detail)
    tops = [first_top(sheet, detail, shared, width), next_top(sheet, width)]
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
        whole = stack(lay_session(session, detail, shared, width, TOGETHER))
        parts = [whole] if whole.height <= longest else lay_session(session, detail, shared, width, 2)
        for part in parts:
            place(part)
    return [_Page(tops[min(number, 1)], tuple(body), foot) for number, body in enumerate(pages)]


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
