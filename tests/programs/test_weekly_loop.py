"""The loop in verbs: resolve, approve, send, check in, ease, resolve again."""

import dataclasses
from datetime import timedelta

import pytest

from athletes import access, models, pain, profiles
from athletes.concerns import BodyReport, Gate
from athletes.models import Delivery, FollowUp
from athletes.vocabulary import Region, Side
from programs import checkins, clock, facts, levels, plans, relief, sheets
from programs.engine.facts import CheckResult, Done, Growth, Week
from programs.models import PlannedItem, SessionKey, WeekPlan
from tests import people

WEEK = Week(2026, 49)


@pytest.mark.django_db
def test_a_week_is_resolved_approved_and_queued_once() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        result = plans.resolve(club=someone.club, week=WEEK, by=someone.coach, now=people.NOW)
        assert (result.made, result.kept, result.failed) == (2, 0, ())
        plan = WeekPlan.objects.get(rider=someone.rider)
        assert plan.state == WeekPlan.State.DRAFT
        plans.approve(plan=plan, by=someone.coach, now=people.NOW)
        delivery = Delivery.objects.get()
        assert delivery.state == Delivery.State.DUE
        assert delivery.due_at == plans.sends_at(someone.club, WEEK)
        again = plans.resolve(club=someone.club, week=WEEK, by=someone.coach, now=people.NOW)
        assert (again.made, again.kept) == (0, 2)


def sent_week(someone: people.People) -> WeekPlan:
    """A week that has gone out to the club's rider."""
    plans.resolve(club=someone.club, week=WEEK, by=someone.coach, now=people.NOW)
    plan = WeekPlan.objects.get(rider=someone.rider)
    plans.approve(plan=plan, by=someone.coach, now=people.NOW)
    plans.mark_sent(plan=plan, now=people.NOW)
    plan.refresh_from_db()
    return plan


@pytest.mark.django_db
def test_a_sore_knee_eases_the_rest_of_the_week_at_once() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = sent_week(someone)
        key = SessionKey.objects.get(rider=someone.rider, ordinal=1)
        session = plan.sessions.get(key=key)
        done = {
            item.pk: Done(
                amounts=(facts.read_target(item.target).amount,) * facts.read_target(item.target).sets,
                reps_left=4,
            )
            for item in session.items.all()
        }
        now = people.NOW + timedelta(days=(session.on - people.NOW.date()).days, hours=7)
        answers = checkins.Answers(
            form_key="one",
            outcome="done",
            done_on=session.on,
            minutes=35,
            session_rpe=4,
            items=done,
            sites=(BodyReport(on=session.on, region=Region.KNEE, side=Side.LEFT, during=6),),
        )
        answered = checkins.submit(key=key, answers=answers, by=someone.rider, now=now)
        assert any(gate.gate is Gate.STOP for gate in answered.state.gates)
        assert FollowUp.objects.open().get(rider=someone.rider).topic == "pain"
        (eased,) = answered.eased
        assert (eased.revision, eased.state) == (2, WeekPlan.State.APPROVED)
        later = PlannedItem.objects.filter(session__plan=eased, session__on__gt=session.on)
        library_now = {one.slug: one for one in facts.current_library().exercises}
        for item in later:
            exercise = library_now[item.exercise_id]
            assert Region.KNEE not in exercise.primary | exercise.secondary
        again = checkins.submit(key=key, answers=dataclasses.replace(answers), by=someone.rider, now=now)
        assert again.eased == ()
        assert WeekPlan.objects.filter(rider=someone.rider).count() == 2


@pytest.mark.django_db
def test_i15_a_second_report_before_the_eased_week_has_left_only_goes_down_from_it() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = sent_week(someone)
        monday = people.NOW + timedelta(days=3)
        for score in (4, 6):
            reports = pain.read_reports(someone.rider)
            models.BodyReport.objects.create(
                club=someone.club,
                rider=someone.rider,
                on=monday.date() + timedelta(days=len(reports)),
                region=Region.KNEE.value,
                side=Side.LEFT.value,
                during=score,
                next_morning=score,
                source=f"report-{score}",
                reported_at=monday,
            )
            relief.ease_remaining(rider=someone.rider, by="test", now=monday + timedelta(days=len(reports)))
        first, second, third = (
            WeekPlan.objects.filter(rider=someone.rider).of_week(2026, 49).order_by("revision")
        )
        assert first == plan
        assert [one.state for one in (first, second, third)] == ["superseded", "superseded", "approved"]
        assert second.is_downward and third.is_downward
        waiting = Delivery.objects.filter(rider=someone.rider, state=Delivery.State.DUE)
        assert [one.payload["plan"] for one in waiting] == [third.pk]


