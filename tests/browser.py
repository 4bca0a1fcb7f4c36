"""A real browser, the system's Chromium.

A missing browser fails the test and says how to install it: a journey that is not walked proves nothing.
"""

import shutil
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Route, sync_playwright

PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
FLAGS = ["--no-sandbox", "--disable-background-networking", "--disable-component-update", "--disable-sync"]
LOOPBACK = {"127.0.0.1", "localhost"}


class BrowserMissing(Exception):
    """There is no Chromium on this machine."""


def find_program() -> str:
    """The path of the system's Chromium. BrowserMissing, which says how to install it, where there is none."""
    found = next((path for program in PROGRAMS if (path := shutil.which(program))), None)
    if found is None:
        raise BrowserMissing("No Chromium found. Install it (on Debian: apt-get install chromium).")
    return found


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for the tests of a module.

    Playwright's plain interface keeps an event loop in this thread while it is open, and Django then refuses the
    database, thinking itself inside the loop. It is not, so Django is told so, for as long as this module takes.
    """
    program = find_program()
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
        opened = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page with nothing remembered. It reaches loopback alone.

    The test fails at its end if the page asked for anything beyond, if a script failed, or if the content security
    policy stopped something.
    """
    context = browser.new_context(locale="en-GB", timezone_id="Europe/London", service_workers="block")
    faults: list[str] = []

    def pass_or_stop(route: Route) -> None:
        if urlsplit(route.request.url).hostname in LOOPBACK:
            route.continue_()
        else:
            faults.append(f"asked for {route.request.url}")
            route.abort()

    def note(message: ConsoleMessage) -> None:
        if "content security policy" in message.text.lower():
            faults.append(message.text)

    context.route("**/*", pass_or_stop)
    opened = context.new_page()
    opened.on("pageerror", lambda error: faults.append(f"script failed: {error}"))
    opened.on("console", note)
    yield opened
    context.close()
    if faults:
        pytest.fail("\n".join(faults), pytrace=False)
