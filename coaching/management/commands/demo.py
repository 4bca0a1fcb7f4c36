"""`manage.py demo`: sets up the demo club with a past, once; `--addresses` prints where to look."""

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from athletes import access
from athletes.models import Link, Rider, User
from coaching.demo import past, scenario
from programs import letters
from programs.models import PlannedSession, WeekPlan


class Command(BaseCommand):
    help = "Sets up the invented demo club with eight weeks of past. A second run changes nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--addresses", action="store_true", help="only print the addresses and logins")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("The demo needs BALLAST_DEMO=1: it makes accounts with a known password.")
        if options["addresses"]:
            self._print_addresses()
            return
        written = scenario.read()
        if User.objects.filter(email=written["staff"][0]["email"]).exists():
            self.stdout.write("The demo club is there already; nothing is changed.")
            return
        with (
            transaction.atomic()
        ):  # a demo that was ended half way leaves nothing, and starts again next time
            self._make(written)

    def _make(self, written: dict[str, Any]) -> None:
        now = timezone.now()
        demo = scenario.set_up(scenario=written, now=now)
        scenario.set_up_second(scenario=written, now=now)
        self.stdout.write(f"{demo.club.name}: {len(demo.personas)} riders. Living their past:")
        past.live(
            demo=demo,
            begins=scenario.first_monday(now),
            until=now,
            progress=lambda line: self.stdout.write(f"  {line}"),
        )

    def _print_addresses(self) -> None:
        written = scenario.read()
        owner = User.objects.get(email=written["staff"][0]["email"])
        (membership,) = access.memberships_of(owner)[:1]
        lines = [
            ("The desk", settings.ADDRESS + reverse("desk")),
            ("  sign in as", f"{owner.email} with password {scenario.PASSWORD}"),
        ]
        address, name = self._rider_link(membership.club, settings.LANGUAGE_CODE)
        lines += [("A rider's check-in", address), ("  who is", name)]
        address, name = self._rider_link(membership.club, "fr")
        lines += [("The same in French", address), ("  who is", name)]
        if settings.MAILBOX:
            lines.append(("Caught mail", settings.ADDRESS + reverse("mailbox")))
        for label, value in lines:
            self.stdout.write(f"{label + ':':<22}{value}")

    def _rider_link(self, club: Any, language: str) -> tuple[str, str]:
        """A fresh link to the oldest session of the last days that is not reported yet, of somebody who reads the
        language, and whose it is."""
        now = timezone.now()
        with access.within(club):
            session = (
                PlannedSession.objects.filter(plan__state=WeekPlan.State.SENT, key__check_in__isnull=True)
                .filter(plan__rider__language=language)
                .filter(on__gte=timezone.localdate() - timedelta(days=7))
                .select_related("plan__rider")
                .order_by("on", "plan__rider__family_name")
                .first()
            )
            if session is None:
                rider = Rider.objects.filter(language=language).order_by("pk")[0]
                link = letters.link(rider, Link.Purpose.PAGE, now=now, lasts=timedelta(days=7))
                return link, rider.name
            link = letters.link(
                session.plan.rider,
                Link.Purpose.SESSION,
                now=now,
                lasts=letters.SESSION_LINK,
                subject=str(session.key_id),
            )
            return link, session.plan.rider.name
