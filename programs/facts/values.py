"""Small values of the database as the engine's, and back: times, reasons, targets, the library in use."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import time
from functools import lru_cache
from typing import Any

from django.db.models import Subquery
from django.db.models.functions import Coalesce

from athletes import standings
from athletes.vocabulary import Reason
from programs.engine import codec
from programs.engine import facts as engine
from programs.engine.library import read_library
from programs.models import ClubLibrary, LibraryVersion

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
    """The library in use in the club in force, with its own exercises where it has any. Raises `LibraryMissing`."""
    digest = current_digest()
    if digest is None:
        raise LibraryMissing("No exercise library is loaded: run `manage.py load_library --database owner`.")
    return library_of(digest)


def current_digest() -> str | None:
    """The digest of the library in use: the club's own state of it, else the shipped one. One query."""
    own = ClubLibrary.objects.filter(is_current=True).values("digest")[:1]
    shipped = LibraryVersion.objects.filter(is_current=True)
    return shipped.values_list(Coalesce(Subquery(own), "digest"), flat=True).first()


@lru_cache(maxsize=64)
def library_of(digest: str) -> engine.Library:
    """The library version that a decision names. The stored digest stands: a database may reorder a document's keys.

    Raises `LibraryVersion.DoesNotExist`. What has been read once is kept: a digest says what is in it.
    """
    own = ClubLibrary.objects.filter(digest=digest).order_by("-number").first()
    stored = own or LibraryVersion.objects.get(digest=digest)
    return replace(read_library(stored.document), digest=digest)
