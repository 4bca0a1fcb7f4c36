"""A step on, or why there is none: what the latest sessions earn (rules P1, P4, S2, S4, H1 to H3).

P1  Reps: all sets at target, 2 or more good reps left, pain at most 2: +1 or the exercise's `rep_increment` reps to
    the ceiling; with 4 or more left +2, never while it is taught nor under 18 (ours). With session RPE alone: 5 or less
    +1 rep, 6 or more repeat; never load. 0 or 1 left: repeat (practice). A set that the program asks for and that is
    not done yet comes before a rep; one that was done at this load before is no step of its own (ours).
P4  Holds: +5 s a success to 60 s; at 60 s in all sets twice, the next level at 20 to 30 s; with no harder level a
    heavier load where the hold is a loaded one, else on to 120 s and stay (practice). A success is a hold of all sets
    of which the rider says that each could have been 5 s longer; not knowing that, a session RPE of 5 or less will do
    for seconds and for the next level, while it is taught as well, never for a set or a load (P1, ours).
S2  The first six exposures of an exercise teach: at most +1 rep or +5 s a time, after 3 or more good reps left, holds
    no longer than 30 s, no load, set or level (practice).
S4  From 50 one more exposure before each step.
H1  A new key (exercise, implement) waits for two exposures.
H2  One step a key a week.
H3  Unknown is never success (I12): a rise needs sets, load and effort reported.
T5  After a pain at least two clean exposures before each step.
"""

from dataclasses import replace

from athletes.concerns import Gate
from athletes.vocabulary import Reason
from programs.engine.bridge import cross, level_up, successes
from programs.engine.facts import Exposure, Measure, Phase, Target
from programs.engine.families import criterion_for, harder
from programs.engine.history import ACHIEVED, LEARN_AGAIN_DAYS, History, Result, in_a_row, result_of
from programs.engine.kit import holdings_for
from programs.engine.layoff import REPEAT_DAYS, is_returning
from programs.engine.load_step import EXPOSURES_FOR_A_STEP, LoadStep, load_step, take_step
from programs.engine.regain import come_back_to, sets_back
from programs.engine.strength import HOLD_START_MOST_S, NEW_EXPOSURES, TEACHING_REPS_LEFT, is_teaching
from programs.engine.target_facts import (
    MOST_S,
    Step,
    TargetFacts,
    amount_figure,
    ceiling_of,
    reps_more,
    top_of,
)

HOLD_STEP_S = 5

