"""Two clubs in the middle of a season, with at least one row of every kind in each: what guards of every page stand on.

It is a Friday at one in the afternoon. The rider's running week has gone out and one of its sessions is reported, with
a sore knee; the coming week waits to be looked at. Everything comes from the real verbs where a verb exists.

They are made once a module, in one transaction that is rolled back at its end; a test takes `world` and what it writes
is taken back. `WORLD_NOW` is the clock of everything that runs meanwhile.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from django.apps import apps
from django.db import models, transaction
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from athletes import access, clubs, followups, outbox, roster
from athletes.concerns import BodyReport as BodyValue
from athletes.models import (
    Absence,
    BikeHours,
    ClinicianLimit,
    Club,
    Delivery,
    FollowUp,
    Link,
    MovementCheck,
    PainBaseline,
    Race,
    RosterImport,
    Screening,
    Suppression,
    SymptomReport,
    Venue,
)
from athletes.tenancy import is_tenant
from athletes.vocabulary import Region, Side
from programs import checkins, club_library, facts, handbooks, plans
from programs.engine.facts import Done, Week
from programs.models import (
    CheckInVersion,
    Handbook,
    LevelMove,
    PlannedSession,
    SessionKey,
    ShippedExercise,
    WeekPlan,
)
from tests import people

#: The Friday of the running week, after the hour at which the coming one is worked out.
WORLD_NOW = people.NOW + timedelta(days=7)
RUNNING, COMING = Week(2026, 49), Week(2026, 50)
#: Stands in every free text about health, and nowhere else.
HEALTH_WORD = "Quillsedge"


@dataclass
class Season:
    """One club with everything in it."""

    people: people.People
    sent: WeekPlan
    waiting: WeekPlan
    key: SessionKey
    unreported: SessionKey
    follow_up: FollowUp
    plain_follow_up: FollowUp
    delivery: Delivery
    race: Race
    holiday: Absence
    hall: Venue
    roster: RosterImport
    #: The token of a link of each purpose, good at `WORLD_NOW`; `stale` are those that were good until an hour ago.
    tokens: dict[str, str] = field(default_factory=dict)
    stale: dict[str, str] = field(default_factory=dict)

    @property
    def club(self) -> Club:
        return self.people.club

    def link(self, purpose: str, *, is_stale: bool = False) -> Link:
        """The row of the link of a purpose."""
        tokens = self.stale if is_stale else self.tokens
        with access.within(self.club):
            return Link.objects.get(token_hash=access.hash_of(tokens[purpose]))


@dataclass
class World:
    """The club whose pages are tested, and another of which nothing may ever show."""

    ours: Season
    theirs: Season


def build() -> World:
    """Both clubs, in the database. Call with a clock at `WORLD_NOW` and within one transaction or none."""
    return World(_season(people.wexenfold()), _season(people.strangers()))


def tenant_models() -> list[type[models.Model]]:
    """Every model whose rows belong to one club."""
    return [model for model in apps.get_models() if is_tenant(model)]


def project_models() -> list[type[models.Model]]:
    """Every model of the project's own apps."""
    return [
        model for model in apps.get_models() if model.__module__.split(".")[0] in ("athletes", "programs")
    ]


# --- fixtures ---------------------------------------------------------------------------------------------------------


