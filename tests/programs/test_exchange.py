"""Exercises go out of a club as a file and into one, whole or not at all, with every fault at its line."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from athletes import access
from programs import club_library, exchange
from programs.models import ClubExercise, Exercise, ShippedExercise
from tests import people
from tests.world import own_exercise

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"


@pytest.fixture
def who(db: None) -> Iterator[people.People]:
    who = people.wexenfold()
    with access.within(who.club):
        yield who


def with_own(who: people.People) -> None:
    shipped = ShippedExercise.objects.get(pk="goblet-squat")
    copy = club_library.Entry("squat", {**club_library.plain(shipped.document), "name": "Squat with a bell"})
    entries = [own_exercise("Wexenfold"), copy]
    club_library.save(club=who.club, entries=entries, by=who.coach, now=people.NOW)


def text_of(*rows: dict[str, Any]) -> str:
    return yaml.safe_dump({"schema": 1, "exercises": list(rows)}, sort_keys=False)


def row_of(**changes: Any) -> dict[str, Any]:
    entry = own_exercise("Wexenfold")
    return {"pattern": "squat", **entry.document, "earned_from": list(entry.earned_from), **changes}


# --- out and in again -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [exchange.YAML, exchange.JSON])
def test_what_goes_out_of_one_club_comes_into_another_and_goes_out_the_same(
    who: people.People, kind: str
) -> None:
    with_own(who)
    file = exchange.write(kind=kind, own_only=True)
    others = people.strangers()
    with access.within(others.club):
        read = exchange.read(file.encode())
        assert read.faults == ()
        assert {entry.slug for entry in read.entries} == {"hill-squat", "goblet-squat"}
        club_library.save(club=others.club, entries=read.entries, by=others.coach, now=people.NOW)
        assert exchange.write(kind=kind, own_only=True) == file


@pytest.mark.parametrize("kind", [exchange.YAML, exchange.JSON])
def test_the_whole_view_of_a_club_holds_each_exercise_once_and_changes_nothing_when_it_comes_back(
    who: people.People, kind: str
) -> None:
    with_own(who)
    file = exchange.write(kind=kind, own_only=False)
    document = json.loads(file) if kind == exchange.JSON else yaml.safe_load(file)
    slugs = [row["slug"] for row in document["exercises"]]
    assert sorted(slugs) == sorted(Exercise.objects.values_list("slug", flat=True))
    read = exchange.read(file.encode())
    assert read == exchange.Read(entries=(), same=len(slugs))


def test_the_whole_view_brings_a_club_its_own_exercises_and_no_copies_of_shipped_ones(
    who: people.People,
) -> None:
    with_own(who)
    file = exchange.write(kind=exchange.YAML, own_only=False)
    with access.within(people.strangers().club):
        read = exchange.read(file.encode())
        assert {entry.slug for entry in read.entries} == {"hill-squat", "goblet-squat"}


def test_what_goes_out_is_of_the_published_shape(who: people.People) -> None:
    published = json.loads((FIXTURES / "exercise-file.schema.json").read_text(encoding="utf-8"))
    assert published == exchange.SCHEMA
    Draft202012Validator.check_schema(published)
    document = json.loads(exchange.write(kind=exchange.JSON, own_only=False))
    assert list(Draft202012Validator(published).iter_errors(document)) == []


# --- faults -----------------------------------------------------------------------------------------------------------


def test_every_fault_is_told_at_once_with_its_line_and_field(who: people.People) -> None:
    text = text_of(
        row_of(cues=["Only one."], measure="jumps"),
        row_of(slug="other-squat", name="Other squat", purpose="not a capital", surplus=1),
    )
    lines = text.splitlines()
    faults = exchange.read(text.encode()).faults
    told = {(fault.exercise, fault.field) for fault in faults}
    assert told >= {
        ("hill-squat", "cues"),
        ("hill-squat", "measure"),
        ("other-squat", "purpose"),
        ("other-squat", ""),
    }
    assert len(faults) == len(set(faults))
    for fault in faults:
        if fault.field:
            assert fault.line is not None
            assert lines[fault.line - 1].strip().startswith(f"{fault.field.split('.')[0]}:")
    assert not ClubExercise.objects.exists()


def test_a_fault_against_a_rule_of_the_library_has_its_line_too(who: people.People) -> None:
    text = text_of(row_of(amount={"low": 8, "high": 12}))
    (fault,) = exchange.read(text.encode()).faults
    assert (fault.exercise, fault.field) == ("hill-squat", "amount")
    assert "amount" in text.splitlines()[(fault.line or 0) - 1]


@pytest.mark.parametrize(
    ("data", "words", "line"),
    [
        (b"schema: 1\nexercises: [\n", "neither YAML nor JSON", 3),
        (b'{"schema": 1,\n "exercises": [,]}', "neither YAML nor JSON", 2),
        ("schema: 1\nname: Br\xfccke".encode("latin-1"), "not in UTF-8", 2),
        (b"a: &x [1]\nb: *x\n", "alias", 2),
        (b"[" * 40 + b"]" * 40, "nested too deeply", 1),
        (b"schema: 1\nschema: 1\nexercises: []\n", "twice", 2),
        (b"x" * (exchange.LARGEST + 1), "larger than 1 MB", None),
        (b"", "kind object", None),
        (b"schema: 2\nexercises: []\n", "Give 1, not 2", 1),
        (b"!!python/object/apply:os.getcwd []", "neither YAML nor JSON", 1),
    ],
)
def test_what_is_no_such_file_is_refused_with_the_reason(
    who: people.People, data: bytes, words: str, line: int | None
) -> None:
    faults = exchange.read(data).faults
    assert faults
    assert any(words in fault.words and fault.line == line for fault in faults), faults


def test_a_slug_of_an_address_and_a_slug_given_twice_are_refused(who: people.People) -> None:
    text = text_of(row_of(slug="library"), row_of(name="Again"), row_of(name="And again"))
    told = {(fault.exercise, fault.words[:12]) for fault in exchange.read(text.encode()).faults}
    assert ("library", "This word is") in told
    assert ("hill-squat", "Another exer") in told


@given(data=st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)))
def test_no_file_at_all_brings_the_reading_down(data: bytes) -> None:
    try:
        document, lines = exchange._parse(data)
    except exchange._Unreadable as fault:
        assert fault.words
    else:
        list(exchange._shape(document, lines))
