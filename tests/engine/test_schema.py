"""The printed schema describes exactly the documents that the codec writes and reads; jsonschema is the judge."""

import json
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from athletes.concerns import SiteGate
from programs.engine.__main__ import SCHEMAS, example, schema_text
from programs.engine.codec import FactsError, from_document, to_document
from programs.engine.facts import Item, Library, SessionDecision, WeekDecision, WeekFacts
from programs.engine.questions import QUESTIONS, answer, schema_files
from programs.engine.schema import shape_of
from tests.engine.mutations import mutated
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


# --- the schemas that are shipped -------------------------------------------------------------------------------------

RENEW = "run: python -m programs.engine schema --all programs/engine/schemas"
FORMATS = Draft202012Validator.FORMAT_CHECKER


def shipped_schema(name: str) -> Any:
    return json.loads((SCHEMAS / name).read_text("utf-8"))


def test_the_shipped_schemas_are_those_of_this_version() -> None:
    files = schema_files()
    assert {path.name for path in SCHEMAS.iterdir()} == set(files), RENEW
    for name, document in files.items():
        assert (SCHEMAS / name).read_text("utf-8") == schema_text(document), f"{name} is stale; {RENEW}"


@pytest.mark.parametrize("name", sorted(schema_files()))
def test_a_shipped_schema_is_sound_and_says_what_it_is_of(name: str) -> None:
    schema = shipped_schema(name)
    Draft202012Validator.check_schema(schema)
    assert f"python -m programs.engine {Path(name).stem.removesuffix('.answer')}" in schema["title"]


@pytest.mark.parametrize("verb", sorted(QUESTIONS))
def test_a_printed_answer_satisfies_its_shipped_schema_and_a_broken_one_does_not(verb: str) -> None:
    printed: Any = answer(verb, json.loads(example(verb)))
    judge = Draft202012Validator(shipped_schema(f"{verb}.answer.json"), format_checker=FORMATS)
    judge.validate(printed)
    assert not judge.is_valid({**printed, "kind": "Guess"})
    assert not judge.is_valid({**printed, "question": "guess"})
    assert not judge.is_valid({**printed, "answer": []})


@pytest.mark.parametrize("verb", sorted(QUESTIONS))
def test_the_schema_accepts_a_document_exactly_when_the_reader_does(verb: str) -> None:
    """Some hundred broken documents each: whoever validates first is never told otherwise by the engine."""
    judge = Draft202012Validator(shipped_schema(f"{verb}.json"), format_checker=FORMATS)
    document, chance = json.loads(example(verb)), Random(11)
    judge.validate(document)
    verdicts = []
    for _round in range(300):
        changed = mutated(document, chance)
        try:
            from_document(QUESTIONS[verb].takes, changed)
            is_read = True
        except FactsError as error:
            assert "\n" not in str(error)
            is_read = False
        assert judge.is_valid(changed) is is_read, changed
        verdicts.append(is_read)
    assert 5 < sum(verdicts) < 295


@pytest.mark.parametrize("value", [53.0, 10.0])
def test_a_whole_number_with_a_point_is_refused_by_the_reader_alone(value: float) -> None:
    """JSON Schema counts 53.0 as whole. The reader does not: one number has one form, and so one digest."""
    changed = json.loads(example("place"))
    changed["week"]["number"] = value
    assert Draft202012Validator(shipped_schema("place.json")).is_valid(changed)
    with pytest.raises(FactsError, match="week.number: expected a whole number"):
        from_document(QUESTIONS["place"].takes, changed)


def test_a_field_is_described_in_the_words_of_its_type() -> None:
    shape = shipped_schema("one-rep-max.json")
    fields = shape["$defs"]["MaximumQuestion"]["properties"]
    assert fields["under_18"]["description"] == "`under_18` must be said, since nothing is estimated then."
    assert fields["kg"]["description"].endswith("(a decimal as text)")
    week = shipped_schema("week.json")["$defs"]["WeekFacts"]["properties"]
    assert week["today"]["description"] == "`today` is the local date on which it is resolved."


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_says_by_which_draft_it_is_to_be_read(kind: type) -> None:
    assert shape_of(kind)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
