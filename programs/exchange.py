"""Exercises as a file: YAML or JSON of one documented shape, out of a club and into one.

    schema: 1
    exercises:
      - pattern: squat
        slug: hill-squat
        name: Hill squat
        ...                       # as in the shipped library, see fixtures/exercises/README.md
        earned_from:
          - {easier: chair-stand, criterion: {kind: reps, sets: 2, value: 12, reps_left: 3}, words: 2 x 12 ...}

The shape stands in `fixtures/exercise-file.schema.json`. Reading finds every fault at once, each with its line.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import yaml
from django.utils.translation import gettext as _
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from athletes.vocabulary import Pattern
from programs.club_library import Entry, check, plain
from programs.engine.library_rules import Fault
from programs.engine.library_schema import CRITERION, EXERCISE, LINE_LENGTH, SLUG, Schema
from programs.models import ClubExercise, Exercise

VERSION = 1
#: The largest file, in octets, the most exercises in one, and how deep it may be nested.
LARGEST, MOST, DEEPEST = 1_000_000, 400, 12
#: Words of addresses, which no exercise may have for a slug.
RESERVED = ("handbook", "library")
YAML, JSON = "yaml", "json"

_STEP: Schema = {
    "type": "object",
    "properties": {
        "easier": SLUG,
        "criterion": CRITERION,
        "words": {"type": "string", "minLength": 3, "maxLength": LINE_LENGTH},
    },
    "required": ["easier", "criterion", "words"],
    "additionalProperties": False,
}

#: The shape of a file, as a JSON Schema (draft 2020-12).
SCHEMA: Schema = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "Exercises of a club",
    "type": "object",
    "properties": {
        "schema": {"const": VERSION},
        "exercises": {
            "type": "array",
            "minItems": 1,
            "maxItems": MOST,
            "items": {
                **EXERCISE,
                "properties": {
                    "pattern": {"enum": [one.value for one in Pattern]},
                    **EXERCISE["properties"],
                    "earned_from": {"type": "array", "items": _STEP, "minItems": 1},
                },
                "required": ["pattern", *EXERCISE["required"]],
            },
        },
    },
    "required": ["schema", "exercises"],
    "additionalProperties": False,
}
_VALIDATOR = Draft202012Validator(SCHEMA)


@dataclass(frozen=True, slots=True)
class FileFault:
    """What is wrong in a file, where: its line from 1 (None where the file gives none), the exercise and the field."""

    line: int | None
    exercise: str
    field: str
    words: str


@dataclass(frozen=True, slots=True)
class Read:
    """What a file says: the entries that differ from what the club has, how many are the same, and every fault.

    With a fault there are no entries.
    """

    entries: tuple[Entry, ...] = ()
    same: int = 0
    faults: tuple[FileFault, ...] = ()


# --- out --------------------------------------------------------------------------------------------------------------


def write(*, kind: str, own_only: bool) -> str:
    """The exercises in force in the club as a file, or its own alone; retired ones are left out."""
    own = {row.slug: row for row in ClubExercise.objects.all()}
    rows = [
        _row(exercise, own.get(exercise.slug))
        for exercise in Exercise.objects.filter(is_retired=False).order_by("pattern", "level", "slug")
        if exercise.is_own or not own_only
    ]
    document = {"schema": VERSION, "exercises": rows}
    if kind == JSON:
        return json.dumps(document, ensure_ascii=False, indent=2) + "\n"
    text: str = yaml.safe_dump(
        document, allow_unicode=True, sort_keys=False, width=110, default_flow_style=False
    )
    return text


def _row(exercise: Exercise, own: ClubExercise | None) -> dict[str, Any]:
    row = {"pattern": exercise.pattern, **plain(exercise.document)}
    if own is not None and own.earned_from:
        row["earned_from"] = own.earned_from
    return row


# --- in ---------------------------------------------------------------------------------------------------------------


def read(data: bytes) -> Read:
    """What the file says, checked as the club's library with it would be. Changes nothing."""
    try:
        document, lines = _parse(data)
    except _Unreadable as fault:
        return Read(faults=(FileFault(fault.line, "", "", fault.words),))
    # a record that lacks several fields has a fault for each, and each names them all
    misshapen = list(dict.fromkeys([*_twice(lines), *_shape(document, lines)]))
    if misshapen:
        return Read(faults=tuple(sorted(misshapen, key=lambda fault: fault.line or 0)))
    rows = document["exercises"]
    entries = [_entry(row) for row in rows]
    standing = {(row["slug"], json.dumps(row, sort_keys=True)) for row in _standing()}
    new = [
        entry
        for entry, row in zip(entries, rows, strict=True)
        if (row["slug"], json.dumps(row, sort_keys=True)) not in standing
    ]
    places = {row["slug"]: number for number, row in enumerate(rows)}
    faults = [*_reserved(rows, lines), *_same_slugs(rows, lines)]
    faults += [_placed(fault, places, lines) for fault in check(entries=new)]
    if faults:
        return Read(faults=tuple(sorted(faults, key=lambda fault: fault.line or 0)))
    return Read(tuple(new), len(entries) - len(new))


