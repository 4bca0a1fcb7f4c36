"""The check-in after a session: what was done and how hard it was, beside the part about the body. Validates only."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from athletes import questions
from programs.engine.facts import Done
from programs.forms.body import BodyAnswers, BodyPart, FormStack, KeyForm
from programs.forms.exercise import AskedExercise, ExerciseForm, reps_left_choices
from programs.models import CheckInVersion

Outcome = CheckInVersion.Outcome
MOST_MINUTES = 300
LONGEST_NOTE = 1000
NO_TIME = "no-time"
#: Why not all was done. Nothing about health: that is asked where consent is.
WHY_NOT: tuple[tuple[str, Any], ...] = (
    (NO_TIME, gettext_lazy("Ran out of time")),
    ("tired", gettext_lazy("Too tired")),
    ("too-hard", gettext_lazy("Too hard")),
    ("away", gettext_lazy("Away from home")),
    ("no-kit", gettext_lazy("The kit was not there")),
    ("forgot", gettext_lazy("Forgot")),
    ("other", gettext_lazy("Something else")),
)


@dataclass(frozen=True, slots=True)
class AskedSession:
    """The session that is asked about. `days` are those on which it may have been done, `done_on` the likely one.

    `plan_row` is the number of the planned session that the exercises come from.
    """

    plan_row: int
    minutes: int
    days: tuple[tuple[date, str], ...]
    done_on: date
    exercises: tuple[AskedExercise, ...]
    outcome: str = ""
    session_rpe: int | None = None
    why_not: str = ""
    note: str = ""
    may_note: bool = True


class SessionForm(KeyForm):
    """The questions about the session as a whole."""

    plan_row = forms.IntegerField(
        widget=forms.HiddenInput,
        error_messages={
            "required": gettext_lazy("This form is incomplete. Open the link again."),
            "invalid": gettext_lazy("This form is damaged. Open the link again."),
        },
    )
    outcome = forms.ChoiceField(
        label=gettext_lazy("What did you do?"),
        choices=[
            (Outcome.DONE.value, gettext_lazy("All of it")),
            (Outcome.PART.value, gettext_lazy("Part of it")),
            (Outcome.NOT_DONE.value, gettext_lazy("None of it")),
        ],
        error_messages={"required": gettext_lazy("Choose all, part or none.")},
        widget=forms.RadioSelect(attrs={"class": "three"}),
    )
    why_not = forms.ChoiceField(
        label=gettext_lazy("Why not all of it?"),
        help_text=gettext_lazy("If it hurt, or you were ill, say so further down."),
        required=False,
        choices=list(WHY_NOT),
        widget=forms.RadioSelect,
    )
    reps_left = forms.TypedChoiceField(
        help_text=gettext_lazy(
            "Answer for the exercise with the fewest. Where another had more, say so at that exercise."
        ),
        required=False,
        coerce=int,
        empty_value=None,
        widget=forms.RadioSelect(attrs={"class": "figures five"}),
    )
    session_rpe = forms.TypedChoiceField(
        help_text=gettext_lazy("Session RPE. Best answered about half an hour after the end."),
        coerce=int,
        empty_value=None,
        choices=list(questions.SESSION_RPE_ANCHORS.items()),
        error_messages={"required": gettext_lazy("Choose how hard it was.")},
        widget=forms.RadioSelect(attrs={"class": "scale"}),
    )
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes, warm-up included"),
        min_value=1,
        max_value=MOST_MINUTES,
        error_messages={"required": gettext_lazy("Enter how many minutes it took.")},
        widget=forms.NumberInput(attrs={"data-stepper": True, "inputmode": "numeric"}),
    )
    done_on = forms.TypedChoiceField(
        label=gettext_lazy("On which day?"),
        coerce=date.fromisoformat,
        empty_value=None,
        error_messages={
            "required": gettext_lazy("Choose the day."),
            "invalid_choice": gettext_lazy("Choose a day of this week that has come."),
        },
    )
    note = forms.CharField(
        label=gettext_lazy("A note to your coach"),
        required=False,
        max_length=LONGEST_NOTE,
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "off"}),
    )

    def __init__(
        self, data: Mapping[str, Any] | None, *, asked: AskedSession, form_key: str, is_urgent: bool
    ) -> None:
        initial = {
            "form_key": form_key,
            "plan_row": asked.plan_row,
            "outcome": asked.outcome or None,
            "why_not": asked.why_not,
            "session_rpe": asked.session_rpe,
            "minutes": asked.minutes,
            "done_on": asked.done_on.isoformat(),
            "note": asked.note,
        }
        super().__init__(data, initial=initial, prefix="session")
        self.fields["session_rpe"].label = str(questions.SESSION_RPE_QUESTION)
        self.fields["reps_left"].label = str(questions.REPS_LEFT_QUESTION)
        self.fields["reps_left"].choices = reps_left_choices()  # type: ignore[attr-defined]
        self.fields["done_on"].choices = [  # type: ignore[attr-defined]
            (day.isoformat(), label) for day, label in asked.days
        ]
        if not asked.may_note:
            del self.fields["note"]
        countable = [one for one in asked.exercises if not one.is_held]
        if asked.outcome or len(countable) < 2:
            # A correction shows what was said of each.
            del self.fields["reps_left"]
        if is_urgent or self.data.get(self.add_prefix("outcome")) == Outcome.NOT_DONE:
            # What was not done has no effort, and a warning symptom must get through whatever else is still open.
            for name in ("session_rpe", "minutes", "done_on"):
                self.fields[name].required = False
        #: Nobody is asked to choose before a warning symptom is sent. What is not told was not done (H3); a correction
        #: says it better.
        self.fields["outcome"].required = not is_urgent

    def clean_outcome(self) -> str:
        return str(self.cleaned_data["outcome"] or Outcome.NOT_DONE)

    def clean_note(self) -> str:
        return str(self.cleaned_data["note"]).replace("\r\n", "\n")


class CheckInForm(FormStack):
    """The whole check-in. `body` is None while no consent to hold health data stands."""

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        asked: AskedSession,
        form_key: str,
        body: BodyPart | None,
    ) -> None:
        self.asked, self.body = asked, body
        self.is_urgent = data is not None and body is not None and body.main.tells_of_symptom
        self.session = SessionForm(data, asked=asked, form_key=form_key, is_urgent=self.is_urgent)
        #: The plan changed while the form was filled in: its exercises are asked anew, all else is kept.
        self.is_stale = data is not None and data.get(self.session.add_prefix("plan_row")) != str(
            asked.plan_row
        )
        rows = None if self.is_stale else data
        self.exercises = tuple(ExerciseForm(rows, asked=one) for one in asked.exercises)
        super().__init__(self.session, *self.exercises, *(body or ()))

    def is_valid(self) -> bool:
        """Whether everything that the outcome asks for is there and right."""
        session_valid = self.session.is_valid()
        body_valid = self.body is None or self.body.is_valid()
        if not (session_valid and body_valid):
            self._check_exercises()
            return False
        if self.is_stale and not self.is_urgent and self._asks_for_exercises():
            self.non_form_errors.append(
                _("Your plan changed while you filled this in. Look at the exercises again, then send.")
            )
            self._ask_exercises_anew()
            return False
        if not self._check_exercises():
            return False
        if self._says_part_but_did_all():
            self.session.add_error(
                "outcome",
                _(
                    "Part of it, but each exercise says all sets were done. Change the one that you cut short."
                ),
            )
        return not self.errors

    def _ask_exercises_anew(self) -> None:
        """What was filled in stays, under the number of the plan that is shown now."""
        sent = self.session.data
        kept = {name: sent.get(name) for name in sent}
        self.session.data = {**kept, self.session.add_prefix("plan_row"): self.asked.plan_row}

    def _asks_for_exercises(self) -> bool:
        told = self.session.data.get(self.session.add_prefix("outcome"))
        return told != Outcome.NOT_DONE and bool(told or not self.is_urgent)

    def _check_exercises(self) -> bool:
        if self.is_stale or not self._asks_for_exercises():
            return True
        verdicts = [form.is_valid() for form in self.exercises]
        return all(verdicts)

    def _says_part_but_did_all(self) -> bool:
        is_part = self.session.cleaned_data["outcome"] == Outcome.PART
        rows = [] if self.is_stale else self.exercises
        return is_part and not self.is_urgent and bool(rows) and all(form.is_as_planned for form in rows)

    # --- once valid ---------------------------------------------------------------------------------------------------

    @property
    def outcome(self) -> str:
        return str(self.session.cleaned_data["outcome"])

    @property
    def done_on(self) -> date | None:
        """The day; nothing for a session that was not done."""
        return None if self.outcome == Outcome.NOT_DONE else self.session.cleaned_data["done_on"]

    @property
    def items(self) -> dict[int, Done | None]:
        """What was done of each item, by its number; nothing for a session that was not done."""
        if self.outcome == Outcome.NOT_DONE or self.is_stale:
            return {}
        cleaned = self.session.cleaned_data
        out_of_time = cleaned["why_not"] == NO_TIME and self.outcome == Outcome.PART
        return {
            form.asked.number: form.done(reps_left=cleaned.get("reps_left"), out_of_time=out_of_time)
            for form in self.exercises
        }

    @property
    def body_answers(self) -> BodyAnswers:
        return self.body.answers if self.body else BodyAnswers()

    def value(self, name: str) -> Any:
        """A cleaned answer about the session that belongs to its outcome, else None."""
        is_done = self.outcome != Outcome.NOT_DONE
        wanted = is_done if name in ("session_rpe", "minutes") else self.outcome != Outcome.DONE
        return self.session.cleaned_data.get(name) if wanted else None


def day_of(data: Mapping[str, Any] | None, asked: AskedSession, *, today: date) -> date:
    """The day that new pain of this form belongs to: the day of the session, or today when it was not done."""
    if data is None or data.get("session-outcome") == Outcome.NOT_DONE:
        return today
    chosen = data.get("session-done_on")
    return next((day for day, _label in asked.days if day.isoformat() == chosen), today)
