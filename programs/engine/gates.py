"""What a pain gate does to one target (rules T1, T3, T5, and I1, I11).

T1  Hold (a pain of 3, or the days after a worse one): repeat, never above the last achieved. Ease (4 or 5): the next
    load at least 20 % lower, or a level down; where there is neither, half the reps. A load comes before a level,
    since the movement stays the same (ours). S: the pain-monitoring model, Thomeé 1997, Silbernagel 2007, an Achilles
    trial; other sites by extrapolation, and what is done at each score is ours, to be confirmed by the club's
    clinician.
    Easing goes one step down from what was asked until the pain began, and stays there while the score stays at 4 or 5
    (ours): the rider's own numbers may lower it further, and a coach is called by T2, but it does not wear itself down
    to one rep.
T3  Soreness that is heavy or long: half the sets of what was asked until it began, and no fewer while it lasts (ours).
T5  Coming back after a pain: half the load, 2 x 8, and two clean exposures before each step (ours).
P10 After a fever or a chest illness: half the sets (ours).
I1  Under any gate nothing is above what was last really done: sets, reps and load each.
I11 Under 18 half the reps is not below 6; then sets are halved too, and where nothing is left to halve the exercise
    is left out (ours).
"""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from athletes.concerns import Gate
from athletes.vocabulary import Figure, Reason
from programs.engine.descent import fitting_load, level_down, without_bridge
from programs.engine.facts import Exposure, LeftOut, Load, Measure, Target
from programs.engine.history import Achieved, History, amounts_done, ever, last_achieved
from programs.engine.kit import lighter_by, total_kg
from programs.engine.strength import AgeLimits, first_target
from programs.engine.target_facts import (
    Step,
    TargetFacts,
    amount_figure,
    kg_figure,
    left_out,
    not_same,
    rank_of,
)

EASE_PERCENT, RETURN_PERCENT = 20, 50
RETURN_SETS, RETURN_REPS, RETURN_S = 2, 8, 30
CLEAN_EXPOSURES_A_STEP = 2

REASONS: dict[str, str] = {
    "stopped": "{exercise} is left out while the pain lasts.",
    "not-above-achieved": "Not above the last achieved: {sets} sets of {amount}.",
    "nothing-achieved-yet": "Nothing known to have been done yet, so no more than a first target.",
    "lightest-too-heavy": "The last load done, {from_kg} kg, is not to be had here, and nothing lighter is.",
    "eased-load": "Eased: from {from_kg} kg to {to_kg} kg, at least {percent} % lower.",
    "eased-level": "Eased by a level.",
    "eased-already": "Eased already since {since}, and no further while it stays as it is: {sets} sets of {amount}.",
    "halved-already": "Half the sets already since {since}: {sets} sets of {amount}.",
    "eased-reps": "Eased: from {from_sets} sets of {from} to {sets} of {amount}, with nothing lighter or easier here.",
    "nothing-gentler": "There is no lighter load, easier level or smaller number here, so it is left out.",
    "half-sets": "Half the sets: from {from_sets} of {from} to {sets} of {amount}.",
    "back-after-pain": "Back after a pain: half the load, at most {sets} sets of {amount}.",
}


def apply_gate(facts: TargetFacts, history: History, step: Step) -> Step | LeftOut:
    """The step as the gate on its sites allows it; nothing changes when the gate is free (T1, T3)."""
    if facts.gate is Gate.FREE:
        return step
    noted = replace(step, reasons=(*facts.gate_reasons, *step.reasons))
    if step.exercise is not None:  # already something easier, done as new
        return halve(facts, history, noted, "T3") if facts.gate is Gate.HALF_SETS else noted
    capped = _not_above_achieved(facts, history, noted)
    if isinstance(capped, LeftOut) or capped.exercise is not None:
        return capped
    if _cannot_repeat(facts.limits, history, capped.target):
        return ease(facts, capped, None)
    if facts.gate is Gate.EASE:
        base = _asked_before(facts, history)
        if _is_eased(facts, base or noted.target, capped.target):
            return capped.with_target(capped.target, _already(facts, "T1", "eased-already", capped.target))
        return ease(facts, capped, base)
    return halve(facts, history, capped, "T3") if facts.gate is Gate.HALF_SETS else capped


