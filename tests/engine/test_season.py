"""Y1 and Y2, and P7 to P10 by week: the intent of a week and how many sessions it has.

The week of the tables is 2026-W30 (20 to 26 July 2026), the eighth of a build block of twelve that began in 2026-W23,
unless a row says otherwise. What is not common practice here is this project's own.
"""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from athletes.concerns import BodyReport, ReportKind, Sign
from athletes.vocabulary import RacePriority, Region
from programs.engine.facts import (
    Absence,
    BikeWeek,
    Block,
    Phase,
    Race,
    Rider,
    SessionRecord,
    SessionState,
    Week,
    WeekFacts,
)
from programs.engine.quantities import shift_week, week_days, week_of
from programs.engine.races import diary_of, race_majority
from programs.engine.season import (
    REASONS,
    PhaseDecision,
    cut_for,
    phase_of,
    third_session,
    usual_bike_hours,
    weeks_at_two,
)

WEEK = Week(2026, 30)
MONDAY = date(2026, 7, 20)
SUNDAY = date(2026, 7, 26)
RIDER = Rider(youngest_age=30, oldest_age=31)


def block(intent: Phase = Phase.BUILD, sessions: int = 2, weeks_before: int = 4, weeks: int = 12) -> Block:
    """A block that began so many weeks before the week of the tables."""
    first = shift_week(WEEK, -weeks_before)
    return Block(first, shift_week(first, weeks - 1), intent, sessions, templates=())


def done(weeks: int, per_week: int = 2, ending_weeks_ago: int = 1) -> tuple[SessionRecord, ...]:
    """So many weeks of sessions, all done, the last of them so many weeks ago."""
    records = []
    for ago in range(ending_weeks_ago + weeks - 1, ending_weeks_ago - 1, -1):
        week = shift_week(WEEK, -ago)
        for ordinal in range(1, per_week + 1):
            on = week_days(week)[2 * ordinal - 1]
            records.append(SessionRecord(week, ordinal, on, SessionState.DONE, done_on=on))
    return tuple(records)


def bike(*hours: int | str, this_week: int | str | None = None) -> tuple[BikeWeek, ...]:
    """Hours of the weeks before, the latest last, and of the week itself."""
    entries = [BikeWeek(shift_week(WEEK, at - len(hours)), Decimal(one)) for at, one in enumerate(hours)]
    if this_week is not None:
        entries.append(BikeWeek(WEEK, Decimal(this_week)))
    return tuple(entries)


def facts(**changes: object) -> WeekFacts:
    plain: dict[str, object] = {
        "week": WEEK,
        "today": MONDAY,
        "rider": RIDER,
        "blocks": (block(),),
        "openings": (),
        "venues": (),
        "sessions": done(6),
    }
    return WeekFacts(**{**plain, **changes})  # type: ignore[arg-type]


def keys(decision: PhaseDecision) -> list[str]:
    return [reason.key for reason in decision.reasons]


def race(on: date, priority: RacePriority = RacePriority.PRIORITY, name: str = "Wexenfold Cup") -> Race:
    return Race(on, 9 * 60, name, priority)


def days_to(days: int) -> date:
    return MONDAY + timedelta(days=days)


# --- Y1 ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "phase", "sessions", "expected"),
    [
        ({}, Phase.BUILD, 2, ["phase-of-block"]),
        ({"blocks": ()}, Phase.REST, 0, ["no-block"]),
        ({"blocks": (block(weeks=4),)}, Phase.REST, 0, ["no-block"]),
        ({"blocks": (block(sessions=1),)}, Phase.BUILD, 1, ["phase-of-block"]),
        ({"blocks": (block(Phase.LEARN),)}, Phase.LEARN, 2, ["phase-of-block"]),
        ({"blocks": (block(Phase.REST, 0),)}, Phase.REST, 0, ["phase-of-block"]),
        ({"absences": (Absence(days_to(-3), days_to(3)),)}, Phase.REST, 0, ["rest-for-absence"]),
        ({"absences": (Absence(days_to(-3), days_to(2)),)}, Phase.BUILD, 2, ["phase-of-block"]),
        ({"sessions": ()}, Phase.LEARN, 2, ["phase-learn"]),
        ({"sessions": done(3)[1:]}, Phase.LEARN, 2, ["phase-learn"]),
        ({"sessions": done(3)}, Phase.BUILD, 2, ["phase-of-block"]),
        ({"blocks": (block(Phase.TAPER),)}, Phase.TAPER, 2, ["phase-of-block"]),
    ],
)
def test_y1_a_week_has_one_phase_and_says_why(
    changes: dict[str, object], phase: Phase, sessions: int, expected: list[str]
) -> None:
    decision = phase_of(facts(**changes))
    assert (decision.phase, decision.sessions, keys(decision)) == (phase, sessions, expected)


