"""What tests stand on: the application's role, rolled-back transactions, and copies where commits are needed."""

import os

import psycopg
import pytest
from django.contrib.contenttypes.models import ContentType
from django.db import connection, connections

from tests.databases import Database


def ask(question: str) -> tuple:
    with connection.cursor() as cursor:
        cursor.execute(question)
        return cursor.fetchone()


@pytest.mark.django_db
def test_an_ordinary_test_runs_as_a_role_that_owns_nothing() -> None:
    rights = "SELECT current_user, rolsuper, rolbypassrls FROM pg_roles WHERE rolname = current_user"
    assert ask(rights) == ("ballast_app", False, False)
    assert ask("SELECT count(*) FROM pg_class WHERE relowner = current_user::regrole") == (0,)
    assert ask("SELECT count(*) > 0 FROM pg_tables WHERE tableowner = 'ballast_owner'") == (True,)


@pytest.mark.django_db
@pytest.mark.parametrize("time", ["first", "second"])
def test_an_ordinary_test_leaves_nothing_behind(time: str) -> None:
    assert not ContentType.objects.filter(app_label="left behind").exists()
    ContentType.objects.create(app_label="left behind", model=time)


@pytest.mark.parametrize("time", ["first", "second"])
def test_a_fresh_database_holds_only_what_was_migrated_and_commits(
    fresh_database: Database, time: str
) -> None:
    assert connection.settings_dict["NAME"] == fresh_database.name
    assert not ContentType.objects.filter(app_label="committed").exists()
    ContentType.objects.create(app_label="committed", model=time)
    seen = "SELECT model FROM django_content_type WHERE app_label = 'committed'"
    with psycopg.connect(os.environ["DATABASE_URL"]) as elsewhere:
        assert elsewhere.execute(seen).fetchall() == [(time,)]


def test_a_fresh_database_is_reached_by_the_owner_as_well(fresh_database: Database) -> None:
    with connections["owner"].cursor() as cursor:
        cursor.execute("SELECT current_user, current_database()")
        assert cursor.fetchone() == ("ballast_owner", fresh_database.name)


@pytest.mark.django_db
def test_after_a_fresh_database_ordinary_tests_are_back_at_home() -> None:
    assert ask("SELECT current_database()") == (f"test_ballast_{os.getpid()}",)
