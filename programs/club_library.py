"""A club's own exercises: added, changed, retired, taken in from a file, and kept when a new library is shipped.

Every change makes a new state of the club's library, checked by the same rules as the shipped one; a change with a
fault changes nothing. Sent weeks name the state that they were made from by its digest.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import connection, models, transaction

from athletes.access import name_of, record
from athletes.models import Club, Coach, Rider
from programs.engine.library import Fault, find_faults, read_library
from programs.library import LibraryFaulty
from programs.merging import Own, merge
from programs.models import (
    ClubExercise,
    ClubLibrary,
    Exercise,
    LevelMove,
    LibraryVersion,
    ShippedExercise,
    Slot,
)

#: No club keeps more of its own than this.
MOST = 200


class TooMany(Exception):
    """The club has as many exercises of its own as it may."""


@dataclass
class InUse(Exception):
    """Riders stand at the exercise, or programs ask for it: it cannot be retired yet."""

    riders: Sequence[Rider]
    slots: Sequence[Slot]


@dataclass(frozen=True, slots=True)
class Entry:
    """What a coach writes of one exercise: its pattern, the entry in the shape of the library, and the steps to it."""

    pattern: str
    document: Mapping[str, Any]
    earned_from: Sequence[Mapping[str, Any]] = ()

    @property
    def slug(self) -> str:
        return str(self.document["slug"])


def slug_for(name: str, *, taken: Iterable[str]) -> str:
    """A slug for a name: its letters in lower case with hyphens, with a further word where that is taken.

    >>> slug_for("Goblet squat, 2 pauses", taken=["goblet-squat-pauses"])
    'goblet-squat-pauses-b'
    """
    stem = re.sub(r"[^a-z]+", "-", name.lower()).strip("-")[:46].strip("-") or "exercise"
    used = set(taken)
    tails = ("", *(f"-{chr(letter)}" for letter in range(ord("b"), ord("z") + 1)))
    return next((stem + tail for tail in tails if stem + tail not in used), f"{stem}-zz")


@transaction.atomic
def save(*, club: Club, entries: Sequence[Entry], by: Coach, now: datetime) -> ClubLibrary:
    """The entries are the club's exercises of their slugs, and the library is a new state. All of them or none.

    Raises `LibraryFaulty` with every fault, or `TooMany`.
    """
    lock(club)
    shipped = dict(ShippedExercise.objects.values_list("slug", "document"))
    figures = {
        row.slug: {"figure": row.document["figure"]}
        for row in ClubExercise.objects.filter(slug__in=[entry.slug for entry in entries])
        if "figure" in row.document
    }
    for entry in entries:
        ClubExercise.objects.update_or_create(
            club=club,
            slug=entry.slug,
            defaults={
                "name": entry.document["name"],
                "pattern": entry.pattern,
                "level": entry.document["level"],
                "document": {
                    **_with_translations(entry.document, shipped.get(entry.slug, {})),
                    **figures.get(entry.slug, {}),
                },
                "earned_from": list(entry.earned_from),
                "shipped": plain(shipped[entry.slug]) if entry.slug in shipped else None,
                "is_retired": False,
                "changed_at": now,
                "changed_by": name_of(by),
            },
        )
    if ClubExercise.objects.count() > MOST:
        raise TooMany
    return _publish(club, f"exercises.save:{len(entries)}", by, now)


@transaction.atomic
def retire(*, club: Club, slug: str, by: Coach, now: datetime) -> ClubLibrary:
    """The exercise, the club's own or a shipped one, is in the club's library no longer. It is kept for sent weeks.

    Raises `Exercise.DoesNotExist`, `InUse` or `LibraryFaulty`.
    """
    lock(club)
    exercise = Exercise.objects.get(pk=slug, is_retired=False)
    riders, slots = _standing_at(slug), list(Slot.objects.filter(exercise_id=slug))
    if riders or slots:
        raise InUse(riders, slots)
    row = _own_row(club, exercise, by, now)
    row.is_retired = True
    row.save()
    return _publish(club, "exercises.retire", by, now)


@transaction.atomic
def restore(*, club: Club, slug: str, by: Coach, now: datetime) -> ClubLibrary:
    """A retired exercise is back. Raises `ClubExercise.DoesNotExist` or `LibraryFaulty`."""
    lock(club)
    row = ClubExercise.objects.get(slug=slug)
    row.is_retired, row.changed_at, row.changed_by = False, now, name_of(by)
    row.save()
    return _publish(club, "exercises.restore", by, now)


@transaction.atomic
def take_shipped(*, club: Club, slug: str, by: Coach, now: datetime) -> ClubLibrary:
    """The club's own words for a shipped exercise give way to the shipped ones.

    Raises `ClubExercise.DoesNotExist`, `ShippedExercise.DoesNotExist` or `LibraryFaulty`.
    """
    lock(club)
    ShippedExercise.objects.get(pk=slug)
    ClubExercise.objects.get(slug=slug).delete()
    return _publish(club, "exercises.take-shipped", by, now)


@transaction.atomic
def keep_own(*, club: Club, slug: str, by: Coach, now: datetime) -> None:
    """The coach has seen what is shipped now, and the club keeps its own. Raises as `take_shipped` does."""
    row = ClubExercise.objects.get(slug=slug)
    row.shipped = plain(ShippedExercise.objects.get(pk=slug).document)
    row.save(update_fields=["shipped"])
    record("exercises.keep-own", club_id=club.pk, by=name_of(by), now=now, subject=slug)


def newly_shipped() -> list[tuple[ClubExercise, ShippedExercise]]:
    """The club's own exercises whose shipped words have changed since the club last saw them, with those."""
    shipped = ShippedExercise.objects.in_bulk([row.slug for row in ClubExercise.objects.all()])
    own = ClubExercise.objects.order_by("pattern", "level", "name")
    return [
        (row, shipped[row.slug])
        for row in own
        if row.slug in shipped and row.shipped != plain(shipped[row.slug].document)
    ]


