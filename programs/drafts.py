"""What a program says, as values: for a first draft, a copy, and the way back from a removal.

>>> slot_of_document(document_of(SlotDraft("squat", sets=2))).sets
2
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext as _

from programs.models import Block, Program, SessionTemplate, Slot

#: The first draft's weeks (ours): learning takes six sessions, maintaining asks for eight weeks at two before it.
LEARN_WEEKS, BUILD_WEEKS, MAINTAIN_WEEKS = 3, 12, 16
LEAST_MAINTAIN_WEEKS, MOST_BLOCK_WEEKS = 4, 30


@dataclass(frozen=True, slots=True)
class SlotDraft:
    """A place in a session: a pattern, or one exercise (by slug) of that pattern."""

    pattern: str
    exercise: str | None = None
    part: str = "main"
    sets: int = 3
    low: int | None = None
    high: int | None = None
    rest_s: int = 90


@dataclass(frozen=True, slots=True)
class SessionDraft:
    """A session between its warm-up and its cool-down."""

    name: str
    slots: tuple[SlotDraft, ...] = ()
    format: str = "straight"
    warm_up_minutes: int = 6
    cool_down_minutes: int = 4


@dataclass(frozen=True, slots=True)
class BlockDraft:
    """Weeks with one intent."""

    name: str
    intent: str
    weeks: int
    sessions: int
    templates: tuple[SessionDraft, ...] = ()


@dataclass(frozen=True, slots=True)
class ProgramDraft:
    """A whole program without its squad and its dates."""

    name: str
    blocks: tuple[BlockDraft, ...] = ()


type Draft = SlotDraft | SessionDraft | BlockDraft | ProgramDraft


# --- the first draft --------------------------------------------------------------------------------------------------


def first_blocks(*, maintain_weeks: int = MAINTAIN_WEEKS) -> tuple[BlockDraft, ...]:
    """Learn, build, maintain: two sessions a week of the whole body, then one short one. All of it practice, no source;
    the patterns hold what Iversen 2021 names as the least: legs, a pull and a push."""
    weeks = max(LEAST_MAINTAIN_WEEKS, min(MOST_BLOCK_WEEKS, maintain_weeks))
    return (
        BlockDraft(_("Learn the movements"), "learn", LEARN_WEEKS, 2, _two_sessions(main=2, second=2)),
        BlockDraft(_("Build"), "build", BUILD_WEEKS, 2, _two_sessions(main=3, second=2)),
        BlockDraft(_("Keep it"), "maintain", weeks, 1, (_short_session(),)),
    )


def _two_sessions(*, main: int, second: int) -> tuple[SessionDraft, ...]:
    def some(*patterns: str, rest_s: int) -> tuple[SlotDraft, ...]:
        return tuple(SlotDraft(pattern, sets=main, rest_s=rest_s) for pattern in patterns)

    def more(*patterns: str) -> tuple[SlotDraft, ...]:
        return tuple(SlotDraft(pattern, part="assistance", sets=second, rest_s=60) for pattern in patterns)

    return (
        SessionDraft(
            _("Squat and pull"),
            (*some("squat", rest_s=120), *some("hinge", "pull", rest_s=90), *more("front-trunk", "calf")),
        ),
        SessionDraft(
            _("Single leg and push"),
            (*some("single-leg", "push", rest_s=90), *more("hinge", "side-trunk")),
        ),
    )


def _short_session() -> SessionDraft:
    slots = tuple(SlotDraft(pattern, sets=2, rest_s=60) for pattern in ("squat", "hinge", "pull", "push"))
    trunk = SlotDraft("side-trunk", part="assistance", sets=2, rest_s=60)
    return SessionDraft(_("One short session"), (*slots, trunk), format="circuit")


# --- rows to drafts ---------------------------------------------------------------------------------------------------


def draft_of_program(row: Program) -> ProgramDraft:
    """What the program says. Prefetch `blocks__templates__slots` where there is much."""
    return ProgramDraft(row.name, tuple(draft_of_block(one) for one in row.blocks.all()))


def draft_of_block(row: Block) -> BlockDraft:
    """What the block says, with its sessions."""
    templates = tuple(draft_of_template(one) for one in row.templates.all())
    return BlockDraft(row.name, row.intent, row.weeks, row.sessions, templates)


def draft_of_template(row: SessionTemplate) -> SessionDraft:
    """What the session says, with its slots."""
    slots = tuple(draft_of_slot(one) for one in row.slots.all())
    return SessionDraft(row.name, slots, row.format, row.warm_up_minutes, row.cool_down_minutes)


def draft_of_slot(row: Slot) -> SlotDraft:
    """What the slot says."""
    return SlotDraft(row.pattern, row.exercise_id, row.part, row.sets, row.low, row.high, row.rest_s)


# --- drafts to documents and back -------------------------------------------------------------------------------------


def document_of(draft: Draft) -> dict[str, Any]:
    """The draft as plain values, fit for JSON."""
    return asdict(draft)


def slot_of_document(document: Mapping[str, Any]) -> SlotDraft:
    """The inverse of `document_of`."""
    return SlotDraft(**document)


def template_of_document(document: Mapping[str, Any]) -> SessionDraft:
    """The inverse of `document_of`."""
    return SessionDraft(**{**document, "slots": tuple(map(slot_of_document, document["slots"]))})


def block_of_document(document: Mapping[str, Any]) -> BlockDraft:
    """The inverse of `document_of`."""
    return BlockDraft(**{**document, "templates": tuple(map(template_of_document, document["templates"]))})


def program_of_document(document: Mapping[str, Any]) -> ProgramDraft:
    """The inverse of `document_of`."""
    return ProgramDraft(**{**document, "blocks": tuple(map(block_of_document, document["blocks"]))})
