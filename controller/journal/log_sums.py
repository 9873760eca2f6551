"""The write-ahead log, read before SQLite reads it: was a bit of what it holds changed?

SQLite ends a log silently at its first frame that is not whole, for that is how a commit looks that
a power cut left half-written. A bit that is another in the middle looks the same, and all that was
stored after it would be gone without a word: hours of impulses, and dials wrong but not doubtful.
The two can be told apart. A commit is flushed before the next is begun, so frames of later commits
behind one that is not whole mean that it was whole once.

The format: "WAL-mode File Format" in SQLite's documentation, sections 2 to 4. Frames of an earlier
turn of the log have other salts. Each frame's sum goes on from that of the frame before it, so the
frames behind a broken one are summed on from what it carries.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

_HEADER_BYTES = 32
_FRAME_HEADER_BYTES = 24
_MAGIC = 0x377F0682  # and 1 more where the words are summed as big-endian ones
_MOST_BYTES = 64 << 20  # eight times the log's length; a longer one is not ours
_TORN_AWAY = 1  # whole commits behind a frame that a power cut can have torn: its own


class Frame(NamedTuple):
    """A frame of the log's present turn."""

    whole: bool
    commits: bool  # the last frame of a commit


def break_of(log: Path) -> str:
    """What is wrong with a log that was whole once; "" where nothing is, or none is there.

    Raises `OSError`.
    """
    if not log.exists():
        return ""
    with log.open("rb") as file:
        header = file.read(_HEADER_BYTES)
        if len(header) < _HEADER_BYTES or not any(header):
            return ""
        order = _order_of(header)
        if order is None:
            return "the head of its log is damaged"
        rest = file.read(_MOST_BYTES)
    commits = 0
    for number, frame in enumerate(frames := list(_frames(header, rest, order))):
        if not frame.whole:
            behind = sum(one.whole and one.commits for one in frames[number + 1 :])
            if behind > _TORN_AWAY or (behind and frame.commits):
                return f"its log is damaged after {commits} commits, and {behind} more follow"
            return ""
        commits += frame.commits
    return ""


def _order_of(header: bytes) -> str | None:
    """The order of the bytes in a word that is summed, as `struct` has it; None: a damaged head."""
    magic, *_, first, second = struct.unpack(">8I", header)
    if magic & ~1 != _MAGIC:
        return None
    order = ">" if magic & 1 else "<"
    return order if _summed(header[:24], (0, 0), order) == (first, second) else None


def _frames(header: bytes, rest: bytes, order: str) -> Iterator[Frame]:
    """The frames up to the last that has the head's salts. One whose own salts are another's by a
    changed bit stands among them, and is not whole.
    """
    _, _, page_bytes, _, *salts, first, second = struct.unpack(">8I", header)
    length = _FRAME_HEADER_BYTES + page_bytes
    starts = range(0, len(rest) - length + 1, length)
    of_this_turn = [rest[at + 8 : at + 16] == struct.pack(">2I", *salts) for at in starts]
    before = first, second
    last = max((number for number, ours in enumerate(of_this_turn) if ours), default=-1)
    for at, ours in list(zip(starts, of_this_turn, strict=True))[: last + 1]:
        frame = rest[at : at + length]
        size, its_sum = struct.unpack(">I", frame[4:8])[0], struct.unpack(">2I", frame[16:24])
        summed = _summed(frame[:8] + frame[_FRAME_HEADER_BYTES:], before, order)
        yield Frame(ours and summed == its_sum, size != 0)
        before = its_sum


def _summed(data: bytes, before: tuple[int, ...], order: str) -> tuple[int, int]:
    """The log's sum of 8-byte pairs of words, going on from `before`."""
    first, second = before
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for even, odd in zip(words[::2], words[1::2], strict=True):
        first = (first + even + second) & 0xFFFFFFFF
        second = (second + odd + first) & 0xFFFFFFFF
    return first, second
