"""Plots of a season, week by week: bars, rows of bars, and curves with their range. Works out where everything stands;
`templates/components/plot.html` draws it.

>>> axis = Axis.of([PlotWeek("Week 1", "Sep", "learn"), PlotWeek("Week 2", "", "learn")])
>>> draw_bars(axis, [2, 2], [2, 1], words="Sessions asked and done.").width == axis.width
True

Everything is drawn in ink, in outline and in shade, so that it reads in print and without colour; the numbers stand in
a table beside each plot. The drawing's units are CSS pixels: it is shown in its own size and rolls sideways where it is
wider than the page.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from math import ceil

STEP, LEFT, RIGHT = 26, 48, 24
BAR = 16
#: Heights: of the names of races, of a plot, of the lower part of a curve, of one row and its name, of the axis.
RACE_LINE, DEEP, SHALLOW, ROW, ROW_NAME, AXIS = 22, 130, 80, 44, 34, 62
LETTER = 9  # a generous width of one letter of 16 px
NICE = (1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000, 10000)
MOST_MARKS = 4

type Figure = float | None


@dataclass(frozen=True, slots=True)
class PlotWeek:
    """One week: its `name` in full, the `month` that is written under it (or nothing), its phase in a word, and the
    name of a race in it (or nothing)."""

    name: str
    month: str = ""
    phase: str = ""
    race: str = ""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A path and its class."""

    path: str
    kind: str


@dataclass(frozen=True, slots=True)
class Word:
    """Text at a place; `anchor` as in SVG."""

    x: int
    y: int
    text: str
    anchor: str = "start"
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Plot:
    """The whole drawing, with `words` for whoever does not see it."""

    width: int
    height: int
    words: str
    strokes: tuple[Stroke, ...]
    texts: tuple[Word, ...]


@dataclass(frozen=True, slots=True)
class Range:
    """A week's middle with its lowest and highest; None everywhere where there is nothing."""

    low: Figure = None
    middle: Figure = None
    high: Figure = None


@dataclass(frozen=True, slots=True)
class Axis:
    """The weeks, from left to right."""

    weeks: tuple[PlotWeek, ...]

    @classmethod
    def of(cls, weeks: Sequence[PlotWeek]) -> "Axis":
        """The axis of the weeks in their order."""
        return cls(tuple(weeks))

    @property
    def width(self) -> int:
        return LEFT + STEP * max(len(self.weeks), 10) + RIGHT

    @property
    def end(self) -> int:
        """Where the last week ends."""
        return LEFT + STEP * len(self.weeks)

    def x(self, place: int) -> int:
        """The middle of the week of that place, from 0."""
        return LEFT + STEP * place + STEP // 2

    def races(self) -> list[tuple[int, str]]:
        return [(place, week.race) for place, week in enumerate(self.weeks) if week.race]


def draw_bars(axis: Axis, asked: Sequence[int], done: Sequence[int], *, words: str) -> Plot:
    """A bar in outline for what was asked of each week, filled as far as it was done; races are named."""
    top = RACE_LINE * _race_lines(axis) + 6
    base = top + DEEP
    scale = _Scale.to(max([*asked, 1]), top, base)
    strokes = [*_grid(axis, scale), *_race_strokes(axis, top, base)]
    for place, (wanted, did) in enumerate(zip(asked, done, strict=True)):
        if wanted:
            strokes.append(Stroke(_bar(axis.x(place), scale.y(wanted), base), "plot-hollow"))
        if did:
            strokes.append(Stroke(_bar(axis.x(place), scale.y(did), base), "plot-bar"))
    return _plot(axis, base, words, strokes, [*scale.words(), *_race_words(axis)])


