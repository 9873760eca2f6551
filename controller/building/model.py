"""What the building is, and every table of its file.

Lengths of time are integer nanoseconds, in attributes that end in `_ns`; the key in the file is the
alias, and is written with its unit. Everything is frozen; dicts keep the file's order.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.building import values as v
from controller.building.civil import CivilTime
from controller.building.installed import (
    Battery,
    Clock,
    Health,
    Line,
    Logbook,
    PanelEntry,
    Premises,
    Relays,
    Return,
    Supply,
    Tell,
    Zone,
)
from controller.building.kept import (
    CalendarEntry,
    EntryEvent,
    Halves,
    HolesRow,
    Holidays,
    ImportRule,
    Plan,
    PlanRing,
    QuietRow,
    Tape,
    Week,
)
from controller.building.table import Table


@dataclass(frozen=True, eq=False, kw_only=True)
class Building:
    """All that the file says, cross-checked. Two buildings are the same only if they are one."""

    name: str
    civil: CivilTime
    supply: Supply
    battery: Battery | None
    zones: dict[str, Zone]
    lines: dict[str, Line]
    returns: dict[str, Return]
    panel: dict[str, PanelEntry]
    relays: Relays
    health: Health | None
    clock: Clock
    logbook: Logbook
    tell: Tell | None
    halves: Halves
    quiet: dict[str, frozenset[v.HalfDay]]
    plans: dict[str, tuple[PlanRing, ...]]
    week: dict[int, str]  # ISO weekday → plan; a day left out has no rings
    calendar: tuple[CalendarEntry, ...]
    imports: tuple[ImportRule, ...]
    holidays: Holidays | None
    tape: Tape | None
    fingerprint: str  # SHA-256 of the files' bytes in their order, hexadecimal

    @property
    def bell_amps(self) -> float | None:
        """What the lines leave of the supply for bells; None where it is unlimited."""
        if self.supply.amps is None:
            return None
        return self.supply.amps - sum(line.amps for line in self.lines.values())


# Every table of the file in the order of the guide: its heading there, and its keys.
TABLES: dict[str, type[Table]] = {
    "[building]": Premises,
    "[supply]": Supply,
    "[battery]": Battery,
    "[zones.NAME]": Zone,
    "[lines.NAME]": Line,
    "[returns.NAME]": Return,
    "[panel.NAME]": PanelEntry,
    "[relays]": Relays,
    "[health]": Health,
    "[clock]": Clock,
    "[logbook]": Logbook,
    "[tell]": Tell,
    "[halves]": Halves,
    "[quiet]": QuietRow,
    "[plans.NAME]": Plan,
    "[plans.NAME] rings": PlanRing,
    "[week]": Week,
    "[[calendar]]": CalendarEntry,
    "[[calendar]] event": EntryEvent,
    "[[import]]": ImportRule,
    "[holidays]": Holidays,
    "[tape]": Tape,
    "[tape.holes]": HolesRow,
}

# Whose tables they are. The keeper's may be changed from the page and by the order `edit`; the
# installer's only in an editor: they say what is wired where, and which program is run.
INSTALLERS = (
    "building",
    "supply",
    "battery",
    "zones",
    "lines",
    "returns",
    "panel",
    "relays",
    "health",
    "clock",
    "logbook",
    "tell",
)
KEEPERS = ("halves", "quiet", "plans", "week", "calendar", "import", "holidays", "tape")
