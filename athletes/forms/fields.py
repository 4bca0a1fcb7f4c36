"""Fields and widgets that several forms of people share."""

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.utils.functional import keep_lazy_text
from django.utils.translation import gettext_lazy as _

from athletes.typed import one_line

#: Areas of the zone database that name places; the others are old names and offsets.
_AREAS = ("Africa", "America", "Antarctica", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific")


class PlainErrors:
    """A form whose empty fields say what to do."""

    fields: dict[str, forms.Field]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            say_what_to_do(field)


def say_what_to_do(field: forms.Field) -> None:
    """An empty required field asks to be filled in, chosen or ticked, unless it has words of its own."""
    if str(field.error_messages.get("required")) != str(forms.Field.default_error_messages["required"]):
        return
    if isinstance(field, forms.BooleanField):
        field.error_messages["required"] = _("Tick the box, or leave the page.")
    elif isinstance(field, forms.ChoiceField):
        field.error_messages["required"] = _("Choose one.")
    else:
        field.error_messages["required"] = _("Fill this in.")


class LineField(forms.CharField):
    """One line of text, without control characters."""

    def to_python(self, value: Any) -> str:
        return one_line(str(value or ""), 2000)


class DateInput(forms.DateInput):
    """The browser's own date field; ISO 8601 inside."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


class TimeInput(forms.TimeInput):
    """The browser's own time field."""

    input_type = "time"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%H:%M")


def date_field(label: Any, **options: Any) -> forms.DateField:
    """A day, as the browser's date field or typed as 2027-04-11."""
    errors = {"invalid": _("Enter a day, such as 2027-04-11.")}
    return forms.DateField(label=label, widget=DateInput(), error_messages=errors, **options)


def time_field(label: Any, **options: Any) -> forms.TimeField:
    """A time of day, 00:00 to 23:59."""
    errors = {"invalid": _("Enter a time, such as 18:30.")}
    return forms.TimeField(label=label, widget=TimeInput(), error_messages=errors, **options)


def zone_choices(blank: Any = None) -> list[tuple[str, Any]]:
    """Every time zone that names a place, under its area, with the blank choice first when there is one."""
    found: dict[str, list[tuple[str, str]]] = {area: [] for area in _AREAS}
    for name in sorted(available_timezones()):
        area, _slash, place = name.partition("/")
        if place and area in found:
            found[area].append((name, place.replace("_", " ")))
    choices: list[tuple[str, Any]] = [("", blank)] if blank is not None else []
    return [*choices, ("UTC", "UTC"), *((area, places) for area, places in found.items() if places)]


@keep_lazy_text
def sentence_case(words: Any) -> str:
    """The words with a capital, for a label or a choice that stands alone. Lazy words stay so until they are shown."""
    text = str(words)
    return text[:1].upper() + text[1:]
