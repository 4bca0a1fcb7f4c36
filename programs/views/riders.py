"""What riders open by link: the check-in, a report at any time, their own page, and the end of plan mail.

A GET changes no row but the audit log, since mail scanners follow links; a POST is made once by its form's key.
"""

import uuid
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes import access, notices, pain
from athletes.access import found, link_view, token_view
from athletes.models import Link, Rider
from programs import checkins, plan_mail, rider_pages, wording
from programs.forms.body import BodyPart, ReportForm
from programs.forms.check_in import AskedSession, CheckInForm, day_of
from programs.models import CheckInVersion, PlannedSession, SessionKey

Purpose = Link.Purpose
#: RFC 8058, 3.2: the one pair that a mail program posts.
ONE_CLICK = ("List-Unsubscribe", "One-Click")


def frame(link: Link, **context: Any) -> dict[str, Any]:
    """What every page of a rider needs, and `context`."""
    rider = link.rider
    return {
        "link": link,
        "rider": rider,
        "club_name": rider.club.name,
        "coach_name": rider.squad.coach.user.name,
        "emergency_note": rider.club.emergency_note,
        "warning_notice": notices.WARNING_NOTICE,
        **context,
    }


# --- the check-in -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Opened:
    """The session that an address names, as this request finds it."""

    key: SessionKey
    session: PlannedSession
    version: CheckInVersion | None
    today: date
    may_hold_health: bool

    @property
    def asked(self) -> AskedSession:
        return rider_pages.asked_session(
            self.session, version=self.version, today=self.today, may_note=self.may_hold_health
        )


def _open(link: Link, key_id: int | None, *, now: datetime) -> _Opened:
    """A session's link opens that session alone, a page's link every one of its rider. Raises `Http404`, `NotSent`."""
    wanted: int | str | None = key_id
    if link.purpose == Purpose.SESSION:
        wanted = link.subject if key_id is None or str(key_id) == link.subject else None
    key = found(SessionKey, wanted, rider=link.rider)
    today = rider_pages.local_day(link.rider, now)
    return _Opened(
        key=key,
        session=checkins.session_of(key),
        version=rider_pages.newest_version(key),
        today=today,
        may_hold_health=pain.has_consent(link.rider, on=today),
    )


@link_view(Purpose.SESSION, Purpose.PAGE)
@require_http_methods(["GET", "HEAD", "POST"])
def session(request: HttpRequest, link: Link, key_id: int | None = None) -> HttpResponse:
    """The check-in of one session: the form, and what was sent."""
    now = timezone.now()
    try:
        opened = _open(link, key_id, now=now)
    except checkins.NotSent:
        return render(request, "programs/check_in_not_sent.html", frame(link), status=409)
    if request.method == "POST":
        return _receive(request, link, opened, now=now)
    if opened.version is not None and not checkins.can_be_corrected(opened.key, now=now):
        return render(request, "programs/check_in_closed.html", frame(link, opened=opened))
    form = _check_in_form(None, link, opened, form_key=str(uuid.uuid4()))
    _note_reading(link, form.body, now=now)
    return _show_check_in(request, link, opened, form)


def _receive(request: HttpRequest, link: Link, opened: _Opened, *, now: datetime) -> HttpResponse:
    form = _check_in_form(request.POST, link, opened, form_key="")
    if not form.is_valid():
        return _show_check_in(request, link, opened, form, status=422)
    said = form.body_answers
    answers = checkins.Answers(
        form_key=str(form.session.cleaned_data["form_key"]),
        outcome=form.outcome,
        done_on=form.done_on,
        minutes=form.value("minutes"),
        session_rpe=form.value("session_rpe"),
        why_not=form.value("why_not") or "",
        note=form.session.cleaned_data.get("note", ""),
        items=form.items,
        sites=said.sites,
        morning=said.morning_by_site,
        symptoms=said.symptoms,
        events=said.events,
    )
    try:
        checkins.submit(key=opened.key, answers=answers, by=link.rider, now=now, with_preview=False)
    except checkins.TooLate:
        return _offer_report(request, link, opened, form)
    except pain.ConsentMissing:
        # Withdrawn while this was being sent: the form comes back without the questions that need it, the rest kept.
        opened = replace(opened, may_hold_health=False)
        form = _check_in_form(request.POST, link, opened, form_key="")
        return _show_check_in(request, link, opened, form, status=409)
    return redirect(_session_address("link-answer", link, opened.key))


