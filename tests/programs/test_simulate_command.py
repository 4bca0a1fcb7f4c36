"""`manage.py simulate`: tables that a coach can read, the same whoever works them out, and no database."""

import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from athletes import access
from coaching.demo import scenario
from coaching.management.commands import simulate
from programs import outlines, rehearsals
from programs.engine.codec import from_document
from programs.engine.played import Broken, PlayedSeason
from programs.engine.rehearsal import Script
from programs.engine.tally import Tally, count
from programs.models import Program
from tests import people

PROJECT = Path(__file__).resolve().parents[2]
SMALL = {"riders": 4, "weeks": 6, "seed": 7, "processes": 1}


def run(**options: Any) -> str:
    out, err = StringIO(), StringIO()
    call_command("simulate", stdout=out, stderr=err, **{**SMALL, **options})
    return out.getvalue()


def test_the_tables_say_what_a_coach_wants_to_know_in_100_columns() -> None:
    printed = run(riders=8, weeks=12)
    assert "8 riders, 12 weeks from 2026-09-28 (2026-W40), seed 7" in printed
    assert "Synthetic riders, our assumptions; nothing here predicts a real rider." in printed
    for heading in (
        "Sessions:",
        "Week by week",
        "Sets asked by pattern",
        "Main exercise, squat",
        "Violations",
    ):
        assert heading in printed
    assert re.search(r"\d+ asked, \d+ done \(\d+ %\)", printed)
    assert [line for line in printed.splitlines() if len(line) > 100] == []


def test_it_ends_well_when_nothing_was_broken() -> None:
    assert "Violations of safety properties: 0" in run()


def test_the_same_seed_prints_the_same_and_another_another() -> None:
    assert run() == run()
    assert run() != run(seed=8).replace("seed 8", "seed 7")


def test_two_processes_print_what_one_does(tmp_path: Path) -> None:
    one, two = tmp_path / "one.json", tmp_path / "two.json"
    run(json=one)
    run(json=two, processes=2)
    assert one.read_text() == two.read_text()


def test_a_violation_is_printed_and_ends_the_command_badly(monkeypatch: pytest.MonkeyPatch) -> None:
    honest = simulate.rehearse_each

    def broken(*args: Any) -> tuple[PlayedSeason, ...]:
        return tuple(_broken(season) for season in honest(*args))

    monkeypatch.setattr(simulate, "rehearse_each", broken)
    out = StringIO()
    with pytest.raises(CommandError, match="4 violations") as found:
        call_command("simulate", stdout=out, stderr=StringIO(), **SMALL)
    assert found.value.returncode == 1
    assert "I8 rider 1, week 1: change-without-reason (exercise squat)" in out.getvalue()


def _broken(season: PlayedSeason) -> PlayedSeason:
    """The season with one property broken in its first week."""
    fault = Broken("I8", "change-without-reason", "exercise squat", False)
    return replace(season, weeks=(replace(season.weeks[0], broken=(fault,)), *season.weeks[1:]))


def test_all_of_it_is_written_to_a_file_that_reads_back(tmp_path: Path) -> None:
    path = tmp_path / "season.json"
    run(json=path)
    document = json.loads(path.read_text())
    seasons = [from_document(PlayedSeason, one) for one in document["seasons"]]
    assert [season.number for season in seasons] == [0, 1, 2, 3]
    assert from_document(Tally, document["tally"]) == count(seasons)
    assert document["cast"]["seed"] == 7


def test_each_squad_of_the_demo_has_a_program_to_live() -> None:
    assert "Strong for the long road" in run(squad="Long road")
    with pytest.raises(CommandError, match="Hill squad, Young riders, Long road"):
        run(squad="Nobody's")


def test_wishes_reach_the_riders(tmp_path: Path) -> None:
    path = tmp_path / "season.json"
    run(ages="from-65", kit="none", attends=0, json=path)
    document = json.loads(path.read_text())
    assert all(65 <= season["age"] <= 75 for season in document["seasons"])
    assert sum(week["done"] for season in document["seasons"] for week in season["weeks"]) == 0


