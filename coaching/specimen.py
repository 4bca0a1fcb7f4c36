"""The specimen page: every component of the look on one page, filled with invented values.

It reads no row and shows no person's data. Tests walk it with a browser and axe; an engineer opens it to see what there
is before drawing something new.
"""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from programs.drawings import week_strip_svg
from programs.ruler import RulerWeek, draw_ruler
from programs.sheet import StripDay

MONDAY = date(2026, 11, 23)


class SpecimenForm(forms.Form):
    """One field of each kind and layout."""

    name = forms.CharField(
        label=gettext_lazy("Name of the squad"), help_text=gettext_lazy("As riders call it.")
    )
    begins_on = forms.DateField(
        label=gettext_lazy("First day"), widget=forms.DateInput(attrs={"type": "date"})
    )
    paper = forms.ChoiceField(
        label=gettext_lazy("Paper of the card"), choices=[("A4", "A4"), ("Letter", "Letter")], required=False
    )
    note = forms.CharField(label=gettext_lazy("Note to the squad"), widget=forms.Textarea, required=False)
    is_open = forms.BooleanField(label=gettext_lazy("New riders may join by themselves"), required=False)


class SpecimenReport(forms.Form):
    """The building blocks of a check-in on a phone."""

    done = forms.ChoiceField(
        label=gettext_lazy("What did you do?"),
        choices=[
            ("all", gettext_lazy("All of it")),
            ("part", gettext_lazy("Part of it")),
            ("none", gettext_lazy("None of it")),
        ],
        widget=forms.RadioSelect,
    )
    reps_1 = forms.IntegerField(
        label=gettext_lazy("Reps in set 1"),
        min_value=0,
        max_value=50,
        widget=forms.NumberInput(attrs={"data-stepper": True, "data-start": 8, "inputmode": "numeric"}),
    )
    load_1 = forms.DecimalField(
        label=gettext_lazy("Load in kg"),
        min_value=0,
        step_size=0.5,
        widget=forms.NumberInput(attrs={"data-stepper": True, "data-start": "12", "inputmode": "decimal"}),
    )
    effort = forms.TypedChoiceField(
        label=gettext_lazy("How hard was the whole session?"),
        help_text=gettext_lazy("Session RPE, 0 to 10. Answer about half an hour after the end."),
        choices=[(figure, word) for figure, word in enumerate([
            gettext_lazy("no work at all"), gettext_lazy("hardly felt it"), gettext_lazy("light"),
            gettext_lazy("steady"), gettext_lazy("steady, and felt"), gettext_lazy("hard work"),
            gettext_lazy("harder still"), gettext_lazy("talking got short"), gettext_lazy("wanted it to end"),
            gettext_lazy("little left"), gettext_lazy("nothing left"),
        ])],
        coerce=int,
        widget=forms.RadioSelect(attrs={"class": "scale"}),
    )  # fmt: skip
    hurts = forms.ChoiceField(
        label=gettext_lazy("Does anything hurt?"),
        choices=[("no", gettext_lazy("No")), ("yes", gettext_lazy("Yes"))],
        widget=forms.RadioSelect(attrs={"class": "across"}),
    )
    regions = forms.MultipleChoiceField(
        label=gettext_lazy("Where?"),
        required=False,
        choices=[
            (
                gettext_lazy("Head and arms"),
                [("neck", gettext_lazy("Neck")), ("shoulder", gettext_lazy("Shoulder"))],
            ),
            (
                gettext_lazy("Back and trunk"),
                [
                    ("upper-back", gettext_lazy("Upper back")),
                    ("lower-back", gettext_lazy("Lower back")),
                    ("abdomen", gettext_lazy("Abdomen")),
                ],
            ),
            (
                gettext_lazy("Legs"),
                [
                    ("hip", gettext_lazy("Hip")),
                    ("knee", gettext_lazy("Knee")),
                    ("calf", gettext_lazy("Calf")),
                    ("foot-heel", gettext_lazy("Foot or heel")),
                ],
            ),
        ],
        widget=forms.CheckboxSelectMultiple(attrs={"class": "regions"}),
    )


@require_safe
def specimen(request: HttpRequest) -> HttpResponse:
    """The page with every component. `?errors` shows the forms as they come back with errors."""
    with_errors = "errors" in request.GET
    messages.success(request, _("A message: the plan was approved."))
    return render(
        request,
        "coaching/specimen.html",
        {
            "form": SpecimenForm({"begins_on": "yesterday"} if with_errors else None),
            "report": SpecimenReport({"reps_1": "-3"} if with_errors else None, prefix="report"),
            "marks": MARKS,
            "busy_week": week_strip_svg(_busy_week()),
            "calm_week": week_strip_svg(_calm_week()),
            "ruler": draw_ruler(_season()),
            "levels": _levels(),
            "reasons": _reasons(),
            "columns": [
                {"label": _("Implement")},
                {"label": _("Mass"), "is_figure": True},
                {"label": _("Count"), "is_figure": True},
                {"label": _("Where")},
            ],
            "rows": [
                [_("Kettlebell"), "12 kg", 4, _("Club hall")],
                [_("Kettlebell"), "16 kg", 3, _("Club hall")],
                [_("Dumbbell"), "7.5 kg", 6, _("Club hall, second shelf")],
            ],
            "page": Paginator(range(240), 20).get_page(5),
        },
    )


