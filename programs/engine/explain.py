"""Why a week is as it is: for each target the inputs, the exercises and alternatives considered, and what took one.

    explain(facts, library) -> WeekExplanation

I8  The same facts give the same decision, so they also give the same explanation: it is worked out when somebody asks,
    from the stored facts, and is never stored or needed to plan. The week is resolved once more while every question
    that its slots ask is heard; what each answer was chosen from is then asked of the same functions (`alternatives`,
    `prices`). What a session's minutes or a sore site changed afterwards stands in the reasons of the item.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from athletes.concerns import Gate
from athletes.values import value_class
from athletes.vocabulary import Reason
from programs.engine.alternatives import Alternative, considered
from programs.engine.context import Heard, WeekContext
from programs.engine.facts import (
    Criterion,
    Exercise,
    Exposure,
    Item,
    LeftOut,
    Library,
    Load,
    Phase,
    SessionDecision,
    Target,
    WeekDecision,
    WeekFacts,
)
from programs.engine.families import (
    all_easier,
    bottom,
    criterion_for,
    exercise_of,
    harder,
    has_exercise,
    loads_more,
    siblings,
)
from programs.engine.history import History, Result, history_of, result_of
from programs.engine.kit import holdings_for, next_load, previous_load, step_percent
from programs.engine.prices import ConstraintPrice, constraint_prices
from programs.engine.progression import careful
from programs.engine.resolve import body_state, place_facts, resolve_week
from programs.engine.season import phase_of
from programs.engine.strength import age_limits, age_reasons
from programs.engine.target_facts import TargetFacts, ceiling_of, figure, floor_of, top_of

#: How many of the latest exposures are shown.
SHOWN_EXPOSURES = 6

REASONS: dict[str, str] = {
    "clinician-caps-load": "At most {most} kg: a clinician's limit.",
    "clinician-caps-reps": "At most {most} reps: a clinician's limit.",
}


@value_class
class Choice:
    """An exercise that a slot could have become, in the order in which they are tried; `reasons` say why it was not."""

    exercise: str
    is_taken: bool
    reasons: tuple[Reason, ...] = ()


@value_class
class Next:
    """A harder level and what earns it."""

    exercise: str
    criterion: Criterion


@value_class
class Inputs:
    """What bore on one target.

    `exposures` are the latest of the exercise with this implement, newest first, `results` what each says. `taught`
    counts the known ones with any implement. `previous_load` and `next_load` are the neighbours at the venue,
    `step_percent` how much more the next one is, to one place. `floor`, `ceiling` and `top` are reps or seconds: where
    they start, where ordinary climbing ends, and the most ever asked. `limits` are those of age and of a clinician.
    """

    exercise: str
    exposures: tuple[Exposure, ...]
    results: tuple[Result, ...]
    taught: int
    phase: Phase
    light: bool
    cut_percent: int
    gate: Gate
    gate_reasons: tuple[Reason, ...]
    away_days: int | None
    return_week: int | None
    load: Load | None
    previous_load: Load | None
    next_load: Load | None
    step_percent: Decimal | None
    floor: int
    ceiling: int
    top: int
    limits: tuple[Reason, ...]
    harder: tuple[Next, ...]


@value_class
class ItemExplanation:
    """Why one slot of one session is what it is. Either `item` or `left_out` is there.

    `asked` is the target before the session's minutes or a sore site made it smaller, None where they did not.
    """

    ordinal: int
    slot: str
    item: Item | None
    left_out: LeftOut | None
    choices: tuple[Choice, ...] = ()
    inputs: Inputs | None = None
    alternatives: tuple[Alternative, ...] = ()
    asked: Target | None = None

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """The reasons of the decision."""
        given = self.item or self.left_out
        return given.reasons if given is not None else ()


@value_class
class WeekExplanation:
    """A week's decision, why each of its slots is what it is, and what each constraint on its days costs."""

    decision: WeekDecision
    items: tuple[ItemExplanation, ...]
    constraints: tuple[ConstraintPrice, ...]

    def item(self, ordinal: int, slot: str) -> ItemExplanation | None:
        """The explanation of one slot of one session."""
        return next((one for one in self.items if (one.ordinal, one.slot) == (ordinal, slot)), None)


