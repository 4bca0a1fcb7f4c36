"""The next target of one exercise: what changes since the last time, and why (rules P1 to P10, H1 to H3, S2 to S4, T).

Precedence: the gates of pain (`gates`), a return after a break (`layoff`, P10), cuts before a race, in a light week and
when maintaining (`cuts`, P9, P7, P8), missed targets (`descent`, P5), and only then progress (P1 to P4, here with
`load_step` and `bridge`). Whatever the order, the lower of two rules stands: a gate has the last word on every target.

P1  Reps: all sets at target, 2 or more good reps left, pain at most 2: +1 or the exercise's `rep_increment` reps to
    the ceiling. With session RPE alone: 5 or less +1 rep, 6 or more repeat; never load. 0 or 1 left: repeat
    (practice). A set that the program asks for and that is not done yet comes before a rep (ours).
P4  Holds: +5 s a success to 60 s; at 60 s in all sets twice, the next level at 20 to 30 s; with no harder level a
    heavier load where the hold is a loaded one, else on to 120 s and stay (practice). A success is a hold of all sets
    of which the rider says that each could have been 5 s longer; not knowing that, a session RPE of 5 or less will do
    for seconds and for the next level, while it is taught as well, never for a set or a load (P1, ours).
P12 (weekly sets per muscle) is not of one target: it trims the week's sets after this. P11 (estimates of a maximum) is
    for display alone: `known_max_kg` is a tested one.
S2  The first six exposures of an exercise teach: at most +1 rep or +5 s a time, after 3 or more good reps left, holds
    no longer than 30 s, no load, set or level (practice).
S4  From 50 one more exposure before each step.
H1  A new key (exercise, implement) starts at 2 x floor with 4 left, for two exposures. No load is carried over.
H2  One step a key a week. A program change keeps the targets of what stays. No new exercise in the 14 days before a
    priority race.
H3  Unknown is never success (I12): a rise needs sets, load and effort reported.
T5  After a pain at least two clean exposures before each step.
"""

from dataclasses import replace

from athletes.concerns import Gate
from athletes.vocabulary import Figure, Reason
from programs.engine.bridge import cross, has_extra_set, level_up, successes
from programs.engine.cuts import apply_cut
from programs.engine.descent import fit, level_down, step_back
from programs.engine.facts import Change, Exposure, LeftOut, Loading, Measure, Phase, Target, TargetDecision
from programs.engine.families import criterion_for, harder
from programs.engine.gates import CLEAN_EXPOSURES_A_STEP, apply_gate, come_back_from_pain, halve
from programs.engine.history import (
    ACHIEVED,
    LEARN_AGAIN_DAYS,
    History,
    Result,
    asymmetry_reasons,
    history_of,
    in_a_row,
    last_load,
    misses,
    result_of,
    standing_target,
    was_bare,
)
from programs.engine.kit import total_kg
from programs.engine.layoff import REPEAT_DAYS, cautious, come_back, first_week_back, is_returning
from programs.engine.load_step import EXPOSURES_FOR_A_STEP, LoadStep, load_step, take_step
from programs.engine.strength import (
    HOLD_START_MOST_S,
    NEW_EXPOSURES,
    NEW_REPS_LEFT,
    TEACHING_REPS_LEFT,
    first_target,
    is_teaching,
)
from programs.engine.target_facts import (
    MOST_S,
    Step,
    TargetFacts,
    ceiling_of,
    left_out,
    lowest,
    rank_of,
    top_of,
    usual_reps_left,
)

HOLD_STEP_S = 5

