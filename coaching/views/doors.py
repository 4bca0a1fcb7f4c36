"""Signing in and out, and the health check."""

from django import forms
from django.contrib.auth import login, logout
from django.contrib.auth.forms import AuthenticationForm
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from athletes import attempts
from athletes.access import public_view


class SignInForm(AuthenticationForm):
    """Mail address and password."""

    username = forms.EmailField(
        label=_("Mail address"), widget=forms.EmailInput(attrs={"autocomplete": "username"})
    )
    error_messages = {
        "invalid_login": _("No account fits this mail address and password. Check both and try again."),
        "inactive": _("This account is closed. Ask the owner of your club."),
    }


@public_view
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Signs a member of staff in. Too many wrong tries from one place or for one account wait, they lock nobody out."""
    if request.method != "POST":
        return render(request, "coaching/sign_in.html", {"form": SignInForm(request)})
    now = timezone.now()
    place, account = request.META.get("REMOTE_ADDR", ""), request.POST.get("username", "").lower()
    form = SignInForm(request, data=request.POST)
    if attempts.must_wait(place=place, account=account, now=now):
        return render(request, "coaching/sign_in.html", {"form": form, "must_wait": True}, status=429)
    if not form.is_valid():
        attempts.note_failure(place=place, account=account, now=now)
        return render(request, "coaching/sign_in.html", {"form": form}, status=422)
    login(request, form.get_user())
    target = request.GET.get("next", "")
    if not url_has_allowed_host_and_scheme(target, {request.get_host()}, require_https=request.is_secure()):
        target = "desk"
    return redirect(target)


@public_view
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Ends the session."""
    logout(request)
    return redirect("sign-in")


@public_view
@require_GET
def healthz(request: HttpRequest) -> HttpResponse:
    """Answers when the process serves and reaches its database."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return HttpResponse("ok\n", content_type="text/plain")
