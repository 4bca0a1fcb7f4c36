"""The shape of a pose file, as a JSON Schema (draft 2020-12); `fixtures/poses/README.md` says what fields mean."""

from typing import Any

from programs.figures.skeleton import PLACES

type Schema = dict[str, Any]

#: Furniture, and what is fixed in the room.
THINGS = [
    *("wall", "chair", "bench", "step", "table", "bar", "rack", "mat"),
    *("cushion", "bolster", "frame", "post", "bicycle", "box"),
]
KINDS = ["kettlebell", "dumbbell", "barbell", "stick", "backpack", "vest", "band", "towel"]
#: What may touch, and what an arrow or a band may go by.
TOUCHING = [
    *("seat", "back", "chest", "belly", "head"),
    *(
        f"{side} {part}"
        for side in ("right", "left")
        for part in [
            "heel",
            "ball",
            "toe",
            "knee",
            "ankle",
            "hip",
            "shoulder",
            "elbow",
            "forearm",
            "wrist",
            "hand",
        ]
    ),
]
POINTS = [*("pelvis", "waist", "ribs", "shoulders", "neck"), *TOUCHING, "right foot", "left foot"]
#: Ways of holding or wearing, see `implements`.
WAYS = ["hang", "chest", "rack", "press", "ahead", "across", "up", "fore"]
WORDS = {
    "up": (0, 1, 0),
    "down": (0, -1, 0),
    "ahead": (1, 0, 0),
    "back": (-1, 0, 0),
    "out": (0, 0, 1),
    "in": (0, 0, -1),
}

NUMBER: Schema = {"type": "number"}
FLAG: Schema = {"type": "boolean"}
PART: Schema = {"enum": TOUCHING}
POINT: Schema = {"enum": POINTS}
NAME: Schema = {"type": "string", "pattern": r"^[a-z]+([ -][a-z]+)*$"}
TRIPLE: Schema = {"type": "array", "items": NUMBER, "minItems": 3, "maxItems": 3}
PAIR: Schema = {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2}
WAY: Schema = {"oneOf": [{"enum": list(WORDS)}, TRIPLE]}


def _record(fields: Schema, required: tuple[str, ...] = ()) -> Schema:
    return {
        "type": "object",
        "properties": fields,
        "required": list(required),
        "additionalProperties": False,
        "minProperties": 1,
    }


def _numbers(names: str) -> Schema:
    return dict.fromkeys(names.split(), NUMBER)


BENDS: Schema = {"oneOf": [NUMBER, _record(_numbers("bend side turn"))]}
BALANCED: Schema = {"oneOf": [NUMBER, {"const": "balance"}]}

HIPS = _record(
    {
        **_numbers("y knee lean side turn"),
        "x": BALANCED,
        "z": BALANCED,
        "over": {"enum": ["feet", "right foot", "left foot"]},
    }
)
FOOT = _record({**_numbers("x out y turn heel toes pitch"), "upon": NAME, "knee_to": WAY})
LEG = _record({**_numbers("hip out turn knee ankle toes"), "thigh": WAY, "shank": WAY, "knee_to": WAY})
ARM = _record(
    {
        **_numbers("raised out turn elbow bend out_upon"),
        "hand": TRIPLE,
        "at": {"enum": list(PLACES)},
        "shift": TRIPLE,
        "hold": NAME,
        "reach": WAY,
        "upon": NAME,
        "elbow_to": WAY,
        "upper": WAY,
        "fore": WAY,
        "fingers": WAY,
        "shape": {"enum": ["fist", "flat", "open"]},
    }
)
ANCHOR = _record({"part": PART, "x": NUMBER, "z": NUMBER, "upon": NAME}, ("part",))
HELD = _record(
    {
        "kind": {"enum": KINDS},
        "hands": {"enum": ["right", "left", "both", "pair", "none"]},
        "way": {"enum": WAYS},
        "at": TRIPLE,
        "place": {"enum": list(PLACES)},
        "through": {"type": "array", "items": {"oneOf": [POINT, TRIPLE]}, "minItems": 2},
        "mass": NUMBER,
        "size": NUMBER,
    },
    ("kind",),
)
HELD_LIST: Schema = {"type": "array", "items": HELD}

POSITION = _record(
    {
        "hips": HIPS,
        "spine": BENDS,
        "lower_back": BENDS,
        "upper_back": BENDS,
        "neck": BENDS,
        "shoulders": PAIR,
        "feet": FOOT,
        "right_foot": FOOT,
        "left_foot": FOOT,
        "legs": LEG,
        "right_leg": LEG,
        "left_leg": LEG,
        "arms": ARM,
        "right_arm": ARM,
        "left_arm": ARM,
        "anchor": ANCHOR,
        "settle": {"oneOf": [PART, _record({"part": PART, "upon": NAME}, ("part",))]},
        "touches": {"type": "object", "propertyNames": PART, "additionalProperties": NAME},
        "held": HELD_LIST,
    }
)

SPAN: Schema = {"oneOf": [NUMBER, PAIR]}
THING = _record(
    {
        "kind": {"enum": THINGS},
        "name": NAME,
        "x": SPAN,
        "z": SPAN,
        "y": NUMBER,
        "way": {"enum": ["ahead", "behind", "beside", "across"]},
    },
    ("kind",),
)
ARROW = _record(
    {
        "part": POINT,
        "shift": PAIR,
        "from": PAIR,
        "to": PAIR,
        "bow": NUMBER,
        "both": FLAG,
        "panel": {"enum": ["start", "finish"]},
    }
)
VIEW: Schema = {
    "oneOf": [{"enum": ["side", "front", "back", "top"]}, _record(_numbers("turn tilt"))],
}

POSE: Schema = {
    **_record(
        {
            "view": VIEW,
            "layout": {"enum": ["auto", "beside", "below"]},
            "things": {"type": "array", "items": THING},
            "held": HELD_LIST,
            "arrows": {"type": "array", "items": ARROW},
            "over_foot": FLAG,
            "balanced": FLAG,
            "start": POSITION,
            "finish": POSITION,
            "hold": POSITION,
        }
    ),
    "oneOf": [{"required": ["start", "finish"]}, {"required": ["hold"]}],
}

DOCUMENT: Schema = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "The figures of one movement pattern, by exercise",
    "type": "object",
    "propertyNames": {"pattern": r"^[a-z]+(-[a-z]+)*$"},
    "additionalProperties": POSE,
}
