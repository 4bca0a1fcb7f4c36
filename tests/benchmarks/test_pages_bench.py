"""The pages that coaches and riders wait for, against bare views over the same rows."""

from collections.abc import Callable
from datetime import datetime
from itertools import count

import pytest
from django.test import Client, override_settings

from athletes import access
from athletes.models import Link
from programs import plans
from programs.models import WeekPlan
from tests import people
from tests.benchmarks import bare
from tests.benchmarks.figures import counted_queries, note, seconds_of
from tests.coaching import desks
from tests.coaching.desks import friday
from tests.databases import Database
from tests.programs.rider_visits import AS_PLANNED, EVENING, Visit

__all__ = ["friday"]

pytestmark = pytest.mark.bench
RIDERS = 60
CHECK_INS = 12


def bare_get(path: str) -> Callable[[], object]:
    """Asks the bare urlconf, through the same middleware."""
    client = Client()

    def get() -> object:
        with override_settings(ROOT_URLCONF="tests.benchmarks.bare"):
            return client.post(path)

    return get


def club_of(size: int) -> people.People:
    """A club with so many riders, whose coming week is worked out."""
    someone = people.wexenfold()
    with access.within(someone.club):
        desks.add_riders(someone, size - 2)
        desks.resolved(someone)
    return someone


@pytest.mark.django_db
def test_the_desk_of_sixty(friday: datetime) -> None:
    someone = club_of(RIDERS)
    coach = desks.signed_in(someone.coach)
    bare.shown["club"] = someone.club
    page = coach.get("/")
    assert page.status_code == 200
    assert page.content.count(b'class="entry with-strip"') == RIDERS
    floor_of = bare_get("/table/")
    assert floor_of().content.count(b"<tr>") == RIDERS + 1  # type: ignore[attr-defined]
    figure, floor = seconds_of([lambda: coach.get("/"), floor_of], times=9)
    note(f"desk page, {RIDERS} riders", figure=figure, floor=floor, unit="s")


@pytest.mark.django_db
@pytest.mark.parametrize("size", [12, RIDERS])
def test_the_queries_of_desk_and_rider(friday: datetime, size: int) -> None:
    someone = club_of(size)
    coach = desks.signed_in(someone.coach)
    for name, address in (("desk page", "/"), ("rider page", f"/riders/{someone.rider.pk}/")):
        with counted_queries() as queries:
            assert coach.get(address).status_code == 200
        note(f"{name}, {size} riders, queries", figure=queries.total())


def test_a_check_in(fresh_database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each by a rider of its own, committed: sent as planned, which works the coming week out again."""
    someone = people.wexenfold()
    with access.within(someone.club):
        riders = desks.add_riders(someone, CHECK_INS)
        plans.resolve(club=someone.club, week=desks.WEEK, by=someone.coach, now=people.NOW)
        for plan in WeekPlan.objects.filter(rider__in=riders).select_related("rider"):
            plans.approve(plan=plan, by=someone.coach, now=people.NOW)
            plans.mark_sent(plan=plan, now=people.NOW)
    waiting = []
    for rider in riders:
        with access.within(someone.club):
            visit = Visit(someone, rider, WeekPlan.objects.current().get(rider=rider), monkeypatch)
        visit.at(EVENING)
        address = visit.open(Link.Purpose.SESSION)
        waiting.append((visit, address, visit.fill(address, **AS_PLANNED)))
    numbers = count()

    def check_in() -> None:
        visit, address, form = waiting[next(numbers)]
        assert visit.client.post(address, form).status_code == 302

    with counted_queries() as queries:
        check_in()
    kinds = ", ".join(f"{kind} {number}" for kind, number in queries.most_common())
    print(f"\nstatements of a check-in: {kinds}")
    bare.shown["club"], bare.inserts["rows"] = someone.club, queries["INSERT"]
    insert = bare_get("/insert/")
    with counted_queries() as floor_queries:
        insert()
    assert floor_queries["INSERT"] == queries["INSERT"]
    figure, floor = seconds_of([check_in, insert], times=CHECK_INS - 2)
    note(f"check-in, {queries['INSERT']} inserts", figure=figure, floor=floor, unit="s")
    note("check-in, statements", figure=queries.total(), floor=floor_queries.total())
