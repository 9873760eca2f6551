"""What a contact needs against a coil's kick, and what that does to the coil's release."""

from __future__ import annotations

from math import log
from typing import Literal, NamedTuple

Load = Literal["alternating", "single", "single-stroke", "trembler"]
Kind = Literal["diode", "bidirectional", "rc"]
Where = Literal["line", "contact", "load", "interrupter"]

DIODE_VOLTS = 0.7  # forward drop that the decay formula takes
_TIMES_VOLTS = 10  # reverse rating of a diode over the circuit's voltage: see `advised`
# 1N4001 … 1N4007 (1 A) and 1N5400 … 1N5408 (3 A), data sheets
_REVERSE_VOLTS = (50, 100, 200, 400, 600, 800, 1000)
# Stand-off voltages to be had: common practice, from memory
_STAND_OFF_VOLTS = (10, 12, 13, 15, 18, 20, 24, 26, 28, 30, 33, 36, 40, 43, 45, 48, 51, 54, 58, 60, 64, 70, 75, 85)  # fmt: skip  # noqa: E501


class Suppressor(NamedTuple):
    """What to fit, where, and what never."""

    kind: Kind
    where: str
    volts: float  # a diode's reverse rating; up to where a bidirectional one does not conduct
    never: str  # "" where nothing

    def __str__(self) -> str:
        words = {
            "diode": f"diode, {self.volts:g} V reverse",
            "bidirectional": f"bidirectional, conducts from above {self.volts:g} V",
            "rc": f"resistor and capacitor, {self.volts:g} V",
        }[self.kind]
        return f"{words}, {self.where}"


class Snubber(NamedTuple):
    """A resistor and a capacitor in series."""

    least_ohms: float
    most_ohms: float
    least_microfarads: float
    most_microfarads: float


def advised(load: Load, most_volts: float) -> Suppressor:
    """What to fit for a load, where the supply gives `most_volts` (on boost).

    A diode suits what has one polarity: reverse rating ten times the circuit's voltage ("Relay
    Contact Protection Circuits", appendix of an industrial I/O board's manual). Across an
    alternating line it short-circuits every second impulse: a bidirectional suppressor and a
    varistor are among a relay maker's choices for a coil ("The application of relay coil
    suppression with DC relays"). A diode at a trembler's terminals does not clamp the coil
    behind its interrupter.
    `ValueError` where none that is to be had stands so much.
    """
    match load:
        case "alternating":
            volts = next((one for one in _STAND_OFF_VOLTS if one > most_volts), None)
            if volts is None:
                raise ValueError(f"no suppressor listed stands off {most_volts:g} V")
            return Suppressor(
                "bidirectional",
                "across the line, between its relays' commons",
                volts,
                "never a plain diode: it short-circuits every second impulse",
            )
        case "trembler":
            never = "never a diode at a bell's terminals: the coil is behind its interrupter"
            return Suppressor("rc", "over the relay's contact", 300.0, never)
        case "single" | "single-stroke":
            volts = next((one for one in _REVERSE_VOLTS if one >= _TIMES_VOLTS * most_volts), None)
            if volts is None:
                raise ValueError(f"no diode listed stands {_TIMES_VOLTS * most_volts:g} V")
            return Suppressor("diode", "across the load, cathode to +", volts, "")


def snubber(volts: float, amps: float) -> Snubber:
    """R and C for a contact: 0.5 to 1 Ω a volt, 0.5 to 1 µF an ampere of its current; the capacitor
    for 200 to 300 V ("Relay Contact Protection Circuits", as above)."""
    return Snubber(0.5 * volts, volts, 0.5 * amps, amps)


def time_constant(henries: float, ohms: float) -> float:
    """How fast a coil's current follows, s: L/R."""
    return henries / ohms


def release_seconds(
    time_constant: float, coil_volts: float, clamp_volts: float, hold_share: float
) -> float:
    """How long until a coil that is switched off has no more than `hold_share` of its current, s.

    t = τ ln[(I₀R + Vc) / (IhR + Vc)], from L di/dt + R i + Vc = 0. Vc is the clamp's: 0 where the
    coil is short-circuited, 0.7 V with a diode, the zener's and 0.7 V with both.
    """
    return time_constant * log((coil_volts + clamp_volts) / (hold_share * coil_volts + clamp_volts))


class Placed(NamedTuple):
    """The suppressor that a circuit is wired with, and where."""

    kind: str  # "diode", "zener", "bidirectional", "varistor", "rc"
    where: Where
    told: bool  # by the file; else as advised


def placed(fitted: str | None, load: Load) -> Placed:
    """As the file says; as advised where it says nothing, `none`, or what would do harm there.

    On an alternating line between its relays' commons. In a trembler zone resistor and capacitor
    are over the relay's contact, all else is in each bell, over its interrupter.
    """
    polar = fitted in ("diode", "zener")
    match load:
        case "alternating":
            told = fitted is not None and fitted != "none" and not polar
            return Placed(fitted if told and fitted else "bidirectional", "line", told)
        case "trembler":
            if fitted in ("bidirectional", "varistor"):
                return Placed(fitted, "interrupter", True)
            return Placed("rc", "contact", fitted == "rc")
        case "single" | "single-stroke":
            told = fitted is not None and fitted != "none"
            return Placed(fitted if told and fitted else "diode", "load", told)
