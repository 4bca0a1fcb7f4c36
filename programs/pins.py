"""A session of a rider's week pinned to a day by a coach, and the week worked out again around it (W1, W2).

    pins.pin(plan=plan, ordinal=2, on=thursday, by=coach, now=now)

A pin belongs to the session of that week and outlives revisions. It sets nothing aside: a day that is barred is
refused, and the plan that comes of it is checked like any other (I3). Call inside `access.within(club)`.
"""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from athletes.access import name_of, record
from athletes.models import Coach
from programs import facts as translator
from programs import plans
from programs.engine.quantities import week_days
from programs.engine.resolve import resolve_week
from programs.models import PlannedItem, SessionKey, WeekPlan


class DayImpossible(Exception):
    """The session cannot stand on that day: it is not of the week, it is barred, or another session would be lost."""


@dataclass(frozen=True, slots=True)
class Pinned:
    """What came of a pin: the new revision, the day the session was pinned to before, and how many targets that a
    coach had edited are not in it any more."""

    plan: WeekPlan
    before: date | None
    edits_lost: int


@transaction.atomic
def pin(*, plan: WeekPlan, ordinal: int, on: date | None, by: Coach, now: datetime) -> Pinned:
    """Pins a session of a week that waits to a day, or with None takes its pin away, and works the week out again.

    Targets that a coach edited stay where the same exercise still stands. Raises `NotWaiting`; `DayImpossible`;
    `Refused` when the week that comes of it breaks a property that nobody may set aside; `SessionKey.DoesNotExist`.
    """
    old = plans.lock_waiting(plan.pk)
    rider, week = old.rider, plans.week_of_plan(old)
    if on is not None and on not in week_days(week):
        raise DayImpossible
    key = SessionKey.objects.get(rider=rider, iso_year=week.year, iso_week=week.number, ordinal=ordinal)
    before, key.pinned_on = key.pinned_on, on
    key.save(update_fields=["pinned_on"])
    facts = plans.facts_now(old, club=rider.club, now=now)
    library = translator.current_library()
    decision = resolve_week(facts, library)
    stands = {session.ordinal: session.on for session in decision.sessions}
    stood = set(old.sessions.values_list("ordinal", flat=True))
    if on is not None and (stands.get(ordinal) != on or stood - set(stands)):
        raise DayImpossible
    plans.retire(old, plans.State.SUPERSEDED, now=now)
    new = plans.write(rider, facts, decision, library, by=by, now=now)
    lost = _keep_edits(old, new)
    plans.refuse_breaches(new, now=now, facts=facts)
    record(
        "plan.pin" if on else "plan.unpin",
        club_id=new.club_id,
        by=name_of(by),
        now=now,
        rider=rider,
        subject=str(new.pk),
    )
    return Pinned(new, before, lost)


def _keep_edits(old: WeekPlan, new: WeekPlan) -> int:
    """Carries a coach's edits over to the same exercise in the same slot; returns how many have no place any more."""
    edited = PlannedItem.objects.filter(session__plan=old, edited_at__isnull=False).select_related("session")
    here = {
        (item.session.ordinal, item.slot, item.exercise_id): item
        for item in PlannedItem.objects.filter(session__plan=new).select_related("session")
    }
    lost = 0
    for item in edited:
        row = here.get((item.session.ordinal, item.slot, item.exercise_id))
        if row is None:
            lost += 1
            continue
        row.target, row.edit_reason = item.target, item.edit_reason
        row.edited_by_id, row.edited_at = item.edited_by_id, item.edited_at
        row.save(update_fields=["target", "edit_reason", "edited_by", "edited_at"])
    return lost
