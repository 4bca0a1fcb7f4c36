"""Addresses of people: riders, rosters, squads, follow-ups, and the links that riders get."""

from django.urls import path

from athletes import access

urlpatterns = [
    path("l/<str:token>/", access.enter, name="link-enter"),
]
