"""The level rail of a family: the main line through one exercise, and what earns the next level (L1)."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from programs.engine import facts as engine
from programs.engine.families import criterion_for, easier, exercise_of


def rail_of(library: engine.Library, slug: str, names: Mapping[str, str]) -> tuple[dict[str, Any], ...]:
    """The main line of a family through one exercise, from easiest to hardest, for `components/rail.html`."""
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
                criterion=_earned(library, slug, one) if index == 0 else "",
            )
            for index, one in enumerate(above)
        ),
    )


def _rung(library: engine.Library, slug: str, names: Mapping[str, str], **marks: Any) -> dict[str, Any]:
    return {"name": names.get(slug, slug), "level": exercise_of(library, slug).level, **marks}


def _earned(library: engine.Library, slug: str, harder: str) -> str:
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
