"""A program of a club, rehearsed: its script, people like the squad's, and their seasons a few at a time.

    rehearsal = rehearsals.Rehearsal(rehearsals.script_of(program), cast, library)
    rehearsal = rehearsals.go_on(rehearsal, seconds=1.0)

Nothing is written. So that no request takes long, riders live one after the other until the time is over; what has been
lived goes to the reader as a signed parcel and comes back with the next request. Read inside `access.within(club)`.
"""

import time
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.core import signing
from django.db.models import Q

from athletes import vocabulary
from athletes.models import Club, Race, Rider, Squad
from programs import facts as translator
from programs import outlines
from programs.engine import codec
from programs.engine import facts as engine
from programs.engine.cast import Cast, Surroundings, WeeklyRide, WeeklyTime
from programs.engine.played import PlayedSeason
from programs.engine.quantities import week_days, week_of
from programs.engine.rehearsal import Script, rehearse
from programs.models import Program

#: Races this long after the program's first day still bear on its last weeks.
LONGEST = timedelta(weeks=110)
#: A parcel is good for as long as somebody may look at the page that holds it.
PARCEL_SALT, PARCEL_LASTS = "programs.rehearsals", timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What is rehearsed, by whom, and the seasons that have been lived so far, in the order of riders."""

    script: Script
    cast: Cast
    library: engine.Library
    lived: tuple[PlayedSeason, ...] = ()

    @property
    def is_over(self) -> bool:
        return len(self.lived) >= self.cast.riders

    @property
    def name(self) -> str:
        """Tells it from any other: equal when program, cast, library and rules are."""
        return codec.digest(
            [
                codec.to_document(self.script),
                codec.to_document(self.cast),
                self.library.digest,
                engine.ENGINE,
            ]
        )


def go_on(rehearsal: Rehearsal, *, seconds: float) -> Rehearsal:
    """The next riders live their season, one at least, and no more begins once `seconds` are over."""
    ends, lived = time.monotonic() + seconds, list(rehearsal.lived)
    while len(lived) < rehearsal.cast.riders:
        lived.append(rehearse(rehearsal.script, rehearsal.cast, rehearsal.library, number=len(lived)))
        if time.monotonic() >= ends:
            break
    return replace(rehearsal, lived=tuple(lived))


def pack(rehearsal: Rehearsal) -> str:
    """What has been lived so far as text that can leave the house and be told on its return."""
    document = [codec.to_document(season) for season in rehearsal.lived]
    return signing.dumps([rehearsal.name, document], salt=PARCEL_SALT, compress=True)


def unpack(rehearsal: Rehearsal, parcel: str) -> Rehearsal:
    """The rehearsal with what the parcel holds; as it was where that is of another one, too old, or not ours."""
    try:
        name, document = signing.loads(parcel, salt=PARCEL_SALT, max_age=PARCEL_LASTS)
    except signing.BadSignature:
        return rehearsal
    if name != rehearsal.name:
        return rehearsal
    lived = tuple(codec.from_document(PlayedSeason, season) for season in document)
    return replace(rehearsal, lived=lived)


# --- what is read -----------------------------------------------------------------------------------------------------


def script_of(program: Program) -> Script:
    """The program's blocks and the races of its squad and club, as the engine sees them."""
    races = Race.objects.filter(
        Q(squad=program.squad_id) | Q(squad__isnull=True),
        on__gte=program.starts_on,
        on__lt=program.starts_on + LONGEST,
    )
    return Script(
        first=week_of(program.starts_on),
        blocks=outlines.blocks_of(program),
        races=tuple(
            engine.Race(
                row.on, translator.minutes_of(row.start), row.name, vocabulary.RacePriority(row.priority)
            )
            for row in races
        ),
    )


def likes_of(squad: Squad, *, club: Club, today: date) -> tuple[Surroundings, ...]:
    """What surrounds each rider of the squad who has times and kit: age, minutes, kit, weekly times and rides, levels.

    Nothing about health: no limit, no report, no screening, no growth that somebody entered. An adult is taken to be
    present with the young.
    """
    week = week_of(today)
    riders = list(Rider.objects.filter(squad=squad).current().select_related("club", "squad").order_by("pk"))
    gathered = translator.gather(club=club, riders=riders, week=week, today=today)
    return tuple(_like(one.facts) for one in gathered if one.facts.openings and one.facts.venues)


def _like(facts: engine.WeekFacts) -> Surroundings:
    known = facts.rider
    days = week_days(facts.week)
    return Surroundings(
        rider=engine.Rider(
            youngest_age=known.youngest_age,
            oldest_age=known.oldest_age,
            trains_alone=known.trains_alone,
            adult_present=known.youngest_age < 18,
            minutes_cap=known.minutes_cap,
        ),
        venues=facts.venues,
        times=tuple(
            WeeklyTime(one.on.weekday(), one.start, one.minutes, one.venue, one.preferred)
            for one in facts.openings
        ),
        rides=tuple(
            WeeklyRide(one.on.weekday(), one.start, one.minutes, one.key)
            for one in facts.rides
            if days[0] <= one.on <= days[6]
        ),
        standings=tuple(replace(one, since_on=None) for one in facts.standings),
    )
