"""The exercise library as people read it: families with their levels, one exercise with its neighbours."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from athletes.vocabulary import TRAINED, Furniture, Implement, Pattern, Region
from athletes.words import label
from programs import wording
from programs.exercise_words import name_of, words_of
from programs.figures.svg import Markup, draw_svg
from programs.models import ClubExercise, Exercise
from programs.own_figures import drawing_of


@dataclass(frozen=True, slots=True)
class Family:
    """The exercises of one pattern, easiest first."""

    pattern: Pattern
    name: str
    exercises: tuple[Exercise, ...]


@dataclass(frozen=True, slots=True)
class Neighbour:
    """An exercise beside this one; `words` say what earns the step, or when to take it instead."""

    slug: str
    name: str
    level: int
    words: str


@dataclass(frozen=True, slots=True)
class ExercisePage:
    """Everything that is said of one exercise."""

    exercise: Exercise
    name: str
    pattern: str
    purpose: str
    set_up: tuple[str, ...]
    cues: tuple[str, ...]
    faults: tuple[tuple[str, str], ...]
    notes: tuple[tuple[str, str], ...]
    easier: tuple[Neighbour, ...]
    harder: tuple[Neighbour, ...]
    instead: tuple[Neighbour, ...]
    facts: tuple[tuple[str, str], ...]
    levels: tuple[Exercise, ...]


def find_families() -> tuple[Family, ...]:
    """All families in the order of patterns."""
    return group(Exercise.objects.filter(is_retired=False).order_by("level", "name"))


def group(rows: Iterable[Exercise]) -> tuple[Family, ...]:
    """The exercises by pattern, in the order of patterns; within one as they come."""
    groups: dict[str, list[Exercise]] = {}
    for row in rows:
        groups.setdefault(row.pattern, []).append(row)
    return tuple(
        Family(one, _capital(str(label(one))), tuple(groups[one.value]))
        for one in Pattern
        if one.value in groups
    )


def find_checked() -> tuple[Family, ...]:
    """What a movement check may try (S5): the exercises of each trained pattern that suit a beginner, easiest first.

    Mobility is left out, since every level of it is for everybody.
    """
    trained = {one.value for one in TRAINED if one is not Pattern.MOBILITY}
    return tuple(
        Family(
            family.pattern,
            family.name,
            tuple(one for one in family.exercises if one.document["for_beginners"]),
        )
        for family in find_families()
        if family.pattern.value in trained
    )


def read_page(exercise: Exercise) -> ExercisePage:
    """The page of one exercise. Reads its family once."""
    family = Exercise.objects.filter(pattern=exercise.pattern).order_by("level", "name")
    return _page(exercise, list(family), own_steps())


def read_pages() -> tuple[tuple[Family, tuple[ExercisePage, ...]], ...]:
    """Every family with the pages of its exercises, easiest first. Two queries."""
    steps = own_steps()
    return tuple(
        (family, tuple(_page(exercise, family.exercises, steps) for exercise in family.exercises))
        for family in find_families()
    )


type Steps = Mapping[str, Sequence[tuple[str, str]]]


def own_steps() -> Steps:
    """The steps that lead to the club's own exercises: from each easier one, (harder, words)."""
    found: dict[str, list[tuple[str, str]]] = {}
    rows = ClubExercise.objects.filter(is_retired=False).order_by("level", "slug")
    for slug, earned_from in rows.values_list("slug", "earned_from"):
        for step in earned_from:
            found.setdefault(step["easier"], []).append((slug, step["words"]))
    return found


def steps_up(exercise: Exercise, steps: Steps) -> list[tuple[str, str]]:
    """The steps up from an exercise, (harder, words), with those to the club's own."""
    own = steps.get(exercise.slug, ())
    taken = {harder for harder, _words in own}
    said = words_of(exercise).get("earns", ())
    return [*((one["harder"], one["words"]) for one in said if one["harder"] not in taken), *own]


def _page(exercise: Exercise, family: Sequence[Exercise], steps: Steps) -> ExercisePage:
    by_slug = {one.slug: one for one in family}
    document: Mapping[str, Any] = {**exercise.document, **words_of(exercise)}
    return ExercisePage(
        exercise=exercise,
        name=name_of(exercise),
        pattern=_capital(str(label(Pattern(exercise.pattern)))),
        purpose=document["purpose"],
        set_up=tuple(document["set_up"]),
        cues=tuple(document["cues"]),
        faults=tuple((one["see"], one["say"]) for one in document["faults"]),
        notes=tuple(
            (_capital(str(label(Region(one["region"])))), one["words"])
            for one in document.get("leave_out", ())
        ),
        easier=tuple(
            Neighbour(one.slug, name_of(one), one.level, words)
            for one in family
            for harder, words in steps_up(one, steps)
            if harder == exercise.slug and not one.is_retired
        ),
        harder=_named(by_slug, steps_up(exercise, steps)),
        instead=_named(by_slug, ((one["use"], one["when"]) for one in document.get("substitutes", ()))),
        facts=_facts(exercise.document),
        levels=tuple(one for one in family if not one.is_retired or one.slug == exercise.slug),
    )


