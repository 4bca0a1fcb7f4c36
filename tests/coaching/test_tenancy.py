"""Clubs are kept apart by PostgreSQL itself, for every model there is and for each that comes.

Asked of the system catalogue through the application's own connection, and tried on rows of two clubs. Sources:
PostgreSQL 18 documentation, "Row Security Policies", "Deferrable constraints"; OWASP ASVS 5.0, V8 (authorization).
"""

import uuid
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import (
    DatabaseError,
    IntegrityError,
    ProgrammingError,
    connection,
    models,
    transaction,
)

from athletes import access
from athletes.models import AuditEntry, Club, Coach, Delivery, Heartbeat, Link, Race, Rider, Squad
from athletes.tenancy import APPLICATION_ROLE, is_tenant, same_club_keys
from programs.models import Handbook, LibraryVersion, ShippedExercise
from tests.world import (
    WORLD_NOW,
    Season,
    World,
    built_world,
    project_models,
    tenant_models,
    undone,
    world,
)

__all__ = ["built_world", "world"]

TENANTS = pytest.mark.parametrize("model", tenant_models(), ids=lambda model: model.__name__)
#: Rows of no club: accounts, the clock's heartbeats, failed tries to sign in, and the library that all clubs share.
OF_NO_CLUB = {"Club", "User", "Heartbeat", "SignInFailure", "Exercise", "ShippedExercise", "LibraryVersion"}
#: What the clock may find without knowing the club, so as to go into each club that has something due.
FOUND_BY_THE_CLOCK = {Club, Delivery, Handbook}


def ask(sql: str, *values: object) -> list[tuple]:
    """The rows that the application's connection gets."""
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return cursor.fetchall()


# --- the role ---------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_application_is_no_superuser_and_cannot_get_round_row_security() -> None:
    ((name, is_super, bypasses, makes_roles, makes_databases),) = ask(
        "SELECT rolname, rolsuper, rolbypassrls, rolcreaterole, rolcreatedb FROM pg_roles WHERE rolname = current_user"
    )
    assert name == APPLICATION_ROLE
    assert not (is_super or bypasses or makes_roles or makes_databases)
    assert ask("SELECT current_setting('row_security')") == [("on",)]


@pytest.mark.django_db
def test_the_application_owns_nothing_and_is_a_member_of_no_role_that_does() -> None:
    tables = ask(
        "SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r'"
    )
    assert tables[0][0] > len(tenant_models())
    owned = "SELECT relname FROM pg_class WHERE pg_has_role(current_user, relowner, 'MEMBER')"
    assert ask(owned) == []
    assert ask("SELECT proname FROM pg_proc WHERE pg_has_role(current_user, proowner, 'MEMBER')") == []


@pytest.mark.django_db
def test_the_application_can_neither_make_nor_change_nor_empty_a_table() -> None:
    for statement in (
        "CREATE TABLE public.of_our_own ()",
        "ALTER TABLE athletes_rider DISABLE ROW LEVEL SECURITY",
        "DROP POLICY own_club ON athletes_rider",
        "TRUNCATE athletes_auditentry",
        "SET ROLE ballast_owner",
        "SET SESSION AUTHORIZATION ballast_owner",
    ):
        with pytest.raises(ProgrammingError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)


# --- every table ------------------------------------------------------------------------------------------------------


def faults_of(model: type[models.Model], ask: Callable[..., list[tuple]] = ask) -> list[str]:
    """What the database lacks of the protection that `ProtectTenantTables` gives a model."""
    table, key = model._meta.db_table, model._meta.pk.column
    faults = []
    if not ask("SELECT 1 FROM pg_class WHERE oid = to_regclass(%s) AND relrowsecurity", table):
        faults.append("no row security")
    policies = ask(
        "SELECT permissive, cmd, roles::text, qual, with_check FROM pg_policies "
        "WHERE tablename = %s AND policyname = 'own_club'",
        table,
    )
    column = "id" if model is Club else "club_id"
    setting = "(NULLIF(current_setting('ballast.club'::text, true), ''::text))::uuid"
    wanted = f'({column} = ( SELECT {setting} AS "nullif"))'
    if policies != [("PERMISSIVE", "ALL", "{public}", wanted, wanted)]:
        faults.append(f"no policy own_club over everything, but {policies}")
    if model is Club:
        return faults
    definitions = {
        (kind, definition)
        for kind, definition in ask(
            "SELECT contype::text, pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid = to_regclass(%s)",
            table,
        )
    }
    if ("u", f"UNIQUE (club_id, {key})") not in definitions:
        faults.append("no unique key on club and primary key")
    for _name, column, parent, parent_key in same_club_keys(model):
        wanted = f"FOREIGN KEY (club_id, {column}) REFERENCES {parent}(club_id, {parent_key})"
        if not any(kind == "f" and definition.startswith(wanted) for kind, definition in definitions):
            faults.append(f"no same-club key for {column}")
    return faults


