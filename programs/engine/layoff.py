"""Coming back after a break (rule P10, and the days after a fever).

P10 Away, counted per pattern from its last exposure: 8 to 13 days: repeat. 14 to 27 days: load -10 %, volume -50 then
    -30 %. 28 to 55 days: load -20 %, volume -50, -30, -20, -10 %. 56 days or more: learn again. S: Caterisano 2019
    (CSCCa and NSCA) for the volume cuts, which it wrote for the conditioning of college athletes: a cautious default
    here. The cuts are from the median of the last four normal weeks; the days and the load cuts are ours. A load
    rounds down to a reachable one; where none is lower, after 14 to 27 days load and level stay and the reps or seconds
    are 10 % fewer instead; from 28 days on it is a level down, else the exercise is left out (K6, ours). Sets x reps
    x fraction of maximum is at most 30 in the first two weeks (S: the same, which keeps it between 11 and 30); with
    no maximum known, at most 2 x 8 with 4 left, or 2 holds of 30 s (ours). A week of the return is seven days from
    the first session back. A further break of 8 to 13 days within it holds it where it is: what goes beyond seven days
    does not count as time back. One of 14 days or more starts it again, with the longer of the two, unless the return
    was in its last week (ours).

Sets are whole, rounded down, so that the first week never exceeds half (I10); where less than one set would be left,
one set of fewer reps, even under the floor; under 18, where 6 reps are the least, the exercise is left out when 6 are
more than half, until it is learned again with one set of 6 after 56 days: else it would never come back (ours). The
half holds for the pattern, so what is new in it, stands in for something or is learned again keeps
to it as well (ours).

A pattern trained once a week has a break of 14 days as soon as one session is missed. The rule is taken at its word
then: half the volume in the first week, 30 % less in the second. The usual volume comes from normal weeks only, so a
return never lowers what the next one counts from.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

from athletes.values import value_class
from athletes.vocabulary import Figure, Reason
from programs.engine.descent import fit, level_down, without_bridge
from programs.engine.facts import Exposure, LeftOut, Load, Measure, Target
from programs.engine.history import (
    LEARN_AGAIN_DAYS,
    History,
    amounts_done,
    restored_amount,
    standing_target,
    was_trained,
)
from programs.engine.kit import is_reachable, lighter_by, round_down, total_kg
from programs.engine.strength import HOLD_START_S, NEW_REPS_LEFT
from programs.engine.target_facts import (
    Step,
    TargetFacts,
    amount_figure,
    floor_of,
    kg_figure,
    left_out,
    not_same,
    rank_of,
)

WEEK_DAYS, REPEAT_DAYS, SHORT_DAYS, LONG_DAYS = 7, 8, 14, 28
SHORT_LOAD_PERCENT, LONG_LOAD_PERCENT = 10, 20
#: Percent cut from usual volume, by week of the return.
SHORT_CUTS = (50, 30)
LONG_CUTS = (50, 30, 20, 10)

CAUTIOUS_WEEKS = 2
IRV_MOST = Decimal(30)
CAUTIOUS_SETS, CAUTIOUS_REPS, CAUTIOUS_S = 2, 8, 30

REASONS: dict[str, str] = {
    "away-repeat": "{days} days since this was last trained: the same again.",
    "away-load": "{days} days away: load {percent} % lower, from {from_kg} kg to {to_kg} kg.",
    "away-no-lighter": "{days} days away: {from_kg} kg is the lightest here, and it should be {percent} % lower.",
    "away-load-kept": "{days} days away: {from_kg} kg is the lightest here and stays, with {to} instead of {from}.",
    "away-volume": "{days} days away, week {week} back: {percent} % less volume, {sets} sets of {amount}.",
    "away-cautious": "First two weeks back with no maximum known: at most {sets} sets of {amount}, {reps_left} left.",
    "away-cautious-hold": "First two weeks back: at most {sets} holds of {amount}.",
    "away-volume-intensity": "First two weeks back: sets times reps times share of maximum kept to {most}.",
    "away-first-week": "{days} days away: at most half the usual volume in the first week, {sets} sets of {amount}.",
    "away-learn-again": "{days} days away: this is learned again from the start.",
    "away-too-little": "{days} days away: half the usual volume is less than may be asked for, so it is left out.",
}


@value_class
class Gap:
    """A break in a pattern that a session comes back from: its length, the last day before it, and the week back."""

    days: int
    since: date
    week: int


def volume_cuts(days: int) -> tuple[int, ...]:
    """Percent to cut from usual volume, by week back, after so many days away (P10)."""
    if days < SHORT_DAYS or days >= LEARN_AGAIN_DAYS:
        return ()
    return SHORT_CUTS if days < LONG_DAYS else LONG_CUTS


def load_cut(days: int) -> int:
    """Percent to take off the load after so many days away (P10)."""
    if days < SHORT_DAYS or days >= LEARN_AGAIN_DAYS:
        return 0
    return SHORT_LOAD_PERCENT if days < LONG_DAYS else LONG_LOAD_PERCENT


def return_weeks(days: int) -> int:
    """How many weeks the return lasts; learning again keeps its first two weeks cautious (P10)."""
    return len(volume_cuts(days)) or (CAUTIOUS_WEEKS if days >= LEARN_AGAIN_DAYS else 0)


def gap_before(exposed_on: Iterable[date], session_on: date) -> Gap | None:
    """The break that a session on that day comes back from, if it is 8 days or more or its return is still going on.

    `exposed_on` are the days on which the pattern is known to have been trained, in any order.
    """
    days = sorted({on for on in exposed_on if on < session_on})
    if not days:
        return None
    gap: Gap | None = None
    back_on = session_on
    for earlier, later in pairwise((*days, session_on)):
        away = (later - earlier).days
        if gap is not None and away >= SHORT_DAYS and _week(back_on, earlier) < return_weeks(gap.days):
            gap, back_on = Gap(max(away, gap.days), gap.since, 1), later
            continue
        if gap is not None and away < SHORT_DAYS:
            back_on += timedelta(days=max(0, away - WEEK_DAYS))
        if gap is not None and _week(back_on, later) > return_weeks(gap.days):
            gap = None
        if gap is None and (away >= SHORT_DAYS or (away >= REPEAT_DAYS and later == session_on)):
            gap, back_on = Gap(away, earlier, 1), later
    return replace(gap, week=_week(back_on, session_on)) if gap else None


def _week(back_on: date, on: date) -> int:
    return (on - back_on).days // 7 + 1


def is_returning(facts: TargetFacts) -> bool:
    """Whether the session is one of a return after 14 days or more (P10)."""
    days = facts.away_days or 0
    return days >= SHORT_DAYS and (facts.return_week or 1) <= return_weeks(days)


def is_cautious(facts: TargetFacts) -> bool:
    """Whether the session is in the first two weeks of a return (P10)."""
    return is_returning(facts) and (facts.return_week or 1) <= CAUTIOUS_WEEKS


def come_back(facts: TargetFacts, history: History) -> Step | LeftOut | None:
    """The target in a week of a return after 14 to 55 days; `None` when that is not what the session is (P10).

    `history` must not be empty. What began after the break is simply repeated.
    """
    days = facts.away_days or 0
    if not is_returning(facts) or not volume_cuts(days):
        return None
    before = _before_gap(facts, history)
    standing = standing_target(before)
    if standing is None:
        return None
    fitted = fit(facts, without_bridge(standing))
    if isinstance(fitted, LeftOut) or fitted.exercise is not None:
        return fitted
    lighter = _lighter(facts, fitted, _last_back(facts, history))
    if isinstance(lighter, LeftOut) or lighter.exercise is not None:
        return lighter
    return cautious(facts, _less(facts, lighter, _last_back(facts, history)))


def _before_gap(facts: TargetFacts, history: History) -> History:
    if facts.away_since is None:
        return replace(history, run=history.counted)
    since = facts.away_since
    run = tuple(one for one in history.run if one.on <= since)
    done = [one.on for one in history.run if was_trained(one)]
    if not run and (not done or (facts.session_on - done[-1]).days >= SHORT_DAYS):
        return history  # begun after that break, and a break of its own has come since
    return replace(history, run=run, counted=tuple(one for one in history.counted if one.on <= since))


def _last_back(facts: TargetFacts, history: History) -> Exposure | None:
    """The last session since the break: the load does not rise above it while the return goes on."""
    since = facts.away_since
    return next((one for one in reversed(history.run) if since and one.on > since), None)


def _lighter(facts: TargetFacts, step: Step, last: Exposure | None) -> Step | LeftOut:
    """The step with its load cut, and no heavier than that of the last session back."""
    load, days = step.target.load, facts.away_days or 0
    if load is None:
        return step
    percent = load_cut(days)
    lighter: Load | None = lighter_by(facts.kit, load, percent)
    if last is not None and lighter is not None and rank_of(last.target.load) < rank_of(lighter):
        lighter = _to_be_had(facts, last.target.load)
    figures: dict[str, Figure] = {"days": days, "percent": percent, "from_kg": kg_figure(load)}
    if lighter is None and days < LONG_DAYS and (last is None or rank_of(last.target.load) >= rank_of(load)):
        return _fewer_instead(facts, step, figures)
    if lighter is None:
        why = Reason("P10", "away-no-lighter", figures)
        return level_down(facts, *step.reasons, why, most_kg=total_kg(load)) or left_out(facts, why)
    why = Reason("P10", "away-load", {**figures, "to_kg": kg_figure(lighter)})
    return step.with_target(replace(step.target, load=lighter), why)


def _fewer_instead(facts: TargetFacts, step: Step, figures: dict[str, Figure]) -> Step:
    """The step at its load, with fewer reps or seconds in the place of less load (P10)."""
    target = step.target
    young = facts.limits.under_18 and target.measure is Measure.REPS
    amount = target.amount * (100 - SHORT_LOAD_PERCENT) // 100
    amount = min(target.amount, max(facts.limits.min_reps if young else 1, amount))
    shown = {
        "from": amount_figure(target.measure, target.amount),
        "to": amount_figure(target.measure, amount),
    }
    why = Reason("P10", "away-load-kept", {**figures, **shown})
    return step.with_target(replace(target, amount=amount), why)


def _to_be_had(facts: TargetFacts, load: Load | None) -> Load | None:
    """The load, or what the kit of now has below it: what was there at the last session may be gone (K6)."""
    if load is None or is_reachable(facts.kit, load):
        return load
    return round_down(facts.kit, load.holding, load.kg) if load.kg is not None else None


def _less(facts: TargetFacts, step: Step, last: Exposure | None) -> Step | LeftOut:
    """The step with its volume cut from the usual, and eased in after `last`, the last session back (P10, P7); not
    above it when what was done then is not known (H3)."""
    days, week = facts.away_days or 0, facts.return_week or 1
    percent = volume_cuts(days)[week - 1]
    target = step.target
    usual = facts.usual_sets if facts.usual_sets is not None else Decimal(target.sets)
    left = usual * (100 - percent) / 100
    sets, amount = min(int(left), target.sets), target.amount
    if last is not None:
        amount = min(amount, restored_amount(last.target))
        if amounts_done(last) is None:
            sets, amount = min(sets, last.target.sets), min(amount, last.target.amount)
    if sets < 1:
        sets, amount = 1, min(amount, int(left * amount))
        young = facts.limits.under_18 and target.measure is Measure.REPS
        if amount < (facts.limits.min_reps if young else 1):
            return left_out(facts, *step.reasons, Reason("P10", "away-too-little", {"days": days}))
    figures = {
        "days": days,
        "week": week,
        "percent": percent,
        "sets": sets,
        "amount": amount_figure(target.measure, amount),
    }
    return step.with_target(
        replace(target, sets=sets, amount=amount, reps_left=NEW_REPS_LEFT),
        Reason("P10", "away-volume", figures),
    )


def first_week_back(facts: TargetFacts, step: Step) -> Step | LeftOut:
    """The step within half the pattern's usual volume, in the first week after 14 days or more away (I10).

    `come_back` has seen to it for what is asked again; this holds for what is new, stands in or is learned again.
    """
    days = facts.away_days or 0
    if not is_returning(facts) or (facts.return_week or 1) > 1 or facts.usual_sets is None:
        return step
    if step.exercise is None and any(reason.key == "away-volume" for reason in step.reasons):
        return step
    left = facts.usual_sets / 2
    target = without_bridge(step.target)
    if target.sets <= left:
        return step
    sets, amount = int(left), _not_above_before(facts, step)
    if sets < 1:
        sets, amount = 1, int(left * amount)
    young = facts.limits.under_18 and target.measure is Measure.REPS
    if young and days >= LEARN_AGAIN_DAYS:
        amount = max(amount, facts.limits.min_reps)
    if amount < (facts.limits.min_reps if young else 1):
        return left_out(facts, *step.reasons, Reason("P10", "away-too-little", {"days": days}))
    shown = amount_figure(target.measure, amount)
    why = Reason("P10", "away-first-week", {"days": days, "sets": sets, "amount": shown})
    return not_same(step).with_target(replace(target, sets=sets, amount=amount), why)


def _not_above_before(facts: TargetFacts, step: Step) -> int:
    """The reps or seconds that a half is taken of: no more than were asked last before the break, or than a first dose
    where nothing was."""
    since = facts.away_since
    before = [
        one.target.amount for one in facts.exposures if step.exercise is None and since and one.on <= since
    ]
    hold = step.target.measure is Measure.HOLD
    first = max(facts.exercise.low, HOLD_START_S) if hold else floor_of(facts)
    return min([step.target.amount, *(before[-1:] or ([first] if step.exercise is None else []))])


def volume_intensity(sets: int, reps: int, fraction: Decimal) -> Decimal:
    """Sets x reps x load as a fraction of the maximum (S: Caterisano 2019).

    >>> volume_intensity(3, 10, Decimal("0.50"))
    Decimal('15.00')
    """
    return sets * reps * fraction


def cautious(facts: TargetFacts, step: Step | LeftOut) -> Step | LeftOut:
    """The step kept to what the first two weeks of a return allow; other weeks are left alone (P10)."""
    if isinstance(step, LeftOut) or not is_cautious(facts):
        return step
    target = step.target
    fraction = _fraction_of_maximum(facts, target)
    if fraction is None:
        most = CAUTIOUS_REPS if target.measure is Measure.REPS else CAUTIOUS_S
        sets, amount = min(target.sets, CAUTIOUS_SETS), min(target.amount, most)
        figures = {
            "sets": CAUTIOUS_SETS,
            "amount": amount_figure(target.measure, most),
            "reps_left": NEW_REPS_LEFT,
        }
        key = "away-cautious-hold" if target.measure is Measure.HOLD else "away-cautious"
        why = Reason("P10", key, figures)
    else:
        sets, amount = _within_most(facts, target, fraction)
        why = Reason("P10", "away-volume-intensity", {"most": int(IRV_MOST)})
    kept = replace(target, sets=sets, amount=amount, reps_left=NEW_REPS_LEFT)
    return step if kept == target else step.with_target(kept, why)


def _fraction_of_maximum(facts: TargetFacts, target: Target) -> Decimal | None:
    kg, most = total_kg(target.load), facts.known_max_kg
    if not kg or not most or target.measure is not Measure.REPS or not facts.limits.may_estimate:
        return None
    return min(Decimal(1), kg / most)


def _within_most(facts: TargetFacts, target: Target, fraction: Decimal) -> tuple[int, int]:
    """Sets and reps with sets x reps x fraction at most 30: reps give way first, down to the least, then sets."""
    sets, amount = target.sets, target.amount
    while volume_intensity(sets, amount, fraction) > IRV_MOST and amount > facts.limits.min_reps:
        amount -= 1
    while volume_intensity(sets, amount, fraction) > IRV_MOST and sets > 1:
        sets -= 1
    return sets, amount
