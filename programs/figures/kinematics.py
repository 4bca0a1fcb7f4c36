"""From what an author says to where every joint is: forward kinematics, reaching limbs, balance.

The trunk is built from the pelvis up, limbs given by angles or directions hang on it, an anchor lays the body down,
limbs given by a place reach for it. Where the author asks for balance, the hips move until the centre of mass lies over
the feet. Nothing here knows how a figure is drawn.
"""

from dataclasses import replace
from math import asin, atan2, cos, degrees, radians, sqrt

from programs.figures import body
from programs.figures.pose import SIDES, Arm, Foot, Hips, Leg, Position, Side, Thing
from programs.figures.skeleton import Skeleton, body_place, centre_of_mass, surface
from programs.figures.vectors import (
    AHEAD,
    ORIGIN,
    RIGHT,
    STANDING,
    UP,
    Frame,
    Vector,
    across,
    between,
    cross,
    distance,
    frame_of,
    middle,
    minus,
    plus,
    reach,
    times,
    unit,
)

_SIGN: dict[Side, int] = {"right": 1, "left": -1}


# --- the whole -------------------------------------------------------------------------------------------------------


def build(position: Position, things: tuple[Thing, ...] = ()) -> Skeleton:
    """The skeleton of the position, with hips settled or balanced where the author asks for it."""
    hips = position.hips
    if position.anchor and position.settle:
        return _settled(position, things)
    if position.anchor or (hips.x is not None and hips.z is not None):
        return _built(position, things, hips)
    return _balanced(position, things)


def _balanced(position: Position, things: tuple[Thing, ...]) -> Skeleton:
    """Hips moved until the centre of mass lies over the middle of what `over` names."""
    hips = position.hips
    x, z = hips.x or 0.0, hips.z or 0.0
    skeleton = Skeleton()
    for _ in range(12):
        skeleton = _built(position, things, replace(hips, x=x, z=z))
        centre, under = centre_of_mass(skeleton, position), _support(skeleton, position, hips.over)
        gone = (under[0] - centre[0], under[2] - centre[2])
        x += gone[0] * 1.15 if hips.x is None else 0
        z += gone[1] * 1.15 if hips.z is None else 0
        if (hips.x is not None or abs(gone[0]) < 0.05) and (hips.z is not None or abs(gone[1]) < 0.05):
            break
    return skeleton


def _support(skeleton: Skeleton, position: Position, over: str) -> Vector:
    feet = [f"{side} foot" for side in SIDES if _has_foot(position, side)]
    chosen = [over] if over != "feet" else feet
    return middle(skeleton.points[one] for one in chosen)


def _has_foot(position: Position, side: Side) -> bool:
    return position.legs[side].foot is not None


def _settled(position: Position, things: tuple[Thing, ...]) -> Skeleton:
    """The whole body tipped about its anchor until `settle` touches: forward, or sideways where it lies on a side."""
    hips = position.hips
    on_side = abs(hips.side) > 45
    height = surface_height(position.settle_upon, things)

    def gap(tip: float) -> tuple[float, Skeleton]:
        tipped = replace(hips, side=tip) if on_side else replace(hips, lean=tip)
        skeleton = _built(position, things, tipped)
        point, thick = surface(skeleton, position.settle)
        return point[1] - thick - height, skeleton

    low = hips.side if on_side else hips.lean
    below, skeleton = gap(low)
    high = low + 1
    for _ in range(20):
        above, skeleton = gap(high)
        if abs(above) < 0.02 or abs(above - below) < 1e-9:
            break
        step = max(-10.0, min(10.0, above * (high - low) / (above - below)))
        low, below, high = high, above, high - step
    return skeleton


def _built(position: Position, things: tuple[Thing, ...], hips: Hips) -> Skeleton:
    skeleton = Skeleton()
    _set_trunk(skeleton, position, hips, ORIGIN)
    _hang_limbs(skeleton, position)
    at = _anchored(skeleton, position, things) if position.anchor else _hips_at(skeleton, position, hips)
    for name, point in skeleton.points.items():
        skeleton.points[name] = plus(point, at)
    for side in SIDES:
        leg = position.legs[side]
        if leg.foot:
            _place_leg(skeleton, side, leg, leg.foot)
    _place_bars(skeleton, position)
    for side in SIDES:
        _place_arm(skeleton, side, position.arms[side], position)
    _measure_trunk(skeleton, position)
    return skeleton


