"""A slot may ask for work of the hip and for power."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("programs", "0006_clubs_have_exercises")]

    operations = [
        migrations.AlterField(
            "slot",
            "pattern",
            models.CharField(
                verbose_name="movement pattern",
                max_length=20,
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
                ],
            ),
        ),
    ]
