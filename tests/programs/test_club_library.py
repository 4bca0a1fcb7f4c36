"""A club's own exercises: the shipped ones' rules, versions kept, releases survived, clubs kept apart."""

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.utils import translation

from athletes import access
from programs import club_library, facts, merging, plans
from programs.club_library import Entry
from programs.engine.library import read_library
from programs.exercise_words import name_of
from programs.library import LibraryFaulty
from programs.models import ClubExercise, ClubLibrary, Exercise, LevelMove, ShippedExercise, Slot, WeekPlan
from tests import people
from tests.programs.library_documents import shipped
from tests.world import own_exercise


@pytest.fixture
def who(db: None) -> Iterator[people.People]:
    who = people.wexenfold()
    with access.within(who.club):
        yield who


def keep(who: people.People, *entries: Entry) -> ClubLibrary:
    return club_library.save(club=who.club, entries=entries, by=who.coach, now=people.NOW)


def changed(entry: Entry, **fields: Any) -> Entry:
    return replace(entry, document={**entry.document, **fields})


def copy_of(slug: str, **fields: Any) -> Entry:
    row = ShippedExercise.objects.get(pk=slug)
    return Entry(row.pattern, {**club_library.plain(row.document), **fields})


# --- what the engine and people get -----------------------------------------------------------------------------------


def test_a_club_without_its_own_gets_what_is_shipped(who: people.People) -> None:
    assert facts.current_library().digest == read_library(shipped()).digest
    assert club_library.current(who.club) is None


def test_an_own_exercise_is_in_the_engines_library_and_on_the_pages(who: people.People) -> None:
    keep(who, own_exercise("Wexenfold"))
    library = facts.current_library()
    (mine,) = [one for one in library.exercises if one.slug == "hill-squat"]
    assert (mine.level, mine.low, mine.high) == (2, 6, 15)
    (easier,) = [one for one in library.exercises if one.slug == "chair-stand"]
    assert "hill-squat" in [edge.harder for edge in easier.edges]
    assert Exercise.objects.get(pk="hill-squat").is_own


def test_another_club_sees_nothing_of_it(who: people.People) -> None:
    keep(who, own_exercise("Wexenfold"))
    others = people.strangers()
    with access.within(others.club):
        assert not Exercise.objects.filter(pk="hill-squat").exists()
        assert "hill-squat" not in {one.slug for one in facts.current_library().exercises}
        assert not ClubExercise.objects.exists()
        with pytest.raises(IntegrityError, match="no exercise hill-squat in this club"), transaction.atomic():
            Slot.objects.filter(club=others.club).update(exercise_id="hill-squat")
    assert Slot.objects.filter(pattern="squat").update(exercise_id="hill-squat")


def test_own_words_for_a_shipped_exercise_take_its_place_in_this_club_alone(who: people.People) -> None:
    keep(who, copy_of("goblet-squat", name="Squat with a bell at the chest"))
    assert Exercise.objects.get(pk="goblet-squat").name == "Squat with a bell at the chest"
    assert Exercise.objects.filter(name="Goblet squat").count() == 0
    with access.within(people.strangers().club):
        assert Exercise.objects.get(pk="goblet-squat").name == "Goblet squat"


def test_other_figures_alone_keep_the_words_in_other_languages_and_other_words_do_not(
    who: people.People,
) -> None:
    """A French rider is never shown French words for something that the club has changed."""
    english = ShippedExercise.objects.get(pk="chair-stand").name
    keep(who, copy_of("chair-stand", amount={"low": 5, "high": 18}))
    with translation.override("fr"):
        assert english not in name_of(Exercise.objects.get(pk="chair-stand"))
        keep(who, copy_of("chair-stand", purpose="Says something else."))
        assert name_of(Exercise.objects.get(pk="chair-stand")) == english
    documents = ClubLibrary.objects.get(is_current=True).document
    assert not any("translations" in row for document in documents for row in document["exercises"])


