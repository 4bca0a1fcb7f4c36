"""What stands around the rider, as shapes: walls, chairs, benches, steps, bars, mats, a bicycle on a stand."""

from math import cos, pi, sin

from programs.figures.anatomy import Seen
from programs.figures.camera import Camera
from programs.figures.pose import Thing
from programs.figures.shapes import Polygon, Shape, Tone, capsule, circle
from programs.figures.vectors import Vector

_LINE = 1.6
_LEG = 2.6
_GAP = 0.8


def draw_thing(thing: Thing, camera: Camera) -> list[Seen]:
    """The thing's shapes; nothing for a wall that is seen face on."""
    return _DRAWN[thing.kind](thing, camera)


def _block(
    camera: Camera,
    x: tuple[float, float],
    y: tuple[float, float],
    z: tuple[float, float],
    *,
    nearer: float = 0,
) -> Seen:
    shape = Shape((camera.block(x, y, z),), Tone.SHADE, Tone.ROOM, _LINE, gap=_GAP)
    centre = (sum(x) / 2, sum(y) / 2, sum(z) / 2)
    return Seen(camera.depth(centre) + nearer, shape)


def _bar_between(camera: Camera, a: Vector, b: Vector, half: float, *, nearer: float = 0) -> Seen:
    shape = Shape((capsule(camera.see(a), half, camera.see(b), half),), Tone.ROOM, gap=_GAP)
    depth = (camera.depth(a) + camera.depth(b)) / 2
    return Seen(depth + nearer, shape)


def _legs(thing: Thing, camera: Camera, top: float, inset: float = 3) -> list[Seen]:
    return [
        _bar_between(camera, (x, _LEG / 2, z), (x, top, z), _LEG / 2, nearer=-1)
        for x in (thing.x0 + inset, thing.x1 - inset)
        for z in (thing.z0 + inset, thing.z1 - inset)
    ]


def _wall(thing: Thing, camera: Camera) -> list[Seen]:
    beside = thing.way == "beside"
    if abs(camera.right[2 if beside else 0]) < 0.5:
        return []
    at = (thing.z0 + thing.z1) / 2 if beside else (thing.x0 + thing.x1) / 2
    solid = 6.0 if thing.way == "ahead" or (beside and at > 0) else -6.0
    corners = [(0.0, 0.0, at), (0.0, 0.0, at + solid)] if beside else [(at, 0.0, 0.0), (at + solid, 0.0, 0.0)]
    (u0, _), (u1, _) = (camera.see(corner) for corner in corners)
    strip: Polygon = ((u0, 0), (u1, 0), (u1, thing.y), (u0, thing.y))
    edge: Polygon = ((u0, 0), (u0, thing.y))
    return [
        Seen(-900, Shape((strip,), Tone.SHADE)),
        Seen(-899, Shape((edge,), None, Tone.ROOM, 2.0, closed=False)),
    ]


def _chair(thing: Thing, camera: Camera) -> list[Seen]:
    x, z = (thing.x0, thing.x1), (thing.z0, thing.z1)
    back = (thing.x1 - 3, thing.x1) if thing.way == "ahead" else (thing.x0, thing.x0 + 3)
    seen = [_block(camera, x, (thing.y - 4, thing.y), z, nearer=-2), *_legs(thing, camera, thing.y - 4)]
    if thing.way == "beside":  # the back of the chair runs along the side that is farther from the rider
        edge = thing.z1 if abs(thing.z1) > abs(thing.z0) else thing.z0
        seen.append(_block(camera, x, (thing.y, thing.y + 42), (edge - 1.5, edge + 1.5), nearer=-4))
    else:
        seen.append(_block(camera, back, (thing.y, thing.y + 42), z, nearer=-4))
    return seen


def _bench(thing: Thing, camera: Camera) -> list[Seen]:
    x, z = (thing.x0, thing.x1), (thing.z0, thing.z1)
    return [_block(camera, x, (thing.y - 7, thing.y), z, nearer=-2), *_legs(thing, camera, thing.y - 7, 4)]


def _table(thing: Thing, camera: Camera) -> list[Seen]:
    x, z = (thing.x0, thing.x1), (thing.z0, thing.z1)
    return [_block(camera, x, (thing.y - 4, thing.y), z, nearer=-2), *_legs(thing, camera, thing.y - 4, 4)]


def _step(thing: Thing, camera: Camera) -> list[Seen]:
    return [_block(camera, (thing.x0, thing.x1), (0, thing.y), (thing.z0, thing.z1), nearer=-25)]


def _mat(thing: Thing, camera: Camera) -> list[Seen]:
    return [_block(camera, (thing.x0, thing.x1), (-2.4, 0), (thing.z0, thing.z1), nearer=-400)]


def _cushion(thing: Thing, camera: Camera) -> list[Seen]:
    a, b = (thing.x0, thing.y / 2, 0.0), (thing.x1, thing.y / 2, 0.0)
    if abs(camera.right[2]) > 0.5:
        middle = (thing.x0 + thing.x1) / 2
        a, b = (middle, thing.y / 2, thing.z0), (middle, thing.y / 2, thing.z1)
    (ax, ay), (bx, by) = sorted((camera.see(a), camera.see(b)))
    half = thing.y / 2
    outline = capsule((ax + half, ay), half, (bx - half, by), half)
    return [Seen(-300, Shape((outline,), Tone.SHADE, Tone.ROOM, _LINE, gap=_GAP))]


