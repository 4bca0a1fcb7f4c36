"""The words of exercises in the reader's language.

Names, cues and the rest stand in the library in English, and in other languages as far as somebody has translated them.
Whoever reads a language that an exercise lacks gets it in English, and is told so beside its name.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from programs.engine.library_words import BELONGING
from programs.models import Exercise

#: The language in which the library is written.
WRITTEN_IN = "en"


def words_of(exercise: Exercise) -> Mapping[str, Any]:
    """The exercise's words in the active language: ``name``, ``purpose``, ``set_up``, ``cues``, ``faults`` and, where
    it has them, ``leave_out``, ``earns`` and ``substitutes``, shaped as in the library; in English where there are no
    others."""
    written: Mapping[str, Any] = exercise.document
    translated = _translation(written)
    if translated is None:
        return written
    return {**translated, **{name: _lines(written, translated, name, key) for name, key, _words in BELONGING}}


def _lines(
    written: Mapping[str, Any], translated: Mapping[str, Any], name: str, key: str
) -> list[Mapping[str, Any]]:
    """The lines of a list as the library has it, each in the reader's language where it has one."""
    known = {one[key]: one for one in translated.get(name, ())}
    return [{**one, **known.get(one[key], {})} for one in written.get(name, ())]


def name_of(exercise: Exercise) -> str:
    """The exercise's name in the active language; an English name says that it is. What a club wrote itself stays as it
    is, in whatever language that is."""
    return _name(exercise.name, exercise.document, exercise.is_own)


def cues_of(exercise: Exercise) -> tuple[str, ...]:
    """What to say to somebody who does the exercise, in the active language."""
    return tuple(words_of(exercise).get("cues", ()))


def names_of(slugs: Iterable[str]) -> dict[str, str]:
    """The names of exercises in the active language, by slug."""
    rows = Exercise.objects.filter(slug__in=set(slugs))
    if _is_written_in(get_language()):
        return dict(rows.values_list("slug", "name"))
    return {
        slug: _name(name, document, is_own)
        for slug, name, document, is_own in rows.values_list("slug", "name", "document", "is_own")
    }


def _name(name: str, document: Mapping[str, Any], is_own: bool) -> str:
    translated = _translation(document)
    if translated is not None:
        return str(translated["name"])
    return name if is_own or _is_written_in(get_language()) else _("{name} (in English)").format(name=name)


def _translation(document: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """The words of the document in the active language; None when it has none, or is written in that language."""
    language = get_language() or WRITTEN_IN
    translations: Mapping[str, Mapping[str, Any]] = document.get("translations", {})
    return None if _is_written_in(language) else translations.get(language)


def _is_written_in(language: str | None) -> bool:
    return (language or WRITTEN_IN).split("-")[0] == WRITTEN_IN
