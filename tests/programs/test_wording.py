"""The words: targets, days, reasons and safety."""

import importlib
import pkgutil
import string
from dataclasses import replace
from datetime import date, time
from decimal import Decimal

import pytest

from athletes.vocabulary import Implement, Pattern, Reason, Region
from programs import engine, wording
from programs.engine.facts import (
    Change,
    Exercise,
    Format,
    Holding,
    Item,
    Load,
    Loading,
    Measure,
    Part,
    Target,
    Week,
)
from programs.rider_sentences import RIDER
from programs.sheet import StripDay, one_line
from programs.wording import (
    catalogue,
    change_line,
    guarded_sentence,
    is_for_riders,
    is_health,
    keep_together,
    leave_words,
    load_words,
    mail_sentence,
    mass_words,
    sentence,
    sheet_item,
    strip_words,
    target_line,
    tempo_words,
    week_words,
)
from tests.programs.examples import HOSTILE, session, sheet

BELL = Holding(Implement.KETTLEBELL)
PAIR = Holding(Implement.DUMBBELL, 2)
SQUAT = Exercise(
    "goblet-squat",
    Pattern.SQUAT,
    3,
    Measure.REPS,
    Loading.EXTERNAL,
    Part.MAIN,
    5,
    20,
    holdings=(BELL,),
    lower_s=3,
    pause_s=1,
)
PLANK = Exercise(
    "side-plank", Pattern.SIDE_TRUNK, 2, Measure.HOLD, Loading.BODY, Part.ASSISTANCE, 20, 60, sided=True
)


def kg(mass: str, holding: Holding = BELL) -> Load:
    return Load(holding, Decimal(mass))


def reps(amount: int = 8, load: Load | None = None, **changes: object) -> Target:
    return replace(Target(Measure.REPS, 3, amount, load), **changes)  # type: ignore[arg-type]


# --- targets ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("target", "unit", "exercise", "line"),
    [
        (reps(8, kg("12")), "kg", SQUAT, "3 x 8 at 12 kg, rest 90 s"),
        (reps(8, kg("12.500")), "kg", SQUAT, "3 x 8 at 12.5 kg, rest 90 s"),
        (reps(8, kg("21.25")), "kg", SQUAT, "3 x 8 at 21.25 kg, rest 90 s"),
        (reps(8, kg("100")), "kg", SQUAT, "3 x 8 at 100 kg, rest 90 s"),
        (reps(8, kg("15.87573295")), "lb", SQUAT, "3 x 8 at 35 lb, rest 90 s"),
        (reps(8, kg("16")), "lb", SQUAT, "3 x 8 at 35.3 lb, rest 90 s"),
        (reps(8, kg("10", PAIR)), "kg", SQUAT, "3 x 8 at 2 x 10 kg, rest 90 s"),
        (reps(8, Load(Holding(Implement.BAND), band=2)), "kg", SQUAT, "3 x 8 at band 2, rest 90 s"),
        (reps(8), "kg", SQUAT, "3 x 8 at body weight, rest 90 s"),
        (reps(8, kg("12"), rest_s=0), "kg", SQUAT, "3 x 8 at 12 kg"),
        (Target(Measure.HOLD, 3, 30, rest_s=45), "kg", PLANK, "3 x 30 s, rest 45 s"),
        (
            reps(15, kg("16"), bridge_load=kg("24"), bridge_sets=1, bridge_amount=5, rest_s=120),
            "kg",
            SQUAT,
            "2 x 15 at 16 kg, then 1 x 5 at 24 kg, rest 120 s",
        ),
        (
            reps(15, kg("16"), bridge_load=kg("24"), bridge_sets=3, bridge_amount=5),
            "kg",
            SQUAT,
            "3 x 5 at 24 kg, rest 90 s",
        ),
    ],
)
def test_a_target_reads_number_first(
    target: Target, unit: wording.Unit, exercise: Exercise, line: str
) -> None:
    assert target_line(target, unit, exercise) == line


def test_a_pound_is_shown_from_the_international_pound() -> None:
    """International yard and pound agreement of 1959: 1 lb = 0.45359237 kg exactly."""
    assert mass_words(Decimal("45.359237"), "lb") == "100 lb"
    assert mass_words(Decimal("0.45359237"), "lb") == "1 lb"