REASONS: dict[str, str] = {
    "reps-up": "All sets at {from} with good reps left: {to}.",
    "time-up": "All sets held {from} s: {to} s.",
    "set-up": "All sets at {amount} with good reps left: {sets} sets.",
    "set-up-hold": "All sets held {amount} with some to spare: {sets} sets.",
    "hold-kept": "{amount} s in all sets is as long as it gets.",
    "hold-before-level": "{amount} s held {times} of {needed} times that the next level asks for: the same again.",
    "few-left": "{reps_left} good reps left: the same again.",
    "held-no-longer": "It could not have been held longer: the same again.",
    "session-was-hard": "Session RPE {rpe}, and how hard this one was is not known: the same again.",
    "effort-unknown": "How hard it was is not known: the same again.",
    "not-known": "What was done last time is not known: the same again.",
    "easy-not-enough": "More than reps needs the good reps left to be known: the same again.",
    "nothing-counted": "No session that counts for progress yet: the same again.",
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


def step_on(facts: TargetFacts, history: History, standing: Target) -> Step:
    """A step on when one is earned and nothing bars it, else the same again (P1 to P4, S2, S4, H1 to H3)."""
    bar = why_no_rise(facts, history, standing)
    if bar is not None:
        back = kept_up(facts, history, standing) if bar.key == "maintain-kept" else None
        return back or Step(standing, (bar,))
    if is_teaching(history.taught):
        return _teach(facts, history, standing)
    if successes(history, standing, full=True) < _needed(facts):
        return _easy(facts, history, standing)
    back = come_back_to(facts, history, standing)
    if back is not None and back.target.amount > standing.amount + _usual_rise(facts, history, standing):
        return back
    wanted = min(facts.slot.sets, facts.limits.max_sets)
    known = min(wanted, sets_done_before(history, standing))
    if standing.sets < known:
        standing = replace(standing, sets=known)
    if standing.sets < wanted:
        sets = standing.sets + 1
        amount = amount_figure(standing.measure, standing.amount)
        key = "set-up-hold" if standing.measure is Measure.HOLD else "set-up"
        why = Reason("P1", key, {"amount": amount, "sets": sets})
        return Step(replace(standing, sets=sets), (why,))
    if standing.measure is Measure.HOLD:
        return _hold(facts, history, standing)
    return _reps(facts, history, standing)


def sets_done_before(history: History, standing: Target) -> int:
    """The most sets that were done in full at this load: where sessions ask for different numbers of sets of the same
    exercise, the larger number is no step each time (H2, ours)."""
    same = (one for one in history.counted if one.target.load == standing.load)
    return max((one.target.sets for one in same if result_of(one) in ACHIEVED), default=0)


def kept_up(facts: TargetFacts, history: History, standing: Target) -> Step | None:
    """In the racing months, the way back to what they keep, after lighter sessions; `None` where nothing was lost or it
    has not been earned (P8)."""
    if facts.stepped_this_week or not history.counted or is_teaching(history.taught):
        return None
    if _not_earned(facts, history, standing) or successes(history, standing, full=True) < _needed(facts):
        return None
    step = load_step(facts, standing, history)
    if step.regained and standing.amount >= step.earned_at:
        taken = take_step(facts, history, standing, step)
        if taken.target.load == step.load:
            return taken
    back = come_back_to(facts, history, standing, least=step.earned_at if step.regained else 0)
    return back or sets_back(facts, history, standing)


def _usual_rise(facts: TargetFacts, history: History, standing: Target) -> int:
    """Reps or seconds that a success adds (P1, P4)."""
    return HOLD_STEP_S if standing.measure is Measure.HOLD else reps_more(facts, history.counted[-1])


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
        kept = amount_figure(standing.measure, standing.amount)
        return Step(standing, (Reason("S2", "teaching-kept", {"amount": kept}),))
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
    step = load_step(facts, standing, history)
    if step.refused is not None:
        return _reps_without_load(facts, history, standing, step)
    if standing.bridge_sets:
        return cross(facts, history, standing, step)
    if standing.amount >= step.earned_at:
        taken = take_step(facts, history, standing, step)
        if not step.regained or taken.target.load == step.load or standing.amount >= ceiling_of(facts):
            return taken
        return _more(
            standing, min(ceiling_of(facts), standing.amount + reps_more(facts, history.counted[-1])), "P1"
        )
    to = min(step.earned_at, standing.amount + reps_more(facts, history.counted[-1]))
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
        to = min(ceiling_of(facts), standing.amount + reps_more(facts, history.counted[-1]))
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
    step = load_step(facts, standing, history)
    if full and step.refused is None and standing.amount >= step.earned_at:
        return take_step(facts, history, standing, step)
    if _level_waits(facts, standing) or standing.amount >= min(top_of(facts), MOST_S):
        return Step(standing, (Reason("P4", "hold-kept", {"amount": standing.amount}),))
    return _more(standing, min(top_of(facts), standing.amount + HOLD_STEP_S), "P4")


def _level_waits(facts: TargetFacts, standing: Target) -> bool:
    """Whether there is a harder level that a longer hold would not bring nearer. One that is barred for now, by a pain
    perhaps, is waited for all the same: else more pain would lead to more seconds (I9)."""
    for other in harder(facts.library, facts.exercise.slug):
        criterion = criterion_for(facts.library, facts.exercise.slug, other.slug)
        fits = holdings_for(other, facts.kit, alone=facts.rider.trains_alone)
        if fits and criterion and criterion.value <= standing.amount:
            return True
    return False
