"""Squads and the settings of the club, with the places that all riders may use."""

from typing import Any

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes import clubs, kit, profiles
from athletes.access import coach_view, found
from athletes.forms.clubs import ClubForm, LimitsConfirmedForm, SquadForm
from athletes.forms.diary import VenueForm, venue_initial
from athletes.models import Coach, Race, Rider, Squad, Venue
from athletes.models.riders import WEEKDAYS
from athletes.standings import zone_of
from athletes.views.diary import EXAMPLES
from athletes.views.riders import member


def _page(request: HttpRequest, template: str, section: str, **context: Any) -> HttpResponse:
    status = 422 if request.method == "POST" else 200
    return render(request, template, {"section": section, **context}, status=status)


# --- squads -----------------------------------------------------------------------------------------------------------


@coach_view()
@require_safe
def squads(request: HttpRequest) -> HttpResponse:
    """The squads with their coaches and how many ride in each."""
    current = Count("riders", filter=~Q(riders__state=Rider.State.LEFT))
    today = timezone.now().astimezone(zone_of(Rider(), member(request).club)).date()
    context = {
        "section": "squads",
        "squads": Squad.objects.select_related("coach__user").annotate(size=current),
        "next_race": Race.objects.filter(on__gte=today).first(),
    }
    return render(request, "athletes/squads.html", context)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def squad(request: HttpRequest, squad_id: int | None = None) -> HttpResponse:
    """One squad, or a new one."""
    membership, now = member(request), timezone.now()
    row = found(Squad, squad_id) if squad_id else None
    initial = {"name": row.name, "coach": row.coach_id} if row else {"coach": membership.pk}
    form = SquadForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            if row:
                row = clubs.change_squad(squad=row, **form.cleaned_data, by=membership, now=now)
            else:
                row = clubs.add_squad(club=membership.club, **form.cleaned_data, by=membership, now=now)
        except clubs.SquadExists:
            form.add_error("name", _("There is a squad of this name. Choose another one."))
        else:
            messages.success(request, _("{squad} is saved.").format(squad=row.name))
            return redirect("squads")
    return _page(request, "athletes/squad.html", "squads", form=form, squad=row)


@coach_view(plans=True)
@require_POST
def remove_squad(request: HttpRequest, squad_id: int) -> HttpResponse:
    """The squad is gone, if nobody is in it."""
    row = found(Squad, squad_id)
    try:
        clubs.remove_squad(squad=row, by=member(request), now=timezone.now())
        messages.success(request, _("{squad} is removed.").format(squad=row.name))
    except clubs.SquadInUse as used:
        text = (
            _(
                "{squad} stays: it has {count} riders, those who left included. Move them to another squad first."
            )
            if used.riders
            else _("{squad} stays: it has a program. Remove that first.")
        )
        messages.warning(request, text.format(squad=row.name, count=used.riders))
    return redirect("squads")


# --- settings ---------------------------------------------------------------------------------------------------------


@coach_view()
@require_safe
def settings(request: HttpRequest) -> HttpResponse:
    """What holds for the whole club; only the owner changes it."""
    club = member(request).club
    return _settings_page(
        request, ClubForm(instance=club), LimitsConfirmedForm(prefix="limits", today=_today(request))
    )


@coach_view(owner=True)
@require_POST
def save_settings(request: HttpRequest) -> HttpResponse:
    """The owner's changes."""
    membership = member(request)
    form = ClubForm(request.POST, instance=membership.club)
    if form.is_valid():
        clubs.change(club=membership.club, settings=form.cleaned_data, by=membership, now=timezone.now())
        messages.success(request, _("The settings are saved."))
        return redirect("settings")
    membership.club.refresh_from_db()
    return _settings_page(request, form, LimitsConfirmedForm(prefix="limits", today=_today(request)))


@coach_view(owner=True)
@require_POST
def confirm_limits(request: HttpRequest) -> HttpResponse:
    """Which clinician confirmed the pain limits."""
    membership = member(request)
    form = LimitsConfirmedForm(request.POST, prefix="limits", today=_today(request))
    if form.is_valid():
        clubs.confirm_limits(
            club=membership.club,
            confirmed_by=form.cleaned_data["confirmed_by"],
            on=form.cleaned_data["confirmed_on"],
            by=membership,
            now=timezone.now(),
        )
        messages.success(request, _("The confirmation is on record."))
        return redirect("settings")
    return _settings_page(request, ClubForm(instance=membership.club), form)


def _today(request: HttpRequest) -> Any:
    return timezone.now().astimezone(zone_of(Rider(), member(request).club)).date()


def _settings_page(request: HttpRequest, form: ClubForm, limits_form: LimitsConfirmedForm) -> HttpResponse:
    club = member(request).club
    venues = Venue.objects.filter(rider__isnull=True).prefetch_related("items")
    return _page(
        request,
        "athletes/settings.html",
        "settings",
        form=limits_form if limits_form.is_bound else form,
        club_form=form,
        limits_form=limits_form,
        club=club,
        is_owner=member(request).role == Coach.Role.OWNER,
        resolves=(WEEKDAYS[club.resolves_on][1], f"{club.resolves_at_hour:02}:00"),
        sends=(WEEKDAYS[club.sends_on][1], f"{club.sends_at_hour:02}:00"),
        venues=[(venue, kit.write_kit(profiles.kit_of(venue))) for venue in venues],
    )


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def venue(request: HttpRequest, venue_id: int | None = None) -> HttpResponse:
    """A place of the club's, open to all riders, such as a club gym."""
    membership = member(request)
    row = found(Venue, venue_id, rider=None) if venue_id else None
    form = VenueForm(
        request.POST or None, initial=venue_initial(row, profiles.kit_of(row), "kg") if row else {}
    )
    if request.method == "POST" and form.is_valid():
        try:
            saved = profiles.save_venue(
                club=membership.club,
                rider=None,
                venue=row,
                name=form.cleaned_data["name"],
                kit=form.whole_kit(),
                by=membership,
                now=timezone.now(),
            )
        except profiles.VenueExists:
            form.add_error("name", _("The club has a place of this name already. Choose another name."))
        else:
            messages.success(
                request,
                _("{venue} is saved: {kit}.").format(venue=saved.name, kit=kit.write_kit(form.whole_kit())),
            )
            return redirect("squads")
    return _page(request, "athletes/venue.html", "squads", form=form, venue=row, examples=EXAMPLES)


@coach_view(plans=True)
@require_POST
def remove_venue(request: HttpRequest, venue_id: int) -> HttpResponse:
    """The place is gone, unless times are planned there."""
    row = found(Venue, venue_id, rider=None)
    try:
        profiles.remove_venue(venue=row, by=member(request), now=timezone.now())
        messages.success(request, _("{venue} is removed.").format(venue=row.name))
    except profiles.VenueInUse as used:
        text = _("{venue} stays: {count} times to train are there. Move them first.")
        messages.warning(request, text.format(venue=row.name, count=used.openings))
    return redirect("squads")