def test_the_view_of_exercises_can_only_be_read(who: people.People) -> None:
    for statement in (
        lambda: Exercise.objects.update(level=1),
        lambda: Exercise.objects.all()._raw_delete("default"),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            statement()
    assert Exercise.objects.exclude(level=1).exists()


# --- rules ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"level": 5}, "level"),
        ({"cues": ["One cue."]}, "cues"),
        ({"amount": {"low": 8, "high": 12}}, "amount"),
        ({"regions": {"primary": ["hip"], "secondary": []}}, "unavoidable"),
        ({"name": "Goblet squat"}, "name"),
        ({"loading": "external"}, "holdings"),
    ],
)
def test_what_breaks_a_rule_of_the_library_changes_nothing_and_says_where(
    who: people.People, fields: dict[str, Any], field: str
) -> None:
    entry = changed(own_exercise("Wexenfold"), **fields)
    if field == "level":
        entry = replace(entry, earned_from=())
    with pytest.raises(LibraryFaulty) as raised:
        keep(who, entry)
    assert field in {fault.field for fault in raised.value.faults}
    assert not ClubExercise.objects.exists()
    told = {(fault.exercise, fault.field, fault.expected) for fault in raised.value.faults}
    checked = club_library.check(entries=[entry])
    assert {(fault.exercise, fault.field, fault.expected) for fault in checked} == told


def test_a_step_to_a_lower_level_is_refused(who: people.People) -> None:
    entry = own_exercise("Wexenfold")
    with pytest.raises(LibraryFaulty):
        keep(who, replace(entry, earned_from=[{**entry.earned_from[0], "easier": "goblet-squat"}]))


# --- versions ---------------------------------------------------------------------------------------------------------


def test_a_week_keeps_the_library_it_was_made_from(who: people.People) -> None:
    plans.resolve(club=who.club, week=plans.coming_week(who.club, people.NOW), by=who.coach, now=people.NOW)
    plan = WeekPlan.objects.filter(rider=who.rider).select_related("decision").first()
    assert plan is not None
    before = facts.current_library()
    first = keep(who, own_exercise("Wexenfold"))
    second = keep(who, changed(own_exercise("Wexenfold"), amount={"low": 5, "high": 18}))
    assert len({before.digest, first.digest, second.digest}) == 3
    assert facts.library_of(before.digest).exercises == before.exercises
    of_first = {one.slug: one for one in facts.library_of(first.digest).exercises}
    assert of_first["hill-squat"].high == 15
    assert facts.current_library().digest == second.digest


def test_other_words_alone_keep_the_digest_and_are_still_a_state_of_their_own(who: people.People) -> None:
    first = keep(who, own_exercise("Wexenfold"))
    second = keep(who, changed(own_exercise("Wexenfold"), purpose="Says it better."))
    assert (second.digest, second.number) == (first.digest, first.number + 1)
    assert ClubLibrary.objects.filter(is_current=True).count() == 1


# --- retiring ---------------------------------------------------------------------------------------------------------


def test_a_retired_exercise_leaves_the_library_and_comes_back(who: people.People) -> None:
    keep(who, own_exercise("Wexenfold"))
    club_library.retire(club=who.club, slug="hill-squat", by=who.coach, now=people.NOW)
    assert "hill-squat" not in {one.slug for one in facts.current_library().exercises}
    assert Exercise.objects.get(pk="hill-squat").is_retired
    club_library.restore(club=who.club, slug="hill-squat", by=who.coach, now=people.NOW)
    assert "hill-squat" in {one.slug for one in facts.current_library().exercises}


def test_a_shipped_exercise_can_be_retired_in_a_club(who: people.People) -> None:
    club_library.retire(club=who.club, slug="slow-squat", by=who.coach, now=people.NOW)
    assert "slow-squat" not in {one.slug for one in facts.current_library().exercises}
    with access.within(people.strangers().club):
        assert "slow-squat" in {one.slug for one in facts.current_library().exercises}


def test_what_riders_stand_at_or_a_program_asks_for_is_not_retired(who: people.People) -> None:
    keep(who, own_exercise("Wexenfold"))
    LevelMove.objects.create(
        club=who.club,
        rider=who.rider,
        pattern="squat",
        exercise_id="hill-squat",
        since_on=people.MONDAY,
        why="coach",
    )
    with pytest.raises(club_library.InUse) as raised:
        club_library.retire(club=who.club, slug="hill-squat", by=who.coach, now=people.NOW)
    assert list(raised.value.riders) == [who.rider]