def _not_above_achieved(facts: TargetFacts, history: History, step: Step) -> Step | LeftOut:
    """The step with sets, reps and load no higher than what was last really done (I1)."""
    target = without_bridge(step.target)
    if not history.run:
        did = last_achieved(ever(facts, target.load))  # learned again, but not above what it was (P10)
        if did is None:
            return step
    else:
        did = last_achieved(history.run)
        if did is None:
            return _not_above_first(facts, step)
    load = _load_done(target.load, did)
    if load != target.load:
        load = fitting_load(facts, load)
        if load is None:
            why = Reason("T1", "lightest-too-heavy", {"from_kg": kg_figure(did.load)})
            return level_down(facts, *step.reasons, why, most_kg=total_kg(did.load)) or left_out(
                facts, *step.reasons, why
            )
    capped = replace(
        target, load=load, sets=min(target.sets, did.sets), amount=min(target.amount, did.amount)
    )
    lowering = history.run[-1].target.lower_s if history.run else None
    if (capped.lower_s or 0) > (lowering or 0):
        capped = replace(capped, lower_s=lowering)  # nor lowered more slowly than last
    if capped == step.target:
        return step
    figures: dict[str, Figure] = {
        "sets": capped.sets,
        "amount": amount_figure(capped.measure, capped.amount),
    }
    return not_same(step).with_target(capped, Reason("T1", "not-above-achieved", figures))


def keep_within_past(
    target: Target, exposures: Sequence[Exposure], limits: AgeLimits, *, is_sore: bool
) -> tuple[Target, tuple[Reason, ...]] | Reason:
    """The first target of an easier or harder exercise, within that exercise's own past with the implement: no heavier
    than last asked, and with `is_sore` in no part above what was last done; the reason alone when that cannot be asked
    for (I1, I5, I11). `exposures` are all those of that exercise."""
    holding = target.load.holding if target.load is not None else None
    same = [one for one in exposures if (one.target.load.holding if one.target.load else None) == holding]
    if same and rank_of(target.load) > rank_of(same[-1].target.load):
        return Reason("T1", "lightest-too-heavy", {"from_kg": kg_figure(same[-1].target.load)})
    did = last_achieved(same) if is_sore else None
    if did is None:
        return target, ()
    if rank_of(target.load) > rank_of(did.load):
        return Reason("T1", "lightest-too-heavy", {"from_kg": kg_figure(did.load)})
    kept = replace(target, sets=min(target.sets, did.sets), amount=min(target.amount, did.amount))
    if kept == target:
        return target, ()
    if limits.under_18 and target.measure is Measure.REPS and kept.amount < limits.min_reps:
        return Reason("T1", "nothing-gentler")
    figures: dict[str, Figure] = {"sets": kept.sets, "amount": amount_figure(kept.measure, kept.amount)}
    return kept, (Reason("T1", "not-above-achieved", figures),)


def _load_done(asked: Load | None, did: Achieved) -> Load | None:
    """The lighter of what is asked and what was done with the same implement."""
    if asked is None or did.load is None or did.load.holding != asked.holding:
        return asked
    return did.load if rank_of(did.load) < rank_of(asked) else asked


def _not_above_first(facts: TargetFacts, step: Step) -> Step:
    """The step no higher than a first target, part by part, for want of anything known (H3, I1)."""
    target = without_bridge(step.target)
    holding = target.load.holding if target.load else None
    first = first_target(facts.exercise, facts.slot, holding, facts.kit, facts.limits, known=True)
    if first is None:
        return step
    lighter = first.load is not None and rank_of(first.load) < rank_of(target.load)
    capped = replace(
        target,
        sets=min(target.sets, first.sets),
        amount=min(target.amount, first.amount),
        load=first.load if lighter else target.load,
    )
    if capped == step.target:
        return step
    return not_same(step).with_target(capped, Reason("T1", "nothing-achieved-yet"))


def _cannot_repeat(limits: AgeLimits, history: History, target: Target) -> bool:
    """Whether a repeat is not to be had: nothing was done last time, or less than a young rider may be asked for."""
    if target.measure is Measure.REPS and limits.under_18 and target.amount < limits.min_reps:
        return True
    known = [one for one in (amounts_done(exposure) for exposure in history.run) if one is not None]
    return bool(known) and not any(known[-1])


