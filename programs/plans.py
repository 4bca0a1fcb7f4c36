"""Week plans: worked out, looked at, edited, approved, sent, and eased at once when a rider hurts.

    plans.resolve(club=club, week=week, by=coach, now=now)
    plans.approve(plan=plan, by=coach, now=now)

A sent revision is never altered: a change makes the next one. All verbs run inside `access.within(club)`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db import transaction

from athletes import followups, outbox, standings
from athletes.access import name_of, record
from athletes.models import Club, Coach, Rider
from programs import facts as translator
from programs.engine import codec, safety
from programs.engine import facts as engine
from programs.engine.quantities import shift_week, week_days, week_name, week_of
from programs.engine.resolve import resolve_week
from programs.models import LevelMove, PlannedItem, WeekPlan

State = WeekPlan.State
#: Kinds of delivery that carry a week.
WEEK_MAIL = "week"
REMINDER_MAIL = "approval-reminder"
CLOCK = "clock"
#: A week's mail is tried until so long before the next week's goes out; one that begins late, at least so long.
BEFORE_NEXT, LEAST_TRIES = timedelta(hours=24), timedelta(hours=12)


class NotWaiting(Exception):
    """The plan is not waiting to be looked at: it was approved, sent or replaced meanwhile."""


class AlreadySent(Exception):
    """The week has gone out; a change needs a new revision."""


@dataclass
class Refused(Exception):
    """The plan breaks safety properties that nobody may set aside."""

    breaches: tuple[safety.Breach, ...]


@dataclass
class ReasonNeeded(Exception):
    """The plan breaks properties that a coach may set aside with a written reason."""

    breaches: tuple[safety.Breach, ...]


# --- the timetable ----------------------------------------------------------------------------------------------------


def local_date(club: Club, now: datetime) -> date:
    """The date in the club's zone."""
    return now.astimezone(ZoneInfo(club.zone)).date()


def coming_week(club: Club, now: datetime) -> engine.Week:
    """The ISO week after the one that runs now in the club's zone."""
    return shift_week(week_of(local_date(club, now)), 1)


def _moment(club: Club, week: engine.Week, weekday: int, hour: int) -> datetime:
    monday = week_days(week)[0]
    day = monday - timedelta(days=7 - weekday)
    return datetime.combine(day, time(hour), ZoneInfo(club.zone))


def resolves_at(club: Club, week: engine.Week) -> datetime:
    """When `week` is worked out: on the club's day of the week before, at its hour."""
    return _moment(club, week, club.resolves_on, club.resolves_at_hour)


def sends_at(club: Club, week: engine.Week) -> datetime:
    """When `week` goes out: on the club's day of the week before, at its hour."""
    return _moment(club, week, club.sends_on, club.sends_at_hour)


# --- working out ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Resolved:
    """What came of working out a week: how many plans were made or left as they were, and whose rows failed."""

    made: int
    kept: int
    failed: tuple[tuple[Rider, str], ...] = ()


def resolve(
    *,
    club: Club,
    week: engine.Week,
    by: Coach | str,
    now: datetime,
    riders: Sequence[Rider] | None = None,
    again: bool = False,
) -> Resolved:
    """Works out `week` for each rider (all current ones of the club by default).

    A rider who has a plan keeps it; with `again`, plans still waiting are worked out anew unless a coach has edited
    them. One rider's failure never stops the others: it is returned with its reason.
    """
    if riders is None:
        riders = list(Rider.objects.current().select_related("squad").order_by("pk"))
    today = local_date(club, now)
    library = translator.current_library()
    made, kept, failed = 0, 0, []
    for gathered in translator.gather(club=club, riders=riders, week=week, today=today):
        try:
            with transaction.atomic():
                plan = _resolve_one(gathered, library, by=by, now=now, again=again)
        except (codec.FactsError, ValueError, LookupError, ArithmeticError) as error:
            failed.append((gathered.rider, f"{type(error).__name__}: {error}"))
            continue
        made, kept = (made + 1, kept) if plan else (made, kept + 1)
    return Resolved(made, kept, tuple(failed))


