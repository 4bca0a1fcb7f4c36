"""One plan: every number with its reason, edited and moved within what the safety properties allow."""

import re
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from athletes import access
from athletes.models import AuditEntry, KitItem, Opening, Venue
from coaching.desk import PlanPage, read_plan
from programs import facts, pins, plans
from programs.engine.quantities import week_days
from programs.models import Exercise, PlannedItem, PlannedSession, SessionKey, WeekPlan
from tests import people
from tests.coaching.desks import WEEK, friday, past_week, plan_of, report_pain, resolved, signed_in

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("friday")]
__all__ = ["friday"]


def read(someone: people.People, plan: WeekPlan) -> PlanPage:
    return read_plan(plan.pk, club=someone.club, may_see_health=True, may_plan=True, now=people.NOW)


def loaded_item(someone: people.People, plan: WeekPlan) -> PlannedItem:
    """A goblet squat at 12 kg in the first session, in place of what is there."""
    item = PlannedItem.objects.filter(session__plan=plan, pattern="squat").select_related("session").get()
    load = {"holding": {"implement": "kettlebell", "count": 1}, "kg": "12", "band": None}
    item.exercise = Exercise.objects.get(slug="goblet-squat")
    item.target = item.target | {"load": load, "measure": "reps", "sets": 2, "amount": 6}
    item.previous, item.change = item.target, "same"
    item.save()
    return item


def test_each_target_opens_to_its_rule_its_figures_and_its_source() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        plan = plan_of(someone.rider, resolved(someone))
        page = read(someone, plan)
    targets = [target for session in page.sessions for target in session.targets]
    assert targets
    reasons = [reason for target in targets for reason in target.reasons]
    assert all(reason["rule"] and reason["sentence"].endswith(".") for reason in reasons)
    assert any(reason["figures"] and reason["source"] for reason in reasons)
    html = signed_in(someone.coach).get(reverse("plan", args=[plan.pk])).content.decode()
    assert reasons[0]["sentence"] in html
    assert f"Rule {reasons[0]['rule']}" in html


def test_the_loads_to_choose_from_are_those_that_the_venue_has() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        item = loaded_item(someone, plan)
        target = read(someone, plan).target(item.pk)
        assert target is not None
        assert [load.words for load in target.loads] == ["8 kg", "12 kg", "16 kg"]
        KitItem.objects.filter(venue=someone.venue, kg=16).delete()
        target = read(someone, plan).target(item.pk)
        assert target is not None
        assert [load.value for load in target.loads] == ["8", "12"]


def test_an_edit_is_kept_with_its_reason_and_who_made_it() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        item = loaded_item(someone, plan)
    name = f"target-{item.pk}"
    sent = {
        f"{name}-sets": 2,
        f"{name}-amount": 5,
        f"{name}-kg": "8",
        f"{name}-reason": "Back from a long tour.",
    }
    answer = signed_in(someone.coach).post(reverse("plan-target", args=[plan.pk, item.pk]), sent, follow=True)
    assert "Back from a long tour." in answer.content.decode()
    with access.within(someone.club):
        item.refresh_from_db()
        target = facts.read_target(item.target)
    assert (target.sets, target.amount, str(target.load and target.load.kg)) == (2, 5, "8")
    assert (item.edited_by_id, item.edited_at) == (someone.coach.pk, people.NOW)


def test_a_load_that_is_not_there_is_no_choice_and_nothing_typed_is_lost() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        item = loaded_item(someone, plan)
    name = f"target-{item.pk}"
    sent = {f"{name}-sets": 3, f"{name}-amount": 7, f"{name}-kg": "20", f"{name}-reason": "He asked for it."}
    answer = signed_in(someone.coach).post(reverse("plan-target", args=[plan.pk, item.pk]), sent)
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "He asked for it." in html
    assert 'value="7"' in html
    with access.within(someone.club):
        item.refresh_from_db()
        assert item.edited_at is None


