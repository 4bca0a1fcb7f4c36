"""The pages of people through the doors: who gets in, what is kept, what is said when something is wrong."""

import base64
from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from athletes import access, clubs, profiles
from athletes.models import (
    Absence,
    AuditEntry,
    BikeHours,
    ClinicianLimit,
    Consent,
    Delivery,
    KitItem,
    Opening,
    PainBaseline,
    Race,
    RegularRide,
    Rider,
    RosterImport,
    Screening,
    Squad,
    User,
    Venue,
)
from tests.people import strangers, wexenfold

pytestmark = pytest.mark.django_db


@pytest.fixture
def people():
    return wexenfold(timezone.now())


@pytest.fixture
def visit(client, people):
    """Goes somewhere as a member: `visit("coach", "riders")`, with data for a POST."""

    def go(role, name, *args, data=None, query="", **options):
        client.force_login(getattr(people, role).user)
        address = reverse(name, args=args) + query
        return client.get(address) if data is None else client.post(address, data, **options)

    return go


def inside(people):
    return access.within(people.club)


def page(response):
    return response.content.decode()


RIDER = {
    "given_name": "Samira",
    "family_name": "Holtveld",
    "email": "Samira@Wexenfold.example",
    "birth_year": 1988,
    "growth": "unknown",
    "minutes_cap": 45,
    "unit": "kg",
}


# --- riders -----------------------------------------------------------------------------------------------------------


def test_the_list_shows_each_rider_with_what_is_missing_to_those_who_may_read_it(visit, people):
    with inside(people):
        Consent.objects.filter(rider=people.rider).delete()
    assert "No consent for health data" in page(visit("welfare", "riders"))
    answer = page(visit("assistant", "riders"))
    assert "health reason" in answer
    assert "consent" not in answer.lower()


@pytest.mark.parametrize(
    ("query", "shown", "hidden"),
    [
        ("?q=wren", "Wren Tollifant", "Tobias Okeldene"),
        ("?state=paused", "Nobody fits", "Tobias Okeldene"),
        ("?state=lacking", "Nobody fits", "Wren Tollifant"),
        ("?squad=999999", "Tobias Okeldene", "Nobody fits"),
        ("?page=999", "Tobias Okeldene", "Nobody fits"),
    ],
)
def test_the_list_is_narrowed_by_its_address(visit, query, shown, hidden):
    answer = page(visit("coach", "riders", query=query))
    assert shown in answer
    assert hidden not in answer


def test_the_list_takes_no_more_queries_for_forty_riders_than_for_two(
    visit, people, django_assert_num_queries, django_assert_max_num_queries
):
    visit("coach", "riders")  # signing in and filling caches is not the list's
    with django_assert_max_num_queries(30) as few:
        visit("coach", "riders")
    with inside(people):
        Rider.objects.bulk_create(
            Rider(
                club=people.club,
                squad=people.squad,
                given_name="Rider",
                family_name=str(number),
                email=f"{number}@wexenfold.example",
                birth_year=1990,
                joined_on=date(2026, 1, 1),
            )
            for number in range(40)
        )
    with django_assert_num_queries(len(few.captured_queries)):
        answer = visit("coach", "riders")
    assert page(answer).count("Hill squad") + page(answer).count("hill squad") > 40


def test_another_club_s_riders_are_not_found(visit, people):
    other = strangers(timezone.now())
    assert visit("owner", "rider-edit", other.rider.pk).status_code == 404
    assert visit("owner", "rider-edit", people.rider.pk).status_code == 200


@pytest.mark.parametrize("role", ["assistant", "welfare"])
@pytest.mark.parametrize("name", ["rider-new", "roster-upload", "race-new", "squad-new", "calendar-upload"])
def test_who_may_not_plan_changes_nothing_here(visit, role, name):
    assert visit(role, name).status_code == 403
    assert visit("coach", name).status_code == 200


@pytest.mark.parametrize("name", ["rider-consent", "rider-screening"])
def test_health_pages_are_closed_to_assistants_and_open_to_the_welfare_officer(visit, people, name):
    assert visit("assistant", name, people.rider.pk).status_code == 403
    assert visit("welfare", name, people.rider.pk).status_code == 200


