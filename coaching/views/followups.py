"""Follow-ups: the list by urgency, and each with its history and what a coach can do."""

from datetime import datetime, time
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from athletes import access, followups, pain, profiles
from athletes.access import coach_view, found
from athletes.concerns import Concern, Topic, Urgency
from athletes.models import FollowUp, Screening, SymptomReport
from athletes.vocabulary import Region, Side
from coaching.desk import FollowUpPage, read_follow_up, read_list
from coaching.forms import ClearanceForm, CloseForm, HandOverForm, NoteForm, PutOffForm
from programs import facts as translator
from programs import plans

#: The hour at which a follow-up that was put off to a day is due, local to the club.
DUE_AT = time(20)


@coach_view()
@require_safe
def follow_ups(request: HttpRequest) -> HttpResponse:
    """The list; the address says whose (``?whose=mine``) and whether closed ones (``?state=closed``)."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    page = read_list(
        club=membership.club,
        whose="mine" if request.GET.get("whose") == "mine" else "all",
        state="closed" if request.GET.get("state") == "closed" else "open",
        by=membership,
        may_see_health=membership.sees_health,
        now=now,
    )
    if page.health_of:
        access.record(
            "health.read",
            club_id=membership.club_id,
            by=access.name_of(membership),
            now=now,
            subject="follow-ups",
            riders=list(page.health_of),
        )
    return render(request, "coaching/follow_ups.html", {"section": "follow-ups", "page": page})


@coach_view()
@require_safe
def follow_up(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    """One follow-up with its history."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    row = _follow_up(follow_up_id)
    if row.is_health and membership.sees_health:
        access.record(
            "health.read",
            club_id=membership.club_id,
            by=access.name_of(membership),
            now=now,
            rider=row.rider,
            subject=f"follow-up:{row.pk}",
        )
    return _show(request, row, now=now)


