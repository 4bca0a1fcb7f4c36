"""The safety properties, checked on a finished plan whoever made or changed it (I1 to I5, I7, I8, I10, I11, I14).

    find_breaches(decision, facts, library)

I1, I2, I3, I7 and I11 refuse: nobody may set them aside. The others need a coach's written reason, which is kept. I6 is
P12's and comes with it; I9, I12, I13 and I15 are about pairs of decisions and are proven by the tests of the engine.

I1  No target above the last achieved for an exercise that loads a site with pain of 3 or more in 14 days.
I2  Every load is reachable where the session is.
I3  Nothing on an unavailable day, within a race's gap, or on days next to each other.
I4  At most three sessions a week.
I5  A step above 10 % in external load, or from nothing to any, never keeps the reps.
I7  The uncleared, the paused and the stopped get nothing.
I8  Every change has a reason.
I10 After 14 days or more away the first week never exceeds half of the usual volume.
I11 The limits for under-18s hold always.
I14 A substitute never loads a sore region more.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from athletes.concerns import BodyReport, Gate, ReportKind
from athletes.vocabulary import Figure, Implement, Reason
from programs.engine.facts import (
    Change,
    Exercise,
    Exposure,
    Item,
    Kit,
    Library,
    Measure,
    SessionDecision,
    SessionState,
    Target,
    WeekDecision,
    WeekFacts,
)
from programs.engine.families import exercise_of, loads_more
from programs.engine.history import achieved
from programs.engine.kit import is_reachable, step_percent, total_kg
from programs.engine.layoff import gap_before
from programs.engine.resolve import body_state
from programs.engine.spots import DAY_MINUTES, GAP_HOURS_WITHOUT_LEGS, MOST_SESSIONS, gap_hours
from programs.engine.strength import AgeLimits, age_limits

#: Properties that nobody may set aside.
REFUSING = frozenset({"I1", "I2", "I3", "I7", "I11"})
PAIN, PAIN_DAYS = 3, 14
BIG_STEP_PERCENT = 10
AWAY_DAYS, HALF = 14, 2

REASONS: dict[str, str] = {
    "above-achieved": "{exercise} is above the last achieved, and it loads a site with pain of {score} in 14 days.",
    "not-reachable": "{exercise}: {kg} kg cannot be made up from the kit at {venue}.",
    "no-opening": "The rider has no time on {on}.",
    "too-near-race": "{on} is less than {hours} h before {race}.",
    "next-to-session": "{on} is next to another session: one clear day between.",
    "away-on-day": "The rider is away on {on}.",
    "too-many-sessions": "{count} sessions in a week; at most {most}.",
    "big-step-keeps-reps": "{exercise}: a step of {percent} % in load keeps the reps.",
    "load-from-nothing-keeps-reps": "{exercise}: a first load keeps the reps.",
    "may-not-train": "This rider may not train now.",
    "change-without-reason": "{exercise}: a change without a reason.",
    "too-much-after-break": "{exercise}: {sets} sets after {days} days away; at most half the usual {usual}.",
    "young-reps": "{exercise}: under 18, {low} to {high} reps.",
    "young-sets": "{exercise}: under 18, at most {most} sets.",
    "young-days": "Under 18: at most {most} sessions this week.",
    "young-load": "{exercise}: no heavier load in a growth spurt.",
    "young-step": "{exercise}: under 18, a load step of {percent} % is above {most} %.",
    "loads-sore-more": "{exercise} loads the {region} more than the exercise that it stands in for.",
}


@dataclass(frozen=True, slots=True)
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
    ahead = [
        session for session in decision.sessions if session.on >= facts.today and _is_open(session, facts)
    ]
    if not ahead:
        return ()
    return (
        *_may_not_train(facts),
        *_days(decision, ahead, facts, library),
        *(
            breach
            for session in ahead
            for item in session.items
            for breach in _item(session, item, facts, library)
        ),
    )


def _is_open(session: SessionDecision, facts: WeekFacts) -> bool:
    return not any(
        record.week == facts.week
        and record.ordinal == session.ordinal
        and record.state is not SessionState.PLANNED
        for record in facts.sessions
    )


def _may_not_train(facts: WeekFacts) -> Iterator[Breach]:
    if facts.rider.paused or not facts.rider.may_train or body_state(facts, facts.today).stops_everything:
        yield Breach("I7", Reason("I7", "may-not-train"))


# --- days -------------------------------------------------------------------------------------------------------------


def _days(
    decision: WeekDecision, ahead: Sequence[SessionDecision], facts: WeekFacts, library: Library
) -> Iterator[Breach]:
    limits = age_limits(facts.rider)
    if len(decision.sessions) > MOST_SESSIONS:
        why: dict[str, Figure] = {"count": len(decision.sessions), "most": MOST_SESSIONS}
        yield Breach("I4", Reason("I4", "too-many-sessions", why))
    if limits.under_18 and len(decision.sessions) > limits.max_days:
        yield Breach("I11", Reason("S3", "young-days", {"most": limits.max_days}))
    held = _held_days(decision, facts)
    open_days = {opening.on for opening in facts.openings}
    for session in ahead:
        figures = {"on": session.on.isoformat()}
        if session.on not in open_days:
            yield Breach("I3", Reason("I3", "no-opening", figures), session.ordinal)
        if any(absence.from_on <= session.on <= absence.until_on for absence in facts.absences):
            yield Breach("I3", Reason("I3", "away-on-day", figures), session.ordinal)
        if any(ordinal != session.ordinal and abs((session.on - on).days) < 2 for ordinal, on in held):
            yield Breach("I3", Reason("I3", "next-to-session", figures), session.ordinal)
        yield from _near_races(session, facts, library)


def _held_days(decision: WeekDecision, facts: WeekFacts) -> list[tuple[int | None, date]]:
    """(ordinal of this week or None, day) of every session that stands: this week's, and others by actual dates."""
    done = {
        record.ordinal: record.done_on or record.planned_on
        for record in facts.sessions
        if record.week == facts.week and record.state in (SessionState.DONE, SessionState.PART)
    }
    here: list[tuple[int | None, date]] = [
        (session.ordinal, done.get(session.ordinal, session.on)) for session in decision.sessions
    ]
    others = [
        (None, record.done_on or record.planned_on)
        for record in facts.sessions
        if record.week != facts.week
        and record.state in (SessionState.DONE, SessionState.PART, SessionState.PLANNED)
    ]
    return [*here, *others]


