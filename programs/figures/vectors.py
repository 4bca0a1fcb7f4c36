"""Points, directions and frames in space, in plain floats.

The axes, for a figure that stands in the usual way: `x` ahead, `y` up, `z` to the figure's right. Lengths are in
centimetres, angles in degrees. A frame holds three unit directions of a body part: its ahead, its up, its right.
"""

from collections.abc import Iterable
from math import acos, cos, degrees, hypot, radians, sin, sqrt
from typing import NamedTuple

type Vector = tuple[float, float, float]

ORIGIN: Vector = (0.0, 0.0, 0.0)
AHEAD: Vector = (1.0, 0.0, 0.0)
UP: Vector = (0.0, 1.0, 0.0)
RIGHT: Vector = (0.0, 0.0, 1.0)


def plus(a: Vector, b: Vector) -> Vector:
    """The sum."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def minus(a: Vector, b: Vector) -> Vector:
    """From b to a."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def times(a: Vector, by: float) -> Vector:
    """The direction, that much longer."""
    return (a[0] * by, a[1] * by, a[2] * by)


def dot(a: Vector, b: Vector) -> float:
    """The inner product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    """The outer product: ahead x up is right."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def length(a: Vector) -> float:
    """How long it is."""
    return sqrt(dot(a, a))


def distance(a: Vector, b: Vector) -> float:
    """How far apart two points are."""
    return length(minus(a, b))


def unit(a: Vector, *, otherwise: Vector = UP) -> Vector:
    """The direction, one long; `otherwise` where there is none."""
    long = length(a)
    return times(a, 1 / long) if long > 1e-9 else otherwise


def across(a: Vector, line: Vector, *, otherwise: Vector) -> Vector:
    """The part of `a` at right angles to the unit vector `line`, one long."""
    rest = minus(a, times(line, dot(a, line)))
    if length(rest) > 1e-6:
        return unit(rest)
    rest = minus(otherwise, times(line, dot(otherwise, line)))
    return unit(rest, otherwise=otherwise)


def between(a: Vector, b: Vector) -> float:
    """The angle between two unit vectors, in degrees."""
    return degrees(acos(max(-1.0, min(1.0, dot(a, b)))))


def along(a: Vector, b: Vector, share: float) -> Vector:
    """The point on the way from a to b: 0 is a, 1 is b."""
    return plus(a, times(minus(b, a), share))


def middle(points: Iterable[Vector]) -> Vector:
    """The mean of the points."""
    every = list(points)
    total = ORIGIN
    for point in every:
        total = plus(total, point)
    return times(total, 1 / len(every))


class Frame(NamedTuple):
    """Which way a body part's own ahead, up and right point in space."""

    ahead: Vector
    up: Vector
    right: Vector

    def lean(self, angle: float) -> "Frame":
        """Tipped forward: up goes towards ahead."""
        c, s = cos(radians(angle)), sin(radians(angle))
        up = plus(times(self.up, c), times(self.ahead, s))
        return Frame(plus(times(self.ahead, c), times(self.up, -s)), up, self.right)

    def side(self, angle: float) -> "Frame":
        """Tipped to its right: up goes towards right."""
        c, s = cos(radians(angle)), sin(radians(angle))
        up = plus(times(self.up, c), times(self.right, s))
        return Frame(self.ahead, up, plus(times(self.right, c), times(self.up, -s)))

    def turn(self, angle: float) -> "Frame":
        """Turned to its right: ahead goes towards right."""
        c, s = cos(radians(angle)), sin(radians(angle))
        ahead = plus(times(self.ahead, c), times(self.right, s))
        return Frame(ahead, self.up, plus(times(self.right, c), times(self.ahead, -s)))

    def out(self, inner: Vector) -> Vector:
        """A direction given in the part's own terms (ahead, up, right), as it points in space."""
        ahead, up, right = inner
        return plus(plus(times(self.ahead, ahead), times(self.up, up)), times(self.right, right))

    def into(self, outer: Vector) -> Vector:
        """A direction in space, in the part's own terms (ahead, up, right)."""
        return (dot(outer, self.ahead), dot(outer, self.up), dot(outer, self.right))


STANDING = Frame(AHEAD, UP, RIGHT)


def frame_of(up: Vector, ahead: Vector) -> Frame:
    """The frame with that unit `up`, and `ahead` as near as may be."""
    ahead = across(ahead, up, otherwise=AHEAD if abs(up[0]) < 0.9 else UP)
    return Frame(ahead, up, cross(ahead, up))


def turned(frame: Frame, about: Vector, angle: float) -> Frame:
    """The frame turned about a unit vector in space, anticlockwise seen against it."""
    ahead, up, right = (turned_vector(one, about, angle) for one in frame)
    return Frame(ahead, up, right)


def turned_vector(vector: Vector, about: Vector, angle: float) -> Vector:
    """The vector turned about a unit vector (Rodrigues' formula)."""
    c, s = cos(radians(angle)), sin(radians(angle))
    kept = times(about, dot(vector, about) * (1 - c))
    return plus(plus(times(vector, c), times(cross(about, vector), s)), kept)


def reach(root: Vector, target: Vector, upper: float, lower: float, pole: Vector) -> tuple[Vector, Vector]:
    """Where the middle joint and the end of two bones lie (two-bone inverse kinematics, law of cosines).

    The middle joint lies on the side of `pole`. A target out of reach is reached for, with straight bones; the end then
    lies short of it, which the checks report.
    """
    line = minus(target, root)
    straight = unit(line, otherwise=times(UP, -1))
    far = max(abs(upper - lower) + 1e-6, min(upper + lower - 1e-6, length(line)))
    ahead = (far * far + upper * upper - lower * lower) / (2 * far)
    aside = sqrt(max(0.0, upper * upper - ahead * ahead))
    out = across(pole, straight, otherwise=AHEAD if abs(straight[0]) < 0.9 else UP)
    joint = plus(root, plus(times(straight, ahead), times(out, aside)))
    return joint, plus(root, times(straight, far))


def flat_length(a: tuple[float, float], b: tuple[float, float]) -> float:
    """The distance of two points on paper."""
    return hypot(a[0] - b[0], a[1] - b[1])
