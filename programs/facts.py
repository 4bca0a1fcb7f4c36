"""Rows to engine values and back: the only translator between the database and the engine.

`gather` reads everything that decides a week for any number of riders in a fixed number of queries; `store` writes a
decision as rows. Call both inside `access.within(club)`.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Any

from athletes import concerns, pain, readiness, standings, vocabulary
from athletes.models import (
    Absence,
    BikeHours,
    BodyReport,
    ClinicianLimit,
    Club,
    Consent,
    FollowUp,
    KitItem,
    Opening,
    PainBaseline,
    Race,
    RegularRide,
    Rider,
    Screening,
    SymptomReport,
    Venue,
)
from athletes.vocabulary import Reason
from programs.engine import codec
from programs.engine import facts as engine
from programs.engine.history import is_lightened
from programs.engine.library import read_library
from programs.engine.quantities import shift_week, week_days, week_of
from programs.models import (
    Block,
    Decision,
    LevelMove,
    LibraryVersion,
    PlannedItem,
    PlannedSession,
    SessionKey,
    WeekPlan,
)

#: How far back exposures are read. Longer absences start again anyway (P10).
HISTORY = timedelta(weeks=30)


#: The rider's time zone, the club's unless their own is given.
zone_of = standings.zone_of


class LibraryMissing(Exception):
    """No exercise library is loaded: run `manage.py load_library`."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """One rider's facts, and whose they are."""

    rider: Rider
    facts: engine.WeekFacts


# --- small translations -----------------------------------------------------------------------------------------------


def minutes_of(at: time) -> int:
    """Minutes from midnight."""
    return at.hour * 60 + at.minute