def test_y1_of_two_blocks_the_one_that_began_last_counts() -> None:
    late = block(Phase.LEARN, weeks_before=1)
    decision = phase_of(facts(blocks=(block(), late, block(weeks_before=8))))
    assert decision.block is late
    assert decision.week_in_block == 2


def test_y1_sessions_that_were_not_done_teach_nothing() -> None:
    records = tuple(replace(record, state=SessionState.NOT_DONE, done_on=None) for record in done(6))
    assert phase_of(facts(sessions=records)).phase is Phase.LEARN


def test_s3_no_more_sessions_than_the_riders_age_allows() -> None:
    decision = phase_of(facts(), max_days=1)
    assert decision.sessions == 1
    assert keys(decision)[-1] == "most-days"


# --- Y1, the third session --------------------------------------------------------------------------------------------

EARNED = facts(
    blocks=(block(sessions=3),),
    sessions=done(12),
    bike_weeks=bike(10, 10, 10, 10, 10, 10, this_week="8.5"),
)


def missed(count: int) -> tuple[SessionRecord, ...]:
    """Twelve weeks of two, of which so many were not done."""
    records = done(12)
    return (
        tuple(replace(one, state=SessionState.SILENT, done_on=None) for one in records[:count])
        + records[count:]
    )


def pain(days_ago: int, score: int, **changes: object) -> BodyReport:
    return BodyReport(days_to(-days_ago), Region.KNEE, during=score, **changes)  # type: ignore[arg-type]


def test_y1_a_third_session_is_earned_and_adds_no_sets_for_the_legs() -> None:
    decision = phase_of(EARNED)
    assert (decision.sessions, decision.third_session) == (3, True)
    assert keys(decision) == ["phase-of-block", "third-session"]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"sessions": done(11)}, "third-needs-weeks"),
        ({"sessions": done(12, 1)[:5] + done(12, 1)[6:]}, "third-needs-weeks"),  # eleven in twelve weeks
        ({"sessions": missed(5)}, "third-needs-attendance"),  # 19 of 24 are 79 %
        ({"reports": (pain(27, 3),)}, "third-needs-no-pain"),
        ({"reports": (BodyReport(days_to(-1), Region.KNEE, next_morning=3),)}, "third-needs-no-pain"),
        ({"reports": (pain(1, 0, signs=frozenset({Sign.SWELLING})),)}, "third-needs-no-pain"),
        ({"bike_weeks": bike(10, 10, 10, 10, 10, 10)}, "third-needs-bike-hours"),
        ({"bike_weeks": bike(10, 10, 10, this_week=5)}, "third-needs-bike-hours"),
        ({"bike_weeks": bike(10, 10, 10, 10, 10, 10, this_week="8.51")}, "third-needs-lighter-bike"),
    ],
)
def test_y1_a_third_session_not_earned_is_not_given_and_says_what_is_missing(
    changes: dict[str, object], told: str
) -> None:
    decision = phase_of(replace(EARNED, **changes))  # type: ignore[arg-type]
    assert (decision.sessions, decision.third_session) == (2, False)
    assert keys(decision)[-1] == told


@pytest.mark.parametrize(
    "changes",
    [
        {"sessions": missed(4)},  # 20 of 24 are 83 %
        {"reports": (pain(28, 9),)},
        {"reports": (pain(1, 2),)},
        {"reports": (pain(1, 6, kind=ReportKind.SORENESS),)},
    ],
)
def test_y1_a_third_session_is_given_up_to_the_limits(changes: dict[str, object]) -> None:
    assert third_session(replace(EARNED, **changes))[0]  # type: ignore[arg-type]


def test_y1_a_block_of_two_never_gets_a_third() -> None:
    assert phase_of(replace(EARNED, blocks=(block(sessions=2),))).sessions == 2