def test_no_edit_gives_a_young_rider_more_sets_than_the_young_do() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.young_rider, resolved(someone))
        item = PlannedItem.objects.filter(session__plan=plan).first()
        assert item is not None
    name = f"target-{item.pk}"
    sent = {f"{name}-sets": 5, f"{name}-amount": 6, f"{name}-reason": "She is strong."}
    answer = signed_in(someone.coach).post(reverse("plan-target", args=[plan.pk, item.pk]), sent)
    assert answer.status_code == 422
    assert "under 18, at most 3 sets" in answer.content.decode()
    with access.within(someone.club):
        item.refresh_from_db()
        assert (facts.read_target(item.target).sets, item.edited_at) != (5, people.NOW)
        assert item.edited_at is None


def test_every_day_of_the_week_has_a_price_or_says_why_not() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        page = read(someone, plan)
    first, second = page.sessions
    assert (first.on, second.on) == (date(2026, 12, 1), date(2026, 12, 3))
    assert [day.on for day in second.days] == list(week_days(WEEK))
    of_second = {day.on.weekday(): day for day in second.days}
    assert of_second[3].is_now
    assert (of_second[3].points, of_second[3].price) == (0, "costs nothing more")
    # Saturday: leg work in the day before Sunday's key ride costs 30 points, 13 hours 10 more.
    assert (of_second[5].points, of_second[5].price) == (40, "40 points more")
    assert of_second[5].why == (
        "Leg work that ends 13 h before the key ride of Sunday 6 December: 40 points.",
    )
    assert (of_second[0].points, of_second[0].why) == (None, ("No time to train on that day.",))


def pin(client: Client, plan: WeekPlan, ordinal: int, to: str, **more: Any) -> Any:
    """The answer to pinning a session to a day."""
    return client.post(reverse("plan-pin", args=[plan.pk, ordinal]), {f"pin-{ordinal}-to": to}, **more)


def test_a_pinned_session_moves_with_its_venue_and_the_week_is_worked_out_again() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        hall = Venue.objects.create(club=someone.club, name="Mill hall")
        Opening.objects.filter(rider=someone.rider, weekday=5).update(start="10:00", venue=hall)
    answer = pin(signed_in(someone.coach), plan, 2, "2026-12-05")
    with access.within(someone.club):
        new = plan_of(someone.rider, WEEK)
        session = PlannedSession.objects.select_related("key").get(plan=new, ordinal=2)
        plan.refresh_from_db()
    assert answer.headers["Location"] == reverse("plan", args=[new.pk])
    assert (session.on, session.start.hour, session.venue) == (date(2026, 12, 5), 10, "Mill hall")
    assert session.key.pinned_on == session.on
    assert (plan.state, new.revision) == (WeekPlan.State.SUPERSEDED, 2)
    with access.within(someone.club):
        assert AuditEntry.objects.filter(action="plan.pin", subject=str(new.pk)).exists()


def test_a_pin_says_what_it_changed_and_can_be_undone() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    client = signed_in(someone.coach)
    html = pin(client, plan, 2, "2026-12-05", follow=True).content.decode()
    assert "is pinned to Saturday 5 December." in html
    assert "Saturday 5 December, 18:30, Home instead of Thursday 3 December" in html
    assert "Pinned to this day" in html
    with access.within(someone.club):
        pinned = plan_of(someone.rider, WEEK)
    assert f'action="{reverse("plan-pin", args=[pinned.pk, 2])}"' in html
    html = pin(client, pinned, 2, "", follow=True).content.decode()
    assert "is pinned to no day any more." in html
    with access.within(someone.club):
        days = list(plan_of(someone.rider, WEEK).sessions.values_list("on", flat=True))
    assert days == [date(2026, 12, 1), date(2026, 12, 3)]


def test_a_pin_outlives_working_the_week_out_again() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        pins.pin(plan=plan, ordinal=2, on=date(2026, 12, 5), by=someone.coach, now=people.NOW)
        plans.resolve(
            club=someone.club, week=WEEK, by=someone.coach, now=people.NOW, riders=[someone.rider], again=True
        )
        session = PlannedSession.objects.get(plan=plan_of(someone.rider, WEEK), ordinal=2)
    assert session.on == date(2026, 12, 5)


