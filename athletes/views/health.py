"""Consent, health screening, clearance and clinicians' limits, as staff with access to health detail see them."""

from datetime import datetime, time, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes import profiles
from athletes.access import coach_view, found, name_of, record
from athletes.forms.health import BaselineForm, ClearanceForm, LimitForm, PaperConsentForm, ScreeningForm
from athletes.models import ClinicianLimit, Consent, Delivery, PainBaseline, Rider, Screening
from athletes.notices import CONSENTS, CURRENT_CONSENT, HEALTH_DATA
from athletes.pain import ConsentMissing, has_consent
from athletes.reasons import sentence, stored_sentence
from athletes.screening import Needs
from athletes.standings import in_force, read_missing, zone_of
from athletes.views.riders import member, rider_of
from athletes.vocabulary import Region, Side
from athletes.words import NEEDS, site_words


def _note_reading(request: HttpRequest, rider: Rider, what: str, now: datetime) -> None:
    """Each reading of health detail leaves a line in the audit log."""
    record(
        "health.read", club_id=rider.club_id, by=name_of(member(request)), now=now, rider=rider, subject=what
    )


def _page(request: HttpRequest, template: str, rider: Rider, tab: str, **context: Any) -> HttpResponse:
    status = 422 if request.method == "POST" else 200
    missing = read_missing([rider], club=rider.club, on=profiles.today_of(rider, timezone.now()))[rider.pk]
    context = {"missing": sentence(missing) if missing else "", **context}
    return render(
        request, template, {"section": "riders", "rider": rider, "tab": tab, **context}, status=status
    )


# --- consent ----------------------------------------------------------------------------------------------------------


@coach_view(health=True)
@require_http_methods(["GET", "HEAD", "POST"])
def consent(request: HttpRequest, rider_id: int) -> HttpResponse:
    """Whether consent stands; a signed paper form recorded."""
    now, rider = timezone.now(), rider_of(rider_id)
    today = profiles.today_of(rider, now)
    under_18 = rider.is_under_18(today)
    initial = {"given_by": rider.guardian_name if under_18 else rider.name, "given_on": today}
    form = PaperConsentForm(request.POST or None, under_18=under_18, today=today, initial=initial)
    if request.method == "POST" and form.is_valid():
        noon = datetime.combine(form.cleaned_data["given_on"], time(12), zone_of(rider, rider.club))
        profiles.give_consent(
            rider=rider,
            given_by=form.cleaned_data["given_by"],
            by_guardian=under_18,
            given_at=noon,
            by=member(request),
            now=now,
        )
        messages.success(
            request, _("Consent for {name} is recorded. Next: the health screening.").format(name=rider.name)
        )
        return redirect("rider-screening", rider.pk)
    wording = CONSENTS[CURRENT_CONSENT]
    asked = Delivery.objects.filter(rider=rider, kind=profiles.CONSENT_MAIL).first()
    return _page(
        request,
        "athletes/rider_consent.html",
        rider,
        "consent",
        form=form,
        under_18=under_18,
        consents=Consent.objects.filter(rider=rider),
        standing=Consent.objects.filter(rider=rider).standing().first(),
        wording=wording.guardian if under_18 else wording.adult,
        agrees=wording.guardian_agrees if under_18 else wording.adult_agrees,
        covered=HEALTH_DATA,
        asked=asked,
        asked_address=profiles.asked_person(rider, now=now)[1],
    )


@coach_view(health=True)
@require_POST
def ask_consent(request: HttpRequest, rider_id: int) -> HttpResponse:
    """A mail with the link to consent and screening."""
    rider = rider_of(rider_id)
    try:
        delivery = profiles.ask_for_consent(rider=rider, by=member(request), now=timezone.now())
        text = _("A mail is on its way to {address}. The link in it is good for two weeks.")
        messages.success(request, text.format(address=delivery.recipient))
    except profiles.NobodyToAsk:
        messages.warning(request, _("There is nobody to ask: enter a guardian's mail address first."))
    return redirect("rider-consent", rider.pk)


