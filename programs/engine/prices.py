"""What the week's constraints cost, and what it costs to pin a session to a day (rules W1 and W2).

    priced(facts) -> PricedPlacement

W1  What bars a day or costs points is in `spots`; here it is said of one day of one session, with the hours and dates
    that caused it, so that a coach who pins a session sees what is given up for it.
W2  Each constraint is dropped in turn and the week is placed again by the same exact search: the difference in points
    is what the constraint costs, or the sessions that it keeps out. A day's price is the difference between the best
    week with the session pinned there and the best one without that pin. A pin sets no constraint aside (I3): a day
    that is barred stays barred. Nothing here is needed to plan a week, so it is worked out when it is asked for.
"""

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from datetime import date
from typing import Final

from athletes.values import value_class
from athletes.vocabulary import Figure, Reason
from programs.engine.facts import Opening, Placement
from programs.engine.quantities import week_days, week_starts_on
from programs.engine.spots import (
    APART,
    AWAY,
    CAPPED,
    DAY_MINUTES,
    GAP_HOURS_WITHOUT_LEGS,
    NEAR_A_RACE,
    NEXT_TO_A_SESSION,
    NO_KIT,
    ON_A_RIDE,
    PAST,
    PINNED_ELSEWHERE,
    SAME_DAY,
    SHORT,
    PlaceFacts,
    Spot,
    gap_hours,
    spots_of,
)
from programs.engine.week import SPOT_TERMS, place

REASONS: dict[str, str] = {
    "price-before-ride": "Ends {hours} h before the key ride of {on}: {points} points.",
    "price-legs-before-ride": "Leg work that ends {hours} h before the key ride of {on}: {points} points.",
    "price-after-ride": "Begins {hours} h after the key ride of {on}: {points} points.",
    "price-less-liked": "A time that the rider likes less: {points} points.",
    "price-other-day": "Not one of last week's days: {points} points.",
    "price-out-of-order": "The sessions then stand in another order: {points} points.",
    "price-long-gap": "{days} days after the last session: {points} points.",
    "price-moves": "Session {ordinal} then stands on {to_on}.",
    "barred-no-time": "No time to train on that day.",
    "barred-past": "The day has passed.",
    "barred-away": "The rider is away.",
    "barred-kit": "No kit on record at {venue}.",
    "barred-short": "{minutes} minutes are too short; {least} are the least.",
    "barred-ride": "A ride takes the time.",
    "barred-race-day": "{race} is on that day.",
    "barred-race": "Ends {hours} h before {race}; {needed} h are kept clear.",
    "barred-same-day": "Another session stands on that day.",
    "barred-spacing": "Next to the session of {on}; one clear day lies between.",
    "barred-loses": "Session {ordinal} would then fit on no day.",
}

#: What can be dropped to see what it costs: constraints that bar, by their bits, then terms that cost points.
BARS: Final[dict[str, int]] = {
    "away": AWAY,
    "past": PAST,
    "no-kit": NO_KIT,
    "short-time": SHORT,
    "ride": ON_A_RIDE,
    "race": NEAR_A_RACE,
    "spacing": NEXT_TO_A_SESSION,
    "pin": PINNED_ELSEWHERE,
    "race-cap": CAPPED,
}
TERMS: Final = (*SPOT_TERMS, "long-gap", "moved")


@value_class
class ConstraintPrice:
    """What one constraint costs the week: `points` fewer, or `sessions` more, if it did not hold.

    `points` is None where more sessions would fit, since weeks of unequal length do not compare. `chosen` is where the
    sessions would stand then. `is_hard` says that it bars rather than costs.
    """

    constraint: str
    is_hard: bool
    points: int | None
    sessions: int
    chosen: tuple[tuple[int, Opening], ...]


@value_class
class DayPrice:
    """What it costs to pin a session to a day: `points` more than the best week, which is 0 for its best day.

    None is impossible, and `reasons` then say what bars it; otherwise they say what costs something there. `opening` is
    the time that would be used.
    """

    ordinal: int
    on: date
    points: int | None
    opening: Opening | None
    reasons: tuple[Reason, ...]


@value_class
class PricedPlacement(Placement):
    """A placement with what each constraint costs and what each day would cost each session."""

    constraints: tuple[ConstraintPrice, ...] = ()
    days: tuple[DayPrice, ...] = ()


def priced(facts: PlaceFacts) -> PricedPlacement:
    """The placement of a week with all its prices (W1, W2)."""
    placed = place(facts)
    ordinals = facts.ordinals or tuple(range(1, facts.count + 1))
    return PricedPlacement(
        **{field.name: getattr(placed, field.name) for field in fields(placed)},
        constraints=constraint_prices(facts),
        days=tuple(price for ordinal in ordinals[: facts.count] for price in day_prices(facts, ordinal)),
    )


