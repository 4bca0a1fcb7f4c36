"""The demo club as it is set up: people, kit, diaries, races, programs. Read from `fixtures/demo/`."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import yaml
from django.conf import settings

from athletes import access
from athletes.models import (
    Club,
    Coach,
    Consent,
    KitItem,
    Opening,
    Race,
    RegularRide,
    Rider,
    Screening,
    Squad,
    User,
    Venue,
)
from athletes.vocabulary import TRAINED, Pattern, RacePriority, Region, Side
from programs import facts, levels
from programs.engine import facts as engine
from programs.engine.facts import CheckResult
from programs.engine.quantities import shift_week, week_of
from programs.engine.rehearsal import Script
from programs.engine.simulate import Episode, Persona
from programs.models import Block, Program, SessionTemplate, Slot

FILE = Path(__file__).resolve().parent.parent.parent / "fixtures" / "demo" / "wexenfold.yaml"
#: The password of every account of the demo, printed when it starts.
PASSWORD = "wexenfold-hill-riders"  # noqa: S105 - of a demo that holds nobody's data
#: Up to which level the movement check goes well, by squad, where a rider's row says nothing else.
USUAL_LEVEL = {"Hill squad": 4, "Young riders": 2, "Long road": 3}
#: How long the demo's past is, in weeks.
PAST_WEEKS = 8


@dataclass(frozen=True, slots=True)
class DemoClub:
    """The club that was set up, and how each of its riders responds, by the rider's number."""

    club: Club
    owner: Coach
    personas: dict[int, Persona]


def read() -> dict[str, Any]:
    """The scenario as written."""
    document: dict[str, Any] = yaml.safe_load(FILE.read_text(encoding="utf-8"))
    return document


def first_monday(now: datetime) -> date:
    """The Monday on which the demo's season began: `PAST_WEEKS` before the running week."""
    today = now.date()
    return today - timedelta(days=today.weekday()) - timedelta(weeks=PAST_WEEKS)


def set_up(*, scenario: dict[str, Any], now: datetime) -> DemoClub:
    """The club with everything but a past. Call outside `within`."""
    begins = first_monday(now)
    club = _club(scenario["club"], begins)
    with access.within(club):
        club.save()
        staff = {one["email"]: _member(club, one) for one in scenario["staff"]}
        squads = {
            one["name"]: Squad.objects.create(club=club, name=one["name"], coach=staff[one["coach"]])
            for one in scenario["squads"]
        }
        hall = _hall(club, scenario["hall"])
        personas = {}
        for row in scenario["riders"]:
            rider = _rider(club, squads[row["squad"]], row, scenario, hall, begins)
            _movement_check(rider, row, next(iter(staff.values())), begins)
            personas[rider.pk] = persona_of(row)
        _races(club, scenario["races"], begins)
        for squad, written in scenario["programs"].items():
            _program(club, squads[squad], written, scenario["templates"], begins)
    return DemoClub(club, next(iter(staff.values())), personas)


def set_up_second(*, scenario: dict[str, Any], now: datetime) -> Club:
    """Another, small club, which exists only to show that nothing crosses."""
    written = scenario["second_club"]
    club = Club(name=written["name"], place=written["place"])
    with access.within(club):
        club.save()
        (owner,) = [_member(club, one) for one in written["staff"]]
        squad = Squad.objects.create(club=club, name="Everybody", coach=owner)
        for name in written["riders"]:
            given, family = name.split(" ", 1)
            Rider.objects.create(
                club=club,
                squad=squad,
                given_name=given,
                family_name=family,
                email=f"{given.lower()}@larkmoor.example",
                birth_year=now.year - 35,
                joined_on=now.date(),
            )
    return club


def persona_of(row: dict[str, Any]) -> Persona:
    """How the rider of a row responds."""
    return Persona(
        attends=row.get("attends", 0.9),
        gain=row.get("gain", 1.0),
        quiet_from=row.get("quiet_from"),
        episodes=tuple(
            Episode(week, Region(region), Side(side), score)
            for week, region, side, score in row.get("pain", [])
        ),
    )


