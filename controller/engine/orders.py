"""What somebody asked for: rings by hand, stop, quiet, another plan, and the lines' orders."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from controller.building.civil import SECOND, CivilTime
from controller.dials.position import coming_right, face_text
from controller.engine import contract
from controller.engine.bells import end_sounding, take_back_unbegun
from controller.engine.contract import FollowRow, Now, Order, QuietRow
from controller.engine.state import LineState, Waiting
from controller.engine.turn import Turn

if TYPE_CHECKING:
    from controller.building.model import Line

MOST_STEPS = 1_440
Polarity = Literal["+", "-"]


def obey(turn: Turn, order: Order) -> None:
    """Do what an order asks and answer it, in words."""
    match order.what:
        case contract.RingByHand(zones, length):
            _ring(turn, order, zones, length)
        case contract.StopAll():
            _stop(turn, order)
        case contract.QuietZones(zones, until):
            _quiet(turn, order, zones, until)
        case contract.Follow(day, plan):
            _follow(turn, order, day.isoformat(), plan)
        case contract.Finish():
            turn.store_owed = True
            turn.answer(order.id, "What was owed to the store is stored.")
        case line_order:
            _line_order(turn, order, line_order)


def _ring(turn: Turn, order: Order, zones: tuple[str, ...], length: int) -> None:
    unknown = [name for name in zones if name not in turn.building.zones]
    if unknown:
        turn.refuse(order.id, f"There is no zone {', '.join(unknown)}.")
        return
    for name in zones:
        most = min(length, turn.building.zones[name].longest_ns)
        turn.waiting.append(Waiting(name, "", turn.now.utc, ((0, most),), "", order.who or "hand"))
    turn.note(order.who, f"ring by hand: {', '.join(zones)}, {length / SECOND:g} s")
    turn.answer(order.id, f"Ringing {', '.join(zones)}.")


def _stop(turn: Turn, order: Order) -> None:
    stopped = [name for name in turn.zones if end_sounding(turn, name, "quiet")]
    turn.waiting = [ring for ring in turn.waiting if not ring.by]
    turn.note(order.who, f"stop: {', '.join(stopped) or 'nothing was sounding'}")
    text = f"Stopped {', '.join(stopped)}." if stopped else "Nothing was sounding."
    turn.answer_at_once(order.id, text)


def _quiet(turn: Turn, order: Order, zones: tuple[str, ...], until: int) -> None:
    unknown = [name for name in zones if name not in turn.building.zones]
    if unknown:
        turn.refuse(order.id, f"There is no zone {', '.join(unknown)}.")
        return
    for name in zones:
        turn.zones[name] = turn.zones[name]._replace(quiet_until=until)
        turn.store(QuietRow(name, until, order.who))
        if until > turn.now.utc:
            end_sounding(turn, name, "quiet")
    which = ", ".join(zones)
    when = turn.building.civil.aware(until).strftime("%a %d %b %H:%M") if until else ""
    text = f"{which}: quiet until {when}." if until else f"{which}: rings again."
    turn.note(order.who, text)
    turn.answer(order.id, text)


def _follow(turn: Turn, order: Order, day: str, plan: str) -> None:
    if plan not in ("none", "usual", *turn.building.plans):
        turn.refuse(order.id, f"There is no plan {plan}.")
        return
    kept = [(its, name) for its, name in turn.follow if its != day]
    turn.follow = tuple(kept) if plan == "usual" else (*kept, (day, plan))
    turn.store(FollowRow(day, plan, order.who))
    text = f"{day}: the one-off order is taken back" if plan == "usual" else f"{day} follows {plan}"
    turn.note(order.who, text)
    turn.replan()
    take_back_unbegun(turn)
    turn.answer(order.id, text + ".")


# ── lines ────────────────────────────────────────────────────────────────────────────────────────


def _line_order(turn: Turn, order: Order, what: contract.Wish) -> None:
    name = getattr(what, "line", "")
    state = turn.lines.get(name)
    if state is None or name not in turn.building.lines:
        turn.refuse(order.id, f"There is no line {name}.")
        return
    match what:
        case contract.HoldLine():
            _hold(turn, order, name, state)
        case contract.GoLine():
            _go(turn, order, name, state)
        case contract.SetLine(_, shown, polarity):
            _set(turn, order, name, state, shown, polarity)
        case contract.StepLine(_, impulses):
            _step(turn, order, name, state, impulses)
        case _:
            raise AssertionError(f"an order that nobody knows: {what}")


def _hold(turn: Turn, order: Order, name: str, state: LineState) -> None:
    if state.play is not None:  # answered when the impulse in progress has ended
        turn.lines[name] = state._replace(hold_orders=(*state.hold_orders, order.id))
        turn.note(order.who, f"{name}: hold")
        return
    row = state.row._replace(held=True)
    turn.lines[name] = state._replace(row=row, steps=0, owed=False)
    turn.store(row)
    turn.note(order.who, f"{name}: hold")
    turn.answer(order.id, f"{name} is held.")


def _go(turn: Turn, order: Order, name: str, state: LineState) -> None:
    if not state.row.read:
        turn.refuse(order.id, f"{name} is unread: say with `set` what its dials show.")
        return
    _let_go(turn, order, name, state)


def _let_go(turn: Turn, order: Order, name: str, state: LineState) -> None:
    row = state.row._replace(held=False)
    for waiting in state.hold_orders:
        turn.answer(waiting, f"{name} was let go before it was held.")
    turn.lines[name] = state._replace(row=row, owed=False, hold_orders=())
    turn.store(row)
    turn.note(order.who, f"{name}: go, from {face_text(turn.building.lines[name], row.shown)}")
    turn.answer(order.id, f"{name} goes. {coming_text(turn, name)}")


def _set(
    turn: Turn, order: Order, name: str, state: LineState, shown: int, polarity: Polarity | None
) -> None:
    if state.play is not None:
        turn.refuse(order.id, f"{name}: an impulse is out; hold the line first.")
        return
    if state.row.read and not state.row.held:
        turn.refuse(order.id, f"{name} is running; hold it first, then read the dials and set.")
        return
    if not 0 <= shown < state.row.positions:
        turn.refuse(order.id, f"{name}: a position is 0 up to {state.row.positions}.")
        return
    row = state.row._replace(
        read=True,
        shown=shown,
        polarity="-" if polarity is None else polarity,
        doubtful=polarity is None and turn.building.lines[name].drive == "alternating",
        step=None,
    )
    _let_go(turn, order, name, state._replace(row=row, steps=0))


def _step(turn: Turn, order: Order, name: str, state: LineState, impulses: int) -> None:
    if state.row.held:
        turn.refuse(order.id, f"{name} is held: a held line gives nothing.")
        return
    steps = state.steps + impulses
    if not 1 <= impulses <= MOST_STEPS or steps > MOST_STEPS:
        turn.refuse(order.id, f"{name}: 1 to {MOST_STEPS} impulses at a time.")
        return
    turn.lines[name] = state._replace(steps=steps)
    turn.note(order.who, f"{name}: step {impulses}")
    turn.answer(order.id, f"{name}: {impulses} impulses more, which correct the dials.")


def coming_text(turn: Turn, name: str) -> str:
    """When a line will be right, for a person."""
    row = turn.lines[name].row
    return coming_text_of(turn.building.lines[name], turn.building.civil, row.shown, turn.now)


def coming_text_of(line: Line, civil: CivilTime, shown: int, now: Now) -> str:
    """When dials that show `shown` now will be right, for a person."""
    if not now.trusted:
        return "It stands until the clock is trusted."
    coming = coming_right(line, civil, shown, now.utc)
    if coming is None:
        return "It is driven; how long is not foretold."
    if coming.right_utc == now.utc:
        return f"It shows {face_text(line, shown)}, which is right."
    at = civil.aware(coming.right_utc).strftime("%H:%M:%S")
    if coming.impulses == 0:
        return f"It stands until time reaches it, at {at}."
    return f"It is right at {at}, after {coming.impulses} impulses."
