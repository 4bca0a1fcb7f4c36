"""Imports one module of the engine from another source: `-p tests.mutants.again` with `MUTANT` as "module:file".

For mutants that cannot be put in place once everything has been imported.
"""

import importlib.abc
import importlib.machinery
import importlib.util
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

import hypothesis
from hypothesis import Phase

ROOT = Path(__file__).resolve().parents[2]
hypothesis.settings.register_profile(
    "mutants", derandomize=True, deadline=None, database=None, phases=(Phase.explicit, Phase.generate)
)


class _Elsewhere(importlib.machinery.SourceFileLoader):
    """Loads the module as if from its own file."""

    def get_code(self, fullname: str) -> object:
        return compile(Path(_source).read_text("utf-8"), self.path, "exec", dont_inherit=True)


class _Finder(importlib.abc.MetaPathFinder):
    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if fullname != _name:
            return None
        file = str(ROOT / _module)
        return importlib.util.spec_from_file_location(fullname, file, loader=_Elsewhere(fullname, file))


if given := os.environ.get("MUTANT"):
    _module, _source = given.split(":", 1)
    _name = _module.removesuffix(".py").replace("/", ".")
    sys.meta_path.insert(0, _Finder())
