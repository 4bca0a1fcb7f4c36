"""What is left of a week that has gone out, worked out again after a report: downwards only (rules T0, H3, I9, I15).

    ease(previous, facts, library)

T0  A report of 3 or more, an illness or a crash works the remaining sessions out again at once. What is done stays as
    it was. Nothing rises: sets, reps, seconds and load stay at or below what was sent, minutes freed are not refilled,
    and an exercise is only replaced by an easier one that loads no sore region more.
H3  A session done on another day moves what is left by the spacing rules, or drops it.

>>> ease(previous, facts, library).sessions == previous.sessions     # nothing to ease   # doctest: +SKIP
True
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from athletes.concerns import Gate
from athletes.vocabulary import Pattern, Reason
from programs.engine.facts import (
    Change,
    Exercise,
    Item,
    Kit,
    LeftOut,
    Library,
    Opening,
    SessionDecision,
    SessionState,
    Slot,
    Target,
    WeekDecision,
    WeekFacts,
)
from programs.engine.families import exercise_of, has_exercise
from programs.engine.kit import total_kg
from programs.engine.resolve import body_state, place_facts
from programs.engine.season import phase_of
from programs.engine.session import cool_down_for, session_minutes, warm_up_for
from programs.engine.slots import SlotContext, is_limited, resolve_item
from programs.engine.strength import age_limits
from programs.engine.week import shift

REASONS: dict[str, str] = {
    "rest-of-week-stops": "Nothing more this week after what was reported.",
    "session-emptied": "Session {ordinal} is left out: nothing in it is free of what was reported.",
    "kept-at-sent": "Not above what was sent.",
    "not-easier": "Nothing easier than {exercise} spares it, so it is left out.",
}


def ease(previous: WeekDecision, facts: WeekFacts, library: Library) -> WeekDecision:
    """The rest of the week: equal to `previous` where nothing bears on it, lower where something does."""
    state = body_state(facts, facts.today)
    finished = {
        record.ordinal
        for record in facts.sessions
        if record.week == facts.week
        and record.state in (SessionState.DONE, SessionState.PART, SessionState.NOT_DONE)
    }
    behind = tuple(
        session for session in previous.sessions if session.ordinal in finished or session.on < facts.today
    )
    ahead = tuple(session for session in previous.sessions if session not in behind)
    if not ahead:
        return previous
    if state.stops_everything or facts.rider.paused or not facts.rider.may_train:
        why = (*state.reasons, *([facts.rider.why_not] if facts.rider.why_not else []))
        reasons = (*previous.reasons, *why, Reason("T0", "rest-of-week-stops"))
        return replace(previous, sessions=behind, reasons=tuple(dict.fromkeys(reasons)), placement=None)
    context = SlotContext(
        facts,
        library,
        phase_of(facts, max_days=age_limits(facts.rider).max_days),
        age_limits(facts.rider),
        state,
    )
    moved, why_moved = _shifted(context, previous, ahead, behind)
    shared = Counter(
        pattern for session in previous.sessions for pattern in {item.pattern for item in session.items}
    )
    eased, dropped = [], []
    for session in moved:
        lower = _ease_session(context, session, shared)
        if lower is None:
            dropped.append(Reason("T0", "session-emptied", {"ordinal": session.ordinal}))
        else:
            eased.append(lower)
    return replace(
        previous,
        sessions=tuple(sorted([*behind, *eased], key=lambda one: (one.on, one.ordinal))),
        reasons=tuple(dict.fromkeys([*previous.reasons, *why_moved, *dropped])),
    )


# --- days -------------------------------------------------------------------------------------------------------------


def _shifted(
    context: SlotContext,
    previous: WeekDecision,
    ahead: tuple[SessionDecision, ...],
    behind: tuple[SessionDecision, ...],
) -> tuple[tuple[SessionDecision, ...], tuple[Reason, ...]]:
    """The sessions to come on days that the spacing rules still allow, by the actual dates of those done (H3)."""
    facts = context.facts
    done = tuple(
        (record.ordinal, record.done_on or record.planned_on)
        for record in facts.sessions
        if record.week == facts.week and record.state in (SessionState.DONE, SessionState.PART)
    )
    if not any(abs((session.on - on).days) < 2 for session in ahead for _ordinal, on in done):
        return ahead, ()
    block = context.phase.block
    if block is None or not block.templates:
        return ahead, ()
    place = place_facts(facts, context.phase, context.limits, block.templates)
    ordinals = tuple(session.ordinal for session in (*behind, *ahead))
    place = replace(
        place,
        count=len(ordinals),
        ordinals=ordinals,
        legs=tuple(_works_legs(context.library, session) for session in (*behind, *ahead)),
    )
    planned = tuple((session.ordinal, session.on) for session in ahead)
    answer = shift(place, planned, done, facts.today)
    where = dict(answer.chosen)
    kept = tuple(_on_day(session, where[session.ordinal]) for session in ahead if session.ordinal in where)
    return kept, answer.reasons


def _works_legs(library: Library, session: SessionDecision) -> bool:
    return any(
        has_exercise(library, item.exercise) and exercise_of(library, item.exercise).lower_body
        for item in session.items
    )


def _on_day(session: SessionDecision, opening: Opening) -> SessionDecision:
    if session.on == opening.on:
        return session
    return replace(session, on=opening.on, start=opening.start)


# --- targets ----------------------------------------------------------------------------------------------------------


def _ease_session(
    context: SlotContext, session: SessionDecision, shared: Mapping[Pattern, int]
) -> SessionDecision | None:
    """The session with each target at or below what was sent; None when nothing of it is left."""
    kit = dict(context.facts.venues).get(session.venue, Kit())
    items: list[Item] = []
    left_out: list[LeftOut] = []
    for item in session.items:
        lower = _ease_item(context, item, session.on, kit, shared.get(item.pattern, 1))
        if isinstance(lower, LeftOut):
            left_out.append(lower)
        elif not any(lower.exercise == other.exercise for other in items):
            items.append(lower)
    if not items:
        return None
    if tuple(items) == session.items:
        return session
    return _retimed(context, session, tuple(items), tuple(left_out), kit)


def _ease_item(context: SlotContext, item: Item, on: date, kit: Kit, sessions: int) -> Item | LeftOut:
    exercise = exercise_of(context.library, item.exercise)
    if is_limited(exercise, context.facts.rider):
        return _easier_instead(context, item, exercise, on, kit, sessions, context.limited[exercise.slug])
    gate, reasons = context.gate_of(exercise)
    if gate is Gate.FREE:
        return item
    if gate is Gate.STOP:
        return _easier_instead(context, item, exercise, on, kit, sessions, reasons)
    answer, _moved, _decisions = resolve_item(
        context, _slot_of(context, item, exercise.slug), session_on=on, kit=kit, sessions=sessions
    )
    if isinstance(answer, LeftOut):
        return LeftOut(item.slot, item.pattern, answer.reasons)
    if answer.exercise == item.exercise:
        return _at_most(item, answer)
    if exercise_of(context.library, answer.exercise).level > exercise.level:
        return LeftOut(item.slot, item.pattern, (*reasons, _nothing_easier(exercise)))
    return _beside(item, answer)


def _easier_instead(
    context: SlotContext,
    item: Item,
    exercise: Exercise,
    on: date,
    kit: Kit,
    sessions: int,
    why: tuple[Reason, ...],
) -> Item | LeftOut:
    """An easier exercise of the family that is free, or nothing: never one as hard or harder."""
    answer, _moved, _decisions = resolve_item(
        context, _slot_of(context, item, exercise.slug), session_on=on, kit=kit, sessions=sessions
    )
    if isinstance(answer, LeftOut) or exercise_of(context.library, answer.exercise).level >= exercise.level:
        return LeftOut(item.slot, item.pattern, (*why, _nothing_easier(exercise)))
    return _beside(item, answer)


def _nothing_easier(exercise: Exercise) -> Reason:
    return Reason("T0", "not-easier", {"exercise": exercise.slug})


def _slot_of(context: SlotContext, item: Item, exercise: str) -> Slot:
    """The slot as the program wrote it, fixed on the exercise that was sent, and with no more sets than were sent."""
    block = context.phase.block
    for template in block.templates if block else ():
        for slot in template.slots:
            if slot.id == item.slot:
                return replace(slot, exercise=exercise, sets=min(slot.sets, item.target.sets))
    return Slot(
        id=item.slot,
        part=item.part,
        pattern=item.pattern,
        exercise=exercise,
        sets=item.target.sets,
        rest_s=item.target.rest_s,
    )


def _at_most(sent: Item, answer: Item) -> Item:
    """The same exercise, in no respect above what was sent. What was sent stands where nothing is lower."""
    target = lower_of(sent.target, answer.target)
    if target == sent.target:
        return sent
    return replace(
        sent,
        target=target,
        change=_change(sent.target, target),
        reasons=tuple(dict.fromkeys([*answer.reasons, Reason("T0", "kept-at-sent")])),
    )


def lower_of(sent: Target, answer: Target) -> Target:
    """The answer cut down to what was sent, part by part: sets, amount, load, tempo as sent."""
    heavier = total_kg(answer.load) > total_kg(sent.load) or (answer.load is not None and sent.load is None)
    other_band = (
        answer.load is not None and sent.load is not None and (answer.load.band or 0) > (sent.load.band or 0)
    )
    return replace(
        sent,
        sets=min(sent.sets, answer.sets),
        amount=min(sent.amount, answer.amount),
        load=sent.load if heavier or other_band else answer.load,
        reps_left=max(sent.reps_left, answer.reps_left),
        bridge_load=None,
        bridge_sets=0,
        bridge_amount=0,
    )


def _change(before: Target, after: Target) -> Change:
    if total_kg(after.load) < total_kg(before.load):
        return Change.LESS_LOAD
    if after.sets < before.sets:
        return Change.FEWER_SETS
    if after.amount < before.amount:
        return Change.FEWER_REPS
    return Change.SAME


def _beside(sent: Item, answer: Item) -> Item:
    """An easier exercise in the place of what was sent, with no more sets than were sent."""
    target = replace(
        answer.target,
        sets=min(sent.target.sets, answer.target.sets),
        bridge_load=None,
        bridge_sets=0,
        bridge_amount=0,
    )
    return replace(answer, target=target, change=Change.EASIER)


def _retimed(
    context: SlotContext,
    session: SessionDecision,
    items: tuple[Item, ...],
    left_out: tuple[LeftOut, ...],
    kit: Kit,
) -> SessionDecision:
    work = [(exercise_of(context.library, item.exercise), item.target) for item in items]
    barred = frozenset({**context.limited, **context.stopped})
    patterns: list[Pattern] = [item.pattern for item in items]
    regions = frozenset(region for exercise, _target in work for region in exercise.primary)
    minutes = session_minutes(
        work, session.format, warm_up=session.warm_up_minutes, cool_down=session.cool_down_minutes
    )
    return replace(
        session,
        items=items,
        left_out=(*session.left_out, *left_out),
        minutes=min(session.minutes, minutes),
        warm_up=warm_up_for(patterns, context.library, kit=kit, barred=barred, sore=context.sore),
        cool_down=cool_down_for(regions, context.library, kit=kit, barred=barred, sore=context.sore),
    )