def _check_in_form(data: Any, link: Link, opened: _Opened, *, form_key: str) -> CheckInForm:
    asked = opened.asked
    body = None
    if opened.may_hold_health:
        on = day_of(data, asked, today=opened.today)
        body = _body_part(data, link.rider, on=on, today=opened.today, is_addition=opened.version is not None)
    return CheckInForm(data, asked=asked, form_key=form_key, body=body)


def _body_part(data: Any, rider: Rider, *, on: date, today: date, is_addition: bool = False) -> BodyPart:
    return BodyPart(
        data,
        asked=rider_pages.asked_sites(rider, today=today),
        under_18=rider.is_under_18(today),
        has_long_standing=rider_pages.has_long_standing(rider),
        on=on,
        today=today,
        is_addition=is_addition,
    )


def _show_check_in(
    request: HttpRequest, link: Link, opened: _Opened, form: CheckInForm, *, status: int = 200
) -> HttpResponse:
    context = frame(
        link,
        opened=opened,
        form=form,
        body=form.body,
        day=wording.day_words(opened.session.on),
        is_correction=opened.version is not None,
        under_18=link.rider.is_under_18(opened.today),
    )
    return render(request, "programs/check_in.html", context, status=status)


def _offer_report(request: HttpRequest, link: Link, opened: _Opened, form: CheckInForm) -> HttpResponse:
    """Too late to correct the session; what hurts can still be reported, and stands filled in."""
    report = None
    if form.body is not None and not form.body_answers.is_empty:
        report = ReportForm(_with_key(request), form_key="", body=form.body)
    context = frame(link, opened=opened, form=report, body=form.body if report else None)
    return render(request, "programs/check_in_closed.html", context, status=409)


def _with_key(request: HttpRequest) -> Any:
    """What was sent, with the form's key under the name that a report has for it."""
    data = request.POST.copy()
    data["form_key"] = data.get("session-form_key", "")
    return data


@link_view(Purpose.SESSION, Purpose.PAGE)
@require_safe
def answer(request: HttpRequest, link: Link, key_id: int | None = None) -> HttpResponse:
    """What the check-in means for next time."""
    now = timezone.now()
    try:
        opened = _open(link, key_id, now=now)
    except checkins.NotSent:
        return render(request, "programs/check_in_not_sent.html", frame(link), status=409)
    if opened.version is None:
        return redirect(_session_address("link-session", link, opened.key))
    outlook = rider_pages.outlook_of(
        link.rider,
        source=checkins.source_of_check_in(opened.key),
        reported_at=opened.version.at,
        session=opened.session,
        now=now,
    )
    _note_health(link, "answer", now=now, is_shown=bool(outlook.body_lines or outlook.tells_of_symptom))
    context = frame(
        link,
        opened=opened,
        outlook=outlook,
        can_correct=checkins.can_be_corrected(opened.key, now=now),
        correct_url=_session_address("link-session", link, opened.key),
        **_notices(),
    )
    return render(request, "programs/answer.html", context)


def _notices() -> dict[str, Any]:
    return {
        "symptom_notice": notices.SYMPTOM_REPORTED_NOTICE,
        "clinician_notice": notices.CLINICIAN_NOTICE,
        "limit_notice": notices.PAIN_LIMIT_NOTICE,
    }


def _session_address(name: str, link: Link, key: SessionKey) -> str:
    """The address of a session's page under this link."""
    if link.purpose == Purpose.SESSION:
        return reverse(name, args=[link.pk])
    return reverse(name, args=[link.pk, key.pk])


def _note_reading(link: Link, body: BodyPart | None, *, now: datetime) -> None:
    _note_health(link, "check-in", now=now, is_shown=body is not None and bool(body.main.asked))


def _note_health(link: Link, subject: str, *, now: datetime, is_shown: bool) -> None:
    """One line of the audit log when the page says anything about the rider's health."""
    if is_shown:
        by = access.name_of(link.rider)
        access.record("health.read", club_id=link.club_id, by=by, now=now, rider=link.rider, subject=subject)


