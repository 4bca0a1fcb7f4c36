"""The engine on the command line: facts as JSON on standard input, the decision as JSON on standard output.

    python -m programs.engine next-target < facts.json
    python -m programs.engine next-target --help
    python -m programs.engine example next-target
    python -m programs.engine schema next-target
    python -m programs.engine schema --all DIRECTORY
    python -m programs.engine rules

The help of a question ends with a document that it can be put with. Bad input ends with status 2 and one line on
standard error that says where and what.
"""

import argparse
import json
import sys
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import IO, Never

from programs.engine.catalogue import rules_document
from programs.engine.codec import Json
from programs.engine.questions import QUESTIONS, QuestionError, answer, schema_files, shapes

BAD_INPUT = 2
SCHEMA_VERB, EXAMPLE_VERB, RULES_VERB = "schema", "example", "rules"
#: A document for each question, short enough to be read in its help.
EXAMPLES = Path(__file__).parent / "examples"
#: Where the schemas stand that go with this version: made by `schema --all`.
SCHEMAS = Path(__file__).parent / "schemas"


class _Parser(argparse.ArgumentParser):
    """A parser whose errors are one line, like every other error here."""

    def error(self, message: str) -> Never:
        raise QuestionError(message)


def run(arguments: Sequence[str], given: IO[bytes], out: IO[str], errors: IO[str]) -> int:
    """Answers the question that the arguments name and returns the status: 0, or 2 after one line on `errors`."""
    try:
        chosen = _parser().parse_args(arguments)
        if chosen.verb == EXAMPLE_VERB:
            out.write(example(chosen.of))
        elif chosen.verb == RULES_VERB:
            _print(rules_document(), out)
        elif chosen.verb == SCHEMA_VERB and chosen.all:
            _write_schemas(Path(chosen.all), out)
        elif chosen.verb == SCHEMA_VERB:
            _print(_shapes(chosen.of), out)
        else:
            _print(answer(chosen.verb, _read(given)), out)
    except (ValueError, OSError) as error:  # FactsError and QuestionError are ValueErrors too
        print("programs.engine: " + " ".join(str(error).split()), file=errors)
        return BAD_INPUT
    return 0


def example(verb: str) -> str:
    """A document that the question can be put with, as JSON text."""
    return (EXAMPLES / f"{verb}.json").read_text("utf-8")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="python -m programs.engine",
        description="Reads facts as JSON on standard input and prints the engine's decision as JSON.",
        epilog="QUESTION --help shows a document that the question can be put with.",
    )
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="QUESTION", parser_class=_Parser)
    for verb, question in QUESTIONS.items():
        verbs.add_parser(
            verb,
            help=question.about,
            description=textwrap.fill(f"Tells {question.about}.", 78),
            epilog=f"For example:\n\npython -m programs.engine {verb} <<'END'\n{example(verb)}END",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
    shown = verbs.add_parser(EXAMPLE_VERB, help="a document that a question can be put with")
    shown.add_argument("of", choices=list(QUESTIONS), metavar="QUESTION")
    verbs.add_parser(
        RULES_VERB, help="every rule with its source, and the sentence that each reason stands for"
    )
    schema = verbs.add_parser(SCHEMA_VERB, help="the JSON Schema of a question and of its answers")
    schema.add_argument("of", choices=list(QUESTIONS), metavar="QUESTION", nargs="?")
    schema.add_argument("--all", metavar="DIRECTORY", help="write every schema to a file of that directory")
    return parser


def _shapes(verb: str | None) -> Json:
    if verb is None:
        raise QuestionError("name a QUESTION, or a directory with --all")
    return shapes(verb)


def _write_schemas(directory: Path, out: IO[str]) -> None:
    """Writes every schema to a file of its own."""
    files = schema_files()
    directory.mkdir(parents=True, exist_ok=True)
    for name, document in files.items():
        (directory / name).write_text(schema_text(document), "utf-8")
    print(f"{len(files)} schemas written to {directory}", file=out)


def schema_text(document: Json) -> str:
    """A schema as it stands in its file."""
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"


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
