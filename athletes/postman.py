"""Carries fixed messages to the SMTP server, outside any transaction, and writes down at once what the server took.

Between the last byte of a message and the record of its acceptance a crash could send it twice. A journal on local
disk (`athletes/journals.py`) makes our part of that window as short as one small write. The replies are read strictly:
after anything that is no reply the line is dropped, since every later reply would be taken for the answer to the wrong
question.
"""

import functools
import logging
import os
import re
import smtplib
import socket
import ssl
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from email.utils import parseaddr
from typing import NoReturn

from django.conf import settings

from athletes import outbox
from athletes.journals import Entry, Journal, journal_folder

log = logging.getLogger(__name__)
#: After so many silent seconds a kept line is asked whether it is still there; after the longer time it is given up.
ASK_AFTER, GIVE_UP_AFTER = 5.0, 60.0
#: Replies that say something about the recipient's address (RFC 3463, and 5.1.10 of RFC 7505). Not 5.1.7 and 5.1.8,
#: which are about the sender's.
_BAD_ADDRESS = re.compile(r"5\.1\.(?:[012346]|10)(?!\d)")


class NotReachable(Exception):
    """The server could not be reached, did not greet, or did not let us in."""


@dataclass
class PassingRefusal(Exception):
    """The server said 4xx, fell silent, dropped the line or talked nonsense."""

    reason: str


@dataclass
class LastingRefusal(Exception):
    """The server said 5xx. `address_is_bad` when it was about the recipient's address (5.1.x)."""

    reason: str
    address_is_bad: bool


class NoLongerInForce(Exception):
    """What the message says was withdrawn between claiming and handing over, or the claim was lost."""


@dataclass(frozen=True, slots=True)
class Letter:
    """A message ready to go: its envelope's recipient and its exact bytes, with the Message-ID that stands in them."""

    recipient: str
    message: bytes
    message_id: str


