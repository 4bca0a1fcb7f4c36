"""Rows to what a rider receives: one plan of the database as a `Sheet` of words.

Call inside `access.within(club)`, with the rider's language active.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from athletes.models import BodyReport, Race, RegularRide, Rider
from athletes.profiles import HOME
from programs import facts as translator
from programs import wording
from programs.engine import facts as engine
from programs.engine.progression import kind_of_change
from programs.engine.quantities import week_days
from programs.exercise_words import cues_of, name_of
from programs.mail_sentences import why_line
from programs.models import CheckInVersion, Exercise, PlannedItem, PlannedSession, WeekPlan
from programs.sheet import Sheet, SheetSession, StripDay

#: How far ahead a mail looks for the next key ride and race.
LOOKS_AHEAD = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class Addresses:
    """The web addresses that a mail of one rider holds; each with its own token. Session addresses by ordinal."""

    sessions: Mapping[int, str]
    report: str = ""
    page: str = ""
    stop: str = ""


def plan_with_rows(pk: int) -> WeekPlan:
    """The plan with everything that a sheet shows, in a fixed number of queries."""
    return (
        WeekPlan.objects.select_related("rider__club", "rider__squad__coach__user")
        .prefetch_related("sessions__items__exercise", "sessions__key")
        .get(pk=pk)
    )


def sheet_of(plan: WeekPlan, *, addresses: Addresses, library: engine.Library) -> Sheet:
    """The plan in words. `plan` comes from `plan_with_rows`."""
    rider, club = plan.rider, plan.rider.club
    week = engine.Week(plan.iso_year, plan.iso_week)
    words = {exercise.slug: exercise for exercise in exercises_of(plan)}
    by_slug = {one.slug: one for one in library.exercises}
    sessions = tuple(
        _session(row, rider, words, by_slug, addresses.sessions.get(row.ordinal, ""))
        for row in plan.sessions.all()
    )
    return Sheet(
        club=club.name,
        coach_name=rider.squad.coach.user.name,
        rider_name=rider.given_name,
        week=week,
        zone=rider.zone or club.zone,
        sessions=sessions,
        strip=strips_of([rider], week=week, with_pain=False)[rider.pk],
        revision=plan.revision,
        sequence=plan.revision - 1,
        language=rider.language,
        paper=club.paper,
        why=_why(plan, {slug: name_of(exercise) for slug, exercise in words.items()}),
        next_ride=_next_ride(rider, week),
        next_race=_next_race(rider, week),
        supersedes=_was_sent_before(plan),
        report_pain_url=addresses.report,
        unsubscribe_url=addresses.stop,
        my_page_url=addresses.page,
        reply_to=rider.squad.coach.user.email,
        emergency_note=club.emergency_note,
        dropped=_dropped(plan, rider, words, by_slug),
    )


def exercises_of(plan: WeekPlan) -> list[Exercise]:
    """Every exercise that the plan names: its targets and their reasons, warm-ups and cool-downs."""
    items = [item for session in plan.sessions.all() for item in session.items.all()]
    slugs = {item.exercise_id for item in items}
    figures = (reason.get("figures", {}) for item in items for reason in item.reasons)
    slugs |= {value for each in figures for value in each.values() if isinstance(value, str)}
    for session in plan.sessions.all():
        slugs |= {*session.warm_up, *session.cool_down}
    return list(Exercise.objects.filter(slug__in=slugs))


def _session(
    row: PlannedSession,
    rider: Rider,
    words: Mapping[str, Exercise],
    by_slug: Mapping[str, engine.Exercise],
    address: str,
) -> SheetSession:
    names = {slug: name_of(exercise) for slug, exercise in words.items()}
    items = tuple(
        wording.sheet_item(
            stood := _as_it_stands(item),
            by_slug[item.exercise_id],
            name=names[item.exercise_id],
            unit=rider.mass_unit,
            cues=cues_of(words[item.exercise_id]),
            why=why_line(stood, rider.mass_unit, names=names),
        )
        for item in row.items.all()
    )
    return SheetSession(
        ordinal=row.ordinal,
        name=row.name,
        on=row.on,
        start=row.start,
        minutes=row.minutes,
        venue=_venue_words(row.venue),
        format=engine.Format(row.format),
        warm_up=tuple(names[slug] for slug in row.warm_up if slug in names),
        items=items,
        cool_down=tuple(names[slug] for slug in row.cool_down if slug in names),
        check_in_url=address,
        uid=str(row.key.uid),
        warm_up_minutes=row.warm_up_minutes,
        cool_down_minutes=row.cool_down_minutes,
        warm_up_slugs=tuple(slug for slug in row.warm_up if slug in names),
        cool_down_slugs=tuple(slug for slug in row.cool_down if slug in names),
    )


def _as_it_stands(row: PlannedItem) -> engine.Item:
    """The item; where a coach has edited its target, what that changed, without the reasons of the target before."""
    item = translator.item_of(row)
    if row.edited_at is None:
        return item
    return replace(item, change=kind_of_change(item.previous, item.target), reasons=())


def _venue_words(name: str) -> str:
    """The venue as its people call it; the one that every rider has from the start, in the reader's language."""
    return _("Home") if name == HOME else name


