"""The weekly desk: exceptions in order, a look at each, and one action for the rest."""

import re
from datetime import date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from athletes import access, followups, profiles
from athletes.concerns import Concern, Symptom, Topic, Urgency
from athletes.models import AuditEntry, Club, Coach, Consent, Delivery, Race, Rider, User
from athletes.vocabulary import Reason
from coaching.desk import Kind, WeekDesk, read_week
from programs import plans
from programs.engine.facts import Week
from programs.engine.safety import Breach
from programs.models import PlannedItem, PlannedSession, Program, WeekPlan
from programs.wording import short_day_words
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

APPROVE = reverse("week-approve", args=[2026, 49])
WORK_OUT = reverse("week-work-out", args=[2026, 49])


def read(someone: people.People, *, may_see_health: bool = True) -> WeekDesk:
    return read_week(
        club=someone.club, week=WEEK, may_see_health=may_see_health, now=people.NOW, by=someone.coach
    )


def kinds(page: WeekDesk) -> dict[str, Kind]:
    """The group in which each waiting rider stands, by given name."""
    return {entry.name.split()[0]: group.kind for group in page.groups for entry in group.entries}


def follow(rider: Rider, topic: Topic, key: str, urgency: Urgency = Urgency.ROUTINE) -> None:
    concern = Concern(topic, urgency, (Reason("M3", key, {"count": 2, "last_on": "2026-11-20"}),))
    followups.open_for(rider=rider, concern=concern, by="clock", now=people.NOW)


# --- what stands where ------------------------------------------------------------------------------------------------


def test_pain_comes_before_everything_else_and_the_rest_is_folded_away() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        sore, quiet, stalled, calm = add_riders(someone, 4)
        for rider in (sore, quiet, stalled, calm):
            past_week(someone, rider)
        report_pain(sore, 5)
        follow(quiet, Topic.MISSED, "missed-in-a-row")
        follow(stalled, Topic.STALLED, "stalled")
        resolved(someone)
        page = read(someone)
    assert [group.kind for group in page.groups] == sorted(group.kind for group in page.groups)
    found = kinds(page)
    assert found[sore.given_name] is Kind.HEALTH
    assert found[quiet.given_name] is Kind.QUIET
    assert found[stalled.given_name] is Kind.STALLED
    assert found["Wren"] is Kind.FIRST
    assert {entry.name for entry in page.rest} == {calm.name, someone.rider.name}
    assert page.to_look_at == 4


def test_a_rider_with_two_things_to_look_at_stands_once_under_the_graver() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        follow(someone.rider, Topic.MISSED, "missed-in-a-row")
        report_pain(someone.rider, 6)
        resolved(someone)
        page = read(someone)
    entries = [
        entry for group in page.groups for entry in group.entries if entry.rider_id == someone.rider.pk
    ]
    assert [entry.kind for entry in entries] == [Kind.HEALTH]
    assert "Missed sessions" in entries[0].also


def test_a_warning_symptom_holds_the_week_and_offers_no_approval() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        report_symptom(someone.rider, Symptom.CHEST_PAIN)
        resolved(someone)
        entry = read(someone).entry_of(someone.rider.pk)
    assert entry is not None
    assert (entry.kind, entry.state, entry.can_be_approved) == (Kind.HEALTH, WeekPlan.State.HELD, False)
    assert "Chest pain" in entry.why or "chest pain" in entry.why


def test_a_missing_consent_is_held_and_a_pause_needs_nobodys_look() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        (paused,) = add_riders(someone, 1)
        profiles.pause(rider=paused, by=someone.coach, now=people.NOW)
        Consent.objects.filter(rider=someone.rider).update(withdrawn_at=people.NOW)
        resolved(someone)
        page = read(someone)
    assert kinds(page)[someone.rider.given_name] is Kind.HELD
    assert paused.given_name not in kinds(page)
    assert page.paused == 1
    assert paused.pk not in page.approvable


