"""P11: what check-ins say of a maximum, for reading only: the median with its spread, and when there is none."""

import ast
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal, getcontext, localcontext
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.concerns import BodyState, Gate, SiteGate
from athletes.vocabulary import Pattern, Region, Side
from programs.engine import estimates
from programs.engine.estimates import (
    FORMULAS,
    HANDBOOK_PERCENT,
    MOST_REPS,
    REASONS,
    RECENT_DAYS,
    Estimate,
    Formula,
    Withheld,
    best_estimates,
    best_holds,
    estimate,
    load_for,
    may_be_estimated,
    one_rep_maximum,
    rep_loads,
    set_estimates,
)
from programs.engine.facts import Done, Exposure, Library, Load, Loading, Measure, Target
from programs.engine.strength import AgeLimits, age_limits
from tests.engine.histories import ADULT, SEVENTEEN, TODAY, asked
from tests.engine.samples import (
    BACKPACK,
    BAND,
    DUMBBELL,
    DUMBBELL_PAIR,
    GOBLET,
    HIP_SQUAT,
    KETTLEBELL,
    LIBRARY,
    PLANK,
    SQUAT,
    bell,
    exercise,
    rider,
)

WELL = BodyState()
KNEE_SORE = BodyState(gates=(SiteGate(Region.KNEE, Side.LEFT, Gate.HOLD, ()),))
LOADS = st.decimals(1, 300, places=2)


def did(
    kg: Any = 20,
    reps: tuple[int, ...] = (6, 6, 6),
    left: int | None = 2,
    *,
    ago: int = 5,
    slug: str = "goblet",
) -> Exposure:
    """The exercise done with a kettlebell so many days ago, with so many good reps left."""
    load = kg if isinstance(kg, Load) or kg is None else bell(kg)
    target = asked(max(reps), load, sets=len(reps))
    return Exposure(TODAY - timedelta(days=ago), slug, target, Done(reps, load=load, reps_left=left))


def found(
    *exposures: Exposure, limits: AgeLimits = ADULT, state: BodyState = WELL, library: Library = LIBRARY
) -> list[tuple[str, Decimal]]:
    """Exercise and median of the best estimates."""
    best = best_estimates(exposures, library, limits=limits, state=state, on=TODAY)
    return [(one.exercise, one.estimate.kg) for one in best]


# --- one set ----------------------------------------------------------------------------------------------------------


def test_p11_an_estimate_is_the_median_of_seven_formulas_and_the_table_with_its_spread() -> None:
    one = estimate(Decimal(60), 8, under_18=False)
    assert isinstance(one, Estimate)
    values = sorted(value for _formula, value in one.by)
    assert [formula for formula, _value in one.by] == list(Formula)
    assert (one.low, one.high, one.reps) == (values[0], values[-1], 8)
    assert one.low == Decimal(72) and one.high == Decimal("76.6")
    assert values[3] <= one.kg <= values[4]


def test_p11_one_rep_is_the_maximum_itself() -> None:
    one = estimate(Decimal("62.5"), 1, under_18=False)
    assert isinstance(one, Estimate)
    assert {one.kg, one.low, one.high, *(value for _formula, value in one.by)} == {Decimal("62.5")}


def test_p11_reps_left_count_with_those_done() -> None:
    assert estimate(Decimal(60), 6, under_18=False, reps_left=2) == estimate(Decimal(60), 8, under_18=False)
    single = estimate(Decimal(60), 1, under_18=False, reps_left=2)
    assert isinstance(single, Estimate) and single.reps == 3 and single.kg > 60


