"""What the clock does for a club: works out the coming week in its hour, and sees to what nobody approved."""

from datetime import datetime

from django.db import transaction

from athletes import outbox, standings
from athletes.models import Club, Rider
from programs import facts as translator
from programs import plans, relief
from programs.engine import facts as engine
from programs.engine.quantities import week_name
from programs.engine.resolve import resolve_week
from programs.models import WeekPlan


def keep_timetable(*, club: Club, now: datetime) -> plans.Resolved:
    """What the clock does for a club each minute: works out the coming week when its hour has come, and at the hour of
    sending sees to what nobody approved. Doing it twice does nothing more."""
    _relieve_barred(club, now=now)
    week = plans.coming_week(club, now)
    if now < plans.resolves_at(club, week):
        return plans.Resolved(0, 0)
    planned = WeekPlan.objects.of_week(week.year, week.number).current().values("rider_id")
    missing = list(Rider.objects.current().exclude(pk__in=planned).select_related("squad").order_by("pk"))
    done = plans.resolve(club=club, week=week, by=plans.CLOCK, now=now, riders=missing)
    if now >= plans.sends_at(club, week):
        _see_to_unapproved(club, week, now=now)
    return done


def _relieve_barred(club: Club, *, now: datetime) -> None:
    """Takes back what was promised to riders who may not train any more: paused, or without the consent, screening or
    clearance that they had (T0, I7)."""
    today = plans.local_date(club, now)
    promised = WeekPlan.objects.filter(
        state__in=[plans.State.APPROVED, plans.State.SENT], sessions__on__gte=today
    ).values("rider_id")
    riders = list(Rider.objects.filter(pk__in=promised).select_related("squad"))
    missing = standings.read_missing(riders, club=club, on=today)
    for rider in riders:
        if missing[rider.pk] is not None or rider.state != Rider.State.ACTIVE:
            rider.club = club
            relief.ease_remaining(rider=rider, by=plans.CLOCK, now=now)


def _see_to_unapproved(club: Club, week: engine.Week, *, now: datetime) -> None:
    waiting = list(
        WeekPlan.objects.of_week(week.year, week.number)
        .filter(state=plans.State.DRAFT)
        .select_related("rider__squad__coach__user", "rider__club")
    )
    if club.unapproved == Club.Unapproved.SEND:
        waiting = [plan for plan in waiting if not _send_without_progress(club, plan, week, now=now)]
    for coach in {plan.rider.squad.coach for plan in waiting}:
        outbox.enqueue(
            club_id=club.pk,
            kind=plans.REMINDER_MAIL,
            dedup_key=f"{plans.REMINDER_MAIL}:{coach.pk}:{week_name(week)}",
            coach=coach,
            recipient=coach.user.email,
            channel="account",
            payload={"week": week_name(week)},
            due_at=now,
            now=now,
        )


def _send_without_progress(club: Club, plan: WeekPlan, week: engine.Week, *, now: datetime) -> bool:
    """Sends a version of the week in which nothing rises, unless a coach must look first (W3). Whether it was sent."""
    rider = plan.rider
    with transaction.atomic():
        locked = plans.lock_current(rider, week)
        if locked is None or locked.state != plans.State.DRAFT or not locked.may_send_unapproved:
            return False
        gathered = translator.gather(
            club=club, riders=[rider], week=week, today=plans.local_date(club, now), progress_allowed=False
        )[0]
        library = translator.current_library()
        decision = resolve_week(gathered.facts, library)
        if not (decision.may_send and decision.may_send_unapproved):
            return False
        plans.retire(locked, plans.State.SUPERSEDED, now=now)
        new = plans.write(rider, gathered.facts, decision, library, by=plans.CLOCK, now=now)
        try:
            plans.approve(plan=new, by=plans.CLOCK, now=now)
        except (plans.Refused, plans.ReasonNeeded):
            return False
    return True
