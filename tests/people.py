"""The named people of the tests: two clubs, their staff and their riders.

`wexenfold(now)` and `strangers(now)` each make a club inside its own `access.within` and return who is in it.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from functools import cache

from django.contrib.auth.hashers import make_password

from athletes import access
from athletes.models import (
    Club,
    Coach,
    Consent,
    KitItem,
    Opening,
    RegularRide,
    Rider,
    Screening,
    Squad,
    User,
    Venue,
)
from athletes.notices import CURRENT_CONSENT
from programs.models import Block, Program, SessionTemplate, Slot

#: A Friday in November: the coming ISO week is 2026-W49.
NOW = datetime(2026, 11, 27, 13, 0, tzinfo=UTC)
MONDAY = date(2026, 11, 30)
PASSWORD = "a-long-quiet-hill-road"  # noqa: S105 - of invented people


@dataclass
class People:
    """Who is in a club."""

    club: Club
    owner: Coach
    coach: Coach
    assistant: Coach
    welfare: Coach
    squad: Squad
    rider: Rider
    young_rider: Rider
    venue: Venue
    program: Program


def wexenfold(now: datetime = NOW) -> People:
    """The club whose pages are tested. Call inside a test with database access."""
    return _make(
        "Wexenfold Hill Riders", "wexenfold", ("Tobias Okeldene", "Wren Tollifant", "Marit Tollifant"), now
    )


def strangers(now: datetime = NOW) -> People:
    """Another club, of which nothing may ever show."""
    return _make(
        "Larkmoor Wheelers", "larkmoor", ("Hesper Brandlow", "Corin Maddowfield", "Una Maddowfield"), now
    )


def _make(name: str, domain: str, names: tuple[str, str, str], now: datetime) -> People:
    club = Club(
        name=name, place=domain.title(), zone="Europe/London", emergency_note="Call the emergency number."
    )
    with access.within(club):
        club.save()
        staff = {role: _member(club, role, domain) for role in ("owner", "coach", "assistant", "welfare")}
        squad = Squad.objects.create(club=club, name=f"{domain.title()} hill squad", coach=staff["coach"])
        grown, child, guardian = names
        rider = _rider(club, squad, *grown.split(), 1995, domain, now)
        young = _rider(club, squad, *child.split(), 2012, domain, now, guardian=guardian)
        venue = _home(club, rider)
        _home(club, young)
        program = make_program(club, squad)
    return People(
        club,
        staff["owner"],
        staff["coach"],
        staff["assistant"],
        staff["welfare"],
        squad,
        rider,
        young,
        venue,
        program,
    )


@cache
def _hashed() -> str:
    """The password as stored, hashed once a run: hashing is slow on purpose, and every test makes these people."""
    return make_password(PASSWORD)


def _member(club: Club, role: str, domain: str) -> Coach:
    user = User.objects.create(
        email=f"{role}@{domain}.example", password=_hashed(), name=f"{role.title()} of {domain}"
    )
    return Coach.objects.create(club=club, user=user, role=role)


def _rider(
    club: Club,
    squad: Squad,
    given: str,
    family: str,
    born: int,
    domain: str,
    now: datetime,
    guardian: str = "",
) -> Rider:
    rider = Rider.objects.create(
        club=club,
        squad=squad,
        given_name=given,
        family_name=family,
        email=f"{given.lower()}@{domain}.example",
        birth_year=born,
        guardian_name=guardian,
        guardian_email=f"guardian-of-{given.lower()}@{domain}.example" if guardian else "",
        joined_on=now.date(),
    )
    by = guardian or rider.name
    Consent.objects.create(
        club=club, rider=rider, wording=CURRENT_CONSENT, given_by=by, by_guardian=bool(guardian), given_at=now
    )
    Screening.objects.create(
        club=club,
        rider=rider,
        answered_by=by,
        by_guardian=bool(guardian),
        answered_at=now,
        needs="none",
        valid_until=date(now.year + 1, 11, 1),
    )
    return rider


def _home(club: Club, rider: Rider) -> Venue:
    """A home with three kettlebells, open on Tuesday, Thursday and Saturday, and a key ride on Sunday."""
    venue = Venue.objects.create(
        club=club, rider=rider, name="Home", furniture=["chair", "step", "table", "towel"]
    )
    for kg in (8, 12, 16):
        KitItem.objects.create(
            club=club, venue=venue, implement="kettlebell", kg=Decimal(kg), entered=Decimal(kg), count=1
        )
    for weekday in (1, 3, 5):
        Opening.objects.create(
            club=club, rider=rider, weekday=weekday, start=time(18, 30), minutes=45, venue=venue
        )
    RegularRide.objects.create(club=club, rider=rider, weekday=6, start=time(9), minutes=180, is_key=True)
    return venue


def make_program(club: Club, squad: Squad, *, starts_on: date = date(2026, 11, 2)) -> Program:
    """A build block of twenty weeks with two sessions of four slots each, in use."""
    program = Program.objects.create(
        club=club, squad=squad, name="Winter", starts_on=starts_on, is_active=True
    )
    block = Block.objects.create(club=club, program=program, order=1, name="Build", intent="build", weeks=20)
    for ordinal, patterns in enumerate(
        (("squat", "hinge", "pull", "front-trunk"), ("single-leg", "push", "hinge", "calf")), start=1
    ):
        template = SessionTemplate.objects.create(
            club=club, block=block, ordinal=ordinal, name=f"Session {ordinal}"
        )
        for order, pattern in enumerate(patterns, start=1):
            Slot.objects.create(
                club=club,
                template=template,
                order=order,
                part="main" if order < 4 else "assistance",
                pattern=pattern,
                sets=3 if order < 4 else 2,
            )
    return program
