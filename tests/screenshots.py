"""`python -m tests.screenshots`: photograph the demo, each page wide and narrow, light and dark.

Runs a demo of its own, opens every address that it prints, each as a new visitor who signs in where asked, and follows
the links from there. Following a link changes nothing, since nothing in Ballast changes by GET.
"""

import argparse
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urldefrag, urlsplit

from playwright.sync_api import Browser, Page, sync_playwright
from playwright.sync_api import Error as PlaywrightError

from coaching.stack.folders import PROJECT, find_state
from tests.browser import FLAGS, find_program

WIDTHS = {"wide": 1280, "narrow": 390}
SCHEMES = ("light", "dark")
FIRST_PORT = 8700
READY = "Ctrl-C ends everything"


@dataclass
class Printed:
    """What the demo printed that leads somewhere: addresses, and how to sign in."""

    addresses: list[str] = field(default_factory=list)
    login: tuple[str, str] | None = None

    def read(self, line: str) -> None:
        """Take from one line what it holds."""
        self.addresses += re.findall(r"http://127\.0\.0\.1:\d+\S*", line)
        found = re.search(r"(\S+@\S+) with password (\S+)", line)
        if found:
            self.login = (found[1], found[2])


@contextmanager
def run_demo(state: Path) -> Iterator[Printed]:
    """A running demo, and what it printed until it was up."""
    command = [sys.executable, "-m", "coaching.stack", "--state", str(state), "--port", str(FIRST_PORT)]
    with subprocess.Popen(command, cwd=PROJECT, stdout=subprocess.PIPE, text=True) as demo:
        try:
            printed = Printed()
            for line in demo.stdout or []:
                print(line, end="")
                printed.read(line)
                if READY in line:
                    break
            if demo.poll() is not None:
                sys.exit("The demo did not start.")
            yield printed
        finally:
            demo.terminate()
            demo.wait(60)


def list_links(page: Page) -> list[str]:
    """Pages of the same server that this one links to."""
    found = page.eval_on_selector_all("a[href]", "links => links.map(link => link.href)")
    here = urlsplit(page.url).netloc
    return [urldefrag(link)[0] for link in found if urlsplit(link).netloc == here]


def sign_in(page: Page, login: tuple[str, str] | None) -> None:
    """Past the sign-in page, if this is it; whatever page was asked for is open then."""
    password = page.locator("input[type=password]")
    if login and password.count() == 1:
        page.locator("input[type=email], input[name=username], input[name=email]").first.fill(login[0])
        password.fill(login[1])
        password.press("Enter")
        page.wait_for_load_state()


def name_file(number: int, address: str) -> str:
    """A file name that sorts by visit and says which page it is."""
    words = re.sub(r"[^a-z0-9]+", "-", urlsplit(address).path.lower()).strip("-") or "start"
    return f"{number:03d}-{words[:60]}"


def take_pictures(page: Page, folder: Path, name: str) -> None:
    """The open page as four files."""
    for width_name, width in WIDTHS.items():
        page.set_viewport_size({"width": width, "height": 900})
        for scheme in SCHEMES:
            page.emulate_media(color_scheme=scheme)
            page.screenshot(path=folder / f"{name}-{width_name}-{scheme}.png", full_page=True)
    page.set_viewport_size({"width": WIDTHS["wide"], "height": 900})


def visit(browser: Browser, start: str, login: tuple[str, str] | None, most: int) -> Iterator[Page]:
    """Each page that a new visitor finds from `start` on, up to `most`; of pages alike but for a number, the first."""
    with browser.new_context(locale="en-GB", timezone_id="Europe/London") as context:
        page = context.new_page()
        waiting, seen = [start], set()
        while waiting and len(seen) < most:
            address = waiting.pop(0)
            kind = re.sub(r"\d+", "0", address)
            if kind in seen:
                continue
            seen.add(kind)
            try:
                answer = page.goto(address)
                sign_in(page, login)
            except PlaywrightError as error:  # a download is no page
                print(f"no page {address}: {error.message.splitlines()[0]}")
                continue
            print(f"{answer.status if answer else ''} {address}")
            yield page
            waiting += list_links(page)


def main(arguments: list[str]) -> int:
    """Photograph everything into the folder; 0 when there was at least one page."""
    parser = argparse.ArgumentParser(description="Photograph each page of the demo.")
    parser.add_argument("--folder", type=Path, default=find_state() / "screenshots")
    parser.add_argument("--state", type=Path, default=find_state() / "screenshots-demo")
    parser.add_argument("--most", type=int, default=60, help="pages from each printed address")
    options = parser.parse_args(arguments)
    options.folder.mkdir(parents=True, exist_ok=True)
    for old in options.folder.glob("*.png"):
        old.unlink()
    number = 0
    with run_demo(options.state) as printed, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_program(), args=FLAGS)
        for start in dict.fromkeys(printed.addresses):
            for page in visit(browser, start, printed.login, options.most):
                number += 1
                take_pictures(page, options.folder, name_file(number, page.url))
        browser.close()
    print(f"{number} pages, in {options.folder}")
    return 0 if number else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
