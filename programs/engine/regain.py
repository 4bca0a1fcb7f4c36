"""What was there before a break or an easing comes back sooner than it was built (rules P2, P7, P8, P10; ours).

P2, P10  A load that was lifted in full in the last 26 weeks, with no target missed since, and that a return took off,
    needs no number of reps before it is taken up again: two good sessions in a row at the lighter load are enough,
    from 50 and after a pain as many more as before any step. Kits are coarse: a break of two weeks takes a bell of
    8 kg down to one of 6, and to earn that third again as if it were new would take a winter. It starts at the floor,
    as any step does (I5). Under 18 a step above 10 % keeps to S3.
P7, P8  So do reps, seconds and sets: after a success at the standing load, two reps (10 s, one set) at a time up to
    what was done in full with it, in the racing months as well, where nothing else rises: what they keep is what was
    there.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from athletes.vocabulary import Figure, Reason
from programs.engine.facts import Exposure, Load, Target
from programs.engine.history import ACHIEVED, History, Result, restored_amount, result_of
from programs.engine.target_facts import Step, TargetFacts, amount_figure, rank_of

REMEMBERED = timedelta(weeks=26)

REASONS: dict[str, str] = {
    "back-to-kept": "After lighter sessions, back towards what was kept: {to} for {from}.",
    "sets-back-to-kept": "After lighter sessions, back towards what was kept: {to_sets} sets for {from_sets}.",
}


def remembered(facts: TargetFacts, history: History) -> Sequence[Exposure]:
    """The exposures that were done in full in the last 26 weeks and count for progress, newest first, none of them from
    before a target was missed."""
    found: list[Exposure] = []
    for one in reversed(history.counted):
        result = result_of(one)
        if result is Result.MISSED or facts.session_on - one.on > REMEMBERED:
            break
        if result in ACHIEVED:
            found.append(one)
    return found


def was_lifted(facts: TargetFacts, history: History, load: Load) -> bool:
    """Whether that load, or a heavier one, was lifted in full before; not asked for right after a lighter session,
    whose few reps a large step would keep (I5), nor on the way back from a pain, which has its own steps (T5)."""
    if not history.counted or history.run[-1] is not history.counted[-1] or facts.returned_on is not None:
        return False
    return any(rank_of(one.target.load) >= rank_of(load) for one in remembered(facts, history))


def come_back_to(facts: TargetFacts, history: History, standing: Target, *, least: int = 0) -> Step | None:
    """A step back up to what was done in full with the standing load, `None` when nothing is above it (P7, P8). `least`
    are the reps that the next load asks for, where that was lifted before.

    Call it after a success, when nothing bars a rise but the season.
    """
    if standing.bridge_sets:
        return None
    same = [one.target for one in remembered(facts, history) if one.target.load == standing.load]
    amount = min(max([least, *(one.amount for one in same)]), restored_amount(standing))
    if amount > standing.amount:
        figures: dict[str, Figure] = {
            "from": amount_figure(standing.measure, standing.amount),
            "to": amount_figure(standing.measure, amount),
        }
        return Step(replace(standing, amount=amount), (Reason("P7", "back-to-kept", figures),))
    return None


def sets_back(facts: TargetFacts, history: History, standing: Target) -> Step | None:
    """A set more, up to what was done in full with the standing load, `None` when nothing is above it (P8)."""
    same = [one.target for one in remembered(facts, history) if one.target.load == standing.load]
    sets = min(max((one.sets for one in same), default=0), facts.slot.sets, facts.limits.max_sets)
    if sets > standing.sets:
        figures: dict[str, Figure] = {"from_sets": standing.sets, "to_sets": standing.sets + 1}
        return Step(replace(standing, sets=standing.sets + 1), (Reason("P7", "sets-back-to-kept", figures),))
    return None
