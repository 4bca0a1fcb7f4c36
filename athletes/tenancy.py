"""Clubs kept apart by the database itself: row-level security and same-club keys, as a migration operation.

Each tenant table gets a policy that shows only the rows of the club named by the setting ``ballast.club`` of the
running transaction (unset shows nothing), a unique key on (club, id), and for each foreign key to another tenant table
a second, composite one over (club, that id), so that no row can point into another club.

>>> ProtectTenantTables("Rider", "Squad").describe()
'Protect Rider, Squad by club'
"""

from typing import Any

from django.db import models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations.base import Operation, OperationCategory
from django.db.migrations.state import ProjectState

#: The login that the application uses. It owns no table and cannot bypass row security.
APPLICATION_ROLE = "ballast_app"
#: Settings of a transaction that policies read. Custom settings live and die with the transaction.
CLUB_SETTING = "ballast.club"
USER_SETTING = "ballast.user"
TOKEN_SETTING = "ballast.token"  # noqa: S105 - the name of a setting
SCOPE_SETTING = "ballast.scope"
#: The one scope that crosses clubs: the clock's, which looks for due rows.
CLOCK_SCOPE = "clock"

THIS_CLUB = f"(SELECT nullif(current_setting('{CLUB_SETTING}', true), '')::uuid)"
THIS_USER = f"(SELECT nullif(current_setting('{USER_SETTING}', true), '')::bigint)"
THIS_TOKEN = f"(SELECT nullif(current_setting('{TOKEN_SETTING}', true), ''))"
IS_CLOCK = f"(SELECT current_setting('{SCOPE_SETTING}', true) = '{CLOCK_SCOPE}')"


def is_tenant(model: type[models.Model]) -> bool:
    """Whether rows of `model` belong to one club."""
    return any(field.name == "club" and field.is_relation for field in model._meta.local_fields)


def same_club_keys(model: type[models.Model]) -> list[tuple[str, str, str, str]]:
    """(constraint name, column, parent table, parent key column) for each key from `model` to another tenant row."""
    table = model._meta.db_table
    keys = []
    for field in model._meta.local_fields:
        parent = field.remote_field.model if field.is_relation and field.remote_field else None
        if parent is None or field.name == "club" or isinstance(parent, str) or not is_tenant(parent):
            continue
        column, key = str(field.column), str(parent._meta.pk.column)
        keys.append((f"{table}_{column}_club"[:58] + "_fk", column, parent._meta.db_table, key))
    return keys


class ProtectTenantTables(Operation):
    """Puts the named models of the app under row-level security with same-club keys. Reversible.

    `extra` maps a model's name to further permissive policies, each (name, command, SQL condition), for the few rows
    that must be found before the club is known: an account's own memberships, a link by its hash, due deliveries.
    """

    reduces_to_sql = True
    category = OperationCategory.ALTERATION

    def __init__(self, *names: str, extra: dict[str, list[tuple[str, str, str]]] | None = None) -> None:
        self.names = names
        self.extra = extra or {}

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        return self.__class__.__name__, list(self.names), {"extra": self.extra} if self.extra else {}

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Changes no model: only the database knows."""

    def describe(self) -> str:
        return f"Protect {', '.join(self.names)} by club"

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        found = [to_state.apps.get_model(app_label, name) for name in self.names]
        for model in found:
            self._protect(schema_editor, model)
        for model in found:
            for name, column, parent, key in same_club_keys(model):
                schema_editor.execute(
                    f'ALTER TABLE "{model._meta.db_table}" ADD CONSTRAINT "{name}" '
                    f'FOREIGN KEY (club_id, "{column}") REFERENCES "{parent}" (club_id, "{key}") '
                    "DEFERRABLE INITIALLY DEFERRED"
                )

    def _protect(self, schema_editor: BaseDatabaseSchemaEditor, model: type[models.Model]) -> None:
        table, key = model._meta.db_table, model._meta.pk.column
        club = "id" if model._meta.model_name == "club" else "club_id"
        schema_editor.execute(f'ALTER TABLE "{table}" ENABLE ROW LEVEL SECURITY')
        schema_editor.execute(
            f'CREATE POLICY own_club ON "{table}" USING ({club} = {THIS_CLUB}) WITH CHECK ({club} = {THIS_CLUB})'
        )
        for name, command, condition in self.extra.get(model._meta.object_name or "", []):
            check = f" WITH CHECK ({condition})" if command == "UPDATE" else ""
            schema_editor.execute(
                f'CREATE POLICY {name} ON "{table}" FOR {command} USING ({condition}){check}'
            )
        if club == "club_id":
            schema_editor.execute(
                f'ALTER TABLE "{table}" ADD CONSTRAINT "{table}_club_key" UNIQUE (club_id, "{key}")'
            )

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        found = [from_state.apps.get_model(app_label, name) for name in self.names]
        for model in found:
            for name, *_ in same_club_keys(model):
                schema_editor.execute(f'ALTER TABLE "{model._meta.db_table}" DROP CONSTRAINT "{name}"')
        for model in found:
            table = model._meta.db_table
            names = ["own_club", *(extra[0] for extra in self.extra.get(model._meta.object_name or "", []))]
            for name in names:
                schema_editor.execute(f'DROP POLICY {name} ON "{table}"')
            schema_editor.execute(f'ALTER TABLE "{table}" DISABLE ROW LEVEL SECURITY')
            if model._meta.model_name != "club":
                schema_editor.execute(f'ALTER TABLE "{table}" DROP CONSTRAINT "{table}_club_key"')
