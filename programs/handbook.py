"""The handbook: the whole exercise library as one PDF, and one exercise on one A4 sheet.

Safety comes first, then the contents with page numbers, each family with its level rail and its exercises, and an
index by kit and by region. Drawn in ink on white, so that it copies in grey.

>>> handbook_pdf(read_pages(), Cover("Wexenfold Hill Riders", "25 November 2026"))[:4]      # doctest: +SKIP
b'%PDF'
"""

import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import get_language
from django.utils.translation import gettext as _
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    HRFlowable,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)

from athletes.vocabulary import Furniture, Implement, Region
from athletes.words import label
from programs.exercises import ExercisePage, Family
from programs.figures.drawing import Drawing
from programs.handbook_styles import RULE, SLATE, Figure, Rail, line, numbered, style
from programs.own_figures import drawing_of
from programs.typesetting import BOLD, INK, TEXT, composed, markup

#: Counts up when the handbook is laid out otherwise, so that what was made before is made again.
LAYOUT = 1
_MARGIN = 48.0
_WIDTH = float(A4[0]) - 2 * _MARGIN
_FIGURE = 150.0

type Pages = Sequence[tuple[Family, Sequence[ExercisePage]]]


@dataclass(frozen=True, slots=True)
class Cover:
    """What the title page says besides the title."""

    club: str
    day: str
    emergency_note: str = ""


def handbook_pdf(pages: Pages, cover: Cover, note: Callable[[int], None] = lambda exercises: None) -> bytes:
    """The handbook as a PDF in the language that is active. `note` is told now and then how many exercises are drawn.

    It is laid out once without figures, to know the page numbers, then drawn; again if drawing moved one of them,
    which only the end of the index can.
    """
    numbers: dict[str, int] = {}
    _build(pages, cover, numbers, _Book(io.BytesIO(), lambda _count: None, is_draft=True))
    for _try in range(3):
        before, file = dict(numbers), io.BytesIO()
        _build(pages, cover, numbers, _Book(file, note))
        if numbers == before:
            break
    return file.getvalue()


def sheet_pdf(page: ExercisePage, cover: Cover) -> bytes:
    """One exercise on one A4 sheet, to be pinned up, in the language that is active; as large as fits."""
    for size in (14.0, 13.0, 12.0, 11.0, 10.0, 9.0):
        file = io.BytesIO()
        book = _Book(file, lambda _count: None, title=page.name, foot=_safety_line())
        book.build(_exercise(page, size, figure=250.0))
        if book.page == 1:
            return file.getvalue()
    return file.getvalue()


class _Book(BaseDocTemplate):
    """A4 pages with a foot; remembers on which page each exercise and family begins, and bookmarks them."""

    def __init__(
        self,
        file: io.BytesIO,
        note: Callable[[int], None],
        *,
        title: str = "",
        foot: str = "",
        is_draft: bool = False,
    ) -> None:
        super().__init__(
            file,
            pagesize=A4,
            title=title or _("Exercise handbook"),
            author="Ballast",
            lang=get_language(),
            invariant=1,
            leftMargin=_MARGIN,
            rightMargin=_MARGIN,
        )
        frame = Frame(_MARGIN, 52, _WIDTH, float(A4[1]) - 52 - 40, 0, 0, 0, 0)
        self.addPageTemplates([PageTemplate("page", [frame], onPage=self._foot)])
        self._said, self._note, self._drawn = foot, note, 0
        self.is_draft = is_draft
        self.numbers: dict[str, int] = {}

    def _foot(self, canvas: Canvas, _book: Any) -> None:
        canvas.saveState()
        canvas.setFillColor(SLATE)
        canvas.setFont(TEXT, 8)
        if self._said:
            small = line(self._said, style(8))
            _width, high = small.wrap(_WIDTH, 60)
            small.drawOn(canvas, _MARGIN, 22 + max(0, 20 - high))
        elif canvas.getPageNumber() > 1:
            canvas.drawString(
                _MARGIN, 28, composed(_("Not medical advice. Stop if it hurts more than agreed."))
            )
            canvas.drawRightString(_MARGIN + _WIDTH, 28, str(canvas.getPageNumber()))
        canvas.restoreState()

    def afterFlowable(self, flowable: Flowable) -> None:  # noqa: N802 - the name that ReportLab calls
        """Notes where a heading came to stand."""
        mark: _Mark | None = getattr(flowable, "mark", None)
        if mark is None:
            return
        self.numbers[mark.key] = self.page
        self.canv.bookmarkPage(mark.key)
        if self._said:  # a single sheet needs no outline
            return
        self.canv.addOutlineEntry(mark.title, mark.key, level=mark.depth, closed=mark.depth == 0)
        if mark.depth == 1:
            self._drawn += 1
            if self._drawn % 10 == 0:
                self._note(self._drawn)


