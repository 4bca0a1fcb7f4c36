"""Where the sessions of a week stand (rules W1 to W3, and H3 as it moves days).

W1  Place the sessions on the rider's week. Hard: available, kit at the venue, at least one clear day between sessions
    by actual dates and across week borders, the race gaps of P9, never two on a day, at most three a week. Soft, by
    weighted points: hours from key rides, legs fresh for the key ride, liked times, the same days as last week. What
    bars and what costs is in `spots`.
W2  The answer is the optimum, found by exact enumeration: the fewest points; among equals the widest smallest gap
    between sessions, then the earliest dates, starts and venues by name (ours). It comes with its points by term and
    the runner-up, the best of the placements that use other openings. Where the sessions do not all fit, the fewest
    are dropped, pinned ones last and then the highest ordinals first (ours), and each constraint is lifted in turn to
    say which one did it.
W3  A rider who trains alone gets no barbell squat or press without safeties. A plan sent without a coach's approval
    never goes to a rider in the first week, under 18, or with an open pain matter.
H3  A session done on another day counts by its actual date; the rest of the week shifts or drops by the spacing rules.
    A session keeps its planned day unless that is no longer possible. One that passed in silence is not placed again:
    silence is M3's affair.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from itertools import combinations
from typing import Final

from athletes.concerns import Matter
from athletes.vocabulary import Furniture, Implement, Reason
from programs.engine.facts import Cost, Exercise, Holding, Kit, Opening, Placement, Rider, Week
from programs.engine.quantities import week_days, week_of, week_starts_on
from programs.engine.spots import (
    APART,
    AWAY,
    CAPPED,
    LONG_GAP,
    MOST_SESSIONS,
    MOVED,
    NEAR_A_RACE,
    NEXT_TO_A_SESSION,
    NO_KIT,
    ON_A_RIDE,
    OUT_OF_ORDER,
    PAST,
    PINNED_ELSEWHERE,
    SHORT,
    PlaceFacts,
    Spot,
    blocks_and_points,
    spots_of,
)

REASONS: dict[str, str] = {
    "placed-best": "These days cost {points} points, which count how badly a day suits; the next best cost "
    "{runner_up}.",
    "placed-only": "These days cost {points} points, which count how badly a day suits; no other choice of times holds "
    "all sessions.",
    "dropped-for-absence": "{placed} of {asked} sessions fit: the rider is away. Without that, {would_place} would "
    "fit.",
    "dropped-for-past": "{placed} of {asked} sessions fit: the other days have passed. Without that, {would_place} "
    "would fit.",
    "dropped-for-kit": "{placed} of {asked} sessions fit: a venue has no kit on record. Without that, {would_place} "
    "would fit.",
    "dropped-for-short-time": "{placed} of {asked} sessions fit: some times are shorter than {least} minutes. "
    "Without that, {would_place} would fit.",
    "dropped-for-ride": "{placed} of {asked} sessions fit: a ride takes the time. Without that, {would_place} would "
    "fit.",
    "dropped-for-race": "{placed} of {asked} sessions fit: a race is near. Without that, {would_place} would fit.",
    "dropped-for-spacing": "{placed} of {asked} sessions fit: there is one clear day between sessions. Without that, "
    "{would_place} would fit.",
    "dropped-for-pin": "{placed} of {asked} sessions fit: a session is pinned to a day. Without that, {would_place} "
    "would fit.",
    "dropped-for-race-cap": "{placed} of {asked} sessions fit: one session at most in the last days before a priority "
    "race. Without that, {would_place} would fit.",
    "dropped-for-openings": "{placed} of {asked} sessions fit: there are too few times to train. With a free time "
    "each day, {would_place} would fit.",
    "dropped-for-most-days": "{most} sessions a week at most for this rider; {asked} were asked for and {done} are "
    "done.",
    "dropped-for-several": "{placed} of {asked} sessions fit: several limits together; lifting one does not help.",
    "long-gap-left": "{days} days since the last session, more than the {most} that a maintain week should leave.",
    "session-shifted": "Session {ordinal} moves from {from_on} to {to_on}, after what was done this week.",
    "session-lost-to-shift": "Session {ordinal} of {from_on} is left out: after what was done this week, no day fits.",
    "no-barbell-alone": "{exercise} with a barbell is left out: the rider trains alone and there are no safeties.",
    "first-week-needs-approval": "First week of this rider: a coach approves it.",
    "under-18-needs-approval": "Under 18: a coach approves each week.",
    "open-pain-needs-approval": "A pain matter is open: a coach approves this week.",
}

#: What can be lifted, its reason, in the order in which it is named.
_LIFTED: Final = (
    (NEAR_A_RACE, "dropped-for-race"),
    (CAPPED, "dropped-for-race-cap"),
    (AWAY, "dropped-for-absence"),
    (NEXT_TO_A_SESSION, "dropped-for-spacing"),
    (PINNED_ELSEWHERE, "dropped-for-pin"),
    (ON_A_RIDE, "dropped-for-ride"),
    (NO_KIT, "dropped-for-kit"),
    (SHORT, "dropped-for-short-time"),
    (PAST, "dropped-for-past"),
)

#: Terms that a spot carries by itself, and the field that holds each.
SPOT_TERMS: Final[dict[str, str]] = {
    "near-key-ride": "near",
    "tired-legs": "tired",
    "less-liked-time": "less_liked",
    "other-day": "other_day",
}

#: A price, the smallest gap negated, and the (spot, session) pairs in order of date.
type Found = tuple[int, int, tuple[tuple[int, int], ...]]
#: The same with spots instead of their numbers.
type _Stood = tuple[tuple[int, Spot], ...]


def cheapest(
    days: Sequence[int],
    points: Sequence[Sequence[int]],
    count: int,
    *,
    apart: int = APART,
    in_order: bool = True,
    first_points: Sequence[int] | None = None,
    caps: Sequence[tuple[int, int, int]] = (),
) -> tuple[Found | None, Found | None]:
    """The best way to put `count` sessions on spots, and the best with another set of spots (W2).

    `days` ascend; `points[spot][session]` is the price, negative where the session may not stand there. Two sessions
    stand at least `apart` days apart. With `in_order` sessions keep their order, else a pair out of order costs
    `OUT_OF_ORDER`. `first_points[spot]` is added for the first spot used; `caps` are (first day, last day, most).
    Exact: a branch is left only when its points, which never fall, already exceed the runner-up's.
    """
    best: Found | None = None
    second: Found | None = None
    spots = len(days)
    chosen: list[tuple[int, int]] = []

    def keep(found: Found) -> None:
        nonlocal best, second
        if best is None:
            best = found
        elif [spot for spot, _ in found[2]] == [spot for spot, _ in best[2]]:
            if found[:2] < best[:2]:
                best = found
        elif found[:2] < best[:2]:
            best, second = found, best
        elif second is None or found[:2] < second[:2]:
            second = found

    def extend(start: int, left: tuple[int, ...], total: int, least_gap: int) -> None:
        if not left:
            keep((total, -least_gap, tuple(chosen)))
            return
        last_day = days[chosen[-1][0]] if chosen else -apart
        for spot in range(start, spots - len(left) + 1):
            day = days[spot]
            if day - last_day < apart or (caps and _over_cap(day, days, chosen, caps)):
                continue
            row = points[spot]
            for place, session in enumerate(left[:1] if in_order else left):
                price = row[session]
                if price < 0:
                    continue
                price += total + place * OUT_OF_ORDER
                if first_points and not chosen:
                    price += first_points[spot]
                if second is not None and price > second[0]:
                    continue
                gap = min(least_gap, day - last_day) if chosen else least_gap
                chosen.append((spot, session))
                extend(spot + 1, left[:place] + left[place + 1 :], price, gap)
                chosen.pop()

    extend(0, tuple(range(count)), 0, 7)
    return best, second


def place(facts: PlaceFacts, *, lifted: int = 0, unpriced: frozenset[str] = frozenset()) -> Placement:
    """The placement of a week's sessions (W1, W2).

    `chosen` holds what fits, in order of date; `dropped` counts what does not, with the constraints that did it in
    `reasons`. `costs` holds the terms that are not zero. `lifted` are bits of constraints that are not applied and
    `unpriced` terms of a spot that cost nothing: to see what each does to the answer, never to plan a week.
    """
    ordinals, legs = _sessions(facts)
    if not ordinals:
        return Placement(chosen=())
    spots = spots_of(facts)
    for spot in spots if unpriced else ():
        for term in unpriced:
            setattr(spot, SPOT_TERMS[term], 0)
    for kept in _kept_sets(facts, ordinals):
        names = [ordinals[at] for at in kept]
        best, second = _solve(facts, spots, names, [legs[at] for at in kept], lifted)
        if best is not None:
            dropped = len(ordinals) - len(kept)
            why = _drop_reasons(facts, spots, len(kept)) if dropped else ()
            return _placement(facts, best, second, dropped, why)
    return Placement(chosen=(), dropped=len(ordinals), reasons=_drop_reasons(facts, spots, 0))


def price_of(facts: PlaceFacts, pinned: tuple[int, date]) -> int | None:
    """How many points more the week costs with this session pinned to this day than left free.

    None when the pin would drop a session, which is to say that the day is not possible.
    """
    ordinal, _on = pinned
    others = tuple(pin for pin in facts.pinned if pin[0] != ordinal)
    free = place(replace(facts, pinned=others))
    held = place(replace(facts, pinned=(*others, pinned)))
    if held.dropped > free.dropped or ordinal not in {number for number, _ in held.chosen}:
        return None
    return sum(cost.points for cost in held.costs) - sum(cost.points for cost in free.costs)


def shift(
    facts: PlaceFacts, planned: tuple[tuple[int, date], ...], done: tuple[tuple[int, date], ...], today: date
) -> Placement:
    """What remains of a week after sessions were done on the days they were done (H3).

    `planned` holds (ordinal, date) of the week as sent, `done` (ordinal, actual date). A session that is not done and
    was planned before `today` is past and stays so. The others keep their days if the spacing rules allow, else they
    move at the least cost, else they drop. Never more sessions than were planned.
    """
    ordinals, legs = _sessions(facts)
    works_legs = dict(zip(ordinals, legs, strict=True))
    finished = {ordinal for ordinal, _ in done}
    left = tuple((ordinal, on) for ordinal, on in planned if ordinal not in finished and on >= today)
    done_on = tuple(on for _ordinal, on in done)
    rest = replace(
        facts,
        count=len(left),
        ordinals=tuple(ordinal for ordinal, _on in left),
        legs=tuple(works_legs.get(ordinal, True) for ordinal, _on in left),
        done_on=(*facts.done_on, *(on for on in done_on if on not in facts.done_on)),
        pinned=(),
        planned=left,
        not_before=today,
    )
    answer = place(rest)
    return replace(answer, reasons=(*answer.reasons, *_shift_reasons(answer, left)))


def barbell_alone(exercise: Exercise, holding: Holding | None, kit: Kit, rider: Rider) -> Reason | None:
    """Why this exercise may not be done with this implement here (W3), or None when it may."""
    if not exercise.needs_safeties or holding is None or holding.implement is not Implement.BARBELL:
        return None
    if not rider.trains_alone or Furniture.RACK_WITH_SAFETIES in kit.furniture:
        return None
    return Reason("W3", "no-barbell-alone", {"exercise": exercise.slug})


def needs_approval(rider: Rider, week: Week, matters: Sequence[Matter], today: date) -> tuple[Reason, ...]:
    """Why a plan may not be sent without a coach's approval (W3). Empty when it may."""
    reasons = []
    if rider.first_week_on is None or week <= week_of(rider.first_week_on):
        reasons.append(Reason("W3", "first-week-needs-approval"))
    if rider.youngest_age < 18:
        reasons.append(Reason("W3", "under-18-needs-approval"))
    if any(matter.closed_on is None or matter.closed_on > today for matter in matters):
        reasons.append(Reason("W3", "open-pain-needs-approval"))
    return tuple(reasons)


