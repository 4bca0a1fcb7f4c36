"""Looking for an exercise."""

from django import forms
from django.utils.translation import gettext_lazy

from athletes.vocabulary import Pattern
from athletes.words import label


class FindForm(forms.Form):
    """Words of a name, and a pattern; both may be left open."""

    q = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    pattern = forms.ChoiceField(
        label=gettext_lazy("Movement pattern"),
        required=False,
        choices=[("", gettext_lazy("All patterns")), *((one.value, label(one)) for one in Pattern)],
    )
