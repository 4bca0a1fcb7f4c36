"""Fewer sets at the same load: the light week, maintaining, before a race (rules P7, P8, P9, S4).

P7  Every fourth week of a build block is light: sets 4 to 2, 3 to 2, 2 to 1, two reps fewer, same load (practice).
    Other numbers of sets are halved and rounded up, never below 1; holds are 10 s shorter; reps and seconds stop at
    the floor (ours). A bridge waits.
P8  Maintain: load and reps are kept, with 2 sets (S: Rønnestad 2010: twelve weeks at two sessions, then thirteen at
    one, kept strength; the sets are from memory).
P9  Before a priority race sets are cut by 40 % in the week before last and by 60 % in race week; load and reps are
    kept. S: Bosquet 2007, 41 to 60 % of volume over two weeks in endurance training; for strength work an
    extrapolation. Sets are whole: the nearest, a half rounded down, never below 1 (ours).

Where several hold, the fewest sets stand.
"""

from dataclasses import replace
from decimal import ROUND_HALF_DOWN, Decimal

from athletes.vocabulary import Figure, Reason
from programs.engine.descent import without_bridge
from programs.engine.facts import Measure, Phase, Target
from programs.engine.target_facts import amount_figure

LIGHT_REPS_FEWER, LIGHT_S_SHORTER = 2, 10
MAINTAIN_SETS = 2

REASONS: dict[str, str] = {
    "light-week": "Light week: sets from {from_sets} to {to_sets}, {fewer} fewer each, same load.",
    "light-week-sets": "Light week: sets from {from_sets} to {to_sets}, all else as before.",
    "light-week-amount": "Light week: {fewer} fewer each, in as many sets and at the same load.",
    "light-week-least": "Light week: this is as little as is asked for, so it stays.",
    "maintain": "{sets} sets keep what was built, at the same load and reps.",
    "before-race-one-set": "One set, as before: there is none to take off before the race.",
    "before-race": "{percent} % off the sets before the race, from {from_sets} to {to_sets}, at the same load.",
}


def light_sets(sets: int) -> int:
    """Sets in a light week (P7).

    >>> [light_sets(sets) for sets in (4, 3, 2, 1)]
    [2, 2, 1, 1]
    """
    return max(1, (sets + 1) // 2)


def cut_sets(sets: int, percent: int) -> int:
    """Sets after a cut: the nearest whole number, a half rounded down, at least 1 (P9).

    >>> cut_sets(4, 40), cut_sets(3, 40), cut_sets(3, 60)
    (2, 2, 1)
    """
    left = Decimal(sets) * (100 - percent) / 100
    return max(1, int(left.quantize(Decimal(1), rounding=ROUND_HALF_DOWN)))


def apply_cut(
    target: Target, *, floor: int, phase: Phase, light: bool = False, cut_percent: int = 0
) -> tuple[Target, tuple[Reason, ...]]:
    """The target with the cuts of its day, and why; the same target and no reason where nothing is cut."""
    cut = target
    reasons: tuple[Reason, ...] = ()
    if cut_percent:
        cut, reasons = _before_race(target, cut_percent)
    if light:
        eased, why = _light(target, floor)
        cut = replace(eased, sets=min(eased.sets, cut.sets))
        reasons = (*reasons, why)
    if phase is Phase.MAINTAIN and cut.sets > MAINTAIN_SETS:
        cut = without_bridge(replace(cut, sets=MAINTAIN_SETS))
        reasons = (*reasons, Reason("P8", "maintain", {"sets": MAINTAIN_SETS}))
    return cut, reasons


def _before_race(target: Target, percent: int) -> tuple[Target, tuple[Reason, ...]]:
    sets = cut_sets(target.sets, percent)
    if sets == target.sets:
        return without_bridge(target), (Reason("P9", "before-race-one-set"),)
    figures = {"percent": percent, "from_sets": target.sets, "to_sets": sets}
    return without_bridge(replace(target, sets=sets)), (Reason("P9", "before-race", figures),)


def _light(target: Target, floor: int) -> tuple[Target, Reason]:
    fewer = LIGHT_REPS_FEWER if target.measure is Measure.REPS else LIGHT_S_SHORTER
    amount = min(target.amount, max(floor, target.amount - fewer))
    sets = light_sets(target.sets)
    less, cut = target.amount - amount, without_bridge(replace(target, sets=sets, amount=amount))
    if sets == target.sets and not less:
        return cut, Reason("P7", "light-week-least")
    shown = {"fewer": amount_figure(target.measure, less)}
    if sets == target.sets:
        return cut, Reason("P7", "light-week-amount", shown)
    figures: dict[str, Figure] = {"from_sets": target.sets, "to_sets": sets}
    if not less:
        return cut, Reason("P7", "light-week-sets", figures)
    return cut, Reason("P7", "light-week", {**figures, **shown})
