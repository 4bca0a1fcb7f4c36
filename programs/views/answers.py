"""How the builder's pages answer: the season redrawn in place (htmx), or back to the program's page (without)."""

from collections.abc import Callable
from dataclasses import asdict
from datetime import timedelta
from functools import wraps
from typing import Any

from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django_htmx.http import HttpResponseClientRedirect, reswap, retarget

from programs import builder, outlines, plans
from programs.engine.quantities import week_days
from programs.models import Block, Program, SessionTemplate, Slot
from programs.placing import Full

type View = Callable[..., HttpResponse]

#: How long the way back from a removal stays open, and what signs it.
UNDO_LASTS = timedelta(hours=2)
UNDO_SALT = "programs.builder.removed"
UNDO_SESSION = "program-undo"


def answers_gone(view: View) -> View:
    """Leads back to the programs, and says why, when somebody else has removed what this was about."""

    @wraps(view)
    def answering(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return view(request, *args, **kwargs)
        except builder.Gone:
            messages.warning(request, _("That is no longer there: somebody removed it meanwhile."))
            address = reverse("programs")
            return HttpResponseClientRedirect(address) if request.htmx else redirect(address)  # type: ignore[attr-defined]

    return answering


def coach_of(request: HttpRequest) -> Any:
    """The membership of whoever is signed in."""
    return request.membership  # type: ignore[attr-defined]


def season_of(request: HttpRequest, program_id: int, **more: Any) -> dict[str, Any]:
    """What the program's page shows, and `more`."""
    club, now = coach_of(request).club, timezone.now()
    return {
        "section": "programs",
        "outline": outlines.read(program_id, today=plans.local_date(club, now)),
        "next_on": week_days(plans.coming_week(club, now))[0],
        "may_change": coach_of(request).plans,
        **more,
    }


def answer_changed(
    request: HttpRequest, program_id: int, at: str, way: str = "", *, form_at: str = ""
) -> HttpResponse:
    """The season redrawn, with the reader at what was changed (`way`: at the button that was pressed).

    `form_at` names the place of the form that is done with; others that are open stay open.
    """
    if not request.htmx:  # type: ignore[attr-defined]
        return redirect(f"{reverse('program', args=[program_id])}#{at}")
    context = season_of(request, program_id, focus=at, focus_way=way, closed=form_at)
    return _in_place(render(request, "programs/builder.html#season", context))


def answer_removed(
    request: HttpRequest, program_id: int, removed: builder.Removed, at: str, *, name: str = ""
) -> HttpResponse:
    """The season redrawn, with the way back from the removal where the removed thing stood."""
    undo = undo_of(removed, at=at, name=name)
    if not request.htmx:  # type: ignore[attr-defined]
        request.session[UNDO_SESSION] = undo
        return redirect(f"{reverse('program', args=[program_id])}#{at}")
    context = season_of(request, program_id, undo=undo, focus="undo")
    return _in_place(render(request, "programs/builder.html#season", context))


def _in_place(response: HttpResponse) -> HttpResponse:
    """Puts the season where the season is, whatever part of it was pressed."""
    return reswap(retarget(response, "#season"), "outerHTML")


def undo_of(removed: builder.Removed, *, at: str, name: str = "") -> dict[str, str]:
    """What the page says of a removal, and what brings it back, signed."""
    return {
        "at": at,
        "said": _("{name} removed.").format(name=name or removed.name),
        "value": signing.dumps(asdict(removed), salt=UNDO_SALT, compress=True),
    }


def answer_form(
    request: HttpRequest,
    form: Any,
    title: str,
    submit: str,
    program_row: Program,
    where: str,
    **more: Any,
) -> HttpResponse:
    """The form on a page of its own, or in its place in the program. `more` is what else the template shows."""
    if not request.htmx:  # type: ignore[attr-defined]
        return form_page(request, form, title, submit, program_row, where, **more)
    context = {"form": form, "title": title, "submit": submit, "program": program_row, "where": where, **more}
    response = render(
        request,
        "programs/builder_form.html#form",
        {**context, "in_place": True},
        status=422 if form.errors else 200,
    )
    return reswap(retarget(response, f"#{where}-form"), "innerHTML")


def form_page(
    request: HttpRequest,
    form: Any,
    title: str,
    submit: str,
    program_row: Program | None = None,
    where: str = "",
    **more: Any,
) -> HttpResponse:
    """The form on a page of its own. `more` is what else the template shows."""
    context = {"form": form, "title": title, "submit": submit, "program": program_row, "where": where, **more}
    return render(
        request,
        "programs/builder_form.html",
        {**context, "section": "programs"},
        status=422 if form.errors else 200,
    )


def address_of(row: Program | Block | SessionTemplate | Slot) -> str:
    """The program's page at the row."""
    match row:
        case Program():
            return reverse("program", args=[row.pk])
        case Block():
            return f"{reverse('program', args=[row.program_id])}#block-{row.pk}"
        case SessionTemplate():
            return f"{reverse('program', args=[row.block.program_id])}#template-{row.pk}"
        case _:
            return f"{reverse('program', args=[row.template.block.program_id])}#slot-{row.pk}"


def way_of(request: HttpRequest) -> str:
    """Which of the two buttons was pressed."""
    return "up" if request.POST.get("to") == "up" else "down"


def places_of(request: HttpRequest) -> int:
    """How many places later."""
    return -1 if way_of(request) == "up" else 1


def full_words(full: Full) -> str:
    """Says how much room there is."""
    return _("There is room for {most} and no more.").format(most=full.most)


def too_late_words(late: builder.StartsTooLate) -> str:
    """Says which Monday will do."""
    return _(
        "{other} is in use, and the weeks before this Monday would have no program. Choose {day} or earlier, or come "
        "back in the week before it starts."
    ).format(other=late.other.name, day=date_format(late.next_on, "j F Y"))
