"""T1, T2 and T4 against what is published about pain during training and about warning symptoms.

The sources disagree below 5 and none covers every site: a gate may be stricter than a source, never milder. What is
this project's own choice is tested with the rules, not here.
"""

from datetime import date, timedelta

import pytest

from athletes.concerns import BodyReport, Gate, Symptom, SymptomReport, Urgency
from athletes.triage import assess, gate_for
from athletes.vocabulary import Region, Side
from tests.reference.checks import Between, Check, Confidence, Source, against
from tests.reference.sources import (
    BOONSTRA,
    CLINIC,
    CSCCA,
    GREENHALGH,
    NHS,
    NICE_CLOT,
    NICE_HEAD,
    SILBERNAGEL,
    SPINAL_FLAGS,
    THOMEE,
)

ON = date(2026, 3, 20)
C1, C2, M = Confidence.C1, Confidence.C2, Confidence.M


def report(days_ago: int, during: int, morning: int, region: Region = Region.ANKLE) -> BodyReport:
    return BodyReport(ON - timedelta(days=days_ago), region, Side.LEFT, during, morning)


def gate(*reports: BodyReport) -> Gate:
    found = assess(reports, [], [], [], on=ON, under_18=False)
    return gate_for(frozenset({reports[-1].region}), frozenset(), found)[0]


def reading(source: Source, how: Confidence, what: str, scores: tuple[int, int], *gates: Gate) -> Check:
    """What a source says of a pain during training and one the next morning: the mildest and strictest gate."""
    inputs = f"{scores[0]} during, {scores[1]} in the morning"
    return Check("T1", what, inputs, scores, Between(*gates), source, how, f"readings of {source.cite}")


@against(
    reading(THOMEE, M, "0 to 2 is safe", (0, 0), Gate.FREE, Gate.FREE),
    reading(THOMEE, M, "0 to 2 is safe", (2, 2), Gate.FREE, Gate.FREE),
    reading(THOMEE, M, "above 2 to 5 is acceptable, no increase", (3, 1), Gate.HOLD, Gate.EASE),
    reading(THOMEE, M, "above 2 to 5 is acceptable, no increase", (5, 2), Gate.HOLD, Gate.EASE),
    reading(THOMEE, M, "above 5 is high risk", (7, 2), Gate.STOP, Gate.STOP),
    reading(SILBERNAGEL, C2, "pain up to 5 is allowed", (5, 5), Gate.HOLD, Gate.EASE),
    reading(SILBERNAGEL, C2, "pain above 5 is not", (6, 0), Gate.STOP, Gate.STOP),
    reading(SILBERNAGEL, C2, "higher the next day, so less load", (2, 5), Gate.EASE, Gate.STOP),
    reading(SILBERNAGEL, C2, "settled, so repeat or a little more", (4, 1), Gate.HOLD, Gate.EASE),
    reading(SILBERNAGEL, M, "above 5 the next morning is not allowed", (5, 6), Gate.EASE, Gate.STOP),
    reading(CLINIC, C2, "3 is safe", (3, 0), Gate.FREE, Gate.HOLD),
    reading(CLINIC, C2, "4 and 5 are acceptable", (4, 4), Gate.HOLD, Gate.EASE),
    reading(CLINIC, C2, "above 5 is unacceptable", (6, 6), Gate.STOP, Gate.STOP),
)
def test_t1_no_gate_is_milder_than_the_source_reads_the_score(given: tuple[int, int]) -> Gate:
    return gate(report(1, *given))


@pytest.mark.parametrize("region", list(Region))
@pytest.mark.parametrize("score", range(6, 11))
def test_t1_above_5_stops_in_every_reading_and_at_every_site(score: int, region: Region) -> None:
    # The three readings agree on this alone. Sites other than the Achilles tendon are an extrapolation.
    assert gate(report(1, score, 0, region)) is Gate.STOP
    assert gate(report(1, 0, score, region)) is Gate.STOP


def test_t1_where_the_readings_differ_at_3_the_stricter_one_is_taken() -> None:
    assert gate(report(1, 3, 0)) is Gate.HOLD


@against(
    Check("T2", "whether a coach is called", "4 a week after 2", (2, 4), [Urgency.SOON], SILBERNAGEL, M,
          "no rise from week to week"),
    Check("T2", "whether a coach is called", "2 a week after 2", (2, 2), [], SILBERNAGEL, M,
          "no rise from week to week"),
)  # fmt: skip
def test_t2_a_score_that_rises_from_week_to_week_calls_a_coach(given: tuple[int, int]) -> list[Urgency]:
    """Published: pain and stiffness must not rise from week to week. Here: by 2, to 3 or more."""
    before, after = given
    found = assess([report(8, before, before), report(1, after, after)], [], [], [], on=ON, under_18=False)
    return [concern.urgency for concern in found.concerns]


@against(
    Check(
        "T1", "whether it was called severe", f"score {score}", score, severe, BOONSTRA, C1, "severe from 8"
    )
    for score, severe in ((7, False), (8, True), (10, True))
)
def test_t1_what_was_called_severe_stops_everything(given: int) -> bool:
    """That everything then stops is this project's choice."""
    return assess([report(1, given, 0)], [], [], [], on=ON, under_18=False).stops_everything


#: Who publishes the category, how that is known, the symptoms that stand for it here.
CATEGORIES = [
    (
        GREENHALGH,
        C1,
        {Symptom.BLADDER_OR_BOWEL, Symptom.SADDLE_NUMBNESS_LASTING, Symptom.BOTH_LEGS_WEAK},
    ),
    (SPINAL_FLAGS, C1, {Symptom.FEVER_WITH_BACK_PAIN}),
    (
        NHS,
        M,
        {
            Symptom.CHEST_PAIN,
            Symptom.PALPITATIONS,
            Symptom.FAINTING,
            Symptom.BREATHLESS_AT_REST,
            Symptom.FACE_OR_SPEECH,
            Symptom.LIMPING_CHILD,
        },
    ),
    (NICE_CLOT, M, {Symptom.CALF_SWELLING}),
    (NICE_HEAD, M, {Symptom.HEAD_INJURY}),
    (CSCCA, C1, {Symptom.DARK_URINE}),
]


@against(
    Check("T4", "a warning symptom stops everything and calls a coach now", symptom.value, symptom,
          (True, [Urgency.NOW]), source, how, "warning symptoms")
    for source, how, symptoms in CATEGORIES
    for symptom in sorted(symptoms)
)  # fmt: skip
def test_t4_every_published_category_stops_everything(given: Symptom) -> tuple[bool, list[Urgency]]:
    found = assess([], [SymptomReport(ON, symptom=given)], [], [], on=ON, under_18=False)
    return found.stops_everything, [concern.urgency for concern in found.concerns]


def test_t4_every_warning_symptom_has_a_published_category() -> None:
    assert set().union(*(symptoms for _source, _how, symptoms in CATEGORIES)) == set(Symptom)
