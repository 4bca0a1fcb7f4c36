"""The next load: how large the step is, and what earns it (rules P2, S1, S3, S4).

P2  At the reps that the step asks for in two consecutive exposures with 2 left, the next reachable load, judged on
    external mass. S: ACSM 2009 for +2 to 10 %; the "two in a row" is the handbooks' 2-for-2, from memory. What must
    be reached depends on the step, and reps restart at the floor (heavier and fewer is practice; the table is ours):

        up to 5 %    floor + 3
        up to 10 %   floor + 5
        up to 25 %   15
        up to 40 %   20
        above        a bridge (P3)

    For the lower body, where most of what is moved is the rider, a step of at most 4 kg in all asks an adult for 15 as
    well, however large it is in percent, with 4 or more good reps left both times (ours).

    Above 10 % the reps asked for are also at least five above the floor, so that they always fall (I5, ours). The first
    load on a body-weight exercise asks for 15 and weighs at most 8 kg for the lower body and 4 kg for the upper, all
    implements together; it is a new implement and starts as one (H1, ours). A step between bands has no percentage and
    asks for 20. Loaded holds ask for 60 s. Body mass never changes a target.
S1  A clinician's cap on load is never stepped over.
S3  Under 18 a step above 10 %, from nothing, or between bands needs a coach's yes, is at most 25 %, comes after three
    exposures at 15 with 3 left, and restarts at 2 x 6. No heavier load in a growth spurt.
S4  From 50 one more exposure before each step.
"""

from dataclasses import replace
from decimal import Decimal

from athletes.concerns import Concern, Topic, Urgency
from athletes.values import value_class
from athletes.vocabulary import Figure, Reason
from programs.engine.cuts import LIGHT_REPS_FEWER
from programs.engine.facts import Load, Measure, Target
from programs.engine.history import History, Result, history_of, in_a_row, result_of
from programs.engine.kit import next_load, step_percent, total_kg
from programs.engine.regain import was_lifted
from programs.engine.strength import (
    NEW_REPS_LEFT,
    START_SETS,
    YOUNG_STEP_EXPOSURES,
    YOUNG_STEP_REPS,
    YOUNG_STEP_REPS_LEFT,
    first_load,
    first_load_limit,
)
from programs.engine.target_facts import (
    MANY_REPS_LEFT,
    USUAL_TOP_S,
    Step,
    TargetFacts,
    amount_figure,
    figure,
    floor_of,
    kg_figure,
    top_of,
    usual_reps_left,
)

EXPOSURES_FOR_A_STEP = 2
#: Steps above this restart with fewer reps, always (I5).
SMALL_STEP_PERCENT = Decimal(10)
FINE_STEP_PERCENT, MIDDLE_STEP_PERCENT, LARGE_STEP_PERCENT = Decimal(5), Decimal(25), Decimal(40)
FINE_REPS, SMALL_REPS = 3, 5
MIDDLE_STEP_REPS, LARGE_STEP_REPS = 15, 20
#: A rise of the load that is small for the lower body, all implements together.
SMALL_RISE_KG = Decimal(4)

REASONS: dict[str, str] = {
    "load-up": "{reached} reached {times} sessions in a row: from {from_kg} kg to {to_kg} kg (+{percent} %), starting "
    "again at {amount}.",
    "load-back": "{times} good sessions in a row since the lighter ones: from {from_kg} kg back to {to_kg} kg, which "
    "was lifted before, starting at {amount}.",
    "load-back-waits": "{times} of {needed} good sessions before {to_kg} kg, which was lifted before, comes back: the "
    "same again.",
    "load-up-unmeasured": "{reached} reached {times} sessions in a row: from {from_kg} to {to_kg}, starting again at "
    "{amount}.",
    "first-load": "{reached} reached {times} sessions in a row: a first load of {to_kg} kg, starting at {amount}.",
    "once-more": "{reached} reached {times} of {needed} times that {to_kg} kg asks for: the same again.",
    "step-needs-a-yes": "{to_kg} kg is earned and is {percent} % more: under 18 that needs a coach's yes.",
    "step-too-large": "{to_kg} kg would be {percent} % more, above {most} %.",
    "first-load-too-heavy": "{to_kg} kg, the lightest here, is above the {most} kg that a first load may weigh.",
    "step-over-cap": "{to_kg} kg is above the {most} kg that a clinician set.",
    "no-heavier-load": "Nothing heavier than {from_kg} kg is to be had here.",
    "no-load-rise": "No heavier load in a growth spurt.",
    "range-too-short": "{to_kg} kg asks for {needed} first, and this exercise ends at {top}.",
}


