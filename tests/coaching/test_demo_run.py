"""The demo as a person runs it: `python -m coaching.stack`, with a small application in place of Ballast's own.

The stand-in keeps what it is told in the real database, so that these hold whatever the application's state.
"""

import os
import re
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from coaching.stack.folders import PROJECT
from coaching.stack.processes import make_environment
from tests.live import await_true, is_alive

pytestmark = pytest.mark.gate

MANAGE = """
import os, sys
import psycopg

as_owner = sys.argv[2:4] == ["--database", "owner"]
with psycopg.connect(os.environ["DATABASE_OWNER_URL" if as_owner else "DATABASE_URL"]) as connection:
    if sys.argv[1] == "migrate":
        connection.execute("CREATE TABLE IF NOT EXISTS runs (number int)")
    elif sys.argv[1] == "load_library":
        connection.execute("CREATE TABLE IF NOT EXISTS library (number int)")
    elif sys.argv[2:] == ["--addresses"]:
        print("Desk:", os.environ["BALLAST_ADDRESS"])
    elif os.environ.get("FAIL_THE_DEMO"):
        sys.exit("no exercise library")
    else:
        connection.execute("INSERT INTO runs SELECT 1 FROM (SELECT count(*) FROM library) AS loaded")
        print("Loaded run", connection.execute("SELECT count(*) FROM runs").fetchone()[0])
"""
WSGI = """
def application(environ, start_response):
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [b"open"]
"""
CELERY = """
import os
from pathlib import Path
from celery import Celery

app = Celery("coaching", broker=os.environ["REDIS_URL"])
app.conf.update(
    task_ignore_result=True,
    broker_connection_retry_on_startup=True,
    beat_schedule={"tick": {"task": "tick", "schedule": 0.5}},
)


@app.task(name="tick")
def tick():
    with (Path(os.environ["BALLAST_STATE"]) / "ticks").open("a") as ticks:
        ticks.write("x")
"""


class Demo:
    """One run of the demo, and what it printed so far."""

    def __init__(self, state: Path, **environment: str) -> None:
        self.state = state
        self.output = state.parent / f"{state.name}.out"
        command = [
            sys.executable,
            "-m",
            "coaching.stack",
            "--state",
            state,
            "--tree",
            state.parent,
            "--port",
            "24000",
        ]
        kept = make_environment(environment)
        for name in ("DATABASE_URL", "DATABASE_OWNER_URL", "BALLAST_STATE", "DJANGO_SETTINGS_MODULE"):
            kept.pop(name, None)
        with self.output.open("wb") as output:
            self.process = subprocess.Popen(command, cwd=PROJECT, env=kept, stdout=output, stderr=output)

    @property
    def printed(self) -> str:
        return self.output.read_text()

    @property
    def is_up(self) -> bool:
        return "Ctrl-C ends everything" in self.printed

    def await_up(self) -> None:
        assert await_true(lambda: self.is_up or self.process.poll() is not None, seconds=90), self.printed
        assert self.is_up, self.printed

    def open(self) -> bytes:
        """What its web server answers; empty if nothing."""
        address = re.search(r"Desk: (\S+)", self.printed)[1]
        try:
            with urllib.request.urlopen(address, timeout=5) as answer:
                return answer.read()
        except OSError:
            return b""

    def list_family(self) -> dict[int, str]:
        """Every process below the demo's, with its command."""
        asked = subprocess.run(
            ["ps", "-ww", "-eo", "pid=,ppid=,args="], capture_output=True, text=True, check=True
        )
        rows = [line.split(maxsplit=2) for line in asked.stdout.splitlines()]
        family: dict[int, str] = {}
        reached = {self.process.pid}
        while True:
            fresh = {
                int(pid): args
                for pid, parent, args in rows
                if int(parent) in reached and int(pid) not in reached
            }
            if not fresh:
                return family
            family |= fresh
            reached |= set(fresh)

    def find(self, word: str) -> int:
        """The oldest process of the family with the word in its command; 0 if none has it."""
        return min((pid for pid, command in self.list_family().items() if word in command), default=0)

    def end(self, number: int = signal.SIGTERM) -> int:
        self.process.send_signal(number)
        return self.process.wait(60)


