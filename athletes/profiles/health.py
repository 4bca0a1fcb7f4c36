"""Health screening answered, clearance recorded, and what named clinicians set (S1, T2, S5).

Nothing is written without consent. Every verb leaves an audit entry that holds no health detail.
"""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from athletes import followups, screening
from athletes.access import name_of, record
from athletes.concerns import Concern, Topic, Urgency
from athletes.models import ClinicianLimit, Coach, MovementCheck, PainBaseline, Rider, Screening
from athletes.pain import ConsentMissing, has_consent
from athletes.profiles.riders import stop_plans, today_of
from athletes.screening import AdultAnswers, Needs, ScreeningDecision, YoungAnswers
from athletes.sites import BASELINE_MOST, REVIEW_WITHIN_DAYS
from athletes.vocabulary import Pattern, Region, Side

#: The longest time until a baseline is reviewed (T2).
BASELINE_HOLDS = timedelta(days=REVIEW_WITHIN_DAYS)
#: What may be recorded of one exercise of the movement check.
CHECK_RESULTS = frozenset(choice for choice, _words in MovementCheck._meta.get_field("result").choices or [])
#: How soon a coach must look at what a screening asks for.
_URGENCY = {Needs.STOP: Urgency.TODAY, Needs.CLEARANCE: Urgency.SOON, Needs.LIMITS: Urgency.SOON}


class WrongQuestions(Exception):
    """An under-18 has the guardian's questions, everybody else the adult's."""


class ClearanceOutOfRange(Exception):
    """A clearance counts from `since` to today."""

    def __init__(self, since: date) -> None:
        super().__init__(since)
        self.since = since


class LimitUnclear(Exception):
    """A limit leaves out one thing (exercise, pattern, region), or caps load or reps of everything; not both."""


class BaselineOutOfRange(Exception):
    """A baseline is 1 to 5, and its review within six weeks from today."""


def _require_consent(rider: Rider, now: datetime) -> None:
    if not has_consent(rider, on=today_of(rider, now)):
        raise ConsentMissing


# --- screening --------------------------------------------------------------------------------------------------------


@transaction.atomic
def answer_screening(
    *,
    rider: Rider,
    answers: AdultAnswers | YoungAnswers,
    answered_by: str,
    by_guardian: bool,
    by: Coach | Rider | str,
    now: datetime,
) -> Screening:
    """The answers stand with what they ask for, for a year; a coach is told of whatever must be recorded first.

    Answers that ask for a stop or a clearance also keep back plans that wait to go out. The same answers sent again on
    the same day change nothing. Raises `ConsentMissing`, `WrongQuestions`, `screening.GuardianNeeded`.
    """
    _require_consent(rider, now)
    Rider.objects.select_for_update(of=("self",)).get(pk=rider.pk)
    today = today_of(rider, now)
    decision = decide(rider, answers, by_guardian=by_guardian, on=today)
    document = asdict(answers)
    before = Screening.objects.filter(rider=rider).first()
    if before and (before.answers, before.answered_by, before.answered_at.date()) == (
        document,
        answered_by,
        now.date(),
    ):
        return before
    row = Screening.objects.create(
        club_id=rider.club_id,
        rider=rider,
        answers=document,
        answered_by=answered_by,
        by_guardian=by_guardian,
        answered_at=now,
        needs=decision.needs.value,
        reasons=[
            {"rule": one.rule, "key": one.key, "figures": dict(one.figures)} for one in decision.reasons
        ],
        valid_until=decision.valid_until,
        limits_needed=decision.limits_needed,
        clearance_from=decision.clearance_from,
        recorded_by=by if isinstance(by, Coach) else None,
    )
    record(
        "screening.answer", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, subject=str(row.pk)
    )
    if decision.needs in _URGENCY:
        concern = Concern(Topic.SCREENING, _URGENCY[decision.needs], decision.reasons)
        followups.open_for(rider=rider, concern=concern, by=by, now=now)
        stop_plans(rider, "health screening", now=now)
    return row


def decide(
    rider: Rider, answers: AdultAnswers | YoungAnswers, *, by_guardian: bool, on: date
) -> ScreeningDecision:
    """What the answers ask for, by the questions that fit the rider's age. Raises as `answer_screening` does."""
    if isinstance(answers, YoungAnswers) != rider.is_under_18(on):
        raise WrongQuestions
    if isinstance(answers, YoungAnswers):
        return screening.screen_young(answers, by_guardian=by_guardian, on=on)
    return screening.screen_adult(answers, on=on)


