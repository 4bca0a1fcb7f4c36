"""One slot of one session becomes one exercise with one target, or is left out with the reason (rules L2, H2, T5, P9).

L2  The rider's level, else the nearest easier one that fits kit and limits, else a sibling, else nothing, said so. What
    stands in for a level does not become it: only P5 and a harder level move it (ours). What stands in climbs all the
    same: once it has met what a harder exercise asks for, that one stands in where it fits, until a step down (ours).
P2  What would begin with a load that is too heavy to begin with is not begun: something easier stands in for it, with
    a past of its own. Of several implements the first that is light enough is taken (ours).
H2  One step a key a week: the sessions of one week ask the same, and none is heavier than the one before it.
T5  What the state of a site stops is not chosen; what stands in for it never loads a sore region more.
P9  In a rebuild the first session with each exercise has 10 % less load (`rebuild`).
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal

from athletes.concerns import Concern, Gate
from athletes.values import value_class
from athletes.vocabulary import Implement, Reason
from programs.engine.context import Heard, WeekContext
from programs.engine.facts import (
    Change,
    Exercise,
    Holding,
    Item,
    Kit,
    LeftOut,
    Load,
    Loading,
    Slot,
    Standing,
    Target,
    TargetDecision,
)
from programs.engine.families import (
    all_easier,
    exercise_of,
    harder,
    harder_that_fit,
    loads_more,
    resolve_slot,
)
from programs.engine.gates import keep_within_past
from programs.engine.kit import holdings_for, reachable_loads, total_kg
from programs.engine.layoff import SHORT_DAYS, Gap
from programs.engine.progression import next_target
from programs.engine.rebuild import rebuild
from programs.engine.season import cut_for
from programs.engine.strength import begin_limit, first_load
from programs.engine.target_facts import TargetFacts, kg_figure, lowest, rank_of

#: Reasons that say what stands in for a level.
STANDS_IN = frozenset({"easier-used", "sibling-used"})

REASONS: dict[str, str] = {
    "opened-used": "{used} stands in for {wanted}: what it asks for was met with {from}.",
    "heavier-than-given": "{exercise} is {from_kg} kg earlier in the week, and no heavier here.",
}


@value_class
class Resolved:
    """What a slot became: an item or nothing, the level it moves to if it moves, what a coach must look at."""

    given: Item | LeftOut
    moved: Standing | None = None
    concerns: tuple[Concern, ...] = ()


def resolve_item(
    context: WeekContext, slot: Slot, *, session_on: date, kit: Kit, most_kg: Decimal | None = None
) -> Resolved:
    """The slot on a day at a venue. No load above `most_kg` in all is given, whatever the history says."""
    exercise, chosen_why, barred = _choose(context, slot, session_on, kit)
    if exercise is None:
        nothing = LeftOut(slot.id, slot.pattern, chosen_why)
        if context.heard is not None:
            context.heard.append(Heard(slot, session_on, kit, barred, None, nothing))
        return Resolved(nothing)
    asked = _Asked(slot, exercise, session_on, kit, most_kg)
    answer = _no_heavier_than_given(context, asked, barred, _target(context, asked, barred))
    if isinstance(answer, LeftOut):
        return Resolved(LeftOut(slot.id, slot.pattern, (*chosen_why, *answer.reasons)))
    if context.is_new(answer.exercise):
        context.new.append(answer.exercise)
    item = Item(
        slot=slot.id,
        part=slot.part,
        pattern=slot.pattern,
        exercise=answer.exercise,
        target=answer.target,
        change=answer.change,
        reasons=(*chosen_why, *answer.reasons),
        previous=_previous(context, answer),
    )
    return Resolved(item, _moved(context, slot, exercise, answer, session_on), answer.concerns)


type Barred = Mapping[str, tuple[Reason, ...]]


def _choose(
    context: WeekContext, slot: Slot, session_on: date, kit: Kit
) -> tuple[Exercise | None, tuple[Reason, ...], Barred]:
    """The exercise that the slot becomes, why it is not the rider's level if it is not, what was barred (L2, P2)."""
    barred: Barred = context.barred(session_on)
    while True:
        exercise, why = resolve_slot(
            slot,
            context.library,
            standing=context.standings.get(slot.pattern),
            kit=kit,
            barred=barred,
            beginner=context.is_first_week and slot.exercise is None,
            alone=context.facts.rider.trains_alone,
            sore=context.sore,
        )
        heavy = _too_heavy_to_begin(context, exercise, kit) if exercise is not None else None
        if exercise is None or heavy is None:
            break
        barred = {**barred, exercise.slug: (heavy,)}
    if exercise is None or not why or why[-1].key not in STANDS_IN:
        return exercise, why, barred
    opened = _opened(context, exercise, str(why[-1].figures["wanted"]), kit, barred)
    if opened is not exercise:
        figures = {"wanted": why[-1].figures["wanted"], "used": opened.slug, "from": exercise.slug}
        why = (*why[:-1], Reason("L2", "opened-used", figures))
    return opened, why, barred


