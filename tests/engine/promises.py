"""The safety properties of a week, said again in other words than the engine's, so that one can check the other.

`broken(facts, decision, library)` lists what a decision breaks, a line each, beginning with the property's id. Nothing
here asks the engine how it decided: loads, breaks, pain and volume are worked out anew from the facts. The pairs (I9,
I15) are `raised`, which compares two decisions part by part.
"""

import importlib
import pkgutil
import string
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from itertools import pairwise, product
from statistics import median

from athletes import triage
from athletes.concerns import Event, Outcome, ReportKind
from athletes.vocabulary import LOWER_BODY, Furniture, Implement, Pattern, RacePriority, Reason, Region, Side
from programs import engine
from programs.engine.codec import from_document, to_document
from programs.engine.facts import (
    Change,
    Exercise,
    Exposure,
    Item,
    Kit,
    Library,
    Load,
    Loading,
    Measure,
    SessionDecision,
    SessionState,
    Target,
    WeekDecision,
    WeekFacts,
)
from programs.engine.resolve import resolve_week

SENTENCES: dict[str, str] = {
    key: sentence
    for name in (
        *(f"programs.engine.{module.name}" for module in pkgutil.iter_modules(engine.__path__)),
        "athletes.triage",
    )
    if not name.endswith("__main__")
    for key, sentence in getattr(importlib.import_module(name), "REASONS", {}).items()
}

DONE = (SessionState.DONE, SessionState.PART)
NIL = (Decimal(0), 0)


# --- the facts, read independently ------------------------------------------------------------------------------------


def masses(there: Kit, implement: Implement, count: int) -> set[Decimal]:
    """Every mass of one implement that can be set up, by trying all combinations of discs."""
    if implement is Implement.BARBELL:
        if there.barbell is None:
            return set()
        bar = there.barbell
        sums = {
            sum((kg * taken for (kg, _pairs), taken in zip(bar.disc_pairs, counts, strict=True)), Decimal(0))
            for counts in product(*(range(pairs + 1) for _kg, pairs in bar.disc_pairs))
        }
        return {bar.bar_kg + bar.collars_kg + 2 * one for one in sums}
    if implement is Implement.ADJUSTABLE_DUMBBELL:
        pair = there.adjustable
        return set(pair.masses) if pair is not None and pair.count >= count else set()
    found: dict[Decimal, int] = {}
    for one in there.fixed:
        if one.implement is implement:
            found[one.kg] = found.get(one.kg, 0) + one.count
    return {kg for kg, how_many in found.items() if how_many >= count}


_masses: dict[tuple[int, Implement, int], tuple[Kit, set[Decimal]]] = {}


def can_be_made(there: Kit, load: Load) -> bool:
    if load.holding.implement is Implement.BAND:
        return load.band in there.bands
    key = (id(there), load.holding.implement, load.holding.count)
    known = _masses.get(key)
    if known is None or known[0] is not there:
        known = _masses[key] = (there, masses(there, load.holding.implement, load.holding.count))
    return load.kg in known[1]


def weight(load: Load | None) -> tuple[Decimal, int]:
    """Orders the loads of one implement: kilograms in all, or the band's level."""
    if load is None:
        return NIL
    if load.kg is not None:
        return load.kg * load.holding.count, 0
    return Decimal(0), load.band or 0


def held(load: Load | None) -> object:
    return None if load is None else (load.holding.implement, load.holding.count)


def amounts(one: Exposure) -> tuple[int, ...] | None:
    """What was done set by set, of the weaker side; None when it is not known."""
    done = one.done
    if done is None:
        return None
    if done.left_amounts is None and done.right_amounts is None:
        return done.amounts
    if done.left_amounts is None or done.right_amounts is None:
        return None
    return tuple(map(min, done.left_amounts, done.right_amounts))


def was_done(one: Exposure) -> bool:
    done = one.done
    if done is None:
        return False
    return any((*(done.amounts or ()), *(done.left_amounts or ()), *(done.right_amounts or ())))


@dataclass
class Looked:
    """A decision with its facts, and what several checks ask about them."""

    facts: WeekFacts
    decision: WeekDecision
    library: Library

    @cached_property
    def exercises(self) -> dict[str, Exercise]:
        return {one.slug: one for one in self.library.exercises}

    @cached_property
    def trained(self) -> list[Exposure]:
        """What is known to have been done, at least in part."""
        return [one for one in self.facts.exposures if was_done(one)]

    @cached_property
    def worked_on(self) -> list[date]:
        return sorted({one.on for one in self.trained})

    @cached_property
    def kits(self) -> dict[str, Kit]:
        return dict(self.facts.venues)

    @cached_property
    def monday(self) -> date:
        return date.fromisocalendar(self.facts.week.year, self.facts.week.number, 1)

    @cached_property
    def items(self) -> list[tuple[SessionDecision, Item]]:
        return [(session, item) for session in self.decision.sessions for item in session.items]

    @property
    def young(self) -> bool:
        return self.facts.rider.youngest_age < 18

    @property
    def growing(self) -> bool:
        rider = self.facts.rider
        if not self.young or rider.growth.value == "no":
            return False
        maybe = any(13 <= age <= 15 for age in range(rider.youngest_age, rider.oldest_age + 1))
        return rider.growth.value == "yes" or maybe

    def past(self, slug: str, before: date) -> list[Exposure]:
        return [one for one in self.facts.exposures if one.exercise == slug and one.on < before]

    def last_asked(self, item: Item, before: date) -> Exposure | None:
        """The last exposure of the same implement, else at body weight."""
        past = self.past(item.exercise, before)
        same = [one for one in past if held(one.target.load) == held(item.target.load)]
        bare = [one for one in past if one.target.load is None]
        return (same or bare or [None])[-1]  # type: ignore[list-item]

    @cached_property
    def sore(self) -> dict[Region, int]:
        """The worst pain of the last 14 days by region; soreness does not count, a sign counts as 3."""
        worst: dict[Region, int] = {}
        for report in self.facts.reports:
            if (self.facts.today - report.on).days > 14 or self.is_soreness(report):
                continue
            score = max(report.during or 0, report.next_morning or 0, 3 if report.signs else 0)
            worst[report.region] = max(worst.get(report.region, 0), score)
        return worst

    def is_soreness(self, report: object) -> bool:
        return triage.classify(report, under_18=self.young) is ReportKind.SORENESS  # type: ignore[arg-type]

    def pain_at(self, exercise: Exercise) -> int:
        return max((self.sore.get(region, 0) for region in exercise.primary | exercise.secondary), default=0)


