"""The hand's loop on the kernel's pins, turn by turn: the chip is the double, all else is real."""

from __future__ import annotations

import os
import socket
import time
from pathlib import Path

import gpiod
import kernel_double
import pytest
from gpiod.line import Bias, Direction, Value

from controller.building.wiring import Circuit, PanelInput, Wiring
from controller.circuits.hand import Hand, inactive_levels, input_lines
from controller.circuits.pins import GpiodFactory
from controller.circuits.wire import (
    MOST_BYTES,
    Beat,
    Begin,
    End,
    Ready,
    Switched,
    packed,
    unpacked,
)
from controller.engine.contract import ContactFault, Outcome, PanelMoved, Play, SupplyMoved

MS = 1_000_000
SECOND = 1_000 * MS
NORTH, SOUTH, PLUS, MINUS, HEALTH = 17, 27, 22, 23, 25
RING, STOP, QUIET, STEP = 20, 21, 16, 12
NORTH_SENSE, PLUS_SENSE, MINUS_SENSE, SUPPLY = 24, 10, 11, 26
WIRING = Wiring(
    (
        Circuit("zones.north", "zone", (NORTH,), "high", 10 * SECOND, 30 * SECOND, 0, (24,)),
        Circuit("zones.south", "zone", (SOUTH,), "low", 10 * SECOND, 30 * SECOND, 0, None),
        Circuit("lines.main", "line", (PLUS, MINUS), "high", SECOND, 0, SECOND // 5, (10, 11)),
    ),
    (
        PanelInput("ring_button", RING, "low", 20 * MS, "ring", ("north",), None),
        PanelInput("stop_button", STOP, "low", 20 * MS, "stop", (), None),
        PanelInput("north_off", QUIET, "high", 50 * MS, "quiet", ("north",), None),
        PanelInput("step_button", STEP, "low", 20 * MS, "step", (), "main"),
    ),
    (HEALTH, "low"),
    SUPPLY,
)


class Bench:
    """A hand in this process; its pins' events and its daemon's words are the test's."""

    def __init__(self, kernel, wiring=WIRING):
        self.kernel = kernel
        self.numbers = iter(range(1, 1_000))
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self.daemon = ours
        ours.setblocking(False)
        self.pins = GpiodFactory(
            Path("/dev/gpiochip0"), inactive_levels(wiring), input_lines(wiring)
        )
        pulse = os.eventfd(0)
        self.hand = Hand(theirs, pulse, Begin("hand", wiring.to_json(), "", ""), self.pins, wiring)

    def close(self):
        self.daemon.close()
        self.hand.link.close()
        os.close(self.hand.pulse)
        self.pins.close()

    def put(self, pin, high, **more):
        self.pins._request.put(pin, high, time.monotonic_ns(), **more)

    def send(self, word):
        self.daemon.send(packed(word))

    def play(self, circuit, *edges, relay=0, at=0):
        number, start = next(self.numbers), time.monotonic_ns() + at
        self.send(Play(number, "hand", circuit, relay, start, start + 5 * SECOND, edges))
        self.turn()
        return number

    def turn(self, times=1):
        """One turn for each of what is there to be read; none waits, for a word or edge is there,
        or an instant has come.
        """
        for _ in range(times):
            assert self.hand.turn()

    def words(self):
        words = []
        while True:
            try:
                word = unpacked(self.daemon.recv(MOST_BYTES))
            except BlockingIOError:
                return words
            words.append(word)

    def closed(self, pin):
        return self.kernel.level(pin) == (pin not in (SOUTH, HEALTH))


@pytest.fixture
def kernel(monkeypatch):
    kernel = kernel_double.Kernel()
    monkeypatch.setattr(gpiod, "Chip", kernel.chip)
    return kernel


@pytest.fixture
def bench(kernel):
    bench = Bench(kernel)
    yield bench
    bench.close()


# ── the claim ────────────────────────────────────────────────────────────────────────────────────


def test_relays_health_panel_senses_and_supply_are_claimed_by_one_request(kernel, bench):
    ((_, _, config, _),) = kernel.calls
    outputs = {pin for pin, its in config.items() if its.direction is Direction.OUTPUT}
    assert outputs == {NORTH, SOUTH, PLUS, MINUS, HEALTH}
    high = {pin for pin in outputs if config[pin].output_value is Value.ACTIVE}
    assert high == {SOUTH, HEALTH}, "inactive: these two are energised by low"
    read = {
        pin: (its.bias is Bias.PULL_UP, its.debounce_period.microseconds // 1000)
        for pin, its in config.items()
        if pin not in outputs
    }
    assert read == {
        RING: (True, 20),
        STOP: (True, 20),
        QUIET: (False, 50),
        STEP: (True, 20),
        NORTH_SENSE: (False, 1),
        PLUS_SENSE: (False, 1),
        MINUS_SENSE: (False, 1),
        SUPPLY: (False, 5),
    }


def read_at_the_claim(kernel, monkeypatch, *high_or_low):
    """Pins that are at the other level than that to which they are pulled, when claimed."""
    request = kernel_double.Chip.request_lines

    def requested(self, config, **more):
        made = request(self, config, **more)
        for pin in high_or_low:
            kernel.levels[pin].append(not kernel.level(pin))
        return made

    monkeypatch.setattr(kernel_double.Chip, "request_lines", requested)
    return Bench(kernel)


def test_the_first_word_says_what_the_inputs_read(kernel, monkeypatch):
    bench = read_at_the_claim(kernel, monkeypatch, QUIET, STOP, SUPPLY)
    closed = {"ring_button": False, "stop_button": True, "north_off": True, "step_button": False}
    assert bench.hand.ready == Ready(tuple(closed.items()), True)
    bench.close()


def test_a_supply_that_nobody_senses_counts_as_there(kernel):
    bench = Bench(kernel, WIRING._replace(supply_sense=None, panel=()))
    assert bench.hand.ready == Ready((), True)
    bench.close()
    bench = Bench(kernel)
    assert bench.hand.ready.supply is False, "sensed, and down"
    bench.close()


def test_an_input_that_moved_between_the_claim_and_its_reading_is_not_lost(kernel, monkeypatch):
    levels = GpiodFactory._levels

    def pressed_before(self, pins):
        self._request.put(STOP, False, 1)  # its edge waits; the level that is read shows it too
        return levels(self, pins)

    monkeypatch.setattr(GpiodFactory, "_levels", pressed_before)
    bench = Bench(kernel)
    monkeypatch.undo()
    assert dict(bench.hand.ready.panel)["stop_button"] is True
    bench.turn()
    assert bench.words() == [], "known already"
    bench.put(STOP, True)
    bench.turn()
    assert bench.words() == [PanelMoved("stop_button", False)]
    bench.close()


# ── the panel ────────────────────────────────────────────────────────────────────────────────────


def test_presses_are_told_in_the_panels_own_sense(bench):
    for pin, high in ((RING, False), (STEP, False), (RING, True), (QUIET, True)):
        bench.put(pin, high)
    bench.turn()
    assert bench.words() == [
        PanelMoved("ring_button", True),
        PanelMoved("step_button", True),
        PanelMoved("ring_button", False),
        PanelMoved("north_off", True),
    ]
    assert bench.kernel.calls[1:] == [], "and nothing is done about them here"


def test_stop_is_told_first_and_then_opens_every_bell_and_no_line(bench):
    bells = [bench.play("zones.north", 0, SECOND), bench.play("zones.south", 0, SECOND)]
    time.sleep(0.2)  # a line rests its gap after the claim
    bench.play("lines.main", 0, SECOND)
    bench.turn(2)
    assert all(map(bench.closed, (NORTH, SOUTH, PLUS)))
    bench.words()
    bench.put(STOP, False)
    bench.turn()
    pressed, *rest = bench.words()
    assert pressed == PanelMoved("stop_button", True)
    assert {(word.play, word.how) for word in rest if isinstance(word, Outcome)} == {
        (play, "cut") for play in bells
    }
    assert [bench.closed(pin) for pin in (NORTH, SOUTH, PLUS)] == [False, False, True]


def test_a_stop_that_was_let_go_before_it_was_read_has_stopped(bench):
    play = bench.play("zones.south", 0, SECOND)
    bench.turn()
    bench.put(STOP, False)
    bench.put(STOP, True)
    bench.turn()
    assert not bench.closed(SOUTH)
    words = bench.words()[1:]
    assert words[0] == PanelMoved("stop_button", True)
    assert [word.how for word in words if isinstance(word, Outcome)] == ["cut"]
    assert words[-1] == PanelMoved("stop_button", False)
    assert play


def test_stop_cuts_nothing_as_it_is_let_go(bench):
    bench.put(STOP, False)
    bench.turn()
    bench.play("zones.south", 0, SECOND)
    bench.turn()
    bench.put(STOP, True)
    bench.turn()
    assert bench.closed(SOUTH)


def test_a_switch_that_is_closed_when_it_is_claimed_keeps_its_zone_quiet(kernel, monkeypatch):
    bench = read_at_the_claim(kernel, monkeypatch, QUIET)
    quiet = bench.play("zones.north", 0, SECOND)
    other = bench.play("zones.south", 0, SECOND)
    bench.turn()
    (refused,) = (word for word in bench.words() if isinstance(word, Outcome))
    assert (refused.play, refused.how) == (quiet, "never_began")
    assert (bench.closed(NORTH), bench.closed(SOUTH)) == (False, True)
    bench.put(QUIET, False)
    bench.turn()
    bench.play("zones.north", 0, SECOND)
    bench.turn()
    assert bench.closed(NORTH)
    assert other
    bench.close()


def test_a_switch_that_is_closed_in_mid_ring_is_told_and_then_cuts_it(bench):
    play = bench.play("zones.north", 0, SECOND)
    bench.turn()
    bench.words()
    bench.put(QUIET, True)
    bench.turn()
    assert not bench.closed(NORTH)
    moved, opened, cut = bench.words()
    assert moved == PanelMoved("north_off", True)
    assert isinstance(opened, Switched)
    assert (cut.play, cut.how) == (play, "cut")


def test_a_zone_with_two_switches_is_quiet_while_either_is_closed(kernel):
    second = PanelInput("all_off", STEP, "low", 20 * MS, "quiet", ("north", "south"), None)
    bench = Bench(kernel, WIRING._replace(panel=(*WIRING.panel[:3], second)))
    bench.put(QUIET, True)
    bench.put(STEP, False)
    bench.put(QUIET, False)
    bench.turn()
    bench.words()
    bench.play("zones.north", 0, SECOND)
    assert [word.how for word in bench.words()] == ["never_began"]
    bench.close()


def test_an_input_that_chatters_without_end_holds_nothing_up(bench):
    class Chatter:
        """More edges are there whenever one asks."""

        def __init__(self, pins):
            self.pins = pins

        def __getattr__(self, name):
            return getattr(self.pins, name)

        def read_events(self):
            for number in range(2_000):
                bench.put(RING, number % 2 == 1)
            return self.pins.read_events()

    bench.hand.pins = Chatter(bench.pins)
    bench.put(RING, False)
    bench.play("zones.south", 0, 5 * MS)
    bench.send(Beat(True))
    for _ in range(4):
        bench.turn()
        bench.words()
    switched = [levels for what, levels in bench.kernel.calls[1:] if what == "set"]
    assert [levels for levels in switched if SOUTH in levels] == [{SOUTH: False}, {SOUTH: True}]
    assert bench.closed(HEALTH)


def test_where_the_kernel_dropped_edges_the_panel_is_told_as_it_is(bench):
    bench.put(RING, False, dropped=True)
    bench.put(STEP, False)
    bench.turn()
    assert set(bench.words()) == {PanelMoved("ring_button", True), PanelMoved("step_button", True)}


# ── senses and supply ────────────────────────────────────────────────────────────────────────────


def test_the_supply_is_told_with_its_instant(bench):
    bench.pins._request.put(SUPPLY, True, 123)
    bench.pins._request.put(SUPPLY, False, 456)
    bench.turn()
    assert bench.words() == [SupplyMoved(True, 123), SupplyMoved(False, 456)]


def test_a_sense_is_read_before_the_play_is_judged(bench):
    play = bench.play("zones.north", 0, 40 * MS)
    bench.turn()
    bench.put(NORTH_SENSE, True)
    time.sleep(0.05)  # its edge and its opening are there at once
    bench.turn()
    (outcome,) = (word for word in bench.words() if isinstance(word, Outcome))
    assert (outcome.play, outcome.how) == (play, "done")
    assert outcome.end > outcome.start


def test_a_contact_that_does_not_follow_is_told_with_no_word_of_the_daemons(bench):
    play = bench.play("zones.north", 0, 150 * MS)
    bench.turn(3)  # closes; stuck after 100 ms; opens
    found = [word for word in bench.words() if not isinstance(word, Switched)]
    stuck, outcome = found
    assert stuck == ContactFault("zones.north", 0, "stuck", True)
    assert outcome == Outcome(play, "cut", outcome.start, outcome.start)


def test_a_contact_that_reads_closed_at_the_claim_is_welded_and_holds_its_line(kernel, monkeypatch):
    bench = read_at_the_claim(kernel, monkeypatch, MINUS_SENSE)
    bench.turn()
    assert bench.words() == [ContactFault("lines.main", 1, "welded", True)]
    time.sleep(0.15)  # beyond the gap
    bench.play("lines.main", 0, SECOND)
    bench.send(Beat(True))
    bench.turn()
    assert not bench.closed(PLUS)
    bench.put(MINUS_SENSE, False)
    bench.turn()
    assert bench.words() == [ContactFault("lines.main", 1, "welded", False)]
    bench.turn()  # a gap later
    assert bench.closed(PLUS)
    bench.close()


# ── health, and the end ──────────────────────────────────────────────────────────────────────────


def test_a_beat_needs_no_answer(bench):
    for _ in range(3):
        bench.send(Beat(False))
        bench.turn()
    assert bench.words() == []


def test_each_turn_but_the_last_is_felt_as_its_pulse(bench):
    for word in (Beat(False), Beat(False), End()):
        bench.send(word)
    assert bench.hand.run() == 0
    assert os.eventfd_read(bench.hand.pulse) == 2


def test_the_health_relay_follows_the_last_beat(bench):
    assert not bench.closed(HEALTH)
    for well in (True, True, False, True):
        bench.send(Beat(well))
        bench.turn()
        assert bench.closed(HEALTH) == well
    assert bench.kernel.levels[HEALTH] == [True, False, True, False], "driven where it changes"


def test_when_it_is_told_to_end_health_and_relays_fall(bench):
    bench.send(Beat(True))
    bench.play("zones.south", 0, SECOND)
    bench.send(End())
    assert bench.hand.run() == 0
    assert not any(map(bench.closed, (SOUTH, HEALTH)))


def test_a_daemon_that_hung_up_with_words_unread_is_a_daemon_that_is_gone(bench):
    bench.hand.out.say(PanelMoved("ring_button", True))
    bench.send(Beat(True))
    bench.turn()
    bench.daemon.close()
    assert bench.hand.turn() is False
    assert bench.hand.run() == 1
    assert not bench.closed(HEALTH)


def test_a_daemon_that_takes_nothing_is_heard_no_more(bench):
    number = 0
    while not bench.hand.out.full:
        number += 1
        bench.hand.out.say(Outcome(number, "done", 0, 0))
    bench.send(Beat(True))
    bench.put(RING, False)
    bench.turn()
    assert not bench.closed(HEALTH), "its beat was not taken: after 3 s of it everything opens"
    bench.words()
    bench.turn()  # what waited is said
    bench.turn()
    assert bench.closed(HEALTH)
