"""The mails, read back with the standard library's parser and html5lib."""

import email
import io
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from email import policy
from email.message import EmailMessage
from typing import Any

import html5lib
import icalendar
import pypdf
import pytest
from PIL import Image

from athletes.concerns import HEALTH_TOPICS, Topic
from programs import mail, messages, notices
from programs.engine.facts import Week
from programs.figures import figure_png
from programs.figures.reading import read_poses
from programs.messages import BadAddress
from programs.sheet import BadLinkError, Sheet, one_line
from tests.programs.examples import HOSTILE, SITE, TOKEN, hostile_sheet, moved, sheet

AT = datetime(2026, 10, 30, 6, 0, tzinfo=UTC)
ENVELOPE: dict[str, Any] = {
    "sender": "Ballast <plans@ballast.example>",
    "recipient": "anouk.fennimarsh@riders.example",
    "message_id": "<0d8f.1@ballast.example>",
    "date": AT,
}


def week(wanted: Sheet, **changes: Any) -> bytes:
    return mail.week_mail(wanted, **{**ENVELOPE, **changes}).as_bytes(policy=policy.SMTP)


def read(made: bytes) -> EmailMessage:
    message = email.message_from_bytes(made, policy=policy.default)
    assert isinstance(message, EmailMessage)
    assert not message.defects
    for part in message.walk():
        assert not part.defects
    return message


def body(message: EmailMessage, kind: str) -> str:
    part = message.get_body((kind,))
    assert part is not None
    return str(part.get_content())


