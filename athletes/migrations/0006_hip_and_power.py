"""A clinician's limit may be on work of the hip and on power."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("athletes", "0005_deliveries_are_handed_over_and_given_up")]

    operations = [
        migrations.AlterField(
            "clinicianlimit",
            "pattern",
            models.CharField(
                verbose_name="movement pattern",
                max_length=20,
                blank=True,
                choices=[
                    ("squat", "squat"),
                    ("hinge", "hinge"),
                    ("single-leg", "single-leg"),
                    ("lateral", "lateral"),
                    ("push", "push"),
                    ("pull", "pull"),
                    ("front-trunk", "front-trunk"),
                    ("side-trunk", "side-trunk"),
                    ("rotation", "rotation"),
                    ("carry", "carry"),
                    ("calf", "calf"),
                    ("hip", "hip"),
                    ("power", "power"),
                    ("balance", "balance"),
                    ("mobility", "mobility"),
                    ("warm-up", "warm-up"),
                    ("cool-down", "cool-down"),
                ],
            ),
        ),
    ]