def test_a_rider_is_added_and_the_next_step_is_times(visit, people):
    answer = visit("coach", "rider-new", data={**RIDER, "squad": people.squad.pk, "trains_alone": "on"})
    with inside(people):
        rider = Rider.objects.get(email="samira@wexenfold.example")
        assert (rider.trains_alone, rider.plan_mail) == (True, False)
    assert answer.url == reverse("rider-times", args=[rider.pk])


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"email": "TOBIAS@wexenfold.example"}, "Tobias Okeldene has this address already"),
        ({"birth_year": 2012}, "may be under 18"),
        ({"birth_year": 1850}, "Enter a year from 1920"),
        ({"minutes_cap": 900}, "120"),
        ({"given_name": "\x00\u202e "}, "Fill this in"),
        ({"given_name": "x" * 61}, "60"),
        ({"squad": 999999}, "valid choice"),
        ({"zone": "Europe/Nowhere"}, "valid choice"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_is_kept(visit, people, changes, says):
    answer = visit(
        "coach", "rider-new", data={**RIDER, "squad": people.squad.pk, "note": "rides early", **changes}
    )
    assert answer.status_code == 422
    assert says in page(answer)
    assert "rides early" in page(answer)
    assert "Something needs changing" in page(answer)


def test_a_coach_sets_the_language_of_a_rider_and_it_stays_when_the_form_says_nothing(visit, people):
    data = {**RIDER, "squad": people.squad.pk}
    visit("coach", "rider-edit", people.rider.pk, data={**data, "language": "fr"})
    with inside(people):
        assert Rider.objects.get(pk=people.rider.pk).language == "fr"
    assert '<option value="fr" selected>' in page(visit("coach", "rider-edit", people.rider.pk))
    visit("coach", "rider-edit", people.rider.pk, data=data)
    refused = visit("coach", "rider-edit", people.rider.pk, data={**data, "language": "xx"})
    assert refused.status_code == 422
    with inside(people):
        assert Rider.objects.get(pk=people.rider.pk).language == "fr"


def test_a_name_with_markup_is_shown_as_typed(visit, people):
    visit(
        "coach",
        "rider-edit",
        people.rider.pk,
        data={**RIDER, "given_name": "<b>x</b>", "squad": people.squad.pk},
    )
    answer = page(visit("coach", "riders"))
    assert "&lt;b&gt;x&lt;/b&gt;" in answer
    assert "<b>x</b>" not in answer


def test_a_rider_leaves_and_comes_back(visit, people):
    line = "Tobias Okeldene</a></th>"
    assert line in page(visit("coach", "riders"))
    visit("coach", "rider-leave", people.rider.pk, data={})
    assert line not in page(visit("coach", "riders"))
    assert line in page(visit("coach", "riders", query="?state=left"))
    visit("coach", "rider-return", people.rider.pk, data={})
    assert line in page(visit("coach", "riders"))


# --- the diary --------------------------------------------------------------------------------------------------------


def rows(*given):
    data = {"rows-TOTAL_FORMS": len(given), "rows-INITIAL_FORMS": 0}
    for number, row in enumerate(given):
        data |= {f"rows-{number}-{name}": value for name, value in row.items()}
    return data


def test_times_are_saved_and_a_row_without_a_day_is_taken_out(visit, people):
    data = rows(
        {"weekday": 1, "start": "18:30", "minutes": 60, "venue": people.venue.pk, "preferred": "on"},
        {"weekday": "", "start": "", "minutes": 45, "venue": people.venue.pk},
    )
    assert visit("coach", "rider-times", people.rider.pk, data=data).status_code == 302
    with inside(people):
        assert [(one.weekday, one.minutes) for one in Opening.objects.filter(rider=people.rider)] == [(1, 60)]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ([{"weekday": 1, "start": "", "minutes": 60}], "Enter a time"),
        ([{"weekday": 1, "start": "26:00", "minutes": 60}], "Enter a time"),
        ([{"weekday": 1, "start": "18:30", "minutes": 900}], "10 to 240 minutes"),
        ([{"weekday": "", "start": "18:30", "minutes": 60}], "Choose a day"),
        ([{"weekday": 9, "start": "18:30", "minutes": 60}], "valid choice"),
        ([{"weekday": 1, "start": "18:30"}, {"weekday": 1, "start": "18:30"}], "in another row already"),
        ([{"weekday": 1, "start": "18:30", "venue": 999999}], "valid choice"),
    ],
)
def test_a_time_that_cannot_be_is_said_in_its_row_and_nothing_is_lost(visit, people, given, says):
    answer = visit("coach", "rider-times", people.rider.pk, data=rows(*given))
    assert answer.status_code == 422
    assert says in page(answer)
    with inside(people):
        assert Opening.objects.filter(rider=people.rider).count() == 3


