"""The hand as a process of its own on a fake board that is one too: its inputs, senses and end."""

from __future__ import annotations

import os
import queue
import signal
import sys
import tempfile
import threading
import time
from pathlib import Path

import pytest
from board_house import HAND_HOUSE

from controller.building.file import read
from controller.building.wiring import wiring_of
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.spawning import start_or_find, stop
from controller.circuits.hand import HUNG_SECONDS, SENSE_DEBOUNCE_NS, SILENCE_NS
from controller.circuits.hand_link import HandLink
from controller.circuits.lines import PinsFault
from controller.circuits.release import release
from controller.circuits.wire import HandFault, Switched
from controller.engine.contract import ContactFault, Outcome, PanelMoved, Play, SupplyMoved

MS = 1_000_000
SECOND = 1_000 * MS
NORTH, SOUTH, PLUS, MINUS, HEALTH = (
    "zones.north",
    "zones.south",
    "lines.main+",
    "lines.main-",
    "health",
)
PATIENT_SECONDS = 20.0


class Held:
    """A hand, what it said, and a daemon that beats."""

    def __init__(self, file, board, listens=True):
        self.link = HandLink("hand")
        self.link.take(wiring_of(read(file)), board.parent, board)
        self.numbers = iter(range(1, 10_000))
        self.said = []
        self._words = queue.Queue()
        self.well = False
        self._over = threading.Event()
        self._beats = threading.Thread(target=self._beating, daemon=True)
        self._beats.start()
        if listens:
            self.listen()

    def listen(self):
        self.link.listen(self._words.put)

    def _beating(self):
        while not self._over.wait(0.3):
            self.link.beat(self.well)

    def be_well(self, well):
        self.well = well
        self.link.beat(well)

    def fall_silent(self):
        self._over.set()
        self._beats.join()

    def play(self, circuit, *edges, relay=0, at=0.0, latest=5 * SECOND):
        number = next(self.numbers)
        start = time.monotonic_ns() + round(at * SECOND)
        self.link.tell(Play(number, "hand", circuit, relay, start, start + latest, edges))
        return number

    def hear(self, wanted, seconds=PATIENT_SECONDS):
        """What it says until it says what is wanted: the first such word."""
        give_up = time.monotonic() + seconds
        while True:
            word = self._words.get(timeout=max(0, give_up - time.monotonic()))
            self.said.append(word)
            if wanted(word):
                return word

    def outcome(self, play):
        return self.hear(lambda word: isinstance(word, Outcome) and word.play == play)

    def end(self):
        self.fall_silent()
        self.link.end()
        return self.link.close()


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(HAND_HOUSE)
    return path


@pytest.fixture
def board(file):
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        path, _ = start_or_find(file, Path(short))
        yield path
        if path.exists():
            stop(path)


@pytest.fixture
def looker(board):
    """Somebody at the board, who follows it."""
    with BoardClient(board) as looker:
        looker.follow()
        yield looker


@pytest.fixture
def hand(file, board):
    hand = Held(file, board)
    yield hand
    hand.end()


def change(what, name, to):
    return lambda one: (one.what, one.name, one.to) == (what, name, to)


def closes(looker, name, to=1):
    return looker.wait_for(change("contact", name, to), PATIENT_SECONDS)


def is_closed(looker, name):
    return next(its["closed"] for its in looker.state()["relays"] if its["name"] == name)


def presses(looker, hand, name):
    """Press, and wait until it was told; the instant of its edge, debounced."""
    looker.press(name)
    hand.hear(lambda word: word == PanelMoved(name, True))


# ── what it says first ───────────────────────────────────────────────────────────────────────────


def test_its_first_word_says_how_panel_and_supply_stand(file, board, looker):
    looker.press("north_off")
    looker.supply(False)
    hand = Held(file, board)
    closed = {"north_button": False, "stop_button": False, "north_off": True, "step_button": False}
    assert hand.link.ready.panel == tuple(closed.items())
    assert hand.link.ready.supply is False
    assert hand.end() == 0


# ── the panel ────────────────────────────────────────────────────────────────────────────────────