def _hips_at(skeleton: Skeleton, position: Position, hips: Hips) -> Vector:
    x, z = hips.x or 0.0, hips.z or 0.0
    if hips.y is not None:
        return (x, hips.y, z)
    if hips.knee is None:
        return (x, body.FOOT_HEIGHT + body.THIGH + body.SHANK, z)
    standing = [side for side in SIDES if _has_foot(position, side)]
    side: Side = "left" if hips.over == "left foot" or standing == ["left"] else "right"
    foot = position.legs[side].foot
    if foot is None:
        return (x, body.FOOT_HEIGHT + body.THIGH + body.SHANK, z)
    ankle = _foot_points(side, foot)[0]
    joint = plus(skeleton.points[f"{side} hip"], (x, 0, z))
    c = cos(radians(hips.knee))
    far = body.THIGH**2 + body.SHANK**2 + 2 * body.THIGH * body.SHANK * c
    aside = (joint[0] - ankle[0]) ** 2 + (joint[2] - ankle[2]) ** 2
    return (x, ankle[1] + sqrt(max(0.0, far - aside)) - joint[1], z)


def _anchored(skeleton: Skeleton, position: Position, things: tuple[Thing, ...]) -> Vector:
    anchor = position.anchor
    assert anchor is not None
    point, thick = surface(skeleton, anchor.part)
    z = point[2] if anchor.z is None else anchor.z
    return minus((anchor.x, surface_height(anchor.upon, things) + thick, z), point)


def surface_height(name: str, things: tuple[Thing, ...]) -> float:
    """How high the top of a named thing is; the floor is at 0. Raises `KeyError` for no such thing."""
    if name == "floor":
        return 0.0
    for thing in things:
        if thing.name == name:
            return thing.y
    raise KeyError(name)


# --- trunk -----------------------------------------------------------------------------------------------------------


def _set_trunk(skeleton: Skeleton, position: Position, hips: Hips, at: Vector) -> None:
    points, frames = skeleton.points, skeleton.frames
    pelvis = STANDING.turn(hips.turn).side(hips.side).lean(hips.lean)
    low, high, neck = position.lower_back, position.upper_back, position.neck
    lumbar = pelvis.turn(low.turn).side(low.side).lean(low.bend)
    thorax = lumbar.turn(high.turn).side(high.side).lean(high.bend)
    head = thorax.turn(neck.turn).side(neck.side).lean(neck.bend)
    frames.update(pelvis=pelvis, lumbar=lumbar, thorax=thorax, head=head)
    points["pelvis"] = at
    points["waist"] = plus(at, times(pelvis.up, body.PELVIS))
    points["ribs"] = plus(points["waist"], times(lumbar.up, body.LUMBAR))
    points["shoulders"] = plus(points["ribs"], times(thorax.up, body.THORAX))
    points["neck"] = plus(points["shoulders"], times(thorax.up, body.NECK_BASE))
    points["head"] = plus(points["neck"], plus(times(head.up, body.NECK), times(head.ahead, 2.0)))
    for side in SIDES:
        sign = _SIGN[side]
        points[f"{side} hip"] = plus(at, times(pelvis.right, sign * body.HIP_HALF))
        points[f"{side} shoulder"] = plus(
            points["shoulders"], thorax.out((*position.shoulders, sign * body.SHOULDER_HALF))
        )


def _measure_trunk(skeleton: Skeleton, position: Position) -> None:
    for name, one in (("lower-back", position.lower_back), ("upper-back", position.upper_back)):
        skeleton.angles[name] = one.bend
        skeleton.angles[f"{name} trunk-side"] = one.side
        skeleton.angles[f"{name} trunk-turn"] = one.turn
    skeleton.angles["neck"] = position.neck.bend
    skeleton.angles["shoulders ahead"], skeleton.angles["shoulders up"] = position.shoulders


# --- legs ------------------------------------------------------------------------------------------------------------


