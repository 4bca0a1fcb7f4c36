"""Riders' profiles: added and changed, paused and gone; consent and screening; what clinicians set."""

from dataclasses import asdict
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import pytest

from athletes import access, outbox, profiles, standings
from athletes.kit import Kit, read_kit, write_kit
from athletes.models import (
    AuditEntry,
    BikeHours,
    Consent,
    Delivery,
    FollowUp,
    Link,
    Opening,
    Rider,
    Screening,
    SymptomReport,
    Venue,
)
from athletes.pain import ConsentMissing
from athletes.screening import AdultAnswers, GuardianNeeded, Intensity, YoungAnswers
from athletes.times import WeeklyTime
from athletes.vocabulary import Pattern, Region, Side
from tests.people import NOW, wexenfold

pytestmark = pytest.mark.django_db
TODAY = NOW.date()

HEALTHY = AdultAnswers(
    active=True,
    disease=False,
    symptoms=False,
    intensity=Intensity.VIGOROUS,
    pregnant=False,
    birth_in_last_year=False,
    pelvic_symptoms=False,
    fragility_fracture=False,
    uncontrolled_blood_pressure=False,
    limits_set=False,
)
HEALTHY_AS_DICT = asdict(HEALTHY)


@pytest.fixture
def people():
    found = wexenfold()
    with access.within(found.club):
        yield found


def details(people, **changes):
    return {
        "squad": people.squad,
        "given_name": "Samira",
        "family_name": "Holtveld",
        "email": "samira@wexenfold.example",
        "birth_year": 1988,
        **changes,
    }


def missing(people, rider):
    why = standings.read_missing([rider], club=people.club, on=TODAY)[rider.pk]
    return why.key if why else None


def waiting_plan(people, rider):
    return outbox.enqueue(
        club_id=people.club.pk,
        kind="week",
        dedup_key=f"week:{rider.pk}",
        recipient=rider.email,
        due_at=NOW,
        now=NOW,
        rider=rider,
        payload={"plan": 0},
    )


# --- coming, changing, going ------------------------------------------------------------------------------------------


def test_a_new_rider_has_a_home_and_nothing_is_planned_before_consent(people):
    rider = profiles.add_rider(club=people.club, details=details(people), by=people.coach, now=NOW)
    assert [venue.name for venue in Venue.objects.filter(rider=rider)] == ["Home"]
    assert missing(people, rider) == "no-consent"


def test_an_address_that_another_rider_has_is_refused_in_any_case(people):
    with pytest.raises(profiles.AddressTaken) as refused:
        profiles.add_rider(
            club=people.club,
            details=details(people, email="TOBIAS@wexenfold.example"),
            by=people.coach,
            now=NOW,
        )
    assert refused.value.rider == people.rider


@pytest.mark.parametrize("guardian", [{}, {"guardian_name": "A"}, {"guardian_email": "a@x.example"}])
def test_a_rider_who_may_be_under_18_needs_a_guardian_with_name_and_address(people, guardian):
    with pytest.raises(profiles.GuardianMissing):
        profiles.add_rider(
            club=people.club, details=details(people, birth_year=2008, **guardian), by=people.coach, now=NOW
        )
    profiles.add_rider(
        club=people.club,
        details=details(people, birth_year=2007, email="old@x.example"),
        by=people.coach,
        now=NOW,
    )


def test_a_new_address_closes_old_links_and_gets_the_mail_that_waits(people):
    access.make_link(rider=people.rider, purpose="page", now=NOW, lasts=timedelta(days=9))
    delivery = waiting_plan(people, people.rider)
    changed = profiles.change_rider(
        rider=people.rider, details={"email": "new@wexenfold.example", "note": ""}, by=people.coach, now=NOW
    )
    delivery.refresh_from_db()
    assert changed == ["email"]
    assert delivery.recipient == "new@wexenfold.example"
    assert not Link.objects.usable(NOW).exists()


def test_nothing_changed_leaves_no_audit_entry(people):
    profiles.change_rider(rider=people.rider, details={"given_name": "Tobias"}, by=people.coach, now=NOW)
    assert not AuditEntry.objects.filter(action="rider.change").exists()


def test_a_paused_rider_gets_no_plan_that_waits_and_trains_again_on_resume(people):
    delivery = waiting_plan(people, people.rider)
    profiles.pause(rider=people.rider, by=people.coach, now=NOW)
    delivery.refresh_from_db()
    assert (delivery.state, people.rider.state) == ("cancelled", "paused")
    profiles.resume(rider=people.rider, by=people.coach, now=NOW)
    assert Rider.objects.training().filter(pk=people.rider.pk).exists()


