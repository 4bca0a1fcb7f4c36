"""The printed schema describes exactly the documents that the codec writes and reads; jsonschema is the judge."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from athletes.concerns import SiteGate
from programs.engine.codec import FactsError, from_document, to_document
from programs.engine.facts import Item, Library, SessionDecision, WeekDecision, WeekFacts
from programs.engine.schema import shape_of
from tests.engine.samples import LIBRARY
from tests.engine.test_codec import FACTS, altered

KINDS = [WeekFacts, WeekDecision, Library, SessionDecision]


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_is_a_sound_schema(kind: type) -> None:
    Draft202012Validator.check_schema(shape_of(kind))


@pytest.mark.parametrize("value", [FACTS, LIBRARY])
def test_a_written_document_satisfies_the_schema(value: object) -> None:
    Draft202012Validator(shape_of(type(value))).validate(to_document(value))


@settings(max_examples=40, deadline=None)
@given(st.from_type(Item))
def test_any_decision_that_is_written_satisfies_the_schema(decision: Item) -> None:
    ITEMS.validate(to_document(decision))


ITEMS = Draft202012Validator(shape_of(Item))
FACTS_SHAPE = Draft202012Validator(shape_of(WeekFacts))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("week", "number"), "53"),
        (("week", "number"), True),
        (("rider", "growth"), "maybe"),
        (("rider", "hat"), 1),
        (("today",), "20261227"),
        (("exposures", 0, "target", "load", "kg"), 12.5),
        (("exposures", 0, "target", "load", "kg"), "1e99"),
        (("fixed_days", 0), [1]),
        (("fixed_days", 0), [1, "2026-12-29", 3]),
        (("venues", 0, 1, "furniture"), ["bench", "bench"]),
        (("openings",), None),
        (("week",), {"year": 2026}),
        (("rider", "why_not", "figures", "row"), []),
    ],
)
def test_what_the_reader_refuses_the_schema_refuses_too(path: tuple[str | int, ...], value: object) -> None:
    document: Any = altered(path, value)
    assert not FACTS_SHAPE.is_valid(document)
    with pytest.raises(FactsError):
        from_document(WeekFacts, document)


def test_each_type_is_described_once_in_its_own_words() -> None:
    shape: Any = shape_of(WeekFacts)
    assert shape["$defs"]["Week"]["description"].startswith("An ISO 8601 week.")
    assert shape["$defs"]["Week"]["required"] == ["year", "number"]
    assert "description" not in shape["$defs"]["Race"]


def test_a_numbered_choice_lists_its_numbers() -> None:
    shape: Any = shape_of(SiteGate)
    assert shape["$defs"]["Gate"]["enum"] == [0, 1, 2, 3, 4]
    assert set(shape["$defs"]) == {"SiteGate", "Gate", "Region", "Side", "Reason"}
