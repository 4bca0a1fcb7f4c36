"""What the pain history of one side of one region allows (rules T1, T2, T5; their prose is in `athletes/triage.py`).

Pure. A report about both sides is part of the history of each; what holds for both sides alike is told once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from athletes.concerns import Baseline, BodyReport, Gate, Matter, Outcome, ReportKind, Sign, Urgency
from athletes.findings import Finding, higher
from athletes.soreness import COUNTS_FOR_DAYS, classify, grade_soreness
from athletes.values import value_class
from athletes.vocabulary import Reason, Region, Side

WORST_SCORE = 10
CARRY_ON_TO = 2
REPEAT_FROM, EASE_FROM, STOP_FROM, STOP_ALL_FROM = 3, 4, 6, 8
MORNING_RISE = 2
WINDOW_DAYS = 14
FOLLOW_UP_DAYS, FOLLOW_UP_RISE = 3, 2
BASELINE_MOST = 5
REVIEW_WITHIN_DAYS = 42
RETURN_DAYS = 7
RETURN_ENDS_DAYS = 56
EASED_DAYS = 14

#: Outcomes that let a stopped site come back, and those that stop it (T5).
RETURNING = frozenset({Outcome.CARRY_ON, Outcome.EASE, Outcome.CLEARED, Outcome.RETURN})
HALTING = frozenset({Outcome.PAUSE, Outcome.REFERRED})

REASONS: dict[str, str] = {
    "pain-carry-on": "{region} ({side}): {score} out of 10 on {on}, so carry on.",
    "pain-repeat": "{region} ({side}): {score} out of 10 on {on}, so repeat and no rise.",
    "pain-ease": "{region} ({side}): {score} out of 10 on {on}, so ease what loads it.",
    "pain-stop": "{region} ({side}): {score} out of 10 on {on}, so what loads it stops.",
    "pain-stop-all": "{region} ({side}): {score} out of 10 on {on}, so everything stops until a coach has looked.",
    "pain-sign": "{region} ({side}): {signs} on {on}, so everything stops until a coach has looked.",
    "pain-morning-rise": "{region} ({side}): {during} during and {morning} the morning after {on}, "
    "so ease what loads it.",
    "pain-morning-unknown": "{region} ({side}): the morning after {on} was not answered, so no rise.",
    "pain-unknown": "{region} ({side}): reported without a score on {on}, so no rise.",
    "pain-recent": "{region} ({side}): {score} out of 10 on {on}, within {days} days, so no rise.",
    "pain-three-days": "{region} ({side}): 3 or more on {count} days in {days}, the last {on}; "
    "no rise until a coach closes it.",
    "pain-rise": "{region} ({side}): from {lowest} to {score} by {on}; no rise until a coach closes it.",
    "pain-matter-open": "{region} ({side}): open with a coach since {on}, so no rise until it is closed.",
    "pain-usual": "{region} ({side}): {score} out of 10 on {on}, within the {limit} that a clinician has seen, "
    "so repeat and no rise.",
    "pain-review-due": "{region} ({side}): the review of a long-standing pain was due {on}; the usual limits apply.",
    "pain-review-late": "{region} ({side}): the review on {on} is more than {days} days off; the usual limits apply.",
    "pain-halted": "{region} ({side}): a coach recorded {outcome} on {on}, so what loads it stops.",
    "pain-eased": "{region} ({side}): a coach recorded ease on {on}, so what loads it is eased for {days} days.",
    "return-no-outcome": "{region} ({side}): no outcome that allows a return is recorded since {on}.",
    "return-not-settled": "{region} ({side}): reports of 2 or less do not yet span {days} days.",
    "return-steps": "{region} ({side}): comes back in steps since {since}.",
}


@value_class
class _Day:
    """All pain reports of one day: the higher scores, and whether all are within a baseline (T2)."""

    on: date
    during: int | None
    morning: int | None
    signs: frozenset[Sign]
    limit: int | None
    grade: Finding

    @property
    def peak(self) -> int | None:
        return higher(self.during, self.morning)

    @property
    def is_usual(self) -> bool:
        return self.limit is not None and not self.signs and self.peak is not None and self.peak <= self.limit

    def reached(self, score: int) -> bool:
        """Whether the peak is known and at least `score`."""
        return self.peak is not None and self.peak >= score


@value_class
class Site:
    """What one side of a region allows: findings, what a coach must look at, and how far a return is."""

    findings: tuple[Finding, ...] = ()
    calls: tuple[tuple[Urgency, Finding], ...] = ()
    stops_everything: tuple[Finding, ...] = ()
    returning_since: date | None = None

    @property
    def gate(self) -> Gate:
        return max((finding.gate for finding in self.findings), default=Gate.FREE)


@value_class
class _Return:
    """Whether a stop is over (T5): when it began, since when it is over, and what still lacks."""

    stopped_on: date
    since: date | None
    lacks: tuple[Finding, ...] = ()


def site_of(
    side: Side,
    reports: Sequence[BodyReport],
    matters: Sequence[Matter],
    baselines: Sequence[Baseline],
    *,
    on: date,
    under_18: bool,
) -> Site:
    """What `side` (left or right) of one region allows on `on`; the other arguments are of that region."""
    own = [report for report in reports if report.side in (side, Side.BOTH)]
    mine = _known(matters, side, on)
    held = [baseline for baseline in baselines if baseline.side in (side, Side.BOTH)]
    limit, reviews = _baseline(held, on)
    days = _pain_days(own, on=on, under_18=under_18, limit=limit)
    stop = _stop(days, mine)
    findings = [
        *_newest(days, on),
        *_soreness(own, on=on, under_18=under_18),
        *_matters(mine, on),
    ]
    calls = [(Urgency.ROUTINE, review) for review in reviews]
    for finding in _patterns(days, mine):
        findings.append(finding)
        calls.append((Urgency.SOON, finding))
    if stop is not None and stop.since is None:
        stopped = tuple(_stopped(days, mine, stop))
        findings.extend(stopped)
        # once a coach has paused or referred, a routine call keeps a place for the outcome that ends it
        calls.extend((Urgency.ROUTINE, finding) for finding in stopped if finding.key == "pain-halted")
    everything = _standing(days, mine, STOP_ALL_FROM, RETURNING)
    looked = frozenset(Outcome)
    calls.extend((Urgency.TODAY, finding) for finding in _standing(days, mine, STOP_FROM, looked))
    calls.extend((Urgency.NOW, finding) for finding in _standing(days, mine, STOP_ALL_FROM, looked))
    return Site(
        findings=tuple(dict.fromkeys(findings)),
        calls=tuple(dict.fromkeys(calls)),
        stops_everything=everything,
        returning_since=_returning_since(stop, on),
    )


# --- days and grades (T1, T2) -----------------------------------------------------------------------------------------


def _baseline(baselines: Sequence[Baseline], on: date) -> tuple[int | None, tuple[Finding, ...]]:
    """The lowest baseline whose review is neither past nor too far off, and a finding for each that does not count."""
    limits, reviews = [], []
    for baseline in baselines:
        shown = ("on", baseline.review_on.isoformat())
        if baseline.review_on < on:
            reviews.append(Finding(Gate.FREE, "T2", "pain-review-due", (shown,)))
        elif baseline.review_on > on + timedelta(days=REVIEW_WITHIN_DAYS):
            figures = (("days", REVIEW_WITHIN_DAYS), shown)
            reviews.append(Finding(Gate.FREE, "T2", "pain-review-late", figures))
        else:
            limits.append(min(baseline.limit, BASELINE_MOST))
    return min(limits, default=None), tuple(reviews)


def _pain_days(reports: Iterable[BodyReport], *, on: date, under_18: bool, limit: int | None) -> list[_Day]:
    """Reports read as pain, one entry a day, oldest first. A report dated later than `on` counts as of `on`."""
    by_day: dict[date, list[BodyReport]] = {}
    for report in reports:
        if classify(report, under_18=under_18) is not ReportKind.SORENESS:
            by_day.setdefault(min(report.on, on), []).append(report)
    return [_day(day, by_day[day], limit) for day in sorted(by_day)]


def _day(on: date, reports: Sequence[BodyReport], limit: int | None) -> _Day:
    """The day's reports as one, the higher scores standing; its grade is never milder than that of any one."""
    during: int | None = None
    morning: int | None = None
    signs: frozenset[Sign] = frozenset()
    for report in reports:
        during = higher(during, report.during)
        morning = higher(morning, report.next_morning)
        signs |= report.signs
    usual = limit if all(report.kind is ReportKind.LONG_STANDING for report in reports) else None
    grades = [_grade(on, during, morning, signs, usual)]
    if len(reports) > 1:
        # a lower "during" from another report must not hide a morning that rose
        grades += [
            _grade(on, one.during, one.next_morning, one.signs, usual)
            for one in reports
            # a morning that was told later is told: the report from before it does not ask again
            if morning is None or one.during is None or one.next_morning is not None
        ]
    return _Day(on, during, morning, signs, usual, max(grades, key=lambda grade: grade.gate))


