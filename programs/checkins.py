"""Check-ins: what a rider reports after a session, and what follows at once.

    checkins.submit(key=key, answers=answers, by=rider, now=now)

One transaction: the report is stored, pain is read, the rest of the week is eased, follow-ups and mail are queued. All
verbs run inside `access.within(club)`.
"""

import logging
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction

from athletes import concerns, followups, outbox, pain
from athletes.access import name_of, record
from athletes.models import BodyReport, Club, Coach, FollowUp, Rider, SymptomReport
from athletes.vocabulary import Reason, Region, Side
from programs import facts as translator
from programs import relief
from programs.engine import codec, load
from programs.engine import facts as engine
from programs.engine.quantities import shift_week, week_of
from programs.engine.resolve import resolve_week
from programs.models import CheckIn, CheckInVersion, ItemReport, PlannedSession, SessionKey, WeekPlan

ALERT_MAIL = "symptom-alert"
DIGEST_MAIL = "digest"
#: What working out a week may raise; `plans.resolve` returns the same as a rider's failure.
FAULTS = (codec.FactsError, ValueError, LookupError, ArithmeticError)
log = logging.getLogger(__name__)
#: A pain score from which the rest of the week is worked out again at once (T0).
EASES_FROM = 3
#: When the coach's daily digest is due, local time of the club.
DIGEST_AT = time(7)


class NotSent(Exception):
    """The session has not gone out, so there is nothing to report on."""


class TooLate(Exception):
    """The next week has gone out, so this check-in can no longer be corrected. A first report is never too late."""


@dataclass(frozen=True, slots=True)
class Answers:
    """A validated check-in. `items` maps the number of a planned item to what was done of it, None for left out.

    `morning` maps a site to this morning's score, as asked about the last check-in's pain.
    """

    form_key: str
    outcome: str
    done_on: date | None = None
    minutes: int | None = None
    session_rpe: int | None = None
    why_not: str = ""
    note: str = ""
    items: Mapping[int, engine.Done | None] = field(default_factory=dict)
    sites: tuple[concerns.BodyReport, ...] = ()
    morning: Mapping[tuple[Region, Side], int] = field(default_factory=dict)
    symptoms: tuple[concerns.Symptom, ...] = ()
    events: tuple[concerns.Event, ...] = ()


@dataclass(frozen=True, slots=True)
class NextTime:
    """What one exercise will be next time, as it looks now: only the weekly resolve decides."""

    exercise: str
    target: engine.Target
    change: engine.Change
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Answered:
    """What a check-in led to."""

    version: CheckInVersion
    state: concerns.BodyState
    eased: tuple[WeekPlan, ...]
    next_time: tuple[NextTime, ...]


def source_of_check_in(key: SessionKey) -> str:
    """How reports of the body name the check-in that they came with."""
    return f"check-in:{key.pk}"


def source_of_report(form_key: str) -> str:
    """How reports of the body name the form that they came with, outside any check-in."""
    return f"report:{form_key}"[:60]


def session_of(key: SessionKey) -> PlannedSession:
    """The session as it last went out, with its items. Raises `NotSent`."""
    row = (
        PlannedSession.objects.filter(key=key, plan__sent_at__isnull=False)
        .select_related("plan__rider__club", "plan__rider__squad")
        .prefetch_related("items__exercise")
        .order_by("-plan__revision")
        .first()
    )
    if row is None:
        raise NotSent
    return row


def can_be_corrected(key: SessionKey, *, now: datetime) -> bool:
    """Whether the check-in is still open: until the next week has gone out."""
    after = shift_week(engine.Week(key.iso_year, key.iso_week), 1)
    return not (
        WeekPlan.objects.filter(rider_id=key.rider_id, sent_at__isnull=False)
        .of_week(after.year, after.number)
        .exists()
    )


