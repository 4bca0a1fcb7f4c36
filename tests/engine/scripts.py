"""A short program for synthetic riders to live, and shares of it to compare."""

from datetime import date

from athletes.vocabulary import Pattern
from programs.engine.facts import Block, Part, Phase, Slot, Template
from programs.engine.quantities import shift_week, week_of
from programs.engine.rehearsal import Script

MONDAY = date(2026, 9, 28)
FIRST = week_of(MONDAY)


def slot(name: str, pattern: Pattern, sets: int = 3, part: Part = Part.MAIN) -> Slot:
    return Slot(name, part, pattern, sets=sets)


FULL = (
    Template(
        1,
        "Squat and pull",
        (
            slot("1-1", Pattern.SQUAT),
            slot("1-2", Pattern.HINGE),
            slot("1-3", Pattern.PULL),
            slot("1-4", Pattern.FRONT_TRUNK, 2, Part.ASSISTANCE),
        ),
    ),
    Template(
        2,
        "Single leg and push",
        (
            slot("2-1", Pattern.SINGLE_LEG),
            slot("2-2", Pattern.PUSH),
            slot("2-3", Pattern.SQUAT, 2),
            slot("2-4", Pattern.CALF, 2, Part.ASSISTANCE),
        ),
    ),
)


def script(weeks: int = 40) -> Script:
    """Learn for three weeks, then build."""
    learn = Block(FIRST, shift_week(FIRST, 2), Phase.LEARN, 2, FULL, "Learn")
    build = Block(shift_week(FIRST, 3), shift_week(FIRST, weeks - 1), Phase.BUILD, 2, FULL, "Build")
    return Script(FIRST, (learn, build))