def _grade(
    on: date, during: int | None, morning: int | None, signs: frozenset[Sign], limit: int | None
) -> Finding:
    """T1 for one pair of scores: the strictest that applies."""
    peak, day = higher(during, morning), ("on", on.isoformat())
    if signs:
        return Finding(Gate.STOP, "T1", "pain-sign", (day, ("signs", ", ".join(sorted(signs)))))
    if peak is None:
        return Finding(Gate.HOLD, "T1", "pain-unknown", (day,))
    scored = (day, ("score", peak))
    if peak >= STOP_ALL_FROM:
        return Finding(Gate.STOP, "T1", "pain-stop-all", scored)
    if peak >= STOP_FROM:
        return Finding(Gate.STOP, "T1", "pain-stop", scored)
    if during is not None and morning is not None and morning - during >= MORNING_RISE:
        return Finding(Gate.EASE, "T1", "pain-morning-rise", (("during", during), ("morning", morning), day))
    if limit is not None and REPEAT_FROM <= peak <= limit:
        return Finding(Gate.HOLD, "T2", "pain-usual", (("limit", limit), *scored))
    if peak >= EASE_FROM:
        return Finding(Gate.EASE, "T1", "pain-ease", scored)
    if peak >= REPEAT_FROM:
        return Finding(Gate.HOLD, "T1", "pain-repeat", scored)
    if morning is None:
        return Finding(Gate.HOLD, "T1", "pain-morning-unknown", (day,))
    return Finding(Gate.FREE, "T1", "pain-carry-on", scored)


