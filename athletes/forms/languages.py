"""The language that somebody reads."""

from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from athletes.forms.fields import PlainErrors


class LanguageForm(PlainErrors, forms.Form):
    """One of the languages that Ballast speaks to riders, each under its own name."""

    language = forms.ChoiceField(
        label=_("Language"), choices=settings.LANGUAGES, widget=forms.RadioSelect(attrs={"class": "three"})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["language"].error_messages["invalid_choice"] = _("Choose one.")
