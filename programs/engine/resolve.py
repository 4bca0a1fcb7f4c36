"""One rider's week from beginning to end: state, phase, days, exercises, targets, minutes.

    resolve_week(facts, library)

Precedence: T, S, L (exclusions), P10, P9, P7, P8, P12, P5, P1 to P4. Whoever may not train gets nothing (I7), and the
reason stands on the decision. The same facts always give the same decision (I8).

S4  From 65: balance work in each session; where the template has none, one slot is added and kept whatever the minutes.
"""

from collections import Counter
from collections.abc import Mapping
from datetime import date

from athletes.concerns import BodyState, Concern, Topic, Urgency
from athletes.triage import assess
from athletes.vocabulary import LOWER_BODY, Day, Pattern, Reason
from programs.engine.facts import (
    Exercise,
    Item,
    Kit,
    LeftOut,
    Library,
    Opening,
    Part,
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
from programs.engine.families import exercise_of
from programs.engine.quantities import shift_week, week_days
from programs.engine.season import PhaseDecision, phase_of
from programs.engine.session import cool_down_for, fit, warm_up_for, warm_up_minutes
from programs.engine.slots import SlotContext, resolve_item
from programs.engine.spots import PlaceFacts
from programs.engine.strength import AgeLimits, age_limits, age_reasons
from programs.engine.week import needs_approval, place

#: A slot added for riders from 65 whose session has no balance work (S4): short, and never dropped for time.
BALANCE_SETS, BALANCE_REST_S = 2, 60

REASONS: dict[str, str] = {
    "paused": "This rider is paused, so nothing is planned.",
    "no-templates": "The block has no sessions yet: write one in the program.",
    "nothing-fits-session": "No exercise of this session fits, so it is left out.",
    "balance-added": "From 65: balance work is part of each session.",
}


def resolve_week(facts: WeekFacts, library: Library) -> WeekDecision:
    """The decision for the week. Raises `ValueError` for facts that contradict themselves."""
    state = body_state(facts, facts.today)
    stopped = _why_nothing(facts, state)
    if stopped is not None:
        return stopped
    limits = age_limits(facts.rider)
    phase = phase_of(facts, max_days=limits.max_days)
    templates = phase.block.templates if phase.block else ()
    if not phase.sessions or not templates:
        why = (Reason("Y1", "no-templates"),) if phase.sessions else ()
        return WeekDecision(facts.week, phase.phase, (), (*phase.reasons, *why), light=phase.light)
    context = SlotContext(facts, library, phase, limits, state)
    placement = place(place_facts(facts, phase, limits, templates))
    return _compose(context, placement, templates)


def body_state(facts: WeekFacts, on: date) -> BodyState:
    """What everything reported so far means on a day (T1 to T5)."""
    done = tuple(
        record.done_on or record.planned_on
        for record in facts.sessions
        if record.state in (SessionState.DONE, SessionState.PART)
    )
    return assess(
        facts.reports,
        facts.symptoms,
        facts.matters,
        facts.baselines,
        on=on,
        under_18=facts.rider.youngest_age < 18,
        sessions_done=done,
    )


def _why_nothing(facts: WeekFacts, state: BodyState) -> WeekDecision | None:
    """The empty decision for whoever may not train now, or None (I7, T4)."""
    concerns: tuple[Concern, ...] = ()
    if facts.rider.paused:
        reasons: tuple[Reason, ...] = (Reason("W1", "paused"),)
    elif not facts.rider.may_train:
        reasons = (facts.rider.why_not,) if facts.rider.why_not else ()
        concerns = (Concern(Topic.SCREENING, Urgency.ROUTINE, reasons),)
    elif state.stops_everything:
        reasons = state.reasons
    else:
        return None
    return WeekDecision(
        facts.week,
        Phase.REST,
        (),
        reasons,
        concerns=concerns,
        may_send=False,
        may_send_unapproved=False,
    )


def place_facts(
    facts: WeekFacts, phase: PhaseDecision, limits: AgeLimits, templates: tuple[Template, ...]
) -> PlaceFacts:
    """What decides where this week's sessions stand: those already done in it are not placed again (H3)."""
    days = week_days(facts.week)
    finished = {
        record.ordinal
        for record in facts.sessions
        if record.week == facts.week and record.state in (SessionState.DONE, SessionState.PART)
    }
    ordinals = tuple(number for number in range(1, phase.sessions + 1) if number not in finished)
    return PlaceFacts(
        week=facts.week,
        count=len(ordinals),
        ordinals=ordinals,
        legs=tuple(_works_legs(template_of(templates, ordinal)) for ordinal in ordinals),
        openings=facts.openings,
        rides=facts.rides,
        races=facts.races,
        absences=facts.absences,
        done_on=tuple(
            record.done_on or record.planned_on
            for record in facts.sessions
            if record.state in (SessionState.DONE, SessionState.PART)
        ),
        fixed_on=tuple(
            record.planned_on
            for record in facts.sessions
            if record.state is SessionState.PLANNED and record.week != facts.week
        ),
        usual_days=_usual_days(facts),
        pinned=facts.fixed_days,
        venues=frozenset(name for name, _kit in facts.venues),
        not_before=facts.today if facts.today > days[0] else None,
        minutes=facts.rider.minutes_cap or 60,
        max_days=limits.max_days,
        max_gap_days=phase.max_gap_days,
        caps=phase.caps,
    )


def template_of(templates: tuple[Template, ...], ordinal: int) -> Template:
    """The session that the ordinal stands for; a third session repeats the first where the block has only two."""
    return templates[(ordinal - 1) % len(templates)]


def _works_legs(template: Template) -> bool:
    return any(slot.pattern in LOWER_BODY for slot in template.slots)


def _usual_days(facts: WeekFacts) -> frozenset[Day]:
    before = shift_week(facts.week, -1)
    return frozenset(Day(record.planned_on.weekday()) for record in facts.sessions if record.week == before)


# --- putting it together ----------------------------------------------------------------------------------------------


def _compose(context: SlotContext, placement: Placement, templates: tuple[Template, ...]) -> WeekDecision:
    facts, phase = context.facts, context.phase
    sessions: list[SessionDecision] = []
    standings: dict[Pattern, Standing] = {}
    concerns: list[Concern] = []
    reasons = [*phase.reasons, *age_reasons(facts.rider), *placement.reasons]
    shared = Counter(
        pattern
        for ordinal, _opening in placement.chosen
        for pattern in {slot.pattern for slot in template_of(templates, ordinal).slots}
    )
    for ordinal, opening in sorted(placement.chosen, key=lambda pair: pair[1].on):
        template = template_of(templates, ordinal)
        session, moved, raised = compose_session(context, ordinal, template, opening, shared)
        standings.update({standing.pattern: standing for standing in moved})
        concerns += raised
        if session.items:
            sessions.append(session)
        else:
            reasons.append(Reason("L2", "nothing-fits-session"))
    approval = needs_approval(facts.rider, facts.week, facts.matters, facts.today)
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
    )