#: Mark and word, as pages use them; the test of the look holds this list against the marks there are.
MARKS = [
    ("planned", gettext_lazy("planned")), ("done", gettext_lazy("done")), ("part", gettext_lazy("done in part")),
    ("missed", gettext_lazy("missed")), ("key-ride", gettext_lazy("key ride")), ("race", gettext_lazy("race")),
    ("pain", gettext_lazy("pain")), ("up", gettext_lazy("more")), ("down", gettext_lazy("less")),
    ("same", gettext_lazy("as before")), ("hold", gettext_lazy("held")), ("new", gettext_lazy("first time")),
    ("stall", gettext_lazy("no gain")), ("look", gettext_lazy("needs a look")), ("stop", gettext_lazy("stop")),
    ("clinician", gettext_lazy("see a clinician")), ("due", gettext_lazy("due")),
    ("overdue", gettext_lazy("overdue")), ("clash", gettext_lazy("clash")), ("silent", gettext_lazy("silent")),
    ("bounced", gettext_lazy("mail came back")), ("private", gettext_lazy("health reason")),
    ("draft", gettext_lazy("draft")), ("approved", gettext_lazy("approved")), ("sent", gettext_lazy("sent")),
    ("open", gettext_lazy("open")), ("closed", gettext_lazy("closed")), ("paused", gettext_lazy("paused")),
    ("level-passed", gettext_lazy("level passed")), ("level-now", gettext_lazy("level now")),
    ("level-next", gettext_lazy("level next")), ("level-later", gettext_lazy("level later")),
    ("note", gettext_lazy("note")), ("done-tick", gettext_lazy("carried out")),
    ("less", gettext_lazy("take one off")), ("more", gettext_lazy("add one")),
    ("unfold", gettext_lazy("unfold")), ("forward", gettext_lazy("forward")), ("back", gettext_lazy("back")),
]  # fmt: skip


def _days(**marked: dict[str, Any]) -> tuple[StripDay, ...]:
    names = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    return tuple(
        StripDay(on=MONDAY + timedelta(days=index), **marked.get(name, {}))
        for index, name in enumerate(names)
    )


def _busy_week() -> tuple[StripDay, ...]:
    return _days(
        mon={"done_rpe": 7},
        tue={"key_ride": True, "pain": 4},
        wed={"missed": True},
        fri={"planned": True},
        sat={"key_ride": True},
        sun={"race": "Skarnock Bank Hill Climb"},
    )


def _calm_week() -> tuple[StripDay, ...]:
    return _days(tue={"planned": True}, thu={"key_ride": True}, fri={"planned": True}, sun={"key_ride": True})


def _season() -> list[RulerWeek]:
    months = {0: _("Nov"), 4: _("Dec"), 9: _("Jan"), 13: _("Feb"), 17: _("Mar"), 22: _("Apr"), 26: _("May")}
    races = {
        19: ("Skarnock Bank Hill Climb", False),
        23: ("Wexenfold Spring Round", True),
        29: ("Tolmarrow Hundred", False),
    }
    weeks = []
    for index in range(30):
        race, is_priority = races.get(index, ("", False))
        sessions = (3 if index % 4 != 3 else 2) if index < 14 else 2 if index < 20 else 1 if not race else 0
        weeks.append(
            RulerWeek(
                name=(MONDAY + timedelta(weeks=index)).strftime("%d.%m."),
                label=months.get(index, ""),
                sessions=sessions,
                bike_hours=5 + index * 0.25 - (1.5 if index % 4 == 3 else 0),
                race=race,
                is_priority=is_priority,
                is_now=index == 2,
            )
        )
    return weeks


def _levels() -> list[dict[str, Any]]:
    return [
        {"name": _("Chair squat"), "level": 1, "passed": True},
        {"name": _("Squat to a low step"), "level": 2, "passed": True},
        {"name": _("Goblet squat"), "level": 3, "current": True},
        {
            "name": _("Goblet squat with a pause"),
            "level": 4,
            "next": True,
            "criterion": _("Earned by 3 x 12 at 16 kg with 2 good reps left, twice in a row."),
        },
        {"name": _("Front squat"), "level": 5},
    ]


def _reasons() -> list[dict[str, Any]]:
    return [
        {
            "sentence": _("One rep more a set: all sets were done last week with 3 good reps left."),
            "rule": "P1",
            "figures": [
                {"name": _("last week"), "value": "3 x 8"},
                {"name": _("now"), "value": "3 x 9"},
                {"name": _("reps in reserve"), "value": "3"},
            ],
            "source": _("common practice, no source"),
        },
        {
            "sentence": _("Not on Tuesday: a key ride follows on Wednesday morning."),
            "rule": "W2",
            "figures": [],
        },
    ]
