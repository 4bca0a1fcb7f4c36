"""What was done of one target: sets, reps or seconds, load, good reps left. Validates only.

Filled in with the target, so that a session that went to plan needs no typing here.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext

from athletes import questions
from athletes.vocabulary import Implement
from programs.engine.facts import Done, Load, Measure, Target
from programs.engine.quantities import Unit, plain, pounds_to_kg, shown_mass

MOST_REPS, MOST_SECONDS, MOST_SETS = 100, 900, 10
#: In the rider's unit; what nobody lifts is a slip of the thumb.
MOST_MASS = Decimal(500)
MOST_BAND = 20
LEFT, RIGHT = "left", "right"
YES, NO = "yes", "no"
#: How hard it was, asked of every exercise and not behind "Change what was done".
EFFORT = frozenset({"reps_left", "held_longer"})


@dataclass(frozen=True, slots=True)
class AskedExercise:
    """One planned item as it is asked about. `number` is its row's; `done` what an earlier version says, if any.

    `was_left_out` says that the earlier version left it out.
    """

    number: int
    name: str
    line: str
    side_line: str
    target: Target
    sided: bool
    unit: Unit
    done: Done | None = None
    was_left_out: bool = False

    @property
    def is_held(self) -> bool:
        return self.target.measure is Measure.HOLD

    @property
    def amounts_asked(self) -> tuple[int, ...]:
        """Reps or seconds of each set, in order: the sets at the heavier load of a bridge come last."""
        usual = (self.target.amount,) * (self.target.sets - self.target.bridge_sets)
        return (*usual, *(self.target.bridge_amount,) * self.target.bridge_sets)


def reps_left_choices() -> list[tuple[str, Any]]:
    """0, 1, 2, 3 and 4+, as short as five columns on a phone need."""
    return [(str(count), f"{count}+" if count == 4 else str(count)) for count in questions.REPS_LEFT_ANCHORS]


class MassField(forms.DecimalField):
    """A mass with a decimal point or a decimal comma, whatever the language of the page: phones differ.

    No mass is so large that a comma could group thousands.
    """

    def to_python(self, value: Any) -> Any:
        read = value.replace(",", ".") if isinstance(value, str) and value.count(",") == 1 else value
        return super().to_python(read)


class ExerciseForm(forms.Form):
    """One exercise of a check-in."""

    reps_left = forms.TypedChoiceField(
        required=False,
        coerce=int,
        empty_value=None,
        widget=forms.RadioSelect(attrs={"class": "figures five"}),
    )

    #: Asked of a hold in the place of reps left; "" is nothing said, which is never a success (P4, H3).
    held_longer = forms.TypedChoiceField(
        required=False,
        coerce=lambda value: value == YES,
        empty_value=None,
        choices=((YES, gettext_lazy("Yes")), (NO, gettext_lazy("No"))),
        widget=forms.RadioSelect(attrs={"class": "three two"}),
    )

    def __init__(self, data: Mapping[str, Any] | None, *, asked: AskedExercise) -> None:
        self.asked = asked
        super().__init__(data, prefix=f"item-{asked.number}")
        if asked.is_held:
            del self.fields["reps_left"]
            self.fields["held_longer"].label = self._named(str(questions.HELD_LONGER_QUESTION))
            self.fields["held_longer"].initial = _answer_of(asked.done)
        else:
            del self.fields["held_longer"]
            self.fields["reps_left"].label = self._named(_("Good reps left"))
            self.fields["reps_left"].choices = reps_left_choices()  # type: ignore[attr-defined]
            self.fields["reps_left"].initial = asked.done.reps_left if asked.done else None
        done = _per_side(asked)
        self._add_sets(len(next(iter(done.values()))))
        for side, amounts in done.items():
            self._add_amounts(side, amounts)
        self._add_load()

    @property
    def changed_fields(self) -> list[forms.BoundField]:
        """What stands behind "Change what was done", in the order in which it is asked."""
        names = [name for name in self.fields if name not in EFFORT and "_set_" not in name]
        return [self[name] for name in names]

    @property
    def set_fields(self) -> list[forms.BoundField]:
        """One field for each set (and side), for sets that differ."""
        return [self[name] for name in self.fields if "_set_" in name]

    @property
    def is_open(self) -> bool:
        """Whether the part behind "Change what was done" must be seen: something in it is wrong or differs."""
        wrong = any(name in self.errors for name in self.fields if name not in EFFORT)
        return wrong or self._differs_from_target()

    @property
    def sets_differ(self) -> bool:
        """Whether a set has its own amount or an error."""
        return any(field.value() not in (None, "") or field.errors for field in self.set_fields)

    def _differs_from_target(self) -> bool:
        asked = self.asked
        usual: dict[str, int | Decimal] = {
            "sets": asked.target.sets,
            **dict.fromkeys(("amount", LEFT, RIGHT), asked.target.amount),
        }
        if "load" in self.fields:
            usual["load"] = _shown_load(asked.target.load, asked.unit)
        for name, value in usual.items():
            if name in self.fields and str(self[name].value()) != str(value):
                return True
        return self.sets_differ and not asked.target.bridge_sets

    # --- fields -------------------------------------------------------------------------------------------------------

    def _named(self, label: str) -> SafeString:
        """The label with the exercise before it: read out and listed among errors, not repeated on the page."""
        colon = pgettext("after a heading", ":")
        return format_html('<span class="whose">{}{} </span>{}', self.asked.name, colon, label)

    def _count(
        self, label: str, most: int, initial: int | None, *, start: int | None = None, least: int = 0
    ) -> forms.IntegerField:
        attrs: dict[str, Any] = {"data-stepper": True, "inputmode": "numeric"}
        if start is not None:
            attrs["data-start"] = start
        return forms.IntegerField(
            label=self._named(label),
            min_value=least,
            max_value=most,
            required=initial is not None,
            initial=initial,
            widget=forms.NumberInput(attrs=attrs),
        )

    def _add_sets(self, initial: int) -> None:
        most = self.asked.target.sets if self.asked.target.bridge_sets else MOST_SETS
        self.fields["sets"] = self._count(_("Sets done, 0 when left out"), most, initial)

    def _add_amounts(self, side: str, amounts: Sequence[int]) -> None:
        asked, most = self.asked, MOST_SECONDS if self.asked.is_held else MOST_REPS
        alike = len(set(amounts)) <= 1
        if not asked.target.bridge_sets:
            each = amounts[0] if amounts and alike else asked.target.amount
            self.fields[side or "amount"] = self._count(_amount_words(side, asked.is_held), most, each)
        wanted = asked.amounts_asked
        for index in range(max(asked.target.sets, len(amounts))):
            start = wanted[index] if index < len(wanted) else asked.target.amount
            given = amounts[index] if index < len(amounts) else None
            initial = given if asked.target.bridge_sets or not alike else None
            field = self._count(_set_words(index + 1, side, asked.is_held), most, initial, start=start)
            field.required = False
            self.fields[f"{side or 'amount'}_set_{index + 1}"] = field

    def _add_load(self) -> None:
        load, unit = self.asked.target.load, self.asked.unit
        if load is None or load.holding.implement is Implement.NONE or self.asked.target.bridge_sets:
            return
        used = self.asked.done.load if self.asked.done else None
        if load.band is not None:
            band = used.band if used and used.band else load.band
            self.fields["band"] = self._count(_("Band, level 1 is the lightest"), MOST_BAND, band, least=1)
        elif load.kg is not None:
            label = _("Load of each in {unit}") if load.holding.count > 1 else _("Load in {unit}")
            self.fields["load"] = MassField(
                label=self._named(label.format(unit=unit)),
                min_value=0,
                max_value=MOST_MASS,
                max_digits=7,
                decimal_places=3,
                initial=_shown_load(used if used and used.kg else load, unit),
                widget=forms.NumberInput(
                    attrs={
                        "data-stepper": True,
                        "inputmode": "decimal",
                        "step": "0.5" if unit == "kg" else "1",
                    }
                ),
            )

    # --- what was done ------------------------------------------------------------------------------------------------

    def done(self, *, reps_left: int | None, out_of_time: bool) -> Done | None:
        """What was done, once the form is valid; None when it was left out.

        `reps_left` stands where nothing was said about this exercise. Sets left out for lack of time are no failing.
        """
        cleaned, asked = self.cleaned_data, self.asked
        count = cleaned["sets"]
        if count == 0:
            return None
        sides = (LEFT, RIGHT) if asked.sided else ("amount",)
        amounts = {side: self._amounts(side, count) for side in sides}
        own = cleaned.get("reps_left")
        done = Done(
            load=self._load(),
            reps_left=None if asked.is_held else reps_left if own is None else own,
            out_of_time=out_of_time and count < asked.target.sets,
            held_longer=cleaned.get("held_longer"),
        )
        if asked.sided:
            return replace(done, left_amounts=amounts[LEFT], right_amounts=amounts[RIGHT])
        return replace(done, amounts=amounts["amount"])

    @property
    def is_as_planned(self) -> bool:
        """Whether all that was asked was done or more."""
        done = self.done(reps_left=None, out_of_time=False)
        if done is None:
            return False
        wanted = sorted(self.asked.amounts_asked, reverse=True)
        for amounts in (done.amounts, done.left_amounts, done.right_amounts):
            if amounts is None:
                continue
            best = sorted(amounts, reverse=True)
            if len(best) < len(wanted) or any(did < asked for did, asked in zip(best, wanted, strict=False)):
                return False
        return not _is_lighter(done.load, self.asked.target.load)

    def _amounts(self, side: str, count: int) -> tuple[int, ...]:
        wanted = self.asked.amounts_asked
        each = self.cleaned_data.get(side)
        return tuple(
            first_known(
                self.cleaned_data.get(f"{side}_set_{index + 1}"),
                each,
                wanted[index] if index < len(wanted) else self.asked.target.amount,
            )
            for index in range(count)
        )

    def _load(self) -> Load | None:
        load = self.asked.target.load
        if load is None:
            return None
        if self.cleaned_data.get("band"):
            return replace(load, band=self.cleaned_data["band"])
        entered = self.cleaned_data.get("load")
        if entered is None or entered == _shown_load(load, self.asked.unit):
            return load
        if not entered:
            return None  # done without the load
        kg = pounds_to_kg(entered) if self.asked.unit == "lb" else entered
        return replace(load, kg=plain(kg))


def _answer_of(done: Done | None) -> str | None:
    """What an earlier version said of a hold."""
    if done is None or done.held_longer is None:
        return None
    return YES if done.held_longer else NO


def first_known(*values: int | None) -> int:
    """The first that is not None; 0 when none is known."""
    return next((value for value in values if value is not None), 0)


def _is_lighter(used: Load | None, asked: Load | None) -> bool:
    if asked is None:
        return False
    if used is None:
        return True
    return (used.kg or 0) < (asked.kg or 0) or (used.band or 0) < (asked.band or 0)


def _per_side(asked: AskedExercise) -> dict[str, tuple[int, ...]]:
    """The amounts that the fields begin with: the earlier version's, else the target's; by side when sided."""
    sides = (LEFT, RIGHT) if asked.sided else ("",)
    if asked.was_left_out:
        return dict.fromkeys(sides, ())
    done = asked.done
    if done is None:
        return dict.fromkeys(sides, asked.amounts_asked)
    if not asked.sided:
        return {"": done.amounts if done.amounts is not None else asked.amounts_asked}
    either = done.amounts if done.amounts is not None else asked.amounts_asked
    return {
        LEFT: done.left_amounts if done.left_amounts is not None else either,
        RIGHT: done.right_amounts if done.right_amounts is not None else either,
    }


def _shown_load(load: Load | None, unit: Unit) -> Decimal:
    """The mass as the rider reads it, in their unit."""
    kg = load.kg if load and load.kg is not None else Decimal(0)
    return plain(shown_mass(kg, unit, places=1 if unit == "lb" else 2))


def _amount_words(side: str, is_held: bool) -> str:
    words = {
        ("", False): gettext_lazy("Reps in each set"),
        ("", True): gettext_lazy("Seconds in each set"),
        (LEFT, False): gettext_lazy("Left, reps in each set"),
        (LEFT, True): gettext_lazy("Left, seconds in each set"),
        (RIGHT, False): gettext_lazy("Right, reps in each set"),
        (RIGHT, True): gettext_lazy("Right, seconds in each set"),
    }
    return str(words[side, is_held])


def _set_words(number: int, side: str, is_held: bool) -> str:
    words = {
        ("", False): gettext_lazy("Set {number}, reps"),
        ("", True): gettext_lazy("Set {number}, seconds"),
        (LEFT, False): gettext_lazy("Set {number}, left, reps"),
        (LEFT, True): gettext_lazy("Set {number}, left, seconds"),
        (RIGHT, False): gettext_lazy("Set {number}, right, reps"),
        (RIGHT, True): gettext_lazy("Set {number}, right, seconds"),
    }
    return str(words[side, is_held]).format(number=number)
