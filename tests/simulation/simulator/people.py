"""A restorer who looks after the dials: holds a line, reads it, sets it, and lets it go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import words
from simulator.words import MINUTE, SECOND

from controller.engine.wishes import GoLine, HoldLine, LineSwapped, SetLine

if TYPE_CHECKING:
    from simulator.world import World

_TRIES = 30


def read_and_set(world: World, line: str, tries: int = _TRIES) -> None:
    """Hold it; once it stands, bring the dials together and say what they show."""
    if world.daemon is None or line not in world.daemon.state.lines:
        if tries:
            world.plan(world.t + MINUTE, lambda: read_and_set(world, line, tries - 1))
        return
    world.end(world.begin(words.PEOPLE, line))
    if world.daemon.state.lines[line].row.read:
        world.order(HoldLine(line))
    world.plan(world.t + 10 * SECOND, lambda: _set_at_rest(world, line, tries))


def _set_at_rest(world: World, line: str, tries: int) -> None:
    state = None if world.daemon is None else world.daemon.state.lines.get(line)
    watch = world.judge.lines[line]
    rests = state is not None and state.play is None and (state.row.held or not state.row.read)
    if not rests or watch.closed is not None:
        if tries:
            world.plan(world.t + MINUTE, lambda: read_and_set(world, line, tries - 1))
        return
    dials = world.parts.dials[f"lines.{line}"]
    shows, took = dials.look(world.t)
    dials.put_together(shows[0], took[0])
    polarity = "+-"[(took[0] - 1) ^ dials.exchanged]  # by the relay that gave it, or would have
    world.order(SetLine(line, shows[0], polarity if dials.alternating else None))


def exchange_wires(world: World, line: str) -> None:
    """Hold an alternating line; once it stands exchange its two wires, and say so until heard."""
    world.order(HoldLine(line))
    world.plan(world.t + 10 * SECOND, lambda: _exchange_at_rest(world, line))


def _exchange_at_rest(world: World, line: str) -> None:
    state = None if world.daemon is None else world.daemon.state.lines.get(line)
    watch, dials = world.judge.lines[line], world.parts.dials[f"lines.{line}"]
    stands = state is not None and state.play is None and state.row.held and state.row.read
    if not stands or watch.closed is not None or dials.energised:
        return
    dials.exchanged = not dials.exchanged
    watch.wires_exchanged()
    _say_swapped(world, line, state.row.polarity, _TRIES)


def _say_swapped(world: World, line: str, before: str, tries: int) -> None:
    """Of an order that nobody answered nobody knows whether it was obeyed: they look."""
    state = None if world.daemon is None else world.daemon.state.lines.get(line)
    if state is not None and not (state.row.held and state.row.read):
        return
    if state is None or state.row.polarity == before:
        if state is not None:
            world.order(LineSwapped(line))
        if tries:
            after = world.t + 10 * SECOND
            world.plan(after, lambda: _say_swapped(world, line, before, tries - 1))


def put_in_order(world: World) -> None:
    """After the faults: what is held goes, what is unread or was never stored is read and set."""
    if world.daemon is None:
        return
    for name, line in world.daemon.state.lines.items():
        watch = world.judge.lines[name]
        if watch.exempt or not line.row.read:
            read_and_set(world, name)
        elif line.row.held:
            world.order(GoLine(name))
