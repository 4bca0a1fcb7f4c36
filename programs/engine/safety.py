"""The safety properties of a final plan, checked at approval whoever changed it (Precedence; I1 to I8, I10, I11, I14,
and W3 and S3 as far as they guard a plan).

    find_breaches(decision, facts, library)

I1, I2, I3, I7 and I11 refuse: nobody may set them aside. The others need a coach's written reason, which is kept. I9,
I12, I13 and I15 are about pairs of decisions and are proven by the tests of the engine.

I1  No target above the last achieved for an exercise that loads a site with pain of 3 or more in 14 days.
I2  Every load is reachable where the session is, with an implement that the exercise may be done with there (W3).
I3  Nothing on an unavailable day, within a race's gap, or on days next to each other, by actual dates. A session that
    passed in silence may have been done, and one that is known not to have been done leaves its days free.
I4  At most three sessions a week, those done in it included.
I5  A step above 10 % in external load, from nothing to any, or to a stronger band never keeps the reps or seconds.
I6  Hard sets a muscle and week, and sets a session, within their caps (P12).
I7  The uncleared, the paused and the stopped get nothing.
I8  Every change has a reason.
I10 After 14 days or more away the first week never exceeds half of the pattern's usual sets, a set of fewer reps
    counting as that part of a set. Balance work from 65 is kept (S4).
I11 The limits for under-18s hold always. S3: an adult present in a growth spurt; where none is recorded, a coach may
    write who will be there.
I14 A substitute never loads a sore region more.
"""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from decimal import Decimal
from itertools import chain

from athletes.concerns import BodyReport, ReportKind
from athletes.triage import classify
from athletes.values import value_class
from athletes.vocabulary import Figure, Pattern, Reason, Region
from programs.engine.composition import works_legs
from programs.engine.context import NO_KIT, WeekContext, sore_regions
from programs.engine.facts import (
    Change,
    Exercise,
    Exposure,
    Item,
    Library,
    Measure,
    SessionDecision,
    SessionState,
    Target,
    WeekDecision,
    WeekFacts,
)
from programs.engine.families import exercise_of, has_exercise, loads_more
from programs.engine.history import LEARN_AGAIN_DAYS, achieved, was_trained
from programs.engine.kit import holdings_for, is_reachable, step_percent
from programs.engine.layoff import SHORT_DAYS, Gap
from programs.engine.resolve import DONE, body_state, lacks_adult
from programs.engine.season import block_of, phase_of
from programs.engine.spots import APART, DAY_MINUTES, GAP_HOURS_WITHOUT_LEGS, MOST_SESSIONS, gap_hours
from programs.engine.strength import HOLD_START_S, AgeLimits, age_limits
from programs.engine.target_facts import kg_figure, rank_of
from programs.engine.volume import too_much

#: Properties that nobody may set aside.
REFUSING = frozenset({"I1", "I2", "I3", "I7", "I11"})
PAIN, PAIN_DAYS = 3, 14
BIG_STEP_PERCENT = 10

REASONS: dict[str, str] = {
    "above-achieved": "{exercise} is above the last achieved, and it loads a site with pain of {score} in 14 days.",
    "not-reachable": "{exercise}: {kg} kg cannot be made up from the kit at {venue}.",
    "not-with-that": "{exercise} cannot be done this way with the kit at {venue}.",
    "no-opening": "The rider has no time on {on}.",
    "too-near-race": "{on} is less than {hours} h before {race}.",
    "next-to-session": "{on} is next to another session: one clear day between.",
    "away-on-day": "The rider is away on {on}.",
    "too-many-sessions": "{count} sessions in a week; at most {most}.",
    "big-step-keeps-reps": "{exercise}: a step of {percent} % in load keeps the reps.",
    "load-from-nothing-keeps-reps": "{exercise}: a first load keeps the reps.",
    "band-step-keeps-reps": "{exercise}: a stronger band keeps the reps.",
    "may-not-train": "This rider may not train now.",
    "change-without-reason": "{exercise}: a change without a reason.",
    "too-much-after-break": "{pattern}: {sets} sets after {days} days away; at most half the usual {usual}.",
    "young-reps": "{exercise}: under 18, {low} to {high} reps.",
    "young-sets": "{exercise}: under 18, at most {most} sets.",
    "young-days": "Under 18: at most {most} sessions this week.",
    "young-load": "{exercise}: no heavier load in a growth spurt.",
    "young-step": "{exercise}: under 18, a load step of {percent} % is above {most} %.",
    "loads-sore-more": "{exercise} loads the {region} more than the exercise that it stands in for.",
}