def test_tempo_is_in_words_and_a_target_may_slow_it() -> None:
    assert tempo_words(reps(), SQUAT) == "lower 3 s, pause 1 s, lift 2 s"
    assert tempo_words(reps(lower_s=4), SQUAT) == "lower 4 s, pause 1 s, lift 2 s"
    assert tempo_words(reps(), replace(SQUAT, pause_s=0, lift_s=0)) == "lower 3 s"
    assert tempo_words(Target(Measure.HOLD, 3, 30), PLANK) == ""


def test_what_to_leave_counts_good_reps() -> None:
    assert leave_words(reps(reps_left=3)) == "leave 3 good reps"
    assert leave_words(reps(reps_left=1)) == "leave 1 good rep"
    assert "rep" not in leave_words(Target(Measure.HOLD, 3, 30))


@pytest.mark.parametrize(
    ("change", "target", "previous", "line"),
    [
        (Change.SAME, reps(), reps(), ""),
        (Change.NEW, reps(), None, "New: learn it light and slow."),
        (Change.MORE_REPS, reps(9), reps(8), "1 more rep than last time."),
        (Change.MORE_REPS, reps(10), reps(8), "2 more reps than last time."),
        (Change.MORE_REPS, reps(8), None, "More reps than last time."),
        (Change.MORE_TIME, reps(35), reps(30), "5 s longer than last time."),
        (Change.MORE_LOAD, reps(5, kg("16")), reps(12, kg("12")), "Heavier than last time, 12 kg before."),
        (Change.MORE_LOAD, reps(5, kg("8")), reps(12), "Heavier than last time, body weight before."),
        (Change.LESS_LOAD, reps(5, kg("8")), reps(12, kg("12")), "Lighter than last time, 12 kg before."),
        (Change.SLOWER, reps(lower_s=4), reps(), "Slower than last time: lower for 4 s."),
        (Change.BRIDGE, reps(bridge_sets=1), reps(), "1 set at the next load."),
        (Change.EASIER, reps(), reps(), "A level down from last time."),
    ],
)
def test_what_differs_from_last_time_is_one_sentence(
    change: Change, target: Target, previous: Target | None, line: str
) -> None:
    assert change_line(change, target, previous, "kg") == line


@pytest.mark.parametrize("change", list(Change))
def test_every_change_has_a_sentence_and_none_gives_a_reason(change: Change) -> None:
    line = change_line(change, reps(8, kg("12")), reps(8, kg("12")), "kg")
    assert bool(line) is (change is not Change.SAME)
    assert not wording.HEALTH_WORDS.search(line)


def test_an_item_becomes_what_the_rider_reads() -> None:
    item = Item(
        "s1",
        Part.MAIN,
        Pattern.SQUAT,
        "goblet-squat",
        reps(9, kg("12")),
        Change.MORE_REPS,
        (),
        reps(8, kg("12")),
    )
    made = sheet_item(item, SQUAT, name="Goblet squat", unit="kg", cues=("a", "b", "c", "d"))
    assert (made.line, made.sets, made.implement) == ("3 x 9 at 12 kg, rest 90 s", 3, "kettlebell")
    assert (made.tempo, made.leave) == ("lower 3 s, pause 1 s, lift 2 s", "leave 3 good reps")
    assert (made.change_line, made.cues, made.new) == ("1 more rep than last time.", ("a", "b", "c"), False)
    plank = replace(
        item, exercise="side-plank", target=Target(Measure.HOLD, 2, 20), change=Change.NEW, previous=None
    )
    made = sheet_item(plank, PLANK, name="Side plank", unit="kg")
    assert (made.line, made.side_line, made.sets, made.new) == ("2 x 20 s, rest 90 s", "each side", 2, True)


@pytest.mark.parametrize("implement", list(Implement))
def test_every_implement_has_words(implement: Implement) -> None:
    words = wording.implement_words(Load(Holding(implement), Decimal(5)))
    assert bool(words) is (implement is not Implement.NONE)
    assert wording.implement_words(Load(Holding(Implement.KETTLEBELL, 2), Decimal(5))) == "2 kettlebells"


def test_a_band_is_a_level_and_never_a_mass_or_a_colour() -> None:
    assert load_words(Load(Holding(Implement.BAND), band=3), "kg") == "band 3"


def test_a_line_never_ends_between_a_number_and_its_unit() -> None:
    kept = keep_together("2 x 15 at 16 kg, then 1 x 5 at band 2, rest 120 s")
    assert kept.replace("\u00a0", "_") == "2_x_15 at 16_kg, then 1_x_5 at band_2, rest 120_s"


