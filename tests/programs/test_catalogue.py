"""Exercises are found by words, slips of the finger or not, by kit at hand, by what to spare and by level."""

import re
from decimal import Decimal
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from athletes import access
from athletes.models import KitItem, Venue
from athletes.vocabulary import Furniture, Implement, Pattern, Region
from programs import spelling
from programs.catalogue import BEGINNER, IMPLEMENTS, NO_KIT, Wanted, can_be_done, find, kit_of, spares
from programs.engine.facts import Barbell, FixedMass, Kit
from programs.engine.kit import holdings_for
from programs.facts import current_library
from programs.models import Exercise
from tests import people

pytestmark = pytest.mark.django_db


def slugs(**wanted: object) -> list[str]:
    return [hit.exercise.slug for hit in find(wanted=Wanted(**wanted)).hits]


@pytest.fixture
def reader() -> Client:
    """Somebody who reads only."""
    client = Client()
    client.force_login(people.wexenfold().assistant.user)
    return client


# --- words ------------------------------------------------------------------------------------------------------------

#: What somebody in a hurry types, what it is read as, and an exercise that must stand among the first eight.
MISSPELT = [
    ("sqaut", "squat", "squat"),
    ("squatt", "squat", "squat"),
    ("goblet sqaut", "goblet squat", "goblet-squat"),
    ("gobblet squat", "goblet squat", "goblet-squat"),
    ("plnak", "plank", "forearm-plank"),
    ("side plakn", "side plank", "side-plank"),
    ("glute brigde", "glute bridge", "floor-bridge"),
    ("dead lfit", "dead lift", "soft-knee-deadlift"),
    ("deadlfit", "deadlift", "soft-knee-deadlift"),
    ("hinje", "hinge", "wall-hinge"),
    ("rwo", "row", "band-row"),
    ("lunje", "lunge", "step-back-lunge"),
    ("bulgarain", "bulgarain", None),
    ("hamstirngs", "hamstrings", None),
]


@pytest.mark.parametrize(("typed", "read", "wanted"), MISSPELT)
def test_a_slip_of_the_finger_is_read_as_the_word_that_was_meant(
    typed: str, read: str, wanted: str | None
) -> None:
    found = find(wanted=Wanted(words=typed))
    said = dict(found.read_as)
    if wanted is None and not found.hits:
        assert not said
        return
    assert " ".join(said.get(word, word) for word in typed.split()) == read
    if wanted:
        assert wanted in [hit.exercise.slug for hit in found.hits[:8]]
        assert any(word in found.hits[0].exercise.name.lower() for word in read.split())


def test_words_are_read_in_any_case_and_order_and_by_their_beginnings() -> None:
    assert slugs(words="SQUAT goblet")[0] == "goblet-squat"
    assert slugs(words="gob squ")[0] == "goblet-squat"


def test_a_name_comes_before_a_cue_and_a_cue_before_a_fault() -> None:
    """The vector weighs the parts: where all hold the word once, the name wins."""
    parts = [hit.part for hit in find(wanted=Wanted(words="chair")).hits]
    assert len(set(parts)) > 2
    names = parts.count("name")
    assert parts[:names] == ["name"] * names


@pytest.mark.parametrize("part", ["cues", "purpose", "faults"])
def test_the_words_of_every_exercise_find_it_and_say_why(part: str) -> None:
    """For every ninth exercise: a whole line of it finds it, and the line that is shown holds a marked word."""
    for exercise in Exercise.objects.order_by("slug")[::9]:
        said = exercise.document[part]
        line = said if isinstance(said, str) else said[0] if part == "cues" else said[0]["see"]
        words = [word for word in re.findall(r"[A-Za-z]+", line) if len(word) > 3][:3]
        if not words:
            continue
        hit = next(one for one in find(wanted=Wanted(words=" ".join(words))).hits if one.exercise == exercise)
        assert hit.part
        assert any(marked for _words, marked in hit.line)
        assert "".join(words for words, _marked in hit.line) in str(exercise.document)