def _asked_before(facts: TargetFacts, history: History) -> Target | None:
    """The most that was asked, part by part, from the last session before the trouble began on: eased targets are
    below it, so it stays what it was. A light session on the day itself may have been eased already, so that one does
    not count as before it; what was asked for the first time since then began with a first target, whatever easing
    made of that. `None` when even a first target is not to be had."""
    since, run = facts.troubled_since, history.run
    asked = [one.target for one in run]
    before = [
        place
        for place, one in enumerate(run)
        if since is None or one.on < since or (one.on == since and not one.light)
    ]
    lately = asked[before[-1] :] if before else [*asked, *_first_asked(facts, asked)]
    if not lately:
        return None
    return replace(
        max(lately, key=lambda target: rank_of(target.load)),
        sets=max(target.sets for target in lately),
        amount=max(target.amount for target in lately),
    )


def _first_asked(facts: TargetFacts, asked: Sequence[Target]) -> tuple[Target, ...]:
    """The first target of the exercise, with the load that was asked at first where any was."""
    holding = facts.holding if not asked else asked[0].load.holding if asked[0].load else None
    first = first_target(
        facts.exercise, facts.slot, holding, facts.kit, facts.limits, max_reps=facts.max_reps, known=True
    )
    return () if first is None else (replace(first, load=asked[0].load) if asked else first,)


def _is_eased(facts: TargetFacts, base: Target, target: Target) -> bool:
    """Whether the target is already a step below what was asked until the pain began, or would be at first (T1)."""
    if target.load is not None and base.load is not None and base.load.holding == target.load.holding:
        lighter = lighter_by(facts.kit, base.load, EASE_PERCENT)
        if lighter is not None and rank_of(target.load) <= rank_of(lighter):
            return True
    half = half_the_reps(facts, base)
    return half is not None and target.amount <= half.amount and target.sets <= half.sets


def _is_halved(facts: TargetFacts, history: History, target: Target) -> bool:
    """Whether the target already has half the sets of what was asked until the trouble began (T3, P10)."""
    base = _asked_before(facts, history)
    if base is None:
        return False
    if base.sets > 1:
        return target.sets <= base.sets // 2
    half = half_the_reps(facts, base)
    return half is not None and target.amount <= half.amount


def _already(facts: TargetFacts, rule: str, key: str, target: Target) -> Reason:
    since = facts.troubled_since.isoformat() if facts.troubled_since else None
    amount = amount_figure(target.measure, target.amount)
    return Reason(rule, key, {"since": since, "sets": target.sets, "amount": amount})


def ease(facts: TargetFacts, step: Step, base: Target | None) -> Step | LeftOut:
    """The step with a load at least 20 % lower, else a level down, else half the reps, else left out (T1).

    `base` is what was asked until the pain began: one step below that, whatever came in between.
    """
    step = not_same(step)
    target = without_bridge(step.target)
    lighter = _lighter_than(facts, target, base)
    if lighter is not None and _enough(facts, target):
        figures: dict[str, Figure] = {
            "from_kg": kg_figure(target.load),
            "to_kg": kg_figure(lighter),
            "percent": EASE_PERCENT,
        }
        return step.with_target(replace(target, load=lighter), Reason("T1", "eased-load", figures))
    most_kg = total_kg(target.load) * (100 - EASE_PERCENT) / 100
    down = level_down(facts, *step.reasons, Reason("T1", "eased-level"), most_kg=most_kg)
    if down is not None:
        return down
    halved = half_the_reps(facts, target)
    if halved is None:
        return left_out(facts, *step.reasons, Reason("T1", "nothing-gentler"))
    once = half_the_reps(facts, base) if base is not None else None
    if once is not None and halved.amount < once.amount < target.amount:
        halved = replace(target, amount=once.amount)
    return step.with_target(halved, Reason("T1", "eased-reps", _halving(target, halved)))