def draw_rows(axis: Axis, rows: Sequence[tuple[str, Sequence[Range]]], *, words: str) -> Plot:
    """Rows of bars to one scale, each with its name above it; a thin line from the lowest to the highest."""
    most = (
        max((value.high or value.middle or 0.0 for _name, values in rows for value in values), default=0.0)
        or 1.0
    )
    strokes, texts, base = [], [], 0
    for name, values in rows:
        top = base + ROW_NAME
        base = top + ROW
        texts.append(Word(LEFT, top - 10, name, kind="plot-name"))
        scale = _Scale.to(most, top, base)
        strokes.append(Stroke(f"M{LEFT} {base}H{axis.end}", "plot-axis"))
        texts.append(Word(LEFT - 8, top + 14, number_words(scale.most), "end"))
        for place, value in enumerate(values):
            if value.middle:
                strokes.append(Stroke(_bar(axis.x(place), scale.y(value.middle), base), "plot-soft"))
            if value.low is not None and value.high is not None and value.high > value.low:
                path = f"M{axis.x(place)} {scale.y(value.low)}V{scale.y(value.high)}"
                strokes.append(Stroke(path, "plot-whisker"))
    return _plot(axis, base, words, [*_race_strokes(axis, 0, base), *strokes], texts)


def draw_curve(
    axis: Axis,
    values: Sequence[Range],
    *,
    words: str,
    name: str,
    room: Sequence[Figure] = (),
    below: tuple[str, Sequence[Range]] | None = None,
) -> Plot:
    """A curve of the middle over the shade of its range; `room` as a broken line in the same measure; `below` another
    named curve in a part of its own."""
    top = ROW_NAME
    base = top + DEEP
    most = max([*(value.high or 0.0 for value in values), *(figure or 0.0 for figure in room)], default=0.0)
    scale = _Scale.to(most or 1.0, top, base)
    strokes = [*_grid(axis, scale), *_curve(axis, scale, values)]
    texts = [Word(LEFT, top - 10, name, kind="plot-name"), *scale.words()]
    if any(figure is not None for figure in room):
        strokes.append(Stroke(_line(axis, scale, room), "plot-room"))
    if below is not None:
        title, lower = below
        top = base + ROW_NAME
        base = top + SHALLOW
        scale = _Scale.to(max((value.high or 0.0 for value in lower), default=0.0) or 1.0, top, base)
        strokes += [*_grid(axis, scale), *_curve(axis, scale, lower)]
        texts += [Word(LEFT, top - 10, title, kind="plot-name"), *scale.words()]
    return _plot(axis, base, words, [*_race_strokes(axis, ROW_NAME, base), *strokes], texts)


# --- parts ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Scale:
    """From 0 at `base` up to `most` at `top`, marked every `mark`."""

    most: float
    mark: int
    top: int
    base: int

    @classmethod
    def to(cls, most: float, top: int, base: int) -> "_Scale":
        mark = next((one for one in NICE if one * MOST_MARKS >= most), NICE[-1])
        return cls(mark * max(1, ceil(most / mark)), mark, top, base)

    def y(self, value: float) -> int:
        return round(self.base - (self.base - self.top) * value / self.most)

    def marks(self) -> list[int]:
        return list(range(0, int(self.most) + 1, self.mark))

    def words(self) -> list[Word]:
        return [Word(LEFT - 8, self.y(mark) + 5, str(mark), "end") for mark in self.marks()]


