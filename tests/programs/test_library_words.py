"""The words of the library in other languages: whole where they stand, in English where not, and never wrong."""

import copy
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.utils import translation
from jsonschema import Draft202012Validator
from reportlab.pdfbase import pdfmetrics

from programs import exercise_words, library
from programs.engine.library import read_library
from programs.engine.library_words import WORDS_DOCUMENT, find_lacking, find_word_faults, words_by_slug
from programs.models import Exercise
from programs.typesetting import BOLD, TEXT

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
#: What was to be translated first: whole sessions, so that a rider's card is of one language.
LEAST = 40


@cache
def documents() -> list[dict[str, Any]]:
    return library.read_files()


@cache
def words() -> list[dict[str, Any]]:
    return library.read_words()


def strings(value: object) -> list[str]:
    if isinstance(value, str):
        return [value]
    held = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return [each for one in held for each in strings(one)]


# --- the shipped words ------------------------------------------------------------------------------------------------


def test_the_shipped_words_have_no_fault() -> None:
    assert [str(fault) for fault in find_word_faults(documents(), words())] == []


def test_the_published_schema_is_the_one_that_is_used() -> None:
    published = json.loads((FIXTURES / "exercise-words.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(published)
    assert published == WORDS_DOCUMENT


def test_every_language_of_words_is_one_that_riders_may_choose() -> None:
    folders = {path.name for path in library.FIXTURES.iterdir() if path.is_dir()}
    assert folders == {document["language"] for document in words()}
    assert folders <= {code for code, _name in settings.LANGUAGES}


def test_french_covers_whole_sessions() -> None:
    found = words_by_slug(words())
    french = {slug for slug, languages in found.items() if "fr" in languages}
    assert len(french) >= LEAST
    # whole sessions, so that nobody reads two languages on one card
    assert {slug for slug in used_by_the_demo() if slug not in french} == set()


#: What the riders of the invented club were given in a run of its first weeks, besides warm-ups and cool-downs.
GIVEN = """
    one-weight-deadlift side-plank bent-knee-heel-raise one-arm-row forearm-plank side-lunge loaded-split-squat
    goblet-squat step-back-lunge squat knee-push-up wall-push-up wall-hinge band-row stick-hinge one-arm-floor-press
    chest-carry chair-touch-squat low-step-up two-up-one-down knee-plank floor-press tall-march lying-arm-sweep
    bird-dog bridge-march one-leg-bridge heel-to-toe-walk knee-side-plank slow-squat heel-to-toe-stand
    feet-together-stand heel-raise side-shift lying-arm-pull forearm-wall-slide supported-split-squat chair-stand
    leaning-side-hold floor-bridge suitcase-hold table-push-up split-squat side-lying-inner-leg-raise
    supported-half-squat
"""


def used_by_the_demo() -> set[str]:
    """The exercises of whole sessions, from warm-up to cool-down."""
    parts = {
        exercise["slug"]
        for document in documents()
        for exercise in document["exercises"]
        if document["pattern"] in ("warm-up", "cool-down")
    }
    return parts | set(GIVEN.split())


def test_french_is_written_in_one_tone_and_with_its_own_signs() -> None:
    for text in strings([document["exercises"] for document in words()]):
        assert not re.search(r"\b(vous|votre|vos|[Aa]rrêtez|[Gg]ardez|[Aa]ppelez)\b", text), text
        assert not re.search(r"(?<=\w)'", text), f"a typewriter's apostrophe: {text}"
        assert not re.search(r"[^\N{NO-BREAK SPACE}][:;?](?=\s|$)", text), f"no space before the sign: {text}"


def test_every_letter_of_the_words_is_in_the_fonts_of_the_card() -> None:
    letters = set("".join(strings([document["exercises"] for document in words()])))
    for font in (TEXT, BOLD):
        glyphs = pdfmetrics.getFont(font).face.charToGlyph
        assert not [letter for letter in letters if ord(letter) not in glyphs]


# --- faults that must be found ----------------------------------------------------------------------------------------


def changed(**changes: Any) -> list[dict[str, Any]]:
    """The French squats, with the first exercise changed; None takes a field away."""
    (squat,) = [copy.deepcopy(one) for one in words() if (one["language"], one["pattern"]) == ("fr", "squat")]
    for name, value in changes.items():
        if value is None:
            del squat["exercises"][0][name]
        else:
            squat["exercises"][0][name] = value
    return [squat]


FIRST = changed()[0]["exercises"][0]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"cues": FIRST["cues"][:-1]}, "cues"),
        ({"cues": None}, "cues"),
        ({"set_up": [*FIRST["set_up"], "Encore une ligne."]}, "set_up"),
        ({"faults": FIRST["faults"][:1]}, "faults"),
        ({"leave_out": [FIRST["leave_out"][0], FIRST["leave_out"][0]]}, "knee once"),
        ({"leave_out": [{**FIRST["leave_out"][0], "region": "elbow"}]}, "one of knee, ankle"),
        ({"substitutes": [{"use": "wall-sit", "when": "Sans chaise."}]}, "one of chair-stand"),
        ({"earns": [{**FIRST["earns"][0], "words": "2 x 15, 3 en réserve."}, FIRST["earns"][1]]}, "figures"),
        ({"name": "Chaise contre le mur"}, "also that of"),
        ({"slug": "barbell-deadlift"}, "an exercise of squat"),
        ({"slug": "squat"}, "twice"),
        ({"purpose": "sans majuscule"}, "does not match"),
        ({"purpose": "Bravo !"}, "does not match"),
        ({"tempo": "lent"}, "Additional properties"),
    ],
)
def test_words_that_are_not_whole_or_not_right_are_refused(changes: dict[str, Any], said: str) -> None:
    found = [str(fault) for fault in find_word_faults(documents(), changed(**changes))]
    assert any(said in fault for fault in found), found


