"""Riders' links: what each opens, that opening changes nothing, and the end of plan mail by one click.

Source: RFC 8058 (one-click unsubscription: 3.1 the header pair, 3.2 a POST of List-Unsubscribe=One-Click without
cookies or other credentials, no redirect), read at the RFC Editor.
"""

from datetime import timedelta
from html import unescape

import pytest
from django.test import Client

from athletes import access, outbox
from athletes.models import BodyReport, Delivery, Link, Suppression, SymptomReport
from programs import checkins, letters, plans
from programs.engine.quantities import shift_week
from programs.models import SessionKey, WeekPlan
from tests import people
from tests.forms import untouched
from tests.programs.rider_visits import AS_PLANNED, EVENING, WEEK, Visit, begin, change, rows

Purpose = Link.Purpose
pytestmark = pytest.mark.django_db
ONE_CLICK = {"List-Unsubscribe": "One-Click"}


@pytest.fixture
def visit(monkeypatch: pytest.MonkeyPatch) -> Visit:
    return begin(monkeypatch)


# --- opening changes nothing ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("verb", ["get", "head"])
def test_following_every_link_changes_no_row_but_session_and_audit(visit: Visit, verb: str) -> None:
    session = visit.open(Purpose.SESSION)
    form = visit.fill(session, **{**AS_PLANNED, "body__hurts": "yes"})
    form |= {"place-1-region": "knee", "place-1-side": "left", "place-1-during": "4"}
    visit.client.post(session, form)
    tokens = {
        purpose: visit.token(purpose, subject=str(visit.key().pk) if purpose == Purpose.SESSION else "")
        for purpose in (Purpose.SESSION, Purpose.REPORT, Purpose.PAGE, Purpose.STOP_MAIL)
    }
    with visit.within():
        before = rows()
    assert before["programs_checkinversion"][0] == 1
    ask = getattr(Client(), verb)
    for purpose, token in tokens.items():
        for address in (f"/l/{token}/", f"/stop/{token}/"):
            opened = ask(address)
            assert opened.status_code == 302
            assert token not in opened["Location"]
            assert ask(opened["Location"]).status_code == 200, purpose
            if purpose == Purpose.SESSION:
                assert ask(f"{opened['Location']}answer/").status_code == 200
    with visit.within():
        assert rows() == before


def test_a_page_behind_a_link_is_kept_by_no_cache_and_asks_robots_to_stay_out(visit: Visit) -> None:
    answered = visit.client.get(visit.open(Purpose.SESSION))
    assert answered["Cache-Control"] == "no-store"
    assert answered["Referrer-Policy"] == "same-origin"
    assert 'name="robots" content="noindex, nofollow"' in answered.content.decode()


# --- what a link does not open ----------------------------------------------------------------------------------------


def test_a_links_number_opens_nothing_without_its_token(visit: Visit) -> None:
    addresses = [visit.open(purpose) for purpose in (Purpose.SESSION, Purpose.REPORT, Purpose.PAGE)]
    stranger = Client()
    for address in addresses:
        assert visit.client.get(address).status_code == 200
        refused = stranger.get(address)
        assert refused.status_code == 404
        assert "This link is over" in refused.content.decode()
        assert stranger.post(address, {"session-outcome": "done"}).status_code == 404
    assert visit.versions() == []


