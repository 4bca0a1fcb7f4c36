"""Consent and screening behind a link: what a rider, or the guardian of an under-18, does on their own phone.

The link's subject says whom the mail went to. A young rider's own link shows what consent means and takes none.
"""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from athletes import profiles
from athletes.access import link_view
from athletes.forms.health import AgreeForm, ScreeningForm
from athletes.models import Consent, Link, Rider, Screening
from athletes.notices import CONSENTS, CURRENT_CONSENT, HEALTH_DATA
from athletes.questions import SCREENING_INTRODUCTION
from athletes.screening import Needs
from athletes.standings import read_missing
from athletes.words import date_words

#: What a standing lacks while the questions are to be answered, or answered again.
_UNANSWERED = frozenset({"not-screened", "screening-over", "screening-ended"})


def _who(link: Link, rider: Rider, under_18: bool) -> str:
    """Who answers here, by name."""
    return rider.guardian_name if under_18 else rider.name


def _may_agree(link: Link, under_18: bool) -> bool:
    """A guardian's link for an under-18, the rider's own otherwise."""
    return (link.subject == profiles.TO_GUARDIAN) == under_18


@link_view(Link.Purpose.CONSENT)
@require_http_methods(["GET", "HEAD", "POST"])
def consent(request: HttpRequest, link: Link) -> HttpResponse:
    """Reads the wording and agrees, then answers the screening, then reads what follows: one step at a time."""
    now, rider = timezone.now(), link.rider
    under_18 = rider.is_under_18(profiles.today_of(rider, now))
    if not _may_agree(link, under_18):
        return _show(request, link, "explain", under_18)
    standing = Consent.objects.filter(rider=rider).standing().filter(by_guardian=under_18).first()
    if standing is None:
        return _agree(request, link, under_18, now)
    if request.method == "POST" and request.POST.get("step") == "screening":
        return _answer(request, link, under_18, standing, now)
    missing = read_missing([rider], club=rider.club, on=profiles.today_of(rider, now))[rider.pk]
    if request.GET.get("again") or (missing is not None and missing.key in _UNANSWERED):
        form = ScreeningForm(under_18=under_18, asks_name=False)
        return _show(request, link, "screening", under_18, form=form, standing=standing)
    newest = Screening.objects.filter(rider=rider).first()
    return _show(request, link, "done", under_18, standing=standing, newest=newest, outcome=_outcome(newest))


def _agree(request: HttpRequest, link: Link, under_18: bool, now: Any) -> HttpResponse:
    wording = CONSENTS[CURRENT_CONSENT]
    data = request.POST if request.method == "POST" and request.POST.get("step") == "consent" else None
    agrees = wording.guardian_agrees if under_18 else wording.adult_agrees
    form = AgreeForm(data, agrees=agrees, initial={"given_by": _who(link, link.rider, under_18)})
    if data is not None and form.is_valid():
        profiles.give_consent(
            rider=link.rider,
            given_by=form.cleaned_data["given_by"],
            by_guardian=under_18,
            by=_actor(link),
            now=now,
        )
        return redirect("link-consent", link.pk)
    return _show(request, link, "consent", under_18, form=form)


def _answer(request: HttpRequest, link: Link, under_18: bool, standing: Consent, now: Any) -> HttpResponse:
    form = ScreeningForm(request.POST, under_18=under_18, asks_name=False)
    if form.is_valid():
        profiles.answer_screening(
            rider=link.rider,
            answers=form.answers(),
            answered_by=standing.given_by,
            by_guardian=under_18,
            by=_actor(link),
            now=now,
        )
        return redirect("link-consent", link.pk)
    return _show(request, link, "screening", under_18, form=form, standing=standing)


@link_view(Link.Purpose.CONSENT)
@require_POST
def withdraw(request: HttpRequest, link: Link) -> HttpResponse:
    """Consent is withdrawn by whoever may give it."""
    now = timezone.now()
    if _may_agree(link, link.rider.is_under_18(profiles.today_of(link.rider, now))):
        profiles.withdraw_consent(rider=link.rider, by=_actor(link), now=now)
        messages.success(
            request, _("Your consent is withdrawn. Nothing more is planned, and your coach is told.")
        )
    return redirect("link-consent", link.pk)


def _actor(link: Link) -> Rider | str:
    """Who acts, for the audit log: by role and number."""
    return f"guardian-of:{link.rider_id}" if link.subject == profiles.TO_GUARDIAN else link.rider


def _outcome(newest: Screening | None) -> str:
    """Which of the closing texts is shown."""
    if newest is None or newest.needs in (Needs.NOTHING, Needs.LIGHT_ONLY):
        return "clear"
    if newest.needs == Needs.STOP:
        return "stop"
    return "limits" if newest.needs == Needs.LIMITS else "clearance"


def _show(request: HttpRequest, link: Link, step: str, under_18: bool, **context: Any) -> HttpResponse:
    wording = CONSENTS[CURRENT_CONSENT]
    form, standing = context.get("form"), context.get("standing")
    context = {
        "club_name": link.rider.club.name,
        "coach_name": link.rider.squad.coach.user.name,
        "emergency_note": link.rider.club.emergency_note,
        "rider": link.rider,
        "link": link,
        "step": step,
        "under_18": under_18,
        "wording": (wording.young if step == "explain" else wording.guardian if under_18 else wording.adult),
        "covered": HEALTH_DATA,
        "introduction": SCREENING_INTRODUCTION,
        "agreed_on": date_words(profiles.today_of(link.rider, standing.given_at)) if standing else "",
        "holds_until": date_words(newest.valid_until) if (newest := context.get("newest")) else "",
        **context,
    }
    status = 422 if form is not None and form.is_bound and not form.is_valid() else 200
    return render(request, "athletes/link_consent.html", context, status=status)
