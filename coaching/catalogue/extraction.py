"""Finds every text that is given to the translator: in Python, in templates, and in the tables of reasons.

Python is read as a syntax tree, so that names under which a module imports gettext do not matter. Templates are read as
Django reads them. Sentences in a table named in `TABLES` go through gettext at run time and are found there.

>>> [text.singular for text in texts_of_python('from django.utils.translation import gettext as _\\n_("Rest")')]
['Rest']
"""

import ast
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from django.utils.translation.template import templatize

#: The folders of code, and those of templates.
PACKAGES = ("athletes", "coaching", "programs")
TEMPLATES = "templates"
TEMPLATE_SUFFIXES = (".html", ".txt")
#: Module-level dictionaries whose values are sentences that are translated when they are shown.
TABLES = frozenset({"REASONS", "RULES"})

#: For each function of `django.utils.translation`, which arguments hold context, singular and plural.
_FUNCTIONS: Mapping[str, tuple[int | None, int, int | None]] = {
    "gettext": (None, 0, None),
    "gettext_lazy": (None, 0, None),
    "gettext_noop": (None, 0, None),
    "ngettext": (None, 0, 1),
    "ngettext_lazy": (None, 0, 1),
    "pgettext": (0, 1, None),
    "pgettext_lazy": (0, 1, None),
    "npgettext": (0, 1, 2),
    "npgettext_lazy": (0, 1, 2),
}


@dataclass(frozen=True, slots=True, order=True)
class Text:
    """One text to translate: with its context when it has one, and its plural when it counts something."""

    singular: str
    plural: str = ""
    context: str = ""


class NotWrittenOut(Exception):
    """A text is computed before it is given to the translator, so that no catalogue can hold it."""


def texts_of_python(source: str) -> Iterator[Text]:
    """The texts of a module: calls of gettext and the sentences of its tables. Raises `NotWrittenOut`."""
    tree = ast.parse(source)
    names = _imported_names(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in names:
            yield from _text_of_call(node, _FUNCTIONS[names[node.func.id]])
    for statement in tree.body:
        if isinstance(statement, ast.Assign | ast.AnnAssign) and _is_table(statement):
            yield from _texts_of_table(statement.value)


def computed_calls(source: str) -> list[int]:
    """The lines on which a module gives the translator a text that is not written out there."""
    tree = ast.parse(source)
    names = _imported_names(tree)
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id in names
        and not _is_written_out(node, _FUNCTIONS[names[node.func.id]])
    ]


def texts_of_template(source: str, name: str = "") -> Iterator[Text]:
    """The texts of a template, as Django's own extraction sees it."""
    for match in _CALL.finditer(templatize(source, origin=name)):
        call = ast.parse(match[0].strip(), mode="eval").body
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name):
            function = "gettext" if call.func.id == "_" else call.func.id
            yield from _text_of_call(call, _FUNCTIONS[function])


_STRING = r"""u?(?:"(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')"""
_CALL = re.compile(
    rf"(?:\b(?:gettext|pgettext|ngettext|npgettext)|(?<!\w)_)\((?:{_STRING}(?:,\s*)?)+(?:count)?\)", re.DOTALL
)


def find_texts(root: Path) -> dict[Text, tuple[str, ...]]:
    """Every text of the tree at `root`, with the files that hold it, both in alphabetical order."""
    found: dict[Text, set[str]] = defaultdict(set)
    for path in sorted(python_files(root)):
        for text in texts_of_python(path.read_text(encoding="utf-8")):
            found[text].add(str(path.relative_to(root)))
    for path in sorted((root / TEMPLATES).rglob("*")):
        if path.suffix in TEMPLATE_SUFFIXES:
            for text in texts_of_template(path.read_text(encoding="utf-8"), path.name):
                found[text].add(str(path.relative_to(root)))
    return {text: tuple(sorted(found[text])) for text in sorted(_merged(found))}


def python_files(root: Path) -> list[Path]:
    """The modules of the project's own packages."""
    return [path for package in PACKAGES for path in sorted((root / package).rglob("*.py"))]


def _merged(found: dict[Text, set[str]]) -> dict[Text, set[str]]:
    """A text that stands both alone and with a plural is one message, as gettext's format has it."""
    for text in [text for text in found if text.plural]:
        alone = Text(text.singular, "", text.context)
        if alone in found:
            found[text] |= found.pop(alone)
    return found


def _imported_names(tree: ast.Module) -> dict[str, str]:
    """The names in this module of functions of `django.utils.translation`."""
    return {
        alias.asname or alias.name: alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module == "django.utils.translation"
        for alias in node.names
        if alias.name in _FUNCTIONS
    }


def _text_of_call(node: ast.Call, places: tuple[int | None, int, int | None]) -> Iterator[Text]:
    if _is_written_out(node, places):
        context, singular, plural = (None if place is None else node.args[place] for place in places)
        yield Text(_said(singular), _said(plural), _said(context))


def _is_written_out(node: ast.Call, places: tuple[int | None, int, int | None]) -> bool:
    wanted = [place for place in places if place is not None]
    return len(node.args) > max(wanted) and all(
        isinstance(node.args[place], ast.Constant) for place in wanted
    )


def _said(node: ast.expr | None) -> str:
    return str(node.value) if isinstance(node, ast.Constant) else ""


def _is_table(statement: ast.Assign | ast.AnnAssign) -> bool:
    targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
    return any(isinstance(target, ast.Name) and target.id in TABLES for target in targets)


def _texts_of_table(value: ast.expr | None) -> Iterator[Text]:
    """The sentences of a dictionary written out; tables of other modules that it takes in are found there.

    A value may be a sentence, a call of gettext, or a call whose plain arguments are all words, such as a rule's title
    and source.
    """
    for node in ast.walk(value) if value else ():
        if isinstance(node, ast.Dict):
            for key, held in zip(node.keys, node.values, strict=True):
                if key is None:
                    continue
                words = held.args if isinstance(held, ast.Call) else [held]
                if not all(isinstance(word, ast.Constant) for word in words):
                    raise NotWrittenOut(f"line {held.lineno}")
                yield from (Text(_said(word)) for word in words if _said(word))
