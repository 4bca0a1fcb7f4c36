"""Masses and weeks (rules Q1 and Q2).

Q1  Loads are exact decimals in kilograms. S: the international pound, 1 lb = 0.45359237 kg exactly. A value is shown in
    the rider's unit and stored in the unit it was entered in as well. Rounding for display is half-up and never feeds
    back into a computation.
Q2  S: ISO 8601. A week starts on Monday and belongs to the year that holds its Thursday; sessions have local dates.

>>> str(pounds_to_kg(Decimal(45)))
'20.41165665'
>>> week_of(date(2027, 1, 1))
Week(year=2026, number=53)
"""

from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Context, Decimal
from functools import lru_cache
from typing import Literal

from programs.engine.facts import Week

#: One international pound in kilograms, exactly.
POUND = Decimal("0.45359237")

type Unit = Literal["kg", "lb"]

# A context of the engine's own: the caller's ambient precision must not be able to change a decision.
_CONTEXT = Context(prec=50)


def pounds_to_kg(pounds: Decimal) -> Decimal:
    """The mass in kilograms, exact (Q1)."""
    return _CONTEXT.multiply(pounds, POUND)


def kg_to_pounds(kg: Decimal) -> Decimal:
    """The mass in pounds to 50 significant digits (Q1). For display; the entered value is what is stored."""
    return _CONTEXT.divide(kg, POUND)


def shown_mass(kg: Decimal, unit: Unit, places: int = 1) -> Decimal:
    """The mass as it is shown in `unit`, rounded half-up to `places` decimals (Q1). Never computed with again."""
    value = kg_to_pounds(kg) if unit == "lb" else kg
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP, context=_CONTEXT)


def plain(value: Decimal) -> Decimal:
    """The same number in one form, so that 20, 20.0 and 2E+1 also look the same in a stored decision.

    >>> plain(Decimal("20.0")), plain(Decimal("2E+1")), plain(Decimal("2.50"))
    (Decimal('20'), Decimal('20'), Decimal('2.5'))
    """
    return Decimal(format(_CONTEXT.normalize(value), "f")) if value else Decimal(0)


def week_of(on: date) -> Week:
    """The ISO week that holds the date (Q2)."""
    year, number, _day = on.isocalendar()
    return Week(year, number)


def week_starts_on(week: Week) -> date:
    """The Monday of the week. Raises `ValueError` for a week that the year does not have."""
    return date.fromisocalendar(week.year, week.number, 1)


@lru_cache(maxsize=1024)
def week_days(week: Week) -> tuple[date, ...]:
    """The seven dates of the week, Monday first. Raises `ValueError` for a week that the year does not have."""
    monday = week_starts_on(week)
    return tuple(monday + timedelta(days=day) for day in range(7))


def shift_week(week: Week, by: int) -> Week:
    """The week that many weeks later (earlier when negative), across years of 52 and 53 weeks."""
    return week_of(week_starts_on(week) + timedelta(weeks=by))


def weeks_between(first: Week, second: Week) -> int:
    """How many weeks `second` comes after `first`; negative when before."""
    return (week_starts_on(second) - week_starts_on(first)).days // 7


def week_name(week: Week) -> str:
    """The week as ISO 8601 writes it, such as ``2026-W53``."""
    return f"{week.year:04d}-W{week.number:02d}"
