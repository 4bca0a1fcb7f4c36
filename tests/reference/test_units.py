"""Q1 against published conversions and against pint.

Tags: C2 seen in a page that restates the source; CALC exact arithmetic from the definition; M from memory, unverified.
"""

from decimal import Decimal

import pint
import pytest

from programs.engine.quantities import POUND, kg_to_pounds, pounds_to_kg, shown_mass

#: NIST Special Publication 811 and the international yard and pound agreement of 1959 (citation M, arithmetic CALC).
POUNDS_TO_KG = [
    ("2.5", "1.1340"),
    ("5", "2.2680"),
    ("10", "4.5359"),
    ("25", "11.3398"),
    ("35", "15.8757"),
    ("45", "20.4117"),
    ("100", "45.3592"),
    ("135", "61.2350"),
    ("225", "102.0583"),
]
KG_TO_POUNDS = [
    ("1.25", "2.7558"),
    ("2.5", "5.5116"),
    ("5", "11.0231"),
    ("10", "22.0462"),
    ("15", "33.0693"),
    ("20", "44.0925"),
    ("25", "55.1156"),
    ("100", "220.4623"),
]


@pytest.mark.parametrize(("pounds", "kg"), POUNDS_TO_KG)
def test_q1_pounds_in_kilograms_as_published(pounds: str, kg: str) -> None:
    assert str(shown_mass(pounds_to_kg(Decimal(pounds)), "kg", 4)) == kg


@pytest.mark.parametrize(("kg", "pounds"), KG_TO_POUNDS)
def test_q1_kilograms_in_pounds_as_published(kg: str, pounds: str) -> None:
    assert str(shown_mass(Decimal(kg), "lb", 4)) == pounds


def test_q1_the_pound_agrees_with_pint_to_the_last_digit_of_its_decimals() -> None:
    exact = pint.UnitRegistry(non_int_type=Decimal)
    assert exact.Quantity(Decimal(1), "pound").to("kilogram").magnitude == POUND
    # With floats pint is a hair off, which is why the engine has none.
    loose = pint.UnitRegistry()
    assert loose.Quantity(1, "pound").to("kilogram").magnitude == pytest.approx(float(POUND), rel=1e-15)


@pytest.mark.parametrize("pounds", ["0.5", "2.5", "11", "45", "77.5", "315"])
def test_q1_conversions_agree_with_pint(pounds: str) -> None:
    exact = pint.UnitRegistry(non_int_type=Decimal)
    mass = exact.Quantity(Decimal(pounds), "pound").to("kilogram").magnitude
    assert pounds_to_kg(Decimal(pounds)) == pytest.approx(mass, rel=Decimal("1e-24"))
    back = exact.Quantity(mass, "kilogram").to("pound").magnitude
    assert kg_to_pounds(mass) == pytest.approx(back, rel=Decimal("1e-24"))
