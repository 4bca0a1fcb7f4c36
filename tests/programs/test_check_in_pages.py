"""The check-in as a rider meets it: from the link in the mail to what it means for next time."""

import dataclasses
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from athletes.models import BodyReport, Link, SymptomReport
from athletes.vocabulary import Implement
from programs import facts, levels, plans
from programs.engine import codec
from programs.engine.facts import Done, Holding, Load
from programs.engine.quantities import pounds_to_kg, shift_week
from programs.models import CheckIn, PlannedItem, WeekPlan
from tests.forms import untouched
from tests.programs.rider_visits import AS_PLANNED, EVENING, WEEK, Visit, begin, change, hurt, rows

Purpose = Link.Purpose
pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(monkeypatch: pytest.MonkeyPatch) -> Visit:
    return begin(monkeypatch)


def done_of(visit: Visit) -> dict[int, Done | None]:
    """What the newest version says of each item, by its row's number."""
    newest = visit.versions()[-1]
    with visit.within():
        return {
            row.item_id: codec.from_document(Done, row.done) if row.done is not None else None
            for row in newest.items.all()
        }


# --- all went to plan -------------------------------------------------------------------------------------------------


def test_a_session_that_went_to_plan_is_kept_as_planned_and_answered_with_next_time(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    answered = visit.client.post(address, visit.fill(address, **AS_PLANNED), follow=True)
    assert answered.redirect_chain == [(f"{address}answer/", 302)]
    page = answered.content.decode()
    assert "Next time, as it looks now" in page
    assert 'class="target-line"' in page
    (version,) = visit.versions()
    planned = visit.planned()
    assert (version.outcome, version.done_on, version.minutes) == ("done", planned.on, planned.minutes)
    assert (version.session_rpe, version.why_not, version.note) == (5, "", "")
    done = done_of(visit)
    for item in planned.items.all():
        target = facts.read_target(item.target)
        was = done[item.pk]
        assert was is not None
        amounts = was.amounts or was.left_amounts
        assert amounts == (target.amount,) * target.sets
        assert was.load == target.load
        assert was.reps_left == (None if target.measure == "hold" else 3)
    with visit.within():
        assert not BodyReport.objects.exists()
        assert not SymptomReport.objects.exists()


def test_the_day_is_the_planned_one_or_today_while_that_is_still_to_come(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    planned = visit.planned()
    assert visit.fill(address)["session-done_on"] == [planned.on.isoformat()]
    visit.at(EVENING - timedelta(days=1))
    assert visit.fill(address)["session-done_on"] == [(planned.on - timedelta(days=1)).isoformat()]


def test_a_session_done_on_another_day_is_kept_with_that_day(visit: Visit) -> None:
    visit.at(EVENING + timedelta(days=1))
    address = visit.open(Purpose.SESSION)
    other = (visit.planned().on + timedelta(days=1)).isoformat()
    changes = {**AS_PLANNED, "session__done_on": other}
    page = visit.client.post(address, visit.fill(address, **changes), follow=True).content.decode()
    assert visit.versions()[0].done_on == visit.planned().on + timedelta(days=1)
    assert "Your plan has been eased" not in page
    with visit.within():
        moved = WeekPlan.objects.filter(rider=visit.rider, made_at=visit.now).exists()
    assert ("The rest of your week has changed" in page) is moved


def test_no_day_to_come_and_no_day_of_another_week_can_be_chosen(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    page = visit.client.get(address).content.decode()
    assert 'value="2026-11-30"' in page
    assert 'value="2026-12-01"' in page
    assert 'value="2026-12-02"' not in page
    assert 'value="2026-11-29"' not in page


def test_good_reps_left_of_one_exercise_stand_before_those_of_all(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    counted = [one for one in visit.planned().items.all() if facts.read_target(one.target).measure == "reps"]
    changes = {**AS_PLANNED, f"item__{counted[0].pk}__reps_left": "4", "session__reps_left": "1"}
    visit.client.post(address, visit.fill(address, **changes))
    done = done_of(visit)
    assert [done[one.pk].reps_left for one in counted] == [4, *[1] * (len(counted) - 1)]  # type: ignore[union-attr]


def test_what_is_replaced_is_told_by_its_name(visit: Visit) -> None:
    with visit.within():
        levels.set_level(rider=visit.rider, exercise="standing-bar-row", by=visit.someone.coach, now=EVENING)
    address = visit.open(Purpose.SESSION)
    page = visit.client.post(address, visit.fill(address, **AS_PLANNED), follow=True).content.decode()
    assert "stands in for Row to a high bar" in page
    assert "standing bar row" not in page.lower()


def test_good_reps_left_that_were_not_answered_stay_unknown(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    visit.client.post(address, visit.fill(address, **{**AS_PLANNED, "session__reps_left": None}))
    assert {one.reps_left for one in done_of(visit).values() if one} == {None}


@pytest.mark.parametrize(("said", "longer"), [("yes", True), ("no", False), (None, None)])
def test_a_hold_is_asked_whether_it_could_have_been_longer(
    visit: Visit, said: str | None, longer: bool | None
) -> None:
    with visit.within():
        item = visit.planned().items.get(pattern="squat")
        item.exercise_id, item.target = "wall-sit", item.target | {"measure": "hold", "amount": 20}
        item.save()
    address = visit.open(Purpose.SESSION)
    name = f"item-{item.pk}-held_longer"
    assert f"item-{item.pk}-reps_left" not in visit.client.get(address).content.decode()
    sent = visit.client.post(address, visit.fill(address, **AS_PLANNED) | ({name: said} if said else {}))
    assert sent.status_code == 302
    done = done_of(visit)[item.pk]
    assert done is not None and (done.amounts, done.reps_left, done.held_longer) == ((20, 20), None, longer)
    again = untouched(visit.client.get(address).content.decode())  # a correction shows what was said
    assert again.get(name) == ([said] if said else None)


# --- what was different -----------------------------------------------------------------------------------------------


def test_each_set_can_be_different_and_a_left_out_exercise_is_unknown_not_failed(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    first, second = list(visit.planned().items.all())[:2]
    target = facts.read_target(first.target)
    form = visit.fill(address, **AS_PLANNED)
    prefix = f"item-{first.pk}"
    side = "left_" if f"{prefix}-left" in form else "amount_"
    form |= {f"{prefix}-{side}set_1": str(target.amount + 2), f"item-{second.pk}-sets": "0"}
    form["session-outcome"] = "part"
    assert visit.client.post(address, form).status_code == 302
    done = done_of(visit)
    was = done[first.pk]
    assert was is not None
    amounts = was.left_amounts if side == "left_" else was.amounts
    assert amounts == (target.amount + 2, *(target.amount,) * (target.sets - 1))
    assert done[second.pk] is None


def test_sides_are_told_apart_where_an_exercise_is_done_a_side_at_a_time(visit: Visit) -> None:
    library = {one.slug: one for one in facts.current_library().exercises}
    with visit.within():
        item = next(
            one
            for one in PlannedItem.objects.filter(session__plan=visit.plan).select_related("session")
            if library[one.exercise_id].sided
        )
    visit.at(EVENING + timedelta(days=5))
    address = visit.open(Purpose.SESSION, subject=str(item.session.key_id))
    target = facts.read_target(item.target)
    form = visit.fill(address, **AS_PLANNED)
    form[f"item-{item.pk}-left"] = str(target.amount - 1)
    assert visit.client.post(address, form).status_code == 302
    was = done_of(visit)[item.pk]
    assert was is not None
    assert was.amounts is None
    assert was.left_amounts == (target.amount - 1,) * target.sets
    assert was.right_amounts == (target.amount,) * target.sets


def loaded(visit: Visit, kg: str) -> PlannedItem:
    """The session's first item, given a kettlebell of that mass in the plan that went out."""
    with visit.within():
        item = visit.planned().items.all()[0]
        target = facts.read_target(item.target)
        bell = facts.read_target(
            {
                **item.target,
                "load": codec.to_document(Load(holding=_kettlebell(), kg=Decimal(kg))),
            }
        )
        item.target = codec.to_document(dataclasses.replace(target, load=bell.load))
        item.save(update_fields=["target"])
        return item


def _kettlebell() -> Any:
    return Holding(Implement.KETTLEBELL)


def test_a_lighter_load_is_kept_and_makes_it_part_of_the_session(visit: Visit) -> None:
    item = loaded(visit, "12")
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, **{**AS_PLANNED, "session__outcome": "part"})
    assert form[f"item-{item.pk}-load"] == ["12"]
    form[f"item-{item.pk}-load"] = "8"
    assert visit.client.post(address, form).status_code == 302
    was = done_of(visit)[item.pk]
    assert was is not None
    assert was.load is not None
    assert was.load.kg == Decimal(8)


def test_a_load_shown_in_pounds_and_left_alone_is_the_exact_one_of_the_plan(visit: Visit) -> None:
    item = loaded(visit, "12")
    with visit.within():
        visit.rider.unit = "lb"
        visit.rider.save(update_fields=["unit"])
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, **AS_PLANNED)
    assert form[f"item-{item.pk}-load"] == ["26.5"]
    visit.client.post(address, form)
    was = done_of(visit)[item.pk]
    assert was is not None
    assert was.load is not None
    assert was.load.kg == Decimal(12)
    form |= {f"item-{item.pk}-load": "18", "session-form_key": "5b1d2ad5-98f4-4f5e-8f3c-0a3e7c2f1a11"}
    visit.client.post(address, form)
    was = done_of(visit)[item.pk]
    assert was is not None
    assert was.load is not None
    assert was.load.kg == pounds_to_kg(Decimal(18))


def test_sets_left_out_for_lack_of_time_are_marked_so(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    item = max(visit.planned().items.all(), key=lambda one: facts.read_target(one.target).sets)
    sets = facts.read_target(item.target).sets
    changes = {**AS_PLANNED, "session__outcome": "part", "session__why_not": "no-time"}
    form = visit.fill(address, **changes)
    form[f"item-{item.pk}-sets"] = str(sets - 1) if sets > 1 else "0"
    assert visit.client.post(address, form).status_code == 302
    was = done_of(visit)[item.pk]
    assert visit.versions()[-1].why_not == "no-time"
    assert was is None if sets == 1 else was is not None and was.out_of_time


def test_part_of_it_with_everything_done_is_asked_again(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    answered = visit.client.post(address, visit.fill(address, **{**AS_PLANNED, "session__outcome": "part"}))
    assert answered.status_code == 422
    assert "Change the one that you cut short" in answered.content.decode()
    assert visit.versions() == []


def test_none_of_it_needs_a_tap_and_no_effort(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    changes = {
        "session__outcome": "not-done",
        "session__why_not": "away",
        "body__hurts": "no",
        "body__warning": "no",
    }
    assert visit.client.post(address, visit.fill(address, **changes)).status_code == 302
    (version,) = visit.versions()
    assert (version.outcome, version.why_not, version.done_on) == ("not-done", "away", None)
    assert (version.minutes, version.session_rpe) == (None, None)
    assert done_of(visit) == {}


# --- sent twice, corrected, too late ----------------------------------------------------------------------------------


def test_sending_twice_changes_nothing_and_leads_to_the_same_answer(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    form = visit.fill(
        address, **{**AS_PLANNED, "body__hurts": "yes"}, place__1__region="knee", place__1__side="left"
    )
    form["place-1-during"] = "6"
    first = visit.client.post(address, form)
    with visit.within():
        before = rows()
    second = visit.client.post(address, form)
    assert (first.status_code, first["Location"]) == (second.status_code, second["Location"])
    with visit.within():
        assert rows() == before
    assert len(visit.versions()) == 1


def test_a_correction_begins_with_what_was_said_and_becomes_the_newest_version(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    visit.client.post(address, visit.fill(address, **AS_PLANNED, session__note="Cold hall."))
    page = visit.client.get(address).content.decode()
    assert "You have checked in already" in page
    form = untouched(page)
    assert form["session-outcome"] == ["done"]
    assert form["session-session_rpe"] == ["5"]
    assert form["session-note"] == ["Cold hall."]
    counted = [one for one in visit.planned().items.all() if facts.read_target(one.target).measure == "reps"]
    assert {form[f"item-{one.pk}-reps_left"][0] for one in counted} == {"3"}
    assert visit.client.post(address, change(form, session__session_rpe="8")).status_code == 302
    versions = visit.versions()
    assert [one.session_rpe for one in versions] == [5, 8]
    with visit.within():
        assert CheckIn.objects.count() == 1


def test_a_correction_does_not_show_the_pain_again_and_does_not_take_it_back(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, **{**AS_PLANNED, "body__hurts": "yes"})
    form |= {"place-1-region": "shoulder", "place-1-side": "left", "place-1-during": "5"}
    visit.client.post(address, form)
    again = visit.fill(address)
    assert again["place-1-region"] == [""]
    assert "body-hurts" not in again
    visit.client.post(address, change(again, body__hurts="no", body__warning="no"))
    assert len(visit.versions()) == 2
    with visit.within():
        assert [(one.region, one.during) for one in BodyReport.objects.all()] == [("shoulder", 5)]


def next_week_goes_out(visit: Visit) -> None:
    with visit.within():
        coming = shift_week(WEEK, 1)
        plans.resolve(
            club=visit.someone.club, week=coming, by=visit.someone.coach, now=visit.now, riders=[visit.rider]
        )
        plan = WeekPlan.objects.of_week(coming.year, coming.number).get(rider=visit.rider)
        plans.mark_sent(plan=plan, now=visit.now)


def test_a_correction_after_the_next_week_went_out_is_refused_and_its_pain_is_not_lost(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    visit.client.post(address, visit.fill(address, **AS_PLANNED))
    form = visit.fill(address, body__hurts="yes")
    form |= {"place-1-region": "knee", "place-1-side": "right", "place-1-during": "4"}
    next_week_goes_out(visit)
    refused = visit.client.post(address, form)
    page = refused.content.decode()
    assert refused.status_code == 409
    assert "no longer be changed" in page
    assert len(visit.versions()) == 1
    report = address.replace("session/", "report/")
    assert f'action="{report}"' in page
    answered = visit.client.post(report, untouched(page) | {"body-warning": "no"})
    assert answered.status_code == 302
    with visit.within():
        assert BodyReport.objects.get().during == 4
    assert "This check-in is closed" in visit.client.get(address).content.decode()


def test_a_first_report_is_never_too_late(visit: Visit) -> None:
    visit.at(EVENING + timedelta(days=5))
    next_week_goes_out(visit)
    address = visit.open(Purpose.SESSION)
    assert visit.client.post(address, visit.fill(address, **AS_PLANNED)).status_code == 302
    assert len(visit.versions()) == 1


def test_a_plan_that_changed_meanwhile_asks_for_its_exercises_again_and_keeps_the_rest(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    form = visit.fill(address, **AS_PLANNED, session__note="Slept badly.")
    form["session-plan_row"] = str(visit.planned(2).pk)
    answered = visit.client.post(address, form)
    page = answered.content.decode()
    assert answered.status_code == 422
    assert "Your plan changed while you filled this in" in page
    again = untouched(page)
    assert again["session-note"] == ["Slept badly."]
    assert again["session-plan_row"] == [str(visit.planned().pk)]
    assert visit.client.post(address, again).status_code == 302


# --- what cannot be ---------------------------------------------------------------------------------------------------


#: A control's name (ITEM: the exercise's prefix, AMOUNT: its field of reps) and what nobody can mean by it.
IMPOSSIBLE = [
    ("session-form_key", "drop table"),
    ("session-form_key", ""),
    ("session-outcome", "all"),
    ("session-outcome", ""),
    ("session-session_rpe", "11"),
    ("session-session_rpe", "-1"),
    ("session-session_rpe", ""),
    ("session-reps_left", "5"),
    ("session-minutes", "0"),
    ("session-minutes", "1e9"),
    ("session-minutes", "301"),
    ("session-minutes", "٣٠ apples"),
    ("session-done_on", "2026-12-31"),
    ("session-done_on", "2026-02-30"),
    ("session-why_not", "<script>"),
    ("session-note", "x" * 1001),
    ("session-note", "null\x00byte"),
    ("ITEM-sets", "11"),
    ("ITEM-sets", "-1"),
    ("ITEM-sets", ""),
    ("ITEM-AMOUNT", "1000000"),
    ("ITEM-AMOUNT", "8.5"),
    ("ITEM-reps_left", "many"),
    ("ITEM-load", "NaN"),
    ("ITEM-load", "1e400"),
    ("ITEM-load", "-4"),
    ("place-1-region", "brain"),
    ("place-1-side", "north"),
    ("place-1-during", "11"),
    ("place-1-kind", "agony"),
    ("place-1-signs", "bang"),
    ("place-1-traits", "tired"),
    ("place-1-hours", "100000"),
    ("place-1-next_morning", "12"),
    ("body-hurts", "perhaps"),
    ("body-hurts", ""),
    ("body-warning", ""),
    ("body-symptoms", "boredom"),
    ("body-events", "holiday"),
]


def test_what_cannot_be_is_refused_with_a_reason_and_everything_typed_is_kept(visit: Visit) -> None:
    item = loaded(visit, "12")
    form = hurt(visit, 4, **{"session-minutes": "37", "place-1-kind": "pain"})
    form["session-outcome"] = "part"
    form[f"item-{item.pk}-sets"] = "1"
    amount = "left" if f"item-{item.pk}-left" in form else "amount"
    address = visit.open(Purpose.SESSION)
    for name, value in IMPOSSIBLE:
        field = name.replace("ITEM", f"item-{item.pk}").replace("AMOUNT", amount)
        answered = visit.client.post(address, form | {field: value})
        page = answered.content.decode()
        assert answered.status_code == 422, (name, value)
        assert "Something needs changing" in page, (name, value)
        assert "<title>Error: " in page
        kept = untouched(page)
        assert field == "session-minutes" or kept["session-minutes"] == ["37"], (name, value)
        assert field == "place-1-during" or kept["place-1-during"] == ["4"], (name, value)
        assert "<script>" not in page.replace('<script src="', "")
    assert visit.versions() == []
    with visit.within():
        assert not BodyReport.objects.exists()
    assert visit.client.post(address, form).status_code == 302


def test_every_error_leads_to_its_field(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    page = visit.client.post(address, visit.fill(address, session__minutes="", session__note="kept")).content
    html = page.decode()
    for target in (
        "id_session-outcome_0",
        "id_session-session_rpe_0",
        "id_session-minutes",
        "id_body-hurts_0",
    ):
        assert f'href="#{target}"' in html
        assert f'id="{target}"' in html
    assert untouched(html)["session-note"] == ["kept"]


def test_what_a_rider_types_is_shown_as_typed_and_never_as_markup(visit: Visit) -> None:
    address = visit.open(Purpose.SESSION)
    note = "<img src=x onerror=alert(1)> 12 < 16"
    visit.client.post(address, visit.fill(address, **AS_PLANNED, session__note=note))
    page = visit.client.get(address).content.decode()
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page
    assert visit.versions()[0].note == note
