"""Reads the demo's caught mail from its folder, for the page that shows it."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path

from django.conf import settings
from django.http import Http404

_NAME = re.compile(r"[A-Za-z0-9_.-]{1,120}\.eml")
#: How many of the newest mails the page lists.
SHOWN = 200


@dataclass(frozen=True, slots=True)
class CaughtPart:
    """One part of a mail: its number, type and file name (empty for the bodies)."""

    number: int
    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class CaughtMail:
    """One caught mail as the page shows it."""

    name: str
    recipient: str
    subject: str
    sent: str
    text: str
    parts: tuple[CaughtPart, ...]

    @property
    def html_part(self) -> int | None:
        return next((part.number for part in self.parts if part.kind == "text/html"), None)


def list_mails() -> list[CaughtMail]:
    """The newest mails first."""
    folder = _folder()
    paths = sorted(folder.glob("*.eml"), key=lambda path: path.name, reverse=True)[:SHOWN]
    return [_read(path) for path in paths]


def find_mail(name: str) -> CaughtMail:
    """One mail. Raises `Http404`."""
    return _read(_path(name))


def find_part(name: str, number: int) -> tuple[str, str, bytes]:
    """(type, file name, content) of one part. Raises `Http404`."""
    parts = list(_parse(_path(name)).walk())
    if number >= len(parts) or parts[number].is_multipart():
        raise Http404
    part = parts[number]
    content = part.get_payload(decode=True)
    return part.get_content_type(), part.get_filename() or "", content if isinstance(content, bytes) else b""


def _folder() -> Path:
    if not settings.MAILBOX:
        raise Http404
    return Path(settings.MAILBOX)


def _path(name: str) -> Path:
    path = _folder() / name
    if not _NAME.fullmatch(name) or not path.is_file():
        raise Http404
    return path


def _parse(path: Path) -> EmailMessage:
    message = message_from_bytes(path.read_bytes(), policy=policy.default)
    assert isinstance(message, EmailMessage)
    return message


def _read(path: Path) -> CaughtMail:
    message = _parse(path)
    body = message.get_body(("plain",))
    date = message["Date"]
    moment = date.datetime if date is not None else datetime.fromtimestamp(path.stat().st_mtime, UTC)
    return CaughtMail(
        name=path.name,
        recipient=str(message["To"] or ""),
        subject=str(message["Subject"] or ""),
        sent=moment.strftime("%Y-%m-%d %H:%M"),
        text=body.get_content() if body else "",
        parts=tuple(
            CaughtPart(number, part.get_content_type(), part.get_filename() or "")
            for number, part in enumerate(message.walk())
            if not part.is_multipart()
        ),
    )
