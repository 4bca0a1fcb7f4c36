"""Y3: the year laid out backwards from priority races. A week has one phase and says why."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.vocabulary import RacePriority
from programs.engine.facts import Absence, Phase, Race, Week
from programs.engine.quantities import shift_week, week_days, week_of
from programs.engine.year import REASONS, LaidWeek, lay_out

FIRST = Week(2026, 1)
MONDAY = date(2025, 12, 29)


def race(weeks: int, day: int = 6, priority: RacePriority = RacePriority.PRIORITY) -> Race:
    """A race in the week that is so many weeks after the first, on a Sunday unless said otherwise."""
    on = MONDAY + timedelta(weeks=weeks, days=day)
    return Race(on, 9 * 60, f"Cup of {on}", priority)


def phases(laid: tuple[LaidWeek, ...]) -> str:
    """One letter a week, to be read at a glance: Learn, Build, Maintain, Taper, Race week, - rest, return (<)."""
    signs = {Phase.REST: "-", Phase.RETURN: "<"}
    return "".join(signs.get(week.phase, week.phase.value[0].upper()) for week in laid)


def lay(weeks: int, *races: Race, **changes: object) -> str:
    last = shift_week(FIRST, weeks - 1)
    return phases(lay_out(races=races, first=FIRST, last=last, **changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("races", "expected"),
    [
        ([], "LLLBBBBBBBBBBBBB"),
        ([race(10)], "LLLBBBBBBTRBBBBB"),
        ([race(10, day=2)], "LLLBBBBBTRBBBBBB"),  # a Wednesday: most of its last days lie in the week before
        ([race(10, day=3)], "LLLBBBBBBTRBBBBB"),  # a Thursday
        ([race(10, priority=RacePriority.OTHER)], "LLLBBBBBBBBBBBBB"),
        ([race(9), race(13)], "LLLBBBBBTRMMMMBB"),  # 4 weeks apart: one taper, racing months between
        ([race(4), race(8)], "LLLTRBBBBBBBBBBB"),
        ([race(6), race(12)], "LLLBBTRBBBBTRBBB"),  # 6 weeks apart: both tapered for
        ([race(0)], "RLLLBBBBBBBBBBBB"),
    ],
)
def test_y3_the_year_is_counted_back_from_the_priority_races(races: list[Race], expected: str) -> None:
    assert lay(16, *races) == expected


def test_p8_the_racing_months_build_until_eight_weeks_at_two_are_behind() -> None:
    races = [race(week, priority=RacePriority.OTHER) for week in (3, 7, 11, 15)]
    assert lay(18, *races) == "LLLBBBBBBBMMMMMMBB"
    assert lay(18, *races, learning_weeks=0, weeks_at_two=8) == "BBBMMMMMMMMMMMMMBB"


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        (3, "LLLBBBBBBBBBBB"),  # Monday to Wednesday: the week goes on
        (7, "LLLBB-BBBBBBBB"),
        (14, "LLLBB--<<BBBBB"),
        (17, "LLLBB--<<BBBBB"),  # until Wednesday: the rest of that week is the first one back
        (18, "LLLBB---<<BBBB"),
        (28, "LLLBB----<<<<B"),
    ],
)
def test_y1_p10_a_week_mostly_away_is_rest_and_two_weeks_away_make_a_return(days: int, expected: str) -> None:
    away = Absence(MONDAY + timedelta(weeks=5), MONDAY + timedelta(weeks=5, days=days - 1))
    assert lay(14, absences=(away,)) == expected


def test_p10_eight_weeks_away_are_learned_again_and_absences_that_touch_are_one() -> None:
    half = MONDAY + timedelta(weeks=8)
    away = (
        Absence(half, MONDAY + timedelta(weeks=12, days=-1)),
        Absence(MONDAY + timedelta(weeks=4), half - timedelta(days=1)),
    )
    assert lay(18, absences=away) == "LLLB--------LLLBBB"


def test_p9_the_weeks_between_two_seasons_are_named_as_a_rebuild() -> None:
    laid = lay_out(races=[race(6), race(13)], first=FIRST, last=shift_week(FIRST, 13))
    assert [week.reasons[0].key for week in laid[7:12]] == ["laid-rebuild"] * 5


def test_y3_the_last_week_may_not_lie_before_the_first() -> None:
    with pytest.raises(ValueError, match="2026-W01, lies before the first, 2026-W02"):
        lay_out(races=[], first=Week(2026, 2), last=FIRST)


dates = st.dates(date(2026, 1, 1), date(2027, 3, 31))


@given(
    st.lists(st.builds(Race, dates, st.just(540), st.just("Cup"), st.sampled_from(RacePriority)), max_size=8),
    st.lists(dates.map(lambda on: Absence(on, on + timedelta(days=16))), max_size=3),
)
def test_y3_every_week_has_one_phase_and_one_reason_that_can_be_read(
    races: list[Race], absences: list[Absence]
) -> None:
    laid = lay_out(races=races, first=Week(2026, 1), last=Week(2027, 10), absences=absences)
    assert [week.week for week in laid] == [shift_week(FIRST, at) for at in range(53 + 10)]
    for week in laid:
        assert len(week.reasons) == 1
        assert "{" not in REASONS[week.reasons[0].key].format(**week.reasons[0].figures)
        if week.phase is Phase.RACE_WEEK:
            last = week_days(week.week)[0] + timedelta(days=9)
            assert any(week_days(week.week)[0] <= one.on <= last for one in races)
    tapers = [at for at, week in enumerate(laid) if week.phase is Phase.RACE_WEEK]
    assert all(later - earlier >= 5 for earlier, later in zip(tapers, tapers[1:], strict=False))


def test_y3_a_year_may_cross_a_53rd_week() -> None:
    laid = lay_out(races=[], first=Week(2026, 52), last=Week(2027, 2))
    assert [week.week for week in laid] == [Week(2026, 52), Week(2026, 53), Week(2027, 1), Week(2027, 2)]
    assert week_of(date(2027, 1, 1)) == laid[1].week
