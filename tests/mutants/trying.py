"""Tries mutants against the tests, inside one run of pytest: `-p tests.mutants.trying`, started by `__main__`.

Everything is imported and collected once. Then each mutant gets a process of its own, forked from that state, in which
the code of the changed functions is put in place of theirs, and the tests that are known to run the changed lines are
run, the likeliest first, until one fails. A change outside of functions that is no plain constant needs what imports
the module imported anew, so it gets a fresh interpreter (`again.py`).

Which tests run which line is known from one run of them all under coverage.py, a context for each test; that run is
forked off as well, so nothing that it leaves behind is there when mutants are tried.
"""

import ast
import gc
import json
import os
import resource
import select
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import coverage
import hypothesis
import pytest
from _pytest.runner import runtestprotocol
from hypothesis import Phase

from tests.mutants.defaults import change_constants, change_defaults
from tests.mutants.making import ROOT, Mutant, source_of

#: Nothing is made smaller or told apart once a mutant is found, and nothing is kept.
hypothesis.settings.register_profile(
    "mutants", derandomize=True, deadline=None, database=None, phases=(Phase.explicit, Phase.generate)
)
#: What the tests of one mutant may take in all, in seconds of processor time, by what they took under coverage.
MOST_S = float(os.environ.get("MUTANTS_MOST_S", "1.5"))
#: Tests that take longer than this are not asked.
LONGEST_S = max(0.5, MOST_S / 3)
#: What a mutant may take beyond three times that before it counts as one that never ends.
PATIENCE_S = 3.0
MEMORY = 4 * 2**30


@dataclass
class Tests:
    """What the tests did without any mutant: which run which line of which module, how long each took."""

    lines: dict[str, dict[int, list[int]]] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    names: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)

    def of_lines(self, module: str, first: int, last: int) -> list[str]:
        rows = self.lines.get(module, {})
        found = {test for line in range(first, last + 1) for test in rows.get(line, ())}
        return [self.names[test] for test in found]

    def of_module(self, module: str) -> list[str]:
        return [
            self.names[test]
            for test in {test for tests in self.lines.get(module, {}).values() for test in tests}
        ]


@dataclass
class Outcome:
    """How a mutant fared: the test that noticed it, or "" when none did; how many were run."""

    killer: str
    tests: int


@cache
def _remembering() -> tuple[Any, ...]:
    """The functions that remember their answers."""
    named = [
        module for name, module in sys.modules.items() if name.startswith(("programs.engine", "athletes."))
    ]
    found = {id(one): one for module in named for one in vars(module).values() if hasattr(one, "cache_clear")}
    return tuple(found.values())


def forget() -> None:
    """Nothing that a function remembered stays."""
    for one in _remembering():
        one.cache_clear()


def in_a_fork(work: Callable[[], Any], limit_s: float | None = None) -> Any:
    """What `work` returns, computed in a forked process; `None` when it is ended by a signal or at its limit."""
    reader, writer = os.pipe()
    child = os.fork()
    if not child:
        os.close(reader)
        status = 1
        try:
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
            if limit_s is not None:
                signal.signal(signal.SIGPROF, signal.SIG_DFL)
                signal.setitimer(signal.ITIMER_PROF, limit_s)
                resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
                os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
                os.dup2(1, 2)
            answer = json.dumps(work()).encode()
            with open(writer, "wb", closefd=False) as pipe:
                pipe.write(answer)
            status = 0
        finally:
            os._exit(status)
    os.close(writer)
    # A mutant may also wait for ever, which takes no processor time.
    waited = None if limit_s is None else 20 * limit_s
    chunks, ends_at = [], None if waited is None else time.monotonic() + waited
    with open(reader, "rb", buffering=0) as pipe:
        while True:
            left = None if ends_at is None else max(0.0, ends_at - time.monotonic())
            if not select.select([pipe], [], [], left)[0]:
                os.kill(child, signal.SIGKILL)
                break
            chunk = pipe.read(1 << 20)
            if not chunk:
                break
            chunks.append(chunk)
    os.waitpid(child, 0)
    return json.loads(b"".join(chunks)) if chunks else None