def current(club: Club) -> ClubLibrary | None:
    """The state of the club's library in force, None while it has no exercise of its own."""
    return ClubLibrary.objects.filter(club=club, is_current=True).first()


def documents_of(club: Club) -> list[dict[str, Any]]:
    """The documents of the library in force in the club."""
    own = current(club)
    if own is not None:
        return list(own.document)
    return list(LibraryVersion.objects.get(is_current=True).document)


def check(*, entries: Sequence[Entry]) -> list[Fault]:
    """The faults that the club's library would have with these entries, none when they are sound. Changes nothing."""
    rows = {row.slug: _value(row) for row in ClubExercise.objects.all()}
    for entry in entries:
        rows[entry.slug] = Own(entry.pattern, entry.document, entry.earned_from)
    return find_faults(merge(LibraryVersion.objects.get(is_current=True).document, rows.values()))


def rebuild(*, club_id: Any, using: str, now: datetime) -> ClubLibrary | None:
    """After a new library was shipped: a new state of the club's library on it, None for a club that has none.

    Where the club's own exercises do not go with it, the state in force stays and keeps the faults to be shown. Runs
    as the tables' owner, outside row-level security.
    """
    own = ClubExercise.objects.using(using).filter(club_id=club_id)
    state = ClubLibrary.objects.using(using).filter(club_id=club_id, is_current=True).first()
    if state is None:
        return None
    shipped = LibraryVersion.objects.using(using).get(is_current=True)
    documents = merge(shipped.document, map(_value, own))
    faults = find_faults(documents)
    if faults:
        state.faults = [_fault_row(fault) for fault in faults]
        state.save(update_fields=["faults"])
        return state
    if documents == state.document:
        return state
    return _store(club_id, documents, shipped.digest, "release", now, using)


def rebuild_all(*, using: str, now: datetime) -> list[ClubLibrary]:
    """Every club's library stands on what is shipped now. Returns those that do not go with it, with their faults."""
    clubs = ClubLibrary.objects.using(using).filter(is_current=True).values_list("club_id", flat=True)
    states = [rebuild(club_id=club_id, using=using, now=now) for club_id in list(clubs)]
    return [state for state in states if state is not None and state.faults]


