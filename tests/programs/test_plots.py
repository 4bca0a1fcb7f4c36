"""Where a plot of a season puts its bars, curves and words."""

import re

from programs.plots import Axis, Plot, PlotWeek, Range, draw_bars, draw_curve, draw_rows


def axis(weeks: int, **races: str) -> Axis:
    return Axis.of(
        [
            PlotWeek(f"Week {place}", "Oct" if place == 0 else "", "build", races.get(f"w{place}", ""))
            for place in range(weeks)
        ]
    )


def paths(plot: Plot, kind: str) -> list[str]:
    return [stroke.path for stroke in plot.strokes if stroke.kind == kind]


def bar(path: str) -> tuple[int, int]:
    """The top and the foot of a bar."""
    found = re.fullmatch(r"M(\d+) (\d+)h(\d+)V(\d+)h-\3z", path)
    assert found, path
    return int(found[2]), int(found[4])


def heights(plot: Plot, kind: str) -> list[int]:
    return [foot - top for top, foot in map(bar, paths(plot, kind))]


def inside(plot: Plot) -> bool:
    places = [
        (int(x), int(y)) for path in plot.strokes for x, y in re.findall(r"[ML ](\d+) (\d+)", path.path)
    ]
    return all(0 <= x <= plot.width and 0 <= y <= plot.height for x, y in places)


def test_bars_are_as_high_as_what_they_count() -> None:
    plot = draw_bars(axis(4), [4, 2, 0, 4], [2, 2, 0, 0], words="Sessions.")
    asked, done = heights(plot, "plot-hollow"), heights(plot, "plot-bar")
    assert asked[0] == asked[2] == 2 * asked[1]
    assert done == [asked[1], asked[1]]
    assert inside(plot)


def test_a_week_with_nothing_has_no_bar() -> None:
    plot = draw_bars(axis(3), [0, 0, 0], [0, 0, 0], words="Nothing.")
    assert not paths(plot, "plot-hollow") and not paths(plot, "plot-bar")
    assert inside(plot)


def test_bars_stand_in_the_order_of_weeks_and_never_over_one_another() -> None:
    plot = draw_bars(axis(52), [3] * 52, [1] * 52, words="A year.")
    lefts = [int(path[1:].split()[0]) for path in paths(plot, "plot-hollow")]
    assert lefts == sorted(lefts)
    assert all(later - earlier > 16 for earlier, later in zip(lefts, lefts[1:], strict=False))
    assert inside(plot)


def test_names_of_races_that_are_near_stand_in_lines_of_their_own() -> None:
    near = draw_bars(
        axis(20, w3="Wexenfold Spring Round", w5="Tolmarrow Hundred"), [1] * 20, [1] * 20, words=""
    )
    rows = {word.text: word.y for word in near.texts if word.text.startswith(("Wex", "Tol"))}
    assert len(set(rows.values())) == 2
    far = draw_bars(axis(40, w2="Wexenfold", w30="Tolmarrow"), [1] * 40, [1] * 40, words="")
    rows = {word.text: word.y for word in far.texts if word.text.startswith(("Wex", "Tol"))}
    assert len(set(rows.values())) == 1


def test_a_race_s_name_at_the_end_runs_back_into_the_drawing() -> None:
    plot = draw_bars(axis(20, w19="Wexenfold Spring Round"), [1] * 20, [1] * 20, words="")
    (word,) = [word for word in plot.texts if word.text.startswith("Wex")]
    assert word.anchor == "end"


def test_rows_share_one_scale() -> None:
    rows = [("Squat", [Range(2, 4, 6)]), ("Pull", [Range(2, 2, 2)])]
    squat, pull = heights(draw_rows(axis(1), rows, words="Sets."), "plot-soft")
    assert abs(squat - 2 * pull) <= 1


def test_a_range_is_drawn_only_where_riders_differ() -> None:
    rows = [("Squat", [Range(2, 4, 6), Range(3, 3, 3), Range()])]
    plot = draw_rows(axis(3), rows, words="Sets.")
    assert len(paths(plot, "plot-whisker")) == 1
    assert len(paths(plot, "plot-soft")) == 2


def test_a_curve_breaks_where_there_is_nothing() -> None:
    values = [Range(8, 8, 8), Range(8, 10, 12), Range(), Range(12, 12, 16), Range(12, 12, 16)]
    plot = draw_curve(axis(5), values, words="kg", name="kg")
    (line,) = paths(plot, "plot-line")
    assert line.count("M") == 2
    assert len(paths(plot, "plot-range")) == 2
    assert inside(plot)


def test_a_week_alone_is_a_short_stroke_and_has_no_shade() -> None:
    plot = draw_curve(axis(3), [Range(), Range(8, 8, 12), Range()], words="kg", name="kg")
    assert re.fullmatch(r"M\d+ \d+m-4 0h8", paths(plot, "plot-line")[0])
    assert not paths(plot, "plot-range")


def test_a_curve_without_a_value_draws_no_line() -> None:
    plot = draw_curve(axis(2), [Range(), Range()], words="kg", name="kg")
    assert not paths(plot, "plot-line")
    assert inside(plot)


def test_what_riders_have_is_a_broken_line_that_fits_too() -> None:
    plot = draw_curve(axis(2), [Range(20, 30, 40)] * 2, words="", name="min", room=[90.0, 90.0])
    (room,) = paths(plot, "plot-room")
    (line,) = paths(plot, "plot-line")
    assert int(room.split()[1].split("L")[0]) < int(line.split()[1].split("L")[0])
    assert inside(plot)


def test_the_lower_part_of_a_curve_stands_under_the_upper() -> None:
    plot = draw_curve(
        axis(2), [Range(8, 8, 8)] * 2, words="", name="kg", below=("reps", [Range(5, 6, 7)] * 2)
    )
    upper, lower = (int(path.split()[1].split("L")[0]) for path in paths(plot, "plot-line"))
    assert lower > upper
    assert {"kg", "reps"} <= {word.text for word in plot.texts}


def test_marks_are_round_and_reach_above_the_highest() -> None:
    for most in (1, 3, 7, 12, 33, 48, 90, 250, 1300):
        plot = draw_curve(axis(2), [Range(0, most, most)] * 2, words="", name="")
        marks = [int(word.text) for word in plot.texts if word.text.isdigit()]
        assert marks[0] == 0 and marks[-1] >= most and 2 <= len(marks) <= 6
        assert len({later - earlier for earlier, later in zip(marks, marks[1:], strict=False)}) == 1


def test_a_phase_is_named_where_there_is_room_for_its_word() -> None:
    weeks = (
        [PlotWeek("", "", "build")] * 8 + [PlotWeek("", "", "race week")] + [PlotWeek("", "", "maintain")] * 4
    )
    plot = draw_bars(Axis.of(weeks), [1] * 13, [1] * 13, words="")
    assert [word.text for word in plot.texts if not word.text.isdigit()] == ["build", "maintain"]
    assert len(paths(plot, "plot-phase")) == 3
