"""A coach sees the season before it happens, in a real browser: the way there, riders living a few at a time, the page.

Source: WCAG 2.2 (W3C Recommendation, 2023) as axe's rules name it, and 1.4.10 (no sideways scrolling at 320 CSS px).
"""

import pytest
from playwright.sync_api import Page as Screen
from playwright.sync_api import expect

from programs.views import rehearsal
from tests.browser import browser, page
from tests.journeys.test_axe import (
    address,
    committed_world,
    open_all,
    screen,
    too_wide,
    violations,
    visitors,
)
from tests.pages import Visitors, pages
from tests.world import World

__all__ = ["address", "browser", "committed_world", "page", "screen", "visitors"]

SEASON = next(one for one in pages() if one.name == "program-season")


@pytest.fixture
def coach(screen: Screen, visitors: Visitors, address: str) -> Screen:
    """The browser of somebody of the club."""
    client = visitors("owner", SEASON)
    screen.context.add_cookies(
        [{"name": name, "value": morsel.value, "url": address} for name, morsel in client.cookies.items()]
    )
    return screen


def choose(screen: Screen, riders: int, weeks: int) -> None:
    screen.get_by_label("invented", exact=True).check()
    screen.get_by_label("How many").fill(str(riders))
    screen.get_by_label("Weeks").fill(str(weeks))
    screen.get_by_role("button", name="Let them live it").click()


def test_a_coach_lets_riders_live_a_season_and_reads_what_came_of_it(
    committed_world: World, address: str, coach: Screen, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rehearsal, "SLICE", 0.0)  # one rider a request, so that the progress is seen
    coach.set_viewport_size({"width": 1280, "height": 844})
    program = committed_world.ours.people.program
    coach.goto(f"{address}/programs/{program.pk}/")
    coach.get_by_role("link", name="See the season before it happens").click()
    choose(coach, riders=3, weeks=8)
    expect(coach.get_by_role("heading", name="Sessions asked and done")).to_be_visible(timeout=60_000)
    expect(coach.get_by_role("status").filter(has_text="All have lived their season.")).to_be_attached()
    assert "riders=3" in coach.url and "weeks=8" in coach.url
    expect(coach.get_by_text("no plan broke a safety property")).to_be_visible()
    open_all(coach)
    assert violations(coach) == []
    coach.set_viewport_size({"width": 390, "height": 844})
    coach.emulate_media(color_scheme="dark")
    assert violations(coach) == []
    coach.set_viewport_size({"width": 320, "height": 640})
    assert coach.evaluate("document.documentElement.scrollWidth") <= 320, too_wide(coach)
    coach.reload()
    expect(coach.get_by_role("heading", name="Sessions asked and done")).to_be_visible(timeout=60_000)


def test_a_choice_that_cannot_be_takes_the_coach_to_what_is_wrong(
    committed_world: World, address: str, coach: Screen
) -> None:
    coach.goto(address + SEASON.address(committed_world.ours))
    choose(coach, riders=99, weeks=8)
    expect(coach.locator(".errors")).to_be_focused()
    expect(coach.get_by_label("How many")).to_have_value("99")
    assert violations(coach) == []