def plain(document: Mapping[str, Any]) -> dict[str, Any]:
    """An entry as the library has it: without its words in other languages and without the club's figure."""
    return {key: value for key, value in document.items() if key not in ("translations", "figure")}


@transaction.atomic
def set_figure(
    *, club: Club, slug: str, base: str, angles: Mapping[str, int], by: Coach, now: datetime
) -> None:
    """The club's own exercise is drawn as the shipped pose of `base` with these angles, in degrees.

    Raises `ClubExercise.DoesNotExist`.
    """
    lock(club)
    row = ClubExercise.objects.get(slug=slug)
    row.document = {**row.document, "figure": {"base": base, "angles": dict(angles)}}
    row.changed_at, row.changed_by = now, name_of(by)
    row.save(update_fields=["document", "changed_at", "changed_by"])
    record("exercises.figure", club_id=club.pk, by=name_of(by), now=now, subject=slug)


# --- inside -----------------------------------------------------------------------------------------------------------


def lock(club: Club) -> None:
    """One change of the club's library at a time, until the transaction ends."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtext(%s))", [f"library {club.pk}"])


def _value(row: ClubExercise) -> Own:
    return Own(row.pattern, plain(row.document), row.earned_from, row.is_retired)


def _with_translations(document: Mapping[str, Any], shipped: Mapping[str, Any]) -> dict[str, Any]:
    """The entry with the shipped one's words in other languages, as long as it says the same as that in English."""
    is_said_so = all(document.get(field) == shipped.get(field) for field in _WORDS)
    if is_said_so and "translations" in shipped:
        return {**document, "translations": shipped["translations"]}
    return dict(document)


#: What of an entry is words.
_WORDS = ("name", "purpose", "set_up", "cues", "faults", "leave_out", "earns", "substitutes")


def _own_row(club: Club, exercise: Exercise, by: Coach, now: datetime) -> ClubExercise:
    """The club's row for an exercise, made from the shipped one where there is none yet; not saved."""
    row = ClubExercise.objects.filter(slug=exercise.slug).first()
    if row is None:
        row = ClubExercise(
            club=club,
            slug=exercise.slug,
            name=exercise.name,
            pattern=exercise.pattern,
            level=exercise.level,
            document=plain(exercise.document),
            shipped=plain(exercise.document),
        )
    row.changed_at, row.changed_by = now, name_of(by)
    return row


def _standing_at(slug: str) -> list[Rider]:
    """The riders whose newest level in its pattern is the exercise."""
    newest = (
        LevelMove.objects.filter(rider__in=Rider.objects.current())
        .order_by("rider_id", "pattern", "-since_on", "-pk")
        .distinct("rider_id", "pattern")
    )
    return [move.rider for move in newest.select_related("rider") if move.exercise_id == slug]


def _publish(club: Club, action: str, by: Coach, now: datetime) -> ClubLibrary:
    """The library as the club's rows make it is the state in force. Raises `LibraryFaulty`, which takes all back."""
    shipped = LibraryVersion.objects.get(is_current=True)
    documents = merge(shipped.document, map(_value, ClubExercise.objects.order_by("slug")))
    faults = find_faults(documents)
    if faults:
        raise LibraryFaulty(faults)
    action, _colon, count = action.partition(":")
    record(action, club_id=club.pk, by=name_of(by), now=now, count=int(count or 1))
    return _store(club.pk, documents, shipped.digest, name_of(by), now, "default")


def _store(
    club_id: Any, documents: list[dict[str, Any]], base: str, made_by: str, now: datetime, using: str
) -> ClubLibrary:
    states = ClubLibrary.objects.using(using).filter(club_id=club_id)
    number = states.aggregate(most=models.Max("number"))["most"] or 0
    states.filter(is_current=True).update(is_current=False)
    return states.create(
        club_id=club_id,
        number=number + 1,
        digest=read_library(documents).digest,
        base=base,
        document=documents,
        made_at=now,
        made_by=made_by,
        is_current=True,
    )


def _fault_row(fault: Fault) -> dict[str, str]:
    return {
        "exercise": fault.exercise,
        "field": fault.field,
        "expected": fault.expected,
        "found": fault.found,
    }
