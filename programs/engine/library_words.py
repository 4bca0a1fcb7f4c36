"""The words of the exercise library in another language, and what they must be (rule L1).

A document of words belongs to one pattern and holds nothing but words: everything else stands in the library's own
document. The rules, each beside the function that holds it:

shape    one document a pattern and language, of the shape of `WORDS_DOCUMENT`.
known    each exercise is one of the pattern, once; an exercise without words is shown in English, which is said.
whole    an exercise has a name, a purpose, and as many set-up lines, cues and faults as in English, or no words at all.
belongs  a line to leave out, of a step up or of a substitute is of one that the exercise has, once; what has no line is
         shown in English, so that a new step up waits for nobody.
figures  a criterion names the same figures.
names    a name belongs to one exercise of the language.
"""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from jsonschema import Draft202012Validator

from programs.engine.library_rules import Fault
from programs.engine.library_schema import CUE_LENGTH, LINE_LENGTH, SLUG

type Document = Mapping[str, Any]
#: Other languages need more room than English does.
LONGER = 20


def _line(length: int) -> dict[str, Any]:
    """One line for people: starts with a capital or a figure, no cheering, no space at either end."""
    return {
        "type": "string",
        "minLength": 3,
        "maxLength": length,
        "pattern": r"^[^\sa-z!]([^!\n]*[^!\s])?$",
    }


def _lines(length: int) -> dict[str, Any]:
    return {"type": "array", "items": _line(length), "minItems": 1}


def _record(required: dict[str, Any], optional: dict[str, Any] | None = None) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {**required, **(optional or {})},
        "required": list(required),
        "additionalProperties": False,
    }


_LONG, _SHORT = LINE_LENGTH + LONGER, CUE_LENGTH
#: The lists whose entries belong to something: the list, the key that names it, the key of the words.
BELONGING = (("leave_out", "region", "words"), ("earns", "harder", "words"), ("substitutes", "use", "when"))
_WHOLE = ("set_up", "cues", "faults")

WORDS_DOCUMENT: dict[str, Any] = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "The words of one movement pattern's exercises in another language",
    **_record(
        {
            "language": {"type": "string", "pattern": "^[a-z]{2}(-[a-z]{2})?$"},
            "pattern": SLUG,
            "exercises": {
                "type": "array",
                "minItems": 1,
                "items": _record(
                    {
                        "slug": SLUG,
                        "name": _line(_SHORT),
                        "purpose": _line(_LONG),
                        "set_up": _lines(_LONG),
                        "cues": _lines(_SHORT),
                        "faults": {
                            "type": "array",
                            "minItems": 1,
                            "items": _record({"see": _line(_SHORT), "say": _line(_SHORT)}),
                        },
                    },
                    {
                        name: {
                            "type": "array",
                            "minItems": 1,
                            "items": _record({key: SLUG, words: _line(_LONG)}),
                        }
                        for name, key, words in BELONGING
                    },
                ),
            },
        }
    ),
}
_VALIDATOR = Draft202012Validator(WORDS_DOCUMENT)


def find_word_faults(documents: Sequence[Document], words: Iterable[Document]) -> list[Fault]:
    """Every fault of the documents of words, beside the library's own; nothing when they may be shown."""
    patterns = {document["pattern"]: document for document in documents}
    faults: list[Fault] = []
    names: dict[tuple[str, str], str] = {}
    for document in words:
        shape = list(_shape_faults(document))
        faults += shape
        if shape:
            continue
        own = patterns.get(document["pattern"])
        if own is None:
            faults.append(
                Fault(document["pattern"], "pattern", "a pattern of the library", document["pattern"])
            )
            continue
        faults += _pattern_faults(document, own)
        for exercise in document["exercises"]:
            key = (document["language"], exercise["name"])
            if names.setdefault(key, exercise["slug"]) != exercise["slug"]:
                faults.append(
                    Fault(exercise["slug"], "name", "a name of its own", f"also that of {names[key]}")
                )
    return faults


def find_lacking(documents: Iterable[Document], words: Iterable[Document], *, language: str) -> list[str]:
    """What the language has no words for yet: a slug, or a slug and the step, region or substitute without a line."""
    held = {slug: languages.get(language) for slug, languages in words_by_slug(words).items()}
    lacking = []
    for document in documents:
        for exercise in document["exercises"]:
            found = held.get(exercise["slug"])
            if found is None:
                lacking.append(str(exercise["slug"]))
                continue
            for name, key, _words in BELONGING:
                there = {one[key] for one in found.get(name, ())}
                lacking += [
                    f"{exercise['slug']}: {name} {one[key]}"
                    for one in exercise.get(name, ())
                    if one[key] not in there
                ]
    return lacking


def words_by_slug(words: Iterable[Document]) -> dict[str, dict[str, Document]]:
    """The words of each exercise by language: slug -> language -> words."""
    found: dict[str, dict[str, Document]] = {}
    for document in words:
        for exercise in document["exercises"]:
            held = {name: value for name, value in exercise.items() if name != "slug"}
            found.setdefault(exercise["slug"], {})[document["language"]] = held
    return found


def _shape_faults(document: Document) -> Iterator[Fault]:
    for error in _VALIDATOR.iter_errors(document):
        path = list(error.absolute_path)
        where = str(document.get("pattern", "?")) if isinstance(document, Mapping) else "?"
        if len(path) > 1 and path[0] == "exercises":
            where = str(document["exercises"][path[1]].get("slug", where))
        yield Fault(where, ".".join(map(str, path)), error.message[:200], "")


def _pattern_faults(document: Document, own: Document) -> Iterator[Fault]:
    by_slug = {exercise["slug"]: exercise for exercise in own["exercises"]}
    seen: set[str] = set()
    for exercise in document["exercises"]:
        slug = exercise["slug"]
        if slug not in by_slug:
            yield Fault(slug, "slug", f"an exercise of {own['pattern']}", slug)
        elif slug in seen:
            yield Fault(slug, "slug", "the words of an exercise once", "twice")
        else:
            yield from _exercise_faults(exercise, by_slug[slug])
        seen.add(slug)


def _exercise_faults(exercise: Document, own: Document) -> Iterator[Fault]:
    slug = exercise["slug"]
    for name in _WHOLE:
        wanted, found = len(own[name]), len(exercise[name])
        if wanted != found:
            yield Fault(slug, name, f"{wanted} entries, as in English", str(found))
    for name, key, _words in BELONGING:
        known = [one[key] for one in own.get(name, ())]
        for value, count in Counter(one[key] for one in exercise.get(name, ())).items():
            if value not in known:
                yield Fault(slug, name, f"one of {', '.join(known) or 'none'}", value)
            elif count > 1:
                yield Fault(slug, name, f"{value} once", str(count))
    criteria = {one["harder"]: one["words"] for one in own.get("earns", ())}
    for one in exercise.get("earns", ()):
        english = criteria.get(one["harder"], one["words"])
        if _figures(one["words"]) != _figures(english):
            yield Fault(slug, "earns", f"the figures of {english!r}", one["words"])


def _figures(words: str) -> list[str]:
    return sorted(re.findall(r"\d+", words))
