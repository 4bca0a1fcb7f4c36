"""The verbs of the program builder: started, changed, moved, removed and brought back, put in use, copied."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection

from athletes import access
from athletes.models import AuditEntry, Race
from programs import builder, drafts, facts, outlines, placing, plans
from programs.engine.facts import Week
from programs.models import Block, Program, SessionTemplate, Slot, WeekPlan
from tests import people

NOW = people.NOW
MONDAY = people.MONDAY


@pytest.fixture
def someone(db: None) -> Any:
    """The club of the tests, entered."""
    who = people.wexenfold()
    with access.within(who.club):
        yield who


def started(someone: people.People, name: str = "Season", **more: Any) -> Program:
    return builder.start(squad=someone.squad, name=name, starts_on=MONDAY, by=someone.coach, now=NOW, **more)


def document(program: Program) -> dict[str, Any]:
    """What the program says, its order proven by the database."""
    return drafts.document_of(drafts.draft_of_program(Program.objects.get(pk=program.pk)))


def constraints_hold() -> None:
    """Places are checked at the end of a transaction; here, now."""
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")


# --- starting and copying ---------------------------------------------------------------------------------------------


def test_the_first_draft_learns_builds_and_maintains_and_is_not_in_use(someone: people.People) -> None:
    program = started(someone)
    blocks = [(block.intent, block.weeks, block.sessions) for block in program.blocks.all()]
    assert blocks == [("learn", 3, 2), ("build", 12, 2), ("maintain", drafts.MAINTAIN_WEEKS, 1)]
    assert not program.is_active
    assert someone.program.is_active


def test_the_first_draft_maintains_until_the_last_race(someone: people.People) -> None:
    begins = MONDAY + timedelta(weeks=15)
    Race.objects.create(club=someone.club, name="Tolmarrow Hundred", on=begins + timedelta(days=7 * 8 + 6))
    assert started(someone).blocks.last().weeks == 9
    Race.objects.create(club=someone.club, name="After the summer", on=begins + timedelta(weeks=40))
    assert started(someone, "Another").blocks.last().weeks == 9


def test_the_first_draft_gives_no_cause_for_a_look_and_fits_45_minutes(someone: people.People) -> None:
    outline = outlines.read(started(someone).pk, today=NOW.date())
    said = [*outline.remarks, *(one for band in outline.blocks for one in band.remarks)]
    cards = [card for band in outline.blocks for card in band.sessions]
    said += [one for card in cards for one in card.remarks]
    assert [one.sentence for one in said if one.is_warning] == []
    assert max(card.minutes for card in cards) <= 45


def test_a_copy_says_the_same_and_changing_it_leaves_the_other_alone(someone: people.People) -> None:
    copy = started(someone, "Copy", copied_from=someone.program)
    before = document(someone.program)
    assert document(copy)["blocks"] == before["blocks"]
    builder.change_slot(
        slot=Slot.objects.filter(template__block__program=copy).first(),
        values={"sets": 5},
        by=someone.coach,
        now=NOW,
    )
    assert document(someone.program) == before


def test_a_program_begins_on_a_monday(someone: people.People) -> None:
    with pytest.raises(builder.NotAMonday):
        builder.start(
            squad=someone.squad, name="Odd", starts_on=MONDAY + timedelta(days=1), by=someone.coach, now=NOW
        )
    with pytest.raises(builder.NotAMonday):
        builder.change(
            program=someone.program, values={"starts_on": date(2026, 12, 1)}, by=someone.coach, now=NOW
        )


def test_two_programs_of_a_squad_have_two_names_whatever_their_case(someone: people.People) -> None:
    with pytest.raises(builder.NameTaken):
        started(someone, "WINTER")
    other = started(someone, "Summer")
    with pytest.raises(builder.NameTaken):
        builder.change(program=other, values={"name": "winter"}, by=someone.coach, now=NOW)
    builder.change(program=other, values={"name": "SUMMER"}, by=someone.coach, now=NOW)


# --- in use -----------------------------------------------------------------------------------------------------------


def test_putting_one_in_use_takes_the_other_out_and_keeps_it(someone: people.People) -> None:
    program = started(someone)
    builder.use(program=program, starts_on=MONDAY, by=someone.coach, now=NOW)
    assert list(Program.objects.filter(is_active=True)) == [program]
    assert Program.objects.filter(pk=someone.program.pk).exists()
    (learn, *_rest) = facts.read_blocks([someone.squad.pk])[someone.squad.pk]
    assert (learn.first, learn.intent.value) == (Week(2026, 49), "learn")


def test_no_week_is_left_without_a_program(someone: people.People) -> None:
    """On Friday 27 November the next week to be worked out begins on 30 November."""
    program = started(someone)
    with pytest.raises(builder.StartsTooLate) as late:
        builder.use(program=program, starts_on=MONDAY + timedelta(weeks=1), by=someone.coach, now=NOW)
    assert (late.value.next_on, late.value.other) == (MONDAY, someone.program)
    assert not Program.objects.get(pk=program.pk).is_active
    Program.objects.filter(pk=someone.program.pk).update(is_active=False)
    builder.use(program=program, starts_on=MONDAY + timedelta(weeks=1), by=someone.coach, now=NOW)
    assert Program.objects.get(pk=program.pk).is_active


def test_an_empty_program_is_not_put_in_use(someone: people.People) -> None:
    program = started(someone)
    Slot.objects.filter(template__block__program=program).delete()
    with pytest.raises(builder.NothingInIt):
        builder.use(program=program, starts_on=MONDAY, by=someone.coach, now=NOW)


def test_a_program_in_use_is_not_removed(someone: people.People) -> None:
    with pytest.raises(builder.InUse):
        builder.remove(program=someone.program, by=someone.coach, now=NOW)


def test_a_change_counts_from_the_next_week_and_a_sent_one_keeps_its_own(someone: people.People) -> None:
    week = Week(2026, 49)
    plans.resolve(club=someone.club, week=week, by=someone.coach, now=NOW)
    plan = WeekPlan.objects.get(rider=someone.rider)
    plans.approve(plan=plan, by=someone.coach, now=NOW)
    plans.mark_sent(plan=plan, now=NOW)
    before = [item.pattern for session in plan.sessions.all() for item in session.items.all()]
    for slot in Slot.objects.exclude(pattern="pull"):
        builder.remove_slot(slot=slot, by=someone.coach, now=NOW)
    kept = WeekPlan.objects.get(rider=someone.rider)
    assert [item.pattern for session in kept.sessions.all() for item in session.items.all()] == before
    later = NOW + timedelta(days=7)
    plans.resolve(club=someone.club, week=Week(2026, 50), by=someone.coach, now=later)
    next_plan = WeekPlan.objects.get(rider=someone.rider, iso_week=50)
    assert {item.pattern for session in next_plan.sessions.all() for item in session.items.all()} == {"pull"}


# --- blocks, sessions, slots ------------------------------------------------------------------------------------------


def test_a_new_block_stands_last_with_the_sessions_of_another(someone: people.People) -> None:
    first = someone.program.blocks.get()
    block = builder.add_block(
        program=someone.program,
        values={"name": "Keep it", "intent": "maintain", "weeks": 6, "sessions": 1},
        sessions_from=first,
        by=someone.coach,
        now=NOW,
    )
    assert block.order == 2
    assert drafts.draft_of_block(block).templates == drafts.draft_of_block(first).templates
    empty = builder.add_block(
        program=someone.program, values={"intent": "rest", "sessions": 0}, by=someone.coach, now=NOW
    )
    assert (empty.order, empty.templates.count()) == (3, 0)


def test_weeks_before_move_the_blocks_after(someone: people.People) -> None:
    program = started(someone)
    builder.use(program=program, starts_on=MONDAY, by=someone.coach, now=NOW)
    builder.change_block(block=program.blocks.first(), values={"weeks": 5}, by=someone.coach, now=NOW)
    learn, build, _keep = facts.read_blocks([someone.squad.pk])[someone.squad.pk]
    assert (learn.last, build.first) == (Week(2026, 53), Week(2027, 1))


def test_blocks_sessions_and_slots_move_and_stop_at_the_ends(someone: people.People) -> None:
    program = started(someone)
    learn, build, keep = program.blocks.all()
    assert builder.move_block(block=keep, by_places=-1, by=someone.coach, now=NOW)
    assert builder.move_block(block=keep, by_places=-1, by=someone.coach, now=NOW)
    assert not builder.move_block(block=keep, by_places=-1, by=someone.coach, now=NOW)
    constraints_hold()
    assert [(row.pk, row.order) for row in program.blocks.all()] == [
        (keep.pk, 1),
        (learn.pk, 2),
        (build.pk, 3),
    ]
    first, second = build.templates.all()
    assert builder.move_template(template=first, by_places=1, by=someone.coach, now=NOW)
    assert [row.pk for row in build.templates.all()] == [second.pk, first.pk]
    slots = list(first.slots.all())
    assert builder.move_slot(slot=slots[0], by_places=2, by=someone.coach, now=NOW)
    assert not builder.move_slot(slot=slots[-1], by_places=1, by=someone.coach, now=NOW)
    constraints_hold()
    moved = [slots[1].pk, slots[2].pk, slots[0].pk, *(slot.pk for slot in slots[3:])]
    assert [row.pk for row in first.slots.all()] == moved


def test_a_slot_asks_for_a_pattern_or_for_one_exercise_of_it(someone: people.People) -> None:
    template = SessionTemplate.objects.first()
    values = {
        "pattern": "squat",
        "exercise_id": "goblet-squat",
        "sets": 3,
        "low": 6,
        "high": 12,
        "rest_s": 90,
    }
    slot = builder.add_slot(template=template, values=values, by=someone.coach, now=NOW)
    assert (slot.exercise_id, slot.order) == ("goblet-squat", 5)
    with pytest.raises(builder.WrongPattern):
        builder.change_slot(slot=slot, values={"pattern": "pull"}, by=someone.coach, now=NOW)
    with pytest.raises(builder.WrongPattern):
        builder.add_slot(template=template, values={**values, "pattern": "hinge"}, by=someone.coach, now=NOW)
    changed = builder.change_slot(
        slot=slot, values={"pattern": "pull", "exercise_id": None}, by=someone.coach, now=NOW
    )
    assert (changed.pattern, changed.exercise_id) == ("pull", None)


def test_there_is_an_end_to_blocks_weeks_sessions_and_slots(someone: people.People) -> None:
    template = SessionTemplate.objects.first()
    for _number in range(placing.MOST_SLOTS - template.slots.count()):
        builder.add_slot(template=template, values={"pattern": "calf"}, by=someone.coach, now=NOW)
    with pytest.raises(placing.Full):
        builder.add_slot(template=template, values={"pattern": "calf"}, by=someone.coach, now=NOW)
    block = template.block
    builder.add_template(block=block, values={"name": "C"}, by=someone.coach, now=NOW)
    with pytest.raises(placing.Full):
        builder.add_template(block=block, values={"name": "D"}, by=someone.coach, now=NOW)
    for _number in range(2):
        builder.add_block(program=block.program, values={"weeks": 30}, by=someone.coach, now=NOW)
    with pytest.raises(placing.Full) as full:
        builder.add_block(program=block.program, values={"weeks": 25}, by=someone.coach, now=NOW)
    assert full.value.most == placing.MOST_WEEKS
    with pytest.raises(placing.Full):
        builder.change_block(
            block=block.program.blocks.last(), values={"weeks": 55}, by=someone.coach, now=NOW
        )


# --- removed and brought back -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["program", "block", "template", "slot"])
def test_what_was_removed_comes_back_as_it_was_and_where_it_stood(someone: people.People, kind: str) -> None:
    program = started(someone)
    before = document(program)
    removed = remove_middle(program, kind, someone)
    constraints_hold()
    assert kind == "program" or document(program) != before
    row = builder.restore(removed=removed, by=someone.coach, now=NOW)
    constraints_hold()
    back = row if isinstance(row, Program) else program
    assert document(back) == before
    assert Program.objects.get(pk=back.pk).starts_on == MONDAY


def remove_middle(program: Program, kind: str, someone: people.People) -> builder.Removed:
    """One thing out of the midst of the program is removed."""
    by, block = someone.coach, program.blocks.all()[1]
    if kind == "program":
        return builder.remove(program=program, by=by, now=NOW)
    if kind == "block":
        return builder.remove_block(block=block, by=by, now=NOW)
    if kind == "template":
        return builder.remove_template(template=block.templates.first(), by=by, now=NOW)
    slot = block.templates.first().slots.all()[1]
    return builder.remove_slot(slot=slot, by=by, now=NOW)


def test_nothing_comes_back_into_what_is_gone(someone: people.People) -> None:
    slot = Slot.objects.first()
    removed = builder.remove_slot(slot=slot, by=someone.coach, now=NOW)
    builder.remove_template(template=slot.template, by=someone.coach, now=NOW)
    with pytest.raises(builder.Gone):
        builder.restore(removed=removed, by=someone.coach, now=NOW)


def test_a_program_does_not_come_back_under_a_name_that_is_taken(someone: people.People) -> None:
    removed = builder.remove(program=started(someone), by=someone.coach, now=NOW)
    started(someone)
    with pytest.raises(builder.NameTaken):
        builder.restore(removed=removed, by=someone.coach, now=NOW)


def test_what_one_club_removed_another_cannot_bring_back(someone: people.People) -> None:
    removed = builder.remove_slot(slot=Slot.objects.first(), by=someone.coach, now=NOW)
    other = people.strangers()
    with access.within(other.club), pytest.raises(builder.Gone):
        builder.restore(removed=removed, by=other.coach, now=NOW)


@pytest.mark.parametrize("verb", ["change_slot", "move_slot", "remove_slot"])
def test_a_change_of_what_somebody_else_removed_says_so(someone: people.People, verb: str) -> None:
    slot = Slot.objects.first()
    Slot.objects.filter(pk=slot.pk).delete()
    more = {"change_slot": {"values": {"sets": 2}}, "move_slot": {"by_places": 1}}.get(verb, {})
    with pytest.raises(builder.Gone):
        getattr(builder, verb)(slot=slot, by=someone.coach, now=NOW, **more)


def test_every_change_is_in_the_audit_log_with_who_and_what(someone: people.People) -> None:
    program = started(someone)
    block = program.blocks.first()
    builder.change_block(block=block, values={"weeks": 4}, by=someone.owner, now=NOW)
    builder.change_block(block=block, values={"weeks": 4}, by=someone.owner, now=NOW)
    entries = AuditEntry.objects.filter(subject=str(program.pk)).order_by("pk")
    assert [(one.action, one.actor) for one in entries] == [
        ("program.start", f"coach:{someone.coach.pk}"),
        ("program.change-block", f"coach:{someone.owner.pk}"),
    ]
    assert entries[1].details == {"row": block.pk, "fields": ["weeks"]}


def test_each_verb_waits_for_the_program_to_be_free(someone: people.People) -> None:
    with pytest.MonkeyPatch.context() as patch:
        locked: list[Any] = []
        select = Program.objects.all().__class__.select_for_update

        def noting(queryset: Any, **options: Any) -> Any:
            locked.append(queryset.model)
            return select(queryset, **options)

        patch.setattr(Program.objects.all().__class__, "select_for_update", noting)
        block, template, slot = Block.objects.first(), SessionTemplate.objects.first(), Slot.objects.first()
        by: dict[str, Any] = {"by": someone.coach, "now": NOW}
        builder.change(program=someone.program, values={"name": "New"}, **by)
        builder.add_block(program=someone.program, values={}, **by)
        builder.change_block(block=block, values={"weeks": 2}, **by)
        builder.move_block(block=block, by_places=1, **by)
        builder.add_template(block=block, values={"name": "C"}, **by)
        builder.change_template(template=template, values={"name": "D"}, **by)
        builder.move_template(template=template, by_places=1, **by)
        builder.add_slot(template=template, values={"pattern": "calf"}, **by)
        builder.change_slot(slot=slot, values={"sets": 1}, **by)
        builder.move_slot(slot=slot, by_places=1, **by)
        builder.restore(removed=builder.remove_slot(slot=slot, **by), **by)
        builder.restore(removed=builder.remove_template(template=template, **by), **by)
        builder.restore(removed=builder.remove_block(block=block, **by), **by)
    assert locked.count(Program) == 16
