"""The parts of a card: its top, its sessions with their exercises, and the box at its foot, as pieces with a height.

How generously each is set comes from a `Detail`; `programs/documents.py` looks for the one that fits.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from reportlab.pdfgen.canvas import Canvas

from programs.drawings import draw_week_strip, strip_height
from programs.engine.facts import Format
from programs.figures import draw_on_canvas
from programs.figures.drawing import drawn
from programs.sheet import Sheet, SheetItem, SheetSession, numbered
from programs.typesetting import (
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
    names_words,
    pain_words,
    strip_legend,
    time_words,
    warning_words,
    week_words,
)

#: No text on the card is smaller (points).
SMALLEST = 11
GUTTER = 16.0
_PAD = 5.0
#: Width of the column beside a session, and how many exercises stay together.
_ASIDE = 62.0
TOGETHER = 6
_MOST_BOXES = 6
_MOST_WHY = 3
#: Between a figure and the words beside it; and how wide the figures of warm-up and cool-down are (15 mm).
_BESIDE = 7.0
_SMALL = 42.5


class Shown(Enum):
    """Which figures a card shows: of each exercise each time; once in the week; once, if it is new in this week."""

    EVERY = "every"
    ONCE = "once"
    NEW = "new"


@dataclass(frozen=True, slots=True)
class Detail:
    """How generously a card is set: text size in points, cues an exercise, how wide a figure is in points and which are
    shown, columns, changes since last time, reasons; whether warm-up and cool-down have their figures; and whether the
    page is tight: what most exercises share is said once at the top, and lines and boxes stand closer."""

    size: float
    cues: int
    figure: float
    shown: Shown = Shown.EVERY
    columns: int = 2
    changes: bool = True
    why: bool = True
    small: bool = False
    tight: bool = False


# --- what is said once ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Shared:
    """What holds for all sessions and is said at the top: empty or None where they differ. `figured` are the exercises
    that have their figure, each by the session's ordinal and its own number."""

    form: Format | None = None
    warm_up: str = ""
    cool_down: str = ""
    tempo: str = ""
    leave: str = ""
    figured: frozenset[tuple[int, int]] = frozenset()


def find_shared(sessions: Sequence[SheetSession], detail: Detail) -> Shared:
    """What the sessions share at that detail."""
    figured = _figured(sessions, detail)
    forms = {session.format for session in sessions}
    form = next(iter(forms)) if len(forms) == 1 else None
    if not detail.tight:
        return Shared(form=form, figured=figured)
    items = [item for session in sessions for item in session.items]
    return Shared(
        form,
        _same([_warm_up(session) for session in sessions]),
        _same([_cool_down(session) for session in sessions]),
        _most([item.tempo for item in items]),
        _most([item.leave for item in items]),
        figured,
    )


def _figured(sessions: Sequence[SheetSession], detail: Detail) -> frozenset[tuple[int, int]]:
    """Which exercises have their figure: all, or each at its first place in the week, or of these the new ones."""
    places: dict[object, tuple[int, int]] = {}
    for session in sessions:
        for number, item in numbered(session.items):
            place = (session.ordinal, number)
            if item.new or detail.shown is not Shown.NEW:
                places.setdefault(place if detail.shown is Shown.EVERY else item.slug, place)
    return frozenset(places.values())


def _same(texts: Sequence[str]) -> str:
    return texts[0] if len(texts) > 1 and len(set(texts)) == 1 else ""


def _most(texts: Sequence[str]) -> str:
    """The text that most share, the first of them in a tie; nothing when no two do."""
    counts = Counter(text for text in texts if text)
    text, count = max(counts.items(), key=lambda pair: pair[1], default=("", 0))
    return text if count > 1 else ""


# --- the parts of a card ----------------------------------------------------------------------------------------------


def first_top(sheet: Sheet, detail: Detail, shared: Shared, width: float) -> Piece:
    """Whose week it is, its strip, what comes, and what is said once."""
    size = detail.size
    strip_width = width * 0.52
    words_width = width - strip_width - GUTTER
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
            beside([(0, stack(words)), (words_width + GUTTER, _strip(sheet, detail, strip_width))]),
            *(paragraph(line, width, size) for line in below),
            space(3),
        ]
    )


def next_top(sheet: Sheet, width: float) -> Piece:
    """The line at the head of a further page."""
    line = _("{name}: strength, {week}, continued").format(name=sheet.rider_name, week=week_words(sheet.week))
    return stack([paragraph(line, width, 13, bold=True), space(6)])


def _coming(sheet: Sheet) -> list[str]:
    return [
        _("Next key ride: {what}").format(what=sheet.next_ride) if sheet.next_ride else "",
        _("Next race: {what}").format(what=sheet.next_race) if sheet.next_race else "",
    ]


def _rules(sheet: Sheet, shared: Shared) -> list[str]:
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


