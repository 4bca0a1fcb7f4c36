"""A rider's times, rides, hours on the bike, kit, and days away: one page each, each form on its own."""

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.forms import BaseFormSet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from athletes import kit, profiles
from athletes.access import coach_view, found
from athletes.forms.diary import (
    AbsenceForm,
    BikeHoursForm,
    OpeningForm,
    RideForm,
    VenueForm,
    times_formset,
    venue_initial,
)
from athletes.models import Absence, BikeHours, Opening, RegularRide, Rider, Venue
from athletes.pain import ConsentMissing
from athletes.times import PARTS_OF_DAY
from athletes.views.riders import member, rider_of

#: Empty rows offered below those that are there.
SPARE_ROWS = 3
WEEKS_SHOWN = 8
EXAMPLES = (
    "kettlebell 8, 12, 16",
    "dumbbell 2 x 5, 2 x 7.5",
    "2 adjustable dumbbells 2.5 to 20 by 2.5",
    "barbell 20; collars 0.5; discs 2 x 1.25, 4 x 5",
    "vest 5; backpack 10",
    "band 1, 2",
)


def _page(request: HttpRequest, template: str, rider: Rider, tab: str, **context: Any) -> HttpResponse:
    status = 422 if request.method == "POST" else 200
    return render(
        request, template, {"section": "riders", "rider": rider, "tab": tab, **context}, status=status
    )


# --- times and rides --------------------------------------------------------------------------------------------------


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def times(request: HttpRequest, rider_id: int) -> HttpResponse:
    """When the rider can train, and where."""
    rider = rider_of(rider_id)
    venues = profiles.venues_for(rider)
    if not venues:
        return render(
            request,
            "athletes/rider_times.html",
            {"section": "riders", "rider": rider, "tab": "times", "needs_venue": True},
        )
    rows = Opening.objects.filter(rider=rider)
    initial = [
        {
            "weekday": row.weekday,
            "start": row.start,
            "minutes": row.minutes,
            "venue": row.venue_id,
            "preferred": row.preferred,
        }
        for row in rows
    ]
    formset = _formset(request, OpeningForm, initial, {"venues": venues})
    if request.method == "POST" and formset.is_valid():
        openings = [(one, form.place()) for form in formset if (one := form.time()) is not None]
        profiles.set_openings(rider=rider, openings=openings, by=member(request), now=timezone.now())
        messages.success(request, _("The times of {name} are saved.").format(name=rider.name))
        return redirect("rider-times", rider.pk)
    return _page(request, "athletes/rider_times.html", rider, "times", formset=formset, parts=PARTS_OF_DAY)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def rides(request: HttpRequest, rider_id: int) -> HttpResponse:
    """The rides that come round each week, and the hours of past weeks."""
    rider = rider_of(rider_id)
    formset = _formset(request, RideForm, _rides_initial(rider), {})
    if request.method == "POST" and formset.is_valid():
        found_rides = [
            (one, form.cleaned_data["is_key"]) for form in formset if (one := form.time()) is not None
        ]
        profiles.set_rides(rider=rider, rides=found_rides, by=member(request), now=timezone.now())
        messages.success(request, _("The rides of {name} are saved.").format(name=rider.name))
        return redirect("rider-rides", rider.pk)
    hours = _hours_form(None, rider, timezone.now())
    return _page(request, "athletes/rider_rides.html", rider, "rides", formset=formset, hours=hours)


@coach_view(plans=True)
@require_POST
def bike_hours(request: HttpRequest, rider_id: int) -> HttpResponse:
    """Hours on the bike, week by week."""
    now, rider = timezone.now(), rider_of(rider_id)
    form = _hours_form(request.POST, rider, now)
    if form.is_valid():
        for monday, hours in form.changes():
            week = monday.isocalendar()
            profiles.set_bike_hours(
                rider=rider, year=week.year, week=week.week, hours=hours, by=member(request), now=now
            )
        messages.success(request, _("The bike hours of {name} are saved.").format(name=rider.name))
        return redirect("rider-rides", rider.pk)
    formset = times_formset(RideForm, rows=SPARE_ROWS)(initial=_rides_initial(rider), prefix="rows")
    return _page(request, "athletes/rider_rides.html", rider, "rides", formset=formset, hours=form, form=form)


def _formset(
    request: HttpRequest, form: type[Any], initial: list[dict[str, Any]], options: dict[str, Any]
) -> BaseFormSet:
    made = times_formset(form, rows=SPARE_ROWS)
    data = request.POST if request.method == "POST" else None
    return made(data, initial=initial, prefix="rows", form_kwargs=options)


