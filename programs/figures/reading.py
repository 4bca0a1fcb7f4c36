"""Pose files read, checked against the schema, and made into values. A fault names file, exercise and field."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml
from jsonschema import Draft202012Validator

from programs.figures.pose import (
    SIDES,
    Anchor,
    Arm,
    Arrow,
    Bends,
    Foot,
    Held,
    Hips,
    Leg,
    Pose,
    Position,
    Thing,
    View,
)
from programs.figures.schema import DOCUMENT, WORDS
from programs.figures.vectors import Vector

type Raw = Mapping[str, Any]

#: Where the poses stand, one file a movement pattern.
FIXTURES = Path(__file__).resolve().parent.parent.parent / "fixtures" / "poses"

_VALIDATOR = Draft202012Validator(DOCUMENT)
_VIEWS = {"side": View(0), "front": View(90), "back": View(-90), "top": View(0, 90)}

#: Furniture by kind: how deep (along x), how wide (along z), how high, in cm (ours, common sizes).
_SIZES = {
    "chair": (42, 42, 45),
    "bench": (30, 110, 43),
    "step": (40, 60, 15),
    "box": (40, 50, 40),
    "table": (60, 110, 75),
    "mat": (60, 60, 0),
    "cushion": (26, 34, 9),
    "bolster": (16, 50, 12),
    "wall": (0, 200, 190),
    "frame": (0, 10, 205),
    "post": (6, 6, 205),
    "bar": (0, 110, 225),
    "rack": (0, 120, 150),
    "bicycle": (0, 40, 100),
}
#: What implements weigh in the check of balance, kg each (ours, middling).
_MASSES = {"kettlebell": 12.0, "dumbbell": 8.0, "barbell": 40.0, "backpack": 6.0, "vest": 6.0}
_PLACED = {"backpack": "pack", "vest": "pack"}


@dataclass
class PosesFaulty(Exception):
    """A pose file breaks its schema; `faults` say where and what."""

    faults: tuple[str, ...]

    def __str__(self) -> str:
        return "\n".join(self.faults)


@lru_cache(maxsize=1)
def read_poses() -> Mapping[str, Pose]:
    """Every pose of the shipped files by the slug of its exercise. Raises `PosesFaulty`."""
    return read_folder(FIXTURES)


def read_folder(folder: Path) -> dict[str, Pose]:
    """Every pose of the folder's YAML files by slug. Raises `PosesFaulty`, also when two files draw one exercise."""
    poses: dict[str, Pose] = {}
    for path in sorted(folder.glob("*.yaml")):
        try:
            document = yaml.safe_load(path.read_text("utf-8"))
        except yaml.YAMLError as error:
            raise PosesFaulty((f"{path.name}: {error}",)) from error
        for slug, pose in read_document(document, path.name).items():
            if slug in poses:
                raise PosesFaulty((f"{path.name}: {slug} is drawn twice",))
            poses[slug] = pose
    return poses


def read_document(document: Any, name: str = "poses") -> dict[str, Pose]:
    """The poses of one file, as loaded from YAML. Raises `PosesFaulty` with one line a fault."""
    faults = tuple(
        f"{name}: {' > '.join(map(str, error.absolute_path))}: {_said(error)}"
        for error in _VALIDATOR.iter_errors(document)
    )
    if faults:
        raise PosesFaulty(faults)
    poses = {slug: _pose(slug, raw) for slug, raw in document.items()}
    if unknown := tuple(f"{name}: {fault}" for pose in poses.values() for fault in _unknown(pose)):
        raise PosesFaulty(unknown)
    return poses


def _unknown(pose: Pose) -> Iterator[str]:
    """Things that are leant on or gripped but stand nowhere in the pose."""
    there = {"floor", *(thing.name for thing in pose.things)}
    for position in pose.positions:
        laid = {held.kind for held in position.held if held.at or held.place}
        said = {position.settle_upon, *position.touches.values()}
        said |= {leg.foot.upon for leg in position.legs.values() if leg.foot}
        said |= {arm.upon for arm in position.arms.values() if arm.upon}
        said |= {position.anchor.upon} if position.anchor else set()
        for name in sorted(said - there):
            yield f"{pose.slug}: nothing among its things is called {name}"
        for hold in sorted({arm.hold for arm in position.arms.values() if arm.hold} - laid):
            yield f"{pose.slug}: a hand holds a {hold}, which is not held at a place"


def _said(error: Any) -> str:
    """The deepest reason of a failed choice reads better than the choice."""
    if error.context:
        error = max(error.context, key=lambda one: len(one.absolute_path))
    return str(error.message)


def _pose(slug: str, raw: Raw) -> Pose:
    view = raw.get("view", "side")
    things = tuple(_thing(one) for one in raw.get("things", []))
    common = {"held": raw.get("held", [])}
    if "hold" in raw:
        spread = [{**common, **_spread(raw["hold"])}]
    else:
        start = {**common, **_spread(raw["start"])}
        finish = _spread(raw["finish"])
        spread = [start, {**start, **finish, "hips": _kept(start.get("hips", {}), finish.get("hips", {}))}]
    return Pose(
        slug,
        _VIEWS[view] if isinstance(view, str) else View(**view),
        tuple(_position(one, things) for one in spread),
        things,
        tuple(_arrow(one) for one in raw.get("arrows", [])),
        raw.get("layout", "auto"),
        raw.get("over_foot", False),
        raw.get("balanced", True),
    )


