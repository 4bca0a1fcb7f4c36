"""Whatever a file, a form or a name holds: read, or refused with a sentence that says what to change; never an error of
ours, and never a header, a part, a property or a link more than there should be.

The inputs are good ones, damaged at random from a fixed seed, so that a run tries what the last one tried.
"""

import random
import re
import string
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from io import BytesIO
from urllib.parse import quote_plus

import icalendar
import pytest
from pypdf import PdfReader

from athletes import access, roster, roster_columns
from athletes.calendars import CalendarFileError, read_calendar
from athletes.models import Link, RosterImport
from athletes.roster_rows import read_row
from athletes.spreadsheet import ENCODINGS, UnreadableTable, WrongEncoding, read_table
from programs import mail, messages, notices
from programs.calendar import week_ics
from programs.documents import card_pdf
from tests import people
from tests.programs.examples import HOSTILE, SITE, hostile_sheet, sheet
from tests.programs.rider_visits import AS_PLANNED, Visit, begin
from tests.reports import say

pytestmark = pytest.mark.gate

SEED = 20261125
STAMP = datetime(2026, 11, 1, 18, tzinfo=UTC)

ROSTERS = (
    b"Given name,Family name,Mail,Birth year,Squad,Kit,Key rides,Note\r\n"
    b"Wren,Tollifant,wren@wexenfold.example,1990,Wexenfold hill squad,kettlebell 8 12,Sun 9:00 180 min,new\r\n"
    b'Corin,Maddowfield,corin@wexenfold.example,2001,,"chair; kettlebell 16",,"a, b"\r\n',
    "Name;E-mail;Born\nZoë Ångström;zoe@wexenfold.example;1985\nJosé Ñandú;jose@wexenfold.example;1979\n".encode(),
    "Name\tMail\tBorn\nŁucja Čapek\tlucja@wexenfold.example\t1988\n".encode("utf-16"),
    "sep=;\nName;Mail;Born\nØystein Bøe;oystein@wexenfold.example;1991\n".encode("cp1252"),
    "Name;Mail;Born\nŠtěpán Žďárský;stepan@wexenfold.example;1993\n".encode("cp1250"),
)
CALENDAR = "\r\n".join(
    (
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//test//EN",
        "BEGIN:VEVENT",
        "UID:1@wexenfold.example",
        "DTSTAMP:20261101T080000Z",
        "DTSTART;TZID=Europe/London:20261203T090000",
        "DTEND;TZID=Europe/London:20261203T120000",
        "RRULE:FREQ=WEEKLY;COUNT=4;BYDAY=TH",
        "EXDATE;TZID=Europe/London:20261210T090000",
        "SUMMARY:Skarnock Bank Hill Climb",
        "LOCATION:Skarnock",
        "END:VEVENT",
        "BEGIN:VEVENT",
        "UID:2@wexenfold.example",
        "DTSTAMP:20261101T080000Z",
        "DTSTART;VALUE=DATE:20261224",
        "DURATION:P3D",
        "SUMMARY:Holiday",
        "END:VEVENT",
        "END:VCALENDAR",
        "",
    )
).encode()
#: Put into bytes and texts alike.
SPLINTERS = (
    *HOSTILE,
    "\r\n", "\n", "\r", "\x00", "\ufeff", '"', '""', ",", ";", "\t", "\\", "=1+1", "@SUM(A1)", "%00", "%ff",
    "-1", "0", "99999999999999999999", "1e308", "NaN", "1,5", "٣", "½", "2026-13-45", "00:60", "25:00",
    "None", "null", "true", "<", ">", "&", "'", "DTSTART:", "RRULE:FREQ=SECONDLY", "RRULE:FREQ=DAILY;COUNT=9999999",
    "TZID=Mars/Olympus", "BEGIN:VEVENT\r\n", "END:VEVENT\r\n", "BEGIN:VALARM\r\n", "DURATION:P99999999W",
    "RDATE:20260101T000000Z", "VALUE=PERIOD", ":", "--=-", "Content-Type: text/html", ".", "..", "=?utf-8?q?x?=",
)  # fmt: skip


@pytest.fixture
def chance() -> random.Random:
    return random.Random(SEED)


@pytest.fixture
def tally(request: pytest.FixtureRequest) -> Iterator[Counter[str]]:
    """What became of the inputs, printed at the end."""
    counted: Counter[str] = Counter()
    yield counted
    words = " ".join(f"{name} {count}" for name, count in sorted(counted.items()))
    say(f"{request.node.name.removeprefix('test_')}: {words}")


