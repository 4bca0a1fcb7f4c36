"""What must never happen, tried until it would: a mail lost, or sent twice outside the one documented window.

The window runs from the last byte of a message to the record of its acceptance: who dies in it cannot know whether the
server took the mail, and sends the same bytes again. Everything else is ours to answer for.
"""

import random
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.utils import timezone
from pytest_django import Settings

from athletes import access, outbox, postman
from athletes.models import Delivery
from coaching.stack.commands import Commands
from programs import checkins, tasks
from tests import people
from tests.crowds import Crowd, make_crowd
from tests.databases import Database, close_connections
from tests.drills import WORKER, Drill, Tally, kill_once
from tests.live import LiveStack, StartStack, await_true
from tests.reports import say
from tests.sabotage import send_without_lock
from tests.scripted_smtp import Answer, Drop, Say, ScriptedSmtp, Stall, scripted_smtp
from tests.services import Services

pytestmark = pytest.mark.gate

SEED = 20261125
#: Of these the first are at named points, every eighth of the others kills the whole worker.
TRIALS = 30
NAMED = ("connect", "EHLO", "MAIL", "RCPT", "DATA", "end", "answered")
QUICK = {
    "MAIL_TICK_SECONDS": "0.3",
    "SWEEP_TICK_SECONDS": "0.3",
    "MAIL_LEASE_SECONDS": "2",
    "MAIL_HOST_SECONDS": "1",
}


@pytest.fixture
def server() -> Iterator[ScriptedSmtp]:
    with scripted_smtp() as running:
        yield running


def environment(server: ScriptedSmtp) -> dict[str, str]:
    return {**QUICK, "EMAIL_HOST": server.host, "EMAIL_PORT": str(server.port)}


# --- killed processes -------------------------------------------------------------------------------------------------


def test_workers_killed_at_any_moment_lose_nothing_and_repeat_nothing(
    fresh_database: Database, live_stack: StartStack, server: ScriptedSmtp
) -> None:
    crowd = make_crowd(TRIALS)
    stack = live_stack(web=False, env=environment(server))
    drill = Drill(stack, server, crowd, Tally("killed-workers"))
    chance = random.Random(SEED)
    for point in NAMED:
        _die_at(drill, point)
    for number in range(TRIALS - len(NAMED)):
        server.script = _take_time
        drill.begin(alerts=9, weeks=1)
        time.sleep(chance.uniform(0.0, 0.8))
        drill.kill(whole=number % 8 == 0)
        if number % 8 == 0:
            stack.start(WORKER)
        drill.finish()
    say(str(drill.tally))
    assert (drill.tally.trials, drill.tally.lost, drill.tally.outside_window) == (TRIALS, 0, 0)


def _take_time(step: str) -> Answer:
    """A server that thinks about each complete message, so that many die waiting for its answer."""
    if step == "end":
        time.sleep(0.05)
    return None


def _die_at(drill: Drill, point: str) -> None:
    """One trial in which the worker's processes die at a step of the conversation, before its answer; at `answered`,
    the moment after the message was."""
    server = drill.server
    kill = kill_once(drill)

    def script(step: str) -> Answer:
        if step == point:
            kill()
        return None

    server.script = script
    server.answered = lambda step: kill() if (point, step) == ("answered", "end") else None
    server.cut_off()
    drill.begin(alerts=9, weeks=1)
    assert await_true(lambda: drill.moment is not None, seconds=60), f"nobody came to {point}"
    server.script, server.answered = lambda _step: None, lambda _step: None
    drill.finish()


def test_the_drill_sees_a_loss(
    fresh_database: Database, live_stack: StartStack, server: ScriptedSmtp
) -> None:
    """A worker that marks mail as sent before it hands it over."""
    crowd = make_crowd(1)
    stack = live_stack(web=False, workers=0, env=environment(server))
    _run_sabotaged_worker(stack, "send_marked_first")
    drill = Drill(stack, server, crowd, Tally("seen-loss"))
    _die_at(drill, "DATA")
    say(str(drill.tally))
    assert drill.tally.lost >= 1


def _run_sabotaged_worker(stack: LiveStack, how: str) -> None:
    ticker = stack.children["ticker-1"].process
    commands = Commands(state=stack.state, environment=ticker.environment)
    worker = commands.worker(name=WORKER)
    celery = worker.command.index("celery")
    command = (sys.executable, "-m", "tests.sabotage", how, *worker.command[celery + 1 :])
    stack.run(replace(worker, command=command), lambda child: " ready." in child.read_log(lines=40))


