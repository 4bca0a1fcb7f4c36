"""What a rider's mail says of each change: one plain sentence, without health, rule ids or theory."""

import re
from dataclasses import replace
from functools import lru_cache
from random import Random

import pytest
from django.utils import timezone

from athletes import access
from athletes.vocabulary import Reason
from programs import facts, plans, sheets
from programs.engine.facts import Change, Item, Library
from programs.engine.resolve import resolve_week
from programs.mail_sentences import why_line
from programs.models import PlannedItem
from programs.rider_sentences import RIDER
from programs.wording import change_line, is_health
from tests import people
from tests.coaching.desks import friday, plan_of, resolved
from tests.engine.seasons import Season
from tests.engine.shipped import shipped

__all__ = ["friday"]
SEEDS, WEEKS = range(5), 20
#: Words that a rider has no use for.
JARGON = re.compile(
    r"\b(exposure|floor|ceiling|gate|bridge|standing|progression|regression|stalled|hypertrophy|volume|1RM|reachable|"
    r"holding|slot|template|deload|taper)\b",
    re.IGNORECASE,
)
RULE = re.compile(r"\b[A-Z]\d{1,2}\b")


@lru_cache(maxsize=1)
def changed() -> tuple[Item, ...]:
    """Every item of random seasons that is another than last time."""
    library: Library = shipped()
    found = []
    for seed in SEEDS:
        for week in Season.begin(library, Random(seed)).live(WEEKS):
            decision = resolve_week(week.facts, library)
            found += [
                item
                for session in decision.sessions
                for item in session.items
                if item.change is not Change.SAME
            ]
    return tuple(found)


def said_of(item: Item) -> str:
    """The sentence of the mail."""
    return why_line(item, "kg") or change_line(item.change, item.target, item.previous, "kg")


def test_every_change_has_one_sentence_and_no_more() -> None:
    seen = set()
    for item in changed():
        said = said_of(item)
        seen.add(item.change)
        assert re.fullmatch(r"[A-Z0-9].*\.", said), said
        assert len(re.findall(r"[.!?](?:\s|$)", said)) in (1, 2), said
        assert len(said) <= 160
    assert len(seen) >= 8


def test_no_sentence_of_a_mail_names_a_rule_or_speaks_theory() -> None:
    for said in {said_of(item) for item in changed()}:
        assert not JARGON.search(said), said
        assert not RULE.search(said), said
        assert "{" not in said
        assert "(not known)" not in said


@pytest.mark.parametrize("key", sorted(RIDER))
def test_what_a_rider_is_told_is_plain(key: str) -> None:
    said = re.sub(r"\{\w+\}", "x", RIDER[key])
    assert not JARGON.search(said)
    assert not RULE.search(said)


def test_nothing_is_said_of_why_where_any_reason_is_about_health() -> None:
    seen = 0
    for item in changed():
        if any(is_health(reason) for reason in item.reasons):
            seen += 1
            assert why_line(item, "kg") == ""
    assert seen


def test_a_rise_says_what_earned_it() -> None:
    rises = [item for item in changed() if item.change in (Change.MORE_REPS, Change.MORE_SETS, Change.HARDER)]
    well = [item for item in rises if not any(is_health(reason) for reason in item.reasons)]
    assert well
    said = [why_line(item, "kg") for item in well]
    assert sum(bool(one) for one in said) > 0.7 * len(said)
    again = replace(
        well[0], reasons=(Reason("P1", "reps-up", {"from": 8, "to": 9}),), change=Change.MORE_REPS
    )
    assert why_line(again, "kg") == "All sets at 8 with good reps left: 9 now."


@pytest.mark.django_db
def test_a_target_that_a_coach_edited_is_said_as_it_stands(friday: object) -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = plan_of(someone.rider, resolved(someone))
        item = PlannedItem.objects.filter(session__plan=plan).select_related("session").order_by("pk").first()
        assert item is not None
        item.change, item.previous = Change.MORE_REPS.value, item.target
        item.save()
        plans.edit_target(
            item=item, sets=1, amount=5, kg=None, reason="A short week.", by=someone.coach, now=timezone.now()
        )
        sheet = sheets.sheet_of(
            sheets.plan_with_rows(plan.pk), addresses=sheets.Addresses({}), library=facts.current_library()
        )
        edited = sheet.sessions[item.session.ordinal - 1].items[item.position]
    assert edited.line.startswith("1 x 5")
    assert edited.why_line == ""
    assert edited.change_line == "Fewer sets than last time."
