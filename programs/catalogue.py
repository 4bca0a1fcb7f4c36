"""Finding exercises: by words, with slips of the finger, and by pattern, kit at hand, regions to spare and level.

>>> find(wanted=Wanted(words="sqaut", spare=frozenset({'ankle'}))).read_as      # doctest: +SKIP
(('sqaut', 'squat'),)

Words are looked for by PostgreSQL: the vector of each exercise for what is known, and the trigrams of all words of the
library for what is not. What is at hand and what is to be spared is read from the exercises themselves.
"""

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.contrib.postgres.search import (
    SearchHeadline,
    SearchQuery,
    SearchRank,
    TrigramSimilarity,
    TrigramWordSimilarity,
)
from django.db import connection
from django.db.models import Case, F, Func, JSONField, QuerySet, Value, When
from django.utils.translation import gettext as _

from athletes.models import Venue
from athletes.vocabulary import Implement, Pattern
from programs import spelling
from programs.models import Exercise
from programs.models.library import CONFIG

#: What may be at hand and adds load. An adjustable dumbbell does whatever a dumbbell does (K3).
IMPLEMENTS = tuple(one for one in Implement if one not in (Implement.NONE, Implement.ADJUSTABLE_DUMBBELL))
#: Says that nothing is at hand but the floor and a wall.
NO_KIT = Implement.NONE.value
#: Says that a level is to suit a beginner, whichever it is.
BEGINNER = "beginner"
#: No more words than this are looked for.
MOST_WORDS = 8
#: A part of a name must be so like what was typed when no word of it is known (0 to 1).
LIKE = 0.45
#: Shorter words than this are like too much.
LEAST_LIKE = 5
#: Words of the trade for what the library calls otherwise.
OTHER_WORDS = {"single": "one", "bodyweight": "body", "core": "trunk", "lats": "back"}
#: How much a word counts in faults and kit, purpose and set-up, cues, the name.
WEIGHTS = [0.1, 0.2, 0.4, 1.0]
#: How much more a name counts that begins with the first word.
BEGINS_SO = 0.5
_BEGIN, _END = "\ue000", "\ue001"
#: The parts of an exercise in which a match is shown, the one that says most first.
_PARTS = ("name", "cues", "purpose", "set_up", "faults", "leave_out", "holdings", "furniture")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody looks for; empty fields ask for nothing. `kit` empty means whatever kit there is."""

    words: str = ""
    pattern: str = ""
    kit: frozenset[str] = frozenset()
    spare: frozenset[str] = frozenset()
    level: str = ""

    @property
    def is_open(self) -> bool:
        """Whether nothing is asked for."""
        return self == Wanted()


@dataclass(frozen=True, slots=True)
class Hit:
    """An exercise that was found. `part` names where a word stands; `line` is it in pieces, marked where it matches.

    Both are empty where no words were asked for, or where the name is merely like them.
    """

    exercise: Exercise
    part: str = ""
    line: tuple[tuple[str, bool], ...] = ()


@dataclass(frozen=True, slots=True)
class Way:
    """A wider search that finds something: what to leave out, and how many there are then."""

    field: str
    value: str
    wanted: Wanted
    count: int


@dataclass(frozen=True, slots=True)
class Found:
    """What was found, best first where words were asked for, else by pattern and level.

    `read_as`: (typed, read as) for each word that nothing in the library begins with. `is_partly`: no exercise holds
    all the words, so those that hold some are there. `is_like`: only names that look like the words are there.
    `ways`: when nothing was found, each wider search that finds something.
    """

    hits: tuple[Hit, ...]
    read_as: tuple[tuple[str, str], ...] = ()
    is_partly: bool = False
    is_like: bool = False
    ways: tuple[Way, ...] = ()


def find(*, wanted: Wanted) -> Found:
    """The exercises in force that have everything that is wanted."""
    found = _search(wanted)
    return found if found.hits or wanted.is_open else replace(found, ways=tuple(_wider(wanted)))


def can_be_done(document: Mapping[str, Any], kit: frozenset[str]) -> bool:
    """Whether the exercise can be done with these implements and furniture, floor and wall apart."""
    if not set(document.get("furniture", ())) <= kit:
        return False
    held = {one["implement"] for one in document.get("holdings", ())}
    return document["loading"] != "external" or bool(held & kit)


def spares(document: Mapping[str, Any], regions: frozenset[str]) -> bool:
    """Whether the exercise loads none of the regions, not even a little."""
    loaded = {*document["regions"]["primary"], *document["regions"]["secondary"]}
    return not loaded & regions


def _suits(exercise: Exercise, wanted: Wanted) -> bool:
    document = exercise.document
    return (
        (not wanted.pattern or exercise.pattern == wanted.pattern)
        and (not wanted.kit or can_be_done(document, wanted.kit))
        and spares(document, wanted.spare)
        and (
            not wanted.level
            or (
                document["for_beginners"] if wanted.level == BEGINNER else str(exercise.level) == wanted.level
            )
        )
    )


def _search(wanted: Wanted) -> Found:
    rows = Exercise.objects.filter(is_retired=False)
    if not wanted.words.split():
        order = {pattern.value: place for place, pattern in enumerate(Pattern)}
        kept = [row for row in rows.order_by("level", "name") if _suits(row, wanted)]
        kept.sort(key=lambda row: order[row.pattern])
        return Found(tuple(Hit(row) for row in kept))
    typed = re.findall(r"\w+", wanted.words.lower())[:MOST_WORDS]
    if not typed:
        return Found(())
    read = [_read(rows, word) for word in typed]
    read_as = tuple(pair for pair in zip(typed, read, strict=True) if pair[0] != pair[1])
    for joined in (" & ", " | "):
        hits = list(_matching(rows, read, joined))
        if hits or len(read) < 2:
            break
    if hits:
        suiting = tuple(hit for hit in hits if _suits(hit.exercise, wanted))
        return Found(suiting, read_as, is_partly=joined == " | ")
    like: tuple[Hit, ...] = ()
    if max(map(len, typed), default=0) >= LEAST_LIKE:
        like = tuple(Hit(row) for row in _like(rows, wanted.words) if _suits(row, wanted))
    return Found(like, () if like else read_as, is_like=bool(like))


def _query(words: Iterable[str], joined: str = " & ") -> SearchQuery:
    """Words that begin so; they hold nothing but letters and figures."""
    terms = (" | ".join(f"{one}:*" for one in (word, OTHER_WORDS.get(word)) if one) for word in words)
    return SearchQuery(joined.join(f"({term})" for term in terms), config=CONFIG, search_type="raw")


def _read(rows: QuerySet[Exercise], word: str) -> str:
    """The word itself where some exercise holds it or a word that begins with it, else the likeliest one."""
    if rows.filter(vector=_query([word])).exists() or not spelling.slips(word):
        return word
    return spelling.likeliest(word, _words_like(word)) or word


def _words_like(word: str) -> list[str]:
    """Words of the library that share trigrams with this one, the most alike first."""
    with connection.cursor() as cursor:
        cursor.execute(_WORDS_LIKE, [word, word])
        return [row[0] for row in cursor.fetchall()]


#: Every word that stands in the library, as it is spelt, and how like it is: the PostgreSQL documentation of pg_trgm,
#: "Text Search Integration", recommends this. A word of a trade that is written with a hyphen is there in parts.
_WORDS_LIKE = r"""
    SELECT word FROM ts_stat($$
        SELECT jsonb_to_tsvector(
                'simple', document - '{slug,measure,loading,regions,translations}'::text[], '["string"]')
            || jsonb_to_tsvector('simple', document -> 'muscles', '["key"]') || to_tsvector('simple', pattern)
        FROM programs_exercise_in_force WHERE NOT is_retired$$)
    WHERE similarity(word, %s) > 0.05 AND word !~ '[^[:alpha:]]'
    ORDER BY similarity(word, %s) DESC, nentry DESC, word LIMIT 60"""


def _matching(rows: QuerySet[Exercise], words: list[str], joined: str) -> Iterator[Hit]:
    query = _query(words, joined)
    said = Func(*_named_parts(), function="jsonb_build_object", output_field=JSONField())
    ranked = rows.filter(vector=query).annotate(
        rank=SearchRank(F("vector"), query, weights=WEIGHTS)
        + TrigramSimilarity("name", " ".join(words))
        + Case(When(name__istartswith=words[0], then=Value(BEGINS_SO)), default=Value(0.0)),
        marked=SearchHeadline(
            said, query, config=CONFIG, start_sel=_BEGIN, stop_sel=_END, highlight_all=True
        ),
    )
    for row in ranked.order_by("-rank", "level", "name"):
        yield Hit(row, *_first_marked(json.loads(row.marked)))


def _named_parts() -> Iterator[Any]:
    for part in _PARTS:
        yield Value(part)
        yield F(f"document__{part}")


def _like(rows: QuerySet[Exercise], words: str) -> QuerySet[Exercise]:
    """Exercises with a name, or a part of one, that looks like the words."""
    alike = rows.annotate(alike=TrigramWordSimilarity(words, "name"))
    return alike.filter(alike__gte=LIKE).order_by("-alike", "level", "name")


def _first_marked(parts: Mapping[str, Any]) -> tuple[str, tuple[tuple[str, bool], ...]]:
    for part in _PARTS:
        for line in _lines(parts.get(part)):
            if _BEGIN in line:
                return part, _pieces(line)
    return "", ()


def _lines(value: Any) -> Iterator[str]:
    match value:
        case str():
            yield value
        case list():
            for one in value:
                yield from _lines(one)
        case dict():
            yield from (one for one in value.values() if isinstance(one, str))


def _pieces(line: str) -> tuple[tuple[str, bool], ...]:
    """The line in pieces, each with whether it is what matched."""
    pieces = []
    for start, plain in enumerate(line.split(_BEGIN)):
        marked, _between, rest = plain.partition(_END) if start else ("", "", plain)
        pieces += [(marked, True), (rest, False)]
    return tuple(piece for piece in pieces if piece[0])


def _wider(wanted: Wanted) -> Iterator[Way]:
    """Each way of leaving out one thing that is wanted and so finding something."""
    for field, value, wider in (
        ("words", wanted.words, replace(wanted, words="")),
        ("pattern", wanted.pattern, replace(wanted, pattern="")),
        ("level", wanted.level, replace(wanted, level="")),
    ):
        if value:
            yield from _way(field, value, wider)
    for value in sorted(wanted.spare):
        yield from _way("spare", value, replace(wanted, spare=wanted.spare - {value}))
    if wanted.kit:
        yield from _way("kit", "", replace(wanted, kit=frozenset()))


def _way(field: str, value: str, wider: Wanted) -> Iterator[Way]:
    count = len(_search(wider).hits)
    if count:
        yield Way(field, value, wider, count)


def part_words(part: str) -> str:
    """What a part of an exercise is called on its page."""
    return {
        "name": _("Name"),
        "cues": _("Coaching cue"),
        "purpose": _("What it is for"),
        "set_up": _("Set-up"),
        "faults": _("Common fault"),
        "leave_out": _("When to leave it out"),
        "holdings": _("Kit"),
        "furniture": _("Kit"),
    }.get(part, "")


def kit_of(venue: Venue) -> frozenset[str]:
    """What is at hand at a venue, as `Wanted.kit` says it."""
    implements = {
        Implement.DUMBBELL.value if item.implement == Implement.ADJUSTABLE_DUMBBELL else item.implement
        for item in venue.items.all()
    }
    return frozenset({*implements, *venue.furniture} or {NO_KIT})


def club_venues() -> QuerySet[Venue]:
    """The venues of the club in force that are no rider's own, with their kit."""
    return Venue.objects.filter(rider=None).prefetch_related("items").order_by("name")