def test_a_session_link_opens_its_own_session_alone(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    assert visit.client.get(f"{address}{visit.key(1).pk}/").status_code == 200
    assert visit.client.get(f"{address}{visit.key(2).pk}/").status_code == 404
    assert visit.client.get(address.replace("session/", "page/")).status_code == 404
    assert visit.client.get(address.replace("session/", "stop-mail/")).status_code == 404


def test_a_page_link_opens_the_sessions_of_its_rider_and_of_nobody_else(visit: Visit) -> None:
    page = visit.open(Purpose.PAGE)
    link = page.removesuffix("page/")
    assert visit.client.get(f"{link}session/{visit.key(1).pk}/").status_code == 200
    with visit.within():
        other = SessionKey.objects.filter(rider=visit.someone.young_rider).first()
    assert other is not None
    assert visit.client.get(f"{link}session/{other.pk}/").status_code == 404
    strange = people.strangers()
    with access.within(strange.club):
        plans.resolve(club=strange.club, week=WEEK, by=strange.coach, now=people.NOW, riders=[strange.rider])
        foreign = SessionKey.objects.filter(rider=strange.rider).first()
    assert foreign is not None
    assert visit.client.get(f"{link}session/{foreign.pk}/").status_code == 404
    assert visit.client.get(f"{link}session/{10**30}/").status_code == 404


def test_a_link_that_has_run_out_or_was_revoked_opens_nothing_more(visit: Visit) -> None:
    token = visit.token(Purpose.SESSION, subject=str(visit.key().pk), lasts=timedelta(hours=1))
    address = visit.client.get(f"/l/{token}/")["Location"]
    assert visit.client.get(address).status_code == 200
    visit.at(EVENING + timedelta(hours=1, minutes=1))
    assert visit.client.get(address).status_code == 404
    assert "This link is over" in visit.client.get(f"/l/{token}/").content.decode()
    assert visit.client.get("/l/not-a-token/").status_code == 404
    page = visit.open(Purpose.PAGE)
    with visit.within():
        Link.objects.filter(purpose=Purpose.PAGE).update(revoked_at=visit.now)
    assert visit.client.get(page).status_code == 404


def test_a_browser_forgets_an_opened_link_after_two_hours(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    visit.at(EVENING + access.LINK_SESSION + timedelta(minutes=1))
    assert visit.client.get(address).status_code == 404


def test_a_session_that_has_not_gone_out_says_so(visit: Visit) -> None:
    with visit.within():
        coming = shift_week(WEEK, 1)
        plans.resolve(
            club=visit.someone.club, week=coming, by=visit.someone.coach, now=visit.now, riders=[visit.rider]
        )
        key = SessionKey.objects.filter(rider=visit.rider, iso_week=coming.number).first()
    assert key is not None
    address = visit.open(Purpose.SESSION, subject=str(key.pk))
    for path in (address, f"{address}answer/"):
        answered = visit.client.get(path)
        assert answered.status_code == 409
        assert "has not gone out yet" in answered.content.decode()


# --- a report at any time ---------------------------------------------------------------------------------------------


def test_pain_can_be_reported_at_any_time_and_once_however_often_it_is_sent(visit: Visit) -> None:
    address = visit.open(Purpose.REPORT)
    form = visit.fill(address, body__hurts="yes", body__warning="no")
    form |= {"place-1-region": "lower-back", "place-1-during": "5"}
    first = visit.client.post(address, form)
    assert first.status_code == 302
    with visit.within():
        before = rows()
        report = BodyReport.objects.get()
        assert (report.region, report.side, report.during, report.on) == (
            "lower-back",
            "both",
            5,
            visit.now.date(),
        )
    second = visit.client.post(address, form)
    assert second["Location"] == first["Location"]
    with visit.within():
        assert rows() == before
    page = visit.client.get(first["Location"]).content.decode()
    assert "Your report is kept" in page
    assert "See a physiotherapist or doctor" in page
    assert "lower" not in first["Location"]


def test_a_symptom_reported_at_any_time_tells_the_coach_and_sends_for_help(visit: Visit) -> None:
    address = visit.open(Purpose.REPORT)
    form = visit.fill(address, body__warning="yes")
    form["body-symptoms"] = ["head-injury"]
    page = visit.client.post(address, form, follow=True).content.decode()
    assert "Stop and get medical help now" in page
    with visit.within():
        assert SymptomReport.objects.get().symptom == "head-injury"
        assert Delivery.objects.filter(kind=checkins.ALERT_MAIL).count() == 1


def test_a_report_that_says_nothing_is_asked_again(visit: Visit) -> None:
    address = visit.open(Purpose.REPORT)
    answered = visit.client.post(address, visit.fill(address, body__hurts="no", body__warning="no"))
    assert answered.status_code == 422
    assert "Nothing is reported yet" in answered.content.decode()
    answered = visit.client.post(address, visit.fill(address))
    assert answered.status_code == 422


def test_a_session_link_can_report_too(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION).replace("session/", "report/")
    assert visit.client.get(address).status_code == 200


# --- the rider's page -------------------------------------------------------------------------------------------------


def test_the_page_shows_the_week_with_ways_to_check_in(visit: Visit) -> None:
    address = visit.open(Purpose.PAGE)
    page = visit.client.get(address).content.decode()
    link = address.removesuffix("page/")
    for ordinal in (1, 2):
        assert f'href="{link}session/{visit.key(ordinal).pk}/"' in page
        for item in visit.planned(ordinal).items.all():
            assert item.exercise.name in unescape(page)
    assert 'class="strip"' in page
    assert "What you report after a session stands here" in page
    session = f"{link}session/{visit.key().pk}/"
    answered = visit.client.post(session, visit.fill(session, **AS_PLANNED))
    assert answered["Location"] == f"{session}answer/"
    page = visit.client.get(address).content.decode()
    assert "Correct the check-in" in page
    assert "session RPE 5" in page


def test_the_page_shows_no_note_and_no_score_of_the_past(visit: Visit) -> None:
    address = visit.open(Purpose.PAGE)
    session = f"{address.removesuffix('page/')}session/{visit.key().pk}/"
    form = visit.fill(session, **{**AS_PLANNED, "body__hurts": "yes"}, session__note="Quillsedge")
    form |= {"place-1-region": "elbow", "place-1-side": "left", "place-1-during": "2"}
    visit.client.post(session, form)
    page = visit.client.get(address).content.decode()
    assert "Quillsedge" not in page
    assert 'class="strip-pain"' not in page
    assert "2 out of 10" not in page


def test_an_eased_plan_stands_on_the_page_before_its_mail_has_gone(visit: Visit) -> None:
    address = visit.open(Purpose.PAGE)
    session = f"{address.removesuffix('page/')}session/{visit.key().pk}/"
    form = visit.fill(session, **{**AS_PLANNED, "body__hurts": "yes"})
    form |= {"place-1-region": "knee", "place-1-side": "left", "place-1-during": "6"}
    visit.client.post(session, form)
    with visit.within():
        eased = WeekPlan.objects.filter(rider=visit.rider).of_week(WEEK.year, WEEK.number).current().get()
        assert (eased.revision, eased.sent_at) == (2, None)
        dropped = {item.exercise.name for item in visit.planned(2).items.select_related("exercise")} - {
            item.exercise.name
            for session in eased.sessions.all()
            for item in session.items.select_related("exercise")
        }
    assert dropped
    page = unescape(visit.client.get(address).content.decode())
    assert not [name for name in dropped if f". {name}</p>" in page]


# --- stop mail --------------------------------------------------------------------------------------------------------


def stop_address(visit: Visit) -> str:
    with visit.within():
        return letters.stop_address(visit.rider, now=visit.now).split("8000", 1)[-1]


def is_mailed(visit: Visit) -> bool:
    with visit.within():
        visit.rider.refresh_from_db()
        stopped = Suppression.objects.filter(address=visit.rider.email).exists()
        assert stopped is not visit.rider.plan_mail
        return visit.rider.plan_mail


def test_one_click_in_a_mail_program_stops_plan_mail_without_cookie_or_redirect(visit: Visit) -> None:
    address = stop_address(visit)
    with visit.within():
        waiting = outbox.enqueue(
            club_id=visit.someone.club.pk, kind=plans.WEEK_MAIL, dedup_key="waiting", rider=visit.rider,
            recipient=visit.rider.email, due_at=visit.now, now=visit.now,
        )  # fmt: skip
        safety = outbox.enqueue(
            club_id=visit.someone.club.pk, kind="link", dedup_key="safety", rider=visit.rider, channel="account",
            recipient=visit.rider.email, due_at=visit.now, now=visit.now,
        )  # fmt: skip
    program = Client(enforce_csrf_checks=True)
    answered = program.post(address, ONE_CLICK)
    assert answered.status_code == 200
    assert answered.cookies == {}
    assert not is_mailed(visit)
    assert program.post(address, ONE_CLICK).status_code == 200
    with visit.within():
        waiting.refresh_from_db()
        safety.refresh_from_db()
        assert (waiting.state, safety.state) == (Delivery.State.CANCELLED, Delivery.State.DUE)


def test_one_click_as_a_mail_program_may_also_encode_it_works_too(visit: Visit) -> None:
    body = '--b\r\nContent-Disposition: form-data; name="List-Unsubscribe"\r\n\r\nOne-Click\r\n--b--\r\n'
    answered = Client(enforce_csrf_checks=True).post(
        stop_address(visit), body, content_type="multipart/form-data; boundary=b"
    )
    assert answered.status_code == 200
    assert not is_mailed(visit)


def test_a_post_without_the_pair_and_a_token_of_another_purpose_stop_nothing(visit: Visit) -> None:
    program = Client(enforce_csrf_checks=True)
    assert program.post(stop_address(visit), {"List-Unsubscribe": "Maybe"}).status_code == 400
    assert program.post(stop_address(visit)).status_code == 400
    assert program.post(f"/stop/{visit.token(Purpose.PAGE)}/", ONE_CLICK).status_code == 404
    assert program.post("/stop/nonsense/", ONE_CLICK).status_code == 404
    assert program.post(f"/l/{visit.token(Purpose.STOP_MAIL)}/", ONE_CLICK).status_code == 403
    assert is_mailed(visit)


def test_opening_the_stop_address_asks_first_and_can_be_undone(visit: Visit) -> None:
    opened = visit.client.get(stop_address(visit), follow=True)
    page, address = opened.content.decode(), opened.redirect_chain[-1][0]
    assert "Stop plans by mail?" in page
    assert is_mailed(visit)
    stopped = visit.client.post(address, {"stop": "1"}, follow=True).content.decode()
    assert "Plans no longer come by mail" in stopped
    assert not is_mailed(visit)
    visit.client.post(address, {"start": "1"})
    assert is_mailed(visit)


def test_a_stopped_riders_approved_week_counts_as_out_so_that_it_can_be_reported(visit: Visit) -> None:
    with visit.within():
        coming = shift_week(WEEK, 1)
        plans.resolve(
            club=visit.someone.club, week=coming, by=visit.someone.coach, now=visit.now, riders=[visit.rider]
        )
        plan = WeekPlan.objects.of_week(coming.year, coming.number).get(rider=visit.rider)
        plans.approve(plan=plan, by=visit.someone.coach, now=visit.now)
    Client().post(stop_address(visit), ONE_CLICK)
    with visit.within():
        plan.refresh_from_db()
        assert plan.sent_at is not None


def test_the_weekly_mail_names_the_stop_address(visit: Visit) -> None:
    with visit.within():
        addresses = letters.addresses_for(visit.plan, now=visit.now)
    assert "/stop/" in addresses.stop
    assert "/l/" in addresses.page


def test_the_form_key_of_a_page_is_new_each_time(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    first, second = (untouched(visit.client.get(address).content.decode()) for _ in range(2))
    assert first["session-form_key"] != second["session-form_key"]
    assert change(first, session__form_key=None) == change(second, session__form_key=None)
