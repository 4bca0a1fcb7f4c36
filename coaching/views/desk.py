"""The weekly desk: the club's week by exception, worked out and approved from one page."""

from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from athletes import access
from athletes.access import coach_view
from athletes.models import Squad
from coaching.desk import WeekDesk, read_week
from programs import plans
from programs.engine.facts import Week
from programs.engine.quantities import shift_week, week_days, week_of
from programs.models import Program, WeekPlan


@coach_view()
@require_safe
def desk(request: HttpRequest, year: int | None = None, number: int | None = None) -> HttpResponse:
    """The week of the club by exception: the coming one, or the one that the address names."""
    now = timezone.now()
    club = request.membership.club  # type: ignore[attr-defined]
    week = plans.coming_week(club, now) if year is None or number is None else week_or_404(year, number)
    return render(request, "coaching/desk.html", page_of(request, week, now=now))


@coach_view(plans=True)
@require_POST
def work_out_week(request: HttpRequest, year: int, number: int) -> HttpResponse:
    """Works the week out for every rider who has no plan in it yet."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    week = week_or_404(year, number)
    running = week_of(plans.local_date(membership.club, now))
    if week not in (running, shift_week(running, 1)):
        messages.warning(request, _("Only this week and the coming one are worked out: open one of them."))
        return answer(request, week, now=now)
    result = plans.resolve(club=membership.club, week=week, by=membership, now=now)
    made = ngettext("{count} plan worked out.", "{count} plans worked out.", result.made).format(
        count=result.made
    )
    messages.success(request, made)
    for rider, why in result.failed:
        messages.warning(
            request, _("The week of {name} could not be worked out: {why}").format(name=rider.name, why=why)
        )
    return answer(request, week, now=now)


@coach_view(plans=True)
@require_POST
def approve_rest(request: HttpRequest, year: int, number: int) -> HttpResponse:
    """Approves the plans that nothing stands against, among those that the coach had on the page."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    week = week_or_404(year, number)
    shown = {int(pk) for pk in request.POST.get("plans", "").split(",") if pk.isdecimal()}
    page = read_week(club=membership.club, week=week, may_see_health=True, now=now, by=membership)
    wanted = shown.intersection(page.approvable)
    rows = WeekPlan.objects.filter(pk__in=wanted).order_by("pk")
    done = plans.approve_many(plans=rows, by=membership, now=now)
    count = len(done.approved)
    if count:
        said = ngettext("{count} plan approved.", "{count} plans approved.", count).format(count=count)
        messages.success(request, f"{said} {_goes_out(page)}")
    if done.left:
        names = ", ".join(sorted(plan.rider.name for plan, _why in done.left))
        messages.warning(request, _("Not approved, open each of them: {names}").format(names=names))
    if not count and not done.left:
        messages.warning(request, _("Nothing was approved: the week has changed since you opened it."))
    return answer(request, week, now=now)


@coach_view(plans=True)
@require_POST
def withdraw_batch(request: HttpRequest, year: int, number: int) -> HttpResponse:
    """Takes back the approvals that the coach gave in one action, as far as they have not gone out."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    week = week_or_404(year, number)
    try:
        at = datetime.fromisoformat(request.POST.get("at", ""))
    except ValueError:
        raise Http404 from None
    rows = WeekPlan.objects.of_week(week.year, week.number).filter(
        state=WeekPlan.State.APPROVED, approved_by=membership, approved_at=at
    )
    withdrawn = plans.withdraw_many(plans=rows, by=membership, now=now)
    count = len(withdrawn)
    messages.success(
        request,
        ngettext("{count} approval taken back.", "{count} approvals taken back.", count).format(count=count),
    )
    return answer(request, week, now=now)


def week_or_404(year: int, number: int) -> Week:
    """The ISO week of an address."""
    week = Week(year, number)
    try:
        week_days(week)
    except ValueError:
        raise Http404 from None
    return week


def answer(request: HttpRequest, week: Week, *, now: datetime) -> HttpResponse:
    """The desk after an action: its own part for htmx, else back to the page."""
    if request.htmx:  # type: ignore[attr-defined]
        return render(request, "coaching/desk.html#answer", page_of(request, week, now=now))
    return redirect("desk-week", year=week.year, number=week.number)


def page_of(request: HttpRequest, week: Week, *, now: datetime) -> dict[str, object]:
    """What the desk's template needs. Leaves an audit entry when anything about health is on the page."""
    membership = request.membership  # type: ignore[attr-defined]
    page = read_week(
        club=membership.club, week=week, may_see_health=membership.sees_health, now=now, by=membership
    )
    note_reading(request, page, now=now)
    return {"section": "desk", "page": page, "start": None if page.is_resolved else _first_step(page)}


def note_reading(request: HttpRequest, page: WeekDesk, *, now: datetime) -> None:
    """One audit entry for the whole page, with the numbers of the riders whose health it speaks of."""
    if page.health_of:
        membership = request.membership  # type: ignore[attr-defined]
        access.record(
            "health.read",
            club_id=membership.club_id,
            by=access.name_of(membership),
            now=now,
            subject="desk",
            riders=list(page.health_of),
        )


def _first_step(page: WeekDesk) -> str:
    """What a club lacks before a week can be worked out: ``riders``, ``program`` or nothing."""
    if not page.riders:
        return "riders" if Squad.objects.exists() else "squads"
    return "" if Program.objects.filter(is_active=True).exists() else "program"


def _goes_out(page: WeekDesk) -> str:
    if page.has_gone_out:
        return _("They go out now.")
    return _("They go out on {moment}.").format(moment=page.goes_out)
