"""A catalogue on disk: the .po file that people write in, and the .mo file that gettext reads.

The .po format is GNU gettext's ("The Format of PO Files", manual of GNU gettext), without what is not used here:
entries keep the files in which a text stands, not the lines, so that moving code changes nothing. The .mo format is
that of "The Format of GNU MO Files", without a hash table.
"""

import ast
import re
import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from coaching.catalogue.extraction import Text

#: How many plural forms each language has, and the rule that picks one, as the Unicode CLDR gives it for whole numbers.
PLURALS = {"fr": (2, "nplurals=2; plural=(n > 1);")}
_HEAD = """\
# The words of Ballast in another language. `make messages` brings new texts in and compiles the file; translations are
# written here by hand. How to: docs/translating.md.
"""
_MO_MAGIC = 0x950412DE
_CONTEXT_END = "\x04"
_PLURAL_END = "\x00"


@dataclass(frozen=True, slots=True)
class Entry:
    """One text with its translation: one string, or one for each plural form; empty strings where there is none yet."""

    text: Text
    said: tuple[str, ...]
    files: tuple[str, ...] = ()
    is_fuzzy: bool = False
    comments: tuple[str, ...] = ()

    @property
    def is_translated(self) -> bool:
        """Whether every form is there and nobody marked it as doubtful."""
        return all(self.said) and not self.is_fuzzy


class Unreadable(Exception):
    """A line of a .po file that the format does not know; says which."""


def merge(texts: Mapping[Text, tuple[str, ...]], old: Iterable[Entry], *, language: str) -> list[Entry]:
    """An entry for each text, with the translation that it had; those of texts that are gone are dropped."""
    kept = {entry.text: entry for entry in old}
    forms = PLURALS[language][0]
    merged = []
    for text, files in texts.items():
        before = kept.get(text)
        said = before.said if before else ("",) * (forms if text.plural else 1)
        merged.append(
            Entry(text, said, files, before.is_fuzzy if before else False, before.comments if before else ())
        )
    return merged


# --- .po --------------------------------------------------------------------------------------------------------------


def write_po(entries: Iterable[Entry], *, language: str) -> str:
    """The text of the .po file."""
    head = (
        "Project-Id-Version: Ballast\n"
        f"Language: {language}\n"
        "MIME-Version: 1.0\n"
        "Content-Type: text/plain; charset=UTF-8\n"
        "Content-Transfer-Encoding: 8bit\n"
        f"Plural-Forms: {PLURALS[language][1]}\n"
    )
    parts = [_HEAD + _written("msgid", "") + _written("msgstr", head)]
    for entry in entries:
        lines = [f"# {comment}\n" for comment in entry.comments]
        lines += [f"#: {file}\n" for file in entry.files]
        lines += ["#, fuzzy\n"] if entry.is_fuzzy else []
        if entry.text.context:
            lines.append(_written("msgctxt", entry.text.context))
        lines.append(_written("msgid", entry.text.singular))
        if entry.text.plural:
            lines.append(_written("msgid_plural", entry.text.plural))
            lines += [_written(f"msgstr[{form}]", said) for form, said in enumerate(entry.said)]
        else:
            lines.append(_written("msgstr", entry.said[0]))
        parts.append("".join(lines))
    return "\n".join(parts)


def _written(keyword: str, text: str) -> str:
    lines = [_quoted(line) for line in text.splitlines(keepends=True)] or ['""']
    if len(lines) == 1:
        return f"{keyword} {lines[0]}\n"
    return "\n".join([f'{keyword} ""', *lines]) + "\n"


def _quoted(text: str) -> str:
    for plain, escaped in (("\\", "\\\\"), ('"', '\\"'), ("\n", "\\n"), ("\t", "\\t")):
        text = text.replace(plain, escaped)
    return f'"{text}"'


_KEYWORD = re.compile(r"(msgctxt|msgid_plural|msgid|msgstr)(?:\[(\d+)\])? (\".*\")")


def read_po(written: str) -> list[Entry]:
    """The entries of a .po file without its head. Raises `Unreadable`."""
    entries = []
    for block in re.split(r"\n\s*\n", written.strip()):
        entry = _read_entry(block)
        if entry is not None and entry.text.singular:
            entries.append(entry)
    return entries


def _read_entry(block: str) -> Entry | None:
    strings: dict[str, str] = {}
    files, comments, is_fuzzy, current = [], [], False, ""
    for line in block.splitlines():
        keyword = _KEYWORD.fullmatch(line)
        if line.startswith("#:"):
            files += line[2:].split()
        elif line.startswith("#,"):
            is_fuzzy = is_fuzzy or "fuzzy" in line
        elif line.startswith(("#~", "#|", "#.")):
            continue
        elif line.startswith("#"):
            comments.append(line[1:].strip())
        elif keyword:
            current = keyword[1] + (keyword[2] or "")
            strings[current] = _unquoted(keyword[3])
        elif line.startswith('"') and current:
            strings[current] += _unquoted(line)
        else:
            raise Unreadable(line)
    if "msgid" not in strings:
        return None
    text = Text(strings["msgid"], strings.get("msgid_plural", ""), strings.get("msgctxt", ""))
    said = tuple(strings[name] for name in sorted(strings) if name.startswith("msgstr"))
    return Entry(text, said, tuple(files), is_fuzzy, tuple(comments))


def _unquoted(quoted: str) -> str:
    try:
        return str(ast.literal_eval(quoted))
    except (ValueError, SyntaxError) as broken:
        raise Unreadable(quoted) from broken


# --- .mo --------------------------------------------------------------------------------------------------------------


def compile_mo(entries: Iterable[Entry], *, language: str) -> bytes:
    """The bytes that gettext reads: translated entries alone, so that all others are shown as they are written."""
    head = f"Content-Type: text/plain; charset=UTF-8\nLanguage: {language}\nPlural-Forms: {PLURALS[language][1]}\n"
    pairs = {b"": head.encode()}
    for entry in entries:
        if entry.is_translated:
            context = f"{entry.text.context}{_CONTEXT_END}" if entry.text.context else ""
            plural = f"{_PLURAL_END}{entry.text.plural}" if entry.text.plural else ""
            key = f"{context}{entry.text.singular}{plural}".encode()
            pairs[key] = _PLURAL_END.join(entry.said).encode()
    keys = sorted(pairs)
    table_at, count = 28, len(keys)
    originals_at = table_at + 16 * count
    translations_at = originals_at + sum(len(key) + 1 for key in keys)
    tables = [_table(keys, originals_at), _table([pairs[key] for key in keys], translations_at)]
    sizes = struct.pack(
        "<7I", _MO_MAGIC, 0, count, table_at, table_at + 8 * count, 0, originals_at
    )  # no hash table
    texts = [text + b"\0" for text in (*keys, *(pairs[key] for key in keys))]
    return b"".join([sizes, *tables, *texts])


def _table(texts: list[bytes], at: int) -> bytes:
    rows = []
    for text in texts:
        rows.append(struct.pack("<2I", len(text), at))
        at += len(text) + 1
    return b"".join(rows)