# --- what the tests run -----------------------------------------------------------------------------------------------


def watch(items: list[pytest.Item], tell: Callable[[str], None]) -> Tests:
    """Runs every test under coverage, a context each."""
    tests = Tests()
    measured = coverage.Coverage(
        data_file=None, source=[str(ROOT / "programs" / "engine")], config_file=False
    )
    measured.start()
    for number, item in enumerate(items):
        forget()
        measured.switch_context(str(number))
        begun = time.process_time()
        following = items[number + 1] if number + 1 < len(items) else None
        reports = runtestprotocol(item, log=False, nextitem=following)
        tests.seconds[item.nodeid] = time.process_time() - begun
        tests.names.append(item.nodeid)
        if any(report.failed for report in reports):
            tests.failed.append(item.nodeid)
        if not number % 200:
            tell(f"watching test {number} of {len(items)}")
    measured.stop()
    data = measured.get_data()
    for file in data.measured_files():
        rows = {
            line: [int(one) for one in contexts if one]
            for line, contexts in data.contexts_by_lineno(file).items()
        }
        tests.lines[str(Path(file).relative_to(ROOT))] = {line: some for line, some in rows.items() if some}
    return tests


# --- putting a mutant in place ----------------------------------------------------------------------------------------


def functions_in(code: CodeType) -> Iterator[CodeType]:
    for const in code.co_consts:
        if isinstance(const, CodeType):
            yield const
            yield from functions_in(const)


@cache
def codes_of(module: str) -> dict[str, list[CodeType]]:
    """The codes of the module as it is."""
    return by_name(functions_in(compile(source_of(module), str(ROOT / module), "exec", dont_inherit=True)))


def by_name(codes: Iterator[CodeType]) -> dict[str, list[CodeType]]:
    """The codes of each name, in the order in which they stand."""
    found: dict[str, list[CodeType]] = defaultdict(list)
    for code in codes:
        found[code.co_qualname].append(code)
    return found


@dataclass
class Live:
    """The functions that there are, by the module and place of their code."""

    functions: dict[tuple[str, str, int], list[FunctionType]] = field(
        default_factory=lambda: defaultdict(list)
    )

    def look(self) -> None:
        for one in gc.get_objects():
            if isinstance(one, FunctionType) and "/programs/engine/" in one.__code__.co_filename:
                code = one.__code__
                self.functions[code.co_filename, code.co_qualname, code.co_firstlineno].append(one)

    def change(self, module: str, code: CodeType) -> None:
        """Every function of the module runs the new code. Raises ValueError where that cannot be."""
        file = str(ROOT / module)
        was = codes_of(module)
        now = by_name(functions_in(code))
        for name, olds in was.items():
            news = now.get(name, [])
            if len(news) != len(olds):
                continue  # a lambda that is gone: what holds it has changed as well
            for old, new in zip(olds, news, strict=True):
                if old != new:
                    for function in self.functions.get((file, name, old.co_firstlineno), ()):
                        function.__code__ = new


# --- trying -----------------------------------------------------------------------------------------------------------


