"""The lines of a file that an edit changes, as they are shown before it is saved."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.editing.lines_changed import lines_changed

TEN = "".join(f"line {number}\n" for number in range(1, 11))


def told(before: str, after: str) -> list[tuple[str, int | None, str]]:
    return [tuple(line) for line in lines_changed(before, after)]


def test_a_line_that_comes_is_told_between_its_neighbours():
    after = TEN.replace("line 5\n", "line 5\nnew\n")
    assert told(TEN, after) == [
        ("same", 4, "line 4"),
        ("same", 5, "line 5"),
        ("new", 6, "new"),
        ("same", 7, "line 6"),
        ("same", 8, "line 7"),
    ]


def test_a_line_that_changes_goes_and_comes():
    after = TEN.replace("line 1\n", "first\n")
    assert told(TEN, after) == [
        ("gone", 1, "line 1"),
        ("new", 1, "first"),
        ("same", 2, "line 2"),
        ("same", 3, "line 3"),
    ]


def test_changes_far_apart_have_a_gap_between_them():
    after = TEN.replace("line 1\n", "").replace("line 10\n", "last\n")
    kinds = [kind for kind, _, _ in told(TEN, after)]
    assert kinds == ["gone", "same", "same", "more", "same", "same", "gone", "new"]


def test_what_is_very_long_is_told_as_a_whole():
    long = "".join(f"a{number}\n" for number in range(5_000))
    assert told(long, long.replace("a", "b")) == [
        ("gone", 1, "… 5000 lines"),
        ("new", 1, "… 5000 lines"),
    ]


lines = st.lists(st.sampled_from("abc"), max_size=30)


@given(lines, lines)
def test_the_lines_that_are_gone_and_new_account_for_the_difference(before, after):
    found = lines_changed("\n".join(before), "\n".join(after))
    gone = sum(line.kind == "gone" for line in found)
    new = sum(line.kind == "new" for line in found)
    assert len(after) - len(before) == new - gone
    assert (gone + new == 0) == (before == after)
    for line in found:
        if line.kind in ("same", "new"):
            assert after[line.number - 1] == line.text
        elif line.kind == "gone":
            assert before[line.number - 1] == line.text
