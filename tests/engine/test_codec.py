"""Facts and decisions as documents: what is written is what was meant, and what does not fit is refused by name."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from athletes.concerns import BodyReport, Gate, ReportKind, SiteGate
from athletes.vocabulary import Day, Implement, Reason, Region, Side
from programs.engine.codec import FactsError, canonical, digest, from_document, to_document
from programs.engine.facts import (
    Barbell,
    Cost,
    Done,
    Exercise,
    Exposure,
    Holding,
    Item,
    Kit,
    Load,
    Measure,
    Opening,
    Rider,
    Slot,
    Target,
    Week,
    WeekFacts,
)
from tests.engine.samples import HALL, KETTLEBELL, LIBRARY, bell, kettlebells

FACTS = WeekFacts(
    week=Week(2026, 53),
    today=date(2026, 12, 27),
    rider=Rider(34, 35, why_not=Reason("S1", "not-cleared", {"row": 2, "active": False, "by": None})),
    blocks=(),
    openings=(),
    venues=(("hall", HALL),),
    exposures=(
        Exposure(
            date(2026, 12, 20),
            "goblet",
            Target(Measure.REPS, 3, 8, bell("12.50")),
            Done((8, 8, 7), load=bell(12), reps_left=2),
        ),
    ),
    reports=(BodyReport(date(2026, 12, 21), Region.KNEE, Side.LEFT, during=3),),
    fixed_days=((1, date(2026, 12, 29)),),
)


@pytest.mark.parametrize(
    ("value", "document"),
    [
        (bell("12.50"), {"holding": {"implement": "kettlebell", "count": 1}, "kg": "12.5", "band": None}),
        (
            SiteGate(Region.KNEE, Side.LEFT, Gate.EASE, (Reason("T1", "ease", {"b": 1, "a": True}),)),
            {
                "region": "knee",
                "side": "left",
                "gate": 3,
                "reasons": [{"rule": "T1", "key": "ease", "figures": {"a": True, "b": 1}}],
            },
        ),
        (
            Barbell(Decimal("20.0"), Decimal(0), ((Decimal("1E+1"), 2),)),
            {"bar_kg": "20", "collars_kg": "0", "disc_pairs": [["10", 2]]},
        ),
    ],
)
def test_a_value_has_one_document(value: object, document: object) -> None:
    assert to_document(value) == document
    assert from_document(type(value), document) == value


def test_a_set_is_a_sorted_list() -> None:
    document = to_document(HALL)
    assert isinstance(document, dict)
    assert document["furniture"] == ["bench", "rack-with-safeties"]


@pytest.mark.parametrize("value", [FACTS, LIBRARY, HALL])
def test_a_document_read_back_is_the_same_value(value: object) -> None:
    assert from_document(type(value), to_document(value)) == value


def test_what_a_document_leaves_out_takes_its_default() -> None:
    assert from_document(Holding, {"implement": "barbell"}) == Holding(Implement.BARBELL, 1)


def altered(path: tuple[str | int, ...], value: object) -> Any:
    """The facts' document with one place changed."""
    document: Any = to_document(FACTS)
    place = document
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return document


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        (("week", "number"), "53", "week.number: expected a whole number, found the text '53'"),
        (("week", "number"), 53.0, "week.number: expected a whole number, found the number 53.0"),
        (("week", "number"), True, "week.number: expected a whole number, found true"),
        (("rider", "paused"), 1, "rider.paused: expected true or false, found the number 1"),
        (
            ("rider", "growth"),
            "maybe",
            "rider.growth: expected one of yes, no, unknown, found the text 'maybe'",
        ),
        (("rider", "hat"), 1, "rider: expected only fields of Rider, found the field 'hat'"),
        (("today",), "20261227", 'today: expected a date as text, such as "2026-03-31", found the text'),
        (("today",), "2026-02-30", "today: expected a date as text"),
        (("today",), None, "today: expected a date as text"),
        (("openings",), None, "openings: expected a list, found nothing (null)"),
        (
            ("exposures", 0, "target", "load", "kg"),
            12.5,
            "exposures[0].target.load.kg: expected a decimal as text",
        ),
        (
            ("exposures", 0, "target", "load", "kg"),
            "NaN",
            "exposures[0].target.load.kg: expected a decimal as text",
        ),
        (("exposures", 0, "target", "load", "kg"), "1e99", "exposures[0].target.load.kg: expected a decimal"),
        (
            ("exposures", 0, "done", "amounts", 1),
            "8",
            "exposures[0].done.amounts[1]: expected a whole number",
        ),
        (("fixed_days", 0), [1], "fixed_days[0]: expected a list of 2, found a list of 1"),
        (
            ("venues", 0, 1, "furniture"),
            ["bench", "bench"],
            "venues[0][1].furniture: expected a list without repeats",
        ),
        (("venues", 0, 1, "furniture", 0), "sofa", "venues[0][1].furniture[0]: expected one of chair, bench"),
        (
            ("rider", "why_not", "figures", "row"),
            [],
            "rider.why_not.figures.row: expected text, a whole number",
        ),
        (("rider", "why_not", "figures"), [], "rider.why_not.figures: expected an object"),
        (("rider",), [], "rider: expected an object (Rider), found a list of 0"),
    ],
)
def test_what_does_not_fit_is_refused_with_its_path(
    path: tuple[str | int, ...], value: object, message: str
) -> None:
    with pytest.raises(FactsError) as refused:
        from_document(WeekFacts, altered(path, value))
    assert str(refused.value).startswith(message)


