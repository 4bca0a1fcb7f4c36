"""The children and folders of `coaching/stack`: watched, ended in order, and nobody else's."""

import os
import shutil
import signal
import socket
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from coaching.stack.commands import LOOPBACK, find_port
from coaching.stack.folders import (
    PROJECT,
    SOCKET_PATH_BYTES,
    Account,
    Bundle,
    FolderInUse,
    StackError,
    find_home,
    find_socket_folder,
    hold,
    is_reachable,
    make_folder,
    place_bundle,
    remove_state,
)
from coaching.stack.processes import LAUNCHER, Child, Process, Supervisor, await_ready
from tests.live import await_true, is_alive

#: An account that owns no file here.
NOBODY_AT_ALL = 4242424


def make_process(state: Path, *command: str, name: str = "part", **changes: object) -> Process:
    return Process(name=name, command=command, log=state / f"{name}.log", folder=state, **changes)


class TestFolders:
    def test_one_process_holds_a_state_folder_at_a_time(self, state: Path) -> None:
        program = (
            "import sys; from pathlib import Path; from coaching.stack.folders import hold\n"
            "with hold(Path(sys.argv[1])): pass"
        )
        command = [sys.executable, "-c", program, str(state)]
        with hold(state):
            refused = subprocess.run(command, cwd=PROJECT, capture_output=True, text=True, check=False)
            assert "FolderInUse" in refused.stderr
        assert subprocess.run(command, cwd=PROJECT, check=False).returncode == 0
        with hold(state), pytest.raises(FolderInUse), hold(state):
            pass

    def test_a_folder_is_reachable_only_if_all_above_it_are(self, state: Path) -> None:
        stranger = Account(NOBODY_AT_ALL, NOBODY_AT_ALL)
        inner = state / "closed" / "open"
        inner.mkdir(parents=True)
        (state / "closed").chmod(0o711)
        assert is_reachable(inner, stranger) == is_reachable(state, stranger)
        (state / "closed").chmod(0o700)
        assert not is_reachable(inner, stranger)
        assert is_reachable(inner, None)

    def test_services_live_elsewhere_when_the_state_folder_cannot_be_walked_to(self, state: Path) -> None:
        closed = state / "closed"
        closed.mkdir(mode=0o700)
        home = find_home(closed / "state", Account(NOBODY_AT_ALL, NOBODY_AT_ALL))
        assert home.parent == Path("/var/tmp")
        assert stat.S_IMODE(closed.stat().st_mode) == 0o700
        remove_state(closed / "state")
        assert not home.exists()

    def test_somebody_elses_link_is_no_folder_to_use(self, state: Path) -> None:
        (state / "elsewhere").mkdir()
        (state / "trap").symlink_to(state / "elsewhere")
        with pytest.raises(StackError, match="not a folder of this user's"):
            make_folder(state / "trap")

    @pytest.mark.parametrize("depth", [1, 60, 120, 300])
    def test_a_sockets_path_always_fits(self, state: Path, depth: int) -> None:
        home = state / "/".join(["d" * min(depth, 100)] * (1 + depth // 101))
        folder = find_socket_folder(home, "redis.sock", account=None)
        try:
            assert len(os.fsencode(folder / "redis.sock")) <= SOCKET_PATH_BYTES
            with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
                listener.bind(str(folder / "redis.sock"))
        finally:
            shutil.rmtree(folder)

    def test_a_program_is_copied_with_what_stands_beside_it(self, state: Path) -> None:
        closed = state / "closed"
        for name in ("package/bin/run", "package.libs/lib.so", "other/secret"):
            (closed / name).parent.mkdir(parents=True, exist_ok=True)
            (closed / name).write_text(name)
        (closed / "package/bin/run").chmod(0o700)
        closed.chmod(0o700)
        bundle = Bundle(closed, ("package", "package.libs", "absent"), "package/bin/run")
        home = state / "home"
        home.mkdir()
        placed = place_bundle(bundle, home, Account(NOBODY_AT_ALL, NOBODY_AT_ALL))
        copied = {str(path.relative_to(placed.base)) for path in placed.base.rglob("*") if path.is_file()}
        assert copied == {"package/bin/run", "package.libs/lib.so"}
        assert stat.S_IMODE(placed.path.stat().st_mode) == 0o755
        assert place_bundle(bundle, home, None) == bundle


class TestChildren:
    def test_a_stopped_child_takes_its_own_children_along(self, state: Path) -> None:
        child = Child(make_process(state, "sh", "-c", "sleep 60 & echo $!; wait"))
        child.start()
        assert await_true(lambda: child.read_log().isdigit())
        grandchild = int(child.read_log())
        child.stop()
        assert not child.is_running
        assert await_true(lambda: not is_alive(grandchild))

    def test_a_child_that_will_not_go_is_killed(self, state: Path) -> None:
        stubborn = (
            "import signal, time; signal.signal(15, signal.SIG_IGN); print('up', flush=True); time.sleep(60)"
        )
        child = Child(make_process(state, sys.executable, "-c", stubborn, grace=0.2))
        child.start()
        assert await_true(lambda: child.read_log() == "up")
        child.stop()
        assert child.exit_code == -signal.SIGKILL

    def test_a_child_is_told_by_its_own_signal(self, state: Path) -> None:
        child = Child(make_process(state, "sleep", "60", stop_signal=signal.SIGINT))
        child.start()
        assert await_true(lambda: b"sleep" in Path(f"/proc/{child.pid}/cmdline").read_bytes())
        child.stop()
        assert child.exit_code == -signal.SIGINT

    @pytest.mark.parametrize("way", [[], ["--watch"]], ids=["by the kernel", "by watching"])
    def test_a_killed_parent_takes_its_child_along(self, state: Path, way: list[str]) -> None:
        program = (
            "import os, subprocess, sys, time\n"
            "subprocess.Popen([sys.executable, '-I', '-S', sys.argv[1], '--parent', str(os.getpid()), *sys.argv[2:],"
            " '--', 'sh', '-c', 'echo $$; exec sleep 60'])\n"
            "time.sleep(60)"
        )
        command = [sys.executable, "-c", program, str(LAUNCHER), *way]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as parent:
            pid = int(parent.stdout.readline())
            assert is_alive(pid)
            parent.kill()
        assert await_true(lambda: not is_alive(pid))

    def test_a_watching_launcher_passes_on_signals_and_the_exit_code(self) -> None:
        command = [sys.executable, "-I", "-S", str(LAUNCHER), "--parent", str(os.getpid()), "--watch", "--"]
        assert subprocess.run([*command, "sh", "-c", "exit 7"], check=False).returncode == 7
        with subprocess.Popen(
            [*command, "sh", "-c", "echo up; exec sleep 60"], stdout=subprocess.PIPE
        ) as launcher:
            launcher.stdout.readline()
            launcher.terminate()
            assert launcher.wait(10) == 128 + signal.SIGTERM

    def test_a_part_that_fails_to_start_says_why(self, state: Path) -> None:
        child = Child(make_process(state, "sh", "-c", "echo no such table; exit 3"))
        child.start()
        with pytest.raises(StackError, match="no such table"):
            await_ready(child, lambda: False, seconds=10)

    def test_a_part_that_is_never_ready_is_not_waited_for_for_ever(self, state: Path) -> None:
        child = Child(make_process(state, "sleep", "60"))
        child.start()
        try:
            with pytest.raises(StackError, match="not ready"):
                await_ready(child, lambda: False, seconds=0.1)
        finally:
            child.stop()

    def test_a_log_does_not_grow_for_ever(self, state: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("coaching.stack.processes.LOG_BYTES_KEPT", 10)
        child = Child(make_process(state, "echo", "more than ten bytes"))
        for _ in range(3):
            child.start()
            assert await_true(lambda: not child.is_running)
        assert child.process.log.read_text() == "more than ten bytes\n"
        assert child.process.log.with_suffix(".old.log").read_text() == "more than ten bytes\n"


class TestSupervisor:
    def test_a_child_that_dies_is_started_again_after_a_growing_pause(self, state: Path) -> None:
        told: list[str] = []
        readied: list[str] = []
        supervisor = Supervisor(tell=told.append)
        child = supervisor.start(
            make_process(state, "sleep", "60"), before_restart=lambda: readied.append("ready")
        )
        try:
            for pause in ("0.5 s", "1 s"):
                first = child.pid
                child.kill()
                supervisor.watch_once()
                assert pause in told[-1]
                assert not child.is_running
                assert await_true(lambda: supervisor.watch_once() or child.is_running)
                assert child.pid != first
            assert readied == ["ready", "ready"]
        finally:
            supervisor.stop()

    def test_what_was_started_last_ends_first(self, state: Path) -> None:
        supervisor = Supervisor(tell=print)
        order = state / "order"
        for name in ("database", "web"):
            script = f"trap 'echo {name} >> {order}; exit 0' TERM; echo up; while :; do sleep 0.02; done"
            child = supervisor.start(make_process(state, "sh", "-c", script, name=name))
            assert await_true(lambda child=child: child.read_log() == "up")
        supervisor.stop()
        assert order.read_text().split() == ["web", "database"]


def test_a_taken_port_is_passed_over() -> None:
    with socket.socket() as listener:
        listener.bind((LOOPBACK, find_port(23000)))
        listener.listen()
        taken = listener.getsockname()[1]
        assert find_port(taken) > taken
