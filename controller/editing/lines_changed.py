"""What an edit changes in the lines of a file, for people to read before it is saved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from typing import Literal, NamedTuple

_AROUND = 2  # lines told before and after each change
_MOST_COMPARED = 4_000  # lines of either side; beyond these the middle is told as a whole

Kind = Literal["same", "gone", "new", "more"]


class Line(NamedTuple):
    """One line of the comparison. "more": lines are left out here."""

    kind: Kind
    number: int | None  # in the new text; of a line that is gone, in the old one
    text: str


def lines_changed(before: str, after: str) -> list[Line]:
    """The lines that are gone and new, and a few around them."""
    old, new = before.splitlines(), after.splitlines()
    head = _alike(old, new)
    tail = _alike(old[head:][::-1], new[head:][::-1])
    return [*_compared(old, new, head, tail)]


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """How many lines at the beginning are the same."""
    pairs = zip(one, other, strict=False)
    return next(
        (number for number, (a, b) in enumerate(pairs) if a != b), min(len(one), len(other))
    )


def _compared(old: list[str], new: list[str], head: int, tail: int) -> Iterator[Line]:
    # What is alike at both ends is left out first: comparing takes the square of what is left.
    start = max(head - _AROUND, 0)
    old_end, new_end = (len(lines) - max(tail - _AROUND, 0) for lines in (old, new))
    if max(old_end, new_end) - start > _MOST_COMPARED:
        yield Line("gone", start + 1, f"… {old_end - start} lines")
        yield Line("new", start + 1, f"… {new_end - start} lines")
        return
    matcher = SequenceMatcher(a=old[start:old_end], b=new[start:new_end], autojunk=False)
    for count, group in enumerate(matcher.get_grouped_opcodes(_AROUND)):
        if count:
            yield Line("more", None, "…")
        for what, low, high, first, last in group:
            if what == "equal":
                for place in range(first, last):
                    yield Line("same", start + place + 1, new[start + place])
                continue
            for place in range(low, high):
                yield Line("gone", start + place + 1, old[start + place])
            for place in range(first, last):
                yield Line("new", start + place + 1, new[start + place])
