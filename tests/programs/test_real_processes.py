"""Web server, workers and tickers as they run in production, on a database of their own: what is approved arrives."""

import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from django.utils import timezone

from athletes import access
from athletes.models import Delivery
from coaching.stack.redis import FOLDER_URL
from programs.models import WeekPlan
from tests import people
from tests.crowds import Crowd, make_crowd
from tests.databases import Database
from tests.live import LiveStack, StartStack, await_true
from tests.postbox import SmtpSink
from tests.services import Services
from tests.visits import Visitor

#: Short waits for what otherwise takes minutes: a dead worker's mail is free again after some seconds.
QUICK = {
    "MAIL_TICK_SECONDS": "0.5",
    "SWEEP_TICK_SECONDS": "0.5",
    "MAIL_LEASE_SECONDS": "5",
    "MAIL_HOST_SECONDS": "1",
}


def arrived(sink: SmtpSink) -> Counter[str]:
    """How often each address got a mail."""
    return Counter(caught.rcpt_tos[0] for caught in list(sink.messages))


def all_arrived(sink: SmtpSink, crowd: Crowd) -> Callable[[], bool]:
    """Whether each rider has got something and nothing is waiting any more."""
    return lambda: (
        {rider.email for rider in crowd.riders} <= set(arrived(sink)) and crowd.count_waiting() == 0
    )


def test_a_week_approved_at_the_desk_arrives_within_seconds(
    fresh_database: Database, smtp_sink: SmtpSink, live_stack: StartStack
) -> None:
    """The whole way: a coach signs in and presses the button; the mail is woken for, not waited for."""
    crowd = make_crowd(1)
    stack = live_stack(env={"MAIL_TICK_SECONDS": "600"})
    time.sleep(0.1)
    visitor = Visitor(stack.address)
    visitor.sign_in(crowd.coach.user.email, people.PASSWORD)
    began = time.monotonic()
    visitor.approve_all(crowd)
    assert await_true(lambda: smtp_sink.messages, seconds=20)
    assert time.monotonic() - began < 20
    (caught,) = smtp_sink.messages
    assert caught.rcpt_tos == (crowd.riders[0].email,)
    kinds = {part.get_content_type() for part in caught.message.walk()}
    assert {"text/plain", "text/html", "application/pdf", "text/calendar"} <= kinds
    assert stack.address in caught.message.get_body(("plain",)).get_content()
    assert await_true(lambda: crowd.deliveries()[0].state == Delivery.State.SENT)
    with access.within(crowd.club):
        assert WeekPlan.objects.get().state == WeekPlan.State.SENT


def test_two_workers_and_three_tickers_send_each_mail_once(
    fresh_database: Database, smtp_sink: SmtpSink, live_stack: StartStack
) -> None:
    crowd = make_crowd(20)
    live_stack(web=False, workers=2, tickers=3, env=QUICK)
    crowd.approve(crowd.riders, now=timezone.now())
    assert await_true(all_arrived(smtp_sink, crowd), seconds=120)
    time.sleep(1.5)  # three more ticks of each
    assert arrived(smtp_sink) == {rider.email: 1 for rider in crowd.riders}
    assert {row.state for row in crowd.deliveries()} == {Delivery.State.SENT}
    assert len({caught.message["Message-ID"] for caught in smtp_sink.messages}) == 20


def test_a_worker_killed_in_the_middle_loses_nothing(
    fresh_database: Database, smtp_sink: SmtpSink, live_stack: StartStack
) -> None:
    """Killed as it has handed over some, with more claimed. At most the one message whose answer it had not written
    down may come again, and then it is the same message to the byte."""
    crowd = make_crowd(20)
    stack = live_stack(web=False, env=QUICK)
    crowd.approve(crowd.riders, now=timezone.now())
    assert await_true(lambda: len(smtp_sink.messages) >= 3, seconds=30)
    stack.kill("worker-1")
    first = list(smtp_sink.messages)
    assert len(first) < 20
    stack.start("worker-1")
    assert await_true(all_arrived(smtp_sink, crowd), seconds=120)
    again = [
        caught
        for caught in smtp_sink.messages[len(first) :]
        if caught.rcpt_tos in {one.rcpt_tos for one in first}
    ]
    assert len(again) <= 2, "two processes were killed"
    for caught in again:
        assert caught.raw in {one.raw for one in first}


def test_without_redis_a_folder_of_messages_does(
    fresh_database: Database, smtp_sink: SmtpSink, live_stack: StartStack, tmp_path: Path
) -> None:
    """What is lost there, the ticker makes good: a row is the task, a message only wakes somebody."""
    state = tmp_path / "state"
    (state / "broker").mkdir(parents=True)
    crowd = make_crowd(3)
    live_stack(web=False, env={**QUICK, "REDIS_URL": FOLDER_URL, "BALLAST_STATE": str(state)})
    crowd.approve(crowd.riders, now=timezone.now())
    assert await_true(all_arrived(smtp_sink, crowd), seconds=120)
    assert arrived(smtp_sink) == {rider.email: 1 for rider in crowd.riders}


def test_without_any_broker_the_desk_serves_and_approves_and_mail_goes_when_it_is_back(
    fresh_database: Database, smtp_sink: SmtpSink, live_stack: StartStack, services: Services
) -> None:
    if services.broker.child is None:
        pytest.fail("this run has no Redis of its own to stop")
    crowd = make_crowd(2)
    stack = live_stack(env=QUICK)
    services.broker.stop()
    try:
        visitor = Visitor(stack.address)
        visitor.sign_in(crowd.coach.user.email, people.PASSWORD)
        began = time.monotonic()
        visitor.approve_all(crowd)
        assert time.monotonic() - began < 15
        assert {row.state for row in crowd.deliveries()} == {Delivery.State.DUE}
        assert smtp_sink.messages == []
        assert visitor.get("/").status == 200
    finally:
        services.broker.start()
    assert await_true(all_arrived(smtp_sink, crowd), seconds=90), stack_logs(stack)
    assert arrived(smtp_sink) == {rider.email: 1 for rider in crowd.riders}


def stack_logs(stack: LiveStack) -> str:
    """The ends of the logs, to see why something did not come about."""
    return "\n".join(f"--- {name}\n{child.read_log(lines=20)}" for name, child in stack.children.items())