def test_a_missing_field_is_named() -> None:
    with pytest.raises(FactsError, match=r"^week\.number: expected a value, found no such field$"):
        from_document(WeekFacts, altered(("week",), {"year": 2026}))


def test_a_document_that_is_no_object_is_refused() -> None:
    with pytest.raises(FactsError, match=r"^the document: expected an object \(Week\), found a list of 2$"):
        from_document(Week, [2026, 53])


@pytest.mark.parametrize(
    ("value", "path"),
    [
        (replace(bell(12), kg=12.5), "kg"),  # type: ignore[arg-type]
        (replace(bell(12), kg=Decimal("NaN")), "kg"),
        (replace(FACTS, today=datetime(2026, 12, 27, 9, 0)), "today"),  # noqa: DTZ001 - refused
        (replace(FACTS, fixed_days=[(1, date(2026, 12, 29))]), "fixed_days"),  # type: ignore[arg-type]
        (replace(FACTS, week=(2026, 53)), "week"),  # type: ignore[arg-type]
        (Holding("kettlebell"), "implement"),  # type: ignore[arg-type]
        (Kit(furniture={"bench"}), "furniture"),  # type: ignore[arg-type]
    ],
)
def test_a_value_that_breaks_its_own_types_is_not_written(value: object, path: str) -> None:
    with pytest.raises(FactsError) as refused:
        to_document(value)
    assert refused.value.path == path


@dataclass(frozen=True, slots=True)
class Awkward:
    either: Week | Holding


@dataclass(frozen=True, slots=True)
class ByDay:
    days: dict[str, Day]


def test_a_type_whose_documents_could_be_read_two_ways_is_refused() -> None:
    with pytest.raises(TypeError, match="choice"):
        to_document(Awkward(Week(2026, 1)))


def test_a_mapping_is_an_object_and_a_numbered_choice_its_number() -> None:
    value = ByDay({"second": Day.FRIDAY, "first": Day.MONDAY})
    assert canonical(to_document(value)) == '{"days":{"first":0,"second":4}}'
    assert from_document(ByDay, to_document(value)) == value


def test_equal_values_have_equal_digests_however_they_were_written() -> None:
    one, other = Kit(fixed=kettlebells("8.0")), Kit(fixed=kettlebells("8"))
    assert one == other
    assert digest(to_document(one)) == digest(to_document(other))
    assert digest(to_document(bell(8))) != digest(to_document(bell("8.1")))


DIGEST_OF_WEEK_53 = "4092c23a4ba1528585e45aeaa45694d8abf95878844a6de41a16673f20cc59db"


def test_the_digest_is_the_sha_256_of_the_canonical_text() -> None:
    # Computed with coreutils: printf '%s' '{"number":53,"year":2026}' | sha256sum
    assert digest({"year": 2026, "number": 53}) == DIGEST_OF_WEEK_53


DECIMALS = st.decimals(min_value=-9999, max_value=9999, places=3)
st.register_type_strategy(Decimal, DECIMALS)
KINDS = [Item, Kit, Exercise, Exposure, Rider, Opening, SiteGate, Cost, Slot]
VALUES: st.SearchStrategy[object] = st.sampled_from(KINDS).flatmap(st.from_type)


@settings(max_examples=60, deadline=None)
@given(VALUES)
def test_i8_any_value_survives_being_stored(value: object) -> None:
    document = to_document(value)
    again = from_document(type(value), document)
    assert again == value
    assert digest(to_document(again)) == digest(document)


@given(st.sampled_from(["kg", "band", "holding"]), st.sampled_from([None, 1, "x", [], {}, True, 1.5]))
def test_any_wrong_value_is_refused_and_none_breaks_the_reader(name: str, value: object) -> None:
    document: Any = to_document(Load(KETTLEBELL, Decimal(8)))
    document[name] = value
    try:
        read = from_document(Load, document)
    except FactsError as refused:
        assert refused.path.startswith(name)
    else:
        assert to_document(read)[name] == value  # type: ignore[call-overload, index]


def test_a_kind_of_report_is_written_as_its_word() -> None:
    document = to_document(FACTS.reports[0])
    assert isinstance(document, dict)
    assert document["kind"] == ReportKind.PAIN.value


@pytest.mark.parametrize(
    ("value", "found"),
    [
        (False, "found false"),
        (True, "found true"),
        ("x" * 58, f"found the text '{'x' * 58}'"),
        ("x" * 59, f"found the text '{'x' * 59}..."),
    ],
)
def test_what_does_not_fit_is_shown_in_words_that_fit_on_a_line(value: object, found: str) -> None:
    with pytest.raises(FactsError) as refused:
        from_document(Barbell, {"bar_kg": value})
    assert str(refused.value).endswith(found)
