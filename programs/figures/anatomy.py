"""The outline of the body: limbs, trunk and head as rounded shapes around the joints.

Half widths are ours, drawn to read at 30 mm; where a breadth is published (hips, shoulders, chest), it is kept.
"""

from dataclasses import dataclass

from programs.figures import body
from programs.figures.camera import Camera
from programs.figures.pose import SIDES, Side
from programs.figures.shapes import Polygon, Shape, Tone, capsule, hull
from programs.figures.skeleton import Skeleton
from programs.figures.vectors import Frame, Vector, along, frame_of, plus, times, unit

#: The rim of paper around each part, so that an arm before the trunk can be told from it, in cm.
GAP = 1.5

#: Along the spine: between which points, how far, half depth, half breadth.
_SECTIONS = (
    ("pelvis", "waist", "pelvis", -0.55, 8.0, 0.86 * body.HIP_BREADTH / 2),
    ("pelvis", "waist", "pelvis", 0.25, 9.6, 0.97 * body.HIP_BREADTH / 2),
    ("waist", "ribs", "lumbar", 0.35, 8.2, 0.86 * body.CHEST_BREADTH / 2),
    ("ribs", "shoulders", "thorax", 0.1, 9.0, 0.94 * body.CHEST_BREADTH / 2),
    ("ribs", "shoulders", "thorax", 0.62, 10.0, 1.06 * body.CHEST_BREADTH / 2),
    ("ribs", "shoulders", "thorax", 1.0, 6.8, body.SHOULDER_HALF + 1.5),
    ("shoulders", "neck", "thorax", 1.5, 5.2, 6.0),
)


@dataclass(frozen=True, slots=True)
class Seen:
    """A shape and how near it is."""

    depth: float
    shape: Shape


def draw_body(skeleton: Skeleton, camera: Camera) -> list[Seen]:
    """Everything of the body, in no order."""
    seen = [_trunk(skeleton, camera), _head(skeleton, camera)]
    for side in SIDES:
        seen.append(_leg(skeleton, camera, side))
        seen.append(_arm(skeleton, camera, side))
    return seen


def _tone(skeleton: Skeleton, camera: Camera, side: Side, root: str) -> Tone:
    """The limb farther away is lighter; seen from the front, both are near."""
    other = "left" if side == "right" else "right"
    mine = camera.depth(skeleton.points[f"{side} {root}"])
    return Tone.FAR if mine < camera.depth(skeleton.points[f"{other} {root}"]) - 7 else Tone.NEAR


def _trunk(skeleton: Skeleton, camera: Camera) -> Seen:
    rings = [
        camera.ellipsoid(one.centre, _axes(one.frame, one.deep, 4.5, one.wide), 16)
        for one in _rings(skeleton)
    ]
    polygons = tuple(hull([*a, *b]) for a, b in zip(rings, rings[1:], strict=False))
    depth = camera.depth(along(skeleton.points["waist"], skeleton.points["ribs"], 0.5))
    return Seen(depth, Shape(polygons, Tone.NEAR, gap=GAP, rim=polygons[3:]))


@dataclass(frozen=True, slots=True)
class _Ring:
    """A cross-section of the trunk."""

    centre: Vector
    frame: Frame
    deep: float
    wide: float


def _rings(skeleton: Skeleton) -> list[_Ring]:
    """The cross-sections from the pelvis to the neck, with one between each two so that the back is a curve."""
    rings = [
        _Ring(along(skeleton.points[start], skeleton.points[end], share), skeleton.frames[frame], deep, wide)
        for start, end, frame, share, deep, wide in _SECTIONS
    ]
    smooth = [rings[0]]
    for k in range(1, len(rings)):
        four = [rings[max(0, k - 2)], rings[k - 1], rings[k], rings[min(len(rings) - 1, k + 1)]]
        smooth += [_between(four), rings[k]]
    return smooth


#: Half way along a Catmull-Rom curve.
_HALF_WAY = (-1 / 16, 9 / 16, 9 / 16, -1 / 16)


def _between(four: list[_Ring]) -> _Ring:
    centre: Vector = (0.0, 0.0, 0.0)
    for ring, weight in zip(four, _HALF_WAY, strict=True):
        centre = plus(centre, times(ring.centre, weight))
    deep = sum(ring.deep * weight for ring, weight in zip(four, _HALF_WAY, strict=True))
    wide = sum(ring.wide * weight for ring, weight in zip(four, _HALF_WAY, strict=True))
    up = unit(plus(four[1].frame.up, four[2].frame.up))
    return _Ring(centre, frame_of(up, plus(four[1].frame.ahead, four[2].frame.ahead)), deep, wide)


def _axes(frame: Frame, deep: float, high: float, wide: float) -> tuple[Vector, Vector, Vector]:
    return times(frame.ahead, deep), times(frame.up, high), times(frame.right, wide)


