"""What a coach fills in to write a program. Forms validate only; `programs/builder.py` changes."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from athletes import vocabulary
from athletes.models import Rider, Squad
from athletes.words import label
from programs.engine.facts import Week
from programs.engine.quantities import week_name
from programs.models import Block, Exercise, Program, SessionTemplate, Slot
from programs.wording import week_words

MONDAY_HELP = gettext_lazy("A Monday. Blocks follow each other from it, week by week.")


def _figure(
    label_words: Any,
    low: int,
    high: int,
    *,
    needed: bool = True,
    start: int | None = None,
    help_words: Any = "",
) -> Any:
    attrs = {"data-stepper": True, "inputmode": "numeric"}
    if start is not None:
        attrs["data-start"] = str(start)
    return forms.IntegerField(
        label=label_words,
        help_text=help_words,
        min_value=low,
        max_value=high,
        required=needed,
        widget=forms.NumberInput(attrs=attrs),
    )


def check_monday(on: date) -> date:
    """The day itself. Raises `ValidationError`, which names the Mondays around it."""
    if on.weekday() == 0:
        return on
    before = on - timedelta(days=on.weekday())
    raise forms.ValidationError(
        _("This is a {weekday}. Choose a Monday, such as {before} or {after}.").format(
            weekday=date_format(on, "l"),
            before=date_format(before, "j F Y"),
            after=date_format(before + timedelta(days=7), "j F Y"),
        )
    )


class ProgramForm(forms.Form):
    """A program's name and first Monday."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=100)
    starts_on = forms.DateField(
        label=gettext_lazy("First Monday"),
        help_text=MONDAY_HELP,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def clean_starts_on(self) -> date:
        return check_monday(self.cleaned_data["starts_on"])


class NewProgramForm(ProgramForm):
    """A new program: for whom, and what it begins with."""

    squad = forms.ModelChoiceField(Squad.objects.none(), label=gettext_lazy("Squad"))
    copied_from = forms.ModelChoiceField(
        Program.objects.none(),
        label=gettext_lazy("Begin with"),
        required=False,
        empty_label=gettext_lazy("A first draft: learn 3 weeks, build 12, then maintain"),
        help_text=gettext_lazy("A copy is yours to change; the other program stays as it is."),
    )
    field_order = ["squad", "name", "starts_on", "copied_from"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["squad"].queryset = Squad.objects.all()  # type: ignore[attr-defined]
        copied = self.fields["copied_from"]
        copied.queryset = Program.objects.select_related("squad")  # type: ignore[attr-defined]
        copied.label_from_instance = lambda row: _("A copy of {name}, {squad}").format(  # type: ignore[attr-defined]
            name=row.name, squad=row.squad.name
        )


class UseForm(forms.Form):
    """From when on riders follow a program."""

    starts_on = forms.DateField(
        label=gettext_lazy("First Monday"),
        help_text=gettext_lazy(
            "Week 1 of the program. A Monday that is past puts riders in the midst of it."
        ),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def clean_starts_on(self) -> date:
        return check_monday(self.cleaned_data["starts_on"])


class BlockForm(forms.Form):
    """Weeks with one intent."""

    intent = forms.ChoiceField(
        label=gettext_lazy("What the weeks are for"), choices=Block.Intent.choices, widget=forms.RadioSelect
    )
    name = forms.CharField(label=gettext_lazy("Name"), max_length=60, required=False)
    weeks = _figure(gettext_lazy("Weeks"), 1, 30)
    sessions = _figure(gettext_lazy("Sessions a week"), 0, 3)


class NewBlockForm(BlockForm):
    """A block at the program's end, with the sessions of another one or none."""

    sessions_from = forms.ModelChoiceField(
        Block.objects.none(),
        label=gettext_lazy("Its sessions"),
        required=False,
        empty_label=gettext_lazy("None yet"),
    )

    def __init__(self, *args: Any, program: Program, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["sessions_from"]
        field.queryset = program.blocks.all()  # type: ignore[attr-defined]
        field.label_from_instance = lambda row: _("The same as in block {number}, {name}").format(  # type: ignore[attr-defined]
            number=row.order, name=row.name or row.get_intent_display()
        )


class TemplateForm(forms.Form):
    """A session around its slots."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=60,
        help_text=gettext_lazy("As riders read it, for example Squat and pull."),
    )
    format = forms.ChoiceField(
        label=gettext_lazy("Order of work"),
        choices=SessionTemplate.Form.choices,
        widget=forms.RadioSelect(attrs={"class": "across"}),
        help_text=gettext_lazy(
            "In a circuit one set of each comes in turn, which takes about a third less time."
        ),
    )
    warm_up_minutes = _figure(gettext_lazy("Warm-up minutes"), 5, 10)
    cool_down_minutes = _figure(gettext_lazy("Cool-down minutes"), 2, 15)


class SlotForm(forms.Form):
    """What a session asks for in one place."""

    what = forms.ChoiceField(
        label=gettext_lazy("What"),
        help_text=gettext_lazy(
            "A pattern gives each rider their own level of it. One exercise is the same for all."
        ),
    )
    part = forms.ChoiceField(
        label=gettext_lazy("Part"),
        choices=Slot.SlotPart.choices,
        widget=forms.RadioSelect(attrs={"class": "across"}),
        help_text=gettext_lazy("Where minutes are short, assistance goes before main."),
    )
    sets = _figure(gettext_lazy("Sets"), 1, 5)
    rest_s = _figure(gettext_lazy("Rest in seconds"), 15, 300, start=90)
    low = _figure(
        gettext_lazy("At least"),
        1,
        120,
        needed=False,
        start=6,
        help_words=gettext_lazy("Reps, or seconds of a hold. Empty: the exercise's own."),
    )
    high = _figure(
        gettext_lazy("At most"),
        1,
        120,
        needed=False,
        start=12,
        help_words=gettext_lazy("Reps, or seconds of a hold. Empty: the exercise's own."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["what"].choices = what_choices()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        low, high = cleaned.get("low"), cleaned.get("high")
        if low and high and high < low:
            self.add_error("high", _("Not less than {low}, the least.").format(low=low))
        return cleaned

    def values(self) -> dict[str, Any]:
        """What the verbs take."""
        kind, _colon, name = self.cleaned_data["what"].partition(":")
        fields = {field: self.cleaned_data[field] for field in ("part", "sets", "rest_s", "low", "high")}
        if kind == "pattern":
            return {"pattern": name, "exercise_id": None, **fields}
        return {"pattern": Exercise.objects.get(pk=name).pattern, "exercise_id": name, **fields}


def initial_of_slot(slot: Slot) -> dict[str, Any]:
    """What the form shows of a slot."""
    what = f"exercise:{slot.exercise_id}" if slot.exercise_id else f"pattern:{slot.pattern}"
    fields = {field: getattr(slot, field) for field in ("part", "sets", "rest_s", "low", "high")}
    return {"what": what, **fields}


def what_choices() -> list[tuple[str, Sequence[tuple[str, str]]]]:
    """The patterns first, then every exercise under its pattern."""
    patterns = [(f"pattern:{one.value}", _capital(str(label(one)))) for one in vocabulary.TRAINED]
    groups: dict[str, list[tuple[str, str]]] = {one.value: [] for one in vocabulary.TRAINED}
    for exercise in Exercise.objects.filter(is_retired=False, pattern__in=groups):
        groups[exercise.pattern].append((f"exercise:{exercise.slug}", exercise.name))
    fixed = [
        (_("One exercise: {pattern}").format(pattern=label(vocabulary.Pattern(pattern))), choices)
        for pattern, choices in groups.items()
        if choices
    ]
    return [(_("A pattern, at each rider's own level"), patterns), *fixed]


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


class PreviewForm(forms.Form):
    """Whose week, and which."""

    rider = forms.ModelChoiceField(Rider.objects.none(), label=gettext_lazy("Rider"), empty_label=None)
    week = forms.ChoiceField(label=gettext_lazy("Week"))

    def __init__(self, *args: Any, squad: Squad, weeks: Sequence[tuple[int, Week]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["rider"].queryset = Rider.objects.filter(squad=squad).current()  # type: ignore[attr-defined]
        self.fields["week"].choices = [  # type: ignore[attr-defined]
            (week_name(week), _("Week {number}: {dates}").format(number=number, dates=week_words(week)))
            for number, week in weeks
        ]
        self._weeks = {week_name(week): week for _number, week in weeks}

    def clean_week(self) -> Week:
        return self._weeks[self.cleaned_data["week"]]
