"""The places where a session could stand in a week: what bars each one and what it costs (rule W1).

W1  What bars a spot: the rider is away; the day has passed; the venue has no kit on record; the time is too short; a
    ride is under way; a race is near (P9) or on that day; the day before or after already has a session, by actual
    dates and across week borders; a coach pinned the session to another day. What a spot costs: hours from key rides
    (S: Robineau 2016 for 6 and 24 h, Schumann 2022 for 3 h; that the two disagree is why there are steps), legs fresh
    for the next key ride (practice), a time the rider likes less, another day than last week (practice). The points
    are ours: a unitless order of importance, shown to the coach by term.
P9  Legs rest at least 72 h before a priority race, 48 h before another race and 24 h before a minor one (practice);
    a session without leg work keeps 24 h from every race, and nothing stands on the day of a race (ours).

Times are local and hours are counted on the clock's face: in the night of a clock change a gap may be an hour off.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from athletes.values import value_class
from athletes.vocabulary import Day, RacePriority
from programs.engine.facts import Absence, Opening, Race, Ride, Week
from programs.engine.quantities import week_starts_on

DAY_MINUTES: Final = 24 * 60
#: Most sessions of a week, whatever is asked (I4).
MOST_SESSIONS: Final = 3
#: Smallest difference in days between two sessions: one clear day between them.
APART: Final = 2

# What can bar a spot, as bits, so that one can be lifted to see whether it did the harm.
AWAY: Final = 1
PAST: Final = 2
NO_KIT: Final = 4
SHORT: Final = 8
ON_A_RIDE: Final = 16
NEAR_A_RACE: Final = 32
NEXT_TO_A_SESSION: Final = 64
PINNED_ELSEWHERE: Final = 128
CAPPED: Final = 256
SAME_DAY: Final = 512  # never lifted

#: Hours of rest for the legs before a race (P9).
GAP_HOURS: Final = {RacePriority.PRIORITY: 72, RacePriority.OTHER: 48, RacePriority.MINOR: 24}
#: Hours that a session without leg work keeps from any race (ours).
GAP_HOURS_WITHOUT_LEGS: Final = 24

# Points by term (ours). Moving a session that was sent outweighs all the rest: it is done only when it must be.
NEAR_STRONG: Final = 100  # under 3 h from a key ride
NEAR_MILD: Final = 40  # 3 to under 6 h
NEAR_SLIGHT: Final = 10  # 6 to under 24 h
TIRED_LEGS: Final = 30  # leg work that ends less than 24 h before a key ride
LESS_LIKED: Final = 12
OTHER_DAY: Final = 6
OUT_OF_ORDER: Final = 15  # for each pair of sessions in the wrong order
LONG_GAP: Final = 300  # more than the most days since the last session (P8)
MOVED: Final = 2000

#: The terms of a price and what they stand for; filled into sentences elsewhere.
TERMS: Final[dict[str, str]] = {
    "near-key-ride": "close to a key ride",
    "tired-legs": "leg work in the day before a key ride",
    "less-liked-time": "a time that the rider likes less",
    "other-day": "another day than last week",
    "out-of-order": "sessions in another order",
    "long-gap": "too many days since the last session",
    "moved": "another day than planned",
}


@value_class
class Cap:
    """At most `most` sessions from `from_on` to `until_on`, both included, done and fixed ones counted (P9: one in
    the last days before a priority race)."""

    from_on: date
    until_on: date
    most: int


@value_class
class PlaceFacts:
    """What decides where the sessions of a week stand.

    `count` sessions are placed; `ordinals` names them (1 to `count` when empty) and `legs` says for each whether it
    works the legs (all do when empty). `openings` outside the week are ignored. `venues` are those with kit on record
    (None: all). `done_on` are the actual dates of sessions already done, before and within the week; `fixed_on` dates
    of later sessions that stand, such as next week's. `pinned` are (ordinal, date) that a coach fixed, `planned`
    those that were sent and should stay if they can. `minutes` is how long a session is expected to take,
    `least_minutes` the shortest opening worth using (ours). `max_gap_days` is P8's ten days in a maintain week.
    """

    week: Week
    count: int
    openings: tuple[Opening, ...]
    rides: tuple[Ride, ...] = ()
    races: tuple[Race, ...] = ()
    absences: tuple[Absence, ...] = ()
    done_on: tuple[date, ...] = ()
    fixed_on: tuple[date, ...] = ()
    ordinals: tuple[int, ...] = ()
    legs: tuple[bool, ...] = ()
    usual_days: frozenset[Day] = frozenset()
    pinned: tuple[tuple[int, date], ...] = ()
    planned: tuple[tuple[int, date], ...] = ()
    venues: frozenset[str] | None = None
    not_before: date | None = None
    minutes: int = 60
    least_minutes: int = 20
    max_days: int = MOST_SESSIONS
    max_gap_days: int | None = None
    caps: tuple[Cap, ...] = ()


@dataclass(slots=True)
class Spot:
    """One opening of the week as the search sees it. `day` counts from Monday 0; `blocks` bars every session,
    `leg_blocks` those with leg work; the rest are points by term."""

    opening: Opening
    day: int
    blocks: int
    leg_blocks: int
    near: int
    tired: int
    less_liked: int
    other_day: int


def gap_hours(race: Race) -> int:
    """Hours that leg work keeps from the start of the race (P9): 72, 48 or 24."""
    return GAP_HOURS[race.priority]


def spots_of(facts: PlaceFacts) -> list[Spot]:
    """Every opening of the week with what bars it and what it costs, in order of date, start and venue."""
    monday = week_starts_on(facts.week).toordinal()
    rides = _spans_of_rides(facts.rides, monday)
    key_rides = [(start, end) for start, end, key in rides if key]
    races = _starts_of_races(facts.races, monday)
    away = [
        (item.from_on.toordinal() - monday, item.until_on.toordinal() - monday) for item in facts.absences
    ]
    # Those further off can bar nothing; a rider's whole history may be in the facts.
    held = [
        day
        for on in (*facts.done_on, *facts.fixed_on)
        if -APART < (day := on.toordinal() - monday) < 6 + APART
    ]
    first_day = facts.not_before.toordinal() - monday if facts.not_before else 0
    some_liked = any(opening.preferred for opening in facts.openings)
    spots = []
    for opening in sorted(facts.openings, key=_order_of_opening):
        day = opening.on.toordinal() - monday
        if not 0 <= day < 7:
            continue
        start = day * DAY_MINUTES + opening.start
        end = start + min(opening.minutes, facts.minutes)
        blocks = PAST if day < first_day else 0
        if opening.minutes < facts.least_minutes:
            blocks |= SHORT
        if facts.venues is not None and opening.venue not in facts.venues:
            blocks |= NO_KIT
        for first, last in away:
            if first <= day <= last:
                blocks |= AWAY
        for other in held:
            if -APART < day - other < APART:
                blocks |= SAME_DAY if day == other else NEXT_TO_A_SESSION
        for ride_start, ride_end, _key in rides:
            if ride_start < end and start < ride_end:
                blocks |= ON_A_RIDE
        near, tired = _ride_points(start, end, key_rides) if key_rides else (0, 0)
        plain_race, leg_race = _race_blocks(day, start, end, races) if races else (0, 0)
        spots.append(
            Spot(
                opening=opening,
                day=day,
                blocks=blocks | plain_race,
                leg_blocks=blocks | leg_race,
                near=near,
                tired=tired,
                less_liked=LESS_LIKED if some_liked and not opening.preferred else 0,
                other_day=OTHER_DAY if facts.usual_days and day not in facts.usual_days else 0,
            )
        )
    return spots


def blocks_and_points(
    facts: PlaceFacts, spots: Sequence[Spot], ordinals: Sequence[int], legs: Sequence[bool]
) -> tuple[list[list[int]], list[list[int]]]:
    """For each spot and session, the bits that bar it and its points, the terms of order and gap apart."""
    pinned, planned = dict(facts.pinned), dict(facts.planned)
    blocks, points = [], []
    for spot in spots:
        base = spot.near + spot.less_liked + spot.other_day
        block_row, point_row = [], []
        for ordinal, works_legs in zip(ordinals, legs, strict=True):
            block = spot.leg_blocks if works_legs else spot.blocks
            if pinned and pinned.get(ordinal, spot.opening.on) != spot.opening.on:
                block |= PINNED_ELSEWHERE
            price = base + spot.tired if works_legs else base
            if planned and planned.get(ordinal, spot.opening.on) != spot.opening.on:
                price += MOVED
            block_row.append(block)
            point_row.append(price)
        blocks.append(block_row)
        points.append(point_row)
    return blocks, points


def _order_of_opening(opening: Opening) -> tuple[date, int, str]:
    return opening.on, opening.start, opening.venue


def _spans_of_rides(rides: Sequence[Ride], monday: int) -> list[tuple[int, int, bool]]:
    """Start and end of each ride that can matter to the week, in minutes from its Monday."""
    spans = []
    for ride in rides:
        day = ride.on.toordinal() - monday
        if -3 <= day <= 9:
            start = day * DAY_MINUTES + ride.start
            spans.append((start, start + ride.minutes, ride.key))
    return spans


def _starts_of_races(races: Sequence[Race], monday: int) -> list[tuple[int, int, int]]:
    """Day, start and minutes of rest for the legs of each race that can matter to the week."""
    starts = []
    for race in races:
        day = race.on.toordinal() - monday
        if 0 <= day <= 11:
            starts.append((day, day * DAY_MINUTES + race.start, GAP_HOURS[race.priority] * 60))
    return starts


def _ride_points(start: int, end: int, key_rides: Sequence[tuple[int, int]]) -> tuple[int, int]:
    """Points for the nearest key ride either side, and for leg work in the day before one (W1)."""
    nearest = DAY_MINUTES
    tired = 0
    for ride_start, ride_end in key_rides:
        gap = ride_start - end if ride_start >= end else max(0, start - ride_end)
        nearest = min(nearest, gap)
        if 0 <= ride_start - end < DAY_MINUTES:
            tired = TIRED_LEGS
    if nearest < 3 * 60:
        return NEAR_STRONG, tired
    if nearest < 6 * 60:
        return NEAR_MILD, tired
    return (NEAR_SLIGHT if nearest < DAY_MINUTES else 0), tired


def _race_blocks(day: int, start: int, end: int, races: Sequence[tuple[int, int, int]]) -> tuple[int, int]:
    """Whether a race bars the spot for a session without leg work, and for one with it (P9)."""
    plain = legs = 0
    for race_day, race_start, gap in races:
        if race_day == day:
            plain = legs = NEAR_A_RACE
        elif start < race_start:
            if race_start - end < gap:
                legs = NEAR_A_RACE
            if race_start - end < GAP_HOURS_WITHOUT_LEGS * 60:
                plain = NEAR_A_RACE
    return plain, legs
