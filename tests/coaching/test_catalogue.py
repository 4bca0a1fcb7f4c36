"""The catalogues of translations are fresh, sound, and whole for whoever rides."""

import gettext
import io
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext as django_gettext
from django.utils.translation import ngettext, npgettext, pgettext

from athletes.vocabulary import Reason
from coaching.catalogue import audience, extraction, faults, files
from coaching.catalogue.extraction import Text
from coaching.catalogue.files import Entry
from coaching.management.commands.messages import catalogue_path
from programs import wording
from programs.engine.reasons import RULES
from programs.rider_sentences import RIDER

ROOT = Path(settings.BASE_DIR)
LANGUAGES = sorted(files.PLURALS)
#: Modules that look a sentence up and then give it to the translator; the sentences are found where they are written.
LOOKED_UP = {"athletes/reasons.py", "coaching/desk/sources.py", "programs/wording.py"}


@pytest.fixture(scope="module")
def texts() -> dict[Text, tuple[str, ...]]:
    return extraction.find_texts(ROOT)


def entries_of(language: str) -> list[Entry]:
    return files.read_po(catalogue_path(ROOT, language).read_text(encoding="utf-8"))


# --- the catalogues as they are ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_catalogue_holds_every_text_of_the_code_and_no_translation_breaks_one(
    language: str, texts: dict[Text, tuple[str, ...]]
) -> None:
    found = list(faults.find_faults(texts, entries_of(language), language=language))
    assert not found, "\n".join(found)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_compiled_catalogue_is_that_of_the_written_one(language: str) -> None:
    compiled = catalogue_path(ROOT, language).with_suffix(".mo").read_bytes()
    assert compiled == files.compile_mo(entries_of(language), language=language), "Run make messages."


@pytest.mark.parametrize("language", LANGUAGES)
def test_everything_that_a_rider_may_read_is_translated(
    language: str, texts: dict[Text, tuple[str, ...]]
) -> None:
    done = {entry.text for entry in entries_of(language) if entry.is_translated}
    wanted = audience.rider_texts(texts)
    assert len(wanted) > 800
    assert not [text.singular for text in wanted if text not in done]


def test_every_language_that_riders_may_choose_has_a_catalogue() -> None:
    assert {code for code, _name in settings.LANGUAGES} == {settings.LANGUAGE_CODE, *LANGUAGES}


def test_every_pattern_of_what_riders_read_names_a_file_with_texts(
    texts: dict[Text, tuple[str, ...]],
) -> None:
    held = {file for files_of in texts.values() for file in files_of}
    assert not [
        pattern for pattern in audience.RIDER_FILES if not any(Path(file).match(pattern) for file in held)
    ]


# --- nothing is overlooked --------------------------------------------------------------------------------------------


def test_the_sentences_of_all_reasons_and_rules_are_extracted(texts: dict[Text, tuple[str, ...]]) -> None:
    singulars = {text.singular for text in texts}
    said = {*wording.catalogue().values(), *RIDER.values()}
    said |= {words for rule in RULES.values() for words in (rule.title, rule.source) if words}
    assert len(said) > 300
    assert sorted(said - singulars) == []


def test_a_text_is_computed_only_where_it_is_looked_up() -> None:
    computed = {
        str(path.relative_to(ROOT))
        for path in extraction.python_files(ROOT)
        if extraction.computed_calls(path.read_text(encoding="utf-8"))
    }
    assert computed == LOOKED_UP


def test_calls_are_found_under_whatever_name_and_with_context_and_plural() -> None:
    source = (
        "from django.utils.translation import gettext as now, ngettext, pgettext_lazy as p, npgettext\n"
        "x = now('one ' 'text'), ngettext('{n} set', '{n} sets', 2), p('side', 'left'), npgettext('c', 'a', 'b', 1)\n"
        "y = print('not this'), now(x)\n"
        "REASONS: dict[str, str] = {**z, 'key': 'A sentence.'}\n"
        "OTHER = {'key': 'No sentence.'}\n"
    )
    assert set(extraction.texts_of_python(source)) == {
        Text("one text"),
        Text("{n} set", "{n} sets"),
        Text("left", "", "side"),
        Text("a", "b", "c"),
        Text("A sentence."),
    }
    assert extraction.computed_calls(source) == [3]


def test_a_sentence_that_is_computed_in_a_table_is_refused() -> None:
    with pytest.raises(extraction.NotWrittenOut):
        list(extraction.texts_of_python("REASONS = {'key': sentence}"))


def test_a_template_gives_its_texts_as_django_reads_them() -> None:
    source = (
        '{% load i18n %}{% translate "Riders" %}{% translate "left" context "side" %}{{ x|default:_("it\'s") }}'
        "{% blocktranslate count n=count %}{{ n }} set{% plural %}{{ n }} sets, 50%{% endblocktranslate %}"
        '{% include "a.html" with title=_("Error") %}{% comment %}_("not this"){% endcomment %}Bare'
    )
    assert set(extraction.texts_of_template(source)) == {
        Text("Riders"),
        Text("left", "", "side"),
        Text("it's"),
        Text("%(n)s set", "%(n)s sets, 50%%"),
        Text("Error"),
    }