def test_times_at_another_rider_s_place_are_refused(visit, people):
    with inside(people):
        theirs = Venue.objects.get(rider=people.young_rider)
    data = rows({"weekday": 1, "start": "18:30", "minutes": 60, "venue": theirs.pk})
    assert visit("coach", "rider-times", people.rider.pk, data=data).status_code == 422


def test_rides_and_hours_are_saved(visit, people):
    data = rows(
        {"weekday": 5, "start": "09:00", "minutes": 180, "is_key": "on"}, {"weekday": 2, "start": "18:00"}
    )
    visit("coach", "rider-rides", people.rider.pk, data=data)
    today = timezone.now().date()
    monday = today - timedelta(days=today.weekday())
    visit("coach", "rider-bike-hours", people.rider.pk, data={f"hours-week_{monday}": "6.5"})
    wrong = visit("coach", "rider-bike-hours", people.rider.pk, data={f"hours-week_{monday}": "99"})
    assert wrong.status_code == 422
    with inside(people):
        rides = RegularRide.objects.filter(rider=people.rider)
        assert [(one.weekday, one.minutes, one.is_key) for one in rides] == [(2, 90, False), (5, 180, True)]
        assert str(BikeHours.objects.get(rider=people.rider).hours) == "6.5"


def test_kit_in_plain_words_is_saved_and_what_cannot_be_read_is_named(visit, people):
    address = ("coach", "rider-venue", people.rider.pk, people.venue.pk)
    wrong = visit(*address, data={"name": "Home", "kit": "kettlebell 8\nsledge"})
    assert wrong.status_code == 422
    assert "“sledge” cannot be read" in page(wrong)
    assert "kettlebell 8\nsledge" in page(wrong)
    visit(*address, data={"name": "Home", "kit": "kettlebell 2 x 8\ntowel", "furniture": ["chair"]})
    with inside(people):
        people.venue.refresh_from_db()
        assert [(item.kg, item.count) for item in KitItem.objects.filter(venue=people.venue)] == [(8, 2)]
        assert people.venue.furniture == ["chair", "towel"]


def test_a_place_in_use_stays(visit, people):
    visit("coach", "rider-venue-remove", people.rider.pk, people.venue.pk, data={})
    with inside(people):
        assert Venue.objects.filter(pk=people.venue.pk).exists()


def test_days_away_are_saved_and_removed(visit, people):
    wrong = visit(
        "coach",
        "rider-absences",
        people.rider.pk,
        data={"from_on": "2027-02-10", "until_on": "2027-02-01", "kind": "holiday"},
    )
    assert "comes before the first" in page(wrong)
    good = {"from_on": "2027-02-01", "until_on": "2027-02-10", "kind": "holiday"}
    visit("coach", "rider-absences", people.rider.pk, data=good)
    with inside(people):
        absence = Absence.objects.get(rider=people.rider)
    visit("coach", "rider-absence-remove", people.rider.pk, absence.pk, data={})
    with inside(people):
        assert not Absence.objects.exists()


# --- health -----------------------------------------------------------------------------------------------------------


def paper(**changes):
    return {
        "given_by": "Tobias Okeldene",
        "given_on": timezone.now().date().isoformat(),
        "is_held": "on",
        **changes,
    }


def test_a_paper_form_is_recorded_with_its_day_and_wording(visit, people):
    with inside(people):
        profiles.withdraw_consent(rider=people.rider, by=people.coach, now=timezone.now())
    future = (timezone.now() + timedelta(days=3)).date().isoformat()
    assert "still to come" in page(
        visit("welfare", "rider-consent", people.rider.pk, data=paper(given_on=future))
    )
    assert visit("welfare", "rider-consent", people.rider.pk, data=paper()).status_code == 302
    with inside(people):
        consent = Consent.objects.filter(rider=people.rider).standing().get()
        assert (consent.given_by, consent.by_guardian, consent.wording) == (
            "Tobias Okeldene",
            False,
            "health-1",
        )


