"""What a rider is asked about their body: pain by site, the morning after, warning symptoms, illness and crashes.

Validates only. Whatever is left open stays unknown; a 0 is an answer. Contradictions are errors, never guessed at: "No"
beside a score would otherwise throw away a report.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from athletes import questions, words
from athletes.concerns import BodyReport, Event, ReportKind, Sign, SorenessTrait, Symptom
from athletes.vocabulary import Region, Side

#: How many sites one form takes.
SITES = 3
#: Regions in the middle of the body, or whole: no side need be named.
WITHOUT_SIDE = frozenset(
    {Region.HEAD, Region.NECK, Region.CHEST, Region.UPPER_BACK, Region.LOWER_BACK, Region.ABDOMEN}
)
REGION_GROUPS: tuple[tuple[Any, tuple[Region, ...]], ...] = (
    (
        gettext_lazy("Legs"),
        (
            Region.HIP, Region.GROIN, Region.FRONT_THIGH, Region.BACK_THIGH, Region.KNEE, Region.SHIN, Region.CALF,
            Region.ANKLE, Region.FOOT_HEEL,
        ),
    ),
    (
        gettext_lazy("Back and trunk"),
        (Region.LOWER_BACK, Region.UPPER_BACK, Region.ABDOMEN, Region.CHEST),
    ),
    (
        gettext_lazy("Head and arms"),
        (Region.HEAD, Region.NECK, Region.SHOULDER, Region.ELBOW, Region.WRIST_HAND),
    ),
)  # fmt: skip
NO, YES, NOT_SAID = "no", "yes", "not-said"
UNKNOWN = "unknown"
LONGEST_SORENESS_HOURS = 336


@dataclass(frozen=True, slots=True)
class AskedSite:
    """A site that is asked about by name. `report` is the one whose next morning is still unknown, if there is one."""

    region: Region
    side: Side
    report: BodyReport | None = None

    @property
    def name(self) -> str:
        return f"{self.region.value}_{self.side.value}"


@dataclass(frozen=True, slots=True)
class BodyAnswers:
    """What was said. `morning` are this morning's scores that belong to an earlier report; `sites` are new reports."""

    sites: tuple[BodyReport, ...] = ()
    morning: tuple[tuple[BodyReport, int], ...] = ()
    symptoms: tuple[Symptom, ...] = ()
    events: tuple[Event, ...] = ()

    @property
    def morning_by_site(self) -> Mapping[tuple[Region, Side], int]:
        return {(report.region, report.side): score for report, score in self.morning}

    @property
    def all_sites(self) -> tuple[BodyReport, ...]:
        """The new reports, and each earlier one completed by this morning's score."""
        return (*self.sites, *(replace(report, next_morning=score) for report, score in self.morning))

    @property
    def is_empty(self) -> bool:
        return not (self.sites or self.morning or self.symptoms or self.events)


def question_about(region: Region, side: Side) -> str:
    """The question about one site by name: ``How was your left knee this morning?``"""
    if side is Side.BOTH:
        return _("How was your {region} this morning?").format(region=words.label(region))
    return _("How was your {side} {region} this morning?").format(
        side=words.label(side), region=words.label(region)
    )


def anchors_help() -> str:
    """The ends and the middle of the pain scale, on one line."""
    anchors = questions.PAIN_ANCHORS
    return _("0: {none}. 5: {some}. 10: {worst}.").format(none=anchors[0], some=anchors[5], worst=anchors[10])


def _score(value: str) -> int | None:
    return None if value == UNKNOWN else int(value)


def _figures() -> list[tuple[str, Any]]:
    return [(str(score), str(score)) for score in range(11)]


