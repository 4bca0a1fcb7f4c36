"""The level rail of a family: the main line through one exercise, and what earns the next level (L1)."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from athletes.models import Rider, Squad
from athletes.vocabulary import Pattern
from athletes.words import label
from programs.engine import facts as engine
from programs.engine.families import criterion_for, easier, exercise_of
from programs.exercises import own_steps, steps_up
from programs.models import Exercise, LevelMove


@dataclass(frozen=True, slots=True)
class Rail:
    """Where a rider stands in one pattern: its name, the exercise now, and the rungs for `components/rail.html`."""

    pattern: str
    now: str
    levels: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class Rung:
    """A level of a family with who stands there."""

    exercise: Exercise
    riders: tuple[Rider, ...]


def read_rails(rider: Rider, library: engine.Library) -> tuple[Rail, ...]:
    """Where the rider stands in each pattern, in the order of patterns, with what earns the next level in words.

    An exercise that has left the library has no rail any more.
    """
    newest = LevelMove.objects.filter(rider=rider).order_by("pattern", "-since_on", "-pk").distinct("pattern")
    standing = {move.pattern: move.exercise_id for move in newest}
    known = {exercise.slug for exercise in library.exercises}
    rows = {row.slug: row for row in Exercise.objects.filter(pattern__in=standing)}
    names = {slug: row.name for slug, row in rows.items()}
    own = own_steps()
    words = {(slug, harder): said for slug, row in rows.items() for harder, said in steps_up(row, own)}
    return tuple(
        Rail(_capital(str(label(pattern))), names[slug], rail_of(library, slug, names, words))
        for pattern in Pattern
        if (slug := standing.get(pattern.value, "")) in known and slug in names
    )


def read_rungs(levels: Sequence[Exercise], *, squad: Squad | None = None) -> tuple[Rung, ...]:
    """Each of the exercises of one pattern with the riders who train now and stand there, all or those of a squad."""
    patterns = {one.pattern for one in levels}
    moves = LevelMove.objects.filter(pattern__in=patterns, rider__in=Rider.objects.current())
    if squad is not None:
        moves = moves.filter(rider__squad=squad)
    newest = moves.order_by("rider_id", "pattern", "-since_on", "-pk").distinct("rider_id", "pattern")
    there: dict[str, list[Rider]] = {}
    for move in newest.select_related("rider"):
        there.setdefault(move.exercise_id, []).append(move.rider)
    return tuple(
        Rung(one, tuple(sorted(there.get(one.slug, ()), key=lambda rider: rider.name))) for one in levels
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def rail_of(
    library: engine.Library,
    slug: str,
    names: Mapping[str, str],
    words: Mapping[tuple[str, str], str] | None = None,
) -> tuple[dict[str, Any], ...]:
    """The main line of a family through one exercise, from easiest to hardest, for `components/rail.html`.

    `words` say for (exercise, harder one) what earns the step; without them its figures do.
    """
    below, above = [], []
    at = slug
    while under := easier(library, at):
        at = next((one.slug for one in under if one.edges[0].harder == at), under[0].slug)
        if at in below:
            break
        below.append(at)
    at = slug
    while edges := exercise_of(library, at).edges:
        at = edges[0].harder
        if at in above:
            break
        above.append(at)
    return (
        *(_rung(library, one, names, passed=True) for one in reversed(below)),
        _rung(library, slug, names, current=True),
        *(
            _rung(
                library,
                one,
                names,
                next=index == 0,
                criterion=_earned(library, slug, one, words or {}) if index == 0 else "",
            )
            for index, one in enumerate(above)
        ),
    )


def _rung(library: engine.Library, slug: str, names: Mapping[str, str], **marks: Any) -> dict[str, Any]:
    return {"name": names.get(slug, slug), "level": exercise_of(library, slug).level, **marks}


def _earned(library: engine.Library, slug: str, harder: str, words: Mapping[tuple[str, str], str]) -> str:
    if said := words.get((slug, harder)):
        return _("Earned by {words}").format(words=said)
    criterion = criterion_for(library, slug, harder)
    if criterion is None:
        return ""
    if exercise_of(library, slug).measure is engine.Measure.HOLD:
        return _("Earned by {sets} x {value} s.").format(sets=criterion.sets, value=criterion.value)
    return ngettext(
        "Earned by {sets} x {value} with {count} good rep left.",
        "Earned by {sets} x {value} with {count} good reps left.",
        criterion.reps_left,
    ).format(sets=criterion.sets, value=criterion.value, count=criterion.reps_left)