def test_a_button_that_rings_or_steps_is_told_both_ways_and_the_hand_does_nothing(hand, looker):
    for name in ("north_button", "step_button"):
        looker.press(name)
        hand.hear(lambda word, name=name: word == PanelMoved(name, True))
        looker.let_go(name)
        hand.hear(lambda word, name=name: word == PanelMoved(name, False))
    assert len(hand.said) == 4
    assert not [one for one in looker.log() if one.what == "contact"]


def test_stop_in_mid_ring_opens_the_bells_at_once(hand, looker):
    north, south = hand.play(NORTH, 0, 5 * SECOND), hand.play(SOUTH, 0, 5 * SECOND)
    later = hand.play("lines.hall", 0, 2 * SECOND, at=0.5)
    closes(looker, "lines.hall")
    looker.press("stop_button")
    pressed = looker.wait_for(change("input", "stop_button", 1), PATIENT_SECONDS)
    opened = looker.wait_for(change("pin", "GPIO17", 0), PATIENT_SECONDS)
    lateness = opened.mono - pressed.mono - 20 * MS
    print(f"stop: {lateness / MS:.1f} ms beyond its debounce of 20 ms")
    assert 0 < lateness < 250 * MS
    assert {hand.outcome(play).how for play in (north, south)} == {"cut"}
    words = [word for word in hand.said if not isinstance(word, Switched)]
    assert words[0] == PanelMoved("stop_button", True), "told before what it did"
    assert hand.outcome(later).how == "done", "a line is not touched"


def test_a_switch_that_was_closed_before_the_start_keeps_its_zone_quiet(file, board, looker):
    looker.press("north_off")
    hand = Held(file, board)
    assert hand.outcome(hand.play(NORTH, 0, SECOND)).how == "never_began"
    looker.let_go("north_off")
    hand.hear(lambda word: word == PanelMoved("north_off", False))
    assert hand.outcome(hand.play(NORTH, 0, 300 * MS)).how == "done"
    assert hand.end() == 0


def test_a_switch_that_is_closed_in_mid_ring_cuts_its_zone_and_no_other(hand, looker):
    north, south = hand.play(NORTH, 0, 5 * SECOND), hand.play(SOUTH, 0, SECOND)
    closes(looker, NORTH)
    looker.press("north_off")
    cut = hand.outcome(north)
    assert cut.how == "cut"
    assert cut.end - cut.start < 5 * SECOND
    assert PanelMoved("north_off", True) in hand.said
    assert hand.outcome(south).how == "done"


def test_a_button_that_is_pressed_again_and_again_blurs_no_edge(hand, looker, board):
    over = threading.Event()

    def pressing():
        with BoardClient(board) as finger:
            while not over.is_set():
                finger.press("north_button")
                finger.let_go("north_button")

    threads = [threading.Thread(target=pressing) for _ in range(3)]
    for thread in threads:
        thread.start()
    play = hand.play(SOUTH, *range(0, 20 * 100 * MS, 100 * MS))
    outcome = hand.outcome(play)
    over.set()
    for thread in threads:
        thread.join()
    assert outcome.how == "done"
    assert abs(outcome.end - outcome.start - 1_900 * MS) < 250 * MS


# ── the supply ───────────────────────────────────────────────────────────────────────────────────


def test_the_24_v_are_told_with_the_instant_at_which_they_went_and_came(hand, looker):
    for there in (False, True):
        looker.supply(there)
        moved = hand.hear(lambda word: isinstance(word, SupplyMoved))
        at = looker.wait_for(change("input", "supply", int(there)), PATIENT_SECONDS).mono
        assert moved == SupplyMoved(there, at + 5 * MS)


# ── senses ───────────────────────────────────────────────────────────────────────────────────────


def finds(hand, circuit, relay, kind, lasts):
    return hand.hear(lambda word: word == ContactFault(circuit, relay, kind, lasts))


