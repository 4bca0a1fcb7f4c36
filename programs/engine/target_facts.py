"""What is asked about one target, and the bounds it lives in (rules P1, P2, P4, S1, S3, H1, K6).

P1  Reps start at 5 or 6 and end at 15 to 20 (practice). An exercise whose own upper end is under 15 keeps to it; any
    other may be taken to 20 where a load step asks for it (ours). A slot's range says where ordinary climbing ends.
P4  Holds end at 60 s, and at 120 s where nothing harder is left (practice). An exercise whose own upper end is under
    60 s keeps to it (ours).
S1  A named clinician's limits on load and reps are obeyed everywhere.
S3  Under 18: 6 to 15 reps, 1 to 3 sets.
S4  From 65 balance work is part of each session: neither a light week nor maintaining, a race or a break cuts it; pain,
    soreness and illness do (ours).
"""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from athletes.concerns import Concern, Gate
from athletes.values import value_class
from athletes.vocabulary import Figure, Pattern, Reason
from programs.engine.facts import (
    Change,
    Exercise,
    Exposure,
    Holding,
    Kit,
    LeftOut,
    Library,
    Load,
    Measure,
    Phase,
    Rider,
    Slot,
    Target,
)
from programs.engine.kit import total_kg
from programs.engine.power import POWER_REPS_LEFT, is_power
from programs.engine.quantities import plain
from programs.engine.strength import AgeLimits, amount_range

USUAL_TOP_REPS, MOST_REPS = 15, 20
USUAL_TOP_S, MOST_S = 60, 120
USUAL_REPS_LEFT, YOUNG_REPS_LEFT = 2, 3
#: With so many good reps left (4 stands for 4 or more) an adult goes up by two reps at once.
MANY_REPS_LEFT, REPS_WITH_MANY_LEFT = 4, 2


#: Reasons that say that nothing changes: they go when something changes the target after all.
SAME_AGAIN = frozenset(
    {
        "away-repeat",
        "before-race-kept",
        "eased-in",
        "easy-not-enough",
        "effort-unknown",
        "few-left",
        "gate-repeat",
        "held-no-longer",
        "hold-before-level",
        "hold-kept",
        "maintain-kept",
        "missed-once",
        "new-key",
        "not-known",
        "nothing-counted",
        "once-more",
        "progress-barred",
        "session-was-hard",
        "since-return",
        "stepped-already",
        "teaching",
        "teaching-kept",
        "wait-once-more",
    }
)


@value_class(kw_only=True)
class TargetFacts:
    """Everything that decides the next target of one exercise in one slot.

    `exposures` are all those of the exercise, whatever the implement, oldest first; those on or after `session_on` are
    not looked at. `holding` is how it would be loaded on that day, `None` for body weight only.

    `away_days`, `away_since` and `return_week` describe the pattern's last break as `layoff.gap_before` finds it.
    `usual_sets` are this slot's sets in one session of a normal week: the median weekly sets of the last four, shared
    out over the sessions of this week. `known_max_kg` is a tested maximum, never an estimate (P11) and never one of
    an under-18.

    `cut_percent` is the cut in sets before a race on that day (P9). `halve_sets` halves them for `halve_rule`: after a
    fever or while ill (P10), or for heavy soreness (T3). `troubled_since` is the day on which the pain, soreness or
    illness began that bears on the exercise now: what was asked until then is what easing and halving count from.
    `harder_allowed` and `easier_allowed` name what fits the kit, is not barred and loads no sore region more.
    `progress_allowed` False bars every rise. `returned_on` is the day from which a coach lets the rider come back to it
    after a pain (T5). `max_total_kg` and `max_reps` are a clinician's.
    """

    exercise: Exercise
    slot: Slot
    kit: Kit
    holding: Holding | None
    library: Library
    exposures: tuple[Exposure, ...]
    limits: AgeLimits
    rider: Rider
    session_on: date
    phase: Phase
    gate: Gate = Gate.FREE
    gate_reasons: tuple[Reason, ...] = ()
    light: bool = False
    cut_percent: int = 0
    halve_sets: bool = False
    halve_rule: str = "P10"
    troubled_since: date | None = None
    away_days: int | None = None
    away_since: date | None = None
    return_week: int | None = None
    usual_sets: Decimal | None = None
    known_max_kg: Decimal | None = None
    progress_allowed: bool = True
    returned_on: date | None = None
    stepped_this_week: bool = False
    new_allowed: bool = True
    harder_allowed: frozenset[str] = frozenset()
    easier_allowed: frozenset[str] = frozenset()
    max_total_kg: Decimal | None = None
    max_reps: int | None = None


