"""The daily tidying: what has outlived its use goes, as each model says."""

import logging

from celery import shared_task
from django.contrib.sessions.models import Session
from django.utils import timezone

from athletes import access
from athletes.models import Heartbeat
from coaching import privacy

log = logging.getLogger(__name__)


@shared_task
def keep_house() -> int:
    """Removes rows past their retention in every club, and browser sessions that have ended. Returns how many rows."""
    now = timezone.now()
    gone, failed = 0, 0
    for club in access.clubs_of_all():
        try:
            with access.within(club):
                gone += sum(privacy.apply_retention(club=club, now=now).values())
        except Exception:
            failed += 1
            log.exception("retention of club %s failed", club.pk)
    gone += Session.objects.filter(expire_date__lt=now).delete()[0]
    Heartbeat.objects.update_or_create(
        job="keep-house",
        defaults={
            "started_at": now,
            "finished_at": timezone.now(),
            "result": {"done": gone, "error": f"{failed} clubs" if failed else ""},
        },
    )
    return gone