# --- inside -----------------------------------------------------------------------------------------------------------


def _sessions(facts: PlaceFacts) -> tuple[tuple[int, ...], tuple[bool, ...]]:
    """The ordinals to place and whether each works the legs. Raises `ValueError` when they do not match the count."""
    ordinals = facts.ordinals or tuple(range(1, facts.count + 1))
    legs = facts.legs or (True,) * len(ordinals)
    if len(legs) != len(ordinals) or facts.count > len(ordinals):
        raise ValueError(
            f"{facts.count} sessions asked, {len(ordinals)} ordinals and {len(legs)} leg flags given"
        )
    return ordinals[: facts.count], legs[: facts.count]


def _most_left(facts: PlaceFacts) -> int:
    """How many sessions the week may still take (I4)."""
    return max(0, min(facts.max_days, MOST_SESSIONS) - _done_in_week(facts))


def _done_in_week(facts: PlaceFacts) -> int:
    monday = week_starts_on(facts.week).toordinal()
    return len({on for on in facts.done_on if 0 <= on.toordinal() - monday < 7})


def _kept_sets(facts: PlaceFacts, ordinals: Sequence[int], more_than: int = 0) -> Iterator[tuple[int, ...]]:
    """Which sessions to try to keep, best first: as many as possible, then pinned ones, then the lowest ordinals."""
    pinned = {ordinal for ordinal, _on in facts.pinned}
    for size in range(min(_most_left(facts), len(ordinals)), more_than, -1):
        kept_sets = combinations(range(len(ordinals)), size)
        yield from sorted(kept_sets, key=lambda kept: -sum(ordinals[at] in pinned for at in kept))


