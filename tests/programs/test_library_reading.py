"""Riders can read the exercises: measured with a library, and each text in the same plain form.

The target is plain English for readers of 11 to 12 (ours): a Flesch-Kincaid grade of at most 6 (Kincaid et al. 1975)
and a Dale-Chall score of at most 5.9, which their table gives to grades 5 and 6 (Dale and Chall 1948; the tables
from memory). Cues are so short that the first says little about them; the second
counts the words that are not on a list of familiar ones.
"""

import re
from functools import cache
from statistics import median

import pytest
import readability

from athletes.vocabulary import Pattern
from programs.engine.library import Entry, read_entries
from tests.programs.library_documents import shipped

MOST_GRADE, MOST_DALE_CHALL = 6.0, 5.9
#: Half of the exercises are to be for readers of 9 to 10 (grade 4 and below, Dale and Chall 1948).
USUAL_DALE_CHALL = 4.9
MOST_WORDS = 20


@cache
def entries() -> tuple[Entry, ...]:
    return read_entries(shipped())


def cues(entry: Entry) -> list[str]:
    return [*entry.cues, *(fault.say for fault in entry.faults)]


def words(entry: Entry) -> list[str]:
    """Everything that a rider reads of it, a line each."""
    return [
        entry.purpose,
        *entry.set_up,
        *cues(entry),
        *(fault.see for fault in entry.faults),
        *(note.words for note in entry.leave_out),
        *(step.words for step in entry.harder),
        *(substitute.when for substitute in entry.substitutes),
    ]


def measure(lines: list[str]) -> tuple[float, float]:
    """Flesch-Kincaid grade and Dale-Chall score of the lines, each of one sentence or more."""
    ended = (line if line.endswith(".") else f"{line}." for line in lines)
    text = "\n".join(re.sub(r"\s*([.,:;])(\s|$)", r" \1\2", line) for line in ended)
    grades = readability.getmeasures(text, lang="en")["readability grades"]
    return grades["Kincaid"], grades["DaleChallIndex"]


def test_the_measure_tells_plain_words_from_hard_ones() -> None:
    plain = measure(["Sit back a little, then down.", "Knees follow the toes."])
    hard = measure(["Maintain lumbopelvic neutrality throughout the eccentric component of the movement."])
    assert plain[0] <= MOST_GRADE < hard[0]
    assert plain[1] <= USUAL_DALE_CHALL < MOST_DALE_CHALL < hard[1]


@pytest.mark.parametrize("pattern", Pattern)
def test_the_hardest_words_of_a_family_are_still_plain(pattern: Pattern) -> None:
    family = [entry for entry in entries() if entry.exercise.pattern is pattern]
    for what in (cues, words):
        found = {entry.exercise.slug: measure(what(entry)) for entry in family}
        assert family
        assert {
            slug: one for slug, one in found.items() if one[0] > MOST_GRADE or one[1] > MOST_DALE_CHALL
        } == {}


@pytest.mark.parametrize("what", [cues, words])
def test_the_usual_exercise_is_plainer_still(what: object) -> None:
    assert median(measure(what(entry))[1] for entry in entries()) <= USUAL_DALE_CHALL


def test_no_sentence_is_long() -> None:
    sentences = [part for entry in entries() for line in words(entry) for part in re.split(r"[.:] ", line)]
    assert [one for one in sentences if len(one.split()) > MOST_WORDS] == []


# --- one form for all -------------------------------------------------------------------------------------------------


def test_a_name_has_no_comma_because_names_are_listed_with_commas() -> None:
    assert [entry.name for entry in entries() if re.search(r"[,;:()]", entry.name)] == []


def test_sentences_end_with_a_full_stop_and_what_is_seen_does_not() -> None:
    for entry in entries():
        seen = {fault.see for fault in entry.faults}
        wrong = [line for line in words(entry) if line.endswith(".") is (line in seen)]
        assert wrong == [], entry.exercise.slug


