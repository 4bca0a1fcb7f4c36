"""The prose of the rules, read from where it stands: the heads of the modules that carry them out.

An entry begins with its rule's id at the margin and the text in the fifth column, or with several ids and two spaces;
what belongs to it is indented. `prose_of` answers every entry of a rule, the one of its own module first: that is its
group's module, or else the one whose first lines name the rule earliest.
"""

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from programs.engine.reasons import RULES

ROOT = Path(__file__).parents[1]
SOURCES = ("programs/engine/*.py", "athletes/*.py")
#: Where the rules of a group stand, if they have no module of their own.
GROUPS = {
    "K": "programs/engine/kit.py",
    "L": "programs/engine/families.py",
    "S": "programs/engine/strength.py",
    "T": "athletes/triage.py",
    "I": "programs/engine/safety.py",
}
_ID = r"[A-Z]\d{1,2}"
_ENTRY = re.compile(rf"({_ID}(?:, {_ID})*)( +)([^\sa-z].*)")
_IDS = re.compile(rf"({_ID})(?: to ({_ID}))?")
#: A sentence ends with a full stop before a space and a capital or a bracket; not after an initial.
_SENTENCE = re.compile(r"(?<=[.])(?<!\b[A-Z]\.)(?<!e\.g\.) +(?=[A-Z(\"*])")
#: What a sentence's origin is called on the page, best founded first, and the words by which the sentence says so.
MARKS = {
    "published": re.compile(r"\bS: |\bS for "),
    "from memory": re.compile(r"from memory"),
    "practice": re.compile(r"\bpractice\b"),
    "ours": re.compile(r"\bours\b|\bour own\b|this project's choice"),
}

#: A shorter sentence says nothing by itself.
LEAST_SAID = 25


@dataclass(frozen=True)
class Prose:
    """One entry: the file that it stands in, and its paragraphs without tables."""

    file: str
    text: str

    @property
    def sentences(self) -> list[str]:
        return [one.strip() for one in _SENTENCE.split(self.text) if one.strip()]


def ids_in(text: str) -> list[str]:
    """Every rule that a text names, in order, ranges such as `S2 to S5` unfolded."""
    found: list[str] = []
    for first, last in _IDS.findall(text):
        numbers = range(int(first[1:]), int(last[1:]) + 1) if last else [int(first[1:])]
        found += [f"{first[0]}{number}" for number in numbers]
    return found


def entries_of(docstring: str) -> Iterator[tuple[list[str], str]]:
    """The ids of each entry of a docstring, and its text."""
    ids: list[str] = []
    lines: list[str] = []
    for line in [*docstring.splitlines(), "end"]:
        head = _ENTRY.fullmatch(line)
        if head and (len(head[1] + head[2]) == 4 or (", " in head[1] and len(head[2]) == 2)):
            if ids:
                yield ids, _flowed(lines)
            ids, lines = ids_in(head[1]), [head[3]]
        elif line.startswith("    ") or not line:
            lines.append(line[4:])
        else:
            if ids:
                yield ids, _flowed(lines)
            ids, lines = [], []


def _flowed(lines: list[str]) -> str:
    """The text as one paragraph; what is indented further, or between bars, is a table and goes."""
    kept: list[str] = []
    for line in lines:
        if not line or line[0] not in " |":
            kept.append(line)
        elif kept[-2:] and kept[-1] == "" and kept[-2].endswith(":"):
            kept[-2] = kept[-2][:-1] + "; the table stands in the module."
    return " ".join(line for line in kept if line)


@cache
def _everything() -> dict[str, list[Prose]]:
    found: dict[str, list[tuple[int, int, str, str]]] = defaultdict(list)
    for path in sorted(path for pattern in SOURCES for path in ROOT.glob(pattern)):
        docstring = ast.get_docstring(ast.parse(path.read_text("utf-8"))) or ""
        opening = ids_in(docstring.partition("\n\n")[0])
        for ids, text in entries_of(docstring):
            for rule in ids:
                file = str(path.relative_to(ROOT))
                place = opening.index(rule) if rule in opening else len(RULES)
                found[rule].append((-1 if GROUPS.get(rule[0]) == file else place, -len(text), file, text))
    return {rule: [Prose(file, text) for *_, file, text in sorted(all_of)] for rule, all_of in found.items()}


def prose_of(rule: str) -> list[Prose]:
    """Every entry of a rule, that of its own module first."""
    return _everything().get(rule, [])


def in_short(rule: str) -> str:
    """A rule in its first sentence, and the second where there is room."""
    first, *others = prose_of(rule)[0].sentences
    return f"{first} {others[0]}" if others and len(first) + len(others[0]) < 260 else first


def origins(rule: str) -> list[tuple[str, str]]:
    """The sentences of a rule that say where something comes from: (how well founded, sentence), each once, the best
    founded first."""
    said: dict[str, str] = {}
    for prose in prose_of(rule):
        for sentence in prose.sentences:
            marks = [name for name, mark in MARKS.items() if mark.search(sentence)]
            if marks and len(sentence) >= LEAST_SAID:
                said.setdefault(sentence, " and ".join(marks))
    order = list(MARKS)
    return sorted(
        ((name, text) for text, name in said.items()),
        key=lambda one: order.index(one[0].partition(" and ")[0]),
    )