def compare(
    own: Mapping[str, Any], shipped: Mapping[str, Any], seen: Mapping[str, Any]
) -> tuple[tuple[str, str, str, bool], ...]:
    """Field by field: its name, the club's own, the shipped one, and whether that is new; only where they differ."""
    return tuple(
        (
            _field_words(field),
            _said(own.get(field)),
            _said(shipped.get(field)),
            shipped.get(field) != seen.get(field),
        )
        for field in dict.fromkeys([*own, *shipped])
        if own.get(field) != shipped.get(field) or shipped.get(field) != seen.get(field)
    )


def _field_words(field: str) -> str:
    """What a field of an entry is called."""
    names = {
        "name": _("Name"),
        "level": _("Level"),
        "purpose": _("What it is for"),
        "set_up": _("Set-up"),
        "cues": _("Coaching cues"),
        "faults": _("Common faults"),
        "leave_out": _("When to leave it out"),
        "measure": _("Counted in"),
        "amount": _("Amount"),
        "tempo": _("Tempo"),
        "for_beginners": _("Suits a beginner"),
        "loading": _("Load"),
        "holdings": _("Loaded with, any one of"),
        "furniture": _("Also needed"),
        "regions": _("What it loads"),
        "muscles": _("Counts as sets for"),
        "earns": _("Leads to"),
        "substitutes": _("Instead of it"),
        "sided": _("Each side is done by itself"),
        "needs_safeties": _("Alone only with safety bars"),
        "impact": _("Has a jump or a landing"),
        "body_mass_share": _("Share of body mass"),
    }
    return names.get(field, field.replace("_", " "))


def _said(value: Any) -> str:
    """A value of an entry, on a line for each thing in a list."""
    match value:
        case None:
            return ""
        case bool():
            return _("yes") if value else _("no")
        case list():
            return "\n".join(_said(one) for one in value)
        case dict():
            return ", ".join(
                f"{key}: {_said(one).replace(chr(10), ' + ')}" for key, one in value.items() if one != []
            )
        case _:
            return str(value)


def figure_of(exercise: Exercise) -> Markup | None:
    """The figure of the exercise as an SVG element with its words, or None where none is drawn."""
    drawing = drawing_of(exercise)
    if drawing is None:
        return None
    said = _("{name}: start and finish") if drawing.positions > 1 else _("{name}: the position")
    return draw_svg(drawing, said.format(name=name_of(exercise)), " ".join(words_of(exercise)["set_up"]))


def _named(by_slug: Mapping[str, Exercise], pairs: Iterable[tuple[str, str]]) -> tuple[Neighbour, ...]:
    return tuple(
        Neighbour(slug, name_of(by_slug[slug]), by_slug[slug].level, words)
        for slug, words in pairs
        if slug in by_slug and not by_slug[slug].is_retired
    )


def _facts(document: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """Name and value of what is counted or needed, in the order in which it is read."""
    facts = [
        (_("Amount"), _amount(document)),
        (_("Tempo"), _tempo(document.get("tempo"))),
        (_("Load"), _load(document)),
        (_("Also needed"), _words(Furniture, document.get("furniture", ()))),
        (_("Loads most"), _words(Region, document["regions"]["primary"])),
        (_("Loads a little"), _words(Region, document["regions"]["secondary"])),
        (_("For whom"), _for_whom(document)),
    ]
    return tuple((name, value) for name, value in facts if value)


def _amount(document: Mapping[str, Any]) -> str:
    low, high = document["amount"]["low"], document["amount"]["high"]
    words = _("{low} to {high} s") if document["measure"] == "hold" else _("{low} to {high} reps")
    said = words.format(low=low, high=high)
    return _("{amount}, each side").format(amount=said) if document.get("sided") else said


def _tempo(tempo: Mapping[str, int] | None) -> str:
    if not tempo:
        return ""
    parts = [
        (tempo["lower"], _("lower {seconds} s")),
        (tempo["pause"], _("pause {seconds} s")),
        (tempo["lift"], _("lift {seconds} s")),
    ]
    return ", ".join(words.format(seconds=seconds) for seconds, words in parts if seconds)


def _load(document: Mapping[str, Any]) -> str:
    ways = [_holding(one) for one in document.get("holdings", ())]
    if document["loading"] == "body" or not ways:
        return _("Body weight")
    if document["loading"] == "either":
        return _("Body weight, or {ways}").format(ways=_or_words(ways))
    return _capital(_or_words(ways))


def _holding(one: Mapping[str, str]) -> str:
    name = str(label(Implement(one["implement"])))
    return _("a pair of {name}s").format(name=name) if one["how_many"] == "pair" else name


def _for_whom(document: Mapping[str, Any]) -> str:
    parts = [] if document["for_beginners"] else [_("Not for beginners")]
    if document.get("needs_safeties"):
        parts.append(_("alone only with safety bars"))
    return _capital(", ".join(parts))


def _words(kind: type[Furniture] | type[Region], values: Sequence[str]) -> str:
    return wording.list_words([str(label(kind(value))) for value in values])


def _or_words(words: Sequence[str]) -> str:
    if len(words) < 2:
        return "".join(words)
    return pgettext("list of choices", "{most} or {last}").format(most=", ".join(words[:-1]), last=words[-1])


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
