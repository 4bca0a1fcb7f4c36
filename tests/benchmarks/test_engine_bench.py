"""Rider-weeks that the engine alone works out in a second, beside reading and writing the same facts and decisions.

The facts are of random seasons in their ninth to twelfth week: each carries a history that the engine made itself.
"""

import json
from random import Random

import pytest

from programs.engine.codec import from_document, to_document
from programs.engine.facts import WeekDecision, WeekFacts
from programs.engine.resolve import resolve_week
from tests.benchmarks.figures import note, seconds_of
from tests.engine.seasons import Season
from tests.engine.shipped import shipped

pytestmark = pytest.mark.bench
SEASONS, FIRST, LAST = 25, 9, 12


def lived_facts() -> list[WeekFacts]:
    """The facts of weeks of several seasons, each with at least eight weeks behind it."""
    found: list[WeekFacts] = []
    for seed in range(SEASONS):
        weeks = list(Season.begin(shipped(), Random(seed)).live(LAST))
        found += [week.facts for week in weeks[FIRST - 1 :]]
    return found


def test_the_engine_is_measured_against_reading_and_writing_the_same_values() -> None:
    facts, library = lived_facts(), shipped()
    decisions = [resolve_week(one, library) for one in facts]
    texts = [
        (json.dumps(to_document(asked)), json.dumps(to_document(answered)))
        for asked, answered in zip(facts, decisions, strict=True)
    ]

    def resolve() -> None:
        for one in facts:
            resolve_week(one, library)

    def read_and_write() -> None:
        for asked, answered in texts:
            json.dumps(to_document(from_document(WeekFacts, json.loads(asked))))
            json.dumps(to_document(from_document(WeekDecision, json.loads(answered))))

    ours, floor = seconds_of([resolve, read_and_write], times=3)
    count = len(facts)
    note("rider-weeks resolved", figure=count / ours, unit="a second, one core")
    note(
        "one rider-week, to its JSON read and written",
        figure=1000 * ours / count,
        floor=1000 * floor / count,
        unit="ms",
    )
    assert count >= SEASONS
