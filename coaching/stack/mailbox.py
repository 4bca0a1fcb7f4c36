"""A mail server that delivers nowhere: `python -m coaching.stack.mailbox --port N --folder F`.

Every message it takes becomes one file, `<UTC time>-<n>.eml`, so that names sort by arrival. The message's own bytes
are untouched; before them stand two lines of a delivering server, Return-Path (RFC 5321, 4.4) and Delivered-To, with
the envelope's addresses. The newest 2,000 are kept.
"""

import argparse
import asyncio
import os
import signal
import sys
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

from aiosmtpd.smtp import SMTP, Envelope, Session

from coaching.stack.folders import make_folder

KEPT = 2000
#: How often the folder is looked through for old files: at most this many stand above `KEPT`.
CLEARED_EVERY = 50
MESSAGE_BYTES = 10_000_000


class Mailbox:
    """Keeps what arrives as files in a folder."""

    def __init__(self, folder: Path, *, kept: int = KEPT) -> None:
        self.folder = make_folder(folder)
        self._kept = kept
        self._numbers = count(1)
        self._clear()

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802 (aiosmtpd's name)
        """Called by the server with each complete message; what is answered is the reply to DATA."""
        path = self.keep(envelope, at=datetime.now(UTC))
        return f"250 Kept as {path.name}"

    def keep(self, envelope: Envelope, *, at: datetime) -> Path:
        """The message is a file, whole from the moment it has its name."""
        number = next(self._numbers)
        path = self.folder / f"{at:%Y%m%dT%H%M%S.%f}Z-{number:06d}.eml"
        lines = [f"Return-Path: <{(envelope.mail_from or '').strip('<>')}>"]
        lines += [f"Delivered-To: {address}" for address in envelope.rcpt_tos]
        head = "".join(f"{line}\r\n" for line in lines).encode()
        content = envelope.content or b""
        unfinished = path.with_suffix(".part")
        unfinished.write_bytes(head + (content if isinstance(content, bytes) else content.encode()))
        unfinished.rename(path)
        if number % CLEARED_EVERY == 0:
            self._clear()
        return path

    def _clear(self) -> None:
        for path in sorted(self.folder.glob("*.eml"))[: -self._kept]:
            path.unlink(missing_ok=True)


async def serve(folder: Path, port: int) -> None:
    """Take mail on loopback until told to stop."""
    loop = asyncio.get_running_loop()
    stopping = asyncio.Event()
    for signal_number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(signal_number, stopping.set)
    mailbox = Mailbox(folder)

    def greet() -> SMTP:
        return SMTP(mailbox, hostname="mailbox.example", data_size_limit=MESSAGE_BYTES, enable_SMTPUTF8=True)

    server = await loop.create_server(greet, "127.0.0.1", port)
    print(f"Keeping mail from port {port} in {folder}", flush=True)
    async with server:
        await stopping.wait()


def main(arguments: list[str]) -> int:
    """Parse and serve."""
    parser = argparse.ArgumentParser(description="Catch mail and keep it as files.")
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--folder", type=Path, required=True)
    options = parser.parse_args(arguments)
    os.umask(0o077)  # caught mail holds riders' links
    asyncio.run(serve(options.folder, options.port))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