@contextmanager
def clock_stands(now: datetime = WORLD_NOW) -> Iterator[None]:
    """Everything that asks for the time, in any thread, is told `now`."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(timezone, "now", lambda: now)
        yield


@contextmanager
def undone() -> Iterator[None]:
    """Whatever is written inside is taken back."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def built_world(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    """Both clubs for the tests of a module, with the clock standing.

    A test with `fresh_database` closes the connection that holds them: it belongs into a module of its own.
    """
    with django_db_blocker.unblock(), clock_stands(), undone():
        yield build()


@pytest.fixture
def world(built_world: World) -> Iterator[World]:
    """Both clubs, with whatever the test writes taken back at its end."""
    with undone():
        yield built_world


# --- making -----------------------------------------------------------------------------------------------------------


def _season(who: people.People) -> Season:
    with access.within(who.club):
        sent = _send_running_week(who)
        key = _check_in(who, sent)
        _add_health(who)
        plans.resolve(club=who.club, week=COMING, by=who.coach, now=WORLD_NOW)
        unreported = SessionKey.objects.get(
            rider=who.rider,
            iso_week=RUNNING.number,
            planned__plan__state=WeekPlan.State.SENT,
            check_in__isnull=True,
        )
        season = Season(
            people=who,
            sent=WeekPlan.objects.of_week(RUNNING.year, RUNNING.number).current().get(rider=who.rider),
            waiting=WeekPlan.objects.of_week(COMING.year, COMING.number).current().get(rider=who.rider),
            key=key,
            unreported=unreported,
            follow_up=FollowUp.objects.open().get(rider=who.rider, topic="pain"),
            plain_follow_up=_plain_follow_up(who),
            delivery=Delivery.objects.filter(rider=who.rider).latest("pk"),
            race=_add_race(who),
            holiday=_add_days_away(who),
            hall=Venue.objects.create(
                club=who.club, name=f"{who.club.place} hall", furniture=["chair", "step"]
            ),
            roster=_add_roster(who),
        )
        _add_rest(who, season)
        for purpose in Link.Purpose.values:
            season.tokens[purpose] = _link(season, purpose, made_at=WORLD_NOW)
            season.stale[purpose] = _link(season, purpose, made_at=WORLD_NOW - timedelta(days=1, hours=1))
    return season


def _link(season: Season, purpose: str, *, made_at: datetime) -> str:
    subject = str(season.key.pk) if purpose == Link.Purpose.SESSION else ""
    return access.make_link(
        rider=season.people.rider, purpose=purpose, subject=subject, now=made_at, lasts=timedelta(days=1)
    )


def _send_running_week(who: people.People) -> WeekPlan:
    plans.resolve(club=who.club, week=RUNNING, by=who.coach, now=people.NOW)
    plan = WeekPlan.objects.get(rider=who.rider)
    plans.approve(plan=plan, by=who.coach, now=people.NOW)
    plans.mark_sent(plan=plan, now=people.NOW + timedelta(days=2, hours=4))
    return plan


def _check_in(who: people.People, plan: WeekPlan) -> SessionKey:
    """The week's first session is reported, with a knee that hurts."""
    session = PlannedSession.objects.filter(plan=plan).select_related("key").earliest("on")
    done = {
        item.pk: Done(amounts=(target.amount,) * target.sets, reps_left=4)
        for item in session.items.all()
        for target in [facts.read_target(item.target)]
    }
    answers = checkins.Answers(
        form_key="one",
        outcome="done",
        done_on=session.on,
        minutes=35,
        session_rpe=4,
        items=done,
        sites=(BodyValue(on=session.on, region=Region.KNEE, side=Side.LEFT, during=6),),
    )
    at = people.NOW + timedelta(days=(session.on - people.NOW.date()).days, hours=7)
    (eased,) = checkins.submit(key=session.key, answers=answers, by=who.rider, now=at).eased
    plans.mark_sent(plan=eased, now=at)
    CheckInVersion.objects.filter(check_in__key=session.key).update(note=f"{HEALTH_WORD} on the stairs")
    return session.key


def _add_health(who: people.People) -> None:
    club, rider, today = who.club, who.rider, WORLD_NOW.date()
    followups.note(
        follow_up=FollowUp.objects.open().get(rider=rider, topic="pain"),
        text=f"Rang about {HEALTH_WORD} of {club.place}.",
        contact=True,
        by=who.coach,
        now=WORLD_NOW,
    )
    ClinicianLimit.objects.create(
        club=club,
        rider=rider,
        set_by=f"{HEALTH_WORD} of {club.place}",
        set_on=today,
        pattern="push",
        max_reps=12,
    )
    MovementCheck.objects.create(
        club=club,
        rider=rider,
        exercise="chair-stand",
        result="pass",
        checked_on=today,
        checked_by=f"{who.coach}",
    )
    SymptomReport.objects.create(
        club=club,
        rider=rider,
        on=today - timedelta(days=30),
        event="illness",
        reported_at=WORLD_NOW - timedelta(days=30),
        cleared_by=f"{HEALTH_WORD} of {club.place}",
        cleared_on=today - timedelta(days=20),
    )
    PainBaseline.objects.create(
        club=club,
        rider=rider,
        region="shoulder",
        limit=3,
        seen_by=f"{HEALTH_WORD} of {club.place}",
        review_on=today + timedelta(days=60),
    )
    Screening.objects.filter(rider=rider).update(
        cleared_by=f"{HEALTH_WORD} of {club.place}", cleared_on=today - timedelta(days=60)
    )


