"""The figure of a club's own exercise: a shipped pose with some of its joints bent otherwise.

What is kept is the slug of the shipped pose and the angles that differ, in degrees, so that a pose that is mended later
is mended here too.

>>> find_angles("goblet-squat")[0].key                              # doctest: +SKIP
'start.hips.knee'
"""

from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import yaml
from django.utils.translation import gettext as _

from programs.figures.body import LIMITS
from programs.figures.checks import find_faults
from programs.figures.drawing import Drawing, draw, drawn
from programs.figures.pose import Pose
from programs.figures.reading import FIXTURES, read_document
from programs.models import Exercise

#: Field of a pose -> the joint limit that holds for it, where one does; the others go this far.
_LIMIT_OF = {
    "knee": "knee",
    "hip": "hip",
    "ankle": "ankle",
    "toes": "toes",
    "raised": "shoulder",
    "elbow": "elbow",
    "neck": "lower-back",
    "lower_back": "lower-back",
    "upper_back": "upper-back",
}
_WIDEST = {"lean": (-100, 100), "spine": (-40, 80), "side": (-90, 90), "turn": (-60, 75), "out": (-40, 120)}
_OTHER = (-90, 90)
#: Where angles stand in a position, and which of the fields there are angles and not centimetres.
_TRUNK = ("spine", "neck", "lower_back", "upper_back")
_ANGLES = {
    "hips": ("lean", "knee", "side", "turn"),
    "legs": ("hip", "knee", "ankle", "out", "turn", "toes"),
    "feet": ("turn", "heel", "toes", "pitch"),
    "arms": ("raised", "out", "turn", "elbow", "bend"),
}


@dataclass(frozen=True, slots=True)
class Angle:
    """One joint that can be bent: its place in the pose, its words, the shipped value and how far it goes, degrees."""

    key: str
    words: str
    value: int
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Shown:
    """A figure as it would be drawn, and what no body could do about it, in words."""

    drawing: Drawing
    faults: tuple[str, ...]


def bases() -> tuple[str, ...]:
    """The exercises whose poses are shipped, by slug."""
    return tuple(sorted(_raw_poses()))


def find_angles(base: str) -> tuple[Angle, ...]:
    """The joints of a shipped pose that can be bent otherwise, in the order of the pose. Raises `KeyError`."""
    return tuple(_angles(_raw_poses()[base]))


def show(base: str, angles: Mapping[str, int], slug: str) -> Shown:
    """The pose with these angles, drawn and checked. Angles that the pose has not are left out. Raises `KeyError`."""
    pose = _bent(base, angles, slug)
    return Shown(draw(pose), tuple(_fault_words(fault.kind, fault.position) for fault in find_faults(pose)))


def drawing_of(exercise: Exercise) -> Drawing | None:
    """The figure of an exercise in the club in force: its own, else the shipped one of its slug, else None."""
    kept = exercise.document.get("figure")
    if not kept or kept["base"] not in _raw_poses():
        return drawn(exercise.slug)
    return _kept_drawing(kept["base"], tuple(sorted(kept["angles"].items())), exercise.slug)


@lru_cache(maxsize=256)
def _kept_drawing(base: str, angles: tuple[tuple[str, int], ...], slug: str) -> Drawing:
    return draw(_bent(base, dict(angles), slug))


@lru_cache(maxsize=1)
def _raw_poses() -> Mapping[str, Mapping[str, Any]]:
    """The pose files as they are written."""
    files = sorted(FIXTURES.glob("*.yaml"))
    return {slug: raw for path in files for slug, raw in yaml.safe_load(path.read_text("utf-8")).items()}


def _bent(base: str, angles: Mapping[str, int], slug: str) -> Pose:
    raw: Any = deepcopy(_raw_poses()[base])
    known = {angle.key for angle in _angles(raw)}
    for key, value in angles.items():
        if key in known:
            *path, last = key.split(".")
            place = raw
            for step in path:
                place = place[step]
            place[last] = value
    return replace(read_document({base: raw})[base], slug=slug)


def _angles(raw: Mapping[str, Any]) -> Iterator[Angle]:
    for position in ("hold", "start", "finish"):
        for part, said in raw.get(position, {}).items():
            if part in _TRUNK and isinstance(said, int | float):
                yield _angle((position, part), said)
            for field in _fields_of(part):
                if isinstance(said, Mapping) and isinstance(said.get(field), int | float):
                    yield _angle((position, part, field), said[field])


def _fields_of(part: str) -> tuple[str, ...]:
    if part in _TRUNK:
        return ("bend", "side", "turn")
    plural = {"leg": "legs", "foot": "feet", "arm": "arms"}
    kind = part.split("_")[-1]
    return _ANGLES.get(plural.get(kind, kind), ())


def _angle(path: tuple[str, ...], value: float) -> Angle:
    limit = LIMITS.get(_LIMIT_OF.get(path[-1], ""))
    low, high = (limit.low, limit.high) if limit else _WIDEST.get(path[-1], _OTHER)
    shipped = round(value)
    return Angle(".".join(path), _words(path), shipped, round(min(low, shipped)), round(max(high, shipped)))


def _words(path: tuple[str, ...]) -> str:
    said = [_NAMES[one]() if one in _NAMES else one for one in path]
    return f"{said[0]}: {', '.join(said[1:])}"


_NAMES = {
    "hold": lambda: _("Held"),
    "start": lambda: _("Start"),
    "finish": lambda: _("Finish"),
    "hips": lambda: _("body"),
    "spine": lambda: _("back, bent"),
    "neck": lambda: _("neck"),
    "lower_back": lambda: _("lower back"),
    "upper_back": lambda: _("upper back"),
    "legs": lambda: _("legs"),
    "right_leg": lambda: _("right leg"),
    "left_leg": lambda: _("left leg"),
    "feet": lambda: _("feet"),
    "right_foot": lambda: _("right foot"),
    "left_foot": lambda: _("left foot"),
    "arms": lambda: _("arms"),
    "right_arm": lambda: _("right arm"),
    "left_arm": lambda: _("left arm"),
    "lean": lambda: _("leant forward"),
    "knee": lambda: _("knee bent"),
    "hip": lambda: _("hip bent"),
    "ankle": lambda: _("toes towards the shin"),
    "toes": lambda: _("toes bent up"),
    "heel": lambda: _("heel raised"),
    "pitch": lambda: _("foot tipped up"),
    "raised": lambda: _("raised ahead"),
    "elbow": lambda: _("elbow bent"),
    "bend": lambda: _("bent"),
    "side": lambda: _("to the side"),
    "turn": lambda: _("turned out"),
    "out": lambda: _("away from the middle"),
}


def _fault_words(kind: str, position: int) -> str:
    said = {
        "limit": _("a joint is bent further than a joint goes"),
        "length": _("a limb is longer or shorter than it is"),
        "short": _("a hand or a foot falls short of its place"),
        "touch": _("something that should touch does not"),
        "sunk": _("a part is sunk into the floor, a wall or a step"),
        "balance": _("the body would fall over"),
        "over-foot": _("the load is not over the middle of the foot"),
    }.get(kind, kind)
    return _("Position {number}: {fault}.").format(number=position + 1, fault=said)
