"""The engine on the command line: the same answers as inside, and one clear line for what cannot be answered."""

import io
import json
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from athletes.concerns import BodyReport, BodyState
from athletes.screening import AdultAnswers, Needs, ScreeningDecision
from athletes.vocabulary import Pattern, RacePriority, Region, Side
from programs.engine.__main__ import example, run
from programs.engine.codec import digest, from_document, to_document
from programs.engine.facts import (
    Block,
    Done,
    Exposure,
    Format,
    Measure,
    Opening,
    Phase,
    Race,
    SessionRecord,
    SessionState,
    Target,
    TargetDecision,
    Template,
    Week,
    WeekDecision,
    WeekFacts,
)
from programs.engine.kit import reachable_loads
from programs.engine.monitoring import MonitorQuestion
from programs.engine.prices import priced
from programs.engine.progression import next_target
from programs.engine.questions import (
    QUESTIONS,
    EffectiveLoadQuestion,
    KitQuestion,
    MaximumQuestion,
    MinutesQuestion,
    PainQuestion,
    ScreeningQuestion,
    SeasonQuestion,
    WeekQuestion,
    answer,
    shapes,
)
from programs.engine.resolve import resolve_week
from programs.engine.returning import LayoffQuestion
from programs.engine.spots import PlaceFacts
from programs.engine.strength import age_limits
from programs.engine.target_facts import TargetFacts
from programs.engine.week import place
from tests.engine.samples import GOBLET, HALL, KETTLEBELL, LIBRARY, SIT, bell, rider, slot

ROOT = Path(__file__).parents[2]
MONDAY = date(2026, 3, 2)

TARGET_FACTS = TargetFacts(
    exercise=GOBLET,
    slot=slot(),
    kit=HALL,
    holding=KETTLEBELL,
    library=LIBRARY,
    exposures=(),
    limits=age_limits(rider(35)),
    rider=rider(35),
    session_on=MONDAY,
    phase=Phase.BUILD,
)
PLACE_FACTS = PlaceFacts(
    week=Week(2026, 10),
    count=2,
    openings=tuple(Opening(MONDAY.replace(day=day), 18 * 60, 60, "hall") for day in (2, 3, 5)),
)
GOBLET_TARGET = Target(Measure.REPS, 2, 8, bell(8))
WEEK_FACTS = WeekFacts(
    week=Week(2026, 10),
    today=MONDAY,
    rider=rider(35),
    blocks=(
        Block(
            Week(2026, 9),
            Week(2026, 20),
            Phase.BUILD,
            2,
            (Template(1, "Legs and trunk", (slot(), slot(id="b", pattern=Pattern.FRONT_TRUNK))),),
        ),
    ),
    openings=PLACE_FACTS.openings,
    venues=(("hall", HALL),),
)
EXAMPLES: dict[str, object] = {
    "week": WeekQuestion(WEEK_FACTS, LIBRARY),
    "explain": WeekQuestion(WEEK_FACTS, LIBRARY),
    "next-target": TARGET_FACTS,
    "place": PLACE_FACTS,
    "reachable-loads": KitQuestion(HALL, KETTLEBELL),
    "session-minutes": MinutesQuestion(((SIT, Target(Measure.REPS, 3, 10)),), Format.STRAIGHT, 6, 4),
    "pain": PainQuestion(MONDAY, False, (BodyReport(MONDAY, Region.KNEE, Side.LEFT, during=4),)),
    "health-screening": ScreeningQuestion(
        MONDAY, adult=AdultAnswers(active=True, disease=False, symptoms=True)
    ),
    "season": SeasonQuestion(
        Week(2026, 10), Week(2026, 30), (Race(date(2026, 7, 12), 540, "Wexenfold", RacePriority.PRIORITY),)
    ),
    "one-rep-max": MaximumQuestion(Decimal(60), 6, under_18=False, reps_left=2),
    "effective-load": EffectiveLoadQuestion(False, Decimal(70), Decimal("0.878"), Decimal(16)),
    "monitor": MonitorQuestion(
        MONDAY,
        35,
        36,
        LIBRARY,
        tuple(
            SessionRecord(
                Week(2026, 9), ordinal, MONDAY.replace(month=2, day=22 + ordinal), SessionState.DONE
            )
            for ordinal in (1, 3)
        ),
        tuple(
            Exposure(
                MONDAY - timedelta(days=ago), "goblet", GOBLET_TARGET, Done((8, 8), load=bell(8), reps_left=2)
            )
            for ago in (20, 16, 12, 8, 4)
        ),
    ),
    "return-after-layoff": LayoffQuestion(
        GOBLET, Target(Measure.REPS, 3, 10, bell(16)), MONDAY, 30, 35, 36, HALL, library=LIBRARY
    ),
}


