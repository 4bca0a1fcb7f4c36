"""PostgreSQL and Redis for one run of the tests, loaded by `-p tests.services` before Django reads its settings.

Where they will answer is decided at once, and put into the environment for the settings to read; they are started by
the first test that needs them, so that a run of the engine's tests alone starts nothing. Everything lies in a folder of
its own below `.state/tests`, so that any number of runs go side by side. With `DATABASE_URL` and `DATABASE_OWNER_URL`
given, that server is used, in databases named `test_ballast_...`.
"""

import contextlib
import os
import signal
from collections.abc import Generator, Iterator
from itertools import count
from pathlib import Path

import pytest

from coaching.stack import postgres
from coaching.stack.folders import FolderInUse, find_state, hold, make_state, remove_state
from coaching.stack.postgres import Postgres
from coaching.stack.redis import Broker

SECRET_KEY = "for-the-tests-alone-" * 3


class Services:
    """The two servers, for the life of one run."""

    def __init__(self) -> None:
        self._runs = find_state() / "tests"
        self.state = self._runs / f"run-{os.getpid()}"
        self._held = contextlib.ExitStack()
        self.server: Postgres | None = None
        self.app_url = self.owner_url = ""
        self.broker: Broker
        self._started = False

    def take_folder(self) -> None:
        """Hold this run's folder, having removed those of runs that were killed, and know where all will answer."""
        for leftover in sorted(self._runs.glob("run-*")):
            with contextlib.suppress(FolderInUse), hold(leftover):
                remove_state(leftover)
        self._held.enter_context(hold(self.state))
        (self.state / "staticfiles").mkdir()  # nothing is collected for tests, but the folder is expected
        given = postgres.find_given()
        if given is None:
            self.server = Postgres(self.state, durable=False)
            self.app_url, self.owner_url = self.server.app_url, self.server.owner_url
        else:
            self.app_url, self.owner_url = given.app_url, given.owner_url
        self.broker = Broker(self.state)

    @property
    def environment(self) -> dict[str, str]:
        """What the settings read, here and in processes that tests start."""
        return {
            "BALLAST_DEMO": "1",
            "BALLAST_STATE": str(self.state),
            "DATABASE_URL": self.app_url,
            "DATABASE_OWNER_URL": self.owner_url,
            "REDIS_URL": self.broker.url,
            "SECRET_KEY": SECRET_KEY,
            "EMAIL_TLS": "none",
        }

    def start(self) -> None:
        """Both answer; from the second call on, nothing happens."""
        if not self._started:
            self._started = True
            if self.server:
                self.server.start()
            self.broker.start()

    def stop(self) -> None:
        """Both are gone, and so is the run's folder."""
        if self._started:
            self.broker.stop()
            if self.server:
                self.server.stop()
        remove_state(self.state)
        self._held.close()


SERVICES = pytest.StashKey[Services]()
_numbers = count(1)


def _exit_on_signal(number: int, _frame: object) -> None:
    pytest.exit(f"ended by signal {number}", returncode=128 + number)


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> Generator[None]:
    """Runs around pytest-django's hook of the same name, which is the one that loads the settings."""
    services = Services()
    services.take_folder()
    os.environ.update(services.environment)
    early_config.stash[SERVICES] = services
    early_config.add_cleanup(services.stop)
    signal.signal(signal.SIGTERM, _exit_on_signal)
    return (yield)


@pytest.fixture(scope="session")
def services(pytestconfig: pytest.Config) -> Services:
    """The run's PostgreSQL and Redis, started. `server` and `broker` may be stopped and started again by a test."""
    found = pytestconfig.stash[SERVICES]
    found.start()
    return found


@pytest.fixture
def redis_url(services: Services) -> Iterator[str]:
    """Where Celery reaches the broker, empty at the start of the test where it is this run's own."""
    if services.broker.child:
        services.broker.empty()
    yield services.broker.url


@pytest.fixture
def state(pytestconfig: pytest.Config) -> Iterator[Path]:
    """A state folder of the test's own. Unlike tmp_path, a service's account can walk to it."""
    folder = make_state(pytestconfig.stash[SERVICES].state / f"state-{next(_numbers)}")
    yield folder
    remove_state(folder)