def _hang_limbs(skeleton: Skeleton, position: Position) -> None:
    """Limbs that are given by angles or directions: they move with the trunk, so an anchor may lie on them."""
    for side in SIDES:
        leg, arm = position.legs[side], position.arms[side]
        if leg.foot is None:
            _hang_leg(skeleton, side, leg)
        if not _reaches(arm):
            _hang_arm(skeleton, side, arm)


def _limb_frame(root: Frame, side: Side, ahead: float, out: float, turn: float) -> Frame:
    sign = _SIGN[side]
    return root.lean(-ahead).side(-sign * out).turn(sign * turn)


def _sided(side: Side, way: Vector) -> Vector:
    """A way given as ahead, up, out, in space."""
    return (way[0], way[1], _SIGN[side] * way[2])


def _hang_leg(skeleton: Skeleton, side: Side, leg: Leg) -> None:
    if leg.thigh is None or leg.shank is None:
        thigh = _limb_frame(skeleton.frames["pelvis"], side, leg.hip, leg.out, leg.turn)
        shank = thigh.lean(leg.knee)
    else:
        down, low = unit(_sided(side, leg.thigh)), unit(_sided(side, leg.shank))
        bent = minus(down, low)
        ahead = _sided(side, leg.knee_to) if leg.knee_to else bent
        thigh = frame_of(times(down, -1), ahead if between(down, low) > 3 or leg.knee_to else AHEAD)
        hinge = across(thigh.right, low, otherwise=RIGHT)
        shank = frame_of(times(low, -1), cross(times(low, -1), hinge))
    hip = skeleton.points[f"{side} hip"]
    knee = minus(hip, times(thigh.up, body.THIGH))
    ankle = minus(knee, times(shank.up, body.SHANK))
    _set_leg(skeleton, side, thigh, shank, knee, ankle)
    foot = shank.lean(-leg.ankle)
    _set_foot(skeleton, side, foot, ankle, leg.toes)
    if leg.thigh is None:
        skeleton.angles[f"{side} knee"] = leg.knee
    skeleton.angles[f"{side} ankle"] = leg.ankle
    skeleton.angles[f"{side} toes"] = leg.toes


def _place_leg(skeleton: Skeleton, side: Side, leg: Leg, foot: Foot) -> None:
    ankle, frame, toes = _foot_points(side, foot)
    hip = skeleton.points[f"{side} hip"]
    pole = _sided(side, leg.knee_to) if leg.knee_to else plus(frame.ahead, times(frame.up, 0.6))
    knee, end = reach(hip, ankle, body.THIGH, body.SHANK, pole)
    skeleton.short[f"{side} foot"] = distance(end, ankle)
    up, low = unit(minus(hip, knee)), unit(minus(knee, end))
    bent = between(up, low)
    ahead = minus(low, up) if bent > 1 else pole
    thigh = frame_of(up, across(ahead, up, otherwise=pole))
    shank = frame_of(low, across(ahead if bent > 1 else pole, low, otherwise=pole))
    _set_leg(skeleton, side, thigh, shank, knee, end)
    _set_foot(skeleton, side, frame, end, toes)
    ahead_in, up_in, _right = shank.into(frame.ahead)
    skeleton.angles[f"{side} ankle"] = degrees(atan2(up_in, ahead_in))
    skeleton.angles[f"{side} toes"] = toes


def _foot_points(side: Side, foot: Foot) -> tuple[Vector, Frame, float]:
    """The ankle, the frame of the foot and the bend of the toes. A raised heel turns the foot about its ball."""
    sign = _SIGN[side]
    flat = STANDING.turn(sign * foot.turn).lean(-foot.pitch)
    middle_at = (foot.x, foot.y, sign * foot.out)
    ankle = plus(middle_at, flat.out((-body.MID_FOOT, body.FOOT_HEIGHT, 0)))
    if foot.heel:
        ball = plus(middle_at, flat.out((body.BALL_AHEAD - body.MID_FOOT, 0, 0)))
        frame = flat.lean(foot.heel)
        return plus(ball, frame.out((-body.BALL_AHEAD, body.FOOT_HEIGHT, 0))), frame, foot.heel
    if foot.toes:
        heel = plus(middle_at, flat.out((-body.MID_FOOT - body.HEEL_BACK, 0, 0)))
        frame = flat.lean(-foot.toes)
        return plus(heel, frame.out((body.HEEL_BACK, body.FOOT_HEIGHT, 0))), frame, 0.0
    return ankle, flat, 0.0


