"""Follow-ups: by urgency, with a history, closed with an outcome that says what it does."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from athletes import access, followups
from athletes.concerns import Concern, Outcome, Symptom, Topic, Urgency
from athletes.models import AuditEntry, FollowUp, FollowUpEntry, Rider, Screening, SymptomReport
from athletes.vocabulary import Reason
from coaching.forms import PAIN_OUTCOMES
from programs.models import WeekPlan
from tests import people
from tests.coaching.desks import (
    WEEK,
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
LIST = reverse("follow-ups")


def missed(rider: Rider) -> FollowUp:
    """An everyday follow-up."""
    why = Reason("M3", "missed-in-a-row", {"count": 2, "last_on": "2026-11-26"})
    concern = Concern(Topic.MISSED, Urgency.ROUTINE, (why,))
    return followups.open_for(rider=rider, concern=concern, by="clock", now=people.NOW)


def pain_of(someone: people.People, score: int = 6) -> FollowUp:
    """An open pain matter of the club's rider."""
    past_week(someone, someone.rider)
    report_pain(someone.rider, score)
    return FollowUp.objects.open().get(rider=someone.rider, topic="pain")


def address(follow_up: FollowUp, what: str = "") -> str:
    return reverse(f"follow-up-{what}" if what else "follow-up", args=[follow_up.pk])


def test_the_most_urgent_stands_first() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        missed(someone.rider)
        report_symptom(someone.young_rider, Symptom.FAINTING)
    html = signed_in(someone.coach).get(LIST).content.decode()
    assert html.index(someone.young_rider.name) < html.index(someone.rider.name)
    assert "2 are open" in html


def test_filters_are_addresses() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = missed(someone.rider)
    owner, coach = signed_in(someone.owner), signed_in(someone.coach)
    assert someone.rider.name in coach.get(f"{LIST}?whose=mine").content.decode()
    assert someone.rider.name not in owner.get(f"{LIST}?whose=mine").content.decode()
    assert someone.rider.name not in coach.get(f"{LIST}?state=closed").content.decode()
    coach.post(address(follow_up, "close"), {"close-text": "Was on holiday."})
    assert someone.rider.name in coach.get(f"{LIST}?state=closed").content.decode()
    assert someone.rider.name not in coach.get(LIST).content.decode()


def test_overdue_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = missed(someone.rider)
        FollowUp.objects.filter(pk=follow_up.pk).update(due_at=people.NOW - timedelta(hours=1))
    html = signed_in(someone.coach).get(LIST).content.decode()
    assert "one overdue" in html
    assert "today, 12:00" in html


def test_a_note_and_a_contact_stand_in_the_history() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = missed(someone.rider)
    client = signed_in(someone.coach)
    assert client.post(address(follow_up, "note"), {"note-text": ""}).status_code == 422
    client.post(address(follow_up, "note"), {"note-text": "Rang, no answer."})
    client.post(address(follow_up, "note"), {"note-text": "Spoke to him.", "note-contact": "on"})
    html = client.get(address(follow_up)).content.decode()
    assert html.index("Rang, no answer.") < html.index("Spoke to him.")
    with access.within(someone.club):
        kinds = list(FollowUpEntry.objects.filter(follow_up=follow_up).values_list("kind", flat=True))
    assert kinds == ["opened", "note", "contact"]


def test_it_is_put_off_to_a_later_day_only() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = missed(someone.rider)
    client = signed_in(someone.coach)
    assert client.post(address(follow_up, "put-off"), {"put-off-until": "2026-11-27"}).status_code == 422
    client.post(address(follow_up, "put-off"), {"put-off-until": "2026-12-04"})
    with access.within(someone.club):
        follow_up.refresh_from_db()
    assert follow_up.due_at == datetime.combine(date(2026, 12, 4), time(20), ZoneInfo("Europe/London"))
    assert "until Friday 4 December, 20:00" in client.get(address(follow_up)).content.decode()


def test_it_is_handed_over_to_who_may_plan_only() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = missed(someone.rider)
    client = signed_in(someone.coach)
    refused = client.post(address(follow_up, "hand-over"), {"hand-over-to": someone.assistant.pk})
    assert refused.status_code == 422
    client.post(address(follow_up, "hand-over"), {"hand-over-to": someone.owner.pk})
    with access.within(someone.club):
        follow_up.refresh_from_db()
    assert follow_up.owner_id == someone.owner.pk


def test_each_outcome_of_a_pain_matter_says_what_it_does_to_the_plan() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = pain_of(someone)
    html = signed_in(someone.coach).get(address(follow_up)).content.decode()
    assert {value for value, _words in PAIN_OUTCOMES} == {outcome.value for outcome in Outcome}
    for _value, words in PAIN_OUTCOMES:
        assert str(words) in html
    assert "When to see a physiotherapist or doctor" in html


def test_a_pain_matter_is_not_closed_without_an_outcome() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = pain_of(someone)
    answer = signed_in(someone.coach).post(address(follow_up, "close"), {"close-text": "Better."})
    assert answer.status_code == 422
    assert "Choose how the rider goes on." in answer.content.decode()
    assert "Better." in answer.content.decode()
    with access.within(someone.club):
        follow_up.refresh_from_db()
    assert follow_up.is_open


