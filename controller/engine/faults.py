"""What is not as it should be: each fault under a name, from when to when, until acknowledged.

    well ──begins──▶ lasts ──ends──▶ ended ──acknowledged──▶ well
                       ▲────begins─────┘

A fault that lasts cannot be acknowledged away; one that ended stays listed until somebody has
seen it. Beginning and end are in the logbook. One that comes and goes would fill it, and wear the
card: after so many times it is listed as lasting until it has kept away for a while.
"""

from __future__ import annotations

from controller.building.durations import MINUTE
from controller.engine.contract import Order
from controller.engine.records import FaultRow
from controller.engine.turn import Turn

CLOCK, STORE, SUPPLY, HAND = "clock", "store", "supply", "hand"
CLOCK_PATIENCE_NS = 5 * MINUTE  # after a start a network clock needs a while
MOST_TIMES = 5  # that a fault begins in EASING_NS; then it ends only when it kept away for as long
EASING_NS = 10 * MINUTE
_SAYS = {
    CLOCK: "the clock is not trusted: the timetable's rings and the dials stand",
    STORE: "the store cannot be written: after a power cut now the dials would have to be read",
    SUPPLY: "the supply is away: the dials stand, rings wait for as long as grace lasts",
}


def begin_fault(turn: Turn, name: str, says: str) -> None:
    """From now on this is not as it should be."""
    known = turn.faults.get(name)
    again = name in turn.fault_eases
    if again or known is None or known.until:
        lately = (*turn.fault_begins.get(name, ()), turn.now.mono)[-MOST_TIMES:]
        turn.fault_begins = {**turn.fault_begins, name: lately}
    if again:
        _forget_easing(turn, name)
    if known is None or known.until:
        known = FaultRow(name, says, turn.now.utc, 0, False)
    elif known.says == says:
        return
    _keep(turn, known._replace(says=says))
    turn.note("", f"fault: {name}: {says}")


def end_fault(turn: Turn, name: str) -> None:
    """It is as it should be again."""
    known = turn.faults.get(name)
    if known is None or known.until or name in turn.fault_eases:
        return
    if comes_and_goes(turn, name):
        turn.fault_eases = {**turn.fault_eases, name: turn.now.mono}
    else:
        _end(turn, known)


def _end(turn: Turn, known: FaultRow) -> None:
    _keep(turn, known._replace(until=max(1, turn.now.utc)))
    turn.note("", f"fault ended: {known.name}: {known.says}")


def comes_and_goes(turn: Turn, name: str) -> bool:
    """Whether this fault began so often lately that its every end says little."""
    lately = turn.fault_begins.get(name, ())
    return len(lately) == MOST_TIMES and turn.now.mono < lately[0] + EASING_NS


def fault_lasts(turn: Turn, name: str) -> bool:
    """Whether this fault is there now."""
    known = turn.faults.get(name)
    return known is not None and known.until == 0 and name not in turn.fault_eases


def _keep(turn: Turn, row: FaultRow) -> None:
    turn.faults = {**turn.faults, row.name: row}
    turn.store(row)


def look_for_faults(turn: Turn) -> None:
    """What the engine itself can see: the clock, the store, the supply."""
    if turn.untrusted_since is None and not turn.faults and turn.storing and not turn.supply_lost:
        return
    _whether(turn, STORE, not turn.storing)
    if turn.hand is not None:  # who else could tell
        _whether(turn, SUPPLY, not turn.supply_there)
    since = turn.untrusted_since
    if since is None:
        end_fault(turn, CLOCK)
    elif turn.now.mono >= since + CLOCK_PATIENCE_NS:
        begin_fault(turn, CLOCK, _SAYS[CLOCK])
    else:
        turn.look_again_mono(since + CLOCK_PATIENCE_NS)
    _end_what_kept_away(turn)


def _end_what_kept_away(turn: Turn) -> None:
    for name, since in turn.fault_eases.items():
        if turn.now.mono < since + EASING_NS:
            turn.look_again_mono(since + EASING_NS)
            continue
        _forget_easing(turn, name)
        _end(turn, turn.faults[name])


def _forget_easing(turn: Turn, name: str) -> None:
    turn.fault_eases = {its: at for its, at in turn.fault_eases.items() if its != name}


def _whether(turn: Turn, name: str, lasts: bool) -> None:
    if lasts:
        begin_fault(turn, name, _SAYS[name])
    else:
        end_fault(turn, name)


def acknowledge(turn: Turn, order: Order, name: str) -> None:
    """Take what has ended off the list."""
    if name and name not in turn.faults:
        turn.refuse(order.id, f"There is no fault {name!r}.")
        return
    if name and turn.faults[name].until == 0:
        turn.refuse(order.id, f"{name} lasts: {turn.faults[name].says}. It stays on the list.")
        return
    ended = [row for row in turn.faults.values() if row.until and name in ("", row.name)]
    for row in ended:
        turn.store(row._replace(acknowledged=True))
    gone = {row.name for row in ended}
    turn.faults = {its: row for its, row in turn.faults.items() if its not in gone}
    lasting = [its for its, row in turn.faults.items() if row.until == 0]
    said = f"Acknowledged: {', '.join(sorted(gone))}." if gone else "No fault has ended."
    if lasting and not name:
        said += f" Still there: {', '.join(lasting)}."
    if gone:
        turn.note(order.who, f"acknowledged: {', '.join(sorted(gone))}")
    turn.answer(order.id, said)
