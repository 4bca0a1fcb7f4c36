"""Looking for an exercise."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from athletes.forms.fields import sentence_case
from athletes.vocabulary import Furniture, Pattern, Region
from athletes.words import label
from programs.catalogue import BEGINNER, IMPLEMENTS, NO_KIT, Wanted


def _named(members: Iterable[Any]) -> list[tuple[str, Any]]:
    return [(one.value, sentence_case(label(one))) for one in members]


class FindForm(forms.Form):
    """Words, a pattern, what is at hand, what to spare and a level; each may be left open.

    An address with something unknown in it, such as an old one, is read without that.
    """

    q = forms.CharField(
        label=_("Words"),
        max_length=60,
        required=False,
        help_text=_("Of the name, a cue or the purpose. A slip of the finger does not matter."),
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    pattern = forms.ChoiceField(
        label=_("Movement pattern"), required=False, choices=[("", _("All patterns")), *_named(Pattern)]
    )
    level = forms.ChoiceField(
        label=_("Level"),
        required=False,
        choices=[
            ("", _("Any level")),
            (BEGINNER, _("Suits a beginner")),
            *((str(number), format_lazy(_("Level {number}"), number=number)) for number in range(1, 10)),
        ],
    )
    kit = forms.MultipleChoiceField(
        label=_("At hand"),
        required=False,
        help_text=_("Only what can be done with this. Nothing ticked: whatever kit it takes."),
        choices=[(NO_KIT, _("Only floor and wall")), *_named(IMPLEMENTS), *_named(Furniture)],
        widget=forms.CheckboxSelectMultiple,
    )
    spare = forms.MultipleChoiceField(
        label=_("Spare"),
        required=False,
        help_text=_("Nothing that loads any of these, not even a little."),
        choices=_named(Region),
        widget=forms.CheckboxSelectMultiple,
    )

    @property
    def wanted(self) -> Wanted:
        """What is looked for; a field that cannot be read asks for nothing. Raises nothing."""
        self.is_valid()
        read = self.cleaned_data
        return Wanted(
            words=read.get("q", ""),
            pattern=read.get("pattern", ""),
            kit=frozenset(read.get("kit", ())),
            spare=frozenset(read.get("spare", ())),
            level=read.get("level", ""),
        )

    def words_for(self, field: str, value: str) -> str:
        """What a value of a field is called."""
        if field == "words":
            return f"“{value}”"
        choices = dict(self.fields[field].choices)  # type: ignore[attr-defined]
        return str(choices.get(value, value))