#: What holds week after week for the rider, or is the coach's to see to: nothing was changed for it. The page says it.
_STANDING = frozenset({"growth-spurt", "growth-not-entered", "open-pain-needs-approval"})


def _why(plan: WeekPlan, names: Mapping[str, str]) -> tuple[str, ...]:
    """Why this week is as it is, in sentences without health detail; the same sentence once."""
    reasons = translator.read_reasons(plan.reasons)
    told = [
        wording.mail_sentence(reason, names=names)
        for reason in reasons
        if wording.is_for_riders(reason) and reason.key not in _STANDING
    ]
    return tuple(dict.fromkeys(told))


def _was_sent_before(plan: WeekPlan) -> bool:
    return (
        WeekPlan.objects.filter(rider=plan.rider, sent_at__isnull=False, revision__lt=plan.revision)
        .of_week(plan.iso_year, plan.iso_week)
        .exists()
    )


def _dropped(
    plan: WeekPlan, rider: Rider, words: Mapping[str, Exercise], by_slug: Mapping[str, engine.Exercise]
) -> tuple[SheetSession, ...]:
    """Sessions of the revision that went out before and are no longer held, so that calendars take them out."""
    kept = {row.ordinal for row in plan.sessions.all()}
    before = (
        PlannedSession.objects.filter(
            plan__rider=rider,
            plan__iso_year=plan.iso_year,
            plan__iso_week=plan.iso_week,
            plan__revision__lt=plan.revision,
            plan__sent_at__isnull=False,
        )
        .exclude(ordinal__in=kept)
        .select_related("key")
        .order_by("ordinal", "-plan__revision")
    )
    newest: dict[int, PlannedSession] = {}
    for row in before:
        newest.setdefault(row.ordinal, row)
    return tuple(
        SheetSession(
            ordinal=row.ordinal,
            name=row.name,
            on=row.on,
            start=row.start,
            minutes=row.minutes,
            venue=_venue_words(row.venue),
            format=engine.Format(row.format),
            warm_up=(),
            items=(),
            cool_down=(),
            check_in_url="",
            uid=str(row.key.uid),
        )
        for row in newest.values()
    )


def _next_ride(rider: Rider, week: engine.Week) -> str:
    days = week_days(week)
    for ride in RegularRide.objects.filter(rider=rider, is_key=True).order_by("weekday", "start"):
        return f"{wording.day_words(days[ride.weekday])}, {wording.time_words(ride.start)}"
    return ""


def _next_race(rider: Rider, week: engine.Week) -> str:
    monday = week_days(week)[0]
    race = (
        Race.objects.filter(on__gte=monday, on__lte=monday + LOOKS_AHEAD)
        .filter(squad_id=rider.squad_id)
        .union(Race.objects.filter(on__gte=monday, on__lte=monday + LOOKS_AHEAD, squad__isnull=True))
        .order_by("on")
        .first()
    )
    return f"{race.name}, {wording.day_words(race.on)}" if race else ""


