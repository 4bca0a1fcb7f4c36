"""What a roster would do if it were applied, row by row: what is made, changed, left as it is, or wrong.

Inside `access.within(club)`; reads a fixed number of queries for any file and changes nothing.
"""

import hashlib
import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db.models.functions import Lower
from django.utils.translation import gettext as _

from athletes import roster_columns
from athletes.kit import write_kit
from athletes.models import Club, Opening, RegularRide, Rider, RosterImport, Squad, Venue
from athletes.profiles.diary import kit_of
from athletes.profiles.riders import HOME, lacks_guardian, today_of
from athletes.roster_rows import Fault, ReadRow, read_row
from athletes.times import WeeklyTime, write_times

CREATE, UPDATE, SKIP, FAULT = "create", "update", "skip", "fault"
#: Fields that are columns of the rider's own row.
PLAIN = (
    "given_name",
    "family_name",
    "birth_year",
    "guardian_name",
    "guardian_email",
    "language",
    "unit",
    "minutes_cap",
    "trains_alone",
    "note",
)


class ColumnsUnusable(Exception):
    """The chosen columns cannot be used: `faults` says why, in sentences."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__(*faults)
        self.faults = faults


class AlreadyApplied(Exception):
    """The file was applied before; its rows are gone."""


@dataclass(frozen=True, slots=True)
class Change:
    """What becomes of one field: the words of before and after."""

    field: str
    old: str
    new: str

    @property
    def label(self) -> str:
        """The field's name for people."""
        return str(roster_columns.FIELDS.get(self.field) or _("state"))


@dataclass(slots=True)
class RowPlan:
    """What becomes of one row: `CREATE`, `UPDATE`, `SKIP` (nothing changes) or `FAULT`."""

    number: int
    action: str
    who: str
    email: str
    changes: list[Change] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    rider: Rider | None = None
    values: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Preview:
    """What applying the file would do. `digest` names exactly this, so that nothing else is applied by mistake."""

    rows: list[RowPlan]
    new_squads: list[str]
    digest: str

    @property
    def counts(self) -> Mapping[str, int]:
        """How many rows have each action."""
        found = Counter(row.action for row in self.rows)
        return {action: found[action] for action in (CREATE, UPDATE, SKIP, FAULT)}

    @property
    def faults(self) -> list[Fault]:
        """All faults in the order of the file."""
        return [fault for row in self.rows for fault in row.faults]

    @property
    def may_apply(self) -> bool:
        """Whether there is something to do and nothing wrong."""
        return not self.faults and any(row.action in (CREATE, UPDATE) for row in self.rows)


# --- looking ----------------------------------------------------------------------------------------------------------


def preview(roster: RosterImport, *, now: datetime) -> Preview:
    """What applying the file would do, row by row. Changes nothing; a fixed number of queries for any file.

    Raises `ColumnsUnusable`, `AlreadyApplied`.
    """
    if roster.state != RosterImport.State.OPEN:
        raise AlreadyApplied
    columns = roster_columns.used(roster.mapping.get("columns", {}))
    faults = roster_columns.faults_of(columns)
    if faults:
        raise ColumnsUnusable(faults)
    read = [read_row(number, cells, columns, roster.headings, year=now.year) for number, cells in roster.rows]
    return _Planning(roster, columns, read, now).preview()


