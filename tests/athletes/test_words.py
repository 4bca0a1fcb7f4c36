"""Every member of a vocabulary has words, every question is asked, and no wording breaks the house rules."""

import inspect
from dataclasses import fields
from enum import Enum

import pytest

from athletes import concerns, notices, questions, screening, vocabulary, words
from athletes.concerns import Event, Sign, Symptom
from athletes.models import Consent
from athletes.screening import AdultAnswers, YoungAnswers
from athletes.vocabulary import Pattern, Region, Side
from athletes.words import WORDS, label, site_words


def enums():
    found = {
        value
        for module in (vocabulary, concerns, screening)
        for value in vars(module).values()
        if inspect.isclass(value) and issubclass(value, Enum) and value.__members__
    }
    return sorted(found, key=lambda one: one.__name__)


def strings(value):
    """All texts within a value, however deep."""
    if isinstance(value, dict):
        return [text for one in value.values() for text in strings(one)]
    if isinstance(value, tuple | list):
        return [text for one in value for text in strings(one)]
    if isinstance(value, notices.ConsentWording):
        return [text for one in fields(value) for text in strings(getattr(value, one.name))]
    return [str(value)]


TEXTS = [
    text
    for module in (words, questions, notices)
    for name, value in vars(module).items()
    if name.isupper()
    for text in strings(value)
]


@pytest.mark.parametrize("enum", enums(), ids=lambda one: one.__name__)
def test_every_member_has_words_of_its_own(enum):
    shown = [str(label(member)) for member in enum]
    assert all(shown)
    assert len(set(shown)) == len(shown)


def test_no_words_are_kept_for_what_is_gone():
    assert {enum: set(members) for enum, members in WORDS.items()} == {enum: set(enum) for enum in enums()}


def test_equal_values_of_two_vocabularies_keep_their_own_words():
    assert Region.CALF == Pattern.CALF
    assert label(Region.FRONT_THIGH) is words.REGIONS[Region.FRONT_THIGH]
    assert label(Pattern.CALF) is words.PATTERNS[Pattern.CALF]
    assert label(Region.CALF) is words.REGIONS[Region.CALF]


def test_a_site_is_read_with_its_side():
    assert site_words(Region.KNEE, Side.LEFT) == "knee (left)"
    assert site_words(Region.LOWER_BACK, Side.BOTH) == "lower back"


@pytest.mark.parametrize(
    ("asked", "needed"),
    [
        (questions.SYMPTOM_QUESTIONS, set(Symptom)),
        (questions.EVENT_QUESTIONS, set(Event)),
        (questions.SIGN_QUESTIONS, set(Sign)),
        (questions.ADULT_QUESTIONS, {one.name for one in fields(AdultAnswers)}),
        (questions.GUARDIAN_QUESTIONS, {one.name for one in fields(YoungAnswers)}),
        (questions.SESSION_RPE_ANCHORS, set(range(11))),
        (questions.PAIN_ANCHORS, set(range(11))),
        (questions.REPS_LEFT_ANCHORS, set(range(5))),
    ],
)
def test_every_answer_has_its_question_or_anchor(asked, needed):
    assert set(asked) == needed
    assert len({str(text) for text in asked.values()}) == len(asked)


def test_consent_names_the_data_and_its_version_fits_where_it_is_kept():
    current = notices.CONSENTS[notices.CURRENT_CONSENT]
    assert {version: one.version for version, one in notices.CONSENTS.items()} == {
        version: version for version in notices.CONSENTS
    }
    assert len(current.version) <= Consent._meta.get_field("wording").max_length
    named = " ".join(str(one) for one in notices.HEALTH_DATA)
    for data in ("pain", "symptoms", "screening", "clearance", "limits", "movement check"):
        assert data in named
    for text in (current.adult, current.guardian):
        whole = " ".join(str(one) for one in text)
        assert "withdraw at any time" in whole
        assert "no mail, card or calendar" in whole
    assert "At 18" in str(current.guardian[-1])
    assert "guardian" in str(current.guardian_agrees)


def test_the_notices_say_to_stop_and_whom_to_see():
    for notice in (notices.WARNING_NOTICE, notices.SYMPTOM_REPORTED_NOTICE):
        assert "local emergency number" in str(notice)
    assert "physiotherapist or doctor" in str(notices.CLINICIAN_NOTICE)
    assert "not medical advice" in str(notices.CLINICIAN_NOTICE)


@pytest.mark.parametrize("text", TEXTS)
def test_no_wording_cheers_or_is_empty(text):
    assert text.strip()
    assert "!" not in text


@pytest.mark.parametrize(
    "published", ["very, very easy", "somewhat hard", "very hard", "maximal", "nothing at all"]
)
def test_effort_anchors_are_not_a_published_scales(published):
    # Borg's and Foster's anchors (from memory); ours must be other words.
    assert not [text for text in questions.SESSION_RPE_ANCHORS.values() if published in str(text).lower()]
