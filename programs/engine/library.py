"""Reads the exercise library: documents of plain values in, the engine's exercises and the words for people out.

>>> entries = read_entries(documents)          # doctest: +SKIP
>>> entries[0].name, entries[0].exercise.slug  # doctest: +SKIP
('Half squat at the wall', 'supported-half-squat')

A document holds the exercises of one movement pattern (see `library_schema.py`). Who loads it from a file or a row is
no concern of this module: it takes mappings, and it takes none that has a fault (`library_rules.py`).
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from decimal import Decimal
from hashlib import sha256
from typing import Any

from athletes.values import value_class
from athletes.vocabulary import Furniture, Implement, Muscle, Pattern, Region
from programs.engine.facts import Criterion, Edge, Exercise, Holding, Library, Loading, Measure, Part
from programs.engine.library_rules import Document, Fault, Row, find_faults

__all__ = [
    "CommonFault",
    "Entry",
    "Fault",
    "FaultyLibraryError",
    "Note",
    "Step",
    "Substitute",
    "find_faults",
    "read_entries",
    "read_library",
]

_HOW_MANY = {"one": 1, "pair": 2}


class FaultyLibraryError(ValueError):
    """The documents have faults; `faults` lists them all."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(map(str, faults)))


@value_class
class CommonFault:
    """What to look for, and the cue that mends it."""

    see: str
    say: str


@value_class
class Note:
    """When to leave the exercise out, by body region."""

    region: Region
    words: str


@value_class
class Step:
    """A step up or down, with the criterion that earns it and the words for it."""

    slug: str
    criterion: Criterion
    words: str


@value_class
class Substitute:
    """An exercise of the same pattern, not harder, and when to use it instead."""

    slug: str
    when: str


@value_class
class Entry:
    """One exercise as people see it, with the engine's value in `exercise`.

    `harder` are the steps up; `easier` the exercises from which this one is earned, read from their steps.
    `body_mass_share` is the share of body mass that one rep moves, for reports only (K7), None where no source gives
    it; `body_mass_source` cites the source.
    `first_load_cap_kg` is the most that a first external load may be (P2), None where none is ever added.
    `suits` are the patterns that a warm-up or cool-down part goes with, empty for all others.
    """

    exercise: Exercise
    name: str
    purpose: str
    set_up: tuple[str, ...]
    cues: tuple[str, ...]
    faults: tuple[CommonFault, ...]
    leave_out: tuple[Note, ...] = ()
    harder: tuple[Step, ...] = ()
    easier: tuple[Step, ...] = ()
    substitutes: tuple[Substitute, ...] = ()
    suits: tuple[Pattern, ...] = ()
    has_impact: bool = False
    body_mass_share: Decimal | None = None
    body_mass_source: str = ""
    first_load_cap_kg: Decimal | None = None


def read_entries(documents: Iterable[Document]) -> tuple[Entry, ...]:
    """Every exercise with its words, by pattern, level and slug. Raises `FaultyLibraryError`."""
    read = list(documents)
    faults = find_faults(read)
    if faults:
        raise FaultyLibraryError(faults)
    below = _steps_down(read)
    entries = [_entry(row, document, below) for document in read for row in document["exercises"]]
    places = {pattern: place for place, pattern in enumerate(Pattern)}
    return tuple(
        sorted(entries, key=lambda one: (places[one.exercise.pattern], one.exercise.level, one.exercise.slug))
    )


def read_library(documents: Iterable[Document]) -> Library:
    """The engine's library, by pattern, level and slug. Raises `FaultyLibraryError`.

    `digest` is the SHA-256 of what the engine sees: a new wording keeps it, a new target range or region changes it.
    """
    exercises = tuple(entry.exercise for entry in read_entries(documents))
    return Library(exercises=exercises, digest=_digest(exercises))


def _digest(exercises: tuple[Exercise, ...]) -> str:
    rows = [asdict(exercise) for exercise in exercises]
    return sha256(json.dumps(rows, default=_plain, sort_keys=True).encode()).hexdigest()


def _plain(value: object) -> object:
    return sorted(value) if isinstance(value, frozenset) else str(value)


def _steps_down(documents: list[Document]) -> dict[str, list[Step]]:
    below: dict[str, list[Step]] = {}
    for document in documents:
        for row in document["exercises"]:
            for edge in row.get("earns", ()):
                step = Step(row["slug"], _criterion(edge["criterion"]), edge["words"])
                below.setdefault(edge["harder"], []).append(step)
    return below


def _entry(row: Row, document: Document, below: Mapping[str, list[Step]]) -> Entry:
    share: Mapping[str, Any] | None = row.get("body_mass_share")
    exercise = _exercise(row, document)
    return Entry(
        exercise=exercise,
        name=row["name"],
        purpose=row["purpose"],
        set_up=tuple(row["set_up"]),
        cues=tuple(row["cues"]),
        faults=tuple(CommonFault(one["see"], one["say"]) for one in row["faults"]),
        leave_out=tuple(Note(Region(one["region"]), one["words"]) for one in row.get("leave_out", ())),
        harder=tuple(
            Step(one["harder"], _criterion(one["criterion"]), one["words"]) for one in row.get("earns", ())
        ),
        easier=tuple(below.get(row["slug"], ())),
        substitutes=tuple(Substitute(one["use"], one["when"]) for one in row.get("substitutes", ())),
        suits=tuple(Pattern(one) for one in row.get("suits", ())),
        has_impact=row.get("impact", False),
        body_mass_share=Decimal(str(share["share"])) if share else None,
        body_mass_source=document["sources"][share["source"]] if share else "",
        first_load_cap_kg=(
            None if exercise.loading is Loading.BODY else Decimal(document["first_load_cap_kg"])
        ),
    )


def _exercise(row: Row, document: Document) -> Exercise:
    tempo = row.get("tempo", {"lower": 0, "pause": 0, "lift": 0})
    return Exercise(
        slug=row["slug"],
        pattern=Pattern(document["pattern"]),
        level=row["level"],
        measure=Measure(row["measure"]),
        loading=Loading(row["loading"]),
        part=Part(document["part"]),
        low=row["amount"]["low"],
        high=row["amount"]["high"],
        sided=row.get("sided", False),
        furniture=frozenset(Furniture(one) for one in row.get("furniture", ())),
        holdings=tuple(
            Holding(Implement(one["implement"]), _HOW_MANY[one["how_many"]])
            for one in row.get("holdings", ())
        ),
        primary=frozenset(Region(one) for one in row["regions"]["primary"]),
        secondary=frozenset(Region(one) for one in row["regions"]["secondary"]),
        muscles=tuple((Muscle(name), Decimal(str(share))) for name, share in row["muscles"].items()),
        lower_s=tempo["lower"],
        pause_s=tempo["pause"],
        lift_s=tempo["lift"],
        for_beginners=row["for_beginners"],
        needs_safeties=row.get("needs_safeties", False),
        trains_balance=row.get("trains_balance", False),
        lower_body=document["lower_body"],
        edges=tuple(Edge(one["harder"], _criterion(one["criterion"])) for one in row.get("earns", ())),
        rep_increment=row.get("rep_increment", 1),
        suits=frozenset(Pattern(one) for one in row.get("suits", ())),
    )


def _criterion(row: Row) -> Criterion:
    # A hold leaves no reps; the field keeps its default, which is read for reps only.
    left: dict[str, int] = {"reps_left": row["reps_left"]} if "reps_left" in row else {}
    return Criterion(sets=row["sets"], value=row["value"], **left)
