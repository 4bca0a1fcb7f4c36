"""The week strip, read back as XML."""

import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date, timedelta

import pytest

from programs.drawings import FIELD, LOWEST_DONE, PLANNED_HEIGHT, marks_of, week_strip_columns, week_strip_svg
from programs.sheet import StripDay
from tests.programs.examples import HOSTILE, sheet

MONDAY = date(2026, 11, 2)
SVG = "{http://www.w3.org/2000/svg}"


def strip_of(**first: object) -> tuple[StripDay, ...]:
    days = tuple(StripDay(MONDAY + timedelta(days=number)) for number in range(7))
    return (replace(days[0], **first), *days[1:])  # type: ignore[arg-type]


def classes(svg: str) -> list[str]:
    return [element.get("class") for element in ET.fromstring(svg).iter() if element.get("class")]  # type: ignore[misc]


@pytest.mark.parametrize(
    ("day", "bar", "height"),
    [
        ({"planned": True}, "planned", PLANNED_HEIGHT),
        ({"planned": True, "missed": True}, "missed", PLANNED_HEIGHT),
        ({"planned": True, "missed": True, "done_rpe": 0}, "done", LOWEST_DONE),
        ({"done_rpe": 10}, "done", FIELD),
        ({"done_rpe": 5}, "done", LOWEST_DONE + (FIELD - LOWEST_DONE) // 2),
        ({"done_rpe": 99}, "done", FIELD),
        ({"race": "Skarnock"}, "", 0),
    ],
)
def test_a_bar_says_planned_missed_or_how_hard(day: dict[str, object], bar: str, height: int) -> None:
    marks = marks_of(strip_of(**day)[0])
    assert (marks.bar, marks.height) == (bar, height)


def test_every_state_differs_in_shape_and_not_in_colour() -> None:
    drawn = {
        name: week_strip_svg(strip_of(**day))
        for name, day in {
            "planned": {"planned": True},
            "done": {"done_rpe": 6},
            "missed": {"missed": True},
            "ride": {"key_ride": True},
            "race": {"race": "Skarnock"},
            "pain": {"pain": 4},
        }.items()
    }
    for name, svg in drawn.items():
        others = [other for other in drawn if other != name]
        assert f"strip-{name}" in classes(svg)
        assert not any(f"strip-{other}" in classes(svg) for other in others)
        assert "#" not in svg
        assert "style=" not in svg


def test_pain_is_a_numbered_wedge_on_the_web_and_nowhere_else() -> None:
    strip = strip_of(planned=True, pain=7)
    web, mail = week_strip_svg(strip), week_strip_svg(strip, for_mail=True)
    assert "strip-pain" in classes(web)
    assert "pain 7 out of 10" in web
    assert mail == week_strip_svg(strip_of(planned=True), for_mail=True)
    assert week_strip_columns(strip) == week_strip_columns(strip_of(planned=True))


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_hostile_race_name_stays_inside_the_label(text: str) -> None:
    svg = week_strip_svg(strip_of(race=text))
    assert [element.tag for element in ET.fromstring(svg).iter()] == [
        element.tag for element in ET.fromstring(week_strip_svg(strip_of(race="Jo"))).iter()
    ]


def test_the_strip_says_in_words_what_it_draws() -> None:
    root = ET.fromstring(week_strip_svg(sheet(2).strip))
    assert root.get("role") == "img"
    assert "Tuesday 3 November: strength planned" in (root.get("aria-label") or "")


def test_the_strip_is_the_same_each_time_and_seven_days_wide() -> None:
    assert week_strip_svg(sheet(2).strip) == week_strip_svg(sheet(2).strip)
    assert [column.weekday for column in week_strip_columns(sheet(2).strip)] == [
        "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun",
    ]  # fmt: skip
    texts = [element.text for element in ET.fromstring(week_strip_svg(sheet(2).strip)).iter(f"{SVG}text")]
    assert len(texts) == 7
