"""What happens to a row when a person asks for their data or for erasure. Every model says so in its `privacy`.

`coaching/privacy.py` walks all models and obeys; a model with a rider in it and no rule fails the build.
"""

from dataclasses import dataclass
from enum import StrEnum


class Erasure(StrEnum):
    """What erasing a rider does to a row that is about them."""

    DELETE = "delete"
    STRIP = "strip"  # kept without anything that identifies: the fields in `strips` are emptied
    KEEP = "keep"  # kept as it is; `why` says on what ground


@dataclass(frozen=True, slots=True)
class PrivacyRule:
    """The privacy rule of one model.

    `rider` is the lookup path from the row to the rider it is about, empty when it is about nobody; `mentions` is a
    field that may name riders by their mail address in a row that is about nobody in particular; `health` says that it
    holds health data; `keeps_days` is its retention counted from the moment in the field `dated`, None as long as the
    rider is there.
    """

    rider: str = ""
    exports: bool = True
    erasure: Erasure = Erasure.DELETE
    strips: tuple[str, ...] = ()
    mentions: str = ""
    health: bool = False
    keeps_days: int | None = None
    dated: str = ""
    why: str = ""


#: A row that is about no person.
NOT_PERSONAL = PrivacyRule(exports=False, erasure=Erasure.KEEP, why="about no person")
