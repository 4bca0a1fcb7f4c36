"""The club's handbook: asked for, made by a worker, kept until the library or the club's name changes.

The row is the queue: whoever asks makes it, a worker claims it, and a tick finds those whose worker died.
"""

import hashlib
import json
import logging
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import translation
from django.utils.formats import date_format
from django.utils.translation import pgettext

from athletes import access
from athletes.access import name_of, record
from athletes.bell import Bell
from athletes.models import Club, Coach
from programs import plans
from programs.exercises import read_pages
from programs.handbook import LAYOUT, Cover, Pages, handbook_pdf
from programs.models import Exercise, Handbook

log = logging.getLogger(__name__)
TASK = "programs.tasks.make_handbooks"
#: After so long without news another worker takes a handbook over: ten times what one takes on a slow machine.
LEASE = timedelta(minutes=5)
#: How long one run begins new ones, well below the limit of a task.
RUN_SECONDS = 120.0
_POSES = Path(__file__).resolve().parent.parent / "fixtures" / "poses"
_bell = Bell(TASK)


def digest_of(club: Club) -> str:
    """What the club's handbook is made from, as a SHA-256. Call inside `within(club)`."""
    rows = Exercise.objects.order_by("slug").values_list("slug", "is_retired", "document")
    made_from = [LAYOUT, _poses(), club.name, club.emergency_note, list(rows)]
    return hashlib.sha256(json.dumps(made_from, sort_keys=True).encode()).hexdigest()


@cache
def _poses() -> str:
    """A digest of what the figures are drawn from, which is part of the release."""
    files = sorted(_POSES.glob("*.yaml"))
    return hashlib.sha256(b"".join(path.read_bytes() for path in files)).hexdigest()


def current(*, club: Club, language: str) -> Handbook | None:
    """The handbook of the library as it is now: ready, being made, failed, or None where nobody has asked."""
    found = Handbook.objects.filter(digest=digest_of(club), language=language)
    return found.defer("pdf").first()


@transaction.atomic
def want(*, club: Club, language: str, by: Coach, now: datetime) -> Handbook:
    """The handbook is there or due, and a worker is woken. One that failed is tried again. Raises `ValueError` for a
    language that there is not."""
    if language not in dict(settings.LANGUAGES):
        raise ValueError(language)
    row, is_new = Handbook.objects.get_or_create(
        club=club, digest=digest_of(club), language=language, defaults={"wanted_at": now}
    )
    if row.fault:
        row.fault, row.claimed_at, row.wanted_at = "", None, now
        row.save(update_fields=["fault", "claimed_at", "wanted_at"])
    if row.made_at is None:
        transaction.on_commit(_bell.ring)
    if is_new:
        record("handbook.ask", club_id=club.pk, by=name_of(by), now=now, subject=language)
    return row


def make_due(*, clock: Callable[[], datetime], seconds: float = RUN_SECONDS) -> int:
    """Makes every handbook that is due, none begun after so many seconds. Returns how many.

    One that fails keeps its reason and stops none.
    """
    with access.as_clock():
        due = list(Handbook.objects.filter(made_at=None, fault="").values_list("club_id", "pk"))
    ends_at, made = time.monotonic() + seconds, 0
    for club_id, pk in due:
        if time.monotonic() > ends_at:
            break
        made += _make(club_id, pk, clock())
    return made


def _make(club_id: Any, pk: int, now: datetime) -> bool:
    """Makes one unless another worker is at it. It is laid out and drawn outside any transaction."""
    with access.within(club_id):
        claimed = _claim(pk, now)
        if claimed is None:
            return False
        club = Club.objects.get(pk=club_id)
        with translation.override(claimed.language):
            pages = read_pages()
        Handbook.objects.filter(pk=pk).update(total=sum(len(ones) for _family, ones in pages))
    try:
        pdf = _draw(club, pk, claimed.language, pages, now)
    except Exception as error:  # a handbook that cannot be made must not stop the others
        log.exception("handbook %s cannot be made", pk)
        with access.within(club_id):
            Handbook.objects.filter(pk=pk).update(fault=f"{type(error).__name__}: {error}"[:200])
        return False
    with access.within(club_id):
        Handbook.objects.filter(pk=pk).update(pdf=pdf, made_at=now)
        Handbook.objects.filter(language=claimed.language).exclude(pk=pk).delete()
    return True


def _draw(club: Club, pk: int, language: str, pages: Pages, now: datetime) -> bytes:
    def note(done: int) -> None:
        with access.within(club):
            Handbook.objects.filter(pk=pk).update(done=done)

    with translation.override(language):
        day = date_format(plans.local_date(club, now), pgettext("date format", "j F Y"))
        cover = Cover(club.name, day, club.emergency_note)
        return handbook_pdf(pages, cover, note)


def _claim(pk: int, now: datetime) -> Handbook | None:
    """The row, held for `LEASE`, or None when somebody holds it or it is no longer due."""
    row = (
        Handbook.objects.select_for_update(skip_locked=True).defer("pdf").filter(pk=pk, made_at=None).first()
    )
    if row is None or (row.claimed_at and row.claimed_at > now - LEASE):
        return None
    row.claimed_at = now
    row.save(update_fields=["claimed_at"])
    return row