def tree(html: str) -> Any:
    """The document as a browser reads it; a mistake in the HTML is an error."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(html)


def words(html: str) -> str:
    document = tree(html)
    for style in document.iter("style"):
        style.text = ""
    return " ".join(" ".join(document.find("body").itertext()).replace("\u00a0", " ").split())


# --- headers ----------------------------------------------------------------------------------------------------------


def test_the_headers_say_who_to_whom_and_how_to_stop() -> None:
    message = read(week(sheet(2)))
    assert message["From"].addresses[0].display_name == "Wexenfold Hill Riders"
    assert message["From"].addresses[0].addr_spec == "plans@ballast.example"
    assert message["To"].addresses[0].addr_spec == "anouk.fennimarsh@riders.example"
    assert message["Reply-To"].addresses[0].addr_spec == "thessa.brockhollin@wexenfold.example"
    assert message["Subject"] == "Week 45: strength on Tue 3 and Fri 6 November"
    assert message["Message-ID"] == "<0d8f.1@ballast.example>"
    assert message["Date"].datetime == AT
    assert message["Auto-Submitted"] == "auto-generated"
    assert message["List-Id"] == "<week-plans.wexenfold-hill-riders.ballast.example>"


def test_the_mail_can_be_stopped_with_one_click() -> None:
    """RFC 8058, 3.1: one https link, and the exact pair in List-Unsubscribe-Post; both unfolded and unencoded."""
    made = week(replace(sheet(2), unsubscribe_url=f"{SITE}/stop/{TOKEN * 5}"))
    lines = made.split(b"\r\n")
    assert f"List-Unsubscribe: <{SITE}/stop/{TOKEN * 5}>".encode() in lines
    assert b"List-Unsubscribe-Post: List-Unsubscribe=One-Click" in lines


def test_a_mail_without_a_stop_link_does_not_promise_one() -> None:
    message = read(week(replace(sheet(2), unsubscribe_url="")))
    assert "List-Unsubscribe" not in message
    assert "List-Unsubscribe-Post" not in message


def test_the_subject_of_a_revision_says_to_use_it_instead() -> None:
    message = read(week(replace(sheet(2), supersedes=True)))
    assert message["Subject"].startswith("Use this instead.")
    assert "Use this instead of the earlier plan" in body(message, "plain")
    assert "Use this instead of the earlier plan" in words(body(message, "html"))


def test_a_week_across_the_turn_of_the_year_names_its_iso_week() -> None:
    assert read(week(sheet(3, week=Week(2026, 53))))["Subject"] == (
        "Week 53: strength on Tue 29, Fri 1 and Sun 3 January"
    )


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_adds_no_header_and_breaks_no_line(text: str) -> None:
    made, plain = week(hostile_sheet(text)), week(hostile_sheet("Jo"))
    message = read(made)
    assert message.keys() == read(plain).keys()
    assert [part.get_content_type() for part in message.walk()] == [
        part.get_content_type() for part in read(plain).walk()
    ]
    assert len(message["From"].addresses) == len(message["To"].addresses) == 1
    assert message["From"].addresses[0].addr_spec == "plans@ballast.example"
    assert made.replace(b"\r\n", b"").count(b"\n") == made.replace(b"\r\n", b"").count(b"\r") == 0
    assert max(len(line) for line in made.split(b"\r\n")) <= 998


@pytest.mark.parametrize(
    ("club", "shown"),
    [
        ("Wexenfold Hill Riders", "Wexenfold Hill Riders"),
        ("Çiğköfte Øystein 山田", "Çiğköfte Øystein 山田"),
        ('The "Old" Riders, Wexenfold <x@y.example>', "The Old Riders Wexenfold x y.example"),
        ("St. Osric's Wheelers & Walkers", "St. Osric's Wheelers & Walkers"),
        ("Long " * 16, "Long " * 12),
    ],
)
def test_the_clubs_name_is_shown_as_far_as_a_header_can_carry_it(club: str, shown: str) -> None:
    name = read(week(replace(sheet(1), club=club)))["From"].addresses[0].display_name
    assert name.rstrip(" …") == shown.rstrip()


@pytest.mark.parametrize(
    "address",
    [
        "",
        "anouk",
        "a@b.example, c@d.example",
        "a@b.example\r\nBcc: c@d.example",
        "a b@c.example",
        "<a@b.example>, c@d.example <c@d.example",
        "añouk@b.example",
        "@b.example",
        "a@",
        "a@b@c.example",
    ],
)
def test_what_is_not_one_address_is_refused(address: str) -> None:
    with pytest.raises(BadAddress):
        week(sheet(1), recipient=address)


@pytest.mark.parametrize(
    "link",
    [
        "javascript:alert(1)",
        f"{SITE}/a b",
        f"{SITE}/a>\r\nBcc: x@y.example",
        f'{SITE}/"onclick="x',
        "ftp://a.example/",
        f"{SITE}/" + "a" * 1000,
        "https://",
    ],
)
def test_what_is_not_a_web_link_never_becomes_a_sheet(link: str) -> None:
    with pytest.raises(BadLinkError):
        replace(sheet(1), unsubscribe_url=link)


# --- bodies and attachments -------------------------------------------------------------------------------------------


def test_the_week_has_text_html_card_and_calendar() -> None:
    message = read(week(sheet(2)))
    assert [part.get_content_type() for part in message.walk()] == [
        "multipart/mixed",
        "multipart/alternative",
        "text/plain",
        "multipart/related",
        "text/html",
        "image/png",
        "application/pdf",
        "text/calendar",
    ]
    card, calendar = message.iter_attachments()
    assert card.get_filename() == "strength-2026-w45.pdf"
    assert "Anouk: strength" in pypdf.PdfReader(io.BytesIO(card.get_content())).pages[0].extract_text()
    assert calendar.get_param("method") == "PUBLISH"
    events = icalendar.Calendar.from_ical(calendar.get_payload(decode=True)).walk("VEVENT")
    assert [str(event["UID"]) for event in events] == [each.uid for each in sheet(2).sessions]


@pytest.mark.parametrize("kind", ["plain", "html"])
def test_each_cue_ends_in_one_stop_however_it_was_written(kind: str) -> None:
    plain = sheet(1)
    (session,) = plain.sessions
    first = replace(session.items[0], cues=("Sit between your heels.", "Chest tall"))
    wanted = replace(plain, sessions=(replace(session, items=(first, *session.items[1:])),))
    raw = body(read(week(wanted)), kind)
    assert "Sit between your heels. Chest tall." in " ".join((words(raw) if kind == "html" else raw).split())


@pytest.mark.parametrize("kind", ["plain", "html"])
def test_both_bodies_say_everything_that_a_session_needs(kind: str) -> None:
    wanted = sheet(3)
    raw = body(read(week(wanted)), kind)
    text = words(raw) if kind == "html" else " ".join(raw.split())
    for session in wanted.sessions:
        assert session.check_in_url in raw
        for item in session.items:
            for said in (
                item.name,
                item.line,
                item.tempo,
                item.leave,
                item.change_line,
                *item.cues,
                item.side_line,
            ):
                assert said.lower() in text.lower()
    for said in (
        "Tuesday 3 November, 18:30",
        "45 minutes",
        "easy spin or brisk walk",
        "hip flexor stretch",
        "Next race: Skarnock Bank Hill Climb",
        "it keeps 48 hours clear of the race",
        "stop and call the local emergency number",
        "above 2 out of 10",
        "not medical advice",
        "In Wexenfold: 112.",
    ):
        assert said in text
    for link in (wanted.report_pain_url, wanted.my_page_url, wanted.unsubscribe_url):
        assert link in raw


@pytest.mark.parametrize("sessions", [0, 1, 2, 3])
def test_the_html_is_valid_small_and_needs_nothing_from_elsewhere(sessions: int) -> None:
    html = body(read(week(sheet(sessions, 6))), "html")
    document = tree(html)
    assert len(html.encode()) <= messages.LARGEST_HTML
    for element in document.iter():
        assert element.tag not in ("script", "link", "iframe", "form", "svg", "object")
        assert not any(name.startswith("on") or name == "background" for name in element.attrib)
        assert element.tag == "img" or "src" not in element.attrib
        assert element.get("src", "cid:").startswith("cid:")
    assert document.get("lang") == "en-gb"
    assert "url(" not in html


def test_the_longest_week_of_the_longest_words_stays_small() -> None:
    long = hostile_sheet("W" * 500)
    item = long.sessions[0].items[0]
    full = replace(long, sessions=tuple(replace(each, items=(item,) * 8) for each in long.sessions))
    assert len(body(read(week(full)), "html").encode()) <= messages.LARGEST_HTML


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_stays_text_in_the_html(text: str) -> None:
    html = body(read(week(hostile_sheet(text))), "html")
    document = tree(html)
    plain = tree(body(read(week(hostile_sheet("Jo"))), "html"))
    assert [element.tag for element in document.iter()] == [element.tag for element in plain.iter()]
    assert one_line(text, 80) in words(html)


def pictures(message: EmailMessage) -> dict[str, bytes]:
    """The pictures that the mail carries, by Content-ID."""
    return {
        str(part["Content-ID"]): part.get_content()
        for part in message.walk()
        if part.get_content_type() == "image/png"
    }


def all_new(wanted: Sheet) -> Sheet:
    """The same week, every exercise another one and new."""
    slugs = iter(sorted(read_poses()))
    sessions = tuple(
        replace(session, items=tuple(replace(item, slug=next(slugs), new=True) for item in session.items))
        for session in wanted.sessions
    )
    return replace(wanted, sessions=sessions)


def test_the_figure_of_what_is_new_stands_in_the_mail_once() -> None:
    """RFC 2392: a cid link names the part whose Content-ID has the same value in angle brackets."""
    wanted = sheet(2)
    message = read(week(wanted))
    (image,) = tree(body(message, "html")).iter("img")
    ((cid, picture),) = pictures(message).items()
    assert image.get("src") == f"cid:{cid.strip('<>')}"
    assert re.fullmatch(r"<split-squat\.[0-9a-f]{16}@ballast\.example>", cid)
    assert image.get("alt") == "Rear-foot raised split squat: Weight on the front heel"
    read_back = Image.open(io.BytesIO(picture))
    assert read_back.width == 2 * int(image.get("width")) == 480
    assert read_back.height == pytest.approx(2 * int(image.get("height")), abs=1)
    assert picture == figure_png("split-squat")


def test_a_week_of_nothing_new_is_sent_without_pictures() -> None:
    plain = sheet(2)
    known = tuple(
        replace(each, items=tuple(replace(item, new=False) for item in each.items)) for each in plain.sessions
    )
    message = read(week(replace(plain, sessions=known)))
    assert not pictures(message)
    assert "multipart/related" not in [part.get_content_type() for part in message.walk()]


def size_without_card(made: bytes) -> int:
    """Octets of the message as it is sent, less those of the card."""
    card = next(part for part in read(made).walk() if part.get_content_type() == "application/pdf")
    return len(made) - len(str(card.get_payload()))


def test_a_week_in_which_everything_is_new_stays_under_150_kb_without_its_card() -> None:
    shown = pictures(read(week(all_new(sheet(2)))))
    assert len(shown) == 12
    made = week(all_new(sheet(3)))
    assert size_without_card(made) <= 150 * 1024
    assert size_without_card(week(sheet(2))) <= 60 * 1024
    assert 12 <= len(pictures(read(made))) <= 18


def test_every_picture_has_words_of_its_own_and_no_size_that_a_phone_cannot_hold() -> None:
    html = body(read(week(all_new(sheet(2)))), "html")
    images = list(tree(html).iter("img"))
    assert len(images) == len({image.get("src") for image in images}) == 12
    for image in images:
        assert image.get("alt")
        assert int(image.get("width")) <= 320 - 2 * 16
        assert "max-width: 100%" in image.get("style")
        # Pictures off: the words are as large as the rest; pictures on in the dark: paper behind the ink.
        assert "font-size: 16px" in image.get("style")
        assert "background-color: #ffffff" in image.get("style")


def test_the_languages_header_is_the_messages_own() -> None:
    """RFC 3282: Content-Language says what the whole message is in, so it stands at its head."""
    for made in (week(sheet(2)), week(sheet(0)), withdrawn("Jo").as_bytes(policy=policy.SMTP)):
        message = read(made)
        assert message["Content-Language"] == "en-gb"
        assert ["Content-Language" in part for part in message.walk()].count(True) == 1


@pytest.mark.parametrize("kind", ["plain", "html"])
def test_names_with_commas_in_them_are_kept_apart(kind: str) -> None:
    wanted = sheet(1)
    session = replace(
        wanted.sessions[0], warm_up=("Pedal, easy", "Hinge, slow"), cool_down=("Walk, easy", "Calf")
    )
    raw = body(read(week(replace(wanted, sessions=(session,)))), kind)
    text = words(raw) if kind == "html" else raw
    assert "Pedal, easy; Hinge, slow." in text
    assert "Walk, easy; Calf." in text


def test_links_are_at_least_44_pixels_high_for_a_thumb() -> None:
    html = body(read(week(sheet(1))), "html")
    for anchor in tree(html).iter("a"):
        style = anchor.get("style", "")
        padding = re.search(r"padding: (\d+)px", style)
        assert padding is not None
        # Two paddings and one line of 16 pixels or more at 1.45.
        assert 2 * int(padding[1]) + 16 * 1.45 >= 44


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio of two colours #rrggbb."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_measured_as_wcag_says() -> None:
    """WCAG 2.2: black on white is 21:1; #767676 on white is the known grey just above 4.5:1 (from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize(
    ("ink", "paper"),
    [
        ("#1f1a24", "#faf8f4"),
        ("#625a68", "#faf8f4"),
        ("#6a2c63", "#faf8f4"),
        ("#ffffff", "#6a2c63"),
        ("#f3eef2", "#17131a"),
        ("#b9b0bd", "#17131a"),
        ("#c79ac2", "#17131a"),
        ("#17131a", "#c79ac2"),
    ],
)
def test_every_colour_of_the_mail_is_read_in_light_and_dark(ink: str, paper: str) -> None:
    html = body(read(week(sheet(1))), "html").lower()
    assert ink in html
    assert paper in html
    assert contrast(ink, paper) >= 4.5


