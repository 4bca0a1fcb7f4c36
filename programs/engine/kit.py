"""What can be loaded at a venue (rules K1 to K6).

K1  Fixed implements (kettlebells, dumbbells): the masses that exist and how many of each; an exercise may need two of
    equal mass.
K2  Barbell: bar, collars and pairs of discs; every total that can be reached. S: IWF masses as defaults.
K3  Adjustable dumbbells: the masses that each can be set to. Whatever may be done with a fixed dumbbell may be done
    with an adjustable one, but their targets are kept apart (H1).
K4  Body weight, with the stated masses of a vest or a backpack.
K5  Bands: ordered levels, no kilograms.
K6  Next and previous are the neighbours among the reachable loads at that venue. A computed load rounds down to a
    reachable one; where none is lower, the caller goes a level down or drops the exercise. A target is always
    reachable.
W3  A rider who trains alone gets no barbell for an exercise that needs safeties where there is no rack with safeties.

K7 (effective load) is for reports and stands with them; nothing here knows a body mass.
"""

from bisect import bisect_left, bisect_right
from decimal import Decimal
from functools import lru_cache

from athletes.vocabulary import Furniture, Implement
from programs.engine.facts import AdjustableDumbbells, Barbell, Exercise, Holding, Kit, Load, Loading
from programs.engine.quantities import plain

#: More disc sums than any real bar has: refused, so that a mistyped kit cannot stall the planning of a squad.
MAX_DISC_SUMS = 20_000

REASONS: dict[str, str] = {}


class KitError(ValueError):
    """The kit cannot be worked with as described."""


class OtherHoldingError(ValueError):
    """A load of one implement was compared with those of another, which H1 forbids."""


@lru_cache(maxsize=32_768)
def holdings_for(exercise: Exercise, kit: Kit, *, alone: bool = False) -> tuple[Holding | None, ...]:
    """The ways in which the exercise can be done with this kit, in the order of the library; `None` is body weight.

    Empty when it cannot be done: furniture is missing, or it needs a load and there is none. With `alone`, W3 holds.
    """
    if not exercise.furniture <= kit.furniture:
        return ()
    bare: tuple[Holding | None, ...] = () if exercise.loading is Loading.EXTERNAL else (None,)
    if exercise.loading is Loading.BODY:
        return bare
    unsafe = alone and exercise.needs_safeties and Furniture.RACK_WITH_SAFETIES not in kit.furniture
    usable = tuple(
        holding
        for holding in _with_adjustable(exercise.holdings)
        if not (unsafe and holding.implement is Implement.BARBELL) and reachable_loads(kit, holding)
    )
    return bare + usable


@lru_cache(maxsize=2048)
def same_kit(kit: Kit) -> Kit:
    """The first kit equal to this one that was asked about: to compare one with itself takes no time."""
    return kit


def _with_adjustable(holdings: tuple[Holding, ...]) -> tuple[Holding, ...]:
    """The holdings, with an adjustable dumbbell after each fixed one unless the library lists it itself (K3)."""
    found: list[Holding] = []
    for holding in holdings:
        found.append(holding)
        if holding.implement is Implement.DUMBBELL:
            adjustable = Holding(Implement.ADJUSTABLE_DUMBBELL, holding.count)
            if adjustable not in holdings:
                found.append(adjustable)
    return tuple(found)


@lru_cache(maxsize=2048)
def reachable_loads(kit: Kit, holding: Holding) -> tuple[Load, ...]:
    """Every load that can be set up for the holding, lightest first: by kilograms, bands by level (K1 to K5).

    Raises `KitError` when the discs give more than `MAX_DISC_SUMS` different sums.
    """
    match holding.implement:
        case Implement.NONE:
            return ()
        case Implement.BAND:
            return tuple(Load(holding, band=level) for level in sorted(set(kit.bands)))
        case Implement.BARBELL:
            masses = _barbell_masses(kit.barbell)
        case Implement.ADJUSTABLE_DUMBBELL:
            masses = _adjustable_masses(kit.adjustable, holding.count)
        case _:
            masses = _fixed_masses(kit, holding)
    return tuple(Load(holding, kg=kg) for kg in sorted({plain(kg) for kg in masses if kg > 0}))


def _fixed_masses(kit: Kit, holding: Holding) -> set[Decimal]:
    counts: dict[Decimal, int] = {}
    for mass in kit.fixed:
        if mass.implement is holding.implement:
            counts[mass.kg] = counts.get(mass.kg, 0) + mass.count
    return {kg for kg, count in counts.items() if count >= holding.count}


def _adjustable_masses(adjustable: AdjustableDumbbells | None, count: int) -> set[Decimal]:
    if adjustable is None or adjustable.count < count:
        return set()
    return set(adjustable.masses)


def _barbell_masses(barbell: Barbell | None) -> set[Decimal]:
    if barbell is None:
        return set()
    return {barbell.bar_kg + barbell.collars_kg + 2 * side for side in _sides(barbell)}