@value_class
class LoadStep:
    """The next load and what earns it; `refused` says why it may not be taken, and then nothing earns it.

    `earned_at` is in reps or seconds, `needed` in exposures in a row with `reps_left` good reps left.
    """

    load: Load | None
    percent: Decimal | None
    earned_at: int
    needed: int
    reps_left: int
    needs_yes: bool = False
    #: Whether it was lifted before, so that good sessions alone earn it (`regain`).
    regained: bool = False
    refused: Reason | None = None


def reps_to_earn(percent: Decimal | None, floor: int) -> int | None:
    """Reps that a step of so many percent asks for; `None` when it is too large to be taken at once (P2).

    `percent` `None` is a step without a measure.
    """
    if percent is None:
        return max(LARGE_STEP_REPS, floor + SMALL_REPS)
    if percent <= FINE_STEP_PERCENT:
        return floor + FINE_REPS
    if percent <= SMALL_STEP_PERCENT:
        return floor + SMALL_REPS
    if percent <= MIDDLE_STEP_PERCENT:
        return max(MIDDLE_STEP_REPS, floor + SMALL_REPS)
    return max(LARGE_STEP_REPS, floor + SMALL_REPS) if percent <= LARGE_STEP_PERCENT else None


def load_step(facts: TargetFacts, standing: Target, history: History | None = None) -> LoadStep:
    """The step from the standing target to the next load there is (P2, S3). `history` is that of the facts, for whoever
    has it."""
    load = _load_after(facts, standing)
    if load is None:
        return _refused(None, None, "P2", "no-heavier-load", {"from_kg": kg_figure(standing.load)})
    percent = step_percent(standing.load, load)
    if not facts.limits.may_raise_load:
        return _refused(load, percent, "S3", "no-load-rise", {})
    to_kg = kg_figure(load)
    if facts.max_total_kg is not None and total_kg(load) > facts.max_total_kg:
        figures: dict[str, Figure] = {"to_kg": to_kg, "most": str(facts.max_total_kg)}
        return _refused(load, percent, "S1", "step-over-cap", figures)
    if standing.load is None and total_kg(load) > first_load_limit(facts.exercise):
        figures = {"to_kg": to_kg, "most": str(first_load_limit(facts.exercise))}
        return _refused(load, percent, "P2", "first-load-too-heavy", figures)
    if facts.limits.under_18 and (percent is None or percent > SMALL_STEP_PERCENT):
        return _young_step(facts, load, percent)
    if standing.load is not None and was_lifted(facts, history or history_of(facts), load):
        needed = EXPOSURES_FOR_A_STEP + facts.limits.extra_exposures
        # So that the reps fall, also from those of a light session that is still ahead (I5, P7).
        earned_at = floor_of(facts) + LIGHT_REPS_FEWER + 1
        return LoadStep(load, percent, earned_at, needed, usual_reps_left(facts), regained=True)
    return _step(facts, standing, load, percent)


def _load_after(facts: TargetFacts, standing: Target) -> Load | None:
    """The next load there is, from body weight the one that an exercise begins with, or the lightest (P2, S3)."""
    if facts.holding is None:
        return None
    first = (
        first_load(facts.exercise, facts.holding, facts.kit, facts.limits, max_total_kg=facts.max_total_kg)
        if standing.load is None
        else None
    )
    return first or next_load(facts.kit, facts.holding, standing.load)


def _refused(
    load: Load | None, percent: Decimal | None, rule: str, key: str, figures: dict[str, Figure]
) -> LoadStep:
    return LoadStep(load, percent, 0, 0, 0, refused=Reason(rule, key, figures))


def _young_step(facts: TargetFacts, load: Load, percent: Decimal | None) -> LoadStep:
    most = facts.limits.max_step_percent
    if percent is not None and most is not None and percent > most:
        figures: dict[str, Figure] = {
            "to_kg": kg_figure(load),
            "percent": figure(percent),
            "most": str(most),
        }
        return _refused(load, percent, "S3", "step-too-large", figures)
    step = LoadStep(
        load,
        percent,
        USUAL_TOP_S if facts.exercise.measure is Measure.HOLD else YOUNG_STEP_REPS,
        YOUNG_STEP_EXPOSURES + facts.limits.extra_exposures,
        YOUNG_STEP_REPS_LEFT,
        needs_yes=not _agreed(facts, load),
    )
    return _within_range(facts, step)


def _agreed(facts: TargetFacts, load: Load) -> bool:
    value = load.kg if load.kg is not None else Decimal(load.band or 0)
    return (facts.exercise.slug, value) in facts.rider.agreed_steps


