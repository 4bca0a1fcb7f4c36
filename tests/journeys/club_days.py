"""What the people of the weekly loop do, a step at a time: a coach at a desk, and riders with a phone."""

import csv
import re
from dataclasses import dataclass, field
from email.message import EmailMessage
from io import StringIO

from playwright.sync_api import Browser, BrowserContext, FilePayload, Page, expect

from tests.live import LiveStack, await_true
from tests.people import PASSWORD

PHONE = {"width": 390, "height": 844}
SECONDS = 30
#: A coach's own list: their words, their order, more in it than is asked for.
HEADINGS = (
    "Home gear", "Contact", "Surname", "Known as", "Born", "Can do", "Hard rides", "Bib", "Parent", "Parent's e-mail",
)  # fmt: skip
COLUMNS = {
    "Contact": "mail address",
    "Known as": "given name",
    "Home gear": "kit at home",
    "Can do": "times to train",
}
HOME = "kettlebell 8, 12, 16; chair; step; table; towel"


def roster(*, samiras_kit: str) -> bytes:
    """The list as a file: two adults and one rider of 14 with her guardian."""
    table = StringIO()
    rows = csv.DictWriter(table, HEADINGS, delimiter=";")
    rows.writeheader()
    tobias = {
        "Known as": "Tobias",
        "Surname": "Okeldene",
        "Born": "1995",
        "Contact": "tobias@wexenfold.example",
    }
    samira = {
        "Known as": "Samira",
        "Surname": "Holtveld",
        "Born": "1988",
        "Contact": "samira@wexenfold.example",
    }
    wren = {"Known as": "Wren", "Surname": "Tollifant", "Born": "2012", "Contact": "wren@wexenfold.example"}
    guardian = {"Parent": "Marit Tollifant", "Parent's e-mail": "marit@wexenfold.example"}
    rows.writerow(
        {**tobias, "Home gear": HOME, "Can do": "Tue, Thu, Sat evening", "Hard rides": "Sun 09:00 3 h"}
    )
    rows.writerow(
        {**samira, "Home gear": samiras_kit, "Can do": "Wed, Fri evening", "Hard rides": "Sun 09:00"}
    )
    rows.writerow({**wren, **guardian, "Home gear": HOME, "Can do": "Wed, Fri 17:00 45 min"})
    return table.getvalue().encode()


CALENDAR = b"""BEGIN:VCALENDAR\r
VERSION:2.0\r
PRODID:-//Wexenfold//Club//EN\r
BEGIN:VEVENT\r
UID:spring-round@wexenfold.example\r
DTSTAMP:20261101T090000Z\r
DTSTART:20270411T090000Z\r
DTEND:20270411T140000Z\r
SUMMARY:Wexenfold Spring Round\r
LOCATION:Wexenfold\r
END:VEVENT\r
BEGIN:VEVENT\r
UID:year-end@wexenfold.example\r
DTSTAMP:20261101T090000Z\r
DTSTART;VALUE=DATE:20261224\r
DTEND;VALUE=DATE:20270102\r
SUMMARY:Club closed over the year's end\r
END:VEVENT\r
END:VCALENDAR\r
"""