def damaged(data: bytes, chance: random.Random, *, most: int = 6) -> bytes:
    """The bytes with one thing or up to `most` done to them."""
    work = bytearray(data)
    for _ in range(chance.randint(1, most)):
        here = chance.randint(0, len(work))
        there = min(len(work), here + chance.randint(0, 30))
        match chance.randrange(6):
            case 0:
                work[here:there] = chance.randbytes(chance.randint(0, 4))
            case 1:
                work[here:here] = chance.choice(SPLINTERS).encode("utf-8", "surrogatepass")
            case 2:
                del work[here:there]
            case 3:
                work[here:here] = work[here:there] * chance.randint(1, 40)
            case 4:
                del work[here : None if chance.random() < 0.2 else here + 1]
            case _:
                other = chance.randint(0, len(work))
                work[other:other] = work[here:there]
    return bytes(work)


def text_of(chance: random.Random) -> str:
    """A text that somebody might type to do harm, or by mistake."""
    parts = []
    for _ in range(chance.randint(1, 6)):
        match chance.randrange(4):
            case 0:
                parts.append(chance.choice(SPLINTERS))
            case 1:
                most = chance.choice((0x250, 0x11000))
                parts.append("".join(chr(chance.randrange(most)) for _ in range(8)))
            case 2:
                parts.append("".join(chance.choices(string.printable, k=chance.randint(1, 40))))
            case _:
                parts.append(chance.choice(("Wren", " ", "Tollifant", "é", "W" * 300)))
    return "".join(parts)


def assert_clear(words: str) -> None:
    """A sentence for a person: not empty, not a piece of code, nothing that controls a screen."""
    assert len(words.strip()) > 10, repr(words)
    assert re.search(r"[.!?)]$|[a-z0-9]$", words.strip(), re.I), repr(words)
    assert not re.search(r"Traceback|Error\b|object at 0x|[{}]|[\x00-\x08\x0b-\x1f]", words), repr(words)


# --- files ------------------------------------------------------------------------------------------------------------


def test_any_roster_is_read_or_refused_in_words(chance: random.Random, tally: Counter[str]) -> None:
    for _ in range(4000):
        data = damaged(chance.choice(ROSTERS), chance)
        try:
            table = read_table(data)
        except UnreadableTable as refused:
            assert_clear(str(refused))
            tally["refused"] += 1
            if isinstance(refused, WrongEncoding):
                assert refused.probable in ENCODINGS
                with suppress(UnreadableTable):
                    read_table(data, encoding=refused.probable)
            continue
        tally["read"] += 1
        columns = roster_columns.guess_columns(table.headings)
        for position in range(len(table.headings)):
            if chance.random() < 0.3:
                columns[position] = chance.choice(list(roster_columns.FIELDS))
        for number, cells in table.rows:
            row = read_row(number, cells, columns, table.headings, year=2026)
            for fault in row.faults:
                assert fault.expected
                tally["faults"] += 1
            for value in row.values.values():
                if isinstance(value, str):
                    assert not re.search(r"[\x00-\x1f\x7f\u202a-\u202e\u2066-\u2069]", value), repr(value)
    assert min(tally["refused"], tally["read"], tally["faults"]) > 200


def _upload(someone: people.People, data: bytes, name: str) -> RosterImport:
    """As a coach does: in the encoding that the refusal names, if it names one."""
    again = {"club": someone.club, "name": name, "data": data, "by": someone.coach, "now": people.NOW}
    try:
        return roster.upload(**again)
    except WrongEncoding as refused:
        return roster.upload(**again, encoding=refused.probable)


@pytest.mark.django_db
@pytest.mark.parametrize("number", range(len(ROSTERS)))
def test_the_rosters_are_good_before_they_are_damaged(number: int) -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        made = _upload(someone, ROSTERS[number], "riders.csv")
        assert roster.preview(made, now=people.NOW).faults == []


@pytest.mark.django_db
def test_any_roster_that_is_read_is_previewed_and_applied_whole_or_not_at_all(
    chance: random.Random, tally: Counter[str]
) -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        for _ in range(250):
            data = damaged(chance.choice(ROSTERS), chance, most=2)
            try:
                made = _upload(someone, data, text_of(chance))
            except UnreadableTable:
                tally["refused"] += 1
                continue
            try:
                shown = roster.preview(made, now=people.NOW)
            except roster.ColumnsUnusable as refused:
                for fault in refused.faults:
                    assert_clear(fault)
                tally["columns"] += 1
                continue
            try:
                roster.apply(roster=made, seen=shown.digest, by=someone.coach, now=people.NOW)
            except roster.FaultsRemain:
                assert shown.faults
                tally["faults"] += 1
                assert RosterImport.objects.get(pk=made.pk).state == RosterImport.State.OPEN
            else:
                tally["applied"] += 1
    assert tally["applied"] > 20


