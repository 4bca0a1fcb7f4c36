"""The week strip: seven columns, one per day, the same on desk, rider page, mail and card.

A planned session is an outlined bar of a fixed height, a done one a filled bar as tall as its session RPE, a missed one
a bar with a gap in it, a key ride a thin line along the bottom, a race a flag. Pain is a small numbered wedge above the
day, on web pages only. Every mark differs in shape, so that it reads in grey.

`week_strip_svg` draws for the web, `week_strip_columns` gives the heights for the mail's table (mail readers drop SVG),
`draw_week_strip` draws on a PDF canvas. All three take their marks from `marks_of`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from reportlab.pdfgen.canvas import Canvas

from programs.sheet import StripDay
from programs.wording import short_day_words, strip_words

#: The strip's own units: a column is 48 wide; bars stand in a field 40 high, above the line of key rides.
COLUMN = 48
FIELD = 40
BAR = 20
PLANNED_HEIGHT = 24
#: A session of RPE 0 is still a session that was done, so its bar has a height.
LOWEST_DONE = 4
GAP = 6


@dataclass(frozen=True, slots=True)
class Marks:
    """The marks of one day. `bar` is ``""``, ``"planned"``, ``"done"`` or ``"missed"``; `height` is of `FIELD`."""

    on: date
    bar: str
    height: int
    key_ride: bool
    race: bool
    pain: int | None


def marks_of(day: StripDay) -> Marks:
    """What is drawn for the day. What was done outweighs missed, and missed outweighs planned."""
    if day.done_rpe is not None:
        rpe = min(max(day.done_rpe, 0), 10)
        bar, height = "done", LOWEST_DONE + rpe * (FIELD - LOWEST_DONE) // 10
    elif day.missed:
        bar, height = "missed", PLANNED_HEIGHT
    elif day.planned:
        bar, height = "planned", PLANNED_HEIGHT
    else:
        bar, height = "", 0
    return Marks(day.on, bar, height, day.key_ride, bool(day.race), day.pain)


# --- the web ----------------------------------------------------------------------------------------------------------

_HEAD = 28  # room above the field for flag and wedge
_BASE = _HEAD + FIELD
_TOTAL = _BASE + 28


def week_strip_svg(strip: Sequence[StripDay], *, for_mail: bool = False) -> SafeString:
    """The strip as an SVG element that is complete without a style sheet: `currentColor` and presentation attributes.

    Its text alternative says the same in words. With `for_mail`, pain is neither drawn nor said.
    """
    words = strip_words(strip, with_pain=not for_mail)
    columns = format_html_join(
        "",
        "{}",
        ((_svg_day(marks_of(day), index * COLUMN, for_mail),) for index, day in enumerate(strip)),
    )
    # A label, not a title with an id: a page may hold forty strips, several of them alike.
    return format_html(
        '<svg class="strip" role="img" aria-label="{title}: {words}" viewBox="0 0 {width} {total}" '
        'width="{width}" height="{total}" xmlns="http://www.w3.org/2000/svg" fill="none" stroke="currentColor">'
        '{columns}<path class="strip-base" d="M0 {base}H{width}" stroke-width="1"/></svg>',
        width=COLUMN * len(strip),
        total=_TOTAL,
        title=_("The week, day by day"),
        words=words,
        columns=columns,
        base=_BASE,
    )


def _svg_day(marks: Marks, left: int, for_mail: bool) -> SafeString:
    parts = [
        format_html(
            '<text class="strip-day" x="{}" y="{}" text-anchor="middle" font-size="16" fill="currentColor" '
            'stroke="none">{}</text>',
            left + COLUMN // 2,
            _TOTAL - 4,
            date_format(marks.on, pgettext("date format", "D")),
        )
    ]
    x, top = left + (COLUMN - BAR) // 2, _BASE - marks.height
    if marks.bar == "done":
        parts.append(
            format_html(
                '<rect class="strip-done" x="{}" y="{}" width="{}" height="{}" fill="currentColor"/>',
                x, top, BAR, marks.height,
            )
        )  # fmt: skip
    elif marks.bar == "planned":
        parts.append(
            format_html(
                '<rect class="strip-planned" x="{}" y="{}" width="{}" height="{}" stroke-width="2"/>',
                x, top, BAR, marks.height,
            )
        )  # fmt: skip
    elif marks.bar == "missed":
        half = (marks.height - GAP) // 2
        parts.append(
            format_html(
                '<path class="strip-missed" stroke-width="2" d="M{x} {a}V{t}H{r}V{a}M{x} {b}V{base}H{r}V{b}"/>',
                x=x, r=x + BAR, t=top, a=top + half, b=_BASE - half, base=_BASE,
            )
        )  # fmt: skip
    if marks.key_ride:
        parts.append(
            format_html(
                '<path class="strip-ride" stroke-width="4" d="M{} {}h{}"/>', left + 4, _BASE + 5, COLUMN - 8
            )
        )
    if marks.race:
        parts.append(
            format_html(
                '<path class="strip-race" stroke-width="2" fill="currentColor" d="M{x} {low}V{high}l12 5l-12 5"/>',
                x=left + 8, low=_HEAD - 2, high=4,
            )
        )  # fmt: skip
    if marks.pain is not None and not for_mail:
        parts.append(_svg_wedge(left + COLUMN - 26, marks.pain))
    return format_html("<g>{}</g>", format_html_join("", "{}", ((part,) for part in parts)))


def _svg_wedge(x: int, pain: int) -> SafeString:
    return format_html(
        '<g class="strip-pain"><path fill="currentColor" stroke="none" d="M{x} 8h9l-4.5 12z"/>'
        '<text x="{after}" y="20" font-size="16" fill="currentColor" stroke="none">{pain}</text></g>',
        x=x, after=x + 10, pain=pain,
    )  # fmt: skip


# --- the mail ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Column:
    """One day of the strip as the mail's table draws it: heights in pixels, nothing about pain."""

    weekday: str
    day: int
    bar: str
    height: int
    half: int
    key_ride: bool
    race: bool


