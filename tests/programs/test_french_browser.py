"""The pages of a rider who reads French, in a real browser: longer words still fit a phone, and axe finds nothing.

Sources: WCAG 2.2 (W3C Recommendation, 2023), 1.4.10 (no sideways scrolling at 320 CSS px), 3.1.1 and 3.1.2 (the
language of a page and of its parts), 2.5.8 (targets; 44 px are the project's own measure); axe-core's own rules.
"""

import json

import pytest
from playwright.sync_api import Page

from athletes.models import Link, Rider
from tests.programs.rider_visits import Visit, begin
from tests.programs.test_check_in_browser import ADDRESS, AXE, RULES, open_all, serve

Purpose = Link.Purpose
pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(monkeypatch: pytest.MonkeyPatch) -> Visit:
    visit = begin(monkeypatch)
    with visit.within():
        Rider.objects.filter(pk=visit.rider.pk).update(language="fr")
    return visit


def addresses_of(visit: Visit) -> list[str]:
    opened = [
        visit.open(purpose) for purpose in (Purpose.SESSION, Purpose.REPORT, Purpose.PAGE, Purpose.STOP_MAIL)
    ]
    return [*opened, opened[2].replace("/page/", "/language/")]


@pytest.mark.parametrize(("scheme", "width"), [("light", 320), ("dark", 390)])
def test_french_pages_fit_a_phone_and_axe_finds_nothing(
    page: Page, visit: Visit, scheme: str, width: int
) -> None:
    serve(page, visit)
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    page.set_viewport_size({"width": width, "height": 844})
    for address in addresses_of(visit):
        page.goto(ADDRESS + address)
        open_all(page)
        assert page.evaluate("document.documentElement.lang") == "fr", address
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address
        page.evaluate(AXE.read_text())
        found = page.evaluate(f"axe.run(document, {{runOnly: {json.dumps(RULES)}}})")
        assert found["passes"]
        problems = [
            f"{each['id']}: {node['html'][:120]}" for each in found["violations"] for node in each["nodes"]
        ]
        assert problems == [], address


def test_the_choice_of_a_language_names_each_in_itself_and_is_easy_to_touch(page: Page, visit: Visit) -> None:
    serve(page, visit)
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(ADDRESS + visit.open(Purpose.PAGE))
    choice = page.locator(".page-foot a")
    box = choice.bounding_box()
    assert box is not None and box["height"] >= 44
    spoken = choice.locator("[lang]").evaluate_all("all => all.map(one => [one.lang, one.textContent])")
    assert spoken == [["en-gb", "English"], ["fr", "Français"]]
    choice.click()
    assert page.locator("h1").inner_text() == "Langue"
    page.get_by_label("English").check()
    page.get_by_role("button", name="Utiliser cette langue").click()
    assert page.evaluate("document.documentElement.lang") == "en-gb"
    assert page.locator("h1").inner_text() == "Your week"
