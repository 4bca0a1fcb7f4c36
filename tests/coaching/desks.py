"""Clubs as the desk's tests need them: signed-in browsers, larger squads, weeks that went out and were reported."""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from athletes.concerns import BodyReport, Symptom
from athletes.models import Coach, Rider
from athletes.vocabulary import Region, Side
from programs import checkins, facts, plans
from programs.engine.facts import Done, Week
from programs.engine.quantities import week_days
from programs.models import PlannedSession, WeekPlan
from tests import people

#: The coming week on the Friday of the tests' people.
WEEK = Week(2026, 49)
#: The running week, whose sessions are on its Tuesday and Thursday and so are over on the Friday.
PAST = Week(2026, 48)
#: Names for larger squads, invented.
_GIVEN = (
    "Anouk",
    "Samira",
    "Jo",
    "Brenna",
    "Ilse",
    "Dermot",
    "Petra",
    "Oskar",
    "Maren",
    "Tilde",
    "Runa",
    "Aldous",
)


def signed_in(membership: Coach) -> Client:
    """A browser in which the member has signed in."""
    client = Client()
    client.force_login(membership.user)
    return client


@pytest.fixture
def friday(monkeypatch: pytest.MonkeyPatch) -> datetime:
    """It is the Friday of the tests' people for every view: the coming week is 2026-W49."""
    monkeypatch.setattr(timezone, "now", lambda: people.NOW)
    return people.NOW


def add_riders(someone: people.People, count: int, *, first: int = 0) -> list[Rider]:
    """More riders with kit and times. Call inside `access.within`."""
    added = []
    for number in range(first, first + count):
        given = _GIVEN[number % len(_GIVEN)]
        rider = people._rider(
            someone.club, someone.squad, given, f"Fennimarsh{number}", 1990, f"more{number}", people.NOW
        )
        people._home(someone.club, rider)
        added.append(rider)
    return added


def resolved(someone: people.People) -> Week:
    """The coming week, worked out. Call inside `access.within`."""
    plans.resolve(club=someone.club, week=WEEK, by=someone.coach, now=people.NOW)
    return WEEK


def plan_of(rider: Rider, week: Week) -> WeekPlan:
    """The revision in force."""
    return WeekPlan.objects.of_week(week.year, week.number).current().get(rider=rider)


def past_week(someone: people.People, rider: Rider, week: Week = PAST) -> list[PlannedSession]:
    """A week that went out and was reported in full, with good reps left. Call inside `access.within`."""
    zone = ZoneInfo(someone.club.zone)
    before = datetime.combine(week_days(week)[0] - timedelta(days=3), time(13), zone)
    plans.resolve(club=someone.club, week=week, by=someone.coach, now=before, riders=[rider])
    plan = plan_of(rider, week)
    plans.approve(plan=plan, by=someone.coach, now=before)
    plans.mark_sent(plan=plan, now=before)
    sessions = list(PlannedSession.objects.filter(plan=plan).prefetch_related("items").select_related("key"))
    for session in sessions:
        done = {}
        for item in session.items.all():
            target = facts.read_target(item.target)
            done[item.pk] = Done(amounts=(target.amount,) * target.sets, reps_left=4, load=target.load)
        answers = checkins.Answers(
            form_key=str(session.pk),
            outcome="done",
            done_on=session.on,
            minutes=30,
            session_rpe=5,
            items=done,
        )
        at = datetime.combine(session.on, time(21), zone)
        checkins.submit(key=session.key, answers=answers, by=rider, now=at)
    return sessions


def report_pain(rider: Rider, score: int, region: Region = Region.KNEE) -> None:
    """The rider reports pain in a left-sided site now, by link. Call inside `access.within`."""
    site = BodyReport(on=people.NOW.date(), region=region, side=Side.LEFT, during=score)
    checkins.report_any_time(rider=rider, sites=(site,), form_key=f"pain-{score}", by=rider, now=people.NOW)


def report_symptom(rider: Rider, symptom: Symptom) -> None:
    """The rider reports a warning symptom now, by link. Call inside `access.within`."""
    checkins.report_any_time(
        rider=rider, symptoms=(symptom,), form_key=symptom.value, by=rider, now=people.NOW
    )