# --- Y2 ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hours", "this_week", "sessions"),
    [
        ([8, 10, 12, 10, 10, 10], None, 2),  # not entered
        ([8, 10, 12, 10, 10, 10], "12.0", 1),  # 120 %, 2 h more
        ([8, 10, 12, 10, 10, 10], "11.9", 2),  # 119 %, but not 2 h more
        ([20, 20, 20, 20, 20, 20], "23.0", 2),  # 115 % is not above 115 %
        ([20, 20, 20, 20, 20, 20], "23.1", 1),
        ([10, 10, 10], "20", 2),  # too few weeks entered to know what is usual
        ([30, 10, 10, 10, 10, 10, 10], "13", 1),  # the seventh week back does not count
    ],
)
def test_y2_a_heavy_week_on_the_bike_brings_a_build_week_to_one(
    hours: list[int], this_week: str | None, sessions: int
) -> None:
    decision = phase_of(facts(bike_weeks=bike(*hours, this_week=this_week)))
    assert decision.sessions == sessions
    assert ("one-for-bike-hours" in keys(decision)) is (sessions == 1)


def test_y2_the_usual_is_the_median_of_the_six_weeks_before() -> None:
    assert usual_bike_hours(bike(99, 6, 8, 10, 12, 14, 16, this_week=50), WEEK) == 11
    assert usual_bike_hours(bike(6, 8, 10), WEEK) is None


@pytest.mark.parametrize(
    ("priority", "on", "sessions"),
    [
        (RacePriority.OTHER, SUNDAY, 1),
        (RacePriority.OTHER, MONDAY, 1),
        (RacePriority.OTHER, days_to(7), 2),
        (RacePriority.MINOR, SUNDAY, 2),
    ],
)
def test_y2_a_race_in_the_week_brings_a_build_week_to_one(
    priority: RacePriority, on: date, sessions: int
) -> None:
    assert phase_of(facts(races=(race(on, priority),))).sessions == sessions


def test_y2_a_learning_week_keeps_its_two() -> None:
    decision = phase_of(facts(sessions=(), bike_weeks=bike(8, 8, 8, 8, 8, 8, this_week=20)))
    assert (decision.phase, decision.sessions) == (Phase.LEARN, 2)


# --- P7, P8 -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("weeks_before", "light"), [(0, False), (2, False), (3, True), (4, False), (7, True)]
)
def test_p7_every_fourth_week_of_a_build_block_is_light(weeks_before: int, light: bool) -> None:
    decision = phase_of(facts(blocks=(block(weeks_before=weeks_before),)))
    assert decision.light is light
    assert ("light-fourth-week" in keys(decision)) is light


def test_p7_no_other_phase_has_light_weeks() -> None:
    fourth = (block(Phase.MAINTAIN, weeks_before=3),)
    assert not phase_of(facts(blocks=fourth, sessions=done(10))).light
    assert not phase_of(facts(blocks=(block(weeks_before=3),), sessions=())).light


RACING = (race(days_to(-10), RacePriority.OTHER), race(days_to(20), RacePriority.OTHER))


@pytest.mark.parametrize(
    ("sessions", "phase", "count", "told"),
    [
        (done(8), Phase.MAINTAIN, 1, "phase-maintain"),
        (done(7), Phase.BUILD, 2, "maintain-not-earned"),
        (done(20, per_week=1), Phase.BUILD, 2, "maintain-not-earned"),
        ((*done(8, ending_weeks_ago=5), *done(4, per_week=1)), Phase.MAINTAIN, 1, "phase-maintain"),
        # a break of 33 days between
        ((*done(8, ending_weeks_ago=10), *done(5)), Phase.BUILD, 2, "maintain-not-earned"),
    ],
)
def test_p8_the_racing_months_maintain_once_eight_weeks_at_two_are_done(
    sessions: tuple[SessionRecord, ...], phase: Phase, count: int, told: str
) -> None:
    decision = phase_of(facts(sessions=sessions, races=RACING))
    assert (decision.phase, decision.sessions) == (phase, count)
    assert told in keys(decision)
    assert decision.max_gap_days == (10 if phase is Phase.MAINTAIN else None)


def test_p8_a_maintain_block_waits_for_its_eight_weeks_too() -> None:
    maintain = (block(Phase.MAINTAIN, sessions=1),)
    assert phase_of(facts(blocks=maintain, sessions=done(8))).phase is Phase.MAINTAIN
    assert phase_of(facts(blocks=maintain, sessions=done(7))).phase is Phase.BUILD


