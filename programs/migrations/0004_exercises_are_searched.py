"""The words and names of exercises can be searched, with slips of the finger."""

import django.contrib.postgres.indexes
import django.contrib.postgres.search
import django.db.models.functions.text
from django.db import migrations, models

import programs.models.library


class Migration(migrations.Migration):
    dependencies = [("programs", "0003_session_keys_hold_pins")]

    operations = [
        # A trusted extension: the database's owner may add it. Going back leaves it, since others may use it.
        migrations.RunSQL("CREATE EXTENSION IF NOT EXISTS pg_trgm", migrations.RunSQL.noop),
        migrations.AddField(
            "exercise",
            "vector",
            models.GeneratedField(
                db_persist=True,
                expression=programs.models.library.words_vector(),
                output_field=django.contrib.postgres.search.SearchVectorField(),
            ),
        ),
        migrations.AddIndex(
            "exercise", django.contrib.postgres.indexes.GinIndex(fields=["vector"], name="exercise_words")
        ),
        migrations.AddIndex(
            "exercise",
            django.contrib.postgres.indexes.GinIndex(
                django.contrib.postgres.indexes.OpClass(
                    django.db.models.functions.text.Upper("name"), name="gin_trgm_ops"
                ),
                name="exercise_name_parts",
            ),
        ),
    ]
