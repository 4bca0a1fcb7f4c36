"""The season before it happens: synthetic riders live a program, a few in each request. Nothing is written."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from athletes.access import coach_view, found
from programs import facts as translator
from programs import outlines, plans, rehearsals, season_pages
from programs.engine import tally
from programs.forms.rehearsal import INVENTED, LIKE, MOST_RIDERS, MOST_WEEKS, RehearsalForm
from programs.models import Exercise, Program

#: How long one request lets riders live, in seconds.
SLICE = 1.2
USUAL_RIDERS, USUAL_SEED = 12, 7


@coach_view()
@require_http_methods(["GET", "HEAD", "POST"])
def program_season(request: HttpRequest, program_id: int) -> HttpResponse:
    """What is chosen stands in the address. A parcel that is posted holds what has been lived so far."""
    club = request.membership.club  # type: ignore[attr-defined]
    program = outlines.read_rows(found(Program, program_id).pk)
    blocks = outlines.blocks_of(program)
    if request.method == "POST" and not request.GET:
        return redirect("program-season", program.pk)
    today = plans.local_date(club, timezone.now())
    likes = rehearsals.likes_of(program.squad, club=club, today=today) if blocks else ()
    initial = {
        "who": LIKE if likes else INVENTED,
        "riders": min(max(len(likes), USUAL_RIDERS), MOST_RIDERS),
        "weeks": min(sum(block.weeks for block in program.blocks.all()) or 1, MOST_WEEKS),
        "seed": USUAL_SEED,
    }
    form = RehearsalForm(request.GET or None, initial=initial, likes=likes)
    context: dict[str, Any] = {
        "section": "programs",
        "program": program,
        "form": form,
        "has_blocks": bool(blocks),
        "assumptions": season_pages.assumptions(),
    }
    if blocks and form.is_bound and form.is_valid():
        script = rehearsals.script_of(program)
        rehearsal = rehearsals.Rehearsal(script, form.cast(), translator.current_library())
        rehearsal = rehearsals.unpack(rehearsal, request.POST.get("parcel", ""))
        rehearsal = rehearsals.go_on(rehearsal, seconds=SLICE)
        context |= _lived(rehearsal)
    part = ("#season" if request.method == "POST" else "#rehearsal") if request.htmx else ""  # type: ignore[attr-defined]
    return render(request, f"programs/season.html{part}", context)


def _lived(rehearsal: rehearsals.Rehearsal) -> dict[str, Any]:
    """The page where all have lived, else how far it has come and the parcel that takes it on."""
    if not rehearsal.is_over:
        return {
            "done": len(rehearsal.lived),
            "total": rehearsal.cast.riders,
            "parcel": rehearsals.pack(rehearsal),
        }
    names = dict(Exercise.objects.values_list("slug", "name"))
    counted = tally.count(rehearsal.lived)
    return {
        "page": season_pages.page_of(counted, races=rehearsal.script.races, names=names),
        "cast": rehearsal.cast,
    }
