"""A club's own exercises: written, changed, retired, taken in from a file and given out as one."""

import json
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from athletes.access import coach_view, found
from athletes.vocabulary import Pattern
from athletes.words import label
from programs import club_library, exchange, own_figures
from programs.exercises import compare
from programs.figures.svg import draw_svg
from programs.forms.own_exercises import ExerciseFileForm, ExerciseForm, initial_of
from programs.forms.own_figure import FigureForm
from programs.library import LibraryFaulty
from programs.models import ClubExercise, Exercise, ShippedExercise


@coach_view()
@require_safe
def library(request: HttpRequest) -> HttpResponse:
    """The club's own exercises, those that it retired, and what a release brought beside them."""
    club = request.membership.club  # type: ignore[attr-defined]
    rows = list(ClubExercise.objects.order_by("pattern", "level", "name"))
    context = {
        "section": "programs",
        "own": [(row, label(Pattern(row.pattern))) for row in rows if not row.is_retired],
        "retired": [row for row in rows if row.is_retired],
        "news": club_library.newly_shipped(),
        "state": club_library.current(club),
    }
    return render(request, "programs/library.html", context)


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def library_new(request: HttpRequest) -> HttpResponse:
    """A new exercise of the club's own."""
    form = ExerciseForm(request.POST if request.method == "POST" else None)
    return _write(request, form, _("A new exercise"))


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def exercise_edit(request: HttpRequest, slug: str) -> HttpResponse:
    """Changes an exercise of the club's own, or makes the club's own words for a shipped one."""
    exercise = found(Exercise, slug)
    own = ClubExercise.objects.filter(slug=slug).first()
    document = club_library.plain(exercise.document)
    earned_from = own.earned_from if own else []
    form = ExerciseForm(
        request.POST if request.method == "POST" else None,
        initial=initial_of(exercise.pattern, document, earned_from),
        slug=slug,
        kept={**document, "pattern": exercise.pattern, "earned_from": earned_from},
    )
    return _write(request, form, _("Change {name}").format(name=exercise.name), exercise=exercise)


def _write(
    request: HttpRequest, form: ExerciseForm, title: str, exercise: Exercise | None = None
) -> HttpResponse:
    if form.is_bound and form.is_valid():
        entry = form.entry()
        try:
            club_library.save(
                club=request.membership.club,  # type: ignore[attr-defined]
                entries=[entry],
                by=request.membership,  # type: ignore[attr-defined]
                now=timezone.now(),
            )
        except LibraryFaulty as faulty:
            form.show(faulty.faults, entry.slug)
        except club_library.TooMany:
            form.add_error(None, _("The club has as many exercises of its own as it may. Retire some."))
        else:
            messages.success(request, _("Saved. Weeks that are worked out from now on know it."))
            return redirect("exercise", entry.slug)
    context = {"section": "programs", "form": form, "title": title, "exercise": exercise}
    status = 422 if form.errors else 200
    return render(request, "programs/own_exercise.html", context, status=status)


@coach_view(plans=True)
@require_POST
def exercise_retire(request: HttpRequest, slug: str) -> HttpResponse:
    """Takes an exercise out of the club's library; it can be brought back."""
    exercise = found(Exercise, slug)
    try:
        club_library.retire(
            club=request.membership.club,  # type: ignore[attr-defined]
            slug=slug,
            by=request.membership,  # type: ignore[attr-defined]
            now=timezone.now(),
        )
    except Exercise.DoesNotExist:
        raise Http404 from None
    except club_library.InUse as used:
        messages.error(request, _in_use_words(used))
        return redirect("exercise", slug)
    except LibraryFaulty as faulty:
        messages.error(request, _faulty_words(faulty))
        return redirect("exercise", slug)
    messages.success(request, _("{name} is retired. It can be brought back here.").format(name=exercise.name))
    return redirect("library")