def unanswered_mornings(rider: Rider, *, on: date) -> list[concerns.BodyReport]:
    """The newest pain report of each site in the week before `on` whose next morning nobody has told, newest first."""
    newest: dict[tuple[Region, Side], concerns.BodyReport] = {}
    for report in pain.read_reports(rider, since=on - timedelta(days=7)):
        if report.during is None or report.on >= on or report.kind is concerns.ReportKind.SORENESS:
            continue
        site = (report.region, report.side)
        before = newest.pop(site, None)
        if before is not None and before.on == report.on and before.next_morning is not None:
            report = replace(report, next_morning=before.next_morning)
        newest[site] = report
    return [report for report in reversed(newest.values()) if report.next_morning is None]


def sites_to_ask_about(rider: Rider, *, on: date) -> list[tuple[Region, Side]]:
    """Sites whose next morning is not known yet, newest first: asked at the next check-in (T0)."""
    return [(report.region, report.side) for report in unanswered_mornings(rider, on=on)]


@transaction.atomic
def submit(
    *, key: SessionKey, answers: Answers, by: Rider | Coach, now: datetime, with_preview: bool = True
) -> Answered:
    """The report stands as the newest version of the session's one check-in, and what it asks for is done.

    `with_preview` False leaves out what next time looks like, for callers that show it to nobody.
    The same form sent twice changes nothing and gives the same answer. Raises `NotSent`, `TooLate`, and
    `pain.ConsentMissing` when pain is reported that may not be held.
    """
    rows = SessionKey.objects.select_for_update(of=("self",)).select_related("rider__club", "rider__squad")
    key = rows.get(pk=key.pk)
    rider = key.rider
    today = now.astimezone(translator.zone_of(rider, rider.club)).date()
    session = session_of(key)
    check_in, _ = CheckIn.objects.get_or_create(club_id=key.club_id, key=key, defaults={"first_at": now})
    same = check_in.versions.filter(form_key=answers.form_key).first()
    if same is not None:
        return Answered(
            same,
            pain.state_of(rider, on=today, sessions_done=days_done(rider)),
            (),
            preview(session, now=now) if with_preview else (),
        )
    if check_in.versions.exists() and not can_be_corrected(key, now=now):
        raise TooLate
    version = _save(check_in, session, answers, by=by, now=now)
    state = _report_body(rider, key, answers, today=today, by=by, now=now)
    eased: list[WeekPlan] = []
    with _kept_whatever_fails(rider):
        if _asks_for_easing(answers, state) or _on_another_day(answers, session):
            eased = relief.ease_remaining(rider=rider, by=by, now=now)
        else:
            relief.refresh_waiting(rider=rider, by=by, now=now)
    _settle_missed(rider, today=today, now=now)
    record("check-in", club_id=key.club_id, by=name_of(by), now=now, rider=rider, subject=str(key.pk))
    return Answered(version, state, tuple(eased), preview(session, now=now) if with_preview else ())


def _on_another_day(answers: Answers, session: PlannedSession) -> bool:
    """Whether the session was done on a day that may crowd what is left of the week (H3)."""
    return answers.done_on is not None and answers.done_on != session.on


def _save(
    check_in: CheckIn, session: PlannedSession, answers: Answers, *, by: Rider | Coach, now: datetime
) -> CheckInVersion:
    items = {item.pk: item for item in session.items.all()}
    version = CheckInVersion.objects.create(
        club_id=check_in.club_id,
        check_in=check_in,
        number=check_in.versions.count() + 1,
        form_key=answers.form_key,
        at=now,
        by=name_of(by),
        outcome=answers.outcome,
        done_on=answers.done_on,
        minutes=answers.minutes,
        session_rpe=answers.session_rpe,
        why_not=answers.why_not,
        note=answers.note,
    )
    ItemReport.objects.bulk_create(
        ItemReport(
            club_id=check_in.club_id,
            version=version,
            item=items[number],
            done=codec.to_document(done) if done is not None else None,
        )
        for number, done in answers.items.items()
        if number in items
    )
    return version