REASONS: dict[str, str] = {
    "new-exercise": "New: {sets} sets of {amount} with {reps_left} good reps left.",
    "new-implement": "A new implement for this exercise: {sets} sets of {amount} with {reps_left} good reps left.",
    "no-new-exercise": "{exercise} would be new, and nothing new is started now.",
    "no-load-for-it": "{exercise} needs a load, and none that is allowed is to be had here.",
    "program-sets": "The program asks for {to_sets} sets instead of {from_sets}.",
    "reps-up": "All sets at {from} with good reps left: {to}.",
    "time-up": "All sets held {from} s: {to} s.",
    "set-up": "All sets at {amount} with good reps left: {sets} sets.",
    "hold-kept": "{amount} s in all sets is as long as it gets.",
    "hold-before-level": "{amount} s held {times} of {needed} times that the next level asks for: the same again.",
    "few-left": "{reps_left} good reps left: the same again.",
    "held-no-longer": "It could not have been held longer: the same again.",
    "session-was-hard": "Session RPE {rpe}, and good reps left not known: the same again.",
    "effort-unknown": "How hard it was is not known: the same again.",
    "not-known": "What was done last time is not known: the same again.",
    "easy-not-enough": "More than reps needs the good reps left to be known: the same again.",
    "nothing-counted": "No session that counts for progress yet: the same again.",
    "eased-in": "Back to the usual work after lighter sessions.",
    "new-key": "{times} of {needed} sessions with something new: the same again.",
    "teaching": "{times} of {needed} sessions that teach it, with fewer than {reps_left} good reps left: the same.",
    "teaching-kept": "Still being taught, and at {amount} already: the same again.",
    "wait-once-more": "{times} of {needed} good sessions before a step: the same again.",
    "stepped-already": "One step a week, and this week's is taken: the same again.",
    "progress-barred": "Nothing rises now: the same again.",
    "gate-repeat": "The same again, because of the pain or soreness reported.",
    "maintain-kept": "Load and reps are kept as they are in season.",
    "before-race-kept": "Load and reps are kept before the race.",
    "since-return": "Begun after the break: the same again until the return is over.",
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
    return first_week_back(facts, step)


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
    figures: dict[str, Figure] = {
        "sets": target.sets,
        "amount": target.amount,
        "reps_left": target.reps_left,
    }
    away = facts.away_days or 0
    if away >= LEARN_AGAIN_DAYS:
        why = Reason("P10", "away-learn-again", {"days": away})
    elif history.taught:
        why = Reason("H1", "new-implement", figures)
    else:
        why = Reason("S2", "new-exercise", figures)
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
    )
    heavier = target is not None and last is not None and rank_of(target.load) > rank_of(last)
    return None if heavier else target


def _resume(facts: TargetFacts, history: History) -> Step | LeftOut:
    """The target after those that were: a return, a cut, a step back, or a step on (the precedence of the rules)."""
    standing = standing_target(history)
    returned = come_back(facts, history)
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
    step = step_back(facts, history, standing) if misses(history.counted) else _on(facts, history, standing)
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


def _cut(facts: TargetFacts, target: Target) -> tuple[Target, tuple[Reason, ...]]:
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
    return TEACHING_REPS_LEFT if is_teaching(history.taught) else usual_reps_left(facts)


# --- progress ---------------------------------------------------------------------------------------------------------


def _on(facts: TargetFacts, history: History, standing: Target) -> Step:
    """A step on when one is earned and nothing bars it, else the same again (P1 to P4, S2, S4, H1 to H3)."""
    bar = why_no_rise(facts, history, standing)
    if bar is not None:
        return Step(standing, (bar,))
    if is_teaching(history.taught):
        return _teach(facts, history, standing)
    if successes(history, standing, full=True) < _needed(facts):
        return _easy(facts, history, standing)
    if standing.sets < min(facts.slot.sets, facts.limits.max_sets):
        sets = standing.sets + 1
        why = Reason("P1", "set-up", {"amount": standing.amount, "sets": sets})
        return Step(replace(standing, sets=sets), (why,))
    if standing.measure is Measure.HOLD:
        return _hold(facts, history, standing)
    return _reps(facts, history, standing)


def _needed(facts: TargetFacts) -> int:
    return 1 + facts.limits.extra_exposures