@pytest.mark.parametrize(
    ("what", "changes", "rule", "key"),
    [
        ("11 reps", {"reps": 11}, "P11", "estimate-too-many-reps"),
        ("9 reps and 2 left", {"reps": 9, "reps_left": 2}, "P11", "estimate-too-many-reps"),
        ("6 left", {"reps": 3, "reps_left": 6}, "P11", "estimate-too-many-left"),
        ("under 18", {"reps": 5, "under_18": True}, "S3", "estimate-under-18"),
        ("a sore site", {"reps": 5, "is_sore": True}, "P11", "estimate-where-sore"),
    ],
)
def test_p11_s3_an_estimate_is_withheld_with_a_reason(
    what: str, changes: dict[str, Any], rule: str, key: str
) -> None:
    one = estimate(Decimal(60), **{"under_18": False, **changes})
    assert isinstance(one, Withheld), what
    assert [(reason.rule, reason.key) for reason in one.reasons] == [(rule, key)]
    assert "{" not in REASONS[key].format(**one.reasons[0].figures)


@pytest.mark.parametrize("changes", [{"reps": 10}, {"reps": 5, "reps_left": 5}])
def test_p11_ten_reps_and_five_left_are_still_used(changes: dict[str, int]) -> None:
    assert isinstance(estimate(Decimal(60), under_18=False, **changes), Estimate)


@pytest.mark.parametrize(("kg", "reps", "left"), [(0, 5, 0), (-5, 5, 0), (60, 0, 0), (60, 5, -1)])
def test_p11_a_set_that_cannot_be_is_refused(kg: int, reps: int, left: int) -> None:
    with pytest.raises(ValueError, match="an estimate needs"):
        estimate(Decimal(kg), reps, under_18=False, reps_left=left)


@pytest.mark.parametrize("reps", [0, 11])
@pytest.mark.parametrize("formula", Formula)
def test_p11_no_formula_is_used_outside_1_to_10_reps(formula: Formula, reps: int) -> None:
    with pytest.raises(ValueError, match=f"not {reps}"):
        one_rep_maximum(formula, Decimal(60), reps)
    with pytest.raises(ValueError, match=f"not {reps}"):
        load_for(formula, Decimal(60), reps)


@given(LOADS, st.integers(1, MOST_REPS), st.sampled_from(Formula))
def test_p11_the_inverse_gives_the_load_back(kg: Decimal, reps: int, formula: Formula) -> None:
    maximum = one_rep_maximum(formula, kg, reps)
    assert float(load_for(formula, maximum, reps)) == pytest.approx(float(kg), rel=1e-20)


@given(LOADS, st.integers(2, 5), st.integers(1, MOST_REPS), st.sampled_from(Formula))
def test_p11_every_formula_is_linear_in_the_load(
    kg: Decimal, times: int, reps: int, formula: Formula
) -> None:
    twice = one_rep_maximum(formula, kg * times, reps)
    assert float(twice) == pytest.approx(times * float(one_rep_maximum(formula, kg, reps)), rel=1e-20)


@given(LOADS, st.integers(1, MOST_REPS - 1), st.sampled_from(Formula))
def test_p11_more_reps_never_say_less(kg: Decimal, reps: int, formula: Formula) -> None:
    fewer, more = (one_rep_maximum(formula, kg, count) for count in (reps, reps + 1))
    assert kg <= fewer < more


def test_p11_the_callers_precision_changes_nothing() -> None:
    before = estimate(Decimal("61.3"), 7, under_18=False)
    with localcontext() as context:
        context.prec = 3
        assert estimate(Decimal("61.3"), 7, under_18=False) == before
    assert getcontext().prec > 3


def test_p11_the_loads_of_a_maximum_fall_with_the_reps_and_start_at_it() -> None:
    table = rep_loads(Decimal(100))
    assert [row.reps for row in table] == list(range(1, 11))
    assert (table[0].low, table[0].kg, table[0].high) == (100, 100, 100)
    assert all(row.low <= row.kg <= row.high for row in table)
    kgs = [row.kg for row in table]
    assert kgs == sorted(kgs, reverse=True) and len(set(kgs)) == len(kgs)


# --- a rider's check-ins ----------------------------------------------------------------------------------------------


