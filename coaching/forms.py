"""What coaches fill in on the desk's pages. Forms validate; the verbs decide."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from athletes.concerns import Outcome
from athletes.models import Coach, FollowUp

_LONGEST_REASON = 300


def _date_widget() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class OverrideForm(forms.Form):
    """Why a plan is approved although something speaks against it."""

    reason = forms.CharField(
        label=_("Your reason"),
        help_text=_("It is kept with the plan. Say what you know that the rule does not."),
        max_length=_LONGEST_REASON,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": _("Write why this plan should go out as it is.")},
    )


class TargetForm(forms.Form):
    """One target: sets, reps or seconds, and a load that can be made up at that venue."""

    sets = forms.IntegerField(
        label=_("Sets"), min_value=1, max_value=6, widget=forms.NumberInput(attrs={"inputmode": "numeric"})
    )
    amount = forms.IntegerField(
        label=_("Reps"), min_value=1, max_value=180, widget=forms.NumberInput(attrs={"inputmode": "numeric"})
    )
    kg = forms.ChoiceField(label=_("Load"), required=False)
    reason = forms.CharField(
        label=_("Why"),
        max_length=_LONGEST_REASON,
        widget=forms.TextInput,
        error_messages={"required": _("Write why you change it; it is kept with the target.")},
    )

    def __init__(
        self, *args: Any, loads: Sequence[tuple[str, str]] = (), is_hold: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        if is_hold:
            self.fields["amount"].label = _("Seconds")
        if loads:
            kg = self.fields["kg"]
            assert isinstance(kg, forms.ChoiceField)
            kg.choices, kg.required = list(loads), True
        else:
            del self.fields["kg"]


class DayRadios(forms.RadioSelect):
    """Days to choose from in their order, those that are impossible among them but not to be chosen."""

    impossible: frozenset[str] = frozenset()

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option: dict[str, Any] = super().create_option(name, value, *args, **kwargs)
        if str(value) in self.impossible:
            option["attrs"]["disabled"] = True
        return option


class PinForm(forms.Form):
    """The day that a session is pinned to. Every day of the week is there with its price; some are impossible."""

    to = forms.ChoiceField(
        label=_("Day"),
        widget=DayRadios,
        error_messages={
            "required": _("Choose a day."),
            "invalid_choice": _("Choose one of the days that are possible."),
        },
    )

    def __init__(
        self, *args: Any, days: Sequence[tuple[str, str]], impossible: frozenset[str], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        to = self.fields["to"]
        assert isinstance(to, forms.ChoiceField)
        assert isinstance(to.widget, DayRadios)
        to.widget.impossible = impossible
        to.choices = list(days)

    def clean_to(self) -> str:
        """The day chosen, unless it is impossible."""
        to: str = self.cleaned_data["to"]
        if to in self.fields["to"].widget.impossible:
            raise forms.ValidationError(self.fields["to"].error_messages["invalid_choice"])
        return to


class NoteForm(forms.Form):
    """A line of a follow-up's history."""

    text = forms.CharField(
        label=_("What happened"),
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=2000,
        error_messages={"required": _("Write what was said or seen.")},
    )
    contact = forms.BooleanField(label=_("I have been in touch with the rider"), required=False)


class PutOffForm(forms.Form):
    """A later day on which to look again."""

    until = forms.DateField(label=_("Look again on"), widget=_date_widget())

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_until(self) -> date:
        until: date = self.cleaned_data["until"]
        if until <= self.today:
            raise forms.ValidationError(_("Choose a day after today."))
        return until


class HandOverForm(forms.Form):
    """Who looks after it from now on."""

    to = forms.ModelChoiceField(
        label=_("To"),
        queryset=Coach.objects.none(),
        error_messages={"required": _("Choose who takes it on.")},
    )

    def __init__(self, *args: Any, follow_up: FollowUp, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        to = self.fields["to"]
        assert isinstance(to, forms.ModelChoiceField)
        to.queryset = (
            Coach.objects.filter(role__in=[Coach.Role.OWNER, Coach.Role.COACH])
            .exclude(pk=follow_up.owner_id)
            .select_related("user")
            .order_by("user__name")
        )


#: What each outcome of a pain matter does to the plan (T2, T5), said beside the choice.
PAIN_OUTCOMES = [
    (
        Outcome.CARRY_ON.value,
        _(
            "Carry on. Nothing more is barred by this matter. A site that had stopped comes back in steps, once "
            "reports of 2 or less span 7 days."
        ),
    ),
    (
        Outcome.EASE.value,
        _("Ease. For 14 days what loads the site is eased: a lighter load, a level down or fewer reps."),
    ),
    (
        Outcome.PAUSE.value,
        _("Pause. What loads the site is left out until you record an outcome that allows it."),
    ),
    (
        Outcome.REFERRED.value,
        _(
            "Referred to a physiotherapist or doctor. What loads the site is left out until you record what came of it."
        ),
    ),
    (
        Outcome.CLEARED.value,
        _(
            "Cleared by a clinician. A site that had stopped comes back in steps, once reports of 2 or less span 7 "
            "days. Note below who cleared it, and when."
        ),
    ),
    (
        Outcome.RETURN.value,
        _(
            "Return in steps. Half the load at 2 x 8 first, then a step after each two clean sessions, once reports of "
            "2 or less span 7 days."
        ),
    ),
]
#: Outcomes of the other health matters: the plan follows what is recorded as cleared, not these.
HEALTH_OUTCOMES = [
    (
        Outcome.CARRY_ON.value,
        _("Carry on. By itself this changes nothing: the plan follows what is cleared."),
    ),
    (
        Outcome.CLEARED.value,
        _("Cleared. Record above who cleared it, and when: only that lets anything be planned."),
    ),
    (
        Outcome.REFERRED.value,
        _("Referred to a clinician. What has stopped stays so until its clearance is recorded."),
    ),
]


class CloseForm(forms.Form):
    """How a follow-up ends. Health matters end with an outcome."""

    outcome = forms.ChoiceField(
        label=_("How the rider goes on"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose how the rider goes on.")},
    )
    text = forms.CharField(
        label=_("Note"), required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=2000
    )

    def __init__(self, *args: Any, follow_up: FollowUp, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not follow_up.is_health:
            del self.fields["outcome"]
            return
        outcome = self.fields["outcome"]
        assert isinstance(outcome, forms.ChoiceField)
        outcome.choices = PAIN_OUTCOMES if follow_up.topic == "pain" else HEALTH_OUTCOMES


class ClearanceForm(forms.Form):
    """Who said that training may go on, and on which day."""

    cleared_by = forms.CharField(
        label=_("Cleared by"),
        help_text=_("Name and profession, or who said that an illness is over."),
        max_length=120,
        error_messages={"required": _("Write who cleared the rider.")},
    )
    cleared_on = forms.DateField(label=_("On"), widget=_date_widget())

    def __init__(self, *args: Any, today: date, not_before: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.not_before = today, not_before

    def clean_cleared_on(self) -> date:
        on: date = self.cleaned_data["cleared_on"]
        if on > self.today:
            raise forms.ValidationError(_("That day is still to come."))
        if on < self.not_before:
            raise forms.ValidationError(_("That is before it was reported."))
        return on
