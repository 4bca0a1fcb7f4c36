"""The movement check of one rider."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from athletes import pain
from athletes.access import coach_view, found
from athletes.models import Rider
from programs import levels
from programs.exercises import find_checked
from programs.forms.levels import MovementCheckForm


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def movement_check(request: HttpRequest, rider_id: int) -> HttpResponse:
    """Enters a movement check, which starts the rider on the level earned in each pattern."""
    rider = found(Rider, rider_id)
    membership = request.membership  # type: ignore[attr-defined]
    context = {"section": "riders", "rider": rider}
    families = find_checked()
    if request.method != "POST":
        form = MovementCheckForm(families=families, initial={"checked_by": membership.user.name})
        return render(request, "programs/movement_check.html", {**context, "form": form})
    form = MovementCheckForm(request.POST, families=families)
    if form.is_valid():
        try:
            moves = levels.place(
                rider=rider,
                results=form.results,
                checked_by=form.cleaned_data["checked_by"],
                by=membership,
                now=timezone.now(),
            )
        except pain.ConsentMissing:
            form.add_error(None, _("No consent is recorded for this rider yet, so the check cannot be kept."))
        else:
            count = len(moves)
            messages.success(
                request,
                ngettext(
                    "{count} pattern has its start level.", "{count} patterns have their start level.", count
                ).format(count=count),
            )
            return redirect("rider", rider.pk)
    return render(request, "programs/movement_check.html", {**context, "form": form}, status=422)
