"""From an approved week to a mail on a real SMTP server, and everything that may go wrong between."""

import os
import uuid
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from celery.exceptions import SoftTimeLimitExceeded
from django.conf import settings as settings_now
from django.db import OperationalError
from pytest_django import Settings

from athletes import access, bell, journals, outbox, postman
from athletes.concerns import BodyReport as BodyValue
from athletes.journals import Entry
from athletes.models import Delivery, FollowUp, Heartbeat, Suppression
from athletes.profiles import riders
from athletes.vocabulary import Region, Side
from programs import checkins, completeness, letters, plans, tasks
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
    late = SUNDAY_EVENING + outbox.lease() + timedelta(seconds=1)
    assert outbox.sweep(now=late) == 1
    with access.within(someone.club):
        assert outbox.settle_sent(claim=claim, now=late) is None
    assert tasks.send(clock=clock_at(late), limit=10) == 1
    assert len(smtp_sink.messages) == 1


def hand_over(someone: people.People, *, now: datetime = SUNDAY_EVENING) -> outbox.Claim:
    """The one due mail, made, claimed and on its way over the line: its sender is about to hear the server's answer."""
    (claim,) = outbox.claim(now=now)
    letter = tasks._prepare(claim, now=now)
    assert letter is not None
    assert tasks._hand_over(claim, letter, now=now)
    return claim


def entry_of(someone: people.People) -> Entry:
    delivery = delivery_of(someone)
    return Entry(delivery.club_id, delivery.pk, delivery.message_id)


