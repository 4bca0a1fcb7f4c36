"""A rider's venues and kit, times, rides, hours on the bike, and days away."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from athletes.forms.fields import LineField, PlainErrors, date_field, sentence_case, time_field
from athletes.kit import Kit, read_kit, write_kit
from athletes.models import Absence, Venue
from athletes.models.riders import WEEKDAYS
from athletes.roster_rows import MOST_OPENING_MINUTES
from athletes.times import LONGEST, SHORTEST, WeeklyTime
from athletes.vocabulary import Furniture
from athletes.words import FURNITURE


class VenueForm(PlainErrors, forms.Form):
    """A place and what is there: implements in plain words, furniture as boxes."""

    name = LineField(label=_("Name of the place"), max_length=60, help_text=_("Such as Home, or Garage."))
    kit = forms.CharField(
        label=_("Implements and their masses"),
        required=False,
        max_length=2000,
        help_text=_("In plain words, one part a line or between semicolons. The examples below all work."),
        widget=forms.Textarea(attrs={"rows": 5}),
    )
    furniture = forms.MultipleChoiceField(
        label=_("Also there"),
        required=False,
        choices=[(piece.value, sentence_case(words)) for piece, words in FURNITURE.items()],
        widget=forms.CheckboxSelectMultiple(attrs={"class": "regions"}),
    )

    def __init__(self, *args: Any, unit: str = "kg", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit

    def clean_name(self) -> str:
        name = self.cleaned_data["name"]
        if ";" in name:
            raise forms.ValidationError(_now("Leave the semicolon out: it stands between times in a roster."))
        return name

    def clean_kit(self) -> Kit:
        kit, unread = read_kit(self.cleaned_data["kit"], self.unit)
        if unread:
            raise forms.ValidationError(
                [
                    _now("“{found}” cannot be read. Expected: {expected}.").format(
                        found=one.found, expected=one.expected
                    )
                    for one in unread
                ]
            )
        return kit

    def whole_kit(self) -> Kit:
        """The implements and the furniture, named in words or ticked."""
        kit: Kit = self.cleaned_data["kit"]
        ticked = {Furniture(piece) for piece in self.cleaned_data["furniture"]}
        return Kit(kit.items, kit.furniture | ticked)


def venue_initial(venue: Venue, kit: Kit, unit: str) -> dict[str, Any]:
    """A venue as the form shows it."""
    return {
        "name": venue.name,
        "kit": write_kit(Kit(kit.items), unit).replace("; ", "\n"),
        "furniture": list(venue.furniture),
    }


class _TimeForm(PlainErrors, forms.Form):
    """A row of the week. A row without a day is left out."""

    weekday = forms.TypedChoiceField(
        label=_("Day"), choices=[("", _("no day")), *WEEKDAYS], coerce=int, empty_value=None, required=False
    )
    start = time_field(_("From"), required=False)
    minutes = forms.IntegerField(label=_("Minutes"), required=False)

    least, most, usual = SHORTEST, LONGEST, 45

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if values.get("weekday") is None:
            if "weekday" not in self.errors and values.get("start"):
                self.add_error("weekday", _now("Choose a day, or empty the row."))
            return values
        if not values.get("start") and "start" not in self.errors:
            self.add_error("start", _now("Enter a time, such as 18:30."))
        minutes = values.get("minutes") or self.usual
        if not self.least <= minutes <= self.most and "minutes" not in self.errors:
            self.add_error(
                "minutes", _now("Enter {least} to {most} minutes.").format(least=self.least, most=self.most)
            )
        values["minutes"] = minutes
        return values

    def time(self) -> WeeklyTime | None:
        """The row as a value, None when it was left empty."""
        values = self.cleaned_data
        if values.get("weekday") is None or values.get("DELETE"):
            return None
        return WeeklyTime(
            values["weekday"], values["start"], values["minutes"], preferred=values.get("preferred", False)
        )


class OpeningForm(_TimeForm):
    """A time when the rider can train, and where."""

    venue = forms.ModelChoiceField(
        label=_("Where"), queryset=Venue.objects.none(), required=False, empty_label=None
    )
    preferred = forms.BooleanField(label=_("Suits best"), required=False)
    most = MOST_OPENING_MINUTES

    def __init__(self, *args: Any, venues: Sequence[Venue], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["venue"]
        field.queryset = Venue.objects.filter(pk__in=[venue.pk for venue in venues])
        field.choices = [(venue.pk, venue.name) for venue in venues]
        self.venues = list(venues)

    def place(self) -> Venue:
        """Where: the first venue when none was chosen."""
        return self.cleaned_data.get("venue") or self.venues[0]


class RideForm(_TimeForm):
    """A ride that comes round each week."""

    is_key = forms.BooleanField(label=_("Key ride: legs should be fresh"), required=False)
    usual = 90


class _TimesFormSet(forms.BaseFormSet):
    """Rows of a week, each day and time once."""

    def clean(self) -> None:
        seen: set[tuple[int, Any]] = set()
        for form in self.forms:
            if not hasattr(form, "cleaned_data") or form.errors:
                continue
            one = form.time()
            if one is None:
                continue
            if (one.weekday, one.start) in seen:
                form.add_error("start", _now("This day and time stands in another row already."))
            seen.add((one.weekday, one.start))


def times_formset(form: type[_TimeForm], *, rows: int) -> type[forms.BaseFormSet]:
    """The rows that are there, and empty ones to add: at least `rows` in all."""
    return forms.formset_factory(
        form, formset=_TimesFormSet, extra=rows, max_num=60, validate_max=True, absolute_max=80
    )


class AbsenceForm(PlainErrors, forms.Form):
    """Days away from strength training, both included."""

    from_on = date_field(_("First day"))
    until_on = date_field(_("Last day"))
    kind = forms.ChoiceField(label=_("Why"), choices=Absence.Kind.choices)
    name = LineField(
        label=_("Name"),
        max_length=120,
        required=False,
        help_text=_("Such as family holiday. No health details."),
    )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        first, last = values.get("from_on"), values.get("until_on")
        if first and last and last < first:
            self.add_error("until_on", _now("The last day comes before the first. Enter a later one."))
        elif first and last and (last - first).days > 366:
            self.add_error("until_on", _now("Enter a year at most; pause the rider for longer."))
        return values


class BikeHoursForm(PlainErrors, forms.Form):
    """Hours on the bike in each of some ISO weeks, by their Mondays."""

    def __init__(self, *args: Any, mondays: Sequence[date], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.mondays = list(mondays)
        for monday in self.mondays:
            week = monday.isocalendar()
            self.fields[self.name_of(monday)] = forms.DecimalField(
                label=_now("Week {week}, from {day}").format(week=week.week, day=f"{monday:%d.%m.}"),
                required=False,
                min_value=0,
                max_value=60,
                decimal_places=1,
                max_digits=4,
                widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "0.5"}),
            )

    @staticmethod
    def name_of(monday: date) -> str:
        """The field of a week."""
        return f"week_{monday.isoformat()}"

    def changes(self) -> list[tuple[date, Any]]:
        """The Mondays whose hours were changed, with the new ones; None takes an entry away."""
        return [
            (monday, self.cleaned_data[self.name_of(monday)])
            for monday in self.mondays
            if self.name_of(monday) in self.changed_data
        ]
