"""A figure as a list of shapes on one sheet: positions side by side or one below the other, floor, arrows.

All figures share one scale unless they would not fit: the sheet is `WIDTH` wide, as high as needed, and a rider is as
tall on one as on the next. Start and finish stand apart, not over each other: at the width of a thumb an overlay cannot
be read, and in grey print a ghost is lost.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import atan2, cos, sin

from programs.figures.anatomy import Seen, draw_body
from programs.figures.camera import Camera
from programs.figures.furniture import draw_thing
from programs.figures.implements import draw_held
from programs.figures.kinematics import build
from programs.figures.pose import Arrow, Pose
from programs.figures.reading import read_poses
from programs.figures.shapes import Point, Shape, Tone, bounds
from programs.figures.skeleton import Skeleton, point_of

#: The sheet: so wide, in units; a centimetre of the rider is a unit unless the scale says otherwise.
WIDTH = 240.0
MARGIN = 4.0
#: Between two positions.
BETWEEN = 14.0
LARGEST = 1.25
TALLEST = 236.0


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes on a sheet, y upwards from its lower edge, in units."""

    slug: str
    width: float
    height: float
    shapes: tuple[Shape, ...]
    positions: int


@lru_cache(maxsize=512)
def drawn(slug: str) -> Drawing | None:
    """The drawing of an exercise, kept for the life of the process; None where no pose is written."""
    pose = read_poses().get(slug)
    return draw(pose) if pose else None


def draw(pose: Pose) -> Drawing:
    """The pose, computed and drawn."""
    camera = Camera(pose.view)
    skeletons = [build(position, pose.things) for position in pose.positions]
    panels = [_panel(pose, number, skeletons, camera) for number in range(len(skeletons))]
    return _arranged(pose, panels)


def _panel(pose: Pose, number: int, skeletons: Sequence[Skeleton], camera: Camera) -> list[Shape]:
    skeleton, position = skeletons[number], pose.positions[number]
    seen: list[Seen] = list(draw_body(skeleton, camera))
    for held in position.held:
        seen += draw_held(held, skeleton, camera)
    for thing in pose.things:
        seen += draw_thing(thing, camera)
    shapes = [one.shape for one in sorted(seen, key=lambda one: one.depth)]
    for arrow in pose.arrows:
        if arrow.panel == number or len(skeletons) == 1:
            shapes += _arrow(arrow, skeletons, camera)
    return shapes


def _arranged(pose: Pose, panels: list[list[Shape]]) -> Drawing:
    boxes = [bounds(shapes) for shapes in panels]
    wide = [box[2] - box[0] for box in boxes]
    level = Camera(pose.view).is_level
    low = [min(box[1], -1.2) if level else box[1] for box in boxes]
    high = [box[3] - floor for box, floor in zip(boxes, low, strict=True)]
    gaps = BETWEEN * (len(panels) - 1)
    room = WIDTH - 2 * MARGIN
    beside = min(LARGEST, (room - gaps) / sum(wide), TALLEST / max(high))
    below = min(LARGEST, room / max(wide), (TALLEST - gaps) / sum(high))
    apart = pose.layout == "below" or (pose.layout == "auto" and below > beside * 1.02)
    scale = below if apart else beside
    shapes: list[Shape] = []
    if apart:
        height = sum(high) * scale + gaps + 2 * MARGIN
        top = height - MARGIN
        for panel, box, w, h, floor in zip(panels, boxes, wide, high, low, strict=True):
            left = (WIDTH - w * scale) / 2
            shapes += _set(panel, box, floor, left, top - h * scale, scale, w, level)
            top -= h * scale + BETWEEN
    else:
        height = (max(box[3] for box in boxes) - min(low)) * scale + 2 * MARGIN
        left = (WIDTH - sum(wide) * scale - gaps) / 2
        base = min(low)
        for panel, box, w, _h, _floor in zip(panels, boxes, wide, high, low, strict=True):
            shapes += _set(panel, box, base, left, MARGIN, scale, w, level)
            left += w * scale + BETWEEN
    return Drawing(pose.slug, WIDTH, round(height, 1), tuple(shapes), len(panels))


def _set(
    panel: list[Shape],
    box: tuple[float, float, float, float],
    floor: float,
    left: float,
    bottom: float,
    scale: float,
    wide: float,
    level: bool,
) -> list[Shape]:
    dx, dy = left - box[0] * scale, bottom - floor * scale
    moved = [shape.moved(dx, dy, scale) for shape in panel]
    if not level:
        return moved
    line = ((left - 3, dy - 0.8), (left + wide * scale + 3, dy - 0.8))
    return [Shape((line,), None, Tone.ROOM, 1.4, closed=False), *moved]


# --- arrows ----------------------------------------------------------------------------------------------------------

#: A shorter way is shown by an arrow of this length: the way matters, not how far.
_SHORTEST = 15.0


def _arrow(arrow: Arrow, skeletons: Sequence[Skeleton], camera: Camera) -> list[Shape]:
    if arrow.start and arrow.end:
        a, b = arrow.start, arrow.end
    else:
        a, b = (camera.see(point_of(one, arrow.part)) for one in (skeletons[0], skeletons[-1]))
        dx, dy = arrow.shift
        a, b = (a[0] + dx, a[1] + dy), (b[0] + dx, b[1] + dy)
    far = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
    if far < 1e-6:
        return []
    if far < _SHORTEST:
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        half = ((b[0] - a[0]) / far * _SHORTEST / 2, (b[1] - a[1]) / far * _SHORTEST / 2)
        a, b = (middle[0] - half[0], middle[1] - half[1]), (middle[0] + half[0], middle[1] + half[1])
    path = _bowed(a, b, arrow.bow)
    heads = [_head(path[-3], path[-1])] + ([_head(path[2], path[0])] if arrow.both else [])
    line = path[: len(path) - 2] if not arrow.both else path[2 : len(path) - 2]
    return [
        Shape((tuple(line),), None, Tone.MOVE, 2.2, closed=False, gap=1.0),
        Shape(tuple(heads), Tone.MOVE, gap=1.0),
    ]


def _bowed(a: Point, b: Point, bow: float) -> list[Point]:
    """Points on the way, bent to the left of it by `bow` at the middle."""
    far = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
    left = (-(b[1] - a[1]) / far, (b[0] - a[0]) / far)
    steps = max(8, round(far / 2.2))
    points = []
    for k in range(steps + 1):
        t = k / steps
        aside = 4 * t * (1 - t) * bow
        points.append(
            (a[0] + (b[0] - a[0]) * t + left[0] * aside, a[1] + (b[1] - a[1]) * t + left[1] * aside)
        )
    return points


def _head(before: Point, tip: Point) -> tuple[Point, ...]:
    way = atan2(tip[1] - before[1], tip[0] - before[0])
    points = []
    for back, aside in ((0, 0), (8.5, 4.6), (8.5, -4.6)):
        points.append(
            (
                tip[0] - back * cos(way) - aside * sin(way),
                tip[1] - back * sin(way) + aside * cos(way),
            )
        )
    return tuple(points)