def _newest(days: Sequence[_Day], on: date) -> Iterable[Finding]:
    """The newest day's grade, and the worst day of the last fortnight if that bars a rise (T1)."""
    recent = [day for day in days if (on - day.on).days <= WINDOW_DAYS]
    if not recent:
        return
    newest = recent[-1]
    # a stop that is over is not graded again: T5 says how the site comes back
    if newest.grade.gate < Gate.STOP:
        yield newest.grade
    sore = [day for day in recent if day.reached(REPEAT_FROM)]
    if sore and newest.grade.gate is Gate.FREE:
        worst = max(sore, key=lambda day: (day.peak or 0, day.on))
        figures = (("days", WINDOW_DAYS), ("on", worst.on.isoformat()), ("score", worst.peak))
        yield Finding(Gate.HOLD, "T1", "pain-recent", figures)


def _soreness(reports: Iterable[BodyReport], *, on: date, under_18: bool) -> Iterable[Finding]:
    """The newest day's soreness, for a week (T3)."""
    sore = [report for report in reports if classify(report, under_18=under_18) is ReportKind.SORENESS]
    if not sore:
        return
    newest = max(report.on for report in sore)
    if (on - newest).days <= COUNTS_FOR_DAYS:
        yield max((grade_soreness(one) for one in sore if one.on == newest), key=lambda finding: finding.gate)