def test_where_no_exercise_holds_all_words_those_that_hold_some_are_there_and_it_is_said() -> None:
    found = find(wanted=Wanted(words="goblet bridge"))
    assert found.is_partly
    assert {"goblet-squat", "floor-bridge"} <= {hit.exercise.slug for hit in found.hits}


def test_words_run_together_find_a_name_like_them() -> None:
    found = find(wanted=Wanted(words="gobletsquat"))
    assert found.is_like
    assert [hit.exercise.slug for hit in found.hits][0] == "goblet-squat"


@pytest.mark.parametrize("typed", ["the", "'; DROP TABLE x; --", "a & | ! ( ) :*", "\\", "%", "<b>", "\x00"])
def test_words_that_mean_nothing_find_nothing_and_do_no_harm(reader: Client, typed: str) -> None:
    answer = reader.get(reverse("exercises"), {"q": typed})
    assert answer.status_code == 200
    assert "<b>" not in answer.content.decode().replace("<b></b>", "")


def test_distances_are_those_of_the_textbook() -> None:
    """S: the optimal string alignment distance counts a swap of neighbours as one (Damerau 1964, Levenshtein 1966)."""
    cases = [
        ("", "abc", 3),
        ("kitten", "sitting", 3),
        ("sqaut", "squat", 1),
        ("ca", "abc", 3),
        ("same", "same", 0),
    ]
    for typed, word, far in cases:
        assert spelling.distance(typed, word) == far
        assert spelling.distance(word, typed) == far


def test_a_short_word_is_never_taken_for_another() -> None:
    assert spelling.likeliest("on", ["in", "no"]) is None
    assert spelling.likeliest("plank", ["bridge", "squat"]) is None


def test_the_database_has_the_indexes_that_a_large_library_would_need() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT indexdef FROM pg_indexes WHERE indexdef LIKE '%%USING gin%%'")
        made = " ".join(row[0] for row in cursor.fetchall())
    assert "gin (vector)" in made
    assert "gin_trgm_ops" in made


# --- what is wanted of an exercise ------------------------------------------------------------------------------------


def test_what_can_be_done_with_what_is_at_hand_is_what_the_engine_would_give() -> None:
    """With any two masses of an implement, the engine can load exactly what the search calls possible (K1 to K5)."""
    documents = {one.slug: one.document for one in Exercise.objects.all()}
    for names in (
        {NO_KIT},
        {"kettlebell"},
        {"dumbbell", "chair"},
        {"barbell", "rack-with-safeties", "bench"},
        {"band", "towel", "stick", "step"},
        {one.value for one in IMPLEMENTS} | {one.value for one in Furniture},
    ):
        kit = _engine_kit(names)
        for exercise in current_library().exercises:
            said = can_be_done(documents[exercise.slug], frozenset(names))
            assert said is bool(holdings_for(exercise, kit)), (exercise.slug, names)


def _engine_kit(names: set[str]) -> Kit:
    held = (Implement.KETTLEBELL, Implement.DUMBBELL, Implement.VEST, Implement.BACKPACK)
    return Kit(
        fixed=tuple(FixedMass(one, Decimal(8), 2) for one in held if one in names),
        barbell=Barbell(Decimal(20)) if "barbell" in names else None,
        bands=(1,) if "band" in names else (),
        furniture=frozenset(Furniture(one) for one in names if one in set(Furniture)),
    )


@pytest.mark.parametrize("region", list(Region))
def test_nothing_that_loads_a_region_is_found_when_it_is_to_be_spared(region: Region) -> None:
    found = find(wanted=Wanted(spare=frozenset({region.value}))).hits
    kept = {hit.exercise.slug for hit in found}
    for exercise in current_library().exercises:
        loads = region in exercise.primary | exercise.secondary
        assert (exercise.slug in kept) is not loads
        assert spares(Exercise.objects.get(pk=exercise.slug).document, frozenset({region.value})) is not loads


