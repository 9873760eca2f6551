"""Circuits whose devices are left with too little, and lines in series with a wrong current."""

from __future__ import annotations

from collections.abc import Iterator

from controller.building.installed import Line
from controller.building.model import Building
from controller.electrics.feeds import (
    Feed,
    amps,
    device_needs,
    feeds,
    loop_ohms,
    lost_on_own,
    lost_on_return,
    series_amps,
    shared_amps,
    sharing,
    volts_at_worst,
)
from controller.electrics.figures import Finding, NotKnown, as_known
from controller.electrics.runs import lost_bunched
from controller.electrics.series import dropping_ohms, loop_amps, watts
from controller.electrics.supply import window
from controller.electrics.wire import COOL, WARM, ohms, thicker

_NEAR = 0.1  # of its set current: a line in series may be off by so much. A choice
_ROOMY = 2.0  # a resistor is bought for so many times its watts: common practice, no source


def volt_findings(building: Building) -> Iterator[Finding]:
    """Of every circuit whose figures are known."""
    for feed in feeds(building):
        if feed.in_series:
            yield from _series_unmeasured(building, feed)
            yield from as_known(_series(building, feed))
        else:
            yield from as_known(_parallel(building, feed))


# ── in parallel ──────────────────────────────────────────────────────────────────────────────────


def _parallel(building: Building, feed: Feed) -> Iterator[Finding]:
    """At the battery's end, in warm wire, with all that shares its return."""
    low = window(building.supply, building.battery).discharged
    needed = device_needs(building, feed)
    left = volts_at_worst(building, feed, low, WARM)
    if left >= needed:
        return
    place = "along" if feed.circuit.spread else "at the end of"
    last = "it has" if feed.number == 1 else "the last has"
    yield Finding(
        feed.name,
        "volts",
        f"{feed.devices}, {amps(feed):.3g} A, {place} {feed.circuit.run_metres:g} m of "
        f"{feed.circuit.wire}: where the supply is down to {low:.3g} V, {last} "
        f"{_less(left, needed)} V and needs {needed:.3g} V. "
        f"{_remedy(building, feed, low - needed)}",
    )


def _remedy(building: Building, feed: Feed, room: float) -> str:
    """What to change so that no more than `room` volts are lost."""
    if room <= 0:
        return (
            "No wire mends that: the supply itself falls too low. Take more cells, or end the "
            "discharge sooner."
        )
    returned = lost_on_return(building, feed, WARM)
    if returned >= room:
        return _remedy_of_return(building, feed, room, returned)
    left = room - returned
    ways = []
    longest = int((feed.circuit.run_metres or 0) * left / lost_on_own(feed, WARM))
    if longest:
        ways.append(f"a supply no farther than {longest} m of cable away")
    fewer = _fewer(feed, left)
    if fewer:
        ways.append(f"no more than {fewer} {feed.device}{'' if fewer == 1 else 's'} on this run")
    wider = _thick_enough(feed, left)
    if wider is not None:
        return f"Take {', or '.join([f'{wider} or thicker', *ways])}."
    if not ways:
        return "No wire that is to be had mends that. Feed it from a supply beside it."
    return f"No thicker wire that is to be had mends that. Take {', or '.join(ways)}."


def _remedy_of_return(building: Building, feed: Feed, room: float, returned: float) -> str:
    """Where a shared return alone loses too much."""
    name, wire = feed.circuit.shares_return, feed.circuit.wire
    assert name is not None, "its return is shared"
    assert wire is not None, "what it loses is known"
    users = ", ".join(one.name for one in sharing(building, name))
    apart = feed._replace(circuit=feed.circuit.model_copy(update={"shares_return": None}))
    ways = []
    own = str(wire) if lost_on_own(apart, WARM) <= room else _thick_enough(apart, room)
    if own is not None:
        ways.append(f"Give {feed.name} a return of its own, both its wires {own} or thicker")
    wider = _thick_return(building, name, room - lost_on_own(feed, WARM))
    if wider is not None:
        ways.append(f"{'make' if ways else 'Make'} the return {wider} or thicker")
    if not ways:
        ways.append(f"Give {feed.name} a return of its own, and a supply nearer to it")
    return (
        f"The return {name} alone, shared by {users}, loses {returned:.3g} V of the {room:.3g} V "
        f"that may be lost. {', or '.join(ways)}."
    )


