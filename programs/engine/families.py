"""Families of exercises: what is easier, what is harder, what a slot becomes for one rider at one venue (rules L1, L2).

L1  The exercises of a pattern form a directed acyclic graph from easier to harder; each step carries the criterion that
    earns it. Every pattern has a bottom level that needs no kit and can be done by a beginner.
L2  A slot becomes the rider's level; if kit or a limitation forbids it, the nearest easier level that fits, then a
    sibling (same pattern, same level); if none fits, the slot is left out, with the reason.
T5  A substitute never loads a sore region more than what it replaces (I14). A primary region counts as loaded more than
    a secondary one, and that more than one not loaded (ours).
"""

from collections.abc import Mapping
from itertools import chain

from athletes.values import value_class
from athletes.vocabulary import Figure, Pattern, Reason, Region
from programs.engine.facts import Criterion, Exercise, Kit, Library, Loading, Part, Slot
from programs.engine.kit import holdings_for

REASONS: dict[str, str] = {
    "kit-missing": "{exercise} cannot be done with the kit there.",
    "not-for-beginners": "{exercise} is not for somebody new to strength training.",
    "not-allowed": "{exercise} is not to be done now.",
    "easier-used": "{levels} down in level: {used} stands in for {wanted}.",
    "sibling-used": "{used}, of the same level, stands in for {wanted}.",
    "nothing-fits": "Nothing in this family fits here in place of {wanted}, so it is left out.",
    "no-family": "The exercise library has nothing for {pattern}.",
    "level-unknown": "{exercise} is no longer in the library, so this starts again at the bottom level.",
}


NO_KIT = Kit()


class UnknownExerciseError(LookupError):
    """The library has no exercise of that name."""


@value_class
class _Index:
    by_slug: Mapping[str, Exercise]
    easier: Mapping[str, tuple[str, ...]]
    families: Mapping[Pattern, tuple[Exercise, ...]]
    #: What is one step harder and what is easier in all, by name, as far as it has been asked for.
    harder: dict[str, tuple[Exercise, ...]]
    all_easier: dict[str, tuple[Exercise, ...]]


# Keyed by identity, because to hash a whole library costs more than to search it. The library is held beside its index,
# so an identity cannot pass to another library while it is here.
_indexes: dict[int, tuple[Library, _Index]] = {}
_INDEXES_KEPT = 8


def _index_of(library: Library) -> _Index:
    known = _indexes.get(id(library))
    if known is not None and known[0] is library:
        return known[1]
    index = _build_index(library)
    if len(_indexes) >= _INDEXES_KEPT:
        _indexes.clear()
    _indexes[id(library)] = (library, index)
    return index


def _build_index(library: Library) -> _Index:
    ordered = sorted(library.exercises, key=lambda one: (one.level, one.slug))
    easier: dict[str, list[str]] = {one.slug: [] for one in ordered}
    families: dict[Pattern, list[Exercise]] = {}
    for one in ordered:
        families.setdefault(one.pattern, []).append(one)
        for edge in one.edges:
            easier.setdefault(edge.harder, []).append(one.slug)
    return _Index(
        by_slug={one.slug: one for one in ordered},
        easier={slug: tuple(below) for slug, below in easier.items()},
        families={pattern: _trained(members) for pattern, members in families.items()},
        harder={},
        all_easier={},
    )


def _trained(members: list[Exercise]) -> tuple[Exercise, ...]:
    """Those made for the main part; where a pattern has none (mobility, perhaps), all of them."""
    trained = tuple(one for one in members if one.part not in (Part.WARM_UP, Part.COOL_DOWN))
    return trained or tuple(members)


def exercise_of(library: Library, slug: str) -> Exercise:
    """The exercise of that name. Raises `UnknownExerciseError`."""
    try:
        return _index_of(library).by_slug[slug]
    except KeyError:
        raise UnknownExerciseError(slug) from None


def has_exercise(library: Library, slug: str) -> bool:
    """Whether the library knows the name."""
    return slug in _index_of(library).by_slug


def pattern_of(library: Library, slug: str) -> Pattern | None:
    """The pattern of the exercise of that name, `None` where the library has none."""
    exercise = _index_of(library).by_slug.get(slug)
    return exercise.pattern if exercise is not None else None


