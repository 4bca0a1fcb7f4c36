"""Carries fixed messages to the SMTP server, outside any transaction, and writes down at once what the server took.

Between the last byte of a message and the record of its acceptance a crash could send it twice. A journal on local
disk, one file a process, makes that window as short as one small write: `read_journals` settles what a dead process had
handed over but not recorded.
"""

import os
import smtplib
import socket
import uuid
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from email.utils import parseaddr
from pathlib import Path

from django.conf import settings

from athletes import outbox
from athletes.access import within
from athletes.models import Delivery

#: Seconds that any one step of the conversation with the server may take.
TIMEOUT = 30.0
CONNECTION_TROUBLE = (
    OSError,
    smtplib.SMTPConnectError,
    smtplib.SMTPHeloError,
    smtplib.SMTPServerDisconnected,
)


class NotReachable(Exception):
    """The server could not be reached, did not greet, or did not let us in."""


@dataclass
class PassingRefusal(Exception):
    """The server said 4xx, fell silent or dropped the line."""

    reason: str


@dataclass
class LastingRefusal(Exception):
    """The server said 5xx. `address_is_bad` when it was about the address (5.1.x)."""

    reason: str
    address_is_bad: bool


class NoLongerInForce(Exception):
    """What the message says was withdrawn between claiming and handing over."""


class Journal:
    """An append-only file of (delivery, token) that the server took, one a process."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self.path = folder / f"{socket.gethostname()}-{os.getpid()}-{uuid.uuid4().hex[:8]}.journal"
        self._file = os.open(self.path, os.O_CREAT | os.O_APPEND | os.O_WRONLY, 0o600)

    def write(self, claim: outbox.Claim) -> None:
        """One line, one system call."""
        os.write(self._file, f"{claim.club_id} {claim.pk} {claim.token}\n".encode())

    def clear(self) -> None:
        """Everything written is recorded in the database now."""
        os.ftruncate(self._file, 0)

    def close(self) -> None:
        os.close(self._file)
        self.path.unlink(missing_ok=True)


def journal_folder() -> Path:
    """Where the journals of this host are."""
    return Path(settings.STATE_DIR) / "journals"


class Postman:
    """One kept connection to the server and one journal. Use as a context manager."""

    def __init__(self) -> None:
        self._connection: smtplib.SMTP | None = None
        self._journal = Journal(journal_folder())

    def __enter__(self) -> "Postman":
        return self

    def __exit__(self, *_: object) -> None:
        if self._connection is not None:
            with suppress(smtplib.SMTPException, OSError):
                self._connection.quit()
        self._drop()
        self._journal.close()

    def carry(
        self, *, claim: outbox.Claim, recipient: str, message: bytes, is_in_force: Callable[[], bool]
    ) -> None:
        """The server has taken the message and the journal says so.

        `is_in_force` is asked last thing before DATA. Raises `NotReachable`, `PassingRefusal`, `LastingRefusal`,
        `NoLongerInForce`.
        """
        server = self._connect()
        sender = parseaddr(settings.MAIL_FROM)[1]
        try:
            _expect(server.mail(sender))
            _expect(server.rcpt(recipient))
            if not is_in_force():
                server.rset()
                raise NoLongerInForce
            _expect(server.data(message))
            self._journal.write(claim)
        except (PassingRefusal, LastingRefusal):
            self._reset()
            raise
        except smtplib.SMTPDataError as error:
            self._reset()
            raise _refusal(error.smtp_code, error.smtp_error) from error
        except CONNECTION_TROUBLE as error:
            self._drop()
            raise PassingRefusal(f"the line dropped: {error}") from error

    def recorded(self) -> None:
        """The database knows of everything carried so far."""
        self._journal.clear()

    def _connect(self) -> smtplib.SMTP:
        if self._connection is not None:
            try:
                if self._connection.noop()[0] == 250:
                    return self._connection
            except (smtplib.SMTPException, OSError):
                pass
            self._drop()
        try:
            kind = smtplib.SMTP_SSL if settings.SMTP_TLS == "tls" else smtplib.SMTP
            server = kind(settings.SMTP_HOST, settings.SMTP_PORT, timeout=TIMEOUT)
            server.ehlo_or_helo_if_needed()
            if settings.SMTP_TLS == "starttls":
                server.starttls()
            if settings.SMTP_USER:
                server.login(settings.SMTP_USER, settings.SMTP_PASSWORD)
        except (smtplib.SMTPException, OSError) as error:
            raise NotReachable(str(error)) from error
        self._connection = server
        return server

    def _reset(self) -> None:
        try:
            if self._connection is not None:
                self._connection.rset()
        except (smtplib.SMTPException, OSError):
            self._drop()

    def _drop(self) -> None:
        if self._connection is not None:
            self._connection.close()
        self._connection = None


def _expect(answer: tuple[int, bytes]) -> None:
    code, text = answer
    if not 200 <= code < 300:
        raise _refusal(code, text)


def _refusal(code: int, text: bytes | str) -> PassingRefusal | LastingRefusal:
    words = text.decode(errors="replace") if isinstance(text, bytes) else text
    reason = f"{code} {words}"
    if 500 <= code < 600:
        return LastingRefusal(reason, address_is_bad=words.lstrip().startswith("5.1."))
    return PassingRefusal(reason)


def read_journals(*, settle: Callable[[outbox.Claim], bool]) -> int:
    """Gives `settle` what a dead process of this host had handed over but not recorded. Returns how many it took."""
    settled = 0
    host = socket.gethostname()
    for path in journal_folder().glob(f"{host}-*.journal"):
        pid = int(path.stem.removeprefix(f"{host}-").split("-")[0])
        if _is_alive(pid):
            continue
        for line in path.read_text().splitlines():
            settled += _settle_line(line, settle)
        path.unlink(missing_ok=True)
    return settled


def _settle_line(line: str, settle: Callable[[outbox.Claim], bool]) -> int:
    club, pk, token = line.split()
    with within(club):
        row = Delivery.objects.filter(
            pk=int(pk), state=Delivery.State.CLAIMED, token=uuid.UUID(token)
        ).first()
        if row is None:
            return 0
        return int(settle(outbox.Claim(row.pk, row.club_id, uuid.UUID(token), row.kind, row.attempts)))


def _is_alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
