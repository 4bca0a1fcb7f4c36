"""A rehearsed season as text: tables that are read in a terminal of 100 columns."""

from collections.abc import Mapping, Sequence
from decimal import Decimal

from athletes.words import label
from programs.engine.facts import Measure
from programs.engine.quantities import week_days, week_name
from programs.engine.tally import Curve, CurvePoint, Spread, Tally, WeekTally

WIDTH = 100
#: How many weeks a table shows across, and down for each main exercise.
SHOWN_WEEKS = 10

ASSUMPTIONS = "Synthetic riders, our assumptions; nothing here predicts a real rider."


def write_tables(tally: Tally, *, title: str, seed: int, names: Mapping[str, str]) -> str:
    """All tables. `names` are those of exercises by slug; a slug without one stands for itself."""
    first = tally.weeks[0]
    heading = (
        f"{title}: {tally.riders} riders, {len(tally.weeks)} weeks from "
        f"{week_days(first.week)[0].isoformat()} ({week_name(first.week)}), seed {seed}"
    )
    parts = [
        f"{heading}\n{ASSUMPTIONS}",
        _sessions(tally),
        _weeks(tally),
        _sets(tally),
        *(_curve(curve, tally, names) for curve in tally.curves),
        _follow_ups(tally),
        _violations(tally),
    ]
    return "\n\n".join(parts) + "\n"


def _sessions(tally: Tally) -> str:
    return (
        f"Sessions: {tally.asked} asked, {tally.done} done ({_percent(tally.done, tally.asked)}), "
        f"{tally.not_done} told as not done,\n{tally.silent} passed over in silence, "
        f"{tally.called_off} called off after a report"
    )


def _weeks(tally: Tally) -> str:
    rows = [
        (
            str(week.place),
            f"{week_days(week.week)[0]:%d %b}",
            week.phase.value + (", light" if week.is_light else ""),
            str(week.asked),
            str(week.done),
            _percent(week.done, week.asked),
            _spread(week.minutes),
            _spread(week.room),
            str(sum(number for _topic, number in week.follow_ups) or ""),
        )
        for week in tally.weeks
    ]
    heads = ("week", "from", "most riders", "asked", "done", "", "minutes", "of the rider's", "follow-ups")
    title = "Week by week; minutes are those of the median rider with sessions (lowest to highest)"
    return _table(title, heads, rows, words=(1, 2))


def _sets(tally: Tally) -> str:
    shown = _some(tally.weeks)
    patterns = list(dict.fromkeys(pattern for week in tally.weeks for pattern, _sets in week.sets))
    rows = [
        (str(label(pattern)), *(_spread(dict(week.sets).get(pattern)) for week in shown))
        for pattern in patterns
    ]
    heads = ("week", *(str(week.place) for week in shown))
    return _table("Sets asked by pattern: the median rider (lowest to highest)", heads, rows, words=(0,))


def _curve(curve: Curve, tally: Tally, names: Mapping[str, str]) -> str:
    shown = {week.place for week in _some(tally.weeks)}
    points = [point for point in curve.points if point.place in shown]
    rows = [_point(point, names) for point in points]
    heads = ("week", "what most do", "of riders", "sets", "reps or s", "kg", "with kg")
    title = f"Main exercise, {label(curve.pattern)}: the median rider (lowest to highest)"
    return _table(title, heads, rows, words=(1,))


def _point(point: CurvePoint, names: Mapping[str, str]) -> tuple[str, ...]:
    unit = " s" if point.measure is Measure.HOLD else ""
    return (
        str(point.place),
        names.get(point.exercise, point.exercise)[:38],
        f"{point.on_it} of {point.riders}",
        _spread(point.sets),
        _spread(point.amount) + unit,
        _spread(point.kg),
        str(point.kg.count if point.kg else 0),
    )


def _follow_ups(tally: Tally) -> str:
    if not tally.follow_ups:
        return "Follow-ups opened: none"
    rows = [
        (str(label(topic)), str(number), _each(number, tally.riders)) for topic, number in tally.follow_ups
    ]
    return _table("Follow-ups opened", ("about", "times", "a rider"), rows, words=(0,))


def _violations(tally: Tally) -> str:
    found = [f"Violations of safety properties: {len(tally.broken)}"]
    for number, place, broken in tally.broken[:20]:
        found.append(f"  {broken.id} rider {number + 1}, week {place}: {broken.key} ({broken.figures})")
    if len(tally.broken) > 20:
        found.append(f"  and {len(tally.broken) - 20} more")
    return "\n".join(found)


# --- laying out -------------------------------------------------------------------------------------------------------


def _some(weeks: Sequence[WeekTally]) -> Sequence[WeekTally]:
    """The first week and every nth after it, so that they fit across."""
    step = -(-len(weeks) // SHOWN_WEEKS)
    return weeks[::step]


def _table(title: str, heads: Sequence[str], rows: Sequence[Sequence[str]], *, words: Sequence[int]) -> str:
    """A table with figures to the right, and words, in the columns named, to the left."""
    widths = [max(len(row[column]) for row in (heads, *rows)) for column in range(len(heads))]

    def line(cells: Sequence[str]) -> str:
        laid = (
            cell.ljust(width) if column in words else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(cells, widths, strict=True))
        )
        return "  ".join(laid).rstrip()

    return "\n".join([title, line(heads), *(line(row) for row in rows)])


def _spread(values: Spread | None) -> str:
    if values is None:
        return "-"
    if values.low == values.high:
        return number_words(values.middle)
    return f"{number_words(values.middle)} ({number_words(values.low)}-{number_words(values.high)})"


def number_words(value: Decimal) -> str:
    """The number with one place at most and no idle zero: ``12``, ``7.5``."""
    return f"{value:.1f}".removesuffix(".0")


def _percent(part: int, whole: int) -> str:
    return f"{100 * part // whole} %" if whole else ""


def _each(number: int, riders: int) -> str:
    return f"{number / riders:.1f}"