def _patterns(days: Sequence[_Day], matters: Sequence[Matter]) -> tuple[Finding, ...]:
    """The newest T2 pattern of each kind on a day after the last closing of a matter of this site."""
    closed = max((matter.closed_on for matter in matters if matter.closed_on), default=date.min)
    found: dict[str, Finding] = {}
    for index, day in enumerate(days):
        if day.on <= closed or day.is_usual or not day.reached(REPEAT_FROM):
            continue
        shown, score = day.on.isoformat(), day.peak or 0
        before = [other for other in days[: index + 1] if (day.on - other.on).days < WINDOW_DAYS]
        count = sum(other.reached(REPEAT_FROM) and not other.is_usual for other in before)
        if count >= FOLLOW_UP_DAYS:
            days_seen = (("count", count), ("days", WINDOW_DAYS), ("on", shown))
            found["days"] = Finding(Gate.HOLD, "T2", "pain-three-days", days_seen)
        lowest = min(other.peak for other in before if other.peak is not None)
        if score - lowest >= FOLLOW_UP_RISE:
            rise = (("lowest", lowest), ("on", shown), ("score", score))
            found["rise"] = Finding(Gate.HOLD, "T2", "pain-rise", rise)
    return tuple(found.values())


# --- matters and the way back (T2, T5) --------------------------------------------------------------------------------


def _matters(matters: Sequence[Matter], on: date) -> Iterable[Finding]:
    """What open matters and a recorded *ease* bar (T2, T5)."""
    for matter in matters:
        if matter.closed_on is None:
            yield Finding(Gate.HOLD, "T2", "pain-matter-open", (("on", matter.opened_on.isoformat()),))
        elif matter.outcome is Outcome.EASE and (on - matter.closed_on).days <= EASED_DAYS:
            figures = (("days", EASED_DAYS), ("on", matter.closed_on.isoformat()))
            yield Finding(Gate.EASE, "T5", "pain-eased", figures)


def _is_stop(day: _Day, score: int) -> bool:
    return bool(day.signs) or day.reached(score)


def _known(matters: Iterable[Matter], side: Side, on: date) -> list[Matter]:
    """The matters of `side` as they stood on `on`: what closed later is still open."""
    return [
        matter if matter.closed_on is None or matter.closed_on <= on else replace(matter, closed_on=None)
        for matter in matters
        if matter.side in (side, Side.BOTH)
    ]


def _standing(
    days: Sequence[_Day], matters: Sequence[Matter], score: int, ended_by: frozenset[Outcome]
) -> tuple[Finding, ...]:
    """The newest day that stops at `score` (or by a sign), unless a matter closed since then with one of `ended_by`."""
    stops = [day for day in days if _is_stop(day, score)]
    if not stops:
        return ()
    ended = any(
        matter.outcome in ended_by and matter.closed_on is not None and matter.closed_on >= stops[-1].on
        for matter in matters
    )
    return () if ended else (stops[-1].grade,)


def _halts(matters: Sequence[Matter]) -> list[tuple[date, Matter]]:
    """Recorded pauses and referrals with the day they bite."""
    return [(matter.closed_on or matter.opened_on, matter) for matter in matters if matter.outcome in HALTING]


