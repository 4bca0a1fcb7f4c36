"""`python -m tests.screenshots`: photograph the demo, each page wide and narrow, light and dark.

Runs a demo of its own in a scratch state folder, opens every address that it prints, each as a new visitor, and follows
the links from there. Following a link changes nothing, since nothing in Ballast changes by GET.
"""

import argparse
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urldefrag, urljoin, urlsplit

from playwright.sync_api import Browser, Page, sync_playwright
from playwright.sync_api import Error as PlaywrightError

from coaching.stack.folders import PROJECT, find_state, hold, remove_state
from tests.browser import FLAGS, find_program

WIDTHS = {"wide": 1280, "narrow": 390}
SCHEMES = ("light", "dark")
READY = "Ctrl-C ends everything"


@contextmanager
def run_demo(state: Path) -> Iterator[list[str]]:
    """A running demo; yields the addresses that it printed."""
    command = [sys.executable, "-m", "coaching.stack", "--state", str(state), "--port", "8700"]
    with subprocess.Popen(command, cwd=PROJECT, stdout=subprocess.PIPE, text=True) as demo:
        try:
            addresses: list[str] = []
            for line in demo.stdout:
                print(line, end="")
                addresses += re.findall(r"http://127\.0\.0\.1:\d+\S*", line)
                if READY in line:
                    break
            if demo.poll() is not None:
                sys.exit("The demo did not start.")
            yield list(dict.fromkeys(addresses))
        finally:
            demo.terminate()
            demo.wait(60)


def list_links(page: Page) -> list[str]:
    """Pages of the same server that this one links to."""
    found = [
        urldefrag(urljoin(page.url, link))[0]
        for link in page.eval_on_selector_all("a[href]", "all => all.map(a => a.href)")
    ]
    return [link for link in found if urlsplit(link).netloc == urlsplit(page.url).netloc]


def name_file(number: int, address: str) -> str:
    """A file name that sorts by visit and says which page it is, with long numbers and tokens shortened."""
    words = re.sub(r"[^a-z0-9]+", "-", urlsplit(address).path.lower()).strip("-") or "start"
    return f"{number:03d}-{words[:60]}"


def photograph(browser: Browser, start: str, folder: Path, number: int, most: int) -> int:
    """Photograph what a new visitor finds from `start` on; returns the number of the next picture."""
    context = browser.new_context(locale="en-GB", timezone_id="Europe/London")
    page = context.new_page()
    waiting, seen = [start], set()
    while waiting and len(seen) < most:
        address = waiting.pop(0)
        if re.sub(r"\d+", "0", address) in seen:  # the second rider's page looks like the first's
            continue
        seen.add(re.sub(r"\d+", "0", address))
        page.set_viewport_size({"width": WIDTHS["wide"], "height": 900})
        try:
            answer = page.goto(address)
        except PlaywrightError as error:  # a download is no page
            print(f"no page: {address} ({str(error).splitlines()[0]})")
            continue
        print(f"{answer.status if answer else '   '} {address}")
        waiting += list_links(page)
        for name, width in WIDTHS.items():
            page.set_viewport_size({"width": width, "height": 900})
            for scheme in SCHEMES:
                page.emulate_media(color_scheme=scheme)
                page.screenshot(
                    path=folder / f"{name_file(number, address)}-{name}-{scheme}.png", full_page=True
                )
        number += 1
    context.close()
    return number


def main(arguments: list[str]) -> int:
    """Photograph everything into the folder; 0 when there was at least one page."""
    parser = argparse.ArgumentParser(description="Photograph each page of the demo.")
    parser.add_argument("--folder", type=Path, default=find_state() / "screenshots")
    parser.add_argument("--most", type=int, default=60, help="pages from each printed address")
    options = parser.parse_args(arguments)
    options.folder.mkdir(parents=True, exist_ok=True)
    for old in options.folder.glob("*.png"):
        old.unlink()
    state, number = find_state() / "screenshots-demo", 1
    with run_demo(state) as addresses, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_program(), args=FLAGS)
        for address in addresses:
            number = photograph(browser, address, options.folder, number, options.most)
        browser.close()
    with hold(state):
        remove_state(state)
    print(f"{number - 1} pages, in {options.folder}")
    return 0 if number > 1 else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
