"""The shape of one document of the exercise library, as a JSON Schema (draft 2020-12).

The words come from the vocabulary, so that a new region or implement is known here at once. The same schema stands as
`fixtures/exercises.schema.json` for editors and for other people's programs; a test holds the two together.

What one field alone can show is checked here; what needs two fields or two exercises is checked in `library_rules.py`.
"""

from enum import StrEnum
from typing import Any

from athletes.vocabulary import Furniture, Implement, Muscle, Pattern, Region
from programs.engine.facts import Loading, Measure, Part

type Schema = dict[str, Any]

#: A cue must fit one line of a card that is read at arm's length.
CUE_LENGTH = 60
#: A line of a set-up, a purpose or a note.
LINE_LENGTH = 110


def _one_of(words: type[StrEnum], *, without: tuple[str, ...] = ()) -> Schema:
    return {"enum": [word.value for word in words if word.value not in without]}


def _line(length: int) -> Schema:
    """One line for people: starts with a capital or a figure, no cheering, no space at either end."""
    return {"type": "string", "minLength": 3, "maxLength": length, "pattern": r"^[A-Z0-9]([^!\n]*[^!\s])?$"}


def _list_of(item: Schema, least: int, most: int | None = None) -> Schema:
    found: Schema = {"type": "array", "items": item, "minItems": least, "uniqueItems": True}
    return found if most is None else {**found, "maxItems": most}


def _record(required: Schema, optional: Schema | None = None) -> Schema:
    return {
        "type": "object",
        "properties": {**required, **(optional or {})},
        "required": list(required),
        "additionalProperties": False,
    }


def _when(field: str, value: object, then: Schema) -> Schema:
    """A condition that holds only where the field is there and has the value."""
    condition = {"properties": {field: {"const": value}}, "required": [field]}
    return {"if": condition, "then": then}


def _without(field: str) -> Schema:
    return {"not": {"required": [field]}}


SLUG: Schema = {"type": "string", "pattern": r"^[a-z]+(-[a-z]+)*$", "maxLength": 50}
SECONDS: Schema = {"type": "integer", "minimum": 0, "maximum": 10}
AMOUNT: Schema = {"type": "integer", "minimum": 5, "maximum": 300}
FLAG: Schema = {"type": "boolean"}

CRITERION: Schema = {
    **_record(
        {
            "kind": _one_of(Measure),
            "sets": {"type": "integer", "minimum": 1, "maximum": 3},
            "value": {"type": "integer", "minimum": 5, "maximum": 60},
        },
        {"reps_left": {"type": "integer", "minimum": 2, "maximum": 4}},
    ),
    "allOf": [
        _when("kind", "reps", {"required": ["reps_left"], "properties": {"value": {"maximum": 15}}}),
        _when("kind", "hold", _without("reps_left")),
    ],
}

EXERCISE: Schema = {
    **_record(
        {
            "slug": SLUG,
            "name": _line(60),
            "level": {"type": "integer", "minimum": 1, "maximum": 9},
            "purpose": _line(LINE_LENGTH),
            "set_up": _list_of(_line(LINE_LENGTH), 1, 4),
            "cues": _list_of(_line(CUE_LENGTH), 3, 5),
            "faults": _list_of(_record({"see": _line(CUE_LENGTH), "say": _line(CUE_LENGTH)}), 1, 4),
            "measure": _one_of(Measure),
            "amount": _record({"low": AMOUNT, "high": AMOUNT}),
            "for_beginners": FLAG,
            "loading": _one_of(Loading),
            "regions": _record(
                {"primary": _list_of(_one_of(Region), 0), "secondary": _list_of(_one_of(Region), 0)}
            ),
            "muscles": {
                "type": "object",
                "propertyNames": _one_of(Muscle),
                "additionalProperties": {"enum": [1, 0.5]},
            },
        },
        {
            "tempo": _record({"lower": SECONDS, "pause": SECONDS, "lift": SECONDS}),
            "rep_increment": {"type": "integer", "minimum": 1, "maximum": 3},
            "sided": FLAG,
            "needs_safeties": FLAG,
            "trains_balance": FLAG,
            "impact": FLAG,
            "furniture": _list_of(_one_of(Furniture), 1),
            "holdings": _list_of(
                _record(
                    {
                        # An adjustable dumbbell may stand in for any dumbbell (K3), so it is never listed by itself.
                        "implement": _one_of(Implement, without=("none", "adjustable-dumbbell")),
                        "how_many": {"enum": ["one", "pair"]},
                    }
                ),
                1,
            ),
            "body_mass_share": _record(
                {
                    "share": {"type": "number", "exclusiveMinimum": 0, "maximum": 1},
                    "source": {"type": "string"},
                }
            ),
            "leave_out": _list_of(
                _record(
                    {
                        "region": _one_of(Region),
                        "words": {**_line(LINE_LENGTH), "pattern": r"^(Leave out|Stop) [^!\n]*\.$"},
                    }
                ),
                1,
            ),
            "earns": _list_of(
                _record({"harder": SLUG, "criterion": CRITERION, "words": _line(LINE_LENGTH)}), 1
            ),
            "substitutes": _list_of(_record({"use": SLUG, "when": _line(LINE_LENGTH)}), 1),
            "suits": _list_of(_one_of(Pattern, without=("warm-up", "cool-down")), 1),
        },
    ),
    "allOf": [
        _when("measure", "reps", {"required": ["tempo"]}),
        _when("measure", "hold", _without("tempo")),
        _when("loading", "body", _without("holdings")),
        _when("loading", "either", {"required": ["holdings"]}),
        _when("loading", "external", {"required": ["holdings"]}),
    ],
}

DOCUMENT: Schema = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "The exercises of one movement pattern",
    **_record(
        {
            "pattern": _one_of(Pattern),
            "part": _one_of(Part),
            "lower_body": FLAG,
            "first_load_cap_kg": {"enum": [4, 8]},
            "unavoidable": _list_of(_record({"region": _one_of(Region), "why": _line(LINE_LENGTH)}), 0),
            "exercises": _list_of(EXERCISE, 1),
        },
        {"sources": {"type": "object", "additionalProperties": {"type": "string", "minLength": 10}}},
    ),
    "allOf": [
        # P2 (ours): the first load on a body-weight exercise, at most 8 kg lower body and 4 kg upper.
        _when("lower_body", True, {"properties": {"first_load_cap_kg": {"const": 8}}}),
        _when("lower_body", False, {"properties": {"first_load_cap_kg": {"const": 4}}}),
    ],
}