def _standing() -> list[dict[str, Any]]:
    own = {row.slug: row for row in ClubExercise.objects.all()}
    return [_row(one, own.get(one.slug)) for one in Exercise.objects.filter(is_retired=False)]


def _entry(row: Mapping[str, Any]) -> Entry:
    document = {key: value for key, value in row.items() if key not in ("pattern", "earned_from")}
    return Entry(row["pattern"], document, tuple(row.get("earned_from", ())))


@dataclass
class _Unreadable(Exception):
    """The file is no file of this kind at all."""

    line: int | None
    words: str


@dataclass(frozen=True, slots=True)
class _Lines:
    """The line of each path into the file, and the paths that are there twice."""

    at: Mapping[tuple[str | int, ...], int]
    twice: Sequence[tuple[str | int, ...]]

    def of(self, path: Sequence[str | int]) -> int | None:
        """The line of the path, or of the nearest thing around it."""
        for end in range(len(path), -1, -1):
            if tuple(path[:end]) in self.at:
                return self.at[tuple(path[:end])]
        return None


def _parse(data: bytes) -> tuple[Any, _Lines]:
    """The document and its lines. JSON is read as YAML too, which it is but for its tabs."""
    if len(data) > LARGEST:
        raise _Unreadable(None, _("The file is larger than 1 MB."))
    try:
        text = data.decode("utf-8-sig").replace("\t", " ")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise _Unreadable(line, _("The file is not in UTF-8.")) from None
    try:
        _refuse_repetition(text)
        node = yaml.compose(text, Loader=yaml.SafeLoader)
        lines = _lines_of(node)
        return yaml.safe_load(text), lines
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark
        found = _("This is neither YAML nor JSON: {problem}.").format(problem=error.problem)
        raise _Unreadable(mark.line + 1 if mark else None, found) from None
    except (yaml.YAMLError, ValueError, RecursionError):
        raise _Unreadable(None, _("This is neither YAML nor JSON.")) from None


def _refuse_repetition(text: str) -> None:
    """No anchors, by which a small file could grow without end, and no nesting that goes too deep."""
    depth = 0
    for event in yaml.parse(text, Loader=yaml.SafeLoader):
        if isinstance(event, yaml.AliasEvent):
            raise _Unreadable(_line_of(event), _("Write out what stands behind an alias (*)."))
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > DEEPEST:
                raise _Unreadable(_line_of(event), _("This is nested too deeply."))
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1


def _line_of(event: yaml.Event) -> int | None:
    return event.start_mark.line + 1 if event.start_mark else None


def _lines_of(node: yaml.Node | None) -> _Lines:
    at: dict[tuple[str | int, ...], int] = {}
    twice: list[tuple[str | int, ...]] = []

    def walk(one: yaml.Node, path: tuple[str | int, ...]) -> None:
        at.setdefault(path, one.start_mark.line + 1)
        if isinstance(one, yaml.MappingNode):
            for key, value in one.value:
                place = (*path, str(key.value))
                if place in at:
                    twice.append(place)
                at[place] = key.start_mark.line + 1
                walk(value, place)
        elif isinstance(one, yaml.SequenceNode):
            for number, value in enumerate(one.value):
                walk(value, (*path, number))

    if node is not None:
        walk(node, ())
    return _Lines(at, twice)


