"""What one rider would get from a program in a week to come. Nothing is written."""

from collections.abc import Iterable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from athletes.access import coach_view, found
from athletes.models import Rider
from athletes.vocabulary import Reason
from programs import outlines, plans, wording
from programs.engine.quantities import Unit, shift_week, week_name, week_of
from programs.forms.builder import PreviewForm
from programs.models import Program


@coach_view()
@require_safe
def program_preview(request: HttpRequest, program_id: int) -> HttpResponse:
    """Choose a rider and a week; the page shows the sessions, the targets and why."""
    membership = request.membership  # type: ignore[attr-defined]
    program = found(Program, program_id)
    today = plans.local_date(membership.club, timezone.now())
    running = week_of(today)
    first = week_of(program.starts_on)
    weeks = [(number, week) for number, week in _weeks(program) if week >= running]
    rider = Rider.objects.filter(squad_id=program.squad_id).current().first()
    coming = shift_week(running, 1)
    usual = next((week for _number, week in weeks if week >= coming), weeks[-1][1] if weeks else first)
    data = request.GET.copy()
    data.setdefault("rider", str(rider.pk) if rider else "")
    data.setdefault("week", week_name(usual))
    form = PreviewForm(data, squad=program.squad, weeks=weeks)
    context: dict[str, Any] = {
        "section": "programs",
        "program": program,
        "form": form,
        "weeks": weeks,
        "rider": rider,
    }
    if rider and weeks and form.is_valid():
        chosen = form.cleaned_data["rider"]
        foreseen = outlines.foresee_week(
            program=program, rider=chosen, week=form.cleaned_data["week"], club=membership.club, today=today
        )
        context |= {"rider": chosen, "page": _page(foreseen, chosen, membership.sees_health)}
    part = "#week" if request.htmx else ""  # type: ignore[attr-defined]
    return render(request, f"programs/builder_preview.html{part}", context)


def _weeks(program: Program) -> list[tuple[int, Any]]:
    count = sum(block.weeks for block in program.blocks.all())
    first = week_of(program.starts_on)
    return [(number, shift_week(first, number - 1)) for number in range(1, count + 1)]


def _page(foreseen: outlines.Foreseen, rider: Rider, sees_health: bool) -> dict[str, Any]:
    """The decision in words; health stands in it only for those who may read it."""
    decision, names = foreseen.decision, foreseen.names
    unit: Unit = "lb" if rider.unit == "lb" else "kg"
    by_slug = {one.slug: one for one in foreseen.library.exercises}

    def said(reasons: Iterable[Reason]) -> list[dict[str, Any]]:
        return [
            {
                "sentence": wording.guarded_sentence(
                    reason, may_see_health=sees_health, names=names, unit=unit
                ),
                "rule": reason.rule,
                "figures": [],
            }
            for reason in reasons
        ]

    sessions = []
    for session in decision.sessions:
        items = []
        for item in session.items:
            words = wording.sheet_item(item, by_slug[item.exercise], name=names[item.exercise], unit=unit)
            items.append({"words": words, "slug": item.exercise, "reasons": said(item.reasons)})
        sessions.append(
            {
                "session": session,
                "day": wording.day_words(session.on),
                "start": outlines.clock_words(session.start),
                "warm_up": wording.list_words([names.get(slug, slug) for slug in session.warm_up]),
                "cool_down": wording.list_words([names.get(slug, slug) for slug in session.cool_down]),
                "items": items,
                "left_out": [
                    (outlines.pattern_words(one.pattern), said(one.reasons)) for one in session.left_out
                ],
                "reasons": said(session.reasons),
            }
        )
    return {
        "week": wording.week_words(foreseen.week),
        "phase": outlines.phase_words(decision.phase),
        "is_light": decision.light,
        "sessions": sessions,
        "reasons": said(decision.reasons),
        "is_ahead": foreseen.is_ahead,
    }
