"""Child processes that are started, watched, restarted and ended as one.

A `Process` says what to run; a `Child` runs it; a `Supervisor` keeps several running. Each child leads a session and a
process group of its own, so that Ctrl-C in a terminal reaches the supervisor alone, which then ends them in order, and
so that whatever a child left behind goes with its group. None outlives the supervisor: see `launch.py`.
"""

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from coaching.stack.folders import Account, StackError

LAUNCHER = Path(__file__).with_name("launch.py")
#: Environment of the caller that would steer a service elsewhere.
FOREIGN_PREFIXES = ("PG", "REDIS_", "CELERY_", "GRANIAN_")
LOG_BYTES_KEPT = 5_000_000
BACK_OFF_SECONDS = (0.5, 1, 2, 5, 10, 30)
#: A child that ran this long starts its back-off anew.
SETTLED_SECONDS = 60


@dataclass(frozen=True, kw_only=True)
class Process:
    """One program to run: its name in the logs, its command, and how it is ended."""

    name: str
    command: tuple[str, ...]
    log: Path
    folder: Path
    environment: Mapping[str, str] = field(default_factory=dict)
    account: Account | None = None
    stop_signal: int = signal.SIGTERM
    grace: float = 10.0


def make_environment(changes: Mapping[str, str]) -> dict[str, str]:
    """The caller's environment without what would steer a service elsewhere, with these changes."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(FOREIGN_PREFIXES)}
    return {**kept, "PYTHONUNBUFFERED": "1", **changes}


class Child:
    """A process of ours. Start it from the main thread: the kernel ties it to the thread that did."""

    def __init__(self, process: Process) -> None:
        self.process = process
        self.started_at = 0.0
        #: Where in its log the latest start began to write.
        self.log_began_at = 0
        self._running: subprocess.Popen[bytes] | None = None
        self._has_group = False

    @property
    def pid(self) -> int:
        """The process id, which is the id of its process group as well. StackError before the first start."""
        if self._running is None:
            raise StackError(f"{self.process.name} was never started.")
        return self._running.pid

    @property
    def exit_code(self) -> int | None:
        """None while it runs; then as `subprocess` gives it (minus the signal's number if one ended it)."""
        return self._running.poll() if self._running else None

    @property
    def is_running(self) -> bool:
        return self._running is not None and self._running.poll() is None

    def start(self) -> None:
        """The command runs, its output is appended to its log, and it will not outlive this process."""
        process = self.process
        process.log.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        _keep_log_bounded(process.log)
        rights = (
            ["--uid", str(process.account.uid), "--gid", str(process.account.gid)] if process.account else []
        )
        launcher = [sys.executable, "-I", "-S", str(LAUNCHER), "--parent", str(os.getpid())]
        with process.log.open("ab") as log:
            self.log_began_at = log.tell()
            self._running = subprocess.Popen(
                [*launcher, "--signal", str(int(process.stop_signal)), *rights, "--", *process.command],
                cwd=process.folder,
                env=make_environment(process.environment),
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self._has_group = True
        self.started_at = time.monotonic()

    def ask_to_stop(self) -> None:
        """Send the process its own stop signal, and wait for nothing."""
        if self.is_running:
            os.kill(self.pid, self.process.stop_signal)

    def stop(self) -> None:
        """The process and all that is left of its group are gone; whatever outstays its grace is killed."""
        self.ask_to_stop()
        if self._running is not None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._running.wait(self.process.grace)
            self.kill()

    def kill(self) -> None:
        """SIGKILL to the whole group, whether or not its leader lives; returns when the leader is gone.

        Once for each start: later, the group's number may be somebody else's.
        """
        if self._running is not None and self._has_group:
            self._has_group = False
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.pid, signal.SIGKILL)
            self._running.wait()

    def read_log(self, lines: int = 15) -> str:
        """The last lines that it wrote since its latest start."""
        try:
            with self.process.log.open("rb") as log:
                log.seek(self.log_began_at)
                text = log.read().decode(errors="replace")
        except FileNotFoundError:
            return ""
        return "\n".join(text.splitlines()[-lines:])


def _keep_log_bounded(log: Path) -> None:
    if log.exists() and log.stat().st_size > LOG_BYTES_KEPT:
        log.replace(log.with_suffix(".old.log"))


def await_ready(child: Child, is_ready: Callable[[], bool], *, seconds: float) -> None:
    """Return when `is_ready()` is true. StackError with the log's end when the child ends first or time is up."""
    deadline = time.monotonic() + seconds
    while not is_ready():
        if not child.is_running:
            raise StackError(f"{child.process.name} ended while starting:\n{child.read_log()}")
        if time.monotonic() > deadline:
            raise StackError(f"{child.process.name} is not ready after {seconds:.0f} s:\n{child.read_log()}")
        time.sleep(0.02)


def end_leftover(pid_file: Path, folder: Path, signals: tuple[int, ...]) -> None:
    """No process named by the pid file still works in the folder, and the file is gone.

    For a service whose supervisor died without taking it along. The caller holds the folder's lock, so nobody else
    wants the process. A process id that belongs to anything else by now is left alone.
    """
    try:
        pid = int(pid_file.read_text().split()[0])
    except (FileNotFoundError, IndexError, ValueError):
        pid_file.unlink(missing_ok=True)
        return
    for signal_number in signals:
        if not _works_in(pid, folder):
            break
        os.kill(pid, signal_number)
        deadline = time.monotonic() + 10
        while _works_in(pid, folder) and time.monotonic() < deadline:
            time.sleep(0.02)
    pid_file.unlink(missing_ok=True)


def _works_in(pid: int, folder: Path) -> bool:
    """Whether the process lives and this is its working folder, or stands in its command where there is no /proc."""
    if Path("/proc/self/cwd").exists():
        try:
            return Path(f"/proc/{pid}/cwd").resolve(strict=True) == folder.resolve()
        except OSError:
            return False
    asked = subprocess.run(
        ["ps", "-ww", "-o", "command=", "-p", str(pid)], capture_output=True, text=True, check=False
    )
    return str(folder) in asked.stdout


class Supervisor:
    """Keeps children running, in the order in which they were given, and ends them in the opposite order."""

    def __init__(self, *, tell: Callable[[str], None]) -> None:
        self.children: dict[str, Child] = {}
        self._tell = tell
        self._restarts: dict[str, int] = {}
        self._due_at: dict[str, float] = {}
        self._before_restart: dict[str, Callable[[], None]] = {}

    def start(self, process: Process, *, before_restart: Callable[[], None] | None = None) -> Child:
        """Start a process and keep it; `before_restart` runs before each later start of the same."""
        child = self.children[process.name] = Child(process)
        if before_restart:
            self._before_restart[process.name] = before_restart
        child.start()
        return child

    def watch_once(self) -> None:
        """Start again each child that has ended and whose back-off is over."""
        now = time.monotonic()
        for name, child in self.children.items():
            if child.is_running:
                continue
            if name not in self._due_at:
                child.kill()  # what its group left behind still holds its port
                self._due_at[name] = now + self._next_wait(child, now)
            elif now >= self._due_at[name]:
                del self._due_at[name]
                if name in self._before_restart:
                    self._before_restart[name]()
                child.start()

    def _next_wait(self, child: Child, now: float) -> float:
        name = child.process.name
        count = 0 if now - child.started_at > SETTLED_SECONDS else self._restarts.get(name, 0)
        self._restarts[name] = count + 1
        wait = BACK_OFF_SECONDS[min(count, len(BACK_OFF_SECONDS) - 1)]
        self._tell(
            f"{name} ended (code {child.exit_code}), starting again in {wait:g} s; see {child.process.log}"
        )
        return wait

    def stop(self) -> None:
        """Every child is gone, and so is its group: last started, first ended."""
        for child in reversed(self.children.values()):
            child.stop()
        self.children.clear()
