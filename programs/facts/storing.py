"""Decisions as rows, and stored plans as decisions again."""

from datetime import datetime
from typing import Any

from athletes import vocabulary
from athletes.models import (
    Rider,
)
from programs.engine import codec
from programs.engine import facts as engine
from programs.facts.values import minutes_of, read_reasons, read_target, reasons_document, time_of
from programs.models import (
    Decision,
    PlannedItem,
    PlannedSession,
    SessionKey,
    WeekPlan,
)


def store(
    *,
    rider: Rider,
    facts: engine.WeekFacts,
    decision: engine.WeekDecision,
    library: str,
    revision: int,
    state: str,
    now: datetime,
    is_downward: bool = False,
) -> WeekPlan:
    """Writes one revision of a week with its sessions, targets and the decision behind it. Returns the plan."""
    club_id = rider.club_id
    plan = WeekPlan.objects.create(
        club_id=club_id,
        rider=rider,
        iso_year=decision.week.year,
        iso_week=decision.week.number,
        revision=revision,
        state=state,
        phase=decision.phase.value,
        is_light=decision.light,
        reasons=reasons_document(decision.reasons),
        concerns=[
            {"topic": one.topic.value, "urgency": int(one.urgency), "reasons": reasons_document(one.reasons)}
            for one in decision.concerns
        ],
        placement=codec.to_document(decision.placement) if decision.placement else None,
        may_send_unapproved=decision.may_send_unapproved,
        is_downward=is_downward,
        made_at=now,
    )
    document = codec.to_document(facts)
    Decision.objects.create(
        club_id=club_id,
        plan=plan,
        facts=document,
        answer=codec.to_document(decision),
        digest=codec.digest(document),
        library=library,
        schema=engine.SCHEMA,
        engine=engine.ENGINE,
    )
    keys = _keys(rider, decision)
    sessions = PlannedSession.objects.bulk_create(
        _session_row(club_id, plan, keys[session.ordinal], session) for session in decision.sessions
    )
    PlannedItem.objects.bulk_create(
        _item_row(club_id, row, position, item)
        for row, session in zip(sessions, decision.sessions, strict=True)
        for position, item in enumerate(session.items)
    )
    return plan


def _keys(rider: Rider, decision: engine.WeekDecision) -> dict[int, SessionKey]:
    week = decision.week
    found = {
        key.ordinal: key
        for key in SessionKey.objects.filter(rider=rider, iso_year=week.year, iso_week=week.number)
    }
    missing = [session.ordinal for session in decision.sessions if session.ordinal not in found]
    for key in SessionKey.objects.bulk_create(
        SessionKey(
            club_id=rider.club_id, rider=rider, iso_year=week.year, iso_week=week.number, ordinal=ordinal
        )
        for ordinal in missing
    ):
        found[key.ordinal] = key
    return found


def _session_row(
    club_id: Any, plan: WeekPlan, key: SessionKey, session: engine.SessionDecision
) -> PlannedSession:
    return PlannedSession(
        club_id=club_id,
        plan=plan,
        key=key,
        ordinal=session.ordinal,
        name=session.name,
        on=session.on,
        start=time_of(session.start),
        minutes=session.minutes,
        venue=session.venue,
        format=session.format.value,
        warm_up_minutes=session.warm_up_minutes,
        cool_down_minutes=session.cool_down_minutes,
        warm_up=list(session.warm_up),
        cool_down=list(session.cool_down),
        left_out=[codec.to_document(one) for one in session.left_out],
        reasons=reasons_document(session.reasons),
    )


def _item_row(club_id: Any, session: PlannedSession, position: int, item: engine.Item) -> PlannedItem:
    return PlannedItem(
        club_id=club_id,
        session=session,
        position=position,
        slot=item.slot,
        part=item.part.value,
        pattern=item.pattern.value,
        exercise_id=item.exercise,
        target=codec.to_document(item.target),
        previous=codec.to_document(item.previous) if item.previous else None,
        change=item.change.value,
        reasons=reasons_document(item.reasons),
    )


def read_plan(plan: WeekPlan) -> engine.WeekDecision:
    """A stored plan as a decision, with whatever a coach has edited since: what the safety properties are checked on.

    `plan` should come with ``sessions__items`` prefetched.
    """
    return engine.WeekDecision(
        week=engine.Week(plan.iso_year, plan.iso_week),
        phase=engine.Phase(plan.phase),
        light=plan.is_light,
        reasons=read_reasons(plan.reasons),
        may_send_unapproved=plan.may_send_unapproved,
        sessions=tuple(
            engine.SessionDecision(
                ordinal=row.ordinal,
                name=row.name,
                on=row.on,
                start=minutes_of(row.start),
                minutes=row.minutes,
                venue=row.venue,
                format=engine.Format(row.format),
                warm_up_minutes=row.warm_up_minutes,
                cool_down_minutes=row.cool_down_minutes,
                warm_up=tuple(row.warm_up),
                cool_down=tuple(row.cool_down),
                items=tuple(item_of(item) for item in row.items.all()),
                left_out=tuple(codec.from_document(engine.LeftOut, one) for one in row.left_out),
                reasons=read_reasons(row.reasons),
            )
            for row in plan.sessions.all()
        ),
    )


def item_of(row: PlannedItem) -> engine.Item:
    return engine.Item(
        slot=row.slot,
        part=engine.Part(row.part),
        pattern=vocabulary.Pattern(row.pattern),
        exercise=row.exercise_id,
        target=read_target(row.target),
        change=engine.Change(row.change),
        reasons=read_reasons(row.reasons),
        previous=read_target(row.previous) if row.previous else None,
    )