class TestJournals:
    """What the server took and nobody told the database."""

    @pytest.fixture(autouse=True)
    def folder(self, settings: Settings, tmp_path: Path) -> Path:
        settings.STATE_DIR = tmp_path
        return journals.journal_folder()

    def settle(self, entry: Entry) -> bool:
        return tasks._settle(entry, now=SUNDAY_EVENING)

    def leave(self, folder: Path, text: str) -> Path:
        folder.mkdir(exist_ok=True)
        path = folder / "elsewhere-1-0.journal"
        path.write_text(text)
        return path

    @pytest.mark.django_db
    def test_what_a_dead_process_handed_over_is_not_sent_again(
        self, folder: Path, smtp_sink: SmtpSink
    ) -> None:
        someone = people.wexenfold()
        plan = approved(someone)
        hand_over(someone)
        path = self.leave(folder, entry_of(someone).write().decode())
        assert journals.read_journals(settle=self.settle) == 1
        assert not path.exists()
        assert delivery_of(someone).state == Delivery.State.SENT
        with access.within(someone.club):
            assert WeekPlan.objects.get(pk=plan.pk).state == WeekPlan.State.SENT
        assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 0

    @pytest.mark.django_db
    def test_it_counts_even_when_the_lease_was_swept_meanwhile(
        self, folder: Path, smtp_sink: SmtpSink
    ) -> None:
        someone = people.wexenfold()
        approved(someone)
        hand_over(someone)
        late = SUNDAY_EVENING + outbox.lease() + timedelta(seconds=1)
        assert outbox.sweep(now=late) == 1
        assert delivery_of(someone).state == Delivery.State.RETRY
        self.leave(folder, entry_of(someone).write().decode())
        assert journals.read_journals(settle=self.settle) == 1
        assert tasks.send(clock=clock_at(late), limit=10) == 0
        assert smtp_sink.messages == []

    @pytest.mark.django_db
    def test_it_stops_a_second_sender_who_has_claimed_the_row_since(
        self, folder: Path, smtp_sink: SmtpSink
    ) -> None:
        someone = people.wexenfold()
        approved(someone)
        hand_over(someone)
        late = SUNDAY_EVENING + outbox.lease() + timedelta(seconds=1)
        outbox.sweep(now=late)
        (second,) = outbox.claim(now=late)
        self.leave(folder, entry_of(someone).write().decode())
        assert journals.read_journals(settle=self.settle) == 1
        with postman.Postman() as carrier:
            assert not tasks._send_one(carrier, second, clock_at(late))
        assert smtp_sink.messages == []
        assert delivery_of(someone).state == Delivery.State.SENT

    @pytest.mark.django_db
    def test_it_says_nothing_about_a_message_made_anew_since(self, folder: Path) -> None:
        someone = people.wexenfold()
        plan = approved(someone)
        hand_over(someone)
        old = entry_of(someone)
        outbox.sweep(now=SUNDAY_EVENING + outbox.lease() + timedelta(seconds=1))
        with access.within(someone.club):
            plans.withdraw_approval(plan=plan, by=someone.coach, now=SUNDAY_EVENING)
            plans.approve(plan=plan, by=someone.coach, now=SUNDAY_EVENING)
        self.leave(folder, old.write().decode())
        assert journals.read_journals(settle=self.settle) == 0
        assert delivery_of(someone).state == Delivery.State.DUE

    @pytest.mark.django_db
    def test_a_living_process_is_read_and_left_its_file(self, folder: Path) -> None:
        someone = people.wexenfold()
        approved(someone)
        hand_over(someone)
        journal = journals.Journal(folder)
        journal.write(entry_of(someone))
        assert journals.read_journals(settle=self.settle) == 1
        assert journal.path.exists()
        journal.close(keep=True)
        assert journals.read_journals(settle=self.settle) == 0
        assert not journal.path.exists()

    @pytest.mark.django_db
    def test_a_torn_line_hides_no_whole_one(self, folder: Path) -> None:
        someone = people.wexenfold()
        approved(someone)
        hand_over(someone)
        whole = entry_of(someone).write().decode()
        path = self.leave(folder, f"{whole[:30]}{whole}{whole[:-5]}\x00 nonsense\n1 2 3>\n")
        assert journals.read_journals(settle=self.settle) == 1
        assert not path.exists()

    @pytest.mark.django_db
    def test_a_file_stays_until_all_its_lines_are_settled(self, folder: Path) -> None:
        someone = people.wexenfold()
        approved(someone)
        hand_over(someone)
        path = self.leave(folder, entry_of(someone).write().decode())

        def fail(entry: Entry) -> bool:
            raise OperationalError("the database is away")

        assert journals.read_journals(settle=fail) == 0
        assert path.exists()
        assert journals.read_journals(settle=self.settle) == 1

    @pytest.mark.django_db
    def test_a_full_disk_sends_nothing_twice(self, smtp_sink: SmtpSink) -> None:
        someone = people.wexenfold()
        approved(someone)
        with postman.Postman() as carrier:
            os.close(carrier._journal._file)
            carrier._journal._file = os.open("/dev/full", os.O_WRONLY)
            assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10, carrier=carrier) == 1
            assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10, carrier=carrier) == 0
        assert len(smtp_sink.messages) == 1

    @pytest.mark.django_db
    def test_a_folder_that_cannot_be_made_holds_no_mail_back(
        self, settings: Settings, tmp_path: Path, smtp_sink: SmtpSink
    ) -> None:
        someone = people.wexenfold()
        approved(someone)
        (tmp_path / "file").write_text("in the way")
        settings.STATE_DIR = tmp_path / "file"
        with postman.Postman() as carrier:
            assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10, carrier=carrier) == 1

    @pytest.mark.django_db
    def test_what_was_taken_while_the_database_was_away_is_settled_by_the_next_run(
        self, smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        someone = people.wexenfold()
        approved(someone)

        def fail(**_: object) -> None:
            raise OperationalError("the database is away")

        with postman.Postman() as carrier:
            with monkeypatch.context() as patch, pytest.raises(OperationalError):
                patch.setattr(outbox, "settle_taken", fail)
                tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10, carrier=carrier)
            assert delivery_of(someone).state == Delivery.State.CLAIMED
            assert carrier._journal.path.read_text().strip().endswith(delivery_of(someone).message_id)
            late = SUNDAY_EVENING + outbox.lease() + timedelta(seconds=1)
            assert tasks.send(clock=clock_at(late), limit=10, carrier=carrier) == 0
            assert delivery_of(someone).state == Delivery.State.SENT
            assert carrier._journal.path.read_text() == ""
        assert len(smtp_sink.messages) == 1


