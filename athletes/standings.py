"""Rows to standings: what is on record for riders, so that `athletes/readiness.py` can say what is missing.

Inside `access.within(club)`.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from athletes.concerns import Event
from athletes.models import ClinicianLimit, Club, Consent, Rider, Screening, SymptomReport
from athletes.readiness import Standing, why_not
from athletes.vocabulary import Reason

#: Events that end a health screening answered before them (S1).
ENDS_SCREENING = frozenset({Event.CRASH.value, Event.SURGERY.value})
#: A screening holds a year, so no older event can end one.
LOOKS_BACK = timedelta(days=366)


def zone_of(rider: Rider, club: Club) -> ZoneInfo:
    """The rider's time zone, the club's unless their own is given."""
    return ZoneInfo(rider.zone or club.zone)


def in_force(limit: ClinicianLimit, on: date) -> bool:
    """Whether a clinician's limit holds on the day."""
    return limit.until_on is None or limit.until_on >= on


def standing_of(
    rider: Rider,
    *,
    club: Club,
    consents: Sequence[Consent],
    screening: Screening | None,
    limits: Iterable[ClinicianLimit],
    symptoms: Iterable[SymptomReport],
    on: date,
) -> Standing:
    """One rider's standing. `consents` are those not withdrawn, `screening` the newest, the rest all of the rider's."""
    return Standing(
        consented=bool(consents),
        under_18=rider.is_under_18(on),
        by_guardian=any(consent.by_guardian for consent in consents),
        needs=screening.needs if screening else None,
        valid_until=screening.valid_until if screening else None,
        cleared_on=screening.cleared_on if screening else None,
        has_limits=any(in_force(limit, on) for limit in limits),
        answered_on=screening.answered_at.astimezone(zone_of(rider, club)).date() if screening else None,
        limits_needed=screening.limits_needed if screening else False,
        clearance_from=screening.clearance_from if screening else None,
        ended_on=max((row.on for row in symptoms if row.event in ENDS_SCREENING), default=None),
    )


def ending_events(ids: Iterable[int], *, on: date) -> "Iterable[SymptomReport]":
    """The reports that may end a screening of these riders."""
    return SymptomReport.objects.filter(
        rider_id__in=list(ids), event__in=ENDS_SCREENING, on__gte=on - LOOKS_BACK
    )


def read_missing(riders: Sequence[Rider], *, club: Club, on: date) -> dict[int, Reason | None]:
    """The first thing that each rider lacks before a plan may be made, by rider; four queries for any number."""
    ids = [rider.pk for rider in riders]
    consents: dict[int, list[Consent]] = defaultdict(list)
    for consent in Consent.objects.filter(rider_id__in=ids).standing():
        consents[consent.rider_id].append(consent)
    screenings: dict[int, Screening] = {}
    for screening in Screening.objects.filter(rider_id__in=ids).defer("answers", "reasons"):
        screenings.setdefault(screening.rider_id, screening)
    limits: dict[int, list[ClinicianLimit]] = defaultdict(list)
    for limit in ClinicianLimit.objects.filter(rider_id__in=ids):
        limits[limit.rider_id].append(limit)
    events: dict[int, list[SymptomReport]] = defaultdict(list)
    for event in ending_events(ids, on=on):
        events[event.rider_id].append(event)
    return {
        rider.pk: why_not(
            standing_of(
                rider,
                club=club,
                consents=consents[rider.pk],
                screening=screenings.get(rider.pk),
                limits=limits[rider.pk],
                symptoms=events[rider.pk],
                on=on,
            ),
            on,
        )
        for rider in riders
    }
