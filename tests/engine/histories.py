"""Invented targets, exposures and questions about one target, for the tables of the engine's tests."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from programs.engine.facts import (
    Done,
    Exercise,
    Exposure,
    LeftOut,
    Library,
    Load,
    Measure,
    Phase,
    Target,
    TargetDecision,
)
from programs.engine.progression import next_target
from programs.engine.strength import age_limits
from programs.engine.target_facts import TargetFacts
from tests.engine.samples import HALL, KETTLEBELL, LIBRARY, exercise, rider, slot

#: A Thursday, the day of the session that is asked about.
TODAY = date(2026, 3, 26)
ADULT, FIFTY, SEVENTEEN = (age_limits(rider(age)) for age in (35, 55, 17))


def asked(amount: int = 8, load: Load | None = None, **changes: Any) -> Target:
    """Three sets of so many reps, two good ones left, unless `changes` say otherwise."""
    plain: dict[str, Any] = {"measure": Measure.REPS, "sets": 3, "reps_left": 2}
    return Target(amount=amount, load=load, **{**plain, **changes})


def exposure(target: Target, *, slug: str = "goblet", days_ago: int = 3, **changes: Any) -> Exposure:
    """The target done as asked with two good reps left, so many days before the session."""
    amounts = (target.amount,) * target.sets
    plain: dict[str, Any] = {"done": Done(amounts=amounts, load=target.load, reps_left=2)}
    return Exposure(TODAY - timedelta(days=days_ago), slug, target, **{**plain, **changes})


def missed(target: Target, *, by: int = 1, **changes: Any) -> Exposure:
    """The target with the last set short of it."""
    short = (target.amount,) * (target.sets - 1) + (target.amount - by,)
    return exposure(target, done=Done(amounts=short, load=target.load, reps_left=0), **changes)


def silent(target: Target, **changes: Any) -> Exposure:
    return exposure(target, done=None, **changes)


def spaced(*exposures: Exposure, every: int = 3, last: int = 3) -> tuple[Exposure, ...]:
    """The exposures in order, the last so many days before the session and the others as many days apart."""
    back = len(exposures)
    days = [last + every * (back - index - 1) for index in range(back)]
    return tuple(
        replace(one, on=TODAY - timedelta(days=ago)) for one, ago in zip(exposures, days, strict=True)
    )


def learned(target: Target, *latest: Exposure, slug: str = "goblet") -> tuple[Exposure, ...]:
    """Six exposures that taught the exercise at five reps of the same load, then the latest ones."""
    low = replace(target, amount=5, sets=2, bridge_load=None, bridge_sets=0, bridge_amount=0, lower_s=None)
    return spaced(*(exposure(low, slug=slug) for _time in range(6)), *latest)


def question(one: Exercise, exposures: Iterable[Exposure] = (), **changes: Any) -> TargetFacts:
    """A question about the next target of an adult with a kettlebell in the hall, in a build week."""
    plain: dict[str, Any] = {
        "slot": slot(pattern=one.pattern),
        "kit": HALL,
        "holding": KETTLEBELL if KETTLEBELL in one.holdings else None,
        "library": library_of(*(other for other in LIBRARY.exercises if other.slug != one.slug), one),
        "limits": ADULT,
        "rider": rider(35),
        "session_on": TODAY,
        "phase": Phase.BUILD,
    }
    return TargetFacts(exercise=one, exposures=tuple(exposures), **{**plain, **changes})


def answer(facts: TargetFacts) -> TargetDecision:
    """The next target, which must not be left out."""
    decision = next_target(facts)
    assert isinstance(decision, TargetDecision), decision
    return decision


def refusal(facts: TargetFacts) -> LeftOut:
    """The slot left out, which must be."""
    decision = next_target(facts)
    assert isinstance(decision, LeftOut), decision
    return decision


def keys(decision: TargetDecision | LeftOut) -> list[str]:
    """The reasons as "rule key"."""
    return [f"{reason.rule} {reason.key}" for reason in decision.reasons]


def library_of(*exercises: Exercise) -> Library:
    return Library(exercises, "case")


def kg(value: int | str) -> Decimal:
    return Decimal(value)


#: A squat at body weight with nothing above it, for what is at its own top.
LONE = exercise("lone-squat", 2)