@dataclass(frozen=True, slots=True)
class _Mark:
    key: str
    title: str
    depth: int


def _heading(text: str, manner: Any, key: str, depth: int) -> Paragraph:
    made = line(text, manner)
    made.mark = _Mark(key, composed(text), depth)
    return made


def _build(pages: Pages, cover: Cover, numbers: dict[str, int], book: _Book) -> None:
    """The whole book with the page numbers known so far, which are those of this build afterwards."""
    story: list[Flowable] = [*_title(pages, cover), *_safety(cover), *_contents(pages, numbers)]
    for family, family_pages in pages:
        story += _family(family, family_pages, book.is_draft)
    story += _index(pages, numbers)
    book.build(story)
    numbers.update(book.numbers)


# --- before the exercises ---------------------------------------------------------------------------------------------


def _title(pages: Pages, cover: Cover) -> Iterator[Flowable]:
    count = sum(len(family_pages) for _family, family_pages in pages)
    yield Spacer(1, 190)
    yield line(_("Exercise handbook"), style(34, bold=True, after=14))
    yield line(_("Strength off the bike, level by level"), style(16, after=30))
    yield line(cover.club, style(14, bold=True))
    yield line(cover.day, style(12, after=6))
    said = _("{exercises} exercises in {families} movement patterns")
    yield line(said.format(exercises=count, families=len(pages)), style(12))
    yield PageBreak()


def _safety(cover: Cover) -> Iterator[Flowable]:
    yield _heading(_("Safety first"), style(22, bold=True, after=12), "safety", 0)
    text = style(12, after=9)
    for lead, said in (
        (
            _("Stop."),
            _("Stop the exercise if pain rises above the limit agreed with your coach, and report it."),
        ),
        (
            _("Warning symptoms."),
            _(
                "For chest pain, fainting, breathlessness at rest, a drooping face or slurred speech, weakness of "
                "both legs, or bladder or bowel that do not obey, stop and call the local emergency number."
            ),
        ),
        (
            _("See a clinician."),
            _("See a physiotherapist or doctor for pain that lasts, returns or worries you."),
        ),
        (
            _("Start low."),
            _(
                "Begin at a level that can be done well. A step up is earned by what stands beside it, never by will."
            ),
        ),
        (
            _("Never alone under a bar."),
            _("Squats and presses with a barbell need a rack with safety bars, or somebody who can help."),
        ),
        (
            _("Not medical advice."),
            _("This handbook is not medical advice. Local rules and licensed practice come first."),
        ),
        ("", cover.emergency_note),
    ):
        if said:
            yield line(said, text, lead=lead)
    yield PageBreak()


def _safety_line() -> str:
    return _(
        "This is not medical advice. Stop if pain rises above the limit you agreed. See a physiotherapist or a doctor "
        "for pain that lasts, comes back or worries you. For warning symptoms, such as chest pain, fainting or sudden "
        "breathlessness, stop and call the local emergency number. Local rules and licensed practice come first."
    )


def _contents(pages: Pages, numbers: dict[str, int]) -> Iterator[Flowable]:
    yield _heading(_("Contents"), style(22, bold=True, after=10), "contents", 0)
    rows: list[tuple[Paragraph, Paragraph]] = []
    family_style, entry = style(11.5, bold=True, before=6), style(10, indent=14)
    for family, family_pages in pages:
        rows.append(_entry(family.name, f"family {family.pattern}", numbers, family_style))
        rows += [_entry(page.name, page.exercise.slug, numbers, entry) for page in family_pages]
    rows.append(_entry(_("Index by kit"), "kit", numbers, family_style))
    rows.append(_entry(_("Index by region"), "regions", numbers, family_style))
    yield Table(rows, colWidths=[_WIDTH - 40, 40], style=_TIGHT)
    yield PageBreak()


def _entry(text: str, key: str, numbers: dict[str, int], manner: Any) -> tuple[Paragraph, Paragraph]:
    """A line that leads to its page."""
    name = Paragraph(f'<a href="#{key}" color="#1f1a24">{markup(composed(text))}</a>', manner)
    number = Paragraph(str(numbers.get(key, "")), style(manner.fontSize, bold=manner.fontName == BOLD))
    return name, number


_TIGHT = TableStyle(
    [
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0.5),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ]
)


# --- the exercises ----------------------------------------------------------------------------------------------------


