"""S1 against the published pre-participation algorithm.

Source: Riebe D, Franklin BA, Thompson PD, Garber CE, Whitfield GP, Magal M, Pescatello LS. Updating ACSM's
recommendations for exercise preparticipation health screening. Med Sci Sports Exerc 2015;47(11):2473-2479.

Tags: C1 seen in the primary text; M from memory, not seen in a page, to be confirmed by a person. That there are three
inputs, and that risk factors are none of them, is C1. The outcome of each cell is M.
"""

from dataclasses import fields, replace
from datetime import date
from itertools import product

import pytest

from athletes.screening import LIMITING, AdultAnswers, Intensity, Needs, screen_adult

ON = date(2026, 3, 2)
RIEBE = "Riebe 2015"
LIGHT, VIGOROUS = Intensity.LIGHT_TO_MODERATE, Intensity.VIGOROUS
WELL = AdultAnswers(**dict.fromkeys(LIMITING, False))

#: Source, tag, row, active, disease, symptoms, outcome for light to moderate, outcome for vigorous.
ROWS = [
    (RIEBE, "M", 1, False, False, False, Needs.NOTHING, Needs.LIGHT_ONLY),
    (RIEBE, "M", 2, False, True, False, Needs.CLEARANCE, Needs.CLEARANCE),
    (RIEBE, "M", 3, False, False, True, Needs.CLEARANCE, Needs.CLEARANCE),
    (RIEBE, "M", 4, False, True, True, Needs.CLEARANCE, Needs.CLEARANCE),
    (RIEBE, "M", 5, True, False, False, Needs.NOTHING, Needs.NOTHING),
    (RIEBE, "M", 6, True, True, False, Needs.NOTHING, Needs.CLEARANCE),
    (RIEBE, "M", 7, True, False, True, Needs.STOP, Needs.STOP),
    (RIEBE, "M", 8, True, True, True, Needs.STOP, Needs.STOP),
]


def needs(active: bool, disease: bool, symptoms: bool, intensity: Intensity) -> Needs:
    answers = replace(WELL, active=active, disease=disease, symptoms=symptoms, intensity=intensity)
    return screen_adult(answers, on=ON).needs


@pytest.mark.parametrize(("source", "tag", "row", "active", "disease", "symptoms", "light", "vigorous"), ROWS)
def test_s1_each_row_gives_the_published_outcome(
    source, tag, row, active, disease, symptoms, light, vigorous
):
    assert needs(active, disease, symptoms, LIGHT) is light, (source, tag, row)
    assert needs(active, disease, symptoms, VIGOROUS) is vigorous, (source, tag, row)


def test_s1_the_table_covers_every_combination_once():
    assert {row[3:6] for row in ROWS} == set(product((True, False), repeat=3))


def is_clearance(outcome: Needs) -> bool:
    return outcome in (Needs.CLEARANCE, Needs.STOP)


def test_s1_symptoms_always_ask_for_clearance():
    # Riebe 2015 (M): the invariant of rows 3, 4, 7 and 8.
    for active, disease, intensity in product((True, False), (True, False), Intensity):
        assert is_clearance(needs(active, disease, True, intensity))


def test_s1_only_row_6_changes_its_clearance_with_the_intensity():
    # Riebe 2015 (M).
    changed = [
        inputs
        for inputs in product((True, False), repeat=3)
        if is_clearance(needs(*inputs, LIGHT)) != is_clearance(needs(*inputs, VIGOROUS))
    ]
    assert changed == [(True, True, False)]


def test_s1_adding_disease_or_symptoms_never_removes_a_clearance():
    # Riebe 2015 (M).
    for active, other, intensity in product((True, False), (True, False), Intensity):
        assert is_clearance(needs(active, False, other, intensity)) <= is_clearance(
            needs(active, True, other, intensity)
        )
        assert is_clearance(needs(active, other, False, intensity)) <= is_clearance(
            needs(active, other, True, intensity)
        )


def test_s1_row_6_takes_a_clearance_of_the_last_twelve_months():
    # Riebe 2015 (M): "within the last 12 months if no change in signs or symptoms".
    answers = replace(WELL, active=True, disease=True, symptoms=False, intensity=VIGOROUS)
    assert screen_adult(answers, on=ON).clearance_from == date(2025, 3, 2)


def test_s1_risk_factors_are_not_asked_for():
    # Riebe 2015 (C1): three inputs; counting of risk factors dropped, lung disease no longer refers by itself.
    asked = {one.name for one in fields(AdultAnswers)} - set(LIMITING)
    assert asked == {"active", "disease", "symptoms", "intensity"}
    assert not [
        name
        for name in LIMITING
        for word in ("smok", "cholesterol", "family", "weight", "lung")
        if word in name
    ]
