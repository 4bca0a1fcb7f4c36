"""Whether a body could be like that: joints, lengths, contacts, floor and walls, balance, load over the foot.

Tolerances are ours: flesh gives a little, a drawing shows a centimetre as a hair's breadth.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot

from programs.figures import body
from programs.figures.furniture import GRIPS, PEDALS, SADDLE, pedal
from programs.figures.kinematics import build
from programs.figures.pose import SIDES, Pose, Position, Thing
from programs.figures.shapes import Point, hull
from programs.figures.skeleton import Skeleton, centre_of_mass, held_at, surface
from programs.figures.vectors import Vector, distance

#: How far a contact may miss what it touches, and how far a part may sink into the floor or a wall, cm.
TOUCH = 1.5
SINK = 1.5
#: How far the centre of mass may lie outside what carries the body, cm.
BALANCE = 1.0
#: How far an implement may be from over the middle of the foot, cm.
OVER_FOOT = 4.0
#: How far a limb may fall short of its target, cm.
SHORT = 0.6

_LENGTHS = (
    ("hip", "knee", body.THIGH),
    ("knee", "ankle", body.SHANK),
    ("shoulder", "elbow", body.UPPER_ARM),
    ("elbow", "wrist", body.FOREARM),
)
_SUPPORTS = ("heel", "ball", "toe", "knee", "hand", "elbow", "forearm", "hip", "shoulder")


@dataclass(frozen=True, slots=True)
class Fault:
    """What is impossible in a position: `kind` is one of limit, length, short, touch, sunk, balance, over-foot."""

    slug: str
    position: int
    kind: str
    words: str

    def __str__(self) -> str:
        return f"{self.slug}, position {self.position + 1}: {self.kind}: {self.words}"


def find_faults(pose: Pose) -> list[Fault]:
    """Everything impossible about the pose; empty when a body can do it."""
    faults: list[Fault] = []
    for number, position in enumerate(pose.positions):
        skeleton = build(position, pose.things)
        for kind, words in check(pose, position, skeleton):
            faults.append(Fault(pose.slug, number, kind, words))
    return faults


def check(pose: Pose, position: Position, skeleton: Skeleton) -> Iterator[tuple[str, str]]:
    """Each fault of one position as its kind and its words."""
    yield from _limits(skeleton)
    yield from _lengths(skeleton)
    yield from _short(skeleton)
    yield from _touches(pose, position, skeleton)
    yield from _sunk(pose, skeleton)
    if pose.balanced:
        yield from _balance(pose, position, skeleton)
    if pose.over_foot:
        yield from _over_foot(position, skeleton)


def _limits(skeleton: Skeleton) -> Iterator[tuple[str, str]]:
    for name, angle in skeleton.angles.items():
        joint = name.split()[-1]
        limit = body.LIMITS.get(joint)
        if limit and not limit.low <= angle <= limit.high:
            yield "limit", f"{name} at {angle:.0f} degrees, from {limit.low:g} to {limit.high:g} is possible"


def _lengths(skeleton: Skeleton) -> Iterator[tuple[str, str]]:
    points = skeleton.points
    for side in SIDES:
        for upper, lower, long in _LENGTHS:
            found = distance(points[f"{side} {upper}"], points[f"{side} {lower}"])
            if abs(found - long) > 0.1:
                yield "length", f"{side} {upper} to {lower} is {found:.1f} cm, the body's is {long:.1f}"


def _short(skeleton: Skeleton) -> Iterator[tuple[str, str]]:
    for name, gap in skeleton.short.items():
        if gap > SHORT:
            yield "short", f"{name} is {gap:.1f} cm short of where it should be"


# --- what touches ----------------------------------------------------------------------------------------------------


def contacts(position: Position) -> dict[str, str]:
    """Every part that touches something, and what: what the author lists, and what feet and hands imply."""
    found = dict(position.touches)
    for side in SIDES:
        foot, arm = position.legs[side].foot, position.arms[side]
        if foot and not foot.heel:
            found.setdefault(f"{side} heel", foot.upon)
        if foot and not foot.toes:
            found.setdefault(f"{side} ball", foot.upon)
        if arm.upon and arm.shape == "flat":
            found.setdefault(f"{side} hand", arm.upon)
    if position.anchor:
        found.setdefault(position.anchor.part, position.anchor.upon)
    return found


def gap(skeleton: Skeleton, part: str, upon: str, things: tuple[Thing, ...]) -> float:
    """How far the part's surface is from what it should touch, in cm; below 0 it is inside. Raises `KeyError`."""
    point, thick = surface(skeleton, part)
    if upon == "floor":
        return point[1] - thick
    thing = next((one for one in things if one.name == upon), None)
    if thing is None:
        raise KeyError(upon)
    if thing.kind in ("wall", "frame", "post"):
        return _beside(point, thing) - thick
    if thing.kind in ("bar", "rack"):
        x = (thing.x0 + thing.x1) / 2
        return hypot(point[0] - x, point[1] - thing.y)
    if thing.kind == "bicycle":
        return _on_bicycle(point, thick, part)
    return _over(point, thing) - thick


