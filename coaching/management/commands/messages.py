"""`manage.py messages`: brings every text of the code into the catalogues, and compiles them. No gettext is needed."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from coaching.catalogue import extraction, faults, files
from programs import library
from programs.engine.library_words import find_lacking


class Command(BaseCommand):
    help = "Brings every text of the code into the catalogues under locale/, and compiles them."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--check", action="store_true", help="change nothing, fail when something would")

    def handle(self, *args: Any, **options: Any) -> None:
        root = Path(settings.BASE_DIR)
        texts = extraction.find_texts(root)
        found: list[str] = []
        for language in files.PLURALS:
            path = catalogue_path(root, language)
            old = files.read_po(path.read_text(encoding="utf-8")) if path.exists() else []
            entries = files.merge(texts, old, language=language)
            if options["check"]:
                found += faults.find_faults(texts, old, language=language)
                continue
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(files.write_po(entries, language=language), encoding="utf-8")
            path.with_suffix(".mo").write_bytes(files.compile_mo(entries, language=language))
            found += faults.find_faults(texts, entries, language=language)
            done = sum(entry.is_translated for entry in entries)
            self.stdout.write(f"{language}: {len(entries)} texts, {done} translated.")
            for lacking in find_lacking(library.read_files(), library.read_words(), language=language):
                self.stdout.write(f"  exercises, in English so far: {lacking}")
        if found:
            raise CommandError("\n".join(found))


def catalogue_path(root: Path, language: str) -> Path:
    """Where the catalogue of a language stands."""
    return root / "locale" / language / "LC_MESSAGES" / "django.po"
