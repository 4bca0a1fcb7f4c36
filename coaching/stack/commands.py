"""What each part of Ballast is started with. The demo and the tests run these very commands."""

import http.client
import socket
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from coaching.stack.folders import PROJECT, StackError
from coaching.stack.processes import Process

LOOPBACK = "127.0.0.1"
FIRST_PORT = 8000
PORTS_TRIED = 200
WEB_READY_SECONDS = 60.0


def find_port(first: int = FIRST_PORT) -> int:
    """The first port from `first` on that nothing on loopback listens to. StackError when 200 in a row are taken."""
    for port in range(first, min(first + PORTS_TRIED, 65536)):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # a port that only lingers is free
            try:
                probe.bind((LOOPBACK, port))
            except OSError:
                continue
            return port
    raise StackError(f"No free port between {first} and {first + PORTS_TRIED - 1}.")


@dataclass(frozen=True, kw_only=True)
class Commands:
    """The commands of one running Ballast: the same environment, state folder and tree for each."""

    state: Path
    environment: Mapping[str, str]
    tree: Path = PROJECT

    def web(self, port: int, *, name: str = "web") -> Process:
        """The web server, on loopback. Writes no access log: a rider's link must not stand in one."""
        return self._make(
            name,
            "granian",
            *("--interface", "wsgi", "--host", LOOPBACK, "--port", str(port), "--no-ws", "--http", "1"),
            *("--workers", "1", "--blocking-threads", "8", "--backpressure", "64"),
            *("--respawn-failed-workers", "--workers-kill-timeout", "5s"),
            "coaching.wsgi:application",
        )

    def worker(self, *, name: str = "worker", concurrency: int = 2) -> Process:
        """A Celery worker. It asks nothing of its neighbours, so any number may run."""
        return self._make(
            name,
            "celery",
            *("-A", "coaching", "worker", "--loglevel", "INFO", "--hostname", f"{name}@%h"),
            *("--concurrency", str(concurrency), "--without-gossip", "--without-mingle"),
        )

    def ticker(self, *, name: str = "ticker") -> Process:
        """Celery beat: it only wakes workers; what is due stands in the database."""
        return self._make(
            name,
            "celery",
            *("-A", "coaching", "beat", "--loglevel", "INFO", "--pidfile", ""),
            *("--schedule", str(self.state / f"{name}.schedule")),
        )

    def mailbox(self, port: int, folder: Path) -> Process:
        """The server that catches mail."""
        return self._make("mailbox", "coaching.stack.mailbox", "--port", str(port), "--folder", str(folder))

    def manage(self, *arguments: str) -> Process:
        """A management command, which ends by itself."""
        return self._make(arguments[0], "manage", *arguments)

    def _make(self, name: str, module: str, *arguments: str) -> Process:
        return Process(
            name=name,
            command=(sys.executable, "-m", module, *arguments),
            log=self.state / "logs" / f"{name}.log",
            folder=self.tree,
            environment=self.environment,
        )


def answers_http(port: int) -> bool:
    """Whether a web server on loopback answers a request, whatever the answer is."""
    connection = http.client.HTTPConnection(LOOPBACK, port, timeout=10)
    try:
        connection.request("GET", "/")
        connection.getresponse().read()
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()
    return True


def answers_tcp(port: int) -> bool:
    """Whether anything on loopback takes connections on this port."""
    try:
        socket.create_connection((LOOPBACK, port), timeout=2).close()
    except OSError:
        return False
    return True