def _plain_follow_up(who: people.People) -> FollowUp:
    """A matter that is no health detail: silence."""
    return FollowUp.objects.create(
        club=who.club,
        rider=who.young_rider,
        topic="silent",
        urgency=1,
        owner=who.coach,
        opened_at=WORLD_NOW,
        due_at=WORLD_NOW + timedelta(days=3),
    )


def _add_race(who: people.People) -> Race:
    return clubs.add_race(
        club=who.club,
        name=f"{who.club.place} hill climb",
        on=date(2027, 3, 14),
        start=WORLD_NOW.time(),
        priority="priority",
        squad=who.squad,
        by=who.owner,
        now=WORLD_NOW,
    )


def _add_days_away(who: people.People) -> Absence:
    """The rider is away for a week, and the whole club for another, which is returned."""
    week = {"club": who.club, "name": f"Away from {who.club.place}"}
    Absence.objects.create(**week, rider=who.rider, from_on=date(2027, 2, 1), until_on=date(2027, 2, 7))
    return Absence.objects.create(**week, from_on=date(2026, 12, 24), until_on=date(2026, 12, 31))


def _add_roster(who: people.People) -> RosterImport:
    file = (
        "Given name,Family name,Mail address,Birth year\n"
        f"Perrin,Ashgrove of {who.club.place},perrin@{who.club.place.lower()}.example,1990\n"
    )
    return roster.upload(
        club=who.club, name=f"{who.club.place}.csv", data=file.encode(), by=who.coach, now=WORLD_NOW
    )


def own_exercise(place: str) -> club_library.Entry:
    """A squat of the club's own, sound by the rules of the library."""
    return club_library.Entry(
        pattern="squat",
        document={
            "slug": "hill-squat",
            "name": f"Hill squat of {place}",
            "level": 2,
            "purpose": f"Readies the legs for the hills of {place}.",
            "set_up": ["Stand with the feet at hip width."],
            "cues": ["Hips back and down.", "Knees follow the toes.", "Stand tall."],
            "faults": [{"see": "Heels lift", "say": "Sit back more."}],
            "measure": "reps",
            "amount": {"low": 6, "high": 15},
            "tempo": {"lower": 3, "pause": 0, "lift": 2},
            "for_beginners": True,
            "loading": "body",
            "regions": {"primary": ["knee", "hip", "front-thigh"], "secondary": []},
            "muscles": {"quadriceps": 1, "glutes": 0.5},
            "leave_out": [{"region": "knee", "words": "Leave out if the knee hurts on the way down."}],
        },
        earned_from=[
            {
                "easier": "chair-stand",
                "criterion": {"kind": "reps", "sets": 2, "value": 12, "reps_left": 3},
                "words": "2 x 12 without the hands, 3 good reps left.",
            }
        ],
    )


def own_words(place: str) -> club_library.Entry:
    """The club's own words for a shipped exercise."""
    shipped = club_library.plain(ShippedExercise.objects.get(pk="goblet-squat").document)
    return club_library.Entry("squat", {**shipped, "purpose": f"Leg strength for the hills of {place}."})


def _add_rest(who: people.People, season: Season) -> None:
    """What no verb has made so far, so that every kind of row is there."""
    BikeHours.objects.create(club=who.club, rider=who.rider, iso_year=2026, iso_week=48, hours=Decimal("7.5"))
    Suppression.objects.create(
        club=who.club, address=f"gone@{who.club.place.lower()}.example", why="bounced", at=WORLD_NOW
    )
    if not LevelMove.objects.filter(rider=who.rider).exists():
        item = season.sent.sessions.first().items.first()
        LevelMove.objects.create(
            club=who.club,
            rider=who.rider,
            pattern=item.pattern,
            exercise_id=item.exercise_id,
            since_on=WORLD_NOW.date(),
            why=LevelMove.Why.COACH,
        )
    own = [own_exercise(who.club.place), own_words(who.club.place)]
    club_library.save(club=who.club, entries=own, by=who.coach, now=WORLD_NOW)
    book = handbooks.want(club=who.club, language="en-gb", by=who.coach, now=WORLD_NOW)
    Handbook.objects.filter(pk=book.pk).update(pdf=b"%PDF", made_at=WORLD_NOW)
    outbox.enqueue(
        club_id=who.club.pk,
        kind="digest",
        dedup_key="world",
        recipient=who.coach.user.email,
        coach=who.coach,
        due_at=WORLD_NOW + timedelta(hours=1),
        now=WORLD_NOW,
    )
