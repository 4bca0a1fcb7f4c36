"""What a rider's pages show, read from rows: the session to check in, what a check-in led to, and the rider's own page.

Nothing here changes a row. Call inside `access.within(club)`, with the rider's language active.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from athletes import pain, words
from athletes.concerns import BodyState, Event, Gate
from athletes.models import BodyReport, PainBaseline, Rider, SymptomReport
from athletes.triage import sites_to_ask
from athletes.vocabulary import Pattern, Reason, Region, Side
from programs import checkins, exercise_words, sheets, wording
from programs import facts as translator
from programs.drawings import week_strip_svg
from programs.engine import codec
from programs.engine import facts as engine
from programs.engine.families import exercise_of
from programs.engine.load import session_load
from programs.engine.quantities import Unit, shift_week, week_days, week_of
from programs.forms.body import AskedSite
from programs.forms.check_in import AskedSession
from programs.forms.exercise import AskedExercise
from programs.models import (
    CheckInVersion,
    LevelMove,
    PlannedItem,
    PlannedSession,
    SessionKey,
    WeekPlan,
)
from programs.sheet import SheetItem, SheetSession

#: How many reported sessions "lately" shows.
LATELY = 12
#: Events that stop everything until a coach records that they are over (T4, P10).
STOPPING_EVENTS = frozenset({Event.CRASH, Event.SURGERY, Event.FEVER_OR_CHEST})


def local_day(rider: Rider, now: datetime) -> date:
    """The date where the rider is."""
    return now.astimezone(translator.zone_of(rider, rider.club)).date()


def unit_of(rider: Rider) -> Unit:
    """The unit that the rider reads masses in."""
    return "lb" if rider.unit == Rider.Unit.LB else "kg"


# --- what is asked ----------------------------------------------------------------------------------------------------


def asked_sites(rider: Rider, *, today: date) -> tuple[AskedSite, ...]:
    """The sites to ask about by name: those whose next morning is unknown, and those that only an answer lets go on."""
    found = {
        (report.region, report.side): AskedSite(report.region, report.side, report)
        for report in checkins.unanswered_mornings(rider, on=today)
    }
    state = pain.state_of(rider, on=today, sessions_done=checkins.days_done(rider))
    for region, side in sites_to_ask(state):
        known = any(
            where is region and (side is other or Side.BOTH in (side, other)) for where, other in found
        )
        if not known:
            found[region, side] = AskedSite(region, side)
    return tuple(found.values())


def has_long_standing(rider: Rider) -> bool:
    """Whether a clinician has seen a long-standing pain of the rider's, so that it may be reported as usual (T2)."""
    return PainBaseline.objects.filter(rider=rider).exists()


def newest_version(key: SessionKey) -> CheckInVersion | None:
    """The newest version of the session's check-in, with its items; None while nothing was reported."""
    return (
        CheckInVersion.objects.filter(check_in__key=key)
        .prefetch_related("items__item")
        .order_by("-number")
        .first()
    )


def asked_session(
    session: PlannedSession, *, version: CheckInVersion | None, today: date, may_note: bool
) -> AskedSession:
    """The session as it is asked about, beginning with the plan, or with what was reported before."""
    rider = session.plan.rider
    library = translator.library_of(session.plan.decision.library)
    said = _said(version)
    exercises = tuple(
        _asked_exercise(row, exercise_of(library, row.exercise_id), rider, said)
        for row in session.items.all()
    )
    week = engine.Week(session.key.iso_year, session.key.iso_week)
    days = [day for day in week_days(week) if day <= today] or [today]
    done_on = version.done_on if version and version.done_on else min(session.on, today)
    if done_on not in days:
        done_on = days[-1]
    return AskedSession(
        plan_row=session.pk,
        minutes=version.minutes if version and version.minutes else session.minutes,
        days=tuple((day, wording.day_words(day)) for day in days),
        done_on=done_on,
        exercises=exercises,
        outcome=version.outcome if version else "",
        session_rpe=version.session_rpe if version else None,
        why_not=version.why_not if version else "",
        note=version.note if version else "",
        may_note=may_note,
    )


