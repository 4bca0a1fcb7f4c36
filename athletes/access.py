"""The only doorway to a club's rows.

`within(club)` opens a transaction and tells PostgreSQL which club's rows it may see; outside it none are visible. Views
get in by a role decorator, riders by a link, the clock by `as_clock`. Another club's row is not found, never forbidden.

>>> @coach_view(plans=True)                                                    # doctest: +SKIP
... def rider(request, rider_id): ...
"""

import hashlib
import secrets
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from functools import wraps
from typing import Any, Concatenate

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.db import connection, models, transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseForbidden
from django.shortcuts import redirect, render
from django.utils import timezone, translation

from athletes.models import AuditEntry, Club, Coach, Link, Rider, User
from athletes.models.deliveries import LinkQuerySet
from athletes.tenancy import CLOCK_SCOPE, CLUB_SETTING, SCOPE_SETTING, TOKEN_SETTING, USER_SETTING

#: Session keys of the browser's session.
CHOSEN_CLUB = "club"
RIDER_LINKS = "links"
#: How long a rider's browser session lasts after a link was opened.
LINK_SESSION = timedelta(hours=2)

type View = Callable[..., HttpResponse]


@contextmanager
def _setting(**settings: str) -> Iterator[None]:
    """A transaction in which the named settings hold, put back at its end when it was an inner one."""
    names = {name: settings[name] for name in settings}
    with transaction.atomic():
        with connection.cursor() as cursor:
            before = {}
            for key, value in names.items():
                name = _NAMES[key]
                cursor.execute(
                    "SELECT current_setting(%s, true), set_config(%s, %s, true)", [name, name, value]
                )
                before[name] = cursor.fetchone()[0] or ""
        try:
            yield
        finally:
            if not connection.needs_rollback:
                with connection.cursor() as cursor:
                    for name, value in before.items():
                        cursor.execute("SELECT set_config(%s, %s, true)", [name, value])


_NAMES = {"club": CLUB_SETTING, "user": USER_SETTING, "token": TOKEN_SETTING, "scope": SCOPE_SETTING}


def within(club: Club | uuid.UUID | str) -> Any:
    """A transaction that sees the rows of `club` and no others. Nests; the outer club comes back at the end."""
    return _setting(club=str(club.pk if isinstance(club, Club) else club))


def as_clock() -> Any:
    """A transaction that may look through all clubs for what is due, and change nothing."""
    return _setting(scope=CLOCK_SCOPE)


def clubs_of_all() -> list[Club]:
    """Every club, for the clock's round."""
    with as_clock():
        return list(Club.objects.order_by("pk"))


def memberships_of(user: User) -> list[Coach]:
    """The memberships of an account, with their clubs, in the order in which they were made."""
    with _setting(user=str(user.pk)):
        return list(Coach.objects.filter(user=user).select_related("club", "user").order_by("pk"))


def found[Row: models.Model](model: type[Row], pk: Any, **filters: Any) -> Row:
    """The row of the club in force, or 404. `filters` narrow further, e.g. ``rider=rider``.

    Raises `Http404` also for a row of another club.
    """
    try:
        return model._default_manager.get(pk=pk, **filters)
    except (model.DoesNotExist, ValueError, TypeError):  # type: ignore[attr-defined]
        raise Http404 from None


# --- people with accounts ---------------------------------------------------------------------------------------------


def coach_view(*, plans: bool = False, health: bool = False, owner: bool = False) -> Callable[[View], View]:
    """Lets members of the chosen club in, inside `within(club)`, with `request.membership`.

    `plans`: only owners and coaches; `health`: only those with access to health detail; `owner`: only owners. Signed
    out: to the sign-in page. Signed in without the role: 403. Without any club: an empty page that says so.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            return _spoken(settings.LANGUAGE_CODE, enter_club, request, *args, **kwargs)

        def enter_club(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            membership = _chosen(request)
            if membership is None:
                return render(request, "athletes/no_club.html", status=403)
            if (
                (plans and not membership.plans)
                or (health and not membership.sees_health)
                or (owner and membership.role != Coach.Role.OWNER)
            ):
                return HttpResponseForbidden(render(request, "403.html").content)
            request.membership = membership  # type: ignore[attr-defined]
            with within(membership.club):
                return view(request, *args, **kwargs)

        guarded.access = ("coach", plans, health, owner)  # type: ignore[attr-defined]
        return guarded

    return decorate


def public_view(view: View) -> View:
    """Marks a view as open to all; it must reach no club's rows. Its page speaks the coach's language."""

    @wraps(view)
    def spoken(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return _spoken(settings.LANGUAGE_CODE, view, request, *args, **kwargs)

    spoken.access = ("public",)  # type: ignore[attr-defined]
    return spoken


def _spoken(language: str, view: View, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
    """The view's answer in the language, which its head names. What the browser would like to read does not count."""
    with translation.override(language):
        response = view(request, *args, **kwargs)
    response.headers["Content-Language"] = language
    return response


