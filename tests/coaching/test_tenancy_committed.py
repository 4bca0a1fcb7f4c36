"""What keeps clubs apart when rows are committed and the tables' owner has been at work."""

import psycopg
import pytest

from athletes import access
from athletes.models import Club, Rider
from tests.coaching.test_tenancy import ask, faults_of
from tests.databases import Database
from tests.world import WORLD_NOW


def club_in_force() -> object:
    return ask("SELECT nullif(current_setting('ballast.club', true), '')")[0][0]


def test_a_table_that_lost_its_protection_would_be_noticed(fresh_database: Database) -> None:
    with psycopg.connect(fresh_database.owner_url, autocommit=True) as owner:

        def ask_owner(sql: str, *values: object) -> list[tuple]:
            return owner.execute(sql, values).fetchall()

        assert faults_of(Rider, ask_owner) == []
        for statement, fault in (
            ("ALTER TABLE athletes_rider DISABLE ROW LEVEL SECURITY", "no row security"),
            ("DROP POLICY own_club ON athletes_rider", "no policy own_club over everything, but []"),
            (
                "ALTER TABLE athletes_rider DROP CONSTRAINT athletes_rider_club_key CASCADE",
                "no unique key on club and primary key",
            ),
            (
                "ALTER TABLE athletes_rider DROP CONSTRAINT athletes_rider_squad_id_club_fk",
                "no same-club key for squad_id",
            ),
        ):
            owner.execute(statement)
            assert fault in faults_of(Rider, ask_owner)


def test_the_setting_ends_with_its_transaction(fresh_database: Database) -> None:
    """A connection is used again by whoever comes next: no club may be left on it."""
    club = Club(name="Wexenfold Hill Riders")
    with access.within(club):
        club.save()
    assert club_in_force() is None
    assert not Club.objects.exists()
    with pytest.raises(ValueError, match="inside"), access.within(club):
        raise ValueError("inside")
    assert club_in_force() is None


def test_not_even_the_owner_of_the_table_changes_an_audit_entry(fresh_database: Database) -> None:
    club = Club(name="Wexenfold Hill Riders")
    with access.within(club):
        club.save()
        access.record("test", club_id=club.pk, by="clock", now=WORLD_NOW)
    with psycopg.connect(fresh_database.owner_url, autocommit=True) as owner:
        for statement in (
            "UPDATE athletes_auditentry SET actor = 'nobody'",
            "DELETE FROM athletes_auditentry",
        ):
            with pytest.raises(psycopg.errors.RaiseException, match="append-only"):
                owner.execute(statement)