def week_strip_columns(strip: Sequence[StripDay]) -> tuple[Column, ...]:
    """The strip for a table of seven columns, without pain."""
    marks = [marks_of(day) for day in strip]
    return tuple(
        Column(
            date_format(mark.on, pgettext("date format", "D")),
            mark.on.day,
            mark.bar,
            mark.height,
            (mark.height - GAP) // 2,
            mark.key_ride,
            mark.race,
        )
        for mark in marks
    )


# --- the card ---------------------------------------------------------------------------------------------------------


def strip_height(scale: float, size: float) -> float:
    """How high `draw_week_strip` draws at that scale (points a unit) and text size, in points."""
    return (FIELD + 2) * scale + 5 + size * 1.35


def draw_week_strip(
    canvas: Canvas,
    strip: Sequence[StripDay],
    *,
    x: float,
    top: float,
    width: float,
    scale: float,
    font: str,
    size: float,
) -> None:
    """The strip on a PDF canvas, its upper left corner at (`x`, `top`), days written in `font` at `size` points.

    Pain is left out. A flag stands beside its bar, so that the strip needs no room above the bars.
    """
    column = width / 7
    base = top - (FIELD + 2) * scale
    canvas.saveState()
    canvas.setLineWidth(0.6)
    canvas.line(x, base, x + width, base)
    for index, day in enumerate(strip):
        marks = marks_of(day)
        middle = x + column * (index + 0.5)
        canvas.setLineWidth(1.1)
        _draw_bar(canvas, marks, middle - BAR * scale / 2, base, scale)
        if marks.key_ride:
            canvas.setLineWidth(2.4)
            canvas.line(middle - column * 0.4, base - 3.2, middle + column * 0.4, base - 3.2)
        if marks.race:
            _draw_flag(canvas, middle + (BAR * scale / 2 + 2 if marks.bar else -4), base, top)
        canvas.setFont(font, size)
        canvas.drawCentredString(middle, base - 5 - size, short_day_words(marks.on))
    canvas.restoreState()


def _draw_bar(canvas: Canvas, marks: Marks, x: float, base: float, scale: float) -> None:
    wide, high = BAR * scale, marks.height * scale
    if marks.bar == "done":
        canvas.rect(x, base, wide, high, stroke=1, fill=1)
    elif marks.bar == "planned":
        canvas.rect(x, base, wide, high, stroke=1, fill=0)
    elif marks.bar == "missed":
        half = (marks.height - GAP) / 2 * scale
        canvas.lines(
            [
                (x, base, x, base + half),
                (x + wide, base, x + wide, base + half),
                (x, base + high - half, x, base + high),
                (x + wide, base + high - half, x + wide, base + high),
                (x, base + high, x + wide, base + high),
            ]
        )


def _draw_flag(canvas: Canvas, x: float, base: float, top: float) -> None:
    canvas.setLineWidth(1.1)
    canvas.line(x, base, x, top)
    flag = canvas.beginPath()
    flag.moveTo(x, top)
    flag.lineTo(x + 10, top - 4.5)
    flag.lineTo(x, top - 9)
    flag.close()
    canvas.drawPath(flag, stroke=0, fill=1)