def test_no_session_is_pinned_to_a_day_that_is_impossible() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    client = signed_in(someone.coach)
    answer = pin(client, plan, 2, "2026-11-30")
    assert answer.status_code == 422
    assert "Choose one of the days that are possible." in answer.content.decode()
    assert pin(client, plan, 2, "2026-12-12").status_code == 422
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK) == plan
        assert not SessionKey.objects.filter(pinned_on__isnull=False).exists()
        for on in (date(2026, 11, 30), date(2026, 12, 12)):
            with pytest.raises(pins.DayImpossible):
                pins.pin(plan=plan, ordinal=2, on=on, by=someone.coach, now=people.NOW)
        assert not SessionKey.objects.filter(pinned_on__isnull=False).exists()


def test_a_pin_keeps_what_a_coach_had_edited() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        item = PlannedItem.objects.filter(session__plan=plan, session__ordinal=1).first()
        assert item is not None
        plans.edit_target(
            item=item, sets=1, amount=5, kg=None, reason="A short week.", by=someone.coach, now=people.NOW
        )
        pinned = pins.pin(plan=plan, ordinal=2, on=date(2026, 12, 5), by=someone.coach, now=people.NOW)
        kept = PlannedItem.objects.get(session__plan=pinned.plan, session__ordinal=1, slot=item.slot)
    assert (facts.read_target(kept.target).sets, kept.edit_reason) == (1, "A short week.")
    assert (kept.edited_by_id, pinned.edits_lost) == (someone.coach.pk, 0)


def test_a_pin_in_place_is_answered_with_the_new_revision_and_its_address() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
    answer = pin(signed_in(someone.coach), plan, 2, "2026-12-05", headers={"HX-Request": "true"})
    with access.within(someone.club):
        new = plan_of(someone.rider, WEEK)
    assert answer.headers["HX-Replace-Url"] == reverse("plan", args=[new.pk])
    assert 'id="plan"' in answer.content.decode()
    assert "<html" not in answer.content.decode()


def test_an_approved_week_is_not_pinned() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        plans.approve(plan=plan, by=someone.coach, now=people.NOW)
    pin(signed_in(someone.coach), plan, 2, "2026-12-05")
    with access.within(someone.club):
        assert not SessionKey.objects.filter(pinned_on__isnull=False).exists()
        assert plan_of(someone.rider, WEEK) == plan


def test_a_pin_whose_day_became_impossible_is_said_and_can_be_taken_away() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        pins.pin(plan=plan, ordinal=2, on=date(2026, 12, 5), by=someone.coach, now=people.NOW)
        Opening.objects.filter(rider=someone.rider, weekday=5).delete()
        plans.resolve(
            club=someone.club, week=WEEK, by=someone.coach, now=people.NOW, riders=[someone.rider], again=True
        )
        lost = plan_of(someone.rider, WEEK)
    client = signed_in(someone.coach)
    html = client.get(reverse("plan", args=[lost.pk])).content.decode()
    assert "Session 2 is pinned to Saturday 5 December, where it cannot stand now." in html
    pin(client, lost, 2, "")
    with access.within(someone.club):
        assert plan_of(someone.rider, WEEK).sessions.count() == 2


def test_an_approved_plan_cannot_be_edited_until_its_approval_is_taken_back() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        plans.approve(plan=plan, by=someone.coach, now=people.NOW)
        item = PlannedItem.objects.filter(session__plan=plan).first()
        assert item is not None
    client = signed_in(someone.coach)
    html = client.get(reverse("plan", args=[plan.pk])).content.decode()
    assert "Take the approval back" in html
    assert "Change the target" not in html
    name = f"target-{item.pk}"
    client.post(
        reverse("plan-target", args=[plan.pk, item.pk]),
        {f"{name}-sets": 1, f"{name}-amount": 5, f"{name}-reason": "Late."},
    )
    with access.within(someone.club):
        item.refresh_from_db()
        assert item.edited_at is None


