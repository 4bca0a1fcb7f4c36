"""The handbook of the exercise library as a PDF, made by a worker and kept until the library changes."""

from django.db import models

from athletes.models.tenant import TenantModel
from athletes.retention import NOT_PERSONAL


class Handbook(TenantModel):
    """One state of the club's library in one language. It is due until it is made or has failed."""

    digest = models.CharField(max_length=64)
    language = models.CharField(max_length=10)
    wanted_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    made_at = models.DateTimeField(null=True, blank=True)
    #: How many exercises are drawn, and how many there are.
    done = models.PositiveSmallIntegerField(default=0)
    total = models.PositiveSmallIntegerField(default=0)
    pdf = models.BinaryField(null=True, blank=True)
    fault = models.CharField(max_length=200, blank=True)

    privacy = NOT_PERSONAL

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["club", "digest", "language"], name="one_handbook_of_a_library")
        ]

    def __str__(self) -> str:
        return f"{self.digest[:12]} {self.language}"