class SiteForm(forms.Form):
    """One place that hurts or is sore."""

    region = forms.ChoiceField(label=gettext_lazy("Where?"), required=False)
    side = forms.ChoiceField(
        label=gettext_lazy("Which side?"),
        required=False,
        choices=[
            (Side.LEFT.value, gettext_lazy("Left")),
            (Side.RIGHT.value, gettext_lazy("Right")),
            (Side.BOTH.value, gettext_lazy("Both, or the middle")),
        ],
        widget=forms.RadioSelect(attrs={"class": "three"}),
    )
    during = forms.TypedChoiceField(
        required=False,
        coerce=int,
        empty_value=None,
        choices=list(questions.PAIN_ANCHORS.items()),
        widget=forms.RadioSelect(attrs={"class": "scale"}),
    )
    signs = forms.MultipleChoiceField(
        label=gettext_lazy("Any of these, at this place?"),
        required=False,
        choices=[(sign.value, question) for sign, question in questions.SIGN_QUESTIONS.items()],
        widget=forms.CheckboxSelectMultiple,
    )
    next_morning = forms.TypedChoiceField(
        help_text=gettext_lazy("If that morning has not come yet, leave it: it is asked next time."),
        required=False,
        coerce=_score,
        empty_value=None,
        widget=forms.RadioSelect(attrs={"class": "figures"}),
    )
    kind = forms.ChoiceField(label=gettext_lazy("What is it?"), required=False, widget=forms.RadioSelect)
    traits = forms.MultipleChoiceField(
        required=False,
        choices=list(words.SORENESS_TRAITS.items()),
        widget=forms.CheckboxSelectMultiple,
    )
    hours = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=LONGEST_SORENESS_HOURS,
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "class": "short"}),
    )

    def __init__(self, *args: Any, on: date, today: date, has_long_standing: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.on, self.today = on, today
        for name, question in (
            ("during", questions.PAIN_SCORE_QUESTION),
            ("next_morning", questions.PAIN_MORNING_QUESTION),
            ("traits", questions.SORENESS_QUESTION),
            ("hours", questions.SORENESS_HOURS_QUESTION),
        ):
            self.fields[name].label = str(question)
        groups = [
            (group, [(region.value, str(words.label(region)).capitalize()) for region in regions])
            for group, regions in REGION_GROUPS
        ]
        self.fields["region"].choices = [("", _("Choose a place")), *groups]  # type: ignore[attr-defined]
        self.fields["next_morning"].choices = [*_figures(), (UNKNOWN, "?")]  # type: ignore[attr-defined]
        kinds = [
            (ReportKind.PAIN.value, _("Pain")),
            (ReportKind.SORENESS.value, _("Muscle soreness, nothing else")),
        ]
        if has_long_standing:
            kinds.append((ReportKind.LONG_STANDING.value, _("My long-standing pain, as usual")))
        self.fields["kind"].choices = kinds  # type: ignore[attr-defined]
        self.fields["kind"].initial = ReportKind.PAIN.value

    @property
    def is_filled(self) -> bool:
        """Whether anything was said about a place here; the preset kind alone says nothing."""
        names = ("region", "side", "during", "signs", "next_morning", "traits", "hours")
        return any(self.data.get(self.add_prefix(name)) not in (None, "") for name in names)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not self.is_filled:
            return cleaned
        if not cleaned.get("region") and "region" not in self.errors:
            self.add_error("region", _("Choose the place that hurts."))
        region = Region(cleaned["region"]) if cleaned.get("region") else None
        if region and region not in WITHOUT_SIDE and not cleaned.get("side") and "side" not in self.errors:
            self.add_error("side", _("Choose left, right or both."))
        unscored = cleaned.get("during") is None and not cleaned.get("signs")
        if unscored and "during" not in self.errors:
            self.add_error("during", _("Choose how much it hurt at its worst."))
        if cleaned.get("next_morning") is not None and self.on >= self.today:
            self.add_error(
                "next_morning",
                _(
                    "The morning after has not come yet. Choose the question mark, or change the day of the session."
                ),
            )
        return cleaned

    @property
    def report(self) -> BodyReport | None:
        """The report, once the form is valid; None when nothing was said here."""
        if not self.is_filled:
            return None
        cleaned = self.cleaned_data
        return BodyReport(
            on=self.on,
            region=Region(cleaned["region"]),
            side=Side(cleaned["side"] or Side.BOTH.value),
            during=cleaned["during"],
            next_morning=cleaned["next_morning"],
            kind=ReportKind(cleaned["kind"] or ReportKind.PAIN.value),
            signs=frozenset(map(Sign, cleaned["signs"])),
            traits=frozenset(map(SorenessTrait, cleaned["traits"])),
            hours_since_work=cleaned["hours"],
        )


class BodyForm(forms.Form):
    """The questions about the body that stand outside any one place."""

    hurts = forms.ChoiceField(
        choices=[
            (NO, gettext_lazy("No")),
            (YES, gettext_lazy("Yes")),
            (NOT_SAID, gettext_lazy("Rather not say")),
        ],
        error_messages={"required": gettext_lazy("Choose whether anything hurts.")},
        widget=forms.RadioSelect(attrs={"class": "three"}),
    )
    warning = forms.ChoiceField(
        label=gettext_lazy("Any of these?"),
        choices=[
            (NO, gettext_lazy("None of these")),
            (YES, gettext_lazy("Yes")),
            (NOT_SAID, gettext_lazy("Rather not say")),
        ],
        error_messages={"required": gettext_lazy("Choose whether you have had any of these.")},
        widget=forms.RadioSelect(attrs={"class": "three"}),
    )
    symptoms = forms.MultipleChoiceField(
        label=gettext_lazy("Warning symptoms: tick what you have had"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    events = forms.MultipleChoiceField(
        label=gettext_lazy("Illness, a crash, an operation: tick what fits"),
        required=False,
        choices=[(event.value, question) for event, question in questions.EVENT_QUESTIONS.items()],
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(
        self,
        *args: Any,
        asked: tuple[AskedSite, ...],
        under_18: bool,
        is_addition: bool,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.asked, self.is_addition = asked, is_addition
        self.fields["hurts"].label = (
            _("Did anything else hurt?") if asked else str(questions.PAIN_NOW_QUESTION)
        )
        self.fields["symptoms"].choices = [  # type: ignore[attr-defined]
            (symptom.value, question)
            for symptom, question in questions.SYMPTOM_QUESTIONS.items()
            if under_18 or symptom is not Symptom.LIMPING_CHILD
        ]
        if is_addition or self.tells_of_symptom:
            # A symptom must get through whatever else is still open.
            self.fields["hurts"].required = self.fields["warning"].required = False
        for site in asked:
            self.fields[site.name] = forms.ChoiceField(
                label=question_about(site.region, site.side),
                help_text=_("{anchors} ?: not known.").format(anchors=anchors_help()),
                required=False,
                choices=[*_figures(), (UNKNOWN, "?")],
                widget=forms.RadioSelect(attrs={"class": "figures"}),
            )

    @property
    def tells_of_symptom(self) -> bool:
        """Whether a warning symptom is ticked, even while other answers are still wrong."""
        known = {value for value, _label in self.fields["symptoms"].choices}  # type: ignore[attr-defined]
        name = self.add_prefix("symptoms")
        getlist = getattr(self.data, "getlist", None)
        return not known.isdisjoint(getlist(name) if getlist else self.data.get(name, []))

    @property
    def asked_fields(self) -> list[forms.BoundField]:
        return [self[site.name] for site in self.asked]

    @property
    def symptom_words(self) -> list[Any]:
        return [label for _value, label in self.fields["symptoms"].choices]  # type: ignore[attr-defined]

    @property
    def event_words(self) -> list[Any]:
        return [label for _value, label in self.fields["events"].choices]  # type: ignore[attr-defined]

    def scores(self) -> Iterator[tuple[AskedSite, int]]:
        """The sites by name that were answered, with this morning's score."""
        for site in self.asked:
            value = self.cleaned_data.get(site.name)
            if value not in (None, "", UNKNOWN):
                yield site, int(value)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        ticked = bool(cleaned.get("symptoms") or cleaned.get("events"))
        if cleaned.get("warning") == YES and not ticked:
            self.add_error("warning", _("Tick what you have had, or choose “None of these”."))
        if cleaned.get("warning") in (NO, NOT_SAID) and ticked:
            self.add_error("warning", _("You ticked something below. Choose “Yes”, or take the tick away."))
        return cleaned


class BodyPart:
    """The whole part about the body of a form: the questions, and up to three places.

    `on` is the day that new pain belongs to. With `is_addition` something was reported before and stands, so that the
    questions may be left open.
    """

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        asked: tuple[AskedSite, ...],
        under_18: bool,
        has_long_standing: bool,
        on: date,
        today: date,
        is_addition: bool = False,
    ) -> None:
        self.today = today
        self.main = BodyForm(data, prefix="body", asked=asked, under_18=under_18, is_addition=is_addition)
        self.places = tuple(
            SiteForm(
                data,
                prefix=f"place-{number}",
                on=on,
                today=today,
                has_long_standing=has_long_standing,
            )
            for number in range(1, SITES + 1)
        )

    def __iter__(self) -> Iterator[forms.Form]:
        yield self.main
        yield from self.places

    def is_valid(self) -> bool:
        """Whether all of it is, and nothing in it contradicts the rest."""
        verdicts = [form.is_valid() for form in self]
        if not all(verdicts):
            return False
        filled = any(place.is_filled for place in self.places)
        hurts = self.main.cleaned_data["hurts"]
        if hurts == YES and not filled and not any(score for _site, score in self.main.scores()):
            self.places[0].add_error("region", _("Choose the place that hurts."))
        if hurts != YES and filled:
            self.main.add_error("hurts", _("You filled in a place that hurts. Choose “Yes”, or empty it."))
        return not any(form.errors for form in self)

    @property
    def answers(self) -> BodyAnswers:
        """What was said, once the part is valid."""
        main = self.main.cleaned_data
        scores = list(self.main.scores())
        reports = [report for place in self.places if (report := place.report) is not None]
        yesterday = self.today - timedelta(days=1)
        # Asked by name without an open report: this morning's score, which belongs to the day before.
        reports += [
            BodyReport(on=yesterday, region=site.region, side=site.side, next_morning=score)
            for site, score in scores
            if site.report is None
        ]
        return BodyAnswers(
            sites=tuple(reports),
            morning=tuple((site.report, score) for site, score in scores if site.report is not None),
            symptoms=tuple(map(Symptom, main["symptoms"])),
            events=tuple(map(Event, main["events"])),
        )


class FormStack:
    """Several forms sent as one: what templates/components/errors.html needs to list the errors of them all."""

    prefix = "form"

    def __init__(self, *stacked: forms.Form) -> None:
        self.stacked = stacked
        self.non_form_errors: list[str | SafeString] = []

    def __iter__(self) -> Iterator[forms.Form]:
        return iter(self.stacked)

    @property
    def total_error_count(self) -> int:
        return len(self.non_form_errors) + sum(len(form.errors) for form in self.stacked)

    @property
    def errors(self) -> bool:
        return self.total_error_count > 0


class ReportForm(FormStack):
    """A report at any time: the part about the body alone."""

    def __init__(self, data: Mapping[str, Any] | None, *, form_key: str, body: BodyPart) -> None:
        self.head = KeyForm(data, initial={"form_key": form_key})
        self.body = body
        super().__init__(self.head, *body)

    def is_valid(self) -> bool:
        """Whether something is reported, and nothing in it is wrong."""
        verdicts = [self.head.is_valid(), self.body.is_valid()]
        if not all(verdicts):
            return False
        if self.body.answers.is_empty:
            self.non_form_errors.append(_("Nothing is reported yet. Say what hurts or what you have had."))
        return not self.errors


class KeyForm(forms.Form):
    """The key that makes sending twice change nothing."""

    form_key = forms.UUIDField(
        widget=forms.HiddenInput,
        error_messages={
            "required": gettext_lazy("This form is incomplete. Open the link again."),
            "invalid": gettext_lazy("This form is damaged. Open the link again."),
        },
    )