def _near_races(session: SessionDecision, facts: WeekFacts, library: Library) -> Iterator[Breach]:
    legs = any(exercise_of(library, item.exercise).lower_body for item in session.items)
    ends = session.on.toordinal() * DAY_MINUTES + session.start + session.minutes
    for race in facts.races:
        hours = gap_hours(race) if legs else GAP_HOURS_WITHOUT_LEGS
        before = race.on.toordinal() * DAY_MINUTES + race.start - ends
        if session.on == race.on or 0 <= before < hours * 60:
            why: dict[str, Figure] = {"on": session.on.isoformat(), "hours": hours, "race": race.name}
            yield Breach("I3", Reason("P9", "too-near-race", why), session.ordinal)


# --- targets ----------------------------------------------------------------------------------------------------------


def _item(session: SessionDecision, item: Item, facts: WeekFacts, library: Library) -> Iterator[Breach]:
    exercise = exercise_of(library, item.exercise)
    exposures = tuple(one for one in facts.exposures if one.exercise == item.exercise and one.on < session.on)
    checks = [
        _above_achieved(item, exercise, exposures, facts),
        _unreachable(session, item, facts),
        _big_step(item, exposures),
        _without_reason(item),
        _too_much_after_break(session, item, exercise, facts, library),
        _sore_more(item, exercise, facts, library),
        *_young(item, exposures, age_limits(facts.rider)),
    ]
    for found in checks:
        if found is not None:
            property_id, reason = found
            yield Breach(property_id, reason, session.ordinal, item.slot)


type Found = tuple[str, Reason] | None


def _sore_score(report: BodyReport) -> int:
    return max(report.during or 0, report.next_morning or 0)


def _above_achieved(item: Item, exercise: Exercise, exposures: Sequence[Exposure], facts: WeekFacts) -> Found:
    loaded = exercise.primary | exercise.secondary
    since = facts.today - timedelta(days=PAIN_DAYS)
    scores = [
        _sore_score(report)
        for report in facts.reports
        if report.region in loaded and report.on >= since and report.kind is not ReportKind.SORENESS
    ]
    worst = max(scores, default=0)
    if worst < PAIN:
        return None
    last = next((did for one in reversed(exposures) if (did := achieved(one)) is not None), None)
    if last is None or _implement_of(last.load) is not _implement_of(item.target.load):
        return None
    target = item.target
    heavier = total_kg(target.load) > total_kg(last.load)
    more = total_kg(target.load) == total_kg(last.load) and (
        target.amount > last.amount or target.sets > last.sets
    )
    if heavier or more:
        return "I1", Reason("I1", "above-achieved", {"exercise": item.exercise, "score": worst})
    return None


