"""The check-in in a real browser: how many taps it takes, narrow screens, axe, and life without scripts.

Sources: WCAG 2.2 (W3C Recommendation, 2023), 1.4.10 (no sideways scrolling at 320 CSS px), 2.5.8; axe-core's own rules.
Eight taps are the project's own promise. The browser's requests are answered from here by the project's views, in the
test's own transaction; no server runs.
"""

import json
import mimetypes
from contextvars import copy_context
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import axe_playwright_python
import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from playwright.sync_api import Browser, BrowserContext, Page, Route

from athletes.models import Link
from programs import facts
from tests.programs.rider_visits import Visit, begin

AXE = next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js"))
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
ADDRESS = "http://127.0.0.1"
MOST_TAPS = 8
Purpose = Link.Purpose
pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(monkeypatch: pytest.MonkeyPatch) -> Visit:
    return begin(monkeypatch)


def serve(target: Page | BrowserContext, visit: Visit) -> None:
    """Answers the browser as the web process would: static files, and views through the test's client.

    Views are run in the test's own context, since the browser's answers come in another and would get another
    connection, which sees nothing of the test's transaction.
    """
    context = copy_context()

    def answer(route: Route) -> None:
        asked = route.request
        address = urlsplit(asked.url)
        prefix = "/" + settings.STATIC_URL.strip("/") + "/"
        if address.path.startswith(prefix):
            found = finders.find(address.path.removeprefix(prefix))
            kind = mimetypes.guess_type(address.path)[0] or "font/woff2"
            if found:
                route.fulfill(path=found, content_type=kind)
            else:
                route.fulfill(status=404)
            return
        path = address.path + (f"?{address.query}" if address.query else "")
        if asked.method == "POST":
            sent, kind = asked.post_data or "", asked.headers["content-type"]
            answered = context.copy().run(visit.client.post, path, sent, content_type=kind, follow=True)
        else:
            answered = context.copy().run(visit.client.get, path, follow=True)
        headers = {name: value for name, value in answered.items() if name.lower() != "content-length"}
        route.fulfill(status=answered.status_code, headers=headers, body=answered.content)

    target.route("**/*", answer)