@pytest.mark.parametrize("option", [["--riders", "0"], ["--weeks", "500"], ["--kit", "anvil"]])
def test_what_cannot_be_is_refused(option: list[str]) -> None:
    with pytest.raises(CommandError):
        call_command("simulate", *option, stdout=StringIO(), stderr=StringIO())


def test_progress_goes_to_standard_error_alone() -> None:
    out, err = StringIO(), StringIO()
    call_command("simulate", stdout=out, stderr=err, **SMALL)
    assert err.getvalue().splitlines()[-1] == "4 of 4 riders have lived their season."
    assert "lived their season" not in out.getvalue()


def test_it_runs_where_there_is_no_database() -> None:
    """As a person types it, with an address where nothing listens."""
    ran = subprocess.run(
        [sys.executable, "manage.py", "simulate", "--riders", "2", "--weeks", "3", "--processes", "1"],
        env={**os.environ, "DATABASE_URL": "postgres://nobody@127.0.0.1:9/none", "BALLAST_DEMO": "1"},
        cwd=PROJECT,
        capture_output=True,
        text=True,
    )
    assert ran.returncode == 0, ran.stderr
    assert "2 riders, 3 weeks" in ran.stdout
    assert "lived their season" in ran.stderr and "lived their season" not in ran.stdout


@pytest.mark.gate
@pytest.mark.parametrize("squad", ["Hill squad", "Young riders", "Long road"])
def test_sixty_riders_live_forty_weeks_of_each_demo_program_without_a_violation(squad: str) -> None:
    printed = run(riders=60, weeks=40, processes=2, squad=squad)
    assert "Violations of safety properties: 0" in printed
    asked = re.search(r"Sessions: (\d+) asked", printed)
    assert asked and int(asked[1]) > 2000


@pytest.mark.django_db
def test_a_club_s_program_is_lived_by_people_like_its_squad() -> None:
    who = people.wexenfold()
    printed = run(program=who.program.pk, club=str(who.club.pk), like_squad=True)
    with access.within(who.club):
        name = who.program.name
    assert printed.startswith(f"{name}: 4 riders")


@pytest.mark.django_db
def test_a_program_that_is_not_there_is_said_to_be_missing() -> None:
    who = people.wexenfold()
    with pytest.raises(CommandError, match="no program 999999"):
        run(program=999999, club=str(who.club.pk))


@pytest.mark.django_db
def test_another_club_s_program_is_not_found() -> None:
    who, others = people.wexenfold(), people.strangers()
    with pytest.raises(CommandError, match="no program"):
        run(program=others.program.pk, club=str(who.club.pk))


@pytest.mark.django_db
def test_the_demo_s_programs_are_the_same_with_a_database_and_without() -> None:
    """Slots are told apart by other names there, and nothing else differs."""
    written, now = scenario.read(), people.NOW
    demo = scenario.set_up(scenario=written, now=now)
    begins = scenario.first_monday(now)
    with access.within(demo.club):
        for program in Program.objects.select_related("squad"):
            stored = rehearsals.script_of(outlines.read_rows(program.pk))
            shipped = scenario.script_of(written, program.squad.name, begins)
            assert _nameless(stored) == _nameless(shipped)
            assert len(shipped.races) == 3 and len(shipped.blocks) >= 2


def _nameless(script: Script) -> Script:
    """The script with every slot's own name blank, and each template's minutes as they stand."""
    blocks = tuple(
        replace(
            block,
            templates=tuple(
                replace(template, slots=tuple(replace(slot, id="") for slot in template.slots))
                for template in block.templates
            ),
        )
        for block in script.blocks
    )
    return replace(script, blocks=blocks, races=tuple(sorted(script.races, key=lambda race: race.on)))
