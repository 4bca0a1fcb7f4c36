"""What a break would do to one exercise: the weeks of its return, worked out before they come (rule P10).

The weeks are asked of the same rules as any other target, one after another, each taken as done as asked. It is a
forecast for an adult or a young rider without pain, illness or a clinician's limits, who trained the exercise steadily
until the break; the plan of a real week takes all of that into account.
"""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from athletes.values import value_class
from programs.engine.facts import (
    Done,
    Edge,
    Exercise,
    Exposure,
    Kit,
    LeftOut,
    Library,
    Phase,
    Rider,
    Slot,
    Target,
    TargetDecision,
)
from programs.engine.families import all_easier
from programs.engine.history import LEARN_AGAIN_DAYS, is_lightened
from programs.engine.kit import holdings_for
from programs.engine.layoff import REPEAT_DAYS, load_cut, return_weeks, volume_cuts
from programs.engine.progression import next_target
from programs.engine.strength import TEACHING_EXPOSURES, age_limits
from programs.engine.target_facts import TargetFacts

_EVERY_DAYS, _WEEK_DAYS, _MOST_DAYS = 3, 7, 3660


@value_class
class LayoffQuestion:
    """A break of so many `days` after an exercise was last done on `last_on` with this `target`, and the kit on return.

    Ages are as a birth year leaves them. `usual_sets` are the sets of a usual session, those of the target where it is
    left out. `library` holds what may stand in for the exercise where the kit has nothing light enough.
    """

    exercise: Exercise
    target: Target
    last_on: date
    days: int
    youngest_age: int
    oldest_age: int
    kit: Kit = Kit()
    usual_sets: Decimal | None = None
    library: Library = Library(())


@value_class
class ReturnWeek:
    """One week back: its number, the day it is asked for, the per cent cut from usual volume by the rule, and either
    what is asked (`decision`) or why nothing is (`left_out`)."""

    week: int
    on: date
    volume_cut_percent: int
    decision: TargetDecision | None = None
    left_out: LeftOut | None = None


@value_class
class Return:
    """What a break of so many `days` brings: the per cent taken off the load, the per cent cut from usual volume by
    week, whether it is learned again from the start, and the weeks. After fewer than 8 days there are none."""

    days: int
    load_cut_percent: int
    volume_cuts_percent: tuple[int, ...]
    is_learned_again: bool
    weeks: tuple[ReturnWeek, ...]


def weeks_back(asked: LayoffQuestion) -> Return:
    """The weeks of a return (P10). Raises `ValueError` for a break of less than a day or more than ten years."""
    if not 1 <= asked.days <= _MOST_DAYS:
        raise ValueError(f"days: a break has 1 to {_MOST_DAYS}, not {asked.days}")
    if asked.target.sets < 1 or asked.target.amount < 1:
        raise ValueError("target: at least 1 set of 1 is needed")
    count = max(return_weeks(asked.days), 1 if asked.days >= REPEAT_DAYS else 0)
    facts, weeks = _facts(asked), []
    for week in range(1, count + 1):
        on = asked.last_on + timedelta(days=asked.days + _WEEK_DAYS * (week - 1))
        answer = next_target(replace(facts, session_on=on, return_week=week))
        weeks.append(_week(asked, week, on, answer))
        if isinstance(answer, LeftOut) or answer.exercise != asked.exercise.slug:
            break  # what is not done here is no past for the week after it
        light = asked.days < LEARN_AGAIN_DAYS or is_lightened(reason.key for reason in answer.reasons)
        facts = replace(facts, exposures=(*facts.exposures, _done(asked, answer.target, on, light=light)))
    return Return(
        days=asked.days,
        load_cut_percent=load_cut(asked.days),
        volume_cuts_percent=volume_cuts(asked.days),
        is_learned_again=asked.days >= LEARN_AGAIN_DAYS,
        weeks=tuple(weeks),
    )


def _week(asked: LayoffQuestion, week: int, on: date, answer: TargetDecision | LeftOut) -> ReturnWeek:
    cuts = volume_cuts(asked.days)
    percent = cuts[week - 1] if week <= len(cuts) else 0
    if isinstance(answer, LeftOut):
        return ReturnWeek(week, on, percent, left_out=answer)
    return ReturnWeek(week, on, percent, decision=answer)


def _facts(asked: LayoffQuestion) -> TargetFacts:
    """The question about the first session back of somebody who trained the exercise steadily until then."""
    rider, target, library = Rider(asked.youngest_age, asked.oldest_age), asked.target, _library(asked)
    exercise = next(one for one in library.exercises if one.slug == asked.exercise.slug)
    past = tuple(
        _done(asked, target, asked.last_on - timedelta(days=_EVERY_DAYS * ago), light=False)
        for ago in range(TEACHING_EXPOSURES + 1, -1, -1)
    )
    return TargetFacts(
        exercise=exercise,
        slot=Slot("asked", exercise.part, exercise.pattern, sets=target.sets, rest_s=target.rest_s),
        kit=asked.kit,
        holding=target.load.holding if target.load is not None else None,
        library=library,
        exposures=past,
        limits=age_limits(rider),
        rider=rider,
        session_on=asked.last_on + timedelta(days=asked.days),
        phase=Phase.LEARN if asked.days >= LEARN_AGAIN_DAYS else Phase.RETURN,
        away_days=asked.days,
        away_since=asked.last_on,
        return_week=1,
        usual_sets=asked.usual_sets if asked.usual_sets is not None else Decimal(target.sets),
        easier_allowed=frozenset(
            one.slug for one in all_easier(library, exercise.slug) if holdings_for(one, asked.kit)
        ),
    )


def _library(asked: LayoffQuestion) -> Library:
    """The library with the exercise in it, without steps to what it does not hold."""
    others = tuple(one for one in asked.library.exercises if one.slug != asked.exercise.slug)
    known = {asked.exercise.slug, *(one.slug for one in others)}

    def kept(edges: tuple[Edge, ...]) -> tuple[Edge, ...]:
        return tuple(edge for edge in edges if edge.harder in known)

    return Library(
        tuple(replace(one, edges=kept(one.edges)) for one in (*others, asked.exercise)), asked.library.digest
    )


def _done(asked: LayoffQuestion, target: Target, on: date, *, light: bool) -> Exposure:
    done = Done(amounts=(target.amount,) * target.sets, load=target.load, reps_left=max(2, target.reps_left))
    return Exposure(on, asked.exercise.slug, target, done, light=light)