def _opened(context: WeekContext, stand_in: Exercise, wanted: str, kit: Kit, barred: Barred) -> Exercise:
    """The stand-in, or the harder exercise that it has opened: one that fits and was asked for since (L2, T5)."""
    library, past = context.library, context.past.by_exercise
    level = exercise_of(library, wanted)
    while True:
        lately = past.get(stand_in.slug)
        above = harder(library, stand_in.slug)
        if not lately or not any(one.slug in past for one in above):
            return stand_in
        fits = harder_that_fit(
            library,
            stand_in.slug,
            kit=kit,
            barred=barred,
            alone=context.facts.rider.trains_alone,
            sore=context.sore,
        )
        opened = [
            one
            for one in above
            if one.slug in fits
            and one.slug in past
            and past[one.slug][-1].on > lately[-1].on
            and loads_more(one, level, context.sore) is None
        ]
        if not opened:
            return stand_in
        stand_in = max(opened, key=lambda one: past[one.slug][-1].on)


def _too_heavy_to_begin(context: WeekContext, exercise: Exercise, kit: Kit) -> Reason | None:
    """Why the exercise may not be begun with what is to be had here, if all of it is too heavy (P2)."""
    if exercise.loading is not Loading.EXTERNAL:
        return None
    holding = choose_holding(exercise, kit, context)
    past = context.past.by_exercise.get(exercise.slug, ())
    if holding is None or any(one.target.load and one.target.load.holding == holding for one in past):
        return None
    if first_load(exercise, holding, kit, context.limits) is not None:
        return None
    lightest = next(iter(reachable_loads(kit, holding)), None)
    figures = {"to_kg": kg_figure(lightest), "most": str(begin_limit(exercise, context.limits))}
    return Reason("P2", "first-load-too-heavy", figures)


@value_class
class _Asked:
    """The exercise that a slot became, the day and the kit, before its target is known."""

    slot: Slot
    exercise: Exercise
    session_on: date
    kit: Kit
    most_kg: Decimal | None


def _no_heavier_than_given(
    context: WeekContext,
    asked: _Asked,
    barred: Mapping[str, tuple[Reason, ...]],
    answer: TargetDecision | LeftOut,
) -> TargetDecision | LeftOut:
    """The answer no heavier than the same exercise and implement is earlier in the week: where another venue has only
    heavier ones, a first target there would be a step within the week (H2, I5)."""
    if isinstance(answer, LeftOut) or answer.target.load is None:
        return answer
    load = answer.target.load
    given = context.given.get((answer.exercise, load.holding))
    if given is None or rank_of(load) <= rank_of(given):
        return answer
    why = Reason("H2", "heavier-than-given", {"exercise": answer.exercise, "from_kg": kg_figure(given)})
    if given.kg is None:
        return LeftOut(asked.slot.id, asked.slot.pattern, (why,))
    lighter = _target(context, replace(asked, most_kg=total_kg(given)), barred)
    if isinstance(lighter, LeftOut) or rank_of(lighter.target.load) > rank_of(given):
        return LeftOut(asked.slot.id, asked.slot.pattern, (*lighter.reasons, why))
    return replace(lighter, reasons=(*lighter.reasons, why))


def _moved(
    context: WeekContext, slot: Slot, exercise: Exercise, answer: TargetDecision, on: date
) -> Standing | None:
    """The level that the answer moves the rider to, when it moves it (L2, P5)."""
    if answer.exercise == exercise.slug or slot.exercise is not None:
        return None
    if context.standings.get(slot.pattern, exercise.slug) != exercise.slug:
        return None  # it was a stand-in for the level itself
    stalled = any(reason.rule == "P5" for reason in answer.reasons)
    if answer.change is not Change.HARDER and not stalled:
        return None
    return Standing(slot.pattern, answer.exercise, on)


def _previous(context: WeekContext, answer: TargetDecision) -> Target | None:
    """The last target of the same exercise and implement (H1)."""
    for exposure in reversed(context.past.by_exercise.get(answer.exercise, ())):
        if implement_of(exposure.target.load) is implement_of(answer.target.load):
            return exposure.target
    return None


def implement_of(load: Load | None) -> Implement:
    """The implement of a load, none for body weight."""
    return load.holding.implement if load is not None else Implement.NONE


def _target(
    context: WeekContext, asked: _Asked, barred: Mapping[str, tuple[Reason, ...]]
) -> TargetDecision | LeftOut:
    """The target, the same for the same exercise, slot range, kit and break within one week (H2)."""
    slot = asked.slot
    holding = choose_holding(asked.exercise, asked.kit, context)
    cut = cut_for(context.phase, asked.session_on)
    gap = context.gap_of(asked.exercise.pattern, asked.session_on)
    key = (
        asked.exercise.slug,
        slot.sets,
        slot.low,
        slot.high,
        slot.rest_s,
        holding,
        id(asked.kit),
        cut,
        gap,
        asked.most_kg,
    )
    if key not in context.answers or context.heard is not None:
        facts = _target_facts(context, asked, holding, cut, gap, barred)
        answer = _next_target(context, key, facts)
        since_on = context.phase.rebuild_since_on
        if context.phase.rebuild_load_cut and since_on is not None and isinstance(answer, TargetDecision):
            answer = rebuild(facts, answer, percent=context.phase.rebuild_load_cut, since_on=since_on)
        if isinstance(answer, TargetDecision) and answer.exercise != asked.exercise.slug:
            answer = _another(context, asked.slot, answer)
        answer = context.answers.setdefault(key, answer)
        if context.heard is not None:
            context.heard.append(Heard(slot, asked.session_on, asked.kit, barred, facts, answer))
    return context.answers[key]


