"""The next target of one exercise: what changes since the last time, and why (rules P1 to P10, H1 to H3, S2 to S4, T).

Precedence: the gates of pain (`gates`), a return after a break (`layoff`, P10), cuts before a race, in a light week and
when maintaining (`cuts`, P9, P7, P8), missed targets (`descent`, P5), and only then progress (P1 to P4: `advance`,
`load_step` and `bridge`). Whatever the order, the lower of two rules stands: a gate has the last word on every target.

P12 (weekly sets per muscle) is not of one target: it trims the week's sets after this. P11 (estimates of a maximum) is
    for display alone: `known_max_kg` is a tested one.
H1  A new key (exercise, implement) starts at 2 x floor with 4 left, for two exposures. No load is carried over.
H2  One step a key a week. A program change keeps the targets of what stays. No new exercise in the 14 days before a
    priority race.
S4  From 65 balance work is not cut.
"""

from dataclasses import replace

from athletes.concerns import Gate
from athletes.vocabulary import Figure, Reason
from programs.engine.advance import step_on
from programs.engine.bridge import has_extra_set
from programs.engine.cuts import apply_cut
from programs.engine.descent import fit, level_down, step_back
from programs.engine.facts import Change, LeftOut, Loading, Measure, Phase, Target, TargetDecision
from programs.engine.gates import CLEAN_EXPOSURES_A_STEP, apply_gate, come_back_from_pain, halve
from programs.engine.history import (
    LEARN_AGAIN_DAYS,
    History,
    asymmetry_reasons,
    history_of,
    last_load,
    misses,
    standing_target,
    was_bare,
)
from programs.engine.kit import total_kg
from programs.engine.layoff import cautious, come_back, first_week_back
from programs.engine.strength import (
    NEW_EXPOSURES,
    NEW_REPS_LEFT,
    TEACHING_REPS_LEFT,
    first_target,
    is_teaching,
)
from programs.engine.target_facts import (
    SAME_AGAIN,
    Step,
    TargetFacts,
    amount_figure,
    keeps_balance,
    left_out,
    lowest,
    rank_of,
    usual_reps_left,
)

REASONS: dict[str, str] = {
    "new-exercise": "Begins with {sets} sets of {amount}, {reps_left} good reps left.",
    "new-hold": "Begins with {sets} sets of {amount}, each ended well before it gets hard.",
    "new-implement-hold": "A new implement for this exercise: {sets} sets of {amount}, each ended well before it gets "
    "hard.",
    "new-implement": "A new implement for this exercise: {sets} sets of {amount} with {reps_left} good reps left.",
    "no-new-exercise": "{exercise} would be new, and nothing new is started now.",
    "no-load-for-it": "{exercise} needs a load, and none that is allowed is to be had here.",
    "program-sets": "The program asks for {to_sets} sets instead of {from_sets}.",
    "balance-kept": "From 65: balance work stays as it is.",
    "eased-in": "Back to the usual work after lighter sessions.",
}


def next_target(facts: TargetFacts) -> TargetDecision | LeftOut:
    """What is asked for next, the kind of change and every reason; or the slot left out, with the reason.

    Raises `UnknownExerciseError` when the exercise is not in the library.
    """
    if facts.gate is Gate.STOP:
        why = Reason("T1", "stopped", {"exercise": facts.exercise.slug})
        return left_out(facts, *facts.gate_reasons, why)
    facts = careful(facts)
    history = history_of(facts)
    step = lowered(facts, history, _begin(facts, history) if not history.run else _resume(facts, history))
    if isinstance(step, LeftOut):
        return step
    return _decision(facts, history, step)


def lowered(facts: TargetFacts, history: History, step: Step | LeftOut) -> Step | LeftOut:
    """The step as the rules that have the last word on every target leave it: a return, a pain, a gate, an illness."""
    for lower in (_cautious, come_back_from_pain, apply_gate, _halved, _first_week_back):
        if isinstance(step, LeftOut):
            return step
        step = lower(facts, history, step)
    return step


def careful(facts: TargetFacts) -> TargetFacts:
    """The facts with the clean exposures that T5 asks for before each step after a pain."""
    extra = CLEAN_EXPOSURES_A_STEP - 1
    if facts.returned_on is None or facts.limits.extra_exposures >= extra:
        return facts
    return replace(facts, limits=replace(facts.limits, extra_exposures=extra))