def explain(facts: WeekFacts, library: Library) -> WeekExplanation:
    """The decision that the facts give, with why. Raises `ValueError` for facts that contradict themselves."""
    heard: list[Heard] = []
    decision = resolve_week(facts, library, heard=heard)
    if not decision.sessions:
        return WeekExplanation(decision, (), _constraints(facts, decision))
    state = body_state(facts, facts.today)
    limits = age_limits(facts.rider)
    context = WeekContext(facts, library, phase_of(facts, max_days=limits.max_days), limits, state)
    items = tuple(one for session in decision.sessions for one in _session(context, session, heard))
    return WeekExplanation(decision, items, _constraints(facts, decision))


def _constraints(facts: WeekFacts, decision: WeekDecision) -> tuple[ConstraintPrice, ...]:
    """What each constraint costs; nothing where nothing was placed."""
    if decision.placement is None:
        return ()
    limits = age_limits(facts.rider)
    phase = phase_of(facts, max_days=limits.max_days)
    templates = phase.block.templates if phase.block else ()
    return constraint_prices(place_facts(facts, phase, limits, templates))


# --- one slot ---------------------------------------------------------------------------------------------------------


def _session(
    context: WeekContext, session: SessionDecision, heard: Sequence[Heard]
) -> Iterator[ItemExplanation]:
    for item in session.items:
        question = _question(heard, session, item.slot, item.exercise)
        yield _explain(context, session.ordinal, item, question)
    for gone in session.left_out:
        yield _explain(context, session.ordinal, gone, _question(heard, session, gone.slot, None))


def _question(
    heard: Sequence[Heard], session: SessionDecision, slot: str, exercise: str | None
) -> Heard | None:
    """The last question of the slot on that day, one that was answered with the exercise before any other."""
    mine = [one for one in heard if one.slot.id == slot and one.session_on == session.on]
    same = [one for one in mine if not isinstance(one.answer, LeftOut) and one.answer.exercise == exercise]
    found = same or mine
    return found[-1] if found else None


def _explain(
    context: WeekContext, ordinal: int, given: Item | LeftOut, question: Heard | None
) -> ItemExplanation:
    item = given if isinstance(given, Item) else None
    left_out = given if isinstance(given, LeftOut) else None
    plain = ItemExplanation(ordinal, given.slot, item, left_out)
    if question is None:
        return plain
    choices = tuple(_choices(context, question))
    if question.facts is None:
        return ItemExplanation(ordinal, given.slot, item, left_out, choices)
    rows = _alternatives(context, question, question.facts, item)
    target = question.answer.target if not isinstance(question.answer, LeftOut) else None
    changed = item is not None and target is not None and target != item.target
    return ItemExplanation(
        ordinal,
        given.slot,
        item,
        left_out,
        choices,
        _inputs(question.facts, target),
        rows,
        target if changed else None,
    )


def _alternatives(
    context: WeekContext, question: Heard, facts: TargetFacts, item: Item | None
) -> tuple[Alternative, ...]:
    """The alternatives, the one taken as it stands in the week. Nothing is taken where the slot was left out after."""
    rows = considered(facts, question.answer, barred=question.barred, sore_why=_Sore(context, facts).why)
    return tuple(_as_it_stands(row, item) for row in rows)


def _as_it_stands(row: Alternative, item: Item | None) -> Alternative:
    if not row.is_taken:
        return row
    if item is None:
        return Alternative(row.change, row.exercise, row.target, reasons=row.reasons)
    return Alternative(item.change, item.exercise, item.target, is_taken=True, reasons=item.reasons)


@value_class
class _Sore:
    """Why a harder exercise would load a sore site more than the one that stands (T5)."""

    context: WeekContext
    facts: TargetFacts

    def why(self, other: Exercise) -> Reason | None:
        return _loads_more(other, self.facts.exercise, self.context)


def _loads_more(other: Exercise, than: Exercise, context: WeekContext) -> Reason | None:
    region = loads_more(other, than, context.sore)
    if region is None:
        return None
    return Reason("T5", "loads-more", {"exercise": other.slug, "region": region.value})


