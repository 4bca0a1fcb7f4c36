"""Consent, the health screening, clearance, and what clinicians set. Forms check what was typed, verbs the rules."""

from dataclasses import fields
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from athletes.forms.fields import LineField, PlainErrors, date_field, sentence_case
from athletes.questions import ADULT_QUESTIONS, GUARDIAN_QUESTIONS
from athletes.screening import AdultAnswers, Intensity, YoungAnswers
from athletes.sites import BASELINE_MOST
from athletes.vocabulary import TRAINED, Pattern, Region, Side
from athletes.words import INTENSITIES, PATTERNS, REGIONS, SIDES

YES, NO, UNSAID = "yes", "no", "unsaid"
_MEANS = {YES: True, NO: False, UNSAID: None}


class PaperConsentForm(PlainErrors, forms.Form):
    """A signed form that the club holds."""

    given_by = LineField(label=_("Who signed"), max_length=100)
    given_on = date_field(_("Day on the form"))
    is_guardian = forms.BooleanField(label=_("Who signed is the rider's parent or legal guardian"))
    is_held = forms.BooleanField(label=_("The signed form has the wording shown here, and the club holds it"))

    def __init__(self, *args: Any, under_18: bool, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        if not under_18:
            del self.fields["is_guardian"]

    def clean_given_on(self) -> date:
        given_on = self.cleaned_data["given_on"]
        if given_on > self.today:
            raise forms.ValidationError(_now("This day is still to come. Enter the day on the form."))
        return given_on


class AgreeForm(PlainErrors, forms.Form):
    """Consent by link: a name and a tick."""

    given_by = LineField(label=_("Your name"), max_length=100)
    agrees = forms.BooleanField(
        label="", error_messages={"required": _("Tick the box if you agree. Without it nothing is stored.")}
    )

    def __init__(self, *args: Any, agrees: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["agrees"].label = agrees


class ScreeningForm(PlainErrors, forms.Form):
    """The questions that fit the rider's age. Each is answered, if only by not saying."""

    def __init__(self, *args: Any, under_18: bool, asks_name: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.answers_type = YoungAnswers if under_18 else AdultAnswers
        if asks_name:
            self.fields["answered_by"] = LineField(
                label=_("Who gave the answers"),
                max_length=100,
                help_text=_("The parent or guardian, for a rider under 18.") if under_18 else "",
                error_messages={"required": _("Enter a name.")},
            )
        questions: dict[str, Any] = dict(GUARDIAN_QUESTIONS if under_18 else ADULT_QUESTIONS)
        for name, question in questions.items():
            self.fields[name] = forms.ChoiceField(
                label=question,
                choices=_intensities() if name == "intensity" else _answers(),
                widget=forms.RadioSelect(),
                error_messages={"required": _("Choose an answer.")},
            )

    def answers(self) -> AdultAnswers | YoungAnswers:
        """The answers as a value; not said is None, which asks for more and never for less."""
        values: dict[str, Any] = {}
        for one in fields(self.answers_type):
            given = self.cleaned_data[one.name]
            if one.name == "intensity":
                values[one.name] = None if given == UNSAID else Intensity(given)
            else:
                values[one.name] = _MEANS[given]
        return self.answers_type(**values)


def _answers() -> list[tuple[str, Any]]:
    return [(YES, _("Yes")), (NO, _("No")), (UNSAID, _("Not sure, or rather not say"))]


def _intensities() -> list[tuple[str, Any]]:
    found = [(one.value, sentence_case(words)) for one, words in INTENSITIES.items()]
    return [*found, (UNSAID, _("Not sure"))]


class ClearanceForm(PlainErrors, forms.Form):
    """Which clinician cleared the rider, and when."""

    cleared_by = LineField(
        label=_("Clinician"), max_length=120, help_text=_("Name and profession, as on their letter.")
    )
    cleared_on = date_field(_("Day of the clearance"))


class LimitForm(PlainErrors, forms.Form):
    """A limit that a named clinician set: something left out, or a cap on everything."""

    set_by = LineField(label=_("Clinician"), max_length=120, help_text=_("Name and profession."))
    set_on = date_field(_("Day it was set"))
    until_on = date_field(_("Holds until"), required=False, help_text=_("Empty: until somebody ends it."))
    pattern = forms.ChoiceField(label=_("Leave out a movement pattern"), required=False)
    region = forms.ChoiceField(label=_("Leave out what loads a body region"), required=False)
    max_kg = forms.DecimalField(
        label=_("Largest load in kg, for everything"),
        required=False,
        min_value=0,
        max_value=500,
        decimal_places=2,
        max_digits=6,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "0.5"}),
    )
    max_reps = forms.IntegerField(
        label=_("Most reps a set, for everything"),
        required=False,
        min_value=1,
        max_value=100,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        blank = ("", _("nothing"))
        patterns = [(one.value, sentence_case(PATTERNS[one])) for one in TRAINED]
        self.fields["pattern"].choices = [blank, *patterns]  # type: ignore[attr-defined]
        self.fields["region"].choices = [blank, *_regions()]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        left_out = [name for name in ("pattern", "region") if values.get(name)]
        caps = [name for name in ("max_kg", "max_reps") if values.get(name) is not None]
        if not self.errors and len(left_out) + bool(caps) != 1:
            raise forms.ValidationError(
                _now(
                    "Choose one thing to leave out, or caps for everything. Enter a second limit on its own."
                )
            )
        if values.get("until_on") and values.get("set_on") and values["until_on"] < values["set_on"]:
            self.add_error("until_on", _now("This day comes before the limit was set. Enter a later one."))
        return values

    def limit(self) -> dict[str, Any]:
        """The limit as `profiles.set_limit` takes it."""
        values = self.cleaned_data
        return {
            "set_by": values["set_by"],
            "set_on": values["set_on"],
            "until_on": values["until_on"],
            "pattern": Pattern(values["pattern"]) if values["pattern"] else None,
            "region": Region(values["region"]) if values["region"] else None,
            "max_kg": values["max_kg"],
            "max_reps": values["max_reps"],
        }


class BaselineForm(PlainErrors, forms.Form):
    """A long-standing pain that a named clinician has seen, with its usual score."""

    region = forms.ChoiceField(label=_("Body region"))
    side = forms.ChoiceField(
        label=_("Side"),
        choices=[(one.value, sentence_case(words)) for one, words in SIDES.items()],
        widget=forms.RadioSelect(attrs={"class": "across"}),
    )
    limit = forms.TypedChoiceField(
        label=_("Usual score, 0 to 10, at most"),
        choices=[(score, score) for score in range(1, BASELINE_MOST + 1)],
        coerce=int,
    )
    seen_by = LineField(label=_("Clinician"), max_length=120, help_text=_("Name and profession."))
    review_on = date_field(
        _("Review by"), help_text=_("Within six weeks. After it the usual rules hold again.")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["region"].choices = [("", _("choose")), *_regions()]  # type: ignore[attr-defined]

    def baseline(self) -> dict[str, Any]:
        """The baseline as `profiles.set_baseline` takes it."""
        values = self.cleaned_data
        return {**values, "region": Region(values["region"]), "side": Side(values["side"])}


def _regions() -> list[tuple[str, str]]:
    return [(one.value, sentence_case(words)) for one, words in REGIONS.items()]