def _said(version: CheckInVersion | None) -> Mapping[tuple[str, str], engine.Done | None]:
    """What was reported of each place and exercise, which outlast a revision of the plan."""
    if version is None or version.outcome == CheckInVersion.Outcome.NOT_DONE:
        return {}
    return {
        (report.item.slot, report.item.exercise_id): (
            codec.from_document(engine.Done, report.done) if report.done is not None else None
        )
        for report in version.items.all()
    }


def _asked_exercise(
    row: PlannedItem,
    exercise: engine.Exercise,
    rider: Rider,
    said: Mapping[tuple[str, str], engine.Done | None],
) -> AskedExercise:
    target, key = translator.read_target(row.target), (row.slot, row.exercise_id)
    return AskedExercise(
        number=row.pk,
        name=exercise_words.name_of(row.exercise),
        line=wording.keep_together(wording.target_line(target, unit_of(rider), exercise)),
        side_line=wording.side_line(exercise),
        target=target,
        sided=exercise.sided,
        unit=unit_of(rider),
        done=said.get(key),
        was_left_out=key in said and said[key] is None,
    )


# --- what a report led to ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class NextLine:
    """One exercise next time, in words."""

    name: str
    line: str
    side_line: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a report means: notices first, then what changes.

    `tells_of_pain`, `tells_of_symptom` and `stops_for_event` speak of this report alone. `body_lines` say what its
    sites allow. `is_eased` says that a plan was worked out anew because of it, `is_moved` that the day alone caused it.
    """

    tells_of_pain: bool = False
    tells_of_symptom: bool = False
    stops_for_event: bool = False
    stops_everything: bool = False
    body_lines: tuple[str, ...] = ()
    is_eased: bool = False
    is_moved: bool = False
    next_time: tuple[NextLine, ...] = ()


def outlook_of(
    rider: Rider, *, source: str, reported_at: datetime | None, session: PlannedSession | None, now: datetime
) -> Outlook:
    """What the report named `source` means, as things stand now. `session` is the one that was checked in, if any."""
    reports = list(BodyReport.objects.filter(rider=rider, source=source))
    symptoms = list(SymptomReport.objects.filter(rider=rider, source=source, cleared_on__isnull=True))
    state = pain.state_of(rider, on=local_day(rider, now), sessions_done=checkins.days_done(rider))
    moments = {report.reported_at for report in reports} | {report.reported_at for report in symptoms}
    if reported_at is not None:
        moments.add(reported_at)
    body_lines = _body_lines(state, {Region(report.region) for report in reports})
    next_time = (
        () if session is None or state.stops_everything else _next_lines(session, now, said=body_lines)
    )
    is_eased = WeekPlan.objects.filter(rider=rider, is_downward=True, made_at__in=moments).exists()
    return Outlook(
        tells_of_pain=any(report.during or report.next_morning or report.signs for report in reports),
        tells_of_symptom=any(row.symptom for row in symptoms),
        stops_for_event=any(row.event in STOPPING_EVENTS for row in symptoms),
        stops_everything=state.stops_everything,
        body_lines=body_lines,
        is_eased=is_eased,
        is_moved=is_eased and not reports and not symptoms,
        next_time=next_time,
    )


def _body_lines(state: BodyState, regions: set[Region]) -> tuple[str, ...]:
    """What the reported sites allow, in sentences; of other sites nothing."""
    reasons = [
        reason
        for gate in state.gates
        if gate.region in regions and gate.gate > Gate.FREE
        for reason in gate.reasons
    ]
    return tuple(dict.fromkeys(wording.sentence(reason, "rider") for reason in reasons))


def _next_lines(session: PlannedSession, now: datetime, *, said: tuple[str, ...]) -> tuple[NextLine, ...]:
    """Next time as it looks now, without repeating what is `said` already.

    Nothing when it cannot be worked out, which the weekly resolve will tell the coach.
    """
    try:
        coming = checkins.preview(session, now=now)
    except checkins.FAULTS:
        return ()
    library, unit = translator.current_library(), unit_of(session.plan.rider)
    names = exercise_words.names_of(
        slug for one in coming for slug in (one.exercise, *_figures_of(one.reasons))
    )
    lines = []
    for one in coming:
        exercise = exercise_of(library, one.exercise)
        lines.append(
            NextLine(
                name=names.get(one.exercise, one.exercise),
                line=wording.keep_together(wording.target_line(one.target, unit, exercise)),
                side_line=wording.side_line(exercise),
                sentences=tuple(each for each in _sentences(one.reasons, names, unit) if each not in said),
            )
        )
    return tuple(lines)


def _figures_of(reasons: Iterable[Reason]) -> Iterable[str]:
    """What the reasons name: among it are exercises that the rider does not do now, such as the one replaced."""
    return (value for reason in reasons for value in reason.figures.values() if isinstance(value, str))


def _sentences(reasons: Iterable[Reason], names: Mapping[str, str], unit: Unit) -> tuple[str, ...]:
    """What a rider is told of the reasons, each sentence once; what concerns the coach's work alone is left out."""
    told = (reason for reason in reasons if wording.is_for_riders(reason))
    return tuple(dict.fromkeys(wording.sentence(reason, "rider", names=names, unit=unit) for reason in told))


