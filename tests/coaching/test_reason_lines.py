"""Reasons on the coach's pages: each leads to where it is put right, names what it is about, says things once."""

import pytest
from django.urls import resolve, reverse

from athletes import access, followups
from athletes.concerns import Concern, Topic, Urgency
from athletes.models import Consent, Rider
from athletes.vocabulary import Reason
from coaching.desk.findings import Finder
from coaching.desk.ways import WAYS
from coaching.desk.words import exercise_names
from programs import wording
from tests import people
from tests.coaching.desks import WEEK, friday, past_week, plan_of, report_pain, resolved, signed_in

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("friday")]
__all__ = ["friday"]


def test_every_way_is_a_page_of_a_rider_and_every_key_a_reason() -> None:
    for key, (name, label) in WAYS.items():
        assert key in wording.catalogue()
        assert resolve(reverse(name, args=[1])).kwargs == {"rider_id": 1}
        assert str(label)


def test_a_follow_up_on_missing_consent_leads_to_the_consent_page() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        why = Reason("T0", "no-consent")
        concern = Concern(Topic.SCREENING, Urgency.ROUTINE, (why,))
        follow_up = followups.open_for(rider=someone.rider, concern=concern, by="clock", now=people.NOW)
    html = signed_in(someone.coach).get(reverse("follow-up", args=[follow_up.pk])).content.decode()
    assert f'<a href="{reverse("rider-consent", args=[someone.rider.pk])}">Open consent</a>' in html


def test_a_week_held_for_missing_consent_leads_to_the_consent_page() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        Consent.objects.filter(rider=someone.rider).delete()
        plan = plan_of(someone.rider, resolved(someone))
    html = signed_in(someone.coach).get(reverse("plan", args=[plan.pk])).content.decode()
    assert f'<a href="{reverse("rider-consent", args=[someone.rider.pk])}">Open consent</a>' in html


def test_an_adult_who_is_not_recorded_leads_to_the_riders_details() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        Rider.objects.filter(pk=someone.young_rider.pk).update(growth="yes", adult_present=False)
        plan = plan_of(someone.young_rider, resolved(someone))
    html = signed_in(someone.coach).get(reverse("plan", args=[plan.pk])).content.decode()
    assert "An adult must be present" in html
    assert f'href="{reverse("rider-edit", args=[someone.young_rider.pk])}"' in html


def test_what_is_left_out_for_pain_is_named_on_the_desk() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        report_pain(someone.rider, 7)
        resolved(someone)
        plan = plan_of(someone.rider, WEEK)
        names = exercise_names()
        found = list(Finder({}, names, True).find(plan, list(plan.sessions.all())))
    said = [one.why for one in found if one.word == "Left out"]
    assert said
    for sentence in said:
        name, _colon, why = sentence.partition(": ")
        assert name in names.values()
        assert why


def test_a_new_exercise_is_called_new_once() -> None:
    said = wording.sentence(Reason("S2", "new-exercise", {"sets": 2, "amount": 6, "reps_left": 4}))
    assert said == "Begins with 2 sets of 6, 4 good reps left."


def test_the_week_says_its_points_in_the_days_and_not_among_its_reasons() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    html = signed_in(someone.coach).get(reverse("plan", args=[plan.pk])).content.decode()
    week = html[html.index(">The week<") : html.index("Why this week is as it is")]
    assert "points" not in week
    assert "Points say how badly a day suits" in html


def test_whoever_may_not_plan_gets_no_link_that_leads_nowhere() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        Rider.objects.filter(pk=someone.young_rider.pk).update(growth="yes", adult_present=False)
        plan = plan_of(someone.young_rider, resolved(someone))
    html = signed_in(someone.assistant).get(reverse("plan", args=[plan.pk])).content.decode()
    assert f'href="{reverse("rider-edit", args=[someone.young_rider.pk])}"' not in html