def test_any_calendar_is_read_or_refused_in_words(chance: random.Random, tally: Counter[str]) -> None:
    first, last = date(2026, 11, 1), date(2027, 10, 31)
    for _ in range(3000):
        data = damaged(CALENDAR, chance)
        try:
            entries = read_calendar(data, from_on=first, until_on=last, zone="Europe/London")
        except CalendarFileError as refused:
            assert_clear(str(refused))
            tally["refused"] += 1
            continue
        tally["read"] += 1
        for entry in entries:
            assert first <= entry.until_on and entry.on <= last
            assert not re.search(r"[\x00-\x1f\x7f]", entry.name + entry.place + entry.uid)
    assert min(tally["refused"], tally["read"]) > 200


# --- forms ------------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_any_check_in_is_taken_or_refused_in_words(
    monkeypatch: pytest.MonkeyPatch, chance: random.Random, tally: Counter[str]
) -> None:
    visit: Visit = begin(monkeypatch)
    address = visit.open(Link.Purpose.SESSION)
    good = visit.fill(address, **AS_PLANNED)
    names = [*good, "place-1-region", "place-1-side", "place-1-during", "body-symptoms", "x" * 300, ""]
    for number in range(200):
        form = {name: list(value) if isinstance(value, list) else [value] for name, value in good.items()}
        form["session-form_key"] = [f"{number:032x}"]
        for _ in range(chance.randint(1, 3)):
            name = chance.choice(names)
            match chance.randrange(4):
                case 0:
                    form.pop(name, None)
                case 1:
                    form[name] = [text_of(chance)] * chance.randint(1, 3)
                case 2:
                    form[name] = chance.choice(list(good.values()))
                case _:
                    form[name] = [chance.choice(SPLINTERS)]
        body = "&".join(
            f"{quote_plus(name, errors='replace')}={quote_plus(str(value), errors='replace')}"
            for name, values in form.items()
            for value in (values if isinstance(values, list) else [values])
        ).encode()
        if chance.random() < 0.15:
            body = damaged(body, chance)
        answered = visit.client.post(address, body, content_type="application/x-www-form-urlencoded")
        tally[str(answered.status_code)] += 1
        assert answered.status_code in (302, 409, 422), answered.content
        if answered.status_code == 422:
            page = answered.content.decode()
            found = re.search(r'class="errors" role="alert".*?</ul>', page, re.S)
            assert found, page
            sentences = re.findall(r"<li>(?:<a [^>]*>)?(.*?)(?:</a>)?</li>", found[0], re.S)
            assert sentences
            for sentence in sentences:
                # A choice that there is not is quoted as it came, escaped.
                assert_clear(
                    re.sub(r"(Select a valid choice\.).*(is not one of)", r"\1 \2", sentence, flags=re.S)
                )
    assert min(tally["302"], tally["422"]) > 20


# --- what is made of names --------------------------------------------------------------------------------------------


NOTICE_HEADERS = {
    "From", "To", "Subject", "Date", "Message-ID", "Auto-Submitted", "MIME-Version", "Content-Type",
    "Content-Language",
}  # fmt: skip
WEEK_HEADERS = NOTICE_HEADERS | {"Reply-To", "List-Id", "List-Unsubscribe", "List-Unsubscribe-Post"}
ENVELOPE = {
    "sender": "Ballast <plans@wexenfold.example>",
    "recipient": "wren@wexenfold.example",
    "message_id": "<1@wexenfold.example>",
    "date": STAMP,
}


