"""What people type or upload, made safe to keep. Pure.

>>> one_line("  Wren\\n\\tTollifant\\x00 ")
'Wren Tollifant'
>>> looks_like_formula("=HYPERLINK(1)")
True
"""

import unicodedata
from dataclasses import dataclass

#: What a spreadsheet program takes for the beginning of a formula (OWASP, "CSV injection").
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
#: Joiners that some scripts need to be read; every other format character is dropped.
_JOINERS = "\u200c\u200d"
_BREAKS = "\t\n\r\v\f\x85"


@dataclass(frozen=True, slots=True)
class Unread:
    """A piece of text that could not be read: what was found, and what would have been read."""

    found: str
    expected: str


def one_line(text: str, longest: int = 500) -> str:
    """The text on one line, without control, override and unpaired characters, at most `longest` characters long."""
    if text.isascii() and text.isprintable():
        return " ".join(text.split())[:longest]
    kept = []
    for character in text:
        category = unicodedata.category(character)
        if category in ("Zl", "Zp") or character in _BREAKS:
            kept.append(" ")
        elif category not in ("Cc", "Cf", "Cs", "Co", "Cn") or character in _JOINERS:
            kept.append(character)
    return " ".join("".join(kept).split())[:longest]


def looks_like_formula(text: str) -> bool:
    """Whether a spreadsheet program would compute the text instead of showing it."""
    return text.startswith(FORMULA_STARTS) or text.lstrip().startswith(FORMULA_STARTS)