class TestHandingOver:
    """From the moment before the message goes over the line, nobody says that it has not gone."""

    @pytest.mark.django_db
    def test_an_approval_is_not_withdrawn_meanwhile(self) -> None:
        someone = people.wexenfold()
        plan = approved(someone)
        hand_over(someone)
        with access.within(someone.club), pytest.raises(plans.AlreadySent):
            plans.withdraw_approval(plan=plan, by=someone.coach, now=SUNDAY_EVENING)

    @pytest.mark.django_db
    def test_a_claimed_mail_that_is_not_yet_on_the_line_is_withdrawn(self) -> None:
        someone = people.wexenfold()
        plan = approved(someone)
        (claim,) = outbox.claim(now=SUNDAY_EVENING)
        letter = tasks._prepare(claim, now=SUNDAY_EVENING)
        with access.within(someone.club):
            plans.withdraw_approval(plan=plan, by=someone.coach, now=SUNDAY_EVENING)
        assert not tasks._hand_over(claim, letter, now=SUNDAY_EVENING)

    @pytest.mark.django_db
    def test_a_plan_approved_again_meanwhile_is_not_sent_twice(self, smtp_sink: SmtpSink) -> None:
        """The coach takes the approval back and gives it again while the mail is on the line."""
        someone = people.wexenfold()
        plan = approved(someone)

        def change_of_mind(_caught: object) -> str:
            with access.within(someone.club), suppress(plans.AlreadySent):
                plans.withdraw_approval(plan=plan, by=someone.coach, now=SUNDAY_EVENING)
                plans.approve(plan=plan, by=someone.coach, now=SUNDAY_EVENING)
            return "250 kept"

        (claim,) = outbox.claim(now=SUNDAY_EVENING)
        letter = tasks._prepare(claim, now=SUNDAY_EVENING)
        with postman.Postman() as carrier:
            # The sink answers in a thread of its own, so the change comes between the mark and the message.
            def hand_over_then_change() -> bool:
                marked = tasks._hand_over(claim, letter, now=SUNDAY_EVENING)
                change_of_mind(None)
                return marked

            carrier.carry(claim=claim, letter=letter, hand_over=hand_over_then_change)
            assert tasks._settle_unrecorded(carrier, clock_at(SUNDAY_EVENING)) == 1
            assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10, carrier=carrier) == 0
        assert len(smtp_sink.messages) == 1

    @pytest.mark.django_db
    def test_pain_reported_meanwhile_eases_the_week_as_one_that_went_out(self) -> None:
        someone = people.wexenfold()
        plan = approved(someone)
        claim = hand_over(someone)
        report = BodyValue(on=SUNDAY_EVENING.date(), region=Region.KNEE, side=Side.LEFT, during=6)
        with access.within(someone.club):
            checkins.report_any_time(
                rider=someone.rider, sites=(report,), form_key="one", by=someone.rider, now=SUNDAY_EVENING
            )
            new = WeekPlan.objects.of_week(WEEK.year, WEEK.number).current().get(rider=someone.rider)
            assert (new.is_downward, new.state) == (True, WeekPlan.State.APPROVED)
            row = outbox.peek(claim)
            assert row is not None
            assert tasks._settle(Entry(claim.club_id, row.pk, row.message_id), now=SUNDAY_EVENING)
            assert WeekPlan.objects.get(pk=plan.pk).state == WeekPlan.State.SUPERSEDED

    @pytest.mark.django_db
    def test_an_address_changed_meanwhile_gets_no_mail_for_the_old_one(self, smtp_sink: SmtpSink) -> None:
        someone = people.wexenfold()
        approved(someone)
        (claim,) = outbox.claim(now=SUNDAY_EVENING)
        letter = tasks._prepare(claim, now=SUNDAY_EVENING)
        old, new = someone.rider.email, "new@wexenfold.example"
        with access.within(someone.club):
            riders.change_rider(
                rider=someone.rider, details={"email": new}, by=someone.coach, now=SUNDAY_EVENING
            )
        assert letter.recipient == old
        assert not tasks._hand_over(claim, letter, now=SUNDAY_EVENING)
        assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 1
        assert [caught.rcpt_tos for caught in smtp_sink.messages] == [(new,)]


