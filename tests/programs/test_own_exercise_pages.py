"""A coach writes, changes, retires and takes in exercises of the club's own, in a browser without scripts."""

import json
import re
from html import unescape
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from athletes import access
from programs import club_library, exchange
from programs.club_library import plain
from programs.forms.own_exercises import ExerciseForm, initial_of, make_step
from programs.models import ClubExercise, Exercise, LevelMove, ShippedExercise
from tests import people
from tests.world import own_exercise


@pytest.fixture
def who(db: None) -> people.People:
    return people.wexenfold()


@pytest.fixture
def coach(who: people.People) -> Client:
    client = Client()
    client.force_login(who.coach.user)
    return client


def filled(slug: str, **changes: Any) -> dict[str, Any]:
    """What the form of a shipped exercise sends, with changes."""
    row = ShippedExercise.objects.get(pk=slug)
    data = initial_of(row.pattern, plain(row.document), ())
    sent = {key: value for key, value in data.items() if value not in (None, False, [], "")}
    # a browser sends what is ticked in the order of the page, not in that of the library
    sent = {key: sorted(value) if isinstance(value, list) else value for key, value in sent.items()}
    return {**sent, **changes}


NEW = {
    "name": "Hill squat",
    "pattern": "squat",
    "level": 2,
    "purpose": "Readies the legs for hills.",
    "set_up": "Stand with the feet at hip width.",
    "cues": "Hips back and down.\nKnees follow the toes.\nStand tall.",
    "faults": "Heels lift: Sit back more.",
    "leave_out": "Knee: Leave out if the knee hurts on the way down.",
    "measure": "reps",
    "low": 6,
    "high": 15,
    "lower": 3,
    "pause": 0,
    "lift": 2,
    "for_beginners": "on",
    "loading": "body",
    "primary": ["knee", "hip", "front-thigh"],
    "whole": ["quadriceps"],
    "half": ["glutes"],
    "from_0": "chair-stand",
    "from_0_sets": 2,
    "from_0_value": 12,
    "from_0_left": 3,
    "from_0_how": "without the hands",
}


def test_a_new_exercise_is_written_and_stands_on_its_page_and_on_that_of_the_easier_one(
    coach: Client, who: people.People
) -> None:
    answer = coach.post(reverse("library-new"), NEW)
    assert answer.status_code == 302, errors_of(answer)
    assert answer.headers["Location"] == reverse("exercise", args=["hill-squat"])
    page = coach.get(answer.headers["Location"]).content.decode()
    assert "Knees follow the toes." in page
    assert "The club's own" in unescape(page)
    assert "2 x 12 without the hands, 3 good reps left." in page
    easier = coach.get(reverse("exercise", args=["chair-stand"])).content.decode()
    assert "Hill squat" in easier
    found = coach.get(reverse("exercises"), {"q": "hil sqaut"}).content.decode()
    assert "Hill" in found
    assert "Hill squat" in coach.get(reverse("library")).content.decode()


def errors_of(answer: Any) -> list[str]:
    return re.findall(r"<li>(.*?)</li>", unescape(answer.content.decode()))


def test_an_error_stands_beside_its_field_and_nothing_typed_is_lost(coach: Client) -> None:
    answer = coach.post(reverse("library-new"), {**NEW, "cues": "Only one cue.", "low": 8})
    page = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert "at least 3" in page
    assert "Only one cue." in page
    assert re.search(r'name="from_0_how" value="without the hands"', page)
    with_range = coach.post(reverse("library-new"), {**NEW, "low": 8})
    assert "Expected 5 or 6 to between 15 and 20 reps, found 8 to 15." in unescape(
        with_range.content.decode()
    )
    assert not ClubExercise.objects.exists()


def test_a_line_without_a_colon_and_an_unknown_region_are_told(coach: Client) -> None:
    answer = coach.post(
        reverse("library-new"), {**NEW, "faults": "Heels lift", "leave_out": "Nose: Leave out."}
    )
    page = unescape(answer.content.decode())
    assert "This has none: Heels lift" in page
    assert "There is no body region of this name: Nose" in page


def test_the_form_gives_back_every_shipped_exercise_as_it_is(db: None) -> None:
    """Opening the form and saving it changes nothing, whatever the exercise holds."""
    for row in ShippedExercise.objects.filter(is_retired=False):
        document = plain(row.document)
        form = ExerciseForm(filled(row.slug), slug=row.slug, kept={**document, "pattern": row.pattern})
        assert form.is_valid(), (row.slug, form.errors)
        again = form.entry().document
        differ = {key for key in {*document, *again} if document.get(key) != again.get(key)}
        assert differ <= {"muscles"}, (row.slug, differ)
        assert dict(again["muscles"]) == dict(document["muscles"])


