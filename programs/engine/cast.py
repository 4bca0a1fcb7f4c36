"""Who lives a season: synthetic riders, drawn from what was wished for.

    player = draw_player(Cast(riders=12, weeks=40, seed=7), library, number=3, draw=Random("7:3"))

Nobody here is measured: how old, with what kit, when they have time and how they respond are assumptions of ours.

Age        Dealt in turn where mixed: 1 of 8 under 18, 4 between 18 and 49, 2 from 50 to 64, 1 from 65 to 75. An adult
           is present for the young; from 16 on no growth spurt, before that it is not entered.
Kit        Dealt in turn where mixed, from nothing to a hall with a rack.
Time       Two or three openings a week, of 30, 40, 45 or 60 minutes unless told; two rides or one, the longest is key.
Levels     The movement check is passed up to level 3 or 4; under 18 to 2, from 50 to 2 or 3, from 65 to 1 or 2.
Bike       4 to 9 hours a week, give or take a fifth; one week in ten half as much again. Always entered.
Coming     95, 90, 90, 80 or 60 % of the sessions; 95 % of them reported. One rider in twenty goes quiet for good.
Strength   4 to 14 reps more than the first target are possible: it asks for little. Gains of 0.5, 0.8, 1, 1, 1.2 or 1.5
           times the usual, up to 1.6 times the first strength. One set in three is judged a rep too hard or too easy.
Pain       In each quarter of a year 1 rider in 4 gets a pain of 2 to 6 somewhere, beside what was wished for.
Illness    In each quarter of a year 3 riders in 10 are ill for 3 to 8 days, a third of them with fever.
Holiday    In each half year 7 riders in 10 are away for 7 or 14 days.
"""

from collections.abc import Sequence
from decimal import Decimal
from enum import StrEnum
from random import Random
from typing import Final

from athletes.values import value_class
from athletes.vocabulary import TRAINED, Furniture, Implement, Region, Side
from programs.engine.facts import (
    Barbell,
    CheckResult,
    FixedMass,
    Growth,
    Kit,
    Library,
    Rider,
    Standing,
)
from programs.engine.simulate import Episode, Persona, Spell
from programs.engine.strength import start_levels

QUARTER_WEEKS, HALF_YEAR_WEEKS = 13, 26
PAIN_A_QUARTER, ILL_A_QUARTER, FEVERISH, AWAY_A_HALF_YEAR, QUIET = 0.25, 0.3, 1 / 3, 0.7, 0.05
ATTENDS: Final = (0.95, 0.9, 0.9, 0.8, 0.6)
GAINS: Final = (0.5, 0.8, 1.0, 1.0, 1.2, 1.5)
CEILING, MISJUDGES, REPORTS, SPARE = 1.6, 1 / 3, 0.95, (4, 14)
PAIN_SCORES: Final = (2, 3, 3, 4, 4, 5, 6)
PAIN_SITES: Final = (
    (Region.KNEE, Side.LEFT),
    (Region.KNEE, Side.RIGHT),
    (Region.LOWER_BACK, Side.BOTH),
    (Region.LOWER_BACK, Side.BOTH),
    (Region.SHOULDER, Side.RIGHT),
    (Region.HIP, Side.LEFT),
    (Region.CALF, Side.RIGHT),
    (Region.BACK_THIGH, Side.LEFT),
)
ILL_DAYS: Final = (3, 8)
BIKE_HOURS: Final = (4, 9)
LEVELS: Final = {18: (2,), 50: (3, 4), 65: (2, 3), 120: (1, 2)}
MINUTES: Final = (30, 40, 45, 60)
HOME, HALL = "Home", "Hall"


class Ages(StrEnum):
    """How old the riders are."""

    MIXED = "mixed"
    UNDER_18 = "under-18"
    ADULT = "adult"
    FROM_50 = "from-50"
    FROM_65 = "from-65"


class KitName(StrEnum):
    """What the riders have to train with."""

    MIXED = "mixed"
    NONE = "none"
    ONE_BELL = "one-bell"
    BELLS = "bells"
    DUMBBELLS = "dumbbells"
    BANDS = "bands"
    HALL = "hall"


@value_class
class WeeklyTime:
    """An opening that comes each week: `weekday` from 0 for Monday, `start` in minutes from midnight."""

    weekday: int
    start: int
    minutes: int
    venue: str
    is_preferred: bool = False


@value_class
class WeeklyRide:
    """A ride that comes each week, as `WeeklyTime`."""

    weekday: int
    start: int
    minutes: int
    is_key: bool = False


