"""Riders added, changed, paused and gone."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction

from athletes import outbox
from athletes.access import name_of, record
from athletes.models import Club, Coach, Delivery, Link, Rider, Venue
from athletes.standings import zone_of

#: What a coach may set on a rider.
DETAILS = (
    "squad",
    "given_name",
    "family_name",
    "email",
    "birth_year",
    "zone",
    "language",
    "unit",
    "guardian_name",
    "guardian_email",
    "growth",
    "adult_present",
    "trains_alone",
    "minutes_cap",
    "plan_mail",
    "note",
)
#: The venue that each rider has from the start.
HOME = "Home"


class AddressTaken(Exception):
    """Another rider of the club has this mail address: `rider`."""

    def __init__(self, rider: Rider) -> None:
        super().__init__(rider.pk)
        self.rider = rider


class GuardianMissing(Exception):
    """The rider may be under 18: a guardian's name and mail address are needed."""


def today_of(rider: Rider, now: datetime) -> date:
    """The rider's local day."""
    return now.astimezone(zone_of(rider, rider.club)).date()


def lacks_guardian(rider: Rider, *, on: date) -> bool:
    """Whether a guardian is needed on the day and not named."""
    return rider.is_under_18(on) and not (rider.guardian_name and rider.guardian_email)


@transaction.atomic
def add_rider(*, club: Club, details: Mapping[str, Any], by: Coach, now: datetime) -> Rider:
    """The rider is in the club, active from today, with an empty home venue. Nothing is planned before consent and
    screening. Raises `AddressTaken`, `GuardianMissing`."""
    rider = Rider(club=club, **{name: details[name] for name in DETAILS if name in details})
    rider.joined_on = today_of(rider, now)
    _check(rider, now)
    rider.save()
    Venue.objects.create(club=club, rider=rider, name=HOME)
    record("rider.add", club_id=club.pk, by=name_of(by), now=now, rider=rider)
    return rider


@transaction.atomic
def change_rider(*, rider: Rider, details: Mapping[str, Any], by: Coach, now: datetime) -> list[str]:
    """The rider's details are as given; returns the names of those that changed.

    With a new mail address every link sent to the old one stops, and mail that waits goes to the new one. Raises
    `AddressTaken`, `GuardianMissing`.
    """
    locked = Rider.objects.select_for_update(of=("self",)).select_related("club", "squad").get(pk=rider.pk)
    changed = [name for name in DETAILS if name in details and getattr(locked, name) != details[name]]
    before = {"email": locked.email, "guardian_email": locked.guardian_email}
    for name in changed:
        setattr(locked, name, details[name])
    if not changed:
        return []
    _check(locked, now)
    locked.save(update_fields=changed)
    for field, old in before.items():
        if field in changed:
            readdress(rider=locked, old=old, new=getattr(locked, field), now=now)
    record("rider.change", club_id=locked.club_id, by=name_of(by), now=now, rider=locked, fields=changed)
    return changed


@transaction.atomic
def choose_language(*, rider: Rider, language: str, by: Rider | str, now: datetime) -> bool:
    """Everything for the rider comes in the language from now on, mail that waits included. Returns whether it is new.

    `language` is a code of `settings.LANGUAGES`.
    """
    if not Rider.objects.filter(pk=rider.pk).exclude(language=language).update(language=language):
        return False
    rider.language = language
    record("rider.language", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, language=language)
    return True


def _check(rider: Rider, now: datetime) -> None:
    taken = Rider.objects.filter(email__iexact=rider.email).exclude(pk=rider.pk).first()
    if taken is not None:
        raise AddressTaken(taken)
    if lacks_guardian(rider, on=today_of(rider, now)):
        raise GuardianMissing


def readdress(*, rider: Rider, old: str, new: str, now: datetime) -> None:
    """Links that went to the old address open nothing any more; mail that waits for it goes to the new one."""
    Link.objects.filter(rider=rider).usable(now).update(revoked_at=now)
    if new:
        outbox.redirect(club_id=rider.club_id, rider=rider, old=old, new=new, now=now)
    else:
        outbox.cancel(
            club_id=rider.club_id, reason="address removed", now=now, rider=rider, recipient__iexact=old
        )


# --- coming and going -------------------------------------------------------------------------------------------------


@transaction.atomic
def pause(*, rider: Rider, by: Coach | Rider, now: datetime) -> None:
    """Nothing is planned for the rider until `resume`; plans that wait to go out do not."""
    _set_state(rider, Rider.State.PAUSED, by=by, now=now)
    stop_plans(rider, "paused", now=now)


@transaction.atomic
def resume(*, rider: Rider, by: Coach, now: datetime) -> None:
    """The rider trains again, from the next week that is worked out. Also brings back one who left."""
    _set_state(rider, Rider.State.ACTIVE, by=by, now=now)


@transaction.atomic
def leave(*, rider: Rider, by: Coach, now: datetime) -> None:
    """The rider is no longer in the club: no plans, no mail, and links open nothing. What is kept, and for how long, is
    for retention and erasure."""
    _set_state(rider, Rider.State.LEFT, by=by, now=now)
    outbox.cancel(club_id=rider.club_id, reason="left the club", now=now, rider=rider, coach__isnull=True)
    Link.objects.filter(rider=rider).usable(now).update(revoked_at=now)


def _set_state(rider: Rider, state: str, *, by: Coach | Rider, now: datetime) -> None:
    Rider.objects.filter(pk=rider.pk).update(state=state)
    rider.state = state
    record("rider.state", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, state=str(state))


def stop_plans(rider: Rider, reason: str, *, now: datetime) -> int:
    """Plans that wait to go out do not: what they stand on has changed."""
    return outbox.cancel(
        club_id=rider.club_id,
        reason=reason,
        now=now,
        rider=rider,
        coach__isnull=True,
        channel=Delivery.Channel.PLANS,
    )
