"""Another file: reloaded at once or, where the wiring is another, when all is at rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.hand import Hand

from controller.building.wiring import wiring_of
from controller.engine.contract import HandLost, HandReady, NewBuilding

if TYPE_CHECKING:
    from simulator.daemon import Daemon
    from simulator.world import World


def change_file(world: World, number: int) -> None:
    """The file is written anew and reloaded; other wiring waits until all is at rest."""
    world.file = number
    daemon = world.daemon
    if daemon is None:
        return
    building = world.house.buildings[number]
    world.new_lines()
    if wiring_of(building) == wiring_of(daemon.building):
        world.last_good = number
        daemon.put(NewBuilding(building))
    else:
        _rewire_at_rest(world, daemon, number)


def _rewire_at_rest(world: World, daemon: Daemon, number: int) -> None:
    def look() -> None:
        if world.daemon is not daemon or world.file != number or daemon.ending:
            return
        if daemon.hung or not at_rest(daemon.state):
            world.plan(daemon.next_beat(), look)
            return
        world.last_good = number
        old = world.hand
        old.open_all(heard=True)
        daemon.put(HandLost(old.name))
        daemon.put(NewBuilding(world.house.buildings[number]))
        world.hands += 1
        world.hand = Hand(world, world.house.buildings[number], f"hand-{world.hands}")
        ready = world.hand
        daemon.put(HandReady(ready.name, ready.closed_contacts(), ready.supply_there))

    world.plan(daemon.next_beat(), look)


def at_rest(state) -> bool:
    """As `service/daemon.py` has it."""
    return all(zone.sounding is None for zone in state.zones.values()) and all(
        line.play is None for line in state.lines.values()
    )
