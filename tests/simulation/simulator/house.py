"""A building: its file, and the files that it may be changed to. Read once by the controller for
itself, and once by the judge's own rules.
"""

from __future__ import annotations

from simulator.program import program_of

from controller.building.file import building_of
from controller.building.sheets import Source


class House:
    def __init__(self, *texts: str, unread: frozenset[str] = frozenset()) -> None:
        self.texts = texts
        self.unread = unread  # lines of which nobody has said what they show
        self.buildings = [building_of("week", [Source("week.toml", t.encode())]) for t in texts]
        self.programs = [program_of(text) for text in texts]
        self.trust_rtc = self.buildings[0].clock.trust_rtc

    @property
    def timezone(self) -> str:
        return self.programs[0].file["building"]["timezone"]