def _resolve_one(
    gathered: translator.Gathered, library: engine.Library, *, by: Coach | str, now: datetime, again: bool
) -> WeekPlan | None:
    """The new plan, or None when the one there is stays."""
    rider, facts = gathered.rider, gathered.facts
    old = lock_current(rider, facts.week)
    if old is not None and (not again or old.state not in (State.DRAFT, State.HELD) or is_edited(old)):
        return None
    decision = resolve_week(facts, library)
    if old is not None:
        retire(old, State.SUPERSEDED, now=now)
    return write(rider, facts, decision, library, by=by, now=now)


def write(
    rider: Rider,
    facts: engine.WeekFacts,
    decision: engine.WeekDecision,
    library: engine.Library,
    *,
    by: Coach | Rider | str,
    now: datetime,
    state: str | None = None,
    is_downward: bool = False,
) -> WeekPlan:
    plan = translator.store(
        rider=rider,
        facts=facts,
        decision=decision,
        library=library.digest,
        revision=_last_revision(rider, facts.week) + 1,
        state=state or (State.DRAFT if decision.may_send else State.HELD),
        now=now,
        is_downward=is_downward,
    )
    for concern in decision.concerns:
        followups.open_for(rider=rider, concern=concern, by=by, now=now)
    return plan


def lock_current(rider: Rider, week: engine.Week) -> WeekPlan | None:
    """The revision in force, locked. The rider's row is locked first, so that two workers never both find none."""
    Rider.objects.select_for_update().get(pk=rider.pk)
    return (
        WeekPlan.objects.select_for_update(of=("self",))
        .filter(rider=rider)
        .of_week(week.year, week.number)
        .current()
        .first()
    )


def _last_revision(rider: Rider, week: engine.Week) -> int:
    plans = WeekPlan.objects.filter(rider=rider).of_week(week.year, week.number)
    return max(plans.values_list("revision", flat=True), default=0)


def is_edited(plan: WeekPlan) -> bool:
    return PlannedItem.objects.filter(session__plan=plan, edited_at__isnull=False).exists()


def retire(plan: WeekPlan, state: str, *, now: datetime) -> None:
    """Takes a revision out of force: its levels and whatever mail of it is still waiting go too."""
    plan.state = state
    plan.save(update_fields=["state"])
    if plan.sent_at is None:
        LevelMove.objects.filter(plan=plan).delete()
    outbox.cancel(club_id=plan.club_id, reason="replaced", now=now, dedup_key=mail_key(plan))


# --- looking at and changing ------------------------------------------------------------------------------------------


def facts_now(plan: WeekPlan, *, club: Club, now: datetime) -> engine.WeekFacts:
    """The facts of the plan's week as they are now, which may differ from those it was made from."""
    week = engine.Week(plan.iso_year, plan.iso_week)
    today = local_date(club, now)
    return translator.gather(club=club, riders=[plan.rider], week=week, today=today)[0].facts


def find_breaches(
    plan: WeekPlan, *, club: Club, now: datetime, facts: engine.WeekFacts | None = None
) -> tuple[safety.Breach, ...]:
    """Which safety properties the plan as it stands would break, whoever changed it (I1 to I11).

    `facts` are those of now, when the caller has read them for many riders at once.
    """
    decision = translator.read_plan(whole(plan))
    known = facts or facts_now(plan, club=club, now=now)
    return safety.find_breaches(decision, known, translator.current_library())


def whole(plan: WeekPlan) -> WeekPlan:
    return WeekPlan.objects.prefetch_related("sessions__items").select_related("rider").get(pk=plan.pk)


@transaction.atomic
def edit_target(
    *,
    item: PlannedItem,
    sets: int,
    amount: int,
    kg: Decimal | None,
    reason: str,
    by: Coach,
    now: datetime,
) -> PlannedItem:
    """Changes one target of a plan still waiting. An edit is a target like any other: approval checks it (Precedence).

    `amount` is reps or seconds; `kg` the mass of each implement, None for the load as it is.
    Raises `NotWaiting`, or `Refused` when the change breaks a property that nobody may set aside.
    """
    plan = lock_waiting(item.session.plan_id)
    target = translator.read_target(item.target)
    load = target.load if kg is None or target.load is None else replace(target.load, kg=kg)
    item.target = codec.to_document(
        replace(target, sets=sets, amount=amount, load=load, bridge_load=None, bridge_sets=0, bridge_amount=0)
    )
    item.edited_by, item.edited_at, item.edit_reason = by, now, reason
    item.save()
    refuse_breaches(plan, now=now)
    record("plan.edit", club_id=plan.club_id, by=name_of(by), now=now, rider=plan.rider, subject=str(plan.pk))
    return item


