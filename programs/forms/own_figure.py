"""Bending the joints of a shipped pose for a club's own figure."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from programs import own_figures
from programs.models import Exercise


class FigureForm(forms.Form):
    """A shipped pose and its joints, each a slider with its own keys and a value that is shown."""

    base = forms.ChoiceField(label=_("Begin with the figure of"))

    def __init__(self, *args: Any, base: str, angles: dict[str, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = dict(Exercise.objects.values_list("slug", "name"))
        choices = [(slug, names[slug]) for slug in own_figures.bases() if slug in names]
        self.fields["base"].choices = sorted(choices, key=lambda one: one[1])  # type: ignore[attr-defined]
        self.fields["base"].initial = base
        self.found = own_figures.find_angles(base)
        for angle in self.found:
            self.fields[angle.key] = forms.IntegerField(
                label=angle.words,
                required=False,
                min_value=angle.low,
                max_value=angle.high,
                initial=angles.get(angle.key, angle.value),
                widget=forms.NumberInput(attrs={"type": "range", "step": 1}),
            )

    def angles(self) -> dict[str, int]:
        """The angles that differ from the shipped pose. Call when the form is valid."""
        return {
            angle.key: self.cleaned_data[angle.key]
            for angle in self.found
            if self.cleaned_data.get(angle.key) not in (None, angle.value)
        }
