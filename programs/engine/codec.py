"""Facts and decisions as JSON documents and back: strict on the way in, one form on the way out.

A decimal is a string, a date ISO 8601, a choice its word, a set a sorted list, a tuple a list. Every field is written,
so that a stored document says all that it meant whatever a later version's defaults are; a field left out of a document
takes the default if it has one. Equal values give equal documents and so the same digest.

>>> from programs.engine.facts import Week
>>> from_document(Week, {"year": 2026, "number": 53})
Week(year=2026, number=53)
>>> from_document(Week, {"year": 2026, "number": "53"})
Traceback (most recent call last):
    ...
programs.engine.codec.FactsError: number: expected a whole number, found the text '53'
"""

import json
import re
import types
from collections.abc import Callable, Hashable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from functools import cache
from hashlib import sha256
from typing import Any, TypeAliasType, Union, cast, get_args, get_origin, get_type_hints

from athletes.values import value_class
from programs.engine.quantities import plain

type Json = None | bool | int | str | list[Json] | dict[str, Json]

#: How a decimal and a date are written, for the reader and for the schema.
DECIMAL_FORM = r"-?[0-9]{1,20}(\.[0-9]{1,20})?"
DATE_FORM = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"

_DECIMAL, _DATE = re.compile(DECIMAL_FORM), re.compile(DATE_FORM)
_SHOWN_LENGTH = 60


class FactsError(ValueError):
    """A document or value does not fit: where (`path`, empty for the whole), what was `expected`, what was `found`."""

    def __init__(self, path: str, expected: str, found: str) -> None:
        self.path, self.expected, self.found = path, expected, found
        super().__init__(f"{path or 'the document'}: expected {expected}, found {found}")

    def inside(self, place: str | int) -> "FactsError":
        """The same error seen from one level further out."""
        step = f"[{place}]" if isinstance(place, int) else place
        joint = "" if not self.path or self.path.startswith("[") else "."
        return FactsError(f"{step}{joint}{self.path}", self.expected, self.found)


def to_document(value: object) -> Json:
    """The value as what JSON can hold. Raises `FactsError` when a field holds another type than it declares."""
    return _plan(cast(Hashable, type(value))).encode(value)


def from_document[T](kind: type[T], document: object) -> T:
    """The value of dataclass `kind` that the document describes. Raises `FactsError` for any field that is unknown,
    missing or of the wrong type; nothing is converted silently."""
    return cast(T, _plan(cast(Hashable, kind)).decode(document))


def canonical(document: Json) -> str:
    """The document as the one JSON text that stands for it: keys sorted, no spaces."""
    return json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def digest(document: Json) -> str:
    """The SHA-256 of the canonical text, in hexadecimal: equal documents and only those have the same one."""
    return sha256(canonical(document).encode()).hexdigest()


# --- plans: how one type is written and read, worked out once -------------------------------------


@value_class
class _Plan:
    encode: Callable[[Any], Json]
    decode: Callable[[Any], Any]


@cache
def _plan(hint: Any) -> _Plan:
    if isinstance(hint, TypeAliasType):
        return _plan(hint.__value__)
    if hint in _SCALARS:
        return _SCALARS[hint]
    if isinstance(hint, type) and is_dataclass(hint):
        return _dataclass_plan(hint)
    if isinstance(hint, type) and issubclass(hint, Enum):
        return _enum_plan(hint)
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is tuple:
        return _tuple_plan(arguments)
    if origin is frozenset:
        return _set_plan(arguments[0])
    if origin in (types.UnionType, Union):
        return _union_plan(arguments)
    if origin in (Mapping, dict):
        return _mapping_plan(*arguments)
    raise TypeError(f"no document form for {hint!r}")


def _wrong(expected: str, value: object) -> FactsError:
    return FactsError("", expected, _shown(value))


def _shown(value: object) -> str:
    """What was found, in words that fit on a line."""
    match value:
        case None:
            return "nothing (null)"
        case bool():
            return "true" if value else "false"
        case str():
            return f"the text {_short(repr(value))}"
        case int() | float():
            return f"the number {value}"
        case list() | tuple():
            return f"a list of {len(value)}"
        case dict():
            return "an object"
        case _:
            return f"a value of type {type(value).__name__}"


def _short(text: str) -> str:
    return text if len(text) <= _SHOWN_LENGTH else text[:_SHOWN_LENGTH] + "..."


def _exactly(kind: type, expected: str) -> Callable[[Any], Any]:
    """A check that lets through values of just this type: a bool is no int here."""

    def check(value: Any) -> Any:
        if type(value) is not kind:
            raise _wrong(expected, value)
        return value

    return check


def _encode_decimal(value: Any) -> str:
    if type(value) is not Decimal or not value.is_finite():
        raise _wrong("a decimal", value)
    return format(plain(value), "f")


def _decode_decimal(value: Any) -> Decimal:
    if type(value) is not str or not _DECIMAL.fullmatch(value):
        raise _wrong('a decimal as text, such as "12.5"', value)
    return plain(Decimal(value))


def _encode_date(value: Any) -> str:
    return cast(date, _exactly(date, "a date")(value)).isoformat()


def _decode_date(value: Any) -> date:
    expected = 'a date as text, such as "2026-03-31"'
    if type(value) is not str or not _DATE.fullmatch(value):
        raise _wrong(expected, value)
    try:
        return date.fromisoformat(value)
    except ValueError:
        raise _wrong(expected, value) from None


def _same_both_ways(check: Callable[[Any], Any]) -> _Plan:
    return _Plan(check, check)


