"""Faults planted one at a time: that they can be made and are told apart. `make mutants` asks whether tests notice."""

import re

from tests.mutants.making import modules, mutants_of
from tests.mutants.page import HELD, PAGE, explained


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
