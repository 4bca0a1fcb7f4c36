"""A coach looks for an exercise in a real browser: as they type, with ticks, back and forth, and without scripts.

Source: WCAG 2.2 (W3C Recommendation, 2023), 2.1.1 (keyboard) and what axe's rules name.
"""

import pytest
from playwright.sync_api import Browser, expect
from playwright.sync_api import Page as Screen

from tests.browser import browser, page
from tests.journeys.test_axe import address, committed_world, screen, violations, visitors
from tests.pages import Visitors, pages

__all__ = ["address", "browser", "committed_world", "page", "screen", "visitors"]

LIST = next(one for one in pages() if one.name == "exercises")


def cookies(visitors: Visitors, address: str) -> list[dict[str, str]]:
    client = visitors("assistant", LIST)
    return [{"name": name, "value": morsel.value, "url": address} for name, morsel in client.cookies.items()]


@pytest.fixture
def coach(screen: Screen, visitors: Visitors, address: str) -> Screen:
    """The browser of somebody of the club, at the library."""
    screen.context.add_cookies(cookies(visitors, address))
    screen.set_viewport_size({"width": 1280, "height": 900})
    screen.goto(f"{address}/exercises/")
    return screen


def test_what_is_typed_is_found_as_it_is_typed_and_back_goes_back(coach: Screen, address: str) -> None:
    words = coach.get_by_label("Words")
    words.press_sequentially("goblet sqaut", delay=20)
    expect(coach.get_by_text("read as squat")).to_be_visible()
    expect(coach.get_by_role("heading", level=2).first).to_contain_text("Goblet")
    expect(coach).to_have_url(f"{address}/exercises/?q=goblet+sqaut")
    expect(words).to_be_focused()
    coach.locator("summary").filter(has_text="Spare").click()
    coach.get_by_label("Wrist or hand").check()
    expect(coach).to_have_url(f"{address}/exercises/?q=goblet+sqaut&spare=wrist-hand")
    expect(coach.get_by_role("heading", name="Nothing found")).to_be_visible()
    assert violations(coach) == []
    coach.go_back()
    expect(coach).to_have_url(f"{address}/exercises/?q=goblet+sqaut")
    expect(coach.get_by_text("read as squat")).to_be_visible()
    expect(coach.get_by_label("Words")).to_have_value("goblet sqaut")
    coach.go_back()
    expect(coach).to_have_url(f"{address}/exercises/")


def test_without_scripts_a_press_finds_the_same_at_the_same_address(
    browser: Browser, visitors: Visitors, address: str
) -> None:
    with browser.new_context(java_script_enabled=False, locale="en-GB") as context:
        context.add_cookies(cookies(visitors, address))
        plain = context.new_page()
        plain.goto(f"{address}/exercises/")
        plain.get_by_label("Words").fill("plnak")
        plain.locator("summary").filter(has_text="At hand").press("Enter")
        plain.get_by_label("Only floor and wall").press("Space")
        plain.get_by_role("button", name="Find").press("Enter")
        expect(plain.get_by_text("read as plank")).to_be_visible()
        expect(plain.get_by_label("Only floor and wall")).to_be_checked()
        plain.goto(plain.url)
        expect(plain.get_by_text("read as plank")).to_be_visible()
