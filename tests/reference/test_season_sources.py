"""The season's numbers against the studies they are taken from. Where a study is stretched, the check says so.

| what | published | source | tag |
|---|---|---|---|
| two sessions a week, then one, kept strength | 12 weeks, then 13 | Rønnestad 2010, Eur J Appl Physiol 110 | C1 |
| taper: length, cut of volume, intensity, frequency | 2 weeks, 41 to 60 %, unchanged, unchanged | Bosquet 2007, Med Sci
  Sports Exerc 39(8): endurance training, an extrapolation here | C1 |
| strength gains with endurance work 0, 6, 24 h away | lower at 0 h than at 6 and 24 h | Robineau 2016, J Strength Cond
  Res 30(3) | C1 |
| the same, pooled: loss only in the same session | none from 3 h | Schumann 2022, Sports Med | C1 |
| strength days a week for adults | at least 2 | WHO 2020, Br J Sports Med 54 | C2 |
| strength days a week under 18, not on days that touch | at most 3 | NSCA 2009, J Strength Cond Res 23(5) | M |

C1 seen in the paper, C2 in a page that restates it, M from memory.
"""

from datetime import date, timedelta
from itertools import pairwise
from statistics import mean

import pytest

from athletes.vocabulary import RacePriority
from programs.engine.facts import (
    Block,
    Opening,
    Phase,
    Race,
    Ride,
    Rider,
    SessionRecord,
    SessionState,
    Week,
    WeekFacts,
)
from programs.engine.quantities import shift_week, week_days
from programs.engine.races import RACE_WEEK_DAYS, TAPER_DAYS, cut_on, diary_of
from programs.engine.season import USUAL_SESSIONS, phase_of
from programs.engine.spots import APART, MOST_SESSIONS, PlaceFacts
from programs.engine.strength import age_limits
from programs.engine.week import place

FIRST = Week(2026, 1)
RIDER = Rider(youngest_age=30, oldest_age=31)


def weeks_done(weeks: int, per_week: int, first: Week) -> list[SessionRecord]:
    records = []
    for at in range(weeks):
        week = shift_week(first, at)
        for ordinal in range(1, per_week + 1):
            on = week_days(week)[3 * ordinal - 2]
            records.append(SessionRecord(week, ordinal, on, SessionState.DONE, done_on=on))
    return records


def test_p8_a_season_of_12_weeks_at_two_and_13_at_one_is_planned_as_it_was_studied() -> None:
    season = shift_week(FIRST, 12)
    races = tuple(
        Race(week_days(shift_week(season, at))[6], 540, "Club race", RacePriority.OTHER)
        for at in range(0, 14, 3)
    )
    block = Block(FIRST, shift_week(FIRST, 30), Phase.BUILD, sessions=2, templates=())
    sessions = [*weeks_done(12, 2, FIRST), *weeks_done(13, 1, season)]
    counts = []
    for at in range(25):
        week = shift_week(FIRST, at)
        past = tuple(record for record in sessions if record.week < week)
        facts = WeekFacts(week, week_days(week)[0], RIDER, (block,), (), (), sessions=past, races=races)
        decision = phase_of(facts)
        counts.append(decision.sessions)
        assert (decision.phase is Phase.MAINTAIN) is (at >= 12), at
    assert counts == [2] * 12 + [1] * 13


def test_p9_the_cuts_of_the_two_weeks_before_a_race_average_within_the_published_band() -> None:
    race = Race(date(2026, 7, 26), 540, "Cup", RacePriority.PRIORITY)
    cuts = [cut_on(diary_of([race]), race.on - timedelta(days=before)) or 0 for before in range(14)]
    assert len(TAPER_DAYS) + len(RACE_WEEK_DAYS) == 14
    assert 41 <= mean(cuts) <= 60
    assert [later <= earlier for earlier, later in pairwise(cuts)] == [True] * 13  # deeper towards the race
    assert cut_on(diary_of([race]), race.on - timedelta(days=14)) is None


def points_at(hours: int) -> int:
    """Points for a session that begins so many hours after a key ride ends."""
    end = 8 * 60
    minutes = end + hours * 60
    opening = Opening(date(2026, 7, 21) + timedelta(days=minutes // 1440), minutes % 1440, 60, "home")
    facts = PlaceFacts(Week(2026, 30), 1, (opening,), rides=(Ride(date(2026, 7, 21), 6 * 60, 120, key=True),))
    return sum(cost.points for cost in place(facts).costs)


def test_w1_the_steps_respect_both_of_two_studies_that_disagree() -> None:
    zero, three, six, day = (points_at(hours) for hours in (0, 3, 6, 24))
    assert zero > three  # Schumann 2022: 3 h suffice against the loss of one session
    assert three > six  # Robineau 2016: 6 h and more against 0 h
    assert six > day == 0  # Robineau 2016: endurance gained most at 24 h


@pytest.mark.parametrize(("rider", "most"), [(RIDER, 3), (Rider(youngest_age=16, oldest_age=16), 3)])
def test_y1_sessions_a_week_stay_within_what_is_published(rider: Rider, most: int) -> None:
    assert USUAL_SESSIONS >= 2  # WHO 2020; the racing months go below it, as practice and said so
    assert min(age_limits(rider).max_days, MOST_SESSIONS) <= most
    assert APART == 2  # a clear day between
