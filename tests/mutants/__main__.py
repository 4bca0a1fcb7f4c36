"""Tries the engine's mutants: `python -m tests.mutants [MODULE ...] [--sample N] [--seed N] [--share 1/2]`.

Without modules, all of them. What was found is kept below `.state/mutants`, and a mutant that was noticed is not tried
again as long as the statement that it changes stays as it is; `--afresh` tries all of them, `--survivors` only those
that were not noticed. Two shares may run side by side.
"""

import argparse
import hashlib
import json
import os
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.mutants import page, trying
from tests.mutants.making import ROOT, Mutant, all_mutants, modules
from tests.mutants.trying import Outcome, Tests, Trier

STATE = Path(os.environ.get("BALLAST_STATE", ROOT / ".state")) / "mutants"
#: The engine's tests; the rules of the exercise library are tested beside the documents that break them.
TESTS = (
    "tests/engine",
    "tests/reference",
    "tests/athletes/test_triage.py",
    "tests/programs/test_library_rules.py",
    "tests/programs/test_library_words.py",
)
#: Tests that hold the page and the command line; what they look at is on disk, which no mutant changes.
_ON_DISK = ("test_rule_page.py", "test_mutants.py")
#: How many tests an interpreter of its own is given.
_APART = 40


class Results:
    """What became of each mutant, one line a mutant; the newest line of a mutant counts."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.rows: dict[str, dict[str, Any]] = {}
        for one in sorted(file.parent.glob("results*.jsonl")):
            for line in one.read_text("utf-8").splitlines():
                row = json.loads(line)
                if row["at"] >= self.rows.get(row["name"], row)["at"]:
                    self.rows[row["name"]] = row

    def of(self, mutant: Mutant) -> dict[str, Any] | None:
        row = self.rows.get(mutant.name)
        return row if row and row["anchor"] == mutant.anchor else None

    def add(self, mutant: Mutant, outcome: Outcome) -> None:
        row = {"name": mutant.name, "anchor": mutant.anchor, "at": time.time(), **vars(outcome)}
        row |= {"module": mutant.module, "operator": mutant.operator}
        self.rows[mutant.name] = row
        with self.file.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row) + "\n")


class Run:
    """A plugin of pytest whose loop tries mutants instead of running the tests."""

    def __init__(self, given: argparse.Namespace) -> None:
        self.given = given
        self.tried: list[tuple[Mutant, Outcome]] = []
        self.began = time.monotonic()

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = [item for item in session.items if not item.nodeid.partition("::")[0].endswith(_ON_DISK)]
        tests = self._watched(items)
        self._say(f"{len(tests.names)} tests, {len(tests.failed)} of them fail and are not asked")
        for name in tests.failed:
            self._say(f"  fails: {name}")
        trier, results = Trier(items, tests), Results(STATE / f"results{os.getpid()}.jsonl")
        left = self._chosen(results)
        for number, mutant in enumerate(left, 1):
            outcome = trier.try_one(mutant) or try_apart(mutant, trier)
            self.tried.append((mutant, outcome))
            results.add(mutant, outcome)
            if not outcome.killer and not self.given.quiet:
                self._say(f"  survives: {mutant.name}")
            if not number % 50 or number == len(left):
                killed = sum(bool(one.killer) for _mutant, one in self.tried)
                self._say(f"{number} of {len(left)}: {100 * killed / number:.1f} % noticed")
        return True

    def _chosen(self, results: Results) -> list[Mutant]:
        wanted = self.given.modules or modules()
        chosen = list(all_mutants(wanted))
        if self.given.sample:
            # A smaller sample is the beginning of a larger one.
            Random(self.given.seed).shuffle(chosen)
            chosen = chosen[: self.given.sample]
        if self.given.survivors:
            chosen = [one for one in chosen if not (results.of(one) or {"killer": "-"})["killer"]]
        elif not self.given.afresh:
            chosen = [one for one in chosen if not results.of(one)]
        which, shares = map(int, self.given.share.split("/"))
        return chosen[which - 1 :: shares]

    def _watched(self, items: list[pytest.Item]) -> Tests:
        """What each test runs, from an earlier run where nothing has changed since."""
        digest = hashlib.sha256()
        for folder in ("programs/engine", "athletes", *TESTS):
            at = ROOT / folder
            for file in [at] if at.is_file() else sorted(at.rglob("*.py")):
                digest.update(file.read_bytes())
        kept = STATE / f"tests-{digest.hexdigest()[:16]}.json"
        if not kept.exists():
            found = trying.in_a_fork(lambda: vars(trying.watch(items, self._say)))
            for old in STATE.glob("tests-*.json"):
                old.unlink(missing_ok=True)
            kept.write_text(json.dumps(found), "utf-8")
        found = json.loads(kept.read_text("utf-8"))
        lines = {
            module: {int(line): tests for line, tests in rows.items()}
            for module, rows in found["lines"].items()
        }
        return Tests(**{**found, "lines": lines})

    def _say(self, line: str) -> None:
        print(f"{time.monotonic() - self.began:6.0f} s  {line}", file=sys.__stderr__, flush=True)


def try_apart(mutant: Mutant, trier: Trier) -> Outcome:
    """How the mutant fares in an interpreter of its own, which imports it in the module's place."""
    tests = trier.candidates(mutant)[:_APART]
    if not tests:
        usable = sorted(trier.tests.of_module(mutant.module), key=lambda name: trier.usable.get(name, 99))
        tests = [name for name in usable if name in trier.usable][:_APART]
    if not tests:
        return Outcome("", 0)
    source = STATE / f"mutant-{os.getpid()}.py"
    source.write_text(mutant.source(), "utf-8")
    environment = {**os.environ, "MUTANT": f"{mutant.module}:{source}"}
    environment.pop("BALLAST_STATE", None)
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-x",
        "-p",
        "tests.mutants.again",
        "-p",
        "no:cacheprovider",
    ]
    try:
        ended = subprocess.run(
            [*command, "--hypothesis-profile=mutants", *tests],
            cwd=ROOT, env=environment, capture_output=True, timeout=120, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return Outcome("it never ends", len(tests))
    finally:
        source.unlink(missing_ok=True)
    return Outcome("" if ended.returncode == 0 else "imported anew", len(tests))


def run(given: argparse.Namespace) -> Run:
    STATE.mkdir(parents=True, exist_ok=True)
    one = Run(given)
    # Hypothesis is already there when pytest would rewrite it, which only makes its own messages shorter.
    options = [
        "-W",
        "ignore::pytest.PytestAssertRewriteWarning",
        "-p",
        "no:cacheprovider",
        "-p",
        "no:terminal",
        "--hypothesis-profile=mutants",
        *TESTS,
    ]
    pytest.main(options, plugins=[one])
    return one


def write_page() -> int:
    """docs/mutants.md tells what is known; 1 when an explanation is stale."""
    STATE.mkdir(parents=True, exist_ok=True)
    mutants, rows = list(all_mutants(modules())), Results(STATE / "results.jsonl").rows
    page.PAGE.write_text(page.written(mutants, rows), "utf-8")
    for line in (faults := page.stale(mutants, rows)):
        print(line)
    return 1 if faults else 0


def main() -> int:
    parser = argparse.ArgumentParser(
        prog="python -m tests.mutants", description="Tries the engine's mutants."
    )
    parser.add_argument("modules", nargs="*", help="such as programs/engine/kit.py; all unless given")
    parser.add_argument("--sample", type=int, help="only so many, drawn with the seed")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--share", default="1/1", help="1/2 and 2/2 for two side by side")
    parser.add_argument("--afresh", action="store_true", help="also those whose outcome is known")
    parser.add_argument("--survivors", action="store_true", help="only those that were not noticed")
    parser.add_argument("--quiet", action="store_true", help="do not name those that survive")
    parser.add_argument("--page", action="store_true", help="only write docs/mutants.md from what is known")
    given = parser.parse_args()
    if given.page:
        return write_page()
    done = run(given)
    tried, survived = Counter[str](), Counter[str]()
    for mutant, outcome in done.tried:
        tried[mutant.module] += 1
        survived[mutant.module] += not outcome.killer
    for module, count in sorted(tried.items()):
        print(f"{module}: {count} mutants, {count - survived[module]} noticed, {survived[module]} not")
    return 0


if __name__ == "__main__":
    sys.exit(main())
