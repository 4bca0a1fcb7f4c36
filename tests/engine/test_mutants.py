"""Faults planted one at a time: that they can be made, that they are told apart, and that the tests notice them."""

import os
import re
import subprocess
import sys

import pytest

from tests.mutants.making import ROOT, modules, mutants_of
from tests.mutants.page import HELD, PAGE, explained
from tests.reports import say

#: Mutants of the gate, and the share of them that has to be noticed.
SAMPLE, LEAST_PERCENT = 150, 90


def test_every_mutant_is_another_program_with_a_name_of_its_own() -> None:
    mutants = mutants_of("programs/engine/quantities.py")
    assert len(mutants) > 20
    assert len({one.name for one in mutants}) == len({one.source() for one in mutants}) == len(mutants)
    for one in mutants:
        compile(one.source(), one.module, "exec")


def test_what_is_explained_is_there_to_be_changed() -> None:
    named = {name.partition("::")[0] for name in explained()}
    there = {one.name for module in sorted(named) for one in mutants_of(module)}
    assert set(explained()) - there == set()


def test_the_page_tells_of_modules_that_exist_and_of_all_that_are_held() -> None:
    told = set(re.findall(r"^\| `(\w+)` \|", PAGE.read_text("utf-8"), re.MULTILINE))
    stems = {module.rsplit("/", 1)[1].removesuffix(".py") for module in modules()}
    assert told <= stems and set(HELD) <= told


@pytest.mark.gate
def test_nine_of_ten_faults_in_the_modules_that_are_held_are_noticed() -> None:
    held = [f"programs/engine/{name}.py" for name in HELD]
    ended = subprocess.run(
        [sys.executable, "-m", "tests.mutants", *held, "--sample", str(SAMPLE), "--afresh", "--quiet"],
        cwd=ROOT, env={name: value for name, value in os.environ.items() if name != "BALLAST_STATE"},
        capture_output=True, text=True, check=False, timeout=900,
    )  # fmt: skip
    assert ended.returncode == 0, ended.stderr[-2000:]
    rows = re.findall(r"(\d+) mutants, (\d+) noticed", ended.stdout)
    tried, noticed = (sum(int(row[place]) for row in rows) for place in (0, 1))
    say(f"{noticed} of {tried} planted faults noticed, in {len(rows)} modules of the engine")
    assert tried == SAMPLE
    assert 100 * noticed >= LEAST_PERCENT * tried, ended.stdout
