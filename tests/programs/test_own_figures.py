"""A club bends the joints of a shipped figure for an exercise of its own; what no body could do is said."""

import io
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from athletes import access
from programs import club_library, own_figures
from programs.exercises import figure_of, read_page
from programs.figures.drawing import drawn
from programs.handbook import Cover, sheet_pdf
from programs.models import ClubExercise, Exercise
from tests import people
from tests.world import own_exercise


@pytest.fixture
def who(db: None) -> people.People:
    who = people.wexenfold()
    with access.within(who.club):
        club_library.save(club=who.club, entries=[own_exercise("Wexenfold")], by=who.coach, now=people.NOW)
    return who


@pytest.fixture
def coach(who: people.People) -> Client:
    client = Client()
    client.force_login(who.coach.user)
    return client


ADDRESS = "/exercises/hill-squat/figure/"
KNEE = "finish.hips.knee"


def sent(**changes: object) -> dict[str, object]:
    """What the form sends with the squat's own angles."""
    angles = {angle.key: angle.value for angle in own_figures.find_angles("squat")}
    return {"base": "squat", "shown": "squat", **angles, **changes}


def test_every_shipped_pose_can_be_begun_with_and_is_drawn_as_it_is(db: None) -> None:
    for base in own_figures.bases():
        for angle in own_figures.find_angles(base):
            assert angle.low <= angle.value <= angle.high, (base, angle)
    for base in own_figures.bases()[::12]:
        shown = own_figures.show(base, {}, base)
        assert shown.drawing == drawn(base)
        assert shown.faults == ()


def test_a_bent_joint_changes_the_drawing_and_an_impossible_one_is_named(db: None) -> None:
    half = own_figures.show("squat", {KNEE: 60}, "hill-squat")
    assert half.drawing.shapes != drawn("squat").shapes
    assert half.faults == ()
    toppled = own_figures.show("squat", {"start.arms.elbow": 152, "start.arms.raised": -60}, "hill-squat")
    assert toppled.drawing.shapes != drawn("squat").shapes
    assert own_figures.show("wall-sit", {"hold.hips.knee": 130}, "hill-squat").faults


def test_an_angle_that_the_pose_has_not_is_left_out(db: None) -> None:
    assert own_figures.show("squat", {"finish.wings.span": 40}, "squat").drawing == drawn("squat")


def test_a_slider_shows_what_it_does_and_keeping_it_draws_it_on_the_page(
    coach: Client, who: people.People
) -> None:
    page = coach.get(ADDRESS).content.decode()
    assert page.count('type="range"') == len(own_figures.find_angles("squat"))
    part = coach.post(ADDRESS, sent(**{KNEE: 60}), headers={"HX-Request": "true"}).content.decode()
    assert part.lstrip().startswith('<div id="bench"')
    assert "60 degrees, shipped 105" in part
    with access.within(who.club):
        assert "figure" not in ClubExercise.objects.get().document
    kept = coach.post(ADDRESS, sent(do="save", **{KNEE: 60}))
    assert kept.headers["Location"] == reverse("exercise", args=["hill-squat"])
    with access.within(who.club):
        row = Exercise.objects.get(pk="hill-squat")
        assert row.document["figure"] == {"base": "squat", "angles": {KNEE: 60}}
        figure = str(figure_of(row))
        sheet = PdfReader(io.BytesIO(sheet_pdf(read_page(row), Cover("", ""))))
    assert figure in unescape(coach.get(reverse("exercise", args=["hill-squat"])).content.decode())
    assert len(sheet.pages[0].get_contents().get_data()) > 5000


def test_another_figure_to_begin_with_has_its_own_sliders(coach: Client) -> None:
    page = coach.post(ADDRESS, sent(base="wall-sit", do="base")).content.decode()
    assert page.count('type="range"') == len(own_figures.find_angles("wall-sit"))
    assert 'name="shown" value="wall-sit"' in page


def test_a_value_beyond_a_joint_is_refused_and_nothing_is_kept(coach: Client, who: people.People) -> None:
    answer = coach.post(ADDRESS, sent(do="save", **{KNEE: 500}))
    assert answer.status_code == 422
    with access.within(who.club):
        assert "figure" not in ClubExercise.objects.get().document


def test_the_figure_outlives_other_words_and_stays_out_of_the_engines_library(
    coach: Client, who: people.People
) -> None:
    coach.post(ADDRESS, sent(do="save", **{KNEE: 60}))
    with access.within(who.club):
        club_library.save(club=who.club, entries=[own_exercise("Hills")], by=who.coach, now=people.NOW)
        assert ClubExercise.objects.get().document["figure"]["angles"] == {KNEE: 60}
        documents = club_library.documents_of(who.club)
    assert not any("figure" in row for document in documents for row in document["exercises"])


def test_a_shipped_exercise_has_no_figure_of_the_clubs(coach: Client) -> None:
    assert coach.get(reverse("exercise-figure", args=["squat"])).status_code == 404
