"""What every page's frame needs."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest


def workspace(request: HttpRequest) -> dict[str, Any]:
    """The membership that the doorway found, and whether the demo's caught mail can be looked at. No query."""
    return {
        "membership": getattr(request, "membership", None),
        "has_mailbox": bool(settings.MAILBOX),
    }