def _lighter_than(facts: TargetFacts, target: Target, base: Target | None) -> Load | None:
    """The load at least 20 % below what was asked until the pain began, and below the target's (T1)."""
    if target.load is None:
        return None
    known = base.load if base is not None else None
    if known is not None and known.holding == target.load.holding:
        lighter = lighter_by(facts.kit, known, EASE_PERCENT)
        if lighter is not None and rank_of(lighter) < rank_of(target.load):
            return lighter
    return lighter_by(facts.kit, target.load, EASE_PERCENT)


def _enough(facts: TargetFacts, target: Target) -> bool:
    least = facts.limits.min_reps if facts.limits.under_18 and target.measure is Measure.REPS else 1
    return target.amount >= least


def half_the_reps(facts: TargetFacts, target: Target) -> Target | None:
    """The target with half the reps or seconds, rounded down; `None` when that cannot be asked for (T1, I11)."""
    least = facts.limits.min_reps if facts.limits.under_18 and target.measure is Measure.REPS else 1
    amount, sets = target.amount // 2, target.sets
    if amount < least:
        amount, sets = least, target.sets // 2
    if sets < 1 or amount > target.amount:
        return None
    return without_bridge(replace(target, sets=sets, amount=amount))


def halve(facts: TargetFacts, history: History, step: Step, rule: str) -> Step | LeftOut:
    """The step with half the sets, rounded down; of one set half the reps; no fewer while it lasts (T3, P10)."""
    target = without_bridge(step.target)
    if step.exercise is None and _is_halved(facts, history, target):
        return step.with_target(target, _already(facts, rule, "halved-already", target))
    step = not_same(step)
    halved = replace(target, sets=target.sets // 2) if target.sets > 1 else half_the_reps(facts, target)
    if halved is None:
        return left_out(facts, *step.reasons, Reason("T1", "nothing-gentler"))
    base = _asked_before(facts, history) if step.exercise is None and target.sets == 1 else None
    once = half_the_reps(facts, base) if base is not None and base.sets == 1 else None
    if once is not None and halved.amount < once.amount < target.amount:
        halved = replace(target, amount=once.amount)  # half of what was asked, whatever has cut it meanwhile
    return step.with_target(halved, Reason(rule, "half-sets", _halving(target, halved)))


def _halving(before: Target, after: Target) -> dict[str, Figure]:
    return {
        "from_sets": before.sets,
        "from": amount_figure(before.measure, before.amount),
        "sets": after.sets,
        "amount": amount_figure(after.measure, after.amount),
    }


def is_back_from_pain(facts: TargetFacts, history: History) -> bool:
    """Whether this is still the first session after a coach let the rider come back (T5)."""
    return facts.returned_on is not None and not any(
        amounts_done(one) is not None for one in _since(facts, history)
    )


def _since(facts: TargetFacts, history: History) -> tuple[Exposure, ...]:
    returned_on = facts.returned_on
    return tuple(one for one in history.run if returned_on is not None and one.on >= returned_on)


def come_back_from_pain(facts: TargetFacts, history: History, step: Step) -> Step | LeftOut:
    """The step at half the load last done and at most 2 x 8, in the first session back after a pain (T5)."""
    if step.exercise is not None or not history.run or not is_back_from_pain(facts, history):
        return step
    target = without_bridge(step.target)
    most = RETURN_REPS if target.measure is Measure.REPS else RETURN_S
    sets, amount = min(target.sets, RETURN_SETS), min(target.amount, most)
    why = Reason(
        "T5", "back-after-pain", {"sets": RETURN_SETS, "amount": amount_figure(target.measure, most)}
    )
    halved = not_same(step).with_target(replace(target, sets=sets, amount=amount), why)
    if target.load is None:
        return halved
    before = _load_before(facts, history) or target.load
    lighter = lighter_by(facts.kit, before, RETURN_PERCENT)
    if lighter is None:
        most_kg = total_kg(before) * Decimal(100 - RETURN_PERCENT) / 100
        down = level_down(facts, *halved.reasons, most_kg=most_kg)
        return down or left_out(facts, *halved.reasons, Reason("T1", "nothing-gentler"))
    if rank_of(lighter) < rank_of(target.load):
        return halved.with_target(replace(halved.target, load=lighter))
    return halved


def _load_before(facts: TargetFacts, history: History) -> Load | None:
    before = [one for one in history.run if facts.returned_on is not None and one.on < facts.returned_on]
    did = last_achieved(before)
    return did.load if did else None
