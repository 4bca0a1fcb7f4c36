"""Pain, warning symptoms and consent in the check-in: what is asked, kept and answered."""

from datetime import timedelta

import pytest

from athletes import access, pain
from athletes.models import AuditEntry, BodyReport, Consent, Delivery, FollowUp, Link, SymptomReport
from programs import checkins, relief
from tests.forms import untouched
from tests.programs.rider_visits import AS_PLANNED, EVENING, Visit, begin, change, hurt

Purpose = Link.Purpose
pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(monkeypatch: pytest.MonkeyPatch) -> Visit:
    return begin(monkeypatch)


# --- pain -------------------------------------------------------------------------------------------------------------


def test_pain_is_answered_with_the_clinician_notice_and_an_eased_week(visit: Visit) -> None:
    form = hurt(visit, 6)
    address = visit.open(Purpose.SESSION)
    page = visit.client.post(address, form, follow=True).content.decode()
    assert "See a physiotherapist or doctor" in page
    assert "Stop the exercise if pain rises above the limit you agreed" in page
    assert "Your plan has been eased" in page
    assert "A new plan is on its way by mail" in page
    assert "6 out of 10" in page
    with visit.within():
        report = BodyReport.objects.get()
        assert (report.on, report.region, report.side, report.during) == (
            visit.planned().on,
            "knee",
            "left",
            6,
        )
        assert report.next_morning is None
        assert FollowUp.objects.open().get(rider=visit.rider).topic == "pain"


def test_pain_never_stands_in_a_cookie_or_in_the_browsers_session(visit: Visit) -> None:
    form = hurt(visit, 6, **{"session-note": "The knee grumbles."})
    address = visit.open(Purpose.SESSION)
    visit.client.post(address, form, follow=True)
    kept = str({name: morsel.value for name, morsel in visit.client.cookies.items()})
    kept += str(dict(visit.client.session.items()))
    assert not [word for word in ("knee", "left", "grumbles", "pain") if word in kept]
    assert set(visit.client.session.keys()) == {access.RIDER_LINKS}


def test_a_calm_report_of_pain_changes_no_plan_and_still_carries_the_notice(visit: Visit) -> None:
    form = hurt(visit, 2)
    address = visit.open(Purpose.SESSION)
    page = visit.client.post(address, form, follow=True).content.decode()
    assert "See a physiotherapist or doctor for pain that lasts" in page
    assert "Your plan has been eased" not in page


def test_a_sign_counts_without_a_score(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, **{**AS_PLANNED, "body__hurts": "yes"})
    form |= {"place-1-region": "ankle", "place-1-side": "left", "place-1-signs": ["cannot-bear-weight"]}
    page = visit.client.post(address, form, follow=True).content.decode()
    assert "No training for now" in page
    with visit.within():
        assert BodyReport.objects.get().signs == ["cannot-bear-weight"]


def test_soreness_keeps_what_was_ticked_and_a_second_place_counts_too(visit: Visit) -> None:
    form = hurt(visit, 3)
    form |= {
        "place-2-region": "front-thigh",
        "place-2-side": "both",
        "place-2-during": "3",
        "place-2-kind": "soreness",
        "place-2-traits": ["both-sides", "in-the-muscle", "after-new-work", "eases-on-moving"],
        "place-2-hours": "30",
    }
    address = visit.open(Purpose.SESSION)
    assert visit.client.post(address, form).status_code == 302
    with visit.within():
        sore = BodyReport.objects.get(region="front-thigh")
        assert (sore.kind, sore.hours_since_work, len(sore.traits)) == ("soreness", 30, 4)
        assert BodyReport.objects.count() == 2


def test_no_beside_a_filled_in_place_is_asked_about_and_never_thrown_away(visit: Visit) -> None:
    form = hurt(visit, 6, **{"body-hurts": "no"})
    address = visit.open(Purpose.SESSION)
    answered = visit.client.post(address, form)
    page = answered.content.decode()
    assert answered.status_code == 422
    assert "Choose “Yes”, or empty it" in page
    assert untouched(page)["place-1-region"] == ["knee"]
    assert 'class="form check-in all-shown"' in page


