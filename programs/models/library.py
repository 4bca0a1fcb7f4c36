"""The exercise library: shared by all clubs, loaded from `fixtures/`, versioned so that sent weeks keep theirs."""

from django.contrib.postgres.indexes import GinIndex, OpClass
from django.contrib.postgres.search import SearchVectorField
from django.db import models
from django.db.models.functions import Upper

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


class Exercise(models.Model):
    """One exercise in words and figures, as people read it. `document` is the whole reviewed entry of the fixture."""

    slug = models.SlugField(max_length=80, primary_key=True)
    name = models.CharField(max_length=100)
    pattern = models.CharField(max_length=20, db_index=True)
    level = models.PositiveSmallIntegerField()
    document = models.JSONField()
    is_retired = models.BooleanField(default=False)
    #: What a search goes through, kept by the database itself.
    vector = models.GeneratedField(
        expression=words_vector(), output_field=SearchVectorField(), db_persist=True
    )

    privacy = NOT_PERSONAL

    class Meta:
        ordering = ["pattern", "level", "name"]
        indexes = [
            GinIndex(fields=["vector"], name="exercise_words"),
            GinIndex(OpClass(Upper("name"), name="gin_trgm_ops"), name="exercise_name_parts"),
        ]

    def __str__(self) -> str:
        return self.name
