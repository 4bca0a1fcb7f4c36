"""The exercise library: browse it by pattern, search it by name, read one exercise."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from athletes.access import coach_view, found
from programs.exercises import figure_of, find_families, read_page
from programs.forms.exercises import FindForm
from programs.models import Exercise


@coach_view()
@require_safe
def exercises(request: HttpRequest) -> HttpResponse:
    """All exercises by pattern and level, or those that a search names."""
    form = FindForm(request.GET)
    if not form.is_valid():
        raise Http404
    words, pattern = form.cleaned_data["q"], form.cleaned_data["pattern"]
    context = {
        "section": "programs",
        "form": form,
        "families": find_families(pattern=pattern, words=words),
        "words": words,
        "pattern": pattern,
    }
    part = "#found" if request.htmx else ""  # type: ignore[attr-defined]
    return render(request, f"programs/exercises.html{part}", context)


@coach_view()
@require_safe
def exercise(request: HttpRequest, slug: str) -> HttpResponse:
    """One exercise in words, with what is easier and harder."""
    page = read_page(found(Exercise, slug))
    context = {"section": "programs", "page": page, "figure": figure_of(page.exercise)}
    return render(request, "programs/exercise.html", context)
