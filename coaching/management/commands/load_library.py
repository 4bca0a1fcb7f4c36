"""`manage.py load_library`: makes the exercise library in `fixtures/` the current version."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connections
from django.utils import timezone

from programs import club_library, library


class Command(BaseCommand):
    help = "Checks the exercise library in fixtures/ and makes it the current version."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--database", default="owner", help="alias of the tables' owner (default: owner)")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["database"] not in connections:
            raise CommandError("Set DATABASE_OWNER_URL: the library is loaded by the owner of the tables.")
        try:
            loaded = library.load(
                documents=library.read_files(),
                words=library.read_words(),
                using=options["database"],
                now=timezone.now(),
            )
        except library.LibraryFaulty as error:
            raise CommandError("\n".join(str(fault) for fault in error.faults)) from error
        for state in club_library.rebuild_all(using=options["database"], now=timezone.now()):
            self.stderr.write(
                f"club {state.club_id}: its own exercises do not go with this version; its library stays as it was "
                f"({len(state.faults)} faults, shown to its coaches)."
            )
        words = "a new version" if loaded.is_new else "the version already there"
        self.stdout.write(f"{loaded.exercises} exercises, {words} ({loaded.digest[:12]}).")