@pytest.mark.django_db
@pytest.mark.parametrize("model", [Club, *tenant_models()], ids=lambda model: model.__name__)
def test_the_table_of_every_tenant_model_is_protected(model: type[models.Model]) -> None:
    assert faults_of(model) == []


def test_every_model_is_of_a_club_or_known_to_be_of_none() -> None:
    assert {model.__name__ for model in project_models() if not is_tenant(model)} == OF_NO_CLUB


@pytest.mark.django_db
def test_no_further_policy_lets_anybody_write() -> None:
    """What is found before the club is known may be read only; there is no policy that nobody has looked at."""
    further = ask(
        "SELECT tablename, policyname, cmd FROM pg_policies WHERE policyname <> 'own_club' ORDER BY 1, 2"
    )
    assert further == [
        ("athletes_club", "clock", "SELECT"),
        ("athletes_club", "own_account", "SELECT"),
        ("athletes_coach", "own_account", "SELECT"),
        ("athletes_delivery", "clock", "SELECT"),
        ("athletes_link", "by_token", "SELECT"),
        ("programs_handbook", "clock", "SELECT"),
    ]


# --- rows of two clubs ------------------------------------------------------------------------------------------------


def first_of(model: type[models.Model], season: Season) -> models.Model:
    """A row of the club; each test that uses one would prove nothing without it."""
    with access.within(season.club):
        row = model._base_manager.order_by("pk").first()
    assert row is not None, f"tests/world.py makes no {model.__name__}"
    return row


@TENANTS
def test_without_a_club_no_row_is_visible(world: World, model: type[models.Model]) -> None:
    assert first_of(model, world.ours)
    assert not model._base_manager.exists()


def columns_of(row: models.Model) -> dict[str, object]:
    """The row's values as a new row would have them."""
    return {
        each.attname: getattr(row, each.attname)
        for each in row._meta.local_concrete_fields
        if not each.primary_key
    }


@TENANTS
def test_without_a_club_nothing_can_be_written(world: World, model: type[models.Model]) -> None:
    row = first_of(model, world.ours)
    with pytest.raises(ProgrammingError, match="row-level security"), undone():
        model._base_manager.create(**columns_of(row))
    if model is not AuditEntry:
        assert model._base_manager.filter(pk=row.pk).update(club_id=row.club_id) == 0


@TENANTS
def test_within_a_club_no_row_of_another_is_read_changed_or_deleted(
    world: World, model: type[models.Model]
) -> None:
    row = first_of(model, world.theirs)
    with access.within(world.theirs.club):
        assert model._base_manager.filter(pk=row.pk).exists()
    with access.within(world.ours.club), undone():
        rows = model._base_manager.filter(pk=row.pk)
        assert not rows.exists()
        assert not model._base_manager.exclude(club_id=world.ours.club.pk).exists()
        if model is not AuditEntry:
            assert rows.update(club_id=world.ours.club.pk) == 0
            assert rows._raw_delete("default") == 0


@TENANTS
def test_within_a_club_nothing_is_written_into_another(world: World, model: type[models.Model]) -> None:
    theirs, ours = first_of(model, world.theirs), first_of(model, world.ours)
    with access.within(world.ours.club):
        with pytest.raises(ProgrammingError, match="row-level security"), undone():
            model._base_manager.create(**columns_of(theirs))
        if model is not AuditEntry:
            with pytest.raises(ProgrammingError, match="row-level security"), undone():
                model._base_manager.filter(pk=ours.pk).update(club_id=world.theirs.club.pk)


