"""What any test may ask for: databases, a mail server, the running processes, a browser."""

from hypothesis import settings

from tests.browser import browser, page
from tests.clocks import clock
from tests.databases import (
    django_db_setup,
    fresh_database,
    migrated_database,
    pytest_collection_modifyitems,
)
from tests.live import live_stack
from tests.postbox import smtp_sink
from tests.reports import pytest_terminal_summary

# The same examples in each run, so that a run that passed passes again; `--hypothesis-profile=wander` draws new ones.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("wander", deadline=None, print_blob=True)
settings.load_profile("steady")

__all__ = [
    "browser",
    "clock",
    "django_db_setup",
    "fresh_database",
    "live_stack",
    "migrated_database",
    "page",
    "pytest_collection_modifyitems",
    "pytest_terminal_summary",
    "smtp_sink",
]