def _head(skeleton: Skeleton, camera: Camera) -> Seen:
    head, frame = skeleton.points["head"], skeleton.frames["head"]
    skull = camera.ellipsoid(head, _axes(frame, 9.4, body.HEAD / 2, 7.6), 32)
    nose_at = plus(head, frame.out((9.3, -1.5, 0)))
    nose = capsule(camera.see(plus(head, frame.out((7, 0.5, 0)))), 2.2, camera.see(nose_at), 1.2)
    base = along(skeleton.points["shoulders"], skeleton.points["neck"], 0.3)
    throat = capsule(camera.see(base), 5.4, camera.see(plus(head, frame.out((-2.0, -4, 0)))), 4.8)
    depth = camera.depth(head)
    return Seen(depth + 0.2, Shape((throat, skull, nose), Tone.NEAR, gap=GAP, rim=(skull, nose)))


def _leg(skeleton: Skeleton, camera: Camera, side: Side) -> Seen:
    points = skeleton.points
    hip, knee, ankle = (points[f"{side} {joint}"] for joint in ("hip", "knee", "ankle"))
    h, k, a = (camera.see(point) for point in (hip, knee, ankle))
    shank = skeleton.frames[f"{side} shank"]
    calf = plus(along(knee, ankle, 0.28), times(shank.ahead, -1.0))
    c = camera.see(calf)
    mid = camera.see(along(hip, knee, 0.45))
    polygons = [
        capsule(h, 8.6, mid, 7.6),
        capsule(mid, 7.6, k, 5.2),
        capsule(k, 5.2, c, 5.5),
        capsule(c, 5.4, a, 3.3),
        *_foot(skeleton, camera, side),
    ]
    depth = sum(camera.depth(point) for point in (hip, knee, ankle)) / 3
    tone = _tone(skeleton, camera, side, "hip")
    return Seen(depth, Shape(tuple(polygons), tone, gap=GAP, rim=tuple(polygons[1:])))


def _foot(skeleton: Skeleton, camera: Camera, side: Side) -> list[Polygon]:
    points = skeleton.points
    foot = skeleton.frames[f"{side} foot"]
    see = camera.see
    heel, ball, toe = (points[f"{side} {part}"] for part in ("heel", "ball", "toe"))
    ankle = points[f"{side} ankle"]
    instep = plus(ankle, foot.out((3.2, -2.6, 0)))
    heel_ring = camera.ellipsoid(heel, _axes(foot, 1.8, 1.8, 2.6))
    ball_ring = camera.ellipsoid(ball, _axes(foot, 1.8, 1.8, 4.0))
    toe_ring = camera.ellipsoid(toe, _axes(foot, 1.3, 1.3, 3.4))
    ankle_ring = camera.ellipsoid(instep, _axes(foot, 3.2, 3.2, 3.2))
    back = capsule(see(ankle), 3.4, see(plus(heel, foot.out((0.6, 0.6, 0)))), 2.2)
    return [
        back,
        hull([*heel_ring, *ankle_ring]),
        hull([*heel_ring, *ball_ring]),
        hull([*ankle_ring, *ball_ring]),
        hull([*ball_ring, *toe_ring]),
    ]


def _arm(skeleton: Skeleton, camera: Camera, side: Side) -> Seen:
    points = skeleton.points
    shoulder, elbow, wrist, hand = (
        points[f"{side} {joint}"] for joint in ("shoulder", "elbow", "wrist", "hand")
    )
    see = camera.see
    polygons = [
        capsule(see(shoulder), 5.6, see(along(shoulder, elbow, 0.35)), 5.0),
        capsule(see(along(shoulder, elbow, 0.35)), 5.0, see(elbow), 3.9),
        capsule(see(elbow), 3.9, see(along(elbow, wrist, 0.3)), 3.9),
        capsule(see(along(elbow, wrist, 0.3)), 3.9, see(wrist), 2.7),
    ]
    fingers = points[f"{side} fingers"]
    if f"{side} palm" in points:
        polygons.append(capsule(see(wrist), 2.7, see(along(wrist, fingers, 0.5)), 2.6))
        polygons.append(capsule(see(along(wrist, fingers, 0.5)), 2.6, see(fingers), 1.7))
    elif skeleton.shapes.get(side) == "fist":
        polygons.append(capsule(see(wrist), 2.7, see(hand), 3.9))
    else:
        polygons.append(capsule(see(wrist), 2.7, see(hand), 3.2))
        polygons.append(capsule(see(hand), 3.2, see(fingers), 1.8))
    depth = sum(camera.depth(point) for point in (shoulder, elbow, wrist)) / 3
    tone = _tone(skeleton, camera, side, "shoulder")
    return Seen(depth + 1.0, Shape(tuple(polygons), tone, gap=GAP, rim=tuple(polygons[1:])))