@coach_view(plans=True)
@require_POST
def exercise_restore(request: HttpRequest, slug: str) -> HttpResponse:
    """Brings a retired exercise back."""
    try:
        club_library.restore(
            club=request.membership.club,  # type: ignore[attr-defined]
            slug=slug,
            by=request.membership,  # type: ignore[attr-defined]
            now=timezone.now(),
        )
    except ClubExercise.DoesNotExist:
        raise Http404 from None
    except LibraryFaulty as faulty:
        messages.error(request, _faulty_words(faulty))
    return redirect("library")


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def exercise_shipped(request: HttpRequest, slug: str) -> HttpResponse:
    """The club's words beside the shipped ones; the coach chooses."""
    own = ClubExercise.objects.filter(slug=slug).first()
    shipped = ShippedExercise.objects.filter(pk=slug).first()
    if own is None or shipped is None:
        raise Http404
    if request.method != "POST":
        mine, theirs = club_library.plain(own.document), club_library.plain(shipped.document)
        lines = compare(mine, theirs, own.shipped or {})
        context = {"section": "programs", "own": own, "shipped": shipped, "lines": lines}
        return render(request, "programs/shipped.html", context)
    choose = club_library.take_shipped if request.POST.get("take") == "shipped" else club_library.keep_own
    try:
        choose(
            club=request.membership.club,  # type: ignore[attr-defined]
            slug=slug,
            by=request.membership,  # type: ignore[attr-defined]
            now=timezone.now(),
        )
    except LibraryFaulty as faulty:
        messages.error(request, _faulty_words(faulty))
        return redirect("exercise-shipped", slug)
    return redirect("library")


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def exercise_figure(request: HttpRequest, slug: str) -> HttpResponse:
    """The figure of an exercise of the club's own: a shipped pose whose joints are bent, drawn as they are."""
    own = found(ClubExercise, _own_key(slug))
    kept = own.document.get("figure") or {"base": slug, "angles": {}}
    base = request.POST.get("base") or request.GET.get("base") or kept["base"]
    base = base if base in own_figures.bases() else "squat"
    angles = kept["angles"] if base == kept["base"] else {}
    data = request.POST if request.method == "POST" and request.POST.get("shown") == base else None
    form = FigureForm(data, base=base, angles=angles)
    if form.is_bound and form.is_valid():
        angles = form.angles()
        if request.POST.get("do") == "save":
            club_library.set_figure(
                club=request.membership.club,  # type: ignore[attr-defined]
                slug=slug,
                base=base,
                angles=angles,
                by=request.membership,  # type: ignore[attr-defined]
                now=timezone.now(),
            )
            return redirect("exercise", slug)
    shown = own_figures.show(base, angles, slug)
    context = {
        "section": "programs",
        "own": own,
        "form": form,
        "base": base,
        "shown": shown,
        "figure": draw_svg(shown.drawing, own.name),
        "bent": [
            (angle.words, angles[angle.key], angle.value) for angle in form.found if angle.key in angles
        ],
    }
    part = "#bench" if request.htmx else ""  # type: ignore[attr-defined]
    return render(request, f"programs/own_figure.html{part}", context, status=422 if form.errors else 200)


def _own_key(slug: str) -> int:
    """The number of the club's own exercise of that slug, 0 where there is none."""
    return ClubExercise.objects.filter(slug=slug).values_list("pk", flat=True).first() or 0


# --- files ------------------------------------------------------------------------------------------------------------


@coach_view()
@require_safe
def library_file(request: HttpRequest) -> HttpResponse:
    """The library in force in the club as a file, or its own exercises alone."""
    kind = exchange.JSON if request.GET.get("kind") == exchange.JSON else exchange.YAML
    own_only = request.GET.get("which") == "own"
    text = exchange.write(kind=kind, own_only=own_only)
    media = "application/json" if kind == exchange.JSON else "application/yaml"
    answer = HttpResponse(text, content_type=f"{media}; charset=utf-8")
    name = "own-exercises" if own_only else "exercises"
    answer["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return answer


@coach_view()
@require_safe
def library_schema(request: HttpRequest) -> HttpResponse:
    """The shape of such a file, as a JSON Schema."""
    text = json.dumps(exchange.SCHEMA, indent=2, ensure_ascii=False) + "\n"
    answer = HttpResponse(text, content_type="application/schema+json; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="exercise-file.schema.json"'
    return answer


@coach_view(plans=True)
@require_http_methods(["GET", "HEAD", "POST"])
def library_import(request: HttpRequest) -> HttpResponse:
    """Takes in a file of exercises, whole or not at all."""
    form = ExerciseFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST":
        form = ExerciseFileForm(request.POST, request.FILES)
    context: dict[str, Any] = {"section": "programs", "form": form}
    if not (form.is_bound and form.is_valid()):
        status = 422 if form.errors else 200
        return render(request, "programs/library_import.html", context, status=status)
    read = exchange.read(form.cleaned_data["file"])
    if read.faults:
        context["faults"] = read.faults
        return render(request, "programs/library_import.html", context, status=422)
    if read.entries:
        try:
            club_library.save(
                club=request.membership.club,  # type: ignore[attr-defined]
                entries=read.entries,
                by=request.membership,  # type: ignore[attr-defined]
                now=timezone.now(),
            )
        except club_library.TooMany:
            form.add_error("file", _("The club would have more exercises of its own than it may."))
            return render(request, "programs/library_import.html", context, status=422)
    messages.success(request, _taken_words(len(read.entries), read.same))
    return redirect("library")


# --- words ------------------------------------------------------------------------------------------------------------


def _taken_words(count: int, same: int) -> str:
    taken = ngettext("{count} exercise taken in.", "{count} exercises taken in.", count).format(count=count)
    alike = ngettext("{count} was there already.", "{count} were there already.", same).format(count=same)
    return f"{taken} {alike}"


def _in_use_words(used: club_library.InUse) -> str:
    if used.riders:
        names = ", ".join(rider.name for rider in used.riders)
        return _("These riders stand at it: {names}. Set their level first.").format(names=names)
    programs = ", ".join(sorted({slot.template.block.program.name for slot in used.slots}))
    return _("These programs ask for it: {names}. Change them first.").format(names=programs)


def _faulty_words(faulty: LibraryFaulty) -> str:
    names = dict(Exercise.objects.values_list("slug", "name"))
    said = [
        f"{names.get(fault.exercise, fault.exercise)}: {exchange.fault_words(fault)}"
        for fault in faulty.faults
    ]
    return _("The library would not hold together:") + " " + " ".join(said)
