"""Row-level security and same-club keys of the weekly loop."""

from django.db import migrations

from athletes.tenancy import APPLICATION_ROLE, ProtectTenantTables


class Migration(migrations.Migration):
    dependencies = [("programs", "0001_initial"), ("athletes", "0002_tenancy")]

    operations = [
        # The shared library changes only by a release, which runs as the owner of the tables.
        migrations.RunSQL(
            f"REVOKE INSERT, UPDATE, DELETE ON programs_exercise, programs_libraryversion FROM {APPLICATION_ROLE}",
            migrations.RunSQL.noop,
        ),
        ProtectTenantTables(
            "Program",
            "Block",
            "SessionTemplate",
            "Slot",
            "WeekPlan",
            "Decision",
            "SessionKey",
            "PlannedSession",
            "PlannedItem",
            "LevelMove",
            "CheckIn",
            "CheckInVersion",
            "ItemReport",
        ),
    ]
