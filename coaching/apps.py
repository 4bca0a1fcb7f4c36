"""The project's own app: the desk. It owns no tables."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class CoachingConfig(AppConfig):
    name = "coaching"
    verbose_name = _("Desk")
