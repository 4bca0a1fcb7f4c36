"""When the next load is too far away or not to be had: the bridge (rules P3, L1, H2).

P3  When the step is above 40 %, or the ceiling is met and the step refused, one thing a success, in this order
    (practice): reps to 20; a lowering of 3 s, then of 4 s; one set at the new load for floor reps and one more such
    set a success, until all are at it and the bridge is crossed; a harder level whose criterion is met; an extra set
    within the caps. Sets at the new load come first while fresh. They are never given under 18, from body weight,
    where the step more than doubles the load, or where the floor is not below the reps at the old load (I5, ours).
    One extra set at most (ours). Power gets neither a slower lowering nor an extra set (`power`).
L1  Where no load step is ever going to come (none to be had, or none allowed), a harder level is taken as soon as its
    criterion is met in as many exposures in a row as a load step needs (ours).
"""

from dataclasses import replace
from decimal import Decimal
from functools import partial

from athletes.vocabulary import Figure, Reason
from programs.engine.descent import start_of, without_bridge
from programs.engine.facts import Change, Criterion, Exposure, Load, Measure, Target
from programs.engine.families import criterion_for, harder
from programs.engine.history import (
    ACHIEVED,
    History,
    Result,
    achieved,
    asks_as_much,
    in_a_row,
    result_of,
)
from programs.engine.kit import is_reachable
from programs.engine.load_step import EXPOSURES_FOR_A_STEP, LoadStep
from programs.engine.power import is_power
from programs.engine.target_facts import Step, TargetFacts, floor_of, kg_figure, reps_more, top_of

SLOW_S = (3, 4)
MOST_BRIDGE_PERCENT = Decimal(100)
EXTRA_SETS = 1

REASONS: dict[str, str] = {
    "reps-on": "Reps go on from {from} to {to}, as the next load is not within reach yet.",
    "slower": "{reached} reached with no load step to take: each rep lowered in {to} s.",
    "bridge-set": "{sets} of {all_sets} sets at {to_kg} kg for {amount}, the others as before.",
    "bridge-crossed": "All {sets} sets are at {to_kg} kg now, for {amount}.",
    "harder-level": "What {to} asks for was met {times} sessions in a row: on from {exercise}.",
    "extra-set": "{sets} sets, one more than the program, as nothing heavier or harder is within reach.",
    "at-the-top": "Nothing heavier or harder is within reach: this is kept.",
}


def cross(facts: TargetFacts, history: History, standing: Target, step: LoadStep) -> Step:
    """The next rung of the bridge after a full success at the standing target (P3). Reps only, not holds."""
    on_bridge = standing.bridge_sets > 0
    if not on_bridge and standing.amount < top_of(facts):
        to = min(top_of(facts), standing.amount + reps_more(facts, history.counted[-1]))
        why = Reason("P3", "reps-on", {"from": standing.amount, "to": to})
        return Step(replace(standing, amount=to), (why,))
    slower = next((slow for slow in SLOW_S if slow > lowering_of(facts, standing)), None)
    if not on_bridge and slower is not None and not is_power(facts.exercise):
        why = Reason("P3", "slower", {"reached": standing.amount, "to": slower})
        return Step(replace(standing, lower_s=slower), (why,))
    load = standing.bridge_load if on_bridge else step.load
    if load is not None and _may_bridge(facts, standing, step):
        return _one_more_at(facts, history, standing, load)
    return (
        level_up(facts, history)
        or _extra_set(facts, standing)
        or Step(standing, (Reason("P3", "at-the-top"),))
    )


def lowering_of(facts: TargetFacts, target: Target) -> int:
    """Seconds in which each rep is lowered."""
    return facts.exercise.lower_s if target.lower_s is None else target.lower_s


def _may_bridge(facts: TargetFacts, standing: Target, step: LoadStep) -> bool:
    """Whether a set at the new load may be given (P3, S1, S3, I5)."""
    barred = step.refused is not None and step.refused.rule in ("S1", "S3")
    if barred or facts.limits.under_18 or standing.load is None or step.load is None:
        return False
    if not is_reachable(facts.kit, step.load) or floor_of(facts) >= standing.amount:
        return False
    return step.percent is None or step.percent <= MOST_BRIDGE_PERCENT


def _one_more_at(facts: TargetFacts, history: History, standing: Target, load: Load) -> Step:
    sets, amount = standing.bridge_sets + 1, floor_of(facts)
    if history.run[-1].target.amount <= amount:  # right after a light session the reps would not fall (I5)
        return Step(standing, (Reason("P7", "eased-in"),))
    figures: dict[str, Figure] = {"to_kg": kg_figure(load), "amount": amount}
    if sets < standing.sets:
        target = replace(standing, bridge_load=load, bridge_sets=sets, bridge_amount=amount)
        why = Reason("P3", "bridge-set", {**figures, "sets": sets, "all_sets": standing.sets})
        return Step(target, (why,))
    target = without_bridge(replace(standing, load=load, amount=amount, lower_s=None))
    return Step(target, (Reason("P3", "bridge-crossed", {**figures, "sets": sets}),))


def level_up(facts: TargetFacts, history: History) -> Step | None:
    """The lowest harder level whose criterion is met often enough and that may be done, if any (L1, H2)."""
    if not facts.new_allowed:
        return None
    needed = EXPOSURES_FOR_A_STEP + facts.limits.extra_exposures
    for other in harder(facts.library, facts.exercise.slug):
        criterion = criterion_for(facts.library, facts.exercise.slug, other.slug)
        if other.slug not in facts.harder_allowed or criterion is None:
            continue
        if in_a_row(history.counted, partial(meets, criterion=criterion)) < needed:
            continue
        target = start_of(facts, other)
        if target is not None:
            figures: dict[str, Figure] = {"exercise": facts.exercise.slug, "to": other.slug, "times": needed}
            why = Reason("L1", "harder-level", figures)
            return Step(target, (why,), exercise=other.slug, moved=Change.HARDER)
    return None


def meets(exposure: Exposure, criterion: Criterion) -> bool:
    """Whether the exposure did in full what a harder level asks for; reps also need the good reps left (L1)."""
    did, result = achieved(exposure), result_of(exposure, reps_left=criterion.reps_left)
    if did is None or did.sets < criterion.sets or did.amount < criterion.value:
        return False
    if exposure.target.measure is Measure.HOLD:
        return result in (Result.EASY, Result.SUCCESS)
    return result is Result.SUCCESS


def _extra_set(facts: TargetFacts, standing: Target) -> Step | None:
    sets = min(facts.slot.sets + EXTRA_SETS, facts.limits.max_sets)
    if standing.sets >= sets or is_power(facts.exercise):
        return None
    return Step(replace(standing, sets=sets), (Reason("P3", "extra-set", {"sets": sets}),))


def has_extra_set(facts: TargetFacts, target: Target) -> bool:
    """Whether the target's sets above the program's are ones that the bridge gave (P3)."""
    slow = facts.exercise.measure is Measure.REPS and lowering_of(facts, target) >= SLOW_S[-1]
    return slow and target.amount >= top_of(facts) and target.sets == facts.slot.sets + EXTRA_SETS


def successes(history: History, standing: Target, *, full: bool) -> int:
    """How many of the latest exposures in a row were successes at the standing target, or full ones (P1)."""
    enough = {Result.SUCCESS} if full else ACHIEVED - {Result.MET}
    return in_a_row(
        history.counted, lambda one: asks_as_much(one.target, standing) and result_of(one) in enough
    )