# --- days -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("week", "words"),
    [
        # ISO 8601: 2026 has 53 weeks, since 1 January 2026 is a Thursday; week 53 runs into 2027.
        (Week(2026, 45), "2 to 8 November 2026"),
        (Week(2026, 44), "26 October to 1 November 2026"),
        (Week(2026, 53), "28 December 2026 to 3 January 2027"),
        (Week(2027, 1), "4 to 10 January 2027"),
    ],
)
def test_a_week_is_named_by_its_dates(week: Week, words: str) -> None:
    assert week_words(week) == words


def test_days_and_times_are_plain() -> None:
    assert wording.day_words(date(2026, 11, 3)) == "Tuesday 3 November"
    assert wording.short_day_words(date(2026, 11, 3)) == "Tue 3"
    assert wording.time_words(time(7, 5)) == "07:05"
    assert wording.session_days_words(sheet(3).sessions) == "Tue 3, Fri 6 and Sun 8 November"
    assert wording.session_days_words([session(1, date(2026, 11, 3))]) == "Tue 3 November"
    assert wording.session_days_words([]) == ""


def test_the_strip_in_words_says_pain_only_where_it_may() -> None:
    strip = (
        StripDay(date(2026, 11, 3), done_rpe=6, pain=4),
        StripDay(date(2026, 11, 4)),
        StripDay(date(2026, 11, 5), pain=2),
    )
    assert strip_words(strip) == "Tuesday 3 November: strength done, session RPE 6"
    assert strip_words(strip, with_pain=True) == (
        "Tuesday 3 November: strength done, session RPE 6, pain 4 out of 10; Thursday 5 November: pain 2 out of 10"
    )
    assert strip_words(strip[1:]) == "Nothing this week."


def test_both_formats_say_what_to_do_next() -> None:
    assert wording.format_words(Format.CIRCUIT) != wording.format_words(Format.STRAIGHT)


# --- reasons ----------------------------------------------------------------------------------------------------------


def fields_of(template: str) -> set[str]:
    return {name for _text, name, _spec, _conversion in string.Formatter().parse(template) if name}


def test_every_module_of_the_engine_that_lists_reasons_is_collected() -> None:
    for module in pkgutil.iter_modules(engine.__path__):
        if not module.name.startswith("_"):
            reasons = getattr(importlib.import_module(f"programs.engine.{module.name}"), "REASONS", {})
            assert reasons.items() <= catalogue().items()
    assert {"pain-ease", "screening-clear", "not-screened", "mail-bounces"} <= catalogue().keys()


def test_two_sentences_for_one_key_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    lists = {"one": {"a": "A."}, "two": {"a": "B."}}
    monkeypatch.setattr(wording, "_engine_modules", lambda: list(lists))
    monkeypatch.setattr(wording, "_HOLDERS", ())
    monkeypatch.setattr(wording, "_reasons_of", lists.__getitem__)
    with pytest.raises(wording.TwoSentencesForOneReason, match="a"):
        catalogue.__wrapped__()


@pytest.mark.parametrize("key", sorted(RIDER))
def test_what_a_rider_is_told_comes_from_a_reason_and_its_figures(key: str) -> None:
    assert fields_of(RIDER[key]) <= fields_of(catalogue()[key])
    assert not wording.HEALTH_WORDS.search(RIDER[key])


def test_every_sentence_keeps_to_the_house_style() -> None:
    for key, template in {**catalogue(), **RIDER}.items():
        assert "!" not in template, key
        assert template.endswith("."), key
        assert template[0].isupper() or template[0] in "{0123456789", key


def test_figures_are_filled_in_as_a_person_reads_them() -> None:
    reason = Reason(
        "P2",
        "load-up",
        {"reached": 12, "times": 2, "from_kg": "12.000", "to_kg": "16", "percent": 33, "amount": 5},
    )
    assert (
        sentence(reason)
        == "12 reached 2 sessions in a row: from 12 kg to 16 kg (+33 %), starting again at 5."
    )
    assert sentence(reason, "rider") == "12 reached 2 sessions in a row: 16 kg now, from 5 reps."
    assert sentence(reason, "rider", unit="lb") == "12 reached 2 sessions in a row: 35.3 lb now, from 5 reps."


def test_slugs_and_dates_become_words() -> None:
    moved = Reason("H3", "session-shifted", {"ordinal": 1, "from_on": "2026-11-03", "to_on": "2026-11-04"})
    assert sentence(moved) == (
        "Session 1 moves from Tuesday 3 November to Wednesday 4 November, after what was done this week."
    )
    easier = Reason("L2", "easier-used", {"levels": 1, "used": "box-squat", "wanted": "goblet-squat"})
    assert sentence(easier, "rider") == "Box squat stands in for goblet squat."
    assert sentence(easier, "rider", names={"box-squat": "Squat to a box"}) == (
        "Squat to a box stands in for goblet squat."
    )