def _solve(
    facts: PlaceFacts, spots: Sequence[Spot], ordinals: Sequence[int], legs: Sequence[bool], lifted: int = 0
) -> tuple[_Stood | None, _Stood | None]:
    """The best and second placement of exactly these sessions, with the constraints in `lifted` not applied."""
    blocks, prices = blocks_and_points(facts, spots, ordinals, legs)
    open_spots, days, points = [], [], []
    for spot, block_row, price_row in zip(spots, blocks, prices, strict=True):
        row = [-1 if block & ~lifted else price for block, price in zip(block_row, price_row, strict=True)]
        if max(row) >= 0:
            open_spots.append(spot)
            days.append(spot.day)
            points.append(row)
    if len(days) < len(ordinals):
        return None, None
    best, second = cheapest(
        days,
        points,
        len(ordinals),
        apart=1 if lifted & NEXT_TO_A_SESSION else APART,
        in_order=not facts.pinned and not facts.planned and len(set(legs)) == 1,
        first_points=_long_gap_points(facts, days),
        caps=() if lifted & CAPPED else _caps(facts),
    )
    return _stood(open_spots, ordinals, best), _stood(open_spots, ordinals, second)


def _stood(spots: Sequence[Spot], ordinals: Sequence[int], found: Found | None) -> _Stood | None:
    return None if found is None else tuple((ordinals[session], spots[spot]) for spot, session in found[2])