def _implement_of(load: object) -> Implement:
    holding = getattr(load, "holding", None)
    return holding.implement if holding is not None else Implement.NONE


def _unreachable(session: SessionDecision, item: Item, facts: WeekFacts) -> Found:
    kit = dict(facts.venues).get(session.venue, Kit())
    for load in (item.target.load, item.target.bridge_load):
        if load is not None and not is_reachable(kit, load):
            why: dict[str, Figure] = {"exercise": item.exercise, "kg": str(load.kg), "venue": session.venue}
            return "I2", Reason("I2", "not-reachable", why)
    return None


def _last_target(item: Item, exposures: Sequence[Exposure]) -> Target | None:
    for exposure in reversed(exposures):
        same = _implement_of(exposure.target.load) is _implement_of(item.target.load)
        if exposure.done is not None and (same or exposure.target.load is None):
            return exposure.target
    return None


def _big_step(item: Item, exposures: Sequence[Exposure]) -> Found:
    before = _last_target(item, exposures)
    load = item.target.load
    if before is None or load is None or load.kg is None or item.target.measure is not Measure.REPS:
        return None
    keeps = item.target.amount >= before.amount
    if before.load is None:
        if keeps:
            return "I5", Reason("I5", "load-from-nothing-keeps-reps", {"exercise": item.exercise})
        return None
    percent = step_percent(before.load, load)
    if percent is not None and percent > BIG_STEP_PERCENT and keeps:
        why: dict[str, Figure] = {"exercise": item.exercise, "percent": int(percent)}
        return "I5", Reason("I5", "big-step-keeps-reps", why)
    return None


def _without_reason(item: Item) -> Found:
    if item.change is not Change.SAME and not item.reasons:
        return "I8", Reason("I8", "change-without-reason", {"exercise": item.exercise})
    return None


def _too_much_after_break(
    session: SessionDecision, item: Item, exercise: Exercise, facts: WeekFacts, library: Library
) -> Found:
    trained = sorted(
        one.on
        for one in facts.exposures
        if one.done is not None and exercise_of(library, one.exercise).pattern is exercise.pattern
    )
    gap = gap_before(trained, session.on)
    if gap is None or gap.days < AWAY_DAYS or gap.week > 1:
        return None
    usual = max(
        (one.target.sets for one in facts.exposures if one.exercise == item.exercise and not one.light),
        default=None,
    )
    if usual is not None and item.target.sets * HALF > usual and item.target.sets > 1:
        why: dict[str, Figure] = {
            "exercise": item.exercise,
            "sets": item.target.sets,
            "days": gap.days,
            "usual": usual,
        }
        return "I10", Reason("I10", "too-much-after-break", why)
    return None


def _sore_more(item: Item, exercise: Exercise, facts: WeekFacts, library: Library) -> Found:
    standing = next((one.exercise for one in facts.standings if one.pattern is item.pattern), None)
    if standing is None or standing == item.exercise:
        return None
    state = body_state(facts, facts.today)
    sore = frozenset(site.region for site in state.gates if site.gate > Gate.FREE)
    region = loads_more(exercise, exercise_of(library, standing), sore) if sore else None
    if region is not None and item.change is Change.EASIER:
        return "I14", Reason("T5", "loads-sore-more", {"exercise": item.exercise, "region": region.value})
    return None


def _young(item: Item, exposures: Sequence[Exposure], limits: AgeLimits) -> list[Found]:
    if not limits.under_18:
        return []
    found: list[Found] = []
    target = item.target
    if target.measure is Measure.REPS and not limits.min_reps <= target.amount <= limits.max_reps:
        why: dict[str, Figure] = {"exercise": item.exercise, "low": limits.min_reps, "high": limits.max_reps}
        # A single set of fewer reps is what a return or a sore site leaves: less is never a breach.
        if target.amount > limits.max_reps:
            found.append(("I11", Reason("S3", "young-reps", why)))
    if target.sets > limits.max_sets:
        found.append(
            ("I11", Reason("S3", "young-sets", {"exercise": item.exercise, "most": limits.max_sets}))
        )
    before = _last_target(item, exposures)
    if before is not None and target.load is not None and total_kg(target.load) > total_kg(before.load):
        if not limits.may_raise_load:
            found.append(("I11", Reason("S3", "young-load", {"exercise": item.exercise})))
        percent = step_percent(before.load, target.load)
        if percent is not None and limits.max_step_percent is not None and percent > limits.max_step_percent:
            step: dict[str, Figure] = {
                "exercise": item.exercise,
                "percent": int(percent),
                "most": int(limits.max_step_percent),
            }
            found.append(("I11", Reason("S3", "young-step", step)))
    return found