def family(library: Library, pattern: Pattern) -> tuple[Exercise, ...]:
    """The exercises of a pattern, lowest level first, without those made for warm-up and cool-down only."""
    return _index_of(library).families.get(pattern, ())


def easier(library: Library, slug: str) -> tuple[Exercise, ...]:
    """The exercises one step below, the highest level first (L1)."""
    exercise_of(library, slug)
    index = _index_of(library)
    below = [index.by_slug[name] for name in index.easier[slug]]
    return tuple(sorted(below, key=lambda one: (-one.level, one.slug)))


def harder(library: Library, slug: str) -> tuple[Exercise, ...]:
    """The exercises one step above, the lowest level first (L1)."""
    known = _index_of(library).harder
    if slug not in known:
        above = [exercise_of(library, edge.harder) for edge in exercise_of(library, slug).edges]
        known[slug] = tuple(sorted(above, key=lambda one: (one.level, one.slug)))
    return known[slug]


def criterion_for(library: Library, slug: str, harder_slug: str) -> Criterion | None:
    """What earns the step from one exercise to a harder one; `None` when there is no such step (L1)."""
    edges = exercise_of(library, slug).edges
    return next((edge.criterion for edge in edges if edge.harder == harder_slug), None)


def all_easier(library: Library, slug: str) -> tuple[Exercise, ...]:
    """Everything below an exercise along its steps: the nearest level first, then by name (L1, L2)."""
    known = _index_of(library).all_easier
    if slug not in known:
        known[slug] = _find_all_easier(library, slug)
    return known[slug]


def _find_all_easier(library: Library, slug: str) -> tuple[Exercise, ...]:
    found: set[str] = set()
    frontier = {slug}
    while frontier:
        frontier = {one.slug for name in frontier for one in easier(library, name)} - found
        found |= frontier
    below = (exercise_of(library, name) for name in found if name != slug)
    return tuple(sorted(below, key=lambda one: (-one.level, one.slug)))


def siblings(library: Library, slug: str) -> tuple[Exercise, ...]:
    """The other exercises of the same pattern and level, by name (L2)."""
    one = exercise_of(library, slug)
    return tuple(
        other for other in family(library, one.pattern) if other.level == one.level and other.slug != slug
    )


def bottom(library: Library, pattern: Pattern, kit: Kit | None = None) -> Exercise | None:
    """The lowest level of a pattern that a beginner can do with the kit (with none at all when `kit` is `None`)."""
    there = kit or NO_KIT
    fitting = (one for one in family(library, pattern) if one.for_beginners and holdings_for(one, there))
    return next(fitting, None)


def strain_on(exercise: Exercise, region: Region) -> int:
    """How much the exercise loads a region: 2 primary, 1 secondary, 0 not (T5, ours)."""
    return 2 if region in exercise.primary else 1 if region in exercise.secondary else 0


def loads_more(substitute: Exercise, replaced: Exercise, sore: frozenset[Region]) -> Region | None:
    """The first sore region that the substitute would load more than what it replaces, if any (T5, I14)."""
    if not sore:
        return None
    regions = sorted(sore)
    return next((one for one in regions if strain_on(substitute, one) > strain_on(replaced, one)), None)


def resolve_slot(
    slot: Slot,
    library: Library,
    *,
    standing: str | None,
    kit: Kit,
    barred: Mapping[str, tuple[Reason, ...]] | None = None,
    beginner: bool = False,
    alone: bool = False,
    sore: frozenset[Region] = frozenset(),
) -> tuple[Exercise | None, tuple[Reason, ...]]:
    """The exercise that a slot becomes, and why it is not the rider's level when it is not (L2, T5).

    `standing` is the rider's level in the slot's pattern (`None`: the bottom); a slot that fixes an exercise asks for
    that instead. `barred` names exercises that may not be done now, with the reasons. No reasons means nothing changed.
    """
    wanted, notes = _wanted(slot, library, standing)
    if wanted is None:
        return None, notes
    terms = _Terms(kit=kit, barred={} if barred is None else barred, beginner=beginner, alone=alone)
    refusals = _refusals(wanted, terms)
    if not refusals:
        return wanted, notes
    for other in chain(all_easier(library, wanted.slug), siblings(library, wanted.slug)):
        if _may_replace(other, wanted, terms, sore):
            return other, (*notes, *refusals, _stands_in(other, wanted))
    return None, (*notes, *refusals, Reason("L2", "nothing-fits", {"wanted": wanted.slug}))