@value_class
class Surroundings:
    """A rider's age and habits, kit, times, rides and levels: all that the engine asks before the first session."""

    rider: Rider
    venues: tuple[tuple[str, Kit], ...]
    times: tuple[WeeklyTime, ...]
    rides: tuple[WeeklyRide, ...]
    standings: tuple[Standing, ...]


@value_class
class Cast:
    """What was wished for. `minutes` None deals them; `attends` None too, else it is in percent. `pain` befalls
    every rider beside what chance brings. `likes`, where given, are dealt in turn in place of invented ages, kit, times
    and levels."""

    riders: int
    weeks: int
    seed: int
    kit: KitName = KitName.MIXED
    ages: Ages = Ages.MIXED
    minutes: int | None = None
    attends: int | None = None
    pain: Episode | None = None
    likes: tuple[Surroundings, ...] = ()


@value_class
class Player:
    """One synthetic rider: what surrounds them, how they respond, and the hours on the bike of each week."""

    number: int
    around: Surroundings
    persona: Persona
    bike_hours: tuple[Decimal, ...]


def draw_player(cast: Cast, library: Library, *, number: int, draw: Random) -> Player:
    """The rider of that number, from 0. The same cast and a generator in the same state give the same rider."""
    around = (
        cast.likes[number % len(cast.likes)]
        if cast.likes
        else _draw_surroundings(cast, library, number, draw)
    )
    return Player(number, around, _draw_persona(cast, draw), _draw_bike_hours(cast.weeks, draw))


# --- what surrounds them ----------------------------------------------------------------------------------------------


def kit_named(name: KitName) -> Kit:
    """The kit of that name. Raises `KeyError` for a mixture."""
    return _KITS[name]


def _bells(*masses: int) -> tuple[FixedMass, ...]:
    return tuple(FixedMass(Implement.KETTLEBELL, Decimal(kg)) for kg in masses)


_AT_HOME = frozenset({Furniture.CHAIR, Furniture.STEP, Furniture.TABLE, Furniture.TOWEL, Furniture.STICK})
_KITS: Final[dict[KitName, Kit]] = {
    KitName.NONE: Kit(furniture=_AT_HOME),
    KitName.ONE_BELL: Kit(furniture=_AT_HOME, fixed=_bells(12)),
    KitName.BELLS: Kit(furniture=_AT_HOME, fixed=_bells(8, 12, 16, 20, 24)),
    KitName.DUMBBELLS: Kit(
        furniture=_AT_HOME | {Furniture.BENCH},
        fixed=tuple(FixedMass(Implement.DUMBBELL, Decimal(kg), 2) for kg in (4, 6, 8, 10, 12, 15)),
    ),
    KitName.BANDS: Kit(furniture=_AT_HOME, bands=(1, 2, 3)),
    KitName.HALL: Kit(
        furniture=frozenset(Furniture),
        fixed=(
            *_bells(8, 12, 16, 20, 24),
            *(FixedMass(Implement.DUMBBELL, Decimal(kg), 2) for kg in range(4, 21, 2)),
        ),
        barbell=Barbell(
            Decimal(20), Decimal(0), tuple((Decimal(kg), 2) for kg in ("1.25", "2.5", "5", "10", "20"))
        ),
        bands=(1, 2, 3),
    ),
}
#: How mixed ages and kits are dealt, by the rider's number.
_DEALT_AGES: Final = (
    Ages.ADULT,
    Ages.ADULT,
    Ages.FROM_50,
    Ages.ADULT,
    Ages.UNDER_18,
    Ages.ADULT,
    Ages.FROM_50,
    Ages.FROM_65,
)
_DEALT_KITS: Final = (
    KitName.BELLS,
    KitName.DUMBBELLS,
    KitName.HALL,
    KitName.ONE_BELL,
    KitName.NONE,
    KitName.BELLS,
    KitName.BANDS,
)
_YEARS: Final[dict[Ages, tuple[int, int]]] = {
    Ages.UNDER_18: (14, 17),
    Ages.ADULT: (18, 49),
    Ages.FROM_50: (50, 64),
    Ages.FROM_65: (65, 75),
}
#: (weekday, start) of a rider's openings.
_TIMES: Final = (
    ((1, 18 * 60 + 30), (3, 18 * 60 + 30), (5, 8 * 60)),
    ((0, 19 * 60), (3, 19 * 60)),
    ((2, 7 * 60), (5, 10 * 60)),
    ((1, 6 * 60 + 30), (3, 6 * 60 + 30), (4, 6 * 60 + 30)),
    ((1, 19 * 60 + 30), (4, 18 * 60)),
)
_RIDES: Final = (
    (WeeklyRide(5, 9 * 60, 120), WeeklyRide(6, 9 * 60, 210, is_key=True)),
    (WeeklyRide(6, 8 * 60 + 30, 180, is_key=True),),
    (WeeklyRide(2, 18 * 60, 90), WeeklyRide(6, 9 * 60 + 30, 150, is_key=True)),
)