@pytest.fixture
def tree(state: Path) -> Iterator[Path]:
    """A stand-in for the application."""
    package = state / "coaching"
    package.mkdir()
    (state / "manage.py").write_text(MANAGE)
    (package / "__init__.py").write_text("")
    (package / "settings.py").write_text("SECRET_KEY = 'stand-in'\n")
    (package / "wsgi.py").write_text(WSGI)
    (package / "celery.py").write_text(CELERY)
    yield state


@pytest.fixture
def demo(tree: Path) -> Iterator[Demo]:
    """A running demo, ended after the test however that ends."""
    running = Demo(tree / "demo")
    yield running
    if running.process.poll() is None:
        running.end()


def test_it_starts_says_where_it_is_and_ends_with_nothing_left(demo: Demo) -> None:
    demo.await_up()
    assert "Loaded run 1" in demo.printed
    assert demo.open() == b"open"
    assert await_true(lambda: (demo.state / "ticks").exists()), "the ticker wakes no worker"
    family = demo.list_family()
    assert len(family) > 8
    if os.geteuid() == 0:
        asked = subprocess.run(["ps", "-ww", "-eo", "uid=,args="], capture_output=True, text=True, check=True)
        servers = [
            line for line in asked.stdout.splitlines() if str(demo.state) in line and "postgres -D" in line
        ]
        assert servers and not any(line.split()[0] == "0" for line in servers)
    assert demo.end() == 0
    assert [command for pid, command in family.items() if is_alive(pid)] == []
    assert "Everything has ended." in demo.printed


@pytest.mark.parametrize("part", ["granian", "worker", "beat", "mailbox", "postgres -D", "redis-server"])
def test_a_part_that_is_killed_comes_back(demo: Demo, part: str) -> None:
    demo.await_up()
    killed = demo.find(part)
    assert killed
    os.kill(killed, signal.SIGKILL)
    assert await_true(lambda: demo.find(part) not in {0, killed}, seconds=30)
    assert await_true(lambda: demo.open() == b"open", seconds=20)
    written = len((demo.state / "ticks").read_text()) if (demo.state / "ticks").exists() else 0
    assert await_true(lambda: (demo.state / "ticks").exists(), seconds=30)
    assert await_true(lambda: len((demo.state / "ticks").read_text()) > written, seconds=60), (
        "no task runs any more"
    )


def test_killing_the_whole_loses_nothing_and_leaves_nothing(demo: Demo, tree: Path) -> None:
    demo.await_up()
    family = demo.list_family()
    key = (demo.state / "secret-key").read_text()
    assert demo.end(signal.SIGKILL) == -signal.SIGKILL
    assert await_true(lambda: not any(is_alive(pid) for pid in family), seconds=20)
    again = Demo(tree / "demo")
    try:
        again.await_up()
        assert "Loaded run 2" in again.printed
        assert (again.state / "secret-key").read_text() == key
    finally:
        assert again.end(signal.SIGINT) == 0


def test_a_second_one_is_told_where_the_first_is(demo: Demo) -> None:
    demo.await_up()
    second = subprocess.run(
        [sys.executable, "-m", "coaching.stack", "--state", demo.state],
        cwd=PROJECT,
        env=make_environment({}),
        capture_output=True,
        text=True,
        check=False,
    )
    assert second.returncode == 1
    assert re.search(
        r"in use by another running Ballast\. It answers at http://127\.0\.0\.1:24\d\d\d", second.stderr
    )


def test_a_step_that_fails_is_shown_and_leaves_nothing_running(tree: Path) -> None:
    failing = Demo(tree / "demo", FAIL_THE_DEMO="1")
    assert failing.process.wait(90) == 1
    assert "demo failed:" in failing.printed
    assert "no exercise library" in failing.printed
    asked = subprocess.run(["ps", "-ww", "-eo", "args="], capture_output=True, text=True, check=True)
    assert str(failing.state) not in asked.stdout
