"""The words that every part of Ballast shares: body regions, movement patterns, implements, roles, days.

Pure values, no Django. The value of each member is what is stored and what stands in the exercise library and the
engine's facts; the words a person reads for it are made in `athletes/words.py`.

>>> Region("knee") is Region.KNEE
True
>>> Reason("P1", "reps-up", {"from": 8, "to": 9}).rule
'P1'
"""

from collections.abc import Mapping
from dataclasses import field
from enum import IntEnum, StrEnum

from athletes.values import value_class

#: What a reason may carry: figures and words, never a sentence.
type Figure = str | int | bool | None


class Region(StrEnum):
    """A body region that an exercise loads or a rider reports about."""

    HEAD = "head"
    NECK = "neck"
    SHOULDER = "shoulder"
    ELBOW = "elbow"
    WRIST_HAND = "wrist-hand"
    CHEST = "chest"
    UPPER_BACK = "upper-back"
    LOWER_BACK = "lower-back"
    ABDOMEN = "abdomen"
    HIP = "hip"
    GROIN = "groin"
    FRONT_THIGH = "front-thigh"
    BACK_THIGH = "back-thigh"
    KNEE = "knee"
    SHIN = "shin"
    CALF = "calf"
    ANKLE = "ankle"
    FOOT_HEEL = "foot-heel"


class Side(StrEnum):
    """Side of the body. `BOTH` is both sides, or a region without sides."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"


class Pattern(StrEnum):
    """A movement pattern. The last three make up the start and the end of a session."""

    SQUAT = "squat"
    HINGE = "hinge"
    SINGLE_LEG = "single-leg"
    LATERAL = "lateral"
    PUSH = "push"
    PULL = "pull"
    FRONT_TRUNK = "front-trunk"
    SIDE_TRUNK = "side-trunk"
    ROTATION = "rotation"
    CARRY = "carry"
    CALF = "calf"
    HIP = "hip"
    POWER = "power"
    BALANCE = "balance"
    MOBILITY = "mobility"
    WARM_UP = "warm-up"
    COOL_DOWN = "cool-down"


#: Patterns whose work a slot of the main part may ask for, lower body first.
LOWER_BODY = frozenset(
    {
        Pattern.SQUAT,
        Pattern.HINGE,
        Pattern.SINGLE_LEG,
        Pattern.LATERAL,
        Pattern.CALF,
        Pattern.HIP,
        Pattern.POWER,
    }
)
TRAINED = tuple(pattern for pattern in Pattern if pattern not in (Pattern.WARM_UP, Pattern.COOL_DOWN))


class Implement(StrEnum):
    """Something that is held, worn or pulled and adds load."""

    NONE = "none"
    KETTLEBELL = "kettlebell"
    DUMBBELL = "dumbbell"
    ADJUSTABLE_DUMBBELL = "adjustable-dumbbell"
    BARBELL = "barbell"
    VEST = "vest"
    BACKPACK = "backpack"
    BAND = "band"


class Furniture(StrEnum):
    """Something that is stood on, leant on or hung from and adds no load. Walls and floors are everywhere."""

    CHAIR = "chair"
    BENCH = "bench"
    STEP = "step"
    TABLE = "table"
    PULL_UP_BAR = "pull-up-bar"
    RACK_WITH_SAFETIES = "rack-with-safeties"
    STICK = "stick"
    TOWEL = "towel"


class Muscle(StrEnum):
    """A muscle group for counting weekly hard sets."""

    QUADRICEPS = "quadriceps"
    HAMSTRINGS = "hamstrings"
    GLUTES = "glutes"
    ADDUCTORS = "adductors"
    HIP_FLEXORS = "hip-flexors"
    CALVES = "calves"
    SHIN_MUSCLES = "shin-muscles"
    LOWER_BACK = "lower-back"
    ABDOMINALS = "abdominals"
    OBLIQUES = "obliques"
    CHEST = "chest"
    UPPER_BACK = "upper-back"
    SHOULDERS = "shoulders"
    UPPER_ARMS = "upper-arms"
    FOREARMS = "forearms"


LEG_MUSCLES = frozenset(
    {
        Muscle.QUADRICEPS,
        Muscle.HAMSTRINGS,
        Muscle.GLUTES,
        Muscle.ADDUCTORS,
        Muscle.HIP_FLEXORS,
        Muscle.CALVES,
        Muscle.SHIN_MUSCLES,
    }
)


class Role(StrEnum):
    """What an account may do in a club. An assistant and a club officer without access see no health detail."""

    OWNER = "owner"
    COACH = "coach"
    ASSISTANT = "assistant"
    WELFARE = "welfare"


class Day(IntEnum):
    """Day of the week, Monday first, as `date.weekday()` counts."""

    MONDAY = 0
    TUESDAY = 1
    WEDNESDAY = 2
    THURSDAY = 3
    FRIDAY = 4
    SATURDAY = 5
    SUNDAY = 6


class RacePriority(StrEnum):
    """How much a race bends the plan: a priority race is tapered for, a minor one only kept clear of."""

    PRIORITY = "priority"
    OTHER = "other"
    MINOR = "minor"


@value_class
class Reason:
    """Why the engine said something: a rule's id, a key for the sentence, and the figures that caused it.

    `rule` is an id such as ``"P1"``; `key` names one sentence of `programs/wording.py` (or `athletes/words.py`) and is
    unique across rules; `figures` fill that sentence. A reason never holds a sentence, so it can be replayed,
    translated and compared.
    """

    rule: str
    key: str
    figures: Mapping[str, Figure] = field(default_factory=dict)

    def __hash__(self) -> int:
        return hash((self.rule, self.key, tuple(sorted(self.figures.items(), key=lambda pair: pair[0]))))
