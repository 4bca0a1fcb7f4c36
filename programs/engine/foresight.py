"""A week that lies ahead, as it would be if everything before it were done as asked.

    foresee(facts, library, week=Week(2027, 6))

The weeks between are worked out one after the other, each from what the one before it asked for: every session done on
its day, every set at its target with as many good reps left as were asked for, no pain, no illness (ours: a preview,
not a forecast). Weekly times and rides repeat; races, absences and bike hours stand on their dates. Nothing is stored.
"""

from dataclasses import replace
from datetime import timedelta
from typing import Final

from programs.engine.facts import (
    Block,
    Done,
    Exposure,
    Item,
    Library,
    Phase,
    SessionRecord,
    SessionState,
    Standing,
    Week,
    WeekDecision,
    WeekFacts,
)
from programs.engine.families import exercise_of
from programs.engine.history import wanted_amounts
from programs.engine.quantities import shift_week, week_days
from programs.engine.resolve import resolve_week

#: Session RPE of a session done as asked.
ASKED_RPE: Final = 5
#: A week is worked out on the Friday before it.
WORKED_OUT_BEFORE: Final = timedelta(days=3)
#: Weeks in which a session counts neither for nor against progress.
_LIGHT: Final = (Phase.TAPER, Phase.RACE_WEEK, Phase.RETURN)


def foresee(facts: WeekFacts, library: Library, *, week: Week) -> WeekDecision:
    """The decision for `week`, from facts of that week or an earlier one. Raises `ValueError` for a week before."""
    if week < facts.week:
        raise ValueError(f"{week} lies before {facts.week}")
    while facts.week < week:
        facts = _next_week(facts, resolve_week(facts, library), library)
    return resolve_week(facts, library)


def with_blocks(before: tuple[Block, ...], blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """The blocks of one program, with those of the program before it up to where it begins."""
    if not blocks:
        return before
    begins = blocks[0].first
    kept = tuple(
        replace(block, last=min(block.last, shift_week(begins, -1)))
        for block in before
        if block.first < begins
    )
    return (*kept, *blocks)


def _next_week(facts: WeekFacts, decision: WeekDecision, library: Library) -> WeekFacts:
    week = shift_week(facts.week, 1)
    light = decision.light or decision.phase in _LIGHT
    exposures = tuple(
        Exposure(session.on, item.exercise, item.target, _as_asked(item, library), ASKED_RPE, light)
        for session in decision.sessions
        for item in session.items
    )
    records = tuple(
        SessionRecord(
            decision.week,
            session.ordinal,
            session.on,
            SessionState.DONE,
            session.on,
            session.minutes,
            ASKED_RPE,
        )
        for session in decision.sessions
    )
    happened = tuple(
        record
        for record in facts.sessions
        if record.week != facts.week or record.state in (SessionState.DONE, SessionState.PART)
    )
    by_a_week = timedelta(days=7)
    return replace(
        facts,
        week=week,
        today=max(facts.today, week_days(week)[0] - WORKED_OUT_BEFORE),
        exposures=(*facts.exposures, *exposures),
        sessions=(*happened, *records),
        standings=_moved(facts.standings, decision.standings),
        openings=tuple(replace(one, on=one.on + by_a_week) for one in facts.openings),
        rides=tuple(replace(one, on=one.on + by_a_week) for one in facts.rides),
        fixed_days=(),
    )


def _as_asked(item: Item, library: Library) -> Done:
    target = item.target
    amounts = wanted_amounts(target)
    load, left = target.load, min(4, target.reps_left)
    if exercise_of(library, item.exercise).sided:
        return Done(left_amounts=amounts, right_amounts=amounts, load=load, reps_left=left)
    return Done(amounts=amounts, load=load, reps_left=left)


def _moved(before: tuple[Standing, ...], moved: tuple[Standing, ...]) -> tuple[Standing, ...]:
    levels = {standing.pattern: standing for standing in (*before, *moved)}
    return tuple(levels.values())