def _on_bicycle(point: Vector, thick: float, part: str) -> float:
    """From the saddle, from the grips, or from the nearer pedal under the ball of the foot."""
    if part == "seat":
        return point[1] - thick - SADDLE[1]
    if part.endswith("hand"):
        return hypot(point[0] - GRIPS[0], point[1] - GRIPS[1])
    axles = [pedal(angle, side) for angle, side in PEDALS]
    return min(hypot(point[0] - x, point[1] - y) for x, y, _z in axles) - thick - 1


def _beside(point: Vector, thing: Thing) -> float:
    if thing.way == "beside":
        return abs(point[2] - (thing.z0 + thing.z1) / 2)
    return min(abs(point[0] - thing.x0), abs(point[0] - thing.x1))


def _over(point: Vector, thing: Thing) -> float:
    """From the nearest point of the top: an edge counts, so that shoulder blades may rest on one."""
    dx = max(thing.x0 - point[0], 0.0, point[0] - thing.x1)
    dz = max(thing.z0 - point[2], 0.0, point[2] - thing.z1)
    return hypot(dx, dz, point[1] - thing.y)


def _touches(pose: Pose, position: Position, skeleton: Skeleton) -> Iterator[tuple[str, str]]:
    for part, upon in contacts(position).items():
        try:
            off = gap(skeleton, part, upon, pose.things)
        except KeyError as missing:
            yield "touch", f"{part} should touch {upon}: nothing is called {missing}"
            continue
        if abs(off) > TOUCH:
            where = "away from" if off > 0 else "inside"
            yield "touch", f"{part} is {abs(off):.1f} cm {where} {upon}"


_PARTS = tuple(
    f"{side} {part}"
    for side in SIDES
    for part in ("heel", "ball", "toe", "knee", "ankle", "hip", "elbow", "wrist")
)


def _sunk(pose: Pose, skeleton: Skeleton) -> Iterator[tuple[str, str]]:
    for part in (*_PARTS, "head", "back"):
        point, thick = surface(skeleton, part)
        if point[1] - thick < -SINK:
            yield "sunk", f"{part} is {thick - point[1]:.1f} cm through the floor"
        for thing in pose.things:
            deep = _inside(point, thick, thing)
            if deep > SINK:
                yield "sunk", f"{part} is {deep:.1f} cm inside the {thing.name}"


def _inside(point: Vector, thick: float, thing: Thing) -> float:
    if thing.kind == "wall":
        if thing.way == "beside":
            at = (thing.z0 + thing.z1) / 2
            return (point[2] + thick - at) if at > 0 else (at - point[2] + thick)
        at = thing.x0
        return (point[0] + thick - at) if thing.way == "ahead" else (at - point[0] + thick)
    if thing.kind in ("step", "box"):
        within = thing.x0 < point[0] < thing.x1 and thing.z0 < point[2] < thing.z1
        return thing.y - point[1] if within and point[1] < thing.y - thick else 0.0
    return 0.0


# --- balance ---------------------------------------------------------------------------------------------------------


def _balance(pose: Pose, position: Position, skeleton: Skeleton) -> Iterator[tuple[str, str]]:
    """Only for a body on its feet and knees: who leans on a wall, holds a bar or lies is carried elsewhere too."""
    touched = contacts(position)
    carried = [part for part in touched if part.split()[-1] in _SUPPORTS]
    if any(part.split()[-1] not in ("heel", "ball", "toe", "knee") for part in touched) or not carried:
        return
    if any(arm.hold and arm.hold not in _HELD_KINDS for arm in position.arms.values()):
        return
    centre = centre_of_mass(skeleton, position)
    base = hull([point for part in carried for point in _print(skeleton, part)])
    off = _outside((centre[0], centre[2]), base)
    if off > BALANCE:
        yield "balance", f"the centre of mass is {off:.1f} cm outside what the body stands on"


_HELD_KINDS = ("barbell", "stick", "kettlebell", "dumbbell", "band", "towel")


def _print(skeleton: Skeleton, part: str) -> list[Point]:
    """What a part covers on the floor."""
    x, _y, z = skeleton.points[part]
    side, name = part.split()
    if name == "ball":
        toe = skeleton.points[f"{side} toe"]
        return [(x, z - 4), (x, z + 4), (toe[0], toe[2] - 3), (toe[0], toe[2] + 3)]
    return [(x - 2, z - 3), (x - 2, z + 3), (x + 2, z - 3), (x + 2, z + 3)]


def _outside(point: Point, base: tuple[Point, ...]) -> float:
    """How far the point lies outside the polygon (anticlockwise); 0 inside."""
    worst = 0.0
    for (ax, ay), (bx, by) in zip(base, (*base[1:], base[0]), strict=True):
        dx, dy = bx - ax, by - ay
        long = (dx * dx + dy * dy) ** 0.5
        if long:
            worst = max(worst, (dy * (point[0] - ax) - dx * (point[1] - ay)) / long)
    return worst


def _over_foot(position: Position, skeleton: Skeleton) -> Iterator[tuple[str, str]]:
    feet = [skeleton.points[f"{side} foot"][0] for side in SIDES if position.legs[side].foot]
    for held in position.held:
        x = held_at(skeleton, held.kind, held.hands)[0]
        off = x - sum(feet) / len(feet)
        if abs(off) > OVER_FOOT:
            way = "ahead of" if off > 0 else "behind"
            yield "over-foot", f"the {held.kind} is {abs(off):.1f} cm {way} the middle of the foot"
