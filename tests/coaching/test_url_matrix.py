"""Who gets in where: every address x method x kind of person, walked from the URLconf.

What is expected follows from the view's own `.access`, so that a new address is tried without a line here, and one that
says nothing fails. Sources: OWASP ASVS 5.0, V8 (authorization), V3.5 (cross-site request forgery); RFC 9110, 9.2.1
(safe methods); RFC 8058 (one-click unsubscribe).
"""

from collections.abc import Callable
from functools import cache
from http import HTTPStatus
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.db import connection, models
from django.http import HttpResponse
from django.test import Client
from django.urls import get_resolver, reverse

from athletes import access
from athletes.models import AuditEntry, Heartbeat, Link, Rider, SignInFailure
from tests.pages import (
    ANONYMOUS,
    ARGUMENTS,
    EVERYBODY,
    GET,
    LINK,
    OTHER_LINK,
    POST,
    SPECIAL,
    STAFF,
    STALE_LINK,
    STRANGER,
    Page,
    Visitors,
    catch_a_mail,
    go,
    membership,
    open_link,
    pages,
)
from tests.world import (
    HEALTH_WORD,
    WORLD_NOW,
    Season,
    World,
    built_world,
    clock_stands,
    project_models,
    undone,
    world,
)

__all__ = ["built_world", "world"]

PAGES = pytest.mark.parametrize("page", pages(), ids=str)
BY_LINK = pytest.mark.parametrize(
    "page", [page for page in pages() if page.purposes and not page.is_by_token], ids=str
)
BY_TOKEN = pytest.mark.parametrize("page", [page for page in pages() if page.is_by_token], ids=str)
#: May be posted to from anywhere, without a cookie: mail programs do so (RFC 8058).
FROM_ANYWHERE = {"stop-mail"}
#: What reading a page may write: the browser's session, the audit log, the clock's heartbeats, failed tries to sign in.
WRITTEN_BY_READING = {
    "django_session",
    AuditEntry._meta.db_table,
    Heartbeat._meta.db_table,
    SignInFailure._meta.db_table,
}

ALLOWED, SIGN_IN, FORBIDDEN, NOT_FOUND = "allowed", "to the sign-in page", "forbidden", "not found"
#: The page has no such method, for anybody; saying so tells nothing about any row.
NOT_OFFERED = "not offered"

type Offered = dict[tuple[str, str], bool]
type Shown = Callable[[str], dict[str, str]]


@pytest.fixture(scope="module")
def visitors(built_world: World) -> Visitors:
    """The browsers of everybody."""
    return Visitors(built_world)


