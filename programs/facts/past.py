"""What has happened, as the engine reads it: sessions that went out, and what was done in them."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from athletes import vocabulary
from programs.engine import codec
from programs.engine import facts as engine
from programs.engine.history import is_lightened
from programs.facts.values import read_target
from programs.models import (
    PlannedItem,
    SessionKey,
    WeekPlan,
)


@dataclass(frozen=True, slots=True)
class Past:
    """One session of the past (or of the running week), and what was done in it."""

    record: engine.SessionRecord
    exposures: tuple[engine.Exposure, ...]


def read_history(ids: Sequence[int], *, since: date, until: date, today: date) -> dict[int, list[Past]]:
    """Sessions that went out to each rider, oldest first, with the newest version of what was reported.

    A session counts by the revision that was reported on, else by the newest one that went out (H3).
    """
    keys = (
        SessionKey.objects.filter(rider_id__in=list(ids), planned__plan__sent_at__isnull=False)
        .filter(planned__on__gte=since, planned__on__lte=until)
        .distinct()
        .prefetch_related("planned__plan", "planned__items", "check_in__versions__items__item__session__plan")
        .order_by("iso_year", "iso_week", "ordinal")
    )
    found: dict[int, list[Past]] = defaultdict(list)
    for key in keys:
        past = past_of(key, today)
        if past is not None:
            found[key.rider_id].append(past)
    for rows in found.values():
        rows.sort(key=lambda one: (one.record.done_on or one.record.planned_on, one.record.ordinal))
    return found


def past_of(key: SessionKey, today: date) -> Past | None:
    sent = [row for row in key.planned.all() if row.plan.sent_at is not None]
    newest = max(sent, key=lambda row: row.plan.revision)
    week = engine.Week(key.iso_year, key.iso_week)
    check_in = getattr(key, "check_in", None)
    versions = list(check_in.versions.all()) if check_in else []
    if not versions:
        withdrawn = newest.plan.state == WeekPlan.State.WITHDRAWN
        if withdrawn:
            return None
        state = engine.SessionState.SILENT if newest.on < today else engine.SessionState.PLANNED
        patterns = frozenset(vocabulary.Pattern(item.pattern) for item in newest.items.all())
        record = engine.SessionRecord(week, key.ordinal, newest.on, state, patterns=patterns)
        silent = [_exposure(item, None, newest.on, newest.plan, None) for item in newest.items.all()]
        return Past(record, tuple(silent) if newest.on < today else ())
    version = versions[-1]
    done_on = version.done_on or newest.on
    state = engine.SessionState(version.outcome)
    record = engine.SessionRecord(
        week=week,
        ordinal=key.ordinal,
        planned_on=newest.on,
        state=state,
        done_on=None if state is engine.SessionState.NOT_DONE else done_on,
        minutes=version.minutes,
        session_rpe=version.session_rpe,
    )
    if state is engine.SessionState.NOT_DONE:
        unknown = [_exposure(item, None, newest.on, newest.plan, None) for item in newest.items.all()]
        return Past(record, tuple(unknown))
    return Past(
        record,
        tuple(
            _exposure(
                report.item,
                codec.from_document(engine.Done, report.done) if report.done else None,
                done_on,
                report.item.session.plan,
                version.session_rpe,
            )
            for report in version.items.all()
        ),
    )


def _exposure(
    item: PlannedItem, done: engine.Done | None, on: date, plan: WeekPlan, session_rpe: int | None
) -> engine.Exposure:
    light = (
        plan.is_light
        or plan.phase in (engine.Phase.TAPER.value, engine.Phase.RACE_WEEK.value, engine.Phase.RETURN.value)
        or is_lightened(reason["key"] for reason in item.reasons)
    )
    return engine.Exposure(
        on=on,
        exercise=item.exercise_id,
        target=read_target(item.target),
        done=done,
        session_rpe=session_rpe,
        light=light,
    )
