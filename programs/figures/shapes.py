"""What a figure is made of on paper: polygons and lines with a tone, in centimetres, y upwards.

Three renderers draw the same list: `svg.py`, `pdf.py`, `png.py`. A tone is a word; each renderer knows its colour.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import atan2, cos, pi, sin

type Point = tuple[float, float]
type Polygon = tuple[Point, ...]


class Tone(StrEnum):
    """What a shape stands for. Each reads in grey by itself."""

    NEAR = "near"  # the body, on the near side
    FAR = "far"  # limbs on the far side
    KIT = "kit"  # the outline of what is held
    HOLLOW = "hollow"  # what is held, inside its outline
    ROOM = "room"  # furniture, walls, floor
    SHADE = "shade"  # the inside of furniture
    MOVE = "move"  # arrows


@dataclass(frozen=True, slots=True)
class Shape:
    """Polygons filled as one (`fill`), or lines (`stroke`, `width`); `gap` is a rim of paper around it, in cm.

    `rim` are the polygons that have the rim, where not all have: a limb grows out of the trunk without one.
    """

    polygons: tuple[Polygon, ...]
    fill: Tone | None = None
    stroke: Tone | None = None
    width: float = 0
    closed: bool = True
    gap: float = 0
    rim: tuple[Polygon, ...] | None = None

    @property
    def rimmed(self) -> tuple[Polygon, ...]:
        """The polygons that have a rim of paper."""
        return self.polygons if self.rim is None else self.rim

    def moved(self, dx: float, dy: float, scale: float) -> "Shape":
        """The shape scaled about the origin, then moved."""

        def moved(polygon: Polygon) -> Polygon:
            return tuple([(x * scale + dx, y * scale + dy) for x, y in polygon])

        # Most of what has a rim is drawn too, and is moved once.
        places = {id(polygon): moved(polygon) for polygon in self.polygons}
        rim = None if self.rim is None else tuple(places.get(id(one)) or moved(one) for one in self.rim)
        polygons = tuple(places.values())
        return Shape(polygons, self.fill, self.stroke, self.width * scale, self.closed, self.gap * scale, rim)


def circle(at: Point, radius: float, steps: int = 20) -> Polygon:
    """A circle, anticlockwise."""
    return tuple(
        (at[0] + radius * cos(2 * pi * k / steps), at[1] + radius * sin(2 * pi * k / steps))
        for k in range(steps)
    )


def hull(points: list[Point]) -> Polygon:
    """The convex hull, anticlockwise (Andrew's monotone chain)."""
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return tuple(ordered)

    def half(these: list[Point]) -> list[Point]:
        kept = [these[0], these[1]]
        (ax, ay), (bx, by) = kept
        for point in these[2:]:
            x, y = point
            while (bx - ax) * (y - ay) - (by - ay) * (x - ax) <= 1e-9:
                kept.pop()
                if len(kept) < 2:
                    break
                bx, by = ax, ay
                ax, ay = kept[-2]
            kept.append(point)
            (ax, ay), (bx, by) = kept[-2], point
        return kept[:-1]

    return tuple(half(ordered) + half(ordered[::-1]))


def grown(polygon: Polygon, by: float) -> Polygon:
    """A convex polygon (anticlockwise) with every side moved out by that much."""
    count = len(polygon)
    ways = []
    for k in range(count):
        (ax, ay), (bx, by_) = polygon[k], polygon[(k + 1) % count]
        dx, dy = bx - ax, by_ - ay
        long = (dx * dx + dy * dy) ** 0.5 or 1.0
        ways.append((dy / long, -dx / long))
    points = []
    for k in range(count):
        (ux, uy), (vx, vy) = ways[k - 1], ways[k]
        share = by / max(0.3, 1 + ux * vx + uy * vy)
        points.append((polygon[k][0] + (ux + vx) * share, polygon[k][1] + (uy + vy) * share))
    return tuple(points)


def capsule(a: Point, ra: float, b: Point, rb: float) -> Polygon:
    """A rounded limb from a to b with those half widths: the hull of two circles, anticlockwise."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    far = (dx * dx + dy * dy) ** 0.5
    if far <= abs(ra - rb) + 1e-6:
        return circle(a, ra) if ra >= rb else circle(b, rb)
    way = atan2(dy, dx)
    tangent = atan2((far * far - (ra - rb) ** 2) ** 0.5, ra - rb)
    points: list[Point] = []
    for centre, radius, first, last in (
        (b, rb, way - tangent, way + tangent),
        (a, ra, way + tangent, way - tangent + 2 * pi),
    ):
        steps = max(3, round((last - first) / (2 * pi) * 20))
        for k in range(steps + 1):
            at = first + (last - first) * k / steps
            points.append((centre[0] + radius * cos(at), centre[1] + radius * sin(at)))
    return tuple(points)


def bounds(shapes: list[Shape]) -> tuple[float, float, float, float]:
    """Left, bottom, right, top of all shapes, with the width of their lines."""
    boxes = []
    for shape in shapes:
        half = shape.width / 2
        for polygon in shape.polygons:
            xs, ys = zip(*polygon, strict=True)
            boxes.append((min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half))
    lefts, bottoms, rights, tops = zip(*boxes, strict=True)
    return min(lefts), min(bottoms), max(rights), max(tops)