class TestGivingUp:
    """Tried until 24 hours before the next week goes out, then the coach is told."""

    @pytest.mark.django_db
    def test_it_is_tried_by_the_table_and_then_at_its_last_step_until_the_day_before_the_next(
        self, smtp_sink: SmtpSink
    ) -> None:
        someone = people.wexenfold()
        approved(someone)
        smtp_sink.answer = lambda _caught: "451 later"
        now, waits = SUNDAY_EVENING, []
        while delivery_of(someone).state in (Delivery.State.DUE, Delivery.State.RETRY):
            assert tasks.send(clock=clock_at(now), limit=10) == 0
            waits.append(delivery_of(someone).next_attempt_at - now)
            now = max(now, delivery_of(someone).next_attempt_at)
        for wait, minutes in zip(waits, outbox.RETRY_MINUTES, strict=False):
            assert 0.9 * minutes <= wait.total_seconds() / 60 <= 1.1 * minutes
        next_sending = SUNDAY_EVENING.replace(minute=0) + timedelta(days=7)
        assert next_sending - timedelta(hours=24 + 9) < now <= next_sending - timedelta(hours=24)
        with access.within(someone.club):
            assert Delivery.objects.get().state == Delivery.State.FAILED
            (reason,) = FollowUp.objects.open().get(topic="bounced").reasons
        assert reason["key"] == "mail-failed"

    @pytest.mark.django_db
    def test_a_server_away_for_a_week_sends_nothing_old_when_it_is_back(
        self, smtp_sink: SmtpSink, settings: Settings
    ) -> None:
        someone = people.wexenfold()
        approved(someone)
        late = SUNDAY_EVENING + timedelta(days=6)
        assert tasks.send(clock=clock_at(late), limit=10) == 0
        assert smtp_sink.messages == []
        with access.within(someone.club):
            assert Delivery.objects.get().state == Delivery.State.FAILED
            assert FollowUp.objects.open().filter(topic="bounced").exists()

    @pytest.mark.django_db
    def test_a_message_that_brings_down_its_maker_is_not_made_for_ever(self) -> None:
        someone = people.wexenfold()
        approved(someone)
        now, tries = SUNDAY_EVENING, 0
        while now < SUNDAY_EVENING + timedelta(days=8):
            claims = outbox.claim(now=now)
            with access.within(someone.club):
                tries += sum(outbox.begin(claim=claim, now=now) for claim in claims)
            now += timedelta(minutes=20)
            outbox.sweep(now=now)
        assert outbox.ACCIDENTS < tries < 40
        with access.within(someone.club):
            assert Delivery.objects.get().state == Delivery.State.FAILED
            assert FollowUp.objects.open().filter(topic="bounced").exists()

    @pytest.mark.django_db
    def test_one_that_only_waited_in_a_slow_hand_is_not_suspected(self) -> None:
        someone = people.wexenfold()
        approved(someone)
        now = SUNDAY_EVENING
        for _ in range(10):
            assert len(outbox.claim(now=now)) == 1
            now += outbox.lease() + timedelta(seconds=1)
            assert outbox.sweep(now=now) == 1
        assert delivery_of(someone).attempts == 0

    @pytest.mark.django_db
    def test_mail_that_failed_goes_to_the_mended_address(self, smtp_sink: SmtpSink) -> None:
        someone = people.wexenfold()
        approved(someone)
        smtp_sink.answer = lambda caught: (
            "250 kept" if caught.rcpt_tos == ("mended@wexenfold.example",) else "550 5.1.1 no such mailbox"
        )
        tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10)
        with access.within(someone.club):
            riders.change_rider(
                rider=someone.rider,
                details={"email": "mended@wexenfold.example"},
                by=someone.coach,
                now=SUNDAY_EVENING,
            )
        assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 1

    @pytest.mark.django_db
    @pytest.mark.parametrize("code", ["5.1.7", "5.1.8", "5.1.11", "5.7.1"])
    def test_what_is_not_about_the_riders_address_suppresses_nothing(
        self, smtp_sink: SmtpSink, code: str
    ) -> None:
        someone = people.wexenfold()
        approved(someone)
        smtp_sink.answer = lambda _caught: f"550 {code} no"
        tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10)
        with access.within(someone.club):
            assert Delivery.objects.get().state == Delivery.State.FAILED
            assert not Suppression.objects.exists()
            assert FollowUp.objects.open().filter(topic="bounced").exists()

    @pytest.mark.django_db
    def test_a_coachs_address_that_bounces_still_gets_the_next_safety_mail(self, smtp_sink: SmtpSink) -> None:
        someone = people.wexenfold()
        with access.within(someone.club):
            for key in ("one", "two"):
                checkins._alert(someone.rider, source=key, now=SUNDAY_EVENING)
        smtp_sink.answer = lambda _caught: "550 5.1.1 no such mailbox"
        tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10)
        with access.within(someone.club):
            assert not Suppression.objects.exists()
            checkins._alert(someone.rider, source="three", now=SUNDAY_EVENING)
        smtp_sink.answer = lambda _caught: "250 kept"
        assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 1