def _stands_in(used: Exercise, wanted: Exercise) -> Reason:
    figures: dict[str, Figure] = {"wanted": wanted.slug, "used": used.slug}
    levels = wanted.level - used.level
    if levels:
        return Reason("L2", "easier-used", {**figures, "levels": levels})
    return Reason("L2", "sibling-used", figures)


@value_class
class _Terms:
    """What an exercise must satisfy to be done now."""

    kit: Kit
    barred: Mapping[str, tuple[Reason, ...]]
    beginner: bool
    alone: bool


def _wanted(slot: Slot, library: Library, standing: str | None) -> tuple[Exercise | None, tuple[Reason, ...]]:
    """What the slot asks for before kit and limitations are looked at."""
    notes: tuple[Reason, ...] = ()
    for slug in (slot.exercise, standing):
        if slug is None:
            continue
        known = _index_of(library).by_slug.get(slug)
        if known is not None:
            return known, notes
        notes = (*notes, Reason("L2", "level-unknown", {"exercise": slug}))
    lowest = bottom(library, slot.pattern)
    if lowest is None:
        notes = (*notes, Reason("L2", "no-family", {"pattern": slot.pattern.value}))
    return lowest, notes


def _refusals(exercise: Exercise, terms: _Terms) -> tuple[Reason, ...]:
    """Why the exercise may not be done now; empty when it may."""
    if exercise.slug in terms.barred:
        return terms.barred[exercise.slug] or (Reason("L2", "not-allowed", {"exercise": exercise.slug}),)
    if not holdings_for(exercise, terms.kit, alone=terms.alone):
        return (Reason("L2", "kit-missing", {"exercise": exercise.slug}),)
    if terms.beginner and not exercise.for_beginners:
        return (Reason("L2", "not-for-beginners", {"exercise": exercise.slug}),)
    return ()


def _may_replace(other: Exercise, wanted: Exercise, terms: _Terms, sore: frozenset[Region]) -> bool:
    return not _refusals(other, terms) and loads_more(other, wanted, sore) is None


def harder_that_fit(
    library: Library,
    slug: str,
    *,
    kit: Kit,
    barred: Mapping[str, tuple[Reason, ...]] | None = None,
    beginner: bool = False,
    alone: bool = False,
    sore: frozenset[Region] = frozenset(),
) -> frozenset[str]:
    """The names one step above that kit and limitations allow now (L1, for P3 and P4)."""
    above = harder(library, slug)
    if not above:
        return frozenset()
    terms = _Terms(kit=kit, barred={} if barred is None else barred, beginner=beginner, alone=alone)
    one = exercise_of(library, slug)
    return frozenset([other.slug for other in above if _may_replace(other, one, terms, sore)])


def check_library(library: Library) -> tuple[str, ...]:
    """What breaks L1, a line each, by exercise or pattern; empty when the library is sound."""
    index = _index_of(library)
    problems: list[str] = []
    slugs = [one.slug for one in library.exercises]
    problems += [f"{slug}: listed twice" for slug in sorted({one for one in slugs if slugs.count(one) > 1})]
    for one in library.exercises:
        for edge in one.edges:
            above = index.by_slug.get(edge.harder)
            if above is None:
                problems.append(f"{one.slug}: its harder exercise {edge.harder} is not in the library")
            elif above.pattern is not one.pattern:
                problems.append(f"{one.slug}: its harder exercise {edge.harder} is of another pattern")
            elif above.level <= one.level:
                # Levels that only ever rise along a step make a cycle impossible.
                problems.append(f"{one.slug}: its harder exercise {edge.harder} is not of a higher level")
    for pattern in index.families:
        members = family(library, pattern)
        lowest = [one for one in members if one.level == members[0].level]
        if not any(_needs_nothing(one) for one in lowest):
            problems.append(f"{pattern.value}: no bottom level that needs no kit and suits a beginner")
    return tuple(problems)


def _needs_nothing(exercise: Exercise) -> bool:
    return exercise.for_beginners and not exercise.furniture and exercise.loading is not Loading.EXTERNAL
