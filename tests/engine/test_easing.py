"""The rest of a week after a report: downwards only, stable, and by the days on which things were done."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from athletes.concerns import Event, Symptom, SymptomReport
from athletes.vocabulary import Pattern, Reason, Region
from programs.engine.easing import ease, lower_of
from programs.engine.facts import (
    Change,
    Item,
    Kit,
    Loading,
    SessionState,
    Standing,
    Target,
    Template,
    WeekDecision,
    WeekFacts,
)
from programs.engine.kit import total_kg
from tests.engine.histories import asked, library_of
from tests.engine.samples import HALL, LIBRARY, PLANK, PRESS, SIT, SQUAT, bell, kettlebells, rider, slot
from tests.engine.weeks import (
    ARMS,
    ATTENDED,
    LEGS,
    MONDAY,
    PAST,
    SATURDAY,
    THURSDAY,
    TUESDAY,
    block,
    did,
    facts,
    items_of,
    keys,
    left_out,
    opening,
    pain,
    record,
    resolved,
    weekly,
)

TWICE = (block(LEGS, replace(LEGS, ordinal=2)),)
WEDNESDAY = MONDAY + timedelta(days=2)
#: Two sessions with the legs, on Tuesday and Thursday.
PLAN = {"blocks": TWICE, "openings": (opening(TUESDAY), opening(THURSDAY), opening(SATURDAY))}
SENT = resolved(**PLAN)
FIRST_DONE = record(-1, done_on=TUESDAY)


def known(**changes: Any) -> WeekFacts:
    """What is known on Wednesday, when Tuesday's session has been done."""
    return facts(**{**PLAN, "today": WEDNESDAY, "sessions": (*ATTENDED, FIRST_DONE), **changes})


def eased(sent: WeekDecision = SENT, **changes: Any) -> WeekDecision:
    return ease(sent, known(**changes), LIBRARY)


def later(decision: WeekDecision) -> dict[str, Item]:
    """The items of the sessions after Tuesday, by slot."""
    return items_of(replace(decision, sessions=tuple(one for one in decision.sessions if one.on > TUESDAY)))


def test_t0_with_nothing_to_ease_the_week_stays_as_it_was_sent() -> None:
    assert eased() == SENT


def test_t0_pain_eases_what_is_left_and_leaves_what_is_done() -> None:
    after = eased(reports=(pain(4, days_ago=-1),))
    assert after.sessions[0] == SENT.sessions[0]
    squat = later(after)["squat"]
    assert (squat.change, total_kg(squat.target.load)) == (Change.LESS_LOAD, 8)
    assert later(after)["plank"] == later(SENT)["plank"]


@pytest.mark.parametrize(
    "changes",
    [
        {"symptoms": (SymptomReport(WEDNESDAY, symptom=Symptom.CHEST_PAIN),)},
        {"symptoms": (SymptomReport(WEDNESDAY, event=Event.CRASH),)},
        {"reports": (pain(8, days_ago=-1),)},
        {"rider": rider(35, paused=True)},
        {"rider": rider(35, may_train=False, why_not=Reason("S1", "screening-ended"))},
    ],
)
def test_t0_i7_what_stops_everything_empties_the_rest_of_the_week(changes: dict[str, Any]) -> None:
    after = eased(**changes)
    assert after.sessions == SENT.sessions[:1]
    assert keys(after.reasons)[-1] == "T0 rest-of-week-stops"


def test_t0_a_stop_leaves_the_exercise_out_and_does_not_fill_its_minutes() -> None:
    after = eased(reports=(pain(6, days_ago=-1),))
    assert list(later(after)) == ["plank"]
    assert "T1 pain-stop" in keys(left_out(after)["squat"].reasons)
    assert after.sessions[1].minutes < SENT.sessions[1].minutes
    assert later(after)["plank"].target == later(SENT)["plank"].target


def test_t0_a_session_with_nothing_left_goes_and_the_reason_stays() -> None:
    legs = (block(*(Template(number, "Legs", (slot(id="squat"),)) for number in (1, 2))),)
    sent = resolved(**{**PLAN, "blocks": legs})
    after = eased(sent, blocks=legs, reports=(pain(6, days_ago=-1),))
    assert after.sessions == sent.sessions[:1]
    assert keys(after.reasons)[-1] == "T0 session-emptied"


def test_t0_what_stands_in_is_easier_and_takes_no_more_sets_load_or_time() -> None:
    library = library_of(SIT, replace(SQUAT, loading=Loading.BODY, holdings=(), edges=()), PLANK, PRESS)
    past = (*weekly(asked(10), slug="squat"),)
    plan = {**PLAN, "exposures": past, "standings": (Standing(Pattern.SQUAT, "squat"),)}
    from_sent = facts(**plan)
    sent = resolved(library, **plan)
    after = ease(
        sent,
        replace(known(), exposures=past, standings=from_sent.standings, reports=(pain(4, days_ago=-1),)),
        library,
    )
    squat, was = later(after)["squat"], later(sent)["squat"]
    assert (squat.exercise, squat.change) == ("sit-to-stand", Change.EASIER)
    assert squat.target.sets <= was.target.sets
    assert total_kg(squat.target.load) == 0
    assert after.sessions[1].minutes <= sent.sessions[1].minutes


def test_t0_i15_one_report_more_of_the_same_does_not_ease_again() -> None:
    reports = [pain(4, days_ago=-1)]
    first = eased(reports=tuple(reports))
    again = first
    for _time in range(4):
        reports.append(pain(4, days_ago=-2))
        again = ease(again, known(reports=tuple(reports)), LIBRARY)
    assert again.sessions == first.sessions