def _lock_rider(plan_id: int) -> None:
    """The rider of a plan is locked before the plan, as everywhere, so that nobody waits in a circle."""
    Rider.objects.select_for_update(of=("self",), no_key=True).filter(week_plans__pk=plan_id).first()


def lock_waiting(plan_id: int) -> WeekPlan:
    _lock_rider(plan_id)
    plan = WeekPlan.objects.select_for_update(of=("self",)).select_related("rider__club").get(pk=plan_id)
    if plan.state != State.DRAFT:
        raise NotWaiting
    return plan


def refuse_breaches(
    plan: WeekPlan, *, now: datetime, facts: engine.WeekFacts | None = None
) -> tuple[safety.Breach, ...]:
    breaches = find_breaches(plan, club=plan.rider.club, now=now, facts=facts)
    refusing = tuple(breach for breach in breaches if breach.refuses)
    if refusing:
        raise Refused(refusing)
    return breaches


# --- approving --------------------------------------------------------------------------------------------------------


@transaction.atomic
def approve(
    *,
    plan: WeekPlan,
    by: Coach | str,
    now: datetime,
    override_reason: str = "",
    facts: engine.WeekFacts | None = None,
) -> WeekPlan:
    """The plan goes out at the club's hour, or at once when that is past.

    `facts` may be those that the caller has just read for many riders: a report that came in since has taken this plan
    out of waiting, so that it is refused whatever they say.
    Raises `NotWaiting`; `Refused` for breaches that nobody may set aside; `ReasonNeeded` for others without a reason.
    """
    locked = lock_waiting(plan.pk)
    others = refuse_breaches(locked, now=now, facts=facts)
    if others and not override_reason.strip():
        raise ReasonNeeded(others)
    locked.state = State.APPROVED
    locked.approved_at = now
    locked.approved_by = by if isinstance(by, Coach) else None
    locked.approved_without_coach = not isinstance(by, Coach)
    locked.override_reason = override_reason.strip() if others else ""
    locked.save()
    _write_levels(locked)
    enqueue(locked, now=now, at=max(now, sends_at(locked.rider.club, week_of_plan(locked))))
    record(
        "plan.approve",
        club_id=locked.club_id,
        by=name_of(by),
        now=now,
        rider=locked.rider,
        subject=str(locked.pk),
    )
    return locked


@dataclass(frozen=True, slots=True)
class Approved:
    """What came of approving many: the plans approved, and those left with the reason why."""

    approved: tuple[WeekPlan, ...]
    left: tuple[tuple[WeekPlan, Refused | ReasonNeeded | NotWaiting], ...]


def approve_many(*, plans: Iterable[WeekPlan], by: Coach, now: datetime) -> Approved:
    """Approves each plan that nothing stands against; the others stay as they are and are returned with the reason."""
    approved, left = [], []
    # Always in the same order, so that two coaches who approve at once wait for each other and never in a circle.
    plans = sorted(plans, key=lambda plan: plan.rider_id)
    known = _facts_of(plans, now=now)
    for plan in plans:
        try:
            approved.append(approve(plan=plan, by=by, now=now, facts=known[plan.pk]))
        except (Refused, ReasonNeeded, NotWaiting) as error:
            left.append((plan, error))
    return Approved(tuple(approved), tuple(left))


def _facts_of(plans: Sequence[WeekPlan], *, now: datetime) -> dict[int, engine.WeekFacts]:
    """The facts of now of each plan, by its number, read once a week for all its riders. The plans are of one club."""
    found: dict[int, engine.WeekFacts] = {}
    for week in {week_of_plan(plan) for plan in plans}:
        of_week = [plan for plan in plans if week_of_plan(plan) == week]
        club = of_week[0].rider.club
        riders = [plan.rider for plan in of_week]
        gathered = translator.gather(club=club, riders=riders, week=week, today=local_date(club, now))
        found |= {plan.pk: one.facts for plan, one in zip(of_week, gathered, strict=True)}
    return found


