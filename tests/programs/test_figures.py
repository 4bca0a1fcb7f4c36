"""Exercise figures: what is drawn could be done, and what could not be done is found out."""

from collections.abc import Mapping
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
import yaml

from programs.figures import body
from programs.figures.checks import BALANCE, find_faults
from programs.figures.kinematics import build
from programs.figures.pose import SIDES
from programs.figures.reading import FIXTURES, PosesFaulty, read_document, read_folder, read_poses
from programs.figures.schema import DOCUMENT
from programs.figures.skeleton import centre_of_mass
from programs.figures.vectors import STANDING, Frame, between, cross, distance, dot, reach
from programs.library import read_files

POSES = read_poses()
EXERCISES = {row["slug"] for document in read_files() for row in document["exercises"]}
PATTERNS = {row["slug"]: document["pattern"] for document in read_files() for row in document["exercises"]}

SQUAT: dict[str, Any] = {
    "view": "side",
    "over_foot": True,
    "held": [{"kind": "kettlebell", "hands": "both", "way": "hang", "mass": 0}],
    "hold": {
        "hips": {"x": "balance", "knee": 60, "lean": 35},
        "feet": {"x": 0, "out": 12},
        "arms": {"hand": [0, 60, 5], "shape": "fist"},
    },
}


def faults_of(raw: Mapping[str, Any]) -> set[str]:
    (pose,) = read_document({"planted": raw}).values()
    return {fault.kind for fault in find_faults(pose)}


# --- what is drawn ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("slug", sorted(POSES))
def test_a_body_can_do_what_is_drawn(slug: str) -> None:
    assert [str(fault) for fault in find_faults(POSES[slug])] == []


def test_every_pose_is_of_an_exercise_of_its_own_family() -> None:
    for path in FIXTURES.glob("*.yaml"):
        for slug in yaml.safe_load(path.read_text("utf-8")):
            assert PATTERNS.get(slug) == path.stem, f"{slug} stands in {path.name}"


def test_every_exercise_of_the_library_is_drawn() -> None:
    assert set(POSES) == EXERCISES


@pytest.mark.parametrize("slug", sorted(POSES))
def test_limbs_keep_their_length_from_start_to_finish(slug: str) -> None:
    skeletons = [build(position, POSES[slug].things) for position in POSES[slug].positions]
    for side in SIDES:
        for upper, lower in (("hip", "knee"), ("knee", "ankle"), ("shoulder", "elbow"), ("elbow", "wrist")):
            lengths = {
                round(distance(one.points[f"{side} {upper}"], one.points[f"{side} {lower}"]), 3)
                for one in skeletons
            }
            assert len(lengths) == 1


# --- planted faults --------------------------------------------------------------------------------------------------


def test_a_sound_pose_has_no_fault() -> None:
    assert faults_of(SQUAT) == set()


def planted(**changes: Any) -> dict[str, Any]:
    raw = deepcopy(SQUAT)
    raw["hold"].update(changes)
    return raw


@pytest.mark.parametrize(
    ("kind", "raw"),
    [
        ("limit", planted(left_leg={"hip": 30, "knee": 175})),
        ("limit", planted(neck=80)),
        ("limit", planted(feet={"x": 0, "out": 12, "knee_to": "back"})),
        ("limit", planted(shoulders=[0, 15])),
        ("limit", planted(right_arm={"raised": 10, "elbow": -30})),
        ("limit", planted(lower_back={"turn": 70})),
        ("short", planted(arms={"hand": [90, 20, 5], "shape": "fist"})),
        ("short", planted(hips={"x": 0, "y": 130})),
        ("touch", planted(touches={"seat": "floor"})),
        ("touch", planted(right_leg={"hip": 40, "knee": 60}, touches={"right heel": "floor"})),
        ("sunk", planted(right_leg={"hip": 0, "knee": 0}, hips={"x": 0, "y": 60})),
        ("sunk", {**planted(), "things": [{"kind": "wall", "x": 5, "way": "ahead"}]}),
        ("sunk", {**planted(), "things": [{"kind": "step", "x": 0, "y": 20}]}),
        ("balance", planted(hips={"x": 30, "knee": 60, "lean": 35})),
        ("balance", planted(hips={"x": "balance", "z": 25, "knee": 40})),
        ("over-foot", planted(arms={"hand": [25, 60, 5], "shape": "fist"})),
    ],
)
def test_an_impossible_pose_is_found_out(kind: str, raw: dict[str, Any]) -> None:
    assert kind in faults_of(raw)


def test_a_limb_of_the_wrong_length_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(body, "THIGH", body.THIGH + 2)
    assert "length" in faults_of(SQUAT)


# --- the sums behind it ----------------------------------------------------------------------------------------------


def test_the_segments_add_up_to_the_height_of_the_body() -> None:
    """Drillis and Contini in Winter: hip at 0.530, shoulder at 0.818, chin at 0.870 of height (from memory)."""
    assert pytest.approx(0.530 * body.HEIGHT) == body.FOOT_HEIGHT + body.SHANK + body.THIGH
    assert pytest.approx(body.TRUNK) == body.PELVIS + body.LUMBAR + body.THORAX
    neck_to_crown = body.NECK_BASE + body.NECK + body.HEAD / 2
    assert pytest.approx(body.HEIGHT) == 0.818 * body.HEIGHT + neck_to_crown


def test_the_masses_add_up_to_the_whole_body() -> None:
    """Winter (2005), table 4.1: two arms, two legs, trunk, head and neck."""
    limbs = sum(body.MASSES[name].share for name in ("foot", "shank", "thigh", "forearm-hand", "upper-arm"))
    assert 2 * limbs + body.MASSES["trunk"].share + body.MASSES["head-neck"].share == pytest.approx(1.0)


