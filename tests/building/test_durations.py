"""Durations as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.building.durations import DAY, duration_ns, duration_text


@pytest.mark.parametrize(
    ("text", "nanoseconds"),
    [
        ("500ms", 500_000_000),
        ("1.5s", 1_500_000_000),
        ("2m", 120_000_000_000),
        ("12h", 43_200_000_000_000),
        ("400d", 34_560_000_000_000_000),
        ("0s", 0),
        ("0.1s", 100_000_000),
        ("0.000001ms", 1),
    ],
)
def test_a_duration_is_a_number_and_its_unit(text, nanoseconds):
    assert duration_ns(text) == nanoseconds


@pytest.mark.parametrize(
    "text",
    ["", "5", "s", "5 s", " 5s", "-5s", "+5s", "5S", "5sec", "1h30m", ".5s", "5.s", "1e3s", "٣s",
     "0.0000001ms", "9999999999999s", "1,5s", "5s\n"],
)  # fmt: skip
def test_anything_else_is_none(text):
    with pytest.raises(ValueError, match="not a"):
        duration_ns(text)


@given(st.integers(min_value=0, max_value=5000 * DAY))
def test_every_length_is_written_so_that_it_reads_back_exactly(nanoseconds):
    assert duration_ns(duration_text(nanoseconds)) == nanoseconds


@given(st.integers(0, 10**6), st.sampled_from(["ms", "s", "m", "h", "d"]))
def test_what_a_person_wrote_is_the_same_length_written_back(number, unit):
    nanoseconds = duration_ns(f"{number}{unit}")
    assert duration_ns(duration_text(nanoseconds)) == nanoseconds


@pytest.mark.parametrize("text", ["500ms", "1s", "1.5s", "60s", "90s", "75m", "12h", "24h", "400d"])
def test_usual_lengths_are_written_as_usual(text):
    assert duration_text(duration_ns(text)) == text
