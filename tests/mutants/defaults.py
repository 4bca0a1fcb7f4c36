"""Puts a changed default in place: of a constant, of a value's field, of an argument. For `trying`.

Each function answers whether that was possible; where it was not, what imported the module has to be imported anew.
"""

import ast
import sys
from collections.abc import Callable, Iterator
from dataclasses import Field, is_dataclass
from types import FunctionType, ModuleType
from typing import Any

from tests.mutants.making import Mutant

type Worth = Callable[[ast.expr], Any]


def home_of(mutant: Mutant) -> ModuleType:
    return sys.modules[mutant.module.removesuffix(".py").replace("/", ".")]


def _holds(node: ast.AST, mutant: Mutant) -> bool:
    first, last = getattr(node, "lineno", 0), getattr(node, "end_lineno", 0) or 0
    return first <= mutant.first <= last


def _worth(expression: ast.expr, names: dict[str, Any]) -> Any:
    code = compile(ast.Expression(expression), "<changed>", "eval", dont_inherit=True)
    return eval(code, names)  # noqa: S307 - the project's own source


def change_constants(mutant: Mutant, tree: ast.Module) -> bool:
    """The changed constant, and those worked out from it, are what everybody has who imported them."""
    home = home_of(mutant)
    changed: dict[str, Any] = {}
    for node in tree.body:
        match node:
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                pass
            case ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value):
                pass
            case _:
                if _holds(node, mutant):
                    return False
                continue
        uses = {one.id for one in ast.walk(value) if isinstance(one, ast.Name)}
        if _holds(node, mutant) or uses & changed.keys():
            changed[name] = _worth(value, {**vars(home), **changed})
    for name, value in changed.items():
        was = vars(home)[name]
        for module in list(sys.modules.values()):
            if isinstance(module, ModuleType) and vars(module).get(name, changed) is was:
                setattr(module, name, value)
    return bool(changed)


def change_defaults(mutant: Mutant, tree: ast.Module, live: Callable[[str, int], list[FunctionType]]) -> bool:
    """The changed default of a value's field or of an argument is what who leaves it out gets."""
    home = home_of(mutant)
    for node, within in _walk(tree, ""):
        if isinstance(node, ast.AnnAssign) and _holds(node, mutant) and within:
            owner: Any = home
            for part in within.split("."):
                owner = getattr(owner, part, None)
            return _change_field(owner, node, vars(home))
        if isinstance(node, ast.FunctionDef) and node.lineno <= mutant.first < node.body[0].lineno:
            line = min([node.lineno, *(one.lineno for one in node.decorator_list)])
            functions = live(f"{within}.{node.name}" if within else node.name, line)
            positional = tuple(_worth(one, vars(home)) for one in node.args.defaults)
            named = {
                arg.arg: _worth(one, vars(home))
                for arg, one in zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True)
                if one is not None
            }
            for function in functions:
                function.__defaults__, function.__kwdefaults__ = positional or None, named or None
            return bool(functions)
    return False


def _walk(node: ast.AST, within: str) -> Iterator[tuple[ast.AST, str]]:
    """Every statement of modules and classes, with the class it stands in."""
    for one in getattr(node, "body", []):
        yield one, within
        if isinstance(one, ast.ClassDef):
            yield from _walk(one, f"{within}.{one.name}" if within else one.name)


def _change_field(owner: Any, node: ast.AnnAssign, names: dict[str, Any]) -> bool:
    if not (
        isinstance(owner, type) and is_dataclass(owner) and isinstance(node.target, ast.Name) and node.value
    ):
        return False
    value, name = _worth(node.value, names), node.target.id
    make: Any = owner.__init__
    named, positional = make.__kwdefaults__ or {}, make.__defaults__ or ()
    code = make.__code__
    order = code.co_varnames[: code.co_argcount][code.co_argcount - len(positional) :]
    if isinstance(value, Field) or not (name in named or name in order):
        return False
    make.__kwdefaults__ = {**named, name: value} if name in named else make.__kwdefaults__
    make.__defaults__ = tuple(
        value if one == name else old for one, old in zip(order, positional, strict=True)
    )
    return True