class TestBadRows:
    """A bad row fails alone with its reason."""

    def queue(self, someone: people.People, **changes: object) -> Delivery:
        with access.within(someone.club):
            delivery = outbox.enqueue(
                club_id=someone.club.pk,
                kind=checkins.ALERT_MAIL,
                dedup_key="bad",
                recipient="somebody@wexenfold.example",
                rider=someone.rider,
                payload={"rider": someone.rider.pk},
                due_at=SUNDAY_EVENING - timedelta(hours=1),
                now=people.NOW,
            )
            Delivery.objects.filter(pk=delivery.pk).update(**changes)
        return delivery

    @pytest.mark.django_db
    @pytest.mark.parametrize("changes", [{"kind": "unheard-of"}, {"recipient": "a@b.example\r\nData: x"}])
    def test_the_others_go(self, smtp_sink: SmtpSink, changes: dict[str, object]) -> None:
        someone = people.wexenfold()
        approved(someone)
        bad = self.queue(someone, coach=someone.coach, **changes)
        assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 1
        with access.within(someone.club):
            bad.refresh_from_db()
        assert (bad.state, bad.reason.split(":")[0]) == (Delivery.State.FAILED, "cannot be made")

    @pytest.mark.django_db
    def test_a_message_that_no_key_opens_is_made_again_under_its_own_id(
        self, smtp_sink: SmtpSink, settings: Settings
    ) -> None:
        someone = people.wexenfold()
        approved(someone)
        smtp_sink.answer = lambda _caught: "451 later"
        tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10)
        first = delivery_of(someone).message_id
        settings.MAIL_KEY = "another key"
        smtp_sink.answer = lambda _caught: "250 kept"
        assert tasks.send(clock=clock_at(SUNDAY_EVENING + timedelta(minutes=5)), limit=10) == 1
        assert smtp_sink.messages[0].message["Message-ID"] == first

    @pytest.mark.django_db
    @pytest.mark.parametrize("error", [OperationalError("deadlock detected"), SoftTimeLimitExceeded()])
    def test_trouble_of_the_whole_run_condemns_no_row(
        self, smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch, error: Exception
    ) -> None:
        someone = people.wexenfold()
        approved(someone)

        def fail(**_: object) -> bytes:
            raise error

        with monkeypatch.context() as patch, pytest.raises(type(error)):
            patch.setattr(letters, "make", fail)
            tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10)
        assert delivery_of(someone).state == Delivery.State.RETRY
        assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 1

    @pytest.mark.django_db
    def test_what_follows_from_sending_may_fail_without_sending_again(
        self, smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        someone = people.wexenfold()
        approved(someone)

        def fail(*_: object, **__: object) -> None:
            raise LookupError("no such plan")

        monkeypatch.setattr(letters, "note_sent", fail)
        assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10) == 1
        assert delivery_of(someone).state == Delivery.State.SENT


