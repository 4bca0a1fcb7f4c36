"""The specimen page in a real browser: axe, narrow screens, thumbs, keys, and life without scripts.

Sources: WCAG 2.2 (W3C Recommendation, 2023), 1.4.10 (no sideways scrolling at 320 CSS px), 2.4.7, 4.1.3; axe-core's own
rules. The page is answered from here, under the content security policy of the settings; no server runs.
"""

import json
import mimetypes
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlsplit

import axe_playwright_python
import pytest
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.test import RequestFactory
from django.utils.csp import build_policy
from playwright.sync_api import Browser, Page, Route

from coaching.specimen import specimen

AXE = next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js"), None)
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
ADDRESS = "http://127.0.0.1"


def render_specimen(query: str) -> str:
    request: Any = RequestFactory().get(f"/specimen?{query}")
    request.user = AnonymousUser()
    request.membership = SimpleNamespace(club=SimpleNamespace(name="Wexenfold Hill Riders"))
    request._messages = CookieStorage(request)
    return specimen(request).content.decode()


def answer(route: Route) -> None:
    """The specimen, an error page, or a static file, as the web process would answer."""
    address = urlsplit(route.request.url)
    prefix = "/" + settings.STATIC_URL.strip("/") + "/"
    if address.path.startswith(prefix):
        found = finders.find(address.path.removeprefix(prefix))
        if not found:
            route.fulfill(status=404)
            return
        route.fulfill(path=found, content_type=mimetypes.guess_type(found)[0] or "font/woff2")
        return
    html = (
        render_specimen(address.query)
        if address.path == "/specimen"
        else render_to_string(address.path.strip("/") + ".html")
    )
    policy = build_policy(settings.SECURE_CSP)
    route.fulfill(
        body=html, content_type="text/html; charset=utf-8", headers={"Content-Security-Policy": policy}
    )


@pytest.fixture
def screen(page: Page) -> Page:
    page.route("**/*", answer)
    return page


def axe_findings(screen: Page) -> list[str]:
    assert AXE is not None, "axe-playwright-python no longer ships axe.min.js"
    screen.evaluate(AXE.read_text())
    result = screen.evaluate(f"axe.run(document, {{runOnly: {json.dumps(RULES)}}})")
    assert result["passes"], "axe ran no rule"
    return [f"{each['id']}: {node['html'][:120]}" for each in result["violations"] for node in each["nodes"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("query", ["", "errors"])
def test_axe_finds_nothing_on_the_specimen(screen: Page, scheme: Any, width: int, query: str) -> None:
    screen.emulate_media(color_scheme=scheme)
    screen.set_viewport_size({"width": width, "height": 844})
    screen.goto(f"{ADDRESS}/specimen?{query}")
    for details in screen.locator("details").all():
        details.evaluate("element => { element.open = true }")
    assert axe_findings(screen) == []


@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "500", "rider_base"])
def test_axe_finds_nothing_on_the_plain_pages(screen: Page, name: str) -> None:
    screen.goto(f"{ADDRESS}/{name}")
    # A frame without its page has no heading yet; everything else of it counts.
    assert [found for found in axe_findings(screen) if not found.startswith("page-has-heading-one")] == []


def test_axe_would_find_a_picture_without_words(screen: Page) -> None:
    screen.goto(f"{ADDRESS}/404")
    screen.evaluate("document.querySelector('main').append(document.createElement('img'))")
    assert any(found.startswith("image-alt") for found in axe_findings(screen))


@pytest.mark.parametrize("query", ["", "errors"])
def test_the_page_never_scrolls_sideways_at_320_px(screen: Page, query: str) -> None:
    screen.set_viewport_size({"width": 320, "height": 640})
    screen.goto(f"{ADDRESS}/specimen?{query}")
    for details in screen.locator("details").all():
        details.evaluate("element => { element.open = true }")
    assert screen.evaluate("document.documentElement.scrollWidth") <= 320


