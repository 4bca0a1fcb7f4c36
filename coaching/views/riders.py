"""One rider as a coach looks at them."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from athletes import access, profiles
from athletes.access import coach_view, found
from athletes.models import Rider
from coaching.desk import read_rider
from coaching.views.desk import week_or_404
from programs import plans, relief


@coach_view()
@require_safe
def rider(request: HttpRequest, rider_id: int) -> HttpResponse:
    """Weeks, what was asked and done, load, pain, follow-ups, kit and times of one rider."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    row = _rider(rider_id)
    page = read_rider(row, club=membership.club, may_see_health=membership.sees_health, now=now)
    if page.shows_health:
        access.record(
            "health.read",
            club_id=membership.club_id,
            by=access.name_of(membership),
            now=now,
            rider=row,
            subject="rider",
        )
    return render(request, "coaching/rider.html", {"section": "riders", "page": page, "rider": row})


@coach_view(plans=True)
@require_POST
def pause_rider(request: HttpRequest, rider_id: int) -> HttpResponse:
    """The rider is paused, and what was planned for this week and the next is taken back at once."""
    now = timezone.now()
    row = _rider(rider_id)
    profiles.pause(rider=row, by=request.membership, now=now)  # type: ignore[attr-defined]
    relief.ease_remaining(rider=row, by=request.membership, now=now)  # type: ignore[attr-defined]
    messages.success(request, _("{name} is paused: nothing goes out until you resume.").format(name=row.name))
    return redirect("rider", rider_id=rider_id)


@coach_view(plans=True)
@require_POST
def resume_rider(request: HttpRequest, rider_id: int) -> HttpResponse:
    """The rider trains again; a week that was held can be worked out again from their page."""
    row = _rider(rider_id)
    profiles.resume(rider=row, by=request.membership, now=timezone.now())  # type: ignore[attr-defined]
    messages.success(
        request, _("{name} trains again, from the next week that is worked out.").format(name=row.name)
    )
    return redirect("rider", rider_id=rider_id)


@coach_view(plans=True)
@require_POST
def work_out_again(request: HttpRequest, rider_id: int, year: int, number: int) -> HttpResponse:
    """Works one week of this rider out again, as long as it waits and no coach has edited it."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    row = _rider(rider_id)
    result = plans.resolve(
        club=membership.club, week=week_or_404(year, number), by=membership, now=now, riders=[row], again=True
    )
    if result.made:
        messages.success(request, _("The week of {name} was worked out again.").format(name=row.name))
    elif result.failed:
        why = result.failed[0][1]
        messages.warning(
            request, _("The week of {name} could not be worked out: {why}").format(name=row.name, why=why)
        )
    else:
        messages.warning(
            request,
            _("The week of {name} stays as it is: it was approved, sent or edited.").format(name=row.name),
        )
    return redirect("rider", rider_id=rider_id)


def _rider(rider_id: int) -> Rider:
    """The rider with squad and club, or 404."""
    found(Rider, rider_id)
    return Rider.objects.select_related("squad__coach__user", "club").get(pk=rider_id)