def test_a_young_rider_s_form_must_be_a_guardian_s(visit, people):
    with inside(people):
        profiles.withdraw_consent(rider=people.young_rider, by=people.coach, now=timezone.now())
    assert visit("coach", "rider-consent", people.young_rider.pk, data=paper()).status_code == 422
    visit("coach", "rider-consent", people.young_rider.pk, data=paper(given_by="Marit", is_guardian="on"))
    with inside(people):
        assert Consent.objects.filter(rider=people.young_rider).standing().get().by_guardian


def test_asking_sends_one_mail_and_withdrawing_ends_consent(visit, people):
    visit("coach", "rider-consent-ask", people.rider.pk, data={})
    visit("coach", "rider-consent-ask", people.rider.pk, data={})
    visit("welfare", "rider-consent-withdraw", people.rider.pk, data={})
    visit("coach", "riders-ask-consent", data={})
    with inside(people):
        assert Delivery.objects.filter(kind="consent-request").count() == 1
        assert not Consent.objects.filter(rider=people.rider).standing().exists()


SAID = {
    "answered_by": "Tobias Okeldene",
    "active": "yes",
    "intensity": "vigorous",
    **dict.fromkeys(
        [
            "disease",
            "symptoms",
            "pregnant",
            "birth_in_last_year",
            "pelvic_symptoms",
            "fragility_fracture",
            "uncontrolled_blood_pressure",
            "limits_set",
        ],
        "no",
    ),
}


def test_answers_from_paper_are_entered_and_a_clearance_recorded(visit, people):
    half = visit(
        "coach", "rider-screening-answer", people.rider.pk, data={"answered_by": "Tobias", "active": "yes"}
    )
    assert half.status_code == 422
    assert "Choose an answer" in page(half)
    visit("coach", "rider-screening-answer", people.rider.pk, data={**SAID, "symptoms": "unsaid"})
    with inside(people):
        row = Screening.objects.filter(rider=people.rider).first()
        assert (row.needs, row.answers["symptoms"], row.recorded_by) == (
            "stop-and-clearance",
            None,
            people.coach,
        )
    today = timezone.now().date()
    early = {"cleared_by": "Dr Ashgrove", "cleared_on": today - timedelta(days=9)}
    refused = visit("coach", "rider-clearance", people.rider.pk, row.pk, data=early)
    assert "an older clearance does not count" in page(refused)
    assert "Dr Ashgrove" in page(refused)
    visit("coach", "rider-clearance", people.rider.pk, row.pk, data={**early, "cleared_on": today})
    with inside(people):
        row.refresh_from_db()
        assert row.cleared_by == "Dr Ashgrove"
    assert visit("welfare", "rider-clearance", people.rider.pk, row.pk, data=early).status_code == 403


def test_no_answers_are_taken_without_consent(visit, people):
    with inside(people):
        profiles.withdraw_consent(rider=people.rider, by=people.coach, now=timezone.now())
        before = Screening.objects.count()
    answer = visit("coach", "rider-screening-answer", people.rider.pk, data=SAID)
    assert answer.url == reverse("rider-consent", args=[people.rider.pk])
    with inside(people):
        assert Screening.objects.count() == before


def test_each_reading_of_a_screening_stands_in_the_audit_log(visit, people):
    visit("welfare", "rider-screening", people.rider.pk)
    with inside(people):
        entry = AuditEntry.objects.get(action="health.read")
        assert (entry.actor, entry.rider_key) == (f"coach:{people.welfare.pk}", people.rider.pk)


def test_limits_and_usual_scores_are_entered_and_ended(visit, people):
    today = timezone.now().date()
    base = {"set_by": "Dr Ashgrove", "set_on": today}
    both = visit(
        "coach", "rider-limits", people.rider.pk, data={**base, "pattern": "squat", "region": "knee"}
    )
    assert "Choose one thing to leave out" in page(both)
    visit("coach", "rider-limits", people.rider.pk, data={**base, "max_kg": "10"})
    pain = {
        "baseline-region": "knee",
        "baseline-side": "left",
        "baseline-limit": "3",
        "baseline-seen_by": "P Ashgrove",
    }
    late = visit(
        "coach", "rider-baseline", people.rider.pk, data={**pain, "baseline-review_on": "2099-01-01"}
    )
    assert "Enter a day from today" in page(late)
    visit(
        "coach",
        "rider-baseline",
        people.rider.pk,
        data={**pain, "baseline-review_on": today + timedelta(days=30)},
    )
    with inside(people):
        limit, baseline = ClinicianLimit.objects.get(), PainBaseline.objects.get()
    shown = page(visit("coach", "rider-limits", people.rider.pk))
    assert "At most 10 kg" in shown
    assert "knee (left)" in shown
    visit("coach", "rider-limit-end", people.rider.pk, limit.pk, data={})
    visit("coach", "rider-baseline-remove", people.rider.pk, baseline.pk, data={})
    with inside(people):
        limit.refresh_from_db()
        assert limit.until_on < today
        assert not PainBaseline.objects.exists()


