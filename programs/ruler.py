"""The season ruler: weeks as ticks, sessions a week as dots stacked on each tick, bike hours as an area under it, races
as flags. Works out where everything stands; `templates/components/ruler.html` draws it.

>>> ruler = draw_ruler([RulerWeek(name="Week 48", label="Nov", sessions=2, bike_hours=6.0)])
>>> len(ruler.ticks[0].dots)
2
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

#: The drawing's units are CSS pixels: it is shown in its own size and rolls sideways where it is wider than the page.
STEP = 26
MARGIN = 24
DOT = 11
AREA = 56
LABELS = 40
RACE_LINE = 22
NOW_LINE = 28
#: Room under the race's name for the flag and the dots.
FLAG_HEIGHT = 22
LETTER = 9  # a generous width of one letter of 16 px


@dataclass(frozen=True, slots=True)
class RulerWeek:
    """One week of the season. `name` names it in full (table), `label` stands under its tick or is empty (a month's
    first week); `race` is a race's name or empty; `bike_hours` are hours; `is_now` marks the running week."""

    name: str
    label: str = ""
    sessions: int = 0
    bike_hours: float = 0.0
    race: str = ""
    is_priority: bool = False
    is_now: bool = False


@dataclass(frozen=True, slots=True)
class Tick:
    """Where one week stands. `dots` are the heights of its dots, `flag_foot` where its flag pole begins."""

    name: str
    label: str
    sessions: int
    bike_hours: float
    race: str
    is_priority: bool
    x: int
    dots: tuple[int, ...]
    flag_foot: int
    race_x: int
    race_y: int
    race_anchor: str


@dataclass(frozen=True, slots=True)
class Ruler:
    """The whole drawing: lengths in CSS pixels, `area` as SVG path data, `words` the same in one sentence."""

    width: int
    height: int
    baseline: int
    label_y: int
    flag_y: int
    now_x: int | None
    now_top: int
    now_y: int
    now_anchor: str
    area: str
    ticks: tuple[Tick, ...]
    words: str


def draw_ruler(weeks: Sequence[RulerWeek]) -> Ruler:
    """The ruler of the weeks, in their order. No week at all gives an empty ruler of the least width."""
    rows = _race_rows(weeks)
    top = RACE_LINE * (max(rows.values(), default=-1) + 1)
    stack = max((week.sessions for week in weeks), default=0) * DOT + 6
    flag_y = top + 4
    baseline = flag_y + (FLAG_HEIGHT if rows else 0) + stack
    width = MARGIN * 2 + STEP * max(len(weeks) - 1, 1)
    ticks = tuple(
        _tick(week, index, rows.get(index), width=width, baseline=baseline)
        for index, week in enumerate(weeks)
    )
    now_x = next((tick.x for tick, week in zip(ticks, weeks, strict=True) if week.is_now), None)
    return Ruler(
        width=width,
        height=baseline + LABELS + AREA + (4 if now_x is None else NOW_LINE),
        baseline=baseline,
        label_y=baseline + 32,
        flag_y=flag_y,
        now_x=now_x,
        now_top=top,
        now_y=baseline + LABELS + AREA + 4,
        now_anchor=_anchor(now_x or 0, width),
        area=_area(ticks, top=baseline + LABELS),
        ticks=ticks,
        words=_words(weeks),
    )


def _race_rows(weeks: Sequence[RulerWeek]) -> dict[int, int]:
    """In which line each race's name is written, so that no two overlap: the lowest that is free from its flag on."""
    rows: dict[int, int] = {}
    ends: list[int] = []
    for index, week in enumerate(weeks):
        if not week.race:
            continue
        start, length = _span(week.race, MARGIN + index * STEP, MARGIN * 2 + STEP * max(len(weeks) - 1, 1))
        row = next((row for row, end in enumerate(ends) if end < start), len(ends))
        ends[row : row + 1] = [start + length]
        rows[index] = row
    return rows


def _span(race: str, x: int, width: int) -> tuple[int, int]:
    """Where a race's name begins and how long it is; it runs back from its flag when it would leave the drawing."""
    length = len(race) * LETTER
    return (x, length) if x + length <= width or x < length else (x - length, length)


def _tick(week: RulerWeek, index: int, row: int | None, *, width: int, baseline: int) -> Tick:
    x = MARGIN + index * STEP
    start, _length = _span(week.race, x, width)
    dots = tuple(baseline - 8 - DOT * number for number in range(week.sessions))
    return Tick(
        name=week.name,
        label=week.label,
        sessions=week.sessions,
        bike_hours=week.bike_hours,
        race=week.race,
        is_priority=week.is_priority,
        x=x,
        dots=dots,
        flag_foot=(dots[-1] - 6) if dots else baseline,
        race_x=x,
        race_y=RACE_LINE * (row or 0) + 16,
        race_anchor="start" if start == x else "end",
    )


def _anchor(x: int, width: int) -> str:
    """Centred on `x`, unless that would run over an end of the drawing."""
    return "start" if x < STEP * 2 else "end" if x > width - STEP * 2 else "middle"


def _area(ticks: Sequence[Tick], *, top: int) -> str:
    """The bike hours hang from `top`, the longest week to the full depth."""
    most = max((tick.bike_hours for tick in ticks), default=0.0)
    if most <= 0:
        return ""
    points = " ".join(f"L{tick.x} {top + round(AREA * tick.bike_hours / most, 1)}" for tick in ticks)
    return f"M{ticks[0].x} {top} {points} L{ticks[-1].x} {top}Z"


def _words(weeks: Sequence[RulerWeek]) -> str:
    sessions = sum(week.sessions for week in weeks)
    races = [week.race for week in weeks if week.race]
    said = ngettext("A season of {weeks} week", "A season of {weeks} weeks", len(weeks)).format(
        weeks=len(weeks)
    )
    said += ngettext(", {sessions} session", ", {sessions} sessions", sessions).format(sessions=sessions)
    if races:
        said += _(", races: {races}").format(races=", ".join(races))
    return said + "."
