"""Clubs: founded with an owner, their squads, their races and holidays, their settings.

All verbs but `found` run inside `access.within(club)`. Raises: see each verb.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db import transaction

from athletes.access import name_of, record, within
from athletes.models import Absence, Club, Coach, Race, Rider, Squad, User

#: What a race begins at when a calendar gives the day alone.
RACE_START = time(9)
#: A race of more days than this is no race but a holiday, or several races (ours).
LONGEST_RACE = timedelta(days=10)

SETTINGS = (
    "name",
    "place",
    "zone",
    "paper",
    "resolves_on",
    "resolves_at_hour",
    "sends_on",
    "sends_at_hour",
    "unapproved",
    "emergency_note",
)


class SquadExists(Exception):
    """The club has a squad of this name."""


class SquadInUse(Exception):
    """The squad has riders, who must move to another one first, or programs. `riders` says how many riders."""

    def __init__(self, riders: int) -> None:
        super().__init__(riders)
        self.riders = riders


class RaceTooLong(Exception):
    """An entry of a calendar that spans too many days for a race."""


@transaction.atomic
def found(
    *, name: str, owner: User, now: datetime, zone: str = "Europe/London", place: str = ""
) -> tuple[Club, Coach]:
    """A club exists, with `owner` as its owner and nothing else in it."""
    club = Club(name=name, zone=zone, place=place)
    with within(club):
        club.save()
        membership = Coach.objects.create(club=club, user=owner, role=Coach.Role.OWNER)
        record("club.found", club_id=club.pk, by=name_of(membership), now=now)
    return club, membership


@transaction.atomic
def add_member(*, club: Club, user: User, role: str, by: Coach, now: datetime) -> Coach:
    """The account is a member of the club in that role; one that is already changes its role."""
    membership, _is_new = Coach.objects.update_or_create(club=club, user=user, defaults={"role": role})
    record(
        "club.member", club_id=club.pk, by=name_of(by), now=now, subject=str(membership.pk), role=str(role)
    )
    return membership


@transaction.atomic
def change(*, club: Club, settings: Mapping[str, Any], by: Coach, now: datetime) -> list[str]:
    """The club's settings, those named in `SETTINGS`, are as given. Returns what changed."""
    locked = Club.objects.select_for_update().get(pk=club.pk)
    changed = [name for name in SETTINGS if name in settings and getattr(locked, name) != settings[name]]
    for name in changed:
        setattr(locked, name, settings[name])
    if changed:
        locked.save(update_fields=changed)
        record("club.change", club_id=club.pk, by=name_of(by), now=now, fields=changed)
    return changed


@transaction.atomic
def confirm_limits(*, club: Club, confirmed_by: str, on: date, by: Coach, now: datetime) -> None:
    """It stands on record which clinician confirmed the pain limits for this club, and when."""
    Club.objects.filter(pk=club.pk).update(limits_confirmed_by=confirmed_by, limits_confirmed_on=on)
    record("club.confirm-limits", club_id=club.pk, by=name_of(by), now=now)


# --- squads -----------------------------------------------------------------------------------------------------------


@transaction.atomic
def add_squad(*, club: Club, name: str, coach: Coach, by: Coach, now: datetime) -> Squad:
    """The squad exists. Raises `SquadExists`."""
    _refuse_taken(club, name)
    squad = Squad.objects.create(club=club, name=name, coach=coach)
    record("squad.add", club_id=club.pk, by=name_of(by), now=now, subject=str(squad.pk))
    return squad


@transaction.atomic
def change_squad(*, squad: Squad, name: str, coach: Coach, by: Coach, now: datetime) -> Squad:
    """The squad has this name and coach. Open follow-ups stay with whom they were. Raises `SquadExists`."""
    _refuse_taken(squad.club, name, but=squad)
    squad.name, squad.coach = name, coach
    squad.save(update_fields=["name", "coach"])
    record("squad.change", club_id=squad.club_id, by=name_of(by), now=now, subject=str(squad.pk))
    return squad


@transaction.atomic
def remove_squad(*, squad: Squad, by: Coach, now: datetime) -> None:
    """The squad is gone, with its races. Raises `SquadInUse` while a rider, also one who left, or a program is its."""
    if any(
        one.related_model._default_manager.filter(**{one.field.name: squad}).exists()
        for one in squad._meta.related_objects
        if one.related_model is not Race
    ):
        raise SquadInUse(Rider.objects.filter(squad=squad).count())
    record("squad.remove", club_id=squad.club_id, by=name_of(by), now=now, subject=str(squad.pk))
    squad.delete()


def _refuse_taken(club: Club, name: str, but: Squad | None = None) -> None:
    """Case makes no difference to people, so it makes none here."""
    Club.objects.select_for_update().get(pk=club.pk)
    taken = Squad.objects.filter(name__iexact=name)
    if (taken.exclude(pk=but.pk) if but else taken).exists():
        raise SquadExists


# --- races and holidays -----------------------------------------------------------------------------------------------


