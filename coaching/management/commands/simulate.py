"""`manage.py simulate --riders 60 --weeks 40 --seed 7`: a season of synthetic riders, and what came of it, as tables.

Nothing is written to the database, and without `--program` none is needed. Ends with 1 when a plan broke a safety
property.
"""

import json
import uuid
from collections.abc import Callable, Mapping
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from datetime import date
from itertools import batched
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from athletes import access
from coaching.demo import scenario
from programs import facts as translator
from programs import library, outlines, plans, playbills, rehearsals
from programs.engine import codec, tally
from programs.engine.cast import Ages, Cast, KitName, Surroundings
from programs.engine.facts import Library
from programs.engine.library import read_entries, read_library
from programs.engine.played import PlayedSeason
from programs.engine.rehearsal import Script, rehearse_each
from programs.models import Exercise, Program

MOST_RIDERS, MOST_WEEKS = 5000, 104
#: How many riders a process takes at a time: each share brings the library along.
SHARE = 3
#: The demo's program begins on the Monday that its season is written for.
DEMO_BEGINS = date(2026, 9, 28)


@dataclass(frozen=True)
class Stage:
    """What a season is lived on: the program and its name, the library, the names of exercises."""

    title: str
    script: Script
    library: Library
    names: Mapping[str, str]
    likes: tuple[Surroundings, ...] = ()


class Command(BaseCommand):
    help = "Lets synthetic riders live a season by a program and prints what came of it. Writes nothing."
    #: The checks would ask the database for its version, and none is needed here.
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--riders", type=_between(1, MOST_RIDERS), default=60)
        parser.add_argument("--weeks", type=_between(1, MOST_WEEKS), default=40)
        parser.add_argument("--seed", type=int, default=7, help="the same seed gives the same season")
        parser.add_argument(
            "--program", type=int, help="the number of a club's program, as in the address of its page"
        )
        parser.add_argument("--club", type=uuid.UUID, help="the club's id, when there is more than one club")
        parser.add_argument(
            "--like-squad",
            action="store_true",
            help="riders of the ages, kit, times and levels of the program's squad",
        )
        parser.add_argument(
            "--squad", default="Hill squad", help="whose program of the demo, without --program"
        )
        parser.add_argument("--kit", choices=[str(name) for name in KitName], default=KitName.MIXED.value)
        parser.add_argument("--ages", choices=[str(name) for name in Ages], default=Ages.MIXED.value)
        parser.add_argument("--minutes", type=_between(15, 120), help="of each session; mixed when left out")
        parser.add_argument(
            "--attends", type=_between(0, 100), help="per cent of sessions that are done; mixed when left out"
        )
        parser.add_argument("--json", type=Path, help="also write all of it to this file")
        parser.add_argument("--processes", type=_between(1, 64), default=2)

    def handle(self, *args: Any, **options: Any) -> None:
        stage = self._club_stage(options) if options["program"] else _demo_stage(options["squad"])
        cast = Cast(
            riders=options["riders"],
            weeks=options["weeks"],
            seed=options["seed"],
            kit=KitName(options["kit"]),
            ages=Ages(options["ages"]),
            minutes=options["minutes"],
            attends=options["attends"],
            likes=stage.likes,
        )
        seasons = self._live(stage, cast, options["processes"])
        counted = tally.count(seasons)
        self.stdout.write(
            playbills.write_tables(counted, title=stage.title, seed=cast.seed, names=stage.names)
        )
        if options["json"]:
            _write_json(options["json"], stage, cast, seasons, counted)
            self.stdout.write(f"Written to {options['json']}.")
        if counted.broken:
            raise CommandError(f"{len(counted.broken)} violations of safety properties.")

    def _club_stage(self, options: Mapping[str, Any]) -> Stage:
        clubs = [options["club"]] if options["club"] else [club.pk for club in access.clubs_of_all()]
        for club in clubs:
            with access.within(club):
                program = Program.objects.select_related("squad__club").filter(pk=options["program"]).first()
                if program is not None:
                    return _stage_of(program, like_squad=options["like_squad"])
        raise CommandError(f"There is no program {options['program']}.")

    def _live(self, stage: Stage, cast: Cast, processes: int) -> list[PlayedSeason]:
        """Every rider's season in their order, whoever worked it out."""
        given = (stage.script, cast, stage.library)
        shares = list(batched(range(cast.riders), SHARE))
        if min(processes, len(shares)) == 1:
            lived: list[PlayedSeason] = []
            for share in shares:
                lived += rehearse_each(*given, share)
                self._progress(len(lived), cast.riders)
            return lived
        # Begun afresh rather than forked: nothing of this process, least of all its database connection, goes along.
        with ProcessPoolExecutor(min(processes, len(shares)), mp_context=get_context("spawn")) as pool:
            work = [pool.submit(rehearse_each, *given, share) for share in shares]
            done = 0
            for future in as_completed(work):
                done += len(future.result())
                self._progress(done, cast.riders)
            return [season for future in work for season in future.result()]

    def _progress(self, done: int, riders: int) -> None:
        """A bar on standard error where somebody watches, else a line at each quarter."""
        if self.stderr.isatty():
            filled = 40 * done // riders
            end = "\n" if done == riders else ""
            self.stderr.write(f"\r{'#' * filled}{'.' * (40 - filled)} {done} of {riders} riders", ending=end)
            self.stderr.flush()
        elif 4 * done // riders > 4 * max(0, done - SHARE) // riders:
            self.stderr.write(f"{done} of {riders} riders have lived their season.")


def _between(low: int, high: int) -> Callable[[str], int]:
    def number(text: str) -> int:
        value = int(text)
        if not low <= value <= high:
            raise ValueError(text)
        return value

    number.__name__ = f"number from {low} to {high}"  # named in the message of argparse
    return number


def _stage_of(program: Program, *, like_squad: bool) -> Stage:
    read = outlines.read_rows(program.pk)
    if not outlines.blocks_of(read):
        raise CommandError("This program has no block yet.")
    club = read.squad.club
    today = plans.local_date(club, timezone.now())
    likes = rehearsals.likes_of(read.squad, club=club, today=today) if like_squad else ()
    if like_squad and not likes:
        raise CommandError("No rider of this squad has times and kit on record.")
    return Stage(
        title=read.name,
        script=rehearsals.script_of(read),
        library=translator.current_library(),
        names=dict(Exercise.objects.values_list("slug", "name")),
        likes=likes,
    )


def _demo_stage(squad: str) -> Stage:
    written = scenario.read()
    if squad not in written["programs"]:
        raise CommandError(f"The demo's squads with a program are: {', '.join(written['programs'])}.")
    documents = library.read_files()
    return Stage(
        title=written["programs"][squad]["name"],
        script=scenario.script_of(written, squad, DEMO_BEGINS),
        library=read_library(documents),
        names={entry.exercise.slug: entry.name for entry in read_entries(documents)},
    )


def _write_json(
    path: Path, stage: Stage, cast: Cast, seasons: list[PlayedSeason], counted: tally.Tally
) -> None:
    document = {
        "assumptions": playbills.ASSUMPTIONS,
        "program": stage.title,
        "cast": codec.to_document(cast),
        "tally": codec.to_document(counted),
        "seasons": [codec.to_document(season) for season in seasons],
    }
    path.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
