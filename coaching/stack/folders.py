"""Where the services keep their files, and as whom they run.

Everything lies in the state folder (`.state` in the tree, or `BALLAST_STATE`). PostgreSQL refuses to run as root, so a
root user's services run as an account without rights, which has to be able to walk to its files: where the tree is
closed to others (a root user's home, say) they lie in a folder of their own under /var/tmp instead. No folder that was
there before has its mode or owner changed.
"""

import fcntl
import hashlib
import os
import pwd
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
#: Bytes in a unix socket's path that every system takes: Linux has room for 107, others for 103.
SOCKET_PATH_BYTES = 103
NOBODY = 65534


class StackError(Exception):
    """A service cannot be started; the message says what to do about it."""


class FolderInUse(StackError):
    """Another process holds this state folder."""


@dataclass(frozen=True)
class Account:
    """Whom a service runs as."""

    uid: int
    gid: int


def find_account() -> Account | None:
    """The account without rights that a root user's services run as; None for anyone else, who needs none."""
    if os.geteuid() != 0:
        return None
    try:
        entry = pwd.getpwnam("nobody")
    except KeyError:
        return Account(NOBODY, NOBODY)
    return Account(entry.pw_uid, entry.pw_gid)


def find_state() -> Path:
    """The state folder: `BALLAST_STATE`, or `.state` in the tree."""
    return Path(os.environ.get("BALLAST_STATE") or PROJECT / ".state").absolute()


def is_reachable(path: Path, account: Account | None) -> bool:
    """Whether the account may walk to the path and pass through it; judged by mode bits alone."""
    if account is None:
        return True
    return all(_may_enter(place, account) for place in [path.resolve(), *path.resolve().parents])


def _may_enter(place: Path, account: Account) -> bool:
    found = place.stat()
    if found.st_uid == account.uid:
        return bool(found.st_mode & stat.S_IXUSR)
    if found.st_gid == account.gid:
        return bool(found.st_mode & stat.S_IXGRP)
    return bool(found.st_mode & stat.S_IXOTH)


def make_folder(path: Path, *, mode: int = 0o700, account: Account | None = None) -> Path:
    """Make one folder (and plain parents) with exactly this mode and owner; one that is there already gets them too.

    Refuses a link or a folder of somebody else's: under a shared temporary folder either could be a trap.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    path.mkdir(exist_ok=True)
    found = path.lstat()
    expected = {os.geteuid()} | ({account.uid} if account else set())
    if not stat.S_ISDIR(found.st_mode) or found.st_uid not in expected:
        raise StackError(f"{path} is not a folder of this user's. Move it away and start again.")
    path.chmod(mode)
    if account and (found.st_uid, found.st_gid) != (account.uid, account.gid):
        os.chown(path, account.uid, account.gid)
    return path


def make_state(state: Path) -> Path:
    """The state folder itself: others may pass through it (the services' account must), and may not list it."""
    return make_folder(state, mode=0o711)


def find_home(state: Path, account: Account | None) -> Path:
    """The folder below which services keep their data: the state folder, or one that the account can walk to.

    The second kind is linked from the state folder as `services`, so that cleaning up finds it.
    """
    if is_reachable(make_state(state), account):
        return state
    home = make_folder(Path("/var/tmp") / f"ballast-{_fingerprint(state)}", mode=0o711)
    link = state / "services"
    if not link.is_symlink():
        link.symlink_to(home)
    return home


def find_socket_folder(home: Path, name: str, *, account: Account | None) -> Path:
    """A folder for a unix socket whose whole path, `name` included, fits; only the service's user may enter it."""
    candidates = [home / "sockets", *_short_socket_folders(home)]
    fitting = (folder for folder in candidates if len(os.fsencode(folder / name)) <= SOCKET_PATH_BYTES)
    return make_folder(next(fitting), account=account)


def _short_socket_folders(home: Path) -> list[Path]:
    name = f"ballast-{_fingerprint(home)}-{os.geteuid()}"
    return [Path(tempfile.gettempdir()) / name, Path("/tmp") / name]


def remove_state(state: Path) -> None:
    """The state folder and whatever lay outside of it for its sake are gone. The caller holds it, and ended all."""
    link = state / "services"
    home = link.readlink() if link.is_symlink() else state
    for folder in {state, home, *_short_socket_folders(home)}:
        shutil.rmtree(folder, ignore_errors=True)


@dataclass(frozen=True)
class Bundle:
    """A program with all that has to stand beside it: `parts` are paths below `base`, files or folders."""

    base: Path
    parts: tuple[str, ...]
    program: str

    @property
    def path(self) -> Path:
        return self.base / self.program


def place_bundle(bundle: Bundle, home: Path, account: Account | None) -> Bundle:
    """The bundle to run from: the one given, or a copy that the account can walk to, made whole or not at all."""
    if is_reachable(bundle.path, account):
        return bundle
    stamp = f"{bundle.path}{bundle.path.stat().st_mtime_ns}"
    copy = home / f"programs-{hashlib.sha256(stamp.encode()).hexdigest()[:12]}"
    if not copy.exists():
        with tempfile.TemporaryDirectory(dir=home) as scratch:
            made = Path(scratch) / "copy"
            for part in bundle.parts:
                _copy(bundle.base / part, made / part)
            for place in [made, *made.rglob("*")]:
                if not place.is_symlink():
                    mode = place.stat().st_mode
                    place.chmod(mode | (0o055 if mode & stat.S_IXUSR else 0o044))
            made.rename(copy)
    return Bundle(copy, bundle.parts, bundle.program)


def _copy(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    if source.is_dir():
        shutil.copytree(source, target, symlinks=True)
    elif source.exists():
        shutil.copy2(source, target)


@contextmanager
def hold(folder: Path) -> Iterator[None]:
    """Keep a folder to this process while the block runs; raises FolderInUse when another process has it.

    The lock is the kernel's, so it goes with the process however that ends.
    """
    descriptor = os.open(make_state(folder) / "lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise FolderInUse(f"{folder} is in use by another running Ballast.") from None
        yield
    finally:
        os.close(descriptor)


def _fingerprint(path: Path) -> str:
    return hashlib.sha256(os.fsencode(path)).hexdigest()[:12]
