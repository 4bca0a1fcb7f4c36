"""The season's numbers against the studies they are taken from. Where a study is stretched, the check says so."""

from datetime import date, timedelta
from itertools import pairwise
from statistics import mean

from athletes.vocabulary import RacePriority
from programs.engine.facts import (
    Absence,
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
from programs.engine.races import cut_on, diary_of
from programs.engine.season import phase_of
from programs.engine.spots import PlaceFacts
from programs.engine.strength import age_limits
from programs.engine.week import place
from tests.reference.checks import Between, Check, Confidence, against
from tests.reference.sources import (
    ACSM_2009,
    ACSM_2026,
    BOSQUET_2007,
    CSCCA,
    LLOYD,
    METHENITIS,
    NSCA_YOUTH,
    ROBINEAU,
    RONNESTAD_2010,
    SCHUMANN,
    UK_CMO,
    WANG,
    WHO_2020,
)

C1, C2, CALC, M = Confidence.C1, Confidence.C2, Confidence.CALC, Confidence.M
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


# --- P8 ---------------------------------------------------------------------------------------------------------------


def planned_season(weeks: int) -> list[tuple[Phase, int]]:
    """The phase and sessions of each week of a season that races from its 13th week on, done as it was studied."""
    season = shift_week(FIRST, 12)
    races = tuple(
        Race(week_days(shift_week(season, at))[6], 540, "Club race", RacePriority.OTHER)
        for at in range(0, 14, 3)
    )
    block = Block(FIRST, shift_week(FIRST, 30), Phase.BUILD, sessions=2, templates=())
    sessions = [*weeks_done(12, 2, FIRST), *weeks_done(13, 1, season)]
    found = []
    for at in range(weeks):
        week = shift_week(FIRST, at)
        past = tuple(record for record in sessions if record.week < week)
        decision = phase_of(
            WeekFacts(week, week_days(week)[0], RIDER, (block,), (), (), sessions=past, races=races)
        )
        found.append((decision.phase, decision.sessions))
    return found


@against(
    Check("P8", "weeks with two sessions, then with one", "25 weeks", 25, [2] * 12 + [1] * 13, RONNESTAD_2010, C1,
          "two a week, then one"),
    Check("P8", "the preparation alone", "12 weeks", 12, [2] * 12, RONNESTAD_2010, C1, "two a week, then one"),
)  # fmt: skip
def test_p8_a_season_of_12_weeks_at_two_and_13_at_one_is_planned_as_it_was_studied(given: int) -> list[int]:
    return [sessions for _phase, sessions in planned_season(given)]


def test_p8_the_weeks_with_one_session_are_the_ones_that_maintain() -> None:
    assert [phase is Phase.MAINTAIN for phase, _sessions in planned_season(25)] == [False] * 12 + [True] * 13


# --- P9 ---------------------------------------------------------------------------------------------------------------

RACE = Race(date(2026, 7, 26), 540, "Cup", RacePriority.PRIORITY)


def cuts_before(days: int) -> list[int]:
    """Percent of sets cut on each of the days up to the race, the race's own day last."""
    diary = diary_of([RACE])
    return [cut_on(diary, RACE.on - timedelta(days=before)) or 0 for before in reversed(range(days))]


@against(
    Check(
        "P9",
        "mean cut over the taper, per cent",
        "14 days",
        14,
        Between(41, 60),
        source,
        C1,
        "41 to 60 per cent",
    )
    for source in (BOSQUET_2007, WANG)
)
def test_p9_the_cuts_of_the_two_weeks_before_a_race_average_within_the_published_band(given: int) -> float:
    return mean(cuts_before(given))


@against(
    Check("P9", "days of a taper", "60 days", 60, days, source, C1, "length of a taper")
    for source, days in ((BOSQUET_2007, 14), (WANG, Between(None, 21)))
)
def test_p9_a_taper_is_as_long_as_published(given: int) -> int:
    return sum(cut > 0 for cut in cuts_before(given))


@against(
    Check(
        "P9", "whether the cuts deepen towards the race", "20 days", 20, True, source, C1, "a progressive cut"
    )
    for source in (BOSQUET_2007, WANG)
)
def test_p9_the_cut_deepens_towards_the_race(given: int) -> bool:
    cuts = cuts_before(given)
    return cuts[0] < cuts[-1] and all(earlier <= later for earlier, later in pairwise(cuts))


def build_week(week: Week, *, races: tuple[Race, ...] = ()) -> int:
    """Sessions of a week of a build block of a rider who trains twice a week."""
    block = Block(shift_week(week, -20), shift_week(week, 20), Phase.BUILD, sessions=2, templates=())
    past = tuple(weeks_done(20, 2, shift_week(week, -20)))
    facts = WeekFacts(week, week_days(week)[0], RIDER, (block,), (), (), sessions=past, races=races)
    return phase_of(facts).sessions


@against(
    Check("P10", "sessions in a week of the return", f"week {week} after {days} days", (week, days),
          Between(1, most), CSCCA, C2, "at most three days, then four")
    for days in (21, 42)
    for week, most in ((1, 3), (2, 4))
)  # fmt: skip
def test_p10_a_week_back_has_as_few_sessions_as_published(given: tuple[int, int]) -> int:
    number, days = given
    back = Week(2026, 30)
    away = shift_week(back, -days // 7)
    asked = shift_week(back, number - 1)
    block = Block(shift_week(back, -30), shift_week(back, 20), Phase.BUILD, sessions=3, templates=())
    past = [*weeks_done(20, 2, shift_week(away, -20)), *weeks_done(number - 1, 2, back)]
    away_days = Absence(week_days(away)[0], week_days(back)[0] - timedelta(days=1))
    facts = WeekFacts(
        asked, week_days(asked)[0], RIDER, (block,), (), (), sessions=tuple(past), absences=(away_days,)
    )
    decision = phase_of(facts)
    assert decision.phase is Phase.RETURN
    return decision.sessions


@against(
    Check(
        "P9",
        "days of training in the week before last",
        "a usual two",
        2,
        2,
        source,
        C1,
        "frequency unchanged",
    )
    for source in (BOSQUET_2007, WANG)
)
def test_p9_the_week_before_last_keeps_its_days(given: int) -> int:
    week = Week(2026, 29)
    assert week_days(week)[6] == RACE.on - timedelta(days=7)
    assert build_week(week) == given
    return build_week(week, races=(RACE,))


# --- W1 ---------------------------------------------------------------------------------------------------------------


def points_at(hours: int) -> int:
    """Points for a session that begins so many hours after a key ride ends."""
    end = 8 * 60
    minutes = end + hours * 60
    opening = Opening(date(2026, 7, 21) + timedelta(days=minutes // 1440), minutes % 1440, 60, "home")
    facts = PlaceFacts(Week(2026, 30), 1, (opening,), rides=(Ride(date(2026, 7, 21), 6 * 60, 120, key=True),))
    return sum(cost.points for cost in place(facts).costs)


@against(
    Check("W1", "whether the shorter gap costs more", f"{short} h against {long} h", (short, long), True, source, C1,
          f"gaps of {source.cite}")
    for source, short, long in (
        (SCHUMANN, 0, 3),  # a loss only in the same session, none from 3 h on
        (ROBINEAU, 0, 6),  # less strength gained at 0 h than at 6 h and 24 h
        (ROBINEAU, 0, 24),
        (ROBINEAU, 6, 24),  # endurance gained most at 24 h
        (METHENITIS, 2, 6),  # 3 to 6 h apart at least, better 24
        (METHENITIS, 6, 24),
    )
)  # fmt: skip
def test_w1_the_steps_respect_studies_that_disagree(given: tuple[int, int]) -> bool:
    short, long = given
    return points_at(short) > points_at(long)


@against(Check("W1", "points for a gap without any loss", "24 h", 24, 0, ROBINEAU, C1, "24 hours are free"))
def test_w1_a_day_between_ride_and_session_costs_nothing(given: int) -> int:
    return points_at(given)


# --- Y1 ---------------------------------------------------------------------------------------------------------------


@against(
    Check("Y1", "strength days in a build week", "an adult", Week(2026, 10), days, source, how, "days a week")
    for source, days, how in (
        (WHO_2020, Between(2, None), C2),
        (UK_CMO, Between(2, None), C2),
        (ACSM_2009, Between(2, 3), C1),
        (ACSM_2026, Between(2, None), C2),
    )
)
def test_y1_sessions_a_week_are_as_many_as_published(given: Week) -> int:
    """The racing months go below two, as practice, and say so."""
    return build_week(given)


@against(
    Check("W1", "days of training of a young rider with time on each day", "at 16, asked for 7", 16, days, source, how,
          "days that do not touch")
    for source, days, how in ((NSCA_YOUTH, Between(2, 3), M), (LLOYD, Between(2, 3), C2))
)  # fmt: skip
def test_w1_the_young_train_on_two_or_three_days_that_do_not_touch(given: int) -> int:
    limits = age_limits(Rider(youngest_age=given, oldest_age=given))
    days = [date(2026, 7, 20) + timedelta(days=day) for day in range(7)]
    openings = tuple(Opening(on, 1080, 60, "home") for on in days)
    found = place(PlaceFacts(Week(2026, 30), 7, openings, max_days=limits.max_days))
    chosen = [opening.on for _ordinal, opening in found.chosen]
    assert all((later - earlier).days > 1 for earlier, later in pairwise(chosen))
    return len(chosen)