# --- the rider's own page ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PageItem:
    """One exercise of a session, with why it is as it is."""

    item: SheetItem
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PageSession:
    """One session of the page: in words, with what was reported. `mark` is a mark's name and `word` what it says."""

    sheet: SheetSession
    day: str
    time: str
    key: SessionKey
    items: tuple[PageItem, ...]
    mark: str
    word: str
    is_reported: bool
    can_report: bool


@dataclass(frozen=True, slots=True)
class PageWeek:
    """One week that has gone out."""

    words: str
    strip: SafeString
    legend: str
    sessions: tuple[PageSession, ...]
    why: tuple[str, ...]
    is_running: bool


@dataclass(frozen=True, slots=True)
class PastSession:
    """One session that was reported. `load` is session RPE x minutes (M1), None when either is unknown."""

    on: date
    day: str
    name: str
    outcome: str
    minutes: int | None
    session_rpe: int | None
    load: int | None


@dataclass(frozen=True, slots=True)
class PageLevel:
    """Where the rider stands in one pattern."""

    pattern: str
    exercise: str
    level: int
    since: str


@dataclass(frozen=True, slots=True)
class RiderPage:
    """Everything on the rider's page. `speaks_of_health` says whether a reason on it does."""

    weeks: tuple[PageWeek, ...] = ()
    lately: tuple[PastSession, ...] = ()
    levels: tuple[PageLevel, ...] = field(default=())
    speaks_of_health: bool = False


def read_page(rider: Rider, *, now: datetime) -> RiderPage:
    """The rider's running week and the coming one as far as they have gone out, and what was done before."""
    today = local_day(rider, now)
    running = week_of(today)
    plans_out = [plan for week in (running, shift_week(running, 1)) if (plan := _plan_out(rider, week))]
    weeks, reasons = [], []
    for plan in plans_out:
        page_week, its_reasons = _page_week(plan, today=today, now=now)
        weeks.append(page_week)
        reasons += its_reasons
    return RiderPage(
        weeks=tuple(weeks),
        lately=_lately(rider),
        levels=_levels(rider),
        speaks_of_health=any(wording.is_health(reason) for reason in reasons),
    )


def _plan_out(rider: Rider, week: engine.Week) -> WeekPlan | None:
    """The plan in force of a week that has gone out. One that replaces it counts at once, before its mail has gone."""
    rows = WeekPlan.objects.filter(rider=rider).of_week(week.year, week.number)
    if not rows.filter(sent_at__isnull=False).exists():
        return None
    found = rows.filter(state__in=[WeekPlan.State.SENT, WeekPlan.State.APPROVED]).first()
    return sheets.plan_with_rows(found.pk) if found else None