def _twice(lines: _Lines) -> Iterator[FileFault]:
    for path in lines.twice:
        yield FileFault(lines.of(path), "", str(path[-1]), _("This field is there twice."))


def _shape(document: Any, lines: _Lines) -> Iterator[FileFault]:
    for error in _VALIDATOR.iter_errors(document):
        path = list(error.absolute_path)
        yield FileFault(lines.of(path), _slug_at(document, path), _field(path), _said(error))


def _slug_at(document: Any, path: Sequence[str | int]) -> str:
    if len(path) < 2 or path[0] != "exercises":
        return ""
    row = document["exercises"][path[1]]
    slug = row.get("slug") if isinstance(row, Mapping) else None
    return str(slug or _("exercise {number}").format(number=int(path[1]) + 1))


def _field(path: Sequence[str | int]) -> str:
    return ".".join(map(str, path[2:] if path[:1] == ["exercises"] else path))


def _said(error: ValidationError) -> str:
    value: Any = error.validator_value
    instance: Any = error.instance
    match error.validator:
        case "required":
            missing = [name for name in value if name not in instance]
            return _("Not given: {fields}.").format(fields=", ".join(missing))
        case "additionalProperties" if isinstance(instance, Mapping):
            known = error.schema.get("properties", {}) if isinstance(error.schema, Mapping) else {}
            surplus = [str(name) for name in instance if name not in known]
            return _("Unknown: {fields}.").format(fields=", ".join(surplus))
        case "enum":
            found = _("Give one of {choices}, not {found}.")
            return found.format(choices=", ".join(map(str, value)), found=_shown(instance))
        case "minItems":
            return _("Give at least {least}, not {found}.").format(least=value, found=len(instance))
        case "maxItems":
            return _("Give at most {most}, not {found}.").format(most=value, found=len(instance))
        case "maxLength":
            return _("Use at most {most} characters, not {found}.").format(most=value, found=len(instance))
        case "minimum" | "maximum":
            least = error.validator == "minimum"
            words = (
                _("Give at least {limit}, not {found}.") if least else _("Give at most {limit}, not {found}.")
            )
            return words.format(limit=value, found=_shown(instance))
        case "pattern":
            return _("Begin with a capital or a figure, on one line, without an exclamation mark.")
        case "type":
            return _("Give a value of the kind {kind}, not {found}.").format(
                kind=value, found=_shown(instance)
            )
        case "const":
            return _("Give {value}, not {found}.").format(value=value, found=_shown(instance))
        case "not":
            field = ", ".join(value.get("required", ())) if isinstance(value, Mapping) else ""
            return _("Leave out {field} here.").format(field=field)
        case _:
            return error.message[:200]


def _shown(found: object) -> str:
    return repr(found)[:60]


def _reserved(rows: Sequence[Mapping[str, Any]], lines: _Lines) -> Iterator[FileFault]:
    for number, row in enumerate(rows):
        if row["slug"] in RESERVED:
            line = lines.of(["exercises", number, "slug"])
            yield FileFault(line, row["slug"], "slug", _("This word is used for addresses. Choose another."))


def _same_slugs(rows: Sequence[Mapping[str, Any]], lines: _Lines) -> Iterator[FileFault]:
    seen: set[str] = set()
    for number, row in enumerate(rows):
        if row["slug"] in seen:
            line = lines.of(["exercises", number, "slug"])
            yield FileFault(line, row["slug"], "slug", _("Another exercise of the file has this slug."))
        seen.add(row["slug"])


def _placed(fault: Fault, places: Mapping[str, int], lines: _Lines) -> FileFault:
    """A fault of the whole library at the line of the file that it is about, if it is about one."""
    line = None
    if fault.exercise in places:
        path = [int(step) if step.isdigit() else step for step in fault.field.split(".")]
        line = lines.of(["exercises", places[fault.exercise], *path])
    return FileFault(line, fault.exercise, fault.field, fault_words(fault))


def fault_words(fault: Fault) -> str:
    """What a rule of the library expected and what it found."""
    return _("Expected {expected}, found {found}.").format(expected=fault.expected, found=fault.found)