def _thick_enough(feed: Feed, room: float) -> str | None:
    """The thinnest conductor in which it loses no more than `room` volts."""
    assert feed.circuit.wire is not None, "what it loses is known"
    for wire in thicker(feed.circuit.wire):
        other = feed._replace(circuit=feed.circuit.model_copy(update={"wire": wire}))
        if lost_on_own(other, WARM) <= room:
            return str(wire)
    return None


def _thick_return(building: Building, name: str, room: float) -> str | None:
    """The thinnest shared return that loses no more than `room` volts while all are on."""
    shared = building.returns[name]
    assert shared.wire is not None, "what it loses is known"
    assert shared.metres is not None, "what it loses is known"
    for wire in thicker(shared.wire):
        if lost_bunched(shared_amps(building, name), ohms(wire, shared.metres, WARM)) <= room:
            return str(wire)
    return None


def _fewer(feed: Feed, room: float) -> int:
    """The most of its devices that lose no more than `room` volts on the run as it is; 0: none."""
    field = "bells" if feed.device == "bell" else "dials"
    for number in range((feed.number or 1) - 1, 0, -1):
        circuit = feed.circuit.model_copy(update={field: number})
        if lost_on_own(feed._replace(circuit=circuit, number=number), WARM) <= room:
            return number
    return 0


def _less(volts: float, needed: float) -> str:
    """To three digits, or to as many as show that it is less than what is needed."""
    texts = (f"{max(volts, 0.0):.{digits}g}" for digits in range(3, 9))
    return next((text for text in texts if float(text) < float(f"{needed:.3g}")), f"{volts:g}")


# ── in series ────────────────────────────────────────────────────────────────────────────────────


def _series_unmeasured(building: Building, feed: Feed) -> Iterator[Finding]:
    """Without a resistor, and not enough is known to tell which it needs."""
    line = feed.circuit
    assert isinstance(line, Line), "only lines are in series"
    if line.resistor_ohms is not None:
        return
    try:
        amps(feed), loop_ohms(building, feed, COOL)
    except NotKnown as missing:
        yield Finding(
            feed.name,
            "series",
            f"its dials are in series: never put them straight on {building.supply.volts:g} V. "
            f"Measure and set {missing}; then its dropping resistor can be told.",
        )


def _series(building: Building, feed: Feed) -> Iterator[Finding]:
    """The set current from the supply's float voltage, and enough of it at the battery's end."""
    line = feed.circuit
    assert isinstance(line, Line), "only lines are in series"
    supply = window(building.supply, building.battery)
    wanted, loop = amps(feed), loop_ohms(building, feed, COOL)
    resistor = dropping_ohms(supply.floating, wanted, loop)
    if resistor < 0:
        yield Finding(
            feed.name,
            "series",
            f"its {feed.devices} and their wire have {loop:.3g} Ω: {supply.floating:.3g} V drive "
            f"no more than {loop_amps(supply.floating, loop):.3g} A through them, and "
            f"{wanted:.3g} A is set. Split the line in two, or give it a supply of "
            f"{wanted * loop:.3g} V.",
        )
        return
    fit = f"Fit {resistor:.3g} Ω for {_ROOMY * watts(wanted, resistor):.2g} W or more."
    if line.resistor_ohms is None:
        yield Finding(
            feed.name,
            "series",
            f"its {feed.devices} are in series: straight on {supply.floating:.3g} V they would "
            f"take {loop_amps(supply.floating, loop):.3g} A instead of {wanted:.3g} A. {fit}",
        )
        return
    real = series_amps(building, feed, supply.floating, COOL)
    if abs(real - wanted) > _NEAR * wanted:
        yield Finding(
            feed.name,
            "series",
            f"with its {line.resistor_ohms:g} Ω it takes {real:.3g} A on float instead of "
            f"{wanted:.3g} A. {fit}",
        )
    left = volts_at_worst(building, feed, supply.discharged, WARM)
    needed = device_needs(building, feed)
    if left < needed:
        yield Finding(
            feed.name,
            "series",
            f"where the supply is down to {supply.discharged:.3g} V, each of its {feed.devices} "
            f"has {_less(left, needed)} V and needs {needed:.3g} V. Split the line in two, each "
            "with a resistor of its own.",
        )
