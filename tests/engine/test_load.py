"""M1 to M4: session load, monotony and strain, missed sessions, trends."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from athletes.concerns import Topic
from programs.engine.facts import SessionRecord, SessionState
from programs.engine.load import (
    REASONS,
    change_percent,
    daily_loads,
    grace_ends_on,
    is_missed,
    monotony,
    session_load,
    silence,
    strain,
    theil_sen,
)
from programs.engine.quantities import week_days, week_of

TODAY = date(2026, 3, 16)
DONE, PART, NOT_DONE = SessionState.DONE, SessionState.PART, SessionState.NOT_DONE
SILENT, PLANNED = SessionState.SILENT, SessionState.PLANNED


def record(days_ago: int, state: SessionState, **changes: object) -> SessionRecord:
    on = TODAY - timedelta(days=days_ago)
    return SessionRecord(week_of(on), 1, on, state, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("rpe", "minutes", "load"), [(6, 40, 240), (0, 40, 0), (None, 40, None), (6, None, None)]
)
def test_m1_session_load_is_effort_times_minutes(
    rpe: int | None, minutes: int | None, load: int | None
) -> None:
    assert session_load(rpe, minutes) == load


def test_m1_a_session_counts_on_the_day_it_was_done_and_rest_days_are_zero() -> None:
    days = week_days(week_of(date(2026, 3, 10)))
    records = [
        record(7, DONE, done_on=date(2026, 3, 10), minutes=40, session_rpe=6),
        record(6, PART, minutes=20, session_rpe=5, done_on=date(2026, 3, 10)),
        record(4, NOT_DONE, minutes=40, session_rpe=6),
        record(3, SILENT),
        record(40, DONE, minutes=50, session_rpe=7),
    ]
    assert daily_loads(records, days) == (0, 340, 0, 0, 0, 0, 0)


def test_m1_h3_a_session_without_an_answer_makes_its_day_unknown_not_zero() -> None:
    days = week_days(week_of(date(2026, 3, 10)))
    records = [record(6, DONE, minutes=40), record(6, DONE, minutes=40, session_rpe=5)]
    loads = daily_loads(records, days)
    assert loads[1] is None
    assert monotony(loads) is None
    assert strain(loads) is None


@pytest.mark.parametrize("daily", [[0] * 7, [300] * 7, [Decimal("0.1")] * 7])
def test_m1_without_variation_monotony_and_strain_stay_undefined(daily: list[int]) -> None:
    assert monotony(daily) is None
    assert strain(daily) is None


@pytest.mark.parametrize("count", [0, 6, 8])
def test_m1_a_week_has_seven_days(count: int) -> None:
    with pytest.raises(ValueError, match="seven"):
        monotony([100] * count)


WEEKS = st.lists(st.integers(0, 1500), min_size=7, max_size=7)


@given(WEEKS, st.integers(2, 9), st.randoms(use_true_random=False))
def test_m1_monotony_knows_neither_scale_nor_order(daily: list[int], times: int, chance: object) -> None:
    ratio, effort = monotony(daily), strain(daily)
    assume(ratio is not None and effort is not None)
    mixed = list(daily)
    chance.shuffle(mixed)  # type: ignore[attr-defined]
    scaled = [load * times for load in mixed]
    assert float(monotony(scaled)) == pytest.approx(float(ratio), rel=1e-20)  # type: ignore[arg-type]
    assert float(strain(scaled)) == pytest.approx(float(effort) * times, rel=1e-12)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("before", "now", "percent"), [(1000, 1300, 30), (1000, 800, -20), (0, 500, None), (500, 0, -100)]
)
def test_m2_a_change_in_load_is_a_percentage_or_unknown(before: int, now: int, percent: int | None) -> None:
    assert change_percent(before, now) == percent


@pytest.mark.parametrize(
    ("days_ago", "reported", "missed"),
    [(0, False, False), (1, False, False), (2, False, True), (2, True, False)],
)
def test_m3_a_session_is_missed_after_the_end_of_the_next_local_day(
    days_ago: int, reported: bool, missed: bool
) -> None:
    planned_on = TODAY - timedelta(days=days_ago)
    assert is_missed(planned_on, reported=reported, today=TODAY) is missed
    assert (grace_ends_on(planned_on) < TODAY) is (days_ago > 1)


@pytest.mark.parametrize(
    ("what", "records", "topic", "count"),
    [
        ("nothing sent", [], None, 0),
        ("one missed", [record(9, DONE), record(3, SILENT)], None, 0),
        ("two in a row", [record(9, DONE), record(5, SILENT), record(3, PLANNED)], Topic.MISSED, 2),
        ("three in a row", [record(9, DONE), *(record(n, SILENT) for n in (7, 5, 3))], Topic.MISSED, 3),
        ("the second still in its grace", [record(9, DONE), record(5, SILENT), record(1, PLANNED)], None, 0),
        ("a report between them", [record(7, SILENT), record(5, DONE), record(3, SILENT)], None, 0),
        ("said not done is not silence", [record(7, SILENT), record(5, NOT_DONE)], None, 0),
        ("two missed, then one done", [record(7, SILENT), record(5, SILENT), record(3, DONE)], None, 0),
        ("a silent fortnight", [record(16, DONE), record(10, SILENT)], Topic.SILENT, 1),
        (
            "two in a row within it",
            [record(16, DONE), record(10, SILENT), record(3, SILENT)],
            Topic.SILENT,
            2,
        ),
        ("nothing was sent in the fortnight", [record(20, DONE), record(16, SILENT)], None, 0),
        ("13 days are no fortnight", [record(13, SILENT)], None, 0),
        ("14 days are", [record(14, SILENT)], Topic.SILENT, 1),
        ("order does not matter", [record(3, SILENT), record(9, DONE), record(5, SILENT)], Topic.MISSED, 2),
    ],
)
def test_m3_going_quiet_is_a_follow_up(
    what: str, records: list[SessionRecord], topic: Topic | None, count: int
) -> None:
    concern = silence(records, TODAY)
    assert (concern and concern.topic) == topic, what
    if concern is not None:
        reason = concern.reasons[0]
        assert reason.figures["count"] == count, what
        assert "{" not in REASONS[reason.key].format(**reason.figures)


@given(st.lists(st.tuples(st.integers(-50, 50), st.integers(-500, 500)), max_size=4))
def test_m4_fewer_than_five_points_give_no_trend(points: list[tuple[int, int]]) -> None:
    assert theil_sen(points) is None


def test_m4_points_of_one_day_give_no_trend() -> None:
    assert theil_sen([(1, y) for y in range(9)]) is None


@given(st.integers(-9, 9), st.integers(-99, 99), st.integers(5, 12))
def test_m4_points_on_a_line_give_the_line(slope: int, start: int, count: int) -> None:
    trend = theil_sen([(x, start + slope * x) for x in range(count)])
    assert trend is not None
    assert {trend.slope, trend.low, trend.high} == {Decimal(slope)}
    assert trend.intercept == start
    assert trend.points == count


def test_m4_one_wild_point_does_not_turn_the_trend() -> None:
    points = [(x, 2 * x) for x in range(6)]
    points[5] = (5, -500)
    trend = theil_sen(points)
    assert trend is not None
    assert trend.slope == 2
    assert trend.low < 2
