"""What every answer carries beside its page, what the settings are in production, and what no template may hold.

Sources: Content Security Policy Level 3 (W3C); RFC 9111, 5.2.2.5 (no-store); RFC 6265bis, 4.1.3.2 (`__Host-` cookies);
RFC 6797 (HSTS); Referrer Policy and Permissions Policy (W3C); OWASP ASVS 5.0, V3.3, V3.4, V14.3.
"""

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.http import HttpResponse
from django.test import Client

from tests.pages import GET, LINK, POST, Page, Visitors, catch_a_mail, go, pages
from tests.world import World, built_world

__all__ = ["built_world"]

PAGES = pytest.mark.parametrize("page", pages(), ids=str)
#: A mail brings its own styles; it is shown in a frame of no origin that can neither run nor ask for anything.
SANDBOXED = "caught-part"


@pytest.fixture(scope="module", autouse=True)
def mailbox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The demo's caught mail has one mail in it."""
    folder = tmp_path_factory.mktemp("mailbox")
    catch_a_mail(folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "MAILBOX", str(folder))
        yield


type Answers = Callable[[Page], list[HttpResponse]]


@pytest.fixture(scope="module")
def answers(built_world: World, mailbox: None) -> Answers:
    """What whoever may go to a page gets by both methods, and what somebody unknown gets; each asked for once."""
    visitors = Visitors(built_world)

    @cache
    def ask(page: Page) -> list[HttpResponse]:
        who = LINK if page.purposes else "owner"
        found = [go(visitors(who, page), page, method, built_world.ours) for method in (GET, POST)]
        return [*found, go(Client(), page, GET, built_world.ours)]

    return ask


# --- every answer -----------------------------------------------------------------------------------------------------


def policy_of(answer: HttpResponse) -> dict[str, list[str]]:
    directives = [part.split() for part in answer["Content-Security-Policy"].split(";") if part.strip()]
    return {name: sources for name, *sources in directives}


@PAGES
def test_the_policy_of_every_answer_lets_in_nothing_but_our_own(answers: Answers, page: Page) -> None:
    for answer in answers(page):
        policy = policy_of(answer)
        assert policy["default-src"] == ["'none'"]
        if page.name == SANDBOXED and "sandbox" in policy:
            assert policy == {
                "default-src": ["'none'"],
                "style-src": ["'unsafe-inline'"],
                "img-src": ["data:"],
                "sandbox": [],
            }
            continue
        assert not [source for sources in policy.values() for source in sources if "unsafe" in source]
        assert policy["script-src"] == policy["style-src"] == policy["form-action"] == ["'self'"]
        assert policy["base-uri"] == policy["frame-ancestors"] == ["'none'"]
        outside = {source for sources in policy.values() for source in sources} - {
            "'self'",
            "'none'",
            "data:",
        }
        assert outside == set()


@PAGES
def test_no_answer_is_kept_by_a_browser_or_a_proxy(answers: Answers, page: Page) -> None:
    for answer in answers(page):
        assert "no-store" in answer["Cache-Control"]
        assert "public" not in answer["Cache-Control"]


@PAGES
def test_every_answer_says_what_it_may_not_be_used_for(answers: Answers, page: Page) -> None:
    for answer in answers(page):
        assert answer["Referrer-Policy"] == "same-origin"
        assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
        assert answer["X-Content-Type-Options"] == "nosniff"
        framed = "SAMEORIGIN" if page.name == SANDBOXED and answer.status_code == 200 else "DENY"
        assert answer["X-Frame-Options"] == framed
        for feature in ("camera", "geolocation", "microphone", "payment", "usb"):
            assert f"{feature}=()" in answer["Permissions-Policy"]


class Reach(HTMLParser):
    """What a page would load, run or lead to."""

    def __init__(self) -> None:
        super().__init__()
        self.inline: list[str] = []
        self.outside: list[str] = []

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        names = dict(attributes)
        if (
            tag == "style"
            or (tag == "script" and "src" not in names)
            or tag in ("iframe", "object", "embed", "base")
        ):
            self.inline.append(self.get_starttag_text() or tag)
        for name, value in attributes:
            if name == "style" or name.startswith(("on", "hx-on")) or (value or "").startswith("javascript:"):
                self.inline.append(f"{tag} {name}")
            if name in ("src", "href", "action", "srcset", "poster", "data", "formaction") and _is_outside(
                value or ""
            ):
                self.outside.append(f"{tag} {name}={value}")


