"""A real SMTP server in a thread, which keeps what it is sent and answers as it is told."""

import asyncio
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import EmailMessage

import pytest
from aiosmtpd.smtp import SMTP, Envelope, Session
from pytest_django import Settings

SECONDS = 10


@dataclass(frozen=True)
class Caught:
    """One message as it came over the wire, with its envelope."""

    mail_from: str
    rcpt_tos: tuple[str, ...]
    raw: bytes

    @property
    def message(self) -> EmailMessage:
        """The same, parsed."""
        return message_from_bytes(self.raw, policy=policy.default)


class SmtpSink:
    """Listens on a free port of loopback. `messages` holds what was accepted, oldest first.

    `answer` decides the reply to each message, "250 Kept" unless set; a message answered otherwise is not kept.
    """

    host = "127.0.0.1"

    def __init__(self) -> None:
        self.messages: list[Caught] = []
        self.answer: Callable[[Caught], str] = lambda _caught: "250 Kept"
        self.port = 0
        #: How many lines were opened to it so far.
        self.connections = 0
        self._sessions: list[SMTP] = []
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="smtp-sink", daemon=True)

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802 (aiosmtpd's name)
        """Called by the server with each complete message."""
        content = envelope.content or b""
        raw = content if isinstance(content, bytes) else content.encode()
        caught = Caught(envelope.mail_from or "", tuple(envelope.rcpt_tos), raw)
        reply = self.answer(caught)
        if reply.startswith("2"):
            self.messages.append(caught)
        return reply

    def start(self) -> None:
        """It answers on `port`."""
        self._thread.start()
        self._server = asyncio.run_coroutine_threadsafe(self._listen(), self._loop).result(SECONDS)
        self.port = self._server.sockets[0].getsockname()[1]

    async def _listen(self) -> asyncio.Server:
        return await self._loop.create_server(self._greet, self.host, self.port)

    def _greet(self) -> SMTP:
        session = SMTP(self, hostname="sink.example", enable_SMTPUTF8=True, loop=self._loop)
        self._sessions.append(session)
        self.connections += 1
        return session

    def cut_off(self) -> None:
        """Whoever is connected is cut off; it goes on answering."""
        asyncio.run_coroutine_threadsafe(self._abort(), self._loop).result(SECONDS)

    async def _abort(self) -> None:
        for session in self._sessions:
            if session.transport is not None:
                session.transport.abort()

    def stop(self) -> None:
        """It answers no longer, and whoever was connected is cut off."""
        asyncio.run_coroutine_threadsafe(self._cut_off(), self._loop).result(SECONDS)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(SECONDS)
        self._loop.close()

    async def _cut_off(self) -> None:
        self._server.close()
        await self._abort()
        own = asyncio.current_task()
        waiting = [task for task in asyncio.all_tasks() if task is not own]
        for task in waiting:
            task.cancel()
        await asyncio.gather(*waiting, return_exceptions=True)


@pytest.fixture
def smtp_sink(settings: Settings) -> Iterator[SmtpSink]:
    """A real SMTP server, to which the settings of this process point for the test."""
    sink = SmtpSink()
    sink.start()
    settings.SMTP_HOST, settings.SMTP_PORT, settings.SMTP_TLS = sink.host, sink.port, "none"
    yield sink
    sink.stop()