def test_a_shipped_exercise_is_changed_for_this_club_alone(coach: Client, who: people.People) -> None:
    address = reverse("exercise-edit", args=["goblet-squat"])
    assert "saving makes the club" in unescape(coach.get(address).content.decode())
    answer = coach.post(address, filled("goblet-squat", name="Squat with a bell"))
    assert answer.status_code == 302, errors_of(answer)
    assert "Squat with a bell" in coach.get(reverse("exercise", args=["goblet-squat"])).content.decode()
    others = Client()
    others.force_login(people.strangers().coach.user)
    assert "Squat with a bell" not in others.get(reverse("exercise", args=["goblet-squat"])).content.decode()


def test_the_shipped_words_stand_beside_and_the_coach_chooses(coach: Client, who: people.People) -> None:
    coach.post(
        reverse("exercise-edit", args=["goblet-squat"]), filled("goblet-squat", name="Squat with a bell")
    )
    with access.within(who.club):
        ClubExercise.objects.update(shipped={**ClubExercise.objects.get().shipped, "purpose": "As it was."})
    assert "Compare and choose: Squat with a bell" in coach.get(reverse("library")).content.decode()
    address = reverse("exercise-shipped", args=["goblet-squat"])
    page = coach.get(address).content.decode()
    assert "Goblet squat" in page
    assert "newly shipped" in page
    coach.post(address, {"take": "own"})
    assert "Compare and choose" not in coach.get(reverse("library")).content.decode()
    coach.post(address, {"take": "shipped"})
    with access.within(who.club):
        assert not ClubExercise.objects.exists()
        assert Exercise.objects.get(pk="goblet-squat").name == "Goblet squat"


def test_retiring_says_what_stands_in_the_way_and_can_be_taken_back(
    coach: Client, who: people.People
) -> None:
    coach.post(reverse("library-new"), NEW)
    retire = reverse("exercise-retire", args=["hill-squat"])
    with access.within(who.club):
        LevelMove.objects.create(
            club=who.club,
            rider=who.rider,
            pattern="squat",
            exercise_id="hill-squat",
            since_on=people.MONDAY,
            why="coach",
        )
    refused = coach.post(retire, follow=True).content.decode()
    assert f"These riders stand at it: {who.rider.name}" in refused
    with access.within(who.club):
        LevelMove.objects.all().delete()
    assert "Hill squat is retired" in coach.post(retire, follow=True).content.decode()
    back = coach.post(reverse("exercise-restore", args=["hill-squat"]), follow=True).content.decode()
    assert "Bring it back" not in back


def test_an_assistant_reads_and_exports_but_does_not_write(who: people.People) -> None:
    client = Client()
    client.force_login(who.assistant.user)
    assert client.get(reverse("library")).status_code == 200
    assert client.get(reverse("library-file")).status_code == 200
    assert client.get(reverse("library-new")).status_code == 403
    assert client.post(reverse("library-import")).status_code == 403


# --- files ------------------------------------------------------------------------------------------------------------


def file_of(text: str) -> SimpleUploadedFile:
    return SimpleUploadedFile("exercises.yaml", text.encode())


def test_a_file_comes_in_whole_and_says_what_it_brought(coach: Client, who: people.People) -> None:
    with access.within(who.club):
        club_library.save(club=who.club, entries=[own_exercise("Wexenfold")], by=who.coach, now=people.NOW)
        text = exchange.write(kind=exchange.YAML, own_only=True)
    others = people.strangers()
    theirs = Client()
    theirs.force_login(others.coach.user)
    page = theirs.post(reverse("library-import"), {"file": file_of(text)}, follow=True).content.decode()
    assert "1 exercise taken in." in page
    again = theirs.post(reverse("library-import"), {"file": file_of(text)}, follow=True).content.decode()
    assert "0 exercises taken in. 1 was there already." in again


def test_a_file_with_faults_brings_nothing_and_lists_them_by_line(coach: Client, who: people.People) -> None:
    text = "schema: 1\nexercises:\n  - pattern: squat\n    slug: Bad Slug\n    name: Bad\n"
    answer = coach.post(reverse("library-import"), {"file": file_of(text)})
    page = unescape(answer.content.decode())
    assert answer.status_code == 422
    assert "Nothing was taken in." in page
    assert re.search(r'data-label="Line">4<', page)
    assert "Not given: " in page
    assert not ClubExercise.objects.exists()
    assert coach.post(reverse("library-import")).status_code == 422


def test_files_and_their_shape_are_offered(coach: Client) -> None:
    for kind in ("yaml", "json"):
        answer = coach.get(reverse("library-file"), {"kind": kind})
        assert f'filename="exercises.{kind}"' in answer.headers["Content-Disposition"]
    assert len(json.loads(answer.content)["exercises"]) > 100
    assert json.loads(coach.get(reverse("library-schema")).content) == exchange.SCHEMA


def test_a_step_says_its_figures_first() -> None:
    """The rules of the library want them there, so that a rider reads them first."""
    hold = make_step("hold", True, sets=2, value=30, left=None, how="without a wobble.")
    assert hold == {
        "criterion": {"kind": "hold", "sets": 2, "value": 30},
        "words": "2 x 30 s a side without a wobble.",
    }
