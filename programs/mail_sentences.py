"""Why a target is another than last time, in the one plain sentence that a rider's mail has for it.

A card lies on the gym floor and says only what differs; a mail is the rider's own and says why as well, but nothing
about health.
"""

from collections.abc import Mapping

from programs.engine.facts import Change, Item
from programs.engine.quantities import Unit
from programs.rider_sentences import RIDER
from programs.wording import HEALTH_WORDS, is_health, sentence

#: Reasons that say why a target rose, by the change that each makes.
_RISES: Mapping[Change, frozenset[str]] = {
    Change.NEW: frozenset(
        {"new-exercise", "new-hold", "new-implement", "new-implement-hold", "away-learn-again"}
    ),
    Change.MORE_REPS: frozenset({"reps-up", "reps-on", "eased-in", "back-to-kept"}),
    Change.MORE_TIME: frozenset({"time-up", "eased-in", "back-to-kept"}),
    Change.MORE_SETS: frozenset({"set-up", "set-up-hold", "extra-set", "eased-in", "sets-back-to-kept"}),
    Change.MORE_LOAD: frozenset(
        {"load-up", "load-up-unmeasured", "load-back", "first-load", "bridge-crossed"}
    ),
    Change.SLOWER: frozenset({"slower"}),
    Change.BRIDGE: frozenset({"bridge-set"}),
    Change.HARDER: frozenset({"harder-level"}),
}


def why_line(item: Item, unit: Unit, *, names: Mapping[str, str] | None = None) -> str:
    """Why the target is another than last time, in one plain sentence for the rider's mail; nothing where it is the
    same, and nothing where any of its reasons is about health, which is not said in a mail."""
    if item.change is Change.SAME or any(is_health(reason) for reason in item.reasons):
        return ""
    keys = _RISES.get(item.change)
    for reason in reversed(item.reasons):
        if reason.key in RIDER and (keys is None or reason.key in keys):
            said = sentence(reason, "rider", names=names, unit=unit)
            return "" if HEALTH_WORDS.search(said) else said
    return ""