def test_a_closed_matter_offers_the_week_again_and_a_halt_can_be_reopened() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = pain_of(someone)
        before = plan_of(someone.rider, resolved(someone))
    client = signed_in(someone.coach)
    client.post(
        address(follow_up, "close"), {"close-outcome": "referred", "close-text": "To a physiotherapist."}
    )
    html = client.get(address(follow_up)).content.decode()
    again = reverse("rider-work-out", args=[someone.rider.pk, WEEK.year, WEEK.number])
    assert again in html
    assert "stays out until a later outcome allows it" in html
    client.post(again)
    client.post(address(follow_up, "open"))
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).revision == before.revision + 1
        opened = FollowUp.objects.open().get(rider=someone.rider, topic="pain")
    assert (opened.region, opened.side) == (follow_up.region, follow_up.side)
    assert opened.pk != follow_up.pk


def test_clearance_of_a_symptom_is_recorded_and_only_then_is_anything_planned() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        report_symptom(someone.rider, Symptom.FAINTING)
        resolved(someone)
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.HELD
        follow_up = FollowUp.objects.open().get(rider=someone.rider)
        report = SymptomReport.objects.get(rider=someone.rider)
    client = signed_in(someone.coach)
    clear = reverse("follow-up-clear-report", args=[follow_up.pk, report.pk])
    again = reverse("rider-work-out", args=[someone.rider.pk, 2026, 49])
    client.post(again)
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.HELD
    prefix = f"report-{report.pk}"
    for wrong in (
        {f"{prefix}-cleared_by": "", f"{prefix}-cleared_on": "2026-11-27"},
        {f"{prefix}-cleared_by": "Dr Ansgarth", f"{prefix}-cleared_on": "2026-11-28"},
        {f"{prefix}-cleared_by": "Dr Ansgarth", f"{prefix}-cleared_on": "2026-11-26"},
    ):
        assert client.post(clear, wrong).status_code == 422
    client.post(clear, {f"{prefix}-cleared_by": "Dr Ansgarth", f"{prefix}-cleared_on": "2026-11-27"})
    client.post(again)
    with access.within(someone.club):
        report.refresh_from_db()
        assert (report.cleared_by, report.cleared_on) == ("Dr Ansgarth", date(2026, 11, 27))
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.DRAFT


def test_clearance_of_a_screening_is_recorded_from_its_follow_up() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        screening = Screening.objects.get(rider=someone.rider)
        Screening.objects.filter(pk=screening.pk).update(needs="clearance")
        resolved(someone)
        follow_up = FollowUp.objects.open().get(rider=someone.rider, topic="screening")
    client = signed_in(someone.coach)
    assert "asks for clearance" in client.get(address(follow_up)).content.decode()
    prefix = f"screening-{screening.pk}"
    client.post(
        reverse("follow-up-clear-screening", args=[follow_up.pk, screening.pk]),
        {f"{prefix}-cleared_by": "Dr Ansgarth", f"{prefix}-cleared_on": "2026-11-27"},
    )
    client.post(reverse("rider-work-out", args=[someone.rider.pk, 2026, 49]))
    with access.within(someone.club):
        assert Screening.objects.get(pk=screening.pk).cleared_by == "Dr Ansgarth"
        assert plan_of(someone.rider, WEEK).state == WeekPlan.State.DRAFT


def test_an_assistant_reads_health_reason_on_the_list_and_on_the_page() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = pain_of(someone)
        followups.note(
            follow_up=follow_up, text="Limped in.", contact=False, by=someone.coach, now=people.NOW
        )
    client = signed_in(someone.assistant)
    for page in (LIST, address(follow_up)):
        main = client.get(page).content.decode().split("<main")[1].split("</main>")[0]
        assert "Health reason" in main
        assert "knee" not in main.lower()
        assert "Limped in." not in main
        assert "<form" not in main
    with access.within(someone.club):
        assert not AuditEntry.objects.filter(action="health.read").exists()


def test_reading_health_on_the_list_and_on_the_page_is_noted() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        everyday = missed(someone.young_rider)
        follow_up = pain_of(someone)
    client = signed_in(someone.welfare)
    for page in (LIST, address(follow_up), address(everyday)):
        client.get(page)
    with access.within(someone.club):
        entries = AuditEntry.objects.filter(action="health.read").order_by("pk")
        read = [(entry.subject, entry.rider_key, entry.details) for entry in entries]
    assert read == [
        ("follow-ups", None, {"riders": [someone.rider.pk]}),
        (f"follow-up:{follow_up.pk}", someone.rider.pk, {}),
    ]


@pytest.mark.parametrize("role", ["assistant", "welfare"])
@pytest.mark.parametrize("what", ["note", "put-off", "hand-over", "close", "open"])
def test_only_who_may_plan_changes_a_follow_up(role: str, what: str) -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        follow_up = missed(someone.rider)
    assert signed_in(getattr(someone, role)).post(address(follow_up, what)).status_code == 403
    with access.within(someone.club):
        follow_up.refresh_from_db()
        assert follow_up.is_open
        assert follow_up.entries.count() == 1


def test_a_follow_up_of_another_club_is_not_found() -> None:
    someone, stranger = people.wexenfold(), people.strangers()
    with access.within(stranger.club):
        theirs = missed(stranger.rider)
    client = signed_in(someone.owner)
    assert client.get(address(theirs)).status_code == 404
    assert client.post(address(theirs, "close")).status_code == 404
    assert stranger.rider.name not in client.get(LIST).content.decode()


def test_empty_lists_say_what_they_will_show() -> None:
    someone = people.wexenfold()
    client = signed_in(someone.coach)
    assert "Nothing to follow up" in client.get(LIST).content.decode()
    assert "Nothing closed yet" in client.get(f"{LIST}?state=closed").content.decode()