def _long_gap_points(facts: PlaceFacts, days: Sequence[int]) -> list[int] | None:
    """Points for each day that is too long after the last session to be the first of the week (P8)."""
    if facts.max_gap_days is None or not facts.done_on:
        return None
    last = max(facts.done_on).toordinal() - week_starts_on(facts.week).toordinal()
    return [LONG_GAP if day - last > facts.max_gap_days else 0 for day in days]


def _caps(facts: PlaceFacts) -> list[tuple[int, int, int]]:
    """The caps in days from Monday, less what is done or stands fixed in each."""
    monday = week_starts_on(facts.week).toordinal()
    held = {*facts.done_on, *facts.fixed_on}
    return [
        (
            cap.from_on.toordinal() - monday,
            cap.until_on.toordinal() - monday,
            cap.most - sum(cap.from_on <= on <= cap.until_on for on in held),
        )
        for cap in facts.caps
    ]


def _over_cap(
    day: int, days: Sequence[int], chosen: Sequence[tuple[int, int]], caps: Sequence[tuple[int, int, int]]
) -> bool:
    """Whether one more session on this day would break a cap."""
    for first, last, most in caps:
        if first <= day <= last and sum(first <= days[spot] <= last for spot, _session in chosen) >= most:
            return True
    return False


def _placement(
    facts: PlaceFacts,
    best: _Stood,
    second: _Stood | None,
    dropped: int,
    why: tuple[Reason, ...],
) -> Placement:
    costs = _costs(facts, best)
    second_costs = _costs(facts, second) if second else ()
    points = sum(cost.points for cost in costs)
    if second is None:
        told = Reason("W2", "placed-only", {"points": points})
    else:
        runner_up = sum(cost.points for cost in second_costs)
        told = Reason("W2", "placed-best", {"points": points, "runner_up": runner_up})
    reasons = (told, *why)
    if any(cost.term == "long-gap" for cost in costs):
        days = (best[0][1].opening.on - max(facts.done_on)).days
        reasons = (*reasons, Reason("P8", "long-gap-left", {"days": days, "most": facts.max_gap_days}))
    return Placement(
        chosen=tuple((ordinal, spot.opening) for ordinal, spot in best),
        costs=costs,
        runner_up=tuple((ordinal, spot.opening) for ordinal, spot in second) if second else None,
        runner_up_costs=second_costs,
        dropped=dropped,
        reasons=reasons,
    )