# --- a report at any time ---------------------------------------------------------------------------------------------


@link_view(Purpose.REPORT, Purpose.SESSION, Purpose.PAGE)
@require_http_methods(["GET", "HEAD", "POST"])
def report(request: HttpRequest, link: Link) -> HttpResponse:
    """Pain, a warning symptom, illness or a crash, reported whenever it is noticed (T0)."""
    now = timezone.now()
    today = rider_pages.local_day(link.rider, now)
    if not pain.has_consent(link.rider, on=today):
        return render(request, "programs/report.html", frame(link, form=None, **_notices()))
    data = request.POST if request.method == "POST" else None
    body = _body_part(data, link.rider, on=today, today=today)
    form = ReportForm(data, form_key=str(uuid.uuid4()), body=body)
    if data is None:
        _note_reading(link, body, now=now)
    if data is None or not form.is_valid():
        context = frame(link, form=form, body=body, under_18=link.rider.is_under_18(today), **_notices())
        return render(request, "programs/report.html", context, status=200 if data is None else 422)
    said, form_key = body.answers, form.head.cleaned_data["form_key"]
    try:
        checkins.report_any_time(
            rider=link.rider,
            sites=said.all_sites,
            symptoms=said.symptoms,
            events=said.events,
            form_key=str(form_key),
            by=link.rider,
            now=now,
        )
    except pain.ConsentMissing:
        return redirect("link-report", link_id=link.pk)
    return redirect("link-report-answer", link_id=link.pk, form_key=form_key)


@link_view(Purpose.REPORT, Purpose.SESSION, Purpose.PAGE)
@require_safe
def report_answer(request: HttpRequest, link: Link, form_key: uuid.UUID) -> HttpResponse:
    """What a report at any time means."""
    now = timezone.now()
    outlook = rider_pages.outlook_of(
        link.rider,
        source=checkins.source_of_report(str(form_key)),
        reported_at=None,
        session=None,
        now=now,
    )
    _note_health(link, "answer", now=now, is_shown=bool(outlook.body_lines or outlook.tells_of_symptom))
    return render(request, "programs/answer.html", frame(link, outlook=outlook, **_notices()))


# --- the rider's page -------------------------------------------------------------------------------------------------


@link_view(Purpose.PAGE)
@require_safe
def page(request: HttpRequest, link: Link) -> HttpResponse:
    """The rider's week, what was done lately, and the levels."""
    now = timezone.now()
    shown = rider_pages.read_page(link.rider, now=now)
    _note_health(link, "page", now=now, is_shown=shown.speaks_of_health)
    return render(request, "programs/rider_page.html", frame(link, page=shown, **_notices()))


# --- the end of plan mail ---------------------------------------------------------------------------------------------


@link_view(Purpose.STOP_MAIL)
@require_http_methods(["GET", "HEAD", "POST"])
def stop_mail(request: HttpRequest, link: Link) -> HttpResponse:
    """Asks whether plans should stop coming by mail, and does it; or has them come again."""
    if request.method == "POST":
        now = timezone.now()
        verb = plan_mail.start if "start" in request.POST else plan_mail.stop
        verb(rider=link.rider, by=link.rider, now=now)
        return redirect("link-stop-mail", link_id=link.pk)
    return render(request, "programs/stop_mail.html", frame(link))


@token_view(Purpose.STOP_MAIL)
@require_POST
def stop_mail_at_once(request: HttpRequest, link: Link) -> HttpResponse:
    """One click in a mail program (RFC 8058): posted without a cookie, so the token alone lets in."""
    name, value = ONE_CLICK
    if request.POST.get(name) != value:
        return render(request, "400.html", status=400)
    plan_mail.stop(rider=link.rider, by="mail program", now=timezone.now())
    return HttpResponse("Plan mail is stopped.\n", content_type="text/plain; charset=utf-8")


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def stop_mail_by_token(request: HttpRequest, token: str) -> HttpResponse:
    """The address in the mail's head and foot: a mail program posts to it, a person opens it and is asked."""
    if request.method == "POST":
        return stop_mail_at_once(request, token)
    return access.enter(request, token)


stop_mail_by_token.access = ("token", Purpose.STOP_MAIL)  # type: ignore[attr-defined]
