"""Programs as a coach writes them: started, changed, put in use, copied, removed and brought back.

    program = builder.start(squad=squad, name="Winter", starts_on=monday, by=coach, now=now)
    builder.add_slot(template=template, values={"pattern": "pull", "sets": 3}, by=coach, now=now)

A change counts from the next week that is worked out; weeks that went out keep what they say. All verbs run inside
`access.within(club)` and lock the program's row, so that two coaches at once change it one after the other. A row that
is gone meanwhile raises `Gone`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Max, Q

from athletes.access import name_of, record
from athletes.models import Coach, Race, Squad
from programs import drafts
from programs.drafts import BlockDraft, Draft, SessionDraft, SlotDraft
from programs.engine.quantities import week_days
from programs.models import Block, Exercise, Program, SessionTemplate, Slot
from programs.placing import (
    MOST_BLOCKS,
    MOST_SLOTS,
    MOST_TEMPLATES,
    make_block,
    place_block,
    place_slot,
    place_template,
    refuse_endless,
    renumber,
)
from programs.plans import coming_week

PROGRAM_VALUES = ("name", "starts_on")
BLOCK_VALUES = ("name", "intent", "weeks", "sessions")
TEMPLATE_VALUES = ("name", "format", "warm_up_minutes", "cool_down_minutes")
SLOT_VALUES = ("pattern", "exercise_id", "part", "sets", "low", "high", "rest_s")


class NameTaken(Exception):
    """The squad has a program of this name."""


class NotAMonday(Exception):
    """A program begins on a Monday."""


class Gone(Exception):
    """What should be changed is no longer there."""


class InUse(Exception):
    """A program in use is not removed: put another one in use first."""


class NothingInIt(Exception):
    """A program without any exercise in any session is not put in use."""


class WrongPattern(Exception):
    """The fixed exercise is of another pattern than the slot."""


@dataclass
class StartsTooLate(Exception):
    """Another program of the squad is in use, and the new one would leave weeks without any before it begins.

    `next_on` is the Monday of the next week to be worked out, the latest day to begin on.
    """

    next_on: date
    other: Program


@dataclass(frozen=True, slots=True)
class Removed:
    """What was removed and where it stood, enough to bring it back: `kind` is program, block, template or slot,
    `parent` the number of what it stood in (for a program its squad), `place` counts from 1."""

    kind: str
    club: str
    parent: int
    place: int
    name: str
    document: dict[str, Any]


# --- programs ---------------------------------------------------------------------------------------------------------


@transaction.atomic
def start(
    *, squad: Squad, name: str, starts_on: date, by: Coach, now: datetime, copied_from: Program | None = None
) -> Program:
    """The squad has this program, not in use: a first draft up to the squad's last race, or a copy of another.

    Raises `NameTaken`, `NotAMonday`.
    """
    _refuse_other_days(starts_on)
    Squad.objects.select_for_update().get(pk=squad.pk)
    _refuse_taken(squad.pk, name)
    if copied_from is not None:
        blocks = drafts.draft_of_program(_with_everything(copied_from.pk)).blocks
    else:
        blocks = drafts.first_blocks(maintain_weeks=_weeks_to_maintain(squad, starts_on))
    program = Program.objects.create(club_id=squad.club_id, squad=squad, name=name, starts_on=starts_on)
    for order, block in enumerate(blocks, start=1):
        make_block(program, block, order)
    _note("start", program, by, now, copied_from=copied_from.pk if copied_from else None)
    return program


@transaction.atomic
def change(*, program: Program, values: Mapping[str, Any], by: Coach, now: datetime) -> Program:
    """The program has this name and first Monday. Raises `NameTaken`, `NotAMonday`."""
    locked = _lock(pk=program.pk)
    _refuse_other_days(values.get("starts_on", locked.starts_on))
    _refuse_taken(locked.squad_id, values.get("name", locked.name), but=locked)
    changed = _set(locked, values, PROGRAM_VALUES)
    if changed:
        _note("change", locked, by, now, fields=changed)
    return locked


@transaction.atomic
def use(*, program: Program, starts_on: date, by: Coach, now: datetime) -> Program:
    """The squad's riders follow this program from that Monday on; the one in use until now is kept, out of use.

    Raises `NotAMonday`, `NothingInIt`, and `StartsTooLate` when weeks would be left without a program.
    """
    _refuse_other_days(starts_on)
    locked = _lock(pk=program.pk)
    squad = Squad.objects.select_for_update().select_related("club").get(pk=locked.squad_id)
    if not Slot.objects.filter(template__block__program=locked).exists():
        raise NothingInIt
    other = Program.objects.filter(squad=squad, is_active=True).exclude(pk=locked.pk).first()
    next_on = week_days(coming_week(squad.club, now))[0]
    if other is not None and starts_on > next_on:
        raise StartsTooLate(next_on, other)
    if other is not None:
        other.is_active = False
        other.save(update_fields=["is_active", "changed_at"])
    locked.is_active, locked.starts_on = True, starts_on
    locked.save(update_fields=["is_active", "starts_on", "changed_at"])
    _note("use", locked, by, now, instead_of=other.pk if other else None)
    return locked


@transaction.atomic
def remove(*, program: Program, by: Coach, now: datetime) -> Removed:
    """The program is gone. Raises `InUse`."""
    _lock(pk=program.pk)
    locked = _with_everything(program.pk)
    if locked.is_active:
        raise InUse
    document = {
        **drafts.document_of(drafts.draft_of_program(locked)),
        "starts_on": locked.starts_on.isoformat(),
    }
    removed = Removed("program", str(locked.club_id), locked.squad_id, 1, locked.name, document)
    _note("remove", locked, by, now)
    locked.delete()
    return removed


@transaction.atomic
def restore(*, removed: Removed, by: Coach, now: datetime) -> Program | Block | SessionTemplate | Slot:
    """What was removed is there again, as it was and where it stood.

    Raises `Gone` when what it stood in has been removed since, `NameTaken` for a program, `Full`.
    """
    if str(by.club_id) != removed.club:
        raise Gone
    document = dict(removed.document)
    if removed.kind == "program":
        return _restore_program(removed, document, by, now)
    if removed.kind == "block":
        program = _lock(pk=removed.parent)
        row: Block | SessionTemplate | Slot = place_block(
            program, drafts.block_of_document(document), removed.place
        )
    elif removed.kind == "template":
        program = _lock(blocks=removed.parent)
        block = _fresh(Block, removed.parent)
        row = place_template(block, drafts.template_of_document(document), removed.place)
    else:
        program = _lock(blocks__templates=removed.parent)
        template = _fresh(SessionTemplate, removed.parent)
        row = place_slot(template, drafts.slot_of_document(document), removed.place)
    _note(f"restore-{removed.kind}", program, by, now, row=row.pk)
    return row


def _restore_program(removed: Removed, document: dict[str, Any], by: Coach, now: datetime) -> Program:
    starts_on = date.fromisoformat(document.pop("starts_on"))
    squad = Squad.objects.select_for_update().filter(pk=removed.parent).first()
    if squad is None:
        raise Gone
    _refuse_taken(squad.pk, removed.name)
    program = Program.objects.create(
        club_id=squad.club_id, squad=squad, name=removed.name, starts_on=starts_on
    )
    for order, block in enumerate(drafts.program_of_document(document).blocks, start=1):
        make_block(program, block, order)
    _note("restore", program, by, now)
    return program


# --- blocks -----------------------------------------------------------------------------------------------------------


@transaction.atomic
def add_block(
    *,
    program: Program,
    values: Mapping[str, Any],
    by: Coach,
    now: datetime,
    sessions_from: Block | None = None,
) -> Block:
    """The program ends with this block, which has the same sessions as `sessions_from`, or none. Raises `Full`."""
    locked = _lock(pk=program.pk)
    templates: tuple[SessionDraft, ...] = ()
    if sessions_from is not None:
        templates = drafts.draft_of_block(_fresh(Block, sessions_from.pk, program=locked)).templates
    wanted = BlockDraft(
        **{"name": "", "intent": "build", "weeks": 4, "sessions": 2, **values}, templates=templates
    )
    row = place_block(locked, wanted, MOST_BLOCKS + 1)
    _note("add-block", locked, by, now, row=row.pk)
    return row


@transaction.atomic
def change_block(*, block: Block, values: Mapping[str, Any], by: Coach, now: datetime) -> Block:
    """The block has these values: any of `BLOCK_VALUES`. Raises `Full` when the program would become too long."""
    program = _lock(blocks=block.pk)
    row = _fresh(Block, block.pk)
    refuse_endless(program, more=values.get("weeks", row.weeks) - row.weeks)
    changed = _set(row, values, BLOCK_VALUES)
    if changed:
        _note("change-block", program, by, now, row=row.pk, fields=changed)
    return row


@transaction.atomic
def move_block(*, block: Block, by_places: int, by: Coach, now: datetime) -> bool:
    """The block stands that many places later (earlier when negative). False when it stood at the end already."""
    program = _lock(blocks=block.pk)
    return _move(program, list(program.blocks.all()), block.pk, by_places, "order", by, now)


@transaction.atomic
def remove_block(*, block: Block, by: Coach, now: datetime) -> Removed:
    """The block is gone with its sessions; the ones after it begin earlier."""
    program = _lock(blocks=block.pk)
    row = _fresh(Block, block.pk)
    removed = _removed(
        "block", row, drafts.draft_of_block(row), program.pk, row.order, row.name or row.get_intent_display()
    )
    row.delete()
    renumber(list(program.blocks.all()), "order")
    _note("remove-block", program, by, now, row=block.pk)
    return removed


# --- sessions ---------------------------------------------------------------------------------------------------------


@transaction.atomic
def add_template(*, block: Block, values: Mapping[str, Any], by: Coach, now: datetime) -> SessionTemplate:
    """The block has one more session, still without slots. Raises `Full`."""
    program = _lock(blocks=block.pk)
    row = place_template(_fresh(Block, block.pk), SessionDraft(**values), MOST_TEMPLATES + 1)
    _note("add-session", program, by, now, row=row.pk)
    return row


@transaction.atomic
def change_template(
    *, template: SessionTemplate, values: Mapping[str, Any], by: Coach, now: datetime
) -> SessionTemplate:
    """The session has these values: any of `TEMPLATE_VALUES`."""
    program = _lock(blocks__templates=template.pk)
    row = _fresh(SessionTemplate, template.pk)
    changed = _set(row, values, TEMPLATE_VALUES)
    if changed:
        _note("change-session", program, by, now, row=row.pk, fields=changed)
    return row


@transaction.atomic
def move_template(*, template: SessionTemplate, by_places: int, by: Coach, now: datetime) -> bool:
    """The session comes that many places later in its block. False when it stood at the end already."""
    program = _lock(blocks__templates=template.pk)
    row = _fresh(SessionTemplate, template.pk)
    return _move(program, list(row.block.templates.all()), row.pk, by_places, "ordinal", by, now)


@transaction.atomic
def remove_template(*, template: SessionTemplate, by: Coach, now: datetime) -> Removed:
    """The session is gone with its slots."""
    program = _lock(blocks__templates=template.pk)
    row = _fresh(SessionTemplate, template.pk)
    removed = _removed("template", row, drafts.draft_of_template(row), row.block_id, row.ordinal, row.name)
    row.delete()
    renumber(list(SessionTemplate.objects.filter(block_id=removed.parent)), "ordinal")
    _note("remove-session", program, by, now, row=template.pk)
    return removed


# --- slots ------------------------------------------------------------------------------------------------------------


@transaction.atomic
def add_slot(*, template: SessionTemplate, values: Mapping[str, Any], by: Coach, now: datetime) -> Slot:
    """The session asks for one thing more, after the others. `values` as in `SLOT_VALUES`. Raises `Full`,
    `WrongPattern`."""
    program = _lock(blocks__templates=template.pk)
    _refuse_other_pattern(values)
    wanted = {("exercise" if name == "exercise_id" else name): value for name, value in values.items()}
    row = place_slot(_fresh(SessionTemplate, template.pk), SlotDraft(**wanted), MOST_SLOTS + 1)
    _note("add-slot", program, by, now, row=row.pk)
    return row


@transaction.atomic
def change_slot(*, slot: Slot, values: Mapping[str, Any], by: Coach, now: datetime) -> Slot:
    """The slot asks for this: any of `SLOT_VALUES`. Raises `WrongPattern`."""
    program = _lock(blocks__templates__slots=slot.pk)
    row = _fresh(Slot, slot.pk)
    _refuse_other_pattern({"pattern": row.pattern, "exercise_id": row.exercise_id, **values})
    changed = _set(row, values, SLOT_VALUES)
    if changed:
        _note("change-slot", program, by, now, row=row.pk, fields=changed)
    return row


@transaction.atomic
def move_slot(*, slot: Slot, by_places: int, by: Coach, now: datetime) -> bool:
    """The slot comes that many places later in its session. False when it stood at the end already."""
    program = _lock(blocks__templates__slots=slot.pk)
    row = _fresh(Slot, slot.pk)
    return _move(program, list(row.template.slots.all()), row.pk, by_places, "order", by, now)


@transaction.atomic
def remove_slot(*, slot: Slot, by: Coach, now: datetime) -> Removed:
    """The session no longer asks for it."""
    program = _lock(blocks__templates__slots=slot.pk)
    row = _fresh(Slot, slot.pk)
    removed = _removed(
        "slot", row, drafts.draft_of_slot(row), row.template_id, row.order, row.exercise_id or row.pattern
    )
    row.delete()
    renumber(list(Slot.objects.filter(template_id=removed.parent)), "order")
    _note("remove-slot", program, by, now, row=slot.pk)
    return removed


# --- what every verb needs --------------------------------------------------------------------------------------------


def _lock(**where: Any) -> Program:
    try:
        return Program.objects.select_for_update(of=("self",)).get(**where)
    except Program.DoesNotExist:
        raise Gone from None


def _fresh[Row: (Block, SessionTemplate, Slot)](model: type[Row], pk: int, **where: Any) -> Row:
    """The row as it is now that the program is locked."""
    row = model.objects.filter(pk=pk, **where).first()
    if row is None:
        raise Gone
    return row


def _with_everything(pk: int) -> Program:
    return Program.objects.prefetch_related("blocks__templates__slots").get(pk=pk)


def _set(row: Any, values: Mapping[str, Any], allowed: Sequence[str]) -> list[str]:
    changed = [name for name in allowed if name in values and getattr(row, name) != values[name]]
    for name in changed:
        setattr(row, name, values[name])
    if changed:
        row.save()
    return changed


def _removed(kind: str, row: Any, draft: Draft, parent: int, place: int, name: str) -> Removed:
    return Removed(kind, str(row.club_id), parent, place, str(name), drafts.document_of(draft))


def _move(
    program: Program, rows: list[Any], pk: int, by_places: int, field: str, by: Coach, now: datetime
) -> bool:
    at = next((place for place, row in enumerate(rows) if row.pk == pk), None)
    if at is None:
        raise Gone
    to = max(0, min(len(rows) - 1, at + by_places))
    if to == at:
        return False
    rows.insert(to, rows.pop(at))
    renumber(rows, field)
    _note("move", program, by, now, row=pk, to=to + 1)
    return True


def _note(action: str, program: Program, by: Coach, now: datetime, **details: Any) -> None:
    Program.objects.filter(pk=program.pk).update(changed_at=now)
    record(
        f"program.{action}",
        club_id=program.club_id,
        by=name_of(by),
        now=now,
        subject=str(program.pk),
        **{name: value for name, value in details.items() if value is not None},
    )


def _weeks_to_maintain(squad: Squad, starts_on: date) -> int:
    """From the end of the first draft's build weeks through the week of the squad's last race."""
    begins = starts_on + timedelta(weeks=drafts.LEARN_WEEKS + drafts.BUILD_WEEKS)
    races = Race.objects.filter(Q(squad=squad) | Q(squad__isnull=True), on__gte=begins)
    last = races.filter(on__lt=begins + timedelta(weeks=drafts.MOST_BLOCK_WEEKS)).aggregate(last=Max("on"))[
        "last"
    ]
    return (last - begins).days // 7 + 1 if last else drafts.MAINTAIN_WEEKS


def _refuse_other_days(on: date) -> None:
    if on.weekday() != 0:
        raise NotAMonday


def _refuse_taken(squad_id: int, name: str, but: Program | None = None) -> None:
    taken = Program.objects.filter(squad_id=squad_id, name__iexact=name)
    if (taken.exclude(pk=but.pk) if but else taken).exists():
        raise NameTaken


def _refuse_other_pattern(values: Mapping[str, Any]) -> None:
    slug = values.get("exercise_id")
    if slug and not Exercise.objects.filter(slug=slug, pattern=values["pattern"]).exists():
        raise WrongPattern