def _club(written: dict[str, Any], begins: date) -> Club:
    return Club(
        name=written["name"],
        place=written["place"],
        zone=written["zone"],
        emergency_note=written["emergency_note"],
        limits_confirmed_by=written["limits_confirmed_by"],
        limits_confirmed_on=begins - timedelta(days=20),
    )


def _member(club: Club, written: dict[str, Any]) -> Coach:
    user = User.objects.create_user(written["email"], PASSWORD, name=written["name"])
    return Coach.objects.create(club=club, user=user, role=written["role"])


def _hall(club: Club, written: dict[str, Any]) -> Venue:
    venue = Venue.objects.create(club=club, name=written["name"], furniture=written["furniture"])
    for item in written["items"]:
        for mass in sorted(set(item.get("masses", []))):
            _implement(venue, item["implement"], mass, item["masses"].count(mass))
        for level in item.get("levels", []):
            KitItem.objects.create(club=club, venue=venue, implement=item["implement"], level=level)
        if item["implement"] == "barbell":
            KitItem.objects.create(
                club=club,
                venue=venue,
                implement="barbell",
                kg=Decimal(item["bar"]),
                entered=Decimal(item["bar"]),
                details={
                    "collars_kg": str(item["collars"]),
                    "disc_pairs": [[str(mass), pairs] for mass, pairs in item["disc_pairs"]],
                },
            )
    return venue


def _implement(venue: Venue, implement: str, mass: float, count: int) -> None:
    kg = Decimal(str(mass))
    KitItem.objects.create(
        club_id=venue.club_id, venue=venue, implement=implement, kg=kg, entered=kg, count=count
    )


def _rider(
    club: Club, squad: Squad, row: dict[str, Any], scenario: dict[str, Any], hall: Venue, begins: date
) -> Rider:
    given, family = row["name"].split(" ", 1)
    guardian = row.get("guardian", "")
    rider = Rider.objects.create(
        club=club,
        squad=squad,
        given_name=given,
        family_name=family,
        email=f"{given.lower()}.{family.lower().replace(' ', '-')}@wexenfold.example",
        birth_year=begins.year - row["age"],
        language=row.get("language", settings.LANGUAGE_CODE),
        guardian_name=guardian,
        guardian_email=f"{guardian.lower().replace(' ', '.')}@wexenfold.example" if guardian else "",
        growth=row.get("growth", "unknown"),
        adult_present=row.get("adult", False),
        trains_alone=row["days"] != "hall",
        minutes_cap=row.get("minutes", 45),
        joined_on=begins - timedelta(days=14),
    )
    venue = hall if row["kit"] == "hall" else _home(rider, scenario["kits"][row["kit"]])
    for weekday, start, minutes in scenario["days"][row["days"]]:
        Opening.objects.create(
            club=club,
            rider=rider,
            weekday=weekday,
            start=start,
            minutes=minutes,
            venue=hall if row["days"] == "hall" else venue,
        )
    for weekday, start, minutes, is_key in scenario["rides"][row["ride"]]:
        RegularRide.objects.create(
            club=club, rider=rider, weekday=weekday, start=start, minutes=minutes, is_key=is_key
        )
    _papers(rider, row, begins)
    return rider


def _home(rider: Rider, kit: dict[str, Any]) -> Venue:
    venue = Venue.objects.create(club_id=rider.club_id, rider=rider, name="Home", furniture=kit["furniture"])
    for implement in ("kettlebell", "dumbbell"):
        for mass in sorted(set(kit.get(implement, []))):
            _implement(venue, implement, mass, kit[implement].count(mass))
    for level in kit.get("band", []):
        KitItem.objects.create(club_id=rider.club_id, venue=venue, implement="band", level=level)
    return venue


def _papers(rider: Rider, row: dict[str, Any], begins: date) -> None:
    """Consent and screening, dated before the season; left undone where the scenario says so."""
    if row.get("no_consent"):
        return
    at = datetime.combine(begins - timedelta(days=10), time(19), tzinfo=UTC)
    by = rider.guardian_name or rider.name
    Consent.objects.create(
        club_id=rider.club_id,
        rider=rider,
        wording="2026-11",
        given_by=by,
        by_guardian=bool(rider.guardian_name),
        given_at=at,
    )
    needs = "clearance" if row.get("clearance") == "missing" else "none"
    Screening.objects.create(
        club_id=rider.club_id,
        rider=rider,
        answered_by=by,
        by_guardian=bool(rider.guardian_name),
        answered_at=at,
        needs=needs,
        valid_until=at.date() + timedelta(days=365),
    )