class Thumb:
    """Counts what a rider touches."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps = page, 0

    def tap(self, group: str, answer: str) -> None:
        """One answer of a question by its words."""
        question = self.page.get_by_role("group", name=group, exact=False).first
        question.get_by_role("radio", name=answer, exact=True).check()
        self.taps += 1

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=name).click()
        self.taps += 1


def tap_all_as_planned(page: Page) -> int:
    thumb = Thumb(page)
    thumb.tap("What did you do?", "All of it")
    thumb.tap("In the last set, how many more good reps", "3")
    thumb.tap("How hard was the whole session", "5 proper work, with plenty in hand")
    thumb.tap("Did anything hurt", "No")
    thumb.tap("Any of these?", "None of these")
    thumb.press("Send the check-in")
    return thumb.taps


def test_a_session_that_went_to_plan_takes_at_most_eight_taps(page: Page, visit: Visit) -> None:
    serve(page, visit)
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(ADDRESS + visit.open(Purpose.SESSION))
    assert tap_all_as_planned(page) <= MOST_TAPS
    assert page.get_by_role("heading", name="Thank you, it is kept").is_visible()
    (version,) = visit.versions()
    assert (version.outcome, version.session_rpe) == ("done", 5)


def test_a_thumb_can_say_what_was_different_and_what_hurts(page: Page, visit: Visit) -> None:
    serve(page, visit)
    page.goto(ADDRESS + visit.open(Purpose.SESSION))
    item = visit.planned().items.all()[0]
    target = facts.read_target(item.target)
    thumb = Thumb(page)
    thumb.tap("What did you do?", "Part of it")
    thumb.tap("Why not all of it?", "Ran out of time")
    page.get_by_text("Change what was done").first.click()
    page.get_by_role("button", name=f"Less: {item.exercise.name}: Sets done").click()
    thumb.tap("How hard was the whole session", "4 had to keep my mind on it")
    assert not page.get_by_label("Where?").first.is_visible()
    thumb.tap("Did anything hurt", "Yes")
    page.get_by_label("Where?").first.select_option("knee")
    thumb.tap("Which side?", "Left")
    thumb.tap("At its worst, from 0 to 10?", "3 keeps coming to mind")
    thumb.tap("Any of these?", "None of these")
    thumb.press("Send the check-in")
    assert page.get_by_role("heading", name="Thank you, it is kept").is_visible()
    assert page.get_by_text("See a physiotherapist or doctor for pain that lasts, returns").first.is_visible()
    (version,) = visit.versions()
    with visit.within():
        report = version.items.get(item=item)
    done = report.done or {}
    amounts = done.get("amounts") or done.get("left_amounts") or []
    assert len(amounts) == target.sets - 1


def test_questions_that_do_not_apply_are_folded_away_and_come_back(page: Page, visit: Visit) -> None:
    serve(page, visit)
    page.goto(ADDRESS + visit.open(Purpose.SESSION))
    thumb = Thumb(page)
    effort = page.get_by_role("heading", name="How hard it was")
    assert effort.is_visible()
    thumb.tap("What did you do?", "None of it")
    assert not effort.is_visible()
    assert page.get_by_role("group", name="Why not all of it?").is_visible()
    thumb.tap("What did you do?", "All of it")
    assert effort.is_visible()
    assert not page.get_by_role("group", name="Why not all of it?").is_visible()
    symptom = page.get_by_role("checkbox", name="Fainted, or nearly")
    assert not symptom.is_visible()
    assert page.get_by_text("Fainted, or nearly").first.is_visible()
    thumb.tap("Any of these?", "Yes")
    assert symptom.is_visible()


def test_a_form_that_comes_back_shows_every_question_and_leads_to_the_one_that_is_wrong(
    page: Page, visit: Visit
) -> None:
    serve(page, visit)
    page.goto(ADDRESS + visit.open(Purpose.SESSION))
    Thumb(page).press("Send the check-in")
    page.locator(".errors:focus").wait_for()
    assert page.title().startswith("Error: ")
    assert page.get_by_label("Where?").first.is_visible()
    page.get_by_role("link", name="How hard was the whole session").click()
    assert page.evaluate("document.activeElement.name") == "session-session_rpe"


def test_without_scripts_the_whole_check_in_works(browser: Browser, visit: Visit) -> None:
    context = browser.new_context(java_script_enabled=False)
    serve(context, visit)
    plain = context.new_page()
    plain.goto(ADDRESS + visit.open(Purpose.SESSION))
    assert plain.locator(".step").count() == 0
    assert tap_all_as_planned(plain) <= MOST_TAPS
    assert plain.get_by_role("heading", name="Thank you, it is kept").is_visible()
    context.close()
    assert len(visit.versions()) == 1


def open_all(page: Page) -> None:
    for details in page.locator("details").all():
        details.evaluate("element => { element.open = true }")


@pytest.mark.parametrize(("scheme", "width"), [("light", 320), ("dark", 390), ("light", 1280)])
def test_axe_finds_nothing_and_no_page_scrolls_sideways(
    page: Page, visit: Visit, scheme: Any, width: int
) -> None:
    serve(page, visit)
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 844})
    addresses = [
        visit.open(purpose) for purpose in (Purpose.SESSION, Purpose.REPORT, Purpose.PAGE, Purpose.STOP_MAIL)
    ]
    checked = 0
    for address in [*addresses, "/l/nothing/"]:
        page.goto(ADDRESS + address)
        for state in ("as it opens", "with errors"):
            if state == "with errors":
                button = page.get_by_role("button", name="Send the")
                if not button.count():
                    continue
                button.click()
                page.wait_for_load_state()
            open_all(page)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (address, state)
            page.evaluate(AXE.read_text())
            found = page.evaluate(f"axe.run(document, {{runOnly: {json.dumps(RULES)}}})")
            assert found["passes"]
            problems = [
                f"{each['id']}: {node['html'][:120]}"
                for each in found["violations"]
                for node in each["nodes"]
            ]
            assert problems == [], (address, state)
            checked += 1
    assert checked == 7


def test_every_target_on_a_phone_is_44_px_high(page: Page, visit: Visit) -> None:
    serve(page, visit)
    page.set_viewport_size({"width": 320, "height": 640})
    for purpose in (Purpose.SESSION, Purpose.PAGE):
        page.goto(ADDRESS + visit.open(purpose))
        open_all(page)
        targets = page.evaluate(
            """[...document.querySelectorAll('a, button, input, select, textarea, summary')]
                 .filter(e => e.getClientRects().length && !e.classList.contains('skip'))
                 .map(e => [e.outerHTML.slice(0, 90), (e.closest('label') || e).getBoundingClientRect()])
                 .map(([html, box]) => [html, box.width, box.height])"""
        )
        assert len(targets) > 5
        assert [html for html, _width, height in targets if height < 44] == []
        assert [html for html, width, _height in targets if width < 24] == []
