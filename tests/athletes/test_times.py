"""Weekly times in plain words, read and written back."""

from datetime import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from athletes.times import WeeklyTime, read_times, write_times


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("Tue 18:30 60 min; Thu evening", "Tue 18:30 60 min; Thu 18:30 45 min"),
        ("Tuesdays and Thursdays 18.30", "Tue 18:30 45 min; Thu 18:30 45 min"),
        ("Fri-Mon 7am 1 h", "Mon 07:00 60 min; Fri 07:00 60 min; Sat 07:00 60 min; Sun 07:00 60 min"),
        ("weekend morning 1.5 h", "Sat 07:00 90 min; Sun 07:00 90 min"),
        ("Sat 6.30pm 1 h 30 at the Club gym", "Sat 18:30 90 min at Club gym"),
        ("Tue 18:30-19:45 preferred", "Tue 18:30 75 min preferred"),
        ("none", ""),
    ],
)
def test_plain_words_are_read(typed, read):
    times, unread = read_times(typed, minutes=45)
    assert unread == ()
    assert write_times(times) == read


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("whenever", "a time of day"),
        ("Tue", "a time of day"),
        ("18:30", "a day, a time and a length"),
        ("Tue 25:00", "00:00 to 23:59"),
        ("Tue 13pm", "1 to 12"),
        ("Tue 18:30 5 min", "10 to 720"),
        ("Tue 18:30; Tue evening", "once"),
        ("Tue 18:30 with friends", "a day, a time and a length"),
    ],
)
def test_what_cannot_be_read_is_named_with_what_would_be(typed, expected):
    _times, (unread,) = read_times(typed, minutes=45)
    assert expected in unread.expected


times = st.builds(
    WeeklyTime,
    weekday=st.integers(0, 6),
    start=st.times().map(lambda at: time(at.hour, at.minute)),
    minutes=st.integers(10, 720),
    venue=st.sampled_from(["", "Home", "Club gym"]),
    preferred=st.booleans(),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(times, max_size=8, unique_by=lambda one: (one.weekday, one.start)))
def test_what_is_written_is_read_back_the_same(some):
    assert read_times(write_times(some), minutes=1) == (tuple(sorted(some)), ())


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=200))
def test_no_text_breaks_the_reader(text):
    read_times(text, minutes=45)