def test_a_replaced_revision_leads_to_the_one_in_force() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        old = plan_of(someone.rider, resolved(someone))
        plans.resolve(
            club=someone.club, week=WEEK, by=someone.coach, now=people.NOW, riders=[someone.rider], again=True
        )
        new = plan_of(someone.rider, WEEK)
    html = signed_in(someone.coach).get(reverse("plan", args=[old.pk])).content.decode()
    assert "This revision has been replaced." in html
    assert f'href="{reverse("plan", args=[new.pk])}"' in html
    assert "Approve this week" not in html


def test_the_level_rail_names_what_earns_the_next_level() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        page = read(someone, plan)
    rail = next(rail for rail in page.rails if rail.pattern == "Squat")
    assert [rung["level"] for rung in rail.levels] == sorted(rung["level"] for rung in rail.levels)
    assert sum(bool(rung.get("current")) for rung in rail.levels) == 1
    coming = next(rung for rung in rail.levels if rung.get("next"))
    assert re.fullmatch(r"Earned by \d x \d+ with \d good reps left\.", coming["criterion"])


def test_an_assistant_reads_no_health_on_a_plan_and_cannot_change_it() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        report_pain(someone.rider, 6)
        plan = plan_of(someone.rider, resolved(someone))
        item = PlannedItem.objects.filter(session__plan=plan).first()
        assert item is not None
    client = signed_in(someone.assistant)
    html = client.get(reverse("plan", args=[plan.pk])).content.decode()
    main = html[html.index("<main") : html.index("</main>")]
    assert "Health reason." in main
    assert not re.search(r"knee (?:\(|loads)|out of 10|\bpain\b", main, re.IGNORECASE)
    assert client.post(reverse("plan-target", args=[plan.pk, item.pk])).status_code == 403
    with access.within(someone.club):
        assert not AuditEntry.objects.filter(
            action="health.read", actor=f"coach:{someone.assistant.pk}"
        ).exists()
    signed_in(someone.coach).get(reverse("plan", args=[plan.pk]))
    with access.within(someone.club):
        read_it = AuditEntry.objects.get(action="health.read", subject=f"plan:{plan.pk}")
    assert read_it.rider_key == someone.rider.pk


def test_a_target_of_another_plan_is_not_found_under_this_ones_address() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        resolved(someone)
        mine, other = plan_of(someone.rider, WEEK), plan_of(someone.young_rider, WEEK)
        item = PlannedItem.objects.filter(session__plan=other).first()
        assert item is not None
    client = signed_in(someone.coach)
    assert client.post(reverse("plan-target", args=[mine.pk, item.pk])).status_code == 404
    assert client.get(reverse("plan-why", args=[mine.pk, item.pk])).status_code == 404
    assert client.post(reverse("plan-pin", args=[mine.pk, 7])).status_code == 404
    assert week_days(WEEK)[0] == people.MONDAY


def test_the_weeks_sets_stand_beside_their_caps() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        page = read(someone, plan)
    rows = {row.muscle: (row.sets, row.most) for row in page.muscles}
    # Two teaching sets each of the squat and the split squat, and six a week while learning.
    assert rows["front thigh muscles"] == ("4", "6")
    html = signed_in(someone.coach).get(reverse("plan", args=[plan.pk])).content.decode()
    assert "Hard sets by muscle" in html and "front thigh muscles" in html


def test_a_week_above_its_caps_says_so_and_asks_for_a_written_reason() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        item = PlannedItem.objects.get(session__plan=plan, pattern="squat")
        item.target = item.target | {"sets": 7}
        item.save()
        row = next(row for row in read(someone, plan).muscles if row.muscle == "front thigh muscles")
        found = {breach.id for breach in plans.find_breaches(plan, club=someone.club, now=people.NOW)}
    assert (row.sets, row.most, row.remark) == ("9", "6", "above the most")
    assert "I6" in found and not any(one in found for one in ("I2", "I3", "I7"))