def test_the_strip_is_said_in_words_too() -> None:
    table = next(
        table
        for table in tree(body(read(week(sheet(2))), "html")).iter("table")
        if table.get("role") == "img"
    )
    assert table.get("aria-label") == (
        "Tuesday 3 November: strength planned; Wednesday 4 November: key ride; "
        "Friday 6 November: strength planned; Saturday 7 November: race, Skarnock Bank Hill Climb"
    )
    assert all(len(row.findall("td")) == 7 for row in table.iter("tr"))


def test_pain_never_reaches_a_mail() -> None:
    calm = sheet(2)
    sore = replace(calm, strip=tuple(replace(day, pain=7) for day in calm.strip))
    assert week(sore) == week(calm)


def test_a_week_without_sessions_is_a_mail_without_a_card() -> None:
    message = read(week(sheet(0)))
    assert message["Subject"] == "Week 45: no strength sessions"
    assert list(message.iter_attachments()) == []
    assert "No strength sessions this week." in body(message, "plain")
    assert "Attached" not in body(message, "plain")


def test_a_week_that_lost_its_sessions_still_clears_the_calendar() -> None:
    message = read(week(replace(sheet(0), dropped=sheet(2).sessions, sequence=1, supersedes=True)))
    (calendar,) = message.iter_attachments()
    events = icalendar.Calendar.from_ical(calendar.get_payload(decode=True)).walk("VEVENT")
    assert [event["STATUS"] for event in events] == ["CANCELLED", "CANCELLED"]


