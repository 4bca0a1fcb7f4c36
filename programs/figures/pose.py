"""What an author says about a figure, as read from a pose file: frozen values, nothing computed yet.

`fixtures/poses/README.md` explains every field to authors; `schema.py` gives the shape, `reading.py` makes the values.
Angles are in degrees and anatomical: 0 is standing upright with arms hanging. Bending forward, lifting ahead, moving
outwards and turning outwards are positive. Places are in centimetres: ahead, up, and out to the limb's own side.
"""

from dataclasses import dataclass, field
from typing import Literal

from programs.figures.vectors import Vector

type Side = Literal["right", "left"]

SIDES: tuple[Side, Side] = ("right", "left")


@dataclass(frozen=True, slots=True)
class Bends:
    """Bends of a part of the trunk or of the neck: forward, to the right, turned to the right."""

    bend: float = 0
    side: float = 0
    turn: float = 0


@dataclass(frozen=True, slots=True)
class Hips:
    """Where the middle of the hip joints is and how the pelvis is tipped.

    `x` or `z` None: found, so that the centre of mass lies over `over`. `y` None: found from `knee`, the bend of the
    knee of the leg that stands. All are ignored where the position has an anchor, except the tips.
    """

    x: float | None = None
    y: float | None = None
    z: float | None = 0
    knee: float | None = None
    lean: float = 0
    side: float = 0
    turn: float = 0
    over: str = "feet"


@dataclass(frozen=True, slots=True)
class Foot:
    """A foot on something: the middle of its sole at `x`, `out`, on top of `y`, turned out, heel or toes raised."""

    x: float = 0
    out: float = 10
    y: float = 0
    turn: float = 5
    heel: float = 0
    toes: float = 0
    #: 90: the foot is on a wall ahead, toes up.
    pitch: float = 0
    upon: str = "floor"


@dataclass(frozen=True, slots=True)
class Leg:
    """A leg by its foot, by directions of its bones in space, or by the angles of its joints."""

    foot: Foot | None = None
    knee_to: Vector | None = None
    thigh: Vector | None = None
    shank: Vector | None = None
    hip: float = 0
    out: float = 0
    turn: float = 0
    knee: float = 0
    ankle: float = 0
    toes: float = 0


@dataclass(frozen=True, slots=True)
class Arm:
    """An arm by its hand, by directions of its bones in space, by a straight reach, or by the angles of its joints."""

    hand: Vector | None = None
    at: str = ""
    shift: Vector = (0, 0, 0)
    hold: str = ""
    out_upon: float = 0
    reach: Vector | None = None
    bend: float = 4
    upon: str = ""
    #: What a flat hand lies on: ``"floor"`` or any top, or a wall ``"ahead"``, ``"behind"``, ``"beside"``; from `upon`.
    lies: str = "floor"
    elbow_to: Vector | None = None
    upper: Vector | None = None
    fore: Vector | None = None
    fingers: Vector | None = None
    raised: float = 0
    out: float = 4
    turn: float = 0
    elbow: float = 8
    wrist: float = 0
    #: ``"fist"``, ``"flat"`` or ``"open"``.
    shape: str = "open"


@dataclass(frozen=True, slots=True)
class Anchor:
    """The part of the body that is laid down first: its surface touches `on` at `x` and `z`."""

    part: str
    x: float = 0
    z: float | None = None
    upon: str = "floor"


@dataclass(frozen=True, slots=True)
class Held:
    """Something held, worn or pulled. What the fields mean for each kind stands in `implements.py`."""

    kind: str
    hands: str = "both"
    way: str = ""
    at: Vector | None = None
    place: str = ""
    through: tuple[str | Vector, ...] = ()
    mass: float | None = None
    size: float | None = None


@dataclass(frozen=True, slots=True)
class Thing:
    """Furniture: `kind`, from `x0` to `x1`, from `z0` to `z1`, `y` high; `way` says how it faces."""

    kind: str
    name: str
    x0: float
    x1: float
    z0: float
    z1: float
    y: float
    way: str = ""


@dataclass(frozen=True, slots=True)
class Position:
    """One position of the body: a start, a finish, or a hold."""

    hips: Hips = Hips()
    lower_back: Bends = Bends()
    upper_back: Bends = Bends()
    neck: Bends = Bends()
    #: Both shoulders drawn ahead and up from where they rest, in cm.
    shoulders: tuple[float, float] = (0, 0)
    legs: dict[Side, Leg] = field(default_factory=dict)
    arms: dict[Side, Arm] = field(default_factory=dict)
    anchor: Anchor | None = None
    settle: str = ""
    settle_upon: str = "floor"
    touches: dict[str, str] = field(default_factory=dict)
    held: tuple[Held, ...] = ()


@dataclass(frozen=True, slots=True)
class Arrow:
    """An arrow that shows the way of a part from start to finish, moved aside on paper, or one between two points."""

    part: str = ""
    shift: tuple[float, float] = (0, 0)
    start: tuple[float, float] | None = None
    end: tuple[float, float] | None = None
    bow: float = 0
    both: bool = False
    panel: int = 0


@dataclass(frozen=True, slots=True)
class View:
    """Where it is looked at from: turned from the right side (0) to the front (90), raised by `tilt`."""

    turn: float = 0
    tilt: float = 0


@dataclass(frozen=True, slots=True)
class Pose:
    """The figure of one exercise: one position or two, and what is around."""

    slug: str
    view: View
    positions: tuple[Position, ...]
    things: tuple[Thing, ...] = ()
    arrows: tuple[Arrow, ...] = ()
    layout: str = "auto"
    #: ``"implement"`` or ``""``: whether the implement must stay over the middle of the foot.
    over_foot: bool = False
    #: Standing poses keep the centre of mass over what they stand on; a jump or a step in mid-stride does not.
    balanced: bool = True
