"""Rule S1: what health answers ask for, in tables named after the rule, and its monotonicity."""

from dataclasses import fields, replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.screening import (
    LIMITING,
    REASONS,
    AdultAnswers,
    GuardianNeeded,
    Intensity,
    Needs,
    YoungAnswers,
    missing,
    screen_adult,
    screen_young,
    year_on,
)

ON = date(2026, 3, 2)
ORDER = tuple(Needs)
WELL = AdultAnswers(
    active=True,
    disease=False,
    symptoms=False,
    intensity=Intensity.VIGOROUS,
    **dict.fromkeys(LIMITING, False),
)
WELL_YOUNG = YoungAnswers(**{one.name: False for one in fields(YoungAnswers)})


def keys(reasons):
    return {reason.key for reason in reasons}


def test_s1_an_active_well_adult_may_train():
    decision = screen_adult(WELL, on=ON)
    assert (decision.needs, decision.limits_needed, decision.clearance_from) == (Needs.NOTHING, False, None)
    assert missing(decision, answered_on=ON, on=ON) == ()


@pytest.mark.parametrize("name", LIMITING)
def test_s1_each_extra_answer_asks_for_a_named_clinicians_limits(name):
    decision = screen_adult(replace(WELL, **{name: True}), on=ON)
    assert decision.needs is Needs.LIMITS
    assert keys(decision.reasons) == {"screening-clear", f"screening-{name.replace('_', '-')}"}
    assert keys(missing(decision, answered_on=ON, on=ON)) == {"screening-no-limits"}
    assert missing(decision, answered_on=ON, on=ON, limits_recorded=True) == ()


def test_s1_limits_do_not_replace_a_clearance_nor_a_clearance_the_limits():
    decision = screen_adult(replace(WELL, active=False, disease=True, pregnant=True), on=ON)
    assert (decision.needs, decision.limits_needed) == (Needs.CLEARANCE, True)
    cleared = missing(decision, answered_on=ON, on=ON, cleared_on=ON)
    limited = missing(decision, answered_on=ON, on=ON, limits_recorded=True)
    assert keys(cleared) == {"screening-no-limits"}
    assert keys(limited) == {"screening-no-clearance"}
    assert missing(decision, answered_on=ON, on=ON, cleared_on=ON, limits_recorded=True) == ()


@pytest.mark.parametrize(
    ("blank", "needs", "limits_needed"),
    [
        ("active", Needs.LIGHT_ONLY, False),
        ("disease", Needs.CLEARANCE, False),
        ("symptoms", Needs.STOP, False),
        ("intensity", Needs.NOTHING, False),
        ("pregnant", Needs.LIMITS, True),
    ],
)
def test_s1_an_answer_not_given_is_read_as_the_one_that_asks_for_more(blank, needs, limits_needed):
    decision = screen_adult(replace(WELL, **{blank: None}), on=ON)
    assert (decision.needs, decision.limits_needed) == (needs, limits_needed)
    assert "screening-not-answered" in keys(decision.reasons)


def test_s1_no_answers_at_all_ask_for_the_strictest():
    assert screen_adult(AdultAnswers(), on=ON).needs is Needs.STOP
    assert screen_young(YoungAnswers(), by_guardian=True, on=ON).needs is Needs.STOP


@pytest.mark.parametrize(
    ("answers", "cleared_on", "is_missing"),
    [
        # row 6: a clearance of the twelve months before the answers counts
        ({"disease": True}, date(2025, 3, 2), False),
        ({"disease": True}, date(2025, 3, 1), True),
        # any other must not be older than the answers
        ({"active": False, "disease": True}, date(2026, 3, 1), True),
        ({"active": False, "disease": True}, date(2026, 3, 2), False),
        ({"symptoms": True}, date(2026, 3, 1), True),
        ({"symptoms": True}, date(2026, 3, 2), False),
        # a clearance that lies ahead is none
        ({"symptoms": True}, date(2026, 3, 5), True),
        ({"symptoms": True}, None, True),
    ],
)
def test_s1_a_clearance_counts_only_if_recent_enough(answers, cleared_on, is_missing):
    decision = screen_adult(replace(WELL, **answers), on=ON)
    lacks = missing(decision, answered_on=ON, on=date(2026, 3, 4), cleared_on=cleared_on)
    assert ("screening-no-clearance" in keys(lacks)) is is_missing


@pytest.mark.parametrize(
    ("on", "lacks"),
    [
        (date(2027, 3, 1), set()),
        (date(2027, 3, 2), {"screening-out-of-date"}),
    ],
)
def test_s1_answers_hold_for_a_year(on, lacks):
    assert keys(missing(screen_adult(WELL, on=ON), answered_on=ON, on=on)) == lacks


