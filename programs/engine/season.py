"""The one intent of a week, and how many sessions it has (rules Y1 and Y2, and P7 to P10 by week).

Y1  Phases by week from the block, races, absences and what was done: learn, build, maintain, taper, race week, rest,
    return. Two sessions a week; one in the racing months, which is less than the two that WHO 2020 asks of adults
    (practice: the bike takes over). A third after 12 weeks at 80 % attended, 28 days without pain of 3, bike hours of
    the week entered and at most 85 % of the rider's median, and without more sets for the legs (ours). Never more than
    the block has. Learning lasts six sessions (ours, after S2). Four or more days away make a rest week (ours).
Y2  Bike hours above 115 % of the rider's own 6-week median and at least 2 h more, or a race in the week, bring a build
    week down to 1 (ours). Hours not entered change nothing; the median needs four of the six weeks (ours). A minor race
    does not count.
P7  Every fourth week of a build block is light (practice).
P8  Maintain needs at least 8 weeks at two a week since the last break of 28 days (the weeks S: Rønnestad 2010, twelve
    at two and then thirteen at one; that eight will do is ours), else the week builds. Never more than 10 days between
    sessions.
P9  A week is taper or race week when most of its days are; the cut acts by day, and the last seven days before the
    race hold one session, across week borders.
P10 After 14 days away a week is a return week, after 56 a learning week, before anything races or blocks say.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from statistics import median
from typing import Final

from athletes.concerns import BodyReport, ReportKind
from athletes.values import value_class
from athletes.vocabulary import Figure, RacePriority, Reason
from programs.engine.facts import (
    Absence,
    BikeWeek,
    Block,
    Phase,
    Race,
    SessionRecord,
    SessionState,
    Week,
    WeekFacts,
)
from programs.engine.history import LEARN_AGAIN_DAYS
from programs.engine.layoff import SHORT_DAYS, Gap, gap_before
from programs.engine.quantities import shift_week, week_days, weeks_between
from programs.engine.races import (
    RACE_WEEK_CUT,
    RACE_WEEK_DAYS,
    REBUILD_LOAD_CUT,
    TAPER_CUT,
    RaceDiary,
    cut_on,
    diary_of,
    is_racing_time,
    race_majority,
    rebuild_after,
)
from programs.engine.spots import MOST_SESSIONS, Cap

MOST_OF_WEEK: Final = 4
USUAL_SESSIONS: Final = 2
LEARNING_SESSIONS: Final = 6
LIGHT_EVERY: Final = 4
MAINTAIN_AFTER_WEEKS: Final = 8
MAINTAIN_LOST_AFTER_DAYS: Final = 28
MAINTAIN_GAP_DAYS: Final = 10
THIRD_WEEKS, THIRD_PERCENT, THIRD_PAIN_DAYS, THIRD_PAIN, THIRD_BIKE_PERCENT = 12, 80, 28, 3, 85
BIKE_WEEKS, BIKE_WEEKS_KNOWN, BIKE_PERCENT, BIKE_HOURS = 6, 4, 115, 2

REASONS: dict[str, str] = {
    "no-block": "No block of the program covers this week: nothing is planned.",
    "rest-for-absence": "{days} days of this week away: a rest week.",
    "phase-of-block": "Week {week} of {weeks} of the block: {intent}.",
    "phase-learn": "{done} of {needed} sessions done: still learning.",
    "phase-learn-again": "{days} days away: the movements are learned again, {done} of {needed} sessions done.",
    "phase-return": "{days} days away: week {week} of coming back.",
    "phase-race-week": "{days} days of this week are the last before {race}: race week, one session.",
    "phase-taper": "{days} days of this week lie one to two weeks before {race}: taper.",
    "phase-maintain": "{weeks} weeks at two sessions are done and it is racing time: one session keeps what was built.",
    "phase-maintain-block": "{weeks} weeks at two sessions are done: one session keeps what was built.",
    "maintain-not-earned": "{weeks} of {needed} weeks at two sessions done: too early to maintain, so it builds.",
    "light-fourth-week": "Week {week} of the block: every fourth is light.",
    "one-for-bike-hours": "{hours} h on the bike against a usual {usual} h: one session this week.",
    "one-for-race": "A race in this week, {race}: one session.",
    "rebuild-lighter": "{weeks} weeks between {race} and the next priority race: rebuild from {percent} % less load.",
    "third-session": "{attended} % of sessions attended in {weeks} weeks, no pain, a light week on the bike: a third "
    "session, without more sets for the legs.",
    "third-needs-weeks": "{weeks} weeks of sessions are needed before a third one a week.",
    "third-needs-attendance": "{attended} % of sessions attended; a third one a week needs {needed} %.",
    "third-needs-no-pain": "Pain of {score} in the last {days} days: no third session.",
    "third-needs-bike-hours": "Bike hours of this week or the weeks before are not entered: no third session.",
    "third-needs-lighter-bike": "{hours} h on the bike against a usual {usual} h is not light: no third session.",
    "most-days": "{most} sessions a week at most for this rider.",
}


@value_class
class PhaseDecision:
    """The intent of one rider's week (Y1) and what follows from it.

    `sessions` is how many to place. `cuts` gives the percent of sets to cut by date for a race (P9), `caps` how many
    sessions some days may hold. `gap` is the break that the week comes back from (P10). `rebuild_load_cut` percent is
    taken from the load of what has not been done since `rebuild_since_on` (P9). `third_session` says that the third
    session adds no sets for the legs. `max_gap_days` is the most days between sessions (P8).
    """

    phase: Phase
    sessions: int
    reasons: tuple[Reason, ...]
    light: bool = False
    block: Block | None = None
    week_in_block: int = 0
    cuts: tuple[tuple[date, int], ...] = ()
    caps: tuple[Cap, ...] = ()
    gap: Gap | None = None
    rebuild_load_cut: int = 0
    rebuild_since_on: date | None = None
    third_session: bool = False
    max_gap_days: int | None = None


def phase_of(facts: WeekFacts, *, max_days: int = MOST_SESSIONS) -> PhaseDecision:
    """The phase of the week and its number of sessions (Y1, Y2, P7 to P10).

    `max_days` is what the rider's age allows. A rest week and a week without a block have no sessions.
    """
    days = week_days(facts.week)
    block = block_of(facts.blocks, facts.week)
    if block is None:
        return PhaseDecision(Phase.REST, 0, (Reason("Y1", "no-block"),))
    away = days_away(days, facts.absences)
    if away >= MOST_OF_WEEK:
        return _rest(block, facts.week, Reason("Y1", "rest-for-absence", {"days": away}))
    if block.intent is Phase.REST or block.sessions < 1:
        return _rest(block, facts.week, _block_reason(block, facts.week))
    diary = diary_of(facts.races)
    done = done_dates(facts.sessions, days[0])
    decision = _with_races(_base(facts, block, diary, done, days), diary, days)
    decision = _with_return(decision, facts, done, days)
    decision = _with_fewer(decision, facts, days)
    if decision.sessions > max_days:
        why = Reason("S3", "most-days", {"most": max_days})
        decision = replace(decision, sessions=max_days, reasons=(*decision.reasons, why))
    return decision


def cut_for(decision: PhaseDecision, on: date) -> int:
    """Percent of sets to cut on a day for a race to come (P9); 0 for none."""
    return next((percent for day, percent in decision.cuts if day == on), 0)


def block_of(blocks: Sequence[Block], week: Week) -> Block | None:
    """The block that covers a week; where several do, the one that began last."""
    covering = [block for block in blocks if block.first <= week <= block.last]
    return max(covering, key=lambda block: block.first) if covering else None


def done_dates(sessions: Sequence[SessionRecord], before: date) -> list[date]:
    """The days before a date on which a session was done, wholly or in part, by actual dates (H3), ascending."""
    dates = {
        record.done_on or record.planned_on
        for record in sessions
        if record.state is SessionState.DONE or record.state is SessionState.PART
    }
    return sorted(on for on in dates if on < before)


def weeks_at_two(done: Sequence[date]) -> int:
    """Weeks with two or more sessions since the last break of 28 days or more (P8). `done` ascends."""
    weeks: dict[int, int] = {}
    for at in range(len(done) - 1, -1, -1):
        # Day 1 of the calendar was a Monday, so whole sevens of days are ISO weeks.
        week = (done[at].toordinal() - 1) // 7
        weeks[week] = weeks.get(week, 0) + 1
        if at and (done[at] - done[at - 1]).days >= MAINTAIN_LOST_AFTER_DAYS:
            break
    return sum(count >= USUAL_SESSIONS for count in weeks.values())


def usual_bike_hours(bike_weeks: Sequence[BikeWeek], week: Week) -> Decimal | None:
    """The median of the six weeks before, from those entered; None when fewer than four are (Y2)."""
    first = shift_week(week, -BIKE_WEEKS)
    hours = [entry.hours for entry in bike_weeks if first <= entry.week < week]
    return Decimal(median(hours)) if len(hours) >= BIKE_WEEKS_KNOWN else None


def third_session(facts: WeekFacts) -> tuple[bool, Reason]:
    """Whether a third session may be placed (Y1), and why or why not. What is unknown does not earn it (H3)."""
    attended = _attended_percent(facts.sessions, facts.week)
    if attended is None:
        return False, Reason("Y1", "third-needs-weeks", {"weeks": THIRD_WEEKS})
    if attended < THIRD_PERCENT:
        figures: dict[str, Figure] = {"attended": attended, "needed": THIRD_PERCENT}
        return False, Reason("Y1", "third-needs-attendance", figures)
    worst = _worst_pain(facts.reports, facts.today)
    if worst is not None:
        return False, Reason("Y1", "third-needs-no-pain", {"score": worst, "days": THIRD_PAIN_DAYS})
    hours, usual = _bike_hours(facts)
    if hours is None or usual is None:
        return False, Reason("Y1", "third-needs-bike-hours")
    if hours * 100 > usual * THIRD_BIKE_PERCENT:
        return False, Reason("Y1", "third-needs-lighter-bike", {"hours": str(hours), "usual": str(usual)})
    return True, Reason("Y1", "third-session", {"attended": attended, "weeks": THIRD_WEEKS})


# --- the phase, layer by layer: block, races, return, fewer -----------------------------------------------------------


def _base(
    facts: WeekFacts, block: Block, diary: RaceDiary, done: Sequence[date], days: Sequence[date]
) -> PhaseDecision:
    """What the block and the racing months make of the week, before tapers, returns and reductions."""
    decision = PhaseDecision(
        phase=block.intent,
        sessions=min(block.sessions, USUAL_SESSIONS),
        reasons=(_block_reason(block, facts.week),),
        block=block,
        week_in_block=weeks_between(block.first, facts.week) + 1,
    )
    if block.intent in (Phase.TAPER, Phase.RACE_WEEK):
        percent = TAPER_CUT if block.intent is Phase.TAPER else RACE_WEEK_CUT
        return replace(decision, cuts=tuple((on, percent) for on in days))
    if block.intent not in (Phase.BUILD, Phase.MAINTAIN):
        return decision
    learned = _sessions_since_break(done)
    if learned < LEARNING_SESSIONS:
        why = Reason("Y1", "phase-learn", {"done": learned, "needed": LEARNING_SESSIONS})
        return replace(decision, phase=Phase.LEARN, reasons=(why,))
    decision = _maintained(decision, block, is_racing_time(diary, days[0], days[6]), done)
    return _built(decision, facts, diary, days) if decision.phase is Phase.BUILD else decision


def _maintained(decision: PhaseDecision, block: Block, racing: bool, done: Sequence[date]) -> PhaseDecision:
    """Maintain in the racing months or by the block, once it is earned (P8); else build."""
    if not racing and block.intent is not Phase.MAINTAIN:
        return decision
    weeks = weeks_at_two(done)
    if weeks < MAINTAIN_AFTER_WEEKS:
        why = Reason("P8", "maintain-not-earned", {"weeks": weeks, "needed": MAINTAIN_AFTER_WEEKS})
        return replace(decision, phase=Phase.BUILD, reasons=(*decision.reasons, why))
    why = Reason("P8", "phase-maintain" if racing else "phase-maintain-block", {"weeks": weeks})
    return replace(decision, phase=Phase.MAINTAIN, sessions=1, reasons=(why,), max_gap_days=MAINTAIN_GAP_DAYS)


def _built(
    decision: PhaseDecision, facts: WeekFacts, diary: RaceDiary, days: Sequence[date]
) -> PhaseDecision:
    """A build week: light every fourth (P7), lighter after a season (P9), with a third session when earned (Y1)."""
    reasons = decision.reasons
    light = decision.week_in_block % LIGHT_EVERY == 0
    if light:
        reasons = (*reasons, Reason("P7", "light-fourth-week", {"week": decision.week_in_block}))
    rebuild = rebuild_after(diary, days[0])
    if rebuild is not None:
        figures: dict[str, Figure] = {
            "race": rebuild[0].name,
            "weeks": rebuild[1],
            "percent": REBUILD_LOAD_CUT,
        }
        reasons = (*reasons, Reason("P9", "rebuild-lighter", figures))
    third = False
    if decision.block is not None and decision.block.sessions > USUAL_SESSIONS:
        third, why = third_session(facts)
        reasons = (*reasons, why)
    return replace(
        decision,
        reasons=reasons,
        light=light,
        rebuild_load_cut=REBUILD_LOAD_CUT if rebuild else 0,
        rebuild_since_on=rebuild[0].on if rebuild else None,
        third_session=third,
        sessions=MOST_SESSIONS if third else decision.sessions,
    )


def _with_races(decision: PhaseDecision, diary: RaceDiary, days: Sequence[date]) -> PhaseDecision:
    """Taper and race week by the majority of days; cuts and the cap of one session by day (P9)."""
    if not diary.tapered:
        return decision
    cuts = tuple((on, percent) for on in days if (percent := cut_on(diary, on)) is not None)
    if not cuts:
        return decision
    decision = replace(decision, cuts=cuts, caps=_race_caps(diary, days))
    phase, race, count = race_majority(diary, days)
    if count < MOST_OF_WEEK or race is None or phase is None:
        return decision
    key = "phase-race-week" if phase is Phase.RACE_WEEK else "phase-taper"
    return replace(
        decision,
        phase=phase,
        sessions=1 if phase is Phase.RACE_WEEK else min(decision.sessions, USUAL_SESSIONS),
        reasons=(Reason("P9", key, {"days": count, "race": race.name}),),
        light=False,
        third_session=False,
        rebuild_load_cut=0,
        rebuild_since_on=None,
    )


def _with_return(
    decision: PhaseDecision, facts: WeekFacts, done: Sequence[date], days: Sequence[date]
) -> PhaseDecision:
    """Coming back after a break goes before what block and races make of the week (P10); cuts and caps stay."""
    first = _first_open_day(facts, days)
    gap = gap_before(done[-60:], first)
    if gap is None or gap.days < SHORT_DAYS:
        return decision
    if gap.days >= LEARN_AGAIN_DAYS:
        since = sum(on > gap.since for on in done)
        figures: dict[str, Figure] = {"days": gap.days, "done": since, "needed": LEARNING_SESSIONS}
        phase, why = Phase.LEARN, Reason("P10", "phase-learn-again", figures)
    else:
        phase, why = Phase.RETURN, Reason("P10", "phase-return", {"days": gap.days, "week": gap.week})
    kept = tuple(reason for reason in decision.reasons if reason.rule == "P9")
    return replace(
        decision,
        phase=phase,
        sessions=min(decision.sessions, USUAL_SESSIONS),
        reasons=(why, *kept),
        light=False,
        gap=gap,
        third_session=False,
        rebuild_load_cut=0,
        rebuild_since_on=None,
    )


def _with_fewer(decision: PhaseDecision, facts: WeekFacts, days: Sequence[date]) -> PhaseDecision:
    """One session in a build week with a race or a heavy week on the bike (Y2)."""
    if decision.phase is not Phase.BUILD or decision.sessions <= 1:
        return decision
    reasons = decision.reasons
    race = next((race for race in facts.races if _counts_in(race, days)), None)
    if race is not None:
        reasons = (*reasons, Reason("Y2", "one-for-race", {"race": race.name}))
    hours, usual = _bike_hours(facts)
    if hours is not None and usual is not None and _is_heavy(hours, usual):
        reasons = (*reasons, Reason("Y2", "one-for-bike-hours", {"hours": str(hours), "usual": str(usual)}))
    if reasons == decision.reasons:
        return decision
    return replace(decision, sessions=1, reasons=reasons, third_session=False)


# --- what the layers look at ------------------------------------------------------------------------------------------


def _rest(block: Block, week: Week, why: Reason) -> PhaseDecision:
    return PhaseDecision(
        Phase.REST, 0, (why,), block=block, week_in_block=weeks_between(block.first, week) + 1
    )


def _block_reason(block: Block, week: Week) -> Reason:
    figures: dict[str, Figure] = {
        "week": weeks_between(block.first, week) + 1,
        "weeks": weeks_between(block.first, block.last) + 1,
        "intent": block.intent.value,
    }
    return Reason("Y1", "phase-of-block", figures)


def days_away(days: Sequence[date], absences: Sequence[Absence]) -> int:
    """How many of the days lie in an absence."""
    if not absences:
        return 0
    return sum(any(absence.from_on <= on <= absence.until_on for absence in absences) for on in days)


def _first_open_day(facts: WeekFacts, days: Sequence[date]) -> date:
    """The first day of the week on which a session could stand; Monday when none could."""
    return min(
        (
            opening.on
            for opening in facts.openings
            if days[0] <= opening.on <= days[6]
            and opening.on >= facts.today
            and not days_away((opening.on,), facts.absences)
        ),
        default=days[0],
    )


def _sessions_since_break(done: Sequence[date]) -> int:
    """Sessions since the last break of 56 days or more; all of them when there was none."""
    for at in range(len(done) - 1, 0, -1):
        if (done[at] - done[at - 1]).days >= LEARN_AGAIN_DAYS:
            return len(done) - at
    return len(done)


def _race_caps(diary: RaceDiary, days: Sequence[date]) -> tuple[Cap, ...]:
    """One session in the last seven days before a tapered race, where they touch the week (P9)."""
    caps = []
    for race in diary.tapered:
        first = date.fromordinal(race.on.toordinal() - max(RACE_WEEK_DAYS))
        if first <= days[6] and days[0] <= race.on:
            caps.append(Cap(first, race.on, 1))
    return tuple(caps)


def _counts_in(race: Race, days: Sequence[date]) -> bool:
    return race.priority is not RacePriority.MINOR and days[0] <= race.on <= days[6]


def _bike_hours(facts: WeekFacts) -> tuple[Decimal | None, Decimal | None]:
    """Hours on the bike of the week, as entered, and the usual ones."""
    hours = next((entry.hours for entry in facts.bike_weeks if entry.week == facts.week), None)
    return hours, usual_bike_hours(facts.bike_weeks, facts.week) if hours is not None else None


def _is_heavy(hours: Decimal, usual: Decimal) -> bool:
    return hours * 100 > usual * BIKE_PERCENT and hours - usual >= BIKE_HOURS


def _attended_percent(sessions: Sequence[SessionRecord], week: Week) -> int | None:
    """Percent of the sessions of the last 12 weeks that were done, rounded down; None before there are 12 weeks with
    at least a session each on average."""
    first = shift_week(week, -THIRD_WEEKS)
    due = [
        record
        for record in sessions
        if first <= record.week < week and record.state is not SessionState.PLANNED
    ]
    if len(due) < THIRD_WEEKS or not any(record.week <= first for record in sessions):
        return None
    done = sum(record.state in (SessionState.DONE, SessionState.PART) for record in due)
    return 100 * done // len(due)


def _worst_pain(reports: Sequence[BodyReport], today: date) -> int | None:
    """The highest pain of 3 or more in the last 28 days; a sign beside the score counts as at least 3."""
    scores = [
        max(report.during or 0, report.next_morning or 0, THIRD_PAIN if report.signs else 0)
        for report in reports
        if report.kind is not ReportKind.SORENESS and 0 <= (today - report.on).days < THIRD_PAIN_DAYS
    ]
    worst = max(scores, default=0)
    return worst if worst >= THIRD_PAIN else None