def _draw_surroundings(cast: Cast, library: Library, number: int, draw: Random) -> Surroundings:
    ages = _DEALT_AGES[number % len(_DEALT_AGES)] if cast.ages is Ages.MIXED else cast.ages
    name = _DEALT_KITS[number % len(_DEALT_KITS)] if cast.kit is KitName.MIXED else cast.kit
    age, kit, minutes = draw.randint(*_YEARS[ages]), kit_named(name), draw.choice(MINUTES)
    if cast.minutes is not None:
        minutes = cast.minutes
    at_hall = name is KitName.HALL
    venue = HALL if at_hall else HOME
    return Surroundings(
        rider=Rider(
            youngest_age=age,
            oldest_age=age,
            trains_alone=not at_hall,
            growth=Growth.NO if age >= 16 else Growth.UNKNOWN,
            adult_present=age < 18,
            minutes_cap=minutes,
        ),
        venues=((venue, kit),),
        times=tuple(WeeklyTime(day, start, minutes, venue) for day, start in draw.choice(_TIMES)),
        rides=draw.choice(_RIDES),
        standings=start_standings(library, _level(age, draw), [kit]),
    )


def _level(age: int, draw: Random) -> int:
    """Up to which level the movement check is passed."""
    return draw.choice(next(levels for below, levels in LEVELS.items() if age < below))


def start_standings(library: Library, level: int, kits: Sequence[Kit]) -> tuple[Standing, ...]:
    """The start levels of a rider who passes everything for beginners up to that level (S5)."""
    results = {
        exercise.slug: CheckResult.PASS if exercise.level <= level else CheckResult.NOT_YET
        for exercise in library.exercises
        if exercise.for_beginners and exercise.pattern in TRAINED
    }
    levels, _reasons = start_levels(library, results, kits)
    return tuple(Standing(pattern, slug) for pattern, slug in levels.items())


# --- how they respond -------------------------------------------------------------------------------------------------


def _draw_persona(cast: Cast, draw: Random) -> Persona:
    attends = draw.choice(ATTENDS) if cast.attends is None else cast.attends / 100
    gain = draw.choice(GAINS)
    quiet = draw.randrange(cast.weeks) if draw.random() < QUIET else None
    wished = (cast.pain,) if cast.pain is not None else ()
    return Persona(
        attends=attends,
        reports=REPORTS,
        gain=gain,
        quiet_from=quiet,
        episodes=(*wished, *_draw_episodes(cast.weeks, draw)),
        ceiling=CEILING,
        misjudges=MISJUDGES,
        spare=SPARE,
        heeds_bridges=True,
        illnesses=_draw_illnesses(cast.weeks, draw),
        holidays=_draw_holidays(cast.weeks, draw),
    )


def _draw_episodes(weeks: int, draw: Random) -> tuple[Episode, ...]:
    found = []
    for first in range(0, weeks, QUARTER_WEEKS):
        if draw.random() < PAIN_A_QUARTER:
            region, side = draw.choice(PAIN_SITES)
            found.append(
                Episode(first + draw.randrange(QUARTER_WEEKS), region, side, draw.choice(PAIN_SCORES))
            )
    return tuple(found)


def _draw_illnesses(weeks: int, draw: Random) -> tuple[Spell, ...]:
    found = []
    for first in range(0, weeks, QUARTER_WEEKS):
        if draw.random() < ILL_A_QUARTER:
            day = first * 7 + draw.randrange(QUARTER_WEEKS * 7)
            found.append(Spell(day, draw.randint(*ILL_DAYS), is_feverish=draw.random() < FEVERISH))
    return tuple(found)


def _draw_holidays(weeks: int, draw: Random) -> tuple[Spell, ...]:
    found = []
    for first in range(0, weeks, HALF_YEAR_WEEKS):
        if draw.random() < AWAY_A_HALF_YEAR:
            day = first * 7 + draw.randrange(HALF_YEAR_WEEKS * 7)
            found.append(Spell(day, draw.choice((7, 14))))
    return tuple(found)


def _draw_bike_hours(weeks: int, draw: Random) -> tuple[Decimal, ...]:
    usual = draw.randint(*BIKE_HOURS)
    hours = []
    for _week in range(weeks):
        factor = "1.5" if draw.random() < 0.1 else draw.choice(("0.8", "1", "1", "1.2"))
        hours.append((usual * Decimal(factor)).quantize(Decimal("0.1")))
    return tuple(hours)
