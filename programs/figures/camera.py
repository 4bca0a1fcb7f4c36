"""From space to paper: where a point is seen, and how near it is."""

from collections.abc import Iterable
from functools import lru_cache
from math import cos, pi, radians, sin

from programs.figures.pose import View
from programs.figures.shapes import Point, Polygon, hull
from programs.figures.vectors import UP, Vector, across, cross, dot, plus, times, unit


@lru_cache(maxsize=8)
def _directions(steps: int) -> tuple[Point, ...]:
    return tuple((cos(2 * pi * k / steps), sin(2 * pi * k / steps)) for k in range(steps))


def _products(seen: list[Point]) -> Iterable[list[Point]]:
    yield [(u, u) for u, _v in seen]
    yield [(u, v) for u, v in seen]
    yield [(v, v) for _u, v in seen]


class Camera:
    """Looks at the figure from `view`; there is no perspective."""

    def __init__(self, view: View) -> None:
        turn, tilt = radians(view.turn), radians(view.tilt)
        self.right: Vector = (cos(turn), 0, -sin(turn))
        near: Vector = (sin(turn), 0, cos(turn))
        self.up: Vector = plus(times(UP, cos(tilt)), times(near, -sin(tilt)))
        self.near: Vector = plus(times(UP, sin(tilt)), times(near, cos(tilt)))
        self.is_level = view.tilt == 0

    def see(self, point: Vector) -> Point:
        """Where the point is on paper, cm."""
        return dot(point, self.right), dot(point, self.up)

    def depth(self, point: Vector) -> float:
        """How near the point is, cm; more is nearer."""
        return dot(point, self.near)

    def ellipsoid(self, centre: Vector, axes: Iterable[Vector], steps: int = 20) -> Polygon:
        """The outline of an ellipsoid with those half axes."""
        seen = [self.see(axis) for axis in axes]
        x, y = self.see(centre)
        # The shadow of an ellipsoid is an ellipse; this is its matrix, and the outline's point for each normal.
        uu, uv, vv = (sum(p * q for p, q in pairs) for pairs in _products(seen))
        points: list[Point] = []
        for c, s in _directions(steps):
            a, b = uu * c + uv * s, uv * c + vv * s
            long = (a * c + b * s) ** 0.5 or 1.0
            points.append((x + a / long, y + b / long))
        return tuple(points)

    def disc(self, centre: Vector, axis: Vector, radius: float, thick: float) -> Polygon:
        """The outline of a round plate at right angles to `axis`."""
        axis = unit(axis)
        one = across(UP, axis, otherwise=(1, 0, 0))
        two = cross(axis, one)
        points: list[Point] = []
        for end in (-thick / 2, thick / 2):
            middle = plus(centre, times(axis, end))
            for k in range(24):
                c, s = cos(2 * pi * k / 24) * radius, sin(2 * pi * k / 24) * radius
                points.append(self.see(plus(middle, plus(times(one, c), times(two, s)))))
        return hull(points)

    def block(self, x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> Polygon:
        """The outline of a box."""
        return hull([self.see((a, b, c)) for a in x for b in y for c in z])