def _kept(start: Raw, finish: Raw) -> dict[str, Any]:
    """The hips of the finish: the start's but for what it says. A height and the bend of a knee exclude each other."""
    instead = {"y": "knee", "knee": "y"}
    return {**{key: value for key, value in start.items() if instead.get(key) not in finish}, **finish}


def _spread(raw: Raw) -> dict[str, Any]:
    """What is said for both sides, said for each; a foot and its leg joined; `spine` shared by lower and upper back."""
    said = {key: value for key, value in raw.items() if key not in ("feet", "legs", "arms", "spine")}
    for side in SIDES:
        if "arms" in raw:
            said.setdefault(f"{side}_arm", raw["arms"])
        leg = raw.get(f"{side}_leg") or (None if f"{side}_foot" in raw else raw.get("legs"))
        foot = raw.get(f"{side}_foot") or (None if leg else raw.get("feet"))
        if foot or leg:
            said[f"{side}_leg"] = {**(leg or {}), "foot": foot}
        said.pop(f"{side}_foot", None)
    if "spine" in raw:
        whole = _bends(raw["spine"])
        half = {"bend": whole.bend / 2, "side": whole.side / 2, "turn": whole.turn / 2}
        said.setdefault("lower_back", half)
        said.setdefault("upper_back", half)
    return said


def _position(raw: Raw, things: tuple[Thing, ...]) -> Position:
    settle = raw.get("settle", "")
    settle = {"part": settle} if isinstance(settle, str) else settle
    return Position(
        _hips(raw.get("hips", {})),
        _bends(raw.get("lower_back", 0)),
        _bends(raw.get("upper_back", 0)),
        _bends(raw.get("neck", 0)),
        _pair(raw.get("shoulders", (0, 0))),
        {side: _leg(raw.get(f"{side}_leg", {})) for side in SIDES},
        {side: _arm(raw.get(f"{side}_arm", {}), things) for side in SIDES},
        Anchor(**raw["anchor"]) if raw.get("anchor") else None,
        settle["part"],
        settle.get("upon", "floor"),
        dict(raw.get("touches", {})),
        tuple(_held(one) for one in raw.get("held", [])),
    )


def _pair(raw: Any) -> tuple[float, float]:
    return raw[0], raw[1]


def _hips(raw: Raw) -> Hips:
    said: dict[str, Any] = {"x": None}
    said |= {key: (None if value == "balance" else value) for key, value in raw.items()}
    return Hips(**said)


def _bends(raw: Any) -> Bends:
    return Bends(**raw) if isinstance(raw, Mapping) else Bends(raw)


def _way(raw: Any) -> Vector | None:
    if raw is None:
        return None
    return WORDS[raw] if isinstance(raw, str) else (raw[0], raw[1], raw[2])


def _ways(raw: Raw, *names: str) -> dict[str, Any]:
    return {key: _way(value) if key in names else value for key, value in raw.items()}


def _leg(raw: Raw) -> Leg:
    foot = dict(raw.get("foot") or {})
    rest = {key: value for key, value in raw.items() if key != "foot"}
    if "knee_to" in foot:
        rest["knee_to"] = foot.pop("knee_to")
    leg = Leg(**_ways(rest, "thigh", "shank", "knee_to"))
    return replace(leg, foot=Foot(**foot)) if raw.get("foot") is not None else leg


def _arm(raw: Raw, things: tuple[Thing, ...]) -> Arm:
    said = _ways(raw, "hand", "shift", "reach", "elbow_to", "upper", "fore", "fingers")
    if "shape" not in said and said.get("upon"):
        said["shape"] = "flat"
    if "shape" not in said and said.get("hold"):
        said["shape"] = "fist"
    for thing in things:
        if thing.name == said.get("upon") and thing.kind in ("wall", "frame", "post"):
            said["lies"] = thing.way or "ahead"
    return Arm(**said)


def _held(raw: Raw) -> Held:
    said = _ways(raw, "at")
    said["through"] = tuple(one if isinstance(one, str) else _way(one) for one in raw.get("through", ()))
    kind = raw["kind"]
    if "mass" not in said and kind in _MASSES:
        said["mass"] = _MASSES[kind] * (2 if raw.get("hands") == "pair" else 1)
    if kind in _PLACED and "place" not in said:
        said["place"] = _PLACED[kind]
    return Held(**said)


def _thing(raw: Raw) -> Thing:
    kind = raw["kind"]
    deep, wide, high = _SIZES[kind]
    if raw.get("way") == "across" and kind == "bench":
        deep, wide = wide, deep
    x0, x1 = _span(raw.get("x", 0), deep)
    z0, z1 = _span(raw.get("z", 0), wide if raw.get("way") != "beside" else 0)
    return Thing(kind, raw.get("name", kind), x0, x1, z0, z1, raw.get("y", high), raw.get("way", ""))


def _span(raw: Any, size: float) -> tuple[float, float]:
    if isinstance(raw, (int, float)):
        return raw - size / 2, raw + size / 2
    return min(raw), max(raw)


def _arrow(raw: Raw) -> Arrow:
    return Arrow(
        raw.get("part", ""),
        tuple(raw.get("shift", (0, 0))),
        tuple(raw["from"]) if "from" in raw else None,
        tuple(raw["to"]) if "to" in raw else None,
        raw.get("bow", 0),
        raw.get("both", False),
        1 if raw.get("panel") == "finish" else 0,
    )
