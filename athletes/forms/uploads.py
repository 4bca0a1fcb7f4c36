"""Files taken in: a roster and its columns, a calendar and what becomes of its entries."""

import base64
import binascii
from collections.abc import Sequence
from datetime import date, time
from typing import Any

from django import forms
from django.core import signing
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from athletes.calendars import LARGEST_FILE as LARGEST_CALENDAR
from athletes.calendars import Entry
from athletes.clubs import HOLIDAY, LONGEST_RACE, Chosen
from athletes.forms.fields import PlainErrors
from athletes.models import Race, RosterImport, Squad
from athletes.roster_columns import FIELDS, faults_of, used
from athletes.spreadsheet import ENCODINGS, LARGEST_FILE

_SALT = "calendar-upload"
LEAVE_OUT = "leave-out"


class RosterFileForm(PlainErrors, forms.Form):
    """A CSV file; or one that was sent already, with how to read it."""

    file = forms.FileField(
        label=_("Roster as a CSV file"),
        allow_empty_file=True,
        error_messages={"required": _("Choose a file.")},
        help_text=_("UTF-8, commas, semicolons or tabs; at most 1 MB and 1,000 riders."),
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE:
            raise forms.ValidationError(
                _now("The file is larger than 1 MB. Save only the columns and riders that you need.")
            )
        return file


class EncodingForm(PlainErrors, forms.Form):
    """How to read a file that is not in UTF-8. It carries the file, so that nobody has to choose it again."""

    encoding = forms.ChoiceField(label=_("Read the file as"), choices=list(ENCODINGS.items()))
    name = forms.CharField(widget=forms.HiddenInput, required=False, max_length=200)
    held = forms.CharField(widget=forms.HiddenInput, max_length=LARGEST_FILE * 4 // 3 + 8)

    def clean_held(self) -> bytes:
        try:
            return base64.b64decode(self.cleaned_data["held"], validate=True)
        except (binascii.Error, ValueError):
            raise forms.ValidationError(_now("The file did not come back whole. Choose it again.")) from None

    @staticmethod
    def hold(data: bytes) -> str:
        """The file as text for the hidden field."""
        return base64.b64encode(data).decode("ascii")


class ColumnsForm(PlainErrors, forms.Form):
    """What each column of a roster holds."""

    squad = forms.ModelChoiceField(
        label=_("Squad of new riders whose row names none"),
        queryset=Squad.objects.none(),
        required=False,
        empty_label=_("no squad"),
    )
    make_squads = forms.BooleanField(
        label=_("Make the squads that are not there yet, with me as their coach"), required=False
    )

    def __init__(self, *args: Any, roster: RosterImport, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = used(roster.mapping.get("columns", {}))
        self.headings = list(roster.headings)
        for position, heading in enumerate(self.headings):
            self.fields[f"column_{position}"] = forms.ChoiceField(
                label=heading,
                required=False,
                choices=[("", _("not read")), *FIELDS.items()],
                initial=chosen.get(position, ""),
            )
        self.fields["squad"].queryset = Squad.objects.all()  # type: ignore[attr-defined]
        self.fields["squad"].initial = roster.mapping.get("squad")
        self.fields["make_squads"].initial = roster.mapping.get("make_squads", False)
        self.samples = [
            [cells[position] for _number, cells in roster.rows[:3] if position < len(cells)]
            for position in range(len(self.headings))
        ]

    def rows(self) -> list[tuple[Any, list[str]]]:
        """Each column's field with its first cells."""
        return [
            (self[f"column_{position}"], self.samples[position]) for position in range(len(self.headings))
        ]

    def columns(self) -> dict[int, str]:
        """What was chosen, by position."""
        found = {
            position: self.cleaned_data.get(f"column_{position}") for position in range(len(self.headings))
        }
        return {position: name for position, name in found.items() if name}

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        faults = faults_of(self.columns())
        if faults:
            raise forms.ValidationError(faults)
        return values


class CalendarFileForm(PlainErrors, forms.Form):
    """An iCalendar file."""

    file = forms.FileField(
        label=_("Calendar file (.ics)"),
        allow_empty_file=True,
        help_text=_("At most 1 MB. Races and holidays of the next two years are read."),
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LARGEST_CALENDAR:
            raise forms.ValidationError(_now("The file is larger than 1 MB. Export a shorter time."))
        return file


class CalendarChoicesForm(PlainErrors, forms.Form):
    """What becomes of each entry of a calendar. The entries travel with the form, signed."""

    entries = forms.CharField(widget=forms.HiddenInput, max_length=1_000_000)
    squad = forms.ModelChoiceField(
        label=_("The races are for"),
        queryset=Squad.objects.none(),
        required=False,
        empty_label=_("the whole club"),
    )

    def __init__(self, *args: Any, known: set[tuple[str, date]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["squad"].queryset = Squad.objects.all()  # type: ignore[attr-defined]
        self.known = known
        self.listed: list[Entry] = []
        packed = self.data.get("entries") if self.is_bound else self.initial.get("entries")
        try:
            self.listed = unpack(packed or "")
        except signing.BadSignature:
            self.is_broken = True
        else:
            self.is_broken = False
        for number, entry in enumerate(self.listed):
            if not self._is_known(entry):
                self.fields[f"entry_{number}"] = forms.ChoiceField(
                    label=entry.name, choices=entry_choices(entry), initial=probable_kind(entry)
                )

    def _is_known(self, entry: Entry) -> bool:
        return bool(entry.uid) and (entry.uid, entry.on) in self.known

    def rows(self) -> list[tuple[Entry, Any]]:
        """Each entry with its field, None when it is in the club's calendar already."""
        names = [f"entry_{number}" for number in range(len(self.listed))]
        return [
            (entry, self[name] if name in self.fields else None)
            for entry, name in zip(self.listed, names, strict=True)
        ]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if self.is_broken:
            raise forms.ValidationError(_now("The entries did not come back whole. Choose the file again."))
        return values

    def chosen(self) -> list[Chosen]:
        """What the coach wants in the club's calendar."""
        return [
            Chosen(entry.uid, entry.name, entry.on, entry.until_on, entry.start, kind)
            for number, entry in enumerate(self.listed)
            if (kind := self.cleaned_data.get(f"entry_{number}")) and kind != LEAVE_OUT
        ]


def entry_choices(entry: Entry) -> list[tuple[str, Any]]:
    """What an entry may become; one of many days is no race."""
    races = list(Race.Priority.choices) if entry.until_on - entry.on <= LONGEST_RACE else []
    return [*races, (HOLIDAY, _("holiday of the club")), (LEAVE_OUT, _("leave out"))]


def probable_kind(entry: Entry) -> str:
    """A guess that the coach changes: whole days in a row, or a word for it, are a holiday; else it is a race."""
    name = entry.name.casefold()
    is_holiday = any(word in name for word in ("holiday", "closed", "break", "vacation"))
    if is_holiday or (entry.start is None and (entry.until_on - entry.on).days >= 3):
        return HOLIDAY
    return str(Race.Priority.OTHER)


def pack(entries: Sequence[Entry]) -> str:
    """Entries as signed text."""
    return signing.dumps(
        [
            [
                one.on.isoformat(),
                one.until_on.isoformat(),
                one.start.isoformat() if one.start else "",
                one.name,
                one.place,
                one.uid,
            ]
            for one in entries
        ],
        salt=_SALT,
        compress=True,
    )


def unpack(text: str) -> list[Entry]:
    """The inverse of `pack`, for a day. Raises `signing.BadSignature`."""
    return [
        Entry(
            date.fromisoformat(on),
            date.fromisoformat(until_on),
            time.fromisoformat(start) if start else None,
            name,
            place,
            uid,
        )
        for on, until_on, start, name, place, uid in signing.loads(text, salt=_SALT, max_age=24 * 3600)
    ]