@coach_view(plans=True)
@require_POST
def note_follow_up(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    """Adds a note or a contact to the history."""
    now = timezone.now()
    row = _follow_up(follow_up_id)
    form = NoteForm(request.POST, prefix="note")
    if not form.is_valid():
        return _show(request, row, now=now, status=422, note=form)
    followups.note(
        follow_up=row,
        text=form.cleaned_data["text"],
        contact=form.cleaned_data["contact"],
        by=request.membership,  # type: ignore[attr-defined]
        now=now,
    )
    messages.success(request, _("Added to the history."))
    return redirect("follow-up", follow_up_id=row.pk)


@coach_view(plans=True)
@require_POST
def put_off_follow_up(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    """Moves the day on which to look again."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    row = _follow_up(follow_up_id)
    form = PutOffForm(request.POST, prefix="put-off", today=plans.local_date(membership.club, now))
    if not form.is_valid():
        return _show(request, row, now=now, status=422, put_off=form)
    until = datetime.combine(form.cleaned_data["until"], DUE_AT, ZoneInfo(membership.club.zone))
    try:
        followups.put_off(follow_up=row, until=until, by=membership, now=now)
    except followups.AlreadyClosed:
        return _closed(request, row)
    messages.success(request, _("Put off."))
    return redirect("follow-up", follow_up_id=row.pk)


@coach_view(plans=True)
@require_POST
def hand_over_follow_up(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    """Gives it to another coach."""
    now = timezone.now()
    row = _follow_up(follow_up_id)
    form = HandOverForm(request.POST, prefix="hand-over", follow_up=row)
    if not form.is_valid():
        return _show(request, row, now=now, status=422, hand_over=form)
    to = form.cleaned_data["to"]
    try:
        followups.hand_over(follow_up=row, to=to, by=request.membership, now=now)  # type: ignore[attr-defined]
    except followups.AlreadyClosed:
        return _closed(request, row)
    messages.success(request, _("Handed over to {name}.").format(name=to.user))
    return redirect("follow-up", follow_up_id=row.pk)


@coach_view(plans=True)
@require_POST
def close_follow_up(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    """Closes it, a health matter with its outcome."""
    now = timezone.now()
    row = _follow_up(follow_up_id)
    form = CloseForm(request.POST, prefix="close", follow_up=row)
    if not form.is_valid():
        return _show(request, row, now=now, status=422, close=form)
    try:
        followups.close(
            follow_up=row,
            outcome=form.cleaned_data.get("outcome", ""),
            text=form.cleaned_data["text"],
            by=request.membership,  # type: ignore[attr-defined]
            now=now,
        )
    except followups.AlreadyClosed:
        return _closed(request, row)
    messages.success(request, _("Closed."))
    return redirect("follow-up", follow_up_id=row.pk)


@coach_view(plans=True)
@require_POST
def open_follow_up_again(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    """Opens the same matter again, so that a later outcome can be recorded."""
    now = timezone.now()
    row = _follow_up(follow_up_id)
    concern = Concern(
        topic=Topic(row.topic),
        urgency=Urgency.SOON,
        reasons=translator.read_reasons(row.reasons),
        region=Region(row.region) if row.region else None,
        side=Side(row.side) if row.side else None,
    )
    opened = followups.open_for(rider=row.rider, concern=concern, by=request.membership, now=now)  # type: ignore[attr-defined]
    messages.success(request, _("Open again."))
    return redirect("follow-up", follow_up_id=opened.pk)


@coach_view(plans=True, health=True)
@require_POST
def clear_report(request: HttpRequest, follow_up_id: int, report_id: int) -> HttpResponse:
    """Records who cleared a symptom or said that an illness is over, and when."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    row = _follow_up(follow_up_id)
    report = found(SymptomReport, report_id, rider_id=row.rider_id)
    form = ClearanceForm(
        request.POST,
        prefix=f"report-{report_id}",
        today=plans.local_date(membership.club, now),
        not_before=report.on,
    )
    if not form.is_valid():
        return _show(request, row, now=now, status=422, clear=form)
    cleared = form.cleaned_data
    pain.clear(
        report=report, cleared_by=cleared["cleared_by"], on=cleared["cleared_on"], by=membership, now=now
    )
    messages.success(request, _("Clearance recorded. Close the follow-up when nothing is left to do."))
    return redirect("follow-up", follow_up_id=row.pk)


@coach_view(plans=True, health=True)
@require_POST
def clear_screening(request: HttpRequest, follow_up_id: int, screening_id: int) -> HttpResponse:
    """Records which clinician cleared the rider after the screening, and when."""
    now = timezone.now()
    membership = request.membership  # type: ignore[attr-defined]
    row = _follow_up(follow_up_id)
    screening = found(Screening, screening_id, rider_id=row.rider_id)
    since = screening.clearance_from or screening.answered_at.date()
    form = ClearanceForm(
        request.POST,
        prefix=f"screening-{screening_id}",
        today=profiles.today_of(row.rider, now),
        not_before=since,
    )
    if not form.is_valid():
        return _show(request, row, now=now, status=422, clear=form)
    profiles.record_clearance(
        screening=screening,
        cleared_by=form.cleaned_data["cleared_by"],
        cleared_on=form.cleaned_data["cleared_on"],
        by=membership,
        now=now,
    )
    messages.success(request, _("Clearance recorded. Close the follow-up when nothing is left to do."))
    return redirect("follow-up", follow_up_id=row.pk)


# --- inside -----------------------------------------------------------------------------------------------------------


def _follow_up(pk: int) -> FollowUp:
    """The follow-up with its rider and owner, or 404."""
    row = FollowUp.objects.select_related("rider__club", "rider__squad", "owner__user").filter(pk=pk).first()
    if row is None:
        raise Http404
    return row


def _closed(request: HttpRequest, row: FollowUp) -> HttpResponse:
    messages.warning(request, _("Somebody has closed this meanwhile."))
    return redirect("follow-up", follow_up_id=row.pk)


def _show(
    request: HttpRequest,
    row: FollowUp,
    *,
    now: datetime,
    status: int = 200,
    clear: ClearanceForm | None = None,
    **failed: Form,
) -> HttpResponse:
    """The page with its forms; those that came back with errors in place of fresh ones."""
    membership = request.membership  # type: ignore[attr-defined]
    page = read_follow_up(row, club=membership.club, may_see_health=membership.sees_health, now=now)
    today = plans.local_date(membership.club, now)
    forms = {
        "note": NoteForm(prefix="note"),
        "put_off": PutOffForm(prefix="put-off", today=today),
        "hand_over": HandOverForm(prefix="hand-over", follow_up=row),
        "close": CloseForm(prefix="close", follow_up=row),
        **failed,
    }
    context = {
        "section": "follow-ups",
        "page": page,
        "forms": forms if membership.plans else {},
        "failed": next(iter(failed), ""),
        "form": clear or next(iter(failed.values()), None),
        "clearances": _clearances(page, clear, today) if membership.plans else [],
        "week": plans.coming_week(membership.club, now),
    }
    return render(request, "coaching/follow_up.html", context, status=status)


def _clearances(
    page: FollowUpPage, came_back: ClearanceForm | None, today: object
) -> list[dict[str, object]]:
    found_ = []
    for one in page.to_clear:
        prefix = f"{one.kind}-{one.pk}"
        form = ClearanceForm(prefix=prefix, today=today, not_before=one.since)  # type: ignore[arg-type]
        if came_back is not None and came_back.prefix == prefix:
            form = came_back
        found_.append({"one": one, "form": form})
    return found_