def why_no_rise(facts: TargetFacts, history: History, standing: Target) -> Reason | None:
    """Why nothing may rise, if something bars it."""
    away, returning = facts.away_days or 0, is_returning(facts)
    if facts.gate is not Gate.FREE:
        return Reason("T1", "gate-repeat")
    if not facts.progress_allowed or facts.halve_sets:
        return Reason("T1", "progress-barred")
    if away >= REPEAT_DAYS and not returning:
        return Reason("P10", "away-repeat", {"days": away})
    if returning and away < LEARN_AGAIN_DAYS:
        return Reason("P10", "since-return")
    return _barred_by_season(facts, history) or _not_earned(facts, history, standing)


def _barred_by_season(facts: TargetFacts, history: History) -> Reason | None:
    """What bars a rise in this week or before anything has counted (P8, P9, H2, H3)."""
    if facts.phase in (Phase.TAPER, Phase.RACE_WEEK):
        return Reason("P9", "before-race-kept")
    if facts.phase is Phase.MAINTAIN:
        return Reason("P8", "maintain-kept")
    if facts.stepped_this_week:
        return Reason("H2", "stepped-already")
    return None if history.counted else Reason("H3", "nothing-counted")


def _not_earned(facts: TargetFacts, history: History, standing: Target) -> Reason | None:
    """Why the latest exposures do not earn a step, if they do not (P1, H1, H3, S4)."""
    latest = history.counted[-1]
    result = result_of(latest)
    if result is Result.UNKNOWN:
        return Reason("H3", "not-known")
    if result is Result.MET:
        return _effort_reason(latest)
    if history.known < NEW_EXPOSURES:
        return Reason("H1", "new-key", {"times": history.known, "needed": NEW_EXPOSURES})
    times, needed = successes(history, standing, full=False), _needed(facts)
    if not times:
        return Reason("P7", "eased-in")
    if times < needed:
        return Reason(
            "S4" if facts.limits.from_50 else "T5", "wait-once-more", {"times": times, "needed": needed}
        )
    return None


def _effort_reason(latest: Exposure) -> Reason:
    done, rpe = latest.done, latest.session_rpe
    if done is not None and done.reps_left is not None:
        return Reason("P1", "few-left", {"reps_left": done.reps_left})
    if done is not None and done.held_longer is False and latest.target.measure is Measure.HOLD:
        return Reason("P4", "held-no-longer")
    if rpe is not None:
        return Reason("P1", "session-was-hard", {"rpe": rpe})
    return Reason("H3", "effort-unknown")


def _teach(facts: TargetFacts, history: History, standing: Target) -> Step:
    """One rep or five seconds more while the exercise is taught, nothing else (S2)."""
    hold = standing.measure is Measure.HOLD
    enough = ACHIEVED - {Result.MET} if hold else {Result.SUCCESS}
    good = in_a_row(history.counted, lambda one: result_of(one, reps_left=TEACHING_REPS_LEFT) in enough)
    if good < _needed(facts):
        figures = {"times": history.taught, "needed": 6, "reps_left": TEACHING_REPS_LEFT}
        return Step(standing, (Reason("S2", "teaching", figures),))
    most = min(ceiling_of(facts), HOLD_START_MOST_S) if hold else ceiling_of(facts)
    to = min(most, standing.amount + (HOLD_STEP_S if hold else 1))
    if to <= standing.amount:
        return Step(standing, (Reason("S2", "teaching-kept", {"amount": standing.amount}),))
    return _more(standing, to, "S2")


def _easy(facts: TargetFacts, history: History, standing: Target) -> Step:
    """What an easy session earns when the good reps left are not known: a rep or seconds to the ceiling, and of a hold
    at the ceiling the next level (P1, P4)."""
    hold = standing.measure is Measure.HOLD
    if hold and standing.amount >= ceiling_of(facts):
        return _hold(facts, history, standing, full=False)
    to = min(ceiling_of(facts), standing.amount + (HOLD_STEP_S if hold else 1))
    if to <= standing.amount or standing.bridge_sets:
        return Step(standing, (Reason("P1", "easy-not-enough"),))
    return _more(standing, to, "P4" if hold else "P1")


