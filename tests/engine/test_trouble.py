"""Since when something bears on an exercise: pain, soreness, an answered matter, an illness (T1, T3, P10)."""

from datetime import date, timedelta
from typing import Any

import pytest

from athletes.concerns import (
    BodyReport,
    Event,
    Matter,
    Outcome,
    ReportKind,
    Sign,
    SorenessTrait,
    SymptomReport,
)
from athletes.vocabulary import Region, Side
from programs.engine.trouble import troubled_since

ON = date(2026, 3, 20)
KNEE = frozenset({Region.KNEE})
SORE = frozenset(
    {
        SorenessTrait.BOTH_SIDES,
        SorenessTrait.IN_THE_MUSCLE,
        SorenessTrait.AFTER_NEW_WORK,
        SorenessTrait.EASES_ON_MOVING,
    }
)


def days_ago(days: int) -> date:
    return ON - timedelta(days=days)


def knee(ago: int, during: int | None = None, morning: int | None = None, **more: Any) -> BodyReport:
    plain: dict[str, Any] = {"region": Region.KNEE, "side": Side.LEFT}
    return BodyReport(on=days_ago(ago), during=during, next_morning=morning, **{**plain, **more})


def sore(ago: int, **more: Any) -> BodyReport:
    plain: dict[str, Any] = {"side": Side.BOTH, "kind": ReportKind.SORENESS, "traits": SORE}
    return BodyReport(days_ago(ago), Region.FRONT_THIGH, during=4, hours_since_work=24, **{**plain, **more})


def since(*reports: BodyReport, regions: frozenset[Region] = KNEE, **more: Any) -> int | None:
    """How many days ago it began."""
    found = troubled_since(
        regions, reports, more.get("matters", ()), more.get("symptoms", ()), on=ON, under_18=False
    )
    return None if found is None else (ON - found).days


@pytest.mark.parametrize(
    ("reports", "expected"),
    [
        ((), None),
        ((knee(1, 4),), 1),
        ((knee(1, 3),), None),
        ((knee(9, 3), knee(1, 4)), 1),
        ((knee(9, 4), knee(5, 3), knee(1, 5)), 9),
        ((knee(9, 4), knee(5, 2), knee(1, 5)), 1),
        ((knee(9, 4), knee(5, 2)), None),
        ((knee(15, 4), knee(1, 4)), 15),
        ((knee(16, 4), knee(1, 4)), 1),
        ((knee(14, 5),), 14),
        ((knee(15, 5),), None),
        ((knee(9, 4), knee(5, 4, side=Side.RIGHT)), 9),
        ((knee(9, 4, side=Side.BOTH), knee(5, 4, side=Side.RIGHT)), 9),
        ((knee(9, 4, side=Side.RIGHT), knee(5, 2, side=Side.LEFT)), 9),
        ((knee(5, None, 4),), 5),
        ((knee(5, 4, None),), 5),
        ((knee(5, 0, 1),), None),
        ((knee(5, 1, 3),), 5),
        ((knee(5, 0, 2),), 5),
        ((knee(5, 3, 1),), None),
        ((knee(5, None, 2),), None),
        ((knee(5, 2, None),), None),
        ((knee(5, 0, 0, signs=frozenset({Sign.SWELLING})),), 5),
        ((knee(5, 1), knee(5, 4)), 5),
        ((knee(5, 4), knee(5, 1)), 5),
        ((knee(5, 4, region=Region.HIP),), None),
        ((knee(9, 6, region=Region.HIP), knee(5, 4)), 5),
    ],
)
def test_t1_a_pain_counts_from_its_first_report_that_eases(
    reports: tuple[BodyReport, ...], expected: int | None
) -> None:
    assert since(*reports) == expected


def test_t1_of_two_regions_the_earlier_trouble_counts() -> None:
    both = frozenset({Region.KNEE, Region.HIP})
    assert since(knee(9, 6, region=Region.HIP), knee(5, 4), regions=both) == 9


@pytest.mark.parametrize(
    ("reports", "expected"),
    [
        ((sore(3),), 3),
        ((sore(9), sore(3)), 9),
        ((sore(17), sore(3)), 17),
        ((sore(18), sore(3)), 3),
        ((sore(15),), None),
        ((sore(9, traits=frozenset()),), 9),
    ],
)
def test_t3_a_soreness_counts_from_the_first_of_its_run(
    reports: tuple[BodyReport, ...], expected: int | None
) -> None:
    assert since(*reports, regions=frozenset({Region.FRONT_THIGH})) == expected


def test_t3_a_soreness_is_no_pain_that_goes_on() -> None:
    thigh = frozenset({Region.FRONT_THIGH})
    ache = knee(9, 4, region=Region.FRONT_THIGH, side=Side.BOTH)
    assert since(ache, sore(5), regions=thigh) == 9
    assert since(knee(9, 3, region=Region.FRONT_THIGH, side=Side.BOTH), sore(5), regions=thigh) == 5


def matter(opened: int, closed: int | None, outcome: Outcome | None = Outcome.EASE, **more: Any) -> Matter:
    plain: dict[str, Any] = {"region": Region.KNEE, "side": Side.LEFT}
    closed_on = None if closed is None else days_ago(closed)
    return Matter(
        opened_on=days_ago(opened),
        closed_on=closed_on,
        outcome=outcome,
        **{**plain, **more},
    )


@pytest.mark.parametrize(
    ("one", "expected"),
    [
        (matter(20, 3), 20),
        (matter(20, 14), 20),
        (matter(20, 15), None),
        (matter(20, 3, Outcome.CARRY_ON), None),
        (matter(20, 3, region=Region.HIP), None),
    ],
)
def test_t1_a_matter_closed_with_ease_counts_from_its_opening(one: Matter, expected: int | None) -> None:
    assert since(matters=(one,)) == expected


def ill(ago: int, cleared: int | None = None, event: Event = Event.ILLNESS) -> SymptomReport:
    return SymptomReport(
        on=days_ago(ago), event=event, cleared_on=None if cleared is None else days_ago(cleared)
    )


@pytest.mark.parametrize(
    ("symptoms", "expected"),
    [
        ((ill(5),), 5),
        ((ill(9, 4),), 9),
        ((ill(70, 56),), 70),
        ((ill(70, 57),), None),
        ((ill(9, 4, Event.FEVER_OR_CHEST),), 9),
        ((ill(9, 4, Event.CRASH),), None),
        ((ill(20, 15), ill(6, 2)), 20),
        ((ill(21, 15), ill(6, 2)), 6),
        ((ill(6, 2), ill(9, 8)), 9),
    ],
)
def test_p10_an_illness_counts_from_the_first_of_its_run(
    symptoms: tuple[SymptomReport, ...], expected: int | None
) -> None:
    assert since(symptoms=symptoms) == expected


def test_t1_p10_of_pain_and_illness_the_earlier_counts() -> None:
    assert since(knee(5, 4), symptoms=(ill(8, 6),)) == 8
    assert since(knee(9, 4), symptoms=(ill(8, 6),)) == 9