def _costs(facts: PlaceFacts, stood: _Stood) -> tuple[Cost, ...]:
    """The price of a placement by term, terms of zero left out. Their sum is what the search minimised."""
    ordinals, legs = _sessions(facts)
    works_legs = dict(zip(ordinals, legs, strict=True))
    planned = dict(facts.planned)
    placed = [ordinal for ordinal, _spot in stood]
    late = _long_gap_points(facts, [stood[0][1].day])
    terms = (
        ("near-key-ride", sum(spot.near for _ordinal, spot in stood)),
        ("tired-legs", sum(spot.tired for ordinal, spot in stood if works_legs[ordinal])),
        ("less-liked-time", sum(spot.less_liked for _ordinal, spot in stood)),
        ("other-day", sum(spot.other_day for _ordinal, spot in stood)),
        ("out-of-order", OUT_OF_ORDER * sum(a > b for a, b in combinations(placed, 2))),
        ("long-gap", late[0] if late else 0),
        (
            "moved",
            MOVED * sum(planned.get(number, spot.opening.on) != spot.opening.on for number, spot in stood),
        ),
    )
    return tuple(Cost(term, points) for term, points in terms if points)


def _drop_reasons(facts: PlaceFacts, spots: Sequence[Spot], placed: int) -> tuple[Reason, ...]:
    """Which constraints, each lifted alone, would let more sessions stand (W2)."""
    ordinals, legs = _sessions(facts)
    asked, most = len(ordinals), _most_left(facts)
    reasons = []
    if asked > most:
        figures = {"most": min(facts.max_days, MOST_SESSIONS), "asked": asked, "done": _done_in_week(facts)}
        reasons.append(Reason("W2", "dropped-for-most-days", figures))
    if placed >= min(asked, most):
        return tuple(reasons)
    figures = {"asked": asked, "placed": placed}
    at_work = _at_work(facts, spots)
    for constraint, key in _LIFTED:
        if not constraint & at_work:
            continue
        more = _most_placed(facts, spots, ordinals, legs, placed, constraint)
        if more > placed:
            least = {"least": facts.least_minutes} if constraint == SHORT else {}
            reasons.append(Reason("W2", key, figures | {"would_place": more} | least))
    with_times = spots_of(replace(facts, openings=(*facts.openings, *_any_time(facts))))
    more = _most_placed(facts, with_times, ordinals, legs, placed, 0)
    if more > placed:
        reasons.append(Reason("W2", "dropped-for-openings", figures | {"would_place": more}))
    return tuple(reasons) or (Reason("W2", "dropped-for-several", figures),)


def _at_work(facts: PlaceFacts, spots: Sequence[Spot]) -> int:
    """The constraints that bar anything at all, since to lift the others cannot help."""
    bits = NEXT_TO_A_SESSION | (PINNED_ELSEWHERE if facts.pinned else 0) | (CAPPED if facts.caps else 0)
    for spot in spots:
        bits |= spot.blocks | spot.leg_blocks
    return bits


def _most_placed(
    facts: PlaceFacts,
    spots: Sequence[Spot],
    ordinals: Sequence[int],
    legs: Sequence[bool],
    more_than: int,
    lifted: int,
) -> int:
    """How many sessions fit with a constraint lifted; `more_than` when no more than that."""
    for kept in _kept_sets(facts, ordinals, more_than):
        names = [ordinals[at] for at in kept]
        if _solve(facts, spots, names, [legs[at] for at in kept], lifted)[0] is not None:
            return len(kept)
    return more_than


def _any_time(facts: PlaceFacts) -> list[Opening]:
    """A free hour in the morning, at noon and in the evening of each day, at a venue that has kit."""
    venue = min(facts.venues) if facts.venues else ""
    return [
        Opening(on, start, max(facts.minutes, facts.least_minutes), venue)
        for on in week_days(facts.week)
        for start in (6 * 60, 12 * 60, 18 * 60)
    ]


def _shift_reasons(answer: Placement, left: Sequence[tuple[int, date]]) -> tuple[Reason, ...]:
    """One reason for each session that no longer stands on its planned day (H3)."""
    now_on = {ordinal: opening.on for ordinal, opening in answer.chosen}
    reasons = []
    for ordinal, planned_on in left:
        figures: dict[str, str | int | bool | None] = {"ordinal": ordinal, "from_on": planned_on.isoformat()}
        if ordinal not in now_on:
            reasons.append(Reason("H3", "session-lost-to-shift", figures))
        elif now_on[ordinal] != planned_on:
            figures["to_on"] = now_on[ordinal].isoformat()
            reasons.append(Reason("H3", "session-shifted", figures))
    return tuple(reasons)
