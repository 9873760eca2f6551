"""The bench with a real hand and a fake board whose relays have faults: each found, by its name."""

from __future__ import annotations

import time

import pytest

from controller.building.differences import installers_fingerprint
from controller.building.file import read


def says(result):
    return " ".join(result["says"])


def test_a_sound_house_is_well(bench):
    bench.run("relays", "lines", "times", "--operations", "2", "--only", "north", "--only", "main")
    found = bench.results()
    assert len(found) == 8
    for result in found.values():
        # By a busy test machine a relay of the fake board may be slow, or an impulse short.
        strained = "is slow: " in says(result) or "cut short" in says(result)
        assert result["verdict"] == "well" or strained, bench.said.decode()
    assert "+ came alone and − was refused" in says(found["lines", "lines.main interlock"])
    measured = found["times", "zones.north"]["figures"]
    # The fake board's relays close 6 ms after their coils; what comes on top is the machine's load.
    assert 6.0 <= measured["pull-in least ms"] < 100


def test_every_fault_is_found_and_named(bench):
    with bench.board() as board:
        board.fault("zones.north", "stuck")
        board.fault("zones.south", "welded")
        board.fault("zones.yard", "slow", 200)
        board.fault("zones.gong", "bouncing")
        board.swap("main")
    assert bench.run("relays", "lines") == 1
    found = bench.results()
    for relay, kind in {
        "zones.north": "stuck",
        "zones.south": "welded",
        "zones.yard": "slow",
        "zones.gong": "bouncing",
        "lines.main+": "swapped",
        "lines.main-": "swapped",
    }.items():
        result = found["relays", relay]
        assert (result["verdict"], result["by"]) == ("fault", "sense")
        assert f"{relay} is {kind}: " in says(result)
    assert "is swapped" in says(found["lines", "lines.main"])
    assert b"FAULT" in bench.said


def test_a_welded_contact_keeps_its_line_from_being_given(bench):
    with bench.board() as board:
        board.fault("lines.main-", "welded")
    assert bench.run("lines") == 1
    found = bench.results()
    assert "lines.main- stays closed" in says(found["lines", "lines.main"])
    assert "lines.main- is welded: " in says(found["lines", "lines.main"])
    assert found["lines", "lines.main interlock"]["verdict"] == "not judged"


def test_a_closed_switch_that_keeps_a_zone_quiet_is_named(bench):
    with bench.board() as board:
        board.press("yard_off")
    assert bench.run("relays", "--only", "yard") == 1
    assert "yard_off on the panel is closed" in says(bench.results()["relays", "zones.yard"])


def test_endurance_counts_and_measures(bench):
    code = bench.run("endurance", "--only", "north", "--endures", "4")
    figures = bench.results()["endurance", "zones.north"]["figures"]
    assert figures.items() >= {"operations": 4, "missed": 0}.items()
    assert code == (1 if figures["late"] else 0)  # a busy test machine may be late


def test_inputs_are_watched_until_each_has_moved(bench):
    bench.start("inputs", "--watch", "20s")
    bench.wait(bench.held)
    with bench.board() as board:
        board.press("north_button")
        board.press("yard_off")
        board.supply(False)
        time.sleep(0.3)  # longer than each debounce
        board.let_go("north_button")
        board.let_go("yard_off")
        board.supply(True)
    assert bench.process.wait(15) == 0
    found = bench.results()
    for name in ("north_button", "yard_off", "supply"):
        assert found["inputs", name]["verdict"] == "well"
        assert found["inputs", name]["figures"]["moves"] == 2


def test_inputs_that_never_move_are_said_to(bench):
    with bench.board() as board:
        board.press("yard_off")
    assert bench.run("inputs", "--watch", "1s") == 1
    found = bench.results()
    assert "never closed" in says(found["inputs", "north_button"])
    assert "GPIO20" in says(found["inputs", "north_button"])
    assert "reads closed all the time" in says(found["inputs", "yard_off"])
    assert "never moved" in says(found["inputs", "supply"])


def test_the_record_says_who_when_and_of_which_wiring(bench):
    bench.run("relays", "--only", "gong")
    record = bench.record()
    assert record["by"] == "Ida"
    assert record["on"] == "the fake board"
    assert record["installers_fingerprint"] == installers_fingerprint(read(bench.file))
    assert record["began"][-6:] in ("-03:00", "-04:00")  # Halifax
    assert record["began"] <= record["ended"]
    assert record["stopped"] == ""
    (folder,) = {file.parent for file in bench.state.rglob("bench-*")}
    assert sorted(file.suffix for file in folder.iterdir()) == [".html", ".json", ".pdf"]


# ── a person at a terminal ───────────────────────────────────────────────────────────────────────


def test_nothing_moves_before_a_yes(bench):
    bench.start_on_terminal("relays", "--only", "north")
    bench.read_until("Begin?")
    assert "Bells that are connected ring" in bench.said.decode()
    time.sleep(0.3)
    assert not [c for c in bench.log() if c.what == "contact"]
    bench.answer("", "n")
    assert bench.process.wait(10) == 0
    assert not [c for c in bench.log() if c.what == "contact"]
    assert bench.results()["relays", "zones.north"]["verdict"] == "not done"


@pytest.mark.parametrize(
    ("answer", "code", "verdict"), [("y", 0, "well"), ("s", 1, "fault"), ("n", 1, "fault")]
)
def test_the_person_at_the_meter_is_asked_for_polarity(bench, answer, code, verdict):
    bench.file.write_text(bench.file.read_text().replace("sense = [10, 11]", ""))
    with bench.board() as board:
        board.end()
    bench.wait(lambda: not (bench.runtime / "board.sock").exists())
    bench.start_on_terminal("lines", "--only", "main")  # the other is judged by its sense
    bench.answer("Begin?", "y")
    bench.answer("Did the meter show +, −, +, −?", "what")
    bench.answer("Not understood", answer)
    bench.read_until("The record:")
    assert bench.process.wait(10) == code
    result = bench.results()["lines", "lines.main"]
    assert (result["verdict"], result["by"]) == (verdict, "person")
    assert ("swapped" in says(result)) == (answer == "s")
