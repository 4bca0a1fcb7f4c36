"""Journals: on local disk, what the mail server took, written before the database is told.

One append-only file a process, which its owner keeps locked as long as it lives; the kernel lets go when it dies. A
line is a fact whoever reads it: a sweep of any process settles it, of the living as of the dead, and removes the files
that nobody holds any more.
"""

import fcntl
import logging
import os
import socket
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Entry:
    """The server took the message of this Message-ID, which was the one of this delivery."""

    club_id: uuid.UUID
    pk: int
    message_id: str

    def write(self) -> bytes:
        """The entry as a line, which begins afresh whatever a full disk left of the one before."""
        return f"\n{self.club_id} {self.pk} {self.message_id}\n".encode()


def read_entry(line: str) -> Entry | None:
    """The entry of a line; None when it is torn."""
    try:
        club, pk, message_id = line.split(" ")
        entry = Entry(uuid.UUID(club), int(pk), message_id.removesuffix("\n"))
    except ValueError:
        return None
    return entry if line.endswith(">\n") else None


class Journal:
    """This process's own file. A journal that cannot be written is logged and done without: the database is told in the
    next moment anyway, and no mail must wait for it."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / f"{socket.gethostname()}-{os.getpid()}-{uuid.uuid4().hex[:8]}.journal"
        self._file: int | None = None
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._file = self._open()
        except OSError as error:
            log.error("no journal can be kept: %s", error)

    def _open(self) -> int:
        """Opened and locked. A sweep may have taken the new file for an orphan's before it was locked: then again."""
        while True:
            file = os.open(self.path, os.O_CREAT | os.O_APPEND | os.O_WRONLY, 0o600)
            fcntl.flock(file, fcntl.LOCK_EX)
            with suppress(FileNotFoundError):
                if os.stat(self.path).st_ino == os.fstat(file).st_ino:
                    return file
            os.close(file)

    def write(self, entry: Entry) -> None:
        """One line, one system call, and down to the disk."""
        if self._file is None:
            return
        try:
            os.write(self._file, entry.write())
            os.fsync(self._file)
        except OSError as error:
            log.error("the journal cannot be written: %s", error)

    def clear(self) -> None:
        """Everything written is recorded in the database now."""
        if self._file is not None:
            with suppress(OSError):
                os.ftruncate(self._file, 0)

    def close(self, *, keep: bool = False) -> None:
        """The file is let go of, and removed unless somebody has to `keep` it and settle what is in it."""
        if self._file is not None:
            if not keep:
                self.path.unlink(missing_ok=True)
            os.close(self._file)
            self._file = None


def journal_folder() -> Path:
    """Where the journals of this host are."""
    return Path(settings.STATE_DIR) / "journals"


def read_journals(*, settle: Callable[[Entry], bool]) -> int:
    """Gives `settle` whatever the journals here say was handed over. Returns how many it took.

    `settle` must not mind what it knows already. A line that it fails on is logged, and its file stays.
    """
    settled = 0
    for path in sorted(journal_folder().glob("*.journal")):
        with suppress(FileNotFoundError), _opened(path) as is_orphan:
            results = [_settled(entry, settle) for entry in _entries(path)]
            settled += sum(result is True for result in results)
            if is_orphan and None not in results:
                path.unlink(missing_ok=True)
    return settled


@contextmanager
def _opened(path: Path) -> Iterator[bool]:
    """Whether the file's owner is gone; if so nobody else takes it meanwhile."""
    file = os.open(path, os.O_RDONLY)
    try:
        is_orphan = True
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            is_orphan = False
        yield is_orphan
    finally:
        os.close(file)


def _entries(path: Path) -> list[Entry]:
    lines = path.read_text(errors="replace").splitlines(keepends=True)
    return [entry for entry in map(read_entry, lines) if entry is not None]


def _settled(entry: Entry, settle: Callable[[Entry], bool]) -> bool | None:
    """What `settle` says, or None when it failed."""
    try:
        return settle(entry)
    except Exception:
        log.exception("delivery %s was taken by the server and cannot be settled", entry.pk)
        return None