@transaction.atomic
def add_race(
    *,
    club: Club,
    name: str,
    on: date,
    start: time,
    priority: str,
    squad: Squad | None,
    by: Coach,
    now: datetime,
) -> Race:
    """The race is in the club's calendar, for one squad or for all. One of the same values stays the one it is."""
    race, is_new = Race.objects.get_or_create(
        club=club, name=name, on=on, start=start, priority=priority, squad=squad, uid=""
    )
    if is_new:
        record("race.add", club_id=club.pk, by=name_of(by), now=now, subject=str(race.pk))
    return race


@transaction.atomic
def change_race(*, race: Race, values: Mapping[str, Any], by: Coach, now: datetime) -> Race:
    """The race has these values: any of name, on, start, priority, squad."""
    for field in ("name", "on", "start", "priority", "squad"):
        if field in values:
            setattr(race, field, values[field])
    race.save()
    record("race.change", club_id=race.club_id, by=name_of(by), now=now, subject=str(race.pk))
    return race


@transaction.atomic
def remove_race(*, race: Race, by: Coach, now: datetime) -> None:
    """The race is out of the calendar."""
    record("race.remove", club_id=race.club_id, by=name_of(by), now=now, subject=str(race.pk))
    race.delete()


@transaction.atomic
def add_holiday(*, club: Club, name: str, from_on: date, until_on: date, by: Coach, now: datetime) -> Absence:
    """Nobody in the club trains on these days, both included. One of the same values stays the one it is."""
    kind = Absence.Kind.HOLIDAY
    holiday, is_new = Absence.objects.get_or_create(
        club=club, rider=None, name=name, from_on=from_on, until_on=until_on, kind=kind, uid=""
    )
    if is_new:
        record("holiday.add", club_id=club.pk, by=name_of(by), now=now, subject=str(holiday.pk))
    return holiday


@transaction.atomic
def remove_holiday(*, holiday: Absence, by: Coach, now: datetime) -> None:
    """The holiday is over before it began. Raises `ValueError` for a rider's own absence."""
    if holiday.rider_id is not None:
        raise ValueError("this is a rider's own absence")
    record("holiday.remove", club_id=holiday.club_id, by=name_of(by), now=now, subject=str(holiday.pk))
    holiday.delete()


@dataclass(frozen=True, slots=True)
class Chosen:
    """What a coach made of one entry of a calendar file. `kind` is a race priority, or `HOLIDAY`."""

    uid: str
    name: str
    on: date
    until_on: date
    start: time | None
    kind: str


HOLIDAY = "holiday"


@transaction.atomic
def apply_calendar(
    *, club: Club, chosen: Iterable[Chosen], squad: Squad | None, by: Coach, now: datetime
) -> dict[str, int]:
    """The chosen entries are in the club's calendar, each once: applying the same file again adds nothing.

    A race over several days is a race on each. Returns how many of `races`, `holidays` were added and how many were
    `known`. Raises `RaceTooLong`.
    """
    Club.objects.select_for_update().get(pk=club.pk)
    counts = {"races": 0, "holidays": 0, "known": 0}
    for one in chosen:
        if one.kind == HOLIDAY:
            _count(counts, "holidays", _import_holiday(club, one))
        else:
            for on in _race_days(one):
                _count(counts, "races", _import_race(club, one, on, squad))
    details: dict[str, Any] = dict(counts)
    record("calendar.apply", club_id=club.pk, by=name_of(by), now=now, **details)
    return counts


def known_entries() -> set[tuple[str, date]]:
    """The (uid, day) of everything that came from a calendar file."""
    races = Race.objects.exclude(uid="").values_list("uid", "on")
    holidays = Absence.objects.filter(rider__isnull=True).exclude(uid="").values_list("uid", "from_on")
    return {*races, *holidays}


def _count(counts: dict[str, int], what: str, is_new: bool) -> None:
    counts[what if is_new else "known"] += 1


def _race_days(one: Chosen) -> list[date]:
    if one.until_on - one.on > LONGEST_RACE:
        raise RaceTooLong(one.name)
    return [one.on + timedelta(days=number) for number in range((one.until_on - one.on).days + 1)]


def _import_race(club: Club, one: Chosen, on: date, squad: Squad | None) -> bool:
    if Race.objects.filter(on=on, **_key(one)).exists():
        return False
    start = one.start or RACE_START
    Race.objects.create(
        club=club, uid=one.uid, on=on, name=one.name, start=start, priority=one.kind, squad=squad
    )
    return True


def _import_holiday(club: Club, one: Chosen) -> bool:
    if Absence.objects.filter(rider__isnull=True, from_on=one.on, **_key(one)).exists():
        return False
    kind = Absence.Kind.HOLIDAY
    Absence.objects.create(
        club=club, uid=one.uid, name=one.name, from_on=one.on, until_on=one.until_on, kind=kind
    )
    return True


def _key(one: Chosen) -> dict[str, str]:
    """What makes an entry the same on a day: the calendar's own key, or its name in a file without keys."""
    return {"uid": one.uid} if one.uid else {"name": one.name}
