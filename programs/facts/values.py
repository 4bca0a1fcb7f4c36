"""Small values of the database as the engine's, and back: times, reasons, targets, the library in use."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import time
from functools import lru_cache
from typing import Any

from athletes import standings
from athletes.vocabulary import Reason
from programs.engine import codec
from programs.engine import facts as engine
from programs.engine.library import read_library
from programs.models import (
    LibraryVersion,
)

#: The rider's time zone, the club's unless their own is given.
zone_of = standings.zone_of


class LibraryMissing(Exception):
    """No exercise library is loaded: run `manage.py load_library`."""


def minutes_of(at: time) -> int:
    """Minutes from midnight."""
    return at.hour * 60 + at.minute


def time_of(minutes: int) -> time:
    """The inverse of `minutes_of`, for a time of day."""
    return time(minutes // 60 % 24, minutes % 60)


def reasons_document(reasons: Iterable[Reason]) -> list[dict[str, Any]]:
    """Reasons as stored: id, key and figures, no sentence."""
    return [{"rule": one.rule, "key": one.key, "figures": dict(one.figures)} for one in reasons]


def read_reasons(document: Iterable[Mapping[str, Any]]) -> tuple[Reason, ...]:
    """The inverse of `reasons_document`."""
    return tuple(Reason(one["rule"], one["key"], one.get("figures", {})) for one in document)


def read_target(document: Mapping[str, Any]) -> engine.Target:
    """A stored target."""
    return codec.from_document(engine.Target, document)


def current_library() -> engine.Library:
    """The library version in use. Raises `LibraryMissing`."""
    digest = LibraryVersion.objects.filter(is_current=True).values_list("digest", flat=True).first()
    if digest is None:
        raise LibraryMissing("No exercise library is loaded: run `manage.py load_library --database owner`.")
    return library_of(digest)


@lru_cache(maxsize=4)
def library_of(digest: str) -> engine.Library:
    """The library version that a decision names. The stored digest stands: a database may reorder a document's keys."""
    return replace(read_library(LibraryVersion.objects.get(digest=digest).document), digest=digest)
