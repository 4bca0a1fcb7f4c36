"""A rehearsed season as a page shows it: what came of it in all, plots with their tables, and what was assumed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from athletes.words import label
from programs import outlines, plots
from programs.engine import cast, rehearsal, simulate
from programs.engine.facts import Measure, Race
from programs.engine.quantities import week_days
from programs.engine.tally import Curve, CurvePoint, Spread, Tally, WeekTally

type Row = tuple[str, ...]

#: What most riders do for fewer weeks than this is not told beside the plot.
LASTING = 3


@dataclass(frozen=True, slots=True)
class Table:
    """The same as a plot in figures. `columns` are as `components/table.html` takes them."""

    columns: tuple[Mapping[str, Any], ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Chapter:
    """One plot with its name, a line on how to read it, lines beside it, and its table."""

    key: str
    name: str
    reading: str
    plot: plots.Plot
    table: Table
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SeasonPage:
    """All of it. `facts` are (name, figure, what it is of); `violations` are sentences, none if all went well. Without
    chapters nobody was asked for anything."""

    facts: tuple[tuple[str, str, str], ...]
    chapters: tuple[Chapter, ...]
    follow_ups: tuple[tuple[str, int, str], ...]
    violations: tuple[str, ...]
    weeks_lived: int


def page_of(tally: Tally, *, races: Sequence[Race], names: Mapping[str, str]) -> SeasonPage:
    """The page of a tally. `names` are those of exercises by slug."""
    return SeasonPage(
        facts=_facts(tally),
        chapters=_chapters(tally, races, names) if tally.asked else (),
        follow_ups=tuple(
            (outlines.capital(str(label(topic))), number, plots.number_words(number / tally.riders))
            for topic, number in tally.follow_ups
        ),
        violations=tuple(
            _("{property}: rider {rider}, week {week}, {key} ({figures})").format(
                property=broken.id, rider=number + 1, week=place, key=broken.key, figures=broken.figures
            )
            for number, place, broken in tally.broken
        ),
        weeks_lived=tally.riders * len(tally.weeks),
    )


def _chapters(tally: Tally, races: Sequence[Race], names: Mapping[str, str]) -> tuple[Chapter, ...]:
    axis = plots.Axis.of([_plot_week(tally, at, races) for at in range(len(tally.weeks))])
    return (
        _sessions(tally, axis),
        _minutes(tally, axis),
        _sets(tally, axis),
        *(_curve(curve, tally, axis, names) for curve in tally.curves),
        *([_follow_ups(tally, axis)] if tally.follow_ups else []),
    )


def assumptions() -> tuple[str, ...]:
    """What is taken for granted about synthetic riders and their coach, in the order of what matters most. The numbers
    are those of the response model and the cast."""
    return (
        _("Each session of an exercise raises what could be lifted by {gain} %, less the nearer it comes to {ceiling} "
          "times the beginning; {slowest} to {fastest} times as fast from rider to rider.").format(
            gain=plots.number_words(100 * simulate.GAIN_A_SESSION),
            ceiling=cast.CEILING,
            slowest=min(cast.GAINS),
            fastest=max(cast.GAINS),
        ),
        _("After {days} days without an exercise {loss} % of that is lost each week, down to the beginning at most."
          ).format(days=simulate.KEPT_DAYS, loss=plots.number_words(100 * simulate.LOSS_A_WEEK)),
        _("At the first meeting {low} to {high} reps more than asked are possible; {wrong} % of sets are judged a rep "
          "too hard or too easy.").format(
            low=cast.SPARE[0], high=cast.SPARE[1], wrong=round(100 * cast.MISJUDGES)
        ),
        _("Riders do {least} to {most} % of their sessions and report {told} % of those; {quiet} % fall silent for "
          "good.").format(
            least=round(100 * min(cast.ATTENDS)),
            most=round(100 * max(cast.ATTENDS)),
            told=round(100 * cast.REPORTS),
            quiet=round(100 * cast.QUIET),
        ),
        _("In a quarter of a year {hurt} % get a pain of {mildest} to {worst} out of 10, which eases by a point a "
          "week, and {ill} % are ill for {shortest} to {longest} days. In half a year {away} % are away for a week "
          "or two.").format(
            hurt=round(100 * cast.PAIN_A_QUARTER),
            mildest=min(cast.PAIN_SCORES),
            worst=max(cast.PAIN_SCORES),
            ill=round(100 * cast.ILL_A_QUARTER),
            shortest=cast.ILL_DAYS[0],
            longest=cast.ILL_DAYS[1],
            away=round(100 * cast.AWAY_A_HALF_YEAR),
        ),
        _("{low} to {high} hours a week on the bike, one week in ten half as much again.").format(
            low=cast.BIKE_HOURS[0], high=cast.BIKE_HOURS[1]
        ),
        _("The coach approves every plan as it stands, sees to follow-ups after {days} days, and agrees to load steps "
          "that wait for a yes.").format(days=rehearsal.LOOKS_AFTER.days),
        _("An adult is present with young riders."),
    )  # fmt: skip


# --- in all -----------------------------------------------------------------------------------------------------------


def _facts(tally: Tally) -> tuple[tuple[str, str, str], ...]:
    asked, riders = max(tally.asked, 1), tally.riders
    opened = sum(number for _topic, number in tally.follow_ups)
    return (
        (_("Sessions asked"), str(tally.asked), ""),
        (_("Done"), f"{100 * tally.done // asked} %", _("{count} sessions").format(count=tally.done)),
        (
            _("Not done"),
            f"{100 * (tally.not_done + tally.silent) // asked} %",
            _("{told} told, {silent} in silence").format(told=tally.not_done, silent=tally.silent),
        ),
        (_("Called off"), str(tally.called_off), _("after a report")),
        (_("Follow-ups"), str(opened), _("{each} a rider").format(each=plots.number_words(opened / riders))),
        (_("Safety properties broken"), str(len(tally.broken)), ""),
    )


def _plot_week(tally: Tally, at: int, races: Sequence[Race]) -> plots.PlotWeek:
    week = tally.weeks[at]
    days = week_days(week.week)
    begins = outlines.begins_month([week_days(one.week)[0] for one in tally.weeks], at)
    here = [race.name for race in races if days[0] <= race.on <= days[6]]
    return plots.PlotWeek(
        name=_week_name(week),
        month=date_format(days[0], "M") if begins else "",
        phase=outlines.phase_words(week.phase),
        race=", ".join(here),
    )


def _week_name(week: WeekTally) -> str:
    return _("Week {number}, from {day}").format(
        number=week.place,
        day=date_format(week_days(week.week)[0], pgettext("date format", "j F Y")),
    )


def _phase(week: WeekTally) -> str:
    words = outlines.phase_words(week.phase)
    return _("{phase}, light").format(phase=words) if week.is_light else words


# --- chapters ---------------------------------------------------------------------------------------------------------


def _table(heads: Sequence[str], rows: Sequence[Row], *, words: Sequence[int] = (0,)) -> Table:
    columns = tuple({"label": head, "is_figure": at not in words} for at, head in enumerate(heads))
    return Table(columns, tuple(rows))


def _sessions(tally: Tally, axis: plots.Axis) -> Chapter:
    said = _("{asked} sessions asked of {riders} riders in {weeks} weeks, {done} of them done.").format(
        asked=tally.asked, riders=tally.riders, weeks=len(tally.weeks), done=tally.done
    )
    weeks = tally.weeks
    heads = (
        _("Week"),
        _("Most riders"),
        _("Asked"),
        _("Done"),
        _("Not done"),
        _("In silence"),
        _("Called off"),
    )
    rows = [
        (
            _week_name(week),
            _phase(week),
            *map(str, (week.asked, week.done, week.not_done, week.silent, week.called_off)),
        )
        for week in weeks
    ]
    return Chapter(
        "sessions",
        _("Sessions asked and done"),
        _("All riders together. In outline what was asked, filled what was done."),
        plots.draw_bars(axis, [week.asked for week in weeks], [week.done for week in weeks], words=said),
        _table(heads, rows, words=(0, 1)),
    )


def _minutes(tally: Tally, axis: plots.Axis) -> Chapter:
    weeks = tally.weeks
    longest = max((week.minutes.high for week in weeks if week.minutes), default=0)
    said = _("Minutes a week, warm-up and cool-down included: {longest} at most.").format(longest=longest)
    rows = [(_week_name(week), _spread(week.minutes), _spread(week.room)) for week in weeks]
    heads = (_("Week"), _("Minutes planned"), _("Minutes the rider has"))
    return Chapter(
        "minutes",
        _("Minutes a week"),
        _(
            "The median rider with sessions, in shade from the lowest to the highest. Broken: what riders have."
        ),
        plots.draw_curve(
            axis,
            [_range(week.minutes) for week in weeks],
            words=said,
            name=_("minutes"),
            room=[float(week.room.middle) if week.room else None for week in weeks],
        ),
        _table(heads, rows),
    )


def _sets(tally: Tally, axis: plots.Axis) -> Chapter:
    weeks = tally.weeks
    patterns = list(dict.fromkeys(pattern for week in weeks for pattern, _sets in week.sets))
    by_week = [dict(week.sets) for week in weeks]
    names = [outlines.pattern_words(pattern) for pattern in patterns]
    drawn = [
        (name, [_range(sets.get(pattern)) for sets in by_week])
        for name, pattern in zip(names, patterns, strict=True)
    ]
    rows = [
        (_week_name(week), *(_spread(sets.get(pattern)) for pattern in patterns))
        for week, sets in zip(weeks, by_week, strict=True)
    ]
    return Chapter(
        "sets",
        _("Sets asked of each pattern"),
        _("The median rider with sessions; the thin line goes from the lowest to the highest."),
        plots.draw_rows(
            axis, drawn, words=_("Sets a week by pattern: {patterns}.").format(patterns=", ".join(names))
        ),
        _table((_("Week"), *names), rows),
    )


def _curve(curve: Curve, tally: Tally, axis: plots.Axis, names: Mapping[str, str]) -> Chapter:
    points = {point.place: point for point in curve.points}
    places = range(1, len(tally.weeks) + 1)
    amounts = [_range(points[place].amount) if place in points else plots.Range() for place in places]
    loads = [_range(points[place].kg) if place in points else plots.Range() for place in places]
    measures = {point.measure for point in curve.points}
    amount_name = _("reps") if measures == {Measure.REPS} else _("reps or seconds")
    name = outlines.pattern_words(curve.pattern)
    has_load = any(load.middle is not None for load in loads)
    said = _("{pattern}: {amounts}{loads} of the main exercise, week by week.").format(
        pattern=name, amounts=amount_name, loads=_(" and kg") if has_load else ""
    )
    if has_load:
        plot = plots.draw_curve(
            axis, loads, words=said, name=_("kg, of those with a load in kg"), below=(amount_name, amounts)
        )
    else:
        plot = plots.draw_curve(axis, amounts, words=said, name=amount_name)
    heads = (
        _("Week"),
        _("What most do"),
        _("Riders"),
        _("Sets"),
        outlines.capital(amount_name),
        _("kg"),
        _("With kg"),
    )
    by_place = {week.place: week for week in tally.weeks}
    rows = [
        (
            _week_name(by_place[point.place]),
            names.get(point.exercise, point.exercise),
            _("{some} of {all}").format(some=point.on_it, all=point.riders),
            _spread(point.sets),
            _spread(point.amount),
            _spread(point.kg),
            str(point.kg.count if point.kg else 0),
        )
        for point in curve.points
    ]
    return Chapter(
        f"curve-{curve.pattern.value}",
        name,
        _("The main exercise as it was asked last in each week: the median rider, in shade from the lowest to the "
          "highest."),
        plot,
        _table(heads, rows, words=(0, 1)),
        _where_it_goes(curve.points, names),
    )  # fmt: skip


def _where_it_goes(points: Sequence[CurvePoint], names: Mapping[str, str]) -> tuple[str, ...]:
    """What most riders do, from which week to which; what lasts no more than two weeks is left to the table."""
    runs: list[tuple[str, int, int]] = []
    for slug, run in groupby(points, key=lambda point: point.exercise):
        places = [point.place for point in run]
        if len(places) < LASTING and len(points) >= LASTING:
            continue
        if runs and runs[-1][0] == slug:
            runs[-1] = (slug, runs[-1][1], places[-1])
        else:
            runs.append((slug, places[0], places[-1]))
    return tuple(
        _("Most riders, weeks {first} to {last}: {exercise}").format(
            first=first, last=last, exercise=names.get(slug, slug)
        )
        for slug, first, last in runs
    )


def _follow_ups(tally: Tally, axis: plots.Axis) -> Chapter:
    topics = [topic for topic, _number in tally.follow_ups]
    names = [outlines.capital(str(label(topic))) for topic in topics]
    counts = [dict(week.follow_ups) for week in tally.weeks]
    drawn = [
        (
            name,
            [plots.Range(middle=float(week[topic])) if topic in week else plots.Range() for week in counts],
        )
        for name, topic in zip(names, topics, strict=True)
    ]
    rows = [
        (_week_name(week), *(str(count.get(topic, 0)) for topic in topics))
        for week, count in zip(tally.weeks, counts, strict=True)
    ]
    return Chapter(
        "follow-ups",
        _("Follow-ups opened"),
        _("All riders together, by what they are about."),
        plots.draw_rows(
            axis, drawn, words=_("Follow-ups by week: {topics}.").format(topics=", ".join(names))
        ),
        _table((_("Week"), *names), rows),
    )


def _range(values: Spread | None) -> plots.Range:
    if values is None:
        return plots.Range()
    return plots.Range(float(values.low), float(values.middle), float(values.high))


def _spread(values: Spread | None) -> str:
    """``8 (5 to 12)``, or one number where all are the same."""
    if values is None:
        return "–"
    low, middle, high = (plots.number_words(float(one)) for one in (values.low, values.middle, values.high))
    if low == high:
        return middle
    return _("{middle} ({low} to {high})").format(middle=middle, low=low, high=high)
