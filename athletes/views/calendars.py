"""Races and holidays of the club: listed, entered by hand, or read from a calendar file."""

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes import calendars, clubs
from athletes.access import coach_view, found
from athletes.forms.clubs import HolidayForm, RaceForm
from athletes.forms.uploads import CalendarChoicesForm, CalendarFileForm, pack
from athletes.models import Absence, Club, Race, Rider
from athletes.standings import zone_of
from athletes.views.riders import member
from athletes.views.roster import is_too_large

#: How far ahead a calendar file is read, and how far back the list goes.
AHEAD, BACK = timedelta(days=730), timedelta(days=30)


def _today(club: Club) -> Any:
    return timezone.now().astimezone(zone_of(Rider(), club)).date()


@coach_view()
@require_safe
def races(request: HttpRequest) -> HttpResponse:
    """What the club's plans bend for, and the days on which nobody trains."""
    since = _today(member(request).club) - BACK
    context = {
        "section": "squads",
        "races": Race.objects.filter(on__gte=since).select_related("squad"),
        "holidays": Absence.objects.filter(rider__isnull=True, until_on__gte=since),
    }
    return render(request, "athletes/races.html", context)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def race(request: HttpRequest, race_id: int | None = None) -> HttpResponse:
    """One race, or a new one."""
    membership, now = member(request), timezone.now()
    row = found(Race, race_id) if race_id else None
    initial = (
        {"name": row.name, "on": row.on, "start": row.start, "priority": row.priority, "squad": row.squad_id}
        if row
        else {"start": clubs.RACE_START, "priority": Race.Priority.OTHER}
    )
    form = RaceForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        if row:
            clubs.change_race(race=row, values=form.cleaned_data, by=membership, now=now)
        else:
            row = clubs.add_race(club=membership.club, **form.cleaned_data, by=membership, now=now)
        messages.success(request, _("{race} is in the calendar.").format(race=row.name))
        return redirect("races")
    return _page(request, "athletes/race.html", form=form, race=row)


@coach_view(plans=True)
@require_POST
def remove_race(request: HttpRequest, race_id: int) -> HttpResponse:
    """The race is out of the calendar."""
    row = found(Race, race_id)
    clubs.remove_race(race=row, by=member(request), now=timezone.now())
    messages.success(request, _("{race} is out of the calendar.").format(race=row.name))
    return redirect("races")


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def holiday(request: HttpRequest) -> HttpResponse:
    """Days on which nobody trains."""
    membership = member(request)
    form = HolidayForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        clubs.add_holiday(club=membership.club, **form.cleaned_data, by=membership, now=timezone.now())
        messages.success(request, _("{name} is in the calendar.").format(name=form.cleaned_data["name"]))
        return redirect("races")
    return _page(request, "athletes/holiday.html", form=form)


@coach_view(plans=True)
@require_POST
def remove_holiday(request: HttpRequest, holiday_id: int) -> HttpResponse:
    """The holiday is out of the calendar."""
    row = found(Absence, holiday_id, rider=None)
    clubs.remove_holiday(holiday=row, by=member(request), now=timezone.now())
    messages.success(request, _("{name} is out of the calendar.").format(name=row.name or _("The holiday")))
    return redirect("races")


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def upload(request: HttpRequest) -> HttpResponse:
    """A calendar file, then what becomes of each entry, then the club's calendar has them: each once."""
    if request.method != "POST":
        return _page(request, "athletes/calendar_upload.html", form=CalendarFileForm())
    if request.POST.get("entries"):
        return _apply(request)
    form = CalendarFileForm(request.POST, request.FILES)
    club = member(request).club
    if is_too_large(request, calendars.LARGEST_FILE):
        form.errors.pop("file", None)
        form.add_error("file", _("The file is larger than 1 MB. Export a shorter time."))
    elif form.is_valid():
        today = _today(club)
        try:
            entries = calendars.read_calendar(
                form.cleaned_data["file"].read(), from_on=today, until_on=today + AHEAD, zone=club.zone
            )
        except calendars.CalendarFileError as why:
            form.add_error("file", str(why))
        else:
            if entries:
                choices = CalendarChoicesForm(initial={"entries": pack(entries)}, known=clubs.known_entries())
                context = {"section": "squads", "form": choices}
                return render(request, "athletes/calendar_choices.html", context)
            form.add_error("file", _("The file holds no race or holiday of the next two years."))
    return _page(request, "athletes/calendar_upload.html", form=form)


def _apply(request: HttpRequest) -> HttpResponse:
    membership = member(request)
    form = CalendarChoicesForm(request.POST, known=clubs.known_entries())
    if form.is_broken:
        broken = CalendarFileForm({}, {})
        broken.errors["file"] = broken.error_class(
            [_("The entries did not come back whole. Choose the file again.")]
        )
        return _page(request, "athletes/calendar_upload.html", form=broken)
    if not form.is_valid():
        return _page(request, "athletes/calendar_choices.html", form=form)
    counts = clubs.apply_calendar(
        club=membership.club,
        chosen=form.chosen(),
        squad=form.cleaned_data["squad"],
        by=membership,
        now=timezone.now(),
    )
    text = _("{races} races and {holidays} holidays are added.")
    if not counts["races"] and not counts["holidays"]:
        text = _("Nothing was added.")
    messages.success(request, text.format(**counts))
    return redirect("races")


def _page(request: HttpRequest, template: str, **context: Any) -> HttpResponse:
    status = 422 if request.method == "POST" else 200
    return render(request, template, {"section": "squads", **context}, status=status)
