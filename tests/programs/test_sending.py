"""From an approved week to a mail on a real SMTP server, and everything that may go wrong between."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from athletes import access, outbox
from athletes.models import Delivery, FollowUp, Suppression
from programs import plans, tasks
from programs.engine.facts import Week
from programs.models import WeekPlan
from tests import people
from tests.postbox import SmtpSink

WEEK = Week(2026, 49)
SUNDAY_EVENING = people.NOW + timedelta(days=2, hours=4, minutes=1)


def clock_at(now: datetime) -> Callable[[], datetime]:
    return lambda: now


def approved(someone: people.People) -> WeekPlan:
    with access.within(someone.club):
        plans.resolve(club=someone.club, week=WEEK, by=someone.coach, now=people.NOW, riders=[someone.rider])
        plan = WeekPlan.objects.get(rider=someone.rider)
        return plans.approve(plan=plan, by=someone.coach, now=people.NOW)


def delivery_of(someone: people.People) -> Delivery:
    with access.within(someone.club):
        return Delivery.objects.get(kind=plans.WEEK_MAIL)


@pytest.mark.django_db
def test_nothing_goes_out_before_its_hour(smtp_sink: SmtpSink) -> None:
    approved(people.wexenfold())
    assert tasks.send(clock=clock_at(SUNDAY_EVENING - timedelta(minutes=5)), limit=10) == 0
    assert smtp_sink.messages == []


@pytest.mark.django_db
def test_an_approved_week_goes_out_once_with_card_and_calendar(smtp_sink: SmtpSink) -> None:
    someone = people.wexenfold()
    plan = approved(someone)
    assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 1
    assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 0
    (caught,) = smtp_sink.messages
    assert caught.rcpt_tos == (someone.rider.email,)
    kinds = {part.get_content_type() for part in caught.message.walk()}
    assert {"text/plain", "text/html", "application/pdf", "text/calendar"} <= kinds
    delivery = delivery_of(someone)
    with access.within(someone.club):
        assert WeekPlan.objects.get(pk=plan.pk).state == WeekPlan.State.SENT
    assert (delivery.state, delivery.message) == (Delivery.State.SENT, None)
    assert delivery.message_id == caught.message["Message-ID"]


@pytest.mark.django_db
def test_a_passing_refusal_sends_the_same_bytes_again(smtp_sink: SmtpSink) -> None:
    someone = people.wexenfold()
    approved(someone)
    seen: list[bytes] = []

    def refuse_once(caught: object) -> str:
        seen.append(caught.raw)  # type: ignore[attr-defined]
        return "451 later" if len(seen) == 1 else "250 kept"

    smtp_sink.answer = refuse_once
    assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 0
    delivery = delivery_of(someone)
    assert (delivery.state, delivery.attempts) == (Delivery.State.RETRY, 1)
    later = delivery.next_attempt_at + timedelta(seconds=1)
    assert tasks.send(clock=clock_at(later), limit=10) == 1
    assert seen[0] == seen[1]


@pytest.mark.django_db
def test_a_bad_address_is_suppressed_and_followed_up(smtp_sink: SmtpSink) -> None:
    someone = people.wexenfold()
    approved(someone)
    smtp_sink.answer = lambda _caught: "550 5.1.1 no such mailbox"
    tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10)
    with access.within(someone.club):
        assert Delivery.objects.get().state == Delivery.State.FAILED
        assert Suppression.objects.get().address == someone.rider.email
        assert FollowUp.objects.open().get().topic == "bounced"


@pytest.mark.django_db
def test_a_lasting_refusal_of_the_message_suppresses_nothing(smtp_sink: SmtpSink) -> None:
    someone = people.wexenfold()
    approved(someone)
    smtp_sink.answer = lambda _caught: "554 5.7.1 policy"
    tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10)
    with access.within(someone.club):
        assert Delivery.objects.get().state == Delivery.State.FAILED
        assert not Suppression.objects.exists()


@pytest.mark.django_db
def test_a_server_that_cannot_be_reached_costs_no_attempt(settings: object) -> None:
    someone = people.wexenfold()
    approved(someone)
    settings.SMTP_HOST, settings.SMTP_PORT = "127.0.0.1", 1  # type: ignore[attr-defined]
    tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10)
    delivery = delivery_of(someone)
    assert (delivery.state, delivery.attempts) == (Delivery.State.RETRY, 0)
    assert delivery.next_attempt_at == SUNDAY_EVENING + outbox.PROBE


@pytest.mark.django_db
def test_a_plan_withdrawn_after_it_was_claimed_is_never_handed_over(smtp_sink: SmtpSink) -> None:
    someone = people.wexenfold()
    plan = approved(someone)
    (claim,) = outbox.claim(now=SUNDAY_EVENING)
    with access.within(someone.club):
        WeekPlan.objects.filter(pk=plan.pk).update(state=WeekPlan.State.WITHDRAWN)
    with tasks.postman.Postman() as carrier:
        assert not tasks._send_one(carrier, claim, clock_at(SUNDAY_EVENING))
    assert smtp_sink.messages == []
    assert delivery_of(someone).state == Delivery.State.CANCELLED


@pytest.mark.django_db
def test_a_lease_that_ran_out_is_freed_and_the_old_holder_writes_nothing(smtp_sink: SmtpSink) -> None:
    someone = people.wexenfold()
    approved(someone)
    (claim,) = outbox.claim(now=SUNDAY_EVENING)
    assert outbox.claim(now=SUNDAY_EVENING) == []
    late = SUNDAY_EVENING + outbox.LEASE + timedelta(seconds=1)
    assert outbox.sweep(now=late) == 1
    with access.within(someone.club):
        assert outbox.settle_sent(claim=claim, now=late) is None
    assert tasks.send(clock=clock_at(late), limit=10) == 1
    assert len(smtp_sink.messages) == 1


@pytest.mark.django_db
def test_what_a_dead_process_handed_over_is_not_sent_again(smtp_sink: SmtpSink) -> None:
    someone = people.wexenfold()
    approved(someone)
    (claim,) = outbox.claim(now=SUNDAY_EVENING)
    journal = tasks.postman.Journal(tasks.postman.journal_folder())
    journal.write(claim)
    dead = journal.path.with_name(journal.path.name.replace(f"-{tasks.postman.os.getpid()}-", "-4194304-"))
    journal.path.rename(dead)
    settled = tasks.postman.read_journals(settle=lambda one: tasks._settle(one, now=SUNDAY_EVENING))
    assert settled == 1
    assert delivery_of(someone).state == Delivery.State.SENT
    assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 0
