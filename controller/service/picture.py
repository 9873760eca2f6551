"""The picture of the state: everything that a person may want to see, plain enough for JSON.

`status`, the page, the display and the last-state file are all made from it. Instants are ISO 8601
local times with their offset, save `at_utc` (ns since 1970).
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.metadata import version
from itertools import islice
from typing import TYPE_CHECKING, Any

from controller.building.civil import SECOND, CivilTime
from controller.dials.position import face_text
from controller.engine.contract import Now
from controller.engine.records import FaultRow
from controller.engine.state import State
from controller.engine.turn import Turn
from controller.service.settling import ACKNOWLEDGE, command_of
from controller.service.telling import line_told, zone_told

if TYPE_CHECKING:
    from controller.building.model import Building

MOST_NEXT = 10  # rings to come
MOST_LOOKED_AT = 1_000  # rings among which those are sought that no order silences
MOST_FAULTS = 100
MOST_SAID = 500  # characters of one fault


def state_picture(
    building: Building, state: State, now: Now, clock: Mapping[str, Any]
) -> dict[str, Any]:
    """The state at `now`, and what is known of the clock; from any thread.

    While another file is taken up, building and state may differ in what they have: what only one
    of them has is left out.
    """
    look = Turn(building, state, now)  # to look only: nothing is decided
    iso = _Iso(building.civil)
    return {
        "version": program_version(),
        "building": building.name,
        "timezone": building.civil.key,
        "fingerprint": building.fingerprint,
        "at": iso.of(now.utc),
        "at_utc": now.utc,
        "well": look.well(),
        "clock": dict(clock),
        "zones": {name: _zone(look, name, iso) for name in building.zones if name in state.zones},
        "lines": {name: _line(look, name, iso) for name in building.lines if name in state.lines},
        "supply": {"sensed": building.supply.sense is not None, "there": look.supply_there},
        "panel": {name: {"closed": state.panel.get(name, False)} for name in building.panel},
        "faults": [_fault(row, iso) for row in _worst(state)],
        "quiet": {
            name: iso.of(zone.quiet_until)
            for name, zone in state.zones.items()
            if name in building.zones and zone.quiet_until > now.utc
        },
        "follow": _followed(building, state, now),
        "storing": state.storing,
        "next": _next(look, iso),
    }


@cache
def program_version() -> str:
    """The version of this program, as it is installed."""
    return version("understudy")


class _Iso:
    """Instants as local times, to the second."""

    def __init__(self, civil: CivilTime) -> None:
        self._civil = civil

    def of(self, utc: int) -> str:
        return self._civil.aware(utc).isoformat(timespec="seconds")

    def maybe(self, utc: int | None) -> str | None:
        return None if utc is None else self.of(utc)


def _zone(look: Turn, name: str, iso: _Iso) -> dict[str, Any]:
    told = zone_told(look, name)
    return {
        "title": look.building.zones[name].title,
        "state": told.state,
        "says": told.says,
        "until": iso.maybe(told.until),
    }


def _line(look: Turn, name: str, iso: _Iso) -> dict[str, Any]:
    line, row = look.building.lines[name], look.lines[name].row
    told = line_told(look, name)
    known = line.drive == "alternating" and row.polarity_known
    return {
        "title": line.title,
        "drive": line.drive,
        "state": told.state,
        "shows": face_text(line, row.shown) if row.read else None,
        "doubtful": row.doubtful,
        "right_at": iso.maybe(told.right_utc),
        "impulses": told.impulses,
        "polarity": row.polarity if known else "",
        "last_impulse": iso.of(row.last_utc) if row.last_utc else None,
        "says": told.says,
        "do": command_of(told.settle, name),
        "settle": list(told.settle),
    }


def _fault(row: FaultRow, iso: _Iso) -> dict[str, Any]:
    says = row.says if len(row.says) <= MOST_SAID else row.says[: MOST_SAID - 1] + "…"
    until = iso.of(row.until) if row.until else None
    settle = [] if until is None else list(ACKNOWLEDGE)
    since = iso.of(row.since)
    return {"name": row.name, "says": says, "since": since, "until": until, "settle": settle}


def _worst(state: State) -> list[FaultRow]:
    """Those that last before those that ended, the newest first, and no more than one reads."""
    rows = sorted(state.faults.values(), key=lambda row: (row.until != 0, -row.since, row.name))
    return rows[:MOST_FAULTS]


def _followed(building: Building, state: State, now: Now) -> dict[str, str]:
    """Dates from today on that follow another plan by an order."""
    today = building.civil.date_at(now.utc).isoformat()
    return {day: plan for day, plan in sorted(state.follow) if day >= today}


def _next(look: Turn, iso: _Iso) -> list[dict[str, Any]]:
    """The rings of the timetable that come next, without those that an order keeps quiet."""
    now = look.now.utc
    rings = (
        ring
        for ring in islice(look.timetable.upcoming(now), MOST_LOOKED_AT)
        if ring.zone in look.zones
        and look.zones[ring.zone].quiet_until <= ring.due
        and not look.is_given(ring.zone, ring.written)
    )
    return [
        {
            "at": iso.of(ring.due),
            "zone": ring.zone,
            "says": ring.says,
            "seconds": ring.span / SECOND,
        }
        for ring in islice(rings, MOST_NEXT)
    ]
