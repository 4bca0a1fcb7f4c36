"""A small sound library to plant faults in, and the shipped one, read from its files."""

from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any

import yaml

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"

type Row = dict[str, Any]


def shipped() -> list[Row]:
    """The documents of the shipped library, in order of file name; the caller may change them."""
    return deepcopy(_read_once())


@cache
def _read_once() -> list[Row]:
    return [
        yaml.safe_load(path.read_text(encoding="utf-8"))
        for path in sorted((FIXTURES / "exercises").glob("*.yaml"))
    ]


def exercise(slug: str, level: int, *harder: str, **changes: Any) -> Row:
    """One exercise of reps with nothing wrong with it, and a step up to each of `harder`."""
    row: Row = {
        "slug": slug,
        "name": slug.capitalize().replace("-", " "),
        "level": level,
        "purpose": "Shows one rule.",
        "set_up": ["Stand tall."],
        "cues": ["Bend the knees.", "Stand up.", "Breathe."],
        "faults": [{"see": "Heels lift", "say": "Heels down."}],
        "measure": "reps",
        "amount": {"low": 6, "high": 20},
        "tempo": {"lower": 2, "pause": 0, "lift": 2},
        "for_beginners": True,
        "loading": "body",
        "regions": {"primary": ["knee"], "secondary": ["hip"]},
        "muscles": {"quadriceps": 1},
        "leave_out": [{"region": "knee", "words": "Leave out if the knee hurts."}],
    }
    if harder:
        row["earns"] = [step(name) for name in harder]
    return {**row, **changes}


def step(harder: str) -> Row:
    """A step up, earned by two sets of twelve."""
    criterion = {"kind": "reps", "sets": 2, "value": 12, "reps_left": 2}
    return {"harder": harder, "criterion": criterion, "words": "2 x 12 with heels down, 2 good reps left."}


def document(*rows: Row, **changes: Any) -> Row:
    """A document of the squat pattern with these exercises."""
    whole: Row = {
        "pattern": "squat",
        "part": "main",
        "lower_body": True,
        "first_load_cap_kg": 8,
        "unavoidable": [
            {"region": "knee", "why": "The knee bends."},
            {"region": "hip", "why": "The hip bends."},
        ],
        "exercises": list(rows),
    }
    return {**whole, **changes}


def sound() -> Row:
    """Three exercises, easy, middle and hard, the last with a weight in the hands."""
    return deepcopy(
        document(
            exercise("easy-bend", 1, "middle-bend"),
            exercise("middle-bend", 2, "hard-bend"),
            exercise(
                "hard-bend",
                3,
                loading="external",
                holdings=[{"implement": "kettlebell", "how_many": "one"}],
                regions={"primary": ["knee"], "secondary": ["hip", "wrist-hand"]},
                substitutes=[{"use": "middle-bend", "when": "There is no weight."}],
            ),
        )
    )


def warm_up() -> Row:
    """A warm-up of one part."""
    part = exercise(
        "warm-up-bend",
        1,
        amount={"low": 5, "high": 10},
        regions={"primary": ["knee"], "secondary": []},
        muscles={},
        suits=["squat"],
    )
    del part["leave_out"]
    return document(
        part,
        pattern="warm-up",
        part="warm-up",
        lower_body=False,
        first_load_cap_kg=4,
        unavoidable=[{"region": "knee", "why": "The knee bends."}],
    )