def time_of(minutes: int) -> time:
    """The inverse of `minutes_of`, for a time of day."""
    return time(minutes // 60 % 24, minutes % 60)


def reasons_document(reasons: Iterable[Reason]) -> list[dict[str, Any]]:
    """Reasons as stored: id, key and figures, no sentence."""
    return [{"rule": one.rule, "key": one.key, "figures": dict(one.figures)} for one in reasons]


def read_reasons(document: Iterable[Mapping[str, Any]]) -> tuple[Reason, ...]:
    """The inverse of `reasons_document`."""
    return tuple(Reason(one["rule"], one["key"], one.get("figures", {})) for one in document)


def read_target(document: Mapping[str, Any]) -> engine.Target:
    """A stored target."""
    return codec.from_document(engine.Target, document)


def current_library() -> engine.Library:
    """The library version in use. Raises `LibraryMissing`."""
    digest = LibraryVersion.objects.filter(is_current=True).values_list("digest", flat=True).first()
    if digest is None:
        raise LibraryMissing("No exercise library is loaded: run `manage.py load_library --database owner`.")
    return library_of(digest)


@lru_cache(maxsize=4)
def library_of(digest: str) -> engine.Library:
    """The library version that a decision names. The stored digest stands: a database may reorder a document's keys."""
    return replace(read_library(LibraryVersion.objects.get(digest=digest).document), digest=digest)


# --- rows to facts ----------------------------------------------------------------------------------------------------


def gather(
    *, club: Club, riders: Sequence[Rider], week: engine.Week, today: date, progress_allowed: bool = True
) -> list[Gathered]:
    """Everything that decides `week` for each of `riders` of `club`, as of the local date `today`."""
    for rider in riders:
        rider.club = club  # known, so never asked for again
    rows = _Rows.read(club, riders, week, today)
    return [Gathered(rider, rows.facts_of(rider, week, today, progress_allowed)) for rider in riders]


def _grouped[Row](rows: Iterable[Row], key: str = "rider_id") -> dict[Any, list[Row]]:
    groups: dict[Any, list[Row]] = defaultdict(list)
    for row in rows:
        groups[getattr(row, key)].append(row)
    return groups


@dataclass
class _Rows:
    """The rows of many riders, read once and grouped."""

    club: Club
    blocks: dict[int, tuple[engine.Block, ...]]
    venues: dict[int | None, list[Venue]]
    openings: dict[int, list[Opening]]
    rides: dict[int, list[RegularRide]]
    races: list[Race]
    absences: dict[int | None, list[Absence]]
    hours: dict[int, list[BikeHours]]
    levels: dict[int, list[LevelMove]]
    reports: dict[int, list[BodyReport]]
    symptoms: dict[int, list[SymptomReport]]
    follow_ups: dict[int, list[FollowUp]]
    baselines: dict[int, list[PainBaseline]]
    limits: dict[int, list[ClinicianLimit]]
    consents: dict[int, list[Consent]]
    screenings: dict[int, list[Screening]]
    history: dict[int, "list[_Past]"]
    first_sent: dict[int, date]

    @classmethod
    def read(cls, club: Club, riders: Sequence[Rider], week: engine.Week, today: date) -> "_Rows":
        ids = [rider.pk for rider in riders]
        squads = {rider.squad_id for rider in riders}
        days = week_days(week)
        return cls(
            club=club,
            blocks=read_blocks(squads),
            venues=_grouped(
                Venue.objects.filter(rider_id__in=ids).prefetch_related("items")
                | Venue.objects.filter(rider__isnull=True).prefetch_related("items")
            ),
            openings=_grouped(Opening.objects.filter(rider_id__in=ids).select_related("venue")),
            rides=_grouped(RegularRide.objects.filter(rider_id__in=ids)),
            races=list(
                Race.objects.filter(
                    on__gte=days[0] - timedelta(days=120), on__lte=days[6] + timedelta(days=370)
                )
            ),
            absences=_grouped(
                Absence.objects.filter(until_on__gte=today - HISTORY).filter(rider_id__in=ids)
                | Absence.objects.filter(until_on__gte=today - HISTORY).filter(rider__isnull=True)
            ),
            hours=_grouped(BikeHours.objects.filter(rider_id__in=ids, iso_year__gte=week.year - 1)),
            levels=_grouped(LevelMove.objects.filter(rider_id__in=ids)),
            reports=_grouped(BodyReport.objects.filter(rider_id__in=ids)),
            symptoms=_grouped(SymptomReport.objects.filter(rider_id__in=ids)),
            follow_ups=_grouped(FollowUp.objects.filter(rider_id__in=ids, topic=concerns.Topic.PAIN.value)),
            baselines=_grouped(PainBaseline.objects.filter(rider_id__in=ids)),
            limits=_grouped(ClinicianLimit.objects.filter(rider_id__in=ids)),
            consents=_grouped(Consent.objects.filter(rider_id__in=ids).standing()),
            screenings=_grouped(Screening.objects.filter(rider_id__in=ids)),
            history=read_history(ids, since=today - HISTORY, until=days[6], today=today),
            first_sent=_first_sent(ids),
        )

    def facts_of(
        self, rider: Rider, week: engine.Week, today: date, progress_allowed: bool
    ) -> engine.WeekFacts:
        days = week_days(week)
        around = [days[0] + timedelta(days=offset) for offset in range(-8, 16)]
        names = self._venue_names(rider)
        past = self.history.get(rider.pk, [])
        return engine.WeekFacts(
            week=week,
            today=today,
            rider=self._rider(rider, today),
            blocks=self.blocks.get(rider.squad_id, ()),
            openings=tuple(
                engine.Opening(day, minutes_of(row.start), row.minutes, names[row.venue_id], row.preferred)
                for day in days
                for row in self.openings.get(rider.pk, [])
                if row.weekday == day.weekday()
            ),
            venues=tuple(
                (names[venue.pk], kit_of(venue))
                for venue in [*self.venues.get(rider.pk, []), *self.venues.get(None, [])]
            ),
            standings=self._standings(rider),
            exposures=tuple(exposure for one in past for exposure in one.exposures),
            sessions=tuple(one.record for one in past),
            rides=tuple(
                engine.Ride(day, minutes_of(row.start), row.minutes, row.is_key)
                for day in around
                for row in self.rides.get(rider.pk, [])
                if row.weekday == day.weekday()
            ),
            races=tuple(
                engine.Race(row.on, minutes_of(row.start), row.name, vocabulary.RacePriority(row.priority))
                for row in self.races
                if row.squad_id in (None, rider.squad_id)
            ),
            absences=tuple(
                engine.Absence(row.from_on, row.until_on, engine.AbsenceKind(row.kind))
                for row in [*self.absences.get(rider.pk, []), *self.absences.get(None, [])]
            ),
            bike_weeks=tuple(
                engine.BikeWeek(engine.Week(row.iso_year, row.iso_week), row.hours)
                for row in self.hours.get(rider.pk, [])
            ),
            reports=tuple(pain.value_of(row) for row in self.reports.get(rider.pk, [])),
            symptoms=tuple(pain.symptom_value(row) for row in self.symptoms.get(rider.pk, [])),
            matters=tuple(
                pain.matter_value(row, zone_of(rider, rider.club))
                for row in self.follow_ups.get(rider.pk, [])
                if row.region
            ),
            baselines=tuple(pain.baseline_value(row) for row in self.baselines.get(rider.pk, [])),
            progress_allowed=progress_allowed,
        )

    def _rider(self, rider: Rider, today: date) -> engine.Rider:
        missing = self._why_not(rider, today)
        return engine.Rider(
            youngest_age=rider.youngest_age(today),
            oldest_age=rider.oldest_age(today),
            may_train=missing is None,
            why_not=missing,
            paused=rider.state != Rider.State.ACTIVE,
            trains_alone=rider.trains_alone,
            growth=engine.Growth(rider.growth),
            adult_present=rider.adult_present,
            limits=tuple(
                _limit(row) for row in self.limits.get(rider.pk, []) if standings.in_force(row, today)
            ),
            minutes_cap=rider.minutes_cap,
            first_week_on=self.first_sent.get(rider.pk),
        )

    def _why_not(self, rider: Rider, today: date) -> Reason | None:
        standing = standings.standing_of(
            rider,
            club=self.club,
            consents=self.consents.get(rider.pk, []),
            screening=next(iter(self.screenings.get(rider.pk, [])), None),
            limits=self.limits.get(rider.pk, []),
            symptoms=self.symptoms.get(rider.pk, []),
            on=today,
        )
        return readiness.why_not(standing, today)

    def _venue_names(self, rider: Rider) -> dict[int, str]:
        names: dict[int, str] = {}
        for venue in [*self.venues.get(rider.pk, []), *self.venues.get(None, [])]:
            names[venue.pk] = venue.name if venue.name not in names.values() else f"{venue.name} (club)"
        return names

    def _standings(self, rider: Rider) -> tuple[engine.Standing, ...]:
        newest = {row.pattern: row for row in self.levels.get(rider.pk, [])}
        return tuple(
            engine.Standing(vocabulary.Pattern(row.pattern), row.exercise_id, row.since_on)
            for row in newest.values()
        )


def _first_sent(ids: Sequence[int]) -> dict[int, date]:
    """The Monday of the first week that was sent to each rider."""
    found: dict[int, date] = {}
    rows = WeekPlan.objects.filter(rider_id__in=ids, sent_at__isnull=False).values_list(
        "rider_id", "iso_year", "iso_week"
    )
    for rider_id, year, number in rows:
        monday = date.fromisocalendar(year, number, 1)
        found[rider_id] = min(found.get(rider_id, monday), monday)
    return found


def kit_of(venue: Venue) -> engine.Kit:
    """What stands at a venue, as the engine reads it."""
    items = list(venue.items.all())
    barbell = next((row for row in items if row.implement == vocabulary.Implement.BARBELL.value), None)
    adjustable = [row for row in items if row.implement == vocabulary.Implement.ADJUSTABLE_DUMBBELL.value]
    masses = [Decimal(mass) for row in adjustable for mass in row.details.get("masses", [])]
    special = (
        vocabulary.Implement.BARBELL.value,
        vocabulary.Implement.ADJUSTABLE_DUMBBELL.value,
        vocabulary.Implement.BAND.value,
    )
    return engine.Kit(
        furniture=frozenset(vocabulary.Furniture(name) for name in venue.furniture),
        fixed=tuple(
            engine.FixedMass(vocabulary.Implement(row.implement), row.kg, row.count)
            for row in items
            if row.implement not in special and row.kg is not None
        ),
        barbell=_barbell(barbell) if barbell else None,
        adjustable=engine.AdjustableDumbbells(tuple(sorted(masses)), sum(row.count for row in adjustable))
        if masses
        else None,
        bands=tuple(
            sorted(
                {row.level for row in items if row.implement == vocabulary.Implement.BAND.value and row.level}
            )
        ),
    )


def _barbell(row: KitItem) -> engine.Barbell:
    return engine.Barbell(
        bar_kg=row.kg or Decimal(20),
        collars_kg=Decimal(str(row.details.get("collars_kg", "0"))),
        disc_pairs=tuple(
            (Decimal(str(mass)), int(pairs)) for mass, pairs in row.details.get("disc_pairs", [])
        ),
    )


def _limit(row: ClinicianLimit) -> engine.Limit:
    return engine.Limit(
        exercise=row.exercise or None,
        pattern=vocabulary.Pattern(row.pattern) if row.pattern else None,
        region=vocabulary.Region(row.region) if row.region else None,
        max_kg=row.max_kg,
        max_reps=row.max_reps,
    )


def read_blocks(squads: Iterable[int]) -> dict[int, tuple[engine.Block, ...]]:
    """The blocks of the program in use of each squad, with their weeks counted from the program's first Monday."""
    rows = (
        Block.objects.filter(program__squad_id__in=list(squads), program__is_active=True)
        .select_related("program")
        .prefetch_related("templates__slots")
        .order_by("program_id", "order", "pk")
    )
    found: dict[int, list[engine.Block]] = defaultdict(list)
    for row in rows:
        before = found[row.program.squad_id]
        first = shift_week(before[-1].last, 1) if before else week_of(row.program.starts_on)
        before.append(block_of(row, first))
    return {squad: tuple(blocks) for squad, blocks in found.items()}


def block_of(row: Block, first: engine.Week) -> engine.Block:
    """One block as the engine sees it, beginning in `first`."""
    return engine.Block(
        first=first,
        last=shift_week(first, row.weeks - 1),
        intent=engine.Phase(row.intent),
        sessions=row.sessions,
        templates=tuple(
            engine.Template(
                ordinal=template.ordinal,
                name=template.name,
                format=engine.Format(template.format),
                warm_up_minutes=template.warm_up_minutes,
                cool_down_minutes=template.cool_down_minutes,
                slots=tuple(
                    engine.Slot(
                        id=str(slot.pk),
                        part=engine.Part(slot.part),
                        pattern=vocabulary.Pattern(slot.pattern),
                        exercise=slot.exercise_id,
                        sets=slot.sets,
                        low=slot.low,
                        high=slot.high,
                        rest_s=slot.rest_s,
                    )
                    for slot in template.slots.all()
                ),
            )
            for template in row.templates.all()
        ),
        name=row.name,
    )


# --- what has happened ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Past:
    """One session of the past (or of the running week), and what was done in it."""

    record: engine.SessionRecord
    exposures: tuple[engine.Exposure, ...]


def read_history(ids: Sequence[int], *, since: date, until: date, today: date) -> dict[int, list[_Past]]:
    """Sessions that went out to each rider, oldest first, with the newest version of what was reported.

    A session counts by the revision that was reported on, else by the newest one that went out (H3).
    """
    keys = (
        SessionKey.objects.filter(rider_id__in=list(ids), planned__plan__sent_at__isnull=False)
        .filter(planned__on__gte=since, planned__on__lte=until)
        .distinct()
        .prefetch_related("planned__plan", "planned__items", "check_in__versions__items__item__session__plan")
        .order_by("iso_year", "iso_week", "ordinal")
    )
    found: dict[int, list[_Past]] = defaultdict(list)
    for key in keys:
        past = _past_of(key, today)
        if past is not None:
            found[key.rider_id].append(past)
    for rows in found.values():
        rows.sort(key=lambda one: (one.record.done_on or one.record.planned_on, one.record.ordinal))
    return found


def _past_of(key: SessionKey, today: date) -> _Past | None:
    sent = [row for row in key.planned.all() if row.plan.sent_at is not None]
    newest = max(sent, key=lambda row: row.plan.revision)
    week = engine.Week(key.iso_year, key.iso_week)
    check_in = getattr(key, "check_in", None)
    versions = list(check_in.versions.all()) if check_in else []
    if not versions:
        withdrawn = newest.plan.state == WeekPlan.State.WITHDRAWN
        if withdrawn:
            return None
        state = engine.SessionState.SILENT if newest.on < today else engine.SessionState.PLANNED
        patterns = frozenset(vocabulary.Pattern(item.pattern) for item in newest.items.all())
        record = engine.SessionRecord(week, key.ordinal, newest.on, state, patterns=patterns)
        silent = [_exposure(item, None, newest.on, newest.plan, None) for item in newest.items.all()]
        return _Past(record, tuple(silent) if newest.on < today else ())
    version = versions[-1]
    done_on = version.done_on or newest.on
    state = engine.SessionState(version.outcome)
    record = engine.SessionRecord(
        week=week,
        ordinal=key.ordinal,
        planned_on=newest.on,
        state=state,
        done_on=None if state is engine.SessionState.NOT_DONE else done_on,
        minutes=version.minutes,
        session_rpe=version.session_rpe,
    )
    if state is engine.SessionState.NOT_DONE:
        unknown = [_exposure(item, None, newest.on, newest.plan, None) for item in newest.items.all()]
        return _Past(record, tuple(unknown))
    return _Past(
        record,
        tuple(
            _exposure(
                report.item,
                codec.from_document(engine.Done, report.done) if report.done else None,
                done_on,
                report.item.session.plan,
                version.session_rpe,
            )
            for report in version.items.all()
        ),
    )


def _exposure(
    item: PlannedItem, done: engine.Done | None, on: date, plan: WeekPlan, session_rpe: int | None
) -> engine.Exposure:
    light = (
        plan.is_light
        or plan.phase in (engine.Phase.TAPER.value, engine.Phase.RACE_WEEK.value, engine.Phase.RETURN.value)
        or is_lightened(reason["key"] for reason in item.reasons)
    )
    return engine.Exposure(
        on=on,
        exercise=item.exercise_id,
        target=read_target(item.target),
        done=done,
        session_rpe=session_rpe,
        light=light,
    )


# --- decisions to rows ------------------------------------------------------------------------------------------------


def store(
    *,
    rider: Rider,
    facts: engine.WeekFacts,
    decision: engine.WeekDecision,
    library: str,
    revision: int,
    state: str,
    now: datetime,
    is_downward: bool = False,
) -> WeekPlan:
    """Writes one revision of a week with its sessions, targets and the decision behind it. Returns the plan."""
    club_id = rider.club_id
    plan = WeekPlan.objects.create(
        club_id=club_id,
        rider=rider,
        iso_year=decision.week.year,
        iso_week=decision.week.number,
        revision=revision,
        state=state,
        phase=decision.phase.value,
        is_light=decision.light,
        reasons=reasons_document(decision.reasons),
        concerns=[
            {"topic": one.topic.value, "urgency": int(one.urgency), "reasons": reasons_document(one.reasons)}
            for one in decision.concerns
        ],
        placement=codec.to_document(decision.placement) if decision.placement else None,
        may_send_unapproved=decision.may_send_unapproved,
        is_downward=is_downward,
        made_at=now,
    )
    document = codec.to_document(facts)
    Decision.objects.create(
        club_id=club_id,
        plan=plan,
        facts=document,
        answer=codec.to_document(decision),
        digest=codec.digest(document),
        library=library,
        schema=engine.SCHEMA,
        engine=engine.ENGINE,
    )
    keys = _keys(rider, decision)
    sessions = PlannedSession.objects.bulk_create(
        _session_row(club_id, plan, keys[session.ordinal], session) for session in decision.sessions
    )
    PlannedItem.objects.bulk_create(
        _item_row(club_id, row, position, item)
        for row, session in zip(sessions, decision.sessions, strict=True)
        for position, item in enumerate(session.items)
    )
    return plan


def _keys(rider: Rider, decision: engine.WeekDecision) -> dict[int, SessionKey]:
    week = decision.week
    found = {
        key.ordinal: key
        for key in SessionKey.objects.filter(rider=rider, iso_year=week.year, iso_week=week.number)
    }
    missing = [session.ordinal for session in decision.sessions if session.ordinal not in found]
    for key in SessionKey.objects.bulk_create(
        SessionKey(
            club_id=rider.club_id, rider=rider, iso_year=week.year, iso_week=week.number, ordinal=ordinal
        )
        for ordinal in missing
    ):
        found[key.ordinal] = key
    return found


def _session_row(
    club_id: Any, plan: WeekPlan, key: SessionKey, session: engine.SessionDecision
) -> PlannedSession:
    return PlannedSession(
        club_id=club_id,
        plan=plan,
        key=key,
        ordinal=session.ordinal,
        name=session.name,
        on=session.on,
        start=time_of(session.start),
        minutes=session.minutes,
        venue=session.venue,
        format=session.format.value,
        warm_up_minutes=session.warm_up_minutes,
        cool_down_minutes=session.cool_down_minutes,
        warm_up=list(session.warm_up),
        cool_down=list(session.cool_down),
        left_out=[codec.to_document(one) for one in session.left_out],
        reasons=reasons_document(session.reasons),
    )


def _item_row(club_id: Any, session: PlannedSession, position: int, item: engine.Item) -> PlannedItem:
    return PlannedItem(
        club_id=club_id,
        session=session,
        position=position,
        slot=item.slot,
        part=item.part.value,
        pattern=item.pattern.value,
        exercise_id=item.exercise,
        target=codec.to_document(item.target),
        previous=codec.to_document(item.previous) if item.previous else None,
        change=item.change.value,
        reasons=reasons_document(item.reasons),
    )


def read_plan(plan: WeekPlan) -> engine.WeekDecision:
    """A stored plan as a decision, with whatever a coach has edited since: what the safety properties are checked on.

    `plan` should come with ``sessions__items`` prefetched.
    """
    return engine.WeekDecision(
        week=engine.Week(plan.iso_year, plan.iso_week),
        phase=engine.Phase(plan.phase),
        light=plan.is_light,
        reasons=read_reasons(plan.reasons),
        may_send_unapproved=plan.may_send_unapproved,
        sessions=tuple(
            engine.SessionDecision(
                ordinal=row.ordinal,
                name=row.name,
                on=row.on,
                start=minutes_of(row.start),
                minutes=row.minutes,
                venue=row.venue,
                format=engine.Format(row.format),
                warm_up_minutes=row.warm_up_minutes,
                cool_down_minutes=row.cool_down_minutes,
                warm_up=tuple(row.warm_up),
                cool_down=tuple(row.cool_down),
                items=tuple(item_of(item) for item in row.items.all()),
                left_out=tuple(codec.from_document(engine.LeftOut, one) for one in row.left_out),
                reasons=read_reasons(row.reasons),
            )
            for row in plan.sessions.all()
        ),
    )


def item_of(row: PlannedItem) -> engine.Item:
    return engine.Item(
        slot=row.slot,
        part=engine.Part(row.part),
        pattern=vocabulary.Pattern(row.pattern),
        exercise=row.exercise_id,
        target=read_target(row.target),
        change=engine.Change(row.change),
        reasons=read_reasons(row.reasons),
        previous=read_target(row.previous) if row.previous else None,
    )