def _is_outside(address: str) -> bool:
    return bool(re.match(r"(?:[a-z][a-z0-9+.-]*:)?//", address.strip().lower()))


@PAGES
def test_no_page_holds_inline_code_or_asks_for_anything_elsewhere(answers: Answers, page: Page) -> None:
    if page.name == SANDBOXED:
        return
    for answer in answers(page):
        if answer.get("Content-Type", "").startswith("text/html"):
            reach = Reach()
            reach.feed(answer.content.decode())
            assert reach.inline == []
            assert [one for one in reach.outside if not one.startswith(f"a href={settings.ADDRESS}/")] == []


def test_inline_code_and_foreign_hosts_would_be_noticed() -> None:
    reach = Reach()
    reach.feed(
        '<p style="x"><a onclick="y" href="//cdn.example/z"></a><script>1</script><img src="https://x.example/y">'
        '<a href="javascript:1"></a><script src="/static/js/a.js"></script><a href="/riders/">'
    )
    assert reach.inline == ["p style", "a onclick", "<script>", "a href"]
    assert reach.outside == ["a href=//cdn.example/z", "img src=https://x.example/y"]


# --- templates --------------------------------------------------------------------------------------------------------

TEMPLATES = settings.BASE_DIR / "templates"
WEB = sorted(
    path
    for path in TEMPLATES.rglob("*.html")
    if path.relative_to(TEMPLATES).parts[0] not in ("email", "print")
)


INLINE = (r"\sstyle\s*=", r"<style\b", r"<script(?![^>]*\bsrc=)", r"\son[a-z]+\s*=", r"hx-on", r"javascript:")
#: Shown unescaped, as Django's own template does: help texts stand in the code, nobody types them.
WRITTEN_BY_US = {"field.help_text|safe"}


