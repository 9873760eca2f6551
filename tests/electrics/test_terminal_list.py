"""The terminal list as a circuit: what is joined to what, with any relays closed."""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from installed import LINE, SINGLE, ZONE, installed
from wired_houses import house, house_texts

from controller.building.file import read
from controller.building.terminals import Terminal, joined_to
from controller.building.wiring import wiring_of
from controller.electrics.terminal_list import is_joined, terminal_list

CONFIG = Path(__file__).parents[2] / "config"
SCHOOL = read(CONFIG / "marrow-lane")
HALL = read(CONFIG / "foundry-hall.toml")
FEED = {"K HEALTH", "T FEED", "K FEED"}


class Joined:
    """Which terminals are one, through wires and through what conducts: a walk over the list.

    Fuses and resistors conduct; a relay joins C to NO where it is closed, else to NC. Bells, dials,
    isolators, suppressors, lamps and the converter do not.
    """

    def __init__(self, wires, closed=()):
        self.next: dict[Terminal, set[Terminal]] = {}
        for wire in wires:
            self.join(wire.start, wire.end)
        parts: dict[str, list[Terminal]] = {}
        for terminal in list(self.next):
            parts.setdefault(terminal.part, []).append(terminal)
        for part, terminals in parts.items():
            if is_joined(part):
                for one in terminals[1:]:
                    self.join(terminals[0], one)
            elif part[0] in "FR":
                self.join(Terminal(part, "1"), Terminal(part, "2"))
            elif part == "T FEED" and part in closed:
                self.join(Terminal(part, "15"), Terminal(part, "18"))
            elif part[0] == "K":
                self.join(Terminal(part, "C"), Terminal(part, "NO" if part in closed else "NC"))

    def join(self, one, other):
        self.next.setdefault(one, set()).add(other)
        self.next.setdefault(other, set()).add(one)

    def of(self, part, mark):
        found, new = set(), [Terminal(part, mark)]
        while new:
            one = new.pop()
            if one not in found:
                found.add(one)
                new += self.next.get(one, ())
        return found

    def rail(self, part, mark):
        """The rows that a terminal is on."""
        return {one.part for one in self.of(part, mark)} & {"X+", "X0"}


def relays_of(wires):
    return sorted({end.part for wire in wires for end in wire[:2] if end.part.startswith("K ")})


# ── every wire once ──────────────────────────────────────────────────────────────────────────────


@given(house_texts())
def test_every_wire_has_two_ends_and_stands_once(text):
    wires = terminal_list(house(text))
    pairs = Counter(frozenset((wire.start, wire.end)) for wire in wires)
    assert set(pairs.values()) == {1}
    assert all(len(pair) == 2 for pair in pairs)
    assert all(end.mark for pair in pairs for end in pair)


@given(house_texts())
def test_no_wire_ends_at_nothing(text):
    """What has two terminals has a wire at both: nothing is joined on one side alone."""
    wires = terminal_list(house(text))
    ends = {end for wire in wires for end in (wire.start, wire.end)}
    for part in {end.part for end in ends}:
        if part[0] in "FRH":
            assert {end.mark for end in ends if end.part == part} == {"1", "2"}
        if part.startswith("U "):
            marks = {end.mark for end in ends if end.part == part}
            assert marks == {"in +", "in 0", "C", "E"}


@given(house_texts())
def test_every_gpio_of_the_file_is_wired_once_at_its_pin(text):
    building = house(text)
    wiring = wiring_of(building)
    expected = [pin for one in wiring.circuits for pin in (*one.relays, *(one.sense or ()))]
    expected += [entry.pin for entry in wiring.panel]
    expected += [] if wiring.health is None else [wiring.health[0]]
    expected += [] if wiring.supply_sense is None else [wiring.supply_sense]
    wires = terminal_list(building)
    found = [end.mark for wire in wires for end in wire[:2] if end.part == "Pi"]
    signals = [int(mark) for mark in found if mark.isdigit() and int(mark) not in (1, 6)]
    # header pin → GPIO, by the published pinout; tests/building/test_header_pins.py
    published = {
        3: 2, 5: 3, 7: 4, 8: 14, 10: 15, 11: 17, 12: 18, 13: 27, 15: 22, 16: 23, 18: 24, 19: 10,
        21: 9, 22: 25, 23: 11, 24: 8, 26: 7, 29: 5, 31: 6, 32: 12, 33: 13, 35: 19, 36: 16, 37: 26,
        38: 20, 40: 21,
    }  # fmt: skip
    assert sorted(published[pin] for pin in signals) == sorted(expected)


