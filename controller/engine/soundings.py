"""What is done with a sounding that was decided: found, taken back, ended, its rings let wait."""

from __future__ import annotations

from collections.abc import Iterable

from controller.engine.contract import Cancel
from controller.engine.state import Sounding, Waiting
from controller.engine.turn import Turn


def sounding_of(turn: Turn, play: int) -> tuple[str, Sounding] | None:
    """The zone and sounding to which a play belongs."""
    for name, zone in turn.zones.items():
        if zone.sounding is not None and zone.sounding.play.id == play:
            return name, zone.sounding
    return None


def unbegun(turn: Turn, sounding: Sounding) -> bool:
    """Whether it cannot have begun: its instant lies ahead, or its play waits for the store."""
    return bool(sounding.batch) or sounding.play.start_mono > turn.now.mono


def take_up(turn: Turn, rings: Iterable[Waiting]) -> None:
    """These rings belong to a sounding now: they wait no longer and enter no second time."""
    taken = list(rings)
    turn.waiting = [ring for ring in turn.waiting if ring not in taken]
    turn.remember_given((ring.zone, ring.written) for ring in taken if not ring.by)
    for ring in taken:
        turn.withdraw_miss(ring)


def let_wait(turn: Turn, ring: Waiting) -> None:
    """A ring that did not begin waits again; one of a button only while that is pressed."""
    if turn.was_let_go(ring.by):
        turn.note(ring.by, "let go before it could ring")
        return
    turn.forget_given([(ring.zone, ring.written)] if not ring.by else [])
    turn.waiting.append(ring)


def take_back(turn: Turn, name: str, sounding: Sounding) -> None:
    """Cancel a play that has not begun; what it was for is judged afresh."""
    turn.zones[name] = turn.zones[name]._replace(sounding=sounding._replace(cancelling=True))
    turn.cancels.append(Cancel(sounding.play.id, stop=False))


def end_sounding(turn: Turn, name: str, why: str) -> bool:
    """Open a zone's contact before its time; whether there was a sounding to end."""
    zone = turn.zones[name]
    if zone.sounding is None:
        return False
    turn.zones[name] = zone._replace(sounding=zone.sounding._replace(ended_by=why))
    turn.cancels.append(Cancel(zone.sounding.play.id, stop=True))
    return True
