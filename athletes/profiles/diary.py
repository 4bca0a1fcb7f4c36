"""Where and when a rider can train, their rides, their hours on the bike, and the days they are away."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from athletes.access import name_of, record
from athletes.kit import Item, Kit, in_unit
from athletes.models import Absence, BikeHours, Club, Coach, KitItem, Opening, RegularRide, Rider, Venue
from athletes.pain import ConsentMissing, has_consent
from athletes.profiles.riders import today_of
from athletes.times import WeeklyTime
from athletes.vocabulary import Furniture, Implement

#: Absences that say something about health: recorded only with consent, shown only to those who see health detail.
HEALTH_ABSENCES = frozenset({Absence.Kind.ILLNESS.value, Absence.Kind.INJURY.value})


class VenueExists(Exception):
    """The rider, or the club, has a venue of this name."""


class VenueInUse(Exception):
    """Times are planned at the venue: move them first. `openings` says how many."""

    def __init__(self, openings: int) -> None:
        super().__init__(openings)
        self.openings = openings


# --- venues and kit ---------------------------------------------------------------------------------------------------


def kit_of(venue: Venue) -> Kit:
    """What is at the venue, as a value. Reads `venue.items`, which should be prefetched for many."""
    return Kit(
        tuple(item_of(row) for row in venue.items.all()),
        frozenset(Furniture(name) for name in venue.furniture),
    )


def item_of(row: KitItem) -> Item:
    """One row of kit as a value, in the unit it was typed in."""
    details = row.details
    return Item(
        implement=Implement(row.implement),
        entered=_entered(row),
        unit=row.unit,
        count=row.count,
        level=row.level,
        collars=_typed(details.get("collars_kg", 0), row.unit) or Decimal(0),
        discs=tuple(
            (_typed(mass, row.unit) or Decimal(0), int(pairs))
            for mass, pairs in details.get("disc_pairs", [])
        ),
        masses=tuple(_typed(mass, row.unit) or Decimal(0) for mass in details.get("masses", [])),
    )


def _entered(row: KitItem) -> Decimal | None:
    if row.entered is not None:
        return row.entered.normalize()
    return None if row.kg is None else _typed(row.kg, row.unit)


def _typed(kg: object, unit: str) -> Decimal:
    """A mass in kilograms, as text or number, in the unit it was typed in."""
    return in_unit(Decimal(str(kg)), unit).normalize()


def item_rows(venue: Venue, kit: Kit) -> list[KitItem]:
    """The unsaved rows of a kit."""
    return [
        KitItem(
            club_id=venue.club_id,
            venue=venue,
            implement=item.implement.value,
            kg=item.kg,
            entered=item.entered,
            unit=item.unit,
            count=item.count,
            level=item.level,
            details=item.details,
        )
        for item in kit.items
    ]


@transaction.atomic
def save_venue(
    *, club: Club, rider: Rider | None, venue: Venue | None, name: str, kit: Kit, by: Coach, now: datetime
) -> Venue:
    """The venue has this name and kit; a new one when `venue` is None, the club's when `rider` is None.

    Raises `VenueExists`.
    """
    taken = Venue.objects.filter(rider=rider, name__iexact=name)
    if (taken.exclude(pk=venue.pk) if venue else taken).exists():
        raise VenueExists
    venue = venue or Venue(club=club, rider=rider)
    venue.name = name
    venue.furniture = [piece.value for piece in Furniture if piece in kit.furniture]
    venue.save()
    KitItem.objects.filter(venue=venue).delete()
    KitItem.objects.bulk_create(item_rows(venue, kit))
    record("venue.save", club_id=club.pk, by=name_of(by), now=now, rider=rider, subject=str(venue.pk))
    return venue


@transaction.atomic
def remove_venue(*, venue: Venue, by: Coach, now: datetime) -> None:
    """The venue and its kit are gone. Raises `VenueInUse` while times are planned there."""
    openings = Opening.objects.filter(venue=venue).count()
    if openings:
        raise VenueInUse(openings)
    record(
        "venue.remove",
        club_id=venue.club_id,
        by=name_of(by),
        now=now,
        rider=venue.rider,
        subject=str(venue.pk),
    )
    venue.delete()


def venues_for(rider: Rider) -> list[Venue]:
    """Where the rider may train: their own venues, then the club's."""
    own = Venue.objects.filter(rider=rider)
    return [*own, *Venue.objects.filter(rider__isnull=True)]