class Trier:
    """Tries mutants one after the other, with the tests of this run."""

    def __init__(self, items: list[pytest.Item], tests: Tests) -> None:
        self.items = {item.nodeid: item for item in items}
        self.tests = tests
        self.live = Live()
        self.live.look()
        self.usable = {
            name: seconds
            for name, seconds in tests.seconds.items()
            if seconds <= LONGEST_S and name in self.items and name not in set(tests.failed)
        }
        self._lately: dict[str, list[str]] = defaultdict(list)
        # What holds for the whole run is set up once, here, and not in every fork. The two tests lie in different
        # folders, so that nothing narrower than the run stays set up.
        plain = sorted(self.usable, key=self.usable.__getitem__)
        first = next(name for name in plain if name.startswith("tests/engine/"))
        other = next(name for name in plain if name.startswith("tests/reference/"))
        runtestprotocol(self.items[first], log=False, nextitem=self.items[other])
        forget()
        gc.collect()
        gc.freeze()
        self._check_that_nothing_fails_unchanged(plain)

    def _check_that_nothing_fails_unchanged(self, names: list[str]) -> None:
        """A test of each file passes in a fork as it is: else every mutant would seem to be noticed."""
        chosen = list({name.partition("::")[0]: name for name in reversed(names)}.values())
        for name in chosen:
            answer = in_a_fork(lambda name=name: self._run([name]), 60)
            if not answer or answer["killer"]:
                raise RuntimeError(f"{name} fails in a fork though nothing is changed")

    def candidates(self, mutant: Mutant) -> list[str]:
        """The tests to ask, the likeliest first: those that noticed a neighbour, then the quickest."""
        found = self.tests.of_lines(mutant.module, mutant.first, mutant.last) if mutant.in_function else []
        if not mutant.in_function:
            found = self.tests.of_module(mutant.module)
        own = f"/test_{Path(mutant.module).stem}.py::"
        if not mutant.in_function:
            found = [*found, *(name for name in self.usable if own in name and name not in found)]
        usable = [name for name in found if name in self.usable]
        place = mutant.module + mutant.within
        lately = {name: at for at, name in enumerate(reversed(self._lately[place]))}
        usable.sort(key=lambda name: (lately.get(name, 99), own not in name, self.usable[name], name))
        chosen, total = [], 0.0
        for name in usable:
            total += self.usable[name]
            if total > MOST_S:
                break
            chosen.append(name)
        return chosen

    def try_one(self, mutant: Mutant) -> Outcome | None:
        """How the mutant fares; `None` when it needs an interpreter of its own."""
        if mutant.in_function and not self.tests.of_lines(mutant.module, mutant.first, mutant.last):
            return None
        chosen = self.candidates(mutant)
        codes_of(mutant.module)
        expected = sum(self.usable[name] for name in chosen)
        answer = in_a_fork(lambda: self._try(mutant, chosen), PATIENCE_S + 3 * expected)
        match answer:
            case None:
                return Outcome("it never ends", len(chosen))
            case {"apart": True}:
                return None
            case {"killer": killer, "tests": tests}:
                if killer:
                    place = mutant.module + mutant.within
                    self._lately[place] = [
                        *(name for name in self._lately[place] if name != killer),
                        killer,
                    ][-12:]
                return Outcome(killer, tests)
        raise ValueError(answer)

    def _live(self, file: str) -> Callable[[str, int], list[FunctionType]]:
        return lambda name, line: self.live.functions.get((file, name, line), [])

    def _try(self, mutant: Mutant, chosen: list[str]) -> dict[str, Any]:
        file = str(ROOT / mutant.module)
        if mutant.in_function:
            try:
                self.live.change(mutant.module, compile(mutant.source(), file, "exec", dont_inherit=True))
            except ValueError:
                return {"apart": True}
        else:
            tree = ast.parse(mutant.source())
            try:
                if not (change_constants(mutant, tree) or change_defaults(mutant, tree, self._live(file))):
                    return {"apart": True}
            except Exception:
                return {"killer": "importing it", "tests": 0}
        return self._run(chosen)

    def _run(self, chosen: list[str]) -> dict[str, Any]:
        """The first of the tests that fails, or none."""
        forget()
        for number, name in enumerate(chosen, 1):
            following = self.items[chosen[number]] if number < len(chosen) else None
            with suppress(Exception):
                reports = runtestprotocol(self.items[name], log=False, nextitem=following)
                if not any(report.failed for report in reports):
                    continue
            return {"killer": name, "tests": number}
        return {"killer": "", "tests": len(chosen)}
