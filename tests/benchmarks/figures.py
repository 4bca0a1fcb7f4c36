"""What was measured beside what it could not be less than, in one run on one machine.

A figure alone says how fast the machine is; its ratio to the floor says how much of the time is ours.

    note("desk page, 60 riders", figure=0.031, floor=0.012, unit="s")
"""

import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from statistics import median

from django.db import connection


@dataclass(frozen=True)
class Figure:
    """One line of the table. `floor` is what does the same with nothing of ours; None where there is none."""

    name: str
    figure: float
    floor: float | None
    unit: str


_figures: list[Figure] = []


def note(name: str, *, figure: float, floor: float | None = None, unit: str = "") -> None:
    """The figure stands in the table at the end of the run."""
    _figures.append(Figure(name, figure, floor, unit))


def table() -> Iterator[str]:
    """The lines of the table; none when nothing was measured."""
    if not _figures:
        return
    width = max(len(one.name) for one in _figures)
    yield ""
    yield f"{'name':<{width}}  {'figure':>10}  {'floor':>10}  {'ratio':>6}  unit"
    for one in _figures:
        floor = "" if one.floor is None else f"{one.floor:.4g}"
        ratio = "" if not one.floor else f"{one.figure / one.floor:.2f}"
        yield f"{one.name:<{width}}  {one.figure:>10.4g}  {floor:>10}  {ratio:>6}  {one.unit}"


def seconds_of(works: list[Callable[[], object]], *, times: int) -> list[float]:
    """The median seconds of each work, in turns, so that what slows the machine slows all. The first is not counted."""
    taken: list[list[float]] = [[] for _ in works]
    for round_number in range(times + 1):
        for work, its_times in zip(works, taken, strict=True):
            began = time.perf_counter()
            work()
            if round_number:
                its_times.append(time.perf_counter() - began)
    return [median(one) for one in taken]


@contextmanager
def counted_queries() -> Iterator[Counter[str]]:
    """How many statements of each kind ran inside, by their first word."""
    counted: Counter[str] = Counter()

    def count(
        execute: Callable[..., object], sql: str, params: object, many: bool, context: object
    ) -> object:
        counted[sql.lstrip("( ").split(None, 1)[0].upper()] += 1
        return execute(sql, params, many, context)

    with connection.execute_wrapper(count):
        yield counted
