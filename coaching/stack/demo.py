"""The demo: everything at once, on one machine, for one person.

What was entered stays in the state folder, so a second run goes on where the first ended.
"""

import os
import secrets
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from coaching.stack import postgres
from coaching.stack.commands import (
    LOOPBACK,
    WEB_READY_SECONDS,
    Commands,
    answers_http,
    answers_tcp,
    find_port,
)
from coaching.stack.folders import PROJECT, StackError, make_folder
from coaching.stack.postgres import Addresses, Postgres
from coaching.stack.processes import Child, Process, Supervisor, await_ready
from coaching.stack.redis import Broker

MAILBOX_FIRST_PORT = 10025
WATCH_SECONDS = 0.25
SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Stopped(BaseException):
    """Somebody asked for the end: Ctrl-C, SIGTERM, or the terminal went away."""


def run(state: Path, *, first_port: int, tree: Path = PROJECT) -> None:
    """Start everything, say where it is, and keep it running until told to stop; then end everything.

    The caller holds the state folder. `tree` is where `manage.py` lies. StackError when a part does not start.
    """
    supervisor = Supervisor(tell=say)
    try:
        _raise_on_signals()
        say("Starting PostgreSQL, the broker and the mailbox.")
        environment, owner_url = _start_services(supervisor, state)
        port = find_port(first_port)
        environment["BALLAST_ADDRESS"] = find_address(port)
        commands = Commands(state=state, environment=environment, tree=tree)
        managed = Commands(
            state=state, environment={**environment, "DATABASE_OWNER_URL": owner_url}, tree=tree
        )
        say("Bringing the tables and the exercise library up to date.")
        _run_step(managed.manage("migrate", "--database", "owner", "--noinput"), shown=False)
        _run_step(managed.manage("load_library", "--database", "owner"), shown=False)
        _run_step(managed.manage("demo"), shown=True)
        _start_application(supervisor, commands, port)
        address_file(state).write_text(environment["BALLAST_ADDRESS"])
        _run_step(managed.manage("demo", "--addresses"), shown=True)
        say(f"Logs are in {state / 'logs'}. Ctrl-C ends everything; what was entered stays.")
        while True:
            supervisor.watch_once()
            time.sleep(WATCH_SECONDS)
    except Stopped:
        say("Ending.")
    finally:
        with _signals_kill(supervisor):
            supervisor.stop()
        address_file(state).unlink(missing_ok=True)
    say("Everything has ended.")


def say(line: str) -> None:
    """One line for the person at the terminal, who may have closed it."""
    try:
        print(line, flush=True)
    except OSError:
        sys.stdout = Path(os.devnull).open("w")  # noqa: SIM115 (kept open: it is where all further lines go)


def find_address(port: int) -> str:
    """Where the demo answers."""
    return f"http://{LOOPBACK}:{port}"


def address_file(state: Path) -> Path:
    """Holds the address while the demo runs."""
    return state / "address"


def _start_services(supervisor: Supervisor, state: Path) -> tuple[dict[str, str], str]:
    """The environment for everything that follows, and the URL of the tables' owner, which only migrations get."""
    broker = Broker(state)
    broker.make_ready()
    if broker.child:
        broker.await_ready(supervisor.start(broker.process, before_restart=broker.make_ready))
    if broker.kind == "folder":
        say("No redis-server found: messages go through a folder. A lost one costs time, never mail.")
    addresses = _start_postgres(supervisor, state)
    mails, mail_port = make_folder(state / "mails"), find_port(MAILBOX_FIRST_PORT)
    mailbox = supervisor.start(Commands(state=state, environment={}).mailbox(mail_port, mails))
    await_ready(mailbox, lambda: answers_tcp(mail_port), seconds=20)
    make_folder(state / "staticfiles")  # nothing is collected for the demo, but the folder is expected
    environment = {
        "DJANGO_SETTINGS_MODULE": "coaching.settings",
        "BALLAST_DEMO": "1",
        "BALLAST_STATE": str(state),
        "BALLAST_MAILBOX": str(mails),
        "DATABASE_URL": addresses.app_url,
        "REDIS_URL": broker.url,
        "EMAIL_HOST": LOOPBACK,
        "EMAIL_PORT": str(mail_port),
        "EMAIL_TLS": "none",
        "SECRET_KEY": read_secret_key(state),
    }
    return environment, addresses.owner_url


def _start_postgres(supervisor: Supervisor, state: Path) -> Addresses:
    given = postgres.find_given()
    if given:
        return given
    server = Postgres(state)
    server.make_ready()
    server.await_ready(supervisor.start(server.process, before_restart=server.make_ready))
    return Addresses(server.app_url, server.owner_url)


def _start_application(supervisor: Supervisor, commands: Commands, port: int) -> None:
    web = supervisor.start(commands.web(port))
    supervisor.start(commands.worker())
    supervisor.start(commands.ticker())
    await_ready(web, lambda: answers_http(port), seconds=WEB_READY_SECONDS)


def read_secret_key(state: Path) -> str:
    """The demo's key, made once: sessions and links outlive a restart."""
    path = state / "secret-key"
    if not path.exists():
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with open(descriptor, "w") as file:
            file.write(secrets.token_urlsafe(64))
    return path.read_text()


def _run_step(step: Process, *, shown: bool) -> None:
    """Run a command to its end, passing on what it prints if `shown`. StackError when it fails."""
    child = Child(step)
    child.start()
    try:
        with step.log.open("rb") as log:
            log.seek(child.log_began_at)
            while True:
                running = child.is_running
                text = log.read().decode(errors="replace")
                if text and shown:
                    say(text.rstrip("\n"))
                if not running:
                    break
                time.sleep(0.05)
    finally:
        child.stop()
    if child.exit_code != 0:
        raise StackError(f"{step.name} failed:\n{child.read_log(lines=40)}")


def _raise_on_signals() -> None:
    """The first signal raises Stopped; what follows while everything ends is `_signals_kill`'s."""

    def stop(_number: int, _frame: FrameType | None) -> None:
        for number in SIGNALS:
            signal.signal(number, signal.SIG_IGN)
        raise Stopped

    for number in SIGNALS:
        if not (number == signal.SIGHUP and signal.getsignal(number) == signal.SIG_IGN):  # under nohup
            signal.signal(number, stop)


@contextmanager
def _signals_kill(supervisor: Supervisor) -> Iterator[None]:
    """While everything ends in its own time, a further signal ends it at once."""

    def kill(_number: int, _frame: FrameType | None) -> None:
        for child in supervisor.children.values():
            child.kill()

    for number in SIGNALS:
        signal.signal(number, kill)
    try:
        yield
    finally:
        for number in SIGNALS:
            signal.signal(number, signal.SIG_DFL)