@value_class
class Breach:
    """One property that a plan breaks: which, why, and where (session ordinal, slot)."""

    id: str
    reason: Reason
    ordinal: int | None = None
    slot: str | None = None

    @property
    def refuses(self) -> bool:
        """Whether nobody may set it aside."""
        return self.id in REFUSING


def find_breaches(decision: WeekDecision, facts: WeekFacts, library: Library) -> tuple[Breach, ...]:
    """Every property that the plan breaks, in order of session. Sessions before `facts.today` are not looked at."""
    ahead = [one for one in decision.sessions if one.on >= facts.today and _is_open(one, facts)]
    if not ahead:
        return ()
    check = _Check(facts, library)
    return (
        *check.rider(),
        *check.days(decision, ahead),
        *check.volume(decision, ahead),
        *check.first_week_back(ahead),
        *(breach for session in ahead for item in session.items for breach in check.item(session, item)),
    )


def _is_open(session: SessionDecision, facts: WeekFacts) -> bool:
    return not any(
        record.week == facts.week
        and record.ordinal == session.ordinal
        and record.state is not SessionState.PLANNED
        for record in facts.sessions
    )


type Found = tuple[str, Reason]


class _Check:
    """What all checks of one plan share."""

    def __init__(self, facts: WeekFacts, library: Library) -> None:
        self.facts, self.library = facts, library
        self.limits: AgeLimits = age_limits(facts.rider)
        self.state = body_state(facts, facts.today)
        self.sore: frozenset[Region] = sore_regions(self.state)
        block = block_of(facts.blocks, facts.week)
        templates = block.templates if block else ()
        self.slots = {slot.id: slot for template in templates for slot in template.slots}

    def rider(self) -> Iterator[Breach]:
        """I7, and S3 in a growth spurt."""
        rider = self.facts.rider
        if rider.paused or not rider.may_train or self.state.stops_everything:
            yield Breach("I7", Reason("I7", "may-not-train"))
        if lacks_adult(self.facts, self.limits):
            yield Breach("S3", Reason("S3", "adult-not-recorded"))

    # --- days -----------------------------------------------------------------------------------------------------

    def days(self, decision: WeekDecision, ahead: Sequence[SessionDecision]) -> Iterator[Breach]:
        """I3, I4, and the young rider's days of I11."""
        facts, limits = self.facts, self.limits
        done = {one.ordinal for one in facts.sessions if one.week == facts.week and one.state in DONE}
        count = len(done | {session.ordinal for session in ahead})
        if count > MOST_SESSIONS:
            why: dict[str, Figure] = {"count": count, "most": MOST_SESSIONS}
            yield Breach("I4", Reason("I4", "too-many-sessions", why))
        if limits.under_18 and count > limits.max_days:
            yield Breach("I11", Reason("S3", "young-days", {"most": limits.max_days}))
        held = self._held_days(ahead)
        open_days = {opening.on for opening in facts.openings}
        for session in ahead:
            figures = {"on": session.on.isoformat()}
            if session.on not in open_days:
                yield Breach("I3", Reason("I3", "no-opening", figures), session.ordinal)
            if any(absence.from_on <= session.on <= absence.until_on for absence in facts.absences):
                yield Breach("I3", Reason("I3", "away-on-day", figures), session.ordinal)
            if any(key != session.ordinal and abs((session.on - on).days) < APART for key, on in held):
                yield Breach("I3", Reason("I3", "next-to-session", figures), session.ordinal)
            yield from self._near_races(session)

    def _held_days(self, ahead: Sequence[SessionDecision]) -> list[tuple[int | None, date]]:
        """(ordinal of this week or None, day) of every session that stands or may have been done."""
        here: list[tuple[int | None, date]] = [(session.ordinal, session.on) for session in ahead]
        for one in self.facts.sessions:
            planned = one.state is SessionState.PLANNED and one.week != self.facts.week
            if one.state in DONE:
                here.append((None, one.done_on or one.planned_on))
            elif planned or one.state is SessionState.SILENT:
                here.append((None, one.planned_on))
        return here

    def _near_races(self, session: SessionDecision) -> Iterator[Breach]:
        legs = works_legs(session.items)
        ends = session.on.toordinal() * DAY_MINUTES + session.start + session.minutes
        for race in self.facts.races:
            hours = gap_hours(race) if legs else GAP_HOURS_WITHOUT_LEGS
            before = race.on.toordinal() * DAY_MINUTES + race.start - ends
            if session.on == race.on or 0 <= before < hours * 60:
                why: dict[str, Figure] = {"on": session.on.isoformat(), "hours": hours, "race": race.name}
                yield Breach("I3", Reason("P9", "too-near-race", why), session.ordinal)

    # --- sets -----------------------------------------------------------------------------------------------------

    def volume(self, decision: WeekDecision, ahead: Sequence[SessionDecision]) -> Iterator[Breach]:
        """I6: the sessions to come, with what has been done in the week (P12)."""
        for reason, ordinal in too_much(ahead, self.facts, self.library, decision.phase, self.limits):
            yield Breach("I6", reason, ordinal)

    # --- a return -------------------------------------------------------------------------------------------------

    def first_week_back(self, ahead: Sequence[SessionDecision]) -> Iterator[Breach]:
        """I10, by pattern: what is asked in the first week, with what has been done since the break."""
        facts = self.facts
        context = WeekContext(facts, self.library, phase_of(facts), self.limits, self.state)
        by_pattern: dict[Pattern, list[tuple[SessionDecision, Item]]] = {}
        for session in sorted(ahead, key=lambda one: one.on):
            for item in session.items:
                by_pattern.setdefault(item.pattern, []).append((session, item))
                context.planned.setdefault(item.pattern, session.on)
        for pattern, pairs in by_pattern.items():
            if pattern is Pattern.BALANCE and self.limits.balance_each_session:
                continue
            back = [
                (gap, item)
                for session, item in pairs
                if (gap := context.gap_of(pattern, session.on)) and gap.days >= SHORT_DAYS and gap.week == 1
            ]
            if not back:
                continue
            # Without slots to share it out over, this is the usual of a week, less twice what was done since.
            usual = context.usual_sets(pattern, back[0][0], pairs[0][0].on)
            if usual is None:
                continue
            asked = sum(
                (self._share_of_sets(item, gap) for gap, item in back if not self._is_least(item, gap)),
                Decimal(0),
            )
            if asked * 2 > usual:
                why: dict[str, Figure] = {
                    "pattern": pattern.value,
                    "sets": str(asked.quantize(Decimal("0.1"))),
                    "days": back[0][0].days,
                    "usual": str(usual.quantize(Decimal("0.1"))),
                }
                yield Breach("I10", Reason("I10", "too-much-after-break", why))

    def _is_least(self, item: Item, gap: Gap) -> bool:
        """Whether it is the single set of the least reps with which somebody young learns again (I11)."""
        least = (item.target.sets, item.target.amount) == (1, self.limits.min_reps)
        return least and self.limits.under_18 and gap.days >= LEARN_AGAIN_DAYS

    def _share_of_sets(self, item: Item, gap: Gap) -> Decimal:
        """The sets, each counted as the part that its reps or seconds are of one before the break, and of a first dose
        at least."""
        exercise = exercise_of(self.library, item.exercise)
        least = HOLD_START_S if exercise.measure is Measure.HOLD else self.limits.min_reps
        slot = self.slots.get(item.slot)
        before = [
            one for one in self.facts.exposures if one.exercise == item.exercise and one.on <= gap.since
        ]
        asked = [one.target.amount for one in before if not one.light][-1:]
        last = [one.target.amount for one in before if was_trained(one)][-1:]
        normal = max([exercise.low, least, (slot.low or 0) if slot else 0, *asked, *last])
        return item.target.sets * min(Decimal(1), Decimal(item.target.amount) / normal)

    # --- targets --------------------------------------------------------------------------------------------------

    def item(self, session: SessionDecision, item: Item) -> Iterator[Breach]:
        """I1, I2, I5, I8, I11 and I14 for one target."""
        if not has_exercise(self.library, item.exercise):
            why = Reason("I2", "not-with-that", {"exercise": item.exercise, "venue": session.venue})
            yield Breach("I2", why, session.ordinal, item.slot)
            return
        exercise = exercise_of(self.library, item.exercise)
        past = tuple(
            one for one in self.facts.exposures if one.exercise == item.exercise and one.on < session.on
        )
        found = chain(
            self._above_achieved(item, exercise, past),
            self._unreachable(session, item, exercise),
            _big_step(item, past),
            _without_reason(item),
            self._sore_more(item),
            _young(item, past, self.limits),
        )
        for property_id, reason in found:
            yield Breach(property_id, reason, session.ordinal, item.slot)

    def _above_achieved(self, item: Item, exercise: Exercise, past: Sequence[Exposure]) -> Iterator[Found]:
        since = self.facts.today - timedelta(days=PAIN_DAYS)
        loaded = exercise.primary | exercise.secondary
        reports = (one for one in self.facts.reports if one.region in loaded and one.on >= since)
        worst = max((self._pain(one) for one in reports), default=0)
        if worst < PAIN:
            return
        same = (one for one in reversed(past) if _holding(one.target) == _holding(item.target))
        last = next((did for one in same if (did := achieved(one)) is not None), None)
        if last is None:
            return
        target = item.target
        heavier = rank_of(target.load) > rank_of(last.load) or target.bridge_sets > 0
        more = target.amount > last.amount or target.sets > last.sets
        if heavier or (more and rank_of(target.load) == rank_of(last.load)):
            yield "I1", Reason("I1", "above-achieved", {"exercise": item.exercise, "score": worst})

    def _pain(self, report: BodyReport) -> int:
        """The report's score as pain; a sign counts as at least 3, soreness as none."""
        if classify(report, under_18=self.limits.under_18) is ReportKind.SORENESS:
            return 0
        return max(report.during or 0, report.next_morning or 0, PAIN if report.signs else 0)

    def _unreachable(self, session: SessionDecision, item: Item, exercise: Exercise) -> Iterator[Found]:
        kit = dict(self.facts.venues).get(session.venue, NO_KIT)
        usable = holdings_for(exercise, kit, alone=self.facts.rider.trains_alone)
        target, figures = item.target, {"exercise": item.exercise, "venue": session.venue}
        loads = (target.load, target.bridge_load) if target.bridge_sets else (target.load,)
        for load in loads:
            if not is_reachable(kit, load):
                yield "I2", Reason("I2", "not-reachable", {**figures, "kg": kg_figure(load)})
            elif (load.holding if load else None) not in usable:
                yield "I2", Reason("I2", "not-with-that", figures)

    def _sore_more(self, item: Item) -> Iterator[Found]:
        for wanted, used in _stand_ins(item) if self.sore else ():
            if not (has_exercise(self.library, wanted) and has_exercise(self.library, used)):
                continue
            one, other = exercise_of(self.library, used), exercise_of(self.library, wanted)
            region = loads_more(one, other, self.sore)
            if region is not None:
                yield "I14", Reason("T5", "loads-sore-more", {"exercise": used, "region": region.value})


