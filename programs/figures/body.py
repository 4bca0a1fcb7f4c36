"""The body that is drawn: how long, how wide and how heavy its parts are, and how far its joints go.

Lengths are those of R. Drillis and R. Contini (Body Segment Parameters, New York University, Technical Report 1166.03,
1966) as shares of body height, as printed in D. A. Winter, Biomechanics and Motor Control of Human Movement. They are
from memory. Masses and centres of mass are those of Winter's anthropometric table (3rd edition, 2005, after Dempster).
Limits of joints begin with the American Academy of Orthopaedic Surgeons (Joint Motion, 1965), from memory; where a pose
of the library needs more (a deep squat also tips the pelvis), the limit is wider and marked as ours.
"""

from dataclasses import dataclass
from typing import Final

#: The figure is drawn at this height in centimetres. The unit of all lengths in pose files.
HEIGHT: Final = 175.0

# --- lengths (shares of height: Drillis and Contini, in Winter; from memory) -----------------------------------------

FOOT_HEIGHT: Final = 0.039 * HEIGHT  # floor to ankle
SHANK: Final = 0.246 * HEIGHT
THIGH: Final = 0.245 * HEIGHT
TRUNK: Final = 0.288 * HEIGHT  # hip joints to shoulder joints: 0.818 - 0.530
UPPER_ARM: Final = 0.186 * HEIGHT
FOREARM: Final = 0.146 * HEIGHT
HAND: Final = 0.108 * HEIGHT
FOOT: Final = 0.152 * HEIGHT
HEAD: Final = 0.130 * HEIGHT  # chin to crown: 1 - 0.870
SHOULDER_BREADTH: Final = 0.259 * HEIGHT
HIP_BREADTH: Final = 0.191 * HEIGHT
CHEST_BREADTH: Final = 0.174 * HEIGHT

# --- what the sources do not give (ours, measured on the drawing) ----------------------------------------------------

#: Joint centres lie inside the breadths above.
HIP_HALF: Final = 0.052 * HEIGHT
SHOULDER_HALF: Final = 0.100 * HEIGHT
#: The trunk bends at the top of the pelvis and below the ribs.
PELVIS: Final = 0.055 * HEIGHT
LUMBAR: Final = 0.095 * HEIGHT
THORAX: Final = TRUNK - PELVIS - LUMBAR
#: From the line of the shoulders to where the neck turns, and from there to the middle of the head.
NECK_BASE: Final = 0.015 * HEIGHT
NECK: Final = 0.870 * HEIGHT - 0.818 * HEIGHT - NECK_BASE + HEAD / 2
#: A foot from the ankle: heel behind it, ball and toes ahead of it.
HEEL_BACK: Final = 0.26 * FOOT
BALL_AHEAD: Final = 0.46 * FOOT
TOE_AHEAD: Final = FOOT - HEEL_BACK
#: The middle of the foot lies this far ahead of the ankle.
MID_FOOT: Final = FOOT / 2 - HEEL_BACK
#: From the wrist to the middle of a closed fist, and to the middle of a flat palm.
GRIP: Final = 0.046 * HEIGHT
PALM: Final = 0.055 * HEIGHT

#: Half thicknesses of what touches the floor, a wall or a bench, and of the outlines.
RADII: Final = {
    "seat": 9.5,
    "back": 10.0,
    "chest": 10.0,
    "side": 14.0,
    "head": 9.0,
    "hip": 9.0,
    "knee": 5.2,
    "ankle": 4.0,
    "shoulder": 6.2,
    "elbow": 4.0,
    "wrist": 3.0,
    "hand": 3.6,
}


@dataclass(frozen=True, slots=True)
class Mass:
    """A segment's share of body mass, and where its centre lies from the upper (proximal) end, as a share of length."""

    share: float
    centre: float


#: Winter (2005), table 4.1. The trunk is divided between its three parts here by length (ours).
MASSES: Final = {
    "foot": Mass(0.0145, 0.5),
    "shank": Mass(0.0465, 0.433),
    "thigh": Mass(0.100, 0.433),
    "forearm-hand": Mass(0.022, 0.682),
    "upper-arm": Mass(0.028, 0.436),
    "trunk": Mass(0.497, 0.5),
    "head-neck": Mass(0.081, 1.0),
}
#: The mass that implements are weighed against, kg.
BODY_MASS: Final = 70.0


@dataclass(frozen=True, slots=True)
class Limit:
    """From and to, in degrees; `source` says where the figures are from."""

    low: float
    high: float
    source: str


_AAOS = "AAOS 1965, from memory"
_OURS = "ours, wider than AAOS: "

#: Signs: see `kinematics`. Ahead (flexion), out (abduction or outward turn) and bend are positive.
LIMITS: Final = {
    "hip": Limit(-30, 140, _OURS + "deep squats and knees drawn in also round the pelvis"),
    "hip-out": Limit(-30, 50, _OURS + "45 is measured on a level pelvis"),
    "hip-turn": Limit(-50, 75, _OURS + "a frog-like sit with bent hips opens further"),
    "knee": Limit(-2, 155, _OURS + "135 to 150 in print; kneeling and heel-to-seat need more"),
    "ankle": Limit(-50, 42, _OURS + "20 unloaded; a loaded ankle goes further"),
    "toes": Limit(-30, 70, _AAOS),
    "shoulder": Limit(-60, 190, _OURS + "180 and the lift of the shoulder blade"),
    "shoulder-out": Limit(-50, 180, _AAOS),
    "elbow": Limit(-3, 152, _AAOS),
    "wrist": Limit(-80, 95, _OURS + "70; a hand flat on the floor has the arm upright"),
    "lower-back": Limit(-25, 45, _OURS + "part of the 80 of the whole trunk"),
    "upper-back": Limit(-25, 45, _OURS + "part of the 80 of the whole trunk"),
    "trunk-side": Limit(-35, 35, _AAOS),
    "trunk-turn": Limit(-45, 45, _AAOS),
    "ahead": Limit(-4, 7, "ours, cm: how far the shoulder blades carry the shoulders"),
    "up": Limit(-3, 8, "ours, cm: the same"),
    "neck": Limit(-50, 55, _OURS + "45 and a little of the upper back"),
}
