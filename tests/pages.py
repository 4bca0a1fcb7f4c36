"""Every address of the project, found in the URLconf, with what it takes to go there as each kind of person.

An address that comes later is found by itself. It needs a line here only when it takes an argument that no other takes
(`ARGUMENTS`), or when its form must hold something to be answered at all (`FORMS`).
"""

import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from email.message import EmailMessage
from pathlib import Path
from typing import Any

from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from athletes import access
from athletes.models import Coach, Link
from tests.world import COMING, WORLD_NOW, Season, World, undone

#: The caught mail that the demo's pages show.
CAUGHT = "20261204-130000-1.eml"


@dataclass(frozen=True)
class Page:
    """One address: its name, its view's class of access, and the names of its arguments."""

    name: str
    access: tuple[Any, ...] | None
    arguments: tuple[str, ...]
    route: str

    def __str__(self) -> str:
        """Its name and arguments, which no two addresses share."""
        return "-".join([self.name, *self.arguments])

    @property
    def is_public(self) -> bool:
        return bool(self.access) and self.access[0] == "public"

    @property
    def is_for_coaches(self) -> bool:
        return bool(self.access) and self.access[0] == "coach"

    @property
    def is_by_token(self) -> bool:
        """Whether the token in the address is itself the permission, for whoever has it."""
        return bool(self.access) and self.access[0] == "token"

    @property
    def purposes(self) -> tuple[str, ...]:
        """What a link may be for to open it; empty for other pages."""
        return tuple(self.access[1:]) if self.access and self.access[0] in ("link", "token") else ()

    @property
    def purpose(self) -> str:
        """The first of the purposes; that of the rider's own page for pages that no link opens."""
        return self.purposes[0] if self.purposes else Link.Purpose.PAGE

    @property
    def is_owned(self) -> bool:
        """Whether its address names a row of one club."""
        return any(self.argument(name).is_owned for name in self.arguments)

    def address(self, season: Season, **instead: object) -> str:
        """The address of this page of the club's, with `instead` in place of what the arguments would be."""
        values = {name: self.argument(name).value(season, self) for name in self.arguments}
        return reverse(self.name, kwargs=values | instead)

    def form(self, season: Season) -> dict[str, Any]:
        """What is posted to it."""
        return FORMS.get(self.name, lambda _season: {})(season)

    def argument(self, name: str) -> "Argument":
        """How an argument of its address is made. Raises `KeyError`: tests/pages.py does not know it."""
        return SPECIAL.get((self.name, name)) or ARGUMENTS[name]


@dataclass(frozen=True)
class Argument:
    """How an argument of an address is found in a club; `is_owned` says that it names a row of that club."""

    value: Callable[[Season, Page], object]
    is_owned: bool = True


def _open(value: Callable[[Season, Page], object]) -> Argument:
    return Argument(value, is_owned=False)


def _first(season: Season, path: str) -> Any:
    """The key of a row found from the season by a path of attributes and related managers."""
    with access.within(season.club):
        found: Any = season
        for step in path.split("."):
            found = getattr(found, step)
            found = found.order_by("pk").first() if hasattr(found, "order_by") else found
        return found.pk


#: Argument of an address -> how it is found. The name says what it is, wherever it occurs.
ARGUMENTS: dict[str, Argument] = {
    "year": _open(lambda _season, _page: COMING.year),
    "number": _open(lambda _season, _page: COMING.number),
    "name": _open(lambda _season, _page: CAUGHT),
    "part": _open(lambda _season, _page: 1),
    # by link
    "token": Argument(lambda season, page: season.tokens[page.purpose]),
    "link_id": Argument(lambda season, page: season.link(page.purpose).pk),
    "key_id": Argument(lambda season, _page: season.key.pk),
    "form_key": _open(lambda _season, _page: uuid.UUID(int=1)),
    # riders
    "rider_id": Argument(lambda season, _page: season.people.rider.pk),
    "venue_id": Argument(lambda season, _page: season.people.venue.pk),
    "absence_id": Argument(lambda season, _page: _first(season, "people.rider.absences")),
    "screening_id": Argument(lambda season, _page: _first(season, "people.rider.screenings")),
    "limit_id": Argument(lambda season, _page: _first(season, "people.rider.limits")),
    "baseline_id": Argument(lambda season, _page: _first(season, "people.rider.baselines")),
    "report_id": Argument(lambda season, _page: _first(season, "people.rider.symptom_reports")),
    # the club
    "squad_id": Argument(lambda season, _page: season.people.squad.pk),
    "race_id": Argument(lambda season, _page: season.race.pk),
    "holiday_id": Argument(lambda season, _page: season.holiday.pk),
    "roster_id": Argument(lambda season, _page: season.roster.pk),
    # the week
    "plan_id": Argument(lambda season, _page: season.waiting.pk),
    "ordinal": _open(lambda _season, _page: 1),
    "item_id": Argument(lambda season, _page: _first(season, "waiting.sessions.items")),
    "follow_up_id": Argument(lambda season, _page: season.follow_up.pk),
    # programs and the library
    "slug": _open(lambda _season, _page: "chair-stand"),
    "program_id": Argument(lambda season, _page: season.people.program.pk),
    "block_id": Argument(lambda season, _page: _first(season, "people.program.blocks")),
    "template_id": Argument(lambda season, _page: _first(season, "people.program.blocks.templates")),
    "slot_id": Argument(lambda season, _page: _first(season, "people.program.blocks.templates.slots")),
}
#: (address, argument) -> how it is found there, where the name alone does not say.
SPECIAL: dict[tuple[str, str], Argument] = {
    ("venue", "venue_id"): Argument(lambda season, _page: season.hall.pk),
    ("exercise-restore", "slug"): _open(lambda _season, _page: "hill-squat"),
    ("exercise-figure", "slug"): _open(lambda _season, _page: "goblet-squat"),
    ("exercise-shipped", "slug"): _open(lambda _season, _page: "goblet-squat"),
    ("venue-remove", "venue_id"): Argument(lambda season, _page: season.hall.pk),
}
#: Address -> what its form holds, where an empty form would not even be answered.
FORMS: dict[str, Callable[[Season], dict[str, Any]]] = {
    "stop-mail": lambda _season: {"List-Unsubscribe": "One-Click"},
    "week-take-back": lambda _season: {"at": WORLD_NOW.isoformat()},
}


