"""S2 to S5 and H1: where a rider starts and what their age allows."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.vocabulary import Pattern, Reason
from programs.engine.facts import CheckResult, Exercise, Growth, Holding, Kit, Load, Loading, Measure
from programs.engine.kit import is_reachable, total_kg
from programs.engine.strength import (
    REASONS,
    age_limits,
    age_reasons,
    amount_range,
    first_load_limit,
    first_target,
    in_growth_spurt,
    is_teaching,
    start_levels,
)
from tests.engine.samples import (
    BACKPACK,
    BARBELL,
    FRONT,
    GOBLET,
    HALL,
    KETTLEBELL,
    LIBRARY,
    NOTHING,
    PLANK,
    PRESS,
    SIT,
    SQUAT,
    bell,
    exercise,
    kettlebells,
    rider,
    slot,
)

ADULT, SEVENTEEN = (age_limits(rider(age)) for age in (35, 17))
PASS, NOT_YET, HURTS = CheckResult.PASS, CheckResult.NOT_YET, CheckResult.HURTS


@pytest.mark.parametrize(("behind", "teaching"), [(0, True), (5, True), (6, False), (40, False)])
def test_s2_the_first_six_exposures_teach(behind: int, teaching: bool) -> None:
    assert is_teaching(behind) is teaching


@pytest.mark.parametrize(
    ("what", "subject", "holding", "options", "sets", "amount", "load"),
    [
        ("body weight", SIT, None, {}, 2, 5, None),
        ("H1 the lightest bell, whatever was held before", GOBLET, KETTLEBELL, {}, 2, 5, bell(8)),
        ("K2 the bar alone", FRONT, BARBELL, {}, 2, 5, Load(BARBELL, kg=Decimal(25))),
        ("the slot's floor", SIT, None, {"low": 8}, 2, 8, None),
        ("one set where the slot has one", SIT, None, {"sets": 1}, 1, 5, None),
        ("a hold starts at 20 s at least", PLANK, None, {}, 2, 20, None),
        ("a hold starts at 30 s at most", PLANK, None, {"low": 45}, 2, 30, None),
        ("a hold within the slot's ceiling", PLANK, None, {"high": 15}, 2, 15, None),
    ],
)
def test_s2_h1_the_first_target(
    what: str,
    subject: Exercise,
    holding: Holding | None,
    options: dict[str, int],
    sets: int,
    amount: int,
    load: Load | None,
) -> None:
    target = first_target(subject, slot(**options), holding, HALL, ADULT)
    assert target is not None, what
    assert (target.sets, target.amount, target.load) == (sets, amount, load), what
    assert target.reps_left == 4


@pytest.mark.parametrize(
    ("subject", "holding", "lightest", "load"),
    [
        (SQUAT, KETTLEBELL, 8, bell(8)),
        (SQUAT, KETTLEBELL, 12, None),
        (PRESS, BACKPACK, 4, Load(BACKPACK, kg=Decimal(4))),
        (PRESS, BACKPACK, 5, None),
    ],
)
def test_p2_a_first_load_on_a_body_weight_exercise_is_small_or_none(
    subject: Exercise, holding: Holding, lightest: int, load: Load | None
) -> None:
    fixed = tuple(mass for mass in kettlebells(lightest, lightest + 8))
    kit = Kit(fixed=tuple(type(mass)(holding.implement, mass.kg) for mass in fixed))
    target = first_target(subject, slot(), holding, kit, ADULT)
    assert target is not None
    assert target.load == load


@pytest.mark.parametrize(
    ("age", "masses", "load"),
    [
        (35, (4, 6, 8, 12), 8),  # not the lightest for an adult: the heaviest up to 8 kg
        (35, (12, 24), 12),
        (35, (16, 24), 16),
        (35, (20, 24), None),
        (17, (4, 6, 8, 12), 8),  # from 2 or 4 kg no step would ever be within the 25 % of the young
        (15, (4, 6, 8, 12), 4),
        (17, (12, 16), 12),
        (17, (16,), None),
        (13, (8, 12), 8),
        (13, (12,), None),
    ],
)
def test_p2_what_needs_a_load_begins_with_one_that_a_beginner_can_hold(
    age: int, masses: tuple[int, ...], load: int | None
) -> None:
    kit = Kit(fixed=kettlebells(*masses))
    target = first_target(GOBLET, slot(), KETTLEBELL, kit, age_limits(rider(age)))
    assert (target.load if target else None) == (bell(load) if load else None)


@pytest.mark.parametrize(("age", "most"), [(35, 12), (17, 8), (15, 4)])
def test_p2_the_upper_body_begins_with_less(age: int, most: int) -> None:
    press = replace(GOBLET, slug="press", lower_body=False)
    for kg in (most, most + 1):
        kit = Kit(fixed=kettlebells(kg))
        target = first_target(press, slot(), KETTLEBELL, kit, age_limits(rider(age)))
        assert (target is not None) is (kg == most)


def test_p2_an_adults_earned_level_and_what_was_done_before_have_no_cap_of_a_beginning() -> None:
    heavy = Kit(fixed=kettlebells(24))
    assert first_target(replace(GOBLET, for_beginners=False), slot(), KETTLEBELL, heavy, ADULT) is not None
    assert first_target(GOBLET, slot(), KETTLEBELL, heavy, ADULT, known=True) is not None
    assert first_target(replace(GOBLET, for_beginners=False), slot(), KETTLEBELL, heavy, SEVENTEEN) is None


def test_k6_where_a_needed_load_cannot_be_had_there_is_no_target() -> None:
    assert first_target(GOBLET, slot(), KETTLEBELL, NOTHING, ADULT) is None
    assert first_target(GOBLET, slot(), None, HALL, ADULT) is None


def test_s1_a_clinicians_limits_hold_from_the_first_target() -> None:
    assert first_target(GOBLET, slot(), KETTLEBELL, HALL, ADULT, max_total_kg=Decimal(6)) is None
    limited = first_target(SIT, slot(), None, HALL, ADULT, max_reps=3)
    assert limited is not None
    assert limited.amount == 3


@pytest.mark.parametrize(
    ("what", "who", "expected"),
    [
        ("an adult", rider(35), {"min_reps": 5, "max_reps": 20, "max_days": 3, "may_estimate": True}),
        ("17", rider(17, growth=Growth.NO), {"min_reps": 6, "max_reps": 15, "max_sets": 3, "max_days": 3}),
        ("17 estimates", rider(17), {"may_estimate": False, "may_raise_load": True, "under_18": True}),
        ("17 or 18 counts as 17", rider(17, 18), {"under_18": True}),
        ("18", rider(18), {"under_18": False, "max_step_percent": None}),
        (
            "17 steps",
            rider(17),
            {"max_step_percent": Decimal(25), "agreed_above_percent": Decimal(10), "adult_needed": False},
        ),
        ("14 unknown", rider(14), {"max_days": 2, "may_raise_load": False, "adult_needed": True}),
        ("14 not growing", rider(14, growth=Growth.NO), {"max_days": 3, "may_raise_load": True}),
        ("17 growing", rider(17, growth=Growth.YES), {"max_days": 2, "may_raise_load": False}),
        ("49", rider(49), {"min_rest_s": 0, "extra_exposures": 0, "from_50": False}),
        ("49 or 50 counts as 50", rider(49, 50), {"min_rest_s": 120, "extra_exposures": 1, "from_50": True}),
        ("64", rider(64), {"balance_each_session": False, "from_65": False}),
        ("64 or 65 counts as 65", rider(64, 65), {"balance_each_session": True, "min_rest_s": 120}),
    ],
)
def test_s3_s4_what_age_allows(what: str, who: object, expected: dict[str, object]) -> None:
    limits = age_limits(who)  # type: ignore[arg-type]
    assert {name: getattr(limits, name) for name in expected} == expected, what


@pytest.mark.parametrize(
    ("youngest", "oldest", "growth", "counts"),
    [
        (11, 12, Growth.UNKNOWN, False),
        (12, 13, Growth.UNKNOWN, True),
        (13, 13, Growth.UNKNOWN, True),
        (15, 16, Growth.UNKNOWN, True),
        (16, 17, Growth.UNKNOWN, False),
        (14, 14, Growth.NO, False),
        (17, 17, Growth.YES, True),
        (18, 18, Growth.YES, False),
    ],
)
def test_s3_a_growth_spurt_is_assumed_where_it_may_be(
    youngest: int, oldest: int, growth: Growth, counts: bool
) -> None:
    assert in_growth_spurt(rider(youngest, oldest, growth=growth)) is counts


@pytest.mark.parametrize(
    ("who", "keys"),
    [
        (rider(35), []),
        (rider(17), ["under-18"]),
        (rider(14), ["under-18", "growth-not-entered"]),
        (rider(16, growth=Growth.YES), ["under-18", "growth-spurt"]),
        (rider(50), ["from-50"]),
        (rider(66), ["from-50", "from-65"]),
    ],
)
def test_s3_s4_the_rules_of_age_are_told_as_reasons(who: object, keys: list[str]) -> None:
    reasons = age_reasons(who)  # type: ignore[arg-type]
    assert [reason.key for reason in reasons] == keys
    for reason in reasons:
        assert "{" not in REASONS[reason.key].format(**reason.figures)


@pytest.mark.parametrize(
    ("what", "age", "options", "expected"),
    [
        ("an adult has the exercise's range", 35, {}, (5, 20)),
        ("the slot narrows it", 35, {"low": 8, "high": 12}, (8, 12)),
        ("and cannot widen it", 35, {"low": 2, "high": 40}, (5, 20)),
        ("under 18 from 6 to 15", 16, {}, (6, 15)),
        ("I11 whatever the slot says", 16, {"low": 3, "high": 5}, (6, 6)),
        ("I11 at the other end too", 16, {"low": 18, "high": 20}, (15, 15)),
    ],
)
def test_s3_i11_the_range_of_reps(
    what: str, age: int, options: dict[str, int], expected: tuple[int, int]
) -> None:
    assert amount_range(SIT, slot(**options), age_limits(rider(age))) == expected, what


def test_s4_rests_are_long_enough_from_50() -> None:
    target = first_target(SIT, slot(rest_s=60), None, NOTHING, age_limits(rider(55)))
    assert target is not None
    assert target.rest_s == 120


@pytest.mark.parametrize(
    ("what", "results", "start", "keys"),
    [
        ("not asked", {}, "sit-to-stand", ["check-not-asked"]),
        ("nothing passed", {"sit-to-stand": NOT_YET}, "sit-to-stand", ["check-not-passed"]),
        ("one passed", {"sit-to-stand": PASS, "squat": NOT_YET}, "sit-to-stand", ["check-passed"]),
        ("two passed", {"sit-to-stand": PASS, "squat": PASS}, "squat", ["check-passed"]),
        (
            "a gap is not passed over",
            {"sit-to-stand": PASS, "goblet": PASS},
            "sit-to-stand",
            ["check-passed"],
        ),
        (
            "not yet below is not passed over",
            {"sit-to-stand": PASS, "squat": NOT_YET, "goblet": PASS},
            "sit-to-stand",
            ["check-passed"],
        ),
        (
            "what hurts is not passed",
            {"sit-to-stand": PASS, "squat": PASS, "goblet": HURTS, "split": PASS},
            "squat",
            ["check-hurts", "check-passed"],
        ),
        ("the bottom hurts", {"sit-to-stand": HURTS, "squat": PASS}, None, ["check-bottom-hurts"]),
    ],
)
def test_s5_the_start_level_is_the_highest_with_all_criteria_passed(
    what: str, results: dict[str, CheckResult], start: str | None, keys: list[str]
) -> None:
    levels, reasons = start_levels(LIBRARY, results)
    assert levels.get(Pattern.SQUAT) == start, what
    squat = [reason for reason in reasons if reason.figures["exercise"] not in ("plank", "press-up")]
    assert [reason.key for reason in squat] == keys, what


def test_s5_of_one_level_the_kit_decides_and_then_what_leads_further_up() -> None:
    """Of two exercises passed at one level it is not the name that decides (ours)."""
    results = dict.fromkeys(("sit-to-stand", "squat", "goblet", "hip-squat"), PASS)

    def start(*kits: Kit) -> str:
        return start_levels(LIBRARY, results, kits)[0][Pattern.SQUAT]

    assert start() == start(NOTHING) == start(HALL) == "goblet"
    assert start(Kit(bands=(1, 2))) == "hip-squat"
    assert start(Kit(bands=(1, 2)), HALL) == "goblet"


def test_s5_every_family_gets_a_start_and_a_reason() -> None:
    levels, reasons = start_levels(LIBRARY, {})
    assert levels == {
        Pattern.SQUAT: "sit-to-stand",
        Pattern.PUSH: "press-up",
        Pattern.FRONT_TRUNK: "plank",
    }
    assert Reason("S5", "check-not-asked", {"exercise": "plank"}) in reasons


RIDERS = st.builds(
    lambda youngest, more, growth: rider(youngest, youngest + more, growth=growth),
    st.integers(10, 80),
    st.integers(0, 1),
    st.sampled_from(Growth),
)
SLOTS = st.builds(
    lambda low, high, sets, rest: slot(low=low, high=high, sets=sets, rest_s=rest),
    st.none() | st.integers(1, 30),
    st.none() | st.integers(1, 30),
    st.integers(1, 6),
    st.integers(0, 240),
)


@given(
    RIDERS, SLOTS, st.sampled_from([(SIT, None), (SQUAT, KETTLEBELL), (GOBLET, KETTLEBELL), (FRONT, BARBELL)])
)
def test_i2_i11_every_first_target_is_reachable_and_within_the_limits_of_age(
    who: object, where: object, pair: tuple[Exercise, Holding | None]
) -> None:
    limits = age_limits(who)  # type: ignore[arg-type]
    subject, holding = pair
    target = first_target(subject, where, holding, HALL, limits)  # type: ignore[arg-type]
    if subject is FRONT and limits.under_18:
        assert target is None  # the bar alone is too heavy to begin with
        return
    assert target is not None
    assert is_reachable(HALL, target.load)
    assert limits.min_reps <= target.amount <= limits.max_reps
    assert 1 <= target.sets <= 2
    assert target.rest_s >= limits.min_rest_s
    if subject.loading is Loading.EITHER:
        assert total_kg(target.load) <= first_load_limit(subject)
    if limits.under_18:
        assert 6 <= target.amount <= 15


@given(SLOTS)
def test_s2_a_hold_starts_at_30_s_at_most(where: object) -> None:
    hard = exercise("lever", 1, pattern=Pattern.FRONT_TRUNK, measure=Measure.HOLD, low=5, high=60)
    target = first_target(hard, where, None, NOTHING, ADULT)  # type: ignore[arg-type]
    assert target is not None
    assert target.amount <= 30
