"""The exercise library: found by words and by what is wanted of an exercise, and read one by one."""

from urllib.parse import parse_qs, urlencode, urlsplit

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from athletes.access import coach_view, found
from programs import catalogue
from programs.exercises import figure_of, group, read_page
from programs.forms.exercises import FindForm
from programs.handbook import Cover, sheet_pdf
from programs.models import Exercise
from programs.rails import read_rungs
from programs.wording import list_words


@coach_view()
@require_safe
def exercises(request: HttpRequest) -> HttpResponse:
    """All exercises by pattern and level, or those that are looked for, with why they were found."""
    form = FindForm(request.GET)
    wanted = form.wanted
    result = catalogue.find(wanted=wanted)
    context = {
        "section": "programs",
        "form": form,
        "wanted": wanted,
        "result": result,
        "families": group(hit.exercise for hit in result.hits),
        "asked": _asked_words(form, wanted),
        "hits": [
            (hit, catalogue.part_words(hit.part), form.words_for("pattern", hit.exercise.pattern))
            for hit in result.hits
            if wanted.words
        ],
        "ways": [(_way_words(form, way), _address(way.wanted), way.count) for way in result.ways],
        "venues": [
            (venue.name, _address(catalogue.Wanted(kit=catalogue.kit_of(venue))))
            for venue in catalogue.club_venues()
        ],
    }
    if not request.htmx:  # type: ignore[attr-defined]
        return render(request, "programs/exercises.html", context)
    answer = render(request, "programs/exercises.html#found", context)
    kind = "HX-Replace-Url" if _is_typing(request, wanted) else "HX-Push-Url"
    answer[kind] = _address(wanted)
    return answer


@coach_view()
@require_safe
def exercise(request: HttpRequest, slug: str) -> HttpResponse:
    """One exercise in words, with what is easier and harder."""
    page = read_page(found(Exercise, slug))
    context = {
        "section": "programs",
        "page": page,
        "figure": figure_of(page.exercise),
        "rungs": read_rungs(page.levels),
    }
    return render(request, "programs/exercise.html", context)


@coach_view()
@require_safe
def exercise_sheet(request: HttpRequest, slug: str) -> HttpResponse:
    """One exercise on one A4 sheet, to be pinned up."""
    page = read_page(found(Exercise, slug))
    cover = Cover(club=request.membership.club.name, day="")  # type: ignore[attr-defined]
    answer = HttpResponse(sheet_pdf(page, cover), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{page.exercise.slug}.pdf"'
    return answer


def _asked(wanted: catalogue.Wanted) -> list[tuple[str, str]]:
    """Everything that is asked for, as (field, value), in the order of the form."""
    single = [("words", wanted.words), ("pattern", wanted.pattern), ("level", wanted.level)]
    return [
        *((field, value) for field, value in single if value),
        *(("kit", value) for value in sorted(wanted.kit)),
        *(("spare", value) for value in sorted(wanted.spare)),
    ]


def _asked_words(form: FindForm, wanted: catalogue.Wanted) -> list[str]:
    """What is asked for, for one line."""
    words = [form.words_for(field, value) for field, value in _asked(wanted) if field not in ("kit", "spare")]
    named = {
        field: list_words([form.words_for(field, value).lower() for value in sorted(getattr(wanted, field))])
        for field in ("kit", "spare")
    }
    if wanted.kit:
        words.append(_("at hand: {kit}").format(kit=named["kit"]))
    if wanted.spare:
        words.append(_("to spare: {regions}").format(regions=named["spare"]))
    return words


def _address(wanted: catalogue.Wanted) -> str:
    """The address of a search, with nothing in it that is not asked for."""
    fields = [("q" if field == "words" else field, value) for field, value in _asked(wanted)]
    return reverse("exercises") + ("?" + urlencode(fields) if fields else "")


def _is_typing(request: HttpRequest, wanted: catalogue.Wanted) -> bool:
    """Whether only the words differ from the address that the browser shows: no step that one would go back by."""
    shown = parse_qs(urlsplit(request.htmx.current_url or "").query)  # type: ignore[attr-defined]
    before, now = shown, parse_qs(urlsplit(_address(wanted)).query)
    return bool(before.pop("q", None)) and bool(now.pop("q", None)) and before == now


def _way_words(form: FindForm, way: catalogue.Way) -> str:
    """What a wider search leaves out."""
    name = form.words_for(way.field, way.value)
    match way.field:
        case "kit":
            return _("With any kit")
        case "spare":
            return _("Without sparing: {region}").format(region=name)
        case "words":
            return _("Without the words {words}").format(words=name)
        case "pattern":
            return _("In every pattern, not only: {pattern}").format(pattern=name)
        case _:
            return _("At any level, not only: {level}").format(level=name)
