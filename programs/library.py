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

from programs.engine.library import Fault, find_faults, read_library
from programs.engine.library_words import find_word_faults, words_by_slug
from programs.models import LibraryVersion, ShippedExercise

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
    """The documents of all files of the folder, one a movement pattern, in order of file name."""
    return [yaml.safe_load(path.read_text(encoding="utf-8")) for path in sorted(folder.glob("*.yaml"))]


def read_words(folder: Path = FIXTURES) -> list[dict[str, Any]]:
    """The documents of words in other languages, each language in a folder of its own, in order of file name."""
    return [yaml.safe_load(path.read_text(encoding="utf-8")) for path in sorted(folder.glob("*/*.yaml"))]


def load(
    *,
    documents: Iterable[Mapping[str, Any]],
    words: Iterable[Mapping[str, Any]] = (),
    using: str,
    now: datetime,
) -> Loaded:
    """The documents are the current version of the library; exercises no longer in it are retired, never deleted.

    `words` are its words in other languages; they change nothing that the engine reads, so the version stays the same.
    `using` is the database alias of the tables' owner. Raises `LibraryFaulty` and changes nothing.
    """
    documents, words = list(documents), list(words)
    faults = find_faults(documents) or find_word_faults(documents, words)
    if faults:
        raise LibraryFaulty(faults)
    digest = read_library(documents).digest
    translations = words_by_slug(words)
    with transaction.atomic(using=using):
        versions = LibraryVersion.objects.using(using)
        versions.exclude(digest=digest).update(is_current=False)
        _, is_new = versions.update_or_create(
            digest=digest,
            defaults={"is_current": True, "document": documents},
            create_defaults={"is_current": True, "document": documents, "loaded_at": now},
        )
        loaded = [
            _load_one(row, document, translations.get(row["slug"], {}), using)
            for document in documents
            for row in document["exercises"]
        ]
        ShippedExercise.objects.using(using).exclude(slug__in=loaded).update(is_retired=True)
    return Loaded(digest, len(loaded), is_new)


def _load_one(
    row: Mapping[str, Any],
    document: Mapping[str, Any],
    translations: Mapping[str, Mapping[str, Any]],
    using: str,
) -> str:
    """One exercise as people read it, in every language that has words for it."""
    ShippedExercise.objects.using(using).update_or_create(
        slug=row["slug"],
        defaults={
            "name": row["name"],
            "pattern": document["pattern"],
            "level": row["level"],
            "document": {**row, "translations": translations} if translations else row,
            "is_retired": False,
        },
    )
    return str(row["slug"])
