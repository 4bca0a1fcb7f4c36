"""What asks for a look in a rider's week, and why: one finding for each.

Text that may be about health says "Health reason." where the reader may not see more.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import IntEnum
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from athletes import readiness
from athletes.concerns import Topic
from athletes.models import FollowUp
from athletes.vocabulary import Reason
from coaching.desk.words import CHANGES, capital, matter_words, pattern_words, reason_line, unit_of
from programs import facts as translator
from programs import wording
from programs.engine.facts import Change
from programs.engine.safety import BIG_STEP_PERCENT
from programs.engine.spots import NEAR_MILD
from programs.models import PlannedItem, PlannedSession, WeekPlan

State = WeekPlan.State


class Kind(IntEnum):
    """What asks for a look, in the order in which the desk shows it."""

    HEALTH = 0
    HELD = 1
    STALLED = 2
    QUIET = 3
    PLACEMENT = 4
    CHANGES = 5
    FIRST = 6


TITLES: dict[Kind, tuple[str | Promise, str | Promise]] = {
    Kind.HEALTH: (
        gettext_lazy("Health: a decision is needed"),
        gettext_lazy("pain, symptoms, what was eased"),
    ),
    Kind.HELD: (gettext_lazy("Held"), gettext_lazy("nothing goes out until this is settled")),
    Kind.STALLED: (gettext_lazy("Stalled or left out"), gettext_lazy("no gain, or nothing that fits")),
    Kind.QUIET: (gettext_lazy("Missed or silent"), gettext_lazy("sessions without a word")),
    Kind.PLACEMENT: (gettext_lazy("Days"), gettext_lazy("sessions dropped, clashes with rides")),
    Kind.CHANGES: (
        gettext_lazy("Big changes"),
        gettext_lazy("load steps above 10 %, new exercises, level moves"),
    ),
    Kind.FIRST: (
        gettext_lazy("First weeks"),
        gettext_lazy("a coach always looks before the first plan goes out"),
    ),
}

#: What a follow-up's topic is to the desk; topics of health that are not here stand with health.
_TOPIC_KINDS = {
    Topic.SCREENING: Kind.HELD,
    Topic.STALLED: Kind.STALLED,
    Topic.LEFT_OUT: Kind.STALLED,
    Topic.MISSED: Kind.QUIET,
    Topic.SILENT: Kind.QUIET,
    Topic.BOUNCED: Kind.QUIET,
    Topic.LOAD_STEP: Kind.CHANGES,
}
#: Reasons for a slot left out that need nobody's look: time ran short, or new work waits its turn.
_EXPECTED_LEFT_OUT = frozenset(
    {"enough-new", "new-before-race", "sets-dropped-for-time", "exercise-dropped-for-time"}
)
_NOTHING_PLANNED = frozenset({"no-block", "no-templates", "nothing-fits-session"})
#: Changes of which an exception can come.
LOOKED_AT = [
    change.value
    for change in Change
    if change not in (Change.SAME, Change.MORE_REPS, Change.MORE_TIME, Change.MORE_SETS, Change.SLOWER)
]
_EASED = frozenset({Change.EASIER, Change.LESS_LOAD, Change.FEWER_REPS, Change.FEWER_SETS})


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to look at in a rider's week."""

    kind: Kind
    mark: str
    word: str
    why: str
    urgency: int = 0
    follow_up_id: int | None = None
    is_state: bool = False

    def says_more_than(self, first: "Finding") -> bool:
        """Whether it is worth naming beside the first: another word, and not only the state that the first explains."""
        return self.word != first.word and not (self.is_state and first.kind is self.kind)