@transaction.atomic
def record_clearance(
    *, screening: Screening, cleared_by: str, cleared_on: date, by: Coach, now: datetime
) -> None:
    """It stands on record which clinician cleared the rider, and when. Raises `ClearanceOutOfRange`."""
    today = today_of(screening.rider, now)
    since = screening.clearance_from or screening.answered_at.date()
    if not since <= cleared_on <= today:
        raise ClearanceOutOfRange(since)
    screening.cleared_by, screening.cleared_on, screening.recorded_by = cleared_by, cleared_on, by
    screening.save(update_fields=["cleared_by", "cleared_on", "recorded_by"])
    record(
        "screening.clear",
        club_id=screening.club_id,
        by=name_of(by),
        now=now,
        rider=screening.rider,
        subject=str(screening.pk),
    )


# --- what clinicians set ----------------------------------------------------------------------------------------------


@transaction.atomic
def set_limit(
    *,
    rider: Rider,
    set_by: str,
    set_on: date,
    until_on: date | None = None,
    exercise: str = "",
    pattern: Pattern | None = None,
    region: Region | None = None,
    max_kg: Decimal | None = None,
    max_reps: int | None = None,
    by: Coach,
    now: datetime,
) -> ClinicianLimit:
    """The named clinician's limit holds from now on. Raises `ConsentMissing`, `LimitUnclear`."""
    _require_consent(rider, now)
    left_out = sum(bool(one) for one in (exercise, pattern, region))
    caps = max_kg is not None or max_reps is not None
    if left_out + caps != 1 or not set_by or (until_on is not None and until_on < set_on):
        raise LimitUnclear
    limit = ClinicianLimit.objects.create(
        club_id=rider.club_id,
        rider=rider,
        set_by=set_by,
        set_on=set_on,
        until_on=until_on,
        exercise=exercise,
        pattern=pattern.value if pattern else "",
        region=region.value if region else "",
        max_kg=max_kg,
        max_reps=max_reps,
    )
    record("limit.set", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, subject=str(limit.pk))
    return limit


@transaction.atomic
def end_limit(*, limit: ClinicianLimit, on: date, by: Coach, now: datetime) -> None:
    """The limit holds no longer than the day before `on`. It stays on record."""
    limit.until_on = on - timedelta(days=1)
    limit.save(update_fields=["until_on"])
    record(
        "limit.end", club_id=limit.club_id, by=name_of(by), now=now, rider=limit.rider, subject=str(limit.pk)
    )


@transaction.atomic
def set_baseline(
    *,
    rider: Rider,
    region: Region,
    side: Side,
    limit: int,
    seen_by: str,
    review_on: date,
    by: Coach,
    now: datetime,
) -> PainBaseline:
    """A long-standing pain that a named clinician has seen has its usual score, until the review (T2).

    Raises `ConsentMissing`, `BaselineOutOfRange`.
    """
    _require_consent(rider, now)
    today = today_of(rider, now)
    if not 1 <= limit <= BASELINE_MOST or not today <= review_on <= today + BASELINE_HOLDS or not seen_by:
        raise BaselineOutOfRange
    baseline, _is_new = PainBaseline.objects.update_or_create(
        club_id=rider.club_id,
        rider=rider,
        region=region.value,
        side=side.value,
        defaults={"limit": limit, "seen_by": seen_by, "review_on": review_on},
    )
    record(
        "baseline.set", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, subject=str(baseline.pk)
    )
    return baseline


@transaction.atomic
def remove_baseline(*, baseline: PainBaseline, by: Coach, now: datetime) -> None:
    """The usual rules for pain hold at this site again."""
    record(
        "baseline.remove",
        club_id=baseline.club_id,
        by=name_of(by),
        now=now,
        rider=baseline.rider,
        subject=str(baseline.pk),
    )
    baseline.delete()


@transaction.atomic
def record_movement_check(
    *, rider: Rider, results: Mapping[str, str], on: date, checked_by: str, by: Coach, now: datetime
) -> list[MovementCheck]:
    """Each exercise tried, by slug, has its result of the day: `pass`, `not-yet` or `hurts` (S5). What follows for the
    rider's levels is for programs to say. Raises `ConsentMissing`, and `ValueError` for another result."""
    _require_consent(rider, now)
    unknown = set(results.values()) - CHECK_RESULTS
    if unknown:
        raise ValueError(f"no result of the movement check: {', '.join(sorted(unknown))}")
    fixed: dict[str, Any] = {
        "club_id": rider.club_id,
        "rider": rider,
        "checked_on": on,
        "checked_by": checked_by,
    }
    rows = MovementCheck.objects.bulk_create(
        MovementCheck(exercise=exercise, result=result, **fixed) for exercise, result in results.items()
    )
    record("movement-check", club_id=rider.club_id, by=name_of(by), now=now, rider=rider, count=len(rows))
    return rows
