"""Orders to a daemon at work: their effect on the pins, in the logbook, and after a `kill -9`."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from controller.editing.keeper_file import versions_of
from controller.editing.undoing import versions_folder
from controller.service.order_client import OrderClient, Refused

HOUSE = """
[zones.yard]
relay = 27
[lines.main]
drive = "alternating"
relays = [22, 23]
impulse = "300ms"
gap = "300ms"
[panel.north_button]
pin = 20
does = "ring"
zones = ["north"]
[panel.stop_button]
pin = 6
does = "stop"
[panel.yard_switch]
pin = 4
does = "quiet"
zones = ["yard"]
[panel.dials_button]
pin = 9
does = "step"
line = "main"
"""


@pytest.fixture
def house(installation):
    installation.write(lines=HOUSE)
    installation.started()
    installation.wait(lambda: installation.picture()["lines"]["main"]["state"] == "right")
    return installation


def closed_for(changes) -> float:
    """Seconds from the last closing to the opening after it."""
    on, off = changes[-2:]
    assert (on.to, off.to) == (1, 0)
    return (off.mono - on.mono) / 1e9


def kill_and_start(house) -> None:
    house.kill_daemon()
    house.process.wait(10)
    house.started()


def test_a_ring_by_hand_closes_the_contact_for_its_time_and_is_logged(house):
    assert house.ask("ring", zones=["north"], **{"for": "700ms"}) == "north rings now, 0.7 s."
    house.wait(lambda: len(house.changes("pin", "GPIO17")) >= 2)
    assert closed_for(house.changes("pin", "GPIO17")) == pytest.approx(0.7, abs=0.1)
    assert any("ring by hand: north" in line for line in house.logbook())
    assert any(line.startswith("sounding north") for line in house.logbook())


def test_stop_opens_what_rings(house):
    house.ask("ring", zones=["all"], **{"for": "9s"})
    house.wait(lambda: house.relay("zones.north")["closed"] and house.relay("zones.yard")["closed"])
    assert house.ask("stop").startswith("Stopped north, yard.")
    assert not house.relay("zones.north")["level"]
    assert not house.relay("zones.yard")["level"]


def test_quiet_and_another_plan_last_over_a_kill_and_can_be_taken_back(house):
    tomorrow = datetime.now(ZoneInfo(house.zone)) + timedelta(days=1)
    house.ask("quiet", zones=["north"], until=f"{tomorrow:%Y-%m-%d}")
    house.ask("follow", date=f"{tomorrow:%Y-%m-%d}", plan="none")
    kill_and_start(house)
    picture = house.picture()
    assert picture["zones"]["north"]["state"] == "quiet"
    assert picture["zones"]["yard"]["state"] == "silent"
    assert picture["follow"] == {f"{tomorrow:%Y-%m-%d}": "none"}
    house.ask("lift-quiet", zones=["all"])
    house.ask("follow", date=f"{tomorrow:%Y-%m-%d}", plan="usual")
    picture = house.picture()
    assert (picture["quiet"], picture["follow"]) == ({}, {})


def test_a_held_line_stays_held_over_a_kill_and_goes_when_told(house):
    assert "held" in house.ask("hold", line="main")
    kill_and_start(house)
    assert house.picture()["lines"]["main"]["state"] == "held"
    with pytest.raises(Refused, match="gives nothing"):
        house.ask("step", line="main")
    assert "goes" in house.ask("go", line="main")


def test_dials_driven_to_a_time_are_driven_on_after_a_kill_and_held_there(house):
    shows = house.picture()["lines"]["main"]["shows"]
    hours, minutes = map(int, shows.split(":"))
    target = (hours * 60 + minutes + 6) % 720
    there = f"{target // 60:02}:{target % 60:02}"
    house.ask("to", line="main", shows=there)
    house.wait(lambda: len(house.changes("contact", "lines.main+")) >= 3)
    kill_and_start(house)
    house.wait(lambda: house.picture()["lines"]["main"]["state"] == "held", 60)
    with house.board() as board:
        assert set(board.state()["lines"]["main"]["shows"]) == {target}


def test_what_the_dials_show_is_said_by_people(house):
    house.ask("hold", line="main")
    assert "next impulse" in house.ask("swapped", line="main")
    assert "unread" in house.ask("moved", line="main")
    assert house.picture()["lines"]["main"]["state"] == "unread"
    with pytest.raises(Refused, match="unread"):
        house.ask("go", line="main")
    assert "watch the next impulse" in house.ask("set", line="main", shows="03:00")
    assert house.picture()["lines"]["main"]["doubtful"]
    assert "no longer" in house.ask("right", line="main")
    assert not house.picture()["lines"]["main"]["doubtful"]


def test_a_step_moves_the_dials_and_not_what_is_believed(house):
    def ahead() -> int:
        hours, minutes = map(int, house.picture()["lines"]["main"]["shows"].split(":"))
        with house.board() as board:
            return (board.state()["lines"]["main"]["shows"][0] - hours * 60 - minutes) % 720

    house.wait(lambda: ahead() == 0)
    house.ask("step", line="main", impulses=2)
    house.wait(lambda: ahead() == 2)


# ── the panel ────────────────────────────────────────────────────────────────────────────────────


def test_a_button_rings_while_it_is_pressed(house):
    with house.board() as board:
        board.press("north_button")
        house.wait(lambda: house.changes("pin", "GPIO17"))
        board.let_go("north_button")
    house.wait(lambda: len(house.changes("pin", "GPIO17")) >= 2)
    pressed, let_go = house.changes("input", "north_button")[-2:]
    on, off = house.changes("pin", "GPIO17")[-2:]
    assert on.mono - pressed.mono < 0.2e9
    assert off.mono - let_go.mono < 0.3e9
    assert any("button pressed (panel.north_button)" in line for line in house.logbook())


def test_the_stop_button_opens_at_once(house):
    house.ask("ring", zones=["north"], **{"for": "9s"})
    house.wait(lambda: house.relay("zones.north")["closed"])
    with house.board() as board:
        board.press("stop_button")
    house.wait(lambda: not house.relay("zones.north")["closed"])
    pressed = house.changes("input", "stop_button")[-1]
    off = house.changes("pin", "GPIO17")[-1]
    assert off.mono - pressed.mono < 0.15e9
    house.wait(lambda: any("stop: north (panel.stop_button)" in its for its in house.logbook()))


def test_a_closed_switch_keeps_its_zone_silent_by_hand_too_and_over_a_kill(house):
    with house.board() as board:
        board.press("yard_switch")
    house.wait(lambda: house.picture()["zones"]["yard"]["state"] == "switched-off")
    with pytest.raises(Refused, match="somebody may be at the bell"):
        house.ask("ring", zones=["yard"])
    kill_and_start(house)
    assert house.picture()["zones"]["yard"]["state"] == "switched-off"
    with house.board() as board:
        board.let_go("yard_switch")
    house.wait(lambda: house.picture()["zones"]["yard"]["state"] == "silent")
    assert not house.changes("pin", "GPIO27")


def test_the_dials_button_gives_one_impulse_a_press(house):
    before = len(house.changes("contact", "lines.main+") + house.changes("contact", "lines.main-"))
    with house.board() as board:
        board.press("dials_button")
        house.wait(lambda: any("step" in line for line in house.logbook()))
        board.let_go("dials_button")
    house.wait(
        lambda: (
            len(house.changes("contact", "lines.main+") + house.changes("contact", "lines.main-"))
            > before
        )
    )


# ── the file ─────────────────────────────────────────────────────────────────────────────────────


def test_an_edit_is_checked_written_and_reloaded_and_the_old_version_kept(house):
    before = house.file.read_text()
    was = house.picture()["fingerprint"]
    rewired = before.replace("relay = 17", "relay = 18")
    with pytest.raises(Refused, match="only in an editor"):
        house.ask("edit", file=house.file.name, text=rewired, was=was)
    at = house.local(3600)
    ring = f'rings = [{{at = "{at}", zones = ["north"], for = "1s"}}]'
    text = before.replace("rings = []", ring)
    assert "reloaded" in house.ask("edit", file=house.file.name, text=text, was=was)
    assert house.file.read_text() == text
    house.wait(lambda: house.picture()["next"])
    house.wait(lambda: any("edit: building.toml is replaced" in its for its in house.logbook()))
    assert (house.state / "last-state.json").exists()
    kept = versions_of(versions_folder(house.state, house.file), house.file.name)
    assert [version.file.read_text() for version in kept] == [before]
    with pytest.raises(Refused, match="changed"):
        house.ask("edit", file=house.file.name, text=before, was=was)


def test_the_file_before_the_last_edit_is_given_for_an_undo(house):
    with OrderClient(house.runtime, 30.0) as daemon:
        assert daemon.ask("files")["path"] == str(house.file)
        with pytest.raises(Refused, match="Nothing is to be undone"):
            daemon.ask("earlier")
        before = house.file.read_text()
        was = daemon.ask("status")["state"]["fingerprint"]
        daemon.ask("edit", file=house.file.name, text=before + "# more\n", was=was)
        told = daemon.ask("earlier")
        assert (told["file"], told["text"]) == (house.file.name, before)


def test_the_logbook_has_the_person_for_whom_the_page_spoke(house):
    house.ask("ring", zones=["north"], who="Åsa Ek", **{"for": "500ms"})
    house.ask("follow", date="2030-01-02", plan="none", who="Bo Lind")
    house.wait(lambda: any("(Åsa Ek)" in its for its in house.logbook() if "sounding" in its))
    house.wait(lambda: any("(Bo Lind)" in its for its in house.logbook() if "2030-01-02" in its))