@dataclass(frozen=True, slots=True)
class Finder:
    """Looks through a plan with its rows; asks the database nothing."""

    follow_ups: Mapping[int, list[FollowUp]]
    names: Mapping[str, str]
    may_see_health: bool

    def say(self, reasons: Sequence[Reason], plan: WeekPlan) -> str:
        """The first reason in a sentence, as far as the reader may see it."""
        return reason_line(
            reasons, may_see_health=self.may_see_health, names=self.names, unit=unit_of(plan.rider)
        )

    def find(self, plan: WeekPlan, sessions: Sequence[PlannedSession]) -> Iterable[Finding]:
        """Everything to look at in the plan, in no order."""
        yield from self._of_follow_ups(plan)
        yield from self._of_state(plan)
        is_first = any(one["key"] == "first-week-needs-approval" for one in plan.reasons)
        items = [item for session in sessions for item in session.items.all()]
        yield from self._of_left_out(plan, sessions)
        yield from self._of_placement(plan)
        yield from self._of_items(plan, items, is_first)
        if is_first:
            yield Finding(
                Kind.FIRST,
                "new",
                _("First week"),
                _("Nothing has gone out to this rider yet. Look at each target."),
            )

    def _of_follow_ups(self, plan: WeekPlan) -> Iterable[Finding]:
        for follow_up in self.follow_ups.get(plan.rider_id, ()):
            mark, word = matter_words(follow_up, may_see_health=self.may_see_health)
            kind = _TOPIC_KINDS.get(Topic(follow_up.topic), Kind.HEALTH)
            why = self.say(translator.read_reasons(follow_up.reasons[:1]), plan)
            yield Finding(kind, mark, word, why, follow_up.urgency, follow_up.pk)

    def _of_state(self, plan: WeekPlan) -> Iterable[Finding]:
        reasons = translator.read_reasons(plan.reasons)
        if plan.state == State.HELD and reasons and reasons[0].key != "paused":
            # What readiness asks for is a paper that is missing; the rest stops a rider for what they reported.
            stops = wording.is_health(reasons[0]) and reasons[0].key not in readiness.REASONS
            kind = Kind.HEALTH if stops else Kind.HELD
            mark = "private" if stops and not self.may_see_health else "stop" if stops else "paused"
            yield Finding(
                kind, mark, _("Stopped") if stops else _("Held"), self.say(reasons, plan), 1, None, True
            )
        for reason in reasons:
            if reason.key in _NOTHING_PLANNED:
                yield Finding(Kind.HELD, "look", _("Nothing planned"), self.say([reason], plan))
        if plan.is_downward:
            why = _("The rest of the week was eased at once after a report.")
            yield Finding(Kind.HEALTH, *self._health_words("down", _("Eased")), why)

    def _health_words(self, mark: str, word: str) -> tuple[str, str]:
        return (mark, word) if self.may_see_health else ("private", _("Health reason"))

    def _of_left_out(self, plan: WeekPlan, sessions: Sequence[PlannedSession]) -> Iterable[Finding]:
        for session in sessions:
            for slot in session.left_out:
                reasons = translator.read_reasons(slot["reasons"])
                if not reasons or any(one.key in _EXPECTED_LEFT_OUT for one in reasons):
                    continue
                of_health = next((one for one in reasons if wording.is_health(one)), None)
                said = self.say([of_health or reasons[-1]], plan)
                said = f"{self._exercise_left_out(reasons, slot['pattern'])}: {said}"
                if of_health:
                    yield Finding(Kind.HEALTH, *self._health_words("hold", _("Left out")), said)
                else:
                    yield Finding(Kind.STALLED, "look", _("Left out"), said)

    def _exercise_left_out(self, reasons: Sequence[Reason], pattern: str) -> str:
        """What was left out: the exercise that the slot wanted, as far as its reasons name one, else the pattern."""
        wanted = [reason.figures.get("wanted") for reason in reasons]
        named = [reason.figures.get("exercise") for reason in reasons]
        slug = next((str(one) for one in (*wanted, *named) if one is not None), None)
        return self.names.get(slug, slug) if slug else pattern_words(pattern)

    def _of_placement(self, plan: WeekPlan) -> Iterable[Finding]:
        placement = plan.placement or {}
        if placement.get("dropped"):
            reasons = translator.read_reasons(placement.get("reasons", ()))
            dropped = [one for one in reasons if one.key.startswith("dropped-")]
            yield Finding(Kind.PLACEMENT, "look", _("Session dropped"), self.say(dropped, plan))
        for cost in placement.get("costs", ()):
            if cost["term"] == "near-key-ride" and cost["points"] >= NEAR_MILD:
                why = _("A session stands within 6 h of a key ride: {points} points.").format(
                    points=cost["points"]
                )
                yield Finding(Kind.PLACEMENT, "clash", _("Clash with a key ride"), why)

    def _of_items(self, plan: WeekPlan, items: Sequence[PlannedItem], is_first: bool) -> Iterable[Finding]:
        for item in items:
            change = Change(item.change)
            reasons = translator.read_reasons(item.reasons)
            mark, word = CHANGES[change]
            name = self.names.get(item.exercise_id, item.exercise_id)
            if change in _EASED and any(wording.is_health(one) for one in reasons):
                of_health = [one for one in reasons if wording.is_health(one)]
                said = f"{name}: {self.say(of_health, plan)}"
                yield Finding(Kind.HEALTH, *self._health_words("down", _("Eased")), said)
            elif (
                change in (Change.HARDER, Change.EASIER)
                or (change is Change.NEW and not is_first)
                or (change in (Change.MORE_LOAD, Change.BRIDGE) and _is_big_step(item))
            ):
                why = f"{name}: {self.say(reasons, plan)}"
                yield Finding(Kind.CHANGES, mark, capital(word), why)


def _is_big_step(item: PlannedItem) -> bool:
    """Whether external load rises by more than 10 %, or from nothing (I5). Read from the stored documents."""
    before = _mass(item.previous, "load")
    after = max(_mass(item.target, "load"), _mass(item.target, "bridge_load"))
    return after > before and (not before or (after - before) * 100 > before * BIG_STEP_PERCENT)


def _mass(target: Mapping[str, Any] | None, field: str) -> Decimal:
    load = (target or {}).get(field) or {}
    return Decimal(str(load.get("kg") or 0)) * load.get("holding", {}).get("count", 1)