def _next_target(
    context: WeekContext, key: tuple[object, ...], facts: TargetFacts
) -> TargetDecision | LeftOut:
    """The next target: what was answered before where it is asked with the same facts."""
    known = context.asked.get(key)
    if known is None or known[0] != facts:
        known = context.asked[key] = (facts, next_target(facts))
    return known[1]


def _another(context: WeekContext, slot: Slot, answer: TargetDecision) -> TargetDecision | LeftOut:
    """An easier or harder exercise keeps to its own past: never heavier than it was last asked with the implement (I5,
    S3), and where it loads a sore site within what was last done of it (I1)."""
    past = context.past.by_exercise.get(answer.exercise, ())
    gate, _reasons = context.gate_of(exercise_of(context.library, answer.exercise))
    kept = keep_within_past(answer.target, past, context.limits, is_sore=gate is not Gate.FREE)
    if isinstance(kept, Reason):
        return LeftOut(slot.id, slot.pattern, (*answer.reasons, kept))
    target, why = kept
    return replace(answer, target=target, reasons=(*answer.reasons, *why))


def _target_facts(
    context: WeekContext,
    asked: _Asked,
    holding: Holding | None,
    cut: int,
    gap: Gap | None,
    barred: Mapping[str, tuple[Reason, ...]],
) -> TargetFacts:
    facts, exercise = context.facts, asked.exercise
    gate, reasons = context.gate_of(exercise)
    halved_by = context.halved_by(exercise)
    alone = facts.rider.trains_alone
    returns = gap is not None and gap.days >= SHORT_DAYS
    usual = context.usual_sets(exercise.pattern, gap, asked.session_on) if returns else None
    return TargetFacts(
        exercise=exercise,
        slot=asked.slot,
        kit=asked.kit,
        holding=holding,
        library=context.library,
        exposures=context.past.by_exercise.get(exercise.slug, ()),
        limits=context.limits,
        rider=facts.rider,
        session_on=asked.session_on,
        phase=context.phase.phase,
        # What halves is applied once, after the gate, so that it also holds beside one that eases.
        gate=Gate.HOLD if gate is Gate.HALF_SETS else gate,
        gate_reasons=reasons,
        light=context.phase.light,
        cut_percent=cut,
        halve_sets=halved_by is not None,
        halve_rule=halved_by or "P10",
        troubled_since=context.troubled_since(exercise) if gate > Gate.FREE else None,
        away_days=gap.days if gap else None,
        away_since=gap.since if gap else None,
        return_week=gap.week if gap else None,
        usual_sets=usual,
        progress_allowed=facts.progress_allowed and not context.state.rises_barred,
        stepped_this_week=context.has_stepped(exercise, holding),
        returned_on=context.returned_on(exercise),
        new_allowed=not context.is_new(exercise.slug) or context.has_room_for_new,
        harder_allowed=harder_that_fit(
            context.library, exercise.slug, kit=asked.kit, barred=barred, alone=alone, sore=context.sore
        ),
        easier_allowed=_easier_allowed(context, exercise, asked.kit, barred),
        max_total_kg=lowest(context.max_total_kg, asked.most_kg),
        max_reps=context.max_reps,
    )


def _easier_allowed(
    context: WeekContext, exercise: Exercise, kit: Kit, barred: Mapping[str, tuple[Reason, ...]]
) -> frozenset[str]:
    alone, sore = context.facts.rider.trains_alone, context.sore
    return frozenset(
        other.slug
        for other in all_easier(context.library, exercise.slug)
        if other.slug not in barred
        and holdings_for(other, kit, alone=alone)
        and (not sore or loads_more(other, exercise, sore) is None)
    )


def choose_holding(exercise: Exercise, kit: Kit, context: WeekContext) -> Holding | None:
    """How the exercise would be loaded here: the way it was last, else the first that fits.

    An exercise that may be done without load starts without, and is offered a load once it has been done (H1, P2).
    """
    if exercise.loading is Loading.BODY:
        return None
    fitting = holdings_for(exercise, kit, alone=context.facts.rider.trains_alone)
    exposures = context.past.by_exercise.get(exercise.slug, ())
    for exposure in reversed(exposures):
        used = exposure.target.load.holding if exposure.target.load is not None else None
        if used is not None and used in fitting:
            return used
    loaded = [holding for holding in fitting if holding is not None]
    if not loaded or (exercise.loading is not Loading.EXTERNAL and not exposures):
        return None
    light = (one for one in loaded if first_load(exercise, one, kit, context.limits) is not None)
    return next(light, loaded[0])
