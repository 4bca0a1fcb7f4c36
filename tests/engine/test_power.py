"""Power: who does it, when not, and how it rises (rules S2, S3, S4, T1, P1, P3)."""

from dataclasses import replace
from datetime import timedelta

import pytest

from athletes.concerns import Gate
from athletes.vocabulary import Pattern, Region
from programs.engine.facts import Done, Exercise, Growth, Kit, Standing, Target, TargetDecision, Template
from programs.engine.families import exercise_of, family
from programs.engine.library_rules import POWER_MOST_REPS
from programs.engine.power import POWER_REPS_LEFT, why_no_power
from tests.engine.histories import answer, asked, exposure, keys, learned, library_of, question
from tests.engine.samples import GOBLET, bell, kettlebells, rider, slot
from tests.engine.shipped import shipped
from tests.engine.weeks import ATTENDED, MONDAY, block, items_of, left_out, pain, record, resolved, weekly
from tests.engine.weeks import keys as week_keys

ALL = family(shipped(), Pattern.POWER)
FOR_ALL = [one for one in ALL if one.for_beginners]
FOR_SOME = [one for one in ALL if not one.for_beginners]
READY = {"gate": Gate.FREE, "practised": True, "growing": False, "from_65": False}


def why(slug: str, **changes: object) -> str | None:
    found = why_no_power(exercise_of(shipped(), slug), **{**READY, **changes})
    return found.key if found else None


def test_the_family_has_work_for_everybody_and_work_for_few() -> None:
    assert FOR_ALL
    assert FOR_SOME


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.slug)
def test_a_practised_adult_without_pain_may_do_all_of_it(one: Exercise) -> None:
    assert why(one.slug) is None


@pytest.mark.parametrize("gate", [gate for gate in Gate if gate > Gate.FREE])
@pytest.mark.parametrize("one", ALL, ids=lambda one: one.slug)
def test_nothing_quick_is_done_with_a_sore_place_that_it_loads(one: Exercise, gate: Gate) -> None:
    assert why(one.slug, gate=gate) == "power-sore"


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"practised": False}, "power-practised"),
        ({"growing": True}, "power-growth"),
        ({"from_65": True}, "power-from-65"),
    ],
)
def test_jumps_and_swings_are_not_for_the_new_the_growing_and_riders_from_65(
    change: dict[str, bool], key: str
) -> None:
    assert {why(one.slug, **change) for one in FOR_SOME} == {key}
    assert {why(one.slug, **change) for one in FOR_ALL} == {None}


# --- how it rises -----------------------------------------------------------------------------------------------------

SWING = replace(
    exercise_of(shipped(), "hip-swing"), edges=(), low=5, high=POWER_MOST_REPS, holdings=GOBLET.holdings
)
BELLS = Kit(fixed=kettlebells(8, 12))


def after(
    target: Target, *, times: int = 1, kit: Kit = BELLS, reps_left: int = POWER_REPS_LEFT
) -> TargetDecision:
    done = Done(amounts=(target.amount,) * target.sets, load=target.load, reps_left=reps_left)
    did = exposure(target, slug=SWING.slug, done=done)
    history = learned(target, *(did,) * times, slug=SWING.slug)
    return answer(question(SWING, history, kit=kit, library=library_of(SWING)))


def test_a_set_of_power_always_leaves_four_good_reps() -> None:
    assert after(asked(6, bell(8))).target.reps_left == POWER_REPS_LEFT


def test_p1_power_goes_up_one_rep_at_a_time_and_no_further_than_its_own_end() -> None:
    assert after(asked(5, bell(8))).target.amount == 6
    for amount in range(5, POWER_MOST_REPS + 1):
        assert after(asked(amount, bell(8))).target.amount <= POWER_MOST_REPS


def test_p3_power_is_never_lowered_slowly_and_gets_no_extra_set() -> None:
    top = asked(POWER_MOST_REPS, bell(8))
    bridged = after(top).target
    assert bridged.lower_s is None
    assert (bridged.bridge_load, bridged.bridge_sets, bridged.sets) == (bell(12), 1, top.sets)
    alone = after(top, kit=Kit(fixed=kettlebells(8)))
    assert alone.target.sets == top.sets
    assert alone.target.lower_s is None
    assert "P3 at-the-top" in keys(alone)


def test_p2_a_small_step_is_taken_at_the_end_of_the_range() -> None:
    top = asked(POWER_MOST_REPS, bell(20))
    fine = Kit(fixed=kettlebells(20, 21))
    risen = after(top, times=2, kit=fine).target
    assert (risen.load, risen.amount) == (bell(21), 5)


# --- a week -----------------------------------------------------------------------------------------------------------

QUICK = Template(1, "Quick", (slot(id="quick", pattern=Pattern.POWER, sets=2), slot(id="squat", sets=2)))
JUMPED = asked(6, None, sets=2)
#: Thirty weeks of two sessions a week.
LONG = tuple(
    record(7 * week - day, ordinal) for week in range(30, 0, -1) for ordinal, day in ((1, 1), (2, 3))
)


def week(**changes: object) -> tuple[str | None, list[str]]:
    """The power that a rider gets who has been jumping for eight weeks, and the reasons."""
    plain = {
        "blocks": (block(QUICK),),
        "standings": (Standing(Pattern.POWER, "small-squat-jump"), Standing(Pattern.SQUAT, "squat")),
        "exposures": weekly(JUMPED, slug="small-squat-jump"),
        "sessions": LONG,
    }
    decision = resolved(shipped(), **{**plain, **changes})
    given, absent = items_of(decision).get("quick"), left_out(decision).get("quick")
    one = given or absent
    assert one is not None
    return (given.exercise if given else None), week_keys(one.reasons)


def test_a_practised_rider_without_pain_jumps() -> None:
    assert week()[0] == "small-squat-jump"


def test_s2_a_rider_of_ten_weeks_gets_a_quick_rise_instead() -> None:
    given, reasons = week(sessions=ATTENDED)
    assert given in {one.slug for one in FOR_ALL}
    assert "S2 power-practised" in reasons


def test_s4_a_rider_of_66_gets_a_quick_rise_instead() -> None:
    given, reasons = week(rider=rider(66, first_week_on=MONDAY - timedelta(weeks=40)))
    assert given in {one.slug for one in FOR_ALL}
    assert "S4 power-from-65" in reasons


def test_s3_a_rider_in_a_growth_spurt_gets_a_quick_rise_instead() -> None:
    young = rider(14, first_week_on=MONDAY - timedelta(weeks=40), growth=Growth.YES, adult_present=True)
    given, reasons = week(rider=young)
    assert given in {one.slug for one in FOR_ALL}
    assert "S3 power-growth" in reasons


@pytest.mark.parametrize(
    "region", [Region.KNEE, Region.ANKLE, Region.CALF, Region.SHIN, Region.LOWER_BACK], ids=str
)
def test_t1_with_a_pain_of_3_nothing_quick_loads_the_place(region: Region) -> None:
    given, reasons = week(reports=(pain(3, region=region),))
    assert "T1 power-sore" in reasons
    if given is not None:
        one = exercise_of(shipped(), given)
        assert region not in one.primary | one.secondary
