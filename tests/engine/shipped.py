"""The exercise library that is shipped, read without a database."""

from functools import cache
from pathlib import Path

import yaml

from programs.engine.facts import Library
from programs.engine.library import read_library

FIXTURES = Path(__file__).parents[2] / "fixtures" / "exercises"


@cache
def shipped() -> Library:
    return read_library([yaml.safe_load(path.read_text("utf-8")) for path in sorted(FIXTURES.glob("*.yaml"))])