_SCALARS: dict[Any, _Plan] = {
    str: _same_both_ways(_exactly(str, "text")),
    int: _same_both_ways(_exactly(int, "a whole number")),
    bool: _same_both_ways(_exactly(bool, "true or false")),
    type(None): _same_both_ways(_exactly(type(None), "nothing (null)")),
    Decimal: _Plan(_encode_decimal, _decode_decimal),
    date: _Plan(_encode_date, _decode_date),
}


def _enum_plan(kind: type[Enum]) -> _Plan:
    members = {member.value: member for member in kind}
    words = {member: member.value for member in kind}
    expected = "one of " + ", ".join(str(word) for word in members)

    def encode(value: Any) -> Json:
        if type(value) is not kind:
            raise _wrong(expected, value)
        return cast(Json, words[value])

    def decode(value: Any) -> Enum:
        if type(value) not in (str, int) or value not in members:
            raise _wrong(expected, value)
        return members[value]

    return _Plan(encode, decode)


def _dataclass_plan(kind: type) -> _Plan:
    hints = get_type_hints(kind)
    # `fields` wants an instance type; `is_dataclass` has been asked already.
    parts = fields(cast(Any, kind))
    plans = {part.name: _plan(hints[part.name]) for part in parts}
    needed = [part.name for part in parts if part.default is MISSING and part.default_factory is MISSING]

    def encode(value: Any) -> Json:
        if type(value) is not kind:
            raise _wrong(f"a {kind.__name__}", value)
        document: dict[str, Json] = {}
        for name, plan in plans.items():
            try:
                document[name] = plan.encode(getattr(value, name))
            except FactsError as error:
                raise error.inside(name) from None
        return document

    def decode(document: Any) -> object:
        if type(document) is not dict:
            raise _wrong(f"an object ({kind.__name__})", document)
        arguments: dict[str, Any] = {}
        for name, value in document.items():
            if name not in plans:
                raise FactsError("", f"only fields of {kind.__name__}", f"the field {_short(repr(name))}")
            try:
                arguments[name] = plans[name].decode(value)
            except FactsError as error:
                raise error.inside(name) from None
        for name in needed:
            if name not in arguments:
                raise FactsError(name, "a value", "no such field")
        return kind(**arguments)

    return _Plan(encode, decode)


def _tuple_plan(arguments: tuple[Any, ...]) -> _Plan:
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        plan = _plan(arguments[0])
        return _Plan(
            lambda value: _each(value, tuple, plan.encode),
            lambda value: tuple(_each(value, list, plan.decode)),
        )
    plans = [_plan(argument) for argument in arguments]

    def through(value: Any, kind: type[list[Any] | tuple[Any, ...]], way: str) -> list[Any]:
        if not isinstance(value, kind) or len(value) != len(plans):
            raise _wrong(f"a list of {len(plans)}", value)
        return [_at(place, getattr(plans[place], way), one) for place, one in enumerate(value)]

    return _Plan(
        lambda value: through(value, tuple, "encode"), lambda value: tuple(through(value, list, "decode"))
    )


def _each(value: Any, kind: type[list[Any] | tuple[Any, ...]], way: Callable[[Any], Any]) -> list[Any]:
    if not isinstance(value, kind):
        raise _wrong("a list", value)
    return [_at(place, way, one) for place, one in enumerate(value)]


def _at(place: str | int, way: Callable[[Any], Any], value: Any) -> Any:
    try:
        return way(value)
    except FactsError as error:
        raise error.inside(place) from None


def _set_plan(argument: Any) -> _Plan:
    plan = _plan(argument)

    def encode(value: Any) -> Json:
        if type(value) is not frozenset:
            raise _wrong("a frozen set", value)
        return sorted((plan.encode(one) for one in value), key=lambda one: (str(type(one)), one))

    def decode(value: Any) -> frozenset[Any]:
        found = _each(value, list, plan.decode)
        if len(set(found)) != len(found):
            raise FactsError("", "a list without repeats", _shown(value))
        return frozenset(found)

    return _Plan(encode, decode)


def _union_plan(arguments: tuple[Any, ...]) -> _Plan:
    """One other type or nothing, or a choice among text, whole numbers, true, false and nothing."""
    nothing = type(None)
    others = [argument for argument in arguments if argument is not nothing]
    if len(others) == 1:
        plan = _plan(others[0])
        return _Plan(
            lambda value: None if value is None else plan.encode(value),
            lambda value: None if value is None else plan.decode(value),
        )
    kinds = frozenset(arguments)
    if not kinds <= {str, int, bool, nothing}:
        raise TypeError(f"no document form for a choice among {arguments!r}")

    def check(value: Any) -> Any:
        if type(value) not in kinds:
            raise _wrong("text, a whole number, true, false or null", value)
        return value

    return _same_both_ways(check)


def _mapping_plan(key: Any, argument: Any) -> _Plan:
    keys, values = _plan(key), _plan(argument)

    def encode(value: Any) -> Json:
        if not isinstance(value, Mapping):
            raise _wrong("a mapping", value)
        pairs = {str(_at(str(one), keys.encode, one)): one for one in value}
        return {word: _at(word, values.encode, value[pairs[word]]) for word in sorted(pairs)}

    def decode(document: Any) -> dict[Any, Any]:
        if type(document) is not dict:
            raise _wrong("an object", document)
        return {_at(word, keys.decode, word): _at(word, values.decode, one) for word, one in document.items()}

    return _Plan(encode, decode)