def short_mails(chance: random.Random) -> Iterator[tuple[EmailMessage, set[str]]]:
    """One mail of each kind with such texts in every place, and the headers that it may have."""
    page = f"{SITE}/page/"
    yield (
        mail.week_mail(replace(hostile_sheet(text_of(chance)), sessions=()), **ENVELOPE),  # type: ignore[arg-type]
        WEEK_HEADERS,
    )
    yield (
        notices.alert_mail(
            notices.Alert(text_of(chance), text_of(chance), page, text_of(chance)),
            **ENVELOPE,  # type: ignore[arg-type]
        ),
        NOTICE_HEADERS,
    )
    lines = (notices.DigestLine(text_of(chance), "missed", date(2026, 11, 2)),) * 3
    yield (
        notices.digest_mail(
            notices.Digest(text_of(chance), date(2026, 11, 1), lines, page, text_of(chance)),
            **ENVELOPE,  # type: ignore[arg-type]
        ),
        NOTICE_HEADERS,
    )
    yield (
        notices.link_mail(
            notices.FreshLink(text_of(chance), text_of(chance), page, STAMP, text_of(chance)),
            **ENVELOPE,  # type: ignore[arg-type]
        ),
        NOTICE_HEADERS,
    )


def test_no_name_adds_a_header_or_a_part_to_a_mail(chance: random.Random, tally: Counter[str]) -> None:
    for _ in range(600):
        for message, allowed in short_mails(chance):
            raw = message.as_bytes(policy=policy.SMTP)
            read = message_from_bytes(raw, policy=policy.default)
            assert set(read.keys()) == allowed
            assert len(read.keys()) == len(allowed), "a header twice"
            assert [part.get_content_type() for part in read.walk()] == [
                "multipart/alternative", "text/plain", "text/html",
            ]  # fmt: skip
            assert [address.addr_spec for address in read["To"].addresses] == ["wren@wexenfold.example"]
            assert [address.addr_spec for address in read["From"].addresses] == ["plans@wexenfold.example"]
            assert not read.defects
            lines = raw.split(b"\r\n")
            assert max(map(len, lines)) <= 998
            assert b"\r" not in b"".join(lines) and b"\n" not in b"".join(lines)
            tally["mails"] += 1


def test_any_address_is_one_mailbox_or_refused_in_words(chance: random.Random, tally: Counter[str]) -> None:
    for _ in range(3000):
        address = damaged(b"wren@wexenfold.example", chance).decode(errors="replace")
        alert = notices.Alert("Wren", "Corin", f"{SITE}/page/", "Wexenfold")
        try:
            message = notices.alert_mail(alert, **{**ENVELOPE, "recipient": address})  # type: ignore[arg-type]
        except messages.BadAddress as refused:
            assert_clear(str(refused))
            tally["refused"] += 1
            continue
        tally["taken"] += 1
        read = message_from_bytes(message.as_bytes(policy=policy.SMTP), policy=policy.default)
        assert len(read["To"].addresses) == 1
        assert set(read.keys()) == NOTICE_HEADERS


def test_no_name_adds_an_event_or_a_property_to_a_calendar(
    chance: random.Random, tally: Counter[str]
) -> None:
    expected = _shape(week_ics(sheet(2), stamped_at=STAMP))
    for _ in range(1200):
        raw = week_ics(hostile_sheet(text_of(chance)), stamped_at=STAMP)
        assert _shape(raw) == expected
        assert max(map(len, raw.split(b"\r\n"))) <= 75
        assert all(line.endswith(b"\r") for line in raw.split(b"\n")[:-1])
        tally["files"] += 1


MAY_MISS = ("LOCATION", "BEGIN", "END")


def _shape(raw: bytes) -> list[tuple[str, list[str]]]:
    """Each component with the names of its properties; a place may be missing when nothing is left of its name."""
    return [
        (
            part.name,
            sorted(name for name, _value in part.property_items(recursive=False) if name not in MAY_MISS),
        )
        for part in icalendar.Calendar.from_ical(raw).walk()
        if part.name in ("VCALENDAR", "VEVENT")
    ]


def test_no_name_breaks_a_card_or_adds_a_link_to_it(chance: random.Random, tally: Counter[str]) -> None:
    expected = _links(PdfReader(BytesIO(card_pdf(sheet(2)))))
    for _ in range(150):
        reader = PdfReader(BytesIO(card_pdf(hostile_sheet(text_of(chance)))))
        assert 1 <= len(reader.pages) <= 2
        assert _links(reader) == expected
        text = "".join(page.extract_text() for page in reader.pages)
        assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\u202a-\u202e]", text)
        assert not {"/OpenAction", "/AA", "/Names", "/AcroForm"} & set(reader.trailer["/Root"])
        tally["cards"] += 1


def _links(reader: PdfReader) -> set[str]:
    """Where the card's links lead. A card of two pages has one of them on each."""
    notes = [note.get_object() for page in reader.pages for note in page.get("/Annots", ())]
    return {str(note["/A"]["/URI"]) for note in notes}
