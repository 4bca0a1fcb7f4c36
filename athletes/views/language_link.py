"""The language of mail, card and pages, chosen by whoever reads them."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from athletes import profiles
from athletes.access import link_view
from athletes.forms.languages import LanguageForm
from athletes.models import Link

Purpose = Link.Purpose


@link_view(Purpose.PAGE, Purpose.CONSENT, Purpose.SESSION, Purpose.REPORT)
@require_http_methods(["GET", "HEAD", "POST"])
def language(request: HttpRequest, link: Link) -> HttpResponse:
    """Shows the choice, and keeps it: from then on everything for this rider comes in that language.

    A link that stops mail does nothing else: it is good for long, and stands in the head of every mail.
    """
    data = request.POST if request.method == "POST" else None
    form = LanguageForm(data, initial={"language": link.rider.language})
    if data is None or not form.is_valid():
        back = reverse(f"link-{link.purpose}", args=[link.pk])
        context = {"form": form, "link": link, "club_name": link.rider.club.name, "back": back}
        return render(request, "athletes/link_language.html", context, status=200 if data is None else 422)
    chosen = form.cleaned_data["language"]
    by = link.rider if link.subject != profiles.TO_GUARDIAN else f"guardian-of:{link.rider_id}"
    profiles.choose_language(rider=link.rider, language=chosen, by=by, now=timezone.now())
    with translation.override(chosen):
        messages.success(request, _("Kept. Mail, card and pages come in this language."))
    return redirect(f"link-{link.purpose}", link_id=link.pk)
