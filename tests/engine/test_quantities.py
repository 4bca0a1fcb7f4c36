"""Q1 masses and Q2 weeks."""

from datetime import date
from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.engine.facts import Week
from programs.engine.quantities import (
    kg_to_pounds,
    plain,
    pounds_to_kg,
    shift_week,
    shown_mass,
    week_days,
    week_name,
    week_of,
    week_starts_on,
    weeks_between,
)

DATES = st.dates(date(1990, 1, 1), date(2090, 12, 31))


@pytest.mark.parametrize(
    ("kg", "unit", "places", "shown"),
    [
        ("12.25", "kg", 1, "12.3"),
        ("12.35", "kg", 1, "12.4"),
        ("12.249", "kg", 1, "12.2"),
        ("0.125", "kg", 2, "0.13"),
        ("20.41165665", "lb", 1, "45.0"),
        ("2.5", "lb", 0, "6"),
        ("16", "kg", 1, "16.0"),
    ],
)
def test_q1_a_mass_is_shown_rounded_half_up(kg: str, unit: str, places: int, shown: str) -> None:
    assert str(shown_mass(Decimal(kg), unit, places)) == shown  # type: ignore[arg-type]


@given(st.decimals(min_value=0, max_value=2000, places=3))
def test_q1_pounds_that_were_entered_come_back_as_they_were_entered(pounds: Decimal) -> None:
    assert kg_to_pounds(pounds_to_kg(pounds)) == pounds


def test_q1_the_precision_set_by_the_caller_changes_nothing() -> None:
    with localcontext() as context:
        context.prec = 3
        assert str(pounds_to_kg(Decimal(45))) == "20.41165665"
        assert str(shown_mass(Decimal("1234.56"), "kg")) == "1234.6"


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-10000, max_value=10000, places=4))
def test_q1_the_plain_form_is_the_same_number_without_an_exponent_or_loose_zeros(value: Decimal) -> None:
    text = str(plain(value))
    assert Decimal(text) == value
    assert "E" not in text
    assert "." not in text or not text.endswith("0")


@given(DATES)
def test_q2_every_date_is_one_of_the_seven_days_of_its_week(on: date) -> None:
    days = week_days(week_of(on))
    assert days[on.weekday()] == on
    assert days[0] == week_starts_on(week_of(on))
    assert [day.weekday() for day in days] == list(range(7))


@given(DATES, st.integers(-300, 300))
def test_q2_shifting_a_week_is_undone_by_shifting_back(on: date, by: int) -> None:
    week = week_of(on)
    there = shift_week(week, by)
    assert weeks_between(week, there) == by
    assert shift_week(there, -by) == week
    assert (there > week) == (by > 0)


@pytest.mark.parametrize(
    ("week", "by", "result", "name"),
    [
        (Week(2026, 52), 1, Week(2026, 53), "2026-W53"),
        (Week(2026, 53), 1, Week(2027, 1), "2027-W01"),
        (Week(2025, 52), 1, Week(2026, 1), "2026-W01"),
        (Week(2027, 1), -1, Week(2026, 53), "2026-W53"),
    ],
)
def test_q2_weeks_are_counted_across_years_of_52_and_53(week: Week, by: int, result: Week, name: str) -> None:
    assert shift_week(week, by) == result
    assert week_name(result) == name


def test_q2_a_week_that_the_year_does_not_have_is_refused() -> None:
    with pytest.raises(ValueError, match="week"):
        week_days(Week(2025, 53))
