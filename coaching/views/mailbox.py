"""The demo's caught mail. Without a mailbox folder in the settings these pages do not exist."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.clickjacking import xframe_options_sameorigin
from django.views.decorators.csp import csp_override
from django.views.decorators.http import require_safe

from athletes.access import public_view
from coaching import mailbox

#: A mail brings its own styles and must reach nothing: no script, no request.
_MAIL_POLICY = {
    "default-src": ["'none'"],
    "style-src": ["'unsafe-inline'"],
    "img-src": ["data:"],
    "sandbox": [""],
}


@public_view
@require_safe
def caught_mail(request: HttpRequest) -> HttpResponse:
    """The newest mails that the demo has caught."""
    return render(request, "coaching/caught_mail.html", {"mails": mailbox.list_mails()})


@public_view
@require_safe
def caught_message(request: HttpRequest, name: str) -> HttpResponse:
    """One mail as text, with its parts."""
    return render(request, "coaching/caught_message.html", {"mail": mailbox.find_mail(name)})


@public_view
@require_safe
@xframe_options_sameorigin
@csp_override(_MAIL_POLICY)
def caught_part(request: HttpRequest, name: str, part: int) -> HttpResponse:
    """One part of a mail: its HTML, its card or its calendar file."""
    kind, file_name, content = mailbox.find_part(name, part)
    response = HttpResponse(
        content, content_type=f"{kind}; charset=utf-8" if kind.startswith("text/") else kind
    )
    if file_name:
        # Attached, not inline: a browser shows no PDF inside the sandbox that a mail is kept in.
        response.headers["Content-Disposition"] = f'attachment; filename="{file_name}"'
    return response