def _movement_check(rider: Rider, row: dict[str, Any], by: Coach, begins: date) -> None:
    """The movement check before the season: everything that suits a beginner is passed up to a level, the rest not."""
    if row.get("no_consent"):
        return
    passed = row.get("level", USUAL_LEVEL[row["squad"]])
    results = {
        exercise.slug: CheckResult.PASS if exercise.level <= passed else CheckResult.NOT_YET
        for exercise in facts.current_library().exercises
        if exercise.for_beginners and exercise.level <= passed + 1 and exercise.pattern in TRAINED
    }
    at = datetime.combine(begins - timedelta(days=7), time(19), tzinfo=UTC)
    levels.place(rider=rider, results=results, checked_by=by.user.name, by=by, now=at)


def _races(club: Club, written: list[dict[str, Any]], begins: date) -> None:
    for race in written:
        Race.objects.create(
            club=club,
            name=race["name"],
            on=begins + timedelta(weeks=race["in_weeks"], days=race["weekday"]),
            start=race["start"],
            priority=race["priority"],
        )


def _program(
    club: Club, squad: Squad, written: dict[str, Any], templates: dict[str, Any], begins: date
) -> None:
    program = Program.objects.create(
        club=club, squad=squad, name=written["name"], starts_on=begins, is_active=True
    )
    for order, block in enumerate(written["blocks"], start=1):
        row = Block.objects.create(
            club=club,
            program=program,
            order=order,
            name=block["name"],
            intent=block["intent"],
            weeks=block["weeks"],
            sessions=block["sessions"],
        )
        for ordinal, name in enumerate(block["templates"], start=1):
            _template(club, row, ordinal, templates[name])


def _template(club: Club, block: Block, ordinal: int, written: dict[str, Any]) -> None:
    template = SessionTemplate.objects.create(
        club=club, block=block, ordinal=ordinal, name=written["name"], format=written["format"]
    )
    for order, (part, pattern, sets, rest_s) in enumerate(written["slots"], start=1):
        Slot.objects.create(
            club=club, template=template, order=order, part=part, pattern=pattern, sets=sets, rest_s=rest_s
        )


# --- the programs without a database ----------------------------------------------------------------------------------


def script_of(scenario: dict[str, Any], squad: str, begins: date) -> Script:
    """A squad's program with the club's races, as the engine sees them. Raises `KeyError` for an unknown squad."""
    blocks: list[engine.Block] = []
    first = week_of(begins)
    for written in scenario["programs"][squad]["blocks"]:
        last = shift_week(first, written["weeks"] - 1)
        templates = tuple(
            _engine_template(ordinal, name, scenario["templates"][name])
            for ordinal, name in enumerate(written["templates"], start=1)
        )
        intent = engine.Phase(written["intent"])
        blocks.append(engine.Block(first, last, intent, written["sessions"], templates, written["name"]))
        first = shift_week(last, 1)
    return Script(week_of(begins), tuple(blocks), _engine_races(scenario["races"], begins))


def _engine_template(ordinal: int, name: str, written: dict[str, Any]) -> engine.Template:
    slots = tuple(
        engine.Slot(f"{name}-{order}", engine.Part(part), Pattern(pattern), sets=sets, rest_s=rest_s)
        for order, (part, pattern, sets, rest_s) in enumerate(written["slots"], start=1)
    )
    return engine.Template(ordinal, written["name"], slots, engine.Format(written["format"]))


def _engine_races(written: list[dict[str, Any]], begins: date) -> tuple[engine.Race, ...]:
    return tuple(
        engine.Race(
            begins + timedelta(weeks=race["in_weeks"], days=race["weekday"]),
            facts.minutes_of(time.fromisoformat(race["start"])),
            race["name"],
            RacePriority(race["priority"]),
        )
        for race in written
    )