def _rides_initial(rider: Rider) -> list[dict[str, Any]]:
    return [
        {"weekday": row.weekday, "start": row.start, "minutes": row.minutes, "is_key": row.is_key}
        for row in RegularRide.objects.filter(rider=rider)
    ]


def _hours_form(data: Any, rider: Rider, now: Any) -> BikeHoursForm:
    today = profiles.today_of(rider, now)
    monday = today - timedelta(days=today.weekday())
    mondays = [monday - timedelta(weeks=number) for number in range(WEEKS_SHOWN)]
    known = {
        date.fromisocalendar(row.iso_year, row.iso_week, 1): row.hours
        for row in BikeHours.objects.filter(rider=rider)
    }
    initial = {BikeHoursForm.name_of(day): known[day] for day in mondays if day in known}
    return BikeHoursForm(data, mondays=mondays, initial=initial, prefix="hours")


# --- kit --------------------------------------------------------------------------------------------------------------


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD"])
def venues(request: HttpRequest, rider_id: int) -> HttpResponse:
    """Where the rider trains, and what is there."""
    rider = rider_of(rider_id)
    own = Venue.objects.filter(rider=rider).prefetch_related("items")
    shared = Venue.objects.filter(rider__isnull=True).prefetch_related("items")
    lists = [
        [(venue, kit.write_kit(profiles.kit_of(venue), rider.unit)) for venue in rows]
        for rows in (own, shared)
    ]
    return _page(request, "athletes/rider_venues.html", rider, "venues", own=lists[0], shared=lists[1])


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def venue(request: HttpRequest, rider_id: int, venue_id: int | None = None) -> HttpResponse:
    """One place of the rider's own, or a new one."""
    rider = rider_of(rider_id)
    row = found(Venue, venue_id, rider=rider) if venue_id else None
    initial = venue_initial(row, profiles.kit_of(row), rider.unit) if row else {}
    form = VenueForm(request.POST or None, unit=rider.unit, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            saved = profiles.save_venue(
                club=rider.club,
                rider=rider,
                venue=row,
                name=form.cleaned_data["name"],
                kit=form.whole_kit(),
                by=member(request),
                now=timezone.now(),
            )
        except profiles.VenueExists:
            form.add_error("name", _("The rider has a place of this name already. Choose another name."))
        else:
            read = kit.write_kit(form.whole_kit(), rider.unit) or _("body weight alone")
            messages.success(request, _("{venue} is saved: {kit}.").format(venue=saved.name, kit=read))
            return redirect("rider-venues", rider.pk)
    return _page(
        request, "athletes/rider_venue.html", rider, "venues", form=form, venue=row, examples=EXAMPLES
    )


@coach_view(plans=True)
@require_POST
def remove_venue(request: HttpRequest, rider_id: int, venue_id: int) -> HttpResponse:
    """The place is gone, unless times are planned there."""
    rider = rider_of(rider_id)
    row = found(Venue, venue_id, rider=rider)
    try:
        profiles.remove_venue(venue=row, by=member(request), now=timezone.now())
        messages.success(request, _("{venue} is removed.").format(venue=row.name))
    except profiles.VenueInUse as used:
        text = _("{venue} stays: {count} times to train are there. Move them first.")
        messages.warning(request, text.format(venue=row.name, count=used.openings))
    return redirect("rider-venues", rider.pk)


# --- days away --------------------------------------------------------------------------------------------------------


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def absences(request: HttpRequest, rider_id: int) -> HttpResponse:
    """Days away, to come and lately past."""
    now, rider = timezone.now(), rider_of(rider_id)
    form = AbsenceForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            profiles.add_absence(rider=rider, **form.cleaned_data, by=member(request), now=now)
        except ConsentMissing:
            form.add_error(
                "kind",
                _(
                    "Illness and injury are health data, and no consent stands. Record consent first, or choose other."
                ),
            )
        else:
            messages.success(request, _("The days away of {name} are saved.").format(name=rider.name))
            return redirect("rider-absences", rider.pk)
    since = profiles.today_of(rider, now) - timedelta(days=60)
    rows = Absence.objects.filter(rider=rider, until_on__gte=since)
    club_rows = Absence.objects.filter(rider__isnull=True, until_on__gte=since)
    return _page(
        request, "athletes/rider_absences.html", rider, "absences", form=form, rows=rows, club_rows=club_rows
    )


@coach_view(plans=True)
@require_POST
def remove_absence(request: HttpRequest, rider_id: int, absence_id: int) -> HttpResponse:
    """The rider is not away after all."""
    rider = rider_of(rider_id)
    profiles.remove_absence(
        absence=found(Absence, absence_id, rider=rider), by=member(request), now=timezone.now()
    )
    messages.success(request, _("The days away are removed."))
    return redirect("rider-absences", rider.pk)
