"""The base of every row that belongs to a club."""

from typing import ClassVar

from django.db import models

from athletes.retention import PrivacyRule


class TenantModel(models.Model):
    """A row of one club. The database shows it only inside `access.within(club)` (see `athletes/tenancy.py`)."""

    club = models.ForeignKey("athletes.Club", on_delete=models.CASCADE, related_name="+", editable=False)

    privacy: ClassVar[PrivacyRule]

    class Meta:
        abstract = True