@pytest.mark.parametrize(
    ("first", "second", "racing"),
    [
        (days_to(-20), days_to(21), True),  # 41 days apart
        (days_to(-20), days_to(22), False),  # 42 days apart
        (SUNDAY, days_to(30), True),  # begins on the last day
        (days_to(-30), MONDAY, True),  # ends on the first
        (days_to(7), days_to(30), False),
    ],
)
def test_y1_the_racing_months_lie_between_races_less_than_six_weeks_apart(
    first: date, second: date, racing: bool
) -> None:
    races = (race(second, RacePriority.OTHER), race(first, RacePriority.OTHER))
    assert (phase_of(facts(sessions=done(8), races=races)).phase is Phase.MAINTAIN) is racing


def test_y1_minor_races_make_no_racing_months() -> None:
    races = tuple(replace(one, priority=RacePriority.MINOR) for one in RACING)
    assert phase_of(facts(sessions=done(8), races=races)).phase is Phase.BUILD


def test_p8_weeks_at_two_are_counted_by_the_days_they_were_done() -> None:
    monday, tuesday = date(2026, 7, 6), date(2026, 7, 7)
    sunday = date(2026, 7, 5)
    assert weeks_at_two([monday, tuesday]) == 1
    assert weeks_at_two([sunday, monday]) == 0
    assert weeks_at_two([]) == 0


# --- P9 ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days_until", "phase", "sessions", "cuts"),
    [
        (6, Phase.RACE_WEEK, 1, [60] * 7),  # the race is on Sunday
        (13, Phase.TAPER, 2, [40] * 7),  # on Sunday next week
        (20, Phase.BUILD, 2, [0] * 7),
        (
            9,
            Phase.RACE_WEEK,
            1,
            [40] * 3 + [60] * 4,
        ),  # on Wednesday next week: four days are the last before it
        (10, Phase.TAPER, 2, [40] * 4 + [60] * 3),  # on Thursday next week
        (3, Phase.RACE_WEEK, 1, [60] * 4 + [0] * 3),  # on Thursday
        (2, Phase.BUILD, 1, [60] * 3 + [0] * 4),  # on Wednesday: most of the week lies after it, one by Y2
        (16, Phase.TAPER, 2, [0] * 3 + [40] * 4),
        (17, Phase.BUILD, 2, [0] * 4 + [40] * 3),
    ],
)
def test_p9_a_week_is_named_by_most_of_its_days_and_cut_by_each(
    days_until: int, phase: Phase, sessions: int, cuts: list[int]
) -> None:
    decision = phase_of(facts(races=(race(days_to(days_until)),)))
    assert (decision.phase, decision.sessions) == (phase, sessions)
    assert [cut_for(decision, on) for on in week_days(WEEK)] == cuts


def test_p9_the_last_seven_days_are_capped_at_one_session_in_both_weeks_that_they_touch() -> None:
    on = days_to(9)
    this_week = phase_of(facts(races=(race(on),)))
    next_week = phase_of(replace(facts(races=(race(on),)), week=shift_week(WEEK, 1)))
    assert this_week.caps == next_week.caps
    assert [(cap.from_on, cap.until_on, cap.most) for cap in this_week.caps] == [(days_to(3), on, 1)]


def test_p9_no_taper_before_another_race_or_a_minor_one() -> None:
    for priority in (RacePriority.OTHER, RacePriority.MINOR):
        decision = phase_of(facts(races=(race(SUNDAY, priority),)))
        assert (decision.phase, decision.cuts) == (Phase.BUILD, ())


@pytest.mark.parametrize(("days_before", "phase"), [(41, Phase.BUILD), (42, Phase.RACE_WEEK)])
def test_p9_tapers_are_at_least_six_weeks_apart(days_before: int, phase: Phase) -> None:
    first = SUNDAY - timedelta(days=days_before)
    assert phase_of(facts(races=(race(SUNDAY), race(first)))).phase is phase


def test_p9_a_race_entered_later_does_not_take_a_taper_away() -> None:
    alone = phase_of(facts(races=(race(SUNDAY),)))
    assert phase_of(facts(races=(race(SUNDAY), race(days_to(20))))).cuts == alone.cuts


def test_p9_a_taper_keeps_the_days_that_the_week_had() -> None:
    racing = (*RACING, race(days_to(13)))
    assert phase_of(facts(races=racing, sessions=done(8))).sessions == 1
    assert phase_of(facts(races=(race(days_to(13)),), blocks=(block(sessions=3),))).sessions == 2


