"""Rules T1 to T5 and the illness part of P10, in tables named after the rules, and their monotonicity."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from athletes.concerns import (
    Baseline,
    BodyReport,
    Event,
    Gate,
    Matter,
    Outcome,
    ReportKind,
    Sign,
    SorenessTrait,
    Symptom,
    SymptomReport,
    Topic,
    Urgency,
)
from athletes.triage import REASONS, assess, classify, gate_for, may_return, returned_on, sites_to_ask
from athletes.vocabulary import Region, Side

ON = date(2026, 3, 20)
KNEE = frozenset({Region.KNEE})
NONE = frozenset()
SORE = frozenset(
    {
        SorenessTrait.BOTH_SIDES,
        SorenessTrait.IN_THE_MUSCLE,
        SorenessTrait.AFTER_NEW_WORK,
        SorenessTrait.EASES_ON_MOVING,
    }
)


def knee(days_ago, during=None, morning=None, **more):
    more.setdefault("side", Side.LEFT)
    return BodyReport(
        on=ON - timedelta(days=days_ago), region=Region.KNEE, during=during, next_morning=morning, **more
    )


def thighs(days_ago=1, during=4, hours=24, traits=SORE, **more):
    values = {
        "on": ON - timedelta(days=days_ago),
        "region": Region.FRONT_THIGH,
        "during": during,
        "kind": ReportKind.SORENESS,
        "traits": traits,
        "hours_since_work": hours,
    }
    return BodyReport(**(values | more))


def matter(opened, closed=None, outcome=None, side=Side.LEFT):
    return Matter(
        Region.KNEE,
        side,
        ON - timedelta(days=opened),
        None if closed is None else ON - timedelta(days=closed),
        outcome,
    )


def state(reports=(), symptoms=(), matters=(), baselines=(), on=ON, under_18=False, **more):
    return assess(reports, symptoms, matters, baselines, on=on, under_18=under_18, **more)


def gate(reports=(), regions=KNEE, **more):
    return gate_for(regions, NONE, state(reports, **more))[0]


def keys(reasons):
    return {reason.key for reason in reasons}


def pain_calls(*args, **more):
    return [
        (concern.urgency, concern.side)
        for concern in state(*args, **more).concerns
        if concern.topic is Topic.PAIN
    ]


# --- T1 ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("during", "morning", "expected", "key"),
    [
        (0, 0, Gate.FREE, None),
        (2, 2, Gate.FREE, None),
        (2, 0, Gate.FREE, None),
        (3, 0, Gate.HOLD, "pain-repeat"),
        (3, 3, Gate.HOLD, "pain-repeat"),
        (2, 3, Gate.HOLD, "pain-repeat"),
        (4, 2, Gate.EASE, "pain-ease"),
        (5, 5, Gate.EASE, "pain-ease"),
        (5, 6, Gate.STOP, "pain-stop"),
        (6, 0, Gate.STOP, "pain-stop"),
        (0, 6, Gate.STOP, "pain-stop"),
        (7, 7, Gate.STOP, "pain-stop"),
        # the next morning 2 or more above during: step down, whatever the score
        (0, 2, Gate.EASE, "pain-morning-rise"),
        (1, 3, Gate.EASE, "pain-morning-rise"),
        (0, 1, Gate.FREE, None),
        # not answered is unknown, never zero
        (0, None, Gate.HOLD, "pain-morning-unknown"),
        (2, None, Gate.HOLD, "pain-morning-unknown"),
        (4, None, Gate.EASE, "pain-ease"),
        (None, 1, Gate.FREE, None),
        (None, 4, Gate.EASE, "pain-ease"),
        (None, None, Gate.HOLD, "pain-unknown"),
    ],
)
def test_t1_each_score_has_its_gate(during, morning, expected, key):
    found, reasons = gate_for(KNEE, NONE, state([knee(1, during, morning)]))
    assert found is expected
    assert (key in keys(reasons)) if key else reasons == ()


@pytest.mark.parametrize(
    ("report", "stops", "urgency"),
    [
        (knee(1, 5, 5), False, None),
        (knee(1, 6, 2), False, Urgency.TODAY),
        (knee(1, 7, 7), False, Urgency.TODAY),
        (knee(1, 8, 0), True, Urgency.NOW),
        (knee(1, 0, 10), True, Urgency.NOW),
        (knee(1, 0, 0, signs=frozenset({Sign.POP})), True, Urgency.NOW),
        (knee(1, 1, 1, signs=frozenset({Sign.SWELLING})), True, Urgency.NOW),
        (knee(1, signs=frozenset({Sign.CANNOT_BEAR_WEIGHT})), True, Urgency.NOW),
    ],
)
def test_t1_eight_or_a_sign_stops_everything_and_six_calls_a_coach_the_same_day(report, stops, urgency):
    found = state([report])
    assert found.stops_everything is stops
    assert gate_for(frozenset({Region.SHOULDER}), NONE, found)[0] is (Gate.STOP if stops else Gate.FREE)
    assert pain_calls([report]) == ([(urgency, Side.LEFT)] if urgency else [])


@pytest.mark.parametrize(
    ("reports", "expected"),
    [
        ([knee(14, 3, 3)], Gate.HOLD),
        ([knee(15, 3, 3)], Gate.FREE),
        ([knee(14, 4, 3)], Gate.EASE),
        ([knee(15, 4, 3)], Gate.FREE),
        # the newest report counts, and 3 or more in the last 14 days bars a rise
        ([knee(10, 4, 3), knee(3, 1, 1)], Gate.HOLD),
        ([knee(15, 4, 3), knee(3, 1, 1)], Gate.FREE),
        ([knee(10, 2, 2), knee(3, 1, 1)], Gate.FREE),
        # a stop does not end with time
        ([knee(60, 6, 2)], Gate.STOP),
        ([knee(60, 6, 2), knee(3, 0, 0)], Gate.STOP),
        # a report from a zone that is a day ahead counts at once
        ([knee(-1, 6, None)], Gate.STOP),
    ],
)
def test_t1_the_newest_report_counts_for_14_days_and_a_stop_until_it_is_over(reports, expected):
    assert gate(reports) is expected


def test_t1_two_reports_of_a_day_are_one_and_the_higher_pain_stands():
    assert gate([knee(1, 1, 1), knee(1, 4, 1)]) is Gate.EASE
    assert gate([knee(1, 4, 1), knee(1, 1, 1)]) is Gate.EASE
    # a second, higher "during" does not hide a morning that rose
    assert gate([knee(1, 0, 2), knee(1, 2, None)]) is Gate.EASE
    # one day counts once towards the three of T2
    assert "pain-three-days" not in keys(
        state([knee(1, 3, 3), knee(1, 3, 2), knee(1, 3, 1)]).gates[0].reasons
    )


def test_t1_a_morning_told_at_the_next_check_in_answers_the_report_from_before_it():
    before, after = knee(4, 1), knee(4, 1, 0)
    assert gate([before]) is Gate.HOLD
    assert gate([before, after]) is Gate.FREE
    assert gate([after, before]) is Gate.FREE
    # what the morning said still counts, and so does a report with no score at all
    assert gate([before, knee(4, 1, 3)]) is Gate.EASE
    assert gate([knee(4), after]) is Gate.HOLD


def test_t1_pain_on_one_side_leaves_the_better_report_of_the_other_side_alone():
    found = state([knee(5, 4, 2), knee(1, 1, 1, side=Side.RIGHT)])
    assert [(site.side, site.gate) for site in found.gates] == [
        (Side.LEFT, Gate.EASE),
        (Side.RIGHT, Gate.FREE),
    ]
    assert gate_for(KNEE, NONE, found)[0] is Gate.EASE


def test_t1_what_holds_for_both_sides_is_told_once():
    found = state([knee(1, 6, 6, side=Side.BOTH)])
    assert [site.side for site in found.gates] == [Side.BOTH]
    assert [(concern.region, concern.side) for concern in found.concerns] == [(Region.KNEE, Side.BOTH)]


def test_t1_only_what_loads_the_site_is_gated_and_a_little_load_is_load():
    found = state([knee(1, 4, 2)])
    assert gate_for(frozenset({Region.SHOULDER}), frozenset({Region.ELBOW}), found) == (Gate.FREE, ())
    assert gate_for(frozenset({Region.HIP}), KNEE, found)[0] is Gate.EASE


@pytest.mark.parametrize("score", [-1, 11])
def test_t1_a_score_outside_0_to_10_is_refused_by_name(score):
    with pytest.raises(ValueError, match="during of knee on 2026-03-19 must be 0 to 10"):
        state([knee(1, score)])


# --- T2 ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reports", "key"),
    [
        ([knee(13, 3, 3), knee(6, 3, 3), knee(0, 3, 3)], "pain-three-days"),
        ([knee(14, 3, 3), knee(6, 3, 3), knee(0, 3, 3)], None),
        ([knee(6, 3, 3), knee(0, 3, 3)], None),
        ([knee(5, 1, 1), knee(1, 3, 3)], "pain-rise"),
        ([knee(5, 2, 2), knee(1, 3, 3)], None),
        ([knee(5, 0, 0), knee(1, 2, 1)], None),
        # creeping up counts from the lowest of the fortnight
        ([knee(9, 1, 1), knee(5, 2, 2), knee(1, 3, 3)], "pain-rise"),
        ([knee(15, 1, 1), knee(1, 3, 3)], None),
        # what went before a first report is unknown, not zero
        ([knee(1, 3, 3)], None),
    ],
)
def test_t2_a_pattern_calls_a_coach_and_bars_a_rise(reports, key):
    found = state(reports)
    patterns = {"pain-three-days", "pain-rise"} & keys(found.gates[0].reasons)
    assert patterns == ({key} if key else set())
    assert pain_calls(reports) == ([(Urgency.SOON, Side.LEFT)] if key else [])


def test_t2_no_rise_until_a_coach_closes_it_however_long_it_takes():
    old = [knee(45, 1, 1), knee(41, 3, 3)]
    assert gate(old) is Gate.HOLD
    assert gate(old, matters=[matter(41)]) is Gate.HOLD
    assert gate(old, matters=[matter(41, 30, Outcome.CARRY_ON)]) is Gate.FREE
    # closed before it began, or on the other side: not closed
    assert gate(old, matters=[matter(60, 50, Outcome.CARRY_ON)]) is Gate.HOLD
    assert gate(old, matters=[matter(41, 30, Outcome.CARRY_ON, side=Side.RIGHT)]) is Gate.HOLD
    assert gate(old, matters=[matter(41, 30, Outcome.CARRY_ON, side=Side.BOTH)]) is Gate.FREE


def test_t2_an_open_matter_bars_a_rise_even_without_reports():
    found, reasons = gate_for(KNEE, NONE, state(matters=[matter(40)]))
    assert (found, keys(reasons)) == (Gate.HOLD, {"pain-matter-open"})


USUAL = {"kind": ReportKind.LONG_STANDING}


@pytest.mark.parametrize(
    ("report", "review_in", "limit", "expected"),
    [
        (knee(1, 5, 5, **USUAL), 20, 5, Gate.HOLD),
        (knee(1, 2, 2, **USUAL), 20, 5, Gate.FREE),
        (knee(1, 4, 4, **USUAL), 20, 3, Gate.EASE),
        (knee(1, 6, 5, **USUAL), 20, 5, Gate.STOP),
        # never beyond 5, whatever was entered
        (knee(1, 6, 5, **USUAL), 20, 9, Gate.STOP),
        # a morning that rose by 2 is not usual
        (knee(1, 2, 4, **USUAL), 20, 5, Gate.EASE),
        # a new pain at the same place is a pain
        (knee(1, 5, 5), 20, 5, Gate.EASE),
        # a side that was not seen has no baseline
        (knee(1, 5, 5, side=Side.RIGHT, **USUAL), 20, 5, Gate.EASE),
        # counts to the day of its review, which is at most six weeks off
        (knee(1, 5, 5, **USUAL), 0, 5, Gate.HOLD),
        (knee(1, 5, 5, **USUAL), -1, 5, Gate.EASE),
        (knee(1, 5, 5, **USUAL), 42, 5, Gate.HOLD),
        (knee(1, 5, 5, **USUAL), 43, 5, Gate.EASE),
    ],
)
def test_t2_a_baseline_repeats_what_would_be_eased(report, review_in, limit, expected):
    seen = Baseline(Region.KNEE, Side.LEFT, limit, ON + timedelta(days=review_in))
    assert gate([report], baselines=[seen]) is expected


def test_t2_a_new_pain_beside_the_usual_one_is_a_pain():
    seen = Baseline(Region.KNEE, Side.LEFT, 5, ON + timedelta(days=20))
    assert gate([knee(1, 5, 5, **USUAL), knee(1, 4, 4)], baselines=[seen]) is Gate.EASE


def test_t2_no_baseline_makes_a_score_above_5_usual():
    seen = Baseline(Region.KNEE, Side.LEFT, 9, ON + timedelta(days=20))
    found = state([knee(9, 2, 2, **USUAL), knee(1, 6, 6, **USUAL)], baselines=[seen])
    assert "pain-rise" in keys(found.gates[0].reasons)


def test_t2_long_standing_pain_that_no_clinician_has_seen_is_pain():
    assert gate([knee(1, 5, 5, **USUAL)]) is Gate.EASE


def test_t2_usual_pain_calls_nobody_and_a_lapsed_baseline_calls_for_its_review():
    usual = [knee(days, 4, 4, **USUAL) for days in (9, 6, 3)]
    current = Baseline(Region.KNEE, Side.LEFT, 4, ON + timedelta(days=20))
    assert pain_calls(usual, baselines=[current]) == []
    assert pain_calls(baselines=[replace(current, review_on=ON - timedelta(days=1))]) == [
        (Urgency.ROUTINE, Side.LEFT)
    ]
    assert pain_calls(usual) == [(Urgency.SOON, Side.LEFT)]


# --- T3 ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("report", "expected"),
    [
        (thighs(during=5, hours=72), Gate.HOLD),
        (thighs(during=6, hours=24), Gate.HALF_SETS),
        (thighs(during=7, hours=24), Gate.HALF_SETS),
        (thighs(during=2, hours=73), Gate.HALF_SETS),
        (thighs(during=2, hours=None), Gate.HALF_SETS),
        (thighs(during=None, hours=24), Gate.HALF_SETS),
        (thighs(days_ago=7, during=4), Gate.HOLD),
        (thighs(days_ago=8, during=4), Gate.FREE),
    ],
)
def test_t3_soreness_repeats_or_halves_the_sets(report, expected):
    found = state([report])
    assert gate_for(frozenset({Region.FRONT_THIGH}), NONE, found)[0] is expected
    # loaded only a little: a repeat is enough
    assert gate_for(NONE, frozenset({Region.FRONT_THIGH}), found)[0] is min(expected, Gate.HOLD)
    assert found.concerns == ()


@pytest.mark.parametrize(
    "report",
    [
        thighs(side=Side.LEFT),
        *(thighs(traits=SORE - {trait}) for trait in sorted(SORE)),
        thighs(traits=SORE | {SorenessTrait.AT_NIGHT}),
        thighs(traits=SORE | {SorenessTrait.UNSURE}),
        thighs(signs=frozenset({Sign.SWELLING})),
        thighs(during=8),
        thighs(region=Region.KNEE),
        thighs(region=Region.ANKLE),
    ],
)
def test_t3_whatever_is_not_clearly_soreness_is_pain(report):
    assert classify(report, under_18=False) is ReportKind.PAIN
    assert gate_for(frozenset({report.region}), NONE, state([report]))[0] >= Gate.EASE


@pytest.mark.parametrize(
    ("region", "expected"),
    [
        (Region.FOOT_HEEL, ReportKind.PAIN),
        (Region.SHIN, ReportKind.PAIN),
        (Region.HIP, ReportKind.PAIN),
        (Region.LOWER_BACK, ReportKind.PAIN),
        (Region.UPPER_BACK, ReportKind.PAIN),
        (Region.FRONT_THIGH, ReportKind.SORENESS),
        (Region.CALF, ReportKind.SORENESS),
    ],
)
def test_t3_soreness_of_an_under_18_at_heel_shin_hip_or_back_is_pain(region, expected):
    report = thighs(region=region)
    assert classify(report, under_18=True) is expected
    if region is not Region.FOOT_HEEL:
        assert classify(report, under_18=False) is ReportKind.SORENESS


def test_t3_soreness_hides_no_pain_at_the_same_place():
    pain = thighs(days_ago=3, during=4, kind=ReportKind.PAIN, traits=NONE)
    assert gate([pain, thighs(days_ago=1, during=1)], frozenset({Region.FRONT_THIGH})) is Gate.EASE


# --- T4 ---------------------------------------------------------------------------------------------------------------


def symptom(days_ago=1, cleared=None, **what):
    on = ON - timedelta(days=days_ago)
    return SymptomReport(on, cleared_on=None if cleared is None else ON - timedelta(days=cleared), **what)


@pytest.mark.parametrize("sign", list(Symptom))
def test_t4_every_warning_symptom_stops_everything_at_once(sign):
    found = state(symptoms=[symptom(symptom=sign)])
    assert found.stops_everything
    assert gate_for(frozenset({Region.SHOULDER}), NONE, found)[0] is Gate.STOP
    assert [(one.topic, one.urgency) for one in found.concerns] == [(Topic.SYMPTOM, Urgency.NOW)]


@pytest.mark.parametrize(
    ("report", "stops"),
    [
        (symptom(300, symptom=Symptom.FAINTING), True),  # time clears nothing
        (symptom(5, 0, symptom=Symptom.FAINTING), False),
        (symptom(5, -1, symptom=Symptom.FAINTING), True),  # cleared only tomorrow
        (symptom(5, 6, symptom=Symptom.FAINTING), True),  # "cleared" before it was reported
        (symptom(-1, symptom=Symptom.FAINTING), True),
        (symptom(5, event=Event.CRASH), True),
        (symptom(5, 2, event=Event.CRASH), False),
        (symptom(5, event=Event.SURGERY), True),
        (symptom(5, event=Event.NUMBNESS_ON_BIKE), False),
    ],
)
def test_t4_a_stop_lasts_until_its_clearance_is_recorded(report, stops):
    assert state(symptoms=[report]).stops_everything is stops


def test_t4_one_clearance_does_not_clear_another_symptom():
    cleared, standing = symptom(9, 3, symptom=Symptom.FAINTING), symptom(2, symptom=Symptom.FAINTING)
    assert state(symptoms=[cleared, standing]).stops_everything


@pytest.mark.parametrize(
    ("event", "topic", "urgency"),
    [
        (Event.CRASH, Topic.CRASH, Urgency.TODAY),
        (Event.SURGERY, Topic.SCREENING, Urgency.TODAY),
        (Event.NUMBNESS_ON_BIKE, Topic.NUMBNESS, Urgency.SOON),
        (Event.FEVER_OR_CHEST, Topic.ILLNESS, Urgency.TODAY),
        (Event.ILLNESS, Topic.ILLNESS, Urgency.SOON),
    ],
)
def test_t4_each_event_calls_a_coach_until_it_is_over(event, topic, urgency):
    assert [(one.topic, one.urgency) for one in state(symptoms=[symptom(event=event)]).concerns] == [
        (topic, urgency)
    ]
    assert state(symptoms=[symptom(5, 1, event=event)]).concerns == ()


# --- P10, illness -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("over_days_ago", "done_days_ago", "stops", "halves", "barred"),
    [
        (None, [], True, False, False),
        (0, [], True, False, False),
        (2, [], True, False, False),  # the end of that day is not yet 48 h off
        (3, [], False, True, True),
        (9, [5], False, True, True),
        (9, [8, 7], False, True, True),  # sessions before it was clear prove nothing
        (9, [5, 2], False, False, False),
        (9, [5, 0], False, True, True),  # today's is not done yet
    ],
)
def test_p10_fever_or_chest_needs_48_hours_and_two_sessions(
    over_days_ago, done_days_ago, stops, halves, barred
):
    found = state(
        symptoms=[symptom(12, over_days_ago, event=Event.FEVER_OR_CHEST)],
        sessions_done=[ON - timedelta(days=days) for days in done_days_ago],
    )
    assert (found.stops_everything, found.halves_everything, found.rises_barred) == (stops, halves, barred)
    expected = Gate.STOP if stops else Gate.HALF_SETS if halves else Gate.FREE
    assert gate_for(KNEE, NONE, found)[0] is expected


@pytest.mark.parametrize(
    ("over_days_ago", "done_days_ago", "expected"),
    [
        (None, [], Gate.HALF_SETS),
        (4, [], Gate.HOLD),
        (4, [3], Gate.HOLD),
        (4, [3, 1], Gate.FREE),
    ],
)
def test_p10_other_illness_eases_and_then_bars_a_rise_for_two_sessions(
    over_days_ago, done_days_ago, expected
):
    found = state(
        symptoms=[symptom(9, over_days_ago, event=Event.ILLNESS)],
        sessions_done=[ON - timedelta(days=days) for days in done_days_ago],
    )
    assert gate_for(KNEE, NONE, found)[0] is expected


# --- T5 ---------------------------------------------------------------------------------------------------------------

SETTLED = [knee(20, 6, 5), knee(12, 2, 2), knee(8, 1, 1), knee(5, 1, 0)]


@pytest.mark.parametrize(
    ("reports", "matters", "lacks"),
    [
        (SETTLED, [], {"return-no-outcome"}),
        (SETTLED, [matter(20)], {"return-no-outcome"}),
        (SETTLED, [matter(20, 10)], {"return-no-outcome"}),  # closed without an outcome
        (SETTLED, [matter(30, 21, Outcome.RETURN)], {"return-no-outcome"}),  # closed before the stop
        (SETTLED, [matter(20, 18, Outcome.PAUSE)], {"return-no-outcome"}),
        (SETTLED, [matter(20, 18, Outcome.REFERRED)], {"return-no-outcome"}),
        (SETTLED, [matter(20, -1, Outcome.RETURN)], {"return-no-outcome"}),  # closes only tomorrow
        (SETTLED, [matter(20, 18, Outcome.RETURN, side=Side.RIGHT)], {"return-no-outcome"}),
        (SETTLED, [matter(20, 18, Outcome.RETURN), matter(9, 6, Outcome.PAUSE)], {"return-no-outcome"}),
        (SETTLED, [matter(20, 18, Outcome.RETURN), matter(9, None, Outcome.PAUSE)], {"return-no-outcome"}),
        (SETTLED, [matter(20, 18, Outcome.PAUSE), matter(18, 18, Outcome.RETURN)], {"return-no-outcome"}),
        (SETTLED, [matter(20, 18, Outcome.PAUSE), matter(18, 17, Outcome.RETURN)], set()),
        (SETTLED, [matter(20, 18, Outcome.RETURN)], set()),
        (SETTLED, [matter(20, 20, Outcome.CLEARED)], set()),
        (SETTLED[:1], [matter(20, 18, Outcome.RETURN)], {"return-not-settled"}),  # silence proves nothing
        (SETTLED[:3], [matter(20, 18, Outcome.RETURN)], {"return-not-settled"}),  # four days
        ([*SETTLED[:2], knee(8, 3, 1), SETTLED[3]], [matter(20, 18, Outcome.RETURN)], {"return-not-settled"}),
        ([*SETTLED, knee(1, 3, 1)], [matter(20, 18, Outcome.RETURN)], {"return-not-settled"}),
        (
            [*SETTLED, knee(1, 6, 1)],
            [matter(20, 18, Outcome.RETURN)],
            {"return-no-outcome", "return-not-settled"},
        ),
        # six days are not seven, nor with a report that is dated tomorrow
        (
            [SETTLED[0], knee(11, 1, 1), knee(5, 1, 1)],
            [matter(20, 18, Outcome.RETURN)],
            {"return-not-settled"},
        ),
        (
            [SETTLED[0], knee(6, 1, 1), knee(-1, 1, 1)],
            [matter(20, 18, Outcome.RETURN)],
            {"return-not-settled"},
        ),
        # a sign begins the seven days anew, whatever the score
        (
            [knee(12, 1, 1), knee(9, 1, 1, signs=frozenset({Sign.POP})), knee(5, 1, 1)],
            [matter(9, 8, Outcome.RETURN)],
            {"return-not-settled"},
        ),
        (SETTLED[1:], [], set()),  # nothing was stopped
    ],
)
def test_t5_a_stop_ends_with_an_outcome_and_seven_days_at_two_or_less(reports, matters, lacks):
    allowed, reasons = may_return(Region.KNEE, Side.LEFT, reports, matters, on=ON, under_18=False)
    assert (allowed, keys(reasons)) == (not lacks, lacks)
    assert (gate(reports, matters=matters) is Gate.STOP) is bool(lacks)


def test_t5_the_return_counts_from_the_later_of_outcome_and_settling_for_eight_weeks():
    matters = [matter(20, 18, Outcome.RETURN)]
    found = state(SETTLED, matters=matters)
    assert returned_on(KNEE, found) == ON - timedelta(days=5)
    assert returned_on(frozenset({Region.HIP}), found) is None
    assert returned_on(KNEE, state(SETTLED, matters=[matter(20, 2, Outcome.RETURN)])) == ON - timedelta(
        days=2
    )
    assert returned_on(KNEE, state(SETTLED, matters=matters, on=ON + timedelta(days=50))) is not None
    assert returned_on(KNEE, state(SETTLED, matters=matters, on=ON + timedelta(days=51))) is None


def test_t5_eight_or_a_sign_needs_the_outcome_before_anything_else_goes_on():
    pop = [knee(9, 3, 3, signs=frozenset({Sign.POP}))]
    hip = frozenset({Region.HIP})
    assert gate(pop, hip, matters=[matter(9)]) is Gate.STOP
    assert gate(pop, hip, matters=[matter(9, 8, Outcome.PAUSE)]) is Gate.STOP
    assert gate(pop, hip, matters=[matter(20, 10, Outcome.RETURN)]) is Gate.STOP  # closed before it happened
    assert pain_calls(pop, matters=[matter(20, 10, Outcome.RETURN)]) == [(Urgency.NOW, Side.LEFT)]
    released = [matter(9, 8, Outcome.RETURN)]
    assert gate(pop, hip, matters=released) is Gate.FREE
    assert gate(pop, KNEE, matters=released) is Gate.STOP


def test_t5_a_paused_site_keeps_a_place_for_the_outcome_that_ends_it():
    assert pain_calls([knee(9, 6, 6)]) == [(Urgency.TODAY, Side.LEFT)]
    assert pain_calls([knee(9, 6, 6)], matters=[matter(9, 8, Outcome.PAUSE)]) == [
        (Urgency.ROUTINE, Side.LEFT)
    ]
    assert pain_calls([knee(9, 6, 6)], matters=[matter(9, 8, Outcome.RETURN)]) == []
    assert gate(matters=[matter(9, 8, Outcome.REFERRED)]) is Gate.STOP


def test_t5_an_outcome_of_ease_eases_for_14_days():
    assert gate(matters=[matter(20, 14, Outcome.EASE)]) is Gate.EASE
    assert gate(matters=[matter(20, 15, Outcome.EASE)]) is Gate.FREE


def test_t5_what_only_an_answer_can_end_is_asked_about():
    assert sites_to_ask(state([knee(40, 6, 6)])) == ((Region.KNEE, Side.LEFT),)
    assert sites_to_ask(state(SETTLED, matters=[matter(20, 18, Outcome.RETURN)])) == (
        (Region.KNEE, Side.LEFT),
    )
    assert sites_to_ask(state([knee(1, 1, 1)])) == ()


# --- properties -------------------------------------------------------------------------------------------------------

scores = st.one_of(st.none(), st.integers(0, 10))
reports_of_a_knee = st.builds(
    knee,
    st.integers(0, 40),
    scores,
    scores,
    side=st.sampled_from(Side),
    kind=st.sampled_from(ReportKind),
    signs=st.frozensets(st.sampled_from(Sign), max_size=1),
)
thigh_reports = st.builds(
    thighs,
    st.integers(0, 20),
    scores,
    st.one_of(st.none(), st.integers(0, 120)),
    st.one_of(st.just(SORE), st.frozensets(st.sampled_from(SorenessTrait))),
    next_morning=scores,
    side=st.sampled_from(Side),
    kind=st.sampled_from(ReportKind),
)
histories = st.lists(st.one_of(reports_of_a_knee, thigh_reports), max_size=7)


@st.composite
def matters_of_a_knee(draw):
    opened = draw(st.integers(0, 40))
    closed = draw(st.one_of(st.none(), st.integers(0, opened)))
    return matter(opened, closed, draw(st.sampled_from([None, *Outcome])), draw(st.sampled_from(Side)))


cases = st.fixed_dictionaries(
    {
        "matters": st.lists(matters_of_a_knee(), max_size=2),
        "baselines": st.lists(
            st.builds(
                Baseline,
                st.just(Region.KNEE),
                st.sampled_from(Side),
                st.integers(1, 5),
                st.integers(-3, 45).map(lambda days: ON + timedelta(days=days)),
            ),
            max_size=1,
        ),
        "under_18": st.booleans(),
    }
)
REGIONS = [frozenset({Region.KNEE}), frozenset({Region.FRONT_THIGH}), frozenset({Region.SHOULDER})]


def gates(reports, case, symptoms=()):
    found = state(reports, symptoms=symptoms, **case)
    return [gate_for(one, two, found)[0] for one, two in [*product(REGIONS, [NONE]), (NONE, REGIONS[1])]]


def no_milder(before, after):
    return all(one <= other for one, other in zip(before, after, strict=True))


def raised(report, by):
    def up(score):
        return None if score is None else min(10, score + by)

    return replace(report, during=up(report.during), next_morning=up(report.next_morning))


@settings(max_examples=300)
@given(histories, cases, st.integers(1, 10))
def test_t1_more_pain_all_along_never_gives_a_milder_gate(reports, case, by):
    assert no_milder(gates(reports, case), gates([raised(one, by) for one in reports], case))


@settings(max_examples=300)
@given(histories, cases, st.integers(1, 10))
def test_t1_a_worse_morning_at_the_end_never_gives_a_milder_gate(reports, case, by):
    newest = max((one.on for one in reports), default=ON)
    worse = [
        replace(one, next_morning=min(10, (one.next_morning or 0) + by))
        if one.on == newest and one.next_morning is not None
        else one
        for one in reports
    ]
    assert no_milder(gates(reports, case), gates(worse, case))


@settings(max_examples=300)
@given(histories, cases, reports_of_a_knee)
def test_t1_a_further_report_on_the_newest_day_never_gives_a_milder_gate(reports, case, extra):
    newest = max((one.on for one in reports), default=ON)
    further = replace(extra, on=newest, kind=ReportKind.PAIN)
    same_day = [one for one in reports if one.on == newest]
    # an answer where there was none so far is news, not more pain
    if any(one.region is Region.KNEE and one.side in (further.side, Side.BOTH) for one in same_day):
        answered = replace(further, next_morning=None)
        assert no_milder(gates(reports, case), gates([*reports, answered], case))


@given(histories, cases)
def test_h3_an_unanswered_morning_never_allows_a_rise(reports, case):
    newest = ON if not reports else max(one.on for one in reports)
    unknown = knee((ON - newest).days, 0, None, side=Side.BOTH)
    others = [one for one in reports if one.region is not Region.KNEE or one.on != newest]
    if (ON - newest).days <= 14:
        assert gate([*others, unknown], **case) >= Gate.HOLD


@given(histories, cases, st.sampled_from(Sign))
def test_t1_a_sign_on_the_newest_day_stops_everything_without_a_coach(reports, case, sign):
    found = state([*reports, knee(0, 0, 0, signs=frozenset({sign}))], **(case | {"matters": []}))
    assert found.stops_everything


@given(histories, cases, st.sampled_from(Symptom))
def test_t4_a_warning_symptom_stops_whatever_else_is_known(reports, case, sign):
    assert set(gates(reports, case, [SymptomReport(ON, symptom=sign)])) == {Gate.STOP}


@settings(max_examples=300)
@given(histories, cases)
def test_i1_three_or_more_in_14_days_never_allows_a_rise(reports, case):
    found = state(reports, **case)
    for report in reports:
        known = [score for score in (report.during, report.next_morning) if score is not None]
        is_pain = classify(report, under_18=case["under_18"]) is not ReportKind.SORENESS
        if is_pain and max(known, default=0) >= 3 and (ON - report.on).days <= 14:
            assert gate_for(frozenset({report.region}), NONE, found)[0] >= Gate.HOLD


@given(histories, cases)
def test_i8_every_gate_has_a_reason_and_every_reason_its_sentence(reports, case):
    found = state(reports, **case)
    for regions in REGIONS:
        gate_found, reasons = gate_for(regions, NONE, found)
        assert (gate_found > Gate.FREE) == bool(reasons)
    for reason in [
        *found.reasons,
        *(reason for site in (*found.gates, *found.returns, *found.concerns) for reason in site.reasons),
    ]:
        assert REASONS[reason.key].format(**reason.figures)


@given(
    st.permutations([knee(9, 4, 2), knee(3, 1, 1), knee(1, 2, None), thighs(), knee(3, 5, 5, side=Side.BOTH)])
)
def test_i8_the_order_of_reports_does_not_matter(reports):
    ordered = sorted(reports, key=lambda one: (one.on, one.region, one.side))
    assert state(reports) == state(ordered)


def test_every_event_sentence_takes_its_figures():
    events = [symptom(9, cleared, event=event) for event in Event for cleared in (None, 4, 1)]
    found = state(symptoms=[*events, symptom(symptom=Symptom.HEAD_INJURY)])
    for reason in found.reasons:
        assert REASONS[reason.key].format(**reason.figures)
    assert len(keys(found.reasons)) == 7
