"""Watches what is asked of the translator in French, and keeps what it could not say."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.utils import translation
from django.utils.translation import get_language

from coaching.catalogue import files
from coaching.catalogue.extraction import Text


@pytest.fixture
def untranslated(monkeypatch: pytest.MonkeyPatch) -> Iterator[set[Text]]:
    """Every text that was asked for in French and is not in the catalogue of Ballast or of Django."""
    catalogue = Path(settings.BASE_DIR) / "locale" / "fr" / "LC_MESSAGES" / "django.po"
    done = {
        (entry.text.context, entry.text.singular)
        for entry in files.read_po(catalogue.read_text(encoding="utf-8"))
        if entry.is_translated
    }
    found: set[Text] = set()

    def watch(original: Callable[..., str], has_context: bool) -> Callable[..., str]:
        def translated(*arguments: Any) -> str:
            said = original(*arguments)
            context, singular = (
                (str(arguments[0]), str(arguments[1])) if has_context else ("", str(arguments[0]))
            )
            if get_language() == "fr" and said == singular and (context, singular) not in done and singular:
                found.add(Text(singular, "", context))
            return said

        return translated

    for name, has_context in (
        ("gettext", False),
        ("ngettext", False),
        ("pgettext", True),
        ("npgettext", True),
    ):
        monkeypatch.setattr(
            translation._trans, name, watch(getattr(translation._trans, name), has_context), raising=False
        )
    yield found
