"""Rows of a program made from drafts, each in its place. Called by `builder.py`, which holds the lock."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Sum

from programs.drafts import BlockDraft, SessionDraft, SlotDraft
from programs.models import Block, Program, SessionTemplate, Slot

#: No page and no season is endless.
MOST_BLOCKS, MOST_WEEKS, MOST_TEMPLATES, MOST_SLOTS = 20, 104, 3, 12


@dataclass
class Full(Exception):
    """There is no room for more: `most` is as many as there may be."""

    most: int


def place_block(program: Program, draft: BlockDraft, place: int) -> Block:
    rows: list[Any] = list(program.blocks.all())
    _refuse_more(rows, MOST_BLOCKS)
    refuse_endless(program, more=draft.weeks)
    row = make_block(program, draft, _after(rows, "order"))
    _insert(rows, row, place, "order")
    return row


def place_template(block: Block, draft: SessionDraft, place: int) -> SessionTemplate:
    rows: list[Any] = list(block.templates.all())
    _refuse_more(rows, MOST_TEMPLATES)
    row = _make_template(block, draft, _after(rows, "ordinal"))
    _insert(rows, row, place, "ordinal")
    return row


def place_slot(template: SessionTemplate, draft: SlotDraft, place: int) -> Slot:
    rows: list[Any] = list(template.slots.all())
    _refuse_more(rows, MOST_SLOTS)
    order = _after(rows, "order")
    (row,) = Slot.objects.bulk_create([_slot_row(template, draft, order)])
    _insert(rows, row, place, "order")
    return row


def make_block(program: Program, draft: BlockDraft, order: int) -> Block:
    row = Block.objects.create(
        club_id=program.club_id,
        program=program,
        order=order,
        name=draft.name,
        intent=draft.intent,
        weeks=draft.weeks,
        sessions=draft.sessions,
    )
    for ordinal, template in enumerate(draft.templates, start=1):
        _make_template(row, template, ordinal)
    return row


def _make_template(block: Block, draft: SessionDraft, ordinal: int) -> SessionTemplate:
    row = SessionTemplate.objects.create(
        club_id=block.club_id,
        block=block,
        ordinal=ordinal,
        name=draft.name,
        format=draft.format,
        warm_up_minutes=draft.warm_up_minutes,
        cool_down_minutes=draft.cool_down_minutes,
    )
    Slot.objects.bulk_create(_slot_row(row, slot, order) for order, slot in enumerate(draft.slots, start=1))
    return row


def _slot_row(template: SessionTemplate, draft: SlotDraft, order: int) -> Slot:
    return Slot(
        club_id=template.club_id,
        template=template,
        order=order,
        part=draft.part,
        pattern=draft.pattern,
        exercise_id=draft.exercise,
        sets=draft.sets,
        low=draft.low,
        high=draft.high,
        rest_s=draft.rest_s,
    )


def _after(rows: Sequence[Any], field: str) -> int:
    return max((getattr(row, field) for row in rows), default=0) + 1


def _insert(rows: list[Any], row: Any, place: int, field: str) -> None:
    rows.insert(max(0, place - 1), row)
    renumber(rows, field)


def renumber(rows: Sequence[Any], field: str) -> None:
    """The rows count from 1 in the order given. The database looks at the end of the transaction."""
    changed = []
    for number, row in enumerate(rows, start=1):
        if getattr(row, field) != number:
            setattr(row, field, number)
            changed.append(row)
    if changed:
        type(changed[0])._default_manager.bulk_update(changed, [field])


def _refuse_more(rows: Sequence[Any], most: int) -> None:
    if len(rows) >= most:
        raise Full(most)


def refuse_endless(program: Program, *, more: int) -> None:
    weeks = program.blocks.aggregate(weeks=Sum("weeks"))["weeks"] or 0
    if more > 0 and weeks + more > MOST_WEEKS:
        raise Full(MOST_WEEKS)