class TestTheLine:
    """One connection, kept; dropped whenever it is not certain where the conversation stands."""

    @pytest.mark.django_db
    def test_it_is_kept_from_run_to_run(self, smtp_sink: SmtpSink) -> None:
        someone = people.wexenfold()
        with postman.Postman() as carrier:
            for key in ("one", "two", "three"):
                with access.within(someone.club):
                    checkins._alert(someone.rider, source=key, now=SUNDAY_EVENING)
                assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10, carrier=carrier) == 1
        assert smtp_sink.connections == 1

    @pytest.mark.django_db
    def test_one_that_died_in_between_costs_no_attempt(self, smtp_sink: SmtpSink) -> None:
        someone = people.wexenfold()
        approved(someone)
        with postman.Postman() as carrier:
            with access.within(someone.club):
                checkins._alert(someone.rider, source="one", now=people.NOW)
            assert tasks.send(clock=clock_at(people.NOW), limit=10, carrier=carrier) == 1
            smtp_sink.cut_off()
            assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10, carrier=carrier) == 1
        assert delivery_of(someone).attempts == 1

    @pytest.mark.django_db
    def test_one_left_in_the_middle_of_a_message_is_not_used_for_the_next(self, smtp_sink: SmtpSink) -> None:
        someone = people.wexenfold()
        approved(someone)
        (claim,) = outbox.claim(now=SUNDAY_EVENING)
        letter = tasks._prepare(claim, now=SUNDAY_EVENING)

        def fail() -> bool:
            raise OperationalError("the database is away")

        with postman.Postman() as carrier:
            with pytest.raises(OperationalError):
                carrier.carry(claim=claim, letter=letter, hand_over=fail)
            outbox.release([claim])
            assert tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10, carrier=carrier) == 1
        assert len(smtp_sink.messages) == 1

    def test_leading_dots_arrive_as_they_were(self, smtp_sink: SmtpSink) -> None:
        """RFC 5321, 4.5.2."""
        message = b"Subject: dots\r\n\r\n.\r\n..two\r\n.RSET\r\nend"
        claim = outbox.Claim(1, uuid.uuid4(), uuid.uuid4(), "test", 0)
        with postman.Postman() as carrier:
            carrier.carry(
                claim=claim,
                letter=postman.Letter("a@wexenfold.example", message, "<1@wexenfold.example>"),
                hand_over=lambda: True,
            )
        assert smtp_sink.messages[0].raw == message + b"\r\n"

    def test_an_unverified_server_gets_no_password(self, smtp_sink: SmtpSink, settings: Settings) -> None:
        settings.SMTP_TLS, settings.SMTP_USER, settings.SMTP_PASSWORD = "starttls", "us", "secret"
        letter = postman.Letter("a@wexenfold.example", b"x\r\n", "<1@wexenfold.example>")
        claim = outbox.Claim(1, uuid.uuid4(), uuid.uuid4(), "test", 0)
        with postman.Postman() as carrier, pytest.raises(postman.NotReachable):
            carrier.carry(claim=claim, letter=letter, hand_over=lambda: True)
        assert smtp_sink.messages == []


