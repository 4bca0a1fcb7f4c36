"""What is left of a week that has gone out, worked out again after a report: downwards only (rules T0, H3, I9, I15).

    ease(previous, facts, library)

T0  A report of 3 or more, an illness or a crash works the remaining sessions out again at once. What is done stays as
    it was. Nothing rises: sets, reps, seconds, load and tempo stay at or below what was sent, minutes freed are not
    refilled, and an exercise is only replaced by an easier one that loads no sore region more, with no more load in
    all, no more sets and no more time. What was sent is never one new exercise too many.
P12 What stands in may train other muscles than what was sent: it gives way where that brings a muscle above its cap.
H3  A session done on another day moves what is left by the spacing rules, or drops it. One that moves to another venue
    is worked out for the kit there, also downwards.
I15 Nothing brings back what was asked before a report: what is worked out after it stays at or below what was sent.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from athletes.concerns import Gate
from athletes.vocabulary import Reason
from programs.engine.composition import no_longer_than, with_sets, within_allowed, works_legs
from programs.engine.context import NO_KIT, WeekContext
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
from programs.engine.gates import keep_within_past
from programs.engine.kit import holdings_for, is_reachable, total_kg
from programs.engine.layoff import SHORT_DAYS
from programs.engine.resolve import DONE, body_state, place_facts
from programs.engine.season import phase_of
from programs.engine.session import cool_down_for, fit, session_minutes, warm_up_for
from programs.engine.slots import resolve_item
from programs.engine.spots import APART
from programs.engine.strength import age_limits
from programs.engine.target_facts import rank_of
from programs.engine.trimming import Allowed, Place, exceeding
from programs.engine.volume import in_order, week_sets
from programs.engine.week import shift

OVER = (*DONE, SessionState.NOT_DONE)

#: Reasons of a target that has been eased or halved already, and those for easing one.
EASED_BY = frozenset({"eased-load", "eased-level", "eased-reps", "eased-already"})
EASING = frozenset({"pain-ease", "pain-morning-rise", "pain-eased"})
HALVED_BY = frozenset({"half-sets", "halved-already"})

REASONS: dict[str, str] = {
    "rest-of-week-stops": "Nothing more this week after what was reported.",
    "session-emptied": "Session {ordinal} is left out: nothing in it is free of what was reported.",
    "kept-at-sent": "Not above what was sent.",
    "not-easier": "Nothing easier than {exercise} spares it, so it is left out.",
    "no-longer-known": "{exercise} is no longer in the library, so it is left out.",
    "stands-there-already": "{exercise} would stand in, and is in this session already.",
}


def ease(previous: WeekDecision, facts: WeekFacts, library: Library) -> WeekDecision:
    """The rest of the week: equal to `previous` where nothing bears on it, lower where something does.

    `previous` is the week as it went out, or as it was eased before.
    """
    over = {record.ordinal for record in facts.sessions if record.week == facts.week and record.state in OVER}
    behind = tuple(one for one in previous.sessions if one.ordinal in over or one.on < facts.today)
    ahead = tuple(one for one in previous.sessions if one not in behind)
    if not ahead:
        return previous
    state = body_state(facts, facts.today)
    if state.stops_everything or facts.rider.paused or not facts.rider.may_train:
        why = (*state.reasons, *([facts.rider.why_not] if facts.rider.why_not else []))
        reasons = (*previous.reasons, *why, Reason("T0", "rest-of-week-stops"))
        return replace(previous, sessions=behind, reasons=tuple(dict.fromkeys(reasons)), placement=None)
    limits = age_limits(facts.rider)
    context = WeekContext(
        facts=facts,
        library=library,
        phase=phase_of(facts, max_days=limits.max_days),
        limits=limits,
        state=state,
        shared=Counter(item.pattern for session in previous.sessions for item in session.items),
        sent=frozenset(item.exercise for session in previous.sessions for item in session.items),
    )
    moved, why_moved = _shifted(context, ahead)
    eased, dropped = list(behind), []
    for session, opening in moved:
        lower = _Easing(context, session, opening).session()
        if lower is None:
            dropped.append(Reason("T0", "session-emptied", {"ordinal": session.ordinal}))
        else:
            eased.append(lower)
            context.plan(lower.items, lower.on)
    eased, emptied = _within_caps(context, previous, behind, eased)
    return replace(
        previous,
        sessions=tuple(sorted(eased, key=lambda one: (one.on, one.ordinal))),
        reasons=tuple(dict.fromkeys([*previous.reasons, *why_moved, *dropped, *emptied])),
        sets_by_muscle=in_order(week_sets(eased, facts, library)),
    )


def _within_caps(
    context: WeekContext,
    previous: WeekDecision,
    behind: tuple[SessionDecision, ...],
    eased: list[SessionDecision],
) -> tuple[list[SessionDecision], list[Reason]]:
    """The sessions with no more hard sets of a muscle than its cap, or than were sent: what stands in for something may
    train others than that did, and gives way (P12, I6). Also why a session is left out, where nothing of it is left."""
    sent = {(one.ordinal, item.slot): item.exercise for one in previous.sessions for item in one.items}
    ahead = {one.ordinal: one.items for one in eased if one not in behind}
    stand_ins = frozenset(
        (ordinal, item.slot)
        for ordinal, items in ahead.items()
        for item in items
        if sent[ordinal, item.slot] != item.exercise
    )
    if not stand_ins:
        return eased, []
    lower = exceeding(
        {one.ordinal: one.items for one in eased},
        context.facts,
        context.library,
        context.limits,
        context.caps,
        only=stand_ins,
        least=week_sets(previous.sessions, context.facts, context.library),
    )
    kept = [_held_down(context, one, lower) for one in eased]
    why = [
        Reason("T0", "session-emptied", {"ordinal": one.ordinal})
        for one, now in zip(eased, kept, strict=True)
        if now is None
    ]
    return [one for one in kept if one is not None], why


def _held_down(
    context: WeekContext, session: SessionDecision, lower: Mapping[Place, Allowed]
) -> SessionDecision | None:
    """The session with the sets that are left to each slot, and its minutes told anew; None when nothing is left."""
    if not any(ordinal == session.ordinal for ordinal, _slot in lower):
        return session
    items: list[Item] = []
    left_out: list[LeftOut] = []
    for item in session.items:
        allowed = lower.get((session.ordinal, item.slot))
        if allowed is not None and not allowed.sets:
            left_out.append(LeftOut(item.slot, item.pattern, (*item.reasons, allowed.reason)))
        else:
            items.append(within_allowed(item, allowed))
    if not items:
        return None
    minutes = session_minutes(
        [(exercise_of(context.library, item.exercise), item.target) for item in items],
        session.format,
        warm_up=session.warm_up_minutes,
        cool_down=session.cool_down_minutes,
    )
    return replace(
        session,
        items=tuple(items),
        left_out=(*session.left_out, *left_out),
        minutes=min(session.minutes, minutes),
    )


# --- days -------------------------------------------------------------------------------------------------------------

type Moved = tuple[SessionDecision, Opening | None]


def _shifted(
    context: WeekContext, ahead: tuple[SessionDecision, ...]
) -> tuple[tuple[Moved, ...], tuple[Reason, ...]]:
    """The sessions to come, each with the opening that it moves to, if it moves: by the spacing rules and the actual
    dates of what was done, in this week or before it (H3)."""
    facts = context.facts
    done = tuple(
        (record.ordinal if record.week == facts.week else 0, record.done_on or record.planned_on)
        for record in facts.sessions
        if record.state in DONE
    )
    if not any(abs((session.on - on).days) < APART for session in ahead for _ordinal, on in done):
        return tuple((session, None) for session in ahead), ()
    place = replace(
        place_facts(facts, replace(context.phase, sessions=0), context.limits, ()),
        count=len(ahead),
        ordinals=tuple(session.ordinal for session in ahead),
        legs=tuple(works_legs(session.items) for session in ahead),
    )
    planned = tuple((session.ordinal, session.on) for session in ahead)
    answer = shift(place, planned, done, facts.today)
    where = dict(answer.chosen)
    kept = tuple(
        (session, None if where[session.ordinal].on == session.on else where[session.ordinal])
        for session in ahead
        if session.ordinal in where
    )
    return kept, answer.reasons


# --- targets ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Easing:
    """One session to come, at or below what was sent; on another day and at another venue where it has moved."""

    context: WeekContext
    sent: SessionDecision
    opening: Opening | None

    @property
    def on(self) -> date:
        return self.opening.on if self.opening else self.sent.on

    @property
    def venue(self) -> str:
        return self.opening.venue if self.opening else self.sent.venue

    @property
    def kit(self) -> Kit:
        return dict(self.context.facts.venues).get(self.venue, NO_KIT)

    def session(self) -> SessionDecision | None:
        """The session with each target at or below what was sent; None when nothing of it is left."""
        items: list[Item] = []
        left_out: list[LeftOut] = []
        for item in self.sent.items:
            lower = self._item(item)
            if isinstance(lower, LeftOut):
                left_out.append(lower)
            elif self._stands_twice(lower, item, items):
                why = Reason("L2", "stands-there-already", {"exercise": lower.exercise})
                left_out.append(LeftOut(item.slot, item.pattern, (*lower.reasons, why)))
            else:
                items.append(lower)
        if not items:
            return None
        if tuple(items) == self.sent.items and self.opening is None:
            return self.sent
        return self._timed(items, left_out)

    def _stands_twice(self, lower: Item, sent: Item, items: list[Item]) -> bool:
        """Whether a stand-in is in the session already, or was sent for another slot of it."""
        others = {item.exercise for item in self.sent.items if item.slot != sent.slot}
        taken = {item.exercise for item in items}
        return lower.exercise in taken or (lower.exercise != sent.exercise and lower.exercise in others)

    def _item(self, item: Item) -> Item | LeftOut:
        context = self.context
        if not has_exercise(context.library, item.exercise):
            why = Reason("T0", "no-longer-known", {"exercise": item.exercise})
            return LeftOut(item.slot, item.pattern, (why,))
        exercise = exercise_of(context.library, item.exercise)
        gate, reasons = context.gate_of(exercise)
        # A gate bears on it unless its reasons were known when the target was worked out, or it is eased already.
        bears = gate is not Gate.FREE and not set(reasons) <= set(item.reasons)
        barred = (
            exercise.slug in context.never or self._comes_back(item) or not self._fits(exercise, item.target)
        )
        if not barred and (not bears or self._is_eased(exercise, item, gate)):
            return item if gate is Gate.FREE else self._within_achieved(item)
        resolved = resolve_item(
            context,
            self._slot(item),
            session_on=self.on,
            kit=self.kit,
            most_kg=total_kg(item.target.load),
        )
        answer = resolved.given
        if isinstance(answer, LeftOut):
            return LeftOut(item.slot, item.pattern, answer.reasons)
        if answer.exercise == item.exercise:
            return _at_most(item, answer)
        if exercise_of(context.library, answer.exercise).level >= exercise.level:
            why = Reason("T0", "not-easier", {"exercise": exercise.slug})
            return LeftOut(item.slot, item.pattern, (*reasons, why))
        return self._beside(exercise, item, answer)

    def _within_achieved(self, item: Item) -> Item | LeftOut:
        """The item as it was sent, but not above what has been done of it meanwhile: a site hurts (I1)."""
        past = self.context.past.by_exercise.get(item.exercise, ())
        kept = keep_within_past(item.target, past, self.context.limits, is_sore=True)
        if isinstance(kept, Reason):
            return LeftOut(item.slot, item.pattern, (*item.reasons, kept))
        target, why = kept
        change = _change(item.target, target) if item.change is Change.SAME else item.change
        return replace(item, target=target, change=change, reasons=(*item.reasons, *why)) if why else item

    def _comes_back(self, item: Item) -> bool:
        """Whether the session has become the first after a break, because one before it was missed (P10, I10)."""
        gap = self.context.gap_of(item.pattern, self.on)
        cut = any(reason.rule == "P10" or reason.key == "kept-at-sent" for reason in item.reasons)
        return gap is not None and gap.days >= SHORT_DAYS and gap.week == 1 and not cut

    def _is_eased(self, exercise: Exercise, item: Item, gate: Gate) -> bool:
        """Whether it was eased and not done since: one report more about the same does not ease it again. What has been
        done since is worked out from that, which comes to the same each time."""
        past = self.context.past.by_exercise.get(exercise.slug)
        since = self.context.troubled_since(exercise)
        if past and since and past[-1].on > since:
            return False
        keys = {reason.key for reason in item.reasons}
        stands_in = item.change is Change.EASIER and bool(keys & EASING)
        eased = gate is not Gate.EASE or stands_in or bool(keys & EASED_BY)
        return eased and (self.context.halved_by(exercise) is None or bool(keys & HALVED_BY))

    def _fits(self, exercise: Exercise, target: Target) -> bool:
        """Whether the target can be done where the session is now; where it was sent for it can."""
        if self.venue == self.sent.venue:
            return True
        usable = holdings_for(exercise, self.kit, alone=self.context.facts.rider.trains_alone)
        loads = (target.load, target.bridge_load)
        return all(
            (load.holding if load else None) in usable and is_reachable(self.kit, load)
            for load in loads[: 2 if target.bridge_sets else 1]
        )

    def _slot(self, item: Item) -> Slot:
        """The slot as the program wrote it, fixed on the exercise that was sent, with no more sets than were sent."""
        block = self.context.phase.block
        for template in block.templates if block else ():
            for slot in template.slots:
                if slot.id == item.slot:
                    return replace(slot, exercise=item.exercise, sets=min(slot.sets, item.target.sets))
        return Slot(
            id=item.slot,
            part=item.part,
            pattern=item.pattern,
            exercise=item.exercise,
            sets=item.target.sets,
            rest_s=item.target.rest_s,
        )

    def _beside(self, exercise: Exercise, sent: Item, answer: Item) -> Item | LeftOut:
        """An easier exercise in the place of what was sent, with no more sets, load and time than that."""
        target = replace(answer.target, bridge_load=None, bridge_sets=0, bridge_amount=0)
        reasons = (*answer.reasons, Reason("T0", "kept-at-sent"))
        lower = replace(answer, target=target, change=Change.EASIER, reasons=reasons)
        fewer = with_sets(lower, sent.target.sets, "T0", "kept-at-sent")
        return no_longer_than(self.context, fewer, exercise, sent.target)

    def _timed(self, items: list[Item], left_out: list[LeftOut]) -> SessionDecision:
        """The session with its minutes told anew, never more than were sent nor than there are."""
        context, sent = self.context, self.sent
        pairs = [(exercise_of(context.library, item.exercise), item) for item in items]
        most = min(sent.minutes, self.opening.minutes) if self.opening else sent.minutes
        fitted = fit(pairs, most, sent.format, warm_up=sent.warm_up_minutes, cool_down=sent.cool_down_minutes)
        barred, kit = frozenset(context.never), self.kit
        regions = frozenset(
            region for item in fitted.items for region in exercise_of(context.library, item.exercise).primary
        )
        patterns = [item.pattern for item in fitted.items]
        return replace(
            sent,
            on=self.on,
            start=self.opening.start if self.opening else sent.start,
            venue=self.venue,
            items=fitted.items,
            left_out=(*sent.left_out, *left_out, *fitted.left_out),
            minutes=min(sent.minutes, fitted.minutes),
            warm_up=warm_up_for(patterns, context.library, kit=kit, barred=barred, sore=context.sore),
            cool_down=cool_down_for(regions, context.library, kit=kit, barred=barred, sore=context.sore),
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
    """The answer cut down to what was sent, part by part; a bridge goes, and rests are as sent."""
    quicker = (answer.lower_s or 0) < (sent.lower_s or 0)
    return replace(
        sent,
        sets=min(sent.sets, answer.sets),
        amount=min(sent.amount, answer.amount),
        load=answer.load if rank_of(answer.load) <= rank_of(sent.load) else sent.load,
        lower_s=answer.lower_s if quicker else sent.lower_s,
        reps_left=max(sent.reps_left, answer.reps_left),
        bridge_load=None,
        bridge_sets=0,
        bridge_amount=0,
    )


def _change(before: Target, after: Target) -> Change:
    if rank_of(after.load) < rank_of(before.load) or after.bridge_sets < before.bridge_sets:
        return Change.LESS_LOAD
    if after.sets < before.sets:
        return Change.FEWER_SETS
    if after.amount < before.amount:
        return Change.FEWER_REPS
    return Change.EASIER if after.lower_s != before.lower_s else Change.SAME
