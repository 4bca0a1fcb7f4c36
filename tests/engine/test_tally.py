"""Many seasons counted together: medians, ranges and sums by hand."""

from decimal import Decimal

import pytest

from athletes.concerns import Topic
from athletes.vocabulary import Pattern
from programs.engine.facts import Measure, Phase, Week
from programs.engine.played import Broken, Lift, PlayedSeason, PlayedWeek
from programs.engine.tally import Spread, count, spread

W1, W2 = Week(2026, 40), Week(2026, 41)


def squat(exercise: str, amount: int, kg: int | None = None, *, measure: Measure = Measure.REPS) -> Lift:
    return Lift(Pattern.SQUAT, exercise, measure, 3, amount, None if kg is None else Decimal(kg))


def season(number: int, *weeks: PlayedWeek) -> PlayedSeason:
    return PlayedSeason(number, 30, weeks)


ONE = season(
    0,
    PlayedWeek(W1, Phase.BUILD, False, asked=2, done=2, minutes=80, room=90, sets=((Pattern.SQUAT, 3),)),
    PlayedWeek(W2, Phase.BUILD, True, asked=2, done=1, silent=1, minutes=50, room=90),
)
TWO = season(
    1,
    PlayedWeek(
        W1,
        Phase.BUILD,
        False,
        asked=1,
        not_done=1,
        minutes=30,
        room=40,
        sets=((Pattern.SQUAT, 2), (Pattern.PULL, 2)),
        follow_ups=(Topic.PAIN, Topic.ILLNESS),
        broken=(Broken("I8", "change-without-reason", "exercise squat", False),),
    ),
    PlayedWeek(W2, Phase.BUILD, False, asked=2, done=1, called_off=1, minutes=60, room=80),
)
THREE = season(
    2, PlayedWeek(W1, Phase.REST, False), PlayedWeek(W2, Phase.REST, False, follow_ups=(Topic.PAIN,))
)


def test_a_spread_is_lowest_median_and_highest() -> None:
    assert spread([5, 1, 4]) == Spread(Decimal(1), Decimal(4), Decimal(5), 3)
    assert spread([4, 1]).middle == Decimal("2.5")
    with pytest.raises(ValueError, match="no value"):
        spread([])


def test_sessions_are_summed_over_riders_and_weeks() -> None:
    tally = count([ONE, TWO, THREE])
    assert (tally.riders, tally.asked, tally.done, tally.not_done, tally.silent, tally.called_off) == (
        3,
        7,
        4,
        1,
        1,
        1,
    )
    assert [(week.asked, week.done) for week in tally.weeks] == [(3, 2), (4, 2)]


def test_minutes_and_sets_are_of_the_riders_with_sessions() -> None:
    first = count([ONE, TWO, THREE]).weeks[0]
    assert first.riders == 2
    assert first.minutes == Spread(Decimal(30), Decimal(55), Decimal(80), 2)
    assert first.room == Spread(Decimal(40), Decimal(65), Decimal(90), 2)
    assert dict(first.sets) == {
        Pattern.SQUAT: Spread(Decimal(2), Decimal("2.5"), Decimal(3), 2),
        Pattern.PULL: Spread(Decimal(0), Decimal(1), Decimal(2), 2),
    }


def test_a_week_is_called_what_it_is_for_most_riders() -> None:
    first, second = count([ONE, TWO, THREE]).weeks
    assert (first.phase, first.is_light) == (Phase.BUILD, False)
    assert (second.phase, second.is_light) == (Phase.BUILD, False)  # light for one of three


def test_a_week_without_a_session_has_no_minutes() -> None:
    (week,) = count([season(0, PlayedWeek(W1, Phase.REST, False))]).weeks
    assert week.minutes is None and week.room is None and week.sets == ()


def test_follow_ups_and_what_was_broken_are_found_again() -> None:
    tally = count([ONE, TWO, THREE])
    assert tally.follow_ups == ((Topic.PAIN, 2), (Topic.ILLNESS, 1))
    assert [(number, place, broken.id) for number, place, broken in tally.broken] == [(1, 1, "I8")]


def test_a_curve_is_of_the_last_exercise_of_each_pattern_in_a_week() -> None:
    def week(*lifts: Lift) -> PlayedWeek:
        return PlayedWeek(W1, Phase.BUILD, False, asked=1, lifts=lifts)

    (curve,) = count(
        [
            season(0, week(squat("chair-stand", 6), squat("goblet-squat", 8, 12))),
            season(1, week(squat("goblet-squat", 10, 16))),
            season(2, week(squat("chair-stand", 15))),
        ]
    ).curves
    (point,) = curve.points
    assert (curve.pattern, point.exercise, point.on_it, point.riders) == (Pattern.SQUAT, "goblet-squat", 2, 3)
    assert point.kg == Spread(Decimal(12), Decimal(14), Decimal(16), 2)
    assert point.amount == Spread(Decimal(8), Decimal(10), Decimal(15), 3)


def test_seconds_are_not_mixed_with_reps() -> None:
    def week(lift: Lift) -> PlayedWeek:
        return PlayedWeek(W1, Phase.BUILD, False, asked=1, lifts=(lift,))

    hold = squat("wall-sit", 40, measure=Measure.HOLD)
    (curve,) = count(
        [season(0, week(hold)), season(1, week(hold)), season(2, week(squat("squat", 8)))]
    ).curves
    assert curve.points[0].measure is Measure.HOLD
    assert curve.points[0].amount == Spread(Decimal(40), Decimal(40), Decimal(40), 2)


def test_seasons_of_different_lengths_are_not_counted() -> None:
    with pytest.raises(ValueError, match="lengths"):
        count([ONE, season(1, PlayedWeek(W1, Phase.REST, False))])
