"""K7, S3, I13: what one rep moves, the body counted in; for reports only, and never under 18."""

from dataclasses import fields, is_dataclass
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.engine.effective_load import SHARES, EffectiveLoad, Segment, effective_load, share_moved
from programs.engine.estimates import Withheld
from programs.engine.target_facts import TargetFacts

MASSES = st.decimals(30, 200, places=1)
SHARE = st.decimals(0, 1, places=3)


def test_k7_effective_load_is_the_external_load_and_the_share_of_the_body() -> None:
    found = effective_load(Decimal(16), body_mass_kg=Decimal(70), share=Decimal("0.878"), under_18=False)
    assert found == EffectiveLoad(Decimal("77.46"), Decimal(16), Decimal("61.46"))


@given(MASSES, SHARE, st.decimals(0, 200, places=2))
def test_k7_it_lies_between_the_external_load_and_that_with_the_whole_body(
    mass: Decimal, share: Decimal, external: Decimal
) -> None:
    found = effective_load(external, body_mass_kg=mass, share=share, under_18=False)
    assert isinstance(found, EffectiveLoad)
    assert external <= found.kg <= external + mass
    assert found.kg == found.external_kg + found.body_kg


@given(MASSES, SHARE, st.decimals(0, 200, places=2))
def test_s3_under_18_nothing_is_worked_out_from_a_body_mass(
    mass: Decimal, share: Decimal, external: Decimal
) -> None:
    found = effective_load(external, body_mass_kg=mass, share=share, under_18=True)
    assert isinstance(found, Withheld)
    assert [(reason.rule, reason.key) for reason in found.reasons] == [("S3", "body-mass-under-18")]
    assert found.reasons[0].figures == {}


@pytest.mark.parametrize(
    ("external", "mass", "share", "what"),
    [
        ("16", "70", "1.01", "share"),
        ("16", "70", "-0.1", "share"),
        ("16", "0", "0.5", "body mass"),
        ("-1", "70", "0.5", "external"),
    ],
)
def test_k7_what_cannot_be_is_refused(external: str, mass: str, share: str, what: str) -> None:
    with pytest.raises(ValueError, match=what):
        effective_load(Decimal(external), body_mass_kg=Decimal(mass), share=Decimal(share), under_18=False)


def test_k7_what_stays_still_is_taken_off_the_whole_body() -> None:
    assert share_moved([]) == 1
    both_sides = [segment for segment in Segment if segment not in (Segment.TRUNK, Segment.HEAD_AND_NECK)]
    assert share_moved([*both_sides * 2, Segment.TRUNK, Segment.HEAD_AND_NECK]) == 0
    assert set(SHARES) == set(Segment)


def test_i13_no_question_about_a_target_has_a_place_for_a_body_mass() -> None:
    words = ("body_mass", "mass", "weight", "bmi")
    assert is_dataclass(TargetFacts)
    assert [part.name for part in fields(TargetFacts) if any(word in part.name for word in words)] == []