class TestTheClock:
    @pytest.mark.django_db
    def test_what_is_missing_is_counted(self, smtp_sink: SmtpSink) -> None:
        someone = people.wexenfold()
        approved(someone)

        def missing(now: datetime) -> int:
            with access.within(someone.club):
                return completeness.count_missing(club=someone.club, now=now)

        assert missing(people.NOW) == 1, "the young rider has no plan yet"
        with access.within(someone.club):
            plans.resolve(club=someone.club, week=WEEK, by=someone.coach, now=people.NOW)
        assert missing(people.NOW) == 0
        assert missing(SUNDAY_EVENING + timedelta(minutes=25)) == 0
        assert missing(SUNDAY_EVENING + timedelta(minutes=35)) == 1, "the mail is overdue"
        tasks.send(clock=clock_at(SUNDAY_EVENING), limit=10)
        assert missing(SUNDAY_EVENING + timedelta(minutes=35)) == 0
        with access.within(someone.club):
            WeekPlan.objects.filter(rider=someone.young_rider).update(state=WeekPlan.State.APPROVED)
        assert missing(SUNDAY_EVENING) == 1, "an approved week has no mail"

    @pytest.mark.django_db
    def test_a_job_leaves_its_heartbeat_whether_it_went_well_or_not(
        self, smtp_sink: SmtpSink, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        people.wexenfold()
        assert tasks.send_due() == 0
        good = Heartbeat.objects.get(job="send-due")
        assert good.result == {"done": 0, "error": ""}
        assert good.finished_at >= good.started_at

        def fail(**_: object) -> list[object]:
            raise LookupError

        monkeypatch.setattr(outbox, "claim", fail)
        with pytest.raises(LookupError):
            tasks.send_due()
        assert Heartbeat.objects.get(job="send-due").result == {"done": None, "error": "LookupError"}

    @pytest.mark.django_db
    def test_mail_due_at_once_wakes_a_worker_once_a_transaction(
        self, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Callable[..., Any]
    ) -> None:
        someone = people.wexenfold()
        rung: list[str] = []
        monkeypatch.setattr(bell.current_app, "send_task", lambda name, **_: rung.append(name))
        with django_capture_on_commit_callbacks(execute=True), access.within(someone.club):
            checkins._alert(someone.rider, source="one", now=people.NOW)
            checkins._alert(someone.rider, source="two", now=people.NOW)
        assert rung == ["programs.tasks.send_due"]
        with django_capture_on_commit_callbacks(execute=True):
            approved(someone)
        assert len(rung) == 1, "a week that waits for Sunday wakes nobody on Friday"

    def test_a_bell_that_nobody_hears_is_counted_and_left_alone_for_a_while(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        tried: list[str] = []

        def fail(name: str, **_: object) -> None:
            tried.append(name)
            raise ConnectionError

        monkeypatch.setattr(bell.current_app, "send_task", fail)
        one = bell.Bell()
        assert [one.ring() for _ in range(5)] == [False] * 5
        assert (one.failures, len(tried)) == (1, 1)

    def test_every_wait_fits_into_the_one_around_it(self) -> None:
        """A lease outlasts a handing over, a task its mails, a message its task."""
        handing_over = settings_now.MAIL_END_SECONDS + 8 * settings_now.MAIL_STEP_SECONDS
        limits = settings_now.CELERY_TASK_ANNOTATIONS[settings_now.MAIL_TASK]
        assert handing_over < settings_now.MAIL_LEASE_SECONDS
        assert tasks.RUN_SECONDS + handing_over < limits["soft_time_limit"] < limits["time_limit"]
        assert settings_now.CELERY_BROKER_TRANSPORT_OPTIONS["visibility_timeout"] > 2 * limits["time_limit"]
        assert settings_now.MAIL_END_SECONDS >= 600, "RFC 5321, 4.5.3.2.6"
