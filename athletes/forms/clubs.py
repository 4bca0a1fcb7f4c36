"""Club settings, squads, races and holidays."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from athletes.clubs import SETTINGS
from athletes.forms.fields import LineField, PlainErrors, date_field, time_field, zone_choices
from athletes.models import Club, Coach, Race, Squad
from athletes.models.riders import WEEKDAYS

_HOURS = [(hour, f"{hour:02}:00") for hour in range(24)]


class ClubForm(PlainErrors, forms.ModelForm):
    """What holds for the whole club."""

    name = LineField(label=_("Name of the club"), max_length=100)
    place = LineField(label=_("Place"), max_length=100, required=False)
    zone = forms.ChoiceField(label=_("Time zone"), help_text=_("All days and hours here are local to it."))
    resolves_on = forms.TypedChoiceField(label=_("The week is worked out on"), choices=WEEKDAYS, coerce=int)
    resolves_at_hour = forms.TypedChoiceField(
        label=_("Hour at which it is worked out"), choices=_HOURS, coerce=int
    )
    sends_on = forms.TypedChoiceField(label=_("Plans go out on"), choices=WEEKDAYS, coerce=int)
    sends_at_hour = forms.TypedChoiceField(label=_("Hour at which plans go out"), choices=_HOURS, coerce=int)
    emergency_note = LineField(
        label=_("What riders do in an emergency"),
        max_length=200,
        required=False,
        help_text=_("Stands in each mail and on each card, such as the local emergency number."),
    )

    class Meta:
        model = Club
        fields = SETTINGS
        labels = {"paper": _("Paper of the card"), "unapproved": _("A week that nobody has approved by then")}
        widgets = {"unapproved": forms.RadioSelect, "paper": forms.RadioSelect(attrs={"class": "across"})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["zone"].choices = zone_choices()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        moments = [
            values.get(name) for name in ("resolves_on", "resolves_at_hour", "sends_on", "sends_at_hour")
        ]
        if None not in moments and tuple(moments[:2]) >= tuple(moments[2:]):
            self.add_error(
                "sends_on", _now("Plans go out before the week is worked out. Choose a later day or hour.")
            )
        return values


class LimitsConfirmedForm(PlainErrors, forms.Form):
    """Which clinician confirmed the pain limits for this club."""

    confirmed_by = LineField(label=_("Clinician"), max_length=100, help_text=_("Name and profession."))
    confirmed_on = date_field(_("Day"))

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_confirmed_on(self) -> date:
        if self.cleaned_data["confirmed_on"] > self.today:
            raise forms.ValidationError(_now("This day is still to come. Enter the day of the confirmation."))
        return self.cleaned_data["confirmed_on"]


class SquadForm(PlainErrors, forms.Form):
    """A squad's name and its coach."""

    name = LineField(label=_("Name of the squad"), max_length=60, help_text=_("As riders call it."))
    coach = forms.ModelChoiceField(
        label=_("Coach"),
        queryset=Coach.objects.none(),
        empty_label=None,
        help_text=_("Approves the squad's weeks and owns its follow-ups."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        roles = [Coach.Role.OWNER, Coach.Role.COACH]
        coaches = Coach.objects.filter(role__in=roles).select_related("user").order_by("user__name", "pk")
        self.fields["coach"].queryset = coaches  # type: ignore[attr-defined]


class RaceForm(PlainErrors, forms.Form):
    """A race of the club."""

    name = LineField(label=_("Name of the race"), max_length=120)
    on = date_field(_("Day"))
    start = time_field(_("Start"))
    priority = forms.ChoiceField(
        label=_("How much the plan bends for it"),
        choices=[
            (Race.Priority.PRIORITY, _("Priority race: strength work eases off before it")),
            (Race.Priority.OTHER, _("Other race: kept clear of, and eased for a little")),
            (Race.Priority.MINOR, _("Minor race: only kept clear of")),
        ],
        widget=forms.RadioSelect,
    )
    squad = forms.ModelChoiceField(
        label=_("For"), queryset=Squad.objects.none(), required=False, empty_label=_("the whole club")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["squad"].queryset = Squad.objects.all()  # type: ignore[attr-defined]


class HolidayForm(PlainErrors, forms.Form):
    """Days on which nobody in the club trains."""

    name = LineField(label=_("Name of the holiday"), max_length=120)
    from_on = date_field(_("First day"))
    until_on = date_field(_("Last day"))

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        first, last = values.get("from_on"), values.get("until_on")
        if first and last and not 0 <= (last - first).days <= 120:
            self.add_error("until_on", _now("Enter a day from the first one on, at most four months later."))
        return values
