"""What a keeper types for a length or for strokes, and what the file would have."""

from __future__ import annotations

import pytest

from controller.editing.typed import length_of, seconds_of


@pytest.mark.parametrize(
    ("typed", "written"),
    [("5", "5s"), (" 2.5 ", "2.5s"), ("500ms", "500ms"), ("2m", "2m"), ("long", "long")],
)
def test_a_bare_number_is_one_of_seconds(typed, written):
    assert length_of(typed) == written


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("1, 0.5, 1", [1, 0.5, 1]),
        ("1", [1]),
        ("1,,1", [1, "", 1]),
        ("1; 2", ["1; 2"]),
        ("nan, inf, 9e999", ["nan", "inf", "9e999"]),
    ],
)
def test_strokes_are_seconds_and_what_is_none_stays_as_typed(typed, written):
    assert seconds_of(typed) == written