def asked(arguments: Iterable[str], given: bytes | object = b"") -> tuple[int, str, str]:
    """Status, standard output and standard error of one run."""
    data = given if isinstance(given, bytes) else json.dumps(given).encode()
    out, errors = io.StringIO(), io.StringIO()
    status = run(list(arguments), io.BytesIO(data), out, errors)
    return status, out.getvalue(), errors.getvalue()


def test_every_question_has_an_example_here() -> None:
    assert set(EXAMPLES) == set(QUESTIONS)


@pytest.mark.parametrize("verb", sorted(EXAMPLES))
def test_a_question_is_answered_within_its_schema(verb: str) -> None:
    document = to_document(EXAMPLES[verb])
    status, out, errors = asked([verb], document)
    assert (status, errors) == (0, "")
    told = json.loads(out)
    assert told["question"] == verb
    assert told["facts"] == digest(document)
    shape: Any = shapes(verb)
    Draft202012Validator(shape["question"]).validate(document)
    Draft202012Validator(shape["answers"][told["kind"]]).validate(told["answer"])


def test_the_answers_are_those_of_the_rules() -> None:
    told = answer("next-target", to_document(TARGET_FACTS))["answer"]
    assert from_document(TargetDecision, told) == next_target(TARGET_FACTS)
    week = from_document(WeekDecision, answer("week", to_document(EXAMPLES["week"]))["answer"])
    assert week == resolve_week(WEEK_FACTS, LIBRARY)
    assert [item.exercise for item in week.sessions[0].items] == ["sit-to-stand", "plank"]
    placed = answer("place", to_document(PLACE_FACTS))["answer"]
    assert placed == to_document(priced(PLACE_FACTS))
    assert isinstance(placed, dict)
    assert to_document(place(PLACE_FACTS)).items() <= placed.items()  # type: ignore[union-attr]
    loads: Any = answer("reachable-loads", to_document(EXAMPLES["reachable-loads"]))["answer"]
    assert [Decimal(load["kg"]) for load in loads["loads"]] == [
        load.kg for load in reachable_loads(HALL, KETTLEBELL)
    ]
    state = from_document(BodyState, answer("pain", to_document(EXAMPLES["pain"]))["answer"])
    assert {gate.region for gate in state.gates} == {Region.KNEE}
    screening = from_document(
        ScreeningDecision, answer("health-screening", to_document(EXAMPLES["health-screening"]))["answer"]
    )
    assert screening.needs is Needs.STOP


@pytest.mark.parametrize("verb", sorted(EXAMPLES))
def test_i8_the_same_facts_give_the_same_bytes(verb: str) -> None:
    document = to_document(EXAMPLES[verb])
    assert asked([verb], document) == asked([verb], document)


BROKEN_KIT = {
    "kit": {"fixed": [{"implement": "kettlebell", "kg": 8}]},
    "holding": {"implement": "kettlebell"},
}
NO_SUCH_WEEK = {"week": {"year": 2025, "number": 53}, "count": 1, "openings": []}