def _chosen(request: HttpRequest) -> Coach | None:
    memberships = memberships_of(request.user)  # type: ignore[arg-type]
    wanted = request.session.get(CHOSEN_CLUB)
    for membership in memberships:
        if str(membership.club_id) == wanted:
            return membership
    return memberships[0] if memberships else None


# --- riders with links ------------------------------------------------------------------------------------------------


def hash_of(token: str) -> str:
    """What is stored of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


def make_link(*, rider: Rider, purpose: str, subject: str = "", now: datetime, lasts: timedelta) -> str:
    """Makes a link and returns its token, 256 random bits, which exists nowhere else. Call inside `within`."""
    token = secrets.token_urlsafe(32)
    Link.objects.create(
        club_id=rider.club_id,
        rider=rider,
        purpose=purpose,
        subject=subject,
        token_hash=hash_of(token),
        made_at=now,
        expires_at=now + lasts,
    )
    return token


def open_link(request: HttpRequest, token: str, *, now: datetime) -> Link | None:
    """Takes a token from a link's address into the browser's session. None when it opens nothing.

    Changes no row but the browser's session: mail scanners follow links.
    """
    with _setting(token=hash_of(token)):
        link = Link.objects.filter(token_hash=hash_of(token)).usable(now).first()
    if link is None:
        return None
    held = {
        key: value
        for key, value in request.session.get(RIDER_LINKS, {}).items()
        if value["until"] > now.timestamp()
    }
    held[str(link.pk)] = {
        "club": str(link.club_id),
        "until": min(now + LINK_SESSION, link.expires_at).timestamp(),
    }
    request.session[RIDER_LINKS] = dict(list(held.items())[-20:])
    return link


def link_view(
    *purposes: str,
) -> Callable[[Callable[Concatenate[HttpRequest, Link, ...], HttpResponse]], View]:
    """Lets in a rider whose browser has opened a link of one of `purposes`, inside `within(club)`; second argument.

    The address names the link's number; without the session that the token opened it is a page that says how to get a
    fresh link (404). The page speaks the rider's language.
    """

    def decorate(view: Callable[..., HttpResponse]) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, link_id: int, *args: Any, **kwargs: Any) -> HttpResponse:
            now = timezone.now()
            held = request.session.get(RIDER_LINKS, {}).get(str(link_id))
            if held is None or held["until"] <= now.timestamp():
                return render(request, "athletes/link_over.html", status=404)
            with within(held["club"]):
                link = _with_rider(Link.objects.filter(pk=link_id, purpose__in=purposes), now)
                if link is None:
                    return render(request, "athletes/link_over.html", status=404)
                return _spoken(link.rider.language, view, request, link, *args, **kwargs)

        guarded.access = ("link", *purposes)  # type: ignore[attr-defined]
        return guarded

    return decorate


def token_view(purpose: str) -> Callable[[Callable[Concatenate[HttpRequest, Link, ...], HttpResponse]], View]:
    """Lets in whoever has the token itself in the address, without any session: for what a mail program does by itself.

    The view runs inside `within(club)` with the link as the second argument. A token that opens nothing is a 404.
    """

    def decorate(view: Callable[..., HttpResponse]) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, token: str, *args: Any, **kwargs: Any) -> HttpResponse:
            now = timezone.now()
            with _setting(token=hash_of(token)):
                found_link = (
                    Link.objects.filter(token_hash=hash_of(token), purpose=purpose).usable(now).first()
                )
            if found_link is None:
                return render(request, "athletes/link_over.html", status=404)
            with within(found_link.club_id):
                link = _with_rider(Link.objects.filter(pk=found_link.pk), now)
                if link is None:
                    return render(request, "athletes/link_over.html", status=404)
                return _spoken(link.rider.language, view, request, link, *args, **kwargs)

        guarded.access = ("token", purpose)  # type: ignore[attr-defined]
        return guarded

    return decorate


def _with_rider(links: LinkQuerySet, now: datetime) -> Link | None:
    return links.usable(now).select_related("rider__club", "rider__squad__coach__user").first()


def enter(request: HttpRequest, token: str) -> HttpResponse:
    """The address in a mail: moves the token into a short session and goes to a clean address."""
    link = open_link(request, token, now=timezone.now())
    if link is None:
        return render(request, "athletes/link_over.html", status=404)
    return redirect(f"link-{link.purpose}", link_id=link.pk)


enter.access = ("public",)  # type: ignore[attr-defined]


# --- audit ------------------------------------------------------------------------------------------------------------


def record(
    action: str,
    *,
    club_id: Any,
    by: str,
    now: datetime,
    rider: Rider | None = None,
    subject: str = "",
    **details: Any,
) -> None:
    """Writes one line of the audit log. `details` hold keys and counts, never health detail."""
    AuditEntry.objects.create(
        club_id=club_id,
        at=now,
        actor=by,
        action=action,
        rider_key=rider.pk if rider else None,
        subject=subject,
        details=details,
    )


def name_of(by: "Coach | Rider | str") -> str:
    """How the audit log names an actor: by role and number, so that it holds no names."""
    if isinstance(by, Coach):
        return f"coach:{by.pk}"
    if isinstance(by, Rider):
        return f"rider:{by.pk}"
    return by
