"""The movement check: for each exercise that suits a beginner, how it went."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from programs.engine.facts import CheckResult
from programs.exercises import Family

RESULTS = [
    ("", gettext_lazy("not tried")),
    (CheckResult.PASS.value, gettext_lazy("pass")),
    (CheckResult.NOT_YET.value, gettext_lazy("not yet")),
    (CheckResult.HURTS.value, gettext_lazy("hurts")),
]


@dataclass(frozen=True, slots=True)
class CheckedFamily:
    """One pattern of the check, with its fields easiest first."""

    name: str
    fields: tuple[forms.BoundField, ...]


class MovementCheckForm(forms.Form):
    """One field an exercise; at least one must be answered."""

    checked_by = forms.CharField(
        label=gettext_lazy("Checked by"),
        max_length=100,
        help_text=gettext_lazy("Who watched: a coach, or the rider alone."),
    )

    def __init__(self, *args: Any, families: Sequence[Family], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._families = families
        for family in families:
            for exercise in family.exercises:
                self.fields[f"exercise-{exercise.slug}"] = forms.ChoiceField(
                    label=exercise.name,
                    choices=RESULTS,
                    required=False,
                    widget=forms.RadioSelect(attrs={"class": "across"}),
                    help_text=exercise.document["purpose"],
                )

    def families(self) -> Iterator[CheckedFamily]:
        """The fields by pattern, for the page."""
        for family in self._families:
            names = [f"exercise-{exercise.slug}" for exercise in family.exercises]
            yield CheckedFamily(family.name, tuple(self[name] for name in names))

    @property
    def results(self) -> dict[str, CheckResult]:
        """What was answered, by exercise."""
        return {
            name.removeprefix("exercise-"): CheckResult(value)
            for name, value in self.cleaned_data.items()
            if name.startswith("exercise-") and value
        }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not any(value for name, value in cleaned.items() if name.startswith("exercise-")):
            raise forms.ValidationError(
                gettext("Nothing was answered: say of at least one exercise how it went.")
            )
        return cleaned
