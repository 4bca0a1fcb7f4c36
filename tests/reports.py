"""What gates have to say when they pass: one line each, shown at the end of the run."""

import pytest

_lines: list[str] = []


def say(line: str) -> None:
    """The line stands at the end of the run, whether or not output is captured."""
    _lines.append(line)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for line in _lines:
        terminalreporter.write_line(line)