def test_p11_the_best_of_the_last_weeks_is_shown_with_its_day_and_its_set() -> None:
    best = best_estimates(
        [did(16, ago=30), did(20, ago=12), did(20, (6, 5, 5), ago=3)],
        LIBRARY,
        limits=ADULT,
        state=WELL,
        on=TODAY,
    )
    assert len(best) == 1
    one = best[0]
    assert (one.exercise, one.holding, one.load) == ("goblet", KETTLEBELL, bell(20))
    assert (one.on, one.amount, one.reps_left) == (TODAY - timedelta(days=12), 6, 2)
    assert one.estimate == estimate(Decimal(20), 8, under_18=False)


def test_p11_of_a_session_the_least_set_counts() -> None:
    best = best_estimates([did(20, (8, 7, 5))], LIBRARY, limits=ADULT, state=WELL, on=TODAY)
    assert [one.amount for one in best] == [5]


def test_p11_of_equal_ones_the_newest_stands() -> None:
    best = best_estimates([did(ago=20), did(ago=6)], LIBRARY, limits=ADULT, state=WELL, on=TODAY)
    assert [one.on for one in best] == [TODAY - timedelta(days=6)]


@pytest.mark.parametrize(
    ("what", "exposure"),
    [
        ("4 or more left is no number", did(left=4)),
        ("reps left not answered", did(left=None)),
        ("above 10 reps with those left", did(reps=(9, 9, 9))),
        ("nothing was done", did(reps=(0,))),
        ("no report", Exposure(TODAY, "goblet", asked(6, bell(20)))),
        ("older than 56 days", did(ago=RECENT_DAYS)),
        ("later than the day", did(ago=-1)),
        ("a band has no kg", did(Load(BAND, band=2), slug="hip-squat")),
        ("not in the library", did(slug="unheard-of")),
        ("body weight", did(None, slug="squat")),
        ("the body is most of the load", did(Load(BACKPACK, kg=Decimal(4)), slug="press-up")),
        ("body weight with a bell", did(8, slug="squat")),
        (
            "a bridge",
            Exposure(
                TODAY,
                "goblet",
                asked(6, bell(16), bridge_load=bell(20), bridge_sets=1, bridge_amount=5),
                Done((6, 6, 5), load=bell(16), reps_left=2),
            ),
        ),
    ],
)
def test_p11_h3_what_is_not_known_well_enough_gives_no_estimate(what: str, exposure: Exposure) -> None:
    assert found(exposure) == [], what
    assert found(exposure, did(ago=9)) != [], what


def test_p11_the_last_day_of_the_56_counts() -> None:
    assert found(did(ago=RECENT_DAYS - 1)) != []


@pytest.mark.parametrize("limits", [SEVENTEEN, age_limits(rider(15)), age_limits(rider(17, 18))])
def test_s3_i11_under_18_nothing_is_estimated_whatever_was_done(limits: AgeLimits) -> None:
    assert found(did(), limits=limits) == []
    assert set_estimates([did()], LIBRARY, limits=limits, state=WELL, on=TODAY) == ()


@pytest.mark.parametrize(
    "state",
    [
        KNEE_SORE,
        BodyState(gates=(SiteGate(Region.HIP, Side.BOTH, Gate.STOP, ()),)),
        BodyState(rises_barred=True),
        BodyState(halves_everything=True),
        BodyState(stops_everything=True),
    ],
)
def test_t1_what_loads_a_sore_site_has_no_estimate_and_no_best_hold(state: BodyState) -> None:
    assert found(did(), state=state) == []


def test_t1_what_spares_the_sore_site_keeps_its_estimate() -> None:
    press = exercise(
        "press",
        1,
        pattern=Pattern.PUSH,
        loading=Loading.EXTERNAL,
        holdings=(DUMBBELL,),
        primary=frozenset({Region.SHOULDER}),
        secondary=frozenset(),
    )
    both = did(), did(slug="press")
    assert [slug for slug, _kg in found(*both, state=KNEE_SORE, library=Library((GOBLET, press)))] == [
        "press"
    ]