def _set_leg(skeleton: Skeleton, side: Side, thigh: Frame, shank: Frame, knee: Vector, ankle: Vector) -> None:
    skeleton.points[f"{side} knee"] = knee
    skeleton.points[f"{side} ankle"] = ankle
    skeleton.frames[f"{side} thigh"] = thigh
    skeleton.frames[f"{side} shank"] = shank
    ahead, out = _swing(skeleton.frames["pelvis"], side, times(thigh.up, -1), low=-150)
    skeleton.angles[f"{side} hip"] = ahead
    skeleton.angles[f"{side} hip-out"] = out
    skeleton.angles[f"{side} knee"] = between(thigh.up, shank.up)
    skeleton.angles[f"{side} hip-turn"] = _twist(skeleton.frames["pelvis"], thigh, side, ahead, out)


def _set_foot(skeleton: Skeleton, side: Side, foot: Frame, ankle: Vector, toes: float) -> None:
    points = skeleton.points
    skeleton.frames[f"{side} foot"] = foot
    sole = -body.FOOT_HEIGHT
    points[f"{side} heel"] = plus(ankle, foot.out((-body.HEEL_BACK + 1.8, sole + 1.8, 0)))
    points[f"{side} ball"] = plus(ankle, foot.out((body.BALL_AHEAD, sole + 1.8, 0)))
    tip = foot.lean(-toes)
    long = body.TOE_AHEAD - body.BALL_AHEAD - 1.3
    points[f"{side} toe"] = plus(points[f"{side} ball"], tip.out((long, -0.5, 0)))
    points[f"{side} foot"] = plus(ankle, foot.out((body.MID_FOOT, sole, 0)))


def _swing(root: Frame, side: Side, down: Vector, *, low: float) -> tuple[float, float]:
    """How far a limb is lifted ahead and out of its root, in degrees: the reverse of `_limb_frame`."""
    ahead, up, right = root.into(down)
    out = degrees(asin(max(-1.0, min(1.0, _SIGN[side] * right))))
    if abs(out) > 84:  # straight out to the side: how far ahead is not defined
        return 0.0, out
    lift = degrees(atan2(ahead, -up))
    return (lift + 360 if lift < low else lift), out


def _twist(root: Frame, limb: Frame, side: Side, ahead: float, out: float) -> float:
    before = _limb_frame(root, side, ahead, out, 0)
    way = before.into(limb.ahead)
    return _SIGN[side] * degrees(atan2(way[2], way[0]))


# --- arms ------------------------------------------------------------------------------------------------------------


def _reaches(arm: Arm) -> bool:
    return bool(arm.hand or arm.at or arm.hold)


def _hang_arm(skeleton: Skeleton, side: Side, arm: Arm) -> None:
    thorax, shoulder = skeleton.frames["thorax"], skeleton.points[f"{side} shoulder"]
    if arm.upper and arm.fore:
        upper, fore = unit(_sided(side, arm.upper)), unit(_sided(side, arm.fore))
    elif arm.reach:
        # A nearly straight arm: both bones stand off the line by half the bend each.
        line = unit(_sided(side, arm.reach))
        pole = across(_elbow_pole(thorax, side, arm), line, otherwise=UP)
        half = radians(arm.bend / 2)
        upper = unit(plus(line, times(pole, half)))
        fore = unit(minus(line, times(pole, half)))
    else:
        frame = _limb_frame(thorax, side, arm.raised, arm.out, arm.turn)
        upper, fore = times(frame.up, -1), times(frame.lean(-arm.elbow).up, -1)
    elbow = plus(shoulder, times(upper, body.UPPER_ARM))
    wrist = plus(elbow, times(fore, body.FOREARM))
    _set_arm(skeleton, side, arm, elbow, wrist)
    if not (arm.reach or arm.upper):
        skeleton.angles[f"{side} elbow"] = arm.elbow


