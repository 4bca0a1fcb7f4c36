"""What is left of the running and the coming week, worked out again when something was reported (T0, H3, I15).

All verbs run inside `access.within(club)`.
"""

from datetime import datetime

from django.db import transaction

from athletes import outbox
from athletes.models import Coach, Rider
from programs import facts as translator
from programs import plans
from programs.engine import codec, easing
from programs.engine import facts as engine
from programs.engine.quantities import shift_week, week_of
from programs.engine.resolve import resolve_week
from programs.models import WeekPlan


@transaction.atomic
def ease_remaining(*, rider: Rider, by: Coach | Rider | str, now: datetime) -> list[WeekPlan]:
    """Works out what is left of this week and the next again, downwards only, without waiting for anybody (T0).

    A sent week gets a new revision and mail at once, and so does one that was eased and is still to leave; an approval
    of another unsent week is withdrawn and the week worked out anew; a waiting one is worked out anew. Nothing from
    before the report comes back (I15). Returns the new revisions.
    """
    club = rider.club
    today = plans.local_date(club, now)
    library = translator.current_library()
    changed = []
    for week in (week_of(today), shift_week(week_of(today), 1)):
        plan = plans.lock_current(rider, week)
        if plan is None:
            continue
        if outbox.is_leaving(club_id=plan.club_id, dedup_key=plans.mail_key(plan)):
            # Nobody can call it back any more, so what follows is a change of a week that went out.
            plans.mark_sent(plan=plan, now=now)
            plan.refresh_from_db(fields=["state", "sent_at"])
        facts = translator.gather(club=club, riders=[rider], week=week, today=today)[0].facts
        # What eases a week that has gone out, and has not left itself yet, also only goes down from there (I15).
        if plan.state == plans.State.SENT or plan.is_downward:
            new = _ease_sent(rider, plan, facts, library, by=by, now=now)
        else:
            new = _resolve_anew(rider, plan, facts, library, by=by, now=now)
        changed += [new] if new else []
    return changed


@transaction.atomic
def refresh_waiting(*, rider: Rider, by: Coach | Rider | str, now: datetime) -> WeekPlan | None:
    """Works out the coming week again when it is still waiting and nobody has edited it, so that the desk never shows a
    plan from before the newest report. Returns the new revision, or None when there is nothing to do."""
    club = rider.club
    week = plans.coming_week(club, now)
    plan = plans.lock_current(rider, week)
    if plan is None or plan.state not in (plans.State.DRAFT, plans.State.HELD) or plans.is_edited(plan):
        return None
    facts = translator.gather(club=club, riders=[rider], week=week, today=plans.local_date(club, now))[
        0
    ].facts
    library = translator.current_library()
    decision = resolve_week(facts, library)
    if plan.decision.answer == codec.to_document(decision):
        return None
    plans.retire(plan, plans.State.SUPERSEDED, now=now)
    return plans.write(rider, facts, decision, library, by=by, now=now)


def _ease_sent(
    rider: Rider,
    plan: WeekPlan,
    facts: engine.WeekFacts,
    library: engine.Library,
    *,
    by: Coach | Rider | str,
    now: datetime,
) -> WeekPlan | None:
    before = translator.read_plan(plans.whole(plan))
    eased = easing.ease(before, facts, library)
    if eased.sessions == before.sessions:
        return None
    plans.retire(plan, plans.State.SUPERSEDED, now=now)
    new = plans.write(
        rider, facts, eased, library, by=by, now=now, state=plans.State.APPROVED, is_downward=True
    )
    new.approved_at, new.approved_without_coach = now, True
    new.save(update_fields=["approved_at", "approved_without_coach"])
    plans.enqueue(new, now=now, at=now)
    return new


def _resolve_anew(
    rider: Rider,
    plan: WeekPlan,
    facts: engine.WeekFacts,
    library: engine.Library,
    *,
    by: Coach | Rider | str,
    now: datetime,
) -> WeekPlan:
    plans.retire(
        plan, plans.State.WITHDRAWN if plan.state == plans.State.APPROVED else plans.State.SUPERSEDED, now=now
    )
    return plans.write(rider, facts, resolve_week(facts, library), library, by=by, now=now)