def _plot(axis: Axis, base: int, words: str, strokes: Sequence[Stroke], texts: Sequence[Word]) -> Plot:
    """With the axis under it: months, and the phases with their words where there is room."""
    lines, under = [Stroke(f"M{LEFT} {base}H{axis.end}", "plot-axis")], []
    for place, week in enumerate(axis.weeks):
        if week.month:
            lines.append(Stroke(f"M{axis.x(place)} {base}v7", "plot-axis"))
            under.append(Word(axis.x(place), base + 22, week.month, "middle"))
    y = base + 34
    for phase, places in _spans(axis):
        left, right = axis.x(places[0]) - STEP // 2 + 2, axis.x(places[-1]) + STEP // 2 - 2
        lines.append(Stroke(f"M{left} {y - 4}v8M{left} {y}H{right}M{right} {y - 4}v8", "plot-phase"))
        if len(phase) * LETTER <= right - left:
            under.append(Word((left + right) // 2, y + 22, phase, "middle"))
    return Plot(axis.width, base + AXIS, words, (*strokes, *lines), (*texts, *under))


def _spans(axis: Axis) -> list[tuple[str, list[int]]]:
    places = groupby(range(len(axis.weeks)), key=lambda place: axis.weeks[place].phase)
    return [(phase, list(run)) for phase, run in places if phase]


def _grid(axis: Axis, scale: _Scale) -> list[Stroke]:
    return [Stroke(f"M{LEFT} {scale.y(mark)}H{axis.end}", "plot-grid") for mark in scale.marks()[1:]]


def _bar(x: int, top: int, base: int) -> str:
    return f"M{x - BAR // 2} {top}h{BAR}V{base}h-{BAR}z"


def _curve(axis: Axis, scale: _Scale, values: Sequence[Range]) -> list[Stroke]:
    found = [Stroke(path, "plot-range") for path in _areas(axis, scale, values)]
    middle = _line(axis, scale, [value.middle for value in values])
    return [*found, Stroke(middle, "plot-line")] if middle else found


def _line(axis: Axis, scale: _Scale, figures: Sequence[Figure]) -> str:
    """Joined from week to week, broken where there is nothing; a week alone is a short stroke."""
    parts = []
    for run in _runs(figures):
        points = [f"{axis.x(place)} {scale.y(figures[place] or 0.0)}" for place in run]
        parts.append(f"M{points[0]}L{' L'.join(points[1:])}" if len(points) > 1 else f"M{points[0]}m-4 0h8")
    return "".join(parts)


def _areas(axis: Axis, scale: _Scale, values: Sequence[Range]) -> list[str]:
    found = []
    for run in _runs([value.middle for value in values]):
        upper = [f"{axis.x(place)} {scale.y(values[place].high or 0.0)}" for place in run]
        lower = [f"{axis.x(place)} {scale.y(values[place].low or 0.0)}" for place in reversed(run)]
        if len(run) > 1:
            found.append(f"M{' L'.join([*upper, *lower])}Z")
    return found


def _runs(figures: Sequence[Figure]) -> list[list[int]]:
    """Places without a gap between them that hold something."""
    runs = groupby(range(len(figures)), key=lambda place: figures[place] is not None)
    return [list(run) for holds, run in runs if holds]


def _race_strokes(axis: Axis, top: int, base: int) -> list[Stroke]:
    return [Stroke(f"M{axis.x(place)} {top}V{base}", "plot-race") for place, _race in axis.races()]


def _race_lines(axis: Axis) -> int:
    return max(_race_rows(axis).values(), default=-1) + 1


def _race_words(axis: Axis) -> list[Word]:
    rows = _race_rows(axis)
    return [
        Word(axis.x(place), RACE_LINE * rows[place] + 16, race, _anchor(axis, place, race), "plot-name")
        for place, race in axis.races()
    ]


def _anchor(axis: Axis, place: int, race: str) -> str:
    """To the right of its line, unless it would leave the drawing there."""
    return "start" if axis.x(place) + len(race) * LETTER <= axis.width else "end"


def _race_rows(axis: Axis) -> dict[int, int]:
    """In which line each race's name is written, so that no two overlap: the lowest that is free."""
    rows: dict[int, int] = {}
    taken: list[list[tuple[int, int]]] = []
    for place, race in axis.races():
        length, x = len(race) * LETTER, axis.x(place)
        begins, ends = (x, x + length) if _anchor(axis, place, race) == "start" else (x - length, x)
        row = next(
            (
                row
                for row, spans in enumerate(taken)
                if all(ends < other[0] or other[1] < begins for other in spans)
            ),
            len(taken),
        )
        if row == len(taken):
            taken.append([])
        taken[row].append((begins, ends))
        rows[place] = row
    return rows


def number_words(value: float) -> str:
    """The number with one place at most and no idle zero: ``12``, ``7.5``."""
    return f"{value:.1f}".removesuffix(".0")
