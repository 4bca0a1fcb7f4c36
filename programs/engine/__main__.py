"""The engine on the command line: facts as JSON on standard input, the decision as JSON on standard output.

    python -m programs.engine next-target < facts.json
    python -m programs.engine schema next-target

Bad input ends with status 2 and one line on standard error that says where and what.
"""

import argparse
import json
import sys
from collections.abc import Sequence
from typing import IO, Never

from programs.engine.codec import Json
from programs.engine.questions import QUESTIONS, QuestionError, answer, shapes

BAD_INPUT = 2
SCHEMA_VERB = "schema"


class _Parser(argparse.ArgumentParser):
    """A parser whose errors are one line, like every other error here."""

    def error(self, message: str) -> Never:
        raise QuestionError(message)


def run(arguments: Sequence[str], given: IO[bytes], out: IO[str], errors: IO[str]) -> int:
    """Answers the question that the arguments name and returns the status: 0, or 2 after one line on `errors`."""
    try:
        chosen = _parser().parse_args(arguments)
        document = shapes(chosen.of) if chosen.verb == SCHEMA_VERB else answer(chosen.verb, _read(given))
    except ValueError as error:  # FactsError and QuestionError are ValueErrors too
        print("programs.engine: " + " ".join(str(error).split()), file=errors)
        return BAD_INPUT
    _print(document, out)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="python -m programs.engine",
        description="Reads facts as JSON on standard input and prints the engine's decision as JSON.",
    )
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="QUESTION", parser_class=_Parser)
    for verb, question in QUESTIONS.items():
        verbs.add_parser(verb, help=question.about, description=question.about)
    schema = verbs.add_parser(SCHEMA_VERB, help="the JSON Schema of a question and of its answers")
    schema.add_argument("of", choices=list(QUESTIONS), metavar="QUESTION")
    return parser


def _read(given: IO[bytes]) -> object:
    """The document on standard input. Raises `QuestionError` when it is not JSON in UTF-8, or names a field twice."""
    try:
        return json.loads(given.read().decode(), object_pairs_hook=_once_each, parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise QuestionError(f"standard input is not JSON: {error.msg} at {where}") from error
    except UnicodeDecodeError as error:
        raise QuestionError(f"standard input is not UTF-8: byte {error.start}") from error
    except RecursionError as error:
        raise QuestionError("standard input is nested too deeply") from error


def _once_each(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _value in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise QuestionError(f"the field {twice!r} is given twice")
    return found


def _no_constant(name: str) -> Never:
    raise QuestionError(f"{name} is not JSON")


def _print(document: Json, out: IO[str]) -> None:
    json.dump(document, out, indent=2, ensure_ascii=False)
    out.write("\n")


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:], sys.stdin.buffer, sys.stdout, sys.stderr))