@coach_view(health=True)
@require_POST
def withdraw_consent(request: HttpRequest, rider_id: int) -> HttpResponse:
    """Consent withdrawn on the rider's or guardian's word."""
    rider = rider_of(rider_id)
    profiles.withdraw_consent(rider=rider, by=member(request), now=timezone.now())
    messages.success(
        request,
        _(
            "Consent for {name} is withdrawn: nothing more is planned. It can be given again at any time."
        ).format(name=rider.name),
    )
    return redirect("rider-consent", rider.pk)


# --- screening --------------------------------------------------------------------------------------------------------


@coach_view(health=True)
@require_safe
def screening(request: HttpRequest, rider_id: int) -> HttpResponse:
    """What the newest screening asks for, and whether it is met."""
    now, rider = timezone.now(), rider_of(rider_id)
    rows = list(Screening.objects.filter(rider=rider).select_related("recorded_by__user")[:5])
    if rows:
        _note_reading(request, rider, "screening", now)
    return _screening_page(
        request, rider, rows, ClearanceForm(initial={"cleared_on": profiles.today_of(rider, now)})
    )


def _screening_page(
    request: HttpRequest, rider: Rider, rows: list[Screening], clearance: ClearanceForm
) -> HttpResponse:
    newest = rows[0] if rows else None
    return _page(
        request,
        "athletes/rider_screening.html",
        rider,
        "screening",
        newest=newest,
        older=rows[1:],
        needs=NEEDS[Needs(newest.needs)] if newest else "",
        needs_clearance=bool(newest and newest.needs in (Needs.CLEARANCE, Needs.STOP)),
        sentences=[stored_sentence(one) for one in newest.reasons] if newest else [],
        clearance=clearance,
        form=clearance,
        may_answer=has_consent(rider, on=profiles.today_of(rider, timezone.now())),
    )


@coach_view(plans=True, health=True)
@require_http_methods(["GET", "HEAD", "POST"])
def answer_screening(request: HttpRequest, rider_id: int) -> HttpResponse:
    """Answers entered by a coach for the rider or guardian, e.g. from paper."""
    now, rider = timezone.now(), rider_of(rider_id)
    today = profiles.today_of(rider, now)
    if not has_consent(rider, on=today):
        messages.warning(request, _("No consent stands, so no answers may be held. Record consent first."))
        return redirect("rider-consent", rider.pk)
    under_18 = rider.is_under_18(today)
    initial = {"answered_by": rider.guardian_name if under_18 else rider.name}
    form = ScreeningForm(request.POST or None, under_18=under_18, asks_name=True, initial=initial)
    if request.method == "POST" and form.is_valid():
        profiles.answer_screening(
            rider=rider,
            answers=form.answers(),
            answered_by=form.cleaned_data["answered_by"],
            by_guardian=under_18,
            by=member(request),
            now=now,
        )
        messages.success(request, _("The screening of {name} is saved.").format(name=rider.name))
        return redirect("rider-screening", rider.pk)
    return _page(request, "athletes/rider_answers.html", rider, "screening", form=form, under_18=under_18)


@coach_view(plans=True, health=True)
@require_POST
def record_clearance(request: HttpRequest, rider_id: int, screening_id: int) -> HttpResponse:
    """Which clinician cleared the rider, and when."""
    now, rider = timezone.now(), rider_of(rider_id)
    row = found(Screening, screening_id, rider=rider)
    form = ClearanceForm(request.POST)
    if form.is_valid():
        try:
            profiles.record_clearance(screening=row, **form.cleaned_data, by=member(request), now=now)
        except profiles.ClearanceOutOfRange as why:
            form.add_error(
                "cleared_on",
                _(
                    "Enter a day from {since} to today: an older clearance does not count for these answers."
                ).format(since=why.since.isoformat()),
            )
        else:
            messages.success(request, _("The clearance of {name} is recorded.").format(name=rider.name))
            return redirect("rider-screening", rider.pk)
    _note_reading(request, rider, "screening", now)
    rows = list(Screening.objects.filter(rider=rider).select_related("recorded_by__user")[:5])
    return _screening_page(request, rider, rows, form)


