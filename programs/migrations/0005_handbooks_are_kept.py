"""The handbook is made by a worker and kept."""

import django.db.models.deletion
from django.db import migrations, models

from athletes.tenancy import IS_CLOCK, ProtectTenantTables


class Migration(migrations.Migration):
    dependencies = [("programs", "0004_exercises_are_searched"), ("athletes", "0002_tenancy")]

    operations = [
        migrations.CreateModel(
            name="Handbook",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("digest", models.CharField(max_length=64)),
                ("language", models.CharField(max_length=10)),
                ("wanted_at", models.DateTimeField()),
                ("claimed_at", models.DateTimeField(blank=True, null=True)),
                ("made_at", models.DateTimeField(blank=True, null=True)),
                ("done", models.PositiveSmallIntegerField(default=0)),
                ("total", models.PositiveSmallIntegerField(default=0)),
                ("pdf", models.BinaryField(blank=True, null=True)),
                ("fault", models.CharField(blank=True, max_length=200)),
                (
                    "club",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="athletes.club",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("club", "digest", "language"), name="one_handbook_of_a_library"
                    )
                ],
            },
        ),
        # The clock looks for due handbooks of all clubs; it reads and changes them inside each club.
        ProtectTenantTables("Handbook", extra={"Handbook": [("clock", "SELECT", IS_CLOCK)]}),
    ]