def test_a_database_that_restarts_in_the_middle_repeats_nothing(
    fresh_database: Database, live_stack: StartStack, server: ScriptedSmtp, services: Services
) -> None:
    """Nobody is killed, so that no window excuses a second copy: what the server took while the database was away
    stands in the journal."""
    if services.server is None:
        pytest.fail("this run has no PostgreSQL of its own to restart")
    crowd = make_crowd(3)
    stack = live_stack(web=False, env=environment(server))
    drill = Drill(stack, server, crowd, Tally("database-restarts"))
    for _ in range(3):
        server.script = _take_time
        kept = len(server.kept)
        drill.begin(alerts=19, weeks=1)
        assert await_true(lambda: len(server.kept) > kept + 2, seconds=60)  # noqa: B023 - asked before it changes
        close_connections()
        services.server.stop()
        services.server.start()
        drill.finish()
    say(str(drill.tally))
    assert (drill.tally.lost, drill.tally.duplicated) == (0, 0)


def test_a_broker_that_forgets_everything_in_the_middle_loses_nothing(
    fresh_database: Database, live_stack: StartStack, server: ScriptedSmtp, services: Services
) -> None:
    if services.broker.child is None:
        pytest.fail("this run has no Redis of its own to empty")
    crowd = make_crowd(4)
    stack = live_stack(web=False, env=environment(server))
    drill = Drill(stack, server, crowd, Tally("forgetful-broker"))
    for number in range(4):
        drill.begin(alerts=19, weeks=1)
        services.broker.empty()
        if number % 2:
            services.broker.stop()
            services.broker.start()
        drill.finish()
    say(str(drill.tally))
    assert (drill.tally.lost, drill.tally.duplicated) == (0, 0)


# --- many at once -----------------------------------------------------------------------------------------------------


def _send_by(threads: int, settings: Settings, server: ScriptedSmtp) -> None:
    """So many senders at once, each with a line of its own, until none of them finds anything."""
    settings.SMTP_HOST, settings.SMTP_PORT = server.host, server.port
    start = threading.Barrier(threads)
    errors: list[BaseException] = []

    def send() -> None:
        try:
            with postman.Postman() as carrier:
                start.wait(30)
                while tasks.send(clock=timezone.now, limit=100, carrier=carrier):
                    pass
        except BaseException as error:
            errors.append(error)
        finally:
            connection.close()

    senders = [threading.Thread(target=send) for _ in range(threads)]
    for sender in senders:
        sender.start()
    for sender in senders:
        sender.join(120)
    assert errors == []


def _count(crowd: Crowd, server: ScriptedSmtp, name: str, began: float) -> Tally:
    copies = Counter(one.message_id for one in server.kept)
    rows = crowd.deliveries()
    lost = sum(row.state != Delivery.State.SENT or not copies[row.message_id] for row in rows)
    duplicated = sum(count - 1 for count in copies.values())
    tally = Tally(name, 1, lost, duplicated, duplicated, began)
    say(str(tally))
    return tally


def test_eight_senders_at_once_send_each_mail_once(
    fresh_database: Database, settings: Settings, server: ScriptedSmtp
) -> None:
    crowd = make_crowd(8)
    crowd.approve(crowd.riders, now=timezone.now())
    crowd.alert([str(number) for number in range(60)], now=timezone.now())
    began = time.monotonic()
    _send_by(8, settings, server)
    tally = _count(crowd, server, "eight-senders", began)
    assert (len(server.kept), tally.lost, tally.duplicated) == (68, 0, 0)