def test_every_target_on_a_phone_is_44_px_high_and_its_text_16_px(screen: Page) -> None:
    screen.set_viewport_size({"width": 390, "height": 844})
    screen.goto(f"{ADDRESS}/specimen?errors")
    targets = screen.evaluate(
        """[...document.querySelectorAll('a, button, input, select, textarea, summary')]
             .filter(e => e.getClientRects().length && !e.classList.contains('skip'))
             .map(e => [e.outerHTML.slice(0, 90), (e.closest('label') || e).getBoundingClientRect().height])"""
    )
    assert len(targets) > 40
    assert [target for target, height in targets if height < 44] == []
    letters = screen.evaluate(
        """[...document.querySelectorAll('body *')]
             .filter(e => e.getClientRects().length && [...e.childNodes].some(n => n.nodeType == 3 && n.data.trim()))
             .map(e => {
               const scale = e.ownerSVGElement
                 ? e.ownerSVGElement.getBoundingClientRect().width / e.ownerSVGElement.viewBox.baseVal.width : 1;
               return [e.outerHTML.slice(0, 90), parseFloat(getComputedStyle(e).fontSize) * scale];
             })"""
    )
    assert len(letters) > 100
    assert [text for text, size in letters if size < 16] == []


def test_the_stepper_counts_from_the_planned_number_and_stops_at_its_ends(screen: Page) -> None:
    screen.goto(f"{ADDRESS}/specimen")
    field = screen.get_by_label("Reps in set 1", exact=True)
    more = screen.get_by_role("button", name="More: Reps in set 1")
    less = screen.get_by_role("button", name="Less: Reps in set 1")
    more.click()
    assert field.input_value() == "8"
    more.click()
    assert field.input_value() == "9"
    field.fill("0")
    less.click()
    assert field.input_value() == "0"
    load = screen.get_by_label("Load in kg", exact=True)
    load.fill("12")
    screen.get_by_role("button", name="More: Load in kg").click()
    assert load.input_value() == "12.5"


def test_without_scripts_the_stepper_is_a_plain_number_field(browser: Browser) -> None:
    context = browser.new_context(java_script_enabled=False)
    plain = context.new_page()
    plain.route("**/*", answer)
    plain.goto(f"{ADDRESS}/specimen")
    field = plain.get_by_label("Reps in set 1", exact=True)
    field.fill("7")
    assert field.input_value() == "7"
    assert plain.locator(".step").count() == 0
    context.close()


def test_the_reader_lands_on_the_list_of_errors_and_each_entry_leads_to_its_field(screen: Page) -> None:
    screen.goto(f"{ADDRESS}/specimen?errors")
    assert screen.title().startswith("Error: ")
    assert screen.evaluate("document.activeElement.className") == "errors"
    screen.get_by_role("link", name="How hard was the whole session?").click()
    assert screen.evaluate("document.activeElement.name") == "report-effort"


def test_the_first_key_press_offers_the_way_past_the_head(screen: Page) -> None:
    screen.goto(f"{ADDRESS}/specimen")
    screen.keyboard.press("Tab")
    assert screen.evaluate("document.activeElement.getBoundingClientRect().top") >= 0
    screen.keyboard.press("Enter")
    assert screen.evaluate("document.activeElement.id") == "main"


def test_focus_is_drawn_around_what_has_it(screen: Page) -> None:
    screen.goto(f"{ADDRESS}/specimen")
    for role in ("link", "button", "textbox"):
        target = screen.locator("main").get_by_role(role).first
        target.focus()
        screen.keyboard.press("Shift+Tab")
        screen.keyboard.press("Tab")
        assert target.evaluate("e => parseFloat(getComputedStyle(e).outlineWidth)") >= 3


def test_paper_carries_what_is_read_and_not_what_is_pressed(screen: Page) -> None:
    screen.goto(f"{ADDRESS}/specimen")
    screen.emulate_media(media="print")
    assert screen.locator(".target-line").first.is_visible()
    assert screen.locator(".notice.stop").is_visible()
    assert not screen.get_by_role("button", name="Save the squad").is_visible()


def test_a_sheet_on_a_wall_shows_no_pain(screen: Page) -> None:
    screen.goto(f"{ADDRESS}/specimen")
    assert screen.locator(".strip-pain").first.is_visible()
    screen.emulate_media(media="print")
    assert not screen.locator(".strip-pain").first.is_visible()