@pytest.mark.django_db
def test_a_week_that_waits_is_worked_out_again_when_a_report_comes_in() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = sent_week(someone)
        session = plan.sessions.order_by("on").first()
        now = people.NOW + timedelta(days=(session.on - people.NOW.date()).days, hours=7)
        plans.resolve(
            club=someone.club, week=Week(2026, 50), by=someone.coach, now=now, riders=[someone.rider]
        )
        before = WeekPlan.objects.of_week(2026, 50).current().get(rider=someone.rider)
        done = {
            item.pk: Done(amounts=(facts.read_target(item.target).amount,) * 2, reps_left=4)
            for item in session.items.all()
        }
        checkins.submit(
            key=session.key,
            answers=checkins.Answers(
                form_key="two", outcome="done", done_on=session.on, minutes=30, session_rpe=3, items=done
            ),
            by=someone.rider,
            now=now,
        )
        after = WeekPlan.objects.of_week(2026, 50).current().get(rider=someone.rider)
        assert (after.revision, after.state) == (before.revision + 1, WeekPlan.State.DRAFT)
        assert WeekPlan.objects.get(pk=before.pk).state == WeekPlan.State.SUPERSEDED


@pytest.mark.django_db
def test_a_rider_who_withdraws_consent_loses_what_was_promised() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plan = sent_week(someone)
        profiles.withdraw_consent(rider=someone.rider, by=someone.coach, now=people.NOW)
        assert not plans.may_still_be_sent(plan, now=people.NOW)
        clock.keep_timetable(club=someone.club, now=people.NOW)
        newest = WeekPlan.objects.of_week(2026, 49).current().get(rider=someone.rider)
        assert (newest.revision, newest.is_downward, newest.sessions.count()) == (2, True, 0)
        assert plans.may_still_be_sent(newest, now=people.NOW)
        clock.keep_timetable(club=someone.club, now=people.NOW)
        assert WeekPlan.objects.filter(rider=someone.rider, iso_week=49).count() == 2


@pytest.mark.django_db
def test_a_movement_check_starts_each_pattern_at_the_level_it_earned() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        results = {"supported-half-squat": "pass", "chair-touch-squat": "pass", "squat": "not-yet"}
        moves = levels.place(
            rider=someone.rider,
            results={slug: CheckResult(result) for slug, result in results.items()},
            checked_by="Thessa Brockhollin",
            by=someone.coach,
            now=people.NOW,
        )
        assert [(move.pattern, move.exercise_id) for move in moves] == [("squat", "chair-touch-squat")]
        plans.resolve(club=someone.club, week=WEEK, by=someone.coach, now=people.NOW, riders=[someone.rider])
        asked = PlannedItem.objects.filter(pattern="squat").values_list("exercise_id", flat=True)
        assert set(asked) == {"chair-touch-squat"}


@pytest.mark.django_db
def test_s5_a_pattern_whose_bottom_level_hurt_waits_until_a_coach_sets_a_level() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        plans.resolve(club=someone.club, week=WEEK, by=someone.coach, now=people.NOW, riders=[someone.rider])
        assert PlannedItem.objects.filter(pattern="squat").exists()
        levels.place(
            rider=someone.rider,
            results={"supported-half-squat": CheckResult.HURTS},
            checked_by="Thessa Brockhollin",
            by=someone.coach,
            now=people.NOW,
        )

        def asked() -> set[str]:
            plans.resolve(
                club=someone.club,
                week=WEEK,
                by=someone.coach,
                now=people.NOW,
                riders=[someone.rider],
                again=True,
            )
            newest = WeekPlan.objects.filter(rider=someone.rider).order_by("-revision").first()
            items = PlannedItem.objects.filter(session__plan=newest, pattern="squat")
            return set(items.values_list("exercise_id", flat=True))

        assert asked() == set()
        levels.set_level(rider=someone.rider, exercise="wall-sit", by=someone.coach, now=people.NOW)
        assert asked() == {"wall-sit"}


@pytest.mark.django_db
def test_what_holds_each_week_for_the_young_is_not_mailed_as_a_change() -> None:
    someone = people.wexenfold()
    with access.within(someone.club):
        someone.young_rider.growth = Growth.YES.value
        someone.young_rider.save(update_fields=["growth"])
        plans.resolve(
            club=someone.club, week=WEEK, by=someone.coach, now=people.NOW, riders=[someone.young_rider]
        )
        plan = WeekPlan.objects.of_week(2026, 49).current().get(rider=someone.young_rider)
        assert "growth-spurt" in {reason["key"] for reason in plan.reasons}
        sheet = sheets.sheet_of(
            sheets.plan_with_rows(plan.pk), addresses=sheets.Addresses({}), library=facts.current_library()
        )
    assert sheet.why
    assert not any("health reason" in said for said in sheet.why)
