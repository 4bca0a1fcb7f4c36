"""What is held, worn or pulled, as shapes: kettlebell, dumbbell, barbell, stick, backpack, band, towel.

`way` says how: a bell may `hang` from the hand, lie at the `chest`, in the `rack` before the shoulder, be at the end of
a `press`. A dumbbell's handle may point `ahead`, `across`, `up` or along the `fore`arm.
A band or towel goes `through` points of the body and points in space. All sizes are ours.
"""

from programs.figures.anatomy import GAP, Seen
from programs.figures.camera import Camera
from programs.figures.pose import SIDES, Held, Side
from programs.figures.shapes import Point, Shape, Tone, capsule, circle, hull
from programs.figures.skeleton import Skeleton, point_of
from programs.figures.vectors import AHEAD, RIGHT, UP, Vector, along, middle, minus, plus, times, unit

BELL_RADIUS = 9.2
#: From the middle of the handle to the middle of the bell.
BELL_DROP = 13.5
DISC_RADIUS = 22.5
_LINE = 2.0


def draw_held(held: Held, skeleton: Skeleton, camera: Camera) -> list[Seen]:
    """The implement, once for each hand where there is a pair."""
    draw = _DRAWN[held.kind]
    if held.hands == "pair":
        return [one for side in SIDES for one in draw(held, skeleton, camera, (side,))]
    sides: tuple[Side, ...] = SIDES if held.hands in ("both", "none") else (held.hands,)  # type: ignore[assignment]
    return draw(held, skeleton, camera, sides)


def _at(held: Held, skeleton: Skeleton, sides: tuple[Side, ...]) -> Vector:
    if held.kind in skeleton.grips:
        return skeleton.grips[held.kind]
    return middle(skeleton.points[f"{side} hand"] for side in sides)


def _fore(skeleton: Skeleton, side: Side) -> Vector:
    return unit(minus(skeleton.points[f"{side} wrist"], skeleton.points[f"{side} elbow"]))


def _kettlebell(held: Held, skeleton: Skeleton, camera: Camera, sides: tuple[Side, ...]) -> list[Seen]:
    grip = _at(held, skeleton, sides)
    thorax = skeleton.frames["thorax"]
    if held.way == "chest":
        down = times(thorax.up, -0.75)
    elif held.way == "rack":
        sign = 1 if sides[0] == "right" else -1
        down = unit(
            plus(times(_fore(skeleton, sides[0]), -0.75), plus(times(RIGHT, sign * 0.4), times(AHEAD, 0.55)))
        )
    elif held.way == "press":
        down = unit(plus(times(_fore(skeleton, sides[0]), -0.55), times(thorax.ahead, -0.8)))
    else:
        down = times(UP, -1)
    bell = plus(grip, times(down, BELL_DROP))
    at, top = camera.see(bell), camera.see(grip)
    depth = camera.depth(bell)
    round_one = circle(at, BELL_RADIUS, 28)
    handle = _handle(at, top)
    outer = Shape((handle,), None, Tone.KIT, 2.6, closed=False, gap=GAP)
    ball = Shape((round_one,), Tone.HOLLOW, Tone.KIT, _LINE, gap=GAP)
    bias = 0.5 if held.way != "press" else -3
    return [Seen(depth + bias, outer), Seen(depth + bias + 0.01, ball)]


def _handle(bell: Point, grip: Point) -> tuple[Point, ...]:
    """The bow of a kettlebell, from the bell to the grip and back."""
    dx, dy = grip[0] - bell[0], grip[1] - bell[1]
    far = (dx * dx + dy * dy) ** 0.5
    if far < 4:  # seen from the end
        dx, dy, far = 0.0, 1.0, 1.0
    u = (dx / far, dy / far)
    v = (-u[1], u[0])
    way = ((6.0, 5.5), (11.5, 6.4), (13.6, 4.6), (13.9, 0.0), (13.6, -4.6), (11.5, -6.4), (6.0, -5.5))
    return tuple((bell[0] + u[0] * a + v[0] * b, bell[1] + u[1] * a + v[1] * b) for a, b in way)


def _dumbbell(held: Held, skeleton: Skeleton, camera: Camera, sides: tuple[Side, ...]) -> list[Seen]:
    grip = _at(held, skeleton, sides)
    fore = _fore(skeleton, sides[0])
    axes = {"across": RIGHT, "up": UP, "fore": fore}
    axis = axes.get(held.way, AHEAD)
    seen: list[Seen] = []
    ends = [plus(grip, times(axis, way * 10)) for way in (-1, 1)]
    handle = capsule(camera.see(ends[0]), 1.5, camera.see(ends[1]), 1.5)
    seen.append(Seen(camera.depth(grip) - 0.2, Shape((handle,), Tone.KIT, gap=GAP)))
    for end in ends:
        plate = camera.disc(end, axis, 6.5, 7.5)
        seen.append(Seen(camera.depth(end) + 1.4, Shape((plate,), Tone.HOLLOW, Tone.KIT, _LINE, gap=GAP)))
    return seen


