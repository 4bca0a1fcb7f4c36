"""Addresses of the weekly loop: programs, plans, and what riders open by link."""

urlpatterns: list[object] = []
