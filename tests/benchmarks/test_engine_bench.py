"""How many rider-weeks the engine works out in a second, beside reading and writing the same facts and decisions.

The facts are those of invented riders who have lived eight weeks with the shipped exercise library, each in their own
surroundings, with what hurts and what is missed. A week of somebody who is not well is worked out twice, since nothing
in it may exceed what it would have been otherwise (I9). The floor is what a store cannot do without: the facts'
document read from JSON text and the decision's written to it, with nothing decided.
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
#: How likely something befalls a rider in a week or a session: for most never, for some often.
WELL, TROUBLED = 0.0, 0.3


def facts_of_riders(troubles: float) -> list[WeekFacts]:
    """The ninth week of so many riders who have sessions in it."""
    found: list[WeekFacts] = []
    seed = 0
    while len(found) < RIDERS:
        seed += 1
        season = Season.begin(shipped(), Random(seed))
        season.troubles = troubles
        *_past, last = season.live(WEEKS + 1)
        if last.decision.sessions and bool(last.facts.reports or last.facts.symptoms) is (troubles > 0):
            found.append(last.facts)
    return found


@pytest.mark.parametrize(("name", "troubles"), [("well", WELL), ("troubled", TROUBLED)])
def test_rider_weeks_a_second(name: str, troubles: float) -> None:
    library, facts = shipped(), facts_of_riders(troubles)
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
    note(
        f"engine, one week of a rider who is {name}",
        figure=decided * 1e6 / RIDERS,
        floor=floor * 1e6 / RIDERS,
        unit="us",
    )
    note(f"engine, weeks a second of riders who are {name}", figure=RIDERS / decided)
    note(f"engine, kB of facts of a rider who is {name}", figure=sum(map(len, texts)) / RIDERS / 1000)
    assert decided > 0
