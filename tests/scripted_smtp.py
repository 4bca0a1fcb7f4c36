"""A mail server that keeps what it is sent and misbehaves where it is told to, one thread a connection.

It speaks just enough of RFC 5321 for one client that follows the rules, and notes each step as it comes to it.
"""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email import message_from_bytes, policy

STEPS = ("connect", "EHLO", "MAIL", "RCPT", "DATA", "end")
_GOOD = {
    "connect": b"220 sink.example ready\r\n",
    "EHLO": b"250 sink.example\r\n",
    "MAIL": b"250 2.1.0 sender ok\r\n",
    "RCPT": b"250 2.1.5 recipient ok\r\n",
    "DATA": b"354 go on\r\n",
    "end": b"250 2.0.0 kept\r\n",
}


@dataclass(frozen=True)
class Say:
    """Answers with these words, whatever they are. A message is kept only when they begin with 2."""

    words: bytes


class Drop:
    """Cuts the line without a word."""


class Stall:
    """Says nothing until the client gives up."""


type Answer = Say | Drop | Stall | None


@dataclass
class Kept:
    """A message that was accepted, when, and over which connection."""

    recipient: str
    raw: bytes
    connection: int
    at: float = field(default_factory=time.monotonic)

    @property
    def message_id(self) -> str:
        return str(message_from_bytes(self.raw, policy=policy.default)["Message-ID"])


class ScriptedSmtp:
    """`script` is asked at each step of each connection, and answers None for what a good server does.

    A message is kept, as by a server that has taken it, before the script is asked about its end.
    """

    host = "127.0.0.1"

    def __init__(self) -> None:
        self.script: Callable[[str], Answer] = lambda _step: None
        #: Told when a good answer to a step has gone out.
        self.answered: Callable[[str], None] = lambda _step: None
        self.kept: list[Kept] = []
        self.connections = 0
        self._listener = socket.create_server((self.host, 0), backlog=64)
        self.port: int = self._listener.getsockname()[1]
        self._lines: list[socket.socket] = []
        self._threads = [threading.Thread(target=self._accept, daemon=True)]
        self._threads[0].start()

    def cut_off(self) -> None:
        """Every connection is cut; it goes on listening."""
        for line in list(self._lines):
            with suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)

    def stop(self) -> None:
        """It listens no longer, every connection is cut."""
        with suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self.cut_off()
        for thread in self._threads:
            thread.join(10)

    def _accept(self) -> None:
        while True:
            try:
                line, _peer = self._listener.accept()
            except OSError:
                return
            self.connections += 1
            self._lines.append(line)
            thread = threading.Thread(target=self._serve, args=(line, self.connections), daemon=True)
            self._threads.append(thread)
            thread.start()

    def _serve(self, line: socket.socket, number: int) -> None:
        with line, suppress(OSError), line.makefile("rb") as words:
            if not self._answer(line, "connect"):
                return
            recipient = ""
            for command in words:
                verb = command[:4].upper().decode(errors="replace").strip()
                if verb == "QUIT":
                    line.sendall(b"221 bye\r\n")
                    return
                if verb not in STEPS:
                    line.sendall(b"250 ok\r\n" if verb in ("RSET", "NOOP", "HELO") else b"502 what\r\n")
                    continue
                if verb == "RCPT":
                    recipient = command.decode(errors="replace").split("<")[-1].split(">")[0]
                if not self._answer(line, verb):
                    return
                if verb == "DATA" and self._was_good:
                    body = _read_message(words)
                    if body is None or not self._answer(line, "end", Kept(recipient, body, number)):
                        return

    def _answer(self, line: socket.socket, step: str, kept: Kept | None = None) -> bool:
        """Whether the conversation goes on."""
        if kept is not None:
            self.kept.append(kept)
        answer = self.script(step)
        self._local.was_good = answer is None
        if kept is not None and isinstance(answer, Say) and not answer.words.startswith(b"2"):
            self.kept.remove(kept)
        if isinstance(answer, Drop):
            return False
        if isinstance(answer, Stall):
            with suppress(OSError):
                line.recv(1)  # until the client hangs up or we are stopped
            return False
        line.sendall(answer.words if answer else _GOOD[step])
        if answer is None:
            self.answered(step)
        return True

    _local = threading.local()

    @property
    def _was_good(self) -> bool:
        return bool(self._local.was_good)


def _read_message(words: Iterator[bytes]) -> bytes | None:
    """The message with its stuffed dots taken out; None when the line broke before its end."""
    lines = []
    for line in words:
        if line == b".\r\n":
            return b"".join(lines)
        lines.append(line[1:] if line.startswith(b".") else line)
    return None


@contextmanager
def scripted_smtp() -> Iterator[ScriptedSmtp]:
    """A running server, stopped at the end."""
    server = ScriptedSmtp()
    try:
        yield server
    finally:
        server.stop()
