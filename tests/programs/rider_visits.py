"""A rider with a browser and a week that has gone out: what the tests of riders' pages begin with."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.test import Client
from django.utils import timezone

from athletes import access
from athletes.models import Link, Rider
from programs import plans
from programs.engine.facts import Week
from programs.models import CheckInVersion, PlannedSession, SessionKey, WeekPlan
from tests import people
from tests.forms import untouched

WEEK = Week(2026, 49)
#: The evening of the first session, which is on the Tuesday.
EVENING = people.NOW + timedelta(days=4, hours=7)
#: Tables that a GET may write.
MAY_GROW = {"django_session", "athletes_auditentry"}


@dataclass
class Visit:
    """Somebody of a club, with a browser, at a fixed time. `now` may be moved."""

    someone: people.People
    rider: Rider
    plan: WeekPlan
    patch: pytest.MonkeyPatch
    client: Client = field(default_factory=Client)

    def at(self, now: datetime) -> None:
        """From now on it is `now`."""
        self.patch.setattr(timezone, "now", lambda: now)
        self.now = now

    def key(self, ordinal: int = 1) -> SessionKey:
        with access.within(self.someone.club):
            return SessionKey.objects.get(rider=self.rider, iso_week=WEEK.number, ordinal=ordinal)

    def planned(self, ordinal: int = 1) -> PlannedSession:
        with access.within(self.someone.club):
            return PlannedSession.objects.prefetch_related("items__exercise").get(
                plan=self.plan, ordinal=ordinal
            )

    def token(self, purpose: str, *, subject: str = "", lasts: timedelta = timedelta(days=21)) -> str:
        with access.within(self.someone.club):
            return access.make_link(
                rider=self.rider, purpose=purpose, subject=subject, now=self.now, lasts=lasts
            )

    def open(self, purpose: str, *, subject: str = "") -> str:
        """Taps a link of the mail; returns the clean address that it leads to."""
        if purpose == Link.Purpose.SESSION and not subject:
            subject = str(self.key().pk)
        answered = self.client.get(f"/l/{self.token(purpose, subject=subject)}/")
        assert answered.status_code == 302, answered.content
        return str(answered["Location"])

    def fill(self, address: str, **changes: Any) -> dict[str, Any]:
        """The form at the address as it stands, with the changes; names with "__" for "-"; None leaves it out."""
        shown = self.client.get(address)
        assert shown.status_code == 200, shown.content
        return change(untouched(shown.content.decode()), **changes)

    def versions(self) -> list[CheckInVersion]:
        with access.within(self.someone.club):
            return list(
                CheckInVersion.objects.filter(check_in__key__rider=self.rider).prefetch_related("items")
            )

    @contextmanager
    def within(self) -> Iterator[None]:
        with access.within(self.someone.club):
            yield


def change(values: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """The values with the changes; names with "__" for "-"; None leaves the name out."""
    merged = dict(values)
    for name, value in changes.items():
        key = name.replace("__", "-")
        if value is None:
            merged.pop(key, None)
        else:
            merged[key] = value
    return merged


#: What a rider taps when all went to plan.
AS_PLANNED = {
    "session__outcome": "done",
    "session__reps_left": "3",
    "session__session_rpe": "5",
    "body__hurts": "no",
    "body__warning": "no",
}


def hurt(visit: Visit, score: int, **more: Any) -> dict[str, Any]:
    """The form of the first session, all as planned but for a left knee that hurt."""
    address = visit.open(Link.Purpose.SESSION)
    form = visit.fill(address, **{**AS_PLANNED, "body__hurts": "yes"})
    form |= {"place-1-region": "knee", "place-1-side": "left", "place-1-during": str(score)}
    return form | more


def begin(patch: pytest.MonkeyPatch, *, young: bool = False, now: datetime = EVENING) -> Visit:
    """A club whose week has gone out to a rider, on the evening of the first session."""
    someone = people.wexenfold()
    rider = someone.young_rider if young else someone.rider
    with access.within(someone.club):
        plans.resolve(club=someone.club, week=WEEK, by=someone.coach, now=people.NOW)
        plan = WeekPlan.objects.get(rider=rider)
        plans.approve(
            plan=plan, by=someone.coach, now=people.NOW, override_reason="Talked through with the guardian."
        )
        plans.mark_sent(plan=plan, now=people.NOW)
        plan.refresh_from_db()
    visit = Visit(someone, rider, plan, patch)
    visit.at(now)
    return visit


def rows() -> dict[str, tuple[int, int]]:
    """How many rows each table has and a sum over what they hold, for all that the club in force may see; the tables
    left out that a GET may write."""
    counted: dict[str, tuple[int, int]] = {}
    for model in apps.get_models():
        table = model._meta.db_table
        if table not in MAY_GROW:
            with connection.cursor() as cursor:
                cursor.execute(
                    f'SELECT count(*), coalesce(sum(hashtext(t::text)::bigint), 0) FROM "{table}" t'
                )
                count, content = cursor.fetchone()
            counted[table] = (count, int(content))
    return counted