def _cautious(facts: TargetFacts, _history: History, step: Step) -> Step | LeftOut:
    return cautious(facts, step)


def _halved(facts: TargetFacts, history: History, step: Step) -> Step | LeftOut:
    return halve(facts, history, step, facts.halve_rule) if facts.halve_sets else step


def _first_week_back(facts: TargetFacts, _history: History, step: Step) -> Step | LeftOut:
    return step if keeps_balance(facts) else first_week_back(facts, step)


def _decision(facts: TargetFacts, history: History, step: Step) -> TargetDecision:
    previous = history.run[-1].target if history.run else None
    notes = asymmetry_reasons(history.run) if facts.exercise.sided else ()
    return TargetDecision(
        exercise=step.exercise or facts.exercise.slug,
        target=step.target,
        change=step.moved or kind_of_change(previous, step.target),
        reasons=(*step.reasons, *notes),
        concerns=step.concerns,
    )


def kind_of_change(before: Target | None, after: Target) -> Change:
    """What a target is beside the one before it: the load first, then what became less, then what became more."""
    if before is None:
        return Change.NEW
    if rank_of(after.load) != rank_of(before.load):
        return Change.MORE_LOAD if rank_of(after.load) > rank_of(before.load) else Change.LESS_LOAD
    more = Change.MORE_REPS if after.measure is Measure.REPS else Change.MORE_TIME
    sets, amount = after.sets - before.sets, after.amount - before.amount
    bridge, slower = after.bridge_sets - before.bridge_sets, (after.lower_s or 0) - (before.lower_s or 0)
    if not (sets or amount or bridge or slower):
        return Change.SAME
    kinds = (
        (bridge > 0, Change.BRIDGE),
        (sets < 0, Change.FEWER_SETS),
        (amount < 0, Change.FEWER_REPS),
        (bridge < 0, Change.LESS_LOAD),
        (slower < 0, Change.EASIER),
        (sets > 0, Change.MORE_SETS),
        (amount > 0, more),
        (slower > 0, Change.SLOWER),
    )
    return next(kind for holds, kind in kinds if holds)


# --- starting and going on --------------------------------------------------------------------------------------------


def _begin(facts: TargetFacts, history: History) -> Step | LeftOut:
    """The first target of something new, or of something to be learned again (S2, H1, P10)."""
    slug = facts.exercise.slug
    if not history.taught and not facts.new_allowed:
        return left_out(facts, Reason("H2", "no-new-exercise", {"exercise": slug}))
    target = _first(facts)
    if target is None:
        why = Reason("K6", "no-load-for-it", {"exercise": slug})
        return level_down(facts, why) or left_out(facts, why)
    hold = target.measure is Measure.HOLD
    figures: dict[str, Figure] = {"sets": target.sets, "amount": amount_figure(target.measure, target.amount)}
    figures |= {} if hold else {"reps_left": target.reps_left}
    away = facts.away_days or 0
    if away >= LEARN_AGAIN_DAYS:
        why = Reason("P10", "away-learn-again", {"days": away})
    elif history.taught:
        why = Reason("H1", "new-implement-hold" if hold else "new-implement", figures)
    else:
        why = Reason("S2", "new-hold" if hold else "new-exercise", figures)
    cut, reasons = _cut(facts, target)
    return Step(cut, (why, *reasons))


def _first(facts: TargetFacts) -> Target | None:
    """The first target; learned again, never with more than the last load asked for, or none (P10, P2, I5)."""
    last = last_load(facts)
    bare = facts.exercise.loading is not Loading.EXTERNAL and was_bare(facts)
    target = first_target(
        facts.exercise,
        facts.slot,
        None if bare else facts.holding,
        facts.kit,
        facts.limits,
        max_total_kg=lowest(facts.max_total_kg, total_kg(last) if last and last.kg is not None else None),
        max_reps=facts.max_reps,
        known=last is not None,
    )
    heavier = target is not None and last is not None and rank_of(target.load) > rank_of(last)
    return None if heavier else target