@pytest.mark.parametrize(
    ("arguments", "given", "line"),
    [
        ([], b"", "the following arguments are required: QUESTION"),
        (["guess"], b"", "invalid choice: 'guess'"),
        (["schema", "guess"], b"", "invalid choice: 'guess'"),
        (["schema"], b"", "name a QUESTION, or a directory with --all"),
        (["example", "guess"], b"", "invalid choice: 'guess'"),
        (
            ["season"],
            {"first": {"year": 2026, "number": 9}, "last": {"year": 2026, "number": 8}},
            "lies before",
        ),
        (["one-rep-max"], {"kg": "60", "reps": 5}, "under_18: expected a value, found no such field"),
        (["one-rep-max"], {"kg": "0", "reps": 5, "under_18": False}, "an estimate needs a load above 0 kg"),
        (["monitor"], {"today": "2026-03-02", "youngest_age": 40, "oldest_age": 30}, "the youngest age"),
        (["place"], b"", "standard input is not JSON: Expecting value at line 1, column 1"),
        (["place"], b'{"week": }', "standard input is not JSON: Expecting value at line 1, column 10"),
        (["place"], b"\xff", "standard input is not UTF-8: byte 0"),
        (["place"], b'{"count": 1, "count": 2}', "the field 'count' is given twice"),
        (["place"], b'{"count": NaN}', "NaN is not JSON"),
        (["place"], b"[" * 100_000, "standard input is nested too deeply"),
        (["place"], [], "the document: expected an object (PlaceFacts), found a list of 0"),
        (["reachable-loads"], BROKEN_KIT, "kit.fixed[0].kg: expected a decimal as text"),
        (["place"], NO_SUCH_WEEK, "week: 53"),
        (["health-screening"], {"on": "2026-03-02"}, "either an adult or a young rider"),
        (["health-screening"], {"on": "2026-03-02", "young": {}}, "a guardian answers"),
    ],
)
def test_bad_input_ends_with_status_2_and_one_line(arguments: list[str], given: object, line: str) -> None:
    status, out, errors = asked(arguments, given)
    assert status == 2
    assert out == ""
    assert errors.startswith("programs.engine: ")
    assert line in errors
    assert errors.count("\n") == 1


def test_an_exercise_that_the_library_lacks_is_named() -> None:
    missed = Done((5, 4), load=bell(8), reps_left=0)
    times = tuple(
        Exposure(MONDAY.replace(day=day), "goblet", GOBLET_TARGET, missed) for day in (2, 4, 6, 9, 11)
    )
    document: Any = to_document(replace(TARGET_FACTS, exposures=times, session_on=MONDAY.replace(day=13)))
    document["library"]["exercises"] = []
    status, _out, errors = asked(["next-target"], document)
    assert (status, errors) == (2, "programs.engine: the library has no exercise named 'goblet'\n")


def test_the_schema_of_a_question_can_be_printed() -> None:
    status, out, errors = asked(["schema", "place"])
    assert (status, errors) == (0, "")
    assert json.loads(out) == shapes("place")


#: Runs the program as `python -m programs.engine` does, in a process that cannot import the framework or a driver.
ALONE = """
import runpy, sys
for name in ("django", "celery", "redis", "psycopg", "athletes.models", "programs.models"):
    sys.modules[name] = None
runpy.run_module("programs.engine", run_name="__main__", alter_sys=True)
"""