# --- limits and baselines ---------------------------------------------------------------------------------------------


@coach_view(plans=True, health=True)
@require_http_methods(["GET", "HEAD", "POST"])
def limits(request: HttpRequest, rider_id: int) -> HttpResponse:
    """Limits that named clinicians set, and a new one."""
    now, rider = timezone.now(), rider_of(rider_id)
    form = LimitForm(request.POST or None, initial={"set_on": profiles.today_of(rider, now)})
    if request.method == "POST" and form.is_valid():
        try:
            profiles.set_limit(rider=rider, **form.limit(), by=member(request), now=now)
        except ConsentMissing:
            form.add_error(None, _("A limit is health data, and no consent stands. Record consent first."))
        else:
            messages.success(
                request, _("The limit of {name} is saved and holds from now on.").format(name=rider.name)
            )
            return redirect("rider-limits", rider.pk)
    return _limits_page(request, rider, now, form, BaselineForm(prefix="baseline"))


@coach_view(plans=True, health=True)
@require_POST
def end_limit(request: HttpRequest, rider_id: int, limit_id: int) -> HttpResponse:
    """The limit holds no longer."""
    now, rider = timezone.now(), rider_of(rider_id)
    limit = found(ClinicianLimit, limit_id, rider=rider)
    profiles.end_limit(limit=limit, on=profiles.today_of(rider, now), by=member(request), now=now)
    messages.success(request, _("The limit has ended; it stays on record."))
    return redirect("rider-limits", rider.pk)


@coach_view(plans=True, health=True)
@require_POST
def add_baseline(request: HttpRequest, rider_id: int) -> HttpResponse:
    """The usual score of a long-standing pain that a clinician has seen."""
    now, rider = timezone.now(), rider_of(rider_id)
    form = BaselineForm(request.POST, prefix="baseline")
    if form.is_valid():
        try:
            profiles.set_baseline(rider=rider, **form.baseline(), by=member(request), now=now)
        except ConsentMissing:
            form.add_error(None, _("This is health data, and no consent stands. Record consent first."))
        except profiles.BaselineOutOfRange:
            last = profiles.today_of(rider, now) + profiles.BASELINE_HOLDS
            form.add_error("review_on", _("Enter a day from today to {last}.").format(last=last.isoformat()))
        else:
            messages.success(request, _("The usual score is saved until its review."))
            return redirect("rider-limits", rider.pk)
    return _limits_page(request, rider, now, LimitForm(), form)


@coach_view(plans=True, health=True)
@require_POST
def remove_baseline(request: HttpRequest, rider_id: int, baseline_id: int) -> HttpResponse:
    """The usual rules for pain hold at this site again."""
    rider = rider_of(rider_id)
    row = found(PainBaseline, baseline_id, rider=rider)
    profiles.remove_baseline(baseline=row, by=member(request), now=timezone.now())
    messages.success(request, _("The usual score is removed."))
    return redirect("rider-limits", rider.pk)


def _limits_page(
    request: HttpRequest, rider: Rider, now: datetime, form: LimitForm, baseline_form: BaselineForm
) -> HttpResponse:
    today = profiles.today_of(rider, now)
    rows = list(ClinicianLimit.objects.filter(rider=rider))
    baselines = list(PainBaseline.objects.filter(rider=rider))
    if rows or baselines:
        _note_reading(request, rider, "limits", now)
    return _page(
        request,
        "athletes/rider_limits.html",
        rider,
        "limits",
        form=baseline_form if baseline_form.is_bound else form,
        limit_form=form,
        baseline_form=baseline_form,
        held=[row for row in rows if in_force(row, today)],
        ended=[row for row in rows if not in_force(row, today)],
        baselines=[(row, site_words(Region(row.region), Side(row.side))) for row in baselines],
        last_review=today + timedelta(days=profiles.BASELINE_HOLDS.days),
    )
