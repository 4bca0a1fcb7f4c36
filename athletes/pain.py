"""What a rider reports about their body: recorded whole, read at once, never made smaller by a later report.

All verbs run inside `access.within(club)` and in the transaction of whoever calls them.
"""

from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from athletes import followups, triage
from athletes.access import name_of, record
from athletes.concerns import (
    Baseline,
    BodyState,
    Concern,
    Event,
    Matter,
    Outcome,
    ReportKind,
    Sign,
    SorenessTrait,
    Symptom,
    Topic,
    Urgency,
)
from athletes.concerns import (
    BodyReport as Report,
)
from athletes.concerns import (
    SymptomReport as SymptomValue,
)
from athletes.models import BodyReport, Coach, Consent, FollowUp, PainBaseline, Rider, SymptomReport
from athletes.vocabulary import Region, Side

#: A pain score from which a coach is called.
FOLLOWED_FROM = 3


class ConsentMissing(Exception):
    """Health data may not be held: no consent is recorded, or it was withdrawn."""


def has_consent(rider: Rider, *, on: date) -> bool:
    """Whether health data of `rider` may be held on the day: a guardian's consent under 18 (T0)."""
    standing = Consent.objects.filter(rider=rider).standing()
    return standing.filter(by_guardian=True).exists() if rider.is_under_18(on) else standing.exists()


@transaction.atomic
def report(
    *,
    rider: Rider,
    on: date,
    sites: Sequence[Report],
    symptoms: Sequence[Symptom] = (),
    events: Sequence[Event] = (),
    source: str,
    by: Rider | Coach | str,
    now: datetime,
    sessions_done: Sequence[date] = (),
) -> BodyState:
    """Records the report, opens what must be followed up, and returns what it all means on the day `on`.

    Sending the same report again adds nothing. An earlier, higher score is kept: the higher pain stands (H3). A matter
    that was closed earlier on the same day does not answer a report made after it: the coach is called again.
    `sessions_done` are the days of sessions done, which end the easing after an illness (P10).
    Raises `ConsentMissing` when there is something to record and no consent to hold it.
    """
    if not (sites or symptoms or events):
        return state_of(rider, on=on, sessions_done=sessions_done)
    if not has_consent(rider, on=on):
        raise ConsentMissing
    _save_sites(rider, sites, source=source, now=now)
    _save_symptoms(rider, on, symptoms, events, source=source, now=now)
    record("health.report", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, subject=source)
    state = state_of(rider, on=on, sessions_done=sessions_done, closed_today_counts=False)
    for concern in (*state.concerns, *_plain_concerns(sites, state)):
        followups.open_for(rider=rider, concern=concern, by=by, now=now)
    return state


def _plain_concerns(sites: Sequence[Report], state: BodyState) -> list[Concern]:
    """A follow-up for each site reported at 3 or more that nothing stricter calls a coach for: none goes unseen."""
    called = {concern.region for concern in state.concerns}
    found = []
    for site in sites:
        score = max(site.during or 0, site.next_morning or 0)
        reasons = tuple(
            reason for gate in state.gates if gate.region is site.region for reason in gate.reasons
        )
        if score >= FOLLOWED_FROM and reasons and site.region not in called:
            found.append(Concern(Topic.PAIN, Urgency.SOON, reasons, site.region, site.side))
    return found


def _save_sites(rider: Rider, sites: Sequence[Report], *, source: str, now: datetime) -> None:
    for site in sites:
        values = {
            "during": site.during,
            "next_morning": site.next_morning,
            "kind": site.kind.value,
            "signs": sorted(sign.value for sign in site.signs),
            "traits": sorted(trait.value for trait in site.traits),
            "hours_since_work": site.hours_since_work,
        }
        key = {
            "rider": rider,
            "on": site.on,
            "region": site.region.value,
            "side": site.side.value,
            "source": source,
        }
        if not BodyReport.objects.filter(**key, **values).exists():
            BodyReport.objects.create(club_id=rider.club_id, reported_at=now, **key, **values)


