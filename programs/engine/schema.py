"""The shape of a facts or decision document as JSON Schema (draft 2020-12), from the same types as the codec reads.

>>> from programs.engine.facts import Week
>>> shape_of(Week)["$ref"]
'#/$defs/Week'
"""

import types
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any, TypeAliasType, Union, cast, get_args, get_origin, get_type_hints

from programs.engine.codec import DATE_FORM, DECIMAL_FORM, Json

_SCALARS: dict[Any, dict[str, Json]] = {
    str: {"type": "string"},
    int: {"type": "integer"},
    bool: {"type": "boolean"},
    type(None): {"type": "null"},
    Decimal: {"type": "string", "pattern": f"^{DECIMAL_FORM}$", "description": "a decimal as text"},
    date: {"type": "string", "pattern": f"^{DATE_FORM}$", "format": "date"},
}


def shape_of(kind: type) -> dict[str, Json]:
    """The schema of the documents of a dataclass: every type that it holds under `$defs`, by its name."""
    definitions: dict[str, Json] = {}
    root = _shape(kind, definitions)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **root,
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
        "properties": {part.name: _shape(hints[part.name], definitions) for part in parts},
        "required": needed,
        "additionalProperties": False,
    }


def _first_paragraph(kind: type) -> dict[str, Json]:
    written = (kind.__doc__ or "").strip()
    # A dataclass without a docstring is given its signature as one, which says nothing that the properties do not.
    if not written or written.startswith(f"{kind.__name__}("):
        return {}
    return {"description": " ".join(written.split("\n\n")[0].split())}
