"""The mutants of a module: its source with one thing changed, by the operators of mutmut.

mutmut's own runner leaves alone whatever stands outside a function or in a decorated one, which in the engine are the
limits, the caches and the properties. Here only its operators are used, on the whole module. Not mutated are:

- annotations, docstrings, imports, decorators, and calls of `len` and `isinstance` (as mutmut does),
- words: texts with a space in them, the sentences of `REASONS`, and what is given to an exception that is raised,
- what `if __name__` guards, and `strict=` of `zip`, which guards what cannot happen,
- arguments, unless they are given by name or to `min`, `max`, `any` and the like: one that is missing or None where it
  has to be there breaks whatever test comes first, and some 12,000 of those would only make the share look better.

Of a text only one change is tried, since a text in capitals is no other fault than one with letters added.
"""

import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import libcst as cst
from libcst.metadata import MetadataWrapper, PositionProvider
from mutmut.mutation.mutators import mutation_operators, operator_arg_removal, operator_swap_op

ROOT = Path(__file__).resolve().parents[2]
ENGINE = ROOT / "programs" / "engine"
_LEFT_ALONE = (
    cst.Annotation
    | cst.Decorator
    | cst.Import
    | cst.ImportFrom
    | cst.TypeAlias
    | cst.TypeParameters
    | cst.Raise
)
_WITH_OPERATORS = (
    cst.BinaryOperation | cst.UnaryOperation | cst.BooleanOperation | cst.ComparisonTarget | cst.AugAssign
)
_SEEN_THROUGH = {"len", "isinstance"}
#: Functions of any number of arguments, of which each has its say.
_CHOOSING = {"min", "max", "sum", "round", "range", "sorted", "lowest", "replace"}


@dataclass(frozen=True)
class Mutant:
    """A change in one place of a module.

    Attributes:
        module: its path from the root of the project.
        within: the function or class that holds the place, dotted; empty on the module's own level.
        before, after: the first line that changes, without its indentation.
        number: which of those that have all of the above in common.
        operator: the name of mutmut's operator.
        start, end: what of the source is replaced, in characters; `text` stands there instead.
        first, last: the lines of that.
        in_function: whether the change is inside a function's body.
        anchor: a digest of the statement on the module's level in which the place is.
    """

    module: str
    within: str
    before: str
    after: str
    number: int
    operator: str
    start: int
    end: int
    text: str
    first: int
    last: int
    in_function: bool
    anchor: str

    @property
    def name(self) -> str:
        """What it is called in the explanations and the state file."""
        again = f" ({self.number})" if self.number > 1 else ""
        return f"{self.module}::{self.within or '-'}: {self.before} -> {self.after}{again}"

    def source(self) -> str:
        source = source_of(self.module)
        return source[: self.start] + self.text + source[self.end :]


@cache
def source_of(module: str) -> str:
    """The source as it was when it was first asked for: it may be edited meanwhile."""
    return (ROOT / module).read_text("utf-8")


def modules() -> list[str]:
    """Every module of the engine, by its path from the root."""
    return sorted(str(path.relative_to(ROOT)) for path in ENGINE.glob("*.py"))


@cache
def mutants_of(module: str) -> tuple[Mutant, ...]:
    """Every mutant of a module, in the order of its lines."""
    source = source_of(module)
    wrapper = MetadataWrapper(cst.parse_module(source), unsafe_skip_copy=True)
    finder = _Finder(wrapper, source)
    wrapper.module.visit(finder)
    anchors = _anchors(wrapper, source)
    seen: Counter[tuple[str, str, str]] = Counter()
    made = []
    for start, end, text, operator, within, in_function in finder.found:
        before, after = _changed_line(source, start, end, text)
        if before == after:
            continue
        seen[within, before, after] += 1
        first = source.count("\n", 0, start) + 1
        last = first + source.count("\n", start, end)
        number = seen[within, before, after]
        made.append(
            Mutant(module, within, before, after, number, operator, start, end, text, first, last, in_function,
                   anchors[first])
        )  # fmt: skip
    return tuple(made)


def _changed_line(source: str, start: int, end: int, text: str) -> tuple[str, str]:
    """The first line that differs, and how it reads then."""
    from_line = source.rfind("\n", 0, start) + 1
    to_line = source.find("\n", end) if "\n" in source[end:] else len(source)
    old = source[from_line:to_line].split("\n")
    new = (source[from_line:start] + text + source[end:to_line]).split("\n")
    for before, after in zip(old, [*new, *[""] * len(old)], strict=False):
        if before.split() != after.split():
            return before.strip(), after.strip()
    return "", ""


def _anchors(wrapper: MetadataWrapper, source: str) -> dict[int, str]:
    """By line, the digest of the outermost statement that it belongs to."""
    positions, lines, anchors = wrapper.resolve(PositionProvider), source.splitlines(), {}
    for statement in wrapper.module.body:
        where = positions[statement]
        text = "\n".join(lines[where.start.line - 1 : where.end.line])
        digest = hashlib.sha256(text.encode()).hexdigest()[:12]
        anchors |= dict.fromkeys(range(where.start.line, where.end.line + 1), digest)
    return anchors