def test_yes_without_a_place_asks_where(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    answered = visit.client.post(address, visit.fill(address, **{**AS_PLANNED, "body__hurts": "yes"}))
    assert answered.status_code == 422
    assert "#id_place-1-region" in answered.content.decode()


def test_the_next_morning_is_asked_by_name_and_a_nought_is_an_answer(visit: Visit) -> None:
    first = visit.open(Purpose.SESSION)
    visit.client.post(first, hurt(visit, 3))
    visit.at(EVENING + timedelta(days=4))
    later = visit.open(Purpose.SESSION, subject=str(visit.key(2).pk))
    page = visit.client.get(later).content.decode()
    assert "How was your left knee this morning?" in page
    with visit.within():
        assert AuditEntry.objects.filter(action="health.read", subject="check-in").exists()
    form = visit.fill(later, **AS_PLANNED)
    form["body-knee_left"] = "0"
    assert visit.client.post(later, form).status_code == 302
    with visit.within():
        reports = pain.read_reports(visit.rider)
        assert [(one.on, one.during, one.next_morning) for one in reports] == [
            (visit.planned().on, 3, None),
            (visit.planned().on, 3, 0),
        ]
        assert checkins.sites_to_ask_about(visit.rider, on=visit.now.date()) == []


@pytest.mark.parametrize("said", ["unknown", None])
def test_a_morning_that_is_not_known_stays_unknown(visit: Visit, said: str | None) -> None:
    first = visit.open(Purpose.SESSION)
    visit.client.post(first, hurt(visit, 3))
    visit.at(EVENING + timedelta(days=4))
    later = visit.open(Purpose.SESSION, subject=str(visit.key(2).pk))
    form = visit.fill(later, **AS_PLANNED)
    if said:
        form["body-knee_left"] = said
    assert visit.client.post(later, form).status_code == 302
    with visit.within():
        assert BodyReport.objects.get().next_morning is None


def test_a_site_held_by_an_open_matter_is_asked_about_by_name_until_it_is_free(visit: Visit) -> None:
    first = visit.open(Purpose.SESSION)
    visit.client.post(first, hurt(visit, 6))
    with visit.within():
        report = BodyReport.objects.get()
        report.next_morning = 5
        report.save(update_fields=["next_morning"])
    visit.at(EVENING + timedelta(days=4))
    later = visit.open(Purpose.SESSION, subject=str(visit.key(2).pk))
    form = visit.fill(later, **AS_PLANNED)
    form["body-knee_left"] = "1"
    visit.client.post(later, form)
    with visit.within():
        newest = BodyReport.objects.order_by("pk").last()
        assert newest is not None
        assert (newest.on, newest.during, newest.next_morning) == (
            visit.now.date() - timedelta(days=1),
            None,
            1,
        )


def test_a_morning_that_has_not_come_cannot_be_told(visit: Visit) -> None:
    form = hurt(visit, 4, **{"place-1-next_morning": "5"})
    address = visit.open(Purpose.SESSION)
    answered = visit.client.post(address, form)
    assert answered.status_code == 422
    assert "has not come yet" in answered.content.decode()
    visit.at(EVENING + timedelta(days=1))
    assert visit.client.post(visit.open(Purpose.SESSION), form).status_code == 302


# --- warning symptoms -------------------------------------------------------------------------------------------------


def test_a_warning_symptom_is_kept_at_once_and_answered_with_help_first(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, session__outcome="part", session__minutes="", body__warning="yes")
    form["body-symptoms"] = ["chest-pain"]
    page = visit.client.post(address, form, follow=True).content.decode()
    assert page.index("Stop and get medical help now") < page.index("<h1>")
    assert "Call the emergency number." in page
    assert "Nothing is planned yet" in page
    with visit.within():
        assert SymptomReport.objects.get().symptom == "chest-pain"
        assert Delivery.objects.filter(kind=checkins.ALERT_MAIL).count() == 1
    (version,) = visit.versions()
    assert (version.outcome, version.minutes, version.session_rpe) == ("part", None, None)


def test_a_warning_symptom_gets_through_with_nothing_else_answered(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, body__warning="yes")
    form["body-symptoms"] = ["chest-pain"]
    assert visit.client.post(address, form).status_code == 302
    with visit.within():
        assert SymptomReport.objects.get().symptom == "chest-pain"
        assert Delivery.objects.filter(kind=checkins.ALERT_MAIL).count() == 1
    (version,) = visit.versions()
    assert (version.outcome, version.done_on, version.items.count()) == ("not-done", None, 0)


def test_a_symptom_in_a_form_with_an_error_shows_help_first_and_says_it_is_not_sent(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, session__minutes="900", body__warning="yes")
    form["body-symptoms"] = ["fainting"]
    answered = visit.client.post(address, form)
    page = answered.content.decode()
    assert answered.status_code == 422
    assert page.index("Stop and get medical help now") < page.index("Something needs changing")
    assert "has not been sent yet" in page
    assert untouched(page)["body-symptoms"] == ["fainting"]


def test_a_ticked_symptom_beside_none_of_these_is_asked_about(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, **AS_PLANNED)
    form["body-symptoms"] = ["palpitations"]
    answered = visit.client.post(address, form)
    assert answered.status_code == 422
    assert "Choose “Yes”, or take the tick away" in answered.content.decode()


def test_a_crash_stops_training_and_says_so(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, **{**AS_PLANNED, "body__warning": "yes"})
    form["body-events"] = ["crash"]
    page = visit.client.post(address, form, follow=True).content.decode()
    assert "No training for now" in page
    assert "Stop and get medical help now" not in page


def test_the_warning_stands_at_the_top_and_the_question_is_asked_outright(visit: Visit) -> None:
    page = visit.client.get(visit.open(Purpose.SESSION)).content.decode()
    assert page.index("call the local emergency number") < page.index("What did you do?")
    assert 'href="#warning"' in page
    assert 'id="warning"' in page
    assert "Under 18: limping" not in page


def test_a_young_rider_is_told_who_reads_it_and_asked_about_limping(monkeypatch: pytest.MonkeyPatch) -> None:
    visit = begin(monkeypatch, young=True)
    page = visit.client.get(visit.open(Purpose.SESSION)).content.decode()
    assert "Only those in the club who have access to health details read this" in page
    assert "Under 18: limping" in page


# --- consent ----------------------------------------------------------------------------------------------------------


def test_without_consent_nothing_about_the_body_is_asked_or_kept(visit: Visit) -> None:
    with visit.within():
        Consent.objects.filter(rider=visit.rider).update(withdrawn_at=visit.now)
    address = visit.open(Purpose.SESSION)
    page = visit.client.get(address).content.decode()
    assert "no consent is on record" in page
    assert "See a physiotherapist or a doctor" in page
    for name in ("body-hurts", "place-1-region", "body-symptoms", "session-note"):
        assert f'name="{name}"' not in page
    form = change(untouched(page), **AS_PLANNED)
    form |= {
        "place-1-region": "knee",
        "place-1-during": "7",
        "body-symptoms": "chest-pain",
        "session-note": "hurts",
    }
    assert visit.client.post(address, form).status_code == 302
    with visit.within():
        assert not BodyReport.objects.exists()
        assert not SymptomReport.objects.exists()
    assert visit.versions()[0].note == ""


def test_a_report_at_any_time_without_consent_keeps_nothing(visit: Visit) -> None:
    with visit.within():
        Consent.objects.filter(rider=visit.rider).update(withdrawn_at=visit.now)
    address = visit.open(Purpose.REPORT)
    assert "no consent is on record" in visit.client.get(address).content.decode()
    visit.client.post(address, {"body-hurts": "yes", "place-1-region": "knee", "place-1-during": "7"})
    with visit.within():
        assert not BodyReport.objects.exists()


def test_a_week_that_cannot_be_eased_never_costs_the_report(visit: Visit) -> None:
    def fail(**_what: object) -> list[object]:
        raise LookupError("an exercise that is gone")

    form = hurt(visit, 6)
    address = visit.open(Purpose.SESSION)
    visit.patch.setattr(relief, "ease_remaining", fail)
    answered = visit.client.post(address, form, follow=True)
    assert "See a physiotherapist or doctor" in answered.content.decode()
    with visit.within():
        assert BodyReport.objects.get().during == 6
        assert FollowUp.objects.open().get(rider=visit.rider).topic == "pain"
