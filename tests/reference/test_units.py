"""Q1 against published conversions and against pint."""

from decimal import Decimal

import pint
import pytest

from programs.engine.quantities import POUND as POUND_KG
from programs.engine.quantities import kg_to_pounds, pounds_to_kg, shown_mass
from tests.reference.checks import Check, Confidence, against
from tests.reference.sources import POUND

POUNDS_TO_KG = {
    "2.5": "1.1340",
    "5": "2.2680",
    "10": "4.5359",
    "25": "11.3398",
    "35": "15.8757",
    "45": "20.4117",
    "100": "45.3592",
    "135": "61.2350",
    "225": "102.0583",
}
KG_TO_POUNDS = {
    "1.25": "2.7558",
    "2.5": "5.5116",
    "5": "11.0231",
    "10": "22.0462",
    "15": "33.0693",
    "20": "44.0925",
    "25": "55.1156",
    "100": "220.4623",
}


def mass(what: str, given: str, expected: str, confidence: Confidence = Confidence.CALC) -> Check:
    return Check("Q1", what, given, given, expected, POUND, confidence, family=what)


@against(mass("pounds in kilograms", pounds, kg) for pounds, kg in POUNDS_TO_KG.items())
def test_q1_pounds_in_kilograms_as_published(given: str) -> str:
    return str(shown_mass(pounds_to_kg(Decimal(given)), "kg", 4))


@against(mass("kilograms in pounds", kg, pounds) for kg, pounds in KG_TO_POUNDS.items())
def test_q1_kilograms_in_pounds_as_published(given: str) -> str:
    return str(shown_mass(Decimal(given), "lb", 4))


@against(mass("one pound, to its last digit", "1", "0.45359237", Confidence.M))
def test_q1_the_pound_is_the_international_one(given: str) -> str:
    return str(pounds_to_kg(Decimal(given)))


def test_q1_the_pound_agrees_with_pint_to_the_last_digit_of_its_decimals() -> None:
    exact = pint.UnitRegistry(non_int_type=Decimal)
    assert exact.Quantity(Decimal(1), "pound").to("kilogram").magnitude == POUND_KG
    # With floats pint is a hair off, which is why the engine has none.
    loose = pint.UnitRegistry()
    assert loose.Quantity(1, "pound").to("kilogram").magnitude == pytest.approx(float(POUND_KG), rel=1e-15)


@pytest.mark.parametrize("pounds", ["0.5", "2.5", "11", "45", "77.5", "315"])
def test_q1_conversions_agree_with_pint(pounds: str) -> None:
    exact = pint.UnitRegistry(non_int_type=Decimal)
    mass = exact.Quantity(Decimal(pounds), "pound").to("kilogram").magnitude
    assert pounds_to_kg(Decimal(pounds)) == pytest.approx(mass, rel=Decimal("1e-24"))
    back = exact.Quantity(mass, "kilogram").to("pound").magnitude
    assert kg_to_pounds(mass) == pytest.approx(back, rel=Decimal("1e-24"))