type Check = Callable[[Looked], Iterator[str]]
CHECKS: list[Check] = []


def check(function: Check) -> Check:
    CHECKS.append(function)
    return function


def broken(facts: WeekFacts, decision: WeekDecision, library: Library) -> list[str]:
    """Every promise that the decision breaks, those apart that are kept by writing everything down (`replayed`)."""
    looked = Looked(facts, decision, library)
    return [line for one in CHECKS for line in one(looked)]


def replayed(facts: WeekFacts, decision: WeekDecision, library: Library) -> list[str]:
    """What becomes another by being written down and read again, or by being asked again (I8)."""
    looked = Looked(facts, decision, library)
    checks = (i8_the_facts_replay_to_the_same_decision, i8_the_decision_survives_being_written_down)
    return [line for one in checks for line in one(looked)]


# --- I1: pain ---------------------------------------------------------------------------------------------------------


def _painful(looked: Looked) -> Iterator[tuple[SessionDecision, Item, tuple[int, int, Load | None]]]:
    """Items that load a painful site, with what was last achieved with the implement: sets, amount, load."""
    for session, item in looked.items:
        if looked.pain_at(looked.exercises[item.exercise]) < 3:
            continue
        for one in reversed(looked.past(item.exercise, session.on)):
            did = amounts(one)
            if held(one.target.load) != held(item.target.load) or not did:
                continue
            straight = max(1, one.target.sets - one.target.bridge_sets)
            best = sorted(did, reverse=True)[:straight]
            if best[-1] > 0:
                load = (one.done.load if one.done else None) or one.target.load
                yield session, item, (len(best), best[-1], load)
                break


@check
def i1_no_more_reps_than_achieved_where_it_hurts(looked: Looked) -> Iterator[str]:
    for _session, item, (_sets, amount, load) in _painful(looked):
        if item.target.amount > amount and weight(item.target.load) >= weight(load):
            yield f"I1 {item.exercise}: {item.target.amount} above {amount}"


@check
def i1_no_more_sets_than_achieved_where_it_hurts(looked: Looked) -> Iterator[str]:
    for _session, item, (sets, _amount, load) in _painful(looked):
        if item.target.sets > sets and weight(item.target.load) >= weight(load):
            yield f"I1 {item.exercise}: {item.target.sets} sets above {sets}"


@check
def i1_no_more_load_than_achieved_where_it_hurts(looked: Looked) -> Iterator[str]:
    for _session, item, (_sets, _amount, load) in _painful(looked):
        if held(load) == held(item.target.load) and weight(item.target.load) > weight(load):
            yield f"I1 {item.exercise}: {item.target.load} above {load}"


@check
def i1_no_heavier_sets_where_it_hurts(looked: Looked) -> Iterator[str]:
    for _session, item, _did in _painful(looked):
        if item.target.bridge_sets:
            yield f"I1 {item.exercise}: sets at a heavier load"


@check
def i1_no_slower_lowering_where_it_hurts(looked: Looked) -> Iterator[str]:
    for session, item, _did in _painful(looked):
        before = looked.last_asked(item, session.on)
        if before and (item.target.lower_s or 0) > (before.target.lower_s or 0):
            yield f"I1 {item.exercise}: lowered more slowly than before"


# --- I2: what there is ------------------------------------------------------------------------------------------------


@check
def i2_every_load_can_be_made_up(looked: Looked) -> Iterator[str]:
    for session, item in looked.items:
        load = item.target.load
        if load is not None and not can_be_made(looked.kits[session.venue], load):
            yield f"I2 {item.exercise}: {load} at {session.venue}"


@check
def i2_every_bridge_load_can_be_made_up(looked: Looked) -> Iterator[str]:
    for session, item in looked.items:
        load = item.target.bridge_load
        if load is not None and not can_be_made(looked.kits[session.venue], load):
            yield f"I2 {item.exercise}: bridge to {load} at {session.venue}"


