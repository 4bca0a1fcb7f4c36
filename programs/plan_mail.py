"""Whether a rider's weekly plan comes by mail. Stopping it never stops account and safety mail, nor the planning.

All verbs run inside `access.within(club)`.
"""

from datetime import datetime

from django.db import transaction

from athletes import outbox
from athletes.access import name_of, record
from athletes.models import Coach, Delivery, Rider, Suppression
from programs import plans
from programs.models import WeekPlan


@transaction.atomic
def stop(*, rider: Rider, by: Rider | Coach | str, now: datetime) -> bool:
    """No plan goes to the rider by mail any more, nor one that was waiting. Returns whether that is new."""
    locked = Rider.objects.select_for_update(of=("self",)).get(pk=rider.pk)
    if not locked.plan_mail:
        return False
    locked.plan_mail = False
    locked.save(update_fields=["plan_mail"])
    Suppression.objects.get_or_create(
        club_id=locked.club_id,
        address=locked.email,
        why=Suppression.Why.STOPPED,
        defaults={"at": now},
    )
    outbox.cancel(
        club_id=locked.club_id,
        reason="the reader stopped it",
        now=now,
        rider=locked,
        channel=Delivery.Channel.PLANS,
    )
    # Without mail a plan is out once it is approved: the rider's page shows it, and its sessions can be reported.
    for plan in WeekPlan.objects.filter(rider=locked, state=WeekPlan.State.APPROVED):
        plans.mark_sent(plan=plan, now=now)
    record("plan-mail.stop", club_id=locked.club_id, by=name_of(by), now=now, rider=locked)
    return True


@transaction.atomic
def start(*, rider: Rider, by: Rider | Coach | str, now: datetime) -> bool:
    """Plans go to the rider by mail again, from the next one on. Returns whether that is new."""
    locked = Rider.objects.select_for_update(of=("self",)).get(pk=rider.pk)
    if locked.plan_mail:
        return False
    locked.plan_mail = True
    locked.save(update_fields=["plan_mail"])
    Suppression.objects.filter(address__iexact=locked.email, why=Suppression.Why.STOPPED).delete()
    record("plan-mail.start", club_id=locked.club_id, by=name_of(by), now=now, rider=locked)
    return True
