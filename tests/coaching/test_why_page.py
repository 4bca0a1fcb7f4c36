"""Why a target and a week are as they are: the panel behind it, its own page, and who may read what."""

import html as entities
import re

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from athletes import access
from athletes.models import AuditEntry
from athletes.vocabulary import Reason
from coaching.desk import read_week_why, read_why
from coaching.desk.sources import rule_rows, source_of
from programs import plans
from programs.engine import spots
from programs.engine.facts import ENGINE
from programs.models import Decision, PlannedItem, WeekPlan
from tests import people
from tests.coaching.desks import PAST, WEEK, friday, past_week, plan_of, report_pain, resolved, signed_in

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("friday")]
__all__ = ["friday"]


def first_item(plan: WeekPlan, **wanted: object) -> PlannedItem:
    rows = PlannedItem.objects.filter(session__plan=plan, **wanted).select_related("session__plan__rider")
    item = rows.order_by("session__ordinal", "position").first()
    assert item is not None
    return item


def text_of(html: str) -> str:
    """What is read on a page, without its markup."""
    return " ".join(entities.unescape(re.sub(r"<[^>]+>", " ", html)).split())


def test_the_panel_says_inputs_alternatives_rules_and_sources() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        plan = plan_of(someone.rider, resolved(someone))
        item = first_item(plan)
        page = read_why(item, may_see_health=True)
    (taken,) = [other for other in page.others if other.is_taken]
    assert taken.line == page.line
    assert page.done
    assert page.inputs
    assert all(other.why for other in page.others if not other.is_taken)
    assert {row["rule"] for row in page.reasons} <= {rule.rule for rule in page.rules}
    answer = signed_in(someone.coach).get(reverse("plan-why", args=[plan.pk, item.pk]))
    said = text_of(answer.content.decode())
    for part in (
        "What decided it",
        "What it could have been",
        "What was done",
        "Rules and where they come from",
    ):
        assert part in said
    assert "taken" in said


def test_the_panel_stands_alone_for_htmx_and_in_a_page_without_it() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        item = first_item(plan)
    client = signed_in(someone.coach)
    for address in (reverse("plan-why", args=[plan.pk, item.pk]), reverse("plan-why-week", args=[plan.pk])):
        whole = client.get(address).content.decode()
        part = client.get(address, headers={"HX-Request": "true"}).content.decode()
        assert "<h1>" in whole
        assert f'href="{reverse("plan", args=[plan.pk])}' in whole
        assert "<h1" not in part
        assert "<html" not in part
        assert text_of(part) in text_of(whole)


def test_every_target_of_a_plan_leads_to_its_panel() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        items = list(PlannedItem.objects.filter(session__plan=plan).values_list("pk", flat=True))
    client = signed_in(someone.coach)
    for address in (reverse("plan", args=[plan.pk]), reverse("rider", args=[someone.rider.pk])):
        page = client.get(address).content.decode()
        for pk in items:
            why = reverse("plan-why", args=[plan.pk, pk])
            assert f'hx-get="{why}"' in page
            assert f'href="{why}"' in page
        assert f'hx-get="{reverse("plan-why-week", args=[plan.pk])}"' in page


def test_a_past_week_is_explained_from_the_facts_of_its_time() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        plan = plan_of(someone.rider, PAST)
        before = read_why(first_item(plan), may_see_health=True)
        someone.venue.items.all().delete()
        after = read_why(first_item(plan), may_see_health=True)
    assert before.others
    assert after == before
    assert after.notes == ()


def test_another_version_of_the_rules_is_said_plainly() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        Decision.objects.filter(plan=plan).update(engine=ENGINE + 1)
        page = read_why(first_item(plan), may_see_health=True)
        week = read_week_why(plan, may_see_health=True)
    said = f"Worked out by version {ENGINE + 1} of the rules; explained by version {ENGINE}."
    assert page.notes == (said,)
    assert week.notes == (said,)


def test_an_answer_that_this_engine_would_not_give_any_more_is_said_to_be_so() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        item = first_item(plan)
        item.target = item.target | {"amount": item.target["amount"] + 1}
        item.save()
        page = read_why(item, may_see_health=True)
    assert any("answers the same facts differently" in note for note in page.notes)


def test_facts_that_cannot_be_read_leave_the_reasons() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        Decision.objects.filter(plan=plan).update(facts={"schema": 0})
        page = read_why(first_item(plan), may_see_health=True)
    assert page.reasons
    assert page.others == ()
    assert page.notes == ("The facts of this week are of another version, so only its reasons are shown.",)