def constraint_prices(facts: PlaceFacts) -> tuple[ConstraintPrice, ...]:
    """What each constraint costs, those that bar first; one that changes nothing has the price 0 (W2)."""
    best = place(facts)
    found = [_price(best, name, True, place(facts, lifted=bit)) for name, bit in BARS.items()]
    found += [_price(best, term, False, _without_term(facts, term)) for term in TERMS]
    return tuple(found)


def _without_term(facts: PlaceFacts, term: str) -> Placement:
    if term == "long-gap":
        return place(replace(facts, max_gap_days=None))
    if term == "moved":
        return place(replace(facts, planned=()))
    return place(facts, unpriced=frozenset({term}))


def _price(best: Placement, name: str, is_hard: bool, without: Placement) -> ConstraintPrice:
    more = len(without.chosen) - len(best.chosen)
    points = None if more else points_of(best) - points_of(without)
    return ConstraintPrice(name, is_hard, points, more, without.chosen)


def points_of(placement: Placement) -> int:
    """The points of a placement in all."""
    return sum(cost.points for cost in placement.costs)


# --- a day ------------------------------------------------------------------------------------------------------------


def day_prices(facts: PlaceFacts, ordinal: int) -> tuple[DayPrice, ...]:
    """The price of pinning one session to each of the seven days, or why it is impossible there (W1, W2, I3).

    The other sessions stand wherever is best then, those that are pinned where they are. Raises `ValueError` for an
    ordinal that is not to be placed.
    """
    ordinals = (facts.ordinals or tuple(range(1, facts.count + 1)))[: facts.count]
    if ordinal not in ordinals:
        raise ValueError(f"session {ordinal} is not one to be placed")
    others = tuple(pin for pin in facts.pinned if pin[0] != ordinal)
    free = place(replace(facts, pinned=others))
    asked = _Asked(replace(facts, pinned=others), ordinal, _works_legs(facts, ordinals, ordinal), free)
    return tuple(asked.price(on) for on in week_days(facts.week))


def _works_legs(facts: PlaceFacts, ordinals: Sequence[int], ordinal: int) -> bool:
    return dict(zip(ordinals, facts.legs or (True,) * len(ordinals), strict=False))[ordinal]