def _stop(days: Sequence[_Day], matters: Sequence[Matter]) -> _Return | None:
    """The newest stop of the site, by score, by sign or by a coach's outcome, and whether it is over (T5)."""
    scored = max((day.on for day in days if _is_stop(day, STOP_FROM)), default=None)
    halted = max((day for day, _matter in _halts(matters)), default=None)
    begins = [day for day in (scored, halted) if day is not None]
    if not begins:
        return None
    stopped_on = max(begins)
    allowed_on = _allowed_on(matters, stopped_on, halted)
    settled_on = _settled_on(days)
    if allowed_on is not None and settled_on is not None:
        return _Return(stopped_on, max(allowed_on, settled_on))
    lacks = []
    if allowed_on is None:
        lacks.append(Finding(Gate.STOP, "T5", "return-no-outcome", (("on", stopped_on.isoformat()),)))
    if settled_on is None:
        lacks.append(Finding(Gate.STOP, "T5", "return-not-settled", (("days", RETURN_DAYS),)))
    return _Return(stopped_on, None, tuple(lacks))


def _allowed_on(matters: Sequence[Matter], stopped_on: date, halted: date | None) -> date | None:
    """The first day on which a coach closed a matter with an outcome that allows the return, if none halts it now."""
    if any(matter.closed_on is None and matter.outcome in HALTING for matter in matters):
        return None
    closed = [
        matter.closed_on for matter in matters if matter.outcome in RETURNING and matter.closed_on is not None
    ]
    # a pause recorded on the same day wins over the outcome that allows
    allowed = [on for on in closed if on >= stopped_on and (halted is None or on > halted)]
    return min(allowed, default=None)


def _settled_on(days: Sequence[_Day]) -> date | None:
    """The day on which the newest run of reports at 2 or less first spans 7 days; silence proves nothing (H3)."""
    run: list[date] = []
    for day in days:
        if day.signs or day.reached(REPEAT_FROM):
            run = []
        elif day.peak is not None:
            run.append(day.on)
    return next((day for day in run if (day - run[0]).days >= RETURN_DAYS), None)


def _stopped(days: Sequence[_Day], matters: Sequence[Matter], stop: _Return) -> Iterable[Finding]:
    """Why the site is stopped: the score or sign, the recorded outcome, and what the return still lacks."""
    scored = [day for day in days if _is_stop(day, STOP_FROM)]
    if scored:
        yield scored[-1].grade
    for day, matter in _halts(matters):
        if day == stop.stopped_on:
            figures = (("on", day.isoformat()), ("outcome", str(matter.outcome)))
            yield Finding(Gate.STOP, "T5", "pain-halted", figures)
    yield from stop.lacks


def _returning_since(stop: _Return | None, on: date) -> date | None:
    """Since when the site comes back in steps, for eight weeks; `None` when nothing is coming back."""
    if stop is None or stop.since is None:
        return None
    return stop.since if (on - stop.since).days < RETURN_ENDS_DAYS else None


def may_return(
    region: Region,
    side: Side,
    reports: Sequence[BodyReport],
    matters: Sequence[Matter],
    *,
    on: date,
    under_18: bool,
) -> tuple[bool, tuple[Reason, ...]]:
    """Whether a stopped site may start its return in steps on `on` (T5), and if not, what is missing.

    True without reasons when nothing was stopped. `side` BOTH asks for each side.
    """
    reasons: list[Reason] = []
    for one in (Side.LEFT, Side.RIGHT) if side is Side.BOTH else (side,):
        own = [report for report in reports if report.region is region and report.side in (one, Side.BOTH)]
        mine = _known([matter for matter in matters if matter.region is region], one, on)
        stop = _stop(_pain_days(own, on=on, under_18=under_18, limit=None), mine)
        if stop is not None:
            reasons.extend(finding.reason(region, side) for finding in stop.lacks)
    unique = tuple(dict.fromkeys(reasons))
    return not unique, unique


def check_scores(reports: Iterable[BodyReport]) -> None:
    """Nothing when every score is 0 to 10; else `ValueError` naming the first that is not."""
    for report in reports:
        for name, score in (("during", report.during), ("next_morning", report.next_morning)):
            if score is not None and not 0 <= score <= WORST_SCORE:
                raise ValueError(
                    f"{name} of {report.region} on {report.on} must be 0 to {WORST_SCORE}, is {score}"
                )
