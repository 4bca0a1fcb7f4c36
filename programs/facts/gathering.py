"""Everything that decides a week, read for any number of riders in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
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
    MovementCheck,
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
from programs.engine import facts as engine
from programs.engine.quantities import shift_week, week_days, week_of
from programs.facts.past import Past, read_history
from programs.facts.values import minutes_of, zone_of
from programs.models import (
    Block,
    Exercise,
    LevelMove,
    SessionKey,
    WeekPlan,
)

#: How far back exposures are read. Longer absences start again anyway (P10).
HISTORY = timedelta(weeks=30)


@dataclass(frozen=True, slots=True)
class Gathered:
    """One rider's facts, and whose they are."""

    rider: Rider
    facts: engine.WeekFacts


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
    checks: dict[int, list[MovementCheck]]
    patterns: dict[str, str]
    reports: dict[int, list[BodyReport]]
    symptoms: dict[int, list[SymptomReport]]
    follow_ups: dict[int, list[FollowUp]]
    baselines: dict[int, list[PainBaseline]]
    limits: dict[int, list[ClinicianLimit]]
    consents: dict[int, list[Consent]]
    screenings: dict[int, list[Screening]]
    history: dict[int, list[Past]]
    first_sent: dict[int, date]
    pins: dict[int, tuple[tuple[int, date], ...]]

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
            checks=_grouped(MovementCheck.objects.filter(rider_id__in=ids)),
            patterns=dict(Exercise.objects.values_list("slug", "pattern")),
            reports=_grouped(BodyReport.objects.filter(rider_id__in=ids)),
            symptoms=_grouped(SymptomReport.objects.filter(rider_id__in=ids)),
            follow_ups=_grouped(FollowUp.objects.filter(rider_id__in=ids, topic=concerns.Topic.PAIN.value)),
            baselines=_grouped(PainBaseline.objects.filter(rider_id__in=ids)),
            limits=_grouped(ClinicianLimit.objects.filter(rider_id__in=ids)),
            consents=_grouped(Consent.objects.filter(rider_id__in=ids).standing()),
            screenings=_grouped(Screening.objects.filter(rider_id__in=ids)),
            history=read_history(ids, since=today - HISTORY, until=days[6], today=today),
            first_sent=_first_sent(ids),
            pins=_pins(ids, week),
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
            hurting=self._hurting(rider),
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
            fixed_days=self.pins.get(rider.pk, ()),
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

    def _hurting(self, rider: Rider) -> tuple[vocabulary.Pattern, ...]:
        """Patterns in which something hurt in the movement check and no level was set then or since: their bottom level
        hurt, or the check would have set one (S5)."""
        newest = {row.exercise: row for row in self.checks.get(rider.pk, [])}
        found = {
            self.patterns[row.exercise]
            for row in newest.values()
            if row.result == engine.CheckResult.HURTS.value
            and row.exercise in self.patterns
            and not any(
                move.pattern == self.patterns[row.exercise] and move.since_on >= row.checked_on
                for move in self.levels.get(rider.pk, [])
            )
        }
        return tuple(vocabulary.Pattern(pattern) for pattern in sorted(found))


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


def _pins(ids: Sequence[int], week: engine.Week) -> dict[int, tuple[tuple[int, date], ...]]:
    """The sessions of the week that a coach pinned to a day, by rider."""
    found: dict[int, list[tuple[int, date]]] = defaultdict(list)
    keys = SessionKey.objects.filter(
        rider_id__in=ids, iso_year=week.year, iso_week=week.number, pinned_on__isnull=False
    ).order_by("ordinal")
    for rider_id, ordinal, on in keys.values_list("rider_id", "ordinal", "pinned_on"):
        if on is not None:  # which the query has seen to; the type of the column does not say so
            found[rider_id].append((ordinal, on))
    return {rider_id: tuple(pins) for rider_id, pins in found.items()}


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