@pytest.fixture(scope="module", autouse=True)
def mailbox(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The demo's caught mail has one mail in it."""
    folder: Path = tmp_path_factory.mktemp("mailbox")
    catch_a_mail(folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "MAILBOX", str(folder))
        yield


@pytest.fixture(scope="module")
def offered(built_world: World, visitors: Visitors, mailbox: None) -> Offered:
    """(page, method) -> whether it has the method: whoever may go everywhere is answered."""
    return {
        (str(page), method): kind_of(go(visitors(best(page), page), page, method, built_world.ours))
        != NOT_OFFERED
        for page in pages()
        for method in (GET, POST)
    }


@pytest.fixture(scope="module")
def shown(built_world: World, visitors: Visitors, mailbox: None) -> Shown:
    """What every page that opens by GET shows to a kind of person, by the page; each asked for once."""

    @cache
    def show(who: str) -> dict[str, str]:
        found = {}
        for page in pages():
            if expected(page, who, built_world) == ALLOWED:
                answer = go(visitors(who, page), page, GET, built_world.ours)
                if answer.status_code == HTTPStatus.OK and answer.get("Content-Type", "").startswith(
                    "text/html"
                ):
                    found[str(page)] = answer.content.decode()
        return found

    return show


# --- every address is classified --------------------------------------------------------------------------------------


@PAGES
def test_every_view_says_who_may_come_in(page: Page) -> None:
    assert page.access, f"{page.route} has no .access: decorate its view with one of athletes/access.py"
    assert page.access[0] in ("public", "coach", "link", "token")
    assert not page.name.startswith("(unnamed"), "an address needs a name"


def test_no_two_addresses_share_name_and_arguments() -> None:
    assert len({str(page) for page in pages()}) == len(pages())


@PAGES
def test_every_argument_of_an_address_can_be_made(page: Page) -> None:
    unknown = [name for name in page.arguments if not {name, (page.name, name)} & {*ARGUMENTS, *SPECIAL}]
    assert unknown == [], f"tests/pages.py does not know how to make {unknown} of {page.route}"


@PAGES
def test_a_public_page_names_no_row_of_a_club(page: Page) -> None:
    """The one exception is the address in a mail: its token is the permission."""
    assert not (page.is_public and page.is_owned) or page.arguments == ("token",)


# --- who gets in ------------------------------------------------------------------------------------------------------


def expected(page: Page, who: str, world: World) -> str:
    """What `who` meets there, read from the view's class of access."""
    if page.is_public or page.is_by_token:
        return ALLOWED
    if page.purposes:
        return ALLOWED if who == LINK else NOT_FOUND
    if who == STRANGER:
        return NOT_FOUND if page.is_owned else ALLOWED
    if who not in STAFF:
        return SIGN_IN
    assert page.access is not None
    _kind, plans, health, owner = page.access
    member = membership(who, world)
    lacks = (
        (plans and not member.plans)
        or (health and not member.sees_health)
        or (owner and member.role != "owner")
    )
    return FORBIDDEN if lacks else ALLOWED


def kind_of(response: HttpResponse) -> str:
    """Which of the outcomes an answer is."""
    if response.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
        return NOT_OFFERED
    if response.status_code == HTTPStatus.FORBIDDEN:
        return FORBIDDEN
    if response.status_code == HTTPStatus.NOT_FOUND:
        return NOT_FOUND
    if response.status_code in (301, 302, 303, 307) and response["Location"].startswith(reverse("sign-in")):
        return SIGN_IN
    return ALLOWED if response.status_code < 500 else f"failed with {response.status_code}"


def best(page: Page) -> str:
    """Somebody who may go there."""
    return LINK if page.purposes else "owner"


@PAGES
@pytest.mark.parametrize("method", [GET, POST])
def test_everybody_meets_at_every_address_what_its_view_promises(
    world: World, visitors: Visitors, offered: Offered, page: Page, method: str
) -> None:
    met = {who: kind_of(go(visitors(who, page), page, method, world.ours)) for who in EVERYBODY}
    wanted = {who: expected(page, who, world) for who in EVERYBODY}
    if page.name == "sign-out" and method == POST:
        wanted = dict.fromkeys(EVERYBODY, SIGN_IN)  # where it leads by design
    elif offered[str(page), method]:
        # Every deny stands beside an allow, so that none of them is the page simply being broken.
        assert ALLOWED in wanted.values()
    else:
        wanted = {who: NOT_OFFERED if met[who] == NOT_OFFERED else wanted[who] for who in EVERYBODY}
        assert ALLOWED not in met.values()
    assert met == wanted


@PAGES
def test_every_page_has_a_method(offered: Offered, page: Page) -> None:
    assert offered[str(page), GET] or offered[str(page), POST]


@PAGES
def test_a_fragment_is_guarded_like_its_page(
    world: World, visitors: Visitors, offered: Offered, page: Page
) -> None:
    for method in (GET, POST):
        if page.name != "sign-out" and offered[str(page), method]:
            for who in (ANONYMOUS, STALE_LINK, STRANGER, "assistant"):
                answer = go(visitors(who, page), page, method, world.ours, **{"HX-Request": "true"})
                assert kind_of(answer) == expected(page, who, world), (who, method)


@PAGES
def test_no_row_of_one_club_is_found_by_the_address_of_another(
    world: World, visitors: Visitors, offered: Offered, page: Page
) -> None:
    """Ours, going to an address of theirs: the same as a stranger at ours, from the other side."""
    for method in (GET, POST):
        if page.is_for_coaches and page.is_owned and offered[str(page), method]:
            assert kind_of(go(visitors("owner", page), page, method, world.theirs)) == NOT_FOUND


@PAGES
def test_each_row_that_an_address_names_must_be_of_the_club(
    world: World, visitors: Visitors, offered: Offered, page: Page
) -> None:
    """An address with several rows: one of theirs among ours is enough to be not found."""
    owned = [name for name in page.arguments if page.argument(name).is_owned]
    for method in (GET, POST):
        if len(owned) > 1 and offered[str(page), method]:
            for name in owned:
                theirs = {name: page.argument(name).value(world.theirs, page)}
                with undone():
                    address = page.address(world.ours, **theirs)
                    data = page.form(world.ours) if method == POST else {}
                    answer = getattr(visitors(best(page), page), method)(address, data)
                assert kind_of(answer) == NOT_FOUND, (name, method)


# --- by link ----------------------------------------------------------------------------------------------------------


def answers(client: Client, address: str, form: dict[str, Any]) -> set[str]:
    """What both methods come to."""
    with undone():
        return {kind_of(client.get(address)), kind_of(client.post(address, form))} - {NOT_OFFERED}


@BY_LINK
def test_a_link_of_each_purpose_named_opens_the_page_and_no_other(world: World, page: Page) -> None:
    for purpose in Link.Purpose.values:
        client = Client()
        open_link(client, world.ours.tokens[purpose])
        address = page.address(world.ours, link_id=world.ours.link(purpose).pk)
        met = answers(client, address, page.form(world.ours))
        opens = purpose in page.purposes and not _names_no_session(page, purpose)
        assert met == {ALLOWED if opens else NOT_FOUND}, purpose


def _names_no_session(page: Page, purpose: str) -> bool:
    """A session's own link says which one it is; that of the rider's page needs it in the address."""
    is_of_a_session = page.name in ("link-session", "link-answer")
    return is_of_a_session and purpose == Link.Purpose.PAGE and "key_id" not in page.arguments


@BY_LINK
def test_a_link_opens_no_page_of_another_link(world: World, visitors: Visitors, page: Page) -> None:
    met = answers(visitors(LINK, page), page.address(world.theirs), page.form(world.theirs))
    assert met == {NOT_FOUND}


@BY_LINK
def test_a_link_withdrawn_after_it_was_opened_opens_nothing_more(
    world: World, visitors: Visitors, page: Page
) -> None:
    with access.within(world.ours.club):
        Link.objects.update(revoked_at=WORLD_NOW)
    assert answers(visitors(LINK, page), page.address(world.ours), page.form(world.ours)) == {NOT_FOUND}


@BY_LINK
def test_a_link_opened_two_hours_ago_must_be_opened_again(
    world: World, visitors: Visitors, page: Page
) -> None:
    client, address, form = visitors(LINK, page), page.address(world.ours), page.form(world.ours)
    with clock_stands(WORLD_NOW + access.LINK_SESSION):
        assert answers(client, address, form) == {NOT_FOUND}
        open_link(client, world.ours.tokens[page.purpose])
        assert answers(client, address, form) == {ALLOWED}


@BY_TOKEN
def test_a_token_in_an_address_opens_what_it_is_for_while_it_lasts(world: World, page: Page) -> None:
    for token in (world.ours.stale[page.purpose], "nonsense"):
        assert answers(Client(), page.address(world.ours, token=token), page.form(world.ours)) == {NOT_FOUND}
    for purpose, token in world.ours.tokens.items():
        with undone():
            answer = Client().post(page.address(world.ours, token=token), page.form(world.ours))
        assert kind_of(answer) == (ALLOWED if purpose in page.purposes else NOT_FOUND), purpose


def test_a_token_leads_to_an_address_without_it_and_never_shows_again(world: World) -> None:
    for token in (*world.ours.tokens.values(), *world.ours.stale.values(), "nonsense"):
        client = Client()
        answer = open_link(client, token)
        assert token not in answer.get("Location", "")
        assert token not in answer.content.decode()
        assert token not in str(dict(client.session))


# --- a form of another site -------------------------------------------------------------------------------------------


def test_no_view_takes_posts_of_other_sites_but_those_listed() -> None:
    exempt = {name for name, view in _named_views(get_resolver()) if getattr(view, "csrf_exempt", False)}
    assert exempt == FROM_ANYWHERE


def _named_views(resolver: Any) -> list[tuple[str, Any]]:
    found = []
    for entry in resolver.url_patterns:
        found += _named_views(entry) if hasattr(entry, "url_patterns") else [(entry.name, entry.callback)]
    return found


@PAGES
def test_a_post_without_the_pages_own_key_is_refused(world: World, visitors: Visitors, page: Page) -> None:
    client = Client(enforce_csrf_checks=True)
    client.cookies = visitors(best(page), page).cookies.copy()
    answer = go(client, page, POST, world.ours)
    assert (answer.status_code == HTTPStatus.FORBIDDEN) == (page.name not in FROM_ANYWHERE)


# --- what is shown ----------------------------------------------------------------------------------------------------


def words_of(season: Season, other: Season) -> set[str]:
    """Every text in the rows of one club that stands in none of the other's: names, addresses, notes."""
    return _texts(season) - _texts(other)


def _texts(season: Season) -> set[str]:
    coaches = [getattr(season.people, role) for role in STAFF]
    found = {value for coach in coaches for value in (coach.user.name, coach.user.email)}
    with access.within(season.club):
        for model in project_models():
            if model.__name__ in (
                "Exercise",
                "ShippedExercise",
                "LibraryVersion",
                "User",
            ):  # of all clubs, the same for each
                continue
            for field in model._meta.local_concrete_fields:
                if isinstance(field, models.CharField | models.TextField | models.UUIDField):
                    found |= {
                        str(value) for value in model._base_manager.values_list(field.attname, flat=True)
                    }
    return {text for text in found if len(text) >= 6}


@pytest.mark.parametrize("who", [*STAFF, LINK])
def test_nothing_of_another_club_is_on_any_page(world: World, shown: Shown, who: str) -> None:
    theirs = words_of(world.theirs, world.ours)
    assert {"Larkmoor Wheelers", "Hesper", "Maddowfield", "hesper@larkmoor.example"} <= theirs
    for name, html in shown(who).items():
        assert sorted(text for text in theirs if text in html) == [], name


def test_the_words_looked_for_are_such_as_pages_show(world: World, shown: Shown) -> None:
    """The allow beside the deny: texts of the own club, gathered the same way, do stand on its pages."""
    ours = words_of(world.ours, world.theirs)
    everything = "\n".join(shown("owner").values())
    assert {"Wexenfold Hill Riders", "Okeldene"} <= {text for text in ours if text in everything}


def test_health_detail_is_on_no_page_of_an_assistant(shown: Shown) -> None:
    assert [name for name, html in shown("assistant").items() if HEALTH_WORD in html] == []
    for who in ("owner", "coach", "welfare"):
        assert any(HEALTH_WORD in html for html in shown(who).values()), who


def test_whoever_reads_health_detail_leaves_an_audit_entry(
    world: World, visitors: Visitors, shown: Shown
) -> None:
    telling = [name for name, html in shown("coach").items() if HEALTH_WORD in html]
    assert telling
    for page in pages():
        if str(page) in telling:
            before = _audited(world)
            visitors("coach", page).get(page.address(world.ours))
            assert _audited(world) > before, page


def _audited(world: World) -> int:
    with access.within(world.ours.club):
        return AuditEntry.objects.filter(action__startswith="health").count()


# --- reading changes nothing ------------------------------------------------------------------------------------------


def state_of_tables(world: World) -> dict[str, list[tuple[int, int]]]:
    """How many rows each table has and when they were last written, in both clubs."""
    tables = sorted(
        {
            model._meta.db_table
            for model in apps.get_models(include_auto_created=True)
            if model._meta.managed  # a view has no rows of its own
        }
        - WRITTEN_BY_READING
    )
    sql = " UNION ALL ".join(
        f"SELECT '{table}', count(*), coalesce(sum(xmin::text::bigint), 0) FROM \"{table}\""
        for table in tables
    )
    found: dict[str, list[tuple[int, int]]] = {table: [] for table in tables}
    for season in (world.ours, world.theirs):
        with access.within(season.club), connection.cursor() as cursor:
            cursor.execute(sql)
            for table, count, written in cursor.fetchall():
                found[table].append((count, written))
    return found


@PAGES
@pytest.mark.parametrize("method", ["get", "head"])
def test_reading_a_page_changes_nothing(world: World, visitors: Visitors, page: Page, method: str) -> None:
    before = state_of_tables(world)
    for who in ("owner", "assistant", LINK, OTHER_LINK, STRANGER, ANONYMOUS):
        getattr(visitors(who, page), method)(page.address(world.ours))
    after = state_of_tables(world)
    assert [table for table in after if after[table] != before[table]] == []


def test_a_change_would_be_noticed(world: World) -> None:
    before = state_of_tables(world)
    with access.within(world.theirs.club):
        Rider.objects.filter(pk=world.theirs.people.rider.pk).update(note="changed")
    after = state_of_tables(world)
    assert [table for table in after if after[table] != before[table]] == ["athletes_rider"]