@value_class
class _Asked:
    """One session whose days are priced: `facts` without a pin of its own, and the best week then."""

    facts: PlaceFacts
    ordinal: int
    works_legs: bool
    free: Placement

    def price(self, on: date) -> DayPrice:
        here = [spot for spot in spots_of(self.facts) if spot.opening.on == on]
        barred = _least_barred(here, self.works_legs)
        if not here:
            return self._impossible(on, Reason("W1", "barred-no-time"))
        if barred is not None:
            return self._impossible(on, *self._bars(*barred))
        held = place(replace(self.facts, pinned=(*self.facts.pinned, (self.ordinal, on))))
        opening = dict(held.chosen).get(self.ordinal)
        placed = {ordinal for ordinal, _opening in held.chosen}
        lost = [ordinal for ordinal, _opening in self.free.chosen if ordinal not in placed]
        if opening is None or lost:
            return self._impossible(on, *self._crowded(on, lost or [self.ordinal]))
        spot = next(one for one in here if one.opening == opening)
        return DayPrice(
            self.ordinal,
            on,
            points_of(held) - points_of(self.free),
            opening,
            (*self._costs(spot), *self._costs_of_all(held), *self._moves(held)),
        )

    def _impossible(self, on: date, *reasons: Reason) -> DayPrice:
        return DayPrice(self.ordinal, on, None, None, reasons)

    # --- why not ---

    def _bars(self, opening: Opening, bits: int) -> Iterator[Reason]:
        """What bars the day's time that is barred least, every bar once."""
        plain: tuple[tuple[int, str, dict[str, Figure]], ...] = (
            (PAST, "barred-past", {}),
            (AWAY, "barred-away", {}),
            (SAME_DAY, "barred-same-day", {}),
            (ON_A_RIDE, "barred-ride", {}),
            (NO_KIT, "barred-kit", {"venue": opening.venue}),
            (SHORT, "barred-short", {"minutes": opening.minutes, "least": self.facts.least_minutes}),
        )
        for bit, key, figures in plain:
            if bits & bit:
                yield Reason("W1", key, figures)
        if bits & NEXT_TO_A_SESSION:
            yield from self._next_to(opening.on, (*self.facts.done_on, *self.facts.fixed_on))
        if bits & NEAR_A_RACE:
            yield from self._near_races(opening)

    def _next_to(self, on: date, days: Sequence[date]) -> Iterator[Reason]:
        for other in sorted(set(days)):
            if 0 < abs((other - on).days) < APART:
                yield Reason("W1", "barred-spacing", {"on": other.isoformat()})

    def _near_races(self, opening: Opening) -> Iterator[Reason]:
        _start, end = self._span(opening)
        for race in sorted(self.facts.races, key=lambda one: (one.on, one.start)):
            if race.on == opening.on:
                yield Reason("P9", "barred-race-day", {"race": race.name})
                continue
            needed = gap_hours(race) if self.works_legs else GAP_HOURS_WITHOUT_LEGS
            gap = self._minute(race.on, race.start) - end
            if 0 <= gap < needed * 60:
                figures: dict[str, Figure] = {"hours": gap // 60, "race": race.name, "needed": needed}
                yield Reason("P9", "barred-race", figures)

    def _crowded(self, on: date, lost: Sequence[int]) -> tuple[Reason, ...]:
        """Why a day with a free time is no day for this session: what is pinned on it or beside it, or what is lost."""
        pinned = [day for _ordinal, day in self.facts.pinned]
        same = (Reason("W1", "barred-same-day"),) if on in pinned else ()
        return (*same, *self._next_to(on, pinned)) or tuple(
            Reason("W2", "barred-loses", {"ordinal": ordinal}) for ordinal in lost
        )

    # --- what it costs ---

    def _costs(self, spot: Spot) -> Iterator[Reason]:
        """What this session costs at the spot, term by term."""
        yield from self._near_rides(spot)
        if spot.less_liked:
            yield Reason("W1", "price-less-liked", {"points": spot.less_liked})
        if spot.other_day:
            yield Reason("W1", "price-other-day", {"points": spot.other_day})

    def _near_rides(self, spot: Spot) -> Iterator[Reason]:
        start, end = self._span(spot.opening)
        gaps = []
        for ride in self.facts.rides:
            begins = self._minute(ride.on, ride.start)
            if ride.key:
                after = begins < end
                gap = max(0, start - begins - ride.minutes) if after else begins - end
                gaps.append((gap, after, ride.on))
        before = min((one for one in gaps if not one[1]), default=None)
        tired = spot.tired if self.works_legs else 0
        nearest = min(gaps, default=None)
        if tired and before is not None:
            near = spot.near if nearest == before else 0
            yield self._near("price-legs-before-ride", before, near + tired)
        if spot.near and nearest is not None and not (tired and nearest == before):
            yield self._near("price-after-ride" if nearest[1] else "price-before-ride", nearest, spot.near)

    def _near(self, key: str, gap: tuple[int, bool, date], points: int) -> Reason:
        figures: dict[str, Figure] = {"hours": gap[0] // 60, "on": gap[2].isoformat(), "points": points}
        return Reason("W1", key, figures)

    def _costs_of_all(self, held: Placement) -> Iterator[Reason]:
        """What the whole week costs with the session there: its order, and the days since the last session."""
        for cost in held.costs:
            if cost.term == "out-of-order":
                yield Reason("W1", "price-out-of-order", {"points": cost.points})
            if cost.term == "long-gap":
                days = (held.chosen[0][1].on - max(self.facts.done_on)).days
                yield Reason("P8", "price-long-gap", {"days": days, "points": cost.points})

    def _moves(self, held: Placement) -> Iterator[Reason]:
        """The other sessions that stand elsewhere than in the best week."""
        before = {ordinal: opening.on for ordinal, opening in self.free.chosen}
        for ordinal, opening in held.chosen:
            if ordinal != self.ordinal and before.get(ordinal) != opening.on:
                figures: dict[str, Figure] = {"ordinal": ordinal, "to_on": opening.on.isoformat()}
                yield Reason("W1", "price-moves", figures)

    # --- times ---

    def _minute(self, on: date, minute: int) -> int:
        return (on.toordinal() - week_starts_on(self.facts.week).toordinal()) * DAY_MINUTES + minute

    def _span(self, opening: Opening) -> tuple[int, int]:
        start = self._minute(opening.on, opening.start)
        return start, start + min(opening.minutes, self.facts.minutes)


def _least_barred(here: Sequence[Spot], works_legs: bool) -> tuple[Opening, int] | None:
    """The time of a day that fewest constraints bar, with their bits; None when one is free."""
    found = [(spot.leg_blocks if works_legs else spot.blocks, spot.opening) for spot in here]
    if not found or any(not bits for bits, _opening in found):
        return None
    bits, opening = min(found, key=lambda one: (one[0].bit_count(), one[0]))
    return opening, bits
