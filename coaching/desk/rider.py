"""One rider as a coach looks at them: weeks, plans, what was asked and done, load, pain, follow-ups, kit and times.

    page = read_rider(rider, club=club, may_see_health=True, now=now)

Health is read only for those who may see it; the view writes the audit entry.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from athletes import pain
from athletes.models import Club, FollowUp, Rider
from athletes.standings import zone_of
from coaching.desk.diary import Diary, read_diary
from coaching.desk.estimates import Figures, read_figures
from coaching.desk.exposures import asked_words, done_words, left_words
from coaching.desk.followups import Row, row_of
from coaching.desk.health import PainSite, Readiness, SymptomRow, read_pains, read_readiness, read_symptoms
from coaching.desk.words import PHASES, STATES, exercise_names, reason_rows, unit_of
from programs import facts as translator
from programs import plans, wording
from programs.drawings import week_strip_svg
from programs.engine import facts as engine
from programs.engine import load
from programs.engine.families import exercise_of, has_exercise
from programs.engine.quantities import shift_week, week_days, week_of
from programs.models import WeekPlan
from programs.rails import Rail, read_rails
from programs.sheets import strips_of

#: How far back the tables look.
WEEKS = 8
#: How many of the newest sessions are shown unfolded.
RECENT_SESSIONS = 4


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One target on one line, with why."""

    exercise: str
    line: str
    reasons: tuple[dict[str, Any], ...]
    item_id: int


@dataclass(frozen=True, slots=True)
class PlanSession:
    day: str
    name: str
    minutes: int
    venue: str
    lines: tuple[PlanLine, ...]


@dataclass(frozen=True, slots=True)
class WeekView:
    """One week of the rider: its strip, and its plan if there is one."""

    title: str
    week: engine.Week
    dates: str
    strip: SafeString
    plan_id: int | None
    state_mark: str
    state_word: str
    phase: str
    sessions: tuple[PlanSession, ...]
    reasons: tuple[dict[str, Any], ...]
    may_be_worked_out: bool
    shows_pain: bool


@dataclass(frozen=True, slots=True)
class DoneRow:
    """One exercise of one session: what was asked and what was done."""

    day: str
    is_first_of_day: bool
    is_recent: bool
    exercise: str
    asked: str
    done: str
    left: str
    rpe: str


@dataclass(frozen=True, slots=True)
class LoadWeek:
    """One week's session load, monotony and strain (M1); a dash where it is not defined."""

    dates: str
    sessions: int
    load: str
    monotony: str
    strain: str
    change: str


@dataclass(frozen=True, slots=True)
class RiderPage:
    """A rider as a coach looks at them."""

    rider: Rider
    age: str
    is_paused: bool
    readiness: Readiness
    weeks: tuple[WeekView, ...]
    done: tuple[DoneRow, ...]
    loads: tuple[LoadWeek, ...]
    figures: Figures
    pains: tuple[PainSite, ...]
    symptoms: tuple[SymptomRow, ...]
    follow_ups: tuple[Row, ...]
    closed_follow_ups: tuple[Row, ...]
    diary: Diary
    rails: tuple[Rail, ...]

    @property
    def recent(self) -> tuple[DoneRow, ...]:
        """The newest sessions; the others are folded away."""
        return tuple(row for row in self.done if row.is_recent)

    @property
    def older(self) -> tuple[DoneRow, ...]:
        return tuple(row for row in self.done if not row.is_recent)

    @property
    def shows_health(self) -> bool:
        """Whether anything about health is on the page, for the audit log."""
        return bool(
            self.pains
            or self.symptoms
            or self.readiness.consent
            or any(week.shows_pain for week in self.weeks)
            or any(row.shows_health for row in (*self.follow_ups, *self.closed_follow_ups))
        )


def read_rider(rider: Rider, *, club: Club, may_see_health: bool, now: datetime) -> RiderPage:
    """The rider's page in a fixed number of queries. Call inside `access.within(club)`."""
    today = now.astimezone(zone_of(rider, club)).date()
    running = week_of(plans.local_date(club, now))
    names = exercise_names()
    since = week_days(shift_week(running, -(WEEKS - 1)))[0]
    history = translator.read_history([rider.pk], since=since, until=today, today=today)
    past = history.get(rider.pk, [])
    state = pain.state_of(rider, on=today) if may_see_health else None
    library = translator.current_library()
    follow_ups = list(
        FollowUp.objects.filter(rider=rider)
        .select_related("rider", "owner__user")
        .order_by("-urgency", "due_at", "pk")
    )
    rows = [row_of(one, club=club, may_see_health=may_see_health, now=now, names=names) for one in follow_ups]
    return RiderPage(
        rider=rider,
        age=_age(rider, today),
        is_paused=rider.state == Rider.State.PAUSED,
        readiness=read_readiness(rider, club=club, today=today, may_see_health=may_see_health),
        weeks=_weeks(rider, running, library, names, may_see_health, now),
        done=_done(past, names, rider),
        loads=_loads([one.record for one in past], running, today),
        figures=read_figures(
            rider,
            exposures=[exposure for one in past for exposure in one.exposures],
            sessions=[one.record for one in past],
            library=library,
            state=state,
            weeks=[shift_week(running, -ago) for ago in range(WEEKS - 1, 0, -1)],
            names=names,
            today=today,
        ),
        pains=read_pains(rider, state=state, today=today, names=names) if state is not None else (),
        symptoms=read_symptoms(rider) if may_see_health else (),
        follow_ups=tuple(row for row in rows if row.is_open),
        closed_follow_ups=tuple(sorted((row for row in rows if not row.is_open), key=lambda row: -row.pk))[
            :10
        ],
        diary=read_diary(rider, today=today),
        rails=read_rails(rider, library),
    )