@value_class
class Step:
    """A target on its way through the rules: `exercise` and `moved` are set when the level moves."""

    target: Target
    reasons: tuple[Reason, ...] = ()
    exercise: str | None = None
    moved: Change | None = None
    concerns: tuple[Concern, ...] = ()

    def with_target(self, target: Target, *reasons: Reason) -> "Step":
        """The same step with another target, and why it is another."""
        return Step(target, (*self.reasons, *reasons), self.exercise, self.moved, self.concerns)


def not_same(step: Step) -> Step:
    """The step without the reasons that say that nothing changes."""
    return replace(step, reasons=tuple(one for one in step.reasons if one.key not in SAME_AGAIN))


def left_out(facts: TargetFacts, *reasons: Reason) -> LeftOut:
    """The slot without an exercise, and why."""
    return LeftOut(facts.slot.id, facts.slot.pattern, reasons)


def floor_of(facts: TargetFacts) -> int:
    """Where reps or seconds start and where a heavier load restarts (P2, H1)."""
    low, _high = amount_range(facts.exercise, facts.slot, facts.limits)
    return low if facts.max_reps is None or _is_hold(facts) else min(low, facts.max_reps)


def ceiling_of(facts: TargetFacts) -> int:
    """Where ordinary climbing ends: the upper end of the slot and the exercise (P1), 60 s at most for holds (P4)."""
    _low, high = amount_range(facts.exercise, facts.slot, facts.limits)
    return min(high, USUAL_TOP_S) if _is_hold(facts) else min(high, top_of(facts))


def top_of(facts: TargetFacts) -> int:
    """The most that may ever be asked: 20 reps or 120 s, less by exercise, age or clinician (P3, P4, S3)."""
    high = facts.exercise.high
    if _is_hold(facts):
        return MOST_S if high >= USUAL_TOP_S else high
    most = min(MOST_REPS if high >= USUAL_TOP_REPS else high, facts.limits.max_reps)
    return most if facts.max_reps is None else min(most, facts.max_reps)


def reps_more(facts: TargetFacts, latest: Exposure) -> int:
    """Reps that one success adds: the exercise's own, and two for an adult with 4 or more good reps left (P1, ours)."""
    spare = latest.done.reps_left if latest.done is not None else None
    plenty = spare is not None and spare >= MANY_REPS_LEFT and not facts.limits.under_18
    plenty = plenty and not is_power(facts.exercise)
    return max(facts.exercise.rep_increment, REPS_WITH_MANY_LEFT if plenty else 1)


def usual_reps_left(facts: TargetFacts) -> int:
    """How many good reps a learned exercise should leave: 2, under 18 3, power 4 (P1; the young's and power's are
    ours)."""
    if is_power(facts.exercise):
        return POWER_REPS_LEFT
    return YOUNG_REPS_LEFT if facts.limits.under_18 else USUAL_REPS_LEFT


def keeps_balance(facts: TargetFacts) -> bool:
    """Whether it is the balance work of a rider from 65, which no light week, season, race or break cuts (S4)."""
    return facts.limits.balance_each_session and facts.slot.pattern is Pattern.BALANCE


def amount_figure(measure: Measure, amount: int) -> Figure:
    """Reps or seconds as a figure of a reason: seconds with their unit.

    >>> amount_figure(Measure.REPS, 8), amount_figure(Measure.HOLD, 30)
    (8, '30 s')
    """
    return f"{amount} s" if measure is Measure.HOLD else amount


def lowest(*caps: Decimal | None) -> Decimal | None:
    """The lowest of the caps that there are."""
    return min((cap for cap in caps if cap is not None), default=None)


def rank_of(load: Load | None) -> tuple[Decimal, int]:
    """Orders the loads of one holding, body weight below all."""
    return (total_kg(load), 0 if load is None else load.band or 0)


def kg_figure(load: Load | None) -> str:
    """The external mass in all as a figure of a reason; for a band its level, marked as such."""
    if load is not None and load.band is not None:
        return f"band {load.band}"
    return f"{plain(total_kg(load))}"


def figure(value: Decimal) -> str:
    """A decimal as a figure of a reason, to one place, without trailing zeros.

    >>> figure(Decimal("12.4999")), figure(Decimal("25.0"))
    ('12.5', '25')
    """
    return str(plain(value.quantize(Decimal("0.1"))))


def _is_hold(facts: TargetFacts) -> bool:
    return facts.exercise.measure is Measure.HOLD
