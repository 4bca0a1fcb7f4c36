"""One session of the week: its slots made into exercises, in order, and cut to its minutes (rules Y1, S4, D3, I9, L2).

    Composition.of(context, ordinal, template, opening).session()

Y1  A third session a week adds no sets for the legs: its slots of leg patterns are left out (ours).
L2  Two slots that fall to the same exercise are done once.
P12 No slot gets more sets than the caps of the week leave it (`trimming`).
S4  From 65: balance work in each session. Where the template has none, one short slot is added, resolved first so that
    it is not one new exercise too many, done last, and kept whatever the minutes.
D3  A set that is added as progress and goes again for want of time would be added for ever: the slot then asks for the
    sets that there is time for, so that the reps go up instead (ours).
I9  Minutes freed by pain are not refilled: no slot gets more sets or takes more time than it would have had if nothing
    bore on the rider's body, nor is one filled that would have been left out (ours). In a circuit, where exercises rest
    while others work, fewer of them may still take a minute more.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from athletes.concerns import Concern
from athletes.vocabulary import LOWER_BODY, Pattern, Reason
from programs.engine.context import NO_KIT, WeekContext
from programs.engine.facts import (
    Change,
    Exercise,
    Item,
    Kit,
    LeftOut,
    Measure,
    Opening,
    Part,
    SessionDecision,
    Slot,
    Standing,
    Target,
    Template,
)
from programs.engine.families import exercise_of
from programs.engine.season import PhaseDecision
from programs.engine.session import Fitted, cool_down_for, fit, session_seconds, warm_up_for, warm_up_minutes
from programs.engine.slots import resolve_item
from programs.engine.strength import AgeLimits
from programs.engine.target_facts import amount_figure
from programs.engine.trimming import Allowed

#: A slot added for riders from 65 whose session has no balance work (S4).
BALANCE_SETS, BALANCE_REST_S = 2, 60
#: Reasons that say that there is a set more.
SETS_MORE = frozenset({"extra-set", "set-up", "set-up-hold"})
#: The session of a week that is one more than usual (Y1).
THIRD = 3

REASONS: dict[str, str] = {
    "balance-added": "From 65: balance work is part of each session.",
    "third-without-legs": "A third session adds no sets for the legs.",
    "same-as-another": "{exercise} is in this session already.",
    "no-longer-than": "What stands in takes no more time: {to} instead of {from}.",
    "too-long-to-stand-in": "{exercise} would take more time than what it stands in for, so it is left out.",
    "not-refilled": "{to_sets} sets instead of {from_sets}: minutes that became free are not filled again.",
}

type Pair = tuple[Exercise, Item]


def template_of(templates: tuple[Template, ...], ordinal: int) -> Template:
    """The session that the ordinal stands for; a third session repeats the first where the block has only two."""
    return templates[(ordinal - 1) % len(templates)]


def slots_of(phase: PhaseDecision, template: Template, ordinal: int) -> tuple[Slot, ...]:
    """The slots of a session: those of its template, in a third session without the legs (Y1)."""
    if is_without_legs(phase, ordinal):
        return tuple(slot for slot in template.slots if slot.pattern not in LOWER_BODY)
    return template.slots


def added_slots(limits: AgeLimits, slots: tuple[Slot, ...], ordinal: int) -> tuple[Slot, ...]:
    """The balance work that a session of a rider from 65 lacks (S4)."""
    if not limits.balance_each_session or any(slot.pattern is Pattern.BALANCE for slot in slots):
        return ()
    return (
        Slot(
            id=f"balance-{ordinal}",
            part=Part.ASSISTANCE,
            pattern=Pattern.BALANCE,
            sets=BALANCE_SETS,
            rest_s=BALANCE_REST_S,
        ),
    )


def is_without_legs(phase: PhaseDecision, ordinal: int) -> bool:
    return phase.third_session and ordinal == THIRD


def works_legs(slots: Iterable[Slot | Item]) -> bool:
    """Whether a session works the legs, which rest longer before a race (P9): by pattern, so carries do not count."""
    return any(slot.pattern in LOWER_BODY for slot in slots)


@dataclass
class Composition:
    """A session as it is put together. `of` makes one; `session` says what it is."""

    context: WeekContext
    ordinal: int
    template: Template
    opening: Opening
    kit: Kit
    slots: tuple[Slot, ...]
    untroubled: "Composition | None" = None
    pairs: list[Pair] = field(default_factory=list)
    #: What it asks for before its minutes are looked at: the caps of the week go by this, so that less time makes no
    #: room for anything (P12, I9).
    asked: tuple[Item, ...] = ()
    left_out: list[LeftOut] = field(default_factory=list)
    moved: list[Standing] = field(default_factory=list)
    concerns: list[Concern] = field(default_factory=list)
    #: Slots whose reps went up instead of their sets, and the sets that there is time for.
    climbed: Mapping[str, int] = field(default_factory=dict)
    fitted: Fitted = field(default_factory=lambda: Fitted((), (), 0, ()))

    @classmethod
    def of(
        cls,
        context: WeekContext,
        ordinal: int,
        template: Template,
        opening: Opening,
        untroubled: "Composition | None" = None,
    ) -> "Composition":
        """The session on its day at its venue. `untroubled` is the same one if nothing bore on the body (I9)."""
        kit = context.kits.get(opening.venue, NO_KIT)
        slots = tuple(
            allowed_slot(context, ordinal, slot) for slot in slots_of(context.phase, template, ordinal)
        )
        made = cls(context, ordinal, template, opening, kit, slots, untroubled)
        if is_without_legs(context.phase, ordinal):
            made._leave_out_legs()
        made._fill()
        made.asked = tuple(item for _exercise, item in made.pairs)
        made._fit()
        context.plan(made.fitted.items, opening.on)
        return made

    # --- what is in it --------------------------------------------------------------------------------------------

    def _leave_out_legs(self) -> None:
        why = (Reason("Y1", "third-without-legs"),)
        legs = (slot for slot in self.template.slots if slot.pattern in LOWER_BODY)
        self.left_out += [LeftOut(slot.id, slot.pattern, why) for slot in legs]

    def _fill(self) -> None:
        """Every slot is made into an exercise or left out; the added balance work comes first and is put last."""
        added = added_slots(self.context.limits, self.slots, self.ordinal)
        for slot in added:
            self._take(slot, Reason("S4", "balance-added"))
        balance, self.pairs = self.pairs, []
        for slot in self.slots:
            self._take(slot)
        self.pairs += balance
        self.slots += added

    def _take(self, slot: Slot, *why: Reason) -> None:
        if self.untroubled is not None and slot.id in self.untroubled.climbed:
            slot = replace(slot, sets=self.untroubled.climbed[slot.id])
        allowed = self.context.allowed.get((self.ordinal, slot.id))
        if allowed is not None and not allowed.sets:
            self.left_out.append(LeftOut(slot.id, slot.pattern, (allowed.reason,)))
            return
        resolved = resolve_item(self.context, slot, session_on=self.opening.on, kit=self.kit)
        given = resolved.given
        if isinstance(given, Item):
            given = self._within_untroubled(slot, within_allowed(given, allowed))
        if isinstance(given, LeftOut):
            self.left_out.append(given)
            return
        if any(given.exercise == other.exercise for _exercise, other in self.pairs):
            same = Reason("L2", "same-as-another", {"exercise": given.exercise})
            self.left_out.append(LeftOut(slot.id, slot.pattern, (*given.reasons, same)))
            return
        item = replace(given, reasons=(*why, *given.reasons)) if why else given
        self.pairs.append((exercise_of(self.context.library, item.exercise), item))
        self.moved += [resolved.moved] if resolved.moved else []
        self.concerns += resolved.concerns

    def _within_untroubled(self, slot: Slot, item: Item) -> Item | LeftOut:
        """The item with no more sets or time than the slot would have had without what bears on the body (I9)."""
        if self.untroubled is None:
            return item
        other = self.untroubled.item_of(slot.id)
        if other is None:
            gone = (*self.untroubled.left_out, *self.untroubled.fitted.left_out)
            return next((one for one in gone if one.slot == slot.id), item)
        if item.exercise != other.exercise:
            if self.untroubled.holds(item.exercise):
                same = Reason("L2", "same-as-another", {"exercise": item.exercise})
                return LeftOut(slot.id, slot.pattern, (*item.reasons, same))
            exercise = exercise_of(self.context.library, other.exercise)
            fewer = with_sets(item, other.target.sets, "I9", "not-refilled")
            return no_longer_than(self.context, fewer, exercise, other.target)
        return with_sets(item, other.target.sets, "I9", "not-refilled")

    def item_of(self, slot: str) -> Item | None:
        """What the slot became, cut to the minutes."""
        return next((item for item in self.fitted.items if item.slot == slot), None)

    def holds(self, exercise: str) -> bool:
        return any(item.exercise == exercise for item in self.fitted.items)

    # --- its minutes ----------------------------------------------------------------------------------------------

    @property
    def minutes(self) -> int:
        """What there is time for: the opening, and the rider's own cap."""
        caps = [self.opening.minutes]
        if self.context.facts.rider.minutes_cap is not None:
            caps.append(self.context.facts.rider.minutes_cap)
        return min(caps)

    def _fit(self) -> None:
        """Cut to the minutes; sets added in vain become reps where those cost no other set, so that fewer minutes never
        leave more sets. Where something bears on the body, what is so without it holds as well (I9)."""
        self.fitted = self._fit_once()
        vain = {item.slot: item.target.sets for item in self.fitted.items if self._added_in_vain(item)}
        if not vain or self.untroubled is not None:
            return
        first, pairs = self.fitted, list(self.pairs)
        climbed = self._climb_in_reps(vain)
        self.fitted = self._fit_once()
        if sets_by_slot(self.fitted) == sets_by_slot(first):
            self.climbed = climbed
        else:
            self.fitted, self.pairs = first, pairs

    def _fit_once(self) -> Fitted:
        always = self.context.limits.balance_each_session
        kept = frozenset(slot.id for slot in self.slots if always and slot.pattern is Pattern.BALANCE)
        return fit(
            self.pairs,
            self.minutes,
            self.template.format,
            warm_up=warm_up_minutes(self.template.warm_up_minutes),
            cool_down=self.template.cool_down_minutes,
            kept=kept,
        )

    def _added_in_vain(self, item: Item) -> bool:
        """Whether a set came as progress and went for want of time (D3)."""
        rose = item.change is Change.MORE_SETS and item.previous is not None
        return rose and item.previous is not None and item.target.sets <= item.previous.sets

    def _climb_in_reps(self, fits: Mapping[str, int]) -> Mapping[str, int]:
        """Ask those slots for the sets that there is time for, so that their reps go up instead (D3). Returns those of
        them that do."""
        climbed: dict[str, int] = {}
        slots = {slot.id: slot for slot in self.slots}
        for at, (exercise, item) in enumerate(self.pairs):
            if item.slot not in fits:
                continue
            slot = replace(slots[item.slot], sets=fits[item.slot])
            given = resolve_item(self.context, slot, session_on=self.opening.on, kit=self.kit).given
            if isinstance(given, Item) and given.exercise == item.exercise:
                allowed = self.context.allowed.get((self.ordinal, item.slot))
                self.pairs[at] = (exercise, within_allowed(given, allowed))
                climbed[item.slot] = fits[item.slot]
        return climbed

    def session(self) -> SessionDecision:
        """The session as it is decided."""
        context, items = self.context, self.fitted.items
        barred = frozenset(context.never)
        patterns = [item.pattern for item in items]
        regions = frozenset(
            region for item in items for region in exercise_of(context.library, item.exercise).primary
        )
        return SessionDecision(
            ordinal=self.ordinal,
            name=self.template.name,
            on=self.opening.on,
            start=self.opening.start,
            minutes=self.fitted.minutes,
            venue=self.opening.venue,
            format=self.template.format,
            warm_up_minutes=warm_up_minutes(self.template.warm_up_minutes),
            cool_down_minutes=self.template.cool_down_minutes,
            warm_up=warm_up_for(patterns, context.library, kit=self.kit, barred=barred, sore=context.sore),
            items=items,
            cool_down=cool_down_for(regions, context.library, kit=self.kit, barred=barred, sore=context.sore),
            left_out=(*self.left_out, *self.fitted.left_out),
            reasons=self.fitted.reasons,
        )