def _resume(facts: TargetFacts, history: History) -> Step | LeftOut:
    """The target after those that were: a return, a cut, a step back, or a step on (the precedence of the rules)."""
    standing = standing_target(history)
    returned = None if keeps_balance(facts) else come_back(facts, history)
    if returned is not None:
        return _not_above_cut(facts, standing, returned)
    fitted = standing_now(facts, history)
    if standing is None or fitted is None:
        return _begin(facts, history)
    if isinstance(fitted, LeftOut) or fitted.exercise is not None:
        return fitted
    if fitted.target.sets < standing.sets:
        figures: dict[str, Figure] = {"from_sets": standing.sets, "to_sets": fitted.target.sets}
        fitted = fitted.with_target(fitted.target, Reason("H2", "program-sets", figures))
    if facts.light or facts.cut_percent:
        cut, reasons = _cut(facts, fitted.target)
        return fitted.with_target(cut, *reasons)
    return _changed(facts, history, fitted)


def standing_now(facts: TargetFacts, history: History) -> Step | LeftOut | None:
    """What stands before any rule changes it, within kit, limits and the program's sets; `None` for something new."""
    standing = standing_target(history)
    if standing is None:
        return None
    sets, reps_left = _sets(facts, standing), _reps_left(facts, history)
    same = (sets, reps_left) == (standing.sets, standing.reps_left)
    return fit(facts, standing if same else replace(standing, sets=sets, reps_left=reps_left))


def _not_above_cut(facts: TargetFacts, standing: Target | None, returned: Step | LeftOut) -> Step | LeftOut:
    """A return in a light week or before a race: in each part the lower of the two (P10, P9, P7)."""
    if standing is None or isinstance(returned, LeftOut) or returned.exercise is not None:
        return returned
    cut, reasons = _cut(facts, standing)
    target = returned.target
    lower = replace(target, sets=min(target.sets, cut.sets), amount=min(target.amount, cut.amount))
    return returned if lower == target else returned.with_target(lower, *reasons)


def _changed(facts: TargetFacts, history: History, fitted: Step) -> Step | LeftOut:
    """A step back after misses, else a step on, within kit, limits and the sets of the phase (P5, P1 to P4, P8)."""
    standing = fitted.target
    step = (
        step_back(facts, history, standing) if misses(history.counted) else step_on(facts, history, standing)
    )
    step = _back_to_usual(history, step)
    if fitted.reasons:
        step = replace(step, reasons=(*fitted.reasons, *step.reasons))
    if step.exercise is not None:
        return step
    again = fit(facts, step.target)
    if isinstance(again, LeftOut):
        return again
    if again.exercise is not None:
        return replace(again, reasons=(*step.reasons, *again.reasons), concerns=step.concerns)
    cut, reasons = _cut(facts, again.target)
    return step.with_target(cut, *again.reasons, *reasons)


def _back_to_usual(history: History, step: Step) -> Step:
    """The step, and where it asks for more than the last session although nothing rises, that it does so because that
    one was lighter: nothing is *the same again* then (P7)."""
    last, target = history.run[-1].target, step.target
    same = [reason for reason in step.reasons if reason.key in SAME_AGAIN]
    more = target.sets > last.sets or target.amount > last.amount
    if step.exercise is not None or not same or not more or rank_of(target.load) != rank_of(last.load):
        return step
    kept = tuple(reason for reason in step.reasons if reason not in same)
    return replace(step, reasons=(*kept, Reason("P7", "eased-in")))


def _cut(facts: TargetFacts, target: Target) -> tuple[Target, tuple[Reason, ...]]:
    if keeps_balance(facts):
        cuts = facts.light or facts.cut_percent or facts.phase is Phase.MAINTAIN
        return target, (Reason("S4", "balance-kept"),) if cuts else ()
    return apply_cut(
        target,
        floor=min(target.amount, facts.limits.min_reps)
        if target.measure is Measure.REPS
        else min(target.amount, facts.exercise.low),
        phase=facts.phase,
        light=facts.light,
        cut_percent=facts.cut_percent,
    )


def _sets(facts: TargetFacts, standing: Target) -> int:
    """The standing sets, no more than the program's unless the bridge gave one (H2, P3)."""
    if has_extra_set(facts, standing):
        return standing.sets
    return min(standing.sets, facts.slot.sets)


def _reps_left(facts: TargetFacts, history: History) -> int:
    """How many good reps the target should leave: 4 with something new, 3 while it is taught, then 2 (H1, S2, P1)."""
    if history.known < NEW_EXPOSURES:
        return NEW_REPS_LEFT
    usual = usual_reps_left(facts)
    return max(TEACHING_REPS_LEFT, usual) if is_teaching(history.taught) else usual