def test_a_rider_who_left_gets_no_mail_and_their_links_open_nothing(people):
    access.make_link(rider=people.rider, purpose="page", now=NOW, lasts=timedelta(days=9))
    delivery = waiting_plan(people, people.rider)
    profiles.leave(rider=people.rider, by=people.coach, now=NOW)
    delivery.refresh_from_db()
    assert delivery.state == "cancelled"
    assert not Link.objects.usable(NOW).exists()
    assert not Rider.objects.current().filter(pk=people.rider.pk).exists()


# --- the diary --------------------------------------------------------------------------------------------------------


def test_kit_is_kept_as_typed_and_read_back_the_same(people):
    kit, _unread = read_kit("kettlebell 18, 26 lb; barbell 20; discs 4 x 2.5; band 2; step", "kg")
    venue = profiles.save_venue(
        club=people.club,
        rider=people.rider,
        venue=people.venue,
        name="Home",
        kit=kit,
        by=people.coach,
        now=NOW,
    )
    assert write_kit(profiles.kit_of(venue)) == write_kit(kit)
    assert venue.items.get(entered=18).kg == Decimal("8.16466266")


def test_a_place_of_the_same_name_is_refused_and_one_in_use_is_not_removed(people):
    with pytest.raises(profiles.VenueExists):
        profiles.save_venue(
            club=people.club, rider=people.rider, venue=None, name="HOME", kit=Kit(), by=people.coach, now=NOW
        )
    with pytest.raises(profiles.VenueInUse) as refused:
        profiles.remove_venue(venue=people.venue, by=people.coach, now=NOW)
    assert refused.value.openings == 3


def test_times_replace_all_that_were_there(people):
    one = WeeklyTime(0, time(7), 30, preferred=True)
    profiles.set_openings(rider=people.rider, openings=[(one, people.venue)], by=people.coach, now=NOW)
    (row,) = Opening.objects.filter(rider=people.rider)
    assert (row.weekday, row.minutes, row.preferred) == (0, 30, True)


def test_bike_hours_are_kept_once_a_week_and_taken_away_again(people):
    for hours in (Decimal(6), Decimal("7.5")):
        profiles.set_bike_hours(rider=people.rider, year=2026, week=53, hours=hours, by=people.coach, now=NOW)
    assert BikeHours.objects.get(rider=people.rider).hours == Decimal("7.5")
    profiles.set_bike_hours(rider=people.rider, year=2026, week=53, hours=None, by=people.coach, now=NOW)
    assert not BikeHours.objects.filter(rider=people.rider).exists()
    with pytest.raises(ValueError, match="week"):
        profiles.set_bike_hours(
            rider=people.rider, year=2025, week=53, hours=Decimal(1), by=people.coach, now=NOW
        )


def test_illness_is_not_recorded_without_consent_and_a_holiday_is(people):
    profiles.withdraw_consent(rider=people.rider, by=people.coach, now=NOW)
    days = {"rider": people.rider, "from_on": TODAY, "until_on": TODAY, "by": people.coach, "now": NOW}
    with pytest.raises(ConsentMissing):
        profiles.add_absence(kind="illness", **days)
    assert profiles.add_absence(kind="holiday", **days) == profiles.add_absence(kind="holiday", **days)


# --- consent ----------------------------------------------------------------------------------------------------------


def test_only_a_guardian_consents_for_an_under_18_and_only_an_adult_for_themselves(people):
    with pytest.raises(profiles.GuardianNeeded):
        profiles.give_consent(
            rider=people.young_rider, given_by="Wren", by_guardian=False, by=people.young_rider, now=NOW
        )
    with pytest.raises(profiles.OwnConsentNeeded):
        profiles.give_consent(
            rider=people.rider, given_by="Parent", by_guardian=True, by=people.coach, now=NOW
        )


def test_consent_given_twice_stands_once_and_by_another_replaces_it(people):
    first = profiles.give_consent(
        rider=people.rider, given_by="Tobias Okeldene", by_guardian=False, by=people.rider, now=NOW
    )
    again = profiles.give_consent(
        rider=people.rider, given_by="Tobias Okeldene", by_guardian=False, by=people.rider, now=NOW
    )
    assert first == again
    profiles.give_consent(
        rider=people.rider, given_by="T Okeldene", by_guardian=False, by=people.rider, now=NOW
    )
    assert Consent.objects.filter(rider=people.rider).standing().get().given_by == "T Okeldene"
    assert Consent.objects.filter(rider=people.rider).count() == 2


def test_withdrawn_consent_stops_plans_and_tells_the_coach(people):
    delivery = waiting_plan(people, people.rider)
    assert profiles.withdraw_consent(rider=people.rider, by=people.rider, now=NOW)
    delivery.refresh_from_db()
    assert delivery.state == "cancelled"
    assert missing(people, people.rider) == "no-consent"
    assert FollowUp.objects.get(rider=people.rider).topic == "screening"
    assert not profiles.withdraw_consent(rider=people.rider, by=people.rider, now=NOW)


