"""Documents with one place changed, for whatever judges documents."""

import copy
from collections.abc import Iterator
from random import Random
from typing import Any

type Path = tuple[str | int, ...]

#: What a place may hold instead of what it should. No whole number written with a point, such as 1.0, and no decimal
#: with a line end: JSON Schema counts the first as whole, its reader for Python lets the second through, and the
#: project's own reader refuses both.
INSTEAD: tuple[Any, ...] = (
    None, True, False, 0, 1, -1, 7, 2026, 0.5, "", "0", "1", "12.5", "-3", "1e3", "NaN", "yes", "knee", "reps", "left",
    "kettlebell", "2026-03-02", "2026-02-30", "0000-01-01", "20260302", " 2026-03-02", [], [1], ["knee"],
    ["knee", "knee"], [["a", "1"]], {}, {"kg": "1"}, {"year": 2026, "number": 10}, {"implement": "barbell"},
    {"holding": {"implement": "band"}, "band": 1},
)  # fmt: skip
#: What a field that nobody knows may be called, beside those that one knows elsewhere.
NAMES = ("hat", "", "kg", "on", "reps", "Sets", "sets ")


def places(document: Any, path: Path = ()) -> Iterator[Path]:
    """Every place of the document, the whole of it included."""
    yield path
    children = (
        document.items()
        if isinstance(document, dict)
        else enumerate(document)
        if isinstance(document, list)
        else ()
    )
    for key, child in children:
        yield from places(child, (*path, key))


def at(document: Any, path: Path) -> Any:
    """What stands at a place."""
    for step in path:
        document = document[step]
    return document


def mutated(document: Any, chance: Random) -> Any:
    """A copy with one to three places replaced, taken away, doubled or added to."""
    changed = copy.deepcopy(document)
    for _time in range(chance.choice((1, 1, 2, 3))):
        path = chance.choice(list(places(changed)))
        if not path:
            continue
        changed = _change(changed, path, chance)
    return changed


def _change(document: Any, path: Path, chance: Random) -> Any:
    holder, key = at(document, path[:-1]), path[-1]
    match chance.randrange(6):
        case 0:
            del holder[key]
        case 1 if isinstance(holder, list):
            holder.append(copy.deepcopy(holder[key]))
        case 2 if isinstance(holder, dict):
            holder[chance.choice(NAMES)] = chance.choice(INSTEAD)
        case 3:
            elsewhere = chance.choice(list(places(document)))
            holder[key] = copy.deepcopy(at(document, elsewhere))
        case _:
            holder[key] = copy.deepcopy(chance.choice(INSTEAD))
    return document
