"""Every page that opens by its address, in a real browser: axe, wide and narrow, light and dark; no sideways scrolling.

Sources: WCAG 2.2 (W3C Recommendation, 2023), 1.4.10 (no sideways scrolling at 320 CSS px) and what axe-core's rules
name. The pages come from the URLconf (`tests/pages.py`), each as somebody who may go there.
"""

from collections.abc import Iterator
from http import HTTPStatus
from pathlib import Path

import pytest
from django.conf import settings
from django.test.testcases import LiveServerThread
from playwright.sync_api import Browser
from playwright.sync_api import Page as Screen
from pytest_django import DjangoDbBlocker

from tests.coaching.test_look_in_browser import AXE, RULES
from tests.databases import Database, close_connections, copy_in_use
from tests.pages import GET, LINK, Page, Visitors, catch_a_mail, go, pages
from tests.services import Services
from tests.world import World, build, clock_stands

#: A mail as it was sent, for the mail program to show; it is no page of ours.
NOT_OURS = {"caught-part"}
#: The target of a form, or an address that leads on to one of the other pages.
LEADS_ELSEWHERE = {HTTPStatus.METHOD_NOT_ALLOWED, HTTPStatus.FOUND}


@pytest.fixture(scope="module")
def committed_world(
    services: Services,
    migrated_database: Database,
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[World]:
    """Both clubs, committed in a database of this module's own, with the clock standing."""
    folder: Path = tmp_path_factory.mktemp("mailbox")
    catch_a_mail(folder)
    with (
        copy_in_use(services, migrated_database, django_db_blocker),
        clock_stands(),
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setattr(settings, "MAILBOX", str(folder))
        yield build()


@pytest.fixture(scope="module")
def address(committed_world: World) -> Iterator[str]:
    """Where the application answers, in a thread of this process, so that the standing clock holds for it."""
    del committed_world
    server = LiveServerThread("127.0.0.1", _Static)
    server.daemon = True
    server.start()
    server.is_ready.wait()
    assert server.error is None, server.error
    yield f"http://127.0.0.1:{server.port}"
    server.terminate()


class _Static:
    """Static files come from the application itself, as in production."""

    def __new__(cls, application: object) -> object:
        return application


@pytest.fixture(scope="module")
def visitors(committed_world: World, browser: Browser) -> Visitors:
    """The browsers of everybody.

    While the real browser is driven an event loop counts as running, and Django then keeps another set of connections:
    one that an earlier module left there leads to a database that is gone, so it is closed first.
    """
    del browser
    close_connections()
    return Visitors(committed_world)


@pytest.fixture
def screen(page: Screen) -> Screen:
    return page


@pytest.mark.parametrize("seen", [page for page in pages() if page.name not in NOT_OURS], ids=str)
def test_axe_finds_nothing_and_nothing_scrolls_sideways(
    committed_world: World, address: str, visitors: Visitors, screen: Screen, seen: Page
) -> None:
    client = visitors(LINK if seen.purposes else "owner", seen)
    answer = go(client, seen, GET, committed_world.ours)
    if answer.status_code != HTTPStatus.OK or not answer["Content-Type"].startswith("text/html"):
        assert answer.status_code in LEADS_ELSEWHERE or answer.status_code == HTTPStatus.OK
        return
    screen.context.add_cookies(
        [{"name": name, "value": morsel.value, "url": address} for name, morsel in client.cookies.items()]
    )
    screen.set_viewport_size({"width": 1280, "height": 844})
    arrived = screen.goto(address + seen.address(committed_world.ours))
    assert arrived is not None
    assert arrived.status == HTTPStatus.OK
    assert arrived.request.redirected_from is None
    open_all(screen)
    assert violations(screen) == []
    screen.set_viewport_size({"width": 390, "height": 844})
    screen.emulate_media(color_scheme="dark")
    assert violations(screen) == []
    screen.set_viewport_size({"width": 320, "height": 640})
    assert screen.evaluate("document.documentElement.scrollWidth") <= 320, too_wide(screen)


def open_all(screen: Screen) -> None:
    """Whatever is folded away is open."""
    screen.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")


def violations(screen: Screen) -> list[str]:
    """What axe finds on the page as it is."""
    assert AXE is not None, "axe-playwright-python no longer ships axe.min.js"
    if not screen.evaluate("typeof axe === 'object'"):
        screen.evaluate(AXE.read_text())
    options = {"runOnly": RULES, "resultTypes": ["violations"]}
    result = screen.evaluate("options => axe.run(document, options)", options)
    assert result["passes"], "axe ran no rule"
    return [f"{each['id']}: {node['html'][:120]}" for each in result["violations"] for node in each["nodes"]]


def too_wide(screen: Screen) -> str:
    """What reaches beyond the edge of a page of 320 px."""
    found: list[str] = screen.evaluate(
        """[...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > 321)
             .map(e => e.outerHTML.slice(0, 120))"""
    )
    return "\n".join(found[:8])


def test_a_picture_without_words_and_a_wide_line_would_be_noticed(address: str, screen: Screen) -> None:
    screen.set_viewport_size({"width": 320, "height": 640})
    screen.goto(f"{address}/sign-in/")
    assert violations(screen) == []
    screen.evaluate("document.querySelector('main').append(document.createElement('img'))")
    assert any(found.startswith("image-alt") for found in violations(screen))
    assert screen.evaluate("document.documentElement.scrollWidth") <= 320
    screen.evaluate("document.querySelector('h1').style.width = '600px'")
    assert screen.evaluate("document.documentElement.scrollWidth") > 320
    assert "h1" in too_wide(screen)
