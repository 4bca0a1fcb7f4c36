"""One rider's week from beginning to end: state, phase, days, exercises, targets, minutes.

    resolve_week(facts, library)

Precedence: T, S, L (exclusions), P10, P9, P7, P8, P12, P5, P1 to P4. Whoever may not train gets nothing (I7), and every
reason for it stands on the decision. The same facts always give the same decision (I8).

Y1  A third session a week adds no sets for the legs: its slots of leg patterns are left out.
H3  A session counts by the day on which it was done. One that passed in silence may have been done on its day, so the
    days next to that stay free and it is not placed again.
S3  In a growth spurt an adult is present. Where none is recorded the week says so, and it goes out only with a coach's
    approval and written reason (ours); under 18 a coach approves every week (W3).
I9  Minutes freed by pain are not refilled (`composition`).
P12 The program's sets are held to the caps of the week before any target is worked out, and the week is put together
    again where what stands in for something brings it above one (`trimming`).
"""

from collections import Counter
from collections.abc import Mapping
from datetime import date

from athletes.concerns import BodyState, Concern, Topic, Urgency
from athletes.triage import assess
from athletes.vocabulary import Day, Pattern, Reason
from programs.engine.composition import Composition, added_slots, slots_of, template_of, works_legs
from programs.engine.context import Heard, WeekContext
from programs.engine.facts import (
    Library,
    Phase,
    Placement,
    SessionDecision,
    SessionState,
    Slot,
    Standing,
    Template,
    WeekDecision,
    WeekFacts,
)
from programs.engine.quantities import shift_week, week_days
from programs.engine.season import USUAL_SESSIONS, PhaseDecision, phase_of
from programs.engine.spots import PlaceFacts
from programs.engine.strength import AgeLimits, age_limits, age_reasons
from programs.engine.trimming import Allowed, Place, allowances, exceeding, level_of
from programs.engine.volume import in_order, week_sets
from programs.engine.week import needs_approval, place

#: Minutes that a session is expected to take where neither the rider nor an opening says.
USUAL_MINUTES = 60
DONE = (SessionState.DONE, SessionState.PART)

REASONS: dict[str, str] = {
    "paused": "This rider is paused, so nothing is planned.",
    "no-templates": "The block has no sessions yet: write one in the program.",
    "nothing-fits-session": "No exercise of this session fits, so it is left out.",
    "adult-not-recorded": "An adult must be present at this rider's sessions, and none is recorded: a coach approves "
    "the week with a written reason.",
}


def resolve_week(facts: WeekFacts, library: Library, *, heard: list[Heard] | None = None) -> WeekDecision:
    """The decision for the week. Raises `ValueError` for facts that contradict themselves.

    `heard` collects what each slot was asked with, for an explanation; it changes nothing in the answer.
    """
    state = body_state(facts, facts.today)
    stopped = _why_nothing(facts, state)
    if stopped is not None:
        return stopped
    limits = age_limits(facts.rider)
    phase = phase_of(facts, max_days=limits.max_days)
    templates = phase.block.templates if phase.block else ()
    approval = approval_reasons(facts, limits, state)
    if not phase.sessions or not templates:
        why = (Reason("Y1", "no-templates"),) if phase.sessions else ()
        return WeekDecision(
            week=facts.week,
            phase=phase.phase,
            sessions=(),
            reasons=(*phase.reasons, *why, *approval),
            may_send_unapproved=not approval,
            light=phase.light,
        )
    placement = place(place_facts(facts, phase, limits, templates))
    shared = _shared(facts, phase, limits, placement, templates)
    context = WeekContext(facts, library, phase, limits, state, shared, heard=heard)
    return _compose(context, placement, templates, approval)


def body_state(facts: WeekFacts, on: date) -> BodyState:
    """What everything reported so far means on a day (T1 to T5)."""
    if not (facts.reports or facts.symptoms or facts.matters or facts.baselines):
        return BodyState()
    return assess(
        facts.reports,
        facts.symptoms,
        facts.matters,
        facts.baselines,
        on=on,
        under_18=facts.rider.youngest_age < 18,
        sessions_done=tuple(
            record.done_on or record.planned_on for record in facts.sessions if record.state in DONE
        ),
    )


