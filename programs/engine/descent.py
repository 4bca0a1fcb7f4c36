"""Going down: a load that fits, a level lower, a target missed (rules K6, L1, P5, S3).

K6  A target is always reachable. A load that is no longer there rounds down to a reachable one; where none is lower,
    a level down; else the exercise is left out.
P5  Missed target once: repeat. Twice in a row: back to the last achieved, or one load down. Three times: a level
    down, and a *stalled* follow-up (practice). Where there is no level down, the step back is taken again.
H1  A level down starts as something new: 2 x floor with 4 good reps left. No load is carried over.
"""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from athletes.concerns import Concern, Topic, Urgency
from athletes.vocabulary import Figure, Reason
from programs.engine.facts import Change, Exercise, Holding, LeftOut, Load, Measure, Target
from programs.engine.families import all_easier
from programs.engine.history import ACHIEVED, History, achieved, misses, result_of
from programs.engine.kit import holdings_for, is_reachable, previous_load, round_down, total_kg
from programs.engine.strength import first_target
from programs.engine.target_facts import (
    Step,
    TargetFacts,
    amount_figure,
    floor_of,
    kg_figure,
    left_out,
    lowest,
    rank_of,
    top_of,
)

REPEAT_MISSES, BACK_MISSES, DOWN_MISSES = 1, 2, 3

REASONS: dict[str, str] = {
    "load-out-of-reach": "{from_kg} kg is not to be had or not allowed here, so {to_kg} kg, the nearest below it.",
    "no-lighter-load": "{from_kg} kg is too much here and nothing lighter is to be had.",
    "level-down": "A level down, from {exercise} to {to}.",
    "missed-once": "The target was missed once: the same again.",
    "back-to-achieved": "{misses} misses in a row: back to {amount}, the last that was done in full.",
    "one-load-down": "{misses} misses in a row: from {from_kg} kg down to {to_kg} kg.",
    "back-to-done": "{misses} misses in a row: {amount} asked for, as much as was done.",
    "stalled": "{exercise} was missed {misses} times in a row.",
    "at-the-bottom": "{misses} misses in a row, and there is nothing easier to go to.",
}


def fitting_load(facts: TargetFacts, load: Load | None) -> Load | None:
    """The load itself when it can be set up and a clinician allows it, else the nearest reachable below (K6, S1)."""
    if load is None:
        return None
    most = facts.max_total_kg
    if is_reachable(facts.kit, load) and (most is None or total_kg(load) <= most):
        return load
    if load.kg is None:
        return previous_load(facts.kit, load.holding, load)
    kg = load.kg if most is None else min(load.kg, most / load.holding.count)
    return round_down(facts.kit, load.holding, kg)


def fit(facts: TargetFacts, target: Target) -> Step | LeftOut:
    """The target within kit and limits (I2, I11), lowered where it is not (K6)."""
    amount = min(target.amount, top_of(facts))
    if facts.limits.under_18 and target.measure is Measure.REPS:
        amount = max(amount, facts.limits.min_reps)
    bridge = fitting_load(facts, target.bridge_load)
    sets = max(1, min(target.sets, facts.limits.max_sets))
    rest_s = max(facts.slot.rest_s, facts.limits.min_rest_s)
    if (amount, sets, rest_s) != (target.amount, target.sets, target.rest_s):
        target = replace(target, amount=amount, sets=sets, rest_s=rest_s)
    if bridge != target.bridge_load or target.bridge_sets >= sets:
        target = without_bridge(target)
    load = fitting_load(facts, target.load)
    if load == target.load:
        return Step(target)
    if load is not None:
        figures = {"from_kg": kg_figure(target.load), "to_kg": kg_figure(load)}
        return Step(without_bridge(replace(target, load=load)), (Reason("K6", "load-out-of-reach", figures),))
    why = Reason("K6", "no-lighter-load", {"from_kg": kg_figure(target.load)})
    return level_down(facts, why) or left_out(facts, why)


def without_bridge(target: Target) -> Target:
    """The target with all its sets at its own load."""
    if target.bridge_load is None and not target.bridge_sets and not target.bridge_amount:
        return target
    return replace(target, bridge_load=None, bridge_sets=0, bridge_amount=0)


