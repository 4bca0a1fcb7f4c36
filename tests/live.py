"""The real processes: web server, worker and ticker, with a database, a broker and a mail server for one test."""

import subprocess
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

import pytest

from coaching.stack.commands import LOOPBACK, Commands, answers_http, find_port
from coaching.stack.processes import Child, Process, await_ready
from tests.databases import Database
from tests.postbox import SmtpSink
from tests.services import Services

FIRST_PORT = 18000
SECONDS = 60


def is_alive(pid: int) -> bool:
    """Whether the process exists and is not merely waiting to be counted out."""
    asked = subprocess.run(
        ["ps", "-ww", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False
    )
    return bool(asked.stdout.strip()) and not asked.stdout.strip().startswith("Z")


def await_true(condition: Callable[[], object], *, seconds: float = 10) -> bool:
    """Whether the condition came true in time."""
    deadline = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > deadline:
            return False
        time.sleep(0.02)
    return True


@dataclass
class LiveStack:
    """Running processes by name: `web`, `worker-1`, `ticker-1` and so on; each may be killed and started again."""

    address: str
    state: Path
    sink: SmtpSink
    database: Database
    children: dict[str, Child] = field(default_factory=dict)
    _readiness: dict[str, Callable[[], bool]] = field(default_factory=dict)

    def run(self, process: Process, is_ready: Callable[[Child], bool]) -> Child:
        """Start a process, and wait until it is ready."""
        child = self.children[process.name] = Child(process)
        self._readiness[process.name] = lambda: is_ready(child)
        self.start(process.name)
        return child

    def start(self, name: str) -> None:
        """A process that ended runs again and is ready."""
        self.children[name].start()
        await_ready(self.children[name], self._readiness[name], seconds=SECONDS)

    def kill(self, name: str) -> None:
        """The process and its children are gone that instant, as when a machine fails."""
        self.children[name].kill()

    def stop(self) -> None:
        """Every process is gone."""
        for child in self.children.values():
            child.ask_to_stop()
        for child in self.children.values():
            child.stop()


StartStack = Callable[..., LiveStack]


@pytest.fixture
def live_stack(
    fresh_database: Database, redis_url: str, smtp_sink: SmtpSink, services: Services, tmp_path: Path
) -> Iterator[StartStack]:
    """A function that starts granian, workers and tickers: `live_stack(web=True, workers=1, tickers=1, env=None)`.

    They read `env` on top of the run's own environment. Everything is ended after the test.
    """
    started: list[LiveStack] = []
    numbers = count(1)

    def start(
        *, web: bool = True, workers: int = 1, tickers: int = 1, env: Mapping[str, str] | None = None
    ) -> LiveStack:
        state = tmp_path / f"stack-{next(numbers)}"
        state.mkdir()
        port = find_port(FIRST_PORT)
        stack = LiveStack(f"http://{LOOPBACK}:{port}", state, smtp_sink, fresh_database)
        started.append(stack)
        environment = services.environment | {
            "BALLAST_ADDRESS": stack.address,
            "BALLAST_STATE": str(services.state),
            "DATABASE_URL": fresh_database.app_url,
            "REDIS_URL": redis_url,
            "EMAIL_HOST": smtp_sink.host,
            "EMAIL_PORT": str(smtp_sink.port),
            **(env or {}),
        }
        del environment["DATABASE_OWNER_URL"]
        commands = Commands(state=state, environment=environment)
        if web:
            stack.run(commands.web(port), lambda child: answers_http(port))
        for number in range(1, workers + 1):
            stack.run(
                commands.worker(name=f"worker-{number}"), lambda child: " ready." in child.read_log(lines=40)
            )
        for number in range(1, tickers + 1):
            stack.run(
                commands.ticker(name=f"ticker-{number}"),
                lambda child: "beat: Starting" in child.read_log(lines=40),
            )
        return stack

    yield start
    for stack in started:
        stack.stop()
