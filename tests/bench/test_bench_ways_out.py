"""However a bench ends, in mid-test, every relay is open at once; what was moved is unread."""

from __future__ import annotations

import os
import signal
import time

import pytest
from benches_at_work import OPEN

from controller.engine.records import LineRow, NoteRow
from controller.journal.store import Store

LATE = 0.2  # of a busy test machine
ENDS, HANGS = 0.5, 3.0  # s until all relays are open: design rule 18
ROW = LineRow("main", True, 630, 720, "+", False, False, None, 1)


def stored(bench):
    store = Store(bench.state / "store.sqlite")
    records = store.load()
    store.close()
    (row,) = (record for record in records if isinstance(record, LineRow))
    return row, [record.text for record in records if isinstance(record, NoteRow)]


@pytest.mark.parametrize("relay", ["zones.north", "lines.main+"])
@pytest.mark.parametrize(
    ("how", "seconds", "why"),
    [
        (signal.SIGINT, ENDS, "stopped by Ctrl-C"),
        (signal.SIGTERM, ENDS, "told to end (SIGTERM)"),
        (signal.SIGHUP, ENDS, "its terminal was closed (SIGHUP)"),
        (signal.SIGKILL, ENDS, ""),
        (signal.SIGSEGV, ENDS, ""),
        (signal.SIGSTOP, HANGS, ""),
    ],
)
def test_a_bench_that_is_ended_in_mid_test_leaves_every_relay_open(
    bench, capsys, relay, how, seconds, why
):
    bench.start("endurance", "--only", relay.strip("+"), "--endures", "500")
    bench.wait(lambda: bench.has_closed(relay) > 1 and bench.closed(relay))
    ended = time.monotonic_ns()
    bench.process.send_signal(how)
    took = bench.open_after(ended, seconds)
    with capsys.disabled():
        print(f"\n{how.name} while {relay} is closed: open after {took:.3f} s of {seconds} s")
    assert took < seconds + LATE
    if how == signal.SIGSTOP:
        bench.process.send_signal(signal.SIGCONT)
    code = bench.process.wait(10)
    bench.wait(lambda: not bench.held())
    assert bench.levels() == OPEN
    bench.wait(lambda: not bench.closed(relay))  # a contact follows its coil a little later
    if why:
        assert code == 1
        assert bench.record()["stopped"] == f"{why}, in the test endurance"
        (result,) = bench.results().values()
        assert 1 <= result["figures"]["operations"] < result["figures"]["asked"]
    else:
        assert code != 0


def test_a_closed_terminal_in_mid_test_leaves_every_relay_open_and_the_record_kept(bench):
    bench.start_on_terminal("relays", "lines", "--yes")
    bench.wait(lambda: bench.closed("zones.gong"))
    ended = time.monotonic_ns()
    bench.close_terminal()
    assert bench.open_after(ended, ENDS) < ENDS + LATE
    assert bench.process.wait(10) == 1
    assert not bench.held()
    assert bench.record()["stopped"]
    assert bench.results()["relays", "zones.north"]["verdict"] == "well"


def test_ctrl_c_on_the_terminal_reaches_the_hand_too_and_it_opens_in_order(bench):
    bench.start_on_terminal("relays", "--yes")
    bench.wait(lambda: bench.closed("zones.south"))
    ended = time.monotonic_ns()
    os.write(bench.terminal, b"\x03")
    assert bench.open_after(ended, ENDS) < ENDS + LATE
    bench.read_until("Stopped early: stopped by Ctrl-C")
    assert bench.process.wait(10) == 1


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGSTOP])
def test_a_hand_that_ends_or_hangs_ends_the_bench_which_opens_its_relays(bench, how):
    bench.start("endurance", "--only", "main", "--endures", "500")
    bench.wait(lambda: bench.closed("lines.main+"))
    (hand,) = {int(c.says.split()[-1]) for c in bench.log() if c.what == "holder"}
    ended = time.monotonic_ns()
    os.kill(hand, how)
    assert bench.open_after(ended, 5.0) < 4.0 + LATE  # rule 18's, of a hand that hangs
    assert bench.process.wait(10) == 1
    assert "hand" in bench.record()["stopped"]


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_a_line_is_unread_before_it_moves_however_the_bench_ends(bench, how):
    store = Store(bench.state / "store.sqlite")
    store.commit([ROW])
    store.close()
    bench.start("endurance", "--only", "main", "--endures", "500")
    bench.wait(lambda: bench.closed("lines.main+"))
    bench.process.send_signal(how)
    bench.process.wait(10)
    row, notes = stored(bench)
    assert not row.read
    assert not row.polarity_known
    assert notes == ["main: moved by a bench test, and unread"]


def test_a_line_that_no_test_moved_is_as_it_was(bench):
    store = Store(bench.state / "store.sqlite")
    store.commit([ROW])
    store.close()
    assert bench.run("relays", "--only", "north") == 0
    assert stored(bench) == (ROW, [])