# --- the exercise -----------------------------------------------------------------------------------------------------


def _choices(context: WeekContext, question: Heard) -> Iterator[Choice]:
    """The exercises in the order in which the slot tries them, up to the one that was taken (L2)."""
    wanted = _wanted(context, question)
    if wanted is None:
        return
    library = context.library
    for one in (wanted, *all_easier(library, wanted.slug), *siblings(library, wanted.slug)):
        why = _why_not(context, question, one, wanted)
        taken = question.facts is not None and one.slug == question.facts.exercise.slug
        yield Choice(one.slug, taken, () if taken else why)
        if taken:
            return
    if question.facts is not None:  # what a stand-in has opened is harder than it
        yield Choice(question.facts.exercise.slug, True, ())


def _wanted(context: WeekContext, question: Heard) -> Exercise | None:
    slot, library = question.slot, context.library
    for slug in (slot.exercise, context.standings.get(slot.pattern)):
        if slug is not None and has_exercise(library, slug):
            return exercise_of(library, slug)
    return bottom(library, slot.pattern)


def _why_not(context: WeekContext, question: Heard, one: Exercise, wanted: Exercise) -> tuple[Reason, ...]:
    """Why the exercise was not taken: barred, no kit, not for beginners, or harder on a sore site (L2, T5)."""
    if one.slug in question.barred:
        return question.barred[one.slug] or (Reason("L2", "not-allowed", {"exercise": one.slug}),)
    if not holdings_for(one, question.kit, alone=context.facts.rider.trains_alone):
        return (Reason("L2", "kit-missing", {"exercise": one.slug}),)
    if context.is_first_week and question.slot.exercise is None and not one.for_beginners:
        return (Reason("L2", "not-for-beginners", {"exercise": one.slug}),)
    sore = _loads_more(one, wanted, context)
    return (sore,) if sore is not None else ()


# --- what bore on it --------------------------------------------------------------------------------------------------


def _inputs(facts: TargetFacts, target: Target | None) -> Inputs:
    facts = careful(facts)
    history = history_of(facts)
    load = _load(history, target)
    after = next_load(facts.kit, facts.holding, load) if facts.holding else None
    before = previous_load(facts.kit, load.holding, load) if load is not None else None
    latest = tuple(reversed(history.run[-SHOWN_EXPOSURES:]))
    return Inputs(
        exercise=facts.exercise.slug,
        exposures=latest,
        results=tuple(result_of(one) for one in latest),
        taught=history.taught,
        phase=facts.phase,
        light=facts.light,
        cut_percent=facts.cut_percent,
        gate=facts.gate,
        gate_reasons=facts.gate_reasons,
        away_days=facts.away_days,
        return_week=facts.return_week,
        load=load,
        previous_load=before,
        next_load=after,
        step_percent=_percent(load, after),
        floor=floor_of(facts),
        ceiling=ceiling_of(facts),
        top=top_of(facts),
        limits=(*age_reasons(facts.rider), *_clinician(facts)),
        harder=tuple(_harder(facts)),
    )


def _percent(before: Load | None, after: Load | None) -> Decimal | None:
    """How much heavier the next load is, to one place."""
    percent = step_percent(before, after) if after is not None else None
    return None if percent is None else Decimal(figure(percent))


def _load(history: History, target: Target | None) -> Load | None:
    """The load that stood, or that the exercise begins with."""
    if history.run:
        return history.run[-1].target.load
    return target.load if target is not None else None


def _clinician(facts: TargetFacts) -> Iterator[Reason]:
    limits = facts.rider.limits
    kgs = [limit.max_kg for limit in limits if limit.max_kg is not None]
    if kgs:
        yield Reason("S1", "clinician-caps-load", {"most": str(min(kgs))})
    if facts.max_reps is not None:
        yield Reason("S1", "clinician-caps-reps", {"most": facts.max_reps})


def _harder(facts: TargetFacts) -> Iterator[Next]:
    for other in harder(facts.library, facts.exercise.slug):
        criterion = criterion_for(facts.library, facts.exercise.slug, other.slug)
        if criterion is not None:
            yield Next(other.slug, criterion)