def level_down(facts: TargetFacts, *why: Reason, most_kg: Decimal | None = None) -> Step | None:
    """The nearest easier exercise that may be done, as something new; `None` when there is none (L1, H1).

    Nothing heavier than `most_kg` in all is given, and never a load where there was none.
    """
    for other in all_easier(facts.library, facts.exercise.slug):
        if other.slug not in facts.easier_allowed:
            continue
        target = start_of(facts, other, most_kg=most_kg, bare_first=True)
        if target is not None:
            note = Reason("L1", "level-down", {"exercise": facts.exercise.slug, "to": other.slug})
            return Step(target, (*why, note), exercise=other.slug, moved=Change.EASIER)
    return None


def start_of(
    facts: TargetFacts, other: Exercise, *, most_kg: Decimal | None = None, bare_first: bool = False
) -> Target | None:
    """The first target of another exercise here, the same implement first unless `bare_first` (S2, H1)."""
    most = lowest(most_kg, facts.max_total_kg)
    for holding in _holdings(facts, other, bare_first):
        target = first_target(
            other,
            facts.slot,
            holding,
            facts.kit,
            facts.limits,
            max_total_kg=most,
            max_reps=facts.max_reps,
        )
        if target is not None:
            return target
    return None


def _holdings(facts: TargetFacts, other: Exercise, bare_first: bool) -> Iterator[Holding | None]:
    usable = holdings_for(other, facts.kit, alone=facts.rider.trains_alone)
    first = None if bare_first else facts.holding
    return iter(sorted(usable, key=lambda one: one != first))


def step_back(facts: TargetFacts, history: History, standing: Target) -> Step:
    """What misses in a row do to the standing target; call it after at least one (P5)."""
    count = misses(history.counted)
    if count == REPEAT_MISSES:
        return Step(standing, (Reason("P5", "missed-once"),))
    if count == BACK_MISSES:
        return _back(facts, history, standing, count)
    why = Reason("P5", "stalled", {"exercise": facts.exercise.slug, "misses": count})
    stalled = Concern(Topic.STALLED, Urgency.ROUTINE, (why,))
    down = level_down(facts, why, most_kg=total_kg(standing.load))
    if down is None:
        back = _back(facts, history, standing, count)
        down = replace(back, reasons=(why, *back.reasons))
    return replace(down, concerns=(stalled,))


def _back(facts: TargetFacts, history: History, standing: Target, count: int) -> Step:
    """Back to the last achieved, else one load down, else as many as were done, else a level down (P5)."""
    earlier = _last_easier(history, standing)
    if earlier is not None:
        why = Reason(
            "P5",
            "back-to-achieved",
            {"misses": count, "amount": amount_figure(earlier.measure, earlier.amount)},
        )
        return Step(without_bridge(replace(earlier, sets=min(earlier.sets, standing.sets))), (why,))
    if standing.load is not None:
        lighter = previous_load(facts.kit, standing.load.holding, standing.load)
        if lighter is not None:
            figures: dict[str, Figure] = {
                "misses": count,
                "from_kg": kg_figure(standing.load),
                "to_kg": kg_figure(lighter),
            }
            target = without_bridge(replace(standing, load=lighter))
            return Step(target, (Reason("P5", "one-load-down", figures),))
    did = achieved(history.counted[-1])
    amount = max(floor_of(facts), did.amount if did else 0)
    if amount < standing.amount:
        shown = amount_figure(standing.measure, amount)
        why = Reason("P5", "back-to-done", {"misses": count, "amount": shown})
        return Step(without_bridge(replace(standing, amount=amount)), (why,))
    why = Reason("P5", "at-the-bottom", {"misses": count})
    return level_down(facts, why, most_kg=total_kg(standing.load)) or Step(standing, (why,))


def _last_easier(history: History, standing: Target) -> Target | None:
    """The latest target done in full that asks for less than the standing one."""
    done = (one.target for one in reversed(history.counted) if result_of(one) in ACHIEVED)
    return next((target for target in done if is_easier(target, standing)), None)


def is_easier(one: Target, other: Target) -> bool:
    """Whether a target asks for less: a lighter load, or fewer reps, a faster lowering or less bridge."""
    if rank_of(one.load) != rank_of(other.load):
        return rank_of(one.load) < rank_of(other.load)
    less = (one.amount, one.lower_s or 0, one.bridge_sets)
    more = (other.amount, other.lower_s or 0, other.bridge_sets)
    return less != more and all(low <= high for low, high in zip(less, more, strict=True))