def test_the_schools_north_relay_is_at_pin_11_and_its_sense_at_18():
    wires = terminal_list(SCHOOL)
    assert joined_to(wires, Terminal("K zones.north", "IN")) == (Terminal("Pi", "11"),)
    assert joined_to(wires, Terminal("U zones.north", "E")) == (Terminal("Pi", "18"),)


# ── what is joined ───────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("building", [SCHOOL, HALL], ids=["school", "hall"])
def test_an_alternating_line_is_in_the_change_over_form(building):
    wires = terminal_list(building)
    for name, line in building.lines.items():
        if line.drive != "alternating":
            continue
        dials, plus, minus = f"P lines.{name}", f"K lines.{name}+", f"K lines.{name}-"
        expected = {
            (): ({"X0"}, {"X0"}),  # at rest both on the same rail
            (plus,): ({"X+"}, {"X0"}),
            (minus,): ({"X0"}, {"X+"}),
            (plus, minus): ({"X+"}, {"X+"}),  # and no short circuit either
        }
        for closed, (a, b) in expected.items():
            joined = Joined(wires, closed)
            assert (joined.rail(dials, "a"), joined.rail(dials, "b")) == (a, b)
            assert joined.rail("G", "+") in ({"X+"}, set())


def test_its_pair_is_joined_to_nothing_else():
    wires = terminal_list(SCHOOL)
    relay = Terminal("K lines.main+", "C")
    assert {str(one) for one in joined_to(wires, relay)} == {
        "X lines.main:a", "S lines.main:1", "U lines.main+:in +",
    }  # fmt: skip
    assert {str(one) for one in joined_to(wires, Terminal("X lines.main", "a"))} == {
        "K lines.main+:C", "P lines.main:a",
    }  # fmt: skip


@given(house_texts())
def test_no_relays_closed_together_join_24_volts_to_0(text):
    wires = terminal_list(house(text))
    relays = [*relays_of(wires), "T FEED"]
    some = [(), relays, *combinations(relays, 1), *combinations(relays, 2)]
    for closed in some:
        assert Joined(wires, closed).rail("F MAIN", "2") == {"X+"}


@given(house_texts())
def test_the_pis_side_is_nowhere_joined_to_the_24_volts(text):
    wires = terminal_list(house(text))
    joined = Joined(wires, [*relays_of(wires), "T FEED"])
    for coupler in {end.part for wire in wires for end in wire[:2] if end.part[0] == "U"}:
        joined.join(Terminal(coupler, "C"), Terminal(coupler, "E"))  # its transistor conducts
    for mark in {end.mark for wire in wires for end in wire[:2] if end.part == "Pi"}:
        reached = joined.of("Pi", mark)
        assert not {one.part for one in reached} & {"X+", "X0", "XB", "XP", "G", "BT"}


def test_a_bell_has_24_volts_while_its_relay_and_the_feed_are_closed_and_never_else():
    wires = terminal_list(SCHOOL)
    for name in SCHOOL.zones:
        bell, relay = f"P zones.{name}", f"K zones.{name}"
        assert Joined(wires, FEED).rail(bell, "+") == set()
        assert Joined(wires, {relay, *FEED}).rail(bell, "+") == {"X+"}
        assert Joined(wires, {relay}).rail(bell, "+") == set()
        assert Joined(wires, {relay, "K HEALTH", "T FEED"}).rail(bell, "+") == set()
        assert Joined(wires).rail(bell, "0") == {"X0"}