def test_a_riders_sessions_stand_in_the_order_of_their_days() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        resolved(someone)
        first, *_middle, last = PlannedSession.objects.filter(plan__rider=someone.rider)
        early, late = first.on, last.on
        PlannedSession.objects.filter(pk=first.pk).update(on=late)
        PlannedSession.objects.filter(pk=last.pk).update(on=early)
        entry = read(someone).entry_of(someone.rider.pk)
    assert entry is not None
    assert [line.day for line in entry.sessions][:: len(entry.sessions) - 1] == [
        short_day_words(early),
        short_day_words(late),
    ]


def test_sessions_that_do_not_fit_before_a_race_are_said() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        for on in (date(2026, 12, 2), date(2026, 12, 5)):
            Race.objects.create(club=someone.club, name="Skarnock Bank Hill Climb", on=on, priority="other")
        resolved(someone)
        entry = read(someone).entry_of(someone.rider.pk)
    assert entry is not None
    assert entry.kind is Kind.PLACEMENT
    assert entry.word == "Session dropped"


def test_a_step_above_10_percent_is_a_big_change_and_one_below_is_not() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        resolved(someone)
        item = PlannedItem.objects.filter(
            session__plan__rider=someone.rider, session__plan__iso_week=49
        ).first()
        assert item is not None

        def target(kg: str) -> dict[str, object]:
            load = {"holding": {"implement": "kettlebell", "count": 1}, "kg": kg, "band": None}
            return item.target | {"load": load}

        for after, kind in (("12.5", None), ("16", Kind.CHANGES)):
            item.previous, item.target, item.change = target("12"), target(after), "more-load"
            item.save()
            entry = read(someone).entry_of(someone.rider.pk)
            assert entry is not None
            assert entry.kind is kind


def test_a_week_that_is_over_does_not_show_the_follow_ups_of_today() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider, Week(2026, 47))
        follow(someone.rider, Topic.MISSED, "missed-in-a-row")
        page = read_week(club=someone.club, week=Week(2026, 47), may_see_health=True, now=people.NOW)
    assert page.groups == ()
    assert [entry.state for entry in page.settled] == [WeekPlan.State.SENT]


def test_pain_in_the_running_week_is_shown_although_its_plan_has_gone_out() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        follow(someone.rider, Topic.MISSED, "missed-in-a-row")
        report_pain(someone.rider, 6)
        page = read_week(club=someone.club, week=Week(2026, 48), may_see_health=True, now=people.NOW)
    (group,) = page.groups
    assert (group.kind, [entry.rider_id for entry in group.entries]) == (Kind.HEALTH, [someone.rider.pk])
    assert page.settled == ()


# --- the page and its actions -----------------------------------------------------------------------------------------


def test_the_desk_shows_the_coming_week_and_any_week_by_its_address() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        resolved(someone)
    client = signed_in(someone.coach)
    html = client.get("/").content.decode()
    assert "30 November to 6 December 2026" in html
    assert "Sunday 29 November, 17:00" in html
    assert someone.rider.name in html
    assert "Nothing was planned in this week" in client.get("/week/2026/40/").content.decode()
    assert client.get("/week/2026/54/").status_code == 404


def test_the_first_plan_of_a_rider_is_never_approved_with_the_rest() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        resolved(someone)
        shown = ",".join(str(pk) for pk in WeekPlan.objects.of_week(2026, 49).values_list("pk", flat=True))
    signed_in(someone.coach).post(APPROVE, {"plans": shown})
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.APPROVED
        assert plan_of(someone.young_rider, WEEK).state == WeekPlan.State.DRAFT
        assert Delivery.objects.filter(rider=someone.rider, kind="week", state="due").exists()
        assert not Delivery.objects.filter(rider=someone.young_rider, kind="week").exists()


