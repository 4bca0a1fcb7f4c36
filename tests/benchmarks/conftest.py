"""Prints what the benchmarks measured, in one table at the end of the run."""

import pytest

from tests.benchmarks.figures import table


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for line in table():
        terminalreporter.write_line(line)
