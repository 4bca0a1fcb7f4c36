"""`manage.py found_club`: makes a club and its first owner; asks for whatever is not given."""

import getpass
import zoneinfo
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone

from athletes import clubs
from athletes.models import User


class Command(BaseCommand):
    help = (
        "Makes a club and its owner. The password is asked for, or read from the standard input with --stdin."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--name", help="the club's name")
        parser.add_argument("--place", default="", help="where it is")
        parser.add_argument("--zone", default="Europe/London", help="its time zone, such as Europe/London")
        parser.add_argument("--owner-name", help="the owner's name")
        parser.add_argument("--owner-email", help="the owner's mail address")
        parser.add_argument("--stdin", action="store_true", help="read the password from standard input")

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["name"] or input("Name of the club: ").strip()
        owner_name = options["owner_name"] or input("Your name: ").strip()
        email = (options["owner_email"] or input("Your mail address: ")).strip().lower()
        _check(name, owner_name, email, options["zone"])
        password = input() if options["stdin"] else getpass.getpass("A password of 15 or more characters: ")
        try:
            validate_password(password)
        except ValidationError as error:
            raise CommandError("\n".join(error.messages)) from error
        with transaction.atomic():
            owner = User.objects.create_user(email, password, name=owner_name)
            club, _membership = clubs.found(
                name=name, owner=owner, now=timezone.now(), zone=options["zone"], place=options["place"]
            )
        self.stdout.write(f"{club.name} is there. Sign in as {email}.")


def _check(name: str, owner_name: str, email: str, zone: str) -> None:
    """Refuses what cannot be, each with what to change."""
    if not name or not owner_name:
        raise CommandError("Give the club's name and the owner's name.")
    try:
        validate_email(email)
    except ValidationError as error:
        raise CommandError(f"{email or 'An empty text'} is not a mail address.") from error
    if zone not in zoneinfo.available_timezones():
        raise CommandError(f"{zone} is no time zone; give one such as Europe/London.")
    if User.objects.filter(email=email).exists():
        raise CommandError(f"There is an account for {email} already. Sign in, or give another address.")
