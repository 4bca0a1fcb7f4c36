"""Consent and screening behind a link: what a rider and a guardian may do, and what each is told."""

import pytest
from django.urls import reverse
from django.utils import timezone

from athletes import access, profiles
from athletes.models import AuditEntry, Consent, FollowUp, Screening
from tests.athletes.test_people_pages import SAID, page
from tests.people import wexenfold

pytestmark = pytest.mark.django_db
YOUNG = dict.fromkeys(
    [
        "symptoms_in_sport",
        "heart_condition",
        "sudden_death_in_family",
        "told_not_to_train",
        "long_term_condition",
        "head_injury_in_last_three_months",
        "injury_or_operation_in_last_year",
        "pain_at_night_or_limping",
        "limits_set",
    ],
    "no",
)


@pytest.fixture
def people():
    found = wexenfold(timezone.now())
    with access.within(found.club):
        Screening.objects.all().delete()
        Consent.objects.all().delete()
    return found


@pytest.fixture
def open_link(client, people):
    """Opens a link as the person it was sent to, and returns the page's address."""

    def go(rider, to):
        with access.within(people.club):
            token = access.make_link(
                rider=rider, purpose="consent", subject=to, now=timezone.now(), lasts=profiles.CONSENT_LINK
            )
        return client.get(reverse("link-enter", args=[token])).url

    return go


def test_an_adult_reads_agrees_answers_and_is_told_that_nothing_more_is_needed(client, people, open_link):
    address = open_link(people.rider, "rider")
    assert "May the club keep these health data?" in page(client.get(address))
    client.post(address, {"step": "consent", "given_by": "Tobias Okeldene", "agrees": "on"})
    assert "Health questions" in page(client.get(address))
    client.post(address, {"step": "screening", **SAID})
    assert "Nothing more is needed from you" in page(client.get(address))
    with access.within(people.club):
        assert Consent.objects.get().given_by == "Tobias Okeldene"
        assert Screening.objects.get().answered_by == "Tobias Okeldene"


def test_nothing_is_stored_without_the_tick(client, people, open_link):
    address = open_link(people.rider, "rider")
    answer = client.post(address, {"step": "consent", "given_by": "Tobias"})
    assert answer.status_code == 422
    assert "Tick the box if you agree" in page(answer)
    with access.within(people.club):
        assert not Consent.objects.exists()


def test_answers_before_consent_are_not_stored(client, people, open_link):
    client.post(open_link(people.rider, "rider"), {"step": "screening", **SAID})
    with access.within(people.club):
        assert not Screening.objects.exists()


def test_reading_the_page_changes_nothing(client, people, open_link):
    address = open_link(people.rider, "rider")
    with access.within(people.club):
        before = AuditEntry.objects.count()
    client.get(address)
    client.head(address)
    with access.within(people.club):
        assert AuditEntry.objects.count() == before
        assert not Consent.objects.exists()


def test_a_young_rider_s_own_link_explains_and_takes_no_consent(client, people, open_link):
    address = open_link(people.young_rider, "rider")
    assert "Your parent or guardian has agreed" in page(client.get(address))
    client.post(address, {"step": "consent", "given_by": "Wren", "agrees": "on"})
    with access.within(people.club):
        assert not Consent.objects.exists()


def test_a_guardian_consents_and_answers_for_a_young_rider(client, people, open_link):
    address = open_link(people.young_rider, "guardian")
    assert "for their parent or guardian" in page(client.get(address))
    client.post(address, {"step": "consent", "given_by": "Marit Tollifant", "agrees": "on"})
    client.post(address, {"step": "screening", **YOUNG, "symptoms_in_sport": "yes"})
    shown = page(client.get(address))
    assert "Do not train for now" in shown
    assert "local emergency number" in shown
    with access.within(people.club):
        consent, row = Consent.objects.get(), Screening.objects.get()
        assert consent.by_guardian
        assert row.by_guardian
        assert row.needs == "stop-and-clearance"
        assert FollowUp.objects.get(topic="screening").urgency == 2
        assert AuditEntry.objects.get(action="consent.give").actor == f"guardian-of:{people.young_rider.pk}"


def test_a_guardian_s_link_is_of_no_use_once_the_rider_is_18(client, people, open_link):
    address = open_link(people.rider, "guardian")
    assert "decides alone" in page(client.get(address))
    client.post(address, {"step": "consent", "given_by": "Parent", "agrees": "on"})
    with access.within(people.club):
        assert not Consent.objects.exists()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"disease": "yes", "active": "no"}, "A clinician is asked first"),
        ({"pregnant": "yes"}, "A clinician&#x27;s limits are needed"),
        ({"pregnant": "unsaid"}, "A clinician&#x27;s limits are needed"),
    ],
)
def test_what_the_answers_ask_for_is_said(client, people, open_link, changes, words):
    address = open_link(people.rider, "rider")
    client.post(address, {"step": "consent", "given_by": "Tobias", "agrees": "on"})
    client.post(address, {"step": "screening", **SAID, **changes})
    assert words in page(client.get(address)).replace("&#39;", "&#x27;").replace("'", "&#x27;")


def test_consent_is_withdrawn_by_link_and_can_be_given_again(client, people, open_link):
    address = open_link(people.rider, "rider")
    client.post(address, {"step": "consent", "given_by": "Tobias", "agrees": "on"})
    client.post(address + "withdraw/")
    with access.within(people.club):
        assert not Consent.objects.standing().exists()
        assert FollowUp.objects.filter(topic="screening").exists()
    assert "May the club keep these health data?" in page(client.get(address))


def test_a_link_that_opens_nothing_says_how_to_get_a_fresh_one(client, people):
    answer = client.get(reverse("link-enter", args=["nonsense"]))
    assert answer.status_code == 404
    assert "newest weekly mail" in page(answer)
    assert client.get(reverse("link-consent", args=[1])).status_code == 404
