"""The computed body: where its joints are, what of it can touch, where hands can go on it, where its mass is."""

from dataclasses import dataclass, field

from programs.figures import body
from programs.figures.body import MASSES
from programs.figures.pose import SIDES, Position, Side
from programs.figures.vectors import ORIGIN, Frame, Vector, along, distance, middle, plus, times


@dataclass(slots=True)
class Skeleton:
    """Where the joints are (`points`), which way the parts point (`frames`), and the joints' angles in degrees."""

    points: dict[str, Vector] = field(default_factory=dict)
    frames: dict[str, Frame] = field(default_factory=dict)
    angles: dict[str, float] = field(default_factory=dict)
    #: How far a reaching limb fell short of what the author asked for, in cm.
    short: dict[str, float] = field(default_factory=dict)
    #: Implements and where their middles are; filled by `implements.place`.
    grips: dict[str, Vector] = field(default_factory=dict)
    #: ``"fist"``, ``"flat"`` or ``"open"`` by side.
    shapes: dict[str, str] = field(default_factory=dict)


#: Parts that can touch something: the point and its thickness there.
def surface(skeleton: Skeleton, part: str) -> tuple[Vector, float]:
    """The middle of a part that touches, and how thick it is around it, in cm. Raises `KeyError` for no such part."""
    points = skeleton.points
    name = part.split()[-1]
    if part == "seat":
        return points["pelvis"], body.RADII["seat"]
    if part in ("back", "chest"):
        return along(points["ribs"], points["shoulders"], 0.5), body.RADII["back"]
    if part == "belly":
        return points["waist"], body.RADII["seat"]
    if name in ("heel", "ball", "toe"):
        return points[part], 1.8 if name != "toe" else 1.3
    if name == "forearm":
        side = part.split()[0]
        return along(points[f"{side} elbow"], points[f"{side} wrist"], 0.5), 3.6
    return points[part], body.RADII[name]


def point_of(skeleton: Skeleton, part: str) -> Vector:
    """Where a joint or a part is: what an arrow or a band goes by."""
    return skeleton.points[part] if part in skeleton.points else surface(skeleton, part)[0]


# --- places on the body that a hand may go to ------------------------------------------------------------------------

#: Frame, point it is measured from, and the way from there: ahead, up, out.
_PLACES: dict[str, tuple[str, str, Vector]] = {
    "chest": ("thorax", "ribs", (17, 12, 5)),
    "breastbone": ("thorax", "ribs", (13.5, 14, 3)),
    "belly": ("pelvis", "waist", (12, 0, 6)),
    "hip": ("pelvis", "pelvis", (2, 9, 17)),
    "hip-fold": ("pelvis", "pelvis", (10, 3, 11)),
    "lower-back": ("pelvis", "pelvis", (-11, 10, 4)),
    "buttock": ("pelvis", "pelvis", (-13, 2, 8)),
    "shoulder": ("thorax", "shoulders", (8, -1, 20)),
    "other-shoulder": ("thorax", "shoulders", (10, -3, -15)),
    "upper-back": ("thorax", "shoulders", (-10, -2, 24)),
    "head": ("head", "head", (-7, 2, 8)),
    "ear": ("head", "head", (0, 0, 11)),
    "neck": ("thorax", "shoulders", (-9, 7, 3)),
    "pack": ("thorax", "ribs", (-17, 7, 0)),
}


def body_place(skeleton: Skeleton, side: Side, place: str) -> tuple[Frame, Vector, Vector]:
    """The frame, the starting point and the way to a named place; those of the leg are on the hand's own side."""
    if place in ("thigh", "knee", "shin", "other-knee", "other-ankle", "ankle"):
        of: Side = side if not place.startswith("other-") else ("left" if side == "right" else "right")
        joint = {"thigh": "thigh", "knee": "knee", "shin": "shin", "ankle": "ankle"}[place.split("-")[-1]]
        points = skeleton.points
        if joint == "thigh":
            return (
                skeleton.frames[f"{of} thigh"],
                along(points[f"{of} hip"], points[f"{of} knee"], 0.55),
                (8, 0, 0),
            )
        if joint == "knee":
            return skeleton.frames[f"{of} thigh"], points[f"{of} knee"], (6, 2, 0)
        if joint == "shin":
            return (
                skeleton.frames[f"{of} shank"],
                along(points[f"{of} knee"], points[f"{of} ankle"], 0.4),
                (6, 0, 0),
            )
        return skeleton.frames[f"{of} shank"], points[f"{of} ankle"], (4, 2, 0)
    frame, start, way = _PLACES[place]
    return skeleton.frames[frame], skeleton.points[start], way


PLACES = (*_PLACES, "thigh", "knee", "shin", "ankle", "other-knee", "other-ankle")


# --- mass ------------------------------------------------------------------------------------------------------------


def centre_of_mass(skeleton: Skeleton, position: Position) -> Vector:
    """The common centre of mass of body and held implements (Winter's segment masses)."""
    points = skeleton.points
    parts: list[tuple[float, Vector]] = []

    def add(name: str, upper: Vector, lower: Vector, share: float = 1.0) -> None:
        parts.append((MASSES[name].share * share, along(upper, lower, MASSES[name].centre)))

    trunk = ("shoulders", "ribs", "waist", "pelvis")
    for upper, lower in zip(trunk, trunk[1:], strict=False):
        part = distance(points[upper], points[lower]) / body.TRUNK
        add("trunk", points[upper], points[lower], part)
    parts.append((MASSES["head-neck"].share, along(points["neck"], points["head"], 0.8)))
    for side in SIDES:
        add("thigh", points[f"{side} hip"], points[f"{side} knee"])
        add("shank", points[f"{side} knee"], points[f"{side} ankle"])
        add("foot", points[f"{side} heel"], points[f"{side} toe"])
        add("upper-arm", points[f"{side} shoulder"], points[f"{side} elbow"])
        add("forearm-hand", points[f"{side} elbow"], points[f"{side} wrist"])
    for held in position.held:
        if held.mass:
            parts.append((held.mass / body.BODY_MASS, held_at(skeleton, held.kind, held.hands)))
    total = sum(share for share, _ in parts)
    centre = ORIGIN
    for share, point in parts:
        centre = plus(centre, times(point, share / total))
    return centre


def held_at(skeleton: Skeleton, kind: str, hands: str) -> Vector:
    """Where a held thing is: where it was laid, or in the hand, or between the hands."""
    if kind in skeleton.grips:
        return skeleton.grips[kind]
    sides = SIDES if hands in ("both", "pair") else (hands,)
    return middle(skeleton.points[f"{side} hand"] for side in sides)