def test_only_plans_that_were_on_the_page_are_approved_together() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        (other,) = add_riders(someone, 1)
        past_week(someone, someone.rider)
        past_week(someone, other)
        resolved(someone)
        seen = plan_of(someone.rider, WEEK).pk
    signed_in(someone.coach).post(APPROVE, {"plans": f"{seen},nonsense"})
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.APPROVED
        assert plan_of(other, WEEK).state == WeekPlan.State.DRAFT


def test_one_undo_takes_back_what_one_action_approved() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        resolved(someone)
        page = read(someone)
    client = signed_in(someone.coach)
    html = client.post(APPROVE, {"plans": page.approvable}, follow=True).content.decode()
    at = re.search(r'name="at" value="([^"]+)"', html)
    assert at is not None
    client.post(reverse("week-take-back", args=[2026, 49]), {"at": at.group(1).replace("&#x2B;", "+")})
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.DRAFT
        assert Delivery.objects.get(rider=someone.rider, dedup_key__contains="2026-W49").state == "cancelled"


def test_one_rider_is_approved_and_taken_back_in_place() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    client = signed_in(someone.coach)
    answer = client.post(
        reverse("plan-approve", args=[plan.pk]), {"at": "desk"}, headers={"HX-Request": "true"}
    ).content.decode()
    assert answer.lstrip().startswith(f'<li class="entry with-strip" id="rider-{someone.rider.pk}">')
    assert "Take back" in answer
    assert 'id="desk-counts" hx-swap-oob' in answer
    assert "<html" not in answer
    client.post(reverse("plan-take-back", args=[plan.pk]), {"at": "desk"}, headers={"HX-Request": "true"})
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.DRAFT


def test_without_scripts_an_approval_leads_back_to_the_desk() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    answer = signed_in(someone.coach).post(reverse("plan-approve", args=[plan.pk]), {"at": "desk"})
    assert (answer.status_code, answer.headers["Location"]) == (302, reverse("desk-week", args=[2026, 49]))


def test_what_a_coach_may_set_aside_asks_for_a_reason_and_keeps_it(monkeypatch: pytest.MonkeyPatch) -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    breach = Breach("I4", Reason("I4", "too-many-sessions", {"count": 4, "most": 3}))
    monkeypatch.setattr(plans, "find_breaches", lambda plan, **context: (breach,))
    client = signed_in(someone.coach)
    address = reverse("plan-approve", args=[plan.pk])
    asked = client.post(address)
    assert asked.status_code == 422
    assert "4 sessions in a week; at most 3." in asked.content.decode()
    assert client.post(address, {"reason": " "}).status_code == 422
    assert client.post(address, {"reason": "Two of them are ten minutes of mobility."}).status_code == 302
    with access.within(someone.club):
        kept = plan_of(someone.rider, WEEK)
    assert (kept.state, kept.override_reason) == ("approved", "Two of them are ten minutes of mobility.")


def test_what_nobody_may_set_aside_is_refused_with_its_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    breach = Breach("I3", Reason("I3", "no-opening", {"on": "2026-12-02"}))
    monkeypatch.setattr(plans, "find_breaches", lambda plan, **context: (breach,))
    for sent in ({}, {"reason": "I insist."}):
        answer = signed_in(someone.coach).post(reverse("plan-approve", args=[plan.pk]), sent)
        assert answer.status_code == 422
        assert "The rider has no time on Wednesday 2 December." in answer.content.decode()
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.DRAFT


def test_the_week_is_worked_out_from_the_desk_but_not_one_far_off() -> None:
    someone = people.wexenfold()
    client = signed_in(someone.coach)
    assert "Work out the week now" in client.get("/").content.decode()
    client.post(WORK_OUT)
    client.post(reverse("week-work-out", args=[2027, 20]))
    with access.within(someone.club):
        weeks = {(plan.iso_year, plan.iso_week) for plan in WeekPlan.objects.all()}
    assert weeks == {(2026, 49)}
    assert "Work out the week now" not in client.get("/").content.decode()