def _barbell(held: Held, skeleton: Skeleton, camera: Camera, sides: tuple[Side, ...]) -> list[Seen]:
    at = _at(held, skeleton, sides)
    half = (held.size or 150) / 2
    ends = [plus(at, times(RIGHT, way * half)) for way in (-1, 1)]
    bar = capsule(camera.see(ends[0]), 1.5, camera.see(ends[1]), 1.5)
    seen = [Seen(camera.depth(at) + 0.3, Shape((bar,), Tone.KIT, gap=0.8))]
    for way in (-1, 1):
        end = plus(at, times(RIGHT, way * (half - 8)))
        plate = camera.disc(end, RIGHT, DISC_RADIUS, 6)
        if camera.depth(RIGHT) > 0.7:  # from the side: an open ring, so that the rider can be seen through it
            if way == 1:
                ring = Shape((circle(camera.see(end), DISC_RADIUS, 40),), None, Tone.KIT, 2.4, gap=GAP)
                hub = Shape((circle(camera.see(end), 2.6),), Tone.HOLLOW, Tone.KIT, 1.8, gap=0.8)
                seen += [Seen(camera.depth(end), ring), Seen(camera.depth(end), hub)]
        else:
            seen.append(Seen(camera.depth(end), Shape((plate,), Tone.HOLLOW, Tone.KIT, _LINE, gap=GAP)))
    return seen


def _stick(held: Held, skeleton: Skeleton, camera: Camera, sides: tuple[Side, ...]) -> list[Seen]:
    if held.through:
        a, b = (_point(skeleton, one) for one in held.through[:2])
    else:
        a, b = (skeleton.points[f"{side} hand"] for side in SIDES)
    line = unit(minus(b, a))
    over = held.size or 25
    ends = plus(a, times(line, -over)), plus(b, times(line, over))
    shape = Shape((capsule(camera.see(ends[0]), 1.3, camera.see(ends[1]), 1.3),), Tone.KIT, gap=1.0)
    return [Seen(camera.depth(along(a, b, 0.5)) + 2, shape)]


def _point(skeleton: Skeleton, one: str | Vector) -> Vector:
    return point_of(skeleton, one) if isinstance(one, str) else one


def _band(held: Held, skeleton: Skeleton, camera: Camera, sides: tuple[Side, ...]) -> list[Seen]:
    """A line from point to point. A towel is wider."""
    points = [_point(skeleton, one) for one in held.through]
    width = 1.8 if held.kind == "band" else 3.0
    line = tuple(camera.see(point) for point in points)
    nearest = max(camera.depth(point) for point in points)
    shape = Shape((line,), None, Tone.KIT, width, closed=False, gap=0.9)
    return [Seen(nearest + 1.2, shape)]


def _backpack(held: Held, skeleton: Skeleton, camera: Camera, sides: tuple[Side, ...]) -> list[Seen]:
    frame, at = skeleton.frames["thorax"], skeleton.grips[held.kind]
    corners = [
        camera.see(plus(at, frame.out((a, b, c)))) for a in (-6, 8) for b in (-17, 17) for c in (-14, 14)
    ]
    pack = Shape((hull(corners),), Tone.HOLLOW, Tone.KIT, _LINE, gap=GAP)
    seen = [Seen(camera.depth(at) + (-2 if camera.depth(frame.ahead) > 0.5 else 0.4), pack)]
    for aside in (-10.0, 10.0):
        seen.append(_strap(skeleton, camera, aside))
    return seen


def _strap(skeleton: Skeleton, camera: Camera, aside: float) -> Seen:
    """From the pack over the shoulder, down the chest and back under the arm."""
    frame, ribs, top = skeleton.frames["thorax"], skeleton.points["ribs"], skeleton.points["shoulders"]
    points = [
        plus(top, frame.out((-9, 0, aside))),
        plus(top, frame.out((-1, 5, aside))),
        plus(top, frame.out((7, -2, aside))),
        plus(ribs, frame.out((9, 12, aside))),
        plus(ribs, frame.out((2, 3, aside * 1.3))),
        plus(ribs, frame.out((-10, 0, aside * 1.3))),
    ]
    line = tuple(camera.see(point) for point in points)
    depth = max(camera.depth(point) for point in points)
    return Seen(depth, Shape((line,), None, Tone.KIT, 1.8, closed=False, gap=0.9))


def _vest(held: Held, skeleton: Skeleton, camera: Camera, sides: tuple[Side, ...]) -> list[Seen]:
    return _backpack(held, skeleton, camera, sides)


_DRAWN = {
    "kettlebell": _kettlebell,
    "dumbbell": _dumbbell,
    "barbell": _barbell,
    "stick": _stick,
    "backpack": _backpack,
    "vest": _vest,
    "band": _band,
    "towel": _band,
}