@pytest.mark.parametrize(
    ("model", "key"),
    [(model, key) for model in tenant_models() for key in same_club_keys(model)],
    ids=lambda value: value.__name__ if isinstance(value, type) else value[1],
)
def test_no_row_can_point_into_another_club(
    world: World, model: type[models.Model], key: tuple[str, str, str, str]
) -> None:
    name, column, _table, _key = key
    parent = next(each for each in model._meta.local_fields if each.column == column).remote_field.model
    ours, own_parent = first_of(model, world.ours), first_of(parent, world.ours)
    theirs = first_of(parent, world.theirs)
    with access.within(world.theirs.club):
        # Nothing of theirs points at it, so that a one-to-one key has no objection of its own.
        model._base_manager.filter(**{column: theirs.pk}).delete()
    with access.within(world.ours.club):
        with undone():
            # The allow beside the deny: the same statement with a row of the own club breaks no same-club key.
            point(model, ours.pk, column, own_parent.pk)
            connection.check_constraints([model._meta.db_table])
        with pytest.raises(IntegrityError, match=name), undone():
            point(model, ours.pk, column, theirs.pk)
            check_now(name)


def point(model: type[models.Model], pk: object, column: str, to: object) -> None:
    """The row's key names another parent."""
    with connection.cursor() as cursor:
        cursor.execute(
            f'UPDATE "{model._meta.db_table}" SET "{column}" = %s WHERE "{model._meta.pk.column}" = %s',
            [to, pk],
        )
        assert cursor.rowcount == 1


def check_now(name: str) -> None:
    """The deferred constraint is checked at once."""
    with connection.cursor() as cursor:
        cursor.execute(f'SET CONSTRAINTS "{name}" IMMEDIATE')


# --- what is found before the club is known ---------------------------------------------------------------------------


@pytest.mark.parametrize("model", [Club, *tenant_models()], ids=lambda model: model.__name__)
def test_the_clock_sees_clubs_and_deliveries_of_all_and_changes_none(
    world: World, model: type[models.Model]
) -> None:
    clubs = {world.ours.club.pk, world.theirs.club.pk}
    column = "pk" if model is Club else "club_id"
    with access.as_clock():
        seen = set(model._base_manager.values_list(column, flat=True))
        assert seen == (clubs if model in FOUND_BY_THE_CLOCK else set())
        if model is not AuditEntry:
            assert (
                model._base_manager.update(**{"name" if model is Club else "club_id": world.ours.club.pk})
                == 0
            )
            assert model._base_manager.all()._raw_delete("default") == 0


@TENANTS
def test_the_clock_inside_a_club_changes_only_that_club(world: World, model: type[models.Model]) -> None:
    theirs = first_of(model, world.theirs)
    with access.as_clock(), access.within(world.ours.club), undone():
        seen = set(model._base_manager.values_list("club_id", flat=True))
        assert world.ours.club.pk in seen
        assert (world.theirs.club.pk in seen) == (model in FOUND_BY_THE_CLOCK)
        if model is not AuditEntry:
            assert model._base_manager.filter(pk=theirs.pk).update(club_id=theirs.club_id) == 0
            assert model._base_manager.filter(pk=theirs.pk)._raw_delete("default") == 0


def test_a_link_is_found_by_its_token_and_nothing_else_with_it(world: World) -> None:
    token = world.ours.tokens["page"]
    with access._setting(token=access.hash_of(token)):
        assert [link.token_hash for link in Link.objects.all()] == [access.hash_of(token)]
        assert Link.objects.update(revoked_at=WORLD_NOW) == 0
        for model in tenant_models():
            assert model is Link or not model._base_manager.exists()
    for wrong in ("", "x", token[:-1], access.hash_of(token)):
        with access._setting(token=access.hash_of(wrong)):
            assert not Link.objects.exists()


def test_a_token_is_kept_nowhere(world: World) -> None:
    with access.within(world.ours.club):
        links = Link.objects.all()
        for link in links:
            assert link.token_hash not in world.ours.tokens.values()
        assert {access.hash_of(token) for token in world.ours.tokens.values()} <= {
            link.token_hash for link in links
        }


