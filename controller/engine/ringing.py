"""Rings by hand, ordered or by a button; and `stop`.

They join or start soundings under the same limits as the timetable's, need no trusted clock, and
wait for no commit.
"""

from __future__ import annotations

from controller.building.civil import SECOND
from controller.engine.composing import end_of
from controller.engine.contract import Order
from controller.engine.soundings import end_sounding
from controller.engine.state import Waiting
from controller.engine.turn import NOBODY, Turn
from controller.engine.wishes import RingByHand

_NO_SWITCH = "somebody may be at the bell"


def ring_by_hand(turn: Turn, order: Order) -> None:
    """Let these zones ring now; the answer follows when it is known what came of them."""
    asked = order.what
    assert isinstance(asked, RingByHand)
    unknown = [name for name in asked.zones if name not in turn.building.zones]
    if unknown or not asked.zones or asked.length <= 0:
        turn.refuse(order.id, unknown_zones(turn, unknown) if unknown else "Nothing to ring.")
        return
    for name in dict.fromkeys(asked.zones):
        if not turn.switched_off(name):
            most = min(asked.length, turn.building.zones[name].longest_ns)
            turn.waiting.append(Waiting(name, "", turn.now.utc, ((0, most),), "", order.who))
    turn.rung.append(order)


def unknown_zones(turn: Turn, unknown: list[str]) -> str:
    """Which zones there are instead."""
    return f"There is no zone {', '.join(unknown)}; expected {', '.join(turn.building.zones)}."


def answer_rings(turn: Turn) -> None:
    """Say what comes of the rings that were asked for in this step."""
    for order in turn.rung:
        assert isinstance(order.what, RingByHand)
        said = [_outlook(turn, name, order.who) for name in dict.fromkeys(order.what.zones)]
        for _, text in said:
            turn.note(order.who, f"ring by hand: {text}")
        words = "; ".join(text for _, text in said) + "."
        if any(rings for rings, _ in said):
            turn.answer(order.id, words)
        elif order.id != NOBODY:
            turn.refuse(order.id, words)


def _outlook(turn: Turn, name: str, who: str) -> tuple[bool, str]:
    """Whether a zone that was asked to ring just now rings, or may yet; and in words."""
    if turn.switched_off(name):
        return False, f"{name} does not ring: its switch on the panel is at quiet, {_NO_SWITCH}"
    sounding = turn.zones[name].sounding
    mine = (
        []
        if sounding is None
        else [one for one in sounding.rings if _just_now(turn, one.ring, who)]
    )
    if sounding is not None and mine:
        begins = mine[-1].start
        ends = min(end_of(mine[-1]), sounding.end)
        joins = " with what sounds there" if len(sounding.rings) > 1 else ""
        cut = " (its limit ends it there)" if ends < end_of(mine[-1]) else ""
        wait = begins - turn.now.mono
        when = "now" if wait < SECOND else f"in {_seconds(wait)}"
        return True, f"{name} rings {when}, {_seconds(ends - begins)}{joins}{cut}"
    if any(ring.zone == name and _just_now(turn, ring, who) for ring in turn.waiting):
        grace = _seconds(turn.building.clock.grace_ns)
        if not turn.supply_there:
            return True, f"{name} waits: the supply is away; not rung if it stays so for {grace}"
        if turn.hand is None:
            return True, f"{name} waits for the hand; not rung after {grace}"
        return True, f"{name} waits for current or for its zone to end; not rung after {grace}"
    return False, f"{name} does not ring: it has sounded as long as its limits allow"


def _just_now(turn: Turn, ring: Waiting, who: str) -> bool:
    return ring.by == who and ring.due == turn.now.utc


def _seconds(length: int) -> str:
    return f"{length / SECOND:.3g} s"


def stop_all(turn: Turn, order: Order) -> None:
    """End every sounding, and all rings by hand that wait. What is due later rings."""
    stopped = [name for name in turn.zones if end_sounding(turn, name, "quiet")]
    waited = [ring.zone for ring in turn.waiting if ring.by]
    turn.waiting = [ring for ring in turn.waiting if not ring.by]
    which = ", ".join(dict.fromkeys([*stopped, *waited]))
    turn.note(order.who, f"stop: {which or 'nothing was sounding'}")
    text = f"Stopped {which}." if which else "Nothing was sounding."
    turn.answer_at_once(order.id, text + _next_ring(turn))


def _next_ring(turn: Turn) -> str:
    if turn.frontier is None or not turn.now.trusted:
        return ""
    due = turn.timetable.next_due(turn.now.utc)
    if due is None:
        return ""
    return f" The timetable goes on: next at {turn.building.civil.aware(due):%a %d %b %H:%M:%S}."