@dataclass
class CoachDay:
    """A coach with the browser open. `page` is theirs."""

    page: Page
    stack: LiveStack
    address: str

    def open(self, path: str) -> None:
        """The page at this path, past the sign-in page where it asks."""
        self.page.goto(f"{self.stack.address}{path}")
        if "/sign-in/" in self.page.url:
            self.page.get_by_label("Mail address").fill(self.address)
            self.page.get_by_label("Password").fill(PASSWORD)
            self.press("Sign in")
            expect(self.page).not_to_have_url(re.compile("sign-in"))

    def press(self, words: str) -> None:
        """The one button of the page with these words."""
        self.page.locator("main").get_by_role("button", name=words, exact=True).click()

    def follow(self, words: str) -> None:
        """The link of the page with these words."""
        self.page.locator("main").get_by_role("link", name=words, exact=True).first.click()

    def sees(self, *words: str) -> None:
        """The page says this."""
        for each in words:
            expect(self.page.locator("main")).to_contain_text(each)

    def choose_file(self, name: str, kind: str, content: bytes) -> None:
        """A file from the coach's machine."""
        file: FilePayload = {"name": name, "mimeType": kind, "buffer": content}
        self.page.locator("input[type=file]").set_input_files(file)

    # --- the club -----------------------------------------------------------------------------------------------------

    def make_squad(self, name: str) -> None:
        """From the empty desk to the first squad."""
        self.open("/")
        self.sees("No riders yet")
        self.follow("Make the first squad")
        self.page.get_by_label("Name of the squad").fill(name)
        self.press("Save the squad")
        self.sees(f"{name} is saved.")

    def upload_roster(self, content: bytes) -> None:
        """The file, and what its columns hold; what would happen is shown then."""
        self.open("/riders/roster/")
        self.choose_file("members.csv", "text/csv", content)
        self.press("Upload the file")
        for heading, meaning in COLUMNS.items():
            self.page.get_by_label(heading, exact=True).select_option(label=meaning)
        expect(self.page.get_by_label("Surname", exact=True).locator("option:checked")).to_have_text(
            "family name"
        )
        self.page.get_by_label("Squad of new riders").select_option(label="Racers")
        self.press("Look at what would happen")

    def upload_calendar(self) -> None:
        """A priority race and a holiday, from a calendar file."""
        self.open("/races/upload/")
        self.choose_file("club.ics", "text/calendar", CALENDAR)
        self.press("Read the file")
        self.page.get_by_label("Wexenfold Spring Round").select_option(label="priority race")
        holiday = self.page.get_by_label("Club closed over the year's end")
        expect(holiday.locator("option:checked")).to_have_text("holiday of the club")
        self.press("Put them into the calendar")
        self.sees("Wexenfold Spring Round", "priority race", "Club closed over the year's end")

    def set_hours(self) -> None:
        """The week is worked out on Saturday morning and goes out on Sunday evening."""
        self.open("/settings/")
        self.page.get_by_label("The week is worked out on").select_option(label="Saturday")
        self.page.get_by_label("Hour at which it is worked out").select_option(label="07:00")
        self.page.get_by_label("Plans go out on").select_option(label="Sunday")
        self.page.get_by_label("Hour at which plans go out").select_option(label="17:00")
        self.press("Save the settings")
        self.sees("The settings are saved.")

    def note_adult_present(self, name: str) -> None:
        """Somebody grown up is there whenever this rider trains."""
        self.open("/riders/")
        self.page.get_by_role("row", name=name).get_by_role("link", name="Change").click()
        self.page.get_by_label("An adult is present at each session").check()
        self.press("Save the details")
        self.sees(f"{name} is saved.")

    def record_paper_form(self, name: str, *, signed_on: str) -> None:
        """Consent on paper, and the answers to the health questions as the rider gave them."""
        self.open("/riders/")
        self.page.get_by_role("row", name=name).get_by_role("link", name="Consent").click()
        self.page.get_by_label("Who signed").fill(name)
        self.page.get_by_label("Day on the form").fill(signed_on)
        self.page.get_by_label("The signed form has the wording").check()
        self.press("Record the form")
        self.page.get_by_role("link", name="Health screening").click()
        self.follow("Enter answers for the rider")
        self.page.get_by_label("Who gave the answers").fill(name)
        answer_health_questions(self.page)
        self.page.locator("main form button[type=submit]").last.click()
        self.sees("Holds until")

    # --- the program --------------------------------------------------------------------------------------------------

    def write_program(self) -> None:
        """The first draft with one slot changed and one added, in use."""
        self.open("/programs/")
        self.page.get_by_role("button", name="Make the first draft").click()
        first = self.page.locator(".session-card").first
        squat = first.locator("li.slot").filter(has_text="Squat").first
        squat.get_by_role("link", name="Change").click()
        squat.get_by_label("Sets", exact=True).fill("3")
        squat.get_by_role("button", name="Save it").click()
        expect(self.page.locator(".session-card").first.locator("li.slot").first).to_contain_text(
            "Squat, 3 sets"
        )
        before = first.locator("li.slot").count()
        first.get_by_role("link", name="Add a pattern or exercise").click()
        first.get_by_label("What").select_option(label="Push")
        first.get_by_label("Assistance").check()
        first.get_by_role("button", name="Add it").click()
        expect(first.locator("li.slot")).to_have_count(before + 1)
        self.follow("Put it in use")
        self.press("Put it in use")
        self.sees("is in use.")


@dataclass
class Phones:
    """The phones of riders and guardians, who read their mail at the sink."""

    browser: Browser
    stack: LiveStack
    _contexts: list[BrowserContext] = field(default_factory=list)

    def mails_to(self, address: str) -> list[EmailMessage]:
        """The mails to this address so far, oldest first."""
        return [one.message for one in list(self.stack.sink.messages) if one.rcpt_tos == (address,)]

    def await_mail(self, address: str, *, subject: str) -> EmailMessage:
        """The newest mail to this address whose subject holds these words, once it is there."""
        found: list[EmailMessage] = []

        def look() -> bool:
            found[:] = [one for one in self.mails_to(address) if subject in one["Subject"]]
            return bool(found)

        assert await_true(look, seconds=SECONDS), [one["Subject"] for one in self.mails_to(address)]
        return found[-1]

    def open_link(self, link: str, *, with_scripts: bool = True) -> Page:
        """The link, tapped."""
        context = self.browser.new_context(
            viewport=PHONE, is_mobile=True, has_touch=True, locale="en-GB", java_script_enabled=with_scripts
        )
        self._contexts.append(context)
        page = context.new_page()
        page.goto(link)
        return page

    def close(self) -> None:
        """Everything that was opened is closed."""
        for context in self._contexts:
            context.close()


def links_of(mail: EmailMessage, *, after: str) -> list[str]:
    """The addresses in the mail's text that stand right after these words, in order."""
    body = mail.get_body(("plain",))
    assert body is not None
    return re.findall(rf"{re.escape(after)}\s+(http\S+)", body.get_content())


def text_of(mail: EmailMessage) -> str:
    """All that a reader of the mail can see, the card and the calendar left out."""
    parts = [mail.get_body((kind,)) for kind in ("plain", "html")]
    return " ".join(part.get_content().lower() for part in parts if part is not None)


def answer_health_questions(page: Page) -> None:
    """Active, meaning to train hard, and no to everything else."""
    for question in page.locator("fieldset").all():
        words = question.locator("legend").inner_text()
        if words.startswith("How hard do you mean"):
            question.get_by_label("Hard", exact=False).first.check()
        else:
            question.get_by_label("Yes" if "have you been active" in words else "No", exact=True).check()


def agree_by_link(page: Page, *, name: str) -> None:
    """Consent and health questions, as they come by mail."""
    page.get_by_label("Your name").fill(name)
    page.locator("input[type=checkbox]").check()
    page.get_by_role("button", name="Agree and go on").click()
    answer_health_questions(page)
    page.get_by_role("button", name="Send the answers").click()
    expect(page.locator("main")).to_contain_text("Nothing more is needed from you.")