@pytest.mark.parametrize(
    ("crashes", "operations", "lacks"),
    [
        ([date(2026, 3, 2)], [], set()),  # on the day of the answers: they came after it
        ([date(2026, 3, 3)], [], {"screening-ended-by"}),
        ([], [date(2026, 3, 4)], {"screening-ended-by"}),
        ([], [date(2026, 3, 5)], set()),  # not yet
    ],
)
def test_s1_a_crash_or_surgery_ends_the_answers(crashes, operations, lacks):
    decision = screen_adult(WELL, on=ON)
    found = missing(decision, answered_on=ON, on=date(2026, 3, 4), crashes=crashes, operations=operations)
    assert keys(found) == lacks


def test_s1_answers_of_29_february_hold_to_the_end_of_the_next_february():
    assert year_on(date(2028, 2, 29)) == date(2029, 2, 28)
    assert year_on(date(2028, 2, 29), -1) == date(2027, 2, 28)


def test_s1_only_a_guardian_answers_for_an_under_18():
    with pytest.raises(GuardianNeeded):
        screen_young(WELL_YOUNG, by_guardian=False, on=ON)
    decision = screen_young(WELL_YOUNG, by_guardian=True, on=ON)
    assert (decision.needs, keys(decision.reasons)) == (Needs.NOTHING, {"screening-clear"})


@pytest.mark.parametrize(
    ("name", "needs"),
    [
        ("symptoms_in_sport", Needs.STOP),
        ("heart_condition", Needs.CLEARANCE),
        ("sudden_death_in_family", Needs.CLEARANCE),
        ("told_not_to_train", Needs.CLEARANCE),
        ("long_term_condition", Needs.CLEARANCE),
        ("head_injury_in_last_three_months", Needs.CLEARANCE),
        ("injury_or_operation_in_last_year", Needs.CLEARANCE),
        ("pain_at_night_or_limping", Needs.CLEARANCE),
        ("limits_set", Needs.LIMITS),
    ],
)
def test_s1_each_guardians_yes_asks_for_more(name, needs):
    decision = screen_young(replace(WELL_YOUNG, **{name: True}), by_guardian=True, on=ON)
    assert decision.needs is needs
    assert missing(decision, answered_on=ON, on=ON)


tristate = st.sampled_from([False, None, True])
adults = st.builds(
    AdultAnswers,
    active=tristate,
    intensity=st.sampled_from([Intensity.LIGHT_TO_MODERATE, None, Intensity.VIGOROUS]),
    **dict.fromkeys(["disease", "symptoms", *LIMITING], tristate),
)
youngsters = st.builds(YoungAnswers, **{one.name: tristate for one in fields(YoungAnswers)})


@given(adults, st.sampled_from(["disease", "symptoms", *LIMITING]))
def test_s1_a_worse_answer_never_asks_for_less(answers, name):
    free, worse = (screen_adult(replace(answers, **{name: answer}), on=ON) for answer in (False, True))
    assert ORDER.index(free.needs) <= ORDER.index(worse.needs)
    assert free.limits_needed <= worse.limits_needed


@given(adults, st.sampled_from([one.name for one in fields(AdultAnswers)]))
def test_s1_a_blank_never_asks_for_less_than_any_answer(answers, name):
    possible = list(Intensity) if name == "intensity" else [True, False]
    blank = screen_adult(replace(answers, **{name: None}), on=ON)
    for answer in possible:
        given_ = screen_adult(replace(answers, **{name: answer}), on=ON)
        assert ORDER.index(given_.needs) <= ORDER.index(blank.needs)
        assert given_.limits_needed <= blank.limits_needed


@given(youngsters, st.sampled_from([one.name for one in fields(YoungAnswers)]))
def test_s1_a_worse_answer_about_a_young_rider_never_asks_for_less(answers, name):
    free, worse, blank = (
        screen_young(replace(answers, **{name: answer}), by_guardian=True, on=ON)
        for answer in (False, True, None)
    )
    assert ORDER.index(free.needs) <= ORDER.index(worse.needs)
    assert ORDER.index(worse.needs) <= ORDER.index(blank.needs)


@given(adults)
def test_s1_every_reason_has_its_sentence(answers):
    decision = screen_adult(answers, on=ON)
    lacks = missing(decision, answered_on=ON, on=date(2028, 1, 1), crashes=[date(2027, 1, 1)])
    for reason in (*decision.reasons, *lacks):
        assert REASONS[reason.key].format(**reason.figures)
