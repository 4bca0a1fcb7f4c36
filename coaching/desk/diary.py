"""One rider's kit, times, rides and days away, in words."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from athletes import words
from athletes.models import Absence, KitItem, Opening, RegularRide, Rider, Venue
from athletes.vocabulary import Day, Furniture, Implement
from coaching.desk.words import unit_of
from programs import wording


@dataclass(frozen=True, slots=True)
class VenueView:
    """A venue and what is there. `is_clubs`: open to all riders."""

    name: str
    is_clubs: bool
    items: tuple[str, ...]
    furniture: str


@dataclass(frozen=True, slots=True)
class Diary:
    """When and where the rider could train, and what takes the other hours."""

    venues: tuple[VenueView, ...]
    openings: tuple[str, ...]
    rides: tuple[str, ...]
    absences: tuple[str, ...]


def read_diary(rider: Rider, *, today: date) -> Diary:
    """The rider's diary in five queries."""
    venues = Venue.objects.filter(rider=rider) | Venue.objects.filter(rider__isnull=True)
    return Diary(
        venues=tuple(
            VenueView(
                name=venue.name,
                is_clubs=venue.rider_id is None,
                items=tuple(_item_words(item, rider) for item in venue.items.all()),
                furniture=", ".join(str(words.label(Furniture(name))) for name in venue.furniture),
            )
            for venue in venues.prefetch_related("items").order_by("rider_id", "name")
        ),
        openings=tuple(
            _opening_words(row) for row in Opening.objects.filter(rider=rider).select_related("venue")
        ),
        rides=tuple(_ride_words(row) for row in RegularRide.objects.filter(rider=rider)),
        # The kind of an absence may be about health and is left out.
        absences=tuple(
            wording.day_words(row.from_on)
            if row.from_on == row.until_on
            else _("{first} to {last}").format(
                first=wording.day_words(row.from_on), last=wording.day_words(row.until_on)
            )
            for row in Absence.objects.filter(rider=rider, until_on__gte=today)
        ),
    )


def _item_words(item: KitItem, rider: Rider) -> str:
    name = str(words.label(Implement(item.implement)))
    if item.level:
        said = _("{name}, level {level}").format(name=name, level=item.level)
    elif item.kg is not None:
        said = f"{name} {wording.mass_words(item.kg, unit_of(rider))}"
    else:
        said = name
    return said if item.count == 1 else f"{item.count} x {said}"


def _opening_words(row: Opening) -> str:
    said = _("{day} {time}, {minutes} min, {venue}").format(
        day=words.label(Day(row.weekday)),
        time=wording.time_words(row.start),
        minutes=row.minutes,
        venue=row.venue.name,
    )
    return _("{time}, preferred").format(time=said) if row.preferred else said


def _ride_words(row: RegularRide) -> str:
    said = _("{day} {time}, {minutes} min").format(
        day=words.label(Day(row.weekday)), time=wording.time_words(row.start), minutes=row.minutes
    )
    return _("{ride}, key ride").format(ride=said) if row.is_key else said
