"""A club's library: the shipped documents with the club's own exercises in them. Pure.

>>> merged = merge(shipped, [Own("squat", {...}, ())])        # doctest: +SKIP

An own exercise of a shipped one's slug takes its place. A retired one leaves, with the steps that lead to it and the
advice to use it instead. Whether the outcome is sound is for `engine.library.find_faults` to say.
"""

from collections.abc import Iterable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

type Document = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Own:
    """An exercise of the club's: pattern and entry, and the steps that lead to it, each (easier, criterion, words)."""

    pattern: str
    entry: Mapping[str, Any]
    earned_from: Sequence[Mapping[str, Any]] = ()
    is_retired: bool = False


def merge(shipped: Iterable[Mapping[str, Any]], own: Iterable[Own]) -> list[Document]:
    """The documents of the club's library. The arguments stay as they are."""
    documents = [deepcopy(dict(document)) for document in shipped]
    mine = {str(one.entry["slug"]): one for one in own}
    retired = {slug for slug, one in mine.items() if one.is_retired}
    kept = [one for slug, one in mine.items() if slug not in retired]
    for document in documents:
        document["exercises"] = [row for row in document["exercises"] if row["slug"] not in mine] + [
            deepcopy(dict(one.entry)) for one in kept if one.pattern == document["pattern"]
        ]
    rows = {row["slug"]: row for document in documents for row in document["exercises"]}
    for one in kept:
        _lead_to(rows, one)
    if retired:
        for row in rows.values():
            _forget(row, retired)
    return documents


def _lead_to(rows: Mapping[str, Document], one: Own) -> None:
    """Each easier exercise has the step to this one, once."""
    slug = one.entry["slug"]
    for step in one.earned_from:
        easier = rows.get(step["easier"])
        if easier is None:
            continue
        others = [edge for edge in easier.get("earns", ()) if edge["harder"] != slug]
        easier["earns"] = [
            *others,
            {"harder": slug, "criterion": dict(step["criterion"]), "words": step["words"]},
        ]


def _forget(row: Document, retired: set[str]) -> None:
    """Nothing in the row names a retired exercise."""
    for field, key in (("earns", "harder"), ("substitutes", "use")):
        left = [one for one in row.get(field, ()) if one[key] not in retired]
        if left:
            row[field] = left
        else:
            row.pop(field, None)