# --- rosters ----------------------------------------------------------------------------------------------------------

ROSTER = "name,mail,born,kit\nSamira Holtveld,samira@wexenfold.example,1988,kettlebell 8\n"


def csv_file(text=ROSTER, encoding="utf-8", name="riders.csv"):
    return {"file": SimpleUploadedFile(name, text.encode(encoding), "text/csv")}


def test_a_roster_goes_from_file_to_riders_in_three_steps(visit, people):
    first = visit("coach", "roster-upload", data=csv_file())
    with inside(people):
        made = RosterImport.objects.get()
    assert first.url == reverse("roster-map", args=[made.pk])
    columns = {"column_0": "full_name", "column_1": "email", "column_2": "birth_year", "column_3": "kit"}
    second = visit("coach", "roster-map", made.pk, data={**columns, "squad": people.squad.pk})
    assert second.url == reverse("roster-preview", args=[made.pk])
    looked = visit("coach", "roster-preview", made.pk)
    assert "Samira Holtveld" in page(looked)
    seen = looked.context["planned"].digest
    with inside(people):
        assert not Rider.objects.filter(email="samira@wexenfold.example").exists()
    assert visit("coach", "roster-preview", made.pk, data={"seen": seen}).status_code == 302
    with inside(people):
        assert Rider.objects.filter(email="samira@wexenfold.example").exists()
    again = visit("coach", "roster-preview", made.pk, data={"seen": seen})
    assert again.url == reverse("riders")


def test_a_preview_that_is_out_of_date_applies_nothing_and_is_shown_anew(visit, people):
    visit("coach", "roster-upload", data=csv_file())
    with inside(people):
        made = RosterImport.objects.get()
    answer = visit("coach", "roster-preview", made.pk, data={"seen": "0" * 64})
    assert answer.status_code == 409
    assert "Look again" in page(answer)


def test_faults_are_listed_by_row_and_column(visit, people):
    visit("coach", "roster-upload", data=csv_file(ROSTER + "A B,nope,1988,sledge\n"))
    with inside(people):
        made = RosterImport.objects.get()
    answer = page(visit("coach", "roster-preview", made.pk))
    for words in ("Row 3", "mail", "a mail address, such as", "nope", "sledge"):
        assert words in answer
    assert "Apply the roster" not in answer


def test_columns_that_do_not_do_are_said_and_kept(visit, people):
    visit("coach", "roster-upload", data=csv_file())
    with inside(people):
        made = RosterImport.objects.get()
    answer = visit("coach", "roster-map", made.pk, data={"column_0": "email", "column_1": "email"})
    assert answer.status_code == 422
    assert "More than one column is the mail address" in page(answer)


def test_another_encoding_is_named_and_the_file_read_as_that_without_choosing_it_again(visit, people):
    text = ROSTER.replace("Samira", "Zoë")
    answer = visit("coach", "roster-upload", data=csv_file(text, "cp1252"))
    assert answer.status_code == 422
    assert "probably Windows-1252" in page(answer)
    assert "Zoë Holtveld" in page(answer)
    held = base64.b64encode(text.encode("cp1252")).decode()
    assert held in page(answer)
    with inside(people):
        assert not RosterImport.objects.exists()
    visit("coach", "roster-upload", data={"held": held, "encoding": "cp1252", "name": "riders.csv"})
    with inside(people):
        assert RosterImport.objects.get().rows[0][1][0] == "Zoë Holtveld"


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({}, "Choose a file"),
        ({"file": SimpleUploadedFile("a.csv", b"")}, "empty"),
        ({"file": SimpleUploadedFile("a.xlsx", b"PK\x03\x04")}, "not a CSV file"),
        ({"file": SimpleUploadedFile("a.csv", b"a,b\n1,\x00\n")}, "bytes that no text has"),
        ({"file": SimpleUploadedFile("a.csv", b"a,b\n" * 300_000)}, "larger than 1 MB"),
        ({"file": SimpleUploadedFile("a.csv", b"a,b\n" * 900_000)}, "larger than 1 MB"),
        ({"held": "not base64 !", "encoding": "cp1252"}, "did not come back whole"),
        ({"held": "QUI=", "encoding": "rot13"}, "valid choice"),
    ],
    ids=["none", "empty", "workbook", "nul", "large", "huge", "broken", "no such encoding"],
)
def test_a_file_that_cannot_be_used_says_why_and_leaves_nothing(visit, people, data, says):
    for given in data.values():
        if hasattr(given, "seek"):
            given.seek(0)
    answer = visit("coach", "roster-upload", data=data)
    assert answer.status_code == 422
    assert says in page(answer)
    with inside(people):
        assert not RosterImport.objects.exists()


