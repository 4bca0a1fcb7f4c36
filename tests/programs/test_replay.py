"""A stored decision is worked out again from its stored facts."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from athletes import access
from programs import plans
from programs.engine import codec
from programs.engine.facts import Week
from programs.models import Decision, PlannedItem, WeekPlan
from tests import people


def resolved(someone: people.People) -> WeekPlan:
    plans.resolve(
        club=someone.club, week=Week(2026, 49), by=someone.coach, now=people.NOW, riders=[someone.rider]
    )
    return WeekPlan.objects.get(rider=someone.rider)


@pytest.mark.django_db
def test_the_same_facts_give_the_same_decision() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = resolved(someone)
    said = StringIO()
    call_command("replay", plan.pk, stdout=said)
    assert said.getvalue().startswith("The same decision")


@pytest.mark.django_db
def test_a_decision_that_differs_says_where() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = resolved(someone)
        answer = plan.decision.answer
        answer["sessions"][0]["items"][0]["target"]["sets"] += 1
        Decision.objects.filter(plan=plan).update(answer=answer)
    said = StringIO()
    with pytest.raises(CommandError, match="Another decision"):
        call_command("replay", plan.pk, stdout=said)
    assert ".sessions[0].items[0].target.sets: stored 3, now 2" in said.getvalue()


@pytest.mark.django_db
def test_facts_that_were_changed_are_not_replayed() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = resolved(someone)
        facts = plan.decision.facts
        facts["today"] = "2026-11-26"
        assert codec.digest(facts) != plan.decision.digest
        Decision.objects.filter(plan=plan).update(facts=facts)
    with pytest.raises(CommandError, match="digest"):
        call_command("replay", plan.pk)


@pytest.mark.django_db
def test_replay_tells_why_each_target_is_what_it_is() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = resolved(someone)
        items = PlannedItem.objects.filter(session__plan=plan)
        names = list(items.values_list("exercise__name", flat=True))
    said = StringIO()
    call_command("replay", plan.pk, "--why", stdout=said)
    told = said.getvalue()
    assert told.startswith("The same decision")
    assert told.count("[taken]") == len(names)
    for name in names:
        assert name in told
    assert "W1 Where sessions stand: published, Robineau et al. 2016" in told


@pytest.mark.django_db
def test_replay_tells_why_also_where_the_answer_is_another_one() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = resolved(someone)
        answer = plan.decision.answer
        answer["sessions"][0]["items"][0]["target"]["sets"] += 1
        Decision.objects.filter(plan=plan).update(answer=answer)
    said = StringIO()
    with pytest.raises(CommandError, match="Another decision"):
        call_command("replay", plan.pk, "--why", stdout=said)
    assert "[taken]" in said.getvalue()