def _age(rider: Rider, today: date) -> str:
    """Both ages that a birth year allows: ``29 or 30``."""
    return _("{low} or {high}").format(low=rider.youngest_age(today), high=rider.oldest_age(today))


# --- weeks ------------------------------------------------------------------------------------------------------------


def _weeks(
    rider: Rider,
    running: engine.Week,
    library: engine.Library,
    names: Mapping[str, str],
    may_see_health: bool,
    now: datetime,
) -> tuple[WeekView, ...]:
    both = (running, shift_week(running, 1))
    found = {
        engine.Week(plan.iso_year, plan.iso_week): plan
        for plan in WeekPlan.objects.filter(
            rider=rider,
            iso_year__in={week.year for week in both},
            iso_week__in={week.number for week in both},
        )
        .current()
        .prefetch_related("sessions__items")
    }
    views = []
    for week, title in zip(both, (_("This week"), _("Next week")), strict=True):
        strip = strips_of([rider], week=week, with_pain=may_see_health, now=now)[rider.pk]
        plan = found.get(week)
        mark, word = STATES[plan.state] if plan else ("open", _("no plan yet"))
        views.append(
            WeekView(
                title=title,
                week=week,
                dates=wording.week_words(week),
                strip=week_strip_svg(strip),
                plan_id=plan.pk if plan else None,
                state_mark=mark,
                state_word=str(word),
                phase=str(PHASES[plan.phase]) if plan else "",
                sessions=_sessions(plan, rider, library, names, may_see_health) if plan else (),
                reasons=tuple(
                    reason_rows(
                        translator.read_reasons(plan.reasons), may_see_health=may_see_health, names=names
                    )
                )
                if plan
                else (),
                may_be_worked_out=plan is None or plan.state in (WeekPlan.State.DRAFT, WeekPlan.State.HELD),
                shows_pain=any(day.pain is not None for day in strip),
            )
        )
    return tuple(views)


def _sessions(
    plan: WeekPlan, rider: Rider, library: engine.Library, names: Mapping[str, str], may_see_health: bool
) -> tuple[PlanSession, ...]:
    return tuple(
        PlanSession(
            day=wording.day_words(row.on),
            name=row.name,
            minutes=row.minutes,
            venue=row.venue,
            lines=tuple(
                PlanLine(
                    exercise=names.get(item.exercise_id, item.exercise_id),
                    line=_target_line(translator.read_target(item.target), item.exercise_id, library, rider),
                    reasons=tuple(
                        reason_rows(
                            translator.read_reasons(item.reasons),
                            may_see_health=may_see_health,
                            names=names,
                            unit=unit_of(rider),
                        )
                    ),
                    item_id=item.pk,
                )
                for item in row.items.all()
            ),
        )
        for row in plan.sessions.all()
    )


def _target_line(target: engine.Target, slug: str, library: engine.Library, rider: Rider) -> str:
    if not has_exercise(library, slug):
        return wording.amount_words(target.measure, target.sets, target.amount)
    return wording.keep_together(wording.target_line(target, unit_of(rider), exercise_of(library, slug)))


# --- what was done ----------------------------------------------------------------------------------------------------


def _done(past: Sequence[Any], names: Mapping[str, str], rider: Rider) -> tuple[DoneRow, ...]:
    """What was asked against what was done, newest session first."""
    rows: list[DoneRow] = []
    for age, one in enumerate(one for one in reversed(past) if one.exposures):
        for index, exposure in enumerate(one.exposures):
            rows.append(
                DoneRow(
                    day=wording.short_day_words(exposure.on),
                    is_first_of_day=index == 0,
                    is_recent=age < RECENT_SESSIONS,
                    exercise=names.get(exposure.exercise, exposure.exercise),
                    asked=asked_words(exposure.target, unit_of(rider)),
                    done=done_words(exposure, unit_of(rider)),
                    left=left_words(exposure.done.reps_left if exposure.done else None),
                    rpe=str(exposure.session_rpe) if exposure.session_rpe is not None else "–",
                )
            )
    return tuple(rows)


def _loads(
    records: Sequence[engine.SessionRecord], running: engine.Week, today: date
) -> tuple[LoadWeek, ...]:
    """Session load by week, newest first. Weeks before the first known session are left out."""
    if not records:
        return ()
    weeks = load.week_loads(
        records, [shift_week(running, -ago) for ago in range(WEEKS - 1, -1, -1)], today=today
    )
    return tuple(
        LoadWeek(
            dates=wording.week_words(one.week),
            sessions=one.sessions,
            load=_("not known") if one.load is None else str(one.load),
            monotony=_figure(one.monotony, 2),
            strain=_figure(one.strain, 0),
            change="–" if one.change_percent is None else f"{round(one.change_percent):+d} %",
        )
        for one in reversed(weeks)
    )


def _figure(value: Decimal | None, places: int) -> str:
    return "–" if value is None else f"{value:.{places}f}"