@transaction.atomic
def withdraw_approval(*, plan: WeekPlan, by: Coach | Rider | str, now: datetime) -> WeekPlan:
    """Puts an approved plan back to waiting, as long as it has not gone out and is not just going. Raises
    `AlreadySent`, `NotWaiting`."""
    _lock_rider(plan.pk)
    locked = WeekPlan.objects.select_for_update(of=("self",)).select_related("rider__club").get(pk=plan.pk)
    if locked.state == State.SENT:
        raise AlreadySent
    if locked.state != State.APPROVED:
        raise NotWaiting
    if outbox.is_leaving(club_id=locked.club_id, dedup_key=mail_key(locked)):
        raise AlreadySent
    locked.state, locked.approved_at, locked.approved_by = State.DRAFT, None, None
    locked.approved_without_coach = False
    locked.save()
    LevelMove.objects.filter(plan=locked).delete()
    outbox.cancel(club_id=locked.club_id, reason="approval withdrawn", now=now, dedup_key=mail_key(locked))
    record(
        "plan.withdraw",
        club_id=locked.club_id,
        by=name_of(by),
        now=now,
        rider=locked.rider,
        subject=str(locked.pk),
    )
    return locked


def withdraw_many(*, plans: Iterable[WeekPlan], by: Coach, now: datetime) -> tuple[WeekPlan, ...]:
    """Puts each approved plan back to waiting that has not gone out meanwhile, and returns those."""
    withdrawn = []
    for plan in plans:
        try:
            withdrawn.append(withdraw_approval(plan=plan, by=by, now=now))
        except (AlreadySent, NotWaiting):
            continue
    return tuple(withdrawn)


def week_of_plan(plan: WeekPlan) -> engine.Week:
    return engine.Week(plan.iso_year, plan.iso_week)


def mail_key(plan: WeekPlan) -> str:
    return f"{WEEK_MAIL}:{plan.rider_id}:{week_name(week_of_plan(plan))}:{plan.revision}"


def enqueue(plan: WeekPlan, *, now: datetime, at: datetime) -> None:
    """The mail of this revision. An approval that was withdrawn and given again revives its own row."""
    rider = plan.rider
    if not rider.plan_mail:
        mark_sent(plan=plan, now=now)
        return
    outbox.enqueue(
        club_id=plan.club_id,
        kind=WEEK_MAIL,
        dedup_key=mail_key(plan),
        rider=rider,
        recipient=rider.email,
        payload={"plan": plan.pk},
        due_at=at,
        now=now,
        revive=True,
        give_up_at=max(
            at + LEAST_TRIES, sends_at(rider.club, shift_week(week_of_plan(plan), 1)) - BEFORE_NEXT
        ),
    )


def _write_levels(plan: WeekPlan) -> None:
    """The levels that this plan moves a rider to, from its first day on (H1)."""
    answer = plan.decision.answer
    since = week_days(week_of_plan(plan))[0]
    LevelMove.objects.bulk_create(
        LevelMove(
            club_id=plan.club_id,
            rider_id=plan.rider_id,
            pattern=standing["pattern"],
            exercise_id=standing["exercise"],
            since_on=since,
            why=LevelMove.Why.PLAN,
            plan=plan,
        )
        for standing in answer["standings"]
    )


@transaction.atomic
def mark_sent(*, plan: WeekPlan, now: datetime) -> None:
    """The plan has gone out. A plan replaced meanwhile keeps its state and only records when it left."""
    locked = WeekPlan.objects.select_for_update(of=("self",)).get(pk=plan.pk)
    locked.sent_at = locked.sent_at or now
    if locked.state == State.APPROVED:
        locked.state = State.SENT
    locked.save(update_fields=["state", "sent_at"])


def may_still_be_sent(plan: WeekPlan, *, now: datetime) -> bool:
    """Whether the plan is in force right now: what a sender asks last thing before it hands the mail over (T0).

    A rider who was paused, or who lost consent, screening or clearance meanwhile, is sent nothing but the mail that
    takes a plan back.
    """
    current = WeekPlan.objects.select_related("rider__club").filter(pk=plan.pk)
    row = current.filter(state__in=[State.APPROVED, State.SENT]).first()
    if row is None or row.is_downward:
        return row is not None
    rider, club = row.rider, row.rider.club
    today = local_date(club, now)
    missing = standings.read_missing([rider], club=club, on=today)[rider.pk]
    return rider.state == Rider.State.ACTIVE and missing is None
