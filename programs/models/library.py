"""The exercise library: shipped to all clubs, with each club's own exercises beside it.

The shipped part is loaded from `fixtures/`. Both are versioned, so that sent weeks keep theirs.
"""

from collections.abc import Sequence
from typing import Any

from django.contrib.postgres.indexes import GinIndex, OpClass
from django.contrib.postgres.search import SearchVectorField
from django.core.checks import CheckMessage
from django.db import models
from django.db.models.functions import Upper

from athletes.models.tenant import TenantModel
from athletes.retention import NOT_PERSONAL

#: The text search configuration of the library's words, which are English.
CONFIG = "english"


class WordsOf(models.Func):
    """The words of one part of the document, or of its keys, as a search vector; weight A is the heaviest."""

    template = (
        "setweight(jsonb_to_tsvector('%(config)s', COALESCE(%(expressions)s, '[]'::jsonb), "
        "'[\"%(kind)s\"]'), '%(weight)s')"
    )
    output_field = SearchVectorField()

    def __init__(self, part: str, *, weight: str, kind: str = "string") -> None:
        super().__init__(models.F(f"document__{part}"), weight=weight, config=CONFIG, kind=kind)


class PatternWords(models.Func):
    """The words of the movement pattern as a search vector."""

    template = "setweight(to_tsvector('%(config)s', %(expressions)s), 'C')"
    output_field = SearchVectorField()

    def __init__(self) -> None:
        super().__init__(models.F("pattern"), config=CONFIG)


class Joined(models.Func):
    """Search vectors as one."""

    template = "(%(expressions)s)"
    arg_joiner = " || "
    output_field = SearchVectorField()


def words_vector() -> models.Func:
    """What a search goes through: the name above all, then cues, then purpose and set-up, then faults, kit, muscles."""
    weights = {
        "A": ["name"],
        "B": ["cues"],
        "C": ["purpose", "set_up"],
        "D": ["faults", "leave_out", "holdings", "furniture"],
    }
    return Joined(
        *(WordsOf(part, weight=weight) for weight, parts in weights.items() for part in parts),
        WordsOf("muscles", weight="D", kind="key"),
        PatternWords(),
    )


class LibraryVersion(models.Model):
    """One loaded state of the library. `document` is what the engine reads, under the digest that decisions name."""

    digest = models.CharField(max_length=64, unique=True)
    document = models.JSONField()
    loaded_at = models.DateTimeField()
    is_current = models.BooleanField(default=False)

    privacy = NOT_PERSONAL

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["is_current"], condition=models.Q(is_current=True), name="one_current_library"
            )
        ]

    def __str__(self) -> str:
        return self.digest[:12]


class StoredWords(models.GeneratedField):
    """A column of words that PostgreSQL works out and stores.

    Django asks the database at each check whether it can, for which it would have to be running: not so for a check of
    the settings, nor for one of the migrations. Every PostgreSQL that Django supports can. Migrations know it as the
    field that it is.
    """

    def __init__(self, **options: Any) -> None:
        words = {"expression": words_vector(), "output_field": SearchVectorField(), "db_persist": True}
        super().__init__(**{**words, **options})

    def _check_supported(self, databases: Sequence[str]) -> list[CheckMessage]:
        return []

    def deconstruct(self) -> Any:
        name, _path, arguments, options = super().deconstruct()
        return name, "django.db.models.GeneratedField", arguments, options


class ShippedExercise(models.Model):
    """One exercise as it is shipped. `document` is the whole reviewed entry of the fixture."""

    slug = models.SlugField(max_length=80, primary_key=True)
    name = models.CharField(max_length=100)
    pattern = models.CharField(max_length=20, db_index=True)
    level = models.PositiveSmallIntegerField()
    document = models.JSONField()
    is_retired = models.BooleanField(default=False)
    #: What a search goes through, kept by the database itself.
    vector = StoredWords()

    privacy = NOT_PERSONAL

    class Meta:
        db_table = "programs_exercise"
        indexes = [
            GinIndex(fields=["vector"], name="exercise_words"),
            GinIndex(OpClass(Upper("name"), name="gin_trgm_ops"), name="exercise_name_parts"),
        ]

    def __str__(self) -> str:
        return self.name


class ClubExercise(TenantModel):
    """A club's own exercise, or its own words and figures for a shipped one of the same slug.

    `shipped` is the shipped entry that the club last saw beside its own, None where there was none. `earned_from` are
    the steps that lead here from easier exercises, each (easier, criterion, words). Never deleted: sent weeks name it.
    """

    slug = models.SlugField(max_length=80)
    name = models.CharField(max_length=100)
    pattern = models.CharField(max_length=20)
    level = models.PositiveSmallIntegerField()
    document = models.JSONField()
    earned_from = models.JSONField(default=list, blank=True)
    shipped = models.JSONField(null=True, blank=True)
    is_retired = models.BooleanField(default=False)
    changed_at = models.DateTimeField()
    changed_by = models.CharField(max_length=60)
    vector = StoredWords()

    privacy = NOT_PERSONAL

    class Meta:
        constraints = [models.UniqueConstraint(fields=["club", "slug"], name="one_exercise_of_a_slug")]
        indexes = [
            GinIndex(fields=["vector"], name="own_exercise_words"),
            GinIndex(OpClass(Upper("name"), name="gin_trgm_ops"), name="own_exercise_name_parts"),
        ]

    def __str__(self) -> str:
        return self.name


class ClubLibrary(TenantModel):
    """One state of a club's library, shipped exercises and its own together, each change a new one.

    `base` is the digest of the shipped version that it stands on. `faults` say why a newer shipped version does not go
    with the club's own exercises; until they are mended this state stays in force.
    """

    number = models.PositiveIntegerField()
    digest = models.CharField(max_length=64, db_index=True)
    base = models.CharField(max_length=64)
    document = models.JSONField()
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=60)
    is_current = models.BooleanField(default=False)
    faults = models.JSONField(default=list, blank=True)

    privacy = NOT_PERSONAL

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["club", "number"], name="one_library_of_a_number"),
            models.UniqueConstraint(
                fields=["club"], condition=models.Q(is_current=True), name="one_current_library_of_a_club"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number}: {self.digest[:12]}"


class Exercise(models.Model):
    """One exercise in words and figures, as people of the club in force read it: the club's own, else the shipped one.

    A view of the database, for reading only. Outside `access.within(club)` it shows what is shipped.
    """

    slug = models.SlugField(max_length=80, primary_key=True)
    name = models.CharField(max_length=100)
    pattern = models.CharField(max_length=20)
    level = models.PositiveSmallIntegerField()
    document = models.JSONField()
    is_retired = models.BooleanField(default=False)
    is_own = models.BooleanField(default=False)
    vector = SearchVectorField()

    privacy = NOT_PERSONAL

    class Meta:
        managed = False
        db_table = "programs_exercise_in_force"
        ordering = ["pattern", "level", "name"]

    def __str__(self) -> str:
        return self.name