@pytest.mark.parametrize("path", WEB, ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_no_branch_of_a_template_holds_inline_code_or_a_foreign_host(path: Path) -> None:
    """Also those that no page above happens to show."""
    text = re.sub(r"\{% comment %\}.*?\{% endcomment %\}", "", path.read_text(), flags=re.DOTALL)
    for pattern in INLINE:
        assert not re.search(pattern, text), pattern
    assert re.findall(r"(?:https?:)?//[\w.-]+\.\w+", text) == []
    unescaped = re.findall(r"\w+(?:\.\w+)*\s*\|\s*safe\b|\{%\s*autoescape\s+off", text)
    assert [one for one in unescaped if one not in WRITTEN_BY_US] == []


def test_no_static_file_of_ours_names_a_foreign_host() -> None:
    for path in (settings.BASE_DIR / "coaching" / "static").rglob("*"):
        if path.suffix in (".css", ".js"):
            assert re.findall(r"(?:https?:)?//[\w-]+\.[\w.-]+", path.read_text()) == [], path.name


# --- production -------------------------------------------------------------------------------------------------------

#: As a club would run it: no demo, an https address, secrets of its own.
PRODUCTION = {
    "SECRET_KEY": "k7Qx-not-a-real-one-but-long-enough-and-varied-0123456789-abcdefghij",
    "BALLAST_ADDRESS": "https://strength.wexenfold.example",
    "DATABASE_URL": "postgres://ballast_app@db.wexenfold.example:5432/ballast",
}
ASKED = [
    "DEBUG",
    "DEMO",
    "ALLOWED_HOSTS",
    "CSRF_TRUSTED_ORIGINS",
    "SESSION_COOKIE_NAME",
    "SESSION_COOKIE_SECURE",
    "SESSION_COOKIE_HTTPONLY",
    "SESSION_COOKIE_SAMESITE",
    "SESSION_COOKIE_PATH",
    "SESSION_COOKIE_DOMAIN",
    "CSRF_COOKIE_NAME",
    "CSRF_COOKIE_SECURE",
    "CSRF_COOKIE_HTTPONLY",
    "CSRF_COOKIE_SAMESITE",
    "CSRF_COOKIE_PATH",
    "CSRF_COOKIE_DOMAIN",
    "SECURE_SSL_REDIRECT",
    "SECURE_HSTS_SECONDS",
    "SECURE_HSTS_INCLUDE_SUBDOMAINS",
    "SMTP_TLS",
    "MAILBOX",
]


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Python in the project with this environment and nothing of ours besides."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    return subprocess.run(
        [sys.executable, "-W", "error", *arguments],
        env=kept | {"DJANGO_SETTINGS_MODULE": "coaching.settings"} | environment,
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def settings_with(**environment: str) -> dict[str, Any]:
    """The settings that such an environment makes."""
    program = f"""
import json
from django.conf import settings
print(json.dumps({{name: getattr(settings, name) for name in {ASKED!r}}}))
"""
    done = run("-c", program, **environment)
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_with_an_https_address_cookies_are_bound_to_this_host_and_to_https() -> None:
    found = settings_with(**PRODUCTION)
    for cookie in ("SESSION", "CSRF"):
        assert found[f"{cookie}_COOKIE_NAME"].startswith("__Host-")
        assert found[f"{cookie}_COOKIE_SECURE"]
        assert found[f"{cookie}_COOKIE_HTTPONLY"]
        assert found[f"{cookie}_COOKIE_SAMESITE"] == "Lax"
        # What the prefix asks for: the whole host, and no other.
        assert (found[f"{cookie}_COOKIE_PATH"], found[f"{cookie}_COOKIE_DOMAIN"]) == ("/", None)
    assert found["SECURE_SSL_REDIRECT"]
    assert found["SECURE_HSTS_SECONDS"] >= 365 * 24 * 3600
    assert found["SECURE_HSTS_INCLUDE_SUBDOMAINS"]


def test_production_is_what_one_gets_without_asking() -> None:
    found = settings_with(**PRODUCTION)
    assert not found["DEBUG"]
    assert not found["DEMO"]
    assert found["MAILBOX"] == ""
    assert found["SMTP_TLS"] == "starttls"
    assert found["ALLOWED_HOSTS"][0] == "strength.wexenfold.example"
    assert "*" not in found["ALLOWED_HOSTS"]
    assert found["CSRF_TRUSTED_ORIGINS"] == ["https://strength.wexenfold.example"]


def test_no_environment_turns_debugging_on() -> None:
    assert not settings_with(**PRODUCTION, DEBUG="1", DJANGO_DEBUG="1")["DEBUG"]
    assert not settings_with(BALLAST_DEMO="1")["DEBUG"]


def test_over_plain_http_cookies_still_work_for_the_demo() -> None:
    found = settings_with(BALLAST_DEMO="1")
    assert not found["SESSION_COOKIE_NAME"].startswith("__Host-")
    assert not found["SESSION_COOKIE_SECURE"]
    assert found["SECURE_HSTS_SECONDS"] == 0


def test_without_a_secret_key_it_refuses_to_start_and_says_what_to_set() -> None:
    environment = {name: value for name, value in PRODUCTION.items() if name != "SECRET_KEY"}
    for extra in ({}, {"SECRET_KEY": ""}, {"BALLAST_DEMO": "0"}):
        done = run("manage.py", "check", **environment, **extra)
        assert done.returncode != 0
        assert "SECRET_KEY" in done.stderr.splitlines()[-1]


def test_djangos_own_check_for_deployment_has_nothing_to_say() -> None:
    done = run("manage.py", "check", "--deploy", "--fail-level", "INFO", **PRODUCTION)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


def test_djangos_check_for_deployment_would_say_something() -> None:
    done = run(
        "manage.py", "check", "--deploy", "--fail-level", "WARNING", **PRODUCTION | {"SECRET_KEY": "short"}
    )
    assert done.returncode != 0
    assert "security.W009" in done.stderr