# --- no more than the week may hold -----------------------------------------------------------------------------------


def allowed_slot(context: WeekContext, ordinal: int, slot: Slot) -> Slot:
    """The slot with no more sets than the caps of the week leave it, but one: what has none is left out (P12)."""
    allowed = context.allowed.get((ordinal, slot.id))
    return slot if allowed is None or slot.sets <= allowed.sets else replace(slot, sets=max(1, allowed.sets))


def within_allowed(item: Item, allowed: Allowed | None) -> Item:
    """The item with at most the sets that the week leaves it, and with the reason where that is what holds it (P12)."""
    if allowed is None or item.target.sets < allowed.sets:
        return item
    fewer, gone = _fewer_sets(item, allowed.sets), {"program-sets"}
    if fewer is not item and item.change is Change.MORE_SETS:  # the set that was to come is the one that goes
        before = item.previous.sets if item.previous is not None else fewer.target.sets
        change = Change.SAME if fewer.target.sets == before else Change.FEWER_SETS
        fewer, gone = replace(fewer, change=change), gone | SETS_MORE
    kept = tuple(reason for reason in item.reasons if reason.key not in gone)
    return replace(fewer, reasons=(*kept, allowed.reason))


# --- no more than before ----------------------------------------------------------------------------------------------


def sets_by_slot(fitted: Fitted) -> dict[str, int]:
    return {item.slot: item.target.sets for item in fitted.items}