def test_a_file_is_forgotten_on_request(visit, people):
    visit("coach", "roster-upload", data=csv_file())
    with inside(people):
        made = RosterImport.objects.get()
    visit("coach", "roster-discard", made.pk, data={})
    with inside(people):
        assert not RosterImport.objects.exists()


# --- squads, races, settings ------------------------------------------------------------------------------------------


def test_a_squad_is_made_changed_and_kept_while_riders_are_in_it(visit, people):
    visit("coach", "squad-new", data={"name": "Track", "coach": people.coach.pk})
    with inside(people):
        squad = Squad.objects.get(name="Track")
    taken = visit("coach", "squad-new", data={"name": "TRACK", "coach": people.coach.pk})
    assert "There is a squad of this name" in page(taken)
    no_coach = visit("coach", "squad-new", data={"name": "Road", "coach": people.assistant.pk})
    assert no_coach.status_code == 422
    visit("coach", "squad", squad.pk, data={"name": "Boards", "coach": people.owner.pk})
    visit("coach", "squad-remove", people.squad.pk, data={})
    visit("coach", "squad-remove", squad.pk, data={})
    with inside(people):
        assert list(Squad.objects.all()) == [people.squad]


def event(uid, name, when):
    return (
        f"BEGIN:VEVENT\r\nUID:{uid}\r\nDTSTAMP:20260101T000000Z\r\nSUMMARY:{name}\r\n{when}\r\nEND:VEVENT\r\n"
    )


def calendar_file(*events):
    text = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//EN\r\n" + "".join(events) + "END:VCALENDAR\r\n"
    return {"file": SimpleUploadedFile("club.ics", text.encode(), "text/calendar")}


def test_a_calendar_is_read_chosen_and_applied_once(visit, people):
    soon = timezone.now().date() + timedelta(days=30)
    later = soon + timedelta(days=9)
    events = (
        event("a", "Spring Round", f"DTSTART;VALUE=DATE:{soon:%Y%m%d}"),
        event("b", "Club closed", f"DTSTART;VALUE=DATE:{soon:%Y%m%d}\r\nDTEND;VALUE=DATE:{later:%Y%m%d}"),
        event("c", "Committee", f"DTSTART;VALUE=DATE:{soon:%Y%m%d}"),
    )
    answer = visit("coach", "calendar-upload", data=calendar_file(*events))
    form = answer.context["form"]
    kinds = {entry.name: field.initial for entry, field in form.rows()}
    assert kinds == {"Spring Round": "other", "Club closed": "holiday", "Committee": "other"}
    chosen = {"Spring Round": "priority", "Club closed": "holiday", "Committee": "leave-out"}
    data = {"entries": form.initial["entries"], "squad": ""}
    data |= {field.html_name: chosen[entry.name] for entry, field in form.rows()}
    visit("coach", "calendar-upload", data=data)
    visit("coach", "calendar-upload", data=data)
    with inside(people):
        assert [(race.name, race.priority) for race in Race.objects.all()] == [("Spring Round", "priority")]
        assert Absence.objects.get(rider__isnull=True).until_on == later - timedelta(days=1)
    again = visit("coach", "calendar-upload", data=calendar_file(*events))
    assert page(again).count("in the calendar already") == 2


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({}, "Fill this in"),
        ({"file": SimpleUploadedFile("a.ics", b"BEGIN:NOTHING")}, "not a calendar file"),
        ({"file": SimpleUploadedFile("a.ics", b"x" * 3_000_000)}, "larger than 1 MB"),
        (calendar_file(event("o", "Old", "DTSTART;VALUE=DATE:20200101")), "no race or holiday"),
        ({"entries": "made:up"}, "did not come back whole"),
    ],
    ids=["none", "no calendar", "huge", "past", "tampered"],
)
def test_a_calendar_that_cannot_be_used_says_why(visit, people, data, says):
    for given in data.values():
        if hasattr(given, "seek"):
            given.seek(0)
    answer = visit("coach", "calendar-upload", data=data)
    assert answer.status_code == 422
    assert says in page(answer)