def run_alone(*arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
    """One run in an environment without a single setting."""
    return subprocess.run(
        [sys.executable, "-c", ALONE, *arguments],
        input=given,
        capture_output=True,
        cwd=ROOT,
        env={"PATH": "/nowhere", "PYTHONIOENCODING": "utf-8"},
        text=True,
        check=False,
    )


@pytest.mark.parametrize("verb", sorted(QUESTIONS))
def test_the_example_of_a_questions_help_runs_as_it_stands_without_settings_or_a_database(verb: str) -> None:
    shown = run_alone(verb, "--help")
    assert (shown.returncode, shown.stderr) == (0, "")
    command, _line, rest = shown.stdout.partition(f"python -m programs.engine {verb} <<'END'\n")
    document, end, after = rest.partition("\nEND\n")
    assert command and end and not after
    found = run_alone(verb, given=document)
    assert (found.returncode, found.stderr) == (0, "")
    told = json.loads(found.stdout)
    assert told == answer(verb, json.loads(document))
    shape: Any = shapes(verb)
    Draft202012Validator(shape["question"]).validate(json.loads(document))
    Draft202012Validator(shape["answers"][told["kind"]]).validate(told["answer"])


def test_an_example_can_be_printed_by_itself() -> None:
    status, out, errors = asked(["example", "season"])
    assert (status, errors) == (0, "")
    assert asked(["season"], out.encode())[0] == 0


def reasons_in(document: Any) -> list[Any]:
    """Every reason anywhere in an answer."""
    children = (
        list(document.values())
        if isinstance(document, dict)
        else document
        if isinstance(document, list)
        else []
    )
    here = [document] if isinstance(document, dict) and set(document) == {"rule", "key", "figures"} else []
    return [*here, *(reason for child in children for reason in reasons_in(child))]


def test_every_reason_of_an_answer_has_its_rule_and_its_sentence_among_the_rules() -> None:
    printed = run_alone("rules")
    assert (printed.returncode, printed.stderr) == (0, "")
    told = json.loads(printed.stdout)
    given = [
        reason
        for verb in QUESTIONS
        for document in (json.loads(example(verb)), to_document(EXAMPLES[verb]))
        for reason in reasons_in(answer(verb, document))
    ]
    assert len({reason["key"] for reason in given}) > 20
    for reason in given:
        said = told["reasons"][reason["key"]].format(**reason["figures"])
        assert said and "{" not in said
        assert told["rules"][reason["rule"]]["title"]
    assert {rule["kind"] for rule in told["rules"].values()} == {"published", "practice", "ours"}


def test_the_help_of_a_question_fits_on_few_screens() -> None:
    for verb in QUESTIONS:
        assert len(example(verb).splitlines()) < 250, verb
        assert max(map(len, example(verb).splitlines())) <= 110, verb


def test_every_schema_can_be_written_to_a_directory(tmp_path: Path) -> None:
    status, out, errors = asked(["schema", "--all", str(tmp_path / "schemas")])
    assert (status, errors) == (0, "")
    assert out.startswith(f"{2 * len(QUESTIONS)} schemas written")
    for verb in QUESTIONS:
        written = json.loads((tmp_path / "schemas" / f"{verb}.json").read_text("utf-8"))
        assert shapes(verb)["question"].items() <= written.items()  # type: ignore[union-attr]


def test_a_directory_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", "utf-8")
    status, out, errors = asked(["schema", "--all", str(tmp_path / "file")])
    assert (status, out) == (2, "")
    assert errors.startswith("programs.engine: ") and errors.count("\n") == 1


def test_the_year_is_laid_out_with_a_reason_for_each_week() -> None:
    told: Any = answer("season", to_document(EXAMPLES["season"]))["answer"]
    assert len(told["weeks"]) == 21
    assert all(len(week["reasons"]) == 1 for week in told["weeks"])
    assert [week["phase"] for week in told["weeks"]][-4:] == ["taper", "race-week", "build", "build"]
    assert [reason["key"] for reason in told["weeks"][-3]["reasons"]] == ["laid-race-week"]


def test_s3_p11_no_maximum_under_18_or_above_10_reps() -> None:
    for changes, key in [
        ({"under_18": True}, "estimate-under-18"),
        ({"reps": 9}, "estimate-too-many-reps"),
        ({"reps_left": 6}, "estimate-too-many-left"),
        ({"is_sore": True}, "estimate-where-sore"),
    ]:
        document: Any = {**to_document(EXAMPLES["one-rep-max"]), **changes}  # type: ignore[dict-item]
        told: Any = answer("one-rep-max", document)
        assert told["kind"] == "Withheld"
        assert [reason["key"] for reason in told["answer"]["reasons"]] == [key]
        assert "kg" not in json.dumps(told["answer"])


def test_s3_no_effective_load_under_18() -> None:
    document: Any = {**to_document(EXAMPLES["effective-load"]), "under_18": True}  # type: ignore[dict-item]
    told: Any = answer("effective-load", document)
    assert told["kind"] == "Withheld"
    assert "70" not in json.dumps(told["answer"])


def test_help_names_every_question() -> None:
    found = subprocess.run(
        [sys.executable, "-m", "programs.engine", "--help"],
        capture_output=True,
        cwd=ROOT,
        check=True,
        text=True,
    )
    for verb, question in QUESTIONS.items():
        assert verb in found.stdout
        assert question.about in " ".join(found.stdout.split())
