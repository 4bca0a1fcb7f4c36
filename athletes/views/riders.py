"""The list of riders; a rider added, changed, gone."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes import profiles
from athletes.access import coach_view, found
from athletes.forms.riders import LACKING, RiderForm, RidersFilter
from athletes.models import Coach, Consent, Rider, Squad
from athletes.reasons import sentence
from athletes.standings import read_missing, zone_of
from athletes.vocabulary import Reason

ON_A_PAGE = 50


def member(request: HttpRequest) -> Coach:
    """Who the doorway let in."""
    return request.membership  # type: ignore[attr-defined,no-any-return]


def rider_of(rider_id: int) -> Rider:
    """The rider with club and squad, or 404."""
    row = found(Rider, rider_id)
    return Rider.objects.select_related("club", "squad__coach__user").get(pk=row.pk)


@coach_view()
@require_safe
def riders(request: HttpRequest) -> HttpResponse:
    """Everybody who trains, found by name, squad or state; what is missing before a plan stands beside each."""
    now, membership = timezone.now(), member(request)
    form = RidersFilter(request.GET or None)
    rows = _chosen(form)
    today = now.astimezone(zone_of(Rider(), membership.club)).date()
    missing = read_missing(rows, club=membership.club, on=today)
    if form.is_bound and form.is_valid() and form.cleaned_data["state"] == LACKING:
        rows = [row for row in rows if missing[row.pk] is not None]
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    lines = [
        {"rider": row, "missing": _missing_words(missing[row.pk], membership), "reason": missing[row.pk]}
        for row in page.object_list
    ]
    context = {
        "section": "riders",
        "form": form,
        "page": page,
        "lines": lines,
        "is_filtered": bool(form.is_bound and any(form.data.get(name) for name in ("q", "squad", "state"))),
        "has_riders": bool(rows) or Rider.objects.exists(),
        "has_squads": Squad.objects.exists(),
        "unasked": sum(_lacks_consent(reason) for reason in missing.values()),
    }
    return render(request, "athletes/riders.html", context)


def _chosen(form: RidersFilter) -> list[Rider]:
    """The riders that the filter names; a filter that cannot be read hides nobody."""
    rows = Rider.objects.select_related("squad")
    if not form.is_bound or not form.is_valid():
        return list(rows.current())
    wanted = form.cleaned_data
    if wanted["q"]:
        for word in wanted["q"].split():
            rows = rows.filter(
                Q(given_name__icontains=word) | Q(family_name__icontains=word) | Q(email__icontains=word)
            )
    if wanted["squad"]:
        rows = rows.filter(squad=wanted["squad"])
    if wanted["state"] in Rider.State.values:
        return list(rows.filter(state=wanted["state"]))
    return list(rows.current())


def _lacks_consent(reason: Reason | None) -> bool:
    return reason is not None and reason.rule == "T0"


def _missing_words(reason: Reason | None, membership: Coach) -> str:
    """What is missing, in words; roles without access to health detail read only that there is a health reason."""
    if reason is None:
        return ""
    if not membership.sees_health:
        return _("health reason")
    return sentence(reason)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def add_rider(request: HttpRequest) -> HttpResponse:
    """A rider added by hand."""
    now, membership = timezone.now(), member(request)
    squads = list(Squad.objects.all()[:2])
    if not squads:
        return render(request, "athletes/rider_new.html", {"section": "riders", "needs_squad": True})
    initial = {"squad": squads[0]} if len(squads) == 1 else {}
    form = RiderForm(request.POST or None, year=now.year, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            rider = profiles.add_rider(club=membership.club, details=form.details(), by=membership, now=now)
        except (profiles.AddressTaken, profiles.GuardianMissing) as why:
            _explain(form, why)
        else:
            messages.success(
                request, _("{name} is in the club. Next: times to train.").format(name=rider.name)
            )
            return redirect("rider-times", rider.pk)
    return _page(request, "athletes/rider_new.html", form)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def edit_rider(request: HttpRequest, rider_id: int) -> HttpResponse:
    """A rider's details."""
    now, rider = timezone.now(), rider_of(rider_id)
    form = RiderForm(request.POST or None, instance=rider, year=now.year)
    if request.method == "POST" and form.is_valid():
        try:
            changed = profiles.change_rider(rider=rider, details=form.details(), by=member(request), now=now)
        except (profiles.AddressTaken, profiles.GuardianMissing) as why:
            _explain(form, why)
        else:
            text = _("{name} is saved.") if changed else _("Nothing was changed on {name}.")
            messages.success(request, text.format(name=rider.name))
            return redirect("rider-edit", rider.pk)
    return _page(request, "athletes/rider_edit.html", form, rider=rider_of(rider_id), tab="edit")


def _explain(form: RiderForm, why: Exception) -> None:
    if isinstance(why, profiles.AddressTaken):
        text = _("{name} has this address already. Each rider needs their own.")
        form.add_error("email", text.format(name=why.rider.name))
    else:
        for field in ("guardian_name", "guardian_email"):
            if not form.cleaned_data.get(field):
                form.add_error(field, _("Needed: by this birth year the rider may be under 18."))


def _page(request: HttpRequest, template: str, form: Any, **context: Any) -> HttpResponse:
    status = 422 if form.is_bound and not form.is_valid() else 200
    return render(request, template, {"section": "riders", "form": form, **context}, status=status)


@coach_view(plans=True)
@require_POST
def leave_club(request: HttpRequest, rider_id: int) -> HttpResponse:
    """The rider leaves. Undone by `return_to_club`."""
    rider = rider_of(rider_id)
    profiles.leave(rider=rider, by=member(request), now=timezone.now())
    messages.success(
        request,
        _(
            "{name} has left: no plans, no mail, and their links open nothing. They can be brought back here."
        ).format(name=rider.name),
    )
    return redirect("rider-edit", rider.pk)


@coach_view(plans=True)
@require_POST
def return_to_club(request: HttpRequest, rider_id: int) -> HttpResponse:
    """The rider who left is back."""
    rider = rider_of(rider_id)
    profiles.resume(rider=rider, by=member(request), now=timezone.now())
    messages.success(request, _("{name} is back. Their old links stay closed.").format(name=rider.name))
    return redirect("rider-edit", rider.pk)


@coach_view(health=True)
@require_POST
def ask_all_for_consent(request: HttpRequest) -> HttpResponse:
    """A mail to each rider who trains and has given no consent, or to their guardian."""
    now, membership = timezone.now(), member(request)
    rows = list(Rider.objects.training().select_related("club", "squad"))
    today = now.astimezone(zone_of(Rider(), membership.club)).date()
    missing = read_missing(rows, club=membership.club, on=today)
    lacking = [row for row in rows if _lacks_consent(missing[row.pk])]
    asked, without = profiles.ask_all(riders=lacking, by=membership, now=now)
    if asked:
        text = ngettext("One mail is on its way.", "{count} mails are on their way.", asked)
        messages.success(request, text.format(count=asked))
    for rider in without:
        messages.warning(
            request, _("{name} has no guardian's address, so nobody was asked.").format(name=rider.name)
        )
    return redirect("riders")


def standing_consent(rider: Rider) -> Consent | None:
    """The consent that stands."""
    return Consent.objects.filter(rider=rider).standing().first()
