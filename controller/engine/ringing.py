"""Rings by hand: ordered, or by a button for as long as it is pressed; and `stop`.

They join or start soundings under the same limits as the timetable's, need no trusted clock, and
wait for no commit.
"""

from __future__ import annotations

from controller.building.civil import SECOND
from controller.engine.bells import JOIN_NS, amend_now, end_sounding
from controller.engine.composing import end_of, limited
from controller.engine.contract import Cancel, Order, RingByHand
from controller.engine.state import Given, Sounding, Waiting, ZoneState
from controller.engine.turn import Turn
from controller.timetable.contact import cut_at

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
        for text in said:
            turn.note(order.who, f"ring by hand: {text}")
        if all(text.endswith(_NO_SWITCH) for text in said):
            turn.refuse(order.id, "; ".join(said) + ".")
        else:
            turn.answer(order.id, "; ".join(said) + ".")


def _outlook(turn: Turn, name: str, who: str) -> str:
    if turn.switched_off(name):
        return f"{name} does not ring: its switch on the panel is at quiet, {_NO_SWITCH}"
    sounding = turn.zones[name].sounding
    if sounding is not None:
        mine = [one for one in sounding.rings if one.ring.by == who]
        if mine:
            begins = mine[-1].start
            ends = min(end_of(mine[-1]), sounding.end)
            joins = " with what sounds there" if len(sounding.rings) > 1 else ""
            cut = " (its limit ends it there)" if ends < end_of(mine[-1]) else ""
            wait = begins - turn.now.mono
            when = "now" if wait < SECOND else f"in {_seconds(wait)}"
            return f"{name} rings {when}, {_seconds(ends - begins)}{joins}{cut}"
    if any(ring.zone == name and ring.by == who for ring in turn.waiting):
        grace = _seconds(turn.building.clock.grace_ns)
        if not turn.supply_there:
            return f"{name} waits: the supply is away; not rung if it stays so for {grace}"
        if turn.hand is None:
            return f"{name} waits for the hand; not rung after {grace}"
        return f"{name} waits for current or for its zone to end; not rung after {grace}"
    return f"{name} does not ring: it has sounded as long as its limits allow"


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


def let_go(turn: Turn, who: str) -> None:
    """A button is let go: what it rings ends, and what else sounds in those zones goes on."""
    waiting = [ring for ring in turn.waiting if ring.by != who]
    if len(waiting) < len(turn.waiting):
        turn.note(who, "let go before it could ring")
        turn.waiting = waiting
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is None or not any(one.ring.by == who for one in sounding.rings):
            continue
        if sounding.before is not None:  # once the hand has spoken of the amendment under way
            later = sounding._replace(let_go=(*sounding.let_go, who))
            turn.zones[name] = zone._replace(sounding=later)
        else:
            _shorten(turn, name, zone, sounding, who)


def let_go_later(turn: Turn) -> None:
    """The hand has spoken of an amendment: buttons that were let go meanwhile end their rings."""
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is not None and sounding.let_go and sounding.before is None:
            turn.zones[name] = zone._replace(sounding=sounding._replace(let_go=()))
            for who in sounding.let_go:
                let_go(turn, who)


def _shorten(turn: Turn, name: str, zone: ZoneState, sounding: Sounding, who: str) -> None:
    cut = turn.now.mono + JOIN_NS - sounding.late
    rings = []
    for one in sounding.rings:
        if one.ring.by != who or end_of(one) <= cut:
            rings.append(one)
        elif one.start < cut:
            closings = cut_at(one.ring.closings, cut - one.start)
            rings.append(Given(one.ring._replace(closings=closings), one.start))
    if not rings:
        turn.zones[name] = zone._replace(sounding=sounding._replace(ended_by="let go"))
        turn.cancels.append(Cancel(sounding.play.id, stop=True))
        return
    closings, given, _ = limited(turn, name, rings, zone.closed)
    amend_now(turn, name, sounding, closings, given)