def test_a_standing_body_has_its_centre_of_mass_where_it_was_measured() -> None:
    """About 0.55 of height, just ahead of the sacrum (common knowledge in biomechanics, from memory)."""
    (pose,) = read_document(
        {"standing": {"view": "side", "hold": {"feet": {"x": 0}, "hips": {"x": 0, "knee": 0}}}}
    ).values()
    height = centre_of_mass(build(pose.positions[0]), pose.positions[0])[1] / body.HEIGHT
    assert 0.53 < height < 0.59


def test_balance_puts_the_centre_of_mass_over_the_feet_whatever_is_held() -> None:
    for mass in (0, 20, 60):
        raw = planted()
        raw["held"][0]["mass"] = mass
        (pose,) = read_document({"held": raw}).values()
        centre = centre_of_mass(build(pose.positions[0]), pose.positions[0])
        assert abs(centre[0]) < BALANCE


def test_a_reach_ends_where_it_should_with_bones_of_constant_length() -> None:
    joint, end = reach((0, 0, 0), (30, -40, 5), 32, 26, (1, 0, 0))
    assert distance((0, 0, 0), joint) == pytest.approx(32)
    assert distance(joint, end) == pytest.approx(26)
    assert distance(end, (30, -40, 5)) < 1e-6


def test_a_reach_too_far_ends_short_with_straight_bones() -> None:
    _joint, end = reach((0, 0, 0), (100, 0, 0), 32, 26, (0, 1, 0))
    assert end[0] == pytest.approx(58, abs=1e-3)


@pytest.mark.parametrize(
    "frame", [STANDING.lean(30), STANDING.side(-50).turn(20), STANDING.turn(200).lean(-90)]
)
def test_turning_a_part_keeps_its_three_directions_square(frame: Frame) -> None:
    assert dot(frame.ahead, frame.up) == pytest.approx(0, abs=1e-9)
    assert distance(cross(frame.ahead, frame.up), frame.right) == pytest.approx(0, abs=1e-9)


def test_signs_are_the_anatomical_ones() -> None:
    raw = {"legs": {"hip": 90, "knee": 90}, "arms": {"raised": 90, "elbow": 90}, "hips": {"x": 0, "y": 90}}
    (pose,) = read_document({"sitting": {"view": "side", "hold": raw}}).values()
    points = build(pose.positions[0]).points
    assert points["right knee"][0] > points["right hip"][0] + 40
    assert points["right ankle"][1] < points["right knee"][1] - 40
    assert points["right hand"][1] > points["right elbow"][1] + 30
    assert points["right hip"][2] > 0 > points["left hip"][2]
    assert between(STANDING.lean(90).up, STANDING.ahead) == pytest.approx(0, abs=1e-6)


# --- reading ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ({"view": "side"}, "planted"),
        ({"view": "above", "hold": {"hips": {"x": 0}}}, "planted > view"),
        ({"view": "side", "hold": {"hips": {"knees": 3}}}, "hold > hips"),
        ({"view": "side", "hold": {"arms": {"at": "pocket"}}}, "hold > arms > at"),
        ({"view": "side", "start": {"hips": {"x": 0}}}, "finish"),
        (
            {"view": "side", "hold": {"touches": {"seat": "sofa"}}},
            "planted: nothing among its things is called sofa",
        ),
        ({"view": "side", "hold": {"touches": {"right hnd": "floor"}}}, "hold > touches"),
        ({"view": "side", "hold": {"arms": {"hold": "barbell"}}}, "planted: a hand holds a barbell"),
    ],
)
def test_a_faulty_pose_names_the_exercise_and_the_field(raw: dict[str, Any], words: str) -> None:
    with pytest.raises(PosesFaulty) as raised:
        read_document({"planted": raw}, "squat.yaml")
    assert words in str(raised.value)
    assert "squat.yaml" in str(raised.value)


def test_an_exercise_drawn_twice_is_refused(tmp_path: Path) -> None:
    for name in ("a.yaml", "b.yaml"):
        (tmp_path / name).write_text("squat: {view: side, hold: {hips: {x: 0}}}\n", "utf-8")
    with pytest.raises(PosesFaulty, match="squat is drawn twice"):
        read_folder(tmp_path)


def test_broken_yaml_names_its_file(tmp_path: Path) -> None:
    (tmp_path / "hinge.yaml").write_text("squat: {view", "utf-8")
    with pytest.raises(PosesFaulty, match="hinge.yaml"):
        read_folder(tmp_path)


def test_the_readme_names_every_field_of_the_schema() -> None:
    text = (FIXTURES / "README.md").read_text("utf-8")

    def fields(schema: Any) -> set[str]:
        if isinstance(schema, list):
            return {name for one in schema for name in fields(one)}
        if not isinstance(schema, dict):
            return set()
        own = set(schema.get("properties", {}))
        return own.union(*(fields(value) for value in schema.values()))

    missing = {name for name in fields(DOCUMENT) if name not in text}
    assert missing == set()


def test_the_finish_says_only_what_changes() -> None:
    raw = {
        "view": "side",
        "start": {"hips": {"x": "balance", "knee": 5, "lean": 3}, "feet": {"x": 4}, "neck": -10},
        "finish": {"hips": {"y": 60}},
    }
    (pose,) = read_document({"one": raw}).values()
    start, finish = pose.positions
    assert (finish.hips.lean, finish.hips.y, finish.hips.knee) == (3, 60, None)
    assert finish.legs == start.legs
    assert finish.neck == start.neck