def test_the_guardian_of_an_under_18_is_asked_and_everybody_else_themselves_once_a_day(people):
    mine = profiles.ask_for_consent(rider=people.rider, by=people.coach, now=NOW)
    theirs = profiles.ask_for_consent(rider=people.young_rider, by=people.coach, now=NOW)
    assert (mine.recipient, mine.payload["to"]) == ("tobias@wexenfold.example", "rider")
    assert (theirs.recipient, theirs.payload["to"]) == ("guardian-of-wren@wexenfold.example", "guardian")
    assert mine.channel == Delivery.Channel.ACCOUNT
    assert profiles.ask_for_consent(rider=people.rider, by=people.coach, now=NOW + timedelta(hours=2)) == mine
    assert profiles.ask_for_consent(rider=people.rider, by=people.coach, now=NOW + timedelta(days=1)) != mine


def test_nobody_is_asked_for_a_young_rider_without_a_guardian_s_address(people):
    Rider.objects.filter(pk=people.young_rider.pk).update(guardian_email="")
    people.young_rider.refresh_from_db()
    asked, without = profiles.ask_all(riders=[people.rider, people.young_rider], by=people.coach, now=NOW)
    assert (asked, without) == (1, [people.young_rider])


def test_a_rider_who_has_turned_18_gives_consent_again_before_anything_is_planned(people):
    Rider.objects.filter(pk=people.young_rider.pk).update(birth_year=2007)
    people.young_rider.refresh_from_db()
    assert missing(people, people.young_rider) == "no-own-consent"
    profiles.give_consent(
        rider=people.young_rider, given_by="Wren Tollifant", by_guardian=False, by=people.young_rider, now=NOW
    )
    assert missing(people, people.young_rider) is None


# --- screening --------------------------------------------------------------------------------------------------------


def answer(people, rider=None, answers=HEALTHY, now=NOW, **changes):
    rider = rider or people.rider
    values = {"answered_by": rider.name, "by_guardian": False, "by": rider, **changes}
    return profiles.answer_screening(rider=rider, answers=answers, now=now, **values)


def test_answers_that_ask_for_nothing_hold_a_year_and_open_nothing(people):
    row = answer(people)
    assert (row.needs, row.valid_until) == ("none", date(2027, 11, 26))
    assert not FollowUp.objects.exists()
    assert missing(people, people.rider) is None


def test_no_answers_are_held_without_consent(people):
    profiles.withdraw_consent(rider=people.rider, by=people.coach, now=NOW)
    with pytest.raises(ConsentMissing):
        answer(people)


def test_symptoms_stop_plans_that_wait_and_call_the_coach_the_same_day(people):
    delivery = waiting_plan(people, people.rider)
    row = answer(people, answers=AdultAnswers(active=True, symptoms=True, disease=False))
    delivery.refresh_from_db()
    follow_up = FollowUp.objects.get(rider=people.rider)
    assert row.needs == "stop-and-clearance"
    assert delivery.state == "cancelled"
    assert follow_up.due_at.date() == TODAY
    assert missing(people, people.rider) == "clearance-needed"


def test_a_clearance_does_not_replace_the_limits_that_are_asked_for_beside_it(people):
    """S1: pregnancy with disease asks for both, and neither replaces the other."""
    row = answer(people, answers=AdultAnswers(active=False, disease=True, symptoms=False, pregnant=True))
    profiles.record_clearance(
        screening=row, cleared_by="Dr Ashgrove", cleared_on=TODAY, by=people.coach, now=NOW
    )
    assert missing(people, people.rider) == "limits-needed"
    profiles.set_limit(
        rider=people.rider, set_by="Dr Ashgrove", set_on=TODAY, max_kg=Decimal(10), by=people.coach, now=NOW
    )
    assert missing(people, people.rider) is None


@pytest.mark.parametrize("cleared_on", [TODAY - timedelta(days=1), TODAY + timedelta(days=1)])
def test_a_clearance_from_before_the_answers_or_still_to_come_does_not_count(people, cleared_on):
    row = answer(people, answers=AdultAnswers(active=False, disease=True))
    with pytest.raises(profiles.ClearanceOutOfRange):
        profiles.record_clearance(
            screening=row, cleared_by="Dr Ashgrove", cleared_on=cleared_on, by=people.coach, now=NOW
        )


def test_a_clearance_of_the_last_twelve_months_counts_for_an_active_rider_with_known_disease(people):
    """Riebe 2015, row 6 of the table in `athletes/screening.py`."""
    row = answer(people, answers=AdultAnswers(**{**HEALTHY_AS_DICT, "disease": True}))
    profiles.record_clearance(
        screening=row,
        cleared_by="Dr Ashgrove",
        cleared_on=TODAY - timedelta(days=300),
        by=people.coach,
        now=NOW,
    )
    assert missing(people, people.rider) is None


