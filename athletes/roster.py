"""A roster taken in: uploaded, its columns chosen, looked at, then applied whole or not at all.

Rows are matched to riders by mail address. An empty cell changes nothing. All verbs run inside `access.within(club)`.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from athletes import roster_columns
from athletes.access import name_of, record
from athletes.kit import Kit
from athletes.models import Club, Coach, KitItem, Opening, RegularRide, Rider, RosterImport, Squad, Venue
from athletes.profiles.diary import item_rows, opening_rows, ride_rows
from athletes.profiles.riders import HOME, readdress, today_of
from athletes.roster_plan import (
    CREATE,
    PLAIN,
    UPDATE,
    AlreadyApplied,
    ColumnsUnusable,
    RowPlan,
    home_of,
    merged_rider,
    preview,
)
from athletes.spreadsheet import read_table
from athletes.times import WeeklyTime
from athletes.typed import one_line

__all__ = [
    "AlreadyApplied",
    "ChangedSincePreview",
    "ColumnsUnusable",
    "FaultsRemain",
    "apply",
    "choose_columns",
    "discard",
    "preview",
    "upload",
]


class FaultsRemain(Exception):
    """Some row has a fault, so nothing was applied."""


class ChangedSincePreview(Exception):
    """Riders, squads or the columns have changed since the coach looked: look again. Nothing was applied."""


# --- taking in --------------------------------------------------------------------------------------------------------


@transaction.atomic
def upload(
    *, club: Club, name: str, data: bytes, by: Coach, now: datetime, encoding: str = ""
) -> RosterImport:
    """The file's rows are kept until they are applied, for a week at most, with its columns guessed from the headings.

    Raises an `UnreadableTable`; then nothing is kept.
    """
    table = read_table(data, encoding=encoding)
    made = RosterImport.objects.create(
        club=club,
        name=one_line(name, 200),
        headings=[one_line(heading, 100) for heading in table.headings],
        rows=[[number, list(cells)] for number, cells in table.rows],
        mapping={
            "columns": roster_columns.guess_columns(table.headings),
            "squad": _only_squad(),
            "make_squads": False,
        },
        made_by=by,
        created_at=now,
    )
    record(
        "roster.upload", club_id=club.pk, by=name_of(by), now=now, subject=str(made.pk), rows=len(table.rows)
    )
    return made


def _only_squad() -> int | None:
    squads = list(Squad.objects.values_list("pk", flat=True)[:2])
    return squads[0] if len(squads) == 1 else None


@transaction.atomic
def choose_columns(
    *, roster: RosterImport, columns: Mapping[int, str], squad: Squad | None, make_squads: bool
) -> None:
    """It stands what each column holds, and the squad of riders whose row names none.

    `make_squads`: squads that are not there yet are made, with whoever applies the file as their coach. Raises
    `ColumnsUnusable`, `AlreadyApplied`.
    """
    faults = roster_columns.faults_of(columns)
    if faults:
        raise ColumnsUnusable(faults)
    locked = _open(roster)
    locked.mapping = {
        "columns": {str(position): name for position, name in columns.items()},
        "squad": squad.pk if squad else None,
        "make_squads": make_squads,
    }
    locked.save(update_fields=["mapping"])


@transaction.atomic
def discard(*, roster: RosterImport, by: Coach, now: datetime) -> None:
    """The file is forgotten, nothing of it was applied. Raises `AlreadyApplied`."""
    locked = _open(roster)
    record("roster.discard", club_id=locked.club_id, by=name_of(by), now=now, subject=str(locked.pk))
    locked.delete()


def _open(roster: RosterImport) -> RosterImport:
    locked = RosterImport.objects.select_for_update(of=("self",)).get(pk=roster.pk)
    if locked.state != RosterImport.State.OPEN:
        raise AlreadyApplied
    return locked


# --- applying ---------------------------------------------------------------------------------------------------------


def apply(*, roster: RosterImport, seen: str, by: Coach, now: datetime) -> dict[str, int]:
    """Every row is in force, or none: new riders are there, changed fields are changed, and the file's rows are gone.

    `seen` is the digest of the preview that the coach looked at. Raises `AlreadyApplied`, `FaultsRemain`,
    `ChangedSincePreview`, `ColumnsUnusable`; then nothing was written.
    """
    try:
        with transaction.atomic():
            return _apply(roster, seen, by, now)
    except IntegrityError as clash:  # somebody else made a rider of this address in this very moment
        raise ChangedSincePreview from clash


def _apply(roster: RosterImport, seen: str, by: Coach, now: datetime) -> dict[str, int]:
    Club.objects.select_for_update().get(pk=roster.club_id)
    locked = _open(roster)
    planned = preview(locked, now=now)
    if planned.digest != seen:
        raise ChangedSincePreview
    if planned.faults:
        raise FaultsRemain
    squads = {
        name.casefold(): Squad.objects.create(club=locked.club, name=name, coach=by)
        for name in planned.new_squads
    }
    for row in planned.rows:
        if "squad" in row.values and row.values["squad"].pk is None:
            row.values["squad"] = squads[row.values["squad"].name.casefold()]
    _create([row for row in planned.rows if row.action == CREATE], locked.club, now)
    for row in planned.rows:
        if row.action == UPDATE and row.rider:
            _update(row.rider, row.values, {one.field for one in row.changes}, now)
    result: dict[str, Any] = {**planned.counts, "squads": len(squads)}
    locked.state, locked.applied_at, locked.result = RosterImport.State.APPLIED, now, result
    locked.headings, locked.rows, locked.mapping = [], [], {}
    locked.save()
    record("roster.apply", club_id=locked.club_id, by=name_of(by), now=now, subject=str(locked.pk), **result)
    return result


def _create(rows: list[RowPlan], club: Club, now: datetime) -> None:
    riders = [merged_rider(None, row.values, club) for row in rows]
    for rider in riders:
        rider.joined_on = today_of(rider, now)
    Rider.objects.bulk_create(riders)
    homes = Venue.objects.bulk_create(Venue(club=club, rider=rider, name=HOME) for rider in riders)
    items, openings, rides = [], [], []
    for row, rider, home in zip(rows, riders, homes, strict=True):
        kit: Kit = row.values.get("kit", Kit())
        home.furniture = sorted(piece.value for piece in kit.furniture)
        items += item_rows(home, kit)
        openings += opening_rows(
            rider, [(one, venue or home) for one, venue in row.values.get("openings", [])]
        )
        rides += ride_rows(rider, [(one, True) for one in row.values.get("rides", [])])
    Venue.objects.bulk_update([home for home in homes if home.furniture], ["furniture"])
    KitItem.objects.bulk_create(items)
    Opening.objects.bulk_create(openings)
    RegularRide.objects.bulk_create(rides)


def _update(rider: Rider, values: Mapping[str, Any], changed: set[str], now: datetime) -> None:
    before = rider.guardian_email
    fields = [name for name in (*PLAIN, "squad") if name in changed]
    for name in fields:
        setattr(rider, name, values[name])
    if "state" in changed:
        rider.state = Rider.State.ACTIVE
        fields.append("state")
    if fields:
        rider.save(update_fields=fields)
    if "guardian_email" in changed:
        readdress(rider=rider, old=before, new=rider.guardian_email, now=now)
    if changed & {"kit", "days"}:
        home = home_of(rider) or Venue.objects.create(club_id=rider.club_id, rider=rider, name=HOME)
        if "kit" in changed:
            _replace_kit(home, values["kit"])
        if "days" in changed:
            rider.openings.all().delete()
            placed = [(one, venue or home) for one, venue in values["openings"]]
            Opening.objects.bulk_create(opening_rows(rider, placed))
    if "rides" in changed:
        _replace_key_rides(rider, values["rides"])


def _replace_kit(home: Venue, kit: Kit) -> None:
    home.furniture = sorted(piece.value for piece in kit.furniture)
    home.save(update_fields=["furniture"])
    KitItem.objects.filter(venue=home).delete()
    KitItem.objects.bulk_create(item_rows(home, kit))


def _replace_key_rides(rider: Rider, rides: Iterable[WeeklyTime]) -> None:
    """The key rides are these; others stay, unless one of these is at the same time."""
    rides = list(rides)
    times = {(one.weekday, one.start) for one in rides}
    gone = [row.pk for row in rider.rides.all() if row.is_key or (row.weekday, row.start) in times]
    RegularRide.objects.filter(pk__in=gone).delete()
    RegularRide.objects.bulk_create(ride_rows(rider, [(one, True) for one in rides]))
