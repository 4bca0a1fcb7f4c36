"""A program of a club, read for a rehearsal: its script, and people like the squad's. Nothing is written.

    script = rehearsals.script_of(program)
    likes = rehearsals.likes_of(program.squad, club=club, today=today)

Call inside `access.within(club)`.
"""

from dataclasses import replace
from datetime import date, timedelta

from django.db.models import Q

from athletes import vocabulary
from athletes.models import Club, Race, Rider, Squad
from programs import facts as translator
from programs import outlines
from programs.engine import facts as engine
from programs.engine.cast import Surroundings, WeeklyRide, WeeklyTime
from programs.engine.quantities import week_days, week_of
from programs.engine.rehearsal import Script
from programs.models import Program

#: Races this long after the program's first day still bear on its last weeks.
LONGEST = timedelta(weeks=110)


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
