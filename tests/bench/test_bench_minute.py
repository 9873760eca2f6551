"""What the bench rang in its last minute counts for a daemon that starts at once (rule 8)."""

from __future__ import annotations

import signal
import time

import pytest
from benches_at_work import HOUSE

from controller.bench.moved import Belief
from controller.building.file import building_of
from controller.building.sheets import Source
from controller.engine.contract import Now
from controller.engine.records import LineRow, SoundingRow, Stamp, StepRow
from controller.engine.recover import recover
from controller.journal.mirror import Mirror
from controller.journal.store import Store
from controller.timekeeping.kernel import boot_id
from controller.timetable.contact import first_excess

MS = 1_000_000
SECOND = 1_000 * MS
BUILDING = building_of("house.toml", [Source("house.toml", HOUSE.encode())])
LATE = 500_000_000  # ns, of a busy test machine; what counts is seconds of a minute


def records_of(state):
    store = Store(state / "store.sqlite")
    records = store.load()
    store.close()
    return records


def started(records):
    """The state of a daemon that starts now."""
    return recover(BUILDING, records, Now(time.time_ns(), time.monotonic_ns(), boot_id(), True))


@pytest.fixture
def belief(tmp_path):
    """Of a bench whose store has seen a daemon."""
    Store(tmp_path / "store.sqlite").close()
    here = Belief(tmp_path, tmp_path, "Ida")
    yield here
    here.close()


def test_a_daemon_that_starts_at_once_rings_only_what_is_left_of_the_minute(belief, tmp_path):
    now = time.monotonic_ns()
    worked = [
        (now - number * SECOND, now - number * SECOND + 500 * MS) for number in range(50, 0, -1)
    ]
    belief.rang({"north": worked})
    belief.close()
    zone = started(records_of(tmp_path)).zones["north"]
    assert list(zone.closed) == worked
    north = BUILDING.zones["north"]  # 10 s at once, 30 s a minute
    begin = time.monotonic_ns()
    asked = [(begin, begin + 10 * SECOND)]
    assert first_excess(asked, (), north.longest_ns, north.a_minute_ns) is None
    ends = first_excess(asked, zone.closed, north.longest_ns, north.a_minute_ns)
    assert ends is not None  # 25 s of 30 s are gone; none comes back within 9 s
    assert 5 * SECOND <= ends[0] - begin < 6 * SECOND


def test_it_takes_a_number_that_no_play_has_stored_or_not(belief, tmp_path):
    step = StepRow(41, "+", 1, 1, boot_id(), True, False)
    row = LineRow("main", True, 1, 720, "+", False, False, step, 1)
    Mirror(tmp_path / "unstored.json", boot_id()).write(
        [row, Stamp(1, 1, boot_id(), True, 1, 1, 7)]
    )
    belief.rang({"north": [(1, 2)], "south": [(3, 4)]})
    belief.close()
    rows = [one for one in records_of(tmp_path) if isinstance(one, SoundingRow)]
    assert sorted(one.play for one in rows) == [42, 43]
    assert started(rows).next_play == 44


def test_where_nothing_rang_or_nothing_is_stored_nothing_is_said(belief, tmp_path):
    belief.rang({})
    belief.close()
    assert records_of(tmp_path) == []
    (tmp_path / "elsewhere").mkdir()
    none = Belief(tmp_path / "elsewhere", tmp_path, "Ida")
    none.rang({"north": [(1, 2)]})
    none.close()
    assert not (tmp_path / "elsewhere" / "store.sqlite").exists()


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_a_bench_stopped_in_mid_closing_stores_what_its_last_minute_rang(bench, how):
    Store(bench.state / "store.sqlite").close()
    bench.start("endurance", "--only", "north", "--endures", "500")
    bench.wait(lambda: bench.has_closed("zones.north") > 3 and bench.closed("zones.north"))
    bench.process.send_signal(how)
    assert bench.process.wait(20) == 1
    contacts = [
        (c.mono, c.to) for c in bench.log() if (c.what, c.name) == ("contact", "zones.north")
    ]
    closed = started(records_of(bench.state)).zones["north"].closed
    assert len(closed) == len(contacts) // 2 > 3
    for (start, end), (on, _), (off, _) in zip(closed, contacts[::2], contacts[1::2], strict=True):
        assert 0 <= on - start < LATE
        assert abs(off - end) < LATE


def test_without_a_store_the_person_is_told_to_wait_where_the_minute_is_nearly_full(bench):
    full = bench.file.read_text().replace("sense = 24\n", 'sense = 24\na_minute = "10s"\n')
    bench.file.write_text(full)
    with bench.board() as board:  # it is wired as the file was
        board.end()
    assert bench.run("times", "--only", "north", "--operations", "1") == 0
    said = " ".join(bench.said.decode().split())
    assert "Wait a minute before a daemon is started" in said
    assert "north was on just now" in said


def test_without_a_store_nothing_is_said_of_a_minute_that_has_room(bench):
    assert bench.run("times", "--only", "north", "--operations", "1") == 0
    assert b"Wait a minute" not in bench.said