def test_an_eased_revision_says_that_it_stands_on_the_one_that_went_out() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        plan = plan_of(someone.rider, resolved(someone))
        plans.approve(plan=plan, by=someone.coach, now=people.NOW)
        plans.mark_sent(plan=plan, now=people.NOW)
        report_pain(someone.rider, 5)
        eased = plan_of(someone.rider, WEEK)
        page = read_why(first_item(eased), may_see_health=True)
    assert eased.is_downward
    assert page.others == ()
    assert any("eased a week that had gone out" in note for note in page.notes)


def test_an_edited_target_shows_what_the_rules_had() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        item = first_item(plan)
        plans.edit_target(
            item=item, sets=1, amount=5, kg=None, reason="A short week.", by=someone.coach, now=people.NOW
        )
        page = read_why(first_item(plan), may_see_health=True)
    (taken,) = [other for other in page.others if other.is_taken]
    assert "A short week." in page.edited
    assert page.notes == ()
    assert taken.line != page.line


def test_whoever_may_not_read_health_is_told_no_more_than_that_there_is_a_reason() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        report_pain(someone.rider, 4)
        plan = plan_of(someone.rider, resolved(someone))
        item = first_item(plan, pattern="squat")
        seen = read_why(item, may_see_health=True)
    assert seen.shows_health
    address = reverse("plan-why", args=[plan.pk, item.pk])
    page = signed_in(someone.assistant).get(address).content.decode()
    main = text_of(page[page.index("<main") : page.index("</main>")])
    assert "Health reason." in main
    assert not re.search(r"knee|out of 10|\bpain\b|\bsore", main, re.IGNORECASE)
    with access.within(someone.club):
        read = AuditEntry.objects.filter(action="health.read", subject=f"plan:{plan.pk}")
        assert not read.exists()
    signed_in(someone.coach).get(address)
    with access.within(someone.club):
        assert read.get().rider_key == someone.rider.pk


def test_the_week_says_its_phase_its_days_and_what_each_constraint_costs() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        page = read_week_why(plan, may_see_health=True)
    assert page.chosen
    assert page.points.endswith(("points", "point"))
    assert {"W1", "W2"} <= {rule.rule for rule in page.rules}
    assert page.free or page.costly
    said = text_of(signed_in(someone.coach).get(reverse("plan-why-week", args=[plan.pk])).content.decode())
    assert "Points say how badly a day suits" in said
    assert "What each constraint costs" in said


def test_a_rule_is_said_to_be_published_practice_or_ours_and_never_two_of_them() -> None:
    rows = rule_rows([Reason("P8", "maintain"), Reason("P3", "slower"), Reason("H2", "x"), Reason("P8", "x")])
    assert [(row.rule, row.kind) for row in rows] == [
        ("P8", "published"),
        ("P3", "common practice, no source"),
        ("H2", "a choice of this project"),
    ]
    assert rows[0].source.startswith("Rønnestad et al. 2010")
    assert source_of("Y1") == "common practice; WHO 2020 for at least two sessions a week"
    assert source_of("nothing") == ""


def test_what_was_left_out_says_which_exercises_were_tried() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        past_week(someone, someone.rider)
        report_pain(someone.rider, 7)
        plan = plan_of(someone.rider, resolved(someone))
        page = read_week_why(plan, may_see_health=True)
        hidden = read_week_why(plan, may_see_health=False)
    assert page.shows_health
    assert not hidden.shows_health
    tried = [choice for slot in page.left_out for choice in slot.choices]
    assert tried
    assert all(choice.why for choice in tried if not choice.is_taken)
    client = signed_in(someone.coach)
    said = text_of(client.get(reverse("plan-why-week", args=[plan.pk])).content.decode())
    assert "What was left out" in said
    assert f"Tried: {tried[0].exercise}" in said


def test_the_points_that_a_page_explains_are_those_of_the_engine() -> None:
    said = text_of(render_to_string("coaching/parts.html#points"))
    for points, what in (
        (spots.NEAR_STRONG, "within 3 hours of a key ride"),
        (spots.NEAR_MILD, "within 6"),
        (spots.NEAR_SLIGHT, "within 24"),
        (spots.TIRED_LEGS, "for leg work in the 24 hours before one"),
        (spots.LESS_LIKED, "for a time that the rider likes less"),
        (spots.OTHER_DAY, "for another day than last week"),
        (spots.OUT_OF_ORDER, "for sessions in another order"),
        (spots.LONG_GAP, "for too many days since the last one"),
    ):
        assert f"{points} {what}" in said
