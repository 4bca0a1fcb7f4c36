"""What ought to be there and is not: asked after the clock's runs, so that nothing is lost in silence.

Runs inside `access.within(club)`.
"""

from datetime import datetime

from athletes import outbox
from athletes.models import Club, Delivery, Rider
from programs import plans
from programs.models import WeekPlan


def count_missing(*, club: Club, now: datetime) -> int:
    """Riders without the week that should be worked out, approved weeks without mail, mails long overdue. 0 is well."""
    return _riders_without_plan(club, now) + _approved_without_mail(club) + outbox.count_overdue(now=now)


def _riders_without_plan(club: Club, now: datetime) -> int:
    week = plans.coming_week(club, now)
    if now < plans.resolves_at(club, week):
        return 0
    planned = WeekPlan.objects.of_week(week.year, week.number).current().values("rider_id")
    return Rider.objects.current().exclude(pk__in=planned).count()


def _approved_without_mail(club: Club) -> int:
    approved = set(
        WeekPlan.objects.filter(state=WeekPlan.State.APPROVED, rider__plan_mail=True).values_list(
            "pk", flat=True
        )
    )
    mailed = Delivery.objects.filter(club=club, kind=plans.WEEK_MAIL).values_list("payload__plan", flat=True)
    return len(approved - set(mailed)) if approved else 0
