"""The daemon at work on the fake board: edges in time, a reload, a bad file, a second daemon."""

from __future__ import annotations

import signal
import subprocess
from datetime import datetime, time
from zoneinfo import ZoneInfo

LINE = '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\n'
MOST_LATE_SECONDS = 0.25  # of a busy test machine; what it is when left alone, a benchmark says


def first_closing(installation):
    with installation.board() as board:
        (change, *_) = (c for c in board.log() if c.what == "pin" and c.name == "GPIO17" and c.to)
    return datetime.fromtimestamp(change.utc / 1e9, ZoneInfo(installation.zone))


def test_a_bell_rings_at_its_second_and_for_its_strokes(installation):
    at = installation.local(6)
    installation.write(rings=f'{{at = "{at}", zones = ["north"], strokes = [0.5, 0.4, 0.5]}}')
    installation.start()

    def strokes():
        with installation.board() as board:
            changes = [c for c in board.log() if c.what == "pin" and c.name == "GPIO17"]
        return changes if len(changes) >= 4 else None

    on, off, on_again, off_again = installation.wait(strokes)
    due = time.fromisoformat(at)
    first = first_closing(installation)
    late = (first - datetime.combine(first.date(), due, first.tzinfo)).total_seconds()
    assert 0 <= late < MOST_LATE_SECONDS
    lengths = [
        (b.mono - a.mono) / 1e9 for a, b in [(on, off), (off, on_again), (on_again, off_again)]
    ]
    for length, asked in zip(lengths, [0.5, 0.4, 0.5], strict=True):
        assert abs(length - asked) < MOST_LATE_SECONDS
    assert installation.end() == 0


def test_dials_that_are_behind_are_driven_right_and_their_polarity_alternates(installation):
    installation.write(lines=LINE)
    installation.dials_behind("main", 4)
    installation.start()

    def impulses():
        with installation.board() as board:
            found = [c for c in board.log() if c.what == "contact" and "main" in c.name and c.to]
        return found if len(found) >= 4 else None

    names = [change.name for change in installation.wait(impulses)]
    assert names[:4] == ["lines.main+", "lines.main-", "lines.main+", "lines.main-"]
    assert installation.end() == 0


def test_a_reload_takes_a_good_file_and_refuses_a_bad_one(installation):
    installation.write()
    installation.start()
    installation.wait(lambda: "first trusted instant" in installation.said.read_text())
    installation.file.write_text(installation.file.read_text() + "\n[zones.north]\nrelay = 18\n")
    installation.process.send_signal(signal.SIGHUP)
    installation.wait(lambda: "Not reloaded" in installation.said.read_text())

    at = installation.local(5)
    installation.write(rings=f'{{at = "{at}", zones = ["north"], for = "1s"}}')
    installation.process.send_signal(signal.SIGHUP)
    installation.wait(lambda: "The file is reloaded." in installation.said.read_text())
    installation.wait(lambda: installation.relay("zones.north")["closed"])
    assert installation.end() == 0


def test_a_reload_with_other_wiring_gives_the_pins_to_another_hand(installation):
    installation.write()
    installation.start()
    installation.wait(lambda: "first trusted instant" in installation.said.read_text())
    first = installation.hand_pid()
    at = installation.local(9)
    installation.write(rings=f'{{at = "{at}", zones = ["north"], for = "1s"}}')
    text = installation.file.read_text().replace("relay = 17", "relay = 27")
    installation.file.write_text(text)
    installation.process.send_signal(signal.SIGHUP)
    installation.wait(lambda: "with its new wiring" in installation.said.read_text())
    assert installation.hand_pid() != first
    installation.wait(lambda: installation.relay("zones.north")["closed"])
    assert installation.relay("zones.north")["pin"] == 27
    assert installation.end() == 0


def test_dials_stay_where_they_are_when_the_wiring_changes(installation):
    installation.write(lines=LINE)
    installation.start()
    installation.wait(lambda: "which is right" in installation.said.read_text())
    with installation.board() as board:
        before = board.state()["lines"]["main"]["shows"][0]
    text = installation.file.read_text().replace("relays = [22, 23]", "relays = [5, 6]")
    installation.file.write_text(text)
    installation.process.send_signal(signal.SIGHUP)
    installation.wait(lambda: "with its new wiring" in installation.said.read_text())
    with installation.board() as board:
        shows = set(board.state()["lines"]["main"]["shows"])
    assert shows <= {before, (before + 1) % 720}  # a minute may have passed
    assert installation.end() == 0


def test_a_start_with_a_bad_file_uses_the_last_good_copy_and_says_so(installation):
    installation.write(lines=LINE)
    installation.start()
    installation.wait(lambda: "which is right" in installation.said.read_text())
    assert installation.end() == 0
    installation.file.write_text("[zones.north\n")
    installation.start()
    installation.wait(lambda: "last good copy" in installation.said.read_text())
    installation.wait(installation.hand_pid_or_none)
    assert installation.end() == 0


def test_a_first_start_with_a_bad_file_ends_with_2_and_words(installation):
    installation.file.write_text("[zones.north\n")
    installation.start()
    assert installation.process.wait(20) == 2
    said = installation.said.read_text()
    assert "Traceback" not in said
    assert str(installation.file) in said


def test_a_second_daemon_on_the_same_store_is_refused_in_words(installation):
    installation.write()
    installation.start()
    installation.wait(lambda: "first trusted instant" in installation.said.read_text())
    second = subprocess.run(installation.command(), capture_output=True, timeout=60, check=False)
    assert second.returncode == 1
    assert b"Traceback" not in second.stderr
    assert installation.end() == 0


def test_a_fake_board_that_is_wired_otherwise_is_replaced(installation):
    installation.write()
    installation.start()
    installation.wait(lambda: "first trusted instant" in installation.said.read_text())
    assert installation.end() == 0
    installation.file.write_text(installation.file.read_text().replace("relay = 17", "relay = 27"))
    installation.start()
    installation.wait(installation.hand_pid_or_none)
    installation.wait(lambda: installation.relay("zones.north")["pin"] == 27)
    assert "wired otherwise" in installation.said.read_text()
    assert installation.end() == 0
