"""The season ruler: where weeks, sessions, hours and races stand. Our own drawing, no source."""

import re

from programs.ruler import LETTER, STEP, RulerWeek, draw_ruler


def season(*weeks: RulerWeek) -> list[RulerWeek]:
    return list(weeks)


def test_a_week_has_one_dot_for_each_session() -> None:
    ruler = draw_ruler(season(RulerWeek("1", sessions=3), RulerWeek("2"), RulerWeek("3", sessions=1)))
    assert [len(tick.dots) for tick in ruler.ticks] == [3, 0, 1]
    assert all(0 < dot < ruler.baseline for tick in ruler.ticks for dot in tick.dots)


def test_weeks_stand_at_even_steps() -> None:
    ruler = draw_ruler([RulerWeek(str(number)) for number in range(5)])
    places = [tick.x for tick in ruler.ticks]
    assert [after - before for before, after in zip(places, places[1:], strict=False)] == [STEP] * 4


def test_the_week_with_most_hours_reaches_the_full_depth_and_the_others_in_proportion() -> None:
    ruler = draw_ruler(season(RulerWeek("1", bike_hours=4), RulerWeek("2", bike_hours=8)))
    top = float(re.match(r"M\d+ ([\d.]+)", ruler.area)[1])  # type: ignore[index]
    first, second = (float(y) - top for y in re.findall(r"L\d+ ([\d.]+)", ruler.area)[:2])
    assert second == 2 * first > 0


def test_names_of_races_in_following_weeks_never_overlap() -> None:
    races = ["Wexenfold Spring Round", "Skarnock Bank Hill Climb", "Tolmarrow Hundred"]
    for first in range(26):
        weeks = [
            RulerWeek(str(number), race=races[number - first] if first <= number < first + 3 else "")
            for number in range(30)
        ]
        spans = []
        for tick in draw_ruler(weeks).ticks:
            if tick.race:
                length = len(tick.race) * LETTER
                left = tick.race_x - (length if tick.race_anchor == "end" else 0)
                spans.append((tick.race_y, left, left + length))
        for index, (line, left, right) in enumerate(spans):
            for other_line, other_left, other_right in spans[:index]:
                assert line != other_line or right < other_left or other_right < left


def test_a_season_without_weeks_is_empty_and_not_an_error() -> None:
    ruler = draw_ruler([])
    assert ruler.ticks == ()
    assert ruler.area == ""
    assert ruler.now_x is None


def test_the_words_name_the_races() -> None:
    words = draw_ruler(season(RulerWeek("1", sessions=2), RulerWeek("2", race="Tolmarrow Hundred"))).words
    assert words == "A season of 2 weeks, 2 sessions, races: Tolmarrow Hundred."
