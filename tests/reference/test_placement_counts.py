"""W1 against closed counts and a small published optimum.

| what | published | source | tag |
|---|---|---|---|
| ways to choose 2, 3, 4 days of 7, none touching | 15, 10, 1 | n - k + 1 over k, Kaplansky 1943 | CALC |
| the same where the week repeats | 14, 7, 0 | n / (n - k) times n - k over k, Kaplansky 1943 | CALC |
| two days in a repeating week of day loads 0, 300, 420, 0, 360, 600, 240, each at 2 x same day + next day | Monday and
  Thursday, 660; then Thursday and Sunday, 840 | brute force and a constraint solver | CALC |

Kaplansky 1943 (the problem of the married couples) is cited from memory.
"""

from datetime import date, timedelta
from itertools import combinations
from math import comb

import pytest

from programs.engine.facts import Opening, Week
from programs.engine.spots import PlaceFacts
from programs.engine.week import cheapest, place

MONDAY = date(2026, 7, 20)
DAYS = [MONDAY + timedelta(days=day) for day in range(7)]
LINEAR = {2: 15, 3: 10, 4: 1}
CIRCULAR = {2: 14, 3: 7, 4: 0}
LOADS = [0, 300, 420, 0, 360, 600, 240]


def test_the_published_counts_are_those_of_the_closed_forms() -> None:
    assert {k: comb(7 - k + 1, k) for k in LINEAR} == LINEAR
    assert {k: 7 * comb(7 - k, k) // (7 - k) for k in CIRCULAR} == CIRCULAR


def holds_all(days: tuple[date, ...], *, repeats: bool) -> bool:
    """Whether a session fits on each of the days; when the week repeats, last and next week's stand there too."""
    a_week = timedelta(days=7)
    facts = PlaceFacts(
        week=Week(2026, 30),
        count=len(days),
        openings=tuple(Opening(on, 1080, 60, "home") for on in days),
        done_on=tuple(on - a_week for on in days) if repeats else (),
        fixed_on=tuple(on + a_week for on in days) if repeats else (),
    )
    return place(facts).dropped == 0


@pytest.mark.parametrize("count", [2, 3])
def test_w1_as_many_weeks_are_possible_as_the_closed_forms_say(count: int) -> None:
    weeks = list(combinations(DAYS, count))
    assert sum(holds_all(week, repeats=False) for week in weeks) == LINEAR[count]
    assert sum(holds_all(week, repeats=True) for week in weeks) == CIRCULAR[count]


@pytest.mark.parametrize("count", [2, 3, 4])
def test_w2_the_search_finds_each_of_them(count: int) -> None:
    found = sum(
        cheapest(days, [[0] * count] * count, count)[0] is not None for days in combinations(range(7), count)
    )
    assert found == LINEAR[count]


def test_w2_the_small_optimum_and_its_runner_up() -> None:
    """In a week that repeats, Monday and Sunday touch: so the better of the weeks without one and without the other."""
    points = [[2 * LOADS[day] + LOADS[(day + 1) % 7]] * 2 for day in range(7)]
    without_sunday, second = cheapest(range(6), points[:6], 2)
    without_monday = cheapest(range(1, 7), points[1:], 2)[0]
    assert without_sunday is not None
    assert without_monday is not None
    assert second is not None
    assert second[0] > 840
    assert (without_sunday[0], [spot for spot, _ in without_sunday[2]]) == (660, [0, 3])
    assert (without_monday[0], [spot + 1 for spot, _ in without_monday[2]]) == (840, [3, 6])