def _page_week(plan: WeekPlan, *, today: date, now: datetime) -> tuple[PageWeek, list[Reason]]:
    library = translator.library_of(plan.decision.library)
    sheet = sheets.sheet_of(plan, addresses=sheets.Addresses({}), library=library)
    rows = list(plan.sessions.all())
    every = [item for row in rows for item in row.items.all()]
    names = exercise_words.names_of(
        slug
        for item in every
        for slug in (item.exercise_id, *_figures_of(translator.read_reasons(item.reasons)))
    )
    reported = {
        version.check_in.key_id: version
        for version in CheckInVersion.objects.filter(check_in__key__in=[row.key_id for row in rows])
        .select_related("check_in")
        .order_by("number")
    }
    week = engine.Week(plan.iso_year, plan.iso_week)
    reasons = [*translator.read_reasons(plan.reasons)]
    sessions = []
    for row, shown in zip(rows, sheet.sessions, strict=True):
        version = reported.get(row.key_id)
        items = tuple(row.items.all())
        for item in items:
            reasons += translator.read_reasons(item.reasons)
        mark, word = _state_of(row, version)
        sessions.append(
            PageSession(
                sheet=shown,
                day=wording.day_words(shown.on),
                time=wording.time_words(shown.start),
                key=row.key,
                items=tuple(
                    PageItem(
                        line, _sentences(translator.read_reasons(item.reasons), names, unit_of(plan.rider))
                    )
                    for item, line in zip(items, shown.items, strict=True)
                ),
                mark=mark,
                word=word,
                is_reported=version is not None,
                can_report=version is None or checkins.can_be_corrected(row.key, now=now),
            )
        )
    strip = sheets.strips_of([plan.rider], week=week, with_pain=False)[plan.rider_id]
    page_week = PageWeek(
        words=wording.week_words(week),
        strip=week_strip_svg(strip),
        legend=wording.strip_legend(strip),
        sessions=tuple(sessions),
        why=_sentences(translator.read_reasons(plan.reasons), names, unit_of(plan.rider)),
        is_running=week == week_of(today),
    )
    return page_week, reasons


def _state_of(row: PlannedSession, version: CheckInVersion | None) -> tuple[str, str]:
    """Mark and word of a session."""
    if version is None:
        if row.key.flagged_at:
            return "missed", _("not reported")
        return "planned", _("planned")
    mark = {
        CheckInVersion.Outcome.DONE.value: "done",
        CheckInVersion.Outcome.PART.value: "part",
    }.get(version.outcome, "missed")
    return mark, str(version.get_outcome_display())


def _lately(rider: Rider) -> tuple[PastSession, ...]:
    """The sessions reported last, newest first, by their newest version."""
    keys = (
        SessionKey.objects.filter(rider=rider, check_in__isnull=False)
        .prefetch_related("check_in__versions", "planned__plan")
        .order_by("-iso_year", "-iso_week", "-ordinal")[:LATELY]
    )
    found = []
    for key in keys:
        version = max(key.check_in.versions.all(), key=lambda one: one.number)
        planned = max(key.planned.all(), key=lambda one: one.plan.revision)
        on = version.done_on or planned.on
        found.append(
            PastSession(
                on=on,
                day=date_format(on, pgettext("date format", "D j M")),
                name=planned.name,
                outcome=str(version.get_outcome_display()),
                minutes=version.minutes,
                session_rpe=version.session_rpe,
                load=session_load(version.session_rpe, version.minutes),
            )
        )
    return tuple(sorted(found, key=lambda one: one.on, reverse=True))


def _levels(rider: Rider) -> tuple[PageLevel, ...]:
    """The rider's newest level in each pattern, in the order of the patterns."""
    moves = LevelMove.objects.filter(rider=rider).select_related("exercise")
    newest = {move.pattern: move for move in moves}
    known = [newest[pattern.value] for pattern in Pattern if pattern.value in newest]
    return tuple(
        PageLevel(
            pattern=str(words.label(Pattern(move.pattern))).capitalize(),
            exercise=exercise_words.name_of(move.exercise),
            level=move.exercise.level,
            since=wording.date_words(move.since_on),
        )
        for move in known
    )
