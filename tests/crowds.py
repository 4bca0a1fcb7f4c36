"""A club of many riders whose coming week goes out the moment it is approved, committed for other processes to see."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from athletes import access
from athletes.models import Club, Coach, Delivery, Rider, Squad, User
from programs import checkins, plans
from programs.engine.facts import Week
from programs.engine.quantities import week_days, week_of
from programs.models import WeekPlan
from tests import people

GIVEN = ("Alder", "Bryony", "Cole", "Dorrit", "Edda", "Ferrin", "Greta", "Hollis", "Isolde", "Jory")
FAMILY = ("Ashgrove", "Brackenrigg", "Coldwell", "Dunmarsh", "Elderkin", "Fallowmere")


@dataclass
class Crowd:
    """The club, its coach, and riders enough."""

    club: Club
    coach: Coach
    riders: list[Rider]
    week: Week

    def approve(self, riders: list[Rider], *, now: datetime) -> None:
        """The weeks of these riders are approved, and so their mail is due."""
        with access.within(self.club):
            waiting = WeekPlan.objects.filter(rider__in=riders, state=WeekPlan.State.DRAFT)
            done = plans.approve_many(plans=list(waiting), by=self.coach, now=now)
        assert len(done.approved) == len(riders), done.left

    def alert(self, keys: list[str], *, now: datetime) -> None:
        """So many short mails to the coach are due."""
        with access.within(self.club):
            for key in keys:
                checkins._alert(self.riders[0], source=key, now=now)

    def deliveries(self) -> list[Delivery]:
        """All mail of the club, oldest first."""
        with access.within(self.club):
            return list(Delivery.objects.order_by("pk"))

    def count_waiting(self) -> int:
        """How many of them have not come to an end."""
        with access.within(self.club):
            return Delivery.objects.waiting().count()


def make_crowd(size: int, *, name: str = "Wexenfold Hill Riders", now: datetime | None = None) -> Crowd:
    """A club of `size` riders, each with a week that waits for approval, its hour of sending being past."""
    now = now or timezone.now()
    week = week_of(now.date() + timedelta(days=7))
    domain = name.split()[0].lower()
    club = Club(name=name, zone="Europe/London", emergency_note="Call the emergency number.")
    club.resolves_on = club.sends_on = club.resolves_at_hour = club.sends_at_hour = 0
    with access.within(club):
        club.save()
        user = User.objects.create_user(f"owner@{domain}.example", people.PASSWORD, name=f"Owner of {domain}")
        coach = Coach.objects.create(club=club, user=user, role="owner")
        squad = Squad.objects.create(club=club, name="Hill squad", coach=coach)
        people.make_program(club, squad, starts_on=week_days(week)[0] - timedelta(days=28))
        riders = [_rider(club, squad, number, domain, now) for number in range(size)]
        made = plans.resolve(club=club, week=week, by=coach, now=now)
        assert (made.made, made.failed) == (size, ()), made
    return Crowd(club, coach, riders, week)


def _rider(club: Club, squad: Squad, number: int, domain: str, now: datetime) -> Rider:
    given = f"{GIVEN[number % len(GIVEN)]}{number}"
    family = FAMILY[number % len(FAMILY)]
    rider = people._rider(club, squad, given, family, 1990, domain, now)
    people._home(club, rider)
    return rider
