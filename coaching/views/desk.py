"""The weekly desk."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from athletes.access import coach_view


@coach_view()
def desk(request: HttpRequest, year: int | None = None, number: int | None = None) -> HttpResponse:
    """The week of the club by exception."""
    return render(request, "coaching/desk.html", {"section": "desk"})
