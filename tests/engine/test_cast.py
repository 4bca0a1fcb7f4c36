"""Who lives a season: dealt and drawn as the docstring says, from the generator alone."""

from dataclasses import replace
from decimal import Decimal
from random import Random

import pytest

from athletes.vocabulary import Furniture, Implement, Region, Side
from programs.engine.cast import (
    Ages,
    Cast,
    KitName,
    Player,
    Surroundings,
    WeeklyTime,
    draw_player,
    kit_named,
    start_standings,
)
from programs.engine.facts import Growth, Kit, Rider
from programs.engine.families import exercise_of
from programs.engine.simulate import Episode
from tests.engine.shipped import shipped


def players(cast: Cast) -> list[Player]:
    return [
        draw_player(cast, shipped(), number=number, draw=Random(f"{cast.seed}:{number}"))
        for number in range(cast.riders)
    ]


def test_the_same_cast_and_seed_give_the_same_riders() -> None:
    cast = Cast(riders=12, weeks=40, seed=7)
    assert players(cast) == players(cast)
    assert players(cast) != players(replace(cast, seed=8))


def test_mixed_ages_are_dealt_so_that_eight_riders_hold_them_all() -> None:
    ages = sorted(player.around.rider.youngest_age for player in players(Cast(8, 10, 3)))
    assert [
        sum(low <= age <= high for age in ages) for low, high in ((14, 17), (18, 49), (50, 64), (65, 75))
    ] == [
        1,
        4,
        2,
        1,
    ]


@pytest.mark.parametrize(
    ("ages", "low", "high"),
    [(Ages.UNDER_18, 14, 17), (Ages.ADULT, 18, 49), (Ages.FROM_50, 50, 64), (Ages.FROM_65, 65, 75)],
)
def test_ages_that_are_wished_for_are_kept(ages: Ages, low: int, high: int) -> None:
    found = {player.around.rider.youngest_age for player in players(Cast(40, 10, 3, ages=ages))}
    assert low <= min(found) and max(found) <= high and len(found) > 2


def test_the_young_have_an_adult_and_only_the_younger_of_them_may_be_growing() -> None:
    for player in players(Cast(40, 10, 3, ages=Ages.UNDER_18)):
        rider = player.around.rider
        assert rider.adult_present
        assert rider.growth is (Growth.NO if rider.youngest_age >= 16 else Growth.UNKNOWN)
    assert not any(player.around.rider.adult_present for player in players(Cast(20, 10, 3, ages=Ages.ADULT)))


def test_mixed_kit_is_dealt_so_that_seven_riders_hold_every_kind() -> None:
    kits = [player.around.venues[0][1] for player in players(Cast(7, 10, 3))]
    for name in KitName:
        if name is not KitName.MIXED:
            assert kit_named(name) in kits


def test_only_the_hall_has_a_barbell_and_nobody_trains_there_alone() -> None:
    for player in players(Cast(28, 10, 3)):
        kit = player.around.venues[0][1]
        assert (kit.barbell is not None) is (Furniture.RACK_WITH_SAFETIES in kit.furniture)
        assert player.around.rider.trains_alone is (kit.barbell is None)


def test_wished_minutes_are_every_opening_s_and_the_rider_s() -> None:
    for player in players(Cast(12, 10, 3, minutes=35)):
        assert {one.minutes for one in player.around.times} == {35}
        assert player.around.rider.minutes_cap == 35


def test_a_wished_share_of_sessions_and_a_wished_pain_are_everybody_s() -> None:
    pain = Episode(4, Region.KNEE, Side.LEFT, 5)
    for player in players(Cast(12, 30, 3, attends=75, pain=pain)):
        assert player.persona.attends == 0.75
        assert player.persona.episodes[0] == pain


def test_chance_brings_pain_illness_holidays_and_silence_as_often_as_declared() -> None:
    personas = [player.persona for player in players(Cast(800, 26, 1))]
    assert 0.42 < sum(len(one.episodes) for one in personas) / 800 < 0.58  # twice 1 in 4
    assert 0.52 < sum(len(one.illnesses) for one in personas) / 800 < 0.68  # twice 3 in 10
    assert 0.62 < sum(len(one.holidays) for one in personas) / 800 < 0.78  # once 7 in 10
    assert 0.03 < sum(one.quiet_from is not None for one in personas) / 800 < 0.075
    assert {score for one in personas for score in (episode.score for episode in one.episodes)} <= set(
        range(2, 7)
    )
    assert {one.days for persona in personas for one in persona.illnesses} == set(range(3, 9))


def test_bike_hours_are_given_for_every_week() -> None:
    for player in players(Cast(12, 33, 3)):
        assert len(player.bike_hours) == 33
        assert all(Decimal("3.2") <= hours <= Decimal("13.5") for hours in player.bike_hours)


def test_riders_like_others_are_dealt_in_turn_and_keep_what_surrounds_them() -> None:
    likes = tuple(
        Surroundings(
            Rider(age, age, minutes_cap=40),
            (("Home", Kit()),),
            (WeeklyTime(1, 18 * 60, 40, "Home"),),
            (),
            (),
        )
        for age in (23, 58)
    )
    found = players(Cast(5, 10, 3, likes=likes))
    assert [player.around.rider.youngest_age for player in found] == [23, 58, 23, 58, 23]
    assert found[0].persona != found[2].persona


def test_a_level_that_was_passed_is_where_each_pattern_begins() -> None:
    library = shipped()
    kit = kit_named(KitName.BELLS)
    low, high = (
        {
            one.pattern: exercise_of(library, one.exercise).level
            for one in start_standings(library, level, [kit])
        }
        for level in (1, 4)
    )
    assert low.keys() == high.keys()
    assert all(low[pattern] <= high[pattern] <= 4 for pattern in low)
    assert any(low[pattern] < high[pattern] for pattern in low)


def test_a_named_kit_is_what_it_says() -> None:
    bells = [one for one in kit_named(KitName.BELLS).fixed if one.implement is Implement.KETTLEBELL]
    assert [one.kg for one in bells] == [8, 12, 16, 20, 24]
    assert not kit_named(KitName.NONE).fixed
    with pytest.raises(KeyError):
        kit_named(KitName.MIXED)
