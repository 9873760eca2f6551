"""Fuse, contact and suppressor of each circuit: what it has, what it should have."""

from __future__ import annotations

from collections.abc import Iterator

from controller.building.durations import SECOND
from controller.building.installed import Line
from controller.building.model import Building
from controller.electrics.contacts import make_amps
from controller.electrics.feeds import (
    Feed,
    amps,
    amps_at,
    feeds,
    own_ohms,
    return_ohms,
    series_resistor,
    sharing,
)
from controller.electrics.figures import Finding, NotKnown, as_known
from controller.electrics.fuses import (
    OPENS_AT,
    STEADY_SHARE,
    carrying,
    most_fuse_amps,
    opens,
)
from controller.electrics.supply import window
from controller.electrics.suppressors import (
    DIODE_VOLTS,
    Snubber,
    advised,
    release_seconds,
    snubber,
    time_constant,
)
from controller.electrics.wire import WARM

HOLD_SHARE = 0.1  # a coil lets go at the latest at a tenth of its current: a choice, to be safe


def protection_findings(building: Building) -> Iterator[Finding]:
    """Of every circuit, and of the returns that some share."""
    for feed in feeds(building):
        for check in (_fuse_and_wire, _fuse_and_load, _fuse_and_short):
            yield from as_known(check(building, feed))
        for check in (_contact_breaks, _contact_makes, _suppressor, _release):
            yield from as_known(check(building, feed))
    for name in building.returns:
        yield from as_known(_return_protected(building, name))


# ── fuse ─────────────────────────────────────────────────────────────────────────────────────────


def short_amps(building: Building, feed: Feed) -> float:
    """What a short between the wires at the far end draws at the battery's end, A: V/R.

    In a line in series through its resistor, which stands at the relay.
    """
    name = feed.circuit.shares_return
    back = 0.0 if name is None else return_ohms(building, name, WARM)
    low = window(building.supply, building.battery).discharged
    return low / (own_ohms(feed, WARM) + back + series_resistor(feed))


def _fuse_and_wire(building: Building, feed: Feed) -> Iterator[Finding]:
    fuse, wire = feed.circuit.fuse_amps, feed.circuit.wire
    if fuse is not None and wire is not None and fuse > (most := most_fuse_amps(wire)):
        yield Finding(
            feed.name,
            "fuse",
            f"a fuse of {fuse:g} A does not protect {wire}. Fit {most:g} A or less, or thicker "
            "wire.",
        )


def _fuse_and_load(building: Building, feed: Feed) -> Iterator[Finding]:
    fuse, load = feed.circuit.fuse_amps, amps(feed)
    if fuse is None or load <= STEADY_SHARE * fuse:
        return
    fits = carrying(load)
    remedy = f"Fit {fits[0]:g} A, if the wire bears it" if fits else "Split the circuit in two"
    yield Finding(
        feed.name,
        "fuse",
        f"it draws {load:.3g} A, more than three quarters of its fuse of {fuse:g} A, which may "
        f"open by itself. {remedy}.",
    )


def _fuse_and_short(building: Building, feed: Feed) -> Iterator[Finding]:
    """Not of a line in series: what its resistor lets through is known, and its wire bears it."""
    fuse, short = feed.circuit.fuse_amps, short_amps(building, feed)
    if fuse is None or opens(fuse, short) or feed.in_series:
        return
    fits = [rating for rating in carrying(amps(feed)) if opens(rating, short)]
    remedy = f"Fit {fits[-1]:g} A" if fits else "Take thicker wire, or a supply nearer to it"
    yield Finding(
        feed.name,
        "fuse",
        f"a short at the far end draws only {short:.3g} A through its wires, and a fuse of "
        f"{fuse:g} A needs {OPENS_AT * fuse:.3g} A to open within 5 s. {remedy}.",
    )


def _return_protected(building: Building, name: str) -> Iterator[Finding]:
    """What protects a return is the fuses of all that share it, or the main one."""
    wire = building.returns[name].wire
    fuses = [feed.circuit.fuse_amps for feed in sharing(building, name)]
    known = [one for one in fuses if one is not None]
    if wire is None or len(known) < len(fuses):
        return
    main = building.battery.fuse_amps if building.battery is not None else None
    together = sum(known) if main is None else min(main, sum(known))
    if together > (most := most_fuse_amps(wire)):
        yield Finding(
            f"returns.{name}",
            "fuse",
            f"the fuses of the circuits that share it let {together:.3g} A through, and {wire} "
            f"may have {most:g} A. Take a thicker return, or smaller fuses.",
        )


# ── contact ──────────────────────────────────────────────────────────────────────────────────────


def snubber_of(building: Building, feed: Feed) -> Snubber | None:
    """R and C over the circuit's contact, where that is fitted, or advised and nothing is told."""
    fitted = feed.circuit.suppressor
    if fitted == "rc" or (fitted is None and feed.load == "trembler"):
        return snubber(building.supply.volts, amps(feed))
    return None