# --- week strips ------------------------------------------------------------------------------------------------------


def strips_of(
    riders: Sequence[Rider], *, week: engine.Week, with_pain: bool, now: datetime | None = None
) -> dict[int, tuple[StripDay, ...]]:
    """The week strip of each rider, by their number, in a fixed number of queries.

    A session counts as missed once it is flagged (M3), so that a strip and a follow-up never disagree. `with_pain`
    draws the highest score of each day: for web pages and those who may see it.
    """
    ids = [rider.pk for rider in riders]
    days = week_days(week)
    sessions = _grouped(
        PlannedSession.objects.filter(
            plan__rider_id__in=ids, plan__iso_year=week.year, plan__iso_week=week.number
        )
        .exclude(plan__state__in=[WeekPlan.State.SUPERSEDED, WeekPlan.State.WITHDRAWN])
        .select_related("plan", "key")
        .defer(
            "warm_up",
            "cool_down",
            "left_out",
            "reasons",
            "plan__reasons",
            "plan__concerns",
            "plan__placement",
        )
    )
    reported = _reported(ids, week)
    rides = defaultdict(set)
    for rider_id, weekday in RegularRide.objects.filter(rider_id__in=ids, is_key=True).values_list(
        "rider_id", "weekday"
    ):
        rides[rider_id].add(weekday)
    races = list(Race.objects.filter(on__range=(days[0], days[6])))
    pains = _pains(ids, days) if with_pain else {}
    return {
        rider.pk: tuple(
            _strip_day(rider, day, sessions.get(rider.pk, []), reported, rides[rider.pk], races, pains)
            for day in days
        )
        for rider in riders
    }


def _grouped(rows: Iterable[PlannedSession]) -> dict[int, list[PlannedSession]]:
    groups: dict[int, list[PlannedSession]] = defaultdict(list)
    for row in rows:
        groups[row.plan.rider_id].append(row)
    return groups


def _reported(ids: Sequence[int], week: engine.Week) -> dict[int, CheckInVersion]:
    """The newest version of each check-in of the week, by the number of its session key."""
    versions = (
        CheckInVersion.objects.filter(
            check_in__key__rider_id__in=ids,
            check_in__key__iso_year=week.year,
            check_in__key__iso_week=week.number,
        )
        .select_related("check_in")
        .order_by("number")
    )
    return {version.check_in.key_id: version for version in versions}


def _pains(ids: Sequence[int], days: Sequence[date]) -> dict[tuple[int, date], int]:
    found: dict[tuple[int, date], int] = {}
    for row in BodyReport.objects.filter(rider_id__in=ids, on__range=(days[0], days[6])):
        score = max(row.during or 0, row.next_morning or 0)
        key = (row.rider_id, row.on)
        found[key] = max(found.get(key, 0), score)
    return found


def _strip_day(
    rider: Rider,
    day: date,
    sessions: Sequence[PlannedSession],
    reported: Mapping[int, CheckInVersion],
    key_rides: set[int],
    races: Sequence[Race],
    pains: Mapping[tuple[int, date], int],
) -> StripDay:
    done_rpe, planned, missed = None, False, False
    for row in sessions:
        version = reported.get(row.key_id)
        on = version.done_on if version and version.done_on else row.on
        if on != day:
            continue
        planned = True
        if version and version.outcome != CheckInVersion.Outcome.NOT_DONE:
            done_rpe = version.session_rpe if version.session_rpe is not None else 0
        elif version or row.key.flagged_at:
            missed = True
    race = next(
        (race.name for race in races if race.on == day and race.squad_id in (None, rider.squad_id)), ""
    )
    return StripDay(
        on=day,
        planned=planned,
        done_rpe=done_rpe,
        missed=missed,
        key_ride=day.weekday() in key_rides,
        race=race,
        pain=pains.get((rider.pk, day)),
    )