def seconds_of(exercise: Exercise, target: Target) -> int:
    """Seconds of one exercise with its rests (D1)."""
    return session_seconds([(exercise, target)])


def with_sets(item: Item, most: int, rule: str, key: str) -> Item:
    """The item with at most so many sets, and the reason when that is fewer."""
    sets = item.target.sets
    if sets <= most:
        return item
    why = Reason(rule, key, {"from_sets": sets, "to_sets": most})
    return replace(_fewer_sets(item, most), reasons=(*item.reasons, why))


def _fewer_sets(item: Item, most: int) -> Item:
    """The item with at most so many sets."""
    if item.target.sets <= most:
        return item
    target = replace(item.target, sets=most, bridge_sets=min(item.target.bridge_sets, max(0, most - 1)))
    change = Change.FEWER_SETS if item.change is Change.SAME else item.change
    return replace(item, target=target, change=change)


def no_longer_than(context: WeekContext, item: Item, exercise: Exercise, other: Target) -> Item | LeftOut:
    """The item with no more reps or seconds than take as long as the other target, in as many sets as that; left out
    when so few may not be asked for (I9)."""
    used = exercise_of(context.library, item.exercise)
    target = replace(item.target, bridge_load=None, bridge_sets=0, bridge_amount=0)
    seconds, amount = seconds_of(exercise, other), target.amount
    while amount and seconds_of(used, replace(target, sets=other.sets, amount=amount)) > seconds:
        amount -= 1
    young = context.limits.under_18 and target.measure is Measure.REPS
    if amount < (context.limits.min_reps if young else 1):
        why = Reason("I9", "too-long-to-stand-in", {"exercise": item.exercise})
        return LeftOut(item.slot, item.pattern, (*item.reasons, why))
    if amount == target.amount:
        return replace(item, target=target)
    figures = {
        name: amount_figure(target.measure, value)
        for name, value in (("from", target.amount), ("to", amount))
    }
    why = Reason("I9", "no-longer-than", figures)
    change = Change.FEWER_REPS if item.change is Change.SAME else item.change
    return replace(item, target=replace(target, amount=amount), change=change, reasons=(*item.reasons, why))
