"""Rows to engine values and back: the only translator between the database and the engine.

`gather` reads everything that decides a week for any number of riders in a fixed number of queries; `store` writes a
decision as rows. Call both inside `access.within(club)`.
"""

from programs.facts.gathering import Gathered, block_of, gather, kit_of, read_blocks
from programs.facts.past import Past, read_history
from programs.facts.storing import item_of, read_plan, store
from programs.facts.values import (
    LibraryMissing,
    current_library,
    library_of,
    minutes_of,
    read_reasons,
    read_target,
    reasons_document,
    time_of,
    zone_of,
)

__all__ = [
    "Gathered",
    "LibraryMissing",
    "Past",
    "block_of",
    "current_library",
    "gather",
    "item_of",
    "kit_of",
    "library_of",
    "minutes_of",
    "read_blocks",
    "read_history",
    "read_plan",
    "read_reasons",
    "read_target",
    "reasons_document",
    "store",
    "time_of",
    "zone_of",
]