def _why_nothing(facts: WeekFacts, state: BodyState) -> WeekDecision | None:
    """The empty decision for whoever may not train now, with every reason in the order T, S, W, or None (I7, T4)."""
    reasons: list[Reason] = []
    concerns: tuple[Concern, ...] = ()
    if state.stops_everything:
        reasons += state.reasons
    if not facts.rider.may_train:
        why = facts.rider.why_not
        reasons += [why] if why else []
        concerns = (Concern(Topic.SCREENING, Urgency.ROUTINE, (why,) if why else ()),)
    if facts.rider.paused:
        reasons.append(Reason("W1", "paused"))
        concerns = ()  # nobody need look for what a paused rider lacks
    elif not state.stops_everything and facts.rider.may_train:
        return None
    return WeekDecision(
        week=facts.week,
        phase=Phase.REST,
        sessions=(),
        reasons=tuple(dict.fromkeys(reasons)),
        concerns=concerns,
        may_send=False,
        may_send_unapproved=False,
    )


def approval_reasons(facts: WeekFacts, limits: AgeLimits, state: BodyState) -> tuple[Reason, ...]:
    """Why the week may not go out without a coach's approval (W3, S3). Empty when it may."""
    reasons = needs_approval(facts.rider, facts.week, facts.matters, facts.today)
    if any(concern.topic is Topic.PAIN for concern in state.concerns):
        reasons = (*reasons, Reason("W3", "open-pain-needs-approval"))
    if lacks_adult(facts, limits):
        reasons = (*reasons, Reason("S3", "adult-not-recorded"))
    return tuple(dict.fromkeys(reasons))


def lacks_adult(facts: WeekFacts, limits: AgeLimits) -> bool:
    """Whether an adult must be present and none is recorded (S3)."""
    return limits.adult_needed and not facts.rider.adult_present


# --- days -------------------------------------------------------------------------------------------------------------


def place_facts(
    facts: WeekFacts, phase: PhaseDecision, limits: AgeLimits, templates: tuple[Template, ...]
) -> PlaceFacts:
    """What decides where this week's sessions stand: those of it that are over are not placed again (H3)."""
    days = week_days(facts.week)
    over = (*DONE, SessionState.SILENT)
    finished = _ordinals(facts, over)
    ordinals = tuple(number for number in range(1, phase.sessions + 1) if number not in finished)
    longest = max((opening.minutes for opening in facts.openings), default=USUAL_MINUTES)
    return PlaceFacts(
        week=facts.week,
        count=len(ordinals),
        ordinals=ordinals,
        legs=tuple(works_legs(_slots(phase, templates, ordinal)) for ordinal in ordinals),
        openings=facts.openings,
        rides=facts.rides,
        races=facts.races,
        absences=facts.absences,
        done_on=tuple(
            record.done_on or record.planned_on for record in facts.sessions if record.state in DONE
        ),
        fixed_on=tuple(
            record.planned_on
            for record in facts.sessions
            if record.state is SessionState.SILENT
            or (record.state is SessionState.PLANNED and record.week != facts.week)
        ),
        usual_days=_usual_days(facts),
        pinned=facts.fixed_days,
        venues=frozenset(name for name, _kit in facts.venues),
        not_before=facts.today if facts.today > days[0] else None,
        # The time that may be filled, so that the hours before a race hold whatever the session turns out to be.
        minutes=facts.rider.minutes_cap or longest,
        max_days=limits.max_days,
        max_gap_days=phase.max_gap_days,
        caps=phase.caps,
    )


def _ordinals(facts: WeekFacts, states: tuple[SessionState, ...]) -> frozenset[int]:
    """The sessions of this week that are in one of the states."""
    here = (record for record in facts.sessions if record.week == facts.week)
    return frozenset(record.ordinal for record in here if record.state in states)


def _slots(phase: PhaseDecision, templates: tuple[Template, ...], ordinal: int) -> tuple[Slot, ...]:
    return slots_of(phase, template_of(templates, ordinal), ordinal)


def _usual_days(facts: WeekFacts) -> frozenset[Day]:
    before = shift_week(facts.week, -1)
    return frozenset(Day(record.planned_on.weekday()) for record in facts.sessions if record.week == before)