def test_h1_each_implement_has_an_estimate_of_its_own() -> None:
    single, pair = Load(DUMBBELL, kg=Decimal(20)), Load(DUMBBELL_PAIR, kg=Decimal(12))
    best = best_estimates([did(16), did(single), did(pair)], LIBRARY, limits=ADULT, state=WELL, on=TODAY)
    assert [one.holding for one in best] == [KETTLEBELL, DUMBBELL, DUMBBELL_PAIR]
    # Of each implement, as loads are: a pair of 12 kg says something of a pair, and nothing of one of 24.
    assert best[2].estimate == estimate(Decimal(12), 8, under_18=False)


def test_h3_a_double_report_counts_once_by_its_less_good_result() -> None:
    good, less = did(reps=(6, 6, 6)), replace(did(), done=Done((6, 6, 4), load=bell(20), reps_left=2))
    assert found(good, less) == found(less, good) == found(less) != found(good)


@pytest.mark.parametrize(
    ("one", "may"),
    [
        (GOBLET, True),
        (SQUAT, False),
        (HIP_SQUAT, True),
        (PLANK, False),
        (exercise("carry", 1, pattern=Pattern.CARRY, loading=Loading.EXTERNAL), False),
        (exercise("row", 1, pattern=Pattern.PULL, loading=Loading.EXTERNAL), True),
    ],
)
def test_p11_the_formulas_are_for_lifts_whose_load_is_all_external(one: Any, may: bool) -> None:
    assert may_be_estimated(one) is may


# --- holds ------------------------------------------------------------------------------------------------------------


def held(*seconds: int, ago: int = 5, slug: str = "plank", **changes: Any) -> Exposure:
    target = Target(Measure.HOLD, len(seconds), max(seconds))
    done = Done(**({"amounts": seconds} | changes))
    return Exposure(TODAY - timedelta(days=ago), slug, target, done)


def test_p11_the_best_hold_is_the_longest_set_of_the_last_weeks() -> None:
    holds = best_holds([held(40, 35, ago=9), held(30, 42), held(90, ago=60)], LIBRARY, state=WELL, on=TODAY)
    assert [(one.exercise, one.seconds, one.on) for one in holds] == [
        ("plank", 42, TODAY - timedelta(days=5))
    ]


def test_p6_the_weaker_side_is_the_hold() -> None:
    sides = held(40, amounts=None, left_amounts=(40, 30), right_amounts=(25, 35))
    assert [one.seconds for one in best_holds([sides], LIBRARY, state=WELL, on=TODAY)] == [30]
    one_side = held(40, amounts=None, left_amounts=(40,))
    assert best_holds([one_side], LIBRARY, state=WELL, on=TODAY) == ()


def test_t1_a_hold_that_loads_a_sore_site_is_not_shown() -> None:
    sore = BodyState(gates=(SiteGate(Region.SHOULDER, Side.LEFT, Gate.HOLD, ()),))
    assert best_holds([held(40)], LIBRARY, state=sore, on=TODAY) == ()


# --- for reading only -------------------------------------------------------------------------------------------------

ENGINE = Path(estimates.__file__).parent
#: What reports, and what the command line asks. Nothing else may know of estimates or of a body mass.
READERS = {"monitoring", "questions", "trends", "effective_load", "estimates"}


def imported_by(module: Path) -> set[str]:
    tree = ast.parse(module.read_text("utf-8"))
    return {
        name
        for node in ast.walk(tree)
        for name in (
            [node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)]
            if isinstance(node, ast.ImportFrom)
            else [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else []
        )
    }


@pytest.mark.parametrize("reader", ["estimates", "effective_load", "trends", "monitoring"])
def test_p11_i13_nothing_that_decides_knows_an_estimate_a_trend_or_a_body_mass(reader: str) -> None:
    told = {path.stem for path in ENGINE.glob("*.py") if f"programs.engine.{reader}" in imported_by(path)}
    assert told <= READERS
    assert told, reader


def test_every_formula_and_every_row_of_the_table_is_there() -> None:
    assert set(FORMULAS) == set(Formula)
    assert set(HANDBOOK_PERCENT) == set(range(1, MOST_REPS + 1))
    assert all("S: " in (formula.__doc__ or "") for formula in FORMULAS.values())