def test_a_rider_who_joined_after_the_week_was_worked_out_is_named() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        resolved(someone)
        (late,) = add_riders(someone, 1)
    html = signed_in(someone.coach).get("/").content.decode()
    assert "One rider has no plan for this week" in html
    assert late.name in html


def test_a_fresh_club_is_told_what_the_page_will_show() -> None:
    club = Club(name="Tolmarrow Wheelers")
    with access.within(club):
        club.save()
        owner = Coach.objects.create(
            club=club, user=User.objects.create_user("o@tolmarrow.example", name="Orla"), role="owner"
        )
    assert "No riders yet" in signed_in(owner).get("/").content.decode()
    someone = people.wexenfold()
    with access.within(someone.club):
        Program.objects.update(is_active=False)
    assert "No program in use" in signed_in(someone.owner).get("/").content.decode()


# --- who sees and does what -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("role", ["assistant", "welfare"])
def test_who_may_not_plan_sees_no_approval_and_is_refused_one(role: str) -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    client = signed_in(getattr(someone, role))
    html = client.get("/").content.decode()
    assert someone.rider.name in html
    assert "<form" not in html[html.index("<main") :]
    for address in (APPROVE, WORK_OUT, reverse("plan-approve", args=[plan.pk])):
        assert client.post(address).status_code == 403
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.DRAFT


def test_an_assistant_reads_health_reason_and_nothing_of_the_pain() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        report_pain(someone.rider, 6)
        resolved(someone)
    hidden = signed_in(someone.assistant).get("/").content.decode()
    main = hidden[hidden.index("<main") : hidden.index("</main>")]
    assert "Health reason" in main
    assert not re.search(
        r"knee|\bpain\b|out of 10", main.replace("pain, symptoms, what was eased", ""), re.IGNORECASE
    )
    shown = signed_in(someone.welfare).get("/").content.decode()
    assert "Knee (left)" in shown


def test_reading_health_on_the_desk_leaves_one_audit_entry_with_the_riders_numbers() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        resolved(someone)
        before = AuditEntry.objects.filter(action="health.read").count()
    signed_in(someone.coach).get("/")
    with access.within(someone.club):
        assert AuditEntry.objects.filter(action="health.read").count() == before
        report_pain(someone.rider, 6)
    signed_in(someone.assistant).get("/")
    signed_in(someone.coach).get("/")
    with access.within(someone.club):
        entry = AuditEntry.objects.get(action="health.read")
    assert entry.actor == f"coach:{someone.coach.pk}"
    assert entry.details == {"riders": [someone.rider.pk]}


def test_nothing_of_another_club_is_on_the_desk_or_can_be_approved_from_it() -> None:
    someone, stranger = people.wexenfold(), people.strangers()
    with access.within(stranger.club):
        plans.resolve(club=stranger.club, week=WEEK, by=stranger.coach, now=people.NOW)
        theirs = plan_of(stranger.rider, WEEK)
    client = signed_in(someone.coach)
    client.post(WORK_OUT)
    assert stranger.rider.name not in client.get("/").content.decode()
    assert client.post(reverse("plan-approve", args=[theirs.pk])).status_code == 404
    client.post(APPROVE, {"plans": str(theirs.pk)})
    with access.within(stranger.club):
        assert plan_of(stranger.rider, WEEK).state == WeekPlan.State.DRAFT


def count_queries(client: Client, address: str) -> int:
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_the_desk_asks_no_more_for_twelve_riders_than_for_three(friday: datetime) -> None:
    someone = people.wexenfold(friday - timedelta(weeks=3))
    client = signed_in(someone.coach)
    with access.within(someone.club):
        for rider in (someone.rider, *add_riders(someone, 1)):
            past_week(someone, rider)
        report_pain(someone.rider, 5)
        resolved(someone)
    three = count_queries(client, "/")
    with access.within(someone.club):
        for rider in add_riders(someone, 9, first=1):
            report_pain(rider, 4)
        resolved(someone)
        assert Rider.objects.count() == 12
    assert count_queries(client, "/") == three