def _save_symptoms(
    rider: Rider,
    on: date,
    symptoms: Sequence[Symptom],
    events: Sequence[Event],
    *,
    source: str,
    now: datetime,
) -> None:
    for field, members in (("symptom", symptoms), ("event", events)):
        for member in members:
            SymptomReport.objects.get_or_create(
                club_id=rider.club_id,
                rider=rider,
                on=on,
                source=source,
                **{field: member.value},
                defaults={"reported_at": now},
            )


def state_of(
    rider: Rider, *, on: date, sessions_done: Sequence[date] = (), closed_today_counts: bool = True
) -> BodyState:
    """What everything reported so far means on the day `on`: all of it is read, since a stop lasts until its return."""
    matters = [
        matter
        for matter in read_matters(rider)
        if closed_today_counts or matter.closed_on is None or matter.closed_on < on
    ]
    return triage.assess(
        reports=read_reports(rider),
        symptoms=[symptom_value(row) for row in SymptomReport.objects.filter(rider=rider)],
        matters=matters,
        baselines=read_baselines(rider),
        on=on,
        under_18=rider.is_under_18(on),
        sessions_done=sessions_done,
    )


def read_reports(rider: Rider, *, since: date = date.min) -> list[Report]:
    """The rider's body reports since a day, as values, oldest first."""
    return [value_of(row) for row in BodyReport.objects.filter(rider=rider, on__gte=since)]


def value_of(row: BodyReport) -> Report:
    """One stored report as a value."""
    return Report(
        on=row.on,
        region=Region(row.region),
        side=Side(row.side),
        during=row.during,
        next_morning=row.next_morning,
        kind=ReportKind(row.kind),
        signs=frozenset(Sign(sign) for sign in row.signs),
        traits=frozenset(SorenessTrait(trait) for trait in row.traits),
        hours_since_work=row.hours_since_work,
    )


def symptom_value(row: SymptomReport) -> SymptomValue:
    """One stored symptom or event as a value."""
    return SymptomValue(
        on=row.on,
        symptom=Symptom(row.symptom) if row.symptom else None,
        event=Event(row.event) if row.event else None,
        cleared_on=row.cleared_on,
    )


def read_matters(rider: Rider) -> list[Matter]:
    """The rider's pain follow-ups, open and closed, as values."""
    rows = FollowUp.objects.filter(rider=rider, topic=Topic.PAIN.value).exclude(region="")
    zone = ZoneInfo(rider.zone or rider.club.zone)
    return [matter_value(row, zone) for row in rows]


def matter_value(row: FollowUp, zone: ZoneInfo) -> Matter:
    """One pain follow-up as a value, its days local to `zone`, as the days of reports are."""
    return Matter(
        region=Region(row.region),
        side=Side(row.side or Side.BOTH.value),
        opened_on=row.opened_at.astimezone(zone).date(),
        closed_on=row.closed_at.astimezone(zone).date() if row.closed_at else None,
        outcome=Outcome(row.outcome) if row.outcome else None,
    )


def read_baselines(rider: Rider) -> list[Baseline]:
    """The rider's long-standing pains that a clinician has seen, as values."""
    return [baseline_value(row) for row in PainBaseline.objects.filter(rider=rider)]


def baseline_value(row: PainBaseline) -> Baseline:
    """One baseline as a value."""
    return Baseline(Region(row.region), Side(row.side), row.limit, row.review_on)


@transaction.atomic
def clear(*, report: SymptomReport, cleared_by: str, on: date, by: Coach, now: datetime) -> None:
    """Records who cleared a symptom or said that an illness is over, and when. Only then is anything planned."""
    report.cleared_by, report.cleared_on = cleared_by, on
    report.save(update_fields=["cleared_by", "cleared_on"])
    record(
        "health.clear",
        club_id=report.club_id,
        by=name_of(by),
        now=now,
        rider=report.rider,
        subject=str(report.pk),
    )