def _stand_ins(item: Item) -> Iterator[tuple[str, str]]:
    """What was asked for and what stands in for it, as the item's own reasons tell (L1, L2)."""
    names = {
        "easier-used": ("wanted", "used"),
        "sibling-used": ("wanted", "used"),
        "opened-used": ("wanted", "used"),
        "level-down": ("exercise", "to"),
    }
    for reason in item.reasons:
        if reason.key in names:
            wanted, used = names[reason.key]
            yield str(reason.figures[wanted]), str(reason.figures[used])


def _holding(target: Target) -> object:
    return target.load.holding if target.load is not None else None


def _last_asked(item: Item, past: Sequence[Exposure]) -> Target | None:
    """What was asked last with the same implement, else at body weight."""
    same = [one.target for one in past if _holding(one.target) == _holding(item.target)]
    bare = [one.target for one in past if one.target.load is None]
    return same[-1] if same else bare[-1] if bare else None


def _big_step(item: Item, past: Sequence[Exposure]) -> Iterator[Found]:
    before, load = _last_asked(item, past), item.target.load
    if before is None or load is None or item.target.amount < before.amount:
        return
    figures: dict[str, Figure] = {"exercise": item.exercise}
    if before.load is None:
        yield "I5", Reason("I5", "load-from-nothing-keeps-reps", figures)
        return
    percent = step_percent(before.load, load)
    if percent is not None and percent > BIG_STEP_PERCENT:
        yield "I5", Reason("I5", "big-step-keeps-reps", {**figures, "percent": int(percent)})
    elif percent is None and rank_of(load) > rank_of(before.load):
        yield "I5", Reason("I5", "band-step-keeps-reps", figures)


def _without_reason(item: Item) -> Iterator[Found]:
    if item.change is not Change.SAME and not item.reasons:
        yield "I8", Reason("I8", "change-without-reason", {"exercise": item.exercise})


def _young(item: Item, past: Sequence[Exposure], limits: AgeLimits) -> Iterator[Found]:
    if not limits.under_18:
        return
    target, figures = item.target, {"exercise": item.exercise}
    if target.measure is Measure.REPS and not limits.min_reps <= target.amount <= limits.max_reps:
        yield "I11", Reason("S3", "young-reps", {**figures, "low": limits.min_reps, "high": limits.max_reps})
    if target.sets > limits.max_sets:
        yield "I11", Reason("S3", "young-sets", {**figures, "most": limits.max_sets})
    before = _last_asked(item, past)
    if before is None or target.load is None or rank_of(target.load) <= rank_of(before.load):
        return
    if not limits.may_raise_load:
        yield "I11", Reason("S3", "young-load", figures)
    percent, most = step_percent(before.load, target.load), limits.max_step_percent
    if percent is not None and most is not None and percent > most:
        yield "I11", Reason("S3", "young-step", {**figures, "percent": int(percent), "most": int(most)})