@lru_cache(maxsize=256)
def _sides(barbell: Barbell) -> dict[Decimal, tuple[Decimal, ...]]:
    """Every mass that one side can carry, with the fewest discs that make it, heaviest first."""
    sides: dict[Decimal, tuple[Decimal, ...]] = {Decimal(0): ()}
    pairs: dict[Decimal, int] = {}
    for kg, count in barbell.disc_pairs:
        pairs[plain(kg)] = pairs.get(plain(kg), 0) + count
    for kg in sorted((kg for kg in pairs if kg > 0), reverse=True):
        for mass, discs in tuple(sides.items()):
            for count in range(1, pairs[kg] + 1):
                total, added = mass + kg * count, (*discs, *(kg,) * count)
                if total not in sides or _simpler(added, sides[total]):
                    sides[total] = added
            if len(sides) > MAX_DISC_SUMS:
                raise KitError(f"the discs give more than {MAX_DISC_SUMS} different loads")
    return sides


def _simpler(discs: tuple[Decimal, ...], others: tuple[Decimal, ...]) -> bool:
    """Whether these discs are fewer, or as many with the heavier ones first."""
    return (-len(discs), discs) > (-len(others), others)


def discs_on_each_side(barbell: Barbell, kg: Decimal) -> tuple[Decimal, ...] | None:
    """The fewest discs to slide on each side for a total of `kg`, heaviest first; `None` when it cannot be loaded (K2).

    >>> bar = Barbell(Decimal(20), Decimal(5), ((Decimal(25), 2), (Decimal(10), 1), (Decimal("2.5"), 1)))
    >>> [str(disc) for disc in discs_on_each_side(bar, Decimal(100))]
    ['25', '10', '2.5']
    """
    return _sides(barbell).get((kg - barbell.bar_kg - barbell.collars_kg) / 2)


@lru_cache(maxsize=2048)
def _masses_and_levels(kit: Kit, holding: Holding) -> frozenset[tuple[Decimal | None, int | None]]:
    return frozenset((load.kg, load.band) for load in reachable_loads(kit, holding))


@lru_cache(maxsize=2048)
def _ranks(kit: Kit, holding: Holding) -> tuple[Decimal, ...]:
    """Where each reachable load stands, ascending."""
    return tuple(_rank(holding, load) for load in reachable_loads(kit, holding))


def is_reachable(kit: Kit, load: Load | None) -> bool:
    """Whether the load can be set up with this kit; body weight always can (K6, I2)."""
    return load is None or (load.kg, load.band) in _masses_and_levels(kit, load.holding)


def next_load(kit: Kit, holding: Holding, load: Load | None) -> Load | None:
    """The nearest heavier reachable load (the lightest when `load` is `None`), or `None` when there is none (K6)."""
    at = 0 if load is None else bisect_right(_ranks(kit, holding), _rank(holding, load))
    return next(iter(reachable_loads(kit, holding)[at : at + 1]), None)


def previous_load(kit: Kit, holding: Holding, load: Load | None) -> Load | None:
    """The nearest lighter reachable load, or `None` when there is none (K6)."""
    if load is None:
        return None
    at = bisect_left(_ranks(kit, holding), _rank(holding, load))
    return reachable_loads(kit, holding)[at - 1] if at else None


def round_down(kit: Kit, holding: Holding, kg: Decimal) -> Load | None:
    """The heaviest reachable load of at most `kg` an implement, or `None` when all are heavier or are bands (K6)."""
    if holding.implement is Implement.BAND:
        return None
    at = bisect_right(_ranks(kit, holding), kg)
    return reachable_loads(kit, holding)[at - 1] if at else None


def lighter_by(kit: Kit, load: Load, percent: Decimal | int) -> Load | None:
    """The heaviest reachable load at least `percent` lighter; of bands the level below. `None` when there is none."""
    if load.kg is None:
        return previous_load(kit, load.holding, load)
    return round_down(kit, load.holding, load.kg * (100 - Decimal(percent)) / 100)


def total_kg(load: Load | None) -> Decimal:
    """The external mass in all, both implements of a pair together; 0 for body weight and for bands."""
    if load is None or load.kg is None:
        return Decimal(0)
    return load.kg * load.holding.count


def step_percent(before: Load | None, after: Load) -> Decimal | None:
    """The rise in external mass in percent (P2); `None` when it has no percentage: from nothing, or with bands."""
    start = total_kg(before)
    if not start or after.kg is None:
        return None
    return (total_kg(after) - start) * 100 / start


def _rank(holding: Holding, load: Load) -> Decimal:
    """Where a load stands among those of one holding."""
    if load.holding != holding:
        raise OtherHoldingError(f"{load.holding} is not {holding}")
    return Decimal(load.band) if load.band is not None else (load.kg or Decimal(0))
