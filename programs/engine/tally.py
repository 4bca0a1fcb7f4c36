"""Many seasons side by side: of every week the median rider and the range, and what a coach wants to know in all.

    tally = count(seasons)
    tally.weeks[0].minutes.middle

A median stands with the lowest and the highest rider and with how many riders it is of: few riders have no average.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from decimal import Decimal
from statistics import median

from athletes.concerns import Topic
from athletes.values import value_class
from athletes.vocabulary import Pattern
from programs.engine.facts import Measure, Phase, Week
from programs.engine.played import Broken, Lift, PlayedSeason, PlayedWeek


@value_class
class Spread:
    """The lowest, the median and the highest of `count` values."""

    low: Decimal
    middle: Decimal
    high: Decimal
    count: int


@value_class
class WeekTally:
    """One week of all riders. `place` counts from 1, `phase` is that of most riders. Sessions are sums over riders;
    minutes, room and sets are of the riders with sessions."""

    place: int
    week: Week
    phase: Phase
    is_light: bool
    riders: int
    asked: int
    done: int
    not_done: int
    silent: int
    called_off: int
    minutes: Spread | None
    room: Spread | None
    sets: tuple[tuple[Pattern, Spread], ...]
    follow_ups: tuple[tuple[Topic, int], ...]


@value_class
class CurvePoint:
    """One pattern's main exercise in one week: `riders` had one, `exercise` is that of most of them; the loads are of
    those who had one in kg, the amounts of those with that exercise's measure."""

    place: int
    riders: int
    exercise: str
    on_it: int
    measure: Measure
    sets: Spread
    amount: Spread
    kg: Spread | None
    banded: int


@value_class
class Curve:
    """A pattern's main exercise over the weeks in which anybody had one."""

    pattern: Pattern
    points: tuple[CurvePoint, ...]


@value_class
class Tally:
    """All of it. `broken` are (rider's number, week's place from 1, what was broken)."""

    riders: int
    weeks: tuple[WeekTally, ...]
    curves: tuple[Curve, ...]
    follow_ups: tuple[tuple[Topic, int], ...]
    broken: tuple[tuple[int, int, Broken], ...]

    @property
    def asked(self) -> int:
        """Sessions asked of all riders in all weeks; `done`, `not_done`, `silent` and `called_off` likewise."""
        return sum(week.asked for week in self.weeks)

    @property
    def done(self) -> int:
        return sum(week.done for week in self.weeks)

    @property
    def not_done(self) -> int:
        return sum(week.not_done for week in self.weeks)

    @property
    def silent(self) -> int:
        return sum(week.silent for week in self.weeks)

    @property
    def called_off(self) -> int:
        return sum(week.called_off for week in self.weeks)


def spread(values: Iterable[Decimal | int]) -> Spread:
    """Lowest, median and highest. Raises `ValueError` for no value."""
    found = sorted(Decimal(value) for value in values)
    if not found:
        raise ValueError("no value to spread")
    return Spread(found[0], median(found), found[-1], len(found))


def _spread_if_any(values: Iterable[Decimal | int]) -> Spread | None:
    found = tuple(values)
    return spread(found) if found else None


def count(seasons: Sequence[PlayedSeason]) -> Tally:
    """The seasons, which must be of the same weeks, counted together."""
    if len({len(season.weeks) for season in seasons}) > 1:
        raise ValueError("seasons of different lengths")
    weeks = tuple(
        _week(place, rows)
        for place, rows in enumerate(zip(*(season.weeks for season in seasons), strict=True), start=1)
    )
    topics = Counter(topic for season in seasons for week in season.weeks for topic in week.follow_ups)
    return Tally(
        riders=len(seasons),
        weeks=weeks,
        curves=_curves(seasons),
        follow_ups=tuple((topic, topics[topic]) for topic in Topic if topics[topic]),
        broken=tuple(
            (season.number, place, broken)
            for season in seasons
            for place, week in enumerate(season.weeks, start=1)
            for broken in week.broken
        ),
    )


def _week(place: int, rows: Sequence[PlayedWeek]) -> WeekTally:
    trained = [row for row in rows if row.asked]
    topics = Counter(topic for row in rows for topic in row.follow_ups)
    return WeekTally(
        place=place,
        week=rows[0].week,
        phase=_most([row.phase for row in rows]),
        is_light=2 * sum(row.is_light for row in rows) > len(rows),
        riders=len(trained),
        asked=sum(row.asked for row in rows),
        done=sum(row.done for row in rows),
        not_done=sum(row.not_done for row in rows),
        silent=sum(row.silent for row in rows),
        called_off=sum(row.called_off for row in rows),
        minutes=_spread_if_any(row.minutes for row in trained),
        room=_spread_if_any(row.room for row in trained),
        sets=_sets(trained),
        follow_ups=tuple((topic, topics[topic]) for topic in Topic if topics[topic]),
    )


def _most[Value](values: Sequence[Value]) -> Value:
    """The most common value; of several the first met."""
    return Counter(values).most_common(1)[0][0]


def _sets(rows: Sequence[PlayedWeek]) -> tuple[tuple[Pattern, Spread], ...]:
    """Sets asked by pattern, a rider without the pattern counting as 0."""
    asked = [dict(row.sets) for row in rows]
    return tuple(
        (pattern, spread(sets.get(pattern, 0) for sets in asked))
        for pattern in Pattern
        if any(pattern in sets for sets in asked)
    )


# --- curves -----------------------------------------------------------------------------------------------------------


def _curves(seasons: Sequence[PlayedSeason]) -> tuple[Curve, ...]:
    found: dict[Pattern, dict[int, list[Lift]]] = {}
    for season in seasons:
        for place, week in enumerate(season.weeks, start=1):
            for pattern, lift in {lift.pattern: lift for lift in week.lifts}.items():
                found.setdefault(pattern, {}).setdefault(place, []).append(lift)
    return tuple(
        Curve(pattern, tuple(_point(place, lifts) for place, lifts in sorted(found[pattern].items())))
        for pattern in Pattern
        if pattern in found
    )


def _point(place: int, lifts: Sequence[Lift]) -> CurvePoint:
    exercise = _most([lift.exercise for lift in lifts])
    measure = next(lift.measure for lift in lifts if lift.exercise == exercise)
    return CurvePoint(
        place=place,
        riders=len(lifts),
        exercise=exercise,
        on_it=sum(lift.exercise == exercise for lift in lifts),
        measure=measure,
        sets=spread(lift.sets for lift in lifts),
        amount=spread(lift.amount for lift in lifts if lift.measure is measure),
        kg=_spread_if_any(lift.kg for lift in lifts if lift.kg is not None),
        banded=sum(lift.band is not None for lift in lifts),
    )
