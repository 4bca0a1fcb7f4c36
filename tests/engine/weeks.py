"""Invented weeks for the tables of the composition's tests: a rider, a hall, a program of two sessions."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from athletes.concerns import BodyReport
from athletes.vocabulary import Pattern, Reason, Region, Side
from programs.engine.facts import (
    Block,
    Done,
    Exposure,
    Item,
    LeftOut,
    Library,
    Opening,
    Phase,
    Race,
    SessionRecord,
    SessionState,
    Slot,
    Standing,
    Target,
    Template,
    WeekDecision,
    WeekFacts,
)
from programs.engine.quantities import week_of
from programs.engine.resolve import resolve_week
from tests.engine.histories import asked
from tests.engine.samples import HALL, LIBRARY, bell, rider, slot

#: The Monday of the week that is asked about.
MONDAY = date(2026, 3, 23)
TUESDAY, THURSDAY, SATURDAY = (MONDAY + timedelta(days=days) for days in (1, 3, 5))
WEEK = week_of(MONDAY)
LEGS = Template(1, "Legs", (slot(id="squat"), slot(id="plank", pattern=Pattern.FRONT_TRUNK)))
ARMS = Template(2, "Arms", (slot(id="press", pattern=Pattern.PUSH),))


def opening(on: date, minutes: int = 90, venue: str = "hall", start: int = 18 * 60) -> Opening:
    return Opening(on, start, minutes, venue)


def block(*templates: Template, **changes: Any) -> Block:
    """A build block that began 20 weeks ago, in a week that is not light, with as many sessions as templates."""
    plain: dict[str, Any] = {
        "first": week_of(MONDAY - timedelta(weeks=20)),
        "last": week_of(MONDAY + timedelta(weeks=10)),
        "intent": Phase.BUILD,
        "sessions": max(1, min(2, len(templates))),
    }
    return Block(templates=templates, **{**plain, **changes})


def record(
    days_ago: int, ordinal: int = 1, state: SessionState = SessionState.DONE, **changes: Any
) -> SessionRecord:
    """A session planned so many days before the week's Monday, done on that day."""
    on = MONDAY - timedelta(days=days_ago)
    return replace(SessionRecord(week_of(on), ordinal, on, state), **changes)


#: Ten weeks of two sessions a week, so that nobody is learning any more.
ATTENDED = tuple(
    record(7 * week - day, ordinal) for week in range(10, 0, -1) for ordinal, day in ((1, 1), (2, 3))
)


def did(target: Target, days_ago: int, slug: str = "goblet", **changes: Any) -> Exposure:
    """The target done in full with two good reps left, so many days before the week's Monday."""
    amounts = (target.amount,) * target.sets
    plain: dict[str, Any] = {"done": Done(amounts=amounts, load=target.load, reps_left=2)}
    return Exposure(MONDAY - timedelta(days=days_ago), slug, target, **{**plain, **changes})


def weekly(
    target: Target, weeks: int = 8, slug: str = "goblet", last: int = 4, **changes: Any
) -> tuple[Exposure, ...]:
    """The target done once a week, the last time so many days before the week's Monday."""
    return tuple(did(target, last + 7 * week, slug, **changes) for week in reversed(range(weeks)))


GOBLET_AT_12 = asked(10, bell(12))
PLANK_HELD = weekly(
    Target(asked().measure.HOLD, 3, 40), slug="plank", done=Done(amounts=(40, 40, 40), reps_left=3)
)
PRESSED = weekly(asked(10), slug="press-up", last=2)
#: Eight weeks of everything that the program asks for.
PAST = tuple(sorted((*weekly(GOBLET_AT_12), *PLANK_HELD, *PRESSED), key=lambda one: one.on))


def facts(**changes: Any) -> WeekFacts:
    """A learned adult with a goblet squat, a plank and a press-up, two sessions a week in the hall."""
    plain: dict[str, Any] = {
        "week": WEEK,
        "today": MONDAY,
        "rider": rider(35, first_week_on=MONDAY - timedelta(weeks=12)),
        "blocks": (block(LEGS, ARMS),),
        "openings": (opening(TUESDAY), opening(THURSDAY), opening(SATURDAY)),
        "venues": (("hall", HALL),),
        "standings": (
            Standing(Pattern.SQUAT, "goblet"),
            Standing(Pattern.FRONT_TRUNK, "plank"),
            Standing(Pattern.PUSH, "press-up"),
        ),
        "exposures": PAST,
        "sessions": ATTENDED,
    }
    return WeekFacts(**{**plain, **changes})


def resolved(library: Library = LIBRARY, **changes: Any) -> WeekDecision:
    return resolve_week(facts(**changes), library)


def items_of(decision: WeekDecision) -> dict[str, Item]:
    """Every item by its slot; of a slot that comes twice, the later one."""
    return {item.slot: item for session in decision.sessions for item in session.items}


def left_out(decision: WeekDecision) -> dict[str, LeftOut]:
    return {one.slot: one for session in decision.sessions for one in session.left_out}


def keys(reasons: tuple[Reason, ...]) -> list[str]:
    """The reasons as "rule key"."""
    return [f"{reason.rule} {reason.key}" for reason in reasons]


def pain(score: int, *, days_ago: int = 1, region: Region = Region.KNEE, **changes: Any) -> BodyReport:
    """A pain during training and the same the next morning, on both sides."""
    plain: dict[str, Any] = {"side": Side.BOTH, "during": score, "next_morning": score}
    return BodyReport(MONDAY - timedelta(days=days_ago), region, **{**plain, **changes})


def race(days_ahead: int, **changes: Any) -> Race:
    return replace(Race(MONDAY + timedelta(days=days_ahead), 10 * 60, "Larkmoor road race"), **changes)


def slots_of(*patterns: Pattern, sets: int = 3) -> tuple[Slot, ...]:
    return tuple(
        slot(id=f"{place}-{pattern.value}", pattern=pattern, sets=sets)
        for place, pattern in enumerate(patterns)
    )
