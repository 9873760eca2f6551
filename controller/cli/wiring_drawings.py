"""The drawings of the wiring sheet: supply, controller, each circuit, each kind of input."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from controller.building.terminals import INPUTS_FUSE, SUPPLY_INPUT, Wire
from controller.building.wiring import PanelInput, wiring_of
from controller.cli.wiring_rows import does_words, titles
from controller.cli.wiring_values import (
    devices_words,
    placed_of,
    run_words,
    suppressor_says,
)
from controller.electrics.feeds import Feed, feeds
from controller.electrics.figures import ToBeMeasured
from controller.electrics.fuse_list import input_ohms
from controller.electrics.sheet import CircuitRow
from controller.pictures.wiring_circuits import CircuitDrawn, circuit_drawing, return_drawing
from controller.pictures.wiring_inputs import InputDrawn, input_drawing
from controller.pictures.wiring_page import Drawing
from controller.pictures.wiring_supply import SupplyDrawn, controller_drawing, supply_drawing

if TYPE_CHECKING:
    from controller.building.model import Building

_HALF_A_WATT_TO = (
    36.0  # nominal volts: at 1.23 times that, on boost, an input's resistor has 0.33 W
)


def drawings(
    building: Building,
    wires: Sequence[Wire],
    rows: Sequence[CircuitRow],
    fuses: Mapping[str, str],
) -> Iterator[Drawing]:
    """All of them, in the sheet's order. `fuses` has the rating of each, in words."""
    house = _house(building, fuses)
    yield Drawing("supply", supply_drawing(house, wires))
    yield Drawing("controller", controller_drawing(house, wires))
    for feed, row in zip(feeds(building), rows, strict=True):
        yield Drawing(feed.name, circuit_drawing(_circuit(building, feed, row, fuses), wires))
    for name, shared in building.returns.items():
        run = f"{shared.metres or '?'} m of {shared.wire or 'wire to be measured'}"
        run = run.replace(".0 m", " m")
        yield Drawing(f"returns.{name}", return_drawing(f"returns.{name}", run, wires))
    for level in ("low", "high"):
        panel = [entry for entry in wiring_of(building).panel if entry.active == level]
        if panel:
            one = _button(building, panel, fuses)
            yield Drawing(f"panel.active-{level}", input_drawing(one, wires))
    if building.supply.sense is not None:
        yield Drawing("supply.sense", input_drawing(_supply_sense(building), wires))


def _house(building: Building, fuses: Mapping[str, str]) -> SupplyDrawn:
    supply, battery, health = building.supply, building.battery, building.health
    gives = "" if supply.amps is None else f", {supply.amps:g} A"
    cells = ""
    if battery is not None:
        hours = "" if battery.amp_hours is None else f", {battery.amp_hours:g} Ah"
        cells = f"{battery.cells} cells{hours}"
    energised = "" if health is None else f"active {health.active}"
    volts = f"{supply.volts:g} V"
    return SupplyDrawn(volts, f"{volts}{gives}", cells, energised, fuses)


def _circuit(
    building: Building, feed: Feed, row: CircuitRow, fuses: Mapping[str, str]
) -> CircuitDrawn:
    circuit = feed.circuit
    out, back = (*(circuit.colours or ()), "", "")[:2]
    fitted = placed_of(feed)
    resistor = ""
    if feed.in_series:
        unknown = isinstance(row.resistor, ToBeMeasured)
        resistor = "to be measured" if unknown else f"{row.resistor:.3g} Ω"
    return CircuitDrawn(
        feed.name,
        titles(building)[feed.name],
        feed.load,
        devices_words(feed),
        fuses[f"F {feed.name}"],
        f"active {circuit.active}",
        fitted.kind,
        suppressor_says(building, feed),
        fitted.where,
        resistor,
        run_words(feed),
        (out, back),
        circuit.sense is not None,
    )


def _button(
    building: Building, panel: Sequence[PanelInput], fuses: Mapping[str, str]
) -> InputDrawn:
    """The first of the panel's entries of one level; the others are wired alike."""
    first = panel[0]
    there, back = (*(building.panel[first.name].colours or ()), "", "")[:2]
    others = ", ".join(entry.name for entry in panel[1:])
    alike = f" (wired alike: {others})" if others else ""
    return InputDrawn(
        f"panel.{first.name}",
        does_words(first) + alike,
        f"U panel.{first.name}",
        f"P panel.{first.name}",
        (there, back),
        _resistor(building),
        f"pulled {'up' if first.active == 'low' else 'down'} in the Pi",
        fuses[INPUTS_FUSE],
    )


def _supply_sense(building: Building) -> InputDrawn:
    says = f"reads whether the {building.supply.volts:g} V is there", SUPPLY_INPUT, "", ("", "")
    return InputDrawn("supply", *says, _resistor(building), "pulled down in the Pi", "")


def _resistor(building: Building) -> str:
    watts = "½ W" if building.supply.volts <= _HALF_A_WATT_TO else "1 W"
    return f"{input_ohms(building) / 1000:.2g} kΩ, {watts}"