def test_the_feed_falls_with_the_timer_and_the_timer_with_the_health_relay():
    wires = terminal_list(SCHOOL)
    assert Joined(wires, {"K HEALTH"}).rail("T FEED", "A1") == {"X+"}
    assert Joined(wires).rail("T FEED", "A1") == set()
    assert Joined(wires).rail("H HEALTH", "1") == set()
    assert Joined(wires, {"T FEED"}).rail("K FEED", "A1") == {"X+"}
    assert Joined(wires).rail("K FEED", "A1") == set()


def test_dials_go_on_while_the_bells_feed_is_open():
    wires = terminal_list(SCHOOL)
    assert Joined(wires, {"K lines.workshop"}).rail("P lines.workshop", "+") == {"X+"}


def test_without_a_health_relay_the_bells_feed_is_a_wire():
    wires = terminal_list(HALL)
    assert Joined(wires, {"K zones.court"}).rail("P zones.court", "+") == {"X+"}
    assert "K FEED" not in relays_of(wires)


def test_a_shared_return_takes_all_of_its_circuits_back():
    wires = terminal_list(SCHOOL)
    ends = [end for wire in wires for end in wire[:2] if wire.start.part == "J returns.attic"]
    assert [str(end) for end in ends] == ["J returns.attic:4", "X returns.attic:back"]
    there = [str(wire.start) for wire in wires if wire.end.part == "J returns.attic"]
    assert there == ["P zones.south:0", "P zones.gong:0", "P lines.workshop:0"]
    assert Joined(wires).rail("X returns.attic", "back") == {"X0"}


# ── suppressors ──────────────────────────────────────────────────────────────────────────────────


def test_a_diodes_stripe_is_at_plus():
    wires = terminal_list(SCHOOL)
    closed = Joined(wires, {"K zones.gong", *FEED})
    assert closed.rail("S zones.gong", "K") == {"X+"}
    assert closed.rail("S zones.gong", "A") == {"X0"}


@pytest.mark.parametrize("fitted", ["diode", "zener", "none"])
def test_no_diode_is_listed_across_an_alternating_line(fitted):
    wires = terminal_list(installed(LINE + f'suppressor = "{fitted}"\n'))
    marks = {end.mark for wire in wires for end in wire[:2] if end.part == "S lines.main"}
    assert marks == {"1", "2"}  # a diode has A and K


@pytest.mark.parametrize("fitted", ["diode", "zener", "rc", "none"])
def test_a_tremblers_suppressor_is_over_the_relays_contact(fitted):
    wires = terminal_list(installed(ZONE + f'suppressor = "{fitted}"\n'))
    leads = {str(wire.end) for wire in wires if wire.start.part == "S zones.north"}
    assert leads == {"K zones.north:C", "K zones.north:NO"}


def test_or_in_each_bell_over_its_interrupter():
    wires = terminal_list(installed(ZONE + 'suppressor = "varistor"\n'))
    leads = {str(wire.end) for wire in wires if wire.start.part == "S zones.north"}
    assert leads == {"P zones.north:interrupter 1", "P zones.north:interrupter 2"}


def test_a_line_in_series_has_its_resistor_at_the_relay():
    wires = terminal_list(installed(SINGLE + 'wired = "series"\n'))
    resistor = Terminal("R lines.tower", "1")
    assert joined_to(wires, resistor) == (Terminal("K lines.tower", "NO"),)


# ── what a wire is ───────────────────────────────────────────────────────────────────────────────


def test_a_wire_into_the_building_is_as_the_file_says():
    wires = terminal_list(SCHOOL)
    (out,) = [wire for wire in wires if wire.end == Terminal("P zones.north", "+")]
    assert (str(out.conductor), out.metres, out.colour) == ("1.5 mm²", 50.0, "brown")
    (back,) = [wire for wire in wires if wire.start == Terminal("P zones.north", "0")]
    assert back.colour == "blue"


def test_every_wire_into_the_building_is_behind_a_fuse_of_its_own_circuit():
    for wire in terminal_list(SCHOOL):
        if wire.kind == "building" and not wire.group.startswith("returns."):
            own = "F INPUTS" if wire.group.startswith("panel.") else f"F {wire.group}"
            assert wire.fuse == own