def test_the_drill_sees_a_duplicate(
    fresh_database: Database, settings: Settings, server: ScriptedSmtp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Eight senders that do not look whether a mail is somebody's already."""
    crowd = make_crowd(1)
    crowd.alert(["one", "two"], now=timezone.now())
    send_without_lock(monkeypatch.setattr)
    all_there, places = threading.Barrier(8), iter(range(8))

    def meet(step: str) -> Answer:
        """The eight wait for one another before the first mail of each."""
        if step == "MAIL" and next(places, None) is not None:
            with suppress(threading.BrokenBarrierError):
                all_there.wait(20)
        return None

    server.script = meet
    began = time.monotonic()
    _send_by(8, settings, server)
    assert _count(crowd, server, "seen-duplicate", began).duplicated >= 1


# --- servers that misbehave -------------------------------------------------------------------------------------------

FAILURES: dict[str, Callable[[], Answer]] = {
    "4xx": lambda: Say(b"451 4.3.0 later\r\n"),
    "5xx": lambda: Say(b"554 5.7.1 never\r\n"),
    "drop": Drop,
    "stall": Stall,
    "nonsense": lambda: Say(b"banana\r\n250 ok\r\n"),
    "two replies": lambda: Say(b"250 ok\r\n250 ok\r\n"),
    "endless line": lambda: Say(b"250 " + b"x" * 20_000),
}
#: Before any mail is begun: the whole server is away, and no mail has been tried.
UNREACHABLE = ("connect", "EHLO")
NOW = people.NOW


def expected(step: str, failure: str) -> tuple[str, int, int, int]:
    """The first mail's state and attempts after the failure, and the copies kept of it then and in the end."""
    if failure == "two replies":
        # The second is read as the answer to what comes next; the one verb whose answer differs is DATA.
        return {
            "connect": (Delivery.State.RETRY, 0, 0, 1),
            "end": (Delivery.State.SENT, 1, 1, 1),
        }.get(step, (Delivery.State.RETRY, 1, 0, 1))
    if step in UNREACHABLE:
        if (step, failure) == ("EHLO", "5xx"):
            return Delivery.State.SENT, 1, 1, 1  # greeted again by HELO (RFC 5321, 3.2)
        return Delivery.State.RETRY, 0, 0, 1
    if failure == "5xx":
        return Delivery.State.FAILED, 1, 0, 0
    if step == "end" and failure not in ("4xx", "nonsense"):
        return Delivery.State.RETRY, 1, 1, 2  # the server had it: the documented window
    return Delivery.State.RETRY, 1, 0, 1


def _refuse_once(step: str, failure: str) -> Callable[[str], Answer]:
    """A server that fails at the first time it comes to the step, and is good ever after."""
    first = iter([FAILURES[failure]()])
    return lambda now_at: next(first, None) if now_at == step else None


@pytest.mark.django_db
@pytest.mark.parametrize("failure", FAILURES)
@pytest.mark.parametrize("step", ["connect", "EHLO", "MAIL", "RCPT", "DATA", "end"])
def test_a_server_that_fails_at_one_step_gets_each_mail_once_when_it_is_well(
    settings: Settings, server: ScriptedSmtp, step: str, failure: str
) -> None:
    """The mail behind the failing one in the same run goes to its own reader, whatever is left on the line."""
    settings.SMTP_HOST, settings.SMTP_PORT = server.host, server.port
    settings.MAIL_STEP_SECONDS = settings.MAIL_END_SECONDS = 2 if failure == "stall" else 30
    someone = people.wexenfold()
    with access.within(someone.club):
        for key in ("first", "second"):
            checkins._alert(someone.rider, source=key, now=NOW)
        Delivery.objects.filter(dedup_key__endswith="second").update(recipient="second@wexenfold.example")
    server.script = _refuse_once(step, failure)
    with postman.Postman() as carrier:
        _send(carrier, NOW)
        state, attempts, copies, in_the_end = expected(step, failure)
        first, second = _rows(someone)
        assert (first.state, first.attempts) == (state, attempts), first.reason
        assert _copies(server)[first.message_id] == copies
        server.script = lambda _step: None
        _send(carrier, NOW + timedelta(minutes=3))
    first, second = _rows(someone)
    assert _copies(server)[first.message_id] == in_the_end
    assert (second.state, _copies(server)[second.message_id]) == (Delivery.State.SENT, 1)
    for kept in server.kept:
        assert f"To: {kept.recipient}".encode() in kept.raw
    assert len({kept.raw for kept in server.kept}) == len(_copies(server)), "a second copy differs"


def _send(carrier: postman.Postman, now: datetime) -> None:
    tasks.send(clock=lambda: now, limit=10, carrier=carrier)


def _rows(someone: people.People) -> list[Delivery]:
    with access.within(someone.club):
        return list(Delivery.objects.order_by("pk"))


def _copies(server: ScriptedSmtp) -> Counter[str]:
    return Counter(one.message_id for one in server.kept)


@pytest.mark.django_db
def test_a_server_that_is_not_there_costs_no_attempt_however_long(settings: Settings) -> None:
    with scripted_smtp() as gone:
        settings.SMTP_HOST, settings.SMTP_PORT = gone.host, gone.port
    someone = people.wexenfold()
    with access.within(someone.club):
        checkins._alert(someone.rider, source="one", now=NOW)
    now = NOW
    with postman.Postman() as carrier:
        for _ in range(40):
            _send(carrier, now)
            now += outbox.PROBE
    (row,) = _rows(someone)
    assert (row.state, row.attempts) == (Delivery.State.RETRY, 0)