def _family(family: Family, pages: Sequence[ExercisePage], is_draft: bool) -> Iterator[Flowable]:
    yield PageBreak()
    yield _heading(family.name, style(24, bold=True, after=10), f"family {family.pattern}", 0)
    rungs = [
        (
            page.exercise.level,
            page.name,
            " ".join(_("{name}: {words}").format(name=one.name, words=one.words) for one in page.harder),
        )
        for page in pages
    ]
    yield line(_("Levels, and what earns the next"), style(12, bold=True, after=6))
    yield Rail(rungs, _("Level {number}"))
    for page in pages:
        yield Spacer(1, 10)
        yield KeepTogether(_exercise(page, 9.5, figure=_FIGURE, is_draft=is_draft))


def _exercise(page: ExercisePage, size: float, *, figure: float, is_draft: bool = False) -> list[Flowable]:
    """The exercise with its figure beside set-up and figures, cues beside faults, then the steps."""
    exercise, text = page.exercise, style(size, after=1.5)
    head = style(size, bold=True, before=4, after=2)
    level = _("{pattern}, level {number}").format(pattern=page.pattern, number=exercise.level)
    right = [line(value, text, lead=f"{name}:") for name, value in page.facts] + [
        line(_("Set-up"), head),
        *numbered(page.set_up, text),
    ]
    own = drawing_of(exercise) if "figure" in exercise.document else None
    shown: Flowable = (
        _Blank(exercise.slug, figure, own) if is_draft else Figure(exercise.slug, figure, figure, own)
    )
    faults = [line(say, text, lead=f"{see}:") for see, say in page.faults]
    notes = [line(words, text, lead=f"{region}:") for region, words in page.notes]
    made: list[Flowable] = [
        HRFlowable(width="100%", thickness=1, color=INK, spaceAfter=4),
        _heading(page.name, style(size * 1.6, bold=True), exercise.slug, 1),
        line(level, style(size, after=2)),
        line(page.purpose, style(size * 1.1, after=5)),
        _beside([shown], right, figure + 12),
        _beside(
            [line(_("What to say"), head), *numbered(page.cues, text)],
            [line(_("Common faults"), head), *faults],
            _WIDTH / 2,
        ),
    ]
    if notes:
        made += [line(_("When to leave it out"), head), *notes]
    for steps, name in (
        (page.harder, _("Harder, earned here: {name}.")),
        (page.easier, _("Easier, left by: {name}.")),
        (page.instead, _("Instead: {name}.")),
    ):
        made += [line(one.words, text, lead=name.format(name=one.name)) for one in steps]
    return made


class _Blank(Figure):
    """Room for a figure, for a layout that is thrown away."""

    def __init__(self, slug: str, width: float, own: Drawing | None) -> None:
        super().__init__(slug, width, width, own)

    def draw(self) -> None:
        """Nothing: nobody sees it."""


def _beside(left: list[Any], right: list[Any], at: float) -> Table:
    table = Table([[left, right]], colWidths=[at, _WIDTH - at], style=_TIGHT)
    table.hAlign = "LEFT"
    return table


# --- the index --------------------------------------------------------------------------------------------------------


def _index(pages: Pages, numbers: dict[str, int]) -> Iterator[Flowable]:
    everything = [page for _family, family_pages in pages for page in family_pages]
    yield PageBreak()
    yield _heading(_("Index by kit"), style(22, bold=True, after=8), "kit", 0)
    bare = [page for page in everything if not _kit(page)]
    yield from _entries(_("No kit"), bare, numbers)
    for one in (*Implement, *Furniture):
        yield from _entries(
            _capital(str(label(one))), [page for page in everything if one.value in _kit(page)], numbers
        )
    yield CondPageBreak(120)
    yield Spacer(1, 14)
    yield _heading(_("Index by region"), style(22, bold=True, after=4), "regions", 0)
    yield line(
        _("What loads a region most. What loads it a little stands on each exercise's page."),
        style(10, after=6),
    )
    for region in Region:
        loading = [
            page for page in everything if region.value in page.exercise.document["regions"]["primary"]
        ]
        yield from _entries(_capital(str(label(region))), loading, numbers)


def _kit(page: ExercisePage) -> set[str]:
    """What the exercise can be loaded with or stands on."""
    document = page.exercise.document
    return {*document.get("furniture", ()), *(one["implement"] for one in document.get("holdings", ()))}


def _entries(name: str, pages: Iterable[ExercisePage], numbers: dict[str, int]) -> Iterator[Flowable]:
    said = [
        f'<a href="#{page.exercise.slug}" color="#1f1a24">{markup(composed(page.name))}</a> '
        f"{numbers.get(page.exercise.slug, '000')}"
        for page in sorted(pages, key=lambda page: page.name)
    ]
    if said:
        lead = f'<font name="{BOLD}">{markup(composed(name))}:</font> '
        yield Paragraph(lead + "; ".join(said), style(10, after=4))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


__all__ = ["LAYOUT", "RULE", "Cover", "Pages", "handbook_pdf", "sheet_pdf"]