def test_races_and_holidays_by_hand(visit, people):
    race = {"name": "Hill Climb", "on": "2027-05-16", "start": "08:30", "priority": "priority", "squad": ""}
    visit("coach", "race-new", data=race)
    with inside(people):
        row = Race.objects.get()
    visit("coach", "race", row.pk, data={**race, "squad": people.squad.pk})
    visit("coach", "holiday-new", data={"name": "Closed", "from_on": "2027-08-01", "until_on": "2027-08-07"})
    shown = page(visit("assistant", "races"))
    assert "Hill Climb" in shown
    assert "Closed" in shown
    assert "Remove" not in shown
    with inside(people):
        row.refresh_from_db()
        holiday = Absence.objects.get()
        assert row.squad == people.squad
    visit("coach", "race-remove", row.pk, data={})
    visit("coach", "holiday-remove", holiday.pk, data={})
    assert "No races or holidays yet" in page(visit("coach", "races"))


def settings_data(**changes):
    return {
        "name": "Wexenfold Hill Riders",
        "place": "",
        "zone": "Europe/Paris",
        "paper": "A4",
        "resolves_on": 4,
        "resolves_at_hour": 12,
        "sends_on": 6,
        "sends_at_hour": 17,
        "unapproved": "hold",
        "emergency_note": "Call 112",
        **changes,
    }


def test_settings_are_read_by_all_and_changed_by_the_owner(visit, people):
    assert "Save the settings" not in page(visit("assistant", "settings"))
    assert visit("coach", "settings-club", data=settings_data()).status_code == 403
    early = visit("owner", "settings-club", data=settings_data(sends_on=3))
    assert "before the week is worked out" in page(early)
    assert visit("owner", "settings-club", data=settings_data(zone="Mars/Base")).status_code == 422
    visit("owner", "settings-club", data=settings_data())
    visit(
        "owner",
        "settings-limits",
        data={"limits-confirmed_by": "Dr Ashgrove", "limits-confirmed_on": "2026-11-01"},
    )
    with inside(people):
        people.club.refresh_from_db()
        assert (people.club.zone, people.club.emergency_note) == ("Europe/Paris", "Call 112")
        assert people.club.limits_confirmed_by == "Dr Ashgrove"


def test_a_club_s_place_is_open_to_every_rider(visit, people):
    visit("coach", "venue-new", data={"name": "Club gym", "kit": "barbell 20; discs 4 x 5"})
    assert "Club gym" in page(visit("coach", "rider-times", people.rider.pk))
    with inside(people):
        gym = Venue.objects.get(rider__isnull=True)
    visit("coach", "venue", gym.pk, data={"name": "Gym", "kit": ""})
    visit("coach", "venue-remove", gym.pk, data={})
    with inside(people):
        assert not Venue.objects.filter(rider__isnull=True).exists()


def test_an_account_without_a_club_sees_a_page_that_says_so(client):
    client.force_login(
        User.objects.create_user("none@wexenfold.example", "a-long-quiet-hill-road", name="None")
    )
    answer = client.get(reverse("riders"))
    assert answer.status_code == 403
    assert "You are in no club yet" in page(answer)


def test_a_new_club_s_empty_pages_offer_the_first_step(client):
    owner = User.objects.create_user("new@larkmoor.example", "a-long-quiet-hill-road", name="New")
    clubs.found(name="Larkmoor Wheelers", owner=owner, now=timezone.now())
    client.force_login(owner)
    for name, step in (
        ("riders", "squad-new"),
        ("rider-new", "squad-new"),
        ("squads", "squad-new"),
        ("races", "calendar-upload"),
    ):
        assert f'href="{reverse(step)}"' in page(client.get(reverse(name)))