# --- the files --------------------------------------------------------------------------------------------------------

SAMPLE = [
    Entry(Text("Rest"), ("Repos",), ("a.py", "b.html")),
    Entry(Text("{count} set", "{count} sets"), ("{count} série", "{count} séries"), ("a.py",)),
    Entry(Text("calf", "", "body region"), ("mollet",)),
    Entry(Text('A "quoted"\nline\\n\tend'), ('Une « ligne »\n"\\n\tfin',)),
    Entry(Text("doubtful"), ("douteux",), is_fuzzy=True, comments=("Ask a doctor.",)),
    Entry(Text("missing"), ("",)),
]


def test_what_is_written_is_read_back_alike() -> None:
    assert files.read_po(files.write_po(SAMPLE, language="fr")) == SAMPLE


def test_a_line_that_the_format_does_not_know_is_refused() -> None:
    with pytest.raises(files.Unreadable):
        files.read_po('msgid "a"\nmsgstr: "b"\n')


def test_python_reads_the_compiled_file_and_falls_back_where_nothing_was_settled() -> None:
    compiled = gettext.GNUTranslations(io.BytesIO(files.compile_mo(SAMPLE, language="fr")))
    assert compiled.gettext("Rest") == "Repos"
    assert compiled.pgettext("body region", "calf") == "mollet"
    assert compiled.ngettext("{count} set", "{count} sets", 2) == "{count} séries"
    # French counts nought and one as one (Unicode CLDR, plural rules)
    assert [compiled.ngettext("{count} set", "{count} sets", n) for n in (0, 1)] == ["{count} série"] * 2
    assert compiled.gettext("doubtful") == "doubtful"
    assert compiled.gettext("missing") == "missing"


def test_merging_keeps_translations_marks_and_comments_and_drops_what_is_gone() -> None:
    merged = files.merge({Text("doubtful"): ("c.py",), Text("new"): ("c.py",)}, SAMPLE, language="fr")
    assert merged == [
        Entry(Text("doubtful"), ("douteux",), ("c.py",), True, ("Ask a doctor.",)),
        Entry(Text("new"), ("",), ("c.py",)),
    ]


# --- faults that must be found ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (Entry(Text("{count} left"), ("il en reste",)), "other placeholders"),
        (Entry(Text("{count} left"), ("{nombre} restants",)), "other placeholders"),
        (Entry(Text("%(name)s rides"), ("Il roule",)), "other placeholders"),
        (Entry(Text("{a} of {b}"), ("{a} sur {b",)), "other placeholders"),
        (Entry(Text("{n} set", "{n} sets"), ("{n} série", "")), "a plural form is missing"),
        (Entry(Text("{n} set", "{n} sets"), ("{n} série",)), "1 forms, 2 are needed"),
        (Entry(Text(", then "), (", puis",)), "other spaces"),
        (Entry(Text("gone"), ("parti",)), "nowhere in the code"),
    ],
)
def test_a_broken_translation_is_found(entry: Entry, said: str) -> None:
    texts = {} if entry.text.singular == "gone" else {entry.text: ("a.py",)}
    (found,) = faults.find_faults(texts, [entry], language="fr")
    assert said in found


def test_a_text_that_is_not_in_the_catalogue_is_found() -> None:
    (found,) = faults.find_faults({Text("New words"): ("a.py",)}, [], language="fr")
    assert "not in the catalogue: 'New words'" in found


# --- as Django shows them ---------------------------------------------------------------------------------------------


def test_django_shows_the_catalogue_and_its_own_form_errors_in_our_tone() -> None:
    with translation.override("fr"):
        assert django_gettext("Enter a whole number.") == "Indique un nombre entier."
        assert pgettext("body region", "calf") == "mollet"
        assert ngettext("leave {count} good rep", "leave {count} good reps", 3) == (
            "garde {count} répétitions en réserve"
        )
        assert npgettext("nowhere", "one", "many", 2) == "many"


@pytest.mark.parametrize(
    ("figures", "said"),
    [
        ({"to_sets": 1, "from_sets": 2, "minutes": 30}, "1 série au lieu de 2, pour tenir en 30 minutes."),
        ({"to_sets": 3, "from_sets": 4, "minutes": 45}, "3 séries au lieu de 4, pour tenir en 45 minutes."),
    ],
)
def test_a_reason_counts_one_in_the_singular_in_french(figures: dict[str, int], said: str) -> None:
    with translation.override("fr"):
        assert wording.sentence(Reason("S6", "sets-dropped-for-time", figures), "rider") == said


def test_a_reason_about_a_site_names_it_in_french_with_its_date() -> None:
    figures = {"region": "lower-back", "side": "both", "score": 4, "on": "2026-12-01"}
    with translation.override("fr"):
        said = wording.sentence(Reason("T2", "pain-ease", figures), "rider")
    assert said.replace("\N{NO-BREAK SPACE}", " ") == (
        "Bas du dos (des deux côtés) : 4 sur 10 (mardi 1er décembre), donc on allège ce qui sollicite cette zone."
    )


def test_the_command_finds_the_tree_fresh() -> None:
    done = subprocess.run(
        [sys.executable, "manage.py", "messages", "--check"], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
