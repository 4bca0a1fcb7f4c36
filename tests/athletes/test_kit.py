"""Kit in plain words, read and written back."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from athletes.kit import Item, Kit, read_kit, write_kit
from athletes.vocabulary import Furniture, Implement


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        (
            "kettlebell 8, 12, 16; dumbbell 2x5; band 1,2; chair; step",
            "kettlebell 8, 12, 16; dumbbell 2 x 5; band 1, 2; chair; step",
        ),
        ("2 dumbbells 5, 8 and 10 kg; pull-up bar", "dumbbell 2 x 5, 2 x 8, 2 x 10; pull up bar"),
        ("12 kg kettlebell\nPair of dumbbells 7.5", "kettlebell 12; dumbbell 2 x 7.5"),
        ("kettlebells: 18, 26 lb", "kettlebell 18, 26 lb"),
        (
            "barbell 20 with collars 0.5 and discs 2 x 1.25, 4 x 5; bench; rack with safeties",
            "barbell 20; collars 0.5; discs 2 x 1.25, 4 x 5; bench; rack with safeties",
        ),
        ("2 adjustable dumbbells 2.5 to 20 by 2.5", "2 adjustable dumbbells 2.5 to 20 by 2.5"),
        ("kettlebell 8, 8", "kettlebell 2 x 8"),
        ("rucksack 10; weighted vest 5", "vest 5; backpack 10"),
        ("none", ""),
        ("", ""),
    ],
)
def test_plain_words_are_read_and_what_is_written_reads_the_same(typed, read):
    kit, unread = read_kit(typed)
    assert unread == ()
    assert write_kit(kit) == read
    assert read_kit(read) == (kit, ())


@pytest.mark.parametrize(
    ("typed", "found", "expected"),
    [
        ("sledge", "sledge", "one of: kettlebell"),
        ("kettlebells eight", "kettlebells eight", "its masses in figures"),
        ("kettlebell", "kettlebell", "the mass as well"),
        ("dumbbell 7,5", "dumbbell 7,5", "a point in 7.5"),
        ("kettlebell 0", "kettlebell 0", "above 0"),
        ("kettlebell 900", "kettlebell 900", "up to 200 kg"),
        ("kettlebell 8 kg, 26 lb", "kettlebell 8 kg, 26 lb", "one unit"),
        ("band 9", "band 9", "levels from 1"),
        ("discs 2 x 5", "discs 2 x 5", "barbell before"),
        ("barbell 20; discs 5", "discs 5", "in pairs"),
        ("dumbbell 1 to 99 by 0", "dumbbell 1 to 99 by 0", "from the lightest up"),
    ],
)
def test_what_cannot_be_read_is_named_with_what_would_be(typed, found, expected):
    _kit, unread = read_kit(typed)
    assert unread[0].found == found
    assert expected in unread[0].expected


def test_a_rack_counts_only_with_safety_bars():
    assert read_kit("rack")[0].furniture == frozenset()
    assert read_kit("rack with safety bars")[0].furniture == {Furniture.RACK_WITH_SAFETIES}


def test_pounds_are_kept_as_typed_and_exact_in_kilograms():
    """The international pound is 0.45359237 kg exactly (agreement of 1959)."""
    (item,) = read_kit("kettlebell 18 lb")[0].items
    assert (item.entered, item.unit, item.kg) == (Decimal(18), "lb", Decimal("8.16466266"))


def test_a_barbell_keeps_its_discs_as_pairs_in_kilograms():
    (item,) = read_kit("barbell 45 lb; collars 5 lb; discs 4 x 10 lb")[0].items
    assert item.details == {"collars_kg": "2.26796185", "disc_pairs": [["4.5359237", 2]]}


masses = st.integers(1, 400).map(lambda half: Decimal(half) / 4)
fixed = st.builds(
    Item,
    implement=st.sampled_from([Implement.KETTLEBELL, Implement.DUMBBELL, Implement.VEST, Implement.BACKPACK]),
    entered=masses.map(Decimal.normalize),
    unit=st.sampled_from(["kg", "lb"]),
    count=st.integers(1, 6),
)
bands = st.builds(Item, implement=st.just(Implement.BAND), level=st.integers(1, 8))


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        fixed | bands, max_size=8, unique_by=lambda one: (one.implement, one.entered, one.unit, one.level)
    ),
    st.frozensets(st.sampled_from(list(Furniture))),
)
def test_every_kit_that_is_written_is_read_back_the_same(items, furniture):
    kit = Kit(tuple(items), furniture)
    read, unread = read_kit(write_kit(kit))
    assert unread == ()
    assert set(read.items) == set(items)
    assert read.furniture == furniture


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=200))
def test_no_text_breaks_the_reader(text):
    read_kit(text)
