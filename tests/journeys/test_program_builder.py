"""A coach writes a program in a real browser: with a mouse, with the keys alone, and without scripts.

Sources: WCAG 2.2 (W3C Recommendation, 2023), 2.1.1 (keyboard), 2.4.3 (focus order), 1.4.10 (reflow); axe-core.
"""

import json
from pathlib import Path

import axe_playwright_python
import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from athletes import access
from programs.models import Slot
from tests import people
from tests.live import LiveStack, StartStack

AXE = next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js"), None)
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def axe_findings(page: Page) -> list[str]:
    assert AXE is not None, "axe-playwright-python no longer ships axe.min.js"
    page.evaluate(AXE.read_text())
    result = page.evaluate(f"axe.run(document, {{runOnly: {json.dumps(RULES)}}})")
    assert result["passes"], "axe ran no rule"
    return [f"{each['id']}: {node['html'][:120]}" for each in result["violations"] for node in each["nodes"]]


@pytest.fixture
def stack(live_stack: StartStack) -> tuple[LiveStack, people.People, list[int]]:
    """The web process, a club in its database, and the slots of its first session."""
    started = live_stack(workers=0, tickers=0)
    someone = people.wexenfold(timezone.now())
    with access.within(someone.club):
        slots = list(Slot.objects.filter(template__ordinal=1).values_list("pk", flat=True))
    return started, someone, slots


def sign_in(page: Page, stack: LiveStack, someone: people.People) -> None:
    page.goto(f"{stack.address}/sign-in/")
    page.get_by_label("Mail address").fill(someone.coach.user.email)
    page.get_by_label("Password").fill(people.PASSWORD)
    page.locator("main").get_by_role("button").click()
    page.goto(f"{stack.address}/programs/{someone.program.pk}/")


def order(page: Page) -> list[str]:
    """The first session's slots by name."""
    lines = page.locator(".session-card").first.locator(".slot-line > p").all_inner_texts()
    return [line.split(",")[0] for line in lines]


def test_a_program_is_written_in_place_and_with_the_keys_alone(
    page: Page, stack: tuple[LiveStack, people.People, list[int]]
) -> None:
    started, someone, (squat, hinge, *_rest) = stack
    sign_in(page, started, someone)
    for number in (squat, hinge):
        page.locator(f"#slot-{number}-open").click()
        expect(page.locator(f"#slot-{number}-form select")).to_be_visible()
    page.locator(f"#slot-{hinge}-form input[name$=rest_s]").fill("75")
    page.locator(f"#slot-{squat}-form input[name$=sets]").fill("5")
    page.locator(f"#slot-{squat}-form button", has_text="Save").click()
    expect(page.locator(f"#slot-{squat}")).to_contain_text("Squat, 5 sets")
    expect(page.locator(f"#slot-{squat}-open")).to_be_focused()
    # What is typed elsewhere is not lost when this one is saved.
    assert page.locator(f"#slot-{hinge}-form input[name$=rest_s]").input_value() == "75"
    page.locator(f"#slot-{hinge}-form").get_by_role("link", name="Leave it as it was").click()
    expect(page.locator(f"#slot-{hinge}-open")).to_be_focused()
    page.locator(f"#slot-{squat}-down").focus()
    page.keyboard.press("Enter")
    expect(page.locator(f"#slot-{squat}-up")).to_be_visible()
    expect(page.locator(f"#slot-{squat}-down")).to_be_focused()
    assert order(page)[:2] == ["Hinge", "Squat"]
    page.locator(f"#slot-{squat}").get_by_role("button", name="Remove").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#undone")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#messages")).to_contain_text("Brought back.")
    assert order(page)[:2] == ["Hinge", "Squat"]


def test_a_program_is_written_without_scripts(
    browser: Browser, stack: tuple[LiveStack, people.People, list[int]]
) -> None:
    started, someone, (squat, *_rest) = stack
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    sign_in(page, started, someone)
    page.locator(f"#slot-{squat}-open").click()
    page.get_by_label("Sets").fill("4")
    page.get_by_role("button", name="Save it").click()
    assert page.url.endswith(f"#slot-{squat}")
    assert "Squat, 4 sets" in page.locator(f"#slot-{squat}").inner_text()
    page.locator(f"#slot-{squat}-down").click()
    assert order(page)[:2] == ["Hinge", "Squat"]
    page.locator(f"#slot-{squat}").get_by_role("button", name="Remove").click()
    assert "Squat" not in order(page)
    page.locator("#undone").get_by_role("button").click()
    assert order(page)[:2] == ["Hinge", "Squat"]
    context.close()


def test_axe_finds_nothing_and_nothing_scrolls_sideways(
    page: Page, stack: tuple[LiveStack, people.People, list[int]]
) -> None:
    started, someone, (squat, *_rest) = stack
    sign_in(page, started, someone)
    program = someone.program.pk
    addresses = [
        "programs/", "programs/new/", f"programs/{program}/", f"programs/{program}/preview/",
        f"programs/slots/{squat}/", f"programs/{program}/blocks/new/", "exercises/", "exercises/goblet-squat/",
    ]  # fmt: skip
    for width in (1280, 320):
        page.set_viewport_size({"width": width, "height": 844})
        for address in addresses:
            page.goto(f"{started.address}/{address}")
            assert axe_findings(page) == [], address
            assert page.evaluate("document.documentElement.scrollWidth") <= width, address