def _elbow_pole(thorax: Frame, side: Side, arm: Arm) -> Vector:
    if arm.elbow_to:
        return _sided(side, arm.elbow_to)
    return thorax.out((-0.7, -0.5, _SIGN[side] * 0.5))


def _place_arm(skeleton: Skeleton, side: Side, arm: Arm, position: Position) -> None:
    if not _reaches(arm):
        return
    shoulder = skeleton.points[f"{side} shoulder"]
    target = _hand_target(skeleton, side, arm)
    pole = _elbow_pole(skeleton.frames["thorax"], side, arm)
    lower = body.FOREARM if arm.shape == "flat" else body.FOREARM + body.GRIP
    if arm.shape == "flat":
        target = minus(target, _palm_way(side, arm))
    elbow, end = reach(shoulder, target, body.UPPER_ARM, lower, pole)
    skeleton.short[f"{side} hand"] = distance(end, target)
    wrist = plus(elbow, times(unit(minus(end, elbow)), body.FOREARM))
    _set_arm(skeleton, side, arm, elbow, wrist)


def _palm_way(side: Side, arm: Arm) -> Vector:
    """From the wrist to the middle of the palm's skin, for a hand that lies on something."""
    return plus(
        times(_fingers(side, arm), body.PALM), times(palm_normal(arm.lies, side), -body.RADII["wrist"])
    )


def palm_normal(lies: str, side: Side) -> Vector:
    """Away from what the palm lies on: up from a floor, back from a wall ahead."""
    walls: dict[str, Vector] = {"ahead": (-1, 0, 0), "behind": AHEAD, "beside": (0, 0, -_SIGN[side])}
    return walls.get(lies, UP)


def _fingers(side: Side, arm: Arm) -> Vector:
    if arm.fingers:
        return unit(_sided(side, arm.fingers))
    return AHEAD if arm.lies == "floor" else UP


def _hand_target(skeleton: Skeleton, side: Side, arm: Arm) -> Vector:
    if arm.hold:
        return plus(skeleton.grips[arm.hold], (0, 0, _SIGN[side] * arm.out_upon))
    if arm.at:
        frame, start, way = body_place(skeleton, side, arm.at)
        return plus(start, frame.out(_sided(side, plus(way, arm.shift))))
    assert arm.hand is not None
    return _sided(side, arm.hand)


def _set_arm(skeleton: Skeleton, side: Side, arm: Arm, elbow: Vector, wrist: Vector) -> None:
    points = skeleton.points
    shoulder = points[f"{side} shoulder"]
    fore = unit(minus(wrist, elbow))
    skeleton.shapes[side] = arm.shape
    points[f"{side} elbow"], points[f"{side} wrist"] = elbow, wrist
    if arm.shape == "flat":
        hand = plus(wrist, _palm_way(side, arm))
        tip = plus(wrist, times(_fingers(side, arm), body.HAND * 0.85))
        points[f"{side} palm"] = hand
        hand = plus(hand, times(palm_normal(arm.lies, side), body.RADII["hand"]))
        skeleton.angles[f"{side} wrist"] = between(fore, _fingers(side, arm))
    else:
        way = unit(_sided(side, arm.fingers)) if arm.fingers else fore
        hand = plus(wrist, times(way, body.GRIP))
        tip = plus(wrist, times(way, body.HAND * 0.85))
        skeleton.angles[f"{side} wrist"] = between(fore, way)
    points[f"{side} hand"], points[f"{side} fingers"] = hand, tip
    upper = unit(minus(elbow, shoulder))
    ahead, out = _swing(skeleton.frames["thorax"], side, upper, low=-90)
    skeleton.angles[f"{side} shoulder"] = ahead
    skeleton.angles[f"{side} shoulder-out"] = out
    skeleton.angles[f"{side} elbow"] = between(upper, fore)


def _place_bars(skeleton: Skeleton, position: Position) -> None:
    """Long implements that lie somewhere before the hands go to them."""
    for held in position.held:
        if held.at is not None:
            skeleton.grips[held.kind] = held.at
        elif held.place:
            frame, start, way = body_place(skeleton, "right", held.place)
            skeleton.grips[held.kind] = plus(start, frame.out((way[0], way[1], 0)))
