"""The exercise library: shared by all clubs, loaded from `fixtures/`, versioned so that sent weeks keep theirs."""

from django.db import models

from athletes.retention import NOT_PERSONAL


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

    privacy = NOT_PERSONAL

    class Meta:
        ordering = ["pattern", "level", "name"]

    def __str__(self) -> str:
        return self.name
