"""The level rail: where a rider stands in each family, what earns the next level, who of a squad stands where."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from athletes import access
from programs.facts import current_library
from programs.models import Exercise, LevelMove, Slot
from programs.rails import rail_of, read_rails, read_rungs
from tests import people


@pytest.fixture
def who(db: None) -> people.People:
    return people.wexenfold()


def move(who: people.People, rider: object, exercise: str, days_ago: int = 0) -> None:
    row = Exercise.objects.get(pk=exercise)
    LevelMove.objects.create(
        club=who.club,
        rider=rider,
        pattern=row.pattern,
        exercise=row,
        since_on=people.MONDAY - timedelta(days=days_ago),
        why=LevelMove.Why.COACH,
    )


def test_the_newest_move_in_each_pattern_is_where_the_rider_stands(who: people.People) -> None:
    with access.within(who.club):
        move(who, who.rider, "chair-touch-squat", days_ago=30)
        move(who, who.rider, "squat", days_ago=2)
        move(who, who.rider, "floor-bridge", days_ago=9)
        rails = read_rails(who.rider, current_library())
        names = dict(Exercise.objects.values_list("slug", "name"))
    assert [(rail.pattern, rail.now) for rail in rails] == [
        ("Squat", names["squat"]),
        ("Hinge", names["floor-bridge"]),
    ]


def test_the_next_level_is_said_with_the_words_of_the_library(who: people.People) -> None:
    with access.within(who.club):
        move(who, who.rider, "squat")
        (rail,) = read_rails(who.rider, current_library())
        step = Exercise.objects.get(pk="squat").document["earns"][0]
    (following,) = [rung for rung in rail.levels if rung.get("next")]
    assert step["words"] in following["criterion"]
    assert [rung["name"] for rung in rail.levels if rung.get("current")] == [rail.now]


def test_levels_on_a_rail_rise_from_one_end_to_the_other_for_every_exercise(db: None) -> None:
    library, names = current_library(), dict(Exercise.objects.values_list("slug", "name"))
    for exercise in library.exercises:
        levels = [rung["level"] for rung in rail_of(library, exercise.slug, names)]
        assert levels == sorted(set(levels)), exercise.slug


def test_the_riders_page_draws_the_rails(who: people.People) -> None:
    with access.within(who.club):
        move(who, who.rider, "squat")
    client = Client()
    client.force_login(who.assistant.user)
    page = client.get(reverse("rider", args=[who.rider.pk])).content.decode()
    assert "what earns the next level" in page
    assert 'class="rail-now" aria-current="step"' in page


def test_a_family_shows_who_stands_at_each_level_and_nobody_of_another_club(who: people.People) -> None:
    others = people.strangers()
    with access.within(others.club):
        move(others, others.rider, "squat")
    with access.within(who.club):
        move(who, who.rider, "squat", days_ago=9)
        move(who, who.young_rider, "squat", days_ago=9)
        move(who, who.young_rider, "chair-stand", days_ago=1)
        levels = list(Exercise.objects.filter(pattern="squat").order_by("level"))
        there = {rung.exercise.slug: [rider.pk for rider in rung.riders] for rung in read_rungs(levels)}
    assert there["squat"] == [who.rider.pk]
    assert there["chair-stand"] == [who.young_rider.pk]
    assert sum(map(len, there.values())) == 2
    client = Client()
    client.force_login(who.assistant.user)
    page = client.get(reverse("exercise", args=["squat"])).content.decode()
    assert who.rider.name in page
    assert others.rider.name not in page


def test_a_rider_who_left_stands_nowhere(who: people.People) -> None:
    with access.within(who.club):
        move(who, who.rider, "squat")
        who.rider.state = "left"
        who.rider.save()
        levels = list(Exercise.objects.filter(pattern="squat"))
        assert [rung.riders for rung in read_rungs(levels) if rung.riders] == []


def test_a_slot_shows_where_the_programs_squad_stands(who: people.People) -> None:
    with access.within(who.club):
        move(who, who.rider, "squat")
        slot = Slot.objects.filter(pattern="squat").first()
    client = Client()
    client.force_login(who.coach.user)
    page = client.get(reverse("slot-edit", args=[slot.pk])).content.decode()
    assert f"Where {who.squad.name} stands" in page
    assert who.rider.name in page
