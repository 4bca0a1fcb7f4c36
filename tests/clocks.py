"""A clock that a test sets for the processes that it starts: a week passes in seconds.

The processes are the real ones. Only what they read the time from, `django.utils.timezone.now`, is set ahead, by as
much as a file says when it is read; so the clock may be set while they run, and runs on from there. What the machine
itself measures, such as waits, leases of the broker and the age of cookies, is left as it is.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

#: Python reads a module of this name by itself as it starts.
MODULE = "sitecustomize.py"
SOURCE = '''\
"""Sets django.utils.timezone.now ahead by the seconds that the file beside this module holds."""

from datetime import timedelta
from pathlib import Path

from django.utils import timezone

_ahead = Path(__file__).with_name("ahead")
_real = timezone.now


def now():
    return _real() + timedelta(seconds=float(_ahead.read_text()))


timezone.now = now
'''


class Clock:
    """What time it is for the processes that were started with `environment`. `folder` is empty, and the test's own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._ahead = timedelta()
        (folder / MODULE).write_text(SOURCE)
        self._write()

    @property
    def environment(self) -> dict[str, str]:
        """What the processes are started with."""
        return {"PYTHONPATH": str(self._folder)}

    def now(self) -> datetime:
        """The time as the processes read it."""
        return datetime.now(UTC) + self._ahead

    def set(self, moment: datetime) -> None:
        """From now on it is `moment`, and runs on."""
        self._ahead = moment - datetime.now(UTC)
        self._write()

    def _write(self) -> None:
        """Put in place whole: a process may be reading."""
        fresh = self._folder / "ahead.new"
        fresh.write_text(str(self._ahead.total_seconds()))
        fresh.replace(self._folder / "ahead")


@pytest.fixture
def clock(tmp_path: Path) -> Clock:
    """A clock for this test's processes; right until it is set."""
    folder = tmp_path / "clock"
    folder.mkdir()
    return Clock(folder)