def compose_session(
    context: SlotContext, ordinal: int, template: Template, opening: Opening, shared: Mapping[Pattern, int]
) -> tuple[SessionDecision, list[Standing], list[Concern]]:
    """One session on its day at its venue, cut to its minutes; the levels that moved; what a coach must look at.

    `shared` says how many sessions of the week have each pattern.
    """
    kit = dict(context.facts.venues).get(opening.venue, Kit())
    pairs: list[tuple[Exercise, Item]] = []
    left_out: list[LeftOut] = []
    moved: list[Standing] = []
    raised: list[Concern] = []
    slots = _with_balance(context, template, ordinal)
    for slot in slots:
        item, standing, decisions = resolve_item(
            context, slot, session_on=opening.on, kit=kit, sessions=shared.get(slot.pattern, 1)
        )
        if isinstance(item, LeftOut):
            left_out.append(item)
            continue
        if any(item.exercise == other.exercise for _, other in pairs):
            continue  # two slots that fall to the same exercise are done once
        pairs.append((exercise_of(context.library, item.exercise), item))
        moved += [standing] if standing else []
        raised += [concern for decision in decisions for concern in decision.concerns]
    minutes = min(opening.minutes, context.facts.rider.minutes_cap or opening.minutes)
    warm_up, cool_down = warm_up_minutes(template.warm_up_minutes), template.cool_down_minutes
    kept = frozenset(
        slot.id for slot in slots if slot.pattern is Pattern.BALANCE and context.limits.balance_each_session
    )
    fitted = fit(pairs, minutes, template.format, warm_up=warm_up, cool_down=cool_down, kept=kept)
    session = SessionDecision(
        ordinal=ordinal,
        name=template.name,
        on=opening.on,
        start=opening.start,
        minutes=fitted.minutes,
        venue=opening.venue,
        format=template.format,
        warm_up_minutes=warm_up,
        cool_down_minutes=cool_down,
        warm_up=_warm_up(context, fitted.items, kit),
        items=fitted.items,
        cool_down=_cool_down(context, fitted.items, kit),
        left_out=(*left_out, *fitted.left_out),
        reasons=fitted.reasons,
    )
    return session, moved, raised


def _with_balance(context: SlotContext, template: Template, ordinal: int) -> tuple[Slot, ...]:
    if not context.limits.balance_each_session or any(
        slot.pattern is Pattern.BALANCE for slot in template.slots
    ):
        return template.slots
    added = Slot(
        id=f"balance-{ordinal}",
        part=Part.ASSISTANCE,
        pattern=Pattern.BALANCE,
        sets=BALANCE_SETS,
        rest_s=BALANCE_REST_S,
    )
    return (*template.slots, added)


def _warm_up(context: SlotContext, items: tuple[Item, ...], kit: Kit) -> tuple[str, ...]:
    patterns = [item.pattern for item in items]
    return warm_up_for(patterns, context.library, kit=kit, barred=_never(context), sore=context.sore)


def _cool_down(context: SlotContext, items: tuple[Item, ...], kit: Kit) -> tuple[str, ...]:
    regions = frozenset(
        region for item in items for region in exercise_of(context.library, item.exercise).primary
    )
    return cool_down_for(regions, context.library, kit=kit, barred=_never(context), sore=context.sore)


def _never(context: SlotContext) -> frozenset[str]:
    return frozenset({**context.limited, **context.stopped})
