"""A week ahead: what lies between is taken as done as asked, nothing more."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from athletes.vocabulary import Furniture, Pattern
from programs.engine import facts as engine
from programs.engine.foresight import foresee, with_blocks
from programs.engine.library import read_library
from programs.engine.quantities import shift_week, week_days
from programs.engine.resolve import resolve_week
from programs.library import read_files

LIBRARY = read_library(read_files())
WEEK = engine.Week(2026, 46)


def slots(*patterns: Pattern) -> tuple[engine.Slot, ...]:
    return tuple(engine.Slot(one.value, engine.Part.MAIN, one) for one in patterns)


TEMPLATES = (
    engine.Template(1, "A", slots(Pattern.SQUAT, Pattern.PULL)),
    engine.Template(2, "B", slots(Pattern.HINGE, Pattern.PUSH)),
)


def block(first: engine.Week, weeks: int, intent: engine.Phase = engine.Phase.BUILD) -> engine.Block:
    return engine.Block(first, shift_week(first, weeks - 1), intent, 2, TEMPLATES)


def facts_of(week: engine.Week = WEEK, *blocks: engine.Block) -> engine.WeekFacts:
    """An adult with two evenings at home and no past."""
    days = week_days(week)
    return engine.WeekFacts(
        week=week,
        today=days[0] - timedelta(days=3),
        rider=engine.Rider(youngest_age=30, oldest_age=31, minutes_cap=60),
        blocks=blocks or (block(week, 30),),
        openings=tuple(engine.Opening(days[at], 18 * 60, 60, "Home") for at in (1, 4)),
        venues=(("Home", engine.Kit(furniture=frozenset(Furniture))),),
    )


def test_the_week_itself_is_the_week_as_it_is_worked_out() -> None:
    assert foresee(facts_of(), LIBRARY, week=WEEK) == resolve_week(facts_of(), LIBRARY)


def test_a_week_far_ahead_is_no_return_from_a_break_that_nobody_has_had() -> None:
    """Resolved on its own it would be: nothing is known to be done for ten weeks."""
    facts = facts_of()
    done = foresee(facts, LIBRARY, week=shift_week(WEEK, 9))
    assert done.phase is engine.Phase.BUILD
    assert len(done.sessions) == 2
    assert [session.on for session in done.sessions] == [date(2027, 1, 12), date(2027, 1, 15)]


def test_learning_is_over_after_six_sessions_done_as_asked() -> None:
    phases = [foresee(facts_of(), LIBRARY, week=shift_week(WEEK, by)).phase for by in range(5)]
    learn, build = engine.Phase.LEARN, engine.Phase.BUILD
    assert phases == [learn, learn, learn, build, build]


def test_what_is_done_as_asked_moves_on() -> None:
    first = foresee(facts_of(), LIBRARY, week=WEEK)
    later = foresee(facts_of(), LIBRARY, week=shift_week(WEEK, 10))
    squat_first = next(item for item in first.sessions[0].items if item.pattern is Pattern.SQUAT)
    squat_later = next(item for item in later.sessions[0].items if item.pattern is Pattern.SQUAT)
    by_slug = {one.slug: one for one in LIBRARY.exercises}
    asked = (by_slug[squat_first.exercise].level, squat_first.target.amount)
    assert (by_slug[squat_later.exercise].level, squat_later.target.amount) > asked


def test_it_is_the_same_every_time() -> None:
    week = shift_week(WEEK, 6)
    assert foresee(facts_of(), LIBRARY, week=week) == foresee(facts_of(), LIBRARY, week=week)


def test_a_week_that_is_over_is_refused() -> None:
    with pytest.raises(ValueError, match="lies before"):
        foresee(facts_of(), LIBRARY, week=shift_week(WEEK, -1))


def test_who_may_not_train_gets_nothing_ahead_either() -> None:
    facts = facts_of()
    barred = replace(facts, rider=replace(facts.rider, may_train=False))
    assert foresee(barred, LIBRARY, week=shift_week(WEEK, 3)).sessions == ()


def test_a_program_to_come_follows_the_one_before_it_without_a_gap() -> None:
    running, coming = block(WEEK, 20), block(shift_week(WEEK, 4), 10)
    joined = with_blocks((running,), (coming,))
    assert [(one.first, one.last) for one in joined] == [
        (WEEK, shift_week(WEEK, 3)),
        (coming.first, coming.last),
    ]
    assert with_blocks((running,), ()) == (running,)
    later = block(shift_week(WEEK, 8), 3)
    assert with_blocks((later,), (coming,)) == (coming,)