def _report_body(
    rider: Rider, key: SessionKey, answers: Answers, *, today: date, by: Rider | Coach, now: datetime
) -> concerns.BodyState:
    sites = [*answers.sites, *_mornings(rider, answers.morning, today)]
    return report_body(
        rider=rider,
        on=today,
        sites=tuple(sites),
        symptoms=answers.symptoms,
        events=answers.events,
        source=source_of_check_in(key),
        by=by,
        now=now,
    )


def _mornings(
    rider: Rider, morning: Mapping[tuple[Region, Side], int], today: date
) -> list[concerns.BodyReport]:
    """The morning scores, each put to the report that it answers: the newest before today at that site."""
    return [
        replace(report, next_morning=morning[report.region, report.side])
        for report in unanswered_mornings(rider, on=today)
        if (report.region, report.side) in morning
    ]


def report_body(
    *,
    rider: Rider,
    on: date,
    sites: tuple[concerns.BodyReport, ...],
    symptoms: tuple[concerns.Symptom, ...],
    events: tuple[concerns.Event, ...],
    source: str,
    by: Rider | Coach,
    now: datetime,
) -> concerns.BodyState:
    """Records pain, symptoms and events, and tells the coach at once of a warning symptom. Raises `ConsentMissing`."""
    state = pain.report(
        rider=rider,
        on=on,
        sites=sites,
        symptoms=symptoms,
        events=events,
        source=source,
        by=by,
        now=now,
        sessions_done=days_done(rider),
    )
    if any(concern.urgency is concerns.Urgency.NOW for concern in state.concerns) and symptoms:
        _alert(rider, source=source, now=now)
    return state


def days_done(rider: Rider) -> list[date]:
    """The days on which the rider trained, wholly or in part, as far as reported; which ends an easing (P10)."""
    days = (
        CheckInVersion.objects.filter(check_in__key__rider=rider, done_on__isnull=False)
        .exclude(outcome=CheckInVersion.Outcome.NOT_DONE)
        .values_list("done_on", flat=True)
    )
    return sorted({day for day in days if day is not None})


@transaction.atomic
def report_any_time(
    *,
    rider: Rider,
    sites: tuple[concerns.BodyReport, ...] = (),
    symptoms: tuple[concerns.Symptom, ...] = (),
    events: tuple[concerns.Event, ...] = (),
    form_key: str,
    by: Rider | Coach,
    now: datetime,
) -> Answered | concerns.BodyState:
    """A report by link outside any check-in (T0): recorded, and the rest of the week eased at once.

    The same form sent twice changes nothing. Raises `pain.ConsentMissing`.
    """
    Rider.objects.select_for_update().get(pk=rider.pk)
    today = now.astimezone(translator.zone_of(rider, rider.club)).date()
    source = source_of_report(form_key)
    if BodyReport.objects.filter(rider=rider, source=source).exists() or (
        SymptomReport.objects.filter(rider=rider, source=source).exists()
    ):
        return pain.state_of(rider, on=today, sessions_done=days_done(rider))
    state = report_body(
        rider=rider,
        on=today,
        sites=sites,
        symptoms=symptoms,
        events=events,
        source=source,
        by=by,
        now=now,
    )
    if sites or symptoms or events:
        with _kept_whatever_fails(rider):
            relief.ease_remaining(rider=rider, by=by, now=now)
    return state


@contextmanager
def _kept_whatever_fails(rider: Rider) -> Iterator[None]:
    """A week that cannot be worked out never costs a report: that is kept with its follow-up, the plan stays as it was,
    and the fault is logged."""
    try:
        with transaction.atomic():
            yield
    except FAULTS:
        log.exception("the weeks of rider %s could not be worked out anew", rider.pk)


def _asks_for_easing(answers: Answers, state: concerns.BodyState) -> bool:
    scores = [
        score for site in answers.sites for score in (site.during, site.next_morning) if score is not None
    ]
    scores += answers.morning.values()
    signs = any(site.signs for site in answers.sites)
    return bool(
        answers.symptoms
        or answers.events
        or signs
        or any(score >= EASES_FROM for score in scores)
        or (answers.sites and state.stops_everything)
        or (answers.morning and any(gate.gate > concerns.Gate.HOLD for gate in state.gates))
    )


