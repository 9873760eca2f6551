"""What happens, in words: a relay that moved, and a line's last impulse after a power cut."""

from __future__ import annotations

import pytest

from controller.building.file import building_of
from controller.building.sheets import Source
from controller.circuits.wire import Switched
from controller.engine.contract import Now, Play
from controller.engine.records import LineRow
from controller.engine.recover import recover
from controller.engine.state import Given, Sounding, Waiting
from controller.service.telling import last_impulse_words, switched_line

SECOND = 1_000_000_000
NOW = Now(1_795_617_010 * SECOND, 5_000 * SECOND, "boot", True)  # 2026-11-25T10:30:10-04:00
TEXT = """
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[lines.main]
drive = "alternating"
relays = [22, 23]
[lines.yard]
drive = "single"
relays = [24]
"""
BUILDING = building_of("elm.toml", [Source("elm.toml", TEXT.encode())])


def read(line: str) -> LineRow:
    return LineRow(line, True, 630, 720, "-", False, False, None, NOW.utc)


def state(*rows: LineRow):
    return recover(BUILDING, rows, NOW)


def moved(circuit: str, relay: int, *, closed: bool) -> Switched:
    return Switched(circuit, relay, closed, NOW.mono)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (moved("lines.main", 0, closed=False), "main  impulse +, shows 10:30"),
        (moved("lines.main", 1, closed=False), "main  impulse -, shows 10:30"),
        (moved("lines.yard", 0, closed=False), "yard  impulse, shows 10:30"),
        (moved("lines.main", 0, closed=True), None),
        (moved("lines.gone", 0, closed=False), None),
        (moved("zones.north", 0, closed=False), "north  is silent"),
        (moved("zones.north", 0, closed=True), "north  sounds"),
    ],
)
def test_a_relay_that_moved_is_told_when_an_impulse_has_ended_and_as_a_bell_begins_and_ends(
    told, words
):
    assert switched_line(BUILDING, state(read("main"), read("yard")), told) == words


def test_of_an_unread_line_nobody_says_what_it_shows():
    words = switched_line(BUILDING, state(), moved("lines.main", 0, closed=False))
    assert words == "main  impulse +"


def test_a_bell_says_what_for():
    ring = Waiting("north", "2026-11-25T10:30:00", NOW.utc, ((0, SECOND),), "First class", "")
    play = Play(1, "hand-1", "zones.north", 0, NOW.mono, NOW.mono + SECOND, (0, SECOND))
    sounding = Sounding(play, NOW.utc, NOW.utc, (Given(ring, NOW.mono),), (), False)
    known = state()
    zones = {"north": known.zones["north"]._replace(sounding=sounding)}
    told = moved("zones.north", 0, closed=True)
    assert (
        switched_line(BUILDING, known._replace(zones=zones), told) == "north  sounds  First class"
    )


def test_after_a_power_cut_the_last_stored_impulse_is_told_by_local_time():
    assert last_impulse_words(BUILDING, read("main")) == "last stored impulse 2026-11-25 10:30:10"
    never = read("main")._replace(last_utc=0)
    assert last_impulse_words(BUILDING, never) == "no impulse stored yet"