def test_the_same_mail_has_the_same_bytes() -> None:
    assert week(sheet(2)) == week(sheet(2))
    assert week(sheet(2)) != week(sheet(2), message_id="<other@ballast.example>")
    assert week(sheet(2)) != week(replace(sheet(2), sessions=(moved(sheet(2).sessions[0], 1),)))


# --- notices ----------------------------------------------------------------------------------------------------------


def reminder(text: str) -> EmailMessage:
    return notices.reminder_mail(notices.Reminder(text, "2026-W45", 3, f"{SITE}/desk", text), **ENVELOPE)


def digest(text: str) -> EmailMessage:
    lines = (
        notices.DigestLine(text, "", date(2026, 11, 4), is_overdue=True),
        notices.DigestLine(text, "missed", date(2026, 11, 5)),
    )
    return notices.digest_mail(
        notices.Digest(text, date(2026, 11, 4), lines, f"{SITE}/follow-ups", text), **ENVELOPE
    )


def alert(text: str) -> EmailMessage:
    return notices.alert_mail(notices.Alert(text, text, f"{SITE}/follow-ups", text), **ENVELOPE)


def fresh(text: str) -> EmailMessage:
    until = datetime(2026, 11, 3, 18, 30, tzinfo=timezone(timedelta(hours=1)))
    return notices.link_mail(
        notices.FreshLink(text, "your page", f"{SITE}/r/{TOKEN}", until, text), **ENVELOPE
    )


