"""How long it takes until there is something to work with. `make bench` prints the figures of this machine."""

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from coaching.stack.postgres import Postgres, create_database, drop_database
from coaching.stack.redis import Broker
from tests.databases import Database
from tests.live import StartStack
from tests.services import Services

pytestmark = pytest.mark.bench


def measure(what: str, work: Callable[[], object], *, at_most: float) -> None:
    """Print how many seconds the work took. The bound is what a slow machine may take, not what is aimed at."""
    began = time.perf_counter()
    work()
    took = time.perf_counter() - began
    print(f"\n{what}: {took:.2f} s")
    assert took < at_most


def test_the_servers_start_in_seconds(state: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("REDIS_URL")
    server, broker = Postgres(state, durable=False), Broker(state)
    measure("PostgreSQL, new data folder", server.start, at_most=20)
    server.stop()
    measure("PostgreSQL, data folder there", server.start, at_most=10)
    server.stop()
    measure("Redis", broker.start, at_most=5)
    broker.stop()


def test_a_copy_of_the_migrated_database_is_made_in_a_blink(
    services: Services, migrated_database: Database
) -> None:
    name = f"test_ballast_{os.getpid()}_measured"
    measure(
        "Copy of a migrated database",
        lambda: create_database(services.owner_url, name, template=migrated_database.name),
        at_most=5,
    )
    drop_database(services.owner_url, name)


def test_the_application_is_up_in_seconds(live_stack: StartStack) -> None:
    measure("Web server, worker and ticker", live_stack, at_most=60)