def test_a_line_that_is_not_there_yet_is_no_fault_and_is_named() -> None:
    lacking = changed(earns=FIRST["earns"][:1], substitutes=None)
    assert find_word_faults(documents(), lacking) == []
    others = [one for one in words() if one["pattern"] != "squat"]
    named = find_lacking(documents(), [*others, *lacking], language="fr")
    before = find_lacking(documents(), words(), language="fr")
    assert set(named) - set(before) == {
        "supported-half-squat: earns squat",
        "supported-half-squat: substitutes chair-stand",
    }


def test_words_of_an_unknown_pattern_are_refused() -> None:
    (squat,) = changed()
    (fault,) = find_word_faults(documents(), [{**squat, "pattern": "no-such"}])
    assert fault.field == "pattern"


# --- loaded and shown -------------------------------------------------------------------------------------------------


@pytest.fixture
def squat(db: None) -> Exercise:
    return Exercise.objects.get(slug="squat")


def test_an_exercise_is_shown_in_the_readers_language(squat: Exercise) -> None:
    with translation.override("fr"):
        assert exercise_words.name_of(squat) == "Squat au poids du corps"
        assert exercise_words.cues_of(squat)[1] == "Genoux dans l’axe des orteils."
        assert exercise_words.names_of(["squat"]) == {"squat": "Squat au poids du corps"}
    with translation.override("en-gb"):
        assert exercise_words.name_of(squat) == squat.name
        assert exercise_words.cues_of(squat) == tuple(squat.document["cues"])
        assert exercise_words.names_of(["squat"]) == {"squat": squat.name}


def test_a_step_up_without_a_line_is_shown_in_english(squat: Exercise) -> None:
    squat.document["translations"]["fr"]["earns"] = squat.document["translations"]["fr"]["earns"][1:]
    with translation.override("fr"):
        first, second, *_rest = exercise_words.words_of(squat)["earns"]
    assert first["words"] == squat.document["earns"][0]["words"]
    assert "répétitions en réserve" in second["words"]


def test_an_exercise_without_words_is_shown_in_english_and_says_so(squat: Exercise) -> None:
    bare = Exercise(slug="bare", name="Bare squat", document={"cues": ["Slowly."]})
    with translation.override("fr"):
        assert exercise_words.name_of(bare) == "Bare squat (en anglais)"
        assert exercise_words.cues_of(bare) == ("Slowly.",)
        bare.is_own = True
        assert exercise_words.name_of(bare) == "Bare squat"  # a club's own, in its own language


def test_words_change_nothing_that_the_engine_reads() -> None:
    assert "translations" not in json.dumps(documents())
    assert read_library(documents()).digest == read_library(library.read_files()).digest
