"""A small invented library and kit that the tables of the engine's tests share."""

from decimal import Decimal

from athletes.vocabulary import Furniture, Implement, Pattern, Region
from programs.engine.facts import (
    AdjustableDumbbells,
    Barbell,
    Criterion,
    Edge,
    Exercise,
    FixedMass,
    Holding,
    Kit,
    Library,
    Load,
    Loading,
    Measure,
    Part,
    Rider,
    Slot,
)

KETTLEBELL = Holding(Implement.KETTLEBELL)
KETTLEBELL_PAIR = Holding(Implement.KETTLEBELL, 2)
DUMBBELL = Holding(Implement.DUMBBELL)
DUMBBELL_PAIR = Holding(Implement.DUMBBELL, 2)
ADJUSTABLE_PAIR = Holding(Implement.ADJUSTABLE_DUMBBELL, 2)
BARBELL = Holding(Implement.BARBELL)
BAND = Holding(Implement.BAND)
BACKPACK = Holding(Implement.BACKPACK)


def kettlebells(*masses: int | str, count: int = 1) -> tuple[FixedMass, ...]:
    return tuple(FixedMass(Implement.KETTLEBELL, Decimal(kg), count) for kg in masses)


def bell(kg: int | str) -> Load:
    return Load(KETTLEBELL, kg=Decimal(kg))


def step_to(slug: str, value: int = 12) -> tuple[Edge, ...]:
    return (Edge(slug, Criterion(sets=3, value=value)),)


def exercise(slug: str, level: int, **changes: object) -> Exercise:
    """A body-weight squat of that name and level unless `changes` say otherwise."""
    plain: dict[str, object] = {
        "pattern": Pattern.SQUAT,
        "measure": Measure.REPS,
        "loading": Loading.BODY,
        "part": Part.MAIN,
        "low": 5,
        "high": 20,
        "primary": frozenset({Region.KNEE, Region.FRONT_THIGH}),
        "secondary": frozenset({Region.HIP}),
    }
    return Exercise(slug=slug, level=level, **{**plain, **changes})  # type: ignore[arg-type]


#: sit-to-stand -> squat -> goblet -> {front, split}; hip-squat is a sibling of goblet that spares the knee.
SIT = exercise("sit-to-stand", 1, edges=step_to("squat"))
SQUAT = exercise("squat", 2, loading=Loading.EITHER, holdings=(KETTLEBELL,), edges=step_to("goblet"))
GOBLET = exercise(
    "goblet",
    3,
    loading=Loading.EXTERNAL,
    holdings=(KETTLEBELL, DUMBBELL),
    edges=(*step_to("front"), *step_to("split")),
)
HIP_SQUAT = exercise(
    "hip-squat",
    3,
    loading=Loading.EXTERNAL,
    holdings=(BAND,),
    primary=frozenset({Region.HIP}),
    secondary=frozenset({Region.KNEE}),
)
FRONT = exercise(
    "front",
    4,
    loading=Loading.EXTERNAL,
    holdings=(BARBELL,),
    needs_safeties=True,
    for_beginners=False,
)
SPLIT = exercise("split", 4, furniture=frozenset({Furniture.BENCH}), sided=True)
WARMING = exercise("slow-squat", 1, part=Part.WARM_UP)
PLANK = exercise(
    "plank",
    1,
    pattern=Pattern.FRONT_TRUNK,
    measure=Measure.HOLD,
    low=10,
    high=120,
    primary=frozenset({Region.ABDOMEN}),
    secondary=frozenset({Region.SHOULDER}),
    lower_body=False,
)
PRESS = exercise(
    "press-up",
    1,
    pattern=Pattern.PUSH,
    loading=Loading.EITHER,
    holdings=(BACKPACK,),
    primary=frozenset({Region.SHOULDER}),
    secondary=frozenset(),
    lower_body=False,
)
LIBRARY = Library((GOBLET, SIT, SQUAT, HIP_SQUAT, FRONT, SPLIT, WARMING, PLANK, PRESS), "small")

BAR = Barbell(Decimal(20), Decimal(5), tuple((Decimal(kg), 1) for kg in ("20", "10", "5", "2.5", "1.25")))
HALL = Kit(
    furniture=frozenset({Furniture.BENCH, Furniture.RACK_WITH_SAFETIES}),
    fixed=(*kettlebells(8, 12, 16), *kettlebells(12), FixedMass(Implement.DUMBBELL, Decimal(6), 2)),
    barbell=BAR,
    adjustable=AdjustableDumbbells(tuple(Decimal(kg) for kg in range(2, 21, 2)), count=2),
    bands=(2, 1, 3),
)
NOTHING = Kit()


def slot(**changes: object) -> Slot:
    plain: dict[str, object] = {"id": "a", "part": Part.MAIN, "pattern": Pattern.SQUAT}
    return Slot(**{**plain, **changes})  # type: ignore[arg-type]


def rider(youngest: int = 35, oldest: int | None = None, **changes: object) -> Rider:
    return Rider(youngest, youngest if oldest is None else oldest, **changes)  # type: ignore[arg-type]
