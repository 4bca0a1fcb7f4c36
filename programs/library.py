"""The exercise library: read from `fixtures/`, checked, and loaded as a new version.

Loading runs as the owner of the tables; the application only reads.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import yaml
from django.db import transaction

from programs.engine import codec
from programs.engine.library import Fault, find_faults, read_library
from programs.models import Exercise, LibraryVersion

#: Where the reviewed library stands, one file a movement pattern.
FIXTURES = Path(__file__).resolve().parent.parent / "fixtures" / "exercises"


@dataclass
class LibraryFaulty(Exception):
    """The library breaks its own rules; `faults` say where, what was expected and what was found."""

    faults: Sequence[Fault]

    def __str__(self) -> str:
        return "; ".join(str(fault) for fault in self.faults)


@dataclass(frozen=True, slots=True)
class Loaded:
    """What loading did: the version's digest, how many exercises it holds, whether it is a new version."""

    digest: str
    exercises: int
    is_new: bool


def read_files(folder: Path = FIXTURES) -> list[dict[str, Any]]:
    """The entries of all files of the folder, in order of file name."""
    entries: list[dict[str, Any]] = []
    for path in sorted(folder.glob("*.yaml")):
        entries += yaml.safe_load(path.read_text(encoding="utf-8"))
    return entries


def load(*, entries: Iterable[Mapping[str, Any]], using: str, now: datetime) -> Loaded:
    """The entries are the current version of the library; exercises no longer in it are retired, never deleted.

    `using` is the database alias of the tables' owner. Raises `LibraryFaulty` and changes nothing.
    """
    entries = list(entries)
    faults = find_faults(entries)
    if faults:
        raise LibraryFaulty(faults)
    digest = codec.digest(entries)
    read_library(entries)
    with transaction.atomic(using=using):
        versions = LibraryVersion.objects.using(using)
        versions.exclude(digest=digest).update(is_current=False)
        _, is_new = versions.update_or_create(
            digest=digest,
            defaults={"is_current": True},
            create_defaults={"is_current": True, "document": entries, "loaded_at": now},
        )
        exercises = Exercise.objects.using(using)
        for entry in entries:
            exercises.update_or_create(
                slug=entry["slug"],
                defaults={
                    "name": entry["name"],
                    "pattern": entry["pattern"],
                    "level": entry["level"],
                    "document": entry,
                    "is_retired": False,
                },
            )
        exercises.exclude(slug__in=[entry["slug"] for entry in entries]).update(is_retired=True)
    return Loaded(digest, len(entries), is_new)
