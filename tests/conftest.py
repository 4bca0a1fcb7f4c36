"""What any test may ask for: databases, a mail server, the running processes, a browser."""

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