def test_sound_relays_are_not_suspected(hand, looker):
    time.sleep(0.25)  # the line's gap after the claim
    for relay in (0, 1, 0, 1):
        assert hand.outcome(hand.play("lines.main", 0, 500 * MS, relay=relay)).how == "done"
        assert hand.outcome(hand.play(NORTH, 0, 200 * MS)).how == "done"
    assert not [word for word in hand.said if isinstance(word, ContactFault)]


def test_a_stuck_relay_is_found_until_it_closes_again(hand, looker):
    looker.fault(NORTH, "stuck")
    play = hand.play(NORTH, 0, SECOND)
    finds(hand, NORTH, 0, "stuck", True)
    outcome = hand.outcome(play)
    assert (outcome.how, outcome.end) == ("cut", outcome.start), "its contact never closed"
    looker.mend(NORTH)
    play = hand.play(NORTH, 0, SECOND)
    finds(hand, NORTH, 0, "stuck", False)
    assert hand.outcome(play).how == "done"


def test_a_welded_plus_is_found_and_minus_waits_until_it_is_open(hand, looker):
    looker.fault(PLUS, "welded")
    finds(hand, "lines.main", 0, "welded", True)
    held_back = hand.play("lines.main", 0, 500 * MS, relay=1, latest=400 * MS)
    assert hand.outcome(held_back).how == "never_began"
    waits = hand.play("lines.main", 0, 500 * MS, relay=1, latest=10 * SECOND)
    looker.mend(PLUS)
    finds(hand, "lines.main", 0, "welded", False)
    assert hand.outcome(waits).how == "done"
    opened = closes(looker, PLUS, 0).mono + SENSE_DEBOUNCE_NS
    energised = looker.wait_for(change("pin", "GPIO23", 1), PATIENT_SECONDS).mono
    assert energised - opened >= 200 * MS


def test_a_relay_that_is_welded_before_the_start_is_found(file, board, looker):
    looker.fault(NORTH, "welded")
    closes(looker, NORTH)
    hand = Held(file, board)
    finds(hand, NORTH, 0, "welded", True)
    assert hand.end() == 0


def test_a_slow_relay_is_found_until_it_is_quick_again(hand, looker):
    looker.fault(NORTH, "slow", 200)
    play = hand.play(NORTH, 0, SECOND)
    finds(hand, NORTH, 0, "slow", True)
    assert hand.outcome(play).how == "done"
    finds(hand, NORTH, 0, "welded", False)
    looker.mend(NORTH)
    hand.play(NORTH, 0, SECOND)
    finds(hand, NORTH, 0, "slow", False)


def test_a_bouncing_relay_is_found_until_it_settles_again(hand, looker):
    looker.fault(NORTH, "bouncing")
    play = hand.play(NORTH, 0, SECOND)
    finds(hand, NORTH, 0, "bouncing", True)
    hand.outcome(play)
    closes(looker, NORTH, 0)
    looker.mend(NORTH)
    hand.play(NORTH, 0, SECOND)
    finds(hand, NORTH, 0, "bouncing", False)
    kinds = {word.kind for word in hand.said if isinstance(word, ContactFault)}
    assert kinds == {"bouncing"}


# ── a daemon that does not read ──────────────────────────────────────────────────────────────────


def test_what_a_daemon_that_reads_late_has_missed_is_told_it_afterwards(file, board, looker):
    hand = Held(file, board, listens=False)
    length = 3_200 * MS
    play = hand.play(SOUTH, *range(0, length, 4 * MS))  # 800 words: more than a socket holds
    made = [one.to == 0 for one in looker.changes(length / SECOND + 1) if one.name == "GPIO27"]
    for _ in range(3):
        for press, to in ((looker.press, 1), (looker.let_go, 0)):
            press("north_off")
            looker.wait_for(change("input", "north_off", to))
            time.sleep(0.05)  # longer than its debounce
    hand.listen()
    assert hand.outcome(play).how == "done"
    told = [word.closed for word in hand.said if isinstance(word, Switched)]
    assert told == made
    moves = [word for word in hand.said if isinstance(word, PanelMoved)]
    assert moves == [PanelMoved("north_off", True), PanelMoved("north_off", False)], (
        "three presses, of which the newest was kept: the socket was full"
    )
    assert hand.end() == 0


