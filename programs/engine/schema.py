"""The shape of a facts or decision document as JSON Schema (draft 2020-12), from the same types as the codec reads.

>>> from programs.engine.facts import Week
>>> shape_of(Week)["$ref"]
'#/$defs/Week'
"""

import re
import types
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any, TypeAliasType, Union, cast, get_args, get_origin, get_type_hints

from programs.engine.codec import DATE_FORM, DECIMAL_FORM, Json

DRAFT = "https://json-schema.org/draft/2020-12/schema"

_SCALARS: dict[Any, dict[str, Json]] = {
    str: {"type": "string"},
    int: {"type": "integer"},
    bool: {"type": "boolean"},
    type(None): {"type": "null"},
    Decimal: {"type": "string", "pattern": f"^{DECIMAL_FORM}$", "description": "a decimal as text"},
    date: {"type": "string", "pattern": f"^{DATE_FORM}$", "format": "date"},
}

#: Where a sentence of a docstring ends: a full stop, then a space and what begins a sentence here.
_SENTENCE_ENDS = re.compile(r"(?<=\.) (?=[A-Z`])")


def shape_of(kind: type) -> dict[str, Json]:
    """The schema of the documents of a dataclass: every type that it holds under `$defs`, by its name."""
    definitions: dict[str, Json] = {}
    root = _shape(kind, definitions)
    return {
        "$schema": DRAFT,
        **root,
        "$defs": {name: definitions[name] for name in sorted(definitions)},
    }


def answer_shape(verb: str, kinds: Sequence[type], version: int) -> dict[str, Json]:
    """The schema of all that the command prints: the answer of one of the kinds, and what it was an answer to."""
    definitions: dict[str, Json] = {}
    kind_shapes: list[Json] = [
        {
            "properties": {"kind": {"const": kind.__name__}, "answer": _shape(kind, definitions)},
            "required": ["kind", "answer"],
        }
        for kind in kinds
    ]
    return {
        "$schema": DRAFT,
        "title": f"What `python -m programs.engine {verb}` prints",
        "type": "object",
        "properties": {
            "question": {"const": verb, "description": "the verb"},
            "engine": {"type": "integer", "description": "the version of the rules"},
            "schema": {"const": version, "description": "the version of the documents' shape"},
            "facts": {
                "type": "string",
                "pattern": "^[0-9a-f]{64}$",
                "description": "SHA-256 of the question with every field written, keys sorted, without spaces",
            },
            "kind": {"enum": [kind.__name__ for kind in kinds], "description": "which kind of answer it is"},
            "answer": True,
        },
        "required": ["question", "engine", "schema", "facts", "kind", "answer"],
        "additionalProperties": False,
        "oneOf": kind_shapes,
        "$defs": {name: definitions[name] for name in sorted(definitions)},
    }


def _shape(hint: Any, definitions: dict[str, Json]) -> dict[str, Json]:
    if isinstance(hint, TypeAliasType):
        return _shape(hint.__value__, definitions)
    if hint in _SCALARS:
        return dict(_SCALARS[hint])
    if isinstance(hint, type) and (is_dataclass(hint) or issubclass(hint, Enum)):
        return _reference(hint, definitions)
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is tuple and len(arguments) == 2 and arguments[1] is Ellipsis:
        return {"type": "array", "items": _shape(arguments[0], definitions)}
    if origin is tuple:
        parts: list[Json] = [_shape(argument, definitions) for argument in arguments]
        return {"type": "array", "prefixItems": parts, "items": False, "minItems": len(parts)}
    if origin is frozenset:
        return {"type": "array", "items": _shape(arguments[0], definitions), "uniqueItems": True}
    if origin in (types.UnionType, Union):
        return {"anyOf": [_shape(argument, definitions) for argument in arguments]}
    if origin in (Mapping, dict):
        return {
            "type": "object",
            "propertyNames": _shape(arguments[0], definitions),
            "additionalProperties": _shape(arguments[1], definitions),
        }
    raise TypeError(f"no document form for {hint!r}")


def _reference(kind: type, definitions: dict[str, Json]) -> dict[str, Json]:
    if kind.__name__ not in definitions:
        definitions[kind.__name__] = {}  # keeps the place, so that a type inside itself would end
        definitions[kind.__name__] = _definition(kind, definitions)
    return {"$ref": f"#/$defs/{kind.__name__}"}


def _definition(kind: type, definitions: dict[str, Json]) -> dict[str, Json]:
    about = _first_paragraph(kind)
    if issubclass(kind, Enum):
        return {**about, "enum": [cast(Json, member.value) for member in kind]}
    hints = get_type_hints(kind)
    parts = fields(cast(Any, kind))
    needed: list[Json] = [
        part.name for part in parts if part.default is MISSING and part.default_factory is MISSING
    ]
    return {
        **about,
        "type": "object",
        "properties": {
            part.name: _field(_shape(hints[part.name], definitions), kind, part.name) for part in parts
        },
        "required": needed,
        "additionalProperties": False,
    }


def _field(shape: dict[str, Json], kind: type, name: str) -> dict[str, Json]:
    """The shape with the sentences of the type's docstring that name the field."""
    told = [sentence for sentence in _SENTENCE_ENDS.split(_text_of(kind)) if f"`{name}`" in sentence]
    if not told:
        return shape
    form = [f"({shape['description']})"] if "description" in shape else []
    return {**shape, "description": " ".join([*told, *form])}


def _text_of(kind: type) -> str:
    """A type's docstring on one line; nothing for one without."""
    written = (kind.__doc__ or "").strip()
    # A dataclass without a docstring is given its signature as one, which says nothing that the properties do not.
    return "" if written.startswith(f"{kind.__name__}(") else " ".join(written.split())


def _first_paragraph(kind: type) -> dict[str, Json]:
    if not _text_of(kind):
        return {}
    return {"description": " ".join((kind.__doc__ or "").strip().split("\n\n")[0].split())}