@check
def i2_the_implement_is_one_that_the_exercise_is_done_with(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items:
        load = item.target.load
        if load is None:
            continue
        ways = {(one.implement, one.count) for one in looked.exercises[item.exercise].holdings}
        if (Implement.DUMBBELL, load.holding.count) in ways:
            ways.add((Implement.ADJUSTABLE_DUMBBELL, load.holding.count))
        if held(load) not in ways:
            yield f"I2 {item.exercise}: not done with {load.holding}"


@check
def i2_what_needs_a_load_has_one_and_what_takes_none_has_none(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items:
        loading, load = looked.exercises[item.exercise].loading, item.target.load
        if (loading is Loading.EXTERNAL and load is None) or (loading is Loading.BODY and load is not None):
            yield f"I2 {item.exercise}: {loading.value} with {load}"


@check
def i2_the_furniture_is_there(looked: Looked) -> Iterator[str]:
    for session, item in looked.items:
        lacks = looked.exercises[item.exercise].furniture - looked.kits[session.venue].furniture
        if lacks:
            yield f"I2 {item.exercise}: no {sorted(lacks)} at {session.venue}"


@check
def w3_no_barbell_alone_without_safeties(looked: Looked) -> Iterator[str]:
    for session, item in looked.items:
        load = item.target.load
        if (
            load is None
            or load.holding.implement is not Implement.BARBELL
            or not looked.facts.rider.trains_alone
        ):
            continue
        safe = Furniture.RACK_WITH_SAFETIES in looked.kits[session.venue].furniture
        if looked.exercises[item.exercise].needs_safeties and not safe:
            yield f"W3 {item.exercise}: a barbell alone"


# --- I3, I4: days -----------------------------------------------------------------------------------------------------


@check
def i3_sessions_stand_in_their_week(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions:
        if not 0 <= (session.on - looked.monday).days < 7:
            yield f"I3 session on {session.on}"


@check
def i3_nothing_stands_in_the_past(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions:
        if session.on < looked.facts.today:
            yield f"I3 session on {session.on}, today is {looked.facts.today}"


@check
def i3_sessions_stand_where_the_rider_has_time(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions:
        times = {(one.on, one.start, one.venue) for one in looked.facts.openings}
        if (session.on, session.start, session.venue) not in times:
            yield f"I3 no time on {session.on}"


@check
def i3_nobody_trains_while_away(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions:
        if any(one.from_on <= session.on <= one.until_on for one in looked.facts.absences):
            yield f"I3 away on {session.on}"


@check
def i3_nobody_trains_on_the_day_of_a_race(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions:
        if any(one.on == session.on for one in looked.facts.races):
            yield f"I3 race on {session.on}"


@check
def i3_legs_rest_before_a_race(looked: Looked) -> Iterator[str]:
    least = {RacePriority.PRIORITY: 72, RacePriority.OTHER: 48, RacePriority.MINOR: 24}
    for session in looked.decision.sessions:
        legs = any(item.pattern in LOWER_BODY for item in session.items)
        for race in looked.facts.races:
            minutes = (race.on - session.on).days * 1440 + race.start - session.start - session.minutes
            begins_before = (race.on - session.on).days * 1440 + race.start > session.start
            if begins_before and minutes < (least[race.priority] if legs else 24) * 60:
                yield f"I3 {minutes} minutes before {race.name}"


@check
def i3_a_clear_day_lies_between_the_sessions_of_a_week(looked: Looked) -> Iterator[str]:
    days = sorted(session.on for session in looked.decision.sessions)
    if any((later - earlier).days < 2 for earlier, later in pairwise(days)):
        yield f"I3 sessions on {days}"


@check
def i3_a_clear_day_lies_between_other_sessions_and_these(looked: Looked) -> Iterator[str]:
    facts = looked.facts
    for session in looked.decision.sessions:
        for one in facts.sessions:
            here = one.week == facts.week and one.ordinal == session.ordinal
            if here or one.state is SessionState.NOT_DONE:
                continue
            if one.state is SessionState.PLANNED and one.week == facts.week:
                continue
            if abs(((one.done_on or one.planned_on) - session.on).days) < 2:
                yield f"I3 {session.on} is next to {one.done_on or one.planned_on}"


@check
def i3_no_session_runs_into_a_ride(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions:
        ends = session.start + session.minutes
        for ride in looked.facts.rides:
            if ride.on == session.on and ride.start < ends and session.start < ride.start + ride.minutes:
                yield f"I3 a ride on {session.on}"


@check
def i4_at_most_three_sessions_a_week(looked: Looked) -> Iterator[str]:
    facts = looked.facts
    done = {one.ordinal for one in facts.sessions if one.week == facts.week and one.state in DONE}
    if len(done | {session.ordinal for session in looked.decision.sessions}) > 3:
        yield "I4 more than three sessions"


@check
def i4_every_session_has_a_number_of_its_own(looked: Looked) -> Iterator[str]:
    numbers = [session.ordinal for session in looked.decision.sessions]
    if len(set(numbers)) < len(numbers):
        yield f"I4 sessions {numbers}"


# --- I5: steps --------------------------------------------------------------------------------------------------------


@check
def i5_a_large_step_in_load_comes_with_fewer_reps(looked: Looked) -> Iterator[str]:
    for session, item in looked.items:
        before = looked.last_asked(item, session.on)
        if before is None or before.target.load is None or item.target.load is None:
            continue
        last, load = weight(before.target.load), weight(item.target.load)
        large = load > last and (not last[0] or load[0] * 10 > last[0] * 11)
        if large and item.target.amount >= before.target.amount:
            yield f"I5 {item.exercise}: from {before.target.load} to {item.target.load} at {item.target.amount}"


@check
def i5_a_first_load_comes_with_fewer_reps(looked: Looked) -> Iterator[str]:
    for session, item in looked.items:
        before = looked.last_asked(item, session.on)
        if before is None or before.target.load is not None or item.target.load is None:
            continue
        if item.target.amount >= before.target.amount:
            yield f"I5 {item.exercise}: from nothing to {item.target.load} at {item.target.amount}"


@check
def i5_sets_at_a_heavier_load_have_fewer_reps(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items:
        target = item.target
        if target.bridge_sets and target.bridge_amount >= target.amount:
            yield f"I5 {item.exercise}: {target.bridge_amount} at the heavier load"


# --- I6: sets ---------------------------------------------------------------------------------------------------------


def _this_week(looked: Looked) -> list[tuple[str, int]]:
    """(exercise, sets) of the planned main and assistance work, and of what was done in the week's other sessions."""
    facts = looked.facts
    planned = {session.ordinal for session in looked.decision.sessions}
    work = [
        (item.exercise, item.target.sets)
        for _session, item in looked.items
        if item.part.value in ("main", "assistance")
    ]
    done_on = {
        one.done_on or one.planned_on
        for one in facts.sessions
        if one.week == facts.week and one.state in DONE and one.ordinal not in planned
    }
    # A day's double report is one exposure (H3): of two sessions done on it, the one with more.
    reported: dict[tuple[date, str], int] = {}
    for one in facts.exposures:
        if one.on in done_on and was_done(one):
            key = (one.on, one.exercise)
            reported[key] = max(one.target.sets, reported.get(key, 0))
    return work + [(slug, sets) for (_on, slug), sets in reported.items()]


def _by_muscle(looked: Looked, work: Iterable[tuple[str, int]]) -> dict[str, Decimal]:
    found: dict[str, Decimal] = {}
    for slug, sets in work:
        for muscle, share in looked.exercises[slug].muscles if slug in looked.exercises else ():
            found[muscle.value] = found.get(muscle.value, Decimal(0)) + sets * share
    return found


def _weeks_since_the_last_break(looked: Looked) -> int:
    """In how many weeks something was done since the last eight weeks in which nothing was."""
    days = sorted({one.done_on or one.planned_on for one in looked.facts.sessions if one.state in DONE})
    days = [day for day in days if day < looked.monday]
    begun = [later for earlier, later in pairwise(days) if (later - earlier).days >= 56]
    return len({day.isocalendar()[:2] for day in days if not begun or day >= begun[-1]})


@check
def i6_no_muscle_has_more_hard_sets_than_its_cap(looked: Looked) -> Iterator[str]:
    most = {"learn": 6, "maintain": 4}.get(looked.decision.phase.value, 10)
    if most == 10 and _weeks_since_the_last_break(looked) >= 24:
        most = 12
    if looked.young:
        most = min(most, 8)
    for muscle, sets in _by_muscle(looked, _this_week(looked)).items():
        if sets > most:
            yield f"I6 {muscle}: {sets} sets of {most}"


@check
def i6_no_muscle_rises_by_more_than_two_sets_a_week(looked: Looked) -> Iterator[str]:
    if looked.decision.phase.value == "learn":
        return
    first = looked.monday - timedelta(weeks=8)
    lately = [one for one in looked.trained if first <= one.on < looked.monday]
    lately = [one for one in lately if not one.light] or lately
    weekly: dict[tuple[int, int], list[tuple[str, int]]] = {}
    for one in lately:
        done = one.done
        told = (done.amounts, done.left_amounts, done.right_amounts) if done else ()
        sets = max(len([amount for amount in some if amount]) for some in told if some is not None)
        week = weekly.setdefault(one.on.isocalendar()[:2], [])
        week.append((one.exercise, min(sets, one.target.sets)))
    before = [_by_muscle(looked, work) for work in weekly.values()]
    for muscle, sets in _by_muscle(looked, _this_week(looked)).items() if before else ():
        best = max(week.get(muscle, Decimal(0)) for week in before)
        if sets > max(best + 2, 4):
            yield f"I6 {muscle}: {sets} sets after {best}"


@check
def i6_at_most_18_sets_a_session(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions:
        sets = sum(item.target.sets for item in session.items if item.part.value in ("main", "assistance"))
        if sets > 18:
            yield f"I6 session {session.ordinal}: {sets} sets"


@check
def p12_the_week_says_its_sets_by_muscle(looked: Looked) -> Iterator[str]:
    told = {muscle.value: sets for muscle, sets in looked.decision.sets_by_muscle}
    if told != _by_muscle(looked, _this_week(looked)):
        yield f"P12 {told} is not what the week holds"


# --- I7: who gets nothing ---------------------------------------------------------------------------------------------


@check
def i7_the_uncleared_and_the_paused_get_nothing(looked: Looked) -> Iterator[str]:
    rider = looked.facts.rider
    if looked.decision.sessions and (rider.paused or not rider.may_train):
        yield "I7 sessions for somebody who may not train"


@check
def i7_nothing_goes_out_for_who_may_not_train(looked: Looked) -> Iterator[str]:
    rider, decision = looked.facts.rider, looked.decision
    if (rider.paused or not rider.may_train) and (decision.may_send or decision.may_send_unapproved):
        yield "I7 it may be sent"


@check
def i7_a_symptom_or_crash_that_is_not_over_stops_everything(looked: Looked) -> Iterator[str]:
    stops = {Event.CRASH, Event.SURGERY, Event.FEVER_OR_CHEST}
    for one in looked.facts.symptoms:
        over = one.cleared_on is not None and one.on <= one.cleared_on <= looked.facts.today
        if looked.decision.sessions and (one.symptom or one.event in stops) and not over:
            yield f"I7 sessions with {one.symptom or one.event}"


@check
def i7_nothing_for_48_hours_after_a_fever(looked: Looked) -> Iterator[str]:
    for one in looked.facts.symptoms:
        if one.event is not Event.FEVER_OR_CHEST or one.cleared_on is None or not looked.decision.sessions:
            continue
        if one.cleared_on <= looked.facts.today <= one.cleared_on + timedelta(days=2):
            yield "I7 sessions within 48 h of a fever"


def _stops(looked: Looked, region: Region, side: Side, least: int) -> bool:
    """Whether the newest pain of at least that, or a sign, stands with no way back recorded since."""
    back = {Outcome.CARRY_ON, Outcome.RETURN, Outcome.CLEARED, Outcome.EASE}
    sides = (side, Side.BOTH)
    bad = [
        one.on
        for one in looked.facts.reports
        if one.region is region
        and one.side in sides
        and not looked.is_soreness(one)
        and (one.signs or max(one.during or 0, one.next_morning or 0) >= least)
    ]
    if not bad:
        return False
    return not any(
        one.region is region
        and one.side in sides
        and one.closed_on is not None
        and max(bad) <= one.closed_on <= looked.facts.today
        and one.outcome in back
        for one in looked.facts.matters
    )


@check
def i7_pain_of_8_or_a_sign_stops_everything(looked: Looked) -> Iterator[str]:
    for region in {one.region for one in looked.facts.reports} if looked.decision.sessions else ():
        if any(_stops(looked, region, side, 8) for side in (Side.LEFT, Side.RIGHT)):
            yield f"I7 sessions with the worst pain at the {region.value}"


@check
def t1_pain_of_6_stops_what_loads_the_site(looked: Looked) -> Iterator[str]:
    for region in {one.region for one in looked.facts.reports} if looked.decision.sessions else ():
        if not any(_stops(looked, region, side, 6) for side in (Side.LEFT, Side.RIGHT)):
            continue
        for _session, item in looked.items:
            one = looked.exercises[item.exercise]
            if region in one.primary | one.secondary:
                yield f"T1 {item.exercise} loads the {region.value}"


# --- I8: reasons and replay -------------------------------------------------------------------------------------------


@check
def i8_every_change_has_a_reason(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items:
        if not item.reasons and item.change is not Change.SAME:
            yield f"I8 {item.exercise}: {item.change.value} without a reason"


@check
def i8_whatever_is_left_out_has_a_reason(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions:
        if any(not one.reasons for one in session.left_out):
            yield "I8 left out without a reason"
    if not looked.decision.sessions and not looked.decision.reasons:
        yield "I8 an empty week without a reason"


@check
def i8_every_slot_is_accounted_for(looked: Looked) -> Iterator[str]:
    block = next(
        (
            one
            for one in sorted(looked.facts.blocks, key=lambda one: one.first, reverse=True)
            if one.first <= looked.facts.week <= one.last
        ),
        None,
    )
    for session in looked.decision.sessions if block else ():
        template = block.templates[(session.ordinal - 1) % len(block.templates)]  # type: ignore[union-attr]
        told = {item.slot for item in session.items} | {one.slot for one in session.left_out}
        lost = {slot.id for slot in template.slots} - told
        if lost:
            yield f"I8 slots {sorted(lost)} are lost"


def _reasons(decision: WeekDecision) -> Iterator[Reason]:
    yield from decision.reasons
    for concern in decision.concerns:
        yield from concern.reasons
    for session in decision.sessions:
        yield from session.reasons
        for item in session.items:
            yield from item.reasons
        for one in session.left_out:
            yield from one.reasons


_fields: dict[str, set[str]] = {
    key: {name for _text, name, _spec, _conversion in string.Formatter().parse(sentence) if name}
    for key, sentence in SENTENCES.items()
}


@check
def i8_every_reason_has_its_sentence_and_figures(looked: Looked) -> Iterator[str]:
    for reason in _reasons(looked.decision):
        if reason.key in ("not-screened",):
            continue  # said by whoever keeps the screening
        if reason.key not in _fields:
            yield f"I8 no sentence for {reason.key}"
        elif not _fields[reason.key] <= set(reason.figures):
            yield f"I8 {reason.key} lacks {_fields[reason.key] - set(reason.figures)}"


def i8_the_facts_replay_to_the_same_decision(looked: Looked) -> Iterator[str]:
    facts = from_document(WeekFacts, to_document(looked.facts))
    if facts != looked.facts:
        yield "I8 the facts do not survive being written down"
    again = resolve_week(facts, looked.library)
    if again != looked.decision:
        yield "I8 another decision on replay"


def i8_the_decision_survives_being_written_down(looked: Looked) -> Iterator[str]:
    document = to_document(looked.decision)
    if from_document(WeekDecision, document) != looked.decision:
        yield "I8 the decision does not survive being written down"


# --- I10: after a break -----------------------------------------------------------------------------------------------


@check
def i10_the_first_week_back_has_half_the_usual_volume_at_most(looked: Looked) -> Iterator[str]:
    for pattern in {item.pattern for _session, item in looked.items}:
        if pattern is Pattern.BALANCE and looked.facts.rider.oldest_age >= 65:
            continue  # part of each session, whatever came before (S4)
        trained = [
            one
            for one in looked.trained
            if one.exercise in looked.exercises and looked.exercises[one.exercise].pattern is pattern
        ]
        asked, usual, first, some = Decimal(0), None, None, False
        for session in looked.decision.sessions:
            items = [item for item in session.items if item.pattern is pattern]
            if not items:
                continue
            left_on = _left_on(looked, pattern, trained, first, session.on)
            first = first or session.on
            usual_now = _usual_sets(trained, left_on) if left_on else None
            if left_on is None or usual_now is None:
                continue
            if usual is None:
                back = (one for one in trained if one.on > left_on)
                asked += sum(_part(looked, one.exercise, one.target, left_on) for one in back)
            usual = usual_now
            parts = [
                _part(looked, item.exercise, item.target, left_on, item.slot)
                for item in items
                if not _is_least(looked, item)
            ]
            some = some or bool(parts)
            asked += sum(parts)
        if some and usual is not None and asked * 2 > usual:
            yield f"I10 {pattern.value}: {asked} sets of a usual {usual}"


def _left_on(
    looked: Looked, pattern: Pattern, trained: list[Exposure], first: date | None, on: date
) -> date | None:
    """The last day before a break of 14 days that ended in the seven days before `on`, or on it. What has gone out and
    is still ahead, and the week's first session with the pattern, are taken as done; two weeks in which the rider did
    other work are no break, three are."""
    ahead = {
        one.planned_on
        for one in looked.facts.sessions
        if one.state is SessionState.PLANNED
        and one.planned_on >= looked.facts.today
        and pattern in one.patterns
    }
    days = sorted({one.on for one in trained} | ahead | ({first} if first else set()))
    breaks = []
    for earlier, later in pairwise([*(day for day in days if day < on), on]):
        if (on - later).days >= 7 or (later - earlier).days < 14:
            continue
        long = 21 if any(earlier < day < later for day in looked.worked_on) else 14
        if (later - earlier).days >= long:
            breaks.append(earlier)
    return breaks[-1] if breaks else None


def _usual_sets(trained: list[Exposure], until: date) -> Decimal | None:
    """The median of the weekly sets of the last four normal weeks until a day."""
    weekly: dict[tuple[int, int], int] = {}
    for one in trained:
        if one.on <= until and not one.light:
            key = (one.on.isocalendar().year, one.on.isocalendar().week)
            weekly[key] = weekly.get(key, 0) + one.target.sets
    return Decimal(median([weekly[key] for key in sorted(weekly)][-4:])) if weekly else None


def _is_least(looked: Looked, item: Item) -> bool:
    """Whether it is the single set of 6 with which somebody young learns again: less may not be asked (I11)."""
    again = any(
        reason.key == "away-first-week" and int(str(reason.figures["days"])) >= 56 for reason in item.reasons
    )
    return looked.young and again and (item.target.sets, item.target.amount) == (1, 6)


def _part(looked: Looked, slug: str, target: Target, until: date, slot: str = "") -> Decimal:
    """The sets, each counted as the part that its reps or seconds are of one before the break, and of a first dose at
    least: the least of exercise and slot, never under 5 reps, for the young 6, or 20 s."""
    one = looked.exercises[slug]
    least = 20 if one.measure is Measure.HOLD else 6 if looked.young else 5
    slots = {one.id: one for block in looked.facts.blocks for form in block.templates for one in form.slots}
    low = slots[slot].low if slot in slots else None
    before = [one for one in looked.facts.exposures if one.exercise == slug and one.on <= until]
    asked = [one.target.amount for one in before if not one.light][-1:]
    done = [one.target.amount for one in before if was_done(one)][-1:]
    normal = max([looked.exercises[slug].low, least, low or 0, *asked, *done])
    return target.sets * min(Decimal(1), Decimal(target.amount) / normal)


# --- I11: the young ---------------------------------------------------------------------------------------------------


@check
def i11_the_young_do_6_to_15_reps(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items if looked.young else ():
        if item.target.measure is Measure.REPS and not 6 <= item.target.amount <= 15:
            yield f"I11 {item.exercise}: {item.target.amount} reps"


@check
def i11_the_young_do_at_most_3_sets(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items if looked.young else ():
        if not 1 <= item.target.sets <= 3:
            yield f"I11 {item.exercise}: {item.target.sets} sets"


@check
def i11_the_young_train_on_three_days_and_growing_on_two(looked: Looked) -> Iterator[str]:
    facts = looked.facts
    done = {one.ordinal for one in facts.sessions if one.week == facts.week and one.state in DONE}
    count = len(done | {session.ordinal for session in looked.decision.sessions})
    if looked.young and count > (2 if looked.growing else 3):
        yield f"I11 {count} sessions"


@check
def i11_a_young_step_is_agreed_above_10_and_never_above_25_percent(looked: Looked) -> Iterator[str]:
    for session, item in looked.items if looked.young else ():
        before = looked.last_asked(item, session.on)
        load = item.target.load
        if before is None or load is None or weight(load) <= weight(before.target.load):
            continue
        old, new = weight(before.target.load)[0], weight(load)[0]
        value = load.kg if load.kg is not None else Decimal(load.band or 0)
        agreed = (item.exercise, value) in looked.facts.rider.agreed_steps
        if old and new * 4 > old * 5:
            yield f"I11 {item.exercise}: from {old} to {new} kg"
        if (not old or new * 10 > old * 11) and not agreed:
            yield f"I11 {item.exercise}: from {old} to {new} kg without a coach's yes"


@check
def i11_nothing_heavier_in_a_growth_spurt(looked: Looked) -> Iterator[str]:
    for session, item in looked.items if looked.growing else ():
        before = looked.last_asked(item, session.on)
        if before and weight(item.target.load) > weight(before.target.load):
            yield f"I11 {item.exercise}: heavier in a growth spurt"


@check
def i11_the_young_get_no_sets_at_a_heavier_load(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items if looked.young else ():
        if item.target.bridge_sets:
            yield f"I11 {item.exercise}: sets at a heavier load"


@check
def s3_without_an_adult_the_week_waits_for_a_coach_and_says_so(looked: Looked) -> Iterator[str]:
    if looked.growing and not looked.facts.rider.adult_present and looked.decision.sessions:
        keys = {reason.key for reason in looked.decision.reasons}
        if looked.decision.may_send_unapproved or "adult-not-recorded" not in keys:
            yield "S3 no adult, and nobody is told"


# --- I12, I13, I14 ----------------------------------------------------------------------------------------------------


@check
def i12_what_is_not_known_is_no_success(looked: Looked) -> Iterator[str]:
    afresh = {"away-learn-again", "level-down", "harder-level"}
    afresh |= {"new-implement", "new-exercise", "new-implement-hold", "new-hold"}
    for session, item in looked.items:
        if {reason.key for reason in item.reasons} & afresh:
            continue
        past = [
            one
            for one in looked.past(item.exercise, session.on)
            if held(one.target.load) == held(item.target.load)
        ]
        if not past or past[-1].light:
            continue
        # Of a double report on one day the one that tells something stands (H3).
        newest = [one for one in past if one.on == past[-1].on]
        last = next((one for one in newest if one.done is not None), newest[-1])
        done = last.done
        longer = done is not None and done.held_longer is not None and last.target.measure is Measure.HOLD
        effort = longer or (done is not None and (done.reps_left is not None or last.session_rpe is not None))
        told = amounts(last) is not None and done is not None and held(done.load) == held(last.target.load)
        if told and effort:
            continue
        before, target = last.target, item.target
        if weight(target.load) > weight(before.load) or target.bridge_sets > before.bridge_sets:
            yield f"I12 {item.exercise}: more load after what is not known"
        elif weight(target.load) == weight(before.load) and (
            target.amount > before.amount
            or target.sets > before.sets
            or (target.lower_s or 0) > (before.lower_s or 0)
        ):
            yield f"I12 {item.exercise}: more after what is not known"


@check
def i14_what_stands_in_loads_no_sore_region_more(looked: Looked) -> Iterator[str]:
    gated = {region for region, score in looked.sore.items() if score >= 3}
    names = {
        "easier-used": ("wanted", "used"),
        "sibling-used": ("wanted", "used"),
        "opened-used": ("wanted", "used"),
        "level-down": ("exercise", "to"),
    }
    for _session, item in looked.items:
        for reason in item.reasons:
            if reason.key not in names:
                continue
            wanted, used = (looked.exercises[str(reason.figures[name])] for name in names[reason.key])
            for region in gated:
                if strain(used, region) > strain(wanted, region):
                    yield f"I14 {used.slug} loads the {region.value} more than {wanted.slug}"


def strain(one: Exercise, region: Region) -> int:
    return 2 if region in one.primary else int(region in one.secondary)


# --- the other rules of a week ----------------------------------------------------------------------------------------


@check
def s1_a_clinicians_limits_are_obeyed(looked: Looked) -> Iterator[str]:
    for limit, (_session, item) in product(looked.facts.rider.limits, looked.items):
        one = looked.exercises[item.exercise]
        out = (
            limit.exercise == item.exercise
            or (limit.pattern is not None and limit.pattern is one.pattern)
            or limit.region in one.primary | one.secondary
        )
        loads = (item.target.load, item.target.bridge_load)
        heavy = limit.max_kg is not None and any(weight(load)[0] > limit.max_kg for load in loads)
        reps = item.target.measure is Measure.REPS
        many = limit.max_reps is not None and reps and item.target.amount > limit.max_reps
        if out or heavy or many:
            yield f"S1 {item.exercise} {item.target} breaks {limit}"


@check
def s2_at_most_two_exercises_a_week_are_new(looked: Looked) -> Iterator[str]:
    known = {one.exercise for one in looked.facts.exposures}
    begun = any(one.on < looked.monday - timedelta(days=7) for one in looked.facts.exposures)
    new = {item.exercise for _session, item in looked.items} - known
    if begun and len(new) > 2:
        yield f"S2 new: {sorted(new)}"


@check
def p2_what_needs_a_load_begins_with_one_that_suits(looked: Looked) -> Iterator[str]:
    youngest = looked.facts.rider.youngest_age
    lower, upper = (8, 4) if youngest < 16 else (12, 8) if youngest < 18 else (16, 12)
    for _session, item in looked.items:
        one, load = looked.exercises[item.exercise], item.target.load
        earned = youngest >= 18 and not one.for_beginners
        used = {held(past.target.load) for past in looked.facts.exposures if past.exercise == item.exercise}
        if load is None or load.kg is None or one.loading is not Loading.EXTERNAL or earned:
            continue
        if held(load) not in used and weight(load)[0] > (lower if one.lower_body else upper):
            yield f"P2 {item.exercise} begins with {load.kg} kg at {youngest}"


@check
def s2_what_is_new_begins_with_two_sets(looked: Looked) -> Iterator[str]:
    known = {one.exercise for one in looked.facts.exposures}
    for _session, item in looked.items:
        if item.exercise not in known and item.target.sets > 2:
            yield f"S2 {item.exercise}: {item.target.sets} sets at first"


@check
def s4_from_50_rests_are_two_minutes(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items if looked.facts.rider.oldest_age >= 50 else ():
        if item.target.rest_s < 120:
            yield f"S4 {item.exercise}: {item.target.rest_s} s of rest"


@check
def s4_from_65_each_session_has_balance_work_or_says_why_not(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions if looked.facts.rider.oldest_age >= 65 else ():
        patterns = {item.pattern for item in session.items} | {one.pattern for one in session.left_out}
        if Pattern.BALANCE not in patterns:
            yield "S4 no balance work"


@check
def s5_a_pattern_that_hurt_is_left_out(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items:
        if looked.exercises[item.exercise].pattern in looked.facts.hurting:
            yield f"S5 {item.exercise}"


@check
def h2_nothing_is_new_before_a_priority_race(looked: Looked) -> Iterator[str]:
    known = {one.exercise for one in looked.facts.exposures}
    first: dict[str, date] = {}
    for session, item in sorted(looked.items, key=lambda pair: pair[0].on):
        first.setdefault(item.exercise, session.on)
    for slug, on in first.items():
        days = [(one.on - on).days for one in looked.facts.races if one.priority is RacePriority.PRIORITY]
        if slug not in known and any(0 <= count <= 14 for count in days):
            yield f"H2 {slug} is new {min(days)} days before a race"


@check
def y1_a_third_session_adds_nothing_for_the_legs(looked: Looked) -> Iterator[str]:
    if not any(reason.key == "third-session" for reason in looked.decision.reasons):
        return
    for session, item in looked.items:
        if session.ordinal == 3 and item.pattern in LOWER_BODY:
            yield f"Y1 {item.exercise} in a third session"


@check
def d3_a_session_takes_no_longer_than_there_is_time(looked: Looked) -> Iterator[str]:
    cap = looked.facts.rider.minutes_cap or 1440
    for session in looked.decision.sessions:
        kept = looked.facts.rider.oldest_age >= 65  # balance work stays whatever the minutes
        longest = max((one.minutes for one in looked.facts.openings if one.on == session.on), default=0)
        if not kept and session.minutes > min(cap, longest):
            yield f"D3 {session.minutes} minutes of {min(cap, longest)}"


@check
def l2_no_exercise_stands_twice_in_a_session(looked: Looked) -> Iterator[str]:
    for session in looked.decision.sessions:
        slugs = [item.exercise for item in session.items]
        if len(set(slugs)) < len(slugs):
            yield f"L2 {slugs}"


@check
def w3_the_first_week_the_young_and_open_matters_wait_for_a_coach(looked: Looked) -> Iterator[str]:
    facts = looked.facts
    begun = facts.rider.first_week_on is not None and facts.rider.first_week_on < looked.monday
    opened = any(one.closed_on is None or one.closed_on > facts.today for one in facts.matters)
    if looked.decision.may_send_unapproved and (looked.young or not begun or opened):
        yield "W3 goes out unapproved"


@check
def every_target_asks_for_something(looked: Looked) -> Iterator[str]:
    for _session, item in looked.items:
        target = item.target
        if target.sets < 1 or target.amount < 1 or not 0 <= target.bridge_sets < max(1, target.sets):
            yield f"target {item.exercise}: {target}"


# --- pairs: I9, I15 ---------------------------------------------------------------------------------------------------

ALL_PARTS = frozenset({"load", "sets", "amount", "tempo", "bridge"})


def raised(
    before: WeekDecision,
    after: WeekDecision,
    parts: Iterable[str] = ALL_PARTS,
    *,
    restarts: bool = True,
    same_day: bool = True,
    apart_from: frozenset[str] = frozenset(),
) -> list[str]:
    """What `after` asks more of than `before`, within one exercise of one slot, part by part.

    With `restarts`, where `before` took a step in one part that `after` has not taken, the other parts are not
    compared: a heavier load begins again with fewer reps, and more of them at the load before the step is no rise. With
    `same_day` only sessions on the same day are, since cuts before a race go by the day.
    """
    wanted, found = frozenset(parts), []
    days = {session.ordinal: session.on for session in before.sessions}
    was = {
        (session.ordinal, item.slot, item.exercise): item
        for session in before.sessions
        for item in session.items
    }
    for session in after.sessions:
        for item in session.items:
            other = was.get((session.ordinal, item.slot, item.exercise))
            moved = same_day and days.get(session.ordinal) != session.on
            if other is None or moved or item.exercise in apart_from:
                continue
            old, new = other.target, item.target
            name = f"{item.exercise} in session {session.ordinal}"
            same_way = held(old.load) == held(new.load) or new.load is None
            # A level down begins with no more than what was lifted on the level above; what stands in, with its own.
            begins = restarts and _began_lower(other, item)
            if "load" in wanted and same_way and weight(new.load) > weight(old.load) and not begins:
                found.append(f"{name}: load {old.load} to {new.load}")
            if not same_way or (restarts and _stepped_elsewhere(other, item)):
                continue
            if "sets" in wanted and new.sets > old.sets:
                found.append(f"{name}: sets {old.sets} to {new.sets}")
            if "amount" in wanted and new.amount > old.amount:
                found.append(f"{name}: {old.amount} to {new.amount}")
            slower = (new.lower_s or 0) > (old.lower_s or 0)
            if (
                "tempo" in wanted and slower and weight(new.load) >= weight(old.load)
            ):  # a heavier load begins anew
                found.append(f"{name}: lowered in {old.lower_s} s, then {new.lower_s} s")
            if "bridge" in wanted and new.bridge_sets > old.bridge_sets:
                found.append(f"{name}: {new.bridge_sets} sets at a heavier load")
    return found


def _began_lower(old: Item, item: Item) -> bool:
    """Whether the older item is a level down, and the newer the same exercise begun as something new."""
    return old.change is Change.EASIER and item.change is Change.NEW


def _stepped_elsewhere(old: Item, item: Item) -> bool:
    """Whether the older item is a step up in load, sets, reps or tempo that the newer one lacks, or that one stands in
    for something else and begins with its first dose."""
    new, is_easier = item.target, (item.change is Change.EASIER) is not (old.change is Change.EASIER)
    lighter = weight(new.load) < weight(old.target.load)
    fewer, quicker = new.sets < old.target.sets, (new.lower_s or 0) < (old.target.lower_s or 0)
    return (
        (lighter and old.change in (Change.MORE_LOAD, Change.NEW))
        or (fewer and old.change is Change.MORE_SETS)
        or (new.amount < old.target.amount and old.change in (Change.MORE_REPS, Change.MORE_TIME))
        or (quicker and old.change is Change.SLOWER)
        or is_easier
        # A level is the step, and it begins with its first dose, whatever was done of it as a stand-in before.
        or (old.change is Change.HARDER and item.change is not Change.HARDER)
        or (old.change is Change.BRIDGE and new.bridge_sets < old.target.bridge_sets)
    )


def refilled(before: WeekDecision, after: WeekDecision, *, minutes: bool = True) -> list[str]:
    """Sessions, slots, sets of a slot and `minutes` that `after` has more of than `before`, whatever the exercise.

    A step in load begins again with fewer reps; who repeats instead does more of them and may take longer, so that
    minutes are for plans of which one was sent.
    """
    found = []
    was = {session.ordinal: session for session in before.sessions}
    for session in after.sessions:
        other = was.get(session.ordinal)
        if other is None:
            found.append(f"session {session.ordinal} was not there")
            continue
        if minutes and session.minutes > other.minutes:
            found.append(f"session {session.ordinal}: {other.minutes} to {session.minutes} minutes")
        sets = {item.slot: item for item in other.items}
        for item in session.items:
            if item.slot not in sets:
                found.append(f"session {session.ordinal}: {item.slot} is filled")
            elif item.target.sets > sets[item.slot].target.sets and not _stepped_elsewhere(
                sets[item.slot], item
            ):
                found.append(f"session {session.ordinal}: more sets in {item.slot}")
    return found