# ── health, and every end ────────────────────────────────────────────────────────────────────────


@pytest.fixture
def ringing(hand, looker):
    """A hand whose daemon is well, in mid-ring."""
    hand.be_well(True)
    hand.play(NORTH, 0, 9 * SECOND)
    closes(looker, HEALTH)
    if not is_closed(looker, NORTH):
        closes(looker, NORTH)
    return hand


def fallen(looker, since):
    """Seconds until bell and health relay were let go."""
    falls = {}
    while len(falls) < 2:
        one = looker.wait_for(
            lambda one: one.what == "pin" and one.to == 0 and one.name in ("GPIO17", "GPIO25"),
            PATIENT_SECONDS,
        )
        falls[one.name] = (one.mono - since) / SECOND
    return falls


def test_the_health_relay_is_up_with_beats_that_say_well_and_down_at_once_with_another(
    hand, looker
):
    assert not is_closed(looker, HEALTH)
    for well in (True, False, True):
        hand.be_well(well)
        closes(looker, HEALTH, int(well))


def test_when_the_daemon_ends_health_and_bell_fall(ringing, looker):
    since = time.monotonic_ns()
    assert ringing.end() == 0
    assert max(fallen(looker, since).values()) < 0.5


def test_when_the_daemon_is_gone_health_and_bell_fall(ringing, looker):
    ringing.fall_silent()
    since = time.monotonic_ns()
    ringing.link._link.shutdown(2)
    assert max(fallen(looker, since).values()) < 0.5
    assert ringing.link.close() == 1


def test_when_the_daemon_is_silent_health_and_bell_fall_after_3_s(ringing, looker):
    ringing.fall_silent()
    since = time.monotonic_ns()
    fault = ringing.hear(lambda word: isinstance(word, HandFault))
    assert "has not beaten" in fault.says
    falls = fallen(looker, since).values()
    assert min(falls) > SILENCE_NS / SECOND - 0.5
    assert max(falls) < SILENCE_NS / SECOND + 0.25


def test_when_the_hand_is_killed_release_opens_health_and_bell(ringing, looker, board):
    os.kill(ringing.link.pid, signal.SIGKILL)
    ringing.hear(lambda word: word is None)
    assert is_closed(looker, NORTH), "a killed hand leaves its relays as they are"
    assert is_closed(looker, HEALTH)
    since = time.monotonic_ns()
    release(board.parent, None)
    fallen(looker, since)


STUCK = """
import os, sys, time
from controller.circuits.fakeboard.pins import FakePins
from controller.circuits.hand import main

switch = FakePins.set_many

def switch_and_hang(pins, levels):
    switch(pins, levels)
    while any(levels.values()):
        pass

FakePins.set_many = switch_and_hang
sys.exit(main())
"""


def test_a_hand_that_hangs_by_itself_is_ended_by_the_kernel_and_release_opens(
    file, board, looker, monkeypatch, tmp_path
):
    python = tmp_path / "python"
    (tmp_path / "stuck.py").write_text(STUCK)
    python.write_text(f'#!/bin/sh\nshift 2\nexec {sys.executable} {tmp_path}/stuck.py "$@"\n')
    python.chmod(0o755)
    monkeypatch.setattr("sys.executable", str(python))
    hand = Held(file, board)
    hand.play(NORTH, 0, 8 * SECOND)
    closes(looker, NORTH)
    since = time.monotonic()
    end = os.waitid(os.P_PID, hand.link.pid, os.WEXITED | os.WNOWAIT)
    assert (end.si_code, end.si_status) == (os.CLD_KILLED, signal.SIGALRM)
    assert HUNG_SECONDS - 0.5 < time.monotonic() - since < HUNG_SECONDS + 1
    release(board.parent, None)
    closes(looker, NORTH, 0)
    hand.fall_silent()


def test_when_its_pins_are_gone_the_hand_says_so_and_ends(hand, board):
    stop(board)
    assert "gone" in hand.hear(lambda word: isinstance(word, HandFault)).says
    assert hand.link.close() == 1
    with pytest.raises(PinsFault):
        BoardClient(board)
