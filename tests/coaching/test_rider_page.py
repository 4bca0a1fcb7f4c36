"""The rider's page: weeks, what was asked and done, load, pain for those who may see it."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from athletes import access
from athletes.concerns import Symptom
from athletes.models import AuditEntry, Consent, Rider
from coaching.desk import read_rider
from programs.engine.facts import Week
from programs.models import WeekPlan
from tests import people
from tests.coaching.desks import (
    WEEK,
    add_riders,
    friday,
    past_week,
    plan_of,
    report_pain,
    report_symptom,
    resolved,
    signed_in,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("friday")]
__all__ = ["friday"]


def address(rider: Rider) -> str:
    return reverse("rider", args=[rider.pk])


def test_what_was_asked_stands_beside_what_was_done() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        sessions = past_week(someone, someone.rider)
        page = read_rider(someone.rider, club=someone.club, may_see_health=True, now=people.NOW)
    asked = sum(len(session.items.all()) for session in sessions)
    assert len(page.done) == asked
    first = page.done[0]
    sets, amount = re.match(r"(\d) x (\d+)", first.asked).groups()  # type: ignore[union-attr]
    assert first.done == ", ".join([amount] * int(sets))
    assert (first.left, first.rpe) == ("4 or more", "5")
    assert sum(row.is_first_of_day for row in page.done) == len(sessions) == 2
    assert (page.recent, page.older) == (page.done, ())


def test_load_monotony_and_strain_follow_fosters_formulas() -> None:
    """S: Foster 1998: load = session RPE x minutes, monotony = mean / SD of the daily loads, strain = load x monotony.

    Two sessions of RPE 5 and 30 min: 150 on two of seven days. Mean 300/7 = 42.857, sample SD 73.193, so monotony 0.586
    and strain 175.7, worked out by hand from those formulas.
    """
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        page = read_rider(someone.rider, club=someone.club, may_see_health=True, now=people.NOW)
    week = page.loads[0]
    assert (week.sessions, week.load, week.monotony, week.strain) == (2, "300", "0.59", "176")
    assert page.loads[1].monotony == "–"


def test_this_week_and_the_next_are_shown_with_their_plans() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        plan = plan_of(someone.rider, resolved(someone))
        page = read_rider(someone.rider, club=someone.club, may_see_health=True, now=people.NOW)
    assert [week.week for week in page.weeks] == [Week(2026, 48), Week(2026, 49)]
    assert [week.state_word for week in page.weeks] == ["sent", "to be looked at"]
    html = signed_in(someone.coach).get(address(someone.rider)).content.decode()
    assert reverse("plan", args=[plan.pk]) in html
    assert "strength done, session RPE 5" in html


def test_pain_is_shown_by_site_to_those_who_may_see_it_and_noted() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        report_pain(someone.rider, 6)
        report_symptom(someone.young_rider, Symptom.FAINTING)
    html = signed_in(someone.welfare).get(address(someone.rider)).content.decode()
    assert "Knee (left)" in html
    assert "When to see a physiotherapist or doctor" in html
    assert "Fainting" in signed_in(someone.coach).get(address(someone.young_rider)).content.decode()
    with access.within(someone.club):
        entries = AuditEntry.objects.filter(action="health.read").order_by("pk")
        read = [(entry.actor, entry.rider_key, entry.subject) for entry in entries]
    assert read == [
        (f"coach:{someone.welfare.pk}", someone.rider.pk, "rider"),
        (f"coach:{someone.coach.pk}", someone.young_rider.pk, "rider"),
    ]


def test_an_assistant_reads_no_health_detail_and_leaves_no_entry_of_it() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        report_pain(someone.rider, 6)
        Consent.objects.filter(rider=someone.young_rider).update(withdrawn_at=people.NOW)
    html = signed_in(someone.assistant).get(address(someone.rider)).content.decode()
    main = html[html.index("<main") : html.index("</main>")]
    assert not re.search(r"knee \(|out of 10|Screening|pain [0-9]", main, re.IGNORECASE)
    assert "Health reason" in main
    young = signed_in(someone.assistant).get(address(someone.young_rider)).content.decode()
    assert "Health reason." in young
    assert "onsent" not in young[young.index("<main") : young.index("</main>")]
    with access.within(someone.club):
        assert not AuditEntry.objects.filter(action="health.read").exists()


def test_a_pause_holds_what_was_approved_at_once_and_resume_lets_it_be_worked_out() -> None:
    someone = people.wexenfold()
    client = signed_in(someone.coach)
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    client.post(reverse("plan-approve", args=[plan.pk]))
    client.post(reverse("rider-pause", args=[someone.rider.pk]))
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.HELD
        assert Rider.objects.get(pk=someone.rider.pk).state == Rider.State.PAUSED
    assert "Resume" in client.get(address(someone.rider)).content.decode()
    client.post(reverse("rider-resume", args=[someone.rider.pk]))
    client.post(reverse("rider-work-out", args=[someone.rider.pk, 2026, 49]))
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.DRAFT


def test_working_out_again_leaves_what_was_approved_and_the_other_riders_alone() -> None:
    someone = people.wexenfold()
    client = signed_in(someone.coach)
    with access.within(someone.club):
        plan, other = plan_of(someone.rider, resolved(someone)), plan_of(someone.young_rider, WEEK)
    client.post(reverse("plan-approve", args=[plan.pk]))
    html = client.post(
        reverse("rider-work-out", args=[someone.rider.pk, 2026, 49]), follow=True
    ).content.decode()
    assert "stays as it is" in html
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK) == plan
        assert plan_of(someone.young_rider, WEEK) == other


@pytest.mark.parametrize("role", ["assistant", "welfare"])
def test_who_may_not_plan_is_offered_no_pause_and_refused_one(role: str) -> None:
    someone = people.wexenfold()
    client = signed_in(getattr(someone, role))
    assert "<form" not in client.get(address(someone.rider)).content.decode().split("<main")[1]
    for name in ("rider-pause", "rider-resume"):
        assert client.post(reverse(name, args=[someone.rider.pk])).status_code == 403
    assert client.post(reverse("rider-work-out", args=[someone.rider.pk, 2026, 49])).status_code == 403


def test_a_rider_of_another_club_is_not_found() -> None:
    someone, stranger = people.wexenfold(), people.strangers()
    client = signed_in(someone.owner)
    assert client.get(address(someone.rider)).status_code == 200
    assert client.get(address(stranger.rider)).status_code == 404
    assert client.post(reverse("rider-pause", args=[stranger.rider.pk])).status_code == 404


def test_the_page_asks_no_more_when_the_club_grows_and_the_history_too() -> None:
    someone = people.wexenfold()
    client = signed_in(someone.coach)

    def count() -> int:
        client.get(address(someone.rider))
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address(someone.rider)).status_code == 200
        return len(queries)

    with access.within(someone.club):
        past_week(someone, someone.rider, Week(2026, 47))
        report_pain(someone.rider, 4)
        add_riders(someone, 1)
        resolved(someone)
    three = count()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        report_pain(someone.rider, 5)
        add_riders(someone, 9, first=1)
        resolved(someone)
    assert count() == three