def test_an_account_finds_its_own_memberships_and_no_others(world: World) -> None:
    owner = world.ours.people.owner
    assert access.memberships_of(owner.user) == [owner]
    with access._setting(user=str(owner.user_id)):
        assert list(Coach.objects.all()) == [owner]
        assert list(Club.objects.all()) == [world.ours.club]
        for model in tenant_models():
            assert model is Coach or not model._base_manager.exists()
        assert Coach.objects.update(role="owner") == 0


def test_a_club_that_is_nobodys_sees_nothing(world: World) -> None:
    with access.within(uuid.uuid4()):
        for model in [Club, *tenant_models()]:
            assert not model._base_manager.exists()


# --- the setting of the transaction -----------------------------------------------------------------------------------


def club_in_force() -> object:
    return ask("SELECT nullif(current_setting('ballast.club', true), '')")[0][0]


def test_after_an_inner_club_the_outer_one_is_back(world: World) -> None:
    ours, theirs = world.ours.club, world.theirs.club
    assert club_in_force() is None
    with access.within(ours):
        with access.within(theirs):
            assert club_in_force() == str(theirs.pk)
            with access.within(ours):
                assert list(Club.objects.all()) == [ours]
            assert list(Club.objects.all()) == [theirs]
        assert list(Club.objects.all()) == [ours]
    assert club_in_force() is None
    assert not Club.objects.exists()


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt])
def test_after_a_failure_inside_the_outer_club_is_back(world: World, error: type[BaseException]) -> None:
    with access.within(world.ours.club):
        with pytest.raises(error), access.within(world.theirs.club):
            raise error
        assert list(Club.objects.all()) == [world.ours.club]
    assert club_in_force() is None


def test_after_the_database_refused_something_inside_the_outer_club_is_back(world: World) -> None:
    ours, theirs = world.ours, world.theirs
    with access.within(ours.club):
        with pytest.raises(DatabaseError), access.within(theirs.club):
            Squad.objects.create(club=theirs.club, name=theirs.people.squad.name, coach=theirs.people.coach)
        assert list(Club.objects.all()) == [ours.club]
        with access.within(theirs.club):
            with pytest.raises(DatabaseError), transaction.atomic():
                Race.objects.create(club=ours.club, name="elsewhere", on=WORLD_NOW.date())
            assert list(Club.objects.all()) == [theirs.club]
    assert club_in_force() is None


# --- what the application may not change at all -----------------------------------------------------------------------


def test_an_audit_entry_is_written_but_neither_changed_nor_deleted(world: World) -> None:
    with access.within(world.ours.club):
        access.record("test", club_id=world.ours.club.pk, by="clock", now=WORLD_NOW)
        for statement in (
            lambda: AuditEntry.objects.update(actor="nobody"),
            lambda: AuditEntry.objects.all()._raw_delete("default"),
        ):
            with pytest.raises(ProgrammingError, match="permission denied"), transaction.atomic():
                statement()
        assert AuditEntry.objects.filter(action="test").exists()


@pytest.mark.parametrize("model", [ShippedExercise, LibraryVersion])
def test_the_shared_library_is_read_and_never_changed(world: World, model: type[models.Model]) -> None:
    assert model._base_manager.exists()
    row = model._base_manager.first()
    for statement in (
        lambda: model._base_manager.update(document={}),
        lambda: model._base_manager.all()._raw_delete("default"),
        lambda: model._base_manager.create(**columns_of(row)),
    ):
        with pytest.raises(ProgrammingError, match="permission denied"), transaction.atomic():
            statement()


def test_the_list_of_migrations_is_not_the_applications_to_change(world: World) -> None:
    with (
        pytest.raises(ProgrammingError, match="permission denied"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("DELETE FROM django_migrations")


def test_the_refusals_here_are_not_those_of_a_broken_connection(world: World) -> None:
    """The allow beside all the denies: the same role writes what it may."""
    with access.within(world.ours.club), undone():
        assert Rider.objects.filter(pk=world.ours.people.rider.pk).update(note="allowed") == 1
        assert Heartbeat.objects.create(job="test", started_at=WORLD_NOW - timedelta(days=1)).pk == "test"
