"""P12 and I6: hard sets per muscle and week, sets a session, and what gives way."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from athletes.vocabulary import Muscle, Pattern, Region
from programs.engine.easing import ease
from programs.engine.facts import (
    Change,
    Exercise,
    Exposure,
    Library,
    Measure,
    Part,
    Phase,
    Standing,
    Target,
    Template,
    WeekDecision,
)
from programs.engine.safety import find_breaches
from programs.engine.volume import caps_for, hard_sets, is_practised, look_at, recent_sets, standing_sets
from tests.engine.histories import ADULT, asked, kg, library_of
from tests.engine.samples import exercise, rider, slot, step_to
from tests.engine.weeks import (
    ATTENDED,
    MONDAY,
    block,
    did,
    facts,
    items_of,
    keys,
    left_out,
    pain,
    record,
    resolved,
)

QUADS, GLUTES, ABDOMINALS = Muscle.QUADRICEPS, Muscle.GLUTES, Muscle.ABDOMINALS


def trains(slug: str, pattern: Pattern, **shares: str) -> Exercise:
    """An exercise at body weight of that pattern, with its share of each muscle."""
    return exercise(
        slug,
        1,
        pattern=pattern,
        muscles=tuple((Muscle(name), Decimal(share)) for name, share in shares.items()),
    )


KNEE_BEND = trains("knee-bend", Pattern.SQUAT, quadriceps="1", glutes="0.5")
LUNGE = trains("lunge", Pattern.SINGLE_LEG, quadriceps="1", glutes="0.5")
BRIDGE = trains("bridge", Pattern.HINGE, glutes="1")
SIDE_STEP = trains("side-step", Pattern.LATERAL, quadriceps="1")
HOLLOW = trains("hollow", Pattern.FRONT_TRUNK, abdominals="1")
ONE_LEG = trains("one-leg", Pattern.BALANCE, quadriceps="1")
BODY = library_of(KNEE_BEND, LUNGE, BRIDGE, SIDE_STEP, HOLLOW, ONE_LEG)

MAIN = Template(
    1,
    "First",
    (
        slot(id="squat", sets=4),
        slot(id="lunge", pattern=Pattern.SINGLE_LEG, sets=4),
        slot(id="side", pattern=Pattern.LATERAL, part=Part.ASSISTANCE, sets=4),
    ),
)
SECOND = Template(
    2,
    "Second",
    (
        slot(id="squat-2", sets=4),
        slot(id="hollow", pattern=Pattern.FRONT_TRUNK, part=Part.ASSISTANCE, sets=3),
    ),
)


def weeks_of(*work: tuple[str, Target], weeks: int = 6, **changes: Any) -> tuple[Exposure, ...]:
    """Each target done once a week, so many weeks running."""
    done = [
        did(target, 3 + 7 * week, slug, **changes) for week in reversed(range(weeks)) for slug, target in work
    ]
    return tuple(done)


#: Four sets of everything lately: 12 hard sets a week for the front of the thigh, as many as a practised rider may do.
BUSY = weeks_of(
    ("knee-bend", asked(8, sets=4)),
    ("lunge", asked(8, sets=4)),
    ("side-step", asked(8, sets=4)),
    ("hollow", asked(8)),
)


def week(library: Library = BODY, **changes: Any) -> WeekDecision:
    plain: dict[str, Any] = {"blocks": (block(MAIN, SECOND),), "exposures": BUSY, "standings": ()}
    return resolved(library, **{**plain, **changes})


def sets_of(decision: WeekDecision) -> dict[str, int]:
    return {slot: item.target.sets for slot, item in items_of(decision).items()}


def practised(weeks: int = 26) -> tuple[Any, ...]:
    return tuple(
        record(7 * back - day, ordinal) for back in range(weeks, 0, -1) for ordinal, day in ((1, 1), (2, 3))
    )


# --- counting ---------------------------------------------------------------------------------------------------------


def test_p12_a_set_counts_as_the_share_of_the_muscle() -> None:
    assert hard_sets([(KNEE_BEND, 3), (BRIDGE, 2)]) == {QUADS: kg(3), GLUTES: kg("3.5")}


def test_p12_the_week_tells_its_sets_by_muscle_teaching_sets_included() -> None:
    decision = week(exposures=(), sessions=(), rider=rider(35))
    assert decision.phase is Phase.LEARN
    assert dict(decision.sets_by_muscle)[QUADS] == 6
    assert all(item.target.reps_left == 4 for item in items_of(decision).values())


def test_p12_warm_up_and_cool_down_are_no_hard_sets() -> None:
    warm = replace(
        MAIN, slots=(*MAIN.slots, slot(id="warm", pattern=Pattern.HINGE, part=Part.WARM_UP, sets=3))
    )
    decision = week(blocks=(block(warm),))
    assert "warm" in items_of(decision)
    assert dict(decision.sets_by_muscle)[GLUTES] == sum(
        sets_of(decision)[one] for one in ("squat", "lunge")
    ) / kg(2)


# --- caps -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("phase", "is_used", "young", "most"),
    [
        (Phase.LEARN, False, False, 6),
        (Phase.BUILD, False, False, 10),
        (Phase.BUILD, True, False, 12),
        (Phase.RETURN, False, False, 10),
        (Phase.TAPER, True, False, 12),
        (Phase.MAINTAIN, True, False, 4),
        (Phase.LEARN, False, True, 6),
        (Phase.BUILD, True, True, 8),
        (Phase.MAINTAIN, False, True, 4),
    ],
)
def test_p12_the_cap_goes_by_standing(phase: Phase, is_used: bool, young: bool, most: int) -> None:
    assert standing_sets(phase, practised=is_used, under_18=young) == most


@pytest.mark.parametrize(
    ("sessions", "expected"),
    [
        (practised(23), False),
        (practised(24), True),
        ((*practised(40)[:30], *practised(5)), False),  # a break of 56 days and more begins it again
        (ATTENDED, False),
    ],
)
def test_p12_practised_is_24_weeks_since_the_last_long_break(
    sessions: tuple[Any, ...], expected: bool
) -> None:
    assert is_practised(facts(sessions=sessions)) is expected


def test_p12_a_week_is_held_to_the_cap_and_says_why() -> None:
    decision = week()
    assert dict(decision.sets_by_muscle)[QUADS] == 10
    held = [item for item in items_of(decision).values() if "P12 enough-sets" in keys(item.reasons)]
    assert held and all(item.target.sets < 4 for item in held)
    assert (
        find_breaches(decision, facts(blocks=(block(MAIN, SECOND),), exposures=BUSY, standings=()), BODY)
        == ()
    )


def test_p12_a_practised_rider_gets_12() -> None:
    assert dict(week(sessions=practised()).sets_by_muscle)[QUADS] == 12


def test_p12_under_18_gets_8() -> None:
    young = rider(17, first_week_on=MONDAY - timedelta(weeks=12))
    assert dict(week(rider=young, sessions=practised()).sets_by_muscle)[QUADS] == 8


# --- what gives way ---------------------------------------------------------------------------------------------------


def test_p12_assistance_gives_way_before_the_main_part_and_the_last_session_first() -> None:
    # 16 asked and 10 allowed: assistance down to one set (3), then the main part of the second session (3).
    assert sets_of(week()) == {"squat": 4, "lunge": 4, "side": 1, "squat-2": 1, "hollow": 3}


def test_p12_nothing_goes_below_one_set_before_all_are_there_and_then_it_is_left_out() -> None:
    slots = tuple(slot(id=f"bend-{n}", pattern=pattern, sets=1) for n, pattern in enumerate(BENDS, 1))
    more = library_of(*(trains(f"bend-{n}", pattern, quadriceps="1") for n, pattern in enumerate(BENDS, 1)))
    decision = week(
        more,
        blocks=(block(replace(MAIN, slots=slots)),),
        exposures=weeks_of(*((f"bend-{n}", asked(8, sets=1)) for n, _one in enumerate(BENDS, 1)), weeks=20),
        sessions=ATTENDED,
        rider=rider(35, first_week_on=MONDAY - timedelta(weeks=12)),
    )
    assert set(sets_of(decision)) == {f"bend-{n}" for n in range(1, 11)}
    gone = left_out(decision)["bend-11"]
    assert keys(gone.reasons) == ["P12 muscle-full"]


BENDS = (
    Pattern.SQUAT,
    Pattern.HINGE,
    Pattern.SINGLE_LEG,
    Pattern.LATERAL,
    Pattern.PUSH,
    Pattern.PULL,
    Pattern.FRONT_TRUNK,
    Pattern.SIDE_TRUNK,
    Pattern.ROTATION,
    Pattern.CARRY,
    Pattern.CALF,
)


def test_p12_reps_go_on_where_sets_may_not() -> None:
    decision = week(exposures=weeks_of(("knee-bend", asked(8, sets=1)), *BUSY_OTHERS))
    item = items_of(decision)["squat-2"]
    assert (item.target.sets, item.target.amount, item.change) == (1, 9, Change.MORE_REPS)
    assert keys(item.reasons) == ["P1 reps-up", "P12 enough-sets"]


BUSY_OTHERS = (
    ("lunge", asked(8, sets=4)),
    ("side-step", asked(8, sets=4)),
    ("hollow", asked(8)),
    ("knee-bend", asked(8, sets=4)),
)


def test_p12_balance_from_65_does_not_give_way() -> None:
    old = rider(70, first_week_on=MONDAY - timedelta(weeks=12))
    slots = (*MAIN.slots, slot(id="one-leg", pattern=Pattern.BALANCE, part=Part.ASSISTANCE, sets=2))
    busy = (*BUSY, *weeks_of(("one-leg", asked(8, sets=2))))
    past = tuple(sorted(busy, key=lambda one: one.on))
    given = {"blocks": (block(replace(MAIN, slots=slots), SECOND),), "exposures": past}
    assert sets_of(week(rider=old, **given))["one-leg"] == 2
    assert sets_of(week(**given))["one-leg"] == 1
    assert dict(week(rider=old, **given).sets_by_muscle)[QUADS] == 10


def test_p12_at_most_18_sets_a_session() -> None:
    patterns = (Pattern.SQUAT, Pattern.PUSH, Pattern.PULL, Pattern.HINGE, Pattern.FRONT_TRUNK)
    muscles = ("quadriceps", "chest", "upper-back", "glutes", "abdominals")
    made = [trains(one.value, one, **{muscle: "1"}) for one, muscle in zip(patterns, muscles, strict=True)]
    slots = tuple(
        slot(id=one.value, pattern=one, sets=4, part=Part.MAIN if one is Pattern.SQUAT else Part.ASSISTANCE)
        for one in patterns
    )
    decision = week(
        library_of(*made),
        blocks=(block(replace(MAIN, slots=slots)),),
        exposures=weeks_of(*((one.value, asked(8, sets=4)) for one in patterns)),
        openings=tuple(replace(one, minutes=200) for one in facts().openings),
    )
    assert sets_of(decision) == {"squat": 4, "push": 4, "pull": 4, "hinge": 3, "front-trunk": 3}
    assert "P12 session-enough-sets" in keys(items_of(decision)["hinge"].reasons)


# --- up by at most two a week -----------------------------------------------------------------------------------------


def test_p12_up_by_at_most_two_a_week_against_the_best_normal_week_lately() -> None:
    past = weeks_of(("knee-bend", asked(8, sets=3)), ("lunge", asked(8, sets=2)))
    caps = caps_for(facts(exposures=past), BODY, Phase.BUILD, ADULT)
    assert (caps.of(QUADS), caps.of(GLUTES), caps.of(ABDOMINALS)) == (7, kg("4.5"), 4)


@pytest.mark.parametrize(
    ("changes", "most"),
    [
        ({}, 5),
        ({"light": True}, 5),  # nothing but light weeks: then they count
        ({"done": None}, None),
    ],
)
def test_p12_what_is_not_known_to_be_done_is_nothing_to_rise_from(
    changes: dict[str, Any], most: int | None
) -> None:
    past = weeks_of(("knee-bend", asked(8, sets=5)), **changes)
    found = recent_sets(past, BODY, facts().week)
    assert (found[QUADS] if found else None) == most


def test_p12_a_light_week_is_not_what_the_next_one_rises_from() -> None:
    past = (
        *weeks_of(("knee-bend", asked(8, sets=4)), weeks=3),
        did(asked(6, sets=2), 2, "knee-bend", light=True),
    )
    assert recent_sets(past, BODY, facts().week) == {QUADS: 4, GLUTES: 2}


def test_p12_a_set_that_waits_for_the_week_says_so() -> None:
    past = weeks_of(
        ("knee-bend", asked(8, sets=2)), ("lunge", asked(8, sets=2)), ("side-step", asked(8, sets=2))
    )
    decision = week(exposures=past, blocks=(block(MAIN),))
    assert dict(decision.sets_by_muscle)[QUADS] <= 8
    assert sets_of(decision) == {"squat": 3, "lunge": 3, "side": 2}
    assert "P12 sets-rise-slowly" in keys(items_of(decision)["side"].reasons)


# --- I6 ---------------------------------------------------------------------------------------------------------------


def test_i6_an_edit_above_a_cap_needs_a_written_reason_and_is_not_refused() -> None:
    decision, known = week(), facts(blocks=(block(MAIN, SECOND),), exposures=BUSY, standings=())
    first, *others = decision.sessions
    heavy = tuple(replace(item, target=replace(item.target, sets=9)) for item in first.items)
    found = find_breaches(replace(decision, sessions=(replace(first, items=heavy), *others)), known, BODY)
    assert {(one.id, one.reason.key) for one in found} == {
        ("I6", "too-many-in-session"),
        ("I6", "too-many-sets"),
    }
    assert not any(one.refuses for one in found)


SPARED = {"primary": frozenset({Region.CHEST}), "secondary": frozenset[Region]()}
CHAIR = replace(trains("chair", Pattern.SQUAT, quadriceps="1"), edges=step_to("deep"))
DEEP = replace(trains("deep", Pattern.SQUAT, glutes="1"), level=2)


def test_i6_what_stands_in_after_a_report_gives_way_where_it_trains_another_muscle() -> None:
    library = library_of(CHAIR, DEEP, *(replace(one, **SPARED) for one in (LUNGE, SIDE_STEP)))
    slots = (
        slot(id="squat", sets=3),
        slot(id="lunge", pattern=Pattern.SINGLE_LEG, sets=4),
        slot(id="side", pattern=Pattern.LATERAL, sets=4),
    )
    past = weeks_of(("deep", asked(8)), ("lunge", asked(8, sets=4)), ("side-step", asked(8, sets=4)))
    given = {
        "blocks": (block(replace(MAIN, slots=slots), replace(MAIN, ordinal=2, slots=slots[1:2])),),
        "exposures": past,
        "standings": (Standing(Pattern.SQUAT, "deep"),),
    }
    sent = week(library, **given)
    assert dict(sent.sets_by_muscle)[QUADS] == 10 and sets_of(sent)["squat"] == 3
    eased = ease(sent, facts(**given, reports=(pain(4),)), library)
    # An easier squat would train the front of the thigh, which has its ten sets already.
    assert dict(eased.sets_by_muscle)[QUADS] == 10
    assert keys(left_out(eased)["squat"].reasons)[-1] == "P12 muscle-full"
    roomy = replace(sent, sessions=sent.sessions[:1])
    beside = items_of(ease(roomy, facts(**given, reports=(pain(4),)), library))["squat"]
    assert (beside.exercise, beside.target.sets) == ("chair", 2)


def test_p12_fewer_than_four_sets_in_a_week_that_builds_is_a_remark() -> None:
    decision = week()
    rows = {
        row.muscle: row for row in look_at(decision.sessions, facts(exposures=BUSY), BODY, Phase.BUILD, ADULT)
    }
    assert rows[ABDOMINALS].is_few and not rows[QUADS].is_few
    assert not rows[GLUTES].is_few  # it only helps
    light = look_at(decision.sessions, facts(exposures=BUSY), BODY, Phase.BUILD, ADULT, light=True)
    assert not any(row.is_few for row in light)


def test_p12_an_extra_set_of_the_bridge_that_does_not_fit_is_not_told_as_one() -> None:
    # At the top of its reps and its tempo, with nothing heavier or harder: a set more, if the week had room for it.
    top = Target(Measure.REPS, 3, 20, lower_s=4)
    slots = (
        slot(id="squat"),
        slot(id="lunge", pattern=Pattern.SINGLE_LEG),
        slot(id="side", pattern=Pattern.LATERAL),
    )
    past = weeks_of(("knee-bend", top), ("lunge", asked(8)), ("side-step", asked(8)))
    roomy = {"blocks": (block(replace(MAIN, slots=slots)),), "exposures": past}
    assert items_of(week(**roomy))["squat"].target.sets == 4
    second = replace(MAIN, ordinal=2, slots=(slot(id="lunge-2", pattern=Pattern.SINGLE_LEG, sets=1),))
    full = {**roomy, "blocks": (block(replace(MAIN, slots=slots), second),)}
    item = items_of(week(**full))["squat"]
    assert (item.target.sets, item.change) == (3, Change.SAME)
    assert "P12 enough-sets" in keys(item.reasons) and "P3 extra-set" not in keys(item.reasons)