def test_one_of_something_is_said_in_the_singular() -> None:
    figures = {"days": 21, "week": 1, "percent": 50, "sets": 1, "amount": 6}
    assert sentence(Reason("P10", "away-volume", figures)) == (
        "21 days away, week 1 back: 50 % less volume, 1 set of 6."
    )
    assert sentence(Reason("P1", "few-left", {"reps_left": 1}), "rider") == "1 good rep left: the same again."
    assert sentence(Reason("P1", "few-left", {"reps_left": 11})) == "11 good reps left: the same again."


def test_a_missing_figure_or_an_unknown_key_never_fails_the_page() -> None:
    assert sentence(Reason("P1", "reps-up", {"from": 8})) == "All sets at 8 with good reps left: (not known)."
    assert sentence(Reason("P1", "reps-up", {"from": None, "to": 9})).startswith("All sets at (not known)")
    assert sentence(Reason("Z9", "some-new-thing", {"x": 1})) == "Some new thing."


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_figures_fill_a_sentence_and_never_become_one(text: str) -> None:
    said = sentence(Reason("Y1", "one-for-race", {"race": text}))
    assert said == f"A race in this week, {text}: one session."
    assert one_line(said, 10_000) == one_line(said, 10_000).strip()


HEALTH_REASONS = [
    Reason("T1", "pain-ease", {"region": "front-thigh", "side": "left", "score": 4, "on": "2026-11-03"}),
    Reason("T4", "symptom-stop", {"symptom": "chest-pain", "on": "2026-11-03"}),
    Reason("S1", "screening-pregnant", {}),
    Reason("S1", "not-screened", {}),
    Reason("P10", "fever-easing", {"over_on": "2026-11-03", "sessions": 2}),
    Reason("P2", "gate-repeat", {}),
    Reason("S3", "growth-spurt", {"days": 2}),
    Reason("P2", "step-over-cap", {"to_kg": "16", "most": 12}),
    Reason("W3", "open-pain-needs-approval", {}),
    Reason("X1", "something-new", {"region": "knee"}),
]


@pytest.mark.parametrize("reason", HEALTH_REASONS, ids=lambda reason: reason.key)
def test_health_is_never_worded_in_a_mail_or_for_who_may_not_see_it(reason: Reason) -> None:
    assert is_health(reason)
    assert is_for_riders(reason)
    assert mail_sentence(reason) == "Changed for a health reason. Your page says more."
    assert guarded_sentence(reason, may_see_health=False) == "Health reason."
    assert guarded_sentence(reason, may_see_health=True) == sentence(reason) != "Health reason."


def test_no_reason_at_all_brings_a_health_word_into_a_mail() -> None:
    """Every key that any module lists, as if a rule without a net had given it."""
    allowed = "Changed for a health reason. Your page says more."
    for key in catalogue():
        said = mail_sentence(Reason("P1", key, {}))
        assert said == allowed or not wording.HEALTH_WORDS.search(said)
        assert not any(f"{region.value} (" in said for region in Region)


def test_reasons_of_health_modules_are_about_health_whatever_their_rule() -> None:
    for name in ("athletes.triage", "athletes.screening", "athletes.readiness"):
        for key in importlib.import_module(name).REASONS:
            assert is_health(Reason("P1", key, {}))


def test_a_plain_reason_is_worded_for_everybody() -> None:
    plain = Reason("P1", "reps-up", {"from": 8, "to": 9})
    assert not is_health(plain)
    assert mail_sentence(plain) == "All sets at 8 with good reps left: 9 now."
    assert guarded_sentence(plain, may_see_health=False) == sentence(plain)


def test_what_concerns_only_the_coach_is_kept_from_riders() -> None:
    assert not is_for_riders(Reason("W2", "placed-best", {"points": 3, "runner_up": 5}))
    assert is_for_riders(Reason("Y1", "one-for-race", {"race": "Skarnock"}))


# --- safety -----------------------------------------------------------------------------------------------------------


def test_the_safety_notice_says_stop_see_a_clinician_and_call() -> None:
    text = " ".join(wording.safety_lines(3, "In Wexenfold: 112."))
    for said in (
        "above 3 out of 10",
        "physiotherapist or doctor",
        "not medical advice",
        "stop and call the local emergency number. In Wexenfold: 112.",
    ):
        assert said in text
