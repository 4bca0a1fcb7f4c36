"""Riders: found in the list, added, changed."""

from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from athletes.forms.fields import LineField, PlainErrors, zone_choices
from athletes.models import Rider, Squad
from athletes.profiles import DETAILS
from athletes.roster_rows import OLDEST_YEAR, YOUNGEST_AGE

#: Choices of the list beside a rider's own states.
CURRENT, LACKING = "current", "lacking"


class RidersFilter(PlainErrors, forms.Form):
    """What the list of riders shows; lives in its address."""

    q = LineField(label=_("Name or mail address"), required=False, max_length=100)
    squad = forms.ModelChoiceField(
        label=_("Squad"), queryset=Squad.objects.none(), required=False, empty_label=_("all squads")
    )
    state = forms.ChoiceField(
        label=_("State"),
        required=False,
        choices=[
            ("", _("all who have not left")),
            ("active", _("active")),
            ("paused", _("paused")),
            (LACKING, _("something is missing before a plan")),
            ("left", pgettext_lazy("state of a rider", "left")),
        ],
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["squad"].queryset = Squad.objects.all()  # type: ignore[attr-defined]


class RiderForm(PlainErrors, forms.ModelForm):
    """A rider's details. What a guardian is for, and who needs one, is checked again by the verb."""

    given_name = LineField(label=_("Given name"), max_length=60)
    family_name = LineField(label=_("Family name"), max_length=60)
    email = forms.EmailField(label=_("Mail address"), help_text=_("Plans and links go here."))
    birth_year = forms.IntegerField(
        label=_("Birth year"),
        help_text=_("The year is enough; the day is not kept."),
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    guardian_name = LineField(
        label=_("Parent or guardian"),
        max_length=100,
        required=False,
        help_text=_("Needed under 18. Consent and the health questions go to them."),
    )
    guardian_email = forms.EmailField(label=_("Guardian's mail address"), required=False)
    zone = forms.ChoiceField(label=_("Time zone"), required=False)
    language = forms.ChoiceField(
        label=_("Language"),
        choices=settings.LANGUAGES,
        required=False,
        help_text=_("Mail, card and pages come in it. The rider can change it."),
    )
    note = LineField(
        label=_("Note"),
        max_length=300,
        required=False,
        help_text=_("Everybody in the club's staff reads it. No health details here."),
    )

    class Meta:
        model = Rider
        fields = [name for name in DETAILS if name != "plan_mail"] + ["plan_mail"]
        labels = {
            "squad": _("Squad"),
            "unit": _("Unit of mass"),
            "growth": _("In a growth spurt"),
            "adult_present": _("An adult is present at each session"),
            "trains_alone": _("Trains alone"),
            "minutes_cap": _("Longest session in minutes"),
            "plan_mail": _("Gets plans by mail"),
        }
        help_texts = {
            "growth": _("For riders under 18. Loads rise more slowly while it lasts."),
            "trains_alone": _("Nobody is there to help. Exercises that need a helper are left out."),
            "minutes_cap": _("15 to 120. No session is planned longer."),
        }

    field_order = [
        "given_name",
        "family_name",
        "email",
        "birth_year",
        "squad",
        "guardian_name",
        "guardian_email",
        "growth",
        "adult_present",
        "trains_alone",
        "minutes_cap",
        "unit",
        "zone",
        "language",
        "plan_mail",
        "note",
    ]

    def __init__(self, *args: Any, year: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.year = year
        self.fields["squad"].queryset = Squad.objects.all()  # type: ignore[attr-defined]
        self.fields["zone"].choices = zone_choices(_("the club's"))  # type: ignore[attr-defined]

    def clean_email(self) -> str:
        return self.cleaned_data["email"].lower()

    def clean_language(self) -> str:
        return self.cleaned_data["language"] or self.instance.language

    def clean_guardian_email(self) -> str:
        return self.cleaned_data["guardian_email"].lower()

    def clean_birth_year(self) -> int:
        born, last = self.cleaned_data["birth_year"], self.year - YOUNGEST_AGE
        if not OLDEST_YEAR <= born <= last:
            raise forms.ValidationError(
                _now("Enter a year from {first} to {last}.").format(first=OLDEST_YEAR, last=last)
            )
        return born

    def details(self) -> dict[str, Any]:
        """What was entered, by the names of `profiles.DETAILS`."""
        return {name: self.cleaned_data[name] for name in DETAILS if name in self.cleaned_data}