def _alert(rider: Rider, *, source: str, now: datetime) -> None:
    coach = rider.squad.coach
    outbox.enqueue(
        club_id=rider.club_id,
        kind=ALERT_MAIL,
        dedup_key=f"{ALERT_MAIL}:{rider.pk}:{source}",
        rider=rider,
        coach=coach,
        recipient=coach.user.email,
        channel="account",
        payload={"rider": rider.pk},
        due_at=now,
        now=now,
    )


def _settle_missed(rider: Rider, *, today: date, now: datetime) -> None:
    followups.settle(rider=rider, topic=concerns.Topic.MISSED, now=now)
    followups.settle(rider=rider, topic=concerns.Topic.SILENT, now=now)


def preview(session: PlannedSession, *, now: datetime) -> tuple[NextTime, ...]:
    """What the session's exercises would be next time if nothing else came in. Writes nothing."""
    rider = session.plan.rider
    today = now.astimezone(translator.zone_of(rider, rider.club)).date()
    week = shift_week(week_of(max(today, session.on)), 1)
    facts = translator.gather(club=rider.club, riders=[rider], week=week, today=today)[0].facts
    decision = resolve_week(facts, translator.current_library())
    here = {item.slot: item for item in session.items.all()}
    found: dict[str, NextTime] = {}
    for planned in decision.sessions:
        for item in planned.items:
            if item.slot in here and item.slot not in found:
                found[item.slot] = NextTime(item.exercise, item.target, item.change, item.reasons)
    return tuple(found.values())


# --- the clock --------------------------------------------------------------------------------------------------------


def watch(*, club: Club, now: datetime) -> int:
    """Flags sessions whose grace has passed without a check-in, and opens follow-ups as M3 says. Returns how many were
    flagged. Doing it twice does nothing more."""
    due = (
        SessionKey.objects.filter(
            flagged_at__isnull=True, check_in__isnull=True, planned__plan__state=WeekPlan.State.SENT
        )
        .filter(planned__on__lt=now.date() + timedelta(days=1))
        .select_related("rider__club", "rider__squad")
        .distinct()
    )
    flagged: dict[int, Rider] = {}
    count = 0
    for key in due:
        today = now.astimezone(translator.zone_of(key.rider, club)).date()
        planned = session_of(key)
        if load.is_missed(planned.on, reported=False, today=today):
            count += SessionKey.objects.filter(pk=key.pk, flagged_at__isnull=True).update(flagged_at=now)
            flagged[key.rider_id] = key.rider
    for rider in flagged.values():
        _follow_silence(rider, club, now=now)
        # What was worked out while that session was still ahead may count on it (P10).
        relief.ease_remaining(rider=rider, by="clock", now=now)
    return count


def _follow_silence(rider: Rider, club: Club, *, now: datetime) -> None:
    today = now.astimezone(translator.zone_of(rider, club)).date()
    past = translator.read_history([rider.pk], since=today - timedelta(days=60), until=today, today=today)
    concern = load.silence([one.record for one in past.get(rider.pk, [])], today)
    if concern is not None:
        followups.open_for(rider=rider, concern=concern, by="clock", now=now)


def queue_digests(*, club: Club, now: datetime) -> int:
    """Queues one mail a coach and local day once the hour has come, for those with anything open. Returns how many."""
    local = now.astimezone(ZoneInfo(club.zone))
    if local.time() < DIGEST_AT:
        return 0
    owners = FollowUp.objects.open().values_list("owner_id", flat=True).distinct()
    queued = 0
    for coach in Coach.objects.filter(pk__in=owners).select_related("user"):
        outbox.enqueue(
            club_id=club.pk,
            kind=DIGEST_MAIL,
            dedup_key=f"{DIGEST_MAIL}:{coach.pk}:{local.date().isoformat()}",
            coach=coach,
            recipient=coach.user.email,
            channel="account",
            payload={"on": local.date().isoformat()},
            due_at=now,
            now=now,
        )
        queued += 1
    return queued
