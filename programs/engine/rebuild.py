"""The first session with an exercise in a season that begins soon after the last (rule P9).

P9  Between two seasons 6 to under 10 weeks apart a build week starts from 10 % less load (practice; the numbers are
    ours). It holds once for each exercise and implement, at its first session since the race; reps stay, and nothing
    rises in that session. The load rounds down to a reachable one. Where nothing lighter is to be had the reps are cut
    by the same 10 % instead, rounded down: K6 would take the exercise away for the whole rebuild, which a rider who
    has just raced does not need (ours).
"""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from athletes.vocabulary import Figure, Reason
from programs.engine.facts import Change, Exposure, Target, TargetDecision
from programs.engine.history import amounts_done
from programs.engine.kit import lighter_by
from programs.engine.target_facts import TargetFacts, amount_figure, kg_figure, rank_of

REASONS: dict[str, str] = {
    "rebuild-load": "First time since the race: load {percent} % lower, from {from_kg} kg to {to_kg} kg.",
    "rebuild-reps": "First time since the race: {from_kg} kg is the lightest here, so {to} instead of {from}.",
}

#: Kinds of change whose reasons no longer hold once the target is cut.
RISES = frozenset(
    {
        Change.MORE_REPS,
        Change.MORE_TIME,
        Change.MORE_LOAD,
        Change.MORE_SETS,
        Change.SLOWER,
        Change.BRIDGE,
    }
)


def rebuild(facts: TargetFacts, decision: TargetDecision, *, percent: int, since_on: date) -> TargetDecision:
    """The decision with the load that a rebuild starts from, where this is its first session since `since_on`."""
    before = _asked_before(facts, decision, since_on)
    target = decision.target
    if before is None or before.target.load is None:
        return decision
    load = lighter_by(facts.kit, before.target.load, percent)
    if load is not None and rank_of(target.load) <= rank_of(load):
        return decision
    asked = replace(
        target,
        load=load or target.load,
        sets=min(target.sets, before.target.sets),
        amount=min(target.amount, before.target.amount),
        lower_s=before.target.lower_s,
        bridge_load=None,
        bridge_sets=0,
        bridge_amount=0,
    )
    kept = () if decision.change in RISES else decision.reasons
    from_kg = kg_figure(before.target.load)
    if load is not None:
        why = Reason("P9", "rebuild-load", {"percent": percent, "from_kg": from_kg, "to_kg": kg_figure(load)})
        return replace(decision, target=asked, change=Change.LESS_LOAD, reasons=(*kept, why))
    amount = max(
        facts.limits.min_reps if facts.limits.under_18 else 1,
        int(asked.amount * Decimal(100 - percent) / 100),
    )
    fewer = min(asked.amount, amount)
    why = Reason("P9", "rebuild-reps", {"from_kg": from_kg, **_shown(asked, fewer)})
    return replace(
        decision, target=replace(asked, amount=fewer), change=Change.FEWER_REPS, reasons=(*kept, why)
    )


def _shown(asked: Target, fewer: int) -> dict[str, Figure]:
    return {"from": amount_figure(asked.measure, asked.amount), "to": amount_figure(asked.measure, fewer)}


def _asked_before(facts: TargetFacts, decision: TargetDecision, since_on: date) -> Exposure | None:
    """What was asked last with the implement, if that was before the race and nothing is known since."""
    load = decision.target.load
    if load is None or decision.exercise != facts.exercise.slug:
        return None
    same = [one for one in facts.exposures if one.target.load and one.target.load.holding == load.holding]
    if not same or any(one.on > since_on and amounts_done(one) is not None for one in same):
        return None
    return same[-1]
