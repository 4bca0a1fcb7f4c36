"""W1 and W2 against closed counts and a small optimum that two other programs found."""

from datetime import date, timedelta
from itertools import combinations
from math import comb

from programs.engine.facts import Opening, Week
from programs.engine.spots import PlaceFacts
from programs.engine.week import cheapest, place
from tests.reference.checks import Check, Confidence, against
from tests.reference.sources import ARITHMETIC, KAPLANSKY

CALC = Confidence.CALC
MONDAY = date(2026, 7, 20)
DAYS = [MONDAY + timedelta(days=day) for day in range(7)]
#: Ways to choose so many days of seven that do not touch: in one week, and where the week repeats.
LINEAR = {2: 15, 3: 10, 4: 1}
CIRCULAR = {2: 14, 3: 7, 4: 0}


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


@against(
    (
        Check("W1", "weeks of sessions with a clear day between", f"{count} days", (count, False), ways, KAPLANSKY,
              CALC, "choices that do not touch")
        for count, ways in LINEAR.items()
        if count < 4  # no more than three sessions a week
    ),
    (
        Check("W1", "the same, the week repeating", f"{count} days", (count, True), ways, KAPLANSKY, CALC,
              "choices that do not touch in a circle")
        for count, ways in CIRCULAR.items()
    ),
)  # fmt: skip
def test_w1_as_many_weeks_are_possible_as_the_closed_forms_say(given: tuple[int, bool]) -> int:
    count, repeats = given
    return sum(holds_all(week, repeats=repeats) for week in combinations(DAYS, count))


@against(
    Check("W2", "choices of days that the search can find", f"{count} days", count, ways, KAPLANSKY, CALC,
          "choices that do not touch")
    for count, ways in LINEAR.items()
)  # fmt: skip
def test_w2_the_search_finds_each_of_them(given: int) -> int:
    return sum(
        cheapest(days, [[0] * given] * given, given)[0] is not None for days in combinations(range(7), given)
    )


LOADS = (0, 300, 420, 0, 360, 600, 240)


@against(
    Check("W2", "cheapest two days of a repeating week and their points", f"without {left_out}", left_out, best,
          ARITHMETIC, CALC, "a small optimum")
    for left_out, best in (("Sunday", (660, ("Monday", "Thursday"))), ("Monday", (840, ("Thursday", "Sunday"))))
)  # fmt: skip
def test_w2_the_small_optimum_and_its_runner_up(given: str) -> tuple[int, tuple[str, ...]]:
    """A day costs twice its own load and once the next day's. In a week that repeats, Monday and Sunday touch: so the
    optimum is the better of the weeks without one and without the other, the runner-up the worse."""
    names = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
    points = [[2 * LOADS[day] + LOADS[(day + 1) % 7]] * 2 for day in range(7)]
    first = 1 if given == "Monday" else 0
    days = range(first, first + 6)
    best, second = cheapest(days, points[first : first + 6], 2)
    assert best is not None and second is not None and second[0] > 840
    return best[0], tuple(names[first + spot] for spot, _ordinal in best[2])
