"""`python -m tests.pictures`: the pictures of the README, taken from a running demo.

The desk, a card as it is sent, and a check-in half filled in; each with few colours, so that it stays small. Needs
`pdftoppm` (on Debian: apt-get install poppler-utils).
"""

import argparse
import io
import re
import subprocess
import sys
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, expect, sync_playwright

from coaching.stack.folders import PROJECT, find_state
from tests.browser import FLAGS, find_program
from tests.screenshots import Printed, run_demo, sign_in

DESK, PHONE = {"width": 1280, "height": 1060}, {"width": 390, "height": 1130}
#: Dots per inch of the card, A4.
CARD_DPI = 100
#: From how many cards the best is chosen.
CARDS = 8
COLOURS = 64
LARGEST = 200_000


def keep(picture: bytes, path: Path) -> None:
    """The picture with few colours, at this path. Exits when it is too large."""
    image = Image.open(io.BytesIO(picture)).convert("RGB")
    image.quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)
    size = path.stat().st_size
    print(f"{path.name}: {image.width} x {image.height}, {size} octets")
    if size > LARGEST:
        sys.exit(f"{path.name} is larger than {LARGEST} octets.")


def open_desk(browser: Browser, printed: Printed) -> Page:
    """The coming week, signed in to."""
    page = browser.new_page(viewport=DESK, locale="en-GB", color_scheme="light")
    page.goto(printed.addresses[0])
    sign_in(page, printed.login)
    return page


def fetch_card(page: Page, home: str) -> bytes:
    """Of some cards that were sent, the one with the most loads on it; what is as planned is approved for it first."""
    page.goto(home)
    approve = page.locator("button", has_text="as planned")
    if approve.count():
        approve.click()
        expect(page.locator("#messages")).to_contain_text("approved")
    page.goto(f"{home}caught-mail/")
    subjects = page.get_by_role("link", name=re.compile(r"^Week \d+: strength on"))
    while subjects.count() < CARDS:
        page.wait_for_timeout(500)
        page.reload()
    best, loads = "", -1
    for address in subjects.evaluate_all("links => links.map(link => link.href)")[:CARDS]:
        page.goto(address)
        found = page.locator(".mail-text").inner_text().count(" kg")
        if found > loads:
            card = page.get_by_role("link", name="The card to print (PDF)")
            best, loads = card.evaluate("link => link.href"), found
    return page.request.get(best).body()


def draw(card: bytes) -> bytes:
    """The first page of a PDF as PNG."""
    command = ["pdftoppm", "-r", str(CARD_DPI), "-f", "1", "-l", "1", "-png", "-"]
    return subprocess.run(command, input=card, stdout=subprocess.PIPE, check=True).stdout


def fill_check_in(browser: Browser, address: str) -> Page:
    """A rider's check-in on a phone, with the first answers given."""
    page = browser.new_page(viewport=PHONE, locale="en-GB", color_scheme="light")
    page.goto(address)
    page.get_by_label("All of it").check()
    page.locator("[name='session-reps_left'][value='2']").check()
    page.evaluate("document.activeElement.blur(), scrollTo(0, 0)")
    return page


def main(arguments: list[str]) -> int:
    """The three pictures lie in the folder."""
    parser = argparse.ArgumentParser(description="Take the pictures of the README.")
    parser.add_argument("--folder", type=Path, default=PROJECT / "docs" / "pictures")
    parser.add_argument("--state", type=Path, default=find_state() / "screenshots-demo")
    options = parser.parse_args(arguments)
    options.folder.mkdir(parents=True, exist_ok=True)
    with run_demo(options.state) as printed, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_program(), args=FLAGS)
        desk = open_desk(browser, printed)
        keep(desk.screenshot(), options.folder / "desk.png")
        (check_in,) = [address for address in printed.addresses if "/l/" in address]
        keep(fill_check_in(browser, check_in).screenshot(), options.folder / "check-in.png")
        keep(draw(fetch_card(desk, printed.addresses[0])), options.folder / "card.png")
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
