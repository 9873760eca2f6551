"""What the relays do in a rehearsal: every closing, from the hand's own rules on virtual time."""

from __future__ import annotations

from controller.building.model import Building
from controller.circuits.rules import Switch
from controller.electrics.load import Closing, Played
from controller.rehearsal.script import Script
from controller.rehearsal.world import World


class WatchedWorld(World):
    """A rehearsal's world that also writes down when contacts close and open."""

    def __init__(self, building: Building, script: Script) -> None:
        self.closings: list[Closing] = []
        self.closed_since: dict[tuple[str, int], int] = {}
        super().__init__(building, script)

    def _switched(self, switches: list[Switch]) -> None:
        for switch in switches:
            contact = switch.circuit, switch.relay
            if switch.closed:
                self.closed_since[contact] = self.t
            else:
                since = self.closed_since.pop(contact)
                self.closings.append(Closing(switch.circuit, since, self.t))
        super()._switched(switches)


def played(building: Building, start_utc: int, until_utc: int) -> Played:
    """The timetable from one instant until another, as the engine gives it."""
    world = WatchedWorld(building, Script(start_utc, until_utc))
    for _ in world.run():
        pass
    return Played(start_utc, until_utc, tuple(sorted(world.closings, key=lambda one: one[1:])))
