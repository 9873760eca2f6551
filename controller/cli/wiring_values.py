"""How values of the wiring sheet are said: amps and volts, suppressors, runs."""

from __future__ import annotations

from controller.building.model import Building
from controller.electrics.feeds import Feed
from controller.electrics.feeds import amps as amps_of
from controller.electrics.figures import Figure, NotKnown, ToBeMeasured
from controller.electrics.supply import window
from controller.electrics.suppressors import Placed, advised, placed, snubber
from controller.pictures.wiring_page import Cell

_PLACES = {
    "line": "between its relays' commons",
    "contact": "over its relay's contact",
    "load": "across its two wires, in the cabinet",
    "interrupter": "in each bell, over its interrupter",
}


def value(of: Figure, unit: str) -> Cell:
    """ "1.5 A", or what is to be measured."""
    if isinstance(of, ToBeMeasured):
        return Cell(str(of), measure=True)
    return Cell(f"{of:.3g} {unit}")


def current(amps: float) -> str:
    """ "1.5 A", "7.2 mA"."""
    return f"{amps:.3g} A" if amps >= 0.01 else f"{amps * 1000:.2g} mA"


def placed_of(feed: Feed) -> Placed:
    """The suppressor that a circuit is wired with."""
    return placed(feed.circuit.suppressor, feed.load)


def suppressor_says(building: Building, feed: Feed) -> tuple[str, ...]:
    """What a circuit's suppressor is, in short lines."""
    fitted, volts = placed_of(feed), window(building.supply, building.battery).boosted
    stands = feed.circuit.stand_off_volts
    lines: tuple[str, ...]
    match fitted.kind:
        case "rc":
            lines = _snubber_says(building, feed)
        case "diode":
            lines = "diode, stripe at +", f"{advised('single', volts).volts:g} V reverse"
        case "zener":
            lines = "diode and zener, stripe at +", _stands(stands)
        case "bidirectional" if stands is None and feed.load == "alternating":
            lines = "bidirectional", _stands(advised("alternating", volts).volts)
        case kind:
            lines = kind, _stands(stands)
    return lines if fitted.told else (*lines, "as advised: not in the file")


def _stands(volts: float | None) -> str:
    return "its volts: to be measured" if volts is None else f"conducts from above {volts:g} V"


def _snubber_says(building: Building, feed: Feed) -> tuple[str, ...]:
    try:
        of = snubber(building.supply.volts, amps_of(feed))
    except NotKnown:
        return "R 0.5 to 1 Ω a volt,", "C 0.5 to 1 µF an ampere, 300 V"
    return (
        f"R {of.least_ohms:.3g} to {of.most_ohms:.3g} Ω,",
        f"C {of.least_microfarads:.2g} to {of.most_microfarads:.2g} µF, 300 V",
    )


def suppressor_words(building: Building, feed: Feed) -> str:
    """The same in one line, and where it stands."""
    says = " ".join(
        line if line.endswith(",") else f"{line};" for line in suppressor_says(building, feed)
    )
    return f"{says} {_PLACES[placed_of(feed).where]}"


def devices_words(feed: Feed) -> str:
    """ "6 bells in parallel", "4 dials in series", "1 bell"."""
    if feed.number == 1:
        return feed.devices
    return f"{feed.devices} in {'series' if feed.in_series else 'parallel'}"


def run_words(feed: Feed) -> str:
    """ "50 m of 1.5 mm²", as far as the file says it."""
    metres, wire = feed.circuit.run_metres, feed.circuit.wire
    if metres is None and wire is None:
        return "run: to be measured"
    length = "? m" if metres is None else f"{metres:g} m"
    return f"{length} of {wire or 'wire to be measured'}"