# --- the week ---------------------------------------------------------------------------------------------------------


@transaction.atomic
def set_openings(
    *, rider: Rider, openings: Sequence[tuple[WeeklyTime, Venue]], by: Coach | Rider, now: datetime
) -> None:
    """The times when the rider can train are these and no others."""
    Opening.objects.filter(rider=rider).delete()
    Opening.objects.bulk_create(opening_rows(rider, openings))
    record("rider.openings", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, count=len(openings))


def opening_rows(rider: Rider, openings: Iterable[tuple[WeeklyTime, Venue]]) -> list[Opening]:
    """The unsaved rows of these times."""
    return [
        Opening(
            club_id=rider.club_id,
            rider=rider,
            weekday=one.weekday,
            start=one.start,
            minutes=one.minutes,
            preferred=one.preferred,
            venue=venue,
        )
        for one, venue in openings
    ]


@transaction.atomic
def set_rides(
    *, rider: Rider, rides: Sequence[tuple[WeeklyTime, bool]], by: Coach | Rider, now: datetime
) -> None:
    """The rides that come round each week are these, each with whether it is a key ride, and no others."""
    RegularRide.objects.filter(rider=rider).delete()
    RegularRide.objects.bulk_create(ride_rows(rider, rides))
    record("rider.rides", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, count=len(rides))


def ride_rows(rider: Rider, rides: Iterable[tuple[WeeklyTime, bool]]) -> list[RegularRide]:
    """The unsaved rows of these rides."""
    return [
        RegularRide(
            club_id=rider.club_id,
            rider=rider,
            weekday=one.weekday,
            start=one.start,
            minutes=one.minutes,
            is_key=is_key,
        )
        for one, is_key in rides
    ]


@transaction.atomic
def set_bike_hours(
    *, rider: Rider, year: int, week: int, hours: Decimal | None, by: Coach | Rider, now: datetime
) -> None:
    """The rider rode so many hours in that ISO week; None takes the entry away.

    Raises `ValueError` for no such week.
    """
    date.fromisocalendar(year, week, 1)
    if hours is None:
        BikeHours.objects.filter(rider=rider, iso_year=year, iso_week=week).delete()
    else:
        BikeHours.objects.update_or_create(
            club_id=rider.club_id, rider=rider, iso_year=year, iso_week=week, defaults={"hours": hours}
        )
    record("rider.bike-hours", club_id=rider.club_id, by=name_of(by), now=now, rider=rider)


# --- days away --------------------------------------------------------------------------------------------------------


@transaction.atomic
def add_absence(
    *,
    rider: Rider,
    from_on: date,
    until_on: date,
    kind: str,
    name: str = "",
    by: Coach | Rider,
    now: datetime,
) -> Absence:
    """The rider is away on these days, both included. Raises `ConsentMissing` for illness or injury without consent,
    and `ValueError` when it ends before it begins."""
    if until_on < from_on:
        raise ValueError("an absence ends on or after the day on which it begins")
    if kind in HEALTH_ABSENCES and not has_consent(rider, on=today_of(rider, now)):
        raise ConsentMissing
    absence, is_new = Absence.objects.get_or_create(
        club_id=rider.club_id, rider=rider, from_on=from_on, until_on=until_on, kind=kind, name=name
    )
    if is_new:
        record(
            "rider.absence",
            club_id=rider.club_id,
            by=name_of(by),
            now=now,
            rider=rider,
            subject=str(absence.pk),
        )
    return absence


@transaction.atomic
def remove_absence(*, absence: Absence, by: Coach | Rider, now: datetime) -> None:
    """The rider is not away after all."""
    record(
        "rider.absence-removed",
        club_id=absence.club_id,
        by=name_of(by),
        now=now,
        rider=absence.rider,
        subject=str(absence.pk),
    )
    absence.delete()