def withdrawn(text: str) -> EmailMessage:
    return notices.withdrawn_mail(
        notices.Withdrawn(text, text, Week(2026, 45), f"{SITE}/r/{TOKEN}", emergency_note=text, club=text),
        **ENVELOPE,
    )


NOTICES = [reminder, digest, alert, fresh, withdrawn]


@pytest.mark.parametrize("notice", NOTICES)
@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_stays_text_in_every_notice(notice: Callable[[str], EmailMessage], text: str) -> None:
    message, plain = (
        read(notice(text).as_bytes(policy=policy.SMTP)),
        read(notice("Jo").as_bytes(policy=policy.SMTP)),
    )
    assert message.keys() == plain.keys()
    assert len(message["From"].addresses) == 1
    assert [each.tag for each in tree(body(message, "html")).iter()] == [
        each.tag for each in tree(body(plain, "html")).iter()
    ]


@pytest.mark.parametrize("notice", NOTICES)
def test_every_notice_is_the_same_each_time_and_says_that_a_machine_sent_it(
    notice: Callable[[str], EmailMessage],
) -> None:
    made = notice("Jo").as_bytes(policy=policy.SMTP)
    assert made == notice("Jo").as_bytes(policy=policy.SMTP)
    message = read(made)
    assert message["Auto-Submitted"] == "auto-generated"
    assert "List-Unsubscribe" not in message  # account and safety mail cannot be stopped
    assert max(len(line) for line in made.split(b"\r\n")) <= 998
    assert "!" not in body(message, "plain")


def test_the_digest_says_what_is_overdue_and_nothing_about_health() -> None:
    text = body(read(digest("Jo Pellathorn").as_bytes()), "plain")
    assert "Jo Pellathorn: health reason, overdue since Wednesday 4 November" in text
    assert "Jo Pellathorn: missed sessions, due Thursday 5 November" in text
    assert read(digest("Jo").as_bytes())["Subject"] == "2 follow-ups open: Wednesday 4 November"