class _Planning:
    """Compares rows with what is there."""

    def __init__(
        self, roster: RosterImport, columns: Mapping[int, str], read: list[ReadRow], now: datetime
    ) -> None:
        self.club = roster.club
        self.now = now
        self.read = read
        self.heading = {name: roster.headings[position] for position, name in columns.items()}
        self.make_squads = bool(roster.mapping.get("make_squads"))
        self.squads = {squad.name.casefold(): squad for squad in Squad.objects.all()}
        default = roster.mapping.get("squad")
        self.default_squad = next((one for one in self.squads.values() if one.pk == default), None)
        self.new_squads: dict[str, str] = {}
        addresses = {row.values["email"] for row in read if "email" in row.values}
        self.riders = {rider.email.lower(): rider for rider in _with_everything(addresses)}
        self.club_venues = {
            venue.name.casefold(): venue for venue in Venue.objects.filter(rider__isnull=True)
        }

    def preview(self) -> Preview:
        rows = [self._plan(row) for row in self.read]
        self._refuse_twice(rows)
        for row in rows:
            if row.faults:
                row.action = FAULT
        return Preview(rows, sorted(self.new_squads.values()), _digest(rows))

    def _plan(self, read: ReadRow) -> RowPlan:
        values = dict(read.values)
        rider = self.riders.get(values.get("email", ""))
        plan = RowPlan(
            read.number, SKIP, _who(values, rider), values.get("email", ""), faults=list(read.faults)
        )
        plan.rider, plan.values = rider, values
        if not read.fits:
            return plan
        if "email" not in values and not any(one.column == self.heading["email"] for one in plan.faults):
            self._fault(plan, "email", _("a mail address"), "")
        self._resolve_squad(plan)
        self._resolve_venues(plan)
        if not plan.faults:
            self._check_whole(plan)
        if not plan.faults:
            plan.changes = _changes(rider, values, self.club)
            plan.action = CREATE if rider is None else UPDATE if plan.changes else SKIP
        return plan

    def _fault(self, plan: RowPlan, name: str, expected: str, found: str) -> None:
        column = self.heading.get(name) or _("no column: {field}").format(field=roster_columns.FIELDS[name])
        plan.faults.append(Fault(plan.number, column, expected, found or _("nothing")))

    def _resolve_squad(self, plan: RowPlan) -> None:
        name = plan.values.pop("squad", None)
        if name is None:
            if plan.rider is None:
                if self.default_squad is None:
                    expected = _("a squad, here or for all riders without one in the step before")
                    self._fault(plan, "squad", expected, "")
                else:
                    plan.values["squad"] = self.default_squad
            return
        squad = self.squads.get(name.casefold())
        if squad is None and self.make_squads:
            name = self.new_squads.setdefault(name.casefold(), name)
            squad = Squad(club=self.club, name=name)
        if squad is None:
            names = ", ".join(one.name for one in self.squads.values())
            expected = (
                _("one of: {names}").format(names=names)
                if names
                else _("a squad of the club: none is made yet")
            )
            self._fault(plan, "squad", expected, name)
        else:
            plan.values["squad"] = squad

    def _resolve_venues(self, plan: RowPlan) -> None:
        """Turns the names of venues in the times into venues; None is the rider's home."""
        times: tuple[WeeklyTime, ...] | None = plan.values.pop("days", None)
        if times is None:
            return
        own = {venue.name.casefold(): venue for venue in plan.rider.venues.all()} if plan.rider else {}
        home = home_of(plan.rider)
        placed = []
        for one in times:
            key = one.venue.casefold()
            venue = own.get(key) or self.club_venues.get(key)
            if key and venue is None and not (home is None and key == HOME.casefold()):
                names = dict.fromkeys(
                    [HOME, *(venue.name for venue in (*own.values(), *self.club_venues.values()))]
                )
                self._fault(
                    plan, "days", _("one of the venues: {names}").format(names=", ".join(names)), one.venue
                )
                return
            placed.append((one, None if venue == home else venue))
        plan.values["openings"] = placed

    def _check_whole(self, plan: RowPlan) -> None:
        """What a rider must have, from the row or from before."""
        if plan.rider is None:
            for name, expected in (
                ("given_name", _("a given name")),
                ("family_name", _("a family name")),
                ("birth_year", _("a birth year")),
            ):
                if name not in plan.values:
                    column = "full_name" if name != "birth_year" and "full_name" in self.heading else name
                    self._fault(plan, column, expected, "")
        if plan.faults:
            return
        merged = merged_rider(plan.rider, plan.values, self.club)
        if lacks_guardian(merged, on=today_of(merged, self.now)):
            missing = "guardian_email" if not merged.guardian_email else "guardian_name"
            expected = _("a guardian's name and mail address: the rider may be under 18")
            self._fault(plan, missing, expected, "")

    def _refuse_twice(self, rows: list[RowPlan]) -> None:
        by_mail: dict[str, list[RowPlan]] = defaultdict(list)
        for row in rows:
            if row.email:
                by_mail[row.email].append(row)
        for same in by_mail.values():
            for row in same if len(same) > 1 else ():
                others = ", ".join(str(one.number) for one in same if one is not row)
                found = _("{mail}, also in row {rows}").format(mail=row.email, rows=others)
                self._fault(row, "email", _("each mail address once"), found)