def test_everything_that_is_wanted_holds_at_once() -> None:
    found = slugs(pattern="hinge", kit=frozenset({"kettlebell"}), spare=frozenset({"knee"}), level=BEGINNER)
    assert found
    for exercise in Exercise.objects.filter(slug__in=found):
        assert exercise.pattern == "hinge"
        assert exercise.document["for_beginners"]
        assert can_be_done(exercise.document, frozenset({"kettlebell"}))
        assert spares(exercise.document, frozenset({"knee"}))


def test_without_words_exercises_come_by_pattern_and_level() -> None:
    order = list(Pattern)
    places = [
        (order.index(Pattern(hit.exercise.pattern)), hit.exercise.level) for hit in find(wanted=Wanted()).hits
    ]
    assert places == sorted(places)
    assert len(places) == Exercise.objects.filter(is_retired=False).count()


def test_an_empty_result_says_what_to_leave_out_and_how_many_there_are_then(reader: Client) -> None:
    """No squat spares the knee: the library says so itself. Each wider search leads where it says."""
    wanted = {"pattern": "squat", "spare": "knee"}
    page = reader.get(reverse("exercises"), wanted).content.decode()
    assert "Nothing found" in page
    ways = re.findall(r'href="([^"]+)">([^<]+)</a> <span class="quiet">(\d+) exercises?<', page)
    assert len(ways) == 2
    for address, _words, count in ways:
        wider = reader.get(address.replace("&amp;", "&")).content.decode()
        assert f"<strong>{count} exercise" in wider


# --- the page ---------------------------------------------------------------------------------------------------------


def test_the_page_marks_the_word_in_the_line_that_holds_it(reader: Client) -> None:
    page = reader.get(reverse("exercises"), {"q": "sqaut"}).content.decode()
    assert "read as <strong>squat</strong>" in page
    assert re.search(r"<mark>squat</mark>", page)


def test_an_address_holds_the_whole_search_and_an_old_one_is_still_read(reader: Client) -> None:
    query = urlencode([("q", "row"), ("kit", "band"), ("kit", "towel"), ("spare", "knee")])
    page = reader.get(f"{reverse('exercises')}?{query}").content.decode()
    assert len(re.findall(r'type="checkbox"[^>]*checked', page)) == 3
    assert "Row" in page
    old = reader.get(reverse("exercises"), {"pattern": "no-such-pattern", "level": "99", "kit": "sledge"})
    assert old.status_code == 200


def test_htmx_gets_what_was_found_alone_with_an_address_to_go_back_to(reader: Client) -> None:
    """A tick is a step to go back by; another letter of a word is not."""
    home = reverse("exercises")

    def ask(query: dict[str, str], shown: str) -> object:
        headers = {"HX-Request": "true", "HX-Current-URL": f"http://testserver{home}{shown}"}
        return reader.get(home, query, headers=headers)

    first = ask({"q": "goblet", "pattern": "", "level": ""}, "")
    assert first.content.decode().lstrip().startswith('<div id="found"')
    assert first.headers["HX-Push-Url"] == f"{home}?q=goblet"
    assert ask({"q": "goblet s"}, "?q=goblet").headers["HX-Replace-Url"] == f"{home}?q=goblet+s"
    assert (
        ask({"q": "goblet", "spare": "hip"}, "?q=goblet")
        .headers["HX-Push-Url"]
        .endswith("q=goblet&spare=hip")
    )


def test_a_venue_of_the_club_is_one_press_away(reader: Client) -> None:
    club = people.strangers()
    with access.within(club.club):
        hall = Venue.objects.create(club=club.club, name="Larkmoor hall", furniture=["bench"])
        KitItem.objects.create(club=club.club, venue=hall, implement="adjustable-dumbbell", count=1)
        assert kit_of(hall) == {"bench", "dumbbell"}
    theirs = Client()
    theirs.force_login(club.coach.user)
    page = theirs.get(reverse("exercises")).content.decode()
    assert "?kit=bench&amp;kit=dumbbell" in page
    assert "Larkmoor hall" not in reader.get(reverse("exercises")).content.decode()
