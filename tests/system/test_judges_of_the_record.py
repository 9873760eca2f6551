"""The judges of the guest's record, on records made by hand: what each must find."""

from __future__ import annotations

import random
import struct
from pathlib import Path

from judging import HALL_LINE, dials_after
from recording import SECOND, Edge, closings, overlaps, turned_round
from test_crash_points import missing
from write_log import Disk, writes

PLUS, MINUS = HALL_LINE.relays
RELAYS = {17: True, PLUS: False, MINUS: False}


def edge(line: int, level: int, at: float, what: str = "level", boot: int = 1) -> Edge:
    return Edge(what, line, level, round(at * SECOND), round(at * SECOND), boot)


def test_a_closing_is_from_the_level_that_closes_to_the_other_one() -> None:
    record = [edge(17, 1, 1), edge(PLUS, 0, 2), edge(17, 0, 3), edge(PLUS, 1, 2.6)]
    assert [(one.line, one.seconds) for one in closings(record, RELAYS)] == [(17, 2.0), (PLUS, 0.6)]


def test_the_shortest_blip_is_a_closing() -> None:
    record = [edge(PLUS, 0, 1), edge(PLUS, 1, 1.000001)]
    assert len(closings(record, RELAYS)) == 1


def test_a_power_cut_ends_what_is_closed() -> None:
    (one,) = closings([edge(PLUS, 0, 5), edge(-1, 0, 5.3, "cut"), edge(17, 0, 1, boot=2)], RELAYS)
    assert one.cut
    assert round(one.seconds, 3) == 0.3


def test_plus_and_minus_closed_together_or_without_the_gap_are_found() -> None:
    together = [edge(PLUS, 0, 1), edge(MINUS, 0, 1.5), edge(PLUS, 1, 1.6), edge(MINUS, 1, 2)]
    assert len(overlaps(closings(together, RELAYS), PLUS, MINUS, 0.4)) == 1
    close = [edge(PLUS, 0, 1), edge(PLUS, 1, 1.6), edge(MINUS, 0, 1.9), edge(MINUS, 1, 2.5)]
    assert len(overlaps(closings(close, RELAYS), PLUS, MINUS, 0.4)) == 1
    assert overlaps(closings(close, RELAYS), PLUS, MINUS, 0.3) == []


def test_a_relay_line_that_is_made_an_input_is_found() -> None:
    assert len(turned_round([edge(17, 0, 1, "in"), edge(20, 0, 1, "in")], RELAYS)) == 1


def test_dials_take_what_is_long_enough_and_of_the_other_polarity() -> None:
    record = [
        *(edge(PLUS, 0, 1), edge(PLUS, 1, 1.6)),  # all
        *(edge(PLUS, 0, 2), edge(PLUS, 1, 2.6)),  # given again: none
        *(edge(MINUS, 0, 3), edge(MINUS, 1, 3.35)),  # 58 %: two of three
    ]
    dials = dials_after(HALL_LINE, closings(record, RELAYS), 180, "-")
    assert [dial.shows for dial in dials] == [182, 182, 181]


def test_a_store_that_lost_an_impulse_is_found() -> None:
    first = [edge(PLUS, 0, 1)]
    assert missing((180, "-", "+", 1), first) == ""  # it is given again
    assert missing((181, "+", "-", 1), first) == ""  # the next one is stored already
    assert missing((181, "+", None, None), first) == ""
    assert missing((180, "-", None, None), first) != ""
    second = [*first, edge(MINUS, 0, 2)]
    assert missing((180, "-", "+", 1), second) != ""


def log_of(path: Path, *entries: tuple[int, int, bytes]) -> None:
    """A log as qemu writes it: flags, sector, data."""
    blocks = [struct.pack("<QQQL", 0x6A736677736872, 1, len(entries), 512).ljust(512, b"\0")]
    for flags, sector, data in entries:
        blocks.append(struct.pack("<QQQQ", sector, len(data) // 512, flags, 0).ljust(512, b"\0"))
        blocks.append(data)
    path.write_bytes(b"".join(blocks))


def test_a_crash_keeps_all_before_the_flush_and_some_of_what_came_after(tmp_path: Path) -> None:
    before, log = tmp_path / "before", tmp_path / "log"
    before.write_bytes(bytes(4 * 512))
    one, two = b"\1" * 512, b"\2" * 512
    log_of(log, (0, 0, one), (1, 0, b""), (0, 1, two), (0, 2, two), (0, 3, two))
    ends = [entry.ends_at for entry in writes(log)]
    assert ends[-1] == log.stat().st_size
    seen = {Disk(before, log).crashed(ends[-1], random.Random(seed)) for seed in range(40)}
    assert all(image[:512] == one for image in seen)
    assert len(seen) == 8  # each of three sectors there or not
    assert Disk(before, log).crashed(ends[0], random.Random(2))[512:] == bytes(3 * 512)


def test_a_point_asked_for_again_is_the_same_point(tmp_path: Path) -> None:
    before, log = tmp_path / "before", tmp_path / "log"
    before.write_bytes(bytes(2 * 512))
    one, two = b"\1" * 512, b"\2" * 512
    log_of(log, (0, 0, one), (1, 0, b""), (0, 1, two), (1, 0, b""))
    ends = [entry.ends_at for entry in writes(log)]
    disk, chance = Disk(before, log), random.Random(1)
    for _ in range(5):
        assert disk.crashed(ends[1], chance) == one + bytes(512)
    assert disk.crashed(ends[3], chance) == one + two
