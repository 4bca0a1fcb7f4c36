"""Writing an exercise of the club's own, and taking in a file of them."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from athletes.forms.fields import LineField, PlainErrors, sentence_case
from athletes.vocabulary import Furniture, Implement, Muscle, Pattern, Region
from athletes.words import label
from programs.catalogue import IMPLEMENTS
from programs.club_library import Entry, slug_for
from programs.engine.facts import Measure
from programs.engine.library_rules import Fault
from programs.exchange import LARGEST, RESERVED, fault_words
from programs.models import Exercise

#: Rows of steps from easier exercises, to harder ones, and of exercises to do instead.
STEPS, SUBSTITUTES = 3, 2
_TICKS = forms.CheckboxSelectMultiple


def _named(members: Iterable[Any]) -> list[tuple[str, Any]]:
    return [(one.value, sentence_case(label(one))) for one in members]


def _holdings() -> list[tuple[str, Any]]:
    """Each implement alone, and in pairs where there are pairs."""
    choices: list[tuple[str, Any]] = []
    for one in IMPLEMENTS:
        choices.append((f"{one.value}:one", sentence_case(label(one))))
        if one in (Implement.KETTLEBELL, Implement.DUMBBELL):
            words = _now("A pair of {name}s").format(name=label(one))
            choices.append((f"{one.value}:pair", words))
    return choices


def _number(words: Any, low: int, high: int, **options: Any) -> forms.IntegerField:
    return forms.IntegerField(label=words, min_value=low, max_value=high, **options)


class LinesField(forms.CharField):
    """Lines of text, one thing a line; empty lines are left out."""

    widget = forms.Textarea(attrs={"rows": 4})

    def to_python(self, value: Any) -> Any:
        return [" ".join(line.split()) for line in str(value or "").splitlines() if line.strip()]

    def validate(self, value: Any) -> None:
        if self.required and not value:
            raise forms.ValidationError(_now("Write at least one line."), code="required")

    def run_validators(self, value: Any) -> None:
        """The rules of the library look at each line."""


class PairsField(LinesField):
    """Lines of two parts with a colon between them."""

    def to_python(self, value: Any) -> Any:
        return [tuple(part.strip() for part in line.partition(":")[::2]) for line in super().to_python(value)]

    def validate(self, value: Any) -> None:
        super().validate(value)
        for first, second in value:
            if not first or not second:
                raise forms.ValidationError(
                    _now("Put a colon between the two parts of each line. This has none: {line}.").format(
                        line=first or second
                    )
                )


class ExerciseForm(PlainErrors, forms.Form):
    """One exercise in words and figures. The rules of the library judge the whole (`show`)."""

    name = LineField(label=_("Name"), max_length=60)
    pattern = forms.ChoiceField(label=_("Movement pattern"), choices=_named(Pattern))
    level = _number(
        _("Level"), 1, 9, help_text=_("1 is the easiest. Above 1 something easier must lead to it.")
    )
    purpose = LineField(label=_("What it is for"), max_length=110)
    set_up = LinesField(label=_("Set-up"), help_text=_("One step a line, 4 at most."))
    cues = LinesField(
        label=_("Coaching cues"), help_text=_("One a line, 3 to 5, each short enough to call out.")
    )
    faults = PairsField(
        label=_("Common faults"),
        help_text=_("One a line: what is seen, a colon, what mends it. Heels lift: Sit back."),
    )
    leave_out = PairsField(
        label=_("When to leave it out"),
        required=False,
        help_text=_(
            "One a line: a body region, a colon, and Leave out if ... or Stop if ... Knee: Leave out if it hurts."
        ),
    )
    measure = forms.ChoiceField(
        label=_("Counted in"), choices=[("reps", _("Reps")), ("hold", _("Seconds held"))], initial="reps"
    )
    low = _number(_("At least"), 5, 300, help_text=_("Reps from 5 or 6; holds from 20 s."))
    high = _number(_("At most"), 5, 300, help_text=_("Reps to 15 to 20; holds to 60 s."))
    lower = _number(_("Lower for, seconds"), 0, 10, required=False, initial=2)
    pause = _number(_("Pause for, seconds"), 0, 10, required=False, initial=0)
    lift = _number(_("Lift for, seconds"), 0, 10, required=False, initial=2)
    sided = forms.BooleanField(label=_("Each side is done by itself"), required=False)
    for_beginners = forms.BooleanField(label=_("Suits a beginner"), required=False)
    needs_safeties = forms.BooleanField(label=_("Alone only with safety bars"), required=False)
    impact = forms.BooleanField(label=_("Has a jump or a landing"), required=False)
    loading = forms.ChoiceField(
        label=_("Load"),
        choices=[
            ("body", _("Body weight only")),
            ("either", _("Body weight, or a load")),
            ("external", _("Always a load")),
        ],
        initial="body",
    )
    holdings = forms.MultipleChoiceField(label=_("Loaded with, any one of"), required=False, widget=_TICKS)
    furniture = forms.MultipleChoiceField(
        label=_("Also needed, all of"), required=False, choices=_named(Furniture), widget=_TICKS
    )
    primary = forms.MultipleChoiceField(
        label=_("Loads most"), required=False, choices=_named(Region), widget=_TICKS
    )
    secondary = forms.MultipleChoiceField(
        label=_("Loads a little"),
        required=False,
        choices=_named(Region),
        widget=_TICKS,
        help_text=_("This decides what a sore rider is spared. When in doubt, tick it."),
    )
    whole = forms.MultipleChoiceField(
        label=_("Counts as a whole set for"), required=False, choices=_named(Muscle), widget=_TICKS
    )
    half = forms.MultipleChoiceField(
        label=_("Counts as half a set for"), required=False, choices=_named(Muscle), widget=_TICKS
    )

    def __init__(
        self, *args: Any, slug: str = "", kept: Mapping[str, Any] | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        #: The slug of what is changed, empty for a new exercise, and what the form does not show of it.
        self.slug, self.kept = slug, kept or {}
        self.fields["holdings"].choices = _holdings()  # type: ignore[attr-defined]
        if slug:
            del self.fields["pattern"]
        self._names = dict(Exercise.objects.filter(is_retired=False).values_list("slug", "name"))
        self._pattern = str(self.kept.get("pattern", ""))
        for kind, words, count in (
            ("from", _("Earned from"), STEPS),
            ("to", _("Leads to"), STEPS),
        ):
            for number in range(count):
                self._add_step(f"{kind}_{number}", words)
        for number in range(SUBSTITUTES):
            self.fields[f"instead_{number}"] = self._exercise(_("Instead of it"))
            self.fields[f"instead_{number}_when"] = LineField(label=_("When"), max_length=110, required=False)

    def _exercise(self, words: Any) -> forms.ChoiceField:
        groups: dict[str, list[tuple[str, str]]] = {}
        rows = Exercise.objects.filter(is_retired=False).order_by("level", "name")
        for slug, name, pattern in rows.values_list("slug", "name", "pattern"):
            if slug != self.slug and self._pattern in ("", pattern):
                groups.setdefault(pattern, []).append((slug, name))
        choices = [(str(sentence_case(label(Pattern(one)))), names) for one, names in groups.items()]
        return forms.ChoiceField(label=words, required=False, choices=[("", _("nothing")), *choices])

    def _add_step(self, key: str, words: Any) -> None:
        self.fields[key] = self._exercise(words)
        self.fields[f"{key}_sets"] = _number(_("Sets"), 1, 3, required=False, initial=2)
        self.fields[f"{key}_value"] = _number(_("Reps or seconds"), 5, 60, required=False, initial=12)
        self.fields[f"{key}_left"] = _number(
            _("Good reps left"), 2, 4, required=False, initial=3, help_text=_("Not for holds.")
        )
        self.fields[f"{key}_how"] = LineField(
            label=_("How it is done then"),
            max_length=80,
            required=False,
            help_text=_("Such as: with heels down"),
        )

    def groups(self) -> list[tuple[str, list[Any]]]:
        """The fields in groups that belong together, each with its heading."""
        steps = [name for name in self.fields if name.startswith(("from_", "to_"))]
        instead = [name for name in self.fields if name.startswith("instead_")]
        groups = [
            (_now("What it is"), ["name", "pattern", "level", "purpose"]),
            (_now("What to say"), ["set_up", "cues", "faults", "leave_out"]),
            (_now("Amount"), ["measure", "low", "high", "lower", "pause", "lift", "sided"]),
            (_now("Load and kit"), ["loading", "holdings", "furniture"]),
            (_now("What it loads"), ["primary", "secondary", "whole", "half"]),
            (_now("For whom"), ["for_beginners", "needs_safeties", "impact"]),
            (_now("Steps"), steps),
            (_now("Instead"), instead),
        ]
        return [(title, [self[name] for name in names if name in self.fields]) for title, names in groups]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        known = {str(label(one)).lower(): one.value for one in Region} | {
            one.value: one.value for one in Region
        }
        for region, _words in cleaned.get("leave_out", ()):
            if region.lower() not in known:
                said = _now("There is no body region of this name: {name}. Say one of {names}.")
                names = ", ".join(str(label(one)) for one in Region)
                self.add_error("leave_out", said.format(name=region, names=names))
        return cleaned

    # --- in the shape of the library ---

    def entry(self) -> Entry:
        """The exercise as the library has it. Call when the form is valid."""
        values = self.cleaned_data
        slug = self.slug or slug_for(values["name"], taken=[*self._all_slugs(), *RESERVED])
        regions = {str(label(one)).lower(): one.value for one in Region} | {
            one.value: one.value for one in Region
        }
        document: dict[str, Any] = {
            **{key: value for key, value in self.kept.items() if key in ("rep_increment", "trains_balance")},
            **{key: value for key, value in self.kept.items() if key in ("body_mass_share", "suits")},
            "slug": slug,
            "name": values["name"],
            "level": values["level"],
            "purpose": values["purpose"],
            "set_up": values["set_up"],
            "cues": values["cues"],
            "faults": [{"see": see, "say": say} for see, say in values["faults"]],
            "measure": values["measure"],
            "amount": {"low": values["low"], "high": values["high"]},
            "for_beginners": values["for_beginners"],
            "loading": values["loading"],
            "regions": {
                kind: _in_order(values[kind], self.kept.get("regions", {}).get(kind, ()))
                for kind in ("primary", "secondary")
            },
            "muscles": {**dict.fromkeys(values["whole"], 1), **dict.fromkeys(values["half"], 0.5)},
        }
        if values["measure"] == Measure.REPS:
            document["tempo"] = {key: values[key] or 0 for key in ("lower", "pause", "lift")}
        document |= {key: True for key in ("sided", "needs_safeties", "impact") if values[key]}
        optional = {
            "holdings": [
                dict(zip(("implement", "how_many"), one.split(":"), strict=True))
                for one in _in_order(values["holdings"], _held(self.kept))
            ],
            "furniture": _in_order(values["furniture"], self.kept.get("furniture", ())),
            "leave_out": [
                {"region": regions[region.lower()], "words": words} for region, words in values["leave_out"]
            ],
            "earns": [{"harder": slug, **step} for slug, step in self._steps("to", self._way(values))],
            "substitutes": [
                {"use": values[f"instead_{number}"], "when": values[f"instead_{number}_when"]}
                for number in range(SUBSTITUTES)
                if values[f"instead_{number}"]
            ],
        }
        document |= {key: value for key, value in optional.items() if value}
        easier = [{"easier": slug, **step} for slug, step in self._steps("from", None)]
        return Entry(values.get("pattern") or self._pattern, document, easier)

    def _all_slugs(self) -> Iterator[str]:
        yield from Exercise.objects.values_list("slug", flat=True)

    def _way(self, values: Mapping[str, Any]) -> tuple[str, bool]:
        return values["measure"], values["sided"]

    def _steps(self, kind: str, way: tuple[str, bool] | None) -> Iterator[tuple[str, dict[str, Any]]]:
        """The steps that are filled in; how they are counted is said by the easier exercise of the two."""
        values = self.cleaned_data
        ways = {
            row.slug: (row.document["measure"], row.document.get("sided", False))
            for row in Exercise.objects.filter(
                slug__in=[values[f"{kind}_{number}"] for number in range(STEPS)]
            )
        }
        before = self.kept.get("earned_from" if kind == "from" else "earns", ())
        for number in range(STEPS):
            slug = values[f"{kind}_{number}"]
            if slug:
                fields = {key: values[f"{kind}_{number}_{key}"] for key in ("sets", "value", "left", "how")}
                yield slug, _as_before(before, slug, fields) or make_step(*(way or ways[slug]), **fields)
        for step in before[STEPS:]:
            yield step["easier" if kind == "from" else "harder"], _step_alone(step)

    def show(self, faults: Sequence[Fault], slug: str) -> None:
        """Each fault beside the field that it is about, in words; the others at the top."""
        for fault in faults:
            field = _FIELD_OF.get(fault.field.split(".")[0], "")
            words = fault_words(fault)
            if fault.exercise == slug and field in self.fields:
                self.add_error(field, words)
            else:
                name = self._names.get(fault.exercise, fault.exercise)
                self.add_error(None, f"{name}, {fault.field}: {words}")


#: Field of the library -> field of the form.
_FIELD_OF = {
    "name": "name",
    "level": "level",
    "purpose": "purpose",
    "set_up": "set_up",
    "cues": "cues",
    "faults": "faults",
    "leave_out": "leave_out",
    "measure": "measure",
    "amount": "low",
    "tempo": "lower",
    "for_beginners": "for_beginners",
    "needs_safeties": "needs_safeties",
    "loading": "loading",
    "holdings": "holdings",
    "furniture": "furniture",
    "regions": "primary",
    "muscles": "whole",
    "earns": "to_0",
    "substitutes": "instead_0",
}


def make_step(
    measure: str, sided: bool, *, sets: int | None, value: int | None, left: int | None, how: str
) -> dict[str, Any]:
    """A step with its words, which begin with its figures.

    >>> make_step("reps", False, sets=2, value=12, left=3, how="with heels down")["words"]
    '2 x 12 with heels down, 3 good reps left.'
    """
    sets, value, left = sets or 2, value or 12, left or 3
    criterion: dict[str, Any] = {"kind": measure, "sets": sets, "value": value}
    words = f"{sets} x {value}" + (" s" if measure == Measure.HOLD else "") + (" a side" if sided else "")
    words += f" {how.rstrip('.')}" if how else ""
    if measure != Measure.HOLD:
        criterion["reps_left"] = left
        words += f", {left} good reps left"
    return {"criterion": criterion, "words": f"{words}."}


def _held(document: Mapping[str, Any]) -> list[str]:
    """What an exercise is loaded with, as the form names it."""
    return [f"{one['implement']}:{one['how_many']}" for one in document.get("holdings", ())]


def _in_order(values: Sequence[str], before: Sequence[str]) -> list[str]:
    """The values in the order they had, so that a form that changes nothing changes nothing."""
    return [*(one for one in before if one in values), *(one for one in values if one not in before)]


def _step_alone(step: Mapping[str, Any]) -> dict[str, Any]:
    return {key: step[key] for key in ("criterion", "words")}


def _as_before(
    before: Sequence[Mapping[str, Any]], slug: str, fields: Mapping[str, Any]
) -> dict[str, Any] | None:
    """The step as it was, with every word of it, where nothing of it was changed in the form."""
    for step in before:
        if slug in (step.get("harder"), step.get("easier")):
            shown = _step_initial("step", slug, step)
            if all(shown[f"step_{key}"] == value for key, value in fields.items() if key != "left"):
                same = fields["left"] == shown["step_left"] or shown["step_left"] is None
                return _step_alone(step) if same else None
    return None


_STEP_WORDS = re.compile(r"^\d+ x \d+( s)?( a side)?[ ,]*(?P<how>.*?)(, \d good reps left)?\.?$")


def initial_of(
    pattern: str, document: Mapping[str, Any], earned_from: Sequence[Mapping[str, Any]]
) -> dict[str, Any]:
    """What the form shows of an exercise."""
    muscles = document["muscles"]
    tempo = document.get("tempo", {})
    initial = {key: document.get(key) for key in ("name", "level", "purpose", "measure", "loading")}
    initial |= {
        key: document.get(key, False) for key in ("sided", "for_beginners", "needs_safeties", "impact")
    }
    initial |= {
        "pattern": pattern,
        "set_up": "\n".join(document["set_up"]),
        "cues": "\n".join(document["cues"]),
        "faults": "\n".join(f"{one['see']}: {one['say']}" for one in document["faults"]),
        "leave_out": "\n".join(
            f"{sentence_case(label(Region(one['region'])))}: {one['words']}"
            for one in document.get("leave_out", ())
        ),
        "low": document["amount"]["low"],
        "high": document["amount"]["high"],
        "lower": tempo.get("lower"),
        "pause": tempo.get("pause"),
        "lift": tempo.get("lift"),
        "holdings": _held(document),
        "furniture": document.get("furniture", []),
        "primary": document["regions"]["primary"],
        "secondary": document["regions"]["secondary"],
        "whole": [name for name, share in muscles.items() if share == 1],
        "half": [name for name, share in muscles.items() if share != 1],
    }
    for kind, key, steps in (("from", "easier", earned_from), ("to", "harder", document.get("earns", ()))):
        for number, step in enumerate(steps[:STEPS]):
            initial |= _step_initial(f"{kind}_{number}", step[key], step)
    for number, one in enumerate(document.get("substitutes", ())[:SUBSTITUTES]):
        initial |= {f"instead_{number}": one["use"], f"instead_{number}_when": one["when"]}
    return initial


def _step_initial(key: str, slug: str, step: Mapping[str, Any]) -> dict[str, Any]:
    criterion, said = step["criterion"], _STEP_WORDS.match(step["words"])
    return {
        key: slug,
        f"{key}_sets": criterion["sets"],
        f"{key}_value": criterion["value"],
        f"{key}_left": criterion.get("reps_left"),
        f"{key}_how": said["how"] if said else "",
    }


class ExerciseFileForm(PlainErrors, forms.Form):
    """A file of exercises."""

    file = forms.FileField(
        label=_("File of exercises"),
        allow_empty_file=True,
        error_messages={"required": _("Choose a file.")},
        help_text=_("YAML or JSON in UTF-8, at most 1 MB."),
        widget=forms.FileInput(attrs={"accept": ".yaml,.yml,.json,application/json"}),
    )

    def clean_file(self) -> bytes:
        file = self.cleaned_data["file"]
        if file.size > LARGEST:
            raise forms.ValidationError(_now("The file is larger than 1 MB."))
        data: bytes = file.read()
        return data