def _step(facts: TargetFacts, standing: Target, load: Load, percent: Decimal | None) -> LoadStep:
    from_nothing = standing.load is None
    # The first load is small by its own cap, so it asks for what a middling step asks for.
    earned_at = reps_to_earn(MIDDLE_STEP_PERCENT if from_nothing else percent, floor_of(facts))
    reps_left = usual_reps_left(facts)
    if _is_small_beside_the_rider(facts, standing, load):
        earned_at, reps_left = MIDDLE_STEP_REPS, MANY_REPS_LEFT
    if earned_at is None:
        figures: dict[str, Figure] = {
            "to_kg": kg_figure(load),
            "percent": figure(percent or Decimal(0)),
            "most": str(LARGE_STEP_PERCENT),
        }
        return _refused(load, percent, "P2", "step-too-large", figures)
    if facts.exercise.measure is Measure.HOLD:
        earned_at = USUAL_TOP_S
    needed = EXPOSURES_FOR_A_STEP + facts.limits.extra_exposures
    return _within_range(facts, LoadStep(load, percent, earned_at, needed, reps_left))


def _is_small_beside_the_rider(facts: TargetFacts, standing: Target, load: Load) -> bool:
    """Whether a step that is large in percent is taken at 15 reps with 4 or more left: at most 4 kg, for the lower body
    where most of what is moved is the rider, and by an adult who had so many left last time (P2)."""
    rise = total_kg(load) - total_kg(standing.load)
    small = facts.exercise.lower_body and load.kg is not None and rise <= SMALL_RISE_KG
    if standing.load is None or not small or facts.limits.under_18:
        return False
    percent = step_percent(standing.load, load)
    if percent is None or percent <= MIDDLE_STEP_PERCENT or facts.exercise.measure is Measure.HOLD:
        return False
    past = [one for one in facts.exposures if one.on < facts.session_on and one.target.load == standing.load]
    done = past[-1].done if past and not past[-1].light else None
    return done is not None and done.reps_left is not None and done.reps_left >= MANY_REPS_LEFT


def _within_range(facts: TargetFacts, step: LoadStep) -> LoadStep:
    """The step, refused when the exercise or the rider never gets to what it asks for."""
    if floor_of(facts) < step.earned_at <= top_of(facts):
        return step
    figures: dict[str, Figure] = {
        "to_kg": kg_figure(step.load),
        "needed": amount_figure(facts.exercise.measure, step.earned_at),
        "top": amount_figure(facts.exercise.measure, top_of(facts)),
    }
    return replace(step, refused=Reason("P2", "range-too-short", figures))


def times_earned(history: History, standing: Target, step: LoadStep) -> int:
    """How many of the latest exposures in a row met what the step asks for, at the standing load (P2)."""
    return in_a_row(
        history.counted,
        lambda one: (
            one.target.load == standing.load
            and one.target.amount >= step.earned_at
            and result_of(one, reps_left=step.reps_left) is Result.SUCCESS
        ),
    )


def take_step(facts: TargetFacts, history: History, standing: Target, step: LoadStep) -> Step:
    """The next load when it is earned, else the same again; call it at `earned_at` or above (P2, S3)."""
    times = times_earned(history, standing, step)
    percent = figure(step.percent) if step.percent is not None else None
    figures: dict[str, Figure] = {
        "from_kg": kg_figure(standing.load),
        "to_kg": kg_figure(step.load),
        "percent": percent,
        "reached": amount_figure(standing.measure, step.earned_at),
        "times": times,
    }
    if times < step.needed:
        key = "load-back-waits" if step.regained else "once-more"
        return Step(standing, (Reason("P2", key, {**figures, "needed": step.needed}),))
    if step.needs_yes:
        why = Reason("S3", "step-needs-a-yes", {**figures, "percent": percent or "not known"})
        concern = Concern(Topic.LOAD_STEP, Urgency.ROUTINE, (why,))
        return Step(standing, (why,), concerns=(concern,))
    key = "first-load" if standing.load is None else "load-up-unmeasured" if percent is None else "load-up"
    if step.regained:
        key = "load-back"
    target = restarted(facts, standing, step)
    return Step(
        target, (Reason("P2", key, {**figures, "amount": amount_figure(target.measure, target.amount)}),)
    )


def restarted(facts: TargetFacts, standing: Target, step: LoadStep) -> Target:
    """The target at the next load, once it is earned: from the floor again, and two sets where it is a new start."""
    afresh = standing.load is None  # another implement: a key of its own (H1)
    young = facts.limits.under_18 and (step.percent is None or step.percent > SMALL_STEP_PERCENT)
    return replace(
        standing,
        load=step.load,
        amount=floor_of(facts),
        sets=min(START_SETS, standing.sets) if afresh or young else standing.sets,
        reps_left=NEW_REPS_LEFT if afresh else usual_reps_left(facts),
        lower_s=None,
        bridge_load=None,
        bridge_sets=0,
        bridge_amount=0,
    )
