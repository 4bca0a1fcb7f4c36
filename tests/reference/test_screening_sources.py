"""S1 against the published pre-participation algorithm.

That there are three inputs, and that risk factors are none of them, was seen in the text. The outcome of each cell is
from memory, and is to be checked by a person.
"""

from dataclasses import fields, replace
from datetime import date
from itertools import product

from athletes.screening import LIMITING, AdultAnswers, Intensity, Needs, screen_adult
from tests.reference.checks import Check, Confidence, against
from tests.reference.sources import RIEBE

ON = date(2026, 3, 2)
LIGHT, VIGOROUS = Intensity.LIGHT_TO_MODERATE, Intensity.VIGOROUS
WELL = AdultAnswers(**dict.fromkeys(LIMITING, False))

#: Row, active, disease, symptoms, outcome for light to moderate, outcome for vigorous.
ROWS = [
    (1, False, False, False, Needs.NOTHING, Needs.LIGHT_ONLY),
    (2, False, True, False, Needs.CLEARANCE, Needs.CLEARANCE),
    (3, False, False, True, Needs.CLEARANCE, Needs.CLEARANCE),
    (4, False, True, True, Needs.CLEARANCE, Needs.CLEARANCE),
    (5, True, False, False, Needs.NOTHING, Needs.NOTHING),
    (6, True, True, False, Needs.NOTHING, Needs.CLEARANCE),
    (7, True, False, True, Needs.STOP, Needs.STOP),
    (8, True, True, True, Needs.STOP, Needs.STOP),
]


def needs(active: bool, disease: bool, symptoms: bool, intensity: Intensity) -> Needs:
    answers = replace(WELL, active=active, disease=disease, symptoms=symptoms, intensity=intensity)
    return screen_adult(answers, on=ON).needs


@against(
    Check("S1", f"row {row} for {intensity.value} training", f"active {active}, disease {disease}, symptoms {symptoms}",
          (active, disease, symptoms, intensity), outcome, RIEBE, Confidence.M, f"the table for {intensity.value}")
    for row, active, disease, symptoms, light, vigorous in ROWS
    for intensity, outcome in ((LIGHT, light), (VIGOROUS, vigorous))
)  # fmt: skip
def test_s1_each_row_gives_the_published_outcome(given: tuple[bool, bool, bool, Intensity]) -> Needs:
    return needs(*given)


def test_s1_the_table_covers_every_combination_once() -> None:
    assert {row[1:4] for row in ROWS} == set(product((True, False), repeat=3))


def is_clearance(outcome: Needs) -> bool:
    return outcome in (Needs.CLEARANCE, Needs.STOP)


@against(
    Check("S1", "combinations with symptoms that need no clearance", "all of them", True, 0, RIEBE, Confidence.M,
          "symptoms always refer"),
)  # fmt: skip
def test_s1_symptoms_always_ask_for_clearance(given: bool) -> int:
    return sum(
        not is_clearance(needs(active, disease, given, intensity))
        for active, disease, intensity in product((True, False), (True, False), Intensity)
    )


@against(
    Check("S1", "rows whose clearance depends on the intensity", "all rows", tuple(row[:4] for row in ROWS), [6],
          RIEBE, Confidence.M, "row 6 alone turns on intensity"),
)  # fmt: skip
def test_s1_only_row_6_changes_its_clearance_with_the_intensity(
    given: tuple[tuple[int, bool, bool, bool]],
) -> list[int]:
    return [
        row
        for row, *inputs in given
        if is_clearance(needs(*inputs, LIGHT)) != is_clearance(needs(*inputs, VIGOROUS))
    ]


def test_s1_adding_disease_or_symptoms_never_removes_a_clearance() -> None:
    for active, other, intensity in product((True, False), (True, False), Intensity):
        assert is_clearance(needs(active, False, other, intensity)) <= is_clearance(
            needs(active, True, other, intensity)
        )
        assert is_clearance(needs(active, other, False, intensity)) <= is_clearance(
            needs(active, other, True, intensity)
        )


@against(
    Check("S1", "oldest clearance that counts in row 6", "answers of 2026-03-02", ON, date(2025, 3, 2), RIEBE,
          Confidence.M, "clearance within 12 months"),
)  # fmt: skip
def test_s1_row_6_takes_a_clearance_of_the_last_twelve_months(given: date) -> date | None:
    """Published: within the last 12 months, if signs and symptoms have not changed."""
    answers = replace(WELL, active=True, disease=True, symptoms=False, intensity=VIGOROUS)
    return screen_adult(answers, on=given).clearance_from


@against(
    Check("S1", "what the algorithm asks", "", None, {"active", "disease", "symptoms", "intensity"}, RIEBE,
          Confidence.C1, "three inputs and the intensity"),
)  # fmt: skip
def test_s1_the_algorithm_has_three_inputs_and_the_intensity(given: None) -> set[str]:
    return {one.name for one in fields(AdultAnswers)} - set(LIMITING)


@against(
    Check("S1", "whether it is asked for", word, word, False, RIEBE, Confidence.C1, "risk factors dropped")
    for word in ("smok", "cholesterol", "family", "weight", "lung")
)
def test_s1_risk_factors_are_not_asked_for(given: str) -> bool:
    """Published: counting of risk factors is dropped, and lung disease no longer refers by itself."""
    return any(given in one.name for one in fields(AdultAnswers))