@pytest.mark.parametrize(
    ("weeks_between", "phase", "load_cut"),
    [(5, Phase.MAINTAIN, 0), (6, Phase.BUILD, 10), (9, Phase.BUILD, 10), (10, Phase.BUILD, 0)],
)
def test_p9_between_two_seasons_the_weeks_between_decide(
    weeks_between: int, phase: Phase, load_cut: int
) -> None:
    last = MONDAY - timedelta(days=1)
    races = (race(last, name="Spring Cup"), race(last + timedelta(weeks=weeks_between)))
    decision = phase_of(facts(races=races, sessions=done(8)))
    assert (decision.phase, decision.rebuild_load_cut) == (phase, load_cut)
    assert decision.rebuild_since_on == (last if load_cut else None)


# --- P10 --------------------------------------------------------------------------------------------------------------


def trained_until(days_ago: int) -> tuple[SessionRecord, ...]:
    """Twenty sessions, three or four days apart, the last of them so many days before Monday."""
    dates = [days_to(-days_ago) - timedelta(days=7 * at // 2) for at in range(20)]
    return tuple(SessionRecord(WEEK, 1, on, SessionState.DONE, done_on=on) for on in reversed(dates))


@pytest.mark.parametrize(
    ("days_ago", "phase", "told"),
    [
        (13, Phase.BUILD, "phase-of-block"),
        (14, Phase.RETURN, "phase-return"),
        (55, Phase.RETURN, "phase-return"),
        (56, Phase.LEARN, "phase-learn-again"),
    ],
)
def test_p10_a_break_makes_a_return_week_or_a_learning_week(days_ago: int, phase: Phase, told: str) -> None:
    decision = phase_of(facts(sessions=trained_until(days_ago)))
    assert decision.phase is phase
    assert keys(decision)[0] == told
    assert (decision.gap.days if decision.gap else None) == (days_ago if days_ago >= 14 else None)


def test_p10_coming_back_goes_before_the_race_week_whose_cuts_and_one_session_stay() -> None:
    decision = phase_of(facts(sessions=trained_until(20), races=(race(SUNDAY),)))
    assert (decision.phase, decision.sessions) == (Phase.RETURN, 1)
    assert cut_for(decision, MONDAY) == 60
    assert keys(decision) == ["phase-return", "phase-race-week"]


def test_p10_the_second_week_back_from_two_weeks_away_is_still_a_return_and_the_third_is_not() -> None:
    def back(days_ago: int) -> Phase:
        on = days_to(-days_ago)
        records = (*trained_until(days_ago + 14), SessionRecord(WEEK, 1, on, SessionState.DONE, done_on=on))
        return phase_of(facts(sessions=records)).phase

    assert back(7) is Phase.RETURN
    assert back(13) is Phase.RETURN
    assert back(14) is Phase.RETURN  # 14 days since: away again
    again = (
        *trained_until(33),
        *(
            SessionRecord(WEEK, 1, days_to(-ago), SessionState.DONE, done_on=days_to(-ago))
            for ago in (18, 11, 4)
        ),
    )
    assert phase_of(facts(sessions=again)).phase is Phase.BUILD


def test_p10_learning_again_lasts_six_sessions() -> None:
    def learned(sessions: int) -> Phase:
        on = [days_to(-4 - 5 * at) for at in reversed(range(sessions))]
        back = tuple(SessionRecord(WEEK, 1, one, SessionState.DONE, done_on=one) for one in on)
        return phase_of(facts(sessions=(*trained_until(120), *back))).phase

    assert [learned(count) for count in (1, 5, 6)] == [Phase.LEARN, Phase.LEARN, Phase.BUILD]


def test_every_reason_has_a_sentence_that_its_figures_fill() -> None:
    given = [
        facts(sessions=done(8), races=RACING),
        facts(races=(race(SUNDAY),), sessions=trained_until(20)),
        facts(blocks=(block(sessions=3, weeks_before=3),), bike_weeks=bike(9, 9, 9, 9, this_week=20)),
        EARNED,
        replace(EARNED, reports=(pain(3, 5),)),
    ]
    told = [reason for one in given for reason in phase_of(one, max_days=1).reasons]
    assert len({reason.key for reason in told}) >= 8
    for reason in told:
        assert "{" not in REASONS[reason.key].format(**reason.figures)


def test_p9_days_with_no_race_ahead_are_none_of_a_races_days() -> None:
    days = week_days(week_of(date(2026, 3, 2)))
    assert race_majority(diary_of(()), days) == (None, None, 0)
