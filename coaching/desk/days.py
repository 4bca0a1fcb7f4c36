"""The days of a plan's week: where its sessions stand, what that costs, and what each day would cost a session.

The prices are the engine's (`programs/engine/prices.py`), worked out from the facts of now, since a pin acts on those.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from coaching.desk.words import unit_of
from programs import facts as translator
from programs import wording
from programs.engine import facts as engine
from programs.engine.prices import DayPrice, day_prices
from programs.engine.resolve import place_facts
from programs.engine.season import phase_of
from programs.engine.spots import PlaceFacts
from programs.engine.strength import age_limits
from programs.models import PlannedSession, SessionKey, WeekPlan

#: Words for the terms of a placement's price.
TERMS = {
    "near-key-ride": gettext_lazy("close to a key ride"),
    "tired-legs": gettext_lazy("leg work in the day before a key ride"),
    "less-liked-time": gettext_lazy("a time that the rider likes less"),
    "other-day": gettext_lazy("another day than last week"),
    "out-of-order": gettext_lazy("sessions in another order"),
    "long-gap": gettext_lazy("too many days since the last session"),
    "moved": gettext_lazy("another day than planned"),
}


@dataclass(frozen=True, slots=True)
class Day:
    """A day that a session could be pinned to: what it costs beside the best week, or why it is impossible."""

    on: date
    words: str
    time: str
    points: int | None
    why: tuple[str, ...]
    is_now: bool
    is_pinned: bool

    @property
    def value(self) -> str:
        return self.on.isoformat()

    @property
    def is_free(self) -> bool:
        return self.points is not None

    @property
    def price(self) -> str:
        if self.points is None:
            return _("not possible")
        if not self.points:
            return _("costs nothing more")
        return ngettext("{count} point more", "{count} points more", self.points).format(count=self.points)


@dataclass(frozen=True, slots=True)
class Pin:
    """A session that a coach pinned to a day."""

    ordinal: int
    day: str
    stands: bool


@dataclass(frozen=True, slots=True)
class Price:
    """One term of the placement's price: the chosen days and the runner-up."""

    term: str
    chosen: int
    runner_up: int | None


@dataclass(frozen=True, slots=True)
class Days:
    """Where the sessions stand and what that costs, beside the next best choice."""

    chosen: str
    runner_up: str
    prices: tuple[Price, ...]
    total: int
    runner_up_total: int | None
    dropped: int
    reasons: tuple[dict[str, Any], ...]


def pins_of(plan: WeekPlan) -> tuple[Pin, ...]:
    """The sessions of the week that are pinned, and whether each stands on its day."""
    stands = {session.ordinal: session.on for session in plan.sessions.all()}
    keys = SessionKey.objects.filter(
        rider_id=plan.rider_id, iso_year=plan.iso_year, iso_week=plan.iso_week, pinned_on__isnull=False
    ).order_by("ordinal")
    return tuple(
        Pin(key.ordinal, wording.day_words(key.pinned_on), stands.get(key.ordinal) == key.pinned_on)
        for key in keys
        if key.pinned_on is not None
    )


def days_for(
    row: PlannedSession, facts: engine.WeekFacts, plan: WeekPlan, names: Mapping[str, str]
) -> tuple[Day, ...]:
    """The seven days with the price of each for one session, the others standing wherever is best then."""
    asked = place_facts_of(facts)
    if asked is None or row.ordinal not in asked.ordinals:
        return ()
    pinned = dict(facts.fixed_days).get(row.ordinal)
    return tuple(_day(price, row, pinned, plan, names) for price in day_prices(asked, row.ordinal))


def place_facts_of(facts: engine.WeekFacts) -> PlaceFacts | None:
    """What decides where the week's sessions stand; None in a week without sessions."""
    limits = age_limits(facts.rider)
    phase = phase_of(facts, max_days=limits.max_days)
    if not phase.sessions or not phase.block or not phase.block.templates:
        return None
    return place_facts(facts, phase, limits, phase.block.templates)


def _day(
    price: DayPrice, row: PlannedSession, pinned: date | None, plan: WeekPlan, names: Mapping[str, str]
) -> Day:
    opening = price.opening
    time = ""
    if opening is not None:
        start = wording.time_words(translator.time_of(opening.start))
        time = _("{start}, {venue}").format(start=start, venue=opening.venue)
    unit = unit_of(plan.rider)
    return Day(
        on=price.on,
        words=wording.day_words(price.on),
        time=time,
        points=price.points,
        why=tuple(wording.sentence(reason, names=names, unit=unit) for reason in price.reasons),
        is_now=price.on == row.on,
        is_pinned=price.on == pinned,
    )


def read_days(document: Mapping[str, Any], reasons: Sequence[dict[str, Any]]) -> Days:
    """The stored placement of a plan in words."""
    chosen = {cost["term"]: cost["points"] for cost in document.get("costs", ())}
    second = document.get("runner_up")
    other = {cost["term"]: cost["points"] for cost in document.get("runner_up_costs", ())}
    return Days(
        chosen=_stand(document["chosen"]),
        runner_up=_stand(second) if second else "",
        prices=tuple(
            Price(str(words), chosen.get(term, 0), other.get(term, 0) if second else None)
            for term, words in TERMS.items()
            if term in chosen or term in other
        ),
        total=sum(chosen.values()),
        runner_up_total=sum(other.values()) if second else None,
        dropped=document.get("dropped", 0),
        reasons=tuple(reasons),
    )


def _stand(pairs: Iterable[Any]) -> str:
    return wording.list_words(
        [
            _("{day}, {time}").format(
                day=wording.short_day_words(date.fromisoformat(opening["on"])),
                time=wording.time_words(translator.time_of(opening["start"])),
            )
            for _ordinal, opening in pairs
        ]
    )
