"""Since when a pain, a soreness or an illness has been there that bears on an exercise now (rules T1, T3, P10).

Easing and halving count from what was asked until then (`gates`), so that a site that stays at 4 or 5 is not eased
again and again. A pain goes on from report to report as long as each is 3 or more, has a sign or rose by the morning,
and the next comes within 14 days; a report of less ends it, and what comes after it is a new one. It counts from its
first report that eases, of 4 or more (ours). A site that a coach closed with *ease* counts from the day on which the
matter was opened.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from athletes.concerns import BodyReport, Event, Matter, Outcome, ReportKind, SymptomReport
from athletes.soreness import classify
from athletes.vocabulary import Region, Side

GOES_ON_DAYS = 14
PAIN_FROM, EASES_FROM, MORNING_RISE = 3, 4, 2
#: An illness eases no longer than this after it is over (P10).
EASING_ENDS_DAYS = 56
ILL = frozenset({Event.ILLNESS, Event.FEVER_OR_CHEST})


def troubled_since(
    regions: frozenset[Region],
    reports: Sequence[BodyReport],
    matters: Sequence[Matter],
    symptoms: Sequence[SymptomReport],
    *,
    on: date,
    under_18: bool,
) -> date | None:
    """The first day of what still goes on at these regions on `on`, or of an illness; `None` when nothing does."""
    here = [report for report in reports if report.region in regions]
    begins: list[date] = []
    for region in {report.region for report in here}:
        for side in (Side.LEFT, Side.RIGHT):
            own = [one for one in here if one.region is region and one.side in (side, Side.BOTH)]
            if own and on - max(one.on for one in own) <= timedelta(days=GOES_ON_DAYS):
                begins += _begin_of_pain(own, under_18)
                begins += _begin_of_soreness(own, under_18)
    begins += [
        one.opened_on
        for one in matters
        if one.region in regions
        and one.outcome is Outcome.EASE
        and _is_lately(one.closed_on, on, GOES_ON_DAYS)
    ]
    ill = (one for one in symptoms if one.event in ILL and _is_lately(one.cleared_on, on, EASING_ENDS_DAYS))
    begins += _last_run(sorted(one.on for one in ill))
    return min(begins, default=None)


def _is_lately(over_on: date | None, on: date, days: int) -> bool:
    """Whether something is not over, or was less than so many days ago."""
    return over_on is None or (on - over_on).days <= days


def _begin_of_pain(reports: Iterable[BodyReport], under_18: bool) -> list[date]:
    """The first day that eases of the pain that goes on with the newest report; nothing when there is none."""
    worst: dict[date, int] = {}
    for report in reports:
        if classify(report, under_18=under_18) is not ReportKind.SORENESS:
            worst[report.on] = max(worst.get(report.on, 0), _score(report))
    run: list[date] = []
    for on in sorted(worst):
        run = [*run, on] if worst[on] >= PAIN_FROM else []
    first = _last_run(run)
    return [on for on in run if first and on >= first[0] and worst[on] >= EASES_FROM][:1]


def _score(report: BodyReport) -> int:
    """The report's worst score; a sign or a rise by the morning counts as one that eases."""
    during, morning = report.during, report.next_morning
    rose = during is not None and morning is not None and morning - during >= MORNING_RISE
    return max(during or 0, morning or 0, EASES_FROM if rose or report.signs else 0)


def _begin_of_soreness(reports: Iterable[BodyReport], under_18: bool) -> list[date]:
    sore = (one.on for one in reports if classify(one, under_18=under_18) is ReportKind.SORENESS)
    return _last_run(sorted(sore))


def _last_run(days: Sequence[date]) -> list[date]:
    """The first of the latest days with no more than 14 days between one and the next."""
    first: date | None = None
    for on in reversed(days):
        if first is not None and first - on > timedelta(days=GOES_ON_DAYS):
            break
        first = on
    return [first] if first is not None else []
