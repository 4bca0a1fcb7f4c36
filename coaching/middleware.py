"""What every answer carries beside its page."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

#: What no page of ours uses, switched off for whatever might slip in.
PERMISSIONS = "camera=(), geolocation=(), microphone=(), payment=(), usb=(), screen-wake-lock=(self)"


class PrivatePages:
    """Marks every dynamic answer as not to be stored: nearly all of them are about a person.

    Static files are answered before this runs and keep their own caching.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "no-store")
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        return response
