"""What a person says to a line of dials: hold, go, set, step, and what they saw of it (rule 14)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from controller.building.civil import SECOND, CivilTime
from controller.dials.position import coming_right, face_text, next_change
from controller.engine import wishes
from controller.engine.contract import Now, Order
from controller.engine.state import LineState
from controller.engine.turn import Turn

if TYPE_CHECKING:
    from controller.building.installed import Line

MOST_STEPS = 1_440
OTHER: dict[str, Literal["+", "-"]] = {"+": "-", "-": "+"}


def obey_for_line(turn: Turn, order: Order) -> None:
    """Do what is asked of a line and answer it, in words."""
    what = order.what
    name = getattr(what, "line", "")
    state = turn.lines.get(name)
    if state is None or name not in turn.building.lines:
        known = ", ".join(turn.building.lines) or "none: the building has no dials"
        turn.refuse(order.id, f"There is no line {name}; expected {known}.")
        return
    match what:
        case wishes.HoldLine():
            _hold(turn, order, name, state)
        case wishes.GoLine():
            _go(turn, order, name, state)
        case wishes.SetLine():
            _set(turn, order, what, state)
        case wishes.StepLine():
            step_line(turn, order)
        case wishes.DriveLine(_, shown):
            _drive(turn, order, name, state, shown)
        case wishes.LineRight():
            _right(turn, order, name, state)
        case wishes.LineStood():
            _stood(turn, order, name, state)
        case wishes.LineSwapped():
            _swapped(turn, order, name, state)
        case wishes.LineMoved():
            _moved(turn, order, name, state)
        case _:
            raise AssertionError(f"an order that nobody knows: {what}")


def _hold(turn: Turn, order: Order, name: str, state: LineState) -> None:
    if state.play is not None:  # answered when the impulse in progress has ended
        turn.lines[name] = state._replace(hold_orders=(*state.hold_orders, order.id))
        turn.note(order.who, f"{name}: hold")
        return
    hold_line(turn, name, state)
    turn.note(order.who, f"{name}: hold")
    turn.answer(order.id, held_text(turn, name))


def hold_line(turn: Turn, name: str, state: LineState) -> None:
    """From now on it gives nothing."""
    row = state.row._replace(held=True, target=-1)
    turn.lines[name] = state._replace(row=row, steps=0, owed=False, hold_orders=())
    turn.store(row)


def held_text(turn: Turn, name: str) -> str:
    """What a held line stands at, and what comes next."""
    row = turn.lines[name].row
    if not row.read:
        return f"{name} is held. It is unread: say with `set` what its dials show."
    shows = face_text(turn.building.lines[name], row.shown)
    return f"{name} is held, at {shows}. It stands until `go`, or `set` where the dials differ."


def _go(turn: Turn, order: Order, name: str, state: LineState) -> None:
    if not state.row.read:
        turn.refuse(order.id, f"{name} is unread: say with `set` what its dials show.")
        return
    _let_go(turn, order, name, state, "go, from")


def _let_go(turn: Turn, order: Order, name: str, state: LineState, words: str) -> None:
    row = state.row._replace(held=False, target=-1)
    for waiting in state.hold_orders:
        turn.answer(waiting, f"{name} was let go before it was held.")
    turn.lines[name] = state._replace(row=row, owed=False, hold_orders=(), not_before=0)
    turn.store(row)
    turn.note(order.who, f"{name}: {words} {face_text(turn.building.lines[name], row.shown)}")
    turn.answer(order.id, f"{name} goes. {coming_text(turn, name)}{_watch_text(turn, name)}")


def _watch_text(turn: Turn, name: str) -> str:
    """What to watch for where nobody knows which polarity came last."""
    row = turn.lines[name].row
    if not row.doubtful or turn.building.lines[name].drive != "alternating":
        return ""
    return (
        f" Which polarity came last was not said: watch the next impulse, {OTHER[row.polarity]}. "
        "If the dials move, say `right`; if they stand, say `stood`."
    )


def _set(turn: Turn, order: Order, what: wishes.SetLine, state: LineState) -> None:
    name, shown, polarity = what
    if state.play is not None:
        turn.refuse(order.id, f"{name}: an impulse is out; hold the line first.")
        return
    if state.row.read and not state.row.held:
        turn.refuse(order.id, f"{name} is running; hold it first, then read the dials and set.")
        return
    if not 0 <= shown < state.row.positions:
        turn.refuse(order.id, f"{name}: a position is 0 up to {state.row.positions - 1}.")
        return
    # Dials may have taken an impulse that was cut, or not: then nobody knows, unless it is said.
    known = polarity is not None or (state.row.polarity_known and state.row.step is None)
    row = state.row._replace(
        read=True,
        shown=shown,
        polarity=polarity or (state.row.polarity if known else "-"),
        polarity_known=known,
        doubtful=not known and turn.building.lines[name].drive == "alternating",
        step=None,
    )
    which = f"set, last {polarity}, to" if polarity else "set to"
    _let_go(turn, order, name, state._replace(row=row, steps=0), which)


def step_line(turn: Turn, order: Order) -> None:
    """Extra impulses, which correct dials: what is believed to be shown stays."""
    what = order.what
    assert isinstance(what, wishes.StepLine)
    name, impulses = what
    state = turn.lines[name]
    if state.row.held:
        turn.refuse(order.id, f"{name} is held: a held line gives nothing.")
        return
    steps = state.steps + impulses
    if not 1 <= impulses <= MOST_STEPS or steps > MOST_STEPS:
        turn.refuse(order.id, f"{name}: 1 to {MOST_STEPS} impulses at a time.")
        return
    turn.lines[name] = state._replace(steps=steps)
    turn.note(order.who, f"{name}: step {impulses}")
    line = turn.building.lines[name]
    what_comes = "1 impulse" if impulses == 1 else f"{impulses} impulses"
    if line.drive == "alternating" and impulses == 1:
        what_comes += f", {OTHER[state.row.polarity]}"
    text = f"{name}: {what_comes} more, to correct dials; what is believed shown stays as it is."
    turn.answer(order.id, text)


def _drive(turn: Turn, order: Order, name: str, state: LineState, shown: int) -> None:
    line = turn.building.lines[name]
    if not state.row.read:
        turn.refuse(order.id, f"{name} is unread: say with `set` what its dials show.")
        return
    if not 0 <= shown < state.row.positions:
        turn.refuse(order.id, f"{name}: a position is 0 up to {state.row.positions - 1}.")
        return
    row = state.row._replace(held=False, target=shown)
    for waiting in state.hold_orders:
        turn.answer(waiting, f"{name} was driven on before it was held.")
    turn.lines[name] = state._replace(row=row, steps=0, owed=False, hold_orders=(), not_before=0)
    turn.store(row)
    impulses = (shown - row.shown) % row.positions
    where = face_text(line, shown)
    turn.note(order.who, f"{name}: to {where}")
    at = turn.now.utc + impulses * (line.impulse_ns + line.gap_ns)
    local = f"{turn.building.civil.aware(at):%H:%M:%S}"
    turn.answer(
        order.id,
        f"{name} is driven to {where}, {impulses} impulses, and held there, at about {local}. "
        "Then read every dial, set those that differ by hand, and say `set` or `go`.",
    )


def _right(turn: Turn, order: Order, name: str, state: LineState) -> None:
    if not state.row.read:
        turn.refuse(order.id, f"{name} is unread: say with `set` what its dials show.")
        return
    row = state.row._replace(doubtful=False, polarity_known=True)
    turn.lines[name] = state._replace(row=row, owed=False)
    turn.store(row)
    turn.note(order.who, f"{name}: the dials are as believed")
    turn.answer(order.id, f"{name} is doubtful no longer. {coming_text(turn, name)}")


def _stood(turn: Turn, order: Order, name: str, state: LineState) -> None:
    if not state.row.read:
        turn.refuse(order.id, f"{name} is unread: say with `set` what its dials show.")
        return
    if turn.building.lines[name].drive == "alternating" and not state.row.polarity_known:
        turn.refuse(order.id, f"{name}: no impulse was given since `set` that they could stand at.")
        return
    shown = (state.row.shown - 1) % state.row.positions
    row = state.row._replace(shown=shown, doubtful=False, polarity_known=True)
    turn.lines[name] = state._replace(row=row, owed=False)
    turn.store(row)
    shows = face_text(turn.building.lines[name], shown)
    turn.note(order.who, f"{name}: the dials stood at an impulse; they show one less, {shows}")
    turn.answer(order.id, f"{name} is taken to show one less, {shows}. {coming_text(turn, name)}")


def _swapped(turn: Turn, order: Order, name: str, state: LineState) -> None:
    if turn.building.lines[name].drive != "alternating":
        turn.refuse(order.id, f"{name} is a single line: its polarity is set at the dials.")
        return
    if not state.row.held or state.play is not None:
        turn.refuse(order.id, f"{name} gives impulses: hold it, exchange the wires, then say so.")
        return
    step = state.row.step
    if step is not None:
        step = step._replace(polarity=OTHER[step.polarity])
    row = state.row._replace(polarity=OTHER[state.row.polarity], step=step)
    turn.lines[name] = state._replace(row=row, owed=False)
    turn.store(row)
    turn.note(order.who, f"{name}: its wires were exchanged")
    turn.answer(
        order.id, f"{name}: the next impulse is {OTHER[row.polarity]}. It is held until `go`."
    )


def _moved(turn: Turn, order: Order, name: str, state: LineState) -> None:
    if state.play is not None:
        turn.refuse(order.id, f"{name}: an impulse is out; say it again when it has ended.")
        return
    row = state.row._replace(read=False, doubtful=False, polarity_known=False, step=None, target=-1)
    turn.lines[name] = state._replace(row=row, steps=0, owed=False)
    turn.store(row)
    turn.note(order.who, f"{name}: moved behind our back, and unread")
    turn.answer(order.id, f"{name} is unread, and stands until `set` says what its dials show.")


def coming_text(turn: Turn, name: str) -> str:
    """When a line will be right, for a person."""
    row = turn.lines[name].row
    if row.held:
        return f"It is held, at {face_text(turn.building.lines[name], row.shown)}."
    return coming_text_of(turn.building.lines[name], turn.building.civil, row.shown, turn.now)


def coming_text_of(line: Line, civil: CivilTime, shown: int, now: Now) -> str:
    """When dials that show `shown` now will be right, for a person."""
    if not now.trusted:
        return "It stands until the clock is trusted."
    coming = coming_right(line, civil, shown, now.utc)
    if coming is None:
        return "It is driven; how long is not foretold."
    if coming.right_utc == now.utc:
        after = civil.aware(next_change(line, civil, now.utc) // SECOND * SECOND)
        return f"It shows {face_text(line, shown)}, which is right; next impulse {after:%H:%M:%S}."
    at = civil.aware(coming.right_utc).strftime("%H:%M:%S")
    if coming.impulses == 0:
        return f"It stands until time reaches it, at {at}."
    return f"It is right at {at}, after {coming.impulses} impulses."
