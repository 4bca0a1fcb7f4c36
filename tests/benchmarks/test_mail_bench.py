"""Weeks by mail, with card and calendar file: how many a second, where the time goes, and what sending alone takes.

The floor of sending is the same bytes over one kept line. That of making is the same parts, ready, put into a message:
nothing worded, laid out, drawn or compressed.
"""

import smtplib
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from email import policy
from email.message import EmailMessage
from itertools import count
from typing import Any

import pytest
from django.utils import timezone
from pytest_django import Settings

from athletes import postman
from programs import letters, mail, messages, tasks
from programs.documents import card_pdf
from programs.sheet import Sheet
from tests.benchmarks.figures import note, seconds_of
from tests.crowds import make_crowd
from tests.databases import Database
from tests.programs.examples import sheet
from tests.scripted_smtp import ScriptedSmtp, scripted_smtp

pytestmark = pytest.mark.bench
MAILS = 40
ENVELOPE: dict[str, Any] = {
    "sender": "Ballast <plans@ballast.example>",
    "recipient": "anouk.fennimarsh@riders.example",
    "message_id": "<1@ballast.example>",
    "date": datetime(2026, 10, 30, 6, 0, tzinfo=UTC),
}


def test_a_week_made() -> None:
    """Text, HTML with figures, card and calendar file of riders who share nothing but their exercises."""
    numbers = count()

    def make() -> EmailMessage:
        return mail.week_mail(of_rider(next(numbers)), **ENVELOPE)

    parts = [part for part in make().walk() if not part.is_multipart()]
    contents = [(part.get_content_type(), part.get_content()) for part in parts]

    def put_together() -> bytes:
        message = EmailMessage()
        for kind, content in contents:
            main, sub = kind.split("/")
            if isinstance(content, str):
                message.add_attachment(content, subtype=sub, cte="quoted-printable")
            else:
                message.add_attachment(content, maintype=main, subtype=sub)
        return message.as_bytes(policy=policy.SMTP)

    def set_card() -> bytes:
        return card_pdf(of_rider(next(numbers)))

    made, card, floor = seconds_of(
        [lambda: make().as_bytes(policy=policy.SMTP), set_card, put_together], times=15
    )
    note("week by mail made, with card and figures", figure=1000 * made, floor=1000 * floor, unit="ms")
    note("card with figures", figure=1000 * card, unit="ms")
    sizes = Counter(part.get_content_type() for part in parts)
    print(f"\nparts of the mail: {dict(sizes)}")
    for kind, content in contents:
        note(f"week by mail, {kind}, kB", figure=len(content) / 1000)
    assert made > floor


def of_rider(number: int) -> Sheet:
    """A week of two sessions of six with links of its own."""
    plain = sheet(2, 6)
    sessions = tuple(replace(each, check_in_url=f"{each.check_in_url}{number}") for each in plain.sessions)
    return replace(
        plain,
        sessions=sessions,
        rider_name=f"Rider {number}",
        report_pain_url=f"{plain.report_pain_url}{number}",
    )


class Split:
    """Processor seconds of this thread by part; what is nested is counted to its own part only."""

    def __init__(self) -> None:
        self.parts: Counter[str] = Counter()
        self._inner = [0.0]

    @contextmanager
    def part(self, name: str) -> Iterator[None]:
        began = time.thread_time()
        self._inner.append(0.0)
        try:
            yield
        finally:
            whole = time.thread_time() - began
            self.parts[name] += whole - self._inner.pop()
            self._inner[-1] += whole

    def watch(self, work: Callable[..., object], name_of: Callable[..., str]) -> Callable[..., object]:
        """The same work, with its seconds counted to the part that `name_of` says of its arguments."""

        def watched(*args: object, **kwargs: object) -> object:
            with self.part(name_of(*args, **kwargs)):
                return work(*args, **kwargs)

        return watched


class WatchedInliner:
    """The mail's inliner, counted."""

    def __init__(self, split: Split) -> None:
        self.inline = split.watch(messages._inliner.inline, lambda *_: "inline css")


@pytest.fixture
def sink(settings: Settings) -> Iterator[ScriptedSmtp]:
    with scripted_smtp() as server:
        settings.SMTP_HOST, settings.SMTP_PORT = server.host, server.port
        yield server


def test_weeks_by_mail(fresh_database: Database, sink: ScriptedSmtp, monkeypatch: pytest.MonkeyPatch) -> None:
    crowd = make_crowd(MAILS + 1)
    split = Split()
    with postman.Postman() as carrier:
        crowd.approve(crowd.riders[:1], now=timezone.now())
        assert (
            tasks.send(clock=timezone.now, limit=1, carrier=carrier) == 1
        )  # fonts and templates are read once
        crowd.approve(crowd.riders[1:], now=timezone.now())
        watch_parts(split, monkeypatch)
        began = time.perf_counter()
        with split.part("database and the rest"):
            sent = tasks.send(clock=timezone.now, limit=MAILS, carrier=carrier, seconds=600)
        took = time.perf_counter() - began
    assert (sent, len(sink.kept)) == (MAILS, MAILS + 1)
    floor = send_raw(sink)
    note(f"weeks by mail, {MAILS}, each", figure=took / MAILS, floor=floor / MAILS, unit="s")
    note("weeks by mail, a second", figure=MAILS / took, floor=MAILS / floor, unit="1/s")
    whole = sum(split.parts.values())
    print(f"\nprocessor time of a week by mail: {1000 * whole / MAILS:.1f} ms")
    for name, seconds in split.parts.most_common():
        print(f"  {name:<24} {1000 * seconds / MAILS:>8.2f} ms  {100 * seconds / whole:>3.0f} %")
        note(f"week by mail, {name}", figure=1000 * seconds / MAILS, unit="ms of processor")


def watch_parts(split: Split, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each part of making and sending is counted to its own name."""
    names: dict[tuple[object, str], Callable[..., str]] = {
        (messages, "render_to_string"): lambda template, *_: "html" if template.endswith(".html") else "text",
        (mail, "card_pdf"): lambda *_: "pdf",
        (mail, "week_ics"): lambda *_, **__: "ics",
        (letters, "make"): lambda **_: "rows, links, message",
        (postman.Postman, "carry"): lambda *_, **__: "send",
        (tasks, "_hand_over"): lambda *_, **__: "database and the rest",
    }
    for (owner, name), name_of in names.items():
        monkeypatch.setattr(owner, name, split.watch(getattr(owner, name), name_of))
    monkeypatch.setattr(messages, "_inliner", WatchedInliner(split))


def send_raw(sink: ScriptedSmtp) -> float:
    """Seconds for the same bytes over one kept line, with nothing around it."""
    messages = [(one.recipient, one.raw) for one in sink.kept[1:]]
    with smtplib.SMTP(sink.host, sink.port) as line:
        line.ehlo()
        began = time.perf_counter()
        for recipient, raw in messages:
            line.mail("plans@wexenfold.example")
            line.rcpt(recipient)
            line.data(raw)
        return time.perf_counter() - began
