"""Why a target or a week is as it is: a panel that htmx puts behind it, and a page of its own without a script."""

from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from athletes import access
from athletes.access import coach_view, found
from coaching.desk import WeekWhyPage, WhyPage, read_week_why, read_why
from programs.models import PlannedItem, WeekPlan


@coach_view()
@require_safe
def why_target(request: HttpRequest, plan_id: int, item_id: int) -> HttpResponse:
    """The inputs of one target, what else it could have been and why not, and where its rules come from."""
    now = timezone.now()
    row = found(PlannedItem, item_id, session__plan_id=plan_id)
    page = read_why(row, may_see_health=request.membership.sees_health)  # type: ignore[attr-defined]
    _note_reading(request, page, row.session.plan, now=now)
    return _panel(request, "target", page)


@coach_view()
@require_safe
def why_week(request: HttpRequest, plan_id: int) -> HttpResponse:
    """What the week is for, where its sessions stand and what each constraint on its days costs."""
    now = timezone.now()
    plan = found(WeekPlan, plan_id)
    page = read_week_why(plan, may_see_health=request.membership.sees_health)  # type: ignore[attr-defined]
    _note_reading(request, page, plan, now=now)
    return _panel(request, "week", page)


def _panel(request: HttpRequest, part: str, page: WhyPage | WeekWhyPage) -> HttpResponse:
    """The panel alone for htmx, else a page around it."""
    context = {"section": "desk", "page": page, "part": part}
    if request.htmx:  # type: ignore[attr-defined]
        return render(request, f"coaching/why.html#{part}", context)
    return render(request, "coaching/why.html", context)


def _note_reading(
    request: HttpRequest, page: WhyPage | WeekWhyPage, plan: WeekPlan, *, now: datetime
) -> None:
    """Whoever reads of a rider's health is noted in the audit log."""
    if not page.shows_health:
        return
    membership = request.membership  # type: ignore[attr-defined]
    access.record(
        "health.read",
        club_id=membership.club_id,
        by=access.name_of(membership),
        now=now,
        rider=plan.rider,
        subject=f"plan:{plan.pk}",
    )
