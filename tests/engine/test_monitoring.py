"""M1 to M4 and P11 in one answer: what is watched of one rider, and what is kept out of it."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.concerns import BodyReport, Topic
from athletes.vocabulary import Region, Side
from programs.engine.facts import Done, Exposure, Measure, SessionRecord, SessionState, Target
from programs.engine.load import week_loads
from programs.engine.monitoring import MonitorQuestion, monitor
from programs.engine.quantities import shift_week, week_of
from programs.engine.trends import Watched
from tests.engine.histories import asked
from tests.engine.samples import LIBRARY, bell

TODAY = date(2026, 3, 4)  # a Wednesday
DAYS = [TODAY - timedelta(days=7 * ago + 1) for ago in range(8, -1, -1)]


def session(on: date, state: SessionState = SessionState.DONE, rpe: int = 5) -> SessionRecord:
    done = state is SessionState.DONE
    return SessionRecord(
        week_of(on), 1, on, state, on if done else None, 40 if done else None, rpe if done else None
    )


def lifted(on: date, reps: int) -> Exposure:
    return Exposure(on, "goblet", asked(reps, bell(16)), Done((reps,) * 3, load=bell(16), reps_left=2))


def held(on: date, seconds: int) -> Exposure:
    return Exposure(on, "plank", Target(Measure.HOLD, 2, seconds), Done((seconds, seconds)))


ASKED = MonitorQuestion(
    today=TODAY,
    youngest_age=35,
    oldest_age=36,
    library=LIBRARY,
    sessions=tuple(session(on, rpe=4 + at % 3) for at, on in enumerate(DAYS)),
    exposures=tuple(
        one for at, on in enumerate(DAYS) for one in (lifted(on, 5 + min(at // 2, 3)), held(on, 20 + 5 * at))
    ),
)


def test_m1_the_weeks_are_told_oldest_first_with_the_running_one() -> None:
    loads = monitor(ASKED).loads
    assert [one.week for one in loads] == [shift_week(week_of(TODAY), -ago) for ago in range(7, -1, -1)]
    assert [one.load for one in loads[-3:]] == [160, 200, 240]
    assert loads[0].monotony == Decimal("0.378")


def test_m2_the_running_week_has_no_change_and_the_one_before_has() -> None:
    loads = monitor(ASKED).loads
    assert loads[-1].change_percent is None
    assert loads[-2].change_percent == 25
    whole = week_loads(ASKED.sessions, [one.week for one in loads])
    assert whole[-1].change_percent == 20


def test_m3_what_was_missed_is_listed_and_a_coach_is_told() -> None:
    silent = [session(on, SessionState.SILENT) for on in DAYS[-2:]]
    found = monitor(replace(ASKED, sessions=(*ASKED.sessions[:-2], *silent), today=TODAY + timedelta(days=2)))
    assert [one.planned_on for one in found.missed] == DAYS[-2:]
    assert found.concern is not None and found.concern.topic is Topic.SILENT
    planned = replace(ASKED, sessions=(*ASKED.sessions, session(TODAY, SessionState.PLANNED)))
    assert monitor(planned).missed == ()
    assert monitor(ASKED).concern is None


def test_m4_each_figure_has_its_trend() -> None:
    trends = monitor(ASKED).trends
    assert [(one.what, one.of) for one in trends] == [
        (Watched.MAXIMUM, "goblet"),
        (Watched.HOLD, "plank"),
        (Watched.SETS, "front-trunk"),
        (Watched.SETS, "squat"),
        (Watched.LOAD, ""),
    ]
    assert trends[1].slope == 5 and trends[1].is_clear
    assert trends[4].points == 7  # the running week is not over


def test_p11_the_best_estimate_and_the_best_hold_stand_with_their_days() -> None:
    found = monitor(ASKED)
    assert [(one.exercise, one.amount, one.on) for one in found.estimates] == [("goblet", 8, DAYS[-1])]
    assert [(one.exercise, one.seconds) for one in found.holds] == [("plank", 60)]


def test_s3_under_18_no_maximum_and_no_trend_of_one() -> None:
    young = monitor(replace(ASKED, youngest_age=17, oldest_age=18))
    assert young.estimates == ()
    assert Watched.MAXIMUM not in {one.what for one in young.trends}
    assert {one.what for one in young.trends} == {Watched.HOLD, Watched.SETS, Watched.LOAD}


def test_t1_a_sore_knee_takes_the_estimates_of_what_loads_it_away() -> None:
    sore = replace(ASKED, reports=(BodyReport(DAYS[-1], Region.KNEE, Side.LEFT, during=4),))
    found = monitor(sore)
    assert found.estimates == ()
    assert Watched.MAXIMUM not in {one.what for one in found.trends}
    assert [one.exercise for one in found.holds] == ["plank"]


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"weeks": 0}, "weeks: 1 to 104"),
        ({"weeks": 105}, "weeks: 1 to 104"),
        ({"youngest_age": 40}, "the youngest age"),
        ({"youngest_age": -1}, "the youngest age"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused(changes: dict[str, int], line: str) -> None:
    with pytest.raises(ValueError, match=line):
        monitor(replace(ASKED, **changes))  # type: ignore[arg-type]


def test_nothing_known_is_nothing_told() -> None:
    found = monitor(MonitorQuestion(TODAY, 35, 36))
    assert (found.missed, found.concern, found.trends, found.estimates, found.holds) == ((), None, (), (), ())
    assert {(one.sessions, one.load, one.monotony) for one in found.loads} == {(0, 0, None)}


EXPOSURES = st.builds(
    Exposure,
    on=st.dates(TODAY - timedelta(days=80), TODAY + timedelta(days=3)),
    exercise=st.sampled_from(["goblet", "plank", "squat", "press-up", "hip-squat", "unheard-of"]),
    target=st.builds(
        Target,
        measure=st.sampled_from(Measure),
        sets=st.integers(0, 4),
        amount=st.integers(0, 90),
        load=st.none() | st.decimals(0, 60, places=1).map(bell),
        bridge_sets=st.integers(0, 2),
    ),
    done=st.none()
    | st.builds(
        Done,
        amounts=st.none() | st.lists(st.integers(-2, 90), max_size=4).map(tuple),
        left_amounts=st.none() | st.just((5, 4)),
        load=st.none() | st.decimals(0, 60, places=1).map(bell),
        reps_left=st.none() | st.integers(-1, 9),
    ),
)


@given(st.lists(EXPOSURES, max_size=30), st.integers(10, 70))
def test_s3_h3_whatever_was_checked_in_is_told_or_left_out_and_never_stops_the_answer(
    exposures: list[Exposure], age: int
) -> None:
    found = monitor(replace(ASKED, exposures=tuple(exposures), youngest_age=age, oldest_age=age + 1))
    for one in found.estimates:
        assert age >= 18
        assert 2 <= one.estimate.reps <= 10 or one.estimate.kg == one.load.kg
        assert one.estimate.low <= one.estimate.kg <= one.estimate.high
        assert one.estimate.low >= (one.load.kg or 0)
        assert 0 <= (TODAY - one.on).days < 56
    for hold in found.holds:
        assert hold.seconds > 0
    for trend in found.trends:
        assert trend.points >= 5 and trend.low <= trend.slope <= trend.high
