"""The drill: processes are killed while mail is on its way, and every mail is counted afterwards."""

import os
import signal
import subprocess
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from celery import current_app
from django.conf import settings
from django.utils import timezone

from athletes import access, journals
from athletes.models import Delivery
from tests.crowds import Crowd
from tests.databases import close_connections
from tests.live import LiveStack, await_true
from tests.scripted_smtp import ScriptedSmtp

WORKER = "worker-1"
#: Processes of a worker, as `coaching/stack/commands.py` starts it.
CONCURRENCY = 2


@dataclass
class Tally:
    """What came of a number of trials. `duplicated` counts all, `outside_window` those that nothing excuses."""

    name: str
    trials: int = 0
    lost: int = 0
    duplicated: int = 0
    outside_window: int = 0
    began: float = field(default_factory=time.monotonic)

    def __str__(self) -> str:
        seconds = time.monotonic() - self.began
        return (
            f"{self.name} trials {self.trials} lost {self.lost} duplicated {self.duplicated} "
            f"outside_window {self.outside_window} seconds {seconds:.0f}"
        )


@dataclass(frozen=True)
class Moment:
    """What was known in the moment when processes died: connections so far, and messages on record as taken."""

    connections: int
    recorded: frozenset[str]


class Drill:
    """A running stack, a mail server, and a crowd whose mail goes through them."""

    def __init__(self, stack: LiveStack, server: ScriptedSmtp, crowd: Crowd, tally: Tally) -> None:
        self.stack, self.server, self.crowd, self.tally = stack, server, crowd, tally
        self.moment: Moment | None = None
        self._pool: list[int] = []
        self._seen_rows: set[int] = set()
        self._seen_kept = 0

    def begin(self, *, alerts: int, weeks: int = 0) -> None:
        """A new trial: so much mail is due, and workers are told ten times."""
        self.tally.trials += 1
        self.moment = None
        number, now = self.tally.trials, timezone.now()
        self._seen_rows = {row.pk for row in self.crowd.deliveries()}
        self._seen_kept = len(self.server.kept)
        assert await_true(lambda: len(self._aim()) == CONCURRENCY, seconds=30), "the worker has no processes"
        first = (number - 1) * weeks
        self.crowd.approve(self.crowd.riders[first : first + weeks], now=now)
        self.crowd.alert([f"trial-{number}-{position}" for position in range(alerts)], now=now)
        for _ in range(10):
            current_app.send_task(settings.MAIL_TASK, retry=False)

    def _aim(self) -> list[int]:
        self._pool = list_children(self.stack.children[WORKER].pid)
        return self._pool

    def kill(self, *, whole: bool = False) -> None:
        """The worker's processes die this instant. They are stopped first, so that what is on record when they die can
        be read. With `whole` their parent dies too, else it makes new ones."""
        parent = self.stack.children[WORKER].pid
        for pid in (*self._pool, parent):
            os.kill(pid, signal.SIGSTOP)
        self.moment = Moment(self.server.connections, frozenset(self._recorded()))
        if whole:
            self.stack.kill(WORKER)
            return
        for pid in self._pool:
            os.kill(pid, signal.SIGKILL)
        os.kill(parent, signal.SIGCONT)

    def _recorded(self) -> set[str]:
        lines = [
            journals.read_entry(line)
            for path in journals.journal_folder().glob("*.journal")
            for line in path.read_text().splitlines(keepends=True)
        ]
        sent = {row.message_id for row in self.crowd.deliveries() if row.state == Delivery.State.SENT}
        return sent | {entry.message_id for entry in lines if entry is not None}

    def finish(self, *, seconds: float = 120) -> None:
        """Everything of the trial has come to an end and is counted."""
        assert await_true(lambda: self.crowd.count_waiting() == 0, seconds=seconds), self._describe_waiting()
        rows = [row for row in self.crowd.deliveries() if row.pk not in self._seen_rows]
        kept = self.server.kept[self._seen_kept :]
        copies = Counter(one.message_id for one in kept)
        self.tally.lost += sum(row.state != Delivery.State.SENT or not copies[row.message_id] for row in rows)
        for message_id, count in copies.items():
            if count > 1:
                first = next(one for one in kept if one.message_id == message_id)
                excused = int(self._is_excused(message_id, first.connection))
                self.tally.duplicated += count - 1
                self.tally.outside_window += count - 1 - excused

    def _is_excused(self, message_id: str, connection: int) -> bool:
        """Whether the message was with the server, and nobody had written so, when its carrier was killed."""
        moment = self.moment
        return moment is not None and connection <= moment.connections and message_id not in moment.recorded

    def _describe_waiting(self) -> str:
        with access.within(self.crowd.club):
            waiting = list(Delivery.objects.waiting().values_list("pk", "state", "reason", "attempts"))
        log = self.stack.children[WORKER].read_log(lines=30)
        return f"{self.tally}\nstill waiting: {waiting}\n{log}"


def list_children(parent: int) -> list[int]:
    """The processes that this one made."""
    asked = subprocess.run(["ps", "-eo", "pid=,ppid="], capture_output=True, text=True, check=True)
    pairs = (line.split() for line in asked.stdout.splitlines())
    return [int(pid) for pid, its_parent in pairs if int(its_parent) == parent]


def kill_once(drill: Drill) -> Callable[[], None]:
    """A kill that happens at the first call only, whichever of the server's threads calls."""
    calls = iter([True])

    def kill() -> None:
        if next(calls, False):
            drill.kill()
            close_connections()  # the thread's own

    return kill
