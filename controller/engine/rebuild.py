"""A state for another building: at a reload, and at a start with a file that was changed.

What the file did not have before is never rung for instants that have passed; a zone or line that
is new starts from nothing, one that is gone ends what it is doing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.engine.contract import Now
from controller.engine.lines import unread
from controller.engine.records import LineRow
from controller.engine.state import LineState, State, Waiting, ZoneState
from controller.engine.turn import timetable_of, with_identities

if TYPE_CHECKING:
    from controller.building.model import Building

BARRED_NS = (
    26 * 3600 * 1_000_000_000
)  # how far back new rings are barred: any clock change, and more


def rebuilt(before: Building, after: Building, state: State, now: Now) -> State:
    """The state with which `after` goes on where `before` was."""
    old = timetable_of(before, state.follow)
    new = timetable_of(after, state.follow)
    known = {(ring.zone, ring.written) for ring in old.window(now.utc - BARRED_NS, now.utc)}
    barred = [
        (ring.zone, ring.written)
        for ring in new.window(now.utc - BARRED_NS, now.utc)
        if (ring.zone, ring.written) not in known
    ]
    frontier = state.frontier
    if frontier is not None and now.trusted:
        frontier = min(frontier, now.utc)  # what is due within `lead` enters afresh
    return state._replace(
        zones=_zones(after, state),
        lines=_lines(after, state),
        waiting=_still_due(after, state),
        given=with_identities(state.given, barred),
        frontier=frontier,
        next_due=-1,
        panel={name: closed for name, closed in state.panel.items() if name in after.panel},
    )


def _still_due(after: Building, state: State) -> tuple[Waiting, ...]:
    """Waiting rings that the new file still has, as it has them."""
    table = timetable_of(after, state.follow)
    kept = []
    for ring in state.waiting:
        if ring.by:
            if ring.zone in after.zones:
                kept.append(ring)
            continue
        for now_ring in table.window(ring.due, ring.due + 1):
            if (now_ring.zone, now_ring.written) == (ring.zone, ring.written):
                kept.append(ring._replace(closings=now_ring.closings, says=now_ring.says))
    return tuple(kept)


def _zones(after: Building, state: State) -> dict[str, ZoneState]:
    zones = {name: state.zones.get(name, ZoneState()) for name in after.zones}
    ending = {
        name: zone
        for name, zone in state.zones.items()
        if name not in zones and zone.sounding is not None
    }
    return zones | ending


def _lines(after: Building, state: State) -> dict[str, LineState]:
    lines: dict[str, LineState] = {}
    for name, line in after.lines.items():
        kept = state.lines.get(name)
        row = unread(name, line) if kept is None else fitted(kept.row, after, name)
        lines[name] = LineState(row) if kept is None else kept._replace(row=row)
    ending = {
        name: line
        for name, line in state.lines.items()
        if name not in lines and line.play is not None
    }
    return lines | ending


def fitted(row: LineRow, building: Building, name: str) -> LineRow:
    """The row as kept; unread where the line's face or step is another now."""
    line = building.lines[name]
    if row.positions == line.positions:
        return row
    return unread(name, line)._replace(held=row.held, step=row.step)