def _is_called(node: cst.CSTNode, names: set[str]) -> bool:
    return isinstance(node, cst.Call) and isinstance(node.func, cst.Name) and node.func.value in names


def _is_telling(node: cst.CSTNode, changed: cst.CSTNode) -> bool:
    """Whether a call that lost an argument, or has None for one, may still be one that works."""
    if not (isinstance(node, cst.Call) and isinstance(changed, cst.Call)):
        return True
    if len(node.args) == len(changed.args):
        return False
    gone = next(arg for arg in node.args if arg not in changed.args)
    if gone.keyword is not None and gone.keyword.value == "strict":
        return False
    return gone.keyword is not None or _is_called(node, _CHOOSING)


class _Finder(cst.CSTVisitor):
    """Walks the tree and notes what each operator would put where."""

    def __init__(self, wrapper: MetadataWrapper, source: str) -> None:
        super().__init__()
        self.found: list[tuple[int, int, str, str, str, bool]] = []
        self._module, self._source = wrapper.module, source
        self._positions = wrapper.resolve(PositionProvider)
        self._lines = [0]
        for line in source.splitlines(keepends=True):
            self._lines.append(self._lines[-1] + len(line))
        self._within: list[str] = []
        self._bodies = self._depth = 0
        self._function_bodies: set[int] = set()

    def on_visit(self, node: cst.CSTNode) -> bool:
        if isinstance(node, _LEFT_ALONE) or _is_called(node, _SEEN_THROUGH) or self._is_words(node):
            return False
        if isinstance(node, cst.FunctionDef | cst.ClassDef):
            self._within.append(node.name.value)
            if isinstance(node, cst.FunctionDef):
                self._function_bodies.add(id(node.body))
        if isinstance(node, cst.IndentedBlock):
            self._depth += 1
            self._bodies += id(node) in self._function_bodies
        self._note(node)
        return True

    def on_leave(self, original_node: cst.CSTNode) -> None:
        if isinstance(original_node, cst.FunctionDef | cst.ClassDef):
            self._within.pop()
        if isinstance(original_node, cst.IndentedBlock):
            self._depth -= 1
            self._bodies -= id(original_node) in self._function_bodies

    def _is_words(self, node: cst.CSTNode) -> bool:
        """Whether the node only holds words for people, or guards the command line."""
        match node:
            case cst.SimpleStatementLine(
                body=[cst.Expr(value=cst.SimpleString() | cst.ConcatenatedString())]
            ):
                return True
            case cst.SimpleString(value=text):
                return " " in text
            case cst.FormattedString():
                return " " in self._module.code_for_node(node)
            case (
                cst.AnnAssign(target=cst.Name(value="REASONS"))
                | cst.Assign(targets=[cst.AssignTarget(target=cst.Name(value="__all__"))])
            ):
                return True
            case cst.Arg(keyword=cst.Name(value="strict")):
                return True
            case cst.If(test=cst.Comparison(left=cst.Name(value="__name__"))):
                return True
        return False

    def _note(self, node: cst.CSTNode) -> None:
        if isinstance(node, cst.BaseParenthesizableWhitespace):
            return
        for kind, operator in mutation_operators:
            if not isinstance(node, _WITH_OPERATORS if operator is operator_swap_op else kind):
                continue
            for number, changed in enumerate(operator(node)):
                if number and isinstance(node, cst.BaseString):
                    break
                if operator is operator_arg_removal and not _is_telling(node, changed):
                    continue
                self._add(node, changed, operator.__name__.removeprefix("operator_"))

    def _add(self, node: cst.CSTNode, changed: cst.CSTNode, operator: str) -> None:
        where = self._positions[node]
        start = self._lines[where.start.line - 1] + where.start.column
        end = self._lines[where.end.line - 1] + where.end.column
        if getattr(node, "lpar", ()):  # a position is that of what stands in parentheses
            bare = {"lpar": [], "rpar": []}
            changed = changed.with_changes(**bare) if getattr(changed, "lpar", ()) == node.lpar else changed
            node = node.with_changes(**bare)
        old, new = (
            self._module.code_for_node(one).replace("\n", "\n" + "    " * self._depth)
            for one in (node, changed)
        )
        if self._source[start:end].strip() != old.strip():
            raise ValueError(
                f"{old!r} is not what stands at line {where.start.line}: {self._source[start:end]!r}"
            )
        span = self._source[start:end]
        text = span[: len(span) - len(span.lstrip())] + new.strip()
        self.found.append((start, end, text, operator, ".".join(self._within), self._bodies > 0))


def all_mutants(chosen: list[str]) -> Iterator[Mutant]:
    for module in chosen:
        yield from mutants_of(module)
