"""Which database the tests are connected to.

The session's database is migrated once, by the tables' owner; everything else happens as the application's role,
which owns nothing, so that row-level security holds in tests as it does in production. Ordinary tests run in
transactions that are rolled back. A test that needs commits seen by other processes takes `fresh_database`, a copy of
the migrated one: emptying tables instead (`django_db(transaction=True)`) is not permitted to the application's role.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO
from itertools import count

import pytest
from django.core.management import call_command
from django.db import connections
from pytest_django import DjangoDbBlocker

from coaching.stack.postgres import create_database, drop_database, with_database
from tests.services import Services

_copies = count(1)


@dataclass(frozen=True)
class Database:
    """A migrated database of its own, with its address for each role."""

    name: str
    app_url: str
    owner_url: str


def _locate(services: Services, name: str) -> Database:
    return Database(name, with_database(services.app_url, name), with_database(services.owner_url, name))


def close_connections() -> None:
    """No connection of this thread's is open."""
    for connection in connections.all():
        connection.close()
        connection.close_pool()


def connect_to(database: Database) -> None:
    """Both aliases, in every thread, and processes started from here on reach this database."""
    close_connections()
    for connection in connections.all():
        connection.settings_dict["NAME"] = database.name
    os.environ["DATABASE_URL"], os.environ["DATABASE_OWNER_URL"] = database.app_url, database.owner_url


@pytest.fixture(scope="session")
def migrated_database(
    services: Services, django_test_environment: None, django_db_blocker: DjangoDbBlocker
) -> Iterator[Database]:
    """The session's database, with every migration applied by the owner."""
    database = _locate(services, f"test_ballast_{os.getpid()}")
    drop_database(services.owner_url, database.name)
    create_database(services.owner_url, database.name)
    with django_db_blocker.unblock():
        connect_to(database)
        call_command("migrate", database="owner", interactive=False, verbosity=0)
        call_command("load_library", database="owner", stdout=StringIO())
        close_connections()
    yield database
    with django_db_blocker.unblock():
        close_connections()
    drop_database(services.owner_url, database.name)


@pytest.fixture(scope="session")
def django_db_setup(migrated_database: Database) -> None:
    """Takes the place of pytest-django's fixture, whose single role would own the tables it tests."""


@contextmanager
def copy_in_use(
    services: Services, migrated_database: Database, django_db_blocker: DjangoDbBlocker
) -> Iterator[Database]:
    """Everything reaches a copy of the migrated database, with whatever is committed in it; dropped at the end."""
    database = _locate(services, f"{migrated_database.name}_{next(_copies)}")
    with django_db_blocker.unblock():
        close_connections()
        create_database(services.owner_url, database.name, template=migrated_database.name)
        connect_to(database)
        try:
            yield database
        finally:
            connect_to(migrated_database)
            drop_database(services.owner_url, database.name)


@pytest.fixture
def fresh_database(
    request: pytest.FixtureRequest,
    services: Services,
    migrated_database: Database,
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[Database]:
    """A copy of the migrated database for this test alone, with everything committed in it; dropped afterwards."""
    if request.node.get_closest_marker("django_db") or "db" in request.fixturenames:
        pytest.fail(
            "A test with fresh_database commits for itself: take django_db and db off it.", pytrace=False
        )
    with copy_in_use(services, migrated_database, django_db_blocker) as database:
        yield database


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Say at once what would otherwise be a refusal at the end of a test."""
    for item in items:
        marker = item.get_closest_marker("django_db")
        fixtures = set(getattr(item, "fixturenames", ()))
        wanted = {
            "transactional_db",
            "live_server",
            "django_db_reset_sequences",
            "django_db_serialized_rollback",
        }
        if (marker and (marker.args or marker.kwargs.get("transaction"))) or fixtures & wanted:
            raise pytest.UsageError(
                f"{item.nodeid}: the application's role may not empty tables; use fresh_database."
            )