def _shared(
    facts: WeekFacts,
    phase: PhaseDecision,
    limits: AgeLimits,
    placement: Placement,
    templates: tuple[Template, ...],
) -> Counter[Pattern]:
    """How many slots of the week have each pattern, those of sessions already done included (P10)."""
    shared: Counter[Pattern] = Counter()
    for ordinal in {ordinal for ordinal, _opening in placement.chosen} | _ordinals(facts, DONE):
        slots = _slots(phase, templates, ordinal)
        shared.update(slot.pattern for slot in (*slots, *added_slots(limits, slots, ordinal)))
    return shared


# --- putting it together ----------------------------------------------------------------------------------------------


def _compose(
    context: WeekContext,
    placement: Placement,
    templates: tuple[Template, ...],
    approval: tuple[Reason, ...],
) -> WeekDecision:
    facts, phase, library = context.facts, context.phase, context.library
    allowed: Mapping[Place, Allowed] = allowances(
        facts, library, phase.phase, context.limits, context.caps, _slots_by_session(context, templates)
    )
    # The same week if nothing bore on the rider's body: nothing in the real one may exceed it (I9).
    untroubled: dict[int, Composition] = {}
    if context.is_troubled:
        untroubled, allowed = _put_together(context, BodyState(), placement, templates, allowed, {})
    made, _allowed = _put_together(context, None, placement, templates, allowed, untroubled)
    sessions: list[SessionDecision] = []
    standings: dict[Pattern, Standing] = {}
    concerns: list[Concern] = []
    reasons = [*phase.reasons, *age_reasons(facts.rider), *placement.reasons]
    for composed in made.values():
        standings.update({standing.pattern: standing for standing in composed.moved})
        concerns += composed.concerns
        session = composed.session()
        if session.items:
            sessions.append(session)
        else:
            reasons += [Reason("L2", "nothing-fits-session"), *session.reasons]
    return WeekDecision(
        week=facts.week,
        phase=phase.phase,
        sessions=tuple(sessions),
        reasons=tuple(dict.fromkeys([*reasons, *approval])),
        placement=placement,
        standings=tuple(standings.values()),
        concerns=tuple(dict.fromkeys(concerns)),
        may_send_unapproved=not approval,
        light=phase.light,
        sets_by_muscle=in_order(week_sets(sessions, facts, library)),
    )


def _slots_by_session(context: WeekContext, templates: tuple[Template, ...]) -> dict[int, tuple[Slot, ...]]:
    """The slots of the week's usual sessions, whether or not there is time for them, by ordinal. A third one takes what
    these leave: it comes and goes with pain and bike hours (Y1), and must not make room by that (I9)."""
    usual = min(context.phase.sessions, USUAL_SESSIONS)
    ordinals = {*range(1, usual + 1), *_ordinals(context.facts, DONE)}
    return {ordinal: _slots(context.phase, templates, ordinal) for ordinal in sorted(ordinals)}


def _put_together(
    context: WeekContext,
    state: BodyState | None,
    placement: Placement,
    templates: tuple[Template, ...],
    allowed: Mapping[Place, Allowed],
    untroubled: Mapping[int, Composition],
) -> tuple[dict[int, Composition], Mapping[Place, Allowed]]:
    """The sessions by ordinal, in order of date, within the caps of the week, and the most sets of the slots that the
    caps hold down (P12). Each turn lowers some, so there is an end."""
    library, standings = context.library, context.standings
    while True:
        fresh = context.afresh(allowed, state)
        made = {
            ordinal: Composition.of(
                fresh, ordinal, template_of(templates, ordinal), opening, untroubled.get(ordinal)
            )
            for ordinal, opening in sorted(placement.chosen, key=lambda pair: pair[1].on)
        }
        items = {ordinal: one.asked for ordinal, one in made.items()}
        if not exceeding(items, context.facts, library, context.limits, context.caps):
            return made, allowed
        programmed = {
            (ordinal, slot.id): (slot.sets, level.slug)
            for ordinal, one in made.items()
            for slot in one.slots
            if (level := level_of(slot, standings, library)) is not None
        }
        lower = exceeding(items, context.facts, library, context.limits, context.caps, programmed=programmed)
        allowed = {**allowed, **lower}
