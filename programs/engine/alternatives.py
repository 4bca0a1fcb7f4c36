"""What else the next target of an exercise could have been, and what stood against each (rule I8, and P1 to P10, T, S).

    considered(facts, decision) -> the alternatives, one of them taken

I8  Every change has a reason; here also what was not done has one. Each alternative is asked of the engine's own
    functions: what the next load asks for and how far that is, whether the kit and the limits hold it, whether a pain,
    a break, a race or a light week lets it through, what a harder level still needs. Nothing here decides anything, and
    nothing is stored: the facts of the decision are, and they give the same alternatives again.

The order is that in which the rules look: a set that the program asks for, reps or seconds, the next load, the bridge,
a harder level, the same again, and then down. It matters only for the reader.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from enum import StrEnum
from functools import partial

from athletes.concerns import Gate
from athletes.values import value_class
from athletes.vocabulary import Figure, Reason
from programs.engine.advance import HOLD_STEP_S, is_never_coming, kept_up, why_no_rise
from programs.engine.bridge import MOST_BRIDGE_PERCENT, SLOW_S, cross, lowering_of, meets, successes
from programs.engine.cuts import apply_cut
from programs.engine.descent import BACK_MISSES, DOWN_MISSES, fit, level_down, start_of
from programs.engine.facts import Change, Exercise, LeftOut, Measure, Target, TargetDecision
from programs.engine.families import criterion_for, harder
from programs.engine.history import History, history_of, in_a_row, misses
from programs.engine.kit import holdings_for, previous_load
from programs.engine.layoff import come_back
from programs.engine.load_step import EXPOSURES_FOR_A_STEP, LoadStep, load_step, restarted, take_step
from programs.engine.progression import careful, lowered, standing_now
from programs.engine.strength import TEACHING_EXPOSURES, is_teaching
from programs.engine.target_facts import (
    Step,
    TargetFacts,
    ceiling_of,
    figure,
    keeps_balance,
    kg_figure,
    reps_more,
    top_of,
)

REASONS: dict[str, str] = {
    "asks-for-load": "{to_kg} kg is {percent} % more, and asks for {reached} in {needed} sessions in a row with "
    "{reps_left} good reps left. It stands at {from}.",
    "asks-for-load-unmeasured": "{to_kg} asks for {reached} in {needed} sessions in a row with {reps_left} good reps "
    "left. It stands at {from}.",
    "asks-for-level": "{to} asks for {sets} sets of {amount}, {needed} sessions in a row: {times} so far.",
    "asks-for-bridge": "A bridge begins at {top} with no load step to take. It stands at {from}.",
    "load-is-near": "{to_kg} kg can be reached by reps, so it needs no bridge.",
    "reps-are-reached": "{reached} is what {to_kg} kg asks for, so more reps add nothing.",
    "as-far-as-it-goes": "{amount} is as far as this goes for this rider.",
    "still-taught": "{times} of {needed} sessions that teach it are done: only reps or seconds rise until then.",
    "target-was-missed": "The last target was missed, so nothing rises.",
    "not-missed-enough": "{misses} of the {needed} misses in a row that ask for it.",
    "out-of-limits": "More than kit, age or a clinician's limit allows.",
    "light-keeps": "Nothing rises in a light week.",
    "race-keeps": "Nothing rises this near a race.",
    "level-not-here": "{exercise} needs kit that is not here.",
    "loads-more": "{exercise} loads a sore {region} more.",
    "one-thing-at-a-time": "One thing rises at a time, and something else comes first.",
    "step-is-earned": "A step is earned, so it does not stay as it is.",
    "less-is-asked": "Less is asked for now, so it does not stay as it is.",
}


class Barrier(StrEnum):
    """What stood against an alternative."""

    LOAD = "load"  # no such load, or one that may not be taken (K6, P2, S1, S3)
    LEVEL = "level"  # the level cannot be done here and now (L1, L2, T5)
    LIMITS = "limits"  # kit, age, a clinician (I2, I11, S1)
    BODY = "body"  # a pain, a soreness, an illness, a return (T, P10)
    WEEK = "week"  # a light week, a race, a return (P7, P9, P10)
    HISTORY = "history"  # what was done does not earn a rise, or nothing may rise now (P1, P5, H, S2)
    NEED = "need"  # what it asks for is not met yet (P2, P3, L1), or nothing calls for going down (P5)
    ORDER = "order"  # something else comes first


@value_class
class Refusal:
    """One barrier that an alternative did not pass, and why."""

    barrier: Barrier
    reason: Reason


@value_class
class Alternative:
    """One thing that the next target could have been. `target` is None where there is nothing to ask for.

    The one taken has the reasons of the decision and no refusals; every other has at least one refusal.
    """

    change: Change
    exercise: str
    target: Target | None
    is_taken: bool = False
    reasons: tuple[Reason, ...] = ()
    refusals: tuple[Refusal, ...] = ()


#: Changes that ask for more. One of them at a time is taken (H2).
RISES = frozenset(
    {
        Change.MORE_SETS,
        Change.MORE_REPS,
        Change.MORE_TIME,
        Change.MORE_LOAD,
        Change.SLOWER,
        Change.BRIDGE,
        Change.HARDER,
    }
)

#: The order of the rules, for alternatives that only the decision itself has.
_ORDER = (
    Change.NEW,
    Change.MORE_SETS,
    Change.MORE_REPS,
    Change.MORE_TIME,
    Change.MORE_LOAD,
    Change.SLOWER,
    Change.BRIDGE,
    Change.HARDER,
    Change.SAME,
    Change.FEWER_SETS,
    Change.FEWER_REPS,
    Change.LESS_LOAD,
    Change.EASIER,
)


def considered(
    facts: TargetFacts,
    decision: TargetDecision | LeftOut,
    *,
    barred: Mapping[str, tuple[Reason, ...]] | None = None,
    sore_why: Callable[[Exercise], Reason | None] | None = None,
) -> tuple[Alternative, ...]:
    """The alternatives to a decision about `facts`, in the order of the rules, the one taken marked.

    `barred` and `sore_why` say why a harder exercise may not be done, where the caller knows. Nothing is taken when the
    exercise was left out.
    """
    facts = careful(facts)
    history = history_of(facts)
    found = list(_weighed(facts, history, barred or {}, sore_why or (lambda _exercise: None)))
    if isinstance(decision, LeftOut):
        return tuple(_refused(one, decision.reasons) for one in found)
    taken = Alternative(
        decision.change, decision.exercise, decision.target, is_taken=True, reasons=decision.reasons
    )
    others = [one for one in found if not _stands_for(one, taken)]
    why = _why_not(decision)
    rows = [taken, *(_refused(one, why(one.change)) for one in others)]
    return tuple(sorted(rows, key=lambda one: _ORDER.index(one.change)))


def weighed(facts: TargetFacts) -> tuple[Alternative, ...]:
    """Every alternative with what stands against it, none taken yet: nothing stands against what may be done now."""
    facts = careful(facts)
    return tuple(_weighed(facts, history_of(facts), {}, lambda _exercise: None))


def _stands_for(one: Alternative, taken: Alternative) -> bool:
    """Whether an alternative is the decision, or the same kind of change that the decision made in its own way."""
    if (one.exercise, one.target) == (taken.exercise, taken.target):
        return True
    return one.change is taken.change and (one.exercise == taken.exercise or one.change is Change.EASIER)


def _why_not(decision: TargetDecision) -> Callable[[Change], tuple[Reason, ...]]:
    """What is said of an alternative against which nothing else stands."""
    rises = decision.change in RISES

    def why(change: Change) -> tuple[Reason, ...]:
        if change is Change.SAME:
            return (Reason("P1", "step-is-earned") if rises else Reason("P1", "less-is-asked"),)
        return (Reason("H2", "one-thing-at-a-time"),) if rises else decision.reasons

    return why


def _refused(one: Alternative, otherwise: Iterable[Reason]) -> Alternative:
    """The alternative with at least one refusal."""
    if one.refusals:
        return one
    return replace(one, refusals=tuple(Refusal(Barrier.ORDER, reason) for reason in otherwise))


# --- weighing ---------------------------------------------------------------------------------------------------------


def _weighed(
    facts: TargetFacts,
    history: History,
    barred: Mapping[str, tuple[Reason, ...]],
    sore_why: Callable[[Exercise], Reason | None],
) -> Iterator[Alternative]:
    step = standing_now(facts, history) if history.run else None
    if step is None or isinstance(step, LeftOut) or step.exercise is not None:
        return  # something new, or something that cannot stay: nothing rises or falls from it
    standing = step.target
    scale = _Scale(facts, history, standing, load_step(facts, standing, history))
    yield from scale.more_sets()
    yield from scale.more_reps()
    yield from scale.more_load()
    yield from scale.bridge()
    yield from scale.levels_up(barred, sore_why)
    yield scale.same()
    yield from scale.less_load()
    yield from scale.level_down()


@value_class
class _Scale:
    """Weighs each alternative to one standing target."""

    facts: TargetFacts
    history: History
    standing: Target
    step: LoadStep

    # --- up ---

    def more_sets(self) -> Iterator[Alternative]:
        facts, standing = self.facts, self.standing
        if standing.sets < min(facts.slot.sets, facts.limits.max_sets):
            target = replace(standing, sets=standing.sets + 1)
            yield self._rise(Change.MORE_SETS, target, self._earned_in_full())

    def more_reps(self) -> Iterator[Alternative]:
        facts, standing = self.facts, self.standing
        hold = standing.measure is Measure.HOLD
        change = Change.MORE_TIME if hold else Change.MORE_REPS
        counted = self.history.counted
        more = 1 if is_teaching(self.history.taught) or not counted else reps_more(facts, counted[-1])
        by = HOLD_STEP_S if hold else more
        most = max(ceiling_of(facts), top_of(facts))
        if standing.amount >= most:
            why = Reason("P1", "as-far-as-it-goes", {"amount": standing.amount})
            yield self._none(change, Refusal(Barrier.LIMITS, why))
            return
        target = replace(standing, amount=min(most, standing.amount + by))
        beyond = self._earned_in_full() if standing.amount >= ceiling_of(facts) else ()
        yield self._rise(change, target, (*self._load_waits_for_no_more(), *beyond))

    def _load_waits_for_no_more(self) -> Iterator[Refusal]:
        """Reps stop where the next load is earned."""
        step, standing = self.step, self.standing
        waits = step.refused is None and not step.regained and standing.amount >= step.earned_at
        if standing.measure is Measure.REPS and waits:
            figures: dict[str, Figure] = {"reached": step.earned_at, "to_kg": kg_figure(step.load)}
            yield Refusal(Barrier.ORDER, Reason("P2", "reps-are-reached", figures))

    def more_load(self) -> Iterator[Alternative]:
        step, standing = self.step, self.standing
        if self.facts.holding is None:
            return
        if step.load is None:
            if step.refused is not None:
                yield self._none(Change.MORE_LOAD, Refusal(Barrier.LOAD, step.refused))
            return
        target = restarted(self.facts, standing, step)
        yield self._rise(Change.MORE_LOAD, target, (*self._load_refusals(), *self._earned_in_full()))

    def _load_refusals(self) -> Iterator[Refusal]:
        """Why the next load is not to be taken, or what it still asks for (P2, S3)."""
        facts, standing, step = self.facts, self.standing, self.step
        if step.refused is not None:
            yield Refusal(Barrier.LOAD, step.refused)
            return
        if standing.amount < step.earned_at:
            measured = step.percent is not None
            key = "asks-for-load" if measured else "asks-for-load-unmeasured"
            yield Refusal(
                Barrier.NEED,
                Reason(
                    "P2",
                    key,
                    {
                        "to_kg": kg_figure(step.load),
                        "percent": figure(step.percent) if step.percent is not None else None,
                        "reached": step.earned_at,
                        "needed": step.needed,
                        "reps_left": step.reps_left,
                        "from": standing.amount,
                    },
                ),
            )
            return
        taken = take_step(facts, self.history, standing, step)
        if taken.target.load != step.load:
            yield Refusal(Barrier.NEED, taken.reasons[0])

    def bridge(self) -> Iterator[Alternative]:
        """The bridge to a load that cannot be taken at once: a slower lowering, then sets at the load (P3)."""
        facts, standing, step = self.facts, self.standing, self.step
        if standing.measure is Measure.HOLD or step.load is None:
            return
        slow = next((slow for slow in SLOW_S if slow > lowering_of(facts, standing)), None)
        if slow is not None and not standing.bridge_sets:
            target = replace(standing, lower_s=slow)
            yield self._rise(Change.SLOWER, target, (*self._needs_a_bridge(), *self._earned_in_full()))
        asked = replace(standing, amount=max(standing.amount, top_of(facts)), lower_s=SLOW_S[-1])
        crossed = cross(facts, self.history, standing if standing.bridge_sets else asked, step).target
        if crossed.bridge_sets > standing.bridge_sets:
            waits = () if standing.bridge_sets else tuple(self._needs_a_bridge(slowest=True))
            yield self._rise(Change.BRIDGE, crossed, (*waits, *self._earned_in_full()))

    def _needs_a_bridge(self, *, slowest: bool = False) -> Iterator[Refusal]:
        facts, standing, step = self.facts, self.standing, self.step
        if step.refused is None:
            why = Reason("P3", "load-is-near", {"to_kg": kg_figure(step.load)})
            yield Refusal(Barrier.NEED, why)
        elif standing.amount < top_of(facts):
            figures = {"top": top_of(facts), "from": standing.amount}
            yield Refusal(Barrier.NEED, Reason("P3", "asks-for-bridge", figures))
        elif slowest and lowering_of(facts, standing) < SLOW_S[-1]:
            yield Refusal(Barrier.ORDER, Reason("H2", "one-thing-at-a-time"))

    def levels_up(
        self,
        barred: Mapping[str, tuple[Reason, ...]],
        sore_why: Callable[[Exercise], Reason | None],
    ) -> Iterator[Alternative]:
        """Each harder level, with what it still asks for (L1, H2)."""
        for other in harder(self.facts.library, self.facts.exercise.slug):
            target = start_of(self.facts, other)
            refusals = tuple(self._level_refusals(other, barred, sore_why))
            if target is None:
                none = refusals or (self._not_here(other),)
                yield Alternative(Change.HARDER, other.slug, None, refusals=none)
                continue
            bars = dict.fromkeys((*refusals, *self._earned_in_full(), *self._bars()))
            yield Alternative(Change.HARDER, other.slug, target, refusals=tuple(bars))

    def _level_refusals(
        self,
        other: Exercise,
        barred: Mapping[str, tuple[Reason, ...]],
        sore_why: Callable[[Exercise], Reason | None],
    ) -> Iterator[Refusal]:
        facts = self.facts
        if other.slug not in facts.harder_allowed:
            sore = sore_why(other)
            if barred.get(other.slug):
                yield from (Refusal(Barrier.LEVEL, reason) for reason in barred[other.slug])
            elif sore is not None and holdings_for(other, facts.kit, alone=facts.rider.trains_alone):
                yield Refusal(Barrier.LEVEL, sore)
            else:
                yield self._not_here(other)
        criterion = criterion_for(facts.library, facts.exercise.slug, other.slug)
        if criterion is None:
            return
        needed = EXPOSURES_FOR_A_STEP + facts.limits.extra_exposures
        times = in_a_row(self.history.counted, partial(meets, criterion=criterion))
        if times < needed:
            figures: dict[str, Figure] = {"to": other.slug, "sets": criterion.sets, "amount": criterion.value}
            why = Reason("L1", "asks-for-level", {**figures, "needed": needed, "times": times})
            yield Refusal(Barrier.NEED, why)
        if not facts.new_allowed:
            yield Refusal(Barrier.LEVEL, Reason("H2", "no-new-exercise", {"exercise": other.slug}))
        if self.standing.measure is Measure.REPS and not self._is_no_load_coming():
            yield Refusal(Barrier.ORDER, Reason("H2", "one-thing-at-a-time"))

    def _is_no_load_coming(self) -> bool:
        """Whether a level is looked for before reps, loads and the bridge are used up (L1)."""
        step, standing = self.step, self.standing
        if step.refused is None:
            return False
        if is_never_coming(step) and not standing.bridge_sets:
            return True
        too_far = step.percent is not None and step.percent > MOST_BRIDGE_PERCENT
        at_the_end = standing.amount >= top_of(self.facts) and lowering_of(self.facts, standing) >= SLOW_S[-1]
        return at_the_end and (too_far or self.facts.limits.under_18 or standing.load is None)

    def _not_here(self, other: Exercise) -> Refusal:
        return Refusal(Barrier.LEVEL, Reason("L2", "level-not-here", {"exercise": other.slug}))

    # --- the same, and down ---

    def same(self) -> Alternative:
        target = self.standing
        bars = (*self._limits(target), *self._body(target), *self._week(target), *self._missed(BACK_MISSES))
        return Alternative(Change.SAME, self.facts.exercise.slug, target, refusals=bars)

    def _missed(self, most: int) -> Iterator[Refusal]:
        """Missed so often that the same again is not asked for (P5)."""
        count = misses(self.history.counted)
        if count >= most:
            yield Refusal(Barrier.HISTORY, Reason("P5", "target-was-missed"))

    def less_load(self) -> Iterator[Alternative]:
        load = self.standing.load
        lighter = previous_load(self.facts.kit, load.holding, load) if load is not None else None
        if lighter is not None:
            target = replace(self.standing, load=lighter, bridge_load=None, bridge_sets=0, bridge_amount=0)
            yield self._fall(Change.LESS_LOAD, self.facts.exercise.slug, target, BACK_MISSES)

    def level_down(self) -> Iterator[Alternative]:
        down = level_down(self.facts)
        if down is not None and down.exercise is not None:
            yield self._fall(Change.EASIER, down.exercise, down.target, DOWN_MISSES)

    def _fall(self, change: Change, exercise: str, target: Target, needed: int) -> Alternative:
        count = misses(self.history.counted)
        calls = self.facts.gate is Gate.EASE or count >= needed
        why = Reason("P5", "not-missed-enough", {"misses": count, "needed": needed})
        refusals = () if calls else (Refusal(Barrier.NEED, why),)
        return Alternative(change, exercise, target, refusals=refusals)

    # --- what stands against a rise ---

    def _rise(self, change: Change, target: Target, needs: Iterable[Refusal]) -> Alternative:
        body = (*self._limits(target), *self._body(target))
        # In a light week and before a race nothing rises at all, so what they would leave of it need not be said.
        whole = self.facts.light or self.facts.cut_percent
        week = () if whole else tuple(self._week(target))
        bars = tuple(one for one in self._bars() if not (week and one.reason.key == "since-return"))
        slug = self.facts.exercise.slug
        return Alternative(change, slug, target, refusals=tuple(dict.fromkeys((*body, *week, *needs, *bars))))

    def _none(self, change: Change, refusal: Refusal) -> Alternative:
        return Alternative(change, self.facts.exercise.slug, None, refusals=(refusal,))

    def _limits(self, target: Target) -> Iterator[Refusal]:
        """Kit, age and clinician: the engine lowers what they do not hold (I2, I11, S1)."""
        fitted = fit(self.facts, target)
        if isinstance(fitted, LeftOut) or fitted.exercise is not None or fitted.target != target:
            why = fitted.reasons or (Reason("I6", "out-of-limits"),)
            yield from (Refusal(Barrier.LIMITS, reason) for reason in why)

    def _body(self, target: Target) -> Iterator[Refusal]:
        """Pain, soreness, illness, the way back: what these leave of the target is less (T, P10)."""
        left = lowered(self.facts, self.history, Step(target))
        if isinstance(left, LeftOut) or left.exercise is not None or left.target != target:
            yield from (Refusal(Barrier.BODY, reason) for reason in left.reasons)

    def _week(self, target: Target) -> Iterator[Refusal]:
        """A return, a light week, a race: what these leave of the target is less, and nothing rises in them."""
        facts = self.facts
        if keeps_balance(facts):
            return
        back = come_back(facts, self.history)
        if back is not None and (isinstance(back, LeftOut) or back.target != target):
            yield from (Refusal(Barrier.WEEK, reason) for reason in back.reasons)
        floor = min(target.amount, facts.limits.min_reps)
        cut, why = apply_cut(
            target,
            floor=floor if target.measure is Measure.REPS else min(target.amount, facts.exercise.low),
            phase=facts.phase,
            light=facts.light,
            cut_percent=facts.cut_percent,
        )
        if cut != target:
            yield from (Refusal(Barrier.WEEK, reason) for reason in why)

    def _bars(self) -> Iterator[Refusal]:
        """What bars every rise: the days, the phase, and what was done last (P1, P5, P7 to P9, H, S4)."""
        facts, history = self.facts, self.history
        if facts.light:
            yield Refusal(Barrier.WEEK, Reason("P7", "light-keeps"))
        elif facts.cut_percent:
            yield Refusal(Barrier.WEEK, Reason("P9", "race-keeps"))
        if misses(history.counted):
            yield Refusal(Barrier.HISTORY, Reason("P5", "target-was-missed"))
            return
        why = why_no_rise(facts, history, self.standing)
        if why is not None and not (why.key == "maintain-kept" and kept_up(facts, history, self.standing)):
            yield Refusal(Barrier.HISTORY, why)

    def _earned_in_full(self) -> Iterator[Refusal]:
        """More than reps or seconds waits for the end of teaching and for full successes (S2, P1, S4)."""
        taught = self.history.taught
        if is_teaching(taught):
            figures = {"times": taught, "needed": TEACHING_EXPOSURES}
            yield Refusal(Barrier.NEED, Reason("S2", "still-taught", figures))
        elif why_no_rise(self.facts, self.history, self.standing) is None:
            needed = 1 + self.facts.limits.extra_exposures
            if successes(self.history, self.standing, full=True) < needed:
                yield Refusal(Barrier.HISTORY, Reason("P1", "easy-not-enough"))