def _more(standing: Target, to: int, rule: str) -> Step:
    key = "time-up" if standing.measure is Measure.HOLD else "reps-up"
    why = Reason(rule, key, {"from": standing.amount, "to": to})
    return Step(replace(standing, amount=to), (why,))


def _reps(facts: TargetFacts, history: History, standing: Target) -> Step:
    """More reps, the next load, the bridge or a harder level after a full success (P1 to P3)."""
    step = load_step(facts, standing)
    if step.refused is not None:
        return _reps_without_load(facts, history, standing, step)
    if standing.bridge_sets:
        return cross(facts, history, standing, step)
    if standing.amount >= step.earned_at:
        return take_step(facts, history, standing, step)
    to = min(step.earned_at, standing.amount + facts.exercise.rep_increment)
    if to <= ceiling_of(facts):
        return _more(standing, to, "P1")
    why = Reason("P3", "reps-on", {"from": standing.amount, "to": to})
    return Step(replace(standing, amount=to), (why,))


def _reps_without_load(facts: TargetFacts, history: History, standing: Target, step: LoadStep) -> Step:
    """What a success earns when no load step is to be taken (L1, P1, P3)."""
    if standing.bridge_sets == 0 and is_never_coming(step):
        up = level_up(facts, history)
        if up is not None:
            return up
    if standing.amount < ceiling_of(facts):
        to = min(ceiling_of(facts), standing.amount + facts.exercise.rep_increment)
        return _more(standing, to, "P1")
    crossed = cross(facts, history, standing, step)
    refusal = (step.refused,) if step.refused else ()
    return replace(crossed, reasons=(*refusal, *crossed.reasons))


def is_never_coming(step: LoadStep) -> bool:
    """Whether no load step is to be expected here: none to be had, or none allowed (L1)."""
    never = {"no-heavier-load", "no-load-rise", "step-over-cap", "first-load-too-heavy"}
    return step.refused is not None and step.refused.key in never


def _hold(facts: TargetFacts, history: History, standing: Target, *, full: bool = True) -> Step:
    """Five seconds more, the next level, a heavier load, or on to 120 s after a success; the load only after a `full`
    one (P4)."""
    ceiling = ceiling_of(facts)
    if standing.amount < ceiling:
        return _more(standing, min(ceiling, standing.amount + HOLD_STEP_S), "P4")
    needed = EXPOSURES_FOR_A_STEP + facts.limits.extra_exposures
    times = in_a_row(
        history.counted,
        lambda one: one.target.amount >= ceiling and result_of(one) in (Result.EASY, Result.SUCCESS),
    )
    if times < needed:
        figures = {"amount": standing.amount, "times": times, "needed": needed}
        return Step(standing, (Reason("P4", "hold-before-level", figures),))
    up = level_up(facts, history)
    if up is not None:
        return up
    step = load_step(facts, standing)
    if full and step.refused is None and standing.amount >= step.earned_at:
        return take_step(facts, history, standing, step)
    if _level_waits(facts, standing) or standing.amount >= min(top_of(facts), MOST_S):
        return Step(standing, (Reason("P4", "hold-kept", {"amount": standing.amount}),))
    return _more(standing, min(top_of(facts), standing.amount + HOLD_STEP_S), "P4")


def _level_waits(facts: TargetFacts, standing: Target) -> bool:
    """Whether there is a harder level that a longer hold would not bring nearer."""
    for other in harder(facts.library, facts.exercise.slug):
        criterion = criterion_for(facts.library, facts.exercise.slug, other.slug)
        if other.slug in facts.harder_allowed and criterion and criterion.value <= standing.amount:
            return True
    return False