def test_a_crash_ends_the_screening_until_it_is_answered_again(people):
    answer(people)
    on = TODAY + timedelta(days=2)
    SymptomReport.objects.create(
        club=people.club,
        rider=people.rider,
        on=on,
        event="crash",
        reported_at=NOW,
        cleared_on=on,
        cleared_by="x",
    )
    assert missing(people, people.rider) == "screening-ended"
    answer(people, now=NOW + timedelta(days=3))
    assert missing(people, people.rider) is None


def test_a_guardian_answers_for_an_under_18_and_with_the_questions_for_the_young(people):
    with pytest.raises(profiles.WrongQuestions):
        answer(people, rider=people.young_rider, by_guardian=True)
    with pytest.raises(GuardianNeeded):
        answer(people, rider=people.young_rider, answers=YoungAnswers())
    nothing_said = answer(people, rider=people.young_rider, answers=YoungAnswers(), by_guardian=True)
    assert nothing_said.needs == "stop-and-clearance"


def test_the_same_answers_sent_twice_are_held_once(people):
    assert answer(people) == answer(people, now=NOW + timedelta(minutes=1))
    assert Screening.objects.filter(rider=people.rider).count() == 2


# --- what clinicians set ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "limit",
    [
        {},
        {"pattern": Pattern.SQUAT, "region": Region.KNEE},
        {"pattern": Pattern.SQUAT, "max_kg": Decimal(10)},
        {"max_reps": 8, "set_by": ""},
        {"max_reps": 8, "until_on": TODAY - timedelta(days=1)},
    ],
)
def test_a_limit_says_one_thing_and_who_set_it(people, limit):
    values = {"set_by": "Dr Ashgrove", "set_on": TODAY, **limit}
    with pytest.raises(profiles.LimitUnclear):
        profiles.set_limit(rider=people.rider, **values, by=people.coach, now=NOW)


def test_an_ended_limit_stays_on_record_and_no_longer_meets_a_screening(people):
    answer(people, answers=AdultAnswers(**{**HEALTHY_AS_DICT, "pregnant": True}))
    limit = profiles.set_limit(
        rider=people.rider, set_by="M Ashgrove, midwife", set_on=TODAY, max_reps=8, by=people.coach, now=NOW
    )
    assert missing(people, people.rider) is None
    profiles.end_limit(limit=limit, on=TODAY, by=people.coach, now=NOW)
    assert missing(people, people.rider) == "limits-needed"
    assert limit.until_on == TODAY - timedelta(days=1)


@pytest.mark.parametrize(
    ("score", "days"), [(0, 7), (6, 7), (3, 43), (3, -1)], ids=["none", "six", "late review", "past review"]
)
def test_a_baseline_is_one_to_five_and_reviewed_within_six_weeks(people, score, days):
    values = {"region": Region.KNEE, "side": Side.LEFT, "seen_by": "P Ashgrove, physiotherapist"}
    with pytest.raises(profiles.BaselineOutOfRange):
        profiles.set_baseline(
            rider=people.rider,
            limit=score,
            review_on=TODAY + timedelta(days=days),
            by=people.coach,
            now=NOW,
            **values,
        )
    profiles.set_baseline(
        rider=people.rider, limit=3, review_on=TODAY + timedelta(days=42), by=people.coach, now=NOW, **values
    )


def test_a_movement_check_knows_three_results_and_no_others(people):
    values = {"rider": people.rider, "on": TODAY, "checked_by": "Thessa", "by": people.coach, "now": NOW}
    rows = profiles.record_movement_check(results={"chair-squat": "pass", "step-up": "hurts"}, **values)
    assert len(rows) == 2
    with pytest.raises(ValueError, match="maybe"):
        profiles.record_movement_check(results={"chair-squat": "maybe"}, **values)


def test_the_audit_log_says_who_did_what_and_nothing_about_health(people):
    row = answer(people, answers=AdultAnswers(disease=True))
    profiles.set_baseline(
        rider=people.rider, region=Region.KNEE, side=Side.LEFT, limit=2, seen_by="P Ashgrove", review_on=TODAY,
        by=people.coach, now=datetime(2026, 11, 27, 14, tzinfo=UTC),
    )  # fmt: skip
    entries = AuditEntry.objects.filter(rider_key=people.rider.pk)
    assert {(one.action, one.actor) for one in entries} == {
        ("screening.answer", f"rider:{people.rider.pk}"),
        ("baseline.set", f"coach:{people.coach.pk}"),
    }
    assert entries.get(action="screening.answer").subject == str(row.pk)
    assert not any(word in str([one.details for one in entries]) for word in ("knee", "disease", "Ashgrove"))
