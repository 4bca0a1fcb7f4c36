"""The exercise library as a whole: the handbook as a PDF."""

from typing import Any

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language
from django.views.decorators.http import require_http_methods, require_safe

from athletes.access import coach_view
from programs import handbooks
from programs.models import Handbook


@coach_view()
@require_http_methods(["GET", "HEAD", "POST"])
def handbook(request: HttpRequest) -> HttpResponse:
    """Asks for the handbook, says how far it has come and offers it."""
    if request.method == "POST":
        try:
            row = handbooks.want(
                club=request.membership.club,  # type: ignore[attr-defined]
                language=request.POST.get("language", _language(request)),
                by=request.membership,  # type: ignore[attr-defined]
                now=timezone.now(),
            )
        except ValueError:
            raise Http404 from None
        return redirect(f"{reverse('handbook')}?language={row.language}")
    return render(request, "programs/handbook.html", _context(request))


@coach_view()
@require_safe
def handbook_progress(request: HttpRequest) -> HttpResponse:
    """How far the handbook has come, or the way to it once it is there; the whole page to who asks without htmx."""
    part = "#state" if request.htmx else ""  # type: ignore[attr-defined]
    return render(request, f"programs/handbook.html{part}", _context(request))


@coach_view()
@require_safe
def handbook_file(request: HttpRequest) -> HttpResponse:
    """The handbook itself, of the library as it is now."""
    club = request.membership.club  # type: ignore[attr-defined]
    language = _language(request)
    made = (
        Handbook.objects.filter(digest=handbooks.digest_of(club), language=language).exclude(pdf=None).first()
    )
    if made is None:
        raise Http404
    answer = HttpResponse(bytes(made.pdf or b""), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="exercise-handbook-{language}.pdf"'
    return answer


def _language(request: HttpRequest) -> str:
    """The language that is asked for, or that of the page."""
    wanted = request.GET.get("language") or get_language() or ""
    return wanted if wanted in dict(settings.LANGUAGES) else settings.LANGUAGE_CODE


def _context(request: HttpRequest) -> dict[str, Any]:
    club, language = request.membership.club, _language(request)  # type: ignore[attr-defined]
    return {
        "section": "programs",
        "language": language,
        "languages": settings.LANGUAGES,
        "handbook": handbooks.current(club=club, language=language),
    }