@pytest.mark.parametrize("topic", list(Topic))
def test_a_digest_names_a_topic_only_when_it_is_not_about_health(topic: Topic) -> None:
    worded = notices._topic_words(topic.value)
    assert (worded == "health reason") is (topic in HEALTH_TOPICS)


def test_a_long_digest_ends_with_how_many_more_there_are() -> None:
    lines = tuple(notices.DigestLine(f"Rider {number}", "missed", date(2026, 11, 4)) for number in range(75))
    made = notices.digest_mail(
        notices.Digest("Thessa", date(2026, 11, 4), lines, f"{SITE}/follow-ups"), **ENVELOPE
    )
    text = body(read(made.as_bytes()), "plain")
    assert text.count("missed sessions") == 60
    assert "15 more on the page." in text


def test_the_alert_says_to_act_now_and_not_what_was_reported() -> None:
    message = read(alert("Callum Dreebeck").as_bytes())
    assert message["Subject"] == "Now: Callum Dreebeck needs you"
    text = body(message, "plain")
    assert "told to seek medical help now" in text
    assert "call the local emergency number" in text
    assert f"{SITE}/follow-ups" in text


def test_the_reminder_counts_what_waits() -> None:
    message = read(reminder("Thessa").as_bytes())
    assert message["Subject"] == "3 plans wait for you: 2 to 8 November 2026"
    one = notices.reminder_mail(notices.Reminder("Thessa", "2026-W45", 1, f"{SITE}/desk"), **ENVELOPE)
    assert read(one.as_bytes())["Subject"] == "1 plan waits for you: 2 to 8 November 2026"
    assert read(one.as_bytes())["From"].addresses[0].display_name == "Ballast"


def test_the_fresh_link_says_when_it_ends() -> None:
    text = body(read(fresh("Anouk").as_bytes()), "plain")
    assert "It works until Tuesday 3 November, 18:30." in text
    assert f"{SITE}/r/{TOKEN}" in text


def test_a_withdrawn_plan_says_not_to_use_it_and_clears_the_calendar() -> None:
    gone = notices.Withdrawn(
        "Anouk", "Thessa Brockhollin", Week(2026, 45), dropped=replace(sheet(2), sequence=3)
    )
    made = notices.withdrawn_mail(gone, **ENVELOPE).as_bytes(policy=policy.SMTP)
    assert made == notices.withdrawn_mail(gone, **ENVELOPE).as_bytes(policy=policy.SMTP)
    message = read(made)
    assert message["Subject"] == "Do not use the plan of 2 to 8 November 2026"
    assert "until your coach, Thessa Brockhollin, has been in touch" in body(message, "plain")
    (calendar,) = message.iter_attachments()
    assert calendar.get_param("method") == "CANCEL"
    events = icalendar.Calendar.from_ical(calendar.get_payload(decode=True)).walk("VEVENT")
    assert [(event["STATUS"], int(event["SEQUENCE"])) for event in events] == [("CANCELLED", 3)] * 2


def test_a_guardian_is_told_who_asks_for_whom_and_what_happens_without_an_answer() -> None:
    asked = notices.ConsentAsked(
        reader_name="Marit Tollifant",
        rider_name="Wren",
        coach_name="Thessa Brockhollin",
        club="Wexenfold Hill Riders",
        link_url="https://ballast.example/l/abc/",
        valid_until=datetime(2026, 12, 9, 18, 0, tzinfo=UTC),
        is_guardian=True,
        reply_to="thessa@wexenfold.example",
    )
    message = notices.consent_mail(
        asked,
        sender="Ballast <plans@ballast.example>",
        recipient="marit@wexenfold.example",
        message_id="<1@ballast.example>",
        date=datetime(2026, 11, 25, 18, 0, tzinfo=UTC),
    )
    assert message["Subject"] == "Wexenfold Hill Riders asks for your consent for Wren"
    body = message.get_body(("plain",))
    assert body is not None
    text = " ".join(body.get_content().split())
    assert "would like to plan strength training for Wren, who is under 18" in text
    assert "Nothing is planned until then" in text
    assert "https://ballast.example/l/abc/" in text
    assert "you asked for" not in text