def test_t0_i15_a_milder_report_brings_nothing_back() -> None:
    first = eased(reports=(pain(6, days_ago=-1),))
    milder = ease(first, known(reports=(pain(6, days_ago=-1), pain(1, days_ago=-2))), LIBRARY)
    assert list(later(milder)) == ["plank"]


def test_t0_s2_what_was_sent_is_not_one_new_exercise_too_many() -> None:
    # In the first week everything is new; after Tuesday's session the rest of the week still is.
    begins = {"exposures": (), "sessions": (), "standings": (), "rider": rider(35)}
    sent = resolved(**{**PLAN, **begins, "blocks": (block(LEGS, ARMS),)})
    assert later(sent)["press"].change is Change.NEW
    done = tuple(did(item.target, -1, item.exercise) for item in sent.sessions[0].items)
    after = eased(
        sent,
        **{**begins, "blocks": (block(LEGS, ARMS),), "exposures": done, "sessions": (FIRST_DONE,)},
        reports=(pain(3, days_ago=-1, region=Region.SHOULDER),),
    )
    assert later(after)["press"].exercise == later(sent)["press"].exercise


def test_p10_an_illness_halves_what_is_left_and_only_once() -> None:
    ill = (SymptomReport(WEDNESDAY, event=Event.ILLNESS),)
    once = eased(symptoms=ill)
    assert {slot_id: item.target.sets for slot_id, item in later(once).items()} == {"squat": 1, "plank": 1}
    assert ease(once, known(symptoms=ill), LIBRARY).sessions == once.sessions


# --- days (H3) --------------------------------------------------------------------------------------------------------


def test_h3_a_session_done_late_moves_the_next_one() -> None:
    late = record(-1, done_on=WEDNESDAY)
    after = eased(sessions=(*ATTENDED, late))
    assert [session.on for session in after.sessions] == [TUESDAY, SATURDAY]
    assert "H3 session-shifted" in keys(after.reasons)
    assert later(after)["squat"].target == later(SENT)["squat"].target


def test_h3_a_session_of_last_week_done_on_monday_moves_this_weeks_first() -> None:
    late = record(1, 2, done_on=MONDAY)
    after = ease(SENT, facts(**PLAN, sessions=(*ATTENDED[:-1], late)), LIBRARY)
    assert all(abs((session.on - MONDAY).days) > 1 for session in after.sessions)


def test_h3_where_no_day_is_left_the_session_goes() -> None:
    late = record(-1, done_on=WEDNESDAY)
    after = eased(sessions=(*ATTENDED, late), openings=(opening(TUESDAY), opening(THURSDAY)))
    assert [session.on for session in after.sessions] == [TUESDAY]
    assert "H3 session-lost-to-shift" in keys(after.reasons)


@pytest.mark.parametrize(
    ("kit", "expected"),
    [
        (Kit(fixed=kettlebells(12, 16)), ("goblet", 12)),
        (Kit(fixed=kettlebells(8, 16)), ("goblet", 8)),
        (Kit(fixed=kettlebells(16)), ("squat", 0)),
    ],
)
def test_h3_i2_a_session_that_moves_to_another_venue_is_worked_out_for_the_kit_there(
    kit: Kit, expected: tuple[str, int]
) -> None:
    late = record(-1, done_on=WEDNESDAY)
    after = eased(
        sessions=(*ATTENDED, late),
        openings=(opening(TUESDAY), opening(THURSDAY), opening(SATURDAY, venue="home")),
        venues=(("hall", HALL), ("home", kit)),
    )
    squat = later(after).get("squat")
    assert after.sessions[1].venue == "home"
    assert squat is not None and (squat.exercise, total_kg(squat.target.load)) == expected


def test_h3_a_shorter_time_on_the_new_day_is_kept_to() -> None:
    late = record(-1, done_on=WEDNESDAY)
    after = eased(
        sessions=(*ATTENDED, late), openings=(opening(TUESDAY), opening(THURSDAY), opening(SATURDAY, 20))
    )
    assert after.sessions[1].on == SATURDAY
    assert after.sessions[1].minutes <= 20


def test_h3_it_moves_also_when_the_program_has_been_taken_away() -> None:
    late = record(-1, done_on=WEDNESDAY)
    after = eased(sessions=(*ATTENDED, late), blocks=())
    assert [session.on for session in after.sessions] == [TUESDAY, SATURDAY]


def test_p10_i10_what_has_become_the_first_session_after_a_break_is_cut() -> None:
    away = tuple(replace(one, on=one.on - timedelta(days=18)) for one in PAST)
    sent = replace(SENT, sessions=SENT.sessions)
    missed = record(-1, state=SessionState.NOT_DONE)
    after = eased(sent, exposures=away, sessions=(*ATTENDED[:-6], missed))
    assert later(after)["squat"].target.sets < later(SENT)["squat"].target.sets


# --- part by part -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "expected"),
    [
        (asked(8, bell(12)), asked(8, bell(12))),
        (asked(12, bell(12)), asked(10, bell(12))),
        (asked(10, bell(16)), asked(10, bell(12))),
        (asked(10, bell(8), sets=4), asked(10, bell(8))),
        (asked(10, bell(12), sets=1, reps_left=4), asked(10, bell(12), sets=1, reps_left=4)),
        (asked(10, bell(12), lower_s=4), asked(10, bell(12))),
        (asked(10), asked(10)),
    ],
)
def test_i15_the_lower_of_two_targets_is_taken_part_by_part(answer: Target, expected: Target) -> None:
    assert lower_of(asked(10, bell(12)), answer) == expected


def test_i15_a_bridge_and_a_slow_lowering_go() -> None:
    sent = asked(15, bell(12), bridge_load=bell(16), bridge_sets=1, bridge_amount=5, lower_s=4)
    assert lower_of(sent, asked(15, bell(12))) == asked(15, bell(12))
