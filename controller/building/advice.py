"""What is lawful in a building's file and yet worth a word: sentences for `check`."""

from __future__ import annotations

from collections.abc import Iterator

from controller.building.model import Building
from controller.building.wiring import Level, wiring_of

# Pulls before anything claims a pin, from power-on: BCM2835 ARM Peripherals, p. 102.
_PULLED_UP = range(9)  # GPIO 0 to 8; the rest of the header is pulled down
_BUSES = {"I²C": (2, 3), "SPI": (7, 8, 9, 10, 11), "UART": (14, 15)}  # when they are enabled
# All lines are had by one request, which holds ten attributes (linux/gpio.h,
# GPIO_V2_LINE_NUM_ATTRS_MAX; from memory). The relays' levels take one, and the kinds of line three
# (relays, inputs pulled up, inputs pulled down). Each length of debounce takes one.
_MOST_DEBOUNCES = 6


def advice(building: Building) -> tuple[str, ...]:
    """What `check` says of the wiring, the supply and the timetable, a sentence or two each."""
    return (
        *_pulls(building),
        *_buses(building),
        *_debounces(building),
        *_supply(building),
        *_figures(building),
        *_lines(building),
        *_silent_zones(building),
    )


# ── pins ─────────────────────────────────────────────────────────────────────────────────────────


def _relays(building: Building) -> Iterator[tuple[str, int, Level]]:
    """Each relay: whose, its pin, the level that energises."""
    wiring = wiring_of(building)
    for circuit in wiring.circuits:
        for relay in circuit.relays:
            yield circuit.name, relay, circuit.active
    if wiring.health is not None:
        yield "health", *wiring.health


def _pulls(building: Building) -> Iterator[str]:
    for name, pin, active in _relays(building):
        pull: Level = "high" if pin in _PULLED_UP else "low"
        if pull == active:
            way = "up" if pull == "high" else "down"
            yield (
                f"{name}: GPIO {pin} is pulled {way} from power-on until the daemon starts, which "
                f"tends to energise a relay that is active {active}. Use another pin, or an "
                "external resistor that pulls it the other way."
            )


def _buses(building: Building) -> Iterator[str]:
    wiring = wiring_of(building)
    inputs = [(f"panel.{one.name}", one.pin) for one in wiring.panel]
    inputs += [(one.name, pin) for one in wiring.circuits for pin in one.sense or ()]
    if wiring.supply_sense is not None:
        inputs.append(("supply", wiring.supply_sense))
    for name, pin in [*((name, pin) for name, pin, _ in _relays(building)), *inputs]:
        for bus, pins in _BUSES.items():
            if pin in pins:
                yield f"{name}: GPIO {pin} is one of the {bus} bus; see that it is not enabled."


def _debounces(building: Building) -> Iterator[str]:
    """The hand gives the relays' senses a debounce of their own, and the supply's sense another."""
    wiring = wiring_of(building)
    panel = len({entry.debounce_ns for entry in wiring.panel})
    sensed = any(circuit.sense for circuit in wiring.circuits)
    room = _MOST_DEBOUNCES - sensed - (wiring.supply_sense is not None)
    if panel > room:
        yield (
            f"panel: its entries have {panel} different lengths of debounce, and beside the relays "
            f"and senses the kernel may refuse more than {room}, so that the daemon does not "
            "start. Give more of them the same debounce."
        )


# ── supply ───────────────────────────────────────────────────────────────────────────────────────


def _supply(building: Building) -> Iterator[str]:
    supply = building.supply
    if supply.amps is None:
        yield (
            "supply: without amps the supply is taken as unlimited, so all zones may ring at once. "
            "Set amps to what it can give."
        )
    if building.lines and supply.sense is None:
        yield (
            f"supply: nobody sees the {supply.volts:g} V fail (supply.sense). The dials stay exact "
            "only while it does not: impulses given without it are counted and move nothing."
        )


def _figures(building: Building) -> Iterator[str]:
    zones = [name for name, zone in building.zones.items() if not zone.amps]
    lines = [name for name, line in building.lines.items() if not line.amps]
    if zones:
        yield (
            f"zones {', '.join(zones)}: without bells and amps_each they are taken to draw nothing."
        )
    if lines:
        yield (
            f"lines {', '.join(lines)}: without amps_each, and dials where wired in parallel, "
            "they are taken to draw nothing."
        )


def _lines(building: Building) -> Iterator[str]:
    for name, line in building.lines.items():
        if line.drive == "alternating" and line.sense is None:
            yield (
                f"lines.{name}: without sense only the gap keeps + and − apart, and a contact that "
                "stays closed is not noticed."
            )
        if line.drive == "single":
            yield (
                f"lines.{name}: on a single line an impulse cut by a power failure cannot be told "
                "from one given; after such a cut the line is doubtful until a person confirms."
            )


# ── timetable ────────────────────────────────────────────────────────────────────────────────────


def _silent_zones(building: Building) -> Iterator[str]:
    rung = {zone for rings in building.plans.values() for ring in rings for zone in ring.zones}
    if building.tape is not None:
        rung.update(zone for zone, holes in building.tape.holes.items() if holes)
    silent = [zone for zone in building.zones if zone not in rung]
    if silent and rung:
        yield f"zones {', '.join(silent)}: no plan and no hole rings them."