def test_what_others_are_earned_from_alone_is_not_retired(who: people.People) -> None:
    """The only way up would be gone: the rules say so."""
    entry = own_exercise("Wexenfold")
    above = Entry(
        "squat",
        {**entry.document, "slug": "higher-squat", "name": "Higher squat", "level": 3},
        [{**entry.earned_from[0], "easier": "hill-squat"}],
    )
    keep(who, entry, above)
    with pytest.raises(LibraryFaulty) as raised:
        club_library.retire(club=who.club, slug="hill-squat", by=who.coach, now=people.NOW)
    assert {fault.exercise for fault in raised.value.faults} >= {"higher-squat"}


# --- a new release ----------------------------------------------------------------------------------------------------


def release(monkeypatch: pytest.MonkeyPatch, change: Any) -> list[dict[str, Any]]:
    """As if other documents had been shipped; the application itself may not write them."""
    documents = shipped()
    change({row["slug"]: row for document in documents for row in document["exercises"]})

    class Version:
        digest = read_library(documents).digest
        document = documents

    class Versions:
        def using(self, _alias: str) -> "Versions":
            return self

        def get(self, **_filters: Any) -> Version:
            return Version()

    monkeypatch.setattr(club_library.LibraryVersion, "objects", Versions())
    return documents


def test_a_release_comes_to_a_club_with_its_own_exercises_kept(
    who: people.People, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep(who, own_exercise("Wexenfold"), copy_of("goblet-squat", name="Squat with a bell"))
    release(monkeypatch, lambda rows: rows["wall-sit"].update(purpose="Holds the thighs at work."))
    state = club_library.rebuild(club_id=who.club.pk, using="default", now=people.NOW)
    assert state is not None
    assert not state.faults
    rows = {row["slug"]: row for document in state.document for row in document["exercises"]}
    assert rows["wall-sit"]["purpose"] == "Holds the thighs at work."
    assert rows["goblet-squat"]["name"] == "Squat with a bell"
    assert "hill-squat" in rows


def test_a_release_that_does_not_go_with_them_leaves_the_library_as_it_was_and_says_why(
    who: people.People, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = keep(who, own_exercise("Wexenfold"))
    release(monkeypatch, lambda rows: rows["wall-sit"].update(name="Hill squat of Wexenfold"))
    state = club_library.rebuild(club_id=who.club.pk, using="default", now=people.NOW)
    assert state is not None
    assert state.pk == before.pk
    assert {fault["field"] for fault in state.faults} == {"name"}


def test_a_coach_sees_newly_shipped_words_and_chooses(who: people.People) -> None:
    keep(who, copy_of("goblet-squat", name="Squat with a bell"))
    assert club_library.newly_shipped() == []
    ClubExercise.objects.update(shipped={**ClubExercise.objects.get().shipped, "purpose": "As it was."})
    ((own, theirs),) = club_library.newly_shipped()
    assert (own.name, theirs.name) == ("Squat with a bell", "Goblet squat")
    club_library.keep_own(club=who.club, slug="goblet-squat", by=who.coach, now=people.NOW)
    assert club_library.newly_shipped() == []
    assert Exercise.objects.get(pk="goblet-squat").name == "Squat with a bell"
    club_library.take_shipped(club=who.club, slug="goblet-squat", by=who.coach, now=people.NOW)
    assert Exercise.objects.get(pk="goblet-squat").name == "Goblet squat"


# --- merging ----------------------------------------------------------------------------------------------------------


def test_merging_changes_neither_what_is_shipped_nor_what_is_own() -> None:
    documents, entry = shipped(), own_exercise("Wexenfold")
    before = deepcopy(documents)
    merging.merge(documents, [merging.Own(entry.pattern, entry.document, entry.earned_from)])
    assert documents == before


def test_merging_nothing_gives_what_is_shipped() -> None:
    assert merging.merge(shipped(), []) == shipped()


def test_slugs_are_letters_and_free() -> None:
    assert club_library.slug_for("Goblet squat, 2 pauses", taken=[]) == "goblet-squat-pauses"
    assert club_library.slug_for("Row", taken=["row"]) == "row-b"
    assert club_library.slug_for("12", taken=[]) == "exercise"
