"""The exercise library on the web: browsed, searched, read."""

import re

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from programs.exercises import read_page
from programs.models import Exercise
from tests import people


@pytest.fixture
def reader(db: None) -> Client:
    """Somebody who reads only."""
    client = Client()
    client.force_login(people.wexenfold().assistant.user)
    return client


def test_every_exercise_stands_on_the_list_under_its_pattern(reader: Client) -> None:
    page = reader.get(reverse("exercises")).content.decode()
    listed = set(re.findall(r'href="/exercises/([\w-]+)/"', page))
    assert listed - {"handbook", "library"} == set(Exercise.objects.values_list("slug", flat=True))
    assert len(listed) > 100


def test_levels_stand_hardest_on_top(reader: Client) -> None:
    page = reader.get(reverse("exercises"), {"pattern": "squat"}).content.decode()
    levels = [int(level) for level in re.findall(r"Level (\d+)</span>", page)]
    assert levels == sorted(levels, reverse=True)
    assert len(set(levels)) > 3


def test_every_exercise_has_a_page_with_all_its_words(reader: Client) -> None:
    for exercise in Exercise.objects.all():
        answer = reader.get(reverse("exercise", args=[exercise.slug]))
        page, document = answer.content.decode(), exercise.document
        assert answer.status_code == 200
        said = [
            document["purpose"],
            *document["set_up"],
            *document["cues"],
            *(words for fault in document["faults"] for words in (fault["see"], fault["say"])),
            *(note["words"] for note in document.get("leave_out", ())),
            *(step["words"] for step in document.get("earns", ())),
            *(one["when"] for one in document.get("substitutes", ())),
        ]
        assert [words for words in said if str(escape(words)) not in page] == []


def test_a_step_stands_on_both_pages_with_what_earns_it(db: None) -> None:
    """Every step of the library is read from below and from above, and says the same."""
    up, down = set(), set()
    for exercise in Exercise.objects.all():
        page = read_page(exercise)
        up |= {(exercise.slug, one.slug, one.words) for one in page.harder}
        down |= {(one.slug, exercise.slug, one.words) for one in page.easier}
    assert up == down
    assert len(up) > 80


def test_kit_regions_tempo_and_sides_are_in_words(reader: Client) -> None:
    page = reader.get(reverse("exercise", args=["goblet-squat"])).content.decode()
    for words in (
        "Kettlebell or dumbbell",
        "lower 3 s, pause 1 s",
        "knee, hip and front of the thigh",
        "5 to 20 reps",
    ):
        assert words in page
    sided = Exercise.objects.get(slug="heel-to-toe-stand")
    assert dict(read_page(sided).facts)["Amount"] == "20 to 60 s, each side"


def test_a_retired_exercise_is_still_read_but_not_listed(reader: Client) -> None:
    """Old weeks name it; the application may not change the library, so the row is only looked at as if it were."""
    exercise = Exercise.objects.get(slug="goblet-squat")
    exercise.is_retired = True
    page = read_page(exercise)
    assert page.exercise.is_retired
    assert "goblet-squat" in [one.slug for one in page.levels]


def test_the_page_carries_the_safety_wording_and_an_unknown_name_is_not_found(reader: Client) -> None:
    page = reader.get(reverse("exercise", args=["goblet-squat"])).content.decode()
    assert "When to see a physiotherapist or doctor" in page
    assert reader.get(reverse("exercise", args=["no-such-exercise"])).status_code == 404


def test_strangers_are_asked_to_sign_in(db: None) -> None:
    for address in (reverse("exercises"), reverse("exercise", args=["goblet-squat"]), reverse("programs")):
        assert Client().get(address).headers["Location"].startswith(reverse("sign-in"))