class Postman:
    """One line to the server, kept from message to message and run to run, and one journal. For one thread."""

    def __init__(self) -> None:
        self._line: smtplib.SMTP | None = None
        self._spoke_at = 0.0
        self._journal = Journal(journal_folder())
        #: What the server took and the database does not know of yet.
        self.unrecorded: list[Entry] = []

    def __enter__(self) -> "Postman":
        return self

    def __exit__(self, *_: object) -> None:
        self.hang_up()
        self._journal.close(keep=bool(self.unrecorded))

    def carry(self, *, claim: outbox.Claim, letter: Letter, hand_over: Callable[[], bool]) -> None:
        """The server has taken the message and the journal says so.

        `hand_over` is asked last thing before the message goes. Raises `NotReachable`, `PassingRefusal`,
        `LastingRefusal`, `NoLongerInForce`; whatever else it raises, the line is dropped.
        """
        try:
            line = self._announce(letter)
            if not hand_over():
                self._clear(line)
                raise NoLongerInForce
            self._hand(line, letter.message)
        except (NotReachable, PassingRefusal, LastingRefusal, NoLongerInForce):
            raise
        except (smtplib.SMTPException, OSError) as error:
            self.drop()
            raise PassingRefusal(f"the line dropped: {error}") from error
        except BaseException:
            self.drop()  # in the middle of who knows what: the next message needs a fresh line
            raise
        entry = Entry(claim.club_id, claim.pk, letter.message_id)
        self.unrecorded.append(entry)
        self._journal.write(entry)

    def recorded(self, entry: Entry) -> None:
        """The database knows that this was taken."""
        self.unrecorded.remove(entry)
        if not self.unrecorded:
            self._journal.clear()

    def rest(self) -> None:
        """Nothing is to be carried now: a line that has long been silent is given up before the server does it."""
        if self._line is not None and time.monotonic() - self._spoke_at > GIVE_UP_AFTER:
            self.hang_up()

    def hang_up(self) -> None:
        """The line is closed as is polite."""
        if self._line is not None:
            with suppress(smtplib.SMTPException, OSError):
                self._line.quit()
        self.drop()

    def drop(self) -> None:
        """The line is cut."""
        if self._line is not None:
            self._line.close()
        self._line = None

    # --- the conversation ---

    def _announce(self, letter: Letter) -> smtplib.SMTP:
        """Sender and recipient are accepted. When a kept line turns out to be dead, a fresh one is taken."""
        is_fresh = self._line is None
        line = self._line or self._connect()
        if not is_fresh and time.monotonic() - self._spoke_at > ASK_AFTER and not _answers(line):
            self.drop()
            is_fresh, line = True, self._connect()
        sender = parseaddr(settings.MAIL_FROM)[1]
        try:
            self._expect(line.mail(sender), is_about_recipient=False)
        except smtplib.SMTPServerDisconnected:
            self.drop()
            if is_fresh:
                raise
            line = self._connect()
            self._expect(line.mail(sender), is_about_recipient=False)
        self._expect(line.rcpt(letter.recipient))
        return line

    def _hand(self, line: smtplib.SMTP, message: bytes) -> None:
        """The server has taken the bytes. It is given long to say so: to give up early would be to send twice."""
        self._expect(line.docmd("DATA"), wanted=(354,))
        line.send(_stuffed(message))
        if line.sock is not None:
            line.sock.settimeout(settings.MAIL_END_SECONDS)
        try:
            self._expect(line.getreply())
        finally:
            if line.sock is not None:
                line.sock.settimeout(settings.MAIL_STEP_SECONDS)

    def _connect(self) -> smtplib.SMTP:
        line: smtplib.SMTP | None = None
        try:
            line = _dial()
            _greet(line)
            if settings.SMTP_TLS == "starttls":
                line.starttls(context=ssl.create_default_context())
                _greet(line)  # what was said before the line was private does not count (RFC 3207)
            if settings.SMTP_USER:
                line.login(settings.SMTP_USER, settings.SMTP_PASSWORD)
        except (smtplib.SMTPException, OSError, ValueError) as error:
            if line is not None:
                line.close()
            raise NotReachable(str(error)) from error
        self._line, self._spoke_at = line, time.monotonic()
        return line

    def _expect(
        self,
        reply: tuple[int, bytes],
        *,
        wanted: range | tuple[int, ...] = range(200, 300),
        is_about_recipient: bool = True,
    ) -> None:
        self._spoke_at = time.monotonic()
        if reply[0] not in wanted:
            self._refuse(reply, is_about_recipient=is_about_recipient)

    def _refuse(self, reply: tuple[int, bytes], *, is_about_recipient: bool) -> NoReturn:
        code, words = reply[0], reply[1].decode(errors="replace")
        reason = f"{code} {words}"
        if not 400 <= code < 600 or code == 421:
            self.drop()
        elif self._line is not None:
            self._clear(self._line)
        if 500 <= code < 600:
            is_bad = is_about_recipient and _BAD_ADDRESS.match(words.lstrip()) is not None
            raise LastingRefusal(reason, address_is_bad=is_bad)
        raise PassingRefusal(reason)

    def _clear(self, line: smtplib.SMTP) -> None:
        """The server has forgotten what was begun, or the line is cut."""
        try:
            is_clear = line.rset()[0] == 250
        except (smtplib.SMTPException, OSError):
            is_clear = False
        if not is_clear:
            self.drop()


@functools.cache
def _own_name() -> str:
    """How we introduce ourselves. Asked once: the name server may take its time."""
    return socket.getfqdn()


def _dial() -> smtplib.SMTP:
    where, patience = (settings.SMTP_HOST, settings.SMTP_PORT), settings.MAIL_STEP_SECONDS
    if settings.SMTP_TLS == "tls":
        return smtplib.SMTP_SSL(*where, _own_name(), timeout=patience, context=ssl.create_default_context())
    return smtplib.SMTP(*where, _own_name(), timeout=patience)


def _greet(line: smtplib.SMTP) -> None:
    """EHLO, or HELO where the server knows only that (RFC 5321, 3.2)."""
    code, words = line.ehlo()
    if 500 <= code < 600:
        code, words = line.helo()
    if not 200 <= code < 300:
        raise smtplib.SMTPHeloError(code, words)


def _answers(line: smtplib.SMTP) -> bool:
    try:
        return line.noop()[0] == 250
    except (smtplib.SMTPException, OSError):
        return False


def _stuffed(message: bytes) -> bytes:
    """The message as it goes over the line: each leading dot doubled, and a dot alone at the end (RFC 5321, 4.5.2)."""
    body = re.sub(rb"(?m)^\.", b"..", message)
    return body + (b"" if body.endswith(b"\r\n") else b"\r\n") + b".\r\n"


_kept = threading.local()


def kept_postman() -> Postman:
    """This thread's own postman, whose line lasts from run to run. A forked process takes a new one."""
    if getattr(_kept, "pid", None) != os.getpid():
        _kept.pid, _kept.postman = os.getpid(), Postman()
    postman: Postman = _kept.postman
    return postman