def _bar(thing: Thing, camera: Camera) -> list[Seen]:
    """A fixed bar across, on posts; seen from the side one post stands behind it."""
    x, y = (thing.x0 + thing.x1) / 2, thing.y
    ends: list[Vector] = [(x, y, thing.z0), (x, y, thing.z1)]
    posts = [_bar_between(camera, (x, 0, z), (x, y, z), 1.8, nearer=-300) for z in (thing.z0, thing.z1)]
    if abs(camera.right[2]) > 0.5:
        return [*posts, _bar_between(camera, ends[0], ends[1], 1.6, nearer=30)]
    knob = Shape((circle(camera.see((x, y, 0)), 2.4),), Tone.HOLLOW, Tone.ROOM, 1.8, gap=_GAP)
    return [posts[0], Seen(camera.depth((x, y, 0)) + 60, knob)]


def _rack(thing: Thing, camera: Camera) -> list[Seen]:
    """An upright with a safety bar that sticks out ahead at `y`."""
    x = (thing.x0 + thing.x1) / 2
    high = max(thing.y + 40, 160)
    seen = [_bar_between(camera, (x, 0, z), (x, high, z), 2, nearer=-300) for z in (thing.z0, thing.z1)]
    reach_to = -55 if thing.way == "behind" else 55
    for z in (thing.z0, thing.z1):
        seen.append(_bar_between(camera, (x, thing.y, z), (x + reach_to, thing.y, z), 1.6, nearer=-299))
    return seen


def _post(thing: Thing, camera: Camera) -> list[Seen]:
    x, z = (thing.x0 + thing.x1) / 2, (thing.z0 + thing.z1) / 2
    return [_bar_between(camera, (x, 0, z), (x, thing.y, z), 2.6, nearer=-100)]


# --- a bicycle on a stand: side view, saddle at x 0; the bottom bracket, bars and pedals are where the README says ---

WHEEL = 33.0
BRACKET: Vector = (20.0, 36.0, 0.0)
SADDLE: Vector = (0.0, 100.0, 0.0)
GRIPS: Vector = (74.0, 108.0, 0.0)
CRANK = 17.0
#: How far each pedal has turned from the top, and on which side it is.
PEDALS = ((100, 1), (280, -1))


def pedal(angle: float, side: int) -> Vector:
    """Where the axle of a pedal is: 0 is the top, 90 ahead."""
    a = angle * pi / 180
    return (BRACKET[0] + CRANK * sin(a), BRACKET[1] + CRANK * cos(a), side * 12.0)


def _bicycle(thing: Thing, camera: Camera) -> list[Seen]:
    rear, front = (-24.0, 42.0, 0.0), (82.0, 42.0, 0.0)
    head_top, head_low = (66.0, 97.0, 0.0), (70.0, 83.0, 0.0)
    seat_joint = (5.0, 87.0, 0.0)
    tubes = [
        (BRACKET, seat_joint),
        (seat_joint, head_top),
        (BRACKET, head_low),
        (rear, seat_joint),
        (rear, BRACKET),
        (head_top, head_low),
        (head_low, front),
        (seat_joint, (2.0, 97.0, 0.0)),
        (head_top, (64.0, 103.0, 0.0)),
        ((64.0, 103.0, 0.0), GRIPS),
    ]
    seen = [_bar_between(camera, a, b, 1.3, nearer=-3) for a, b in tubes]
    for hub in (rear, front):
        rim = Shape((circle(camera.see(hub), WHEEL, 40),), None, Tone.ROOM, 1.8)
        seen.append(Seen(-200, rim))
    seen.append(_bar_between(camera, (-12, 98.0, 0), (13, 98.0, 0), 2.2, nearer=-2))
    for end in ((-44.0, 1.0, 0.0), (-8.0, 1.0, 0.0)):
        seen.append(_bar_between(camera, rear, end, 1.4, nearer=-150))
    seen.append(_bar_between(camera, (front[0] - 14, 4, 0), (front[0] + 14, 4, 0), 4, nearer=-150))
    for angle, side in PEDALS:
        seen.append(_bar_between(camera, BRACKET, pedal(angle, side), 1.2, nearer=12 * side - 4))
    ring = Shape((circle(camera.see(BRACKET), 9, 24),), None, Tone.ROOM, 1.6)
    seen.append(Seen(-2, ring))
    return seen


def _frame(thing: Thing, camera: Camera) -> list[Seen]:
    """A door frame: a post with some width."""
    return [_block(camera, (thing.x0 - 2, thing.x0 + 4), (0, thing.y), (thing.z0, thing.z1), nearer=-100)]


_DRAWN = {
    "wall": _wall,
    "chair": _chair,
    "bench": _bench,
    "step": _step,
    "box": _step,
    "table": _table,
    "mat": _mat,
    "cushion": _cushion,
    "bolster": _cushion,
    "bar": _bar,
    "rack": _rack,
    "post": _post,
    "frame": _frame,
    "bicycle": _bicycle,
}
