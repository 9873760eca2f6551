"""What a picture of the state comes to: well or not, why, what is to be settled, what comes.

The command line and the page say the same; each lays it out in its own way.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from itertools import groupby
from typing import Any, NamedTuple

from controller.building.civil import utc_ns
from controller.pictures.spoken import counted, day_text
from controller.service.settling import ACKNOWLEDGE, TRUST_CLOCK, command_of

Picture = Mapping[str, Any]
_VOUCHES = {
    "kernel": "clock right by the kernel's word",
    "rtc": "clock right by the RTC's word",
    "person": "clock right by a person's word",
    "earlier": "clock right as it was last set; nobody keeps it now",
    "as-if-right": "clock taken to be right (--as-if-right)",
    "nobody": "clock NOT TRUSTED: nobody vouches for it",
}
_WORTH_A_WORD = 1.0  # seconds


class Unsettled(NamedTuple):
    """Something that a person is to see to: the clock, a line, or a fault that has ended."""

    name: str  # "clock", the line's, the fault's
    orders: tuple[str, ...]  # that settle it
    command: str  # the same, to be typed


class ComingRings(NamedTuple):
    """Rings of one instant and length."""

    at: str  # ISO 8601
    away_ns: int
    zones: tuple[str, ...]
    seconds: float
    says: str


def headline(picture: Picture) -> str:
    """Whether all is well, and if not, why."""
    if not picture["well"]:
        return f"NOT WELL: {'; '.join(_why_not(picture))}."
    number = len(unsettled(picture))
    if number:
        return f"Running; {counted(number, 'thing')} to settle, see below."
    return "All is well."


def clock_words(clock: Mapping[str, Any]) -> str:
    """Who vouches for it, and by how much it may be wrong where that is worth a word."""
    words = str(_VOUCHES.get(clock["by"], clock["by"]))
    error = clock.get("error_seconds")
    return words if error is None or error < _WORTH_A_WORD else f"{words}, to within {error:.0f} s"


def _why_not(picture: Picture) -> list[str]:
    lasting = {fault["name"]: fault["says"] for fault in picture["faults"] if not fault["until"]}
    why = [says if name == says else f"{name}: {says}" for name, says in lasting.items()]
    if not picture["clock"]["trusted"] and "clock" not in lasting:
        why.append("the clock is not trusted")
    if not picture["supply"]["there"] and "supply" not in lasting:
        why.append("the supply is away")
    if not picture["storing"] and "store" not in lasting:
        why.append("the store cannot be written")
    return why or ["nothing holds the relays at present"]


def unsettled(picture: Picture) -> list[Unsettled]:
    """What is to be seen to; a line that only waits for the clock is not said beside it."""
    found = []
    if not picture["clock"]["trusted"]:
        found.append(Unsettled("clock", TRUST_CLOCK, command_of(TRUST_CLOCK)))
    for name, line in picture["lines"].items():
        orders = tuple(line["settle"])
        if orders and orders != TRUST_CLOCK:
            found.append(Unsettled(name, orders, line["do"]))
    for fault in picture["faults"]:
        if fault["settle"]:
            found.append(Unsettled(fault["name"], ACKNOWLEDGE, command_of(ACKNOWLEDGE)))
    return found


def coming_rings(picture: Picture) -> list[ComingRings]:
    """The rings that come next, those of one instant and length together."""
    now = utc_ns(datetime.fromisoformat(picture["at"]))
    return [
        ComingRings(
            at,
            utc_ns(datetime.fromisoformat(at)) - now,
            tuple(ring["zone"] for ring in rings),
            seconds,
            says,
        )
        for (at, says, seconds), rings in groupby(
            picture["next"], key=lambda ring: (ring["at"], ring["says"], ring["seconds"])
        )
    ]


def moment(iso: str) -> str:
    """ "Wed 2026-11-25 10:41:07" of an ISO 8601 local time with its offset."""
    local = datetime.fromisoformat(iso)
    return f"{day_text(local.date())} {local:%H:%M:%S}"


def short_moment(iso: str, now_iso: str) -> str:
    """As `moment`, without the day where that is today."""
    return moment(iso).rsplit(" ", 1)[1] if iso[:10] == now_iso[:10] else moment(iso)
