"""A believable past for the demo: eight weeks that synthetic riders live through the real verbs, never inserted.

Each Friday the week is worked out, each Sunday it is approved and goes out; each day riders train and check in; each
night the clock looks for the silent; a coach sees to follow-ups, and to weeks that a report has called back. Only the
wire is left out: the mail of past weeks is settled as sent without being carried.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from athletes import access, followups, outbox
from athletes.concerns import BodyReport, Topic
from athletes.models import Club, Coach, FollowUp
from coaching.demo.scenario import DemoClub
from programs import checkins, clock, letters, plans
from programs import facts as translator
from programs.engine.families import exercise_of
from programs.engine.quantities import week_of
from programs.engine.simulate import Body
from programs.models import PlannedSession, WeekPlan

SEED = 7


def live(
    *, demo: DemoClub, begins: date, until: datetime, progress: Callable[[str], None] = lambda _line: None
) -> None:
    """Lives every day from the Friday before `begins` up to `until`, leaving the coming week to be looked at."""
    generator = Random(SEED)  # noqa: S311 - a story, not a secret
    bodies = {number: Body(persona) for number, persona in demo.personas.items()}
    day = begins - timedelta(days=3)
    while day <= until.date():
        with access.within(demo.club):
            _live_day(demo, day, begins, bodies, generator, until)
        if day.weekday() == 6:
            progress(f"week of {day + timedelta(days=1)}")
        day += timedelta(days=1)
    with access.within(demo.club):
        _leave_a_week_to_look_at(demo.club, demo.owner, until)


def _leave_a_week_to_look_at(club: Club, owner: Coach, now: datetime) -> None:
    """The coming week waits on the desk, and the hour of sending is now: what is approved goes out at once."""
    local = now.astimezone(ZoneInfo(club.zone))
    club = Club.objects.get(pk=club.pk)
    club.resolves_on = club.sends_on = local.weekday()
    club.resolves_at_hour, club.sends_at_hour = max(0, local.hour - 1), local.hour
    club.save(update_fields=["resolves_on", "resolves_at_hour", "sends_on", "sends_at_hour"])
    plans.resolve(club=club, week=plans.coming_week(club, now), by=owner, now=now)


def _at(day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour), tzinfo=UTC)


def _live_day(
    demo: DemoClub, day: date, begins: date, bodies: dict[int, Body], generator: Random, until: datetime
) -> None:
    club = Club.objects.get(pk=demo.club.pk)
    for moment, act in (
        (_at(day, 2), lambda now: checkins.watch(club=club, now=now)),
        (_at(day, 9), lambda now: _see_to_follow_ups(demo.owner, now)),
        (_at(day, 14), lambda now: _plan_week(club, now)),
        (_at(day, 15), lambda now: _approve(club, demo.owner, now, until)),
        (_at(day, 18), lambda now: _send(now)),
        (_at(day, 21), lambda now: _train(day, begins, bodies, generator, now)),
    ):
        if moment <= until:
            act(moment)


def _plan_week(club: Club, now: datetime) -> None:
    """On Fridays: works the coming week out."""
    if now.weekday() == 4:
        clock.keep_timetable(club=club, now=now)


def _approve(club: Club, owner: Coach, now: datetime, until: datetime) -> None:
    """On Sundays the coming week, with what Saturday told; on other days what a report left open of the running one.
    The week that the demo leaves to be looked at waits."""
    week = plans.coming_week(club, now) if now.weekday() == 6 else week_of(now.date())
    if week > week_of(until.date()):
        return
    waiting = WeekPlan.objects.of_week(week.year, week.number).filter(state=WeekPlan.State.DRAFT)
    left = plans.approve_many(plans=list(waiting.select_related("rider__club")), by=owner, now=now).left
    for plan, error in left:
        if isinstance(error, plans.ReasonNeeded):
            plans.approve(plan=plan, by=owner, now=now, override_reason="Talked through with the rider.")


def _send(now: datetime) -> None:
    """Settles what is due as sent, as a sender would after the server took it."""
    while claims := outbox.claim(now=now):
        for claim in claims:
            delivery = outbox.settle_sent(claim=claim, now=now)
            if delivery is not None:
                letters.note_sent(delivery, now=now)


def _train(day: date, begins: date, bodies: dict[int, Body], generator: Random, now: datetime) -> None:
    sessions = (
        PlannedSession.objects.filter(on=day, plan__state=WeekPlan.State.SENT)
        .select_related("plan__rider__club", "key")
        .prefetch_related("items")
        .order_by("plan__rider_id")
    )
    season_week = (day - begins).days // 7
    for session in sessions:
        body = bodies.get(session.plan.rider_id)
        if body is None:
            continue
        comes, tells = body.comes(season_week, generator), body.tells(season_week, generator)
        if comes and tells:
            _check_in(session, body, season_week, generator, now)
        elif tells and generator.random() < 0.5:
            _not_done(session, now)


def _check_in(
    session: PlannedSession, body: Body, season_week: int, generator: Random, now: datetime
) -> None:
    library = translator.current_library()
    items = list(session.items.all())
    targets = tuple(
        (item.exercise_id, translator.read_target(item.target), exercise_of(library, item.exercise_id).sided)
        for item in items
    )
    story = body.train(targets, session.minutes, generator, session.on)
    rider = session.plan.rider
    hurts = body.pain(season_week)
    scores = {(region, side): score for region, side, score in hurts}
    answers = checkins.Answers(
        form_key=f"demo-{session.key_id}",
        outcome="part" if story.cut_short else "done",
        done_on=session.on,
        minutes=story.minutes,
        session_rpe=story.session_rpe,
        items={item.pk: done for item, done in zip(items, story.done, strict=True)},
        sites=tuple(
            BodyReport(on=session.on, region=region, side=side, during=score) for region, side, score in hurts
        ),
        morning={
            (region, side): max(0, scores.get((region, side), 1) - 1)
            for region, side in checkins.sites_to_ask_about(rider, on=session.on)
        },
    )
    checkins.submit(key=session.key, answers=answers, by=rider, now=now, with_preview=False)


def _not_done(session: PlannedSession, now: datetime) -> None:
    answers = checkins.Answers(form_key=f"demo-{session.key_id}", outcome="not-done", why_not="no-time")
    checkins.submit(key=session.key, answers=answers, by=session.plan.rider, now=now, with_preview=False)


def _see_to_follow_ups(owner: Coach, now: datetime) -> None:
    """The coach looks at what has been open for three days, rings the rider, and closes it: all but the newest."""
    old = FollowUp.objects.open().filter(opened_at__lt=now - timedelta(days=3)).select_related("rider")
    for row in old:
        if row.topic in (Topic.SCREENING.value, Topic.SILENT.value):
            continue
        followups.note(
            follow_up=row, text="Rang. Eases when warm, no swelling.", contact=True, by=owner, now=now
        )
        outcome = "carry-on" if row.is_health else ""
        followups.close(follow_up=row, outcome=outcome, text="Seen to.", by=owner, now=now)
