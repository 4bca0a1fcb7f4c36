"""The safety properties of a final plan: what the engine makes keeps them, and an edit that breaks one is found."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from athletes.concerns import Symptom, SymptomReport
from athletes.vocabulary import Pattern, RacePriority, Reason, Region
from programs.engine.facts import (
    Absence,
    Change,
    Growth,
    Item,
    Kit,
    SessionDecision,
    SessionState,
    Standing,
    WeekDecision,
    WeekFacts,
)
from programs.engine.safety import REFUSING, Breach, find_breaches
from tests.engine.histories import asked
from tests.engine.samples import BARBELL, HALL, LIBRARY, bell, kettlebells, rider
from tests.engine.weeks import (
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
    opening,
    pain,
    race,
    record,
    resolved,
    weekly,
)

KNOWN = facts()
PLAN = resolved()
YOUNG = rider(16, growth=Growth.NO, first_week_on=MONDAY - timedelta(weeks=9))


def broken(plan: WeekDecision, known: WeekFacts = KNOWN) -> list[str]:
    """What the plan breaks, as "property key"."""
    return [f"{breach.id} {breach.reason.key}" for breach in find_breaches(plan, known, LIBRARY)]


def edited(change: Callable[[Item], Item], slot_id: str = "squat", plan: WeekDecision = PLAN) -> WeekDecision:
    """The plan with one item changed, as a coach may change it."""
    return replace(
        plan,
        sessions=tuple(
            replace(one, items=tuple(change(item) if item.slot == slot_id else item for item in one.items))
            for one in plan.sessions
        ),
    )


def with_target(**changes: Any) -> Callable[[Item], Item]:
    return lambda item: replace(item, target=replace(item.target, **changes))


def moved(days: int, plan: WeekDecision = PLAN) -> WeekDecision:
    """The plan with its first session so many days later."""
    first, *others = plan.sessions
    return replace(plan, sessions=(replace(first, on=first.on + timedelta(days=days)), *others))


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"reports": (pain(4),)},
        {"reports": (pain(6),)},
        {"rider": YOUNG},
        {"rider": rider(66, first_week_on=MONDAY)},
        {"races": (race(12, priority=RacePriority.PRIORITY),)},
        {"exposures": (), "sessions": ()},
        {"exposures": tuple(replace(one, on=one.on - timedelta(days=24)) for one in PAST)},
    ],
)
def test_what_the_engine_makes_breaks_nothing(changes: dict[str, Any]) -> None:
    assert broken(resolved(**changes), facts(**changes)) == []


def test_what_refuses_is_what_nobody_may_set_aside() -> None:
    assert frozenset({"I1", "I2", "I3", "I7", "I11"}) == REFUSING
    assert Breach("I1", Reason("I1", "above-achieved")).refuses
    assert not Breach("I10", Reason("I10", "too-much-after-break")).refuses
    assert not Breach("S3", Reason("S3", "adult-not-recorded")).refuses


# --- I1, I2, I5, I8, I14 ----------------------------------------------------------------------------------------------

SORE = {"reports": (pain(3, days_ago=10),)}


@pytest.mark.parametrize(
    ("change", "found"),
    [
        (with_target(), []),
        (with_target(amount=11), ["I1 above-achieved"]),
        (with_target(sets=4), ["I1 above-achieved"]),
        (with_target(load=bell(16), amount=5), ["I1 above-achieved"]),
        (with_target(bridge_load=bell(16), bridge_sets=1, bridge_amount=5), ["I1 above-achieved"]),
        (with_target(load=bell(8), amount=12), []),
        (with_target(amount=6, sets=1), []),
    ],
)
def test_i1_nothing_above_the_last_achieved_where_it_hurts(
    change: Callable[[Item], Item], found: list[str]
) -> None:
    plan = resolved(**SORE)
    assert broken(edited(change, plan=plan), facts(**SORE)) == found


def test_i1_pain_of_two_or_more_than_14_days_ago_or_elsewhere_bars_nothing() -> None:
    more = edited(with_target(amount=12))
    for report in (pain(2), pain(5, days_ago=15), pain(5, region=Region.ELBOW)):
        assert not [line for line in broken(more, facts(reports=(report,))) if line.startswith("I1 ")]


@pytest.mark.parametrize(
    ("kit", "found"),
    [
        (HALL, []),
        (Kit(fixed=kettlebells(10)), ["I2 not-reachable"]),
        (Kit(furniture=HALL.furniture), ["I2 not-reachable"]),
    ],
)
def test_i2_every_load_can_be_made_up_where_the_session_is(kit: Kit, found: list[str]) -> None:
    assert broken(PLAN, facts(venues=(("hall", kit),))) == found


def test_i2_w3_a_barbell_without_safeties_is_refused_for_whoever_trains_alone() -> None:
    level = {"standings": (Standing(Pattern.SQUAT, "front"),)}
    plan = resolved(**level)
    assert plan.sessions[0].items[0].target.load.holding == BARBELL  # type: ignore[union-attr]
    unsafe = (("hall", replace(HALL, furniture=frozenset())),)
    assert broken(plan, facts(**level, venues=unsafe)) == ["I2 not-with-that"]
    together = rider(35, trains_alone=False, first_week_on=MONDAY)
    assert broken(plan, facts(**level, venues=unsafe, rider=together)) == []


@pytest.mark.parametrize(
    ("past", "change", "found"),
    [
        (PAST, with_target(load=bell(16), amount=9), []),
        (PAST, with_target(load=bell(16), amount=10), ["I5 big-step-keeps-reps"]),
        (weekly(asked(10)), with_target(load=bell(8), amount=9), []),
        (weekly(asked(10)), with_target(load=bell(8), amount=10), ["I5 load-from-nothing-keeps-reps"]),
        # Body weight in between does not hide what was lifted before.
        ((*PAST, did(asked(20), 1)), with_target(load=bell(16), amount=10), ["I5 big-step-keeps-reps"]),
    ],
)
def test_i5_a_large_step_never_keeps_the_reps(
    past: tuple[Any, ...], change: Callable[[Item], Item], found: list[str]
) -> None:
    lines = broken(edited(change), facts(exposures=past))
    assert [line for line in lines if line.startswith("I5")] == found


def test_i8_a_change_needs_a_reason() -> None:
    silent = edited(lambda item: replace(item, change=Change.MORE_REPS, reasons=()))
    assert broken(silent) == ["I8 change-without-reason"]


def test_i14_a_stand_in_that_loads_the_sore_more_is_found() -> None:
    why = Reason("L2", "sibling-used", {"wanted": "hip-squat", "used": "goblet"})
    swapped = edited(lambda item: replace(item, reasons=(why,)))
    assert "I14 loads-sore-more" in broken(swapped, facts(**SORE))
    assert broken(swapped) == []


def test_an_exercise_that_the_library_lacks_is_refused() -> None:
    assert broken(edited(lambda item: replace(item, exercise="hop"))) == ["I2 not-with-that"]


# --- I3, I4, I11: days ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "changes", "found"),
    [
        (0, {}, []),
        (1, {}, ["I3 no-opening", "I3 next-to-session", "I3 next-to-session"]),
        (0, {"absences": (Absence(TUESDAY, TUESDAY),)}, ["I3 away-on-day"]),
        (0, {"races": (race(1),)}, ["I3 too-near-race"]),
        # Friday at ten is 63 h after Tuesday's legs and 15 h after Thursday's arms; Saturday 87 h and 39 h.
        (0, {"races": (race(4, priority=RacePriority.PRIORITY),)}, ["I3 too-near-race"] * 2),
        (0, {"races": (race(5, priority=RacePriority.PRIORITY),)}, []),
        (0, {"sessions": (*ATTENDED, record(1, 2, done_on=MONDAY))}, ["I3 next-to-session"]),
        (0, {"sessions": (*ATTENDED, record(0, 2, SessionState.SILENT))}, ["I3 next-to-session"]),
        (0, {"sessions": (*ATTENDED, record(0, 2, SessionState.NOT_DONE))}, []),
    ],
)
def test_i3_a_session_stands_where_it_may(days: int, changes: dict[str, Any], found: list[str]) -> None:
    lines = broken(moved(days), facts(**changes))
    assert [line for line in lines if line.startswith("I3")] == found


def test_i3_a_session_that_was_not_done_leaves_its_day_free() -> None:
    missed = record(-1, 1, SessionState.NOT_DONE)
    known = facts(
        today=MONDAY + timedelta(days=2),
        sessions=(*ATTENDED, missed),
        openings=(opening(MONDAY + timedelta(days=2)),),
    )
    second = replace(PLAN.sessions[1], on=MONDAY + timedelta(days=2))
    assert broken(replace(PLAN, sessions=(PLAN.sessions[0], second)), known) == []


def test_i4_sessions_done_in_the_week_count() -> None:
    def numbered(ordinal: int, on: Any) -> SessionDecision:
        return replace(PLAN.sessions[0], ordinal=ordinal, on=on)

    week = [MONDAY + timedelta(days=day) for day in (2, 4, 6)]
    plan = replace(PLAN, sessions=tuple(numbered(place + 2, on) for place, on in enumerate(week)))
    known = facts(sessions=(*ATTENDED, record(0)), openings=tuple(map(opening, week)))
    assert broken(plan, known) == ["I4 too-many-sessions"]
    assert broken(plan, replace(known, sessions=ATTENDED)) == []


def test_i11_the_days_of_the_young() -> None:
    days = (TUESDAY, THURSDAY, SATURDAY)
    plan = replace(
        PLAN, sessions=tuple(replace(PLAN.sessions[0], ordinal=at + 1, on=on) for at, on in enumerate(days))
    )
    growing = replace(YOUNG, growth=Growth.YES, adult_present=True)
    assert "I11 young-days" in broken(plan, facts(rider=growing))
    assert "I11 young-days" not in broken(plan, facts(rider=YOUNG))


# --- I7, I11, S3: who -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "changes",
    [
        {"rider": rider(35, paused=True)},
        {"rider": rider(35, may_train=False)},
        {"symptoms": (SymptomReport(MONDAY, symptom=Symptom.PALPITATIONS),)},
        {"reports": (pain(9),)},
    ],
)
def test_i7_the_uncleared_the_paused_and_the_stopped_get_nothing(changes: dict[str, Any]) -> None:
    assert "I7 may-not-train" in broken(PLAN, facts(**changes))
    assert broken(replace(PLAN, sessions=()), facts(**changes)) == []


@pytest.mark.parametrize(
    ("change", "found"),
    [
        (with_target(amount=15), []),
        (with_target(amount=16), ["I11 young-reps"]),
        (with_target(amount=5), ["I11 young-reps"]),
        (with_target(sets=4), ["I11 young-sets"]),
        (with_target(load=bell(16), amount=6), ["I11 young-step"]),
    ],
)
def test_i11_the_limits_for_under_18s_hold_whoever_changes_a_plan(
    change: Callable[[Item], Item], found: list[str]
) -> None:
    young = {"rider": YOUNG}
    assert broken(edited(change, plan=resolved(**young)), facts(**young)) == found


def test_i11_no_heavier_load_in_a_growth_spurt() -> None:
    growing = {"rider": replace(YOUNG, growth=Growth.YES, adult_present=True)}
    fine = {**growing, "venues": (("hall", Kit(fixed=kettlebells(12, 13))),)}
    heavier = edited(with_target(load=bell(13), amount=6), plan=resolved(**fine))
    assert broken(heavier, facts(**fine)) == ["I11 young-load"]


def test_s3_without_an_adult_a_coach_writes_who_will_be_there() -> None:
    alone = {"rider": replace(YOUNG, growth=Growth.YES)}
    breaches = find_breaches(resolved(**alone), facts(**alone), LIBRARY)
    assert [(one.id, one.refuses) for one in breaches] == [("S3", False)]
    watched = {"rider": replace(YOUNG, growth=Growth.YES, adult_present=True)}
    assert broken(resolved(**watched), facts(**watched)) == []


# --- I10 --------------------------------------------------------------------------------------------------------------

AWAY = {"exposures": tuple(replace(one, on=one.on - timedelta(days=24)) for one in PAST)}
TWICE = {"blocks": (block(LEGS, replace(LEGS, ordinal=2)),)}


@pytest.mark.parametrize(
    ("sets", "amount", "found"),
    [
        (1, 10, []),
        (1, 8, []),
        (2, 7, []),
        (2, 8, ["I10 too-much-after-break"]),
        (3, 10, ["I10 too-much-after-break"]),
    ],
)
def test_i10_half_the_usual_sets_in_the_first_week_back(sets: int, amount: int, found: list[str]) -> None:
    # Three sets of ten were usual: half is one and a half sets of ten, or two of seven.
    plan = edited(with_target(sets=sets, amount=amount, load=bell(8)), plan=resolved(**AWAY))
    assert broken(plan, facts(**AWAY)) == found


def test_i10_the_sessions_of_the_week_count_together() -> None:
    plan = resolved(**AWAY, **TWICE)
    assert broken(plan, facts(**AWAY, **TWICE)) == []
    whole = edited(with_target(sets=1, amount=10), plan=plan)
    assert broken(whole, facts(**AWAY, **TWICE)) == ["I10 too-much-after-break"]


def test_what_is_past_or_done_is_not_looked_at() -> None:
    spoiled = edited(with_target(amount=99, load=bell(99)))
    assert broken(spoiled) != []
    assert broken(spoiled, facts(today=SATURDAY + timedelta(days=1))) == []
    assert broken(spoiled, facts(sessions=(*ATTENDED, record(-1, done_on=TUESDAY)))) == []
