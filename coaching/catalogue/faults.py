"""What is wrong with a catalogue: texts that it lacks, and translations that would break or mislead a page."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from string import Formatter

from coaching.catalogue.extraction import Text
from coaching.catalogue.files import PLURALS, Entry

_PERCENT = re.compile(r"%\((\w+)\)[sd]|%[sd%]")
#: Texts that are formats of dates and times, where letters stand for parts.
_FORMATS = re.compile(r"(?:date|time) format")


def find_faults(
    texts: Mapping[Text, tuple[str, ...]], entries: Iterable[Entry], *, language: str
) -> Iterator[str]:
    """Every fault of the catalogue, in a line each; nothing when it is fresh and sound."""
    held = {entry.text: entry for entry in entries}
    for text in texts:
        if text not in held:
            yield f"not in the catalogue: {text.singular!r}. Run make messages."
    for text, entry in held.items():
        if text not in texts:
            yield f"in the catalogue, but nowhere in the code: {text.singular!r}. Run make messages."
        yield from _faults_of(entry, language)


def _faults_of(entry: Entry, language: str) -> Iterator[str]:
    text, wanted = entry.text, PLURALS[language][0] if entry.text.plural else 1
    if len(entry.said) != wanted:
        yield f"{text.singular!r}: {len(entry.said)} forms, {wanted} are needed"
    if any(entry.said) and not all(entry.said):
        yield f"{text.singular!r}: a plural form is missing"
    for said in filter(None, entry.said):
        yield from _lost(text, said)


def _lost(text: Text, said: str) -> Iterator[str]:
    """Placeholders that a translation lost or made up, and line ends and outer spaces that it changed.

    A plural's first form may leave the number out, as ``1 rider`` does.
    """
    if _FORMATS.search(text.context):
        return
    sources = [text.plural, text.singular] if text.plural else [text.singular]
    if set(placeholders(said)) not in [set(placeholders(source)) for source in sources]:
        yield f"{text.singular!r}: the translation has other placeholders: {said!r}"
    for edge in (r"^[ \n]*", r"[ \n]*$"):
        if re.search(edge, said)[0] != re.search(edge, text.singular)[0]:  # type: ignore[index]  # always matches
            yield f"{text.singular!r}: the translation begins or ends with other spaces: {said!r}"


def placeholders(text: str) -> Counter[str]:
    """The names in braces and after per cent signs, counted."""
    try:
        braces = [name for _, name, *_ in Formatter().parse(text) if name is not None]
    except ValueError:
        braces = ["(unbalanced)"]
    return Counter([*braces, *(match[0] for match in _PERCENT.finditer(text))])
