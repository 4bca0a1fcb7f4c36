"""The check of the locked requirements finds what it is there to find, and nothing on an ordinary day."""

import importlib.util

import pytest
from packaging.requirements import Requirement

from coaching.stack.folders import PROJECT

_spec = importlib.util.spec_from_file_location("check_lock", PROJECT / ".ci" / "check_lock.py")
check_lock = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(check_lock)

HASH = "    --hash=sha256:" + "0" * 64
LOCKED = {"kombu": "5.7.0", "amqp": "5.4.2", "vine": "5.1.0"}


def test_a_pin_has_an_exact_version_and_hashes_and_applies_to_this_system() -> None:
    text = f"# a comment\nKombu==5.7.0 \\\n{HASH} \\\n{HASH}\ncolorama==0.4.6 ; sys_platform == 'win32' \\\n{HASH}\n"
    assert check_lock.read_pins(text) == ({"kombu": "5.7.0"}, [])


@pytest.mark.parametrize(
    "text",
    [
        "kombu==5.7.0\n",
        f"kombu>=5.7.0 \\\n{HASH}\n",
        f"--index-url https://packages.example/simple\nkombu==5.7.0 \\\n{HASH}\n",
        f"kombu @ https://packages.example/kombu.whl \\\n{HASH}\n",
    ],
)
def test_a_line_without_hashes_or_with_an_address_is_found(text: str) -> None:
    assert check_lock.read_pins(text)[1]


def test_pins_that_are_permitted_pass_however_old_they_are() -> None:
    assert check_lock.compare([Requirement("kombu>=5")], LOCKED) == []


@pytest.mark.parametrize(
    ("direct", "pins", "fault"),
    [
        ("kombu>=5", {name: version for name, version in LOCKED.items() if name != "kombu"}, "lacks kombu"),
        ("kombu>=5", {name: version for name, version in LOCKED.items() if name != "vine"}, "lacks vine"),
        ("kombu>=99", LOCKED, "pins kombu 5.7.0"),
        ("kombu>=5", LOCKED | {"amqp": "0.1"}, "pins amqp 0.1"),
        ("kombu>=5", LOCKED | {"segno": "1.6.6"}, "pins segno, which nothing asks for"),
    ],
)
def test_what_no_longer_fits_is_named(direct: str, pins: dict[str, str], fault: str) -> None:
    assert any(found.startswith(fault) for found in check_lock.compare([Requirement(direct)], pins))