def lay_session(
    session: SheetSession, detail: Detail, shared: Shared, width: float, together: int
) -> list[Piece]:
    """The session in pieces of `together` exercises. The first has the column with the QR code and what to note."""
    words_width = width - _ASIDE - GUTTER
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
        _small_figures(session.warm_up_slugs, detail, words_width),
        space(0 if detail.tight else 2),
    ]
    items = numbered(session.items)
    grids = [
        _grid(session.ordinal, items[start : start + together], detail, shared, words_width)
        for start in range(0, len(items), together)
    ]
    end = stack(
        [
            paragraph("" if shared.cool_down else _cool_down(session), words_width, detail.size),
            _small_figures(session.cool_down_slugs, detail, words_width),
        ]
    )
    if len(grids) > 1:
        first = stack(head)
    else:
        first, grids = stack([*head, *grids, end]), []
    parts = [
        stack(
            [rule(width, weight=1.6, below=1), beside([(0, first), (words_width + GUTTER, _aside(session))])]
        )
    ]
    if grids:
        parts += [*grids, end]
    return [*parts, space(1 if detail.tight else 2)]


def _small_figures(slugs: Sequence[str], detail: Detail, width: float) -> Piece:
    """The figures of warm-up or cool-down in a row, in the order in which they are named; none unless all have one."""
    figures = [figure(slug, _SMALL) for slug in slugs]
    apart = _SMALL + _BESIDE
    if not detail.small or not figures or not all(figures) or len(figures) * apart > width:
        return space(0)
    high = max(each.height for each in figures if each)
    row = [(number * apart, _on_floor(each, high)) for number, each in enumerate(figures) if each]
    return stack([space(2), beside(row)])


def _on_floor(piece: Piece, high: float) -> Piece:
    """The piece at the foot of a place that high."""
    return stack([space(high - piece.height), piece])


def figure(slug: str, width: float) -> Piece | None:
    """The figure of the exercise, that wide; None where none is drawn."""
    drawing = drawn(slug)
    if drawing is None:
        return None

    def draw(canvas: Canvas, x: float, top: float) -> None:
        draw_on_canvas(canvas, slug, x, top, width)

    return Piece(drawing.height * width / drawing.width, draw)


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
    """``Warm up, 6 min: easy spin; hip hinge, slow.`` Names have commas in them."""
    if minutes:
        title = _("{title}, {minutes} min").format(title=title, minutes=minutes)
    if not what:
        return f"{title}." if minutes else ""
    return f"{title}{pgettext('after a heading', ':')} {names_words(what)}."


def _warm_up(session: SheetSession) -> str:
    return _part(_("Warm up"), session.warm_up_minutes, session.warm_up)


def _cool_down(session: SheetSession) -> str:
    return _part(_("Cool down"), session.cool_down_minutes, session.cool_down)


def _grid(
    ordinal: int, items: Sequence[tuple[int, SheetItem]], detail: Detail, shared: Shared, width: float
) -> Piece:
    """The exercises in one column, or in two, read down and then across."""
    column = (width - GUTTER) / 2 if detail.columns == 2 else width
    pieces = [
        _item(number, item, detail, shared, column, (ordinal, number) in shared.figured)
        for number, item in items
    ]
    if detail.columns == 1:
        return stack(pieces)
    left, right = balance(pieces)
    return beside([(0, stack(left)), (column + GUTTER, stack(right))])


def balance(pieces: Sequence[Piece]) -> tuple[Sequence[Piece], Sequence[Piece]]:
    """The pieces in two runs, the first at least as many, so that the higher of the two is as low as can be."""
    cuts = range((len(pieces) + 1) // 2, len(pieces) + 1)
    cut = min(cuts, key=lambda at: max(stack(pieces[:at]).height, stack(pieces[at:]).height))
    return pieces[:cut], pieces[cut:]


def _item(
    number: int, item: SheetItem, detail: Detail, shared: Shared, width: float, has_figure: bool
) -> Piece:
    """The exercise: its name and boxes, then its figure beside target and words."""
    size, split = detail.size, bool(item.side_line)
    side = TIGHT_BOX if detail.tight else BOX
    count = min(item.sets, _MOST_BOXES)
    boxes_from = width - boxes_width(count, split, side) + BOX_GAP
    name = paragraph(item.name, boxes_from - 4, size, lead=str(number))
    drawing = figure(item.slug, detail.figure) if has_figure else None
    start = detail.figure + _BESIDE if drawing else 0
    words = (start, _item_words(item, detail, shared, width - start))
    return stack(
        [
            rule(width, weight=0.4, below=0.5 if detail.tight else 2),
            beside([(0, name), (boxes_from, pencil_boxes(count, split=split, side=side))]),
            beside([(0, drawing), words] if drawing else [words]),
            space(1 if detail.tight else 3),
        ]
    )


def _item_words(item: SheetItem, detail: Detail, shared: Shared, width: float) -> Piece:
    """Target and words, the side said in the target's line or below it, whichever is the shorter."""
    size = detail.size
    ways = (True, False) if item.side_line else (True,)
    options = []
    for in_line in ways:
        line = ", ".join(
            words for words in (keep_together(item.line), item.side_line if in_line else "") if words
        )
        words = sentences(
            [
                "" if in_line else item.side_line,
                item.implement,
                "" if item.tempo == shared.tempo else item.tempo,
                "" if item.leave == shared.leave else item.leave,
                item.change_line if detail.changes else "",
                *item.cues[: max(detail.cues, 1 if item.new else 0)],
            ]
        )
        target = paragraph(line, width, size if detail.tight else size + 1, bold=True)
        options.append(stack([target, paragraph(keep_together(words), width, size)]))
    return min(options, key=lambda piece: piece.height)


def lay_foot(sheet: Sheet, width: float) -> Piece:
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