def _with_everything(addresses: Iterable[str]) -> Iterable[Rider]:
    return (
        Rider.objects.annotate(address=Lower("email"))
        .filter(address__in=list(addresses))
        .select_related("squad", "club")
        .prefetch_related("venues__items", "openings__venue", "rides")
    )


def _who(values: Mapping[str, Any], rider: Rider | None) -> str:
    given = values.get("given_name") or (rider.given_name if rider else "")
    family = values.get("family_name") or (rider.family_name if rider else "")
    return f"{given} {family}".strip() or values.get("email", "")


def home_of(rider: Rider | None) -> Venue | None:
    """The venue that the kit of a roster is at: the rider's own called Home, else the first of their own."""
    own = list(rider.venues.all()) if rider else []
    return next((venue for venue in own if venue.name.casefold() == HOME.casefold()), own[0] if own else None)


def merged_rider(rider: Rider | None, values: Mapping[str, Any], club: Club) -> Rider:
    """The rider as they would be. Not saved."""
    fields = {name: values[name] for name in (*PLAIN, "email", "squad") if name in values}
    if rider is None:
        return Rider(club=club, **fields)
    kept = {name: getattr(rider, name) for name in (*PLAIN, "email", "squad", "zone")}
    return Rider(club=club, **{**kept, **fields})


# --- what changes -----------------------------------------------------------------------------------------------------


def _changes(rider: Rider | None, values: Mapping[str, Any], club: Club) -> list[Change]:
    """Field by field, in the words of the file: for a new rider everything that the row says."""
    new = _words(values, (rider.unit if rider else values.get("unit")) or "kg")
    old = _words_of(rider) if rider else {}
    changes = [
        Change(name, old.get(name, ""), text) for name, text in new.items() if old.get(name, "") != text
    ]
    if rider is not None and rider.state == Rider.State.LEFT:
        changes.append(Change("state", rider.get_state_display(), str(Rider.State.ACTIVE.label)))
    return changes


def _words(values: Mapping[str, Any], unit: str) -> dict[str, str]:
    found = {name: _plain_words(name, values[name]) for name in PLAIN if name in values}
    if "squad" in values:
        found["squad"] = values["squad"].name
    if "kit" in values:
        found["kit"] = write_kit(values["kit"], unit)
    if "openings" in values:
        found["days"] = _times_words(values["openings"])
    if "rides" in values:
        found["rides"] = write_times(values["rides"])
    return found


def _words_of(rider: Rider) -> dict[str, str]:
    home = home_of(rider)
    openings = [
        (_time_of(row, row.preferred), None if home and row.venue_id == home.pk else row.venue)
        for row in rider.openings.all()
    ]
    return {
        **{name: _plain_words(name, getattr(rider, name)) for name in PLAIN},
        "squad": rider.squad.name,
        "kit": write_kit(kit_of(home), rider.unit) if home else "",
        "days": _times_words(openings),
        "rides": write_times(_time_of(row) for row in rider.rides.all() if row.is_key),
    }


def _time_of(row: Opening | RegularRide, preferred: bool = False) -> WeeklyTime:
    return WeeklyTime(row.weekday, row.start, row.minutes, preferred=preferred)


def _times_words(placed: Iterable[tuple[WeeklyTime, Venue | None]]) -> str:
    return write_times(
        WeeklyTime(one.weekday, one.start, one.minutes, venue.name if venue else "", one.preferred)
        for one, venue in placed
    )


def _plain_words(name: str, value: Any) -> str:
    if name == "trains_alone":
        return _("yes") if value else _("no")
    if name == "language":
        return str(dict(settings.LANGUAGES).get(value, value))
    return str(value)


def _digest(rows: Iterable[RowPlan]) -> str:
    document = [
        [
            row.number,
            row.action,
            row.email,
            row.rider.pk if row.rider else None,
            [[one.field, one.old, one.new] for one in row.changes],
            [[one.column, one.expected, one.found] for one in row.faults],
        ]
        for row in rows
    ]
    return hashlib.sha256(json.dumps(document).encode()).hexdigest()