def pages() -> list[Page]:
    """Every address of the URLconf, in its order."""
    return [Page(*each) for each in _walk(get_resolver(), "")]


def _walk(resolver: URLResolver, prefix: str) -> Iterator[tuple[Any, ...]]:
    for entry in resolver.url_patterns:
        route = prefix + str(entry.pattern)
        if isinstance(entry, URLResolver):
            yield from _walk(entry, route)
        else:
            yield _describe(entry, route)


def _describe(entry: URLPattern, route: str) -> tuple[Any, ...]:
    return (
        entry.name or f"(unnamed: {route})",
        getattr(entry.callback, "access", None),
        tuple(entry.pattern.converters),
        route,
    )


# --- who goes there ---------------------------------------------------------------------------------------------------

GET, POST = "get", "post"
STAFF = ("owner", "coach", "assistant", "welfare")
ANONYMOUS, LINK, STALE_LINK, OTHER_LINK, STRANGER = (
    "anonymous",
    "rider by link",
    "by a link that has run out",
    "rider by link for something else",
    "owner of another club",
)
EVERYBODY = (ANONYMOUS, LINK, STALE_LINK, OTHER_LINK, *STAFF, STRANGER)


class Visitors:
    """One browser for each kind of person and purpose, signed in or with the link open.

    `go` takes back whatever a request writes, the browser's session too: each comes as if for the first time.
    """

    def __init__(self, world: World) -> None:
        self._world = world
        self._kept = {who: self._signed_in(membership(who, world)) for who in STAFF}
        self._kept[STRANGER] = self._signed_in(world.theirs.people.owner)
        self._kept[ANONYMOUS] = Client()
        for purpose in Link.Purpose.values:
            self._kept[f"{LINK} {purpose}"] = self._by_link(world.ours.tokens[purpose])
            self._kept[f"{STALE_LINK} {purpose}"] = self._by_link(world.ours.stale[purpose])

    def __call__(self, who: str, page: Page) -> Client:
        """The browser of this kind of person at the page."""
        if who == OTHER_LINK:
            return self._kept[f"{LINK} {other_purpose(page)}"]
        return self._kept[f"{who} {page.purpose}" if who in (LINK, STALE_LINK) else who]

    @staticmethod
    def _signed_in(member: Coach) -> Client:
        client = Client()
        client.force_login(member.user)
        return client

    @staticmethod
    def _by_link(token: str) -> Client:
        client = Client()
        open_link(client, token)
        return client


def membership(who: str, world: World) -> Coach:
    """The member of our club in that role."""
    found: Coach = getattr(world.ours.people, who)
    return found


def other_purpose(page: Page) -> str:
    """A purpose that does not open the page."""
    mine = page.purposes or (page.purpose,)
    return next(purpose for purpose in Link.Purpose.values if purpose not in mine)


def go(client: Client, page: Page, method: str, season: Season, **headers: str) -> HttpResponse:
    """The answer of a page of the club's, with whatever was written taken back."""
    cookies = client.cookies.copy()
    try:
        with undone():
            data = page.form(season) if method == POST else {}
            return getattr(client, method)(page.address(season), data, headers=headers)
    finally:
        client.cookies = cookies


def open_link(client: Client, token: str) -> HttpResponse:
    """The address in the mail is opened."""
    return client.get(reverse("link-enter", args=[token]))


def catch_a_mail(folder: Path) -> None:
    """The demo's folder of caught mail holds one, in both forms."""
    mail = EmailMessage()
    mail["Subject"], mail["From"], mail["To"] = (
        "Your week",
        "plans@ballast.example",
        "tobias@wexenfold.example",
    )
    mail.set_content("Your week\n")
    mail.add_alternative("<!DOCTYPE html><html><body><p>Your week</p></body></html>", subtype="html")
    (folder / CAUGHT).write_bytes(mail.as_bytes())
