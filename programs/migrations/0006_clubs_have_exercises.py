"""A club has exercises of its own, and its own words for shipped ones; what its people read is a view of both."""

import django.contrib.postgres.indexes
import django.contrib.postgres.search
import django.db.models.deletion
import django.db.models.functions.text
from django.db import migrations, models

import programs.models.library
from athletes.tenancy import APPLICATION_ROLE, THIS_CLUB, ProtectTenantTables

VIEW = f"""
CREATE VIEW programs_exercise_in_force WITH (security_invoker = true) AS
    SELECT slug, name, pattern, level, document, is_retired, false AS is_own, vector
    FROM programs_exercise shipped
    WHERE NOT EXISTS (
        SELECT FROM programs_clubexercise own WHERE own.club_id = {THIS_CLUB} AND own.slug = shipped.slug
    )
    UNION ALL
    SELECT slug, name, pattern, level, document, is_retired, true, vector
    FROM programs_clubexercise
    WHERE club_id = {THIS_CLUB};
REVOKE INSERT, UPDATE, DELETE ON programs_exercise_in_force FROM {APPLICATION_ROLE};
"""

# A view has no keys to point at: what names an exercise must name a shipped one or one of its own club.
KNOWN = """
CREATE FUNCTION programs_exercise_is_known() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.exercise_id IS NOT NULL
        AND NOT EXISTS (SELECT FROM programs_exercise WHERE slug = NEW.exercise_id)
        AND NOT EXISTS (
            SELECT FROM programs_clubexercise WHERE slug = NEW.exercise_id AND club_id = NEW.club_id
        )
    THEN
        RAISE EXCEPTION 'no exercise % in this club', NEW.exercise_id USING ERRCODE = 'foreign_key_violation';
    END IF;
    RETURN NEW;
END
$$;
"""
NAMING = ("programs_slot", "programs_planneditem", "programs_levelmove")
TRIGGERS = [
    f"CREATE TRIGGER exercise_is_known BEFORE INSERT OR UPDATE OF exercise_id, club_id ON {table} "
    "FOR EACH ROW EXECUTE FUNCTION programs_exercise_is_known();"
    for table in NAMING
]


def words() -> models.GeneratedField:
    """The search vector as the database keeps it."""
    return models.GeneratedField(
        db_persist=True,
        expression=programs.models.library.words_vector(),
        output_field=django.contrib.postgres.search.SearchVectorField(),
    )


def indexes(words_name: str, parts_name: str) -> list[models.Index]:
    """The two indexes of a search."""
    upper = django.db.models.functions.text.Upper("name")
    return [
        django.contrib.postgres.indexes.GinIndex(fields=["vector"], name=words_name),
        django.contrib.postgres.indexes.GinIndex(
            django.contrib.postgres.indexes.OpClass(upper, name="gin_trgm_ops"), name=parts_name
        ),
    ]


def club() -> models.ForeignKey:
    """Whose it is."""
    return models.ForeignKey(
        editable=False, on_delete=django.db.models.deletion.CASCADE, related_name="+", to="athletes.club"
    )


class Migration(migrations.Migration):
    dependencies = [("programs", "0005_handbooks_are_kept"), ("athletes", "0002_tenancy")]

    operations = [
        migrations.AlterField(
            "slot",
            "exercise",
            models.ForeignKey(
                blank=True,
                db_constraint=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                to="programs.exercise",
                verbose_name="fixed exercise",
            ),
        ),
        *(
            migrations.AlterField(
                name,
                "exercise",
                models.ForeignKey(
                    db_constraint=False,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="programs.exercise",
                ),
            )
            for name in ("planneditem", "levelmove")
        ),
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.RemoveIndex("exercise", "exercise_words"),
                migrations.RemoveIndex("exercise", "exercise_name_parts"),
                migrations.AlterModelTable("exercise", "programs_exercise_in_force"),
                migrations.AlterModelOptions(
                    "exercise", {"managed": False, "ordering": ["pattern", "level", "name"]}
                ),
                migrations.CreateModel(
                    name="ShippedExercise",
                    fields=[
                        ("slug", models.SlugField(max_length=80, primary_key=True, serialize=False)),
                        ("name", models.CharField(max_length=100)),
                        ("pattern", models.CharField(db_index=True, max_length=20)),
                        ("level", models.PositiveSmallIntegerField()),
                        ("document", models.JSONField()),
                        ("is_retired", models.BooleanField(default=False)),
                        ("vector", words()),
                    ],
                    options={
                        "db_table": "programs_exercise",
                        "indexes": indexes("exercise_words", "exercise_name_parts"),
                    },
                ),
            ]
        ),
        migrations.CreateModel(
            name="ClubExercise",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("slug", models.SlugField(max_length=80)),
                ("name", models.CharField(max_length=100)),
                ("pattern", models.CharField(max_length=20)),
                ("level", models.PositiveSmallIntegerField()),
                ("document", models.JSONField()),
                ("earned_from", models.JSONField(blank=True, default=list)),
                ("shipped", models.JSONField(blank=True, null=True)),
                ("is_retired", models.BooleanField(default=False)),
                ("changed_at", models.DateTimeField()),
                ("changed_by", models.CharField(max_length=60)),
                ("vector", words()),
                ("club", club()),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("club", "slug"), name="one_exercise_of_a_slug")
                ],
                "indexes": indexes("own_exercise_words", "own_exercise_name_parts"),
            },
        ),
        migrations.CreateModel(
            name="ClubLibrary",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("digest", models.CharField(db_index=True, max_length=64)),
                ("base", models.CharField(max_length=64)),
                ("document", models.JSONField()),
                ("made_at", models.DateTimeField()),
                ("made_by", models.CharField(max_length=60)),
                ("is_current", models.BooleanField(default=False)),
                ("faults", models.JSONField(blank=True, default=list)),
                ("club", club()),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("club", "number"), name="one_library_of_a_number"),
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)),
                        fields=("club",),
                        name="one_current_library_of_a_club",
                    ),
                ],
            },
        ),
        ProtectTenantTables("ClubExercise", "ClubLibrary"),
        migrations.RunSQL(VIEW, "DROP VIEW programs_exercise_in_force"),
        migrations.RunSQL(KNOWN, "DROP FUNCTION programs_exercise_is_known()"),
        migrations.RunSQL(TRIGGERS, [f"DROP TRIGGER exercise_is_known ON {table};" for table in NAMING]),
    ]