def test_every_exercise_has_three_to_five_cues_and_a_cue_for_each_fault() -> None:
    for entry in entries():
        assert 3 <= len(entry.cues) <= 5, entry.exercise.slug
        assert entry.faults, entry.exercise.slug
        said = [fault.say for fault in entry.faults]
        assert len(said) == len(set(said)), entry.exercise.slug


#: Words that frighten, that promise, or that name a person or a maker.
NEVER = re.compile(
    r"\b(danger\w*|damage\w*|tear|torn|wear and tear|slipped disc|degenerat\w*|crunch\w*|injur\w*|dysfunction\w*"
    r"|misalign\w*|out of place|prevents?|cures?|heals?|guarantee\w*|always safe|Bulgarian|Romanian|Russian|Turkish"
    r"|Nordic|Copenhagen|Pallof|Cossack|Zercher|Superman|TRX|Bosu|Swiss ball|Thera\w*)\b",
    re.IGNORECASE,
)


def test_no_word_frightens_or_promises_or_names_a_person_a_people_or_a_maker() -> None:
    lines = [(entry.exercise.slug, line) for entry in entries() for line in (entry.name, *words(entry))]
    assert [line for line in lines if NEVER.search(line[1])] == []


def test_nobody_is_told_to_hold_the_breath() -> None:
    """Common practice, no source: a held breath raises blood pressure under load, and riders up to 80 read this."""
    told = re.compile(r"\b(hold|keep in) (your|the) breath|\bbig breath", re.IGNORECASE)
    assert [entry.exercise.slug for entry in entries() for line in words(entry) if told.search(line)] == []


def test_a_hard_hold_tells_riders_to_breathe_or_leaves_out_high_blood_pressure() -> None:
    """Common practice, no source. Balance and mobility are easy holds, and walking holds itself."""
    easy = {Pattern.BALANCE, Pattern.MOBILITY, Pattern.WARM_UP, Pattern.COOL_DOWN}
    for entry in entries():
        one = entry.exercise
        if one.measure == "hold" and one.pattern not in easy and one.slug not in {"heel-walk"}:
            said = " ".join((*cues(entry), *(note.words for note in entry.leave_out)))
            assert re.search(r"breath|talk|blood pressure", said, re.IGNORECASE), one.slug


@pytest.mark.parametrize(
    "entry", [entry for entry in entries() if entry.has_impact], ids=lambda one: one.name
)
def test_a_jump_says_how_to_land_and_who_leaves_it_out(entry: Entry) -> None:
    assert any("Land softly" in cue for cue in entry.cues)
    said = " ".join(note.words for note in entry.leave_out)
    assert all(word in said for word in ("pregnant", "pelvic floor", "thin bones", "shin bone", "tendon"))
    assert not entry.exercise.for_beginners
    assert entry.exercise.pattern is Pattern.POWER


COUNTED = {"two": 2, "three": 3, "four": 4}
ON_THE_WAY_DOWN = re.compile(
    r"(?:[Cc]ount|Lower for) (two|three|four)(?: seconds| on the way down| to the floor| down and pause)"
)


def test_what_a_cue_counts_is_the_tempo() -> None:
    counted = 0
    for entry in entries():
        for line in cues(entry):
            for number in ON_THE_WAY_DOWN.findall(line):
                assert COUNTED[number] == entry.exercise.lower_s, (entry.exercise.slug, line)
                counted += 1
            if line.startswith("Hold one second"):
                assert entry.exercise.pause_s == 1, entry.exercise.slug
    assert counted > 10


@pytest.mark.parametrize(
    ("pattern", "region", "words_there"),
    [
        (Pattern.CALF, "calf", "medical help now"),  # T4: calf swelling is a warning symptom
        (Pattern.FRONT_TRUNK, "abdomen", "after belly surgery or a birth"),
    ],
)
def test_what_the_gentle_ones_warn_of_the_hard_ones_do_too(
    pattern: Pattern, region: str, words_there: str
) -> None:
    for entry in entries():
        if entry.exercise.pattern is pattern and (
            pattern is not Pattern.CALF or region in entry.exercise.primary
        ):
            said = [note.words for note in entry.leave_out if note.region == region]
            assert any(words_there in line for line in said), entry.exercise.slug
