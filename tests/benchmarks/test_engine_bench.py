"""How many rider-weeks the engine works out in a second, beside reading and writing the same facts and decisions.

The facts are those of invented riders who have lived eight weeks with the shipped exercise library, each in their own
surroundings, with what hurts and what is missed. The floor is what a store cannot do without: the facts' document read
from JSON text and the decision's written to it, with nothing decided.
"""

import json
from random import Random

import pytest

from programs.engine.codec import to_document
from programs.engine.facts import WeekFacts
from programs.engine.resolve import resolve_week
from tests.benchmarks.figures import note, seconds_of
from tests.engine.seasons import Season
from tests.engine.shipped import shipped

pytestmark = pytest.mark.bench

WEEKS, RIDERS = 8, 60


def facts_of_riders() -> list[WeekFacts]:
    """The ninth week of so many riders who have sessions in it."""
    found: list[WeekFacts] = []
    seed = 0
    while len(found) < RIDERS:
        seed += 1
        *_past, last = Season.begin(shipped(), Random(seed)).live(WEEKS + 1)
        if last.decision.sessions:
            found.append(last.facts)
    return found


def test_rider_weeks_a_second() -> None:
    library, facts = shipped(), facts_of_riders()
    texts = [json.dumps(to_document(one)) for one in facts]
    answers = [to_document(resolve_week(one, library)) for one in facts]

    def decide() -> None:
        for one in facts:
            resolve_week(one, library)

    def read_and_write() -> None:
        for text, answer in zip(texts, answers, strict=True):
            json.loads(text)
            json.dumps(answer)

    decided, floor = seconds_of([decide, read_and_write], times=7)
    note("engine, one rider-week", figure=decided * 1e6 / RIDERS, floor=floor * 1e6 / RIDERS, unit="us")
    note("engine, rider-weeks a second", figure=RIDERS / decided)
    note("engine, kB of facts a rider-week", figure=sum(map(len, texts)) / RIDERS / 1000)
    assert decided > 0