def contact_makes_amps(building: Building, feed: Feed) -> float:
    """What the circuit's contact closes on at the most, A; a capacitor behind its most ohms."""
    volts = window(building.supply, building.battery).boosted
    over = snubber_of(building, feed)
    return make_amps(
        amps_at(building, feed, volts), volts, None if over is None else over.most_ohms
    )


def _contact_breaks(building: Building, feed: Feed) -> Iterator[Finding]:
    rated, volts = building.relays, window(building.supply, building.battery).boosted
    if rated.volts is not None and rated.volts < volts:
        yield Finding(
            feed.name,
            "contact",
            f"its contact may break {rated.volts:g} V DC, and the supply gives up to {volts:.3g} V."
            " Take a relay rated for more, or a charger that gives less.",
        )
    load = amps_at(building, feed, volts)
    if rated.amps is not None and rated.amps < load:
        yield Finding(
            feed.name,
            "contact",
            f"it draws up to {load:.3g} A, and its contact may break {rated.amps:g} A into coils. "
            "Let the relay work a larger one, or split the circuit in two.",
        )


def _contact_makes(building: Building, feed: Feed) -> Iterator[Finding]:
    rated, makes = building.relays.make_amps, contact_makes_amps(building, feed)
    if rated is not None and rated < makes:
        yield Finding(
            feed.name,
            "contact",
            f"its contact closes on up to {makes:.3g} A, what the capacitor over it gives counted "
            f"in, and may close on {rated:g} A. Fit a suppressor without a capacitor, or take a "
            "relay rated for more.",
        )


# ── suppressor ───────────────────────────────────────────────────────────────────────────────────


def _suppressor(building: Building, feed: Feed) -> Iterator[Finding]:
    fitted, volts = feed.circuit.suppressor, window(building.supply, building.battery).boosted
    should = advised(feed.load, volts)
    if fitted in ("diode", "zener") and feed.load == "alternating":
        yield Finding(
            feed.name,
            "suppressor",
            f"a {fitted} across an alternating line short-circuits every second impulse. Take it "
            f"out; fit: {should}.",
        )
    elif fitted in ("diode", "zener") and feed.load == "trembler":
        yield Finding(
            feed.name,
            "suppressor",
            f"a {fitted} at a trembler's terminals does not clamp the coil behind its interrupter. "
            f"Fit: {should}; and inside each bell a varistor, or resistor and capacitor, over its "
            "interrupter.",
        )
    elif fitted == "none":
        yield Finding(
            feed.name,
            "suppressor",
            f"nothing takes the kick of its coils, and the contact burns. Fit: {should}.",
        )
    stands = feed.circuit.stand_off_volts
    if stands is not None and stands <= volts and fitted in ("zener", "bidirectional", "varistor"):
        yield Finding(
            feed.name,
            "suppressor",
            f"its {fitted} conducts from above {stands:g} V, and the supply gives up to "
            f"{volts:.3g} V on boost: it would heat without end. Take one that stands off more "
            "than that.",
        )


def release_of(building: Building, feed: Feed) -> float:
    """How long a line's coils hold on after an impulse, s: until a tenth of their current.

    On an alternating line both contacts at rest short-circuit the coils, whatever is fitted.
    """
    line = feed.circuit
    if not isinstance(line, Line):
        raise NotKnown("release of a bell")
    if line.ohms_each is None:
        raise NotKnown("ohms of each dial")
    if line.henries_each is None:
        raise NotKnown("henries of each dial")
    tau = time_constant(line.henries_each, line.ohms_each)
    volts = window(building.supply, building.battery).floating
    return release_seconds(tau, volts, _clamp_volts(building, feed), HOLD_SHARE)


def _clamp_volts(building: Building, feed: Feed) -> float:
    if feed.load == "alternating":
        return 0.0
    stands = feed.circuit.stand_off_volts
    match feed.circuit.suppressor:
        case "diode" | None:
            return DIODE_VOLTS
        case "zener" if stands is not None:
            return stands + DIODE_VOLTS
        case "bidirectional" | "varistor" if stands is not None:
            return stands
    raise NotKnown("release with this suppressor")


def _release(building: Building, feed: Feed) -> Iterator[Finding]:
    line, holds = feed.circuit, release_of(building, feed)
    assert isinstance(line, Line), "only of lines it is known"
    if holds > (gap := line.gap_ns / SECOND):
        instead = "" if feed.load == "alternating" else ", or fit a diode and a zener in series"
        yield Finding(
            feed.name,
            "suppressor",
            f"its coils hold on for {holds:.2g} s after an impulse, and the next may come after "
            f"{gap:g} s. Set a gap of {holds:.2g} s or more{instead}.",
        )
