"""All tables of a building read one by one: what of them is sound, and the faults of the rest.

A fault in one table hides none in another; the cross-checks then work on whatever is sound.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any, TypeVar

from controller.building import installed, kept, model
from controller.building.entries import Entry, aliases, read_entry
from controller.building.faults import Fault, key_written, nearest, shown
from controller.building.sheets import SPREAD, Sheets, Written
from controller.building.table import Table
from controller.building.values import RESERVED, is_name, is_panel_name

MOST_CIRCUITS = 28  # zones; lines; returns; panel entries: the header has no more pins
MOST_PLANS = 200
MOST_DATES = 2_000
MOST_IMPORT_RULES = 200
SINGLE_TABLES = (
    "building",
    "supply",
    "battery",
    "relays",
    "health",
    "clock",
    "logbook",
    "tell",
    "halves",
    "quiet",
    "week",
    "calendar",
    "import",
    "holidays",
    "tape",
)
_T = TypeVar("_T", bound=Table)
_NAME_WORDS = (
    'expected a name of small letters, digits and "-", at most 40 of them, '
    f"other than {', '.join(RESERVED)}"
)
_PANEL_NAME_WORDS = 'expected a name of small letters, digits, "-" and "_", at most 40 of them'


@dataclass
class Draft:
    """A building on its way from file to use."""

    path: str
    whole: bool  # False where a file could not be read: then no name is known to be missing
    premises: Entry[installed.Premises]
    supply: Entry[installed.Supply]
    relays: Entry[installed.Relays]
    clock: Entry[installed.Clock]
    logbook: Entry[installed.Logbook]
    halves: Entry[kept.Halves]
    week: Entry[kept.Week]
    battery: Entry[installed.Battery] | None
    health: Entry[installed.Health] | None
    tell: Entry[installed.Tell] | None
    holidays: Entry[kept.Holidays] | None
    tape: Entry[kept.Tape] | None
    zones: dict[str, Entry[installed.Zone]] = field(default_factory=dict)
    lines: dict[str, Entry[installed.Line]] = field(default_factory=dict)
    returns: dict[str, Entry[installed.Return]] = field(default_factory=dict)
    panel: dict[str, Entry[installed.PanelEntry]] = field(default_factory=dict)
    plans: dict[str, list[Entry[kept.PlanRing]]] = field(default_factory=dict)
    quiet: dict[str, Entry[kept.QuietRow]] = field(default_factory=dict)
    holes: dict[str, Entry[kept.HolesRow]] = field(default_factory=dict)
    calendar: list[Entry[kept.CalendarEntry]] = field(default_factory=list)
    imports: list[Entry[kept.ImportRule]] = field(default_factory=list)


class _Reader:
    """Reads tables and gathers their faults."""

    def __init__(self, sheets: Sheets) -> None:
        self.sheets = sheets
        self.faults: list[Fault] = []

    def entry(self, model: type[_T], file: str, table: str, raw: object) -> Entry[_T]:
        entry, faults = read_entry(model, file, table, raw)
        self.faults += faults
        return entry

    def single(self, model: type[_T], name: str) -> Entry[_T]:
        """A table that is there once; as if empty where it is not there."""
        found = self.single_if_there(model, name)
        if found is not None:
            return found
        entry, faults = read_entry(model, self.sheets.path, f"[{name}]", {})
        if self.sheets.whole:  # else it may be in the file that could not be read
            self.faults += faults
        return entry

    def single_if_there(self, model: type[_T], name: str) -> Entry[_T] | None:
        written = self.sheets.tables.get(name)
        if written is None:
            return None
        return self.entry(model, written.file, f"[{name}]", written.raw)

    def named(
        self, model: type[_T], name: str, fits: Callable[[str], bool], words: str
    ) -> dict[str, Entry[_T]]:
        """[name.x], one entry a name."""
        found: dict[str, Entry[_T]] = {}
        for entry, written in self.limited(name, MOST_CIRCUITS).items():
            table = f"[{name}.{key_written(entry)}]"
            if not fits(entry):
                self.faults.append(Fault(written.file, table, "", None, words))
            found[entry] = self.entry(model, written.file, table, written.raw)
        return found

    def several(self, model: type[_T], name: str, most: int, *dated: str) -> list[Entry[_T]]:
        """[[name]], in the file's order, no more than `most`; `dated` keys tell them apart."""
        written = self.sheets.tables.get(name)
        if written is None:
            return []
        file, raw = written
        if not isinstance(raw, list):
            words = f"expected [[{name}]], in double brackets, once for each entry"
            self.faults.append(Fault(file, f"[{name}]", "", None, words))
            return []
        if len(raw) > most:
            words = f"has {len(raw)} entries; expected at most {most}"
            self.faults.append(Fault(file, f"[[{name}]]", "", None, words))
        return [
            self.entry(model, file, f"[[{name}]] entry {place}{_dated(one, *dated)}", one)
            for place, one in enumerate(raw[:most], 1)
        ]

    def limited(self, name: str, most: int) -> dict[str, Written]:
        """The entries of a table that may be spread over files, no more than `most`."""
        entries = self.sheets.spread[name]
        if len(entries) > most:
            file = list(entries.values())[most].file
            words = f"has {len(entries)} entries; expected at most {most}"
            self.faults.append(Fault(file, f"[{name}]", "", None, words))
        return dict(list(entries.items())[:most])

    def rows(self, model: type[_T], table: str, written: Written) -> dict[str, Entry[_T]]:
        """A table whose keys are zones: each value is read by itself."""
        if not isinstance(written.raw, Mapping):
            words = "expected a table of zone = list"
            self.faults.append(Fault(written.file, table, "", shown(written.raw), words))
            return {}
        found: dict[str, Entry[_T]] = {}
        for zone, value in list(written.raw.items())[: 2 * MOST_CIRCUITS]:
            entry, faults = read_entry(model, written.file, table, {"ZONE": value})
            self.faults += [fault._replace(key=zone) for fault in faults]
            if faults and isinstance(value, list):
                sound = [one for one in value if not read_entry(model, "", "", {"ZONE": [one]})[1]]
                entry, _ = read_entry(model, written.file, table, {"ZONE": sound})
            found[zone] = Entry(entry.file, entry.table, {zone: value}, entry.value)
        return found

    def strangers(self) -> None:
        """Tables that are not known, and keys outside all tables."""
        for name, (file, raw) in self.sheets.tables.items():
            if name in SINGLE_TABLES:
                continue
            if name in SPREAD:
                fault = Fault(file, "", name, shown(raw), f"expected tables [{name}.NAME]")
            elif isinstance(raw, Mapping | list):
                table = f"[{key_written(name)}]"
                fault = Fault(file, table, "", None, f"there is no such table; {_table_hint(name)}")
            else:
                words = f"stands outside all tables; {_home_of(name)}"
                fault = Fault(file, "", name, shown(raw), words)
            self.faults.append(fault)


def _table_hint(name: str) -> str:
    known = (*SINGLE_TABLES, *SPREAD)
    meant = nearest(name, known)
    return f"did you mean [{meant}]?" if meant else f"the tables are {', '.join(known)}"


def _home_of(key: str) -> str:
    homes = [heading for heading, model in model.TABLES.items() if key in aliases(model)]
    return (
        f"expected it in {' or '.join(homes)}" if homes else "expected a table, such as [building]"
    )


def read_draft(sheets: Sheets) -> tuple[Draft, list[Fault]]:
    """Read every table by itself."""
    reader = _Reader(sheets)
    reader.strangers()
    draft = Draft(
        sheets.path,
        sheets.whole,
        reader.single(installed.Premises, "building"),
        reader.single(installed.Supply, "supply"),
        reader.single(installed.Relays, "relays"),
        reader.single(installed.Clock, "clock"),
        reader.single(installed.Logbook, "logbook"),
        reader.single(kept.Halves, "halves"),
        reader.single(kept.Week, "week"),
        reader.single_if_there(installed.Battery, "battery"),
        reader.single_if_there(installed.Health, "health"),
        reader.single_if_there(installed.Tell, "tell"),
        reader.single_if_there(kept.Holidays, "holidays"),
        _tape(reader),
        zones=reader.named(installed.Zone, "zones", is_name, _NAME_WORDS),
        lines=reader.named(installed.Line, "lines", is_name, _NAME_WORDS),
        returns=reader.named(installed.Return, "returns", is_name, _NAME_WORDS),
        panel=reader.named(installed.PanelEntry, "panel", is_panel_name, _PANEL_NAME_WORDS),
        plans=_plans(reader),
        calendar=reader.several(kept.CalendarEntry, "calendar", MOST_DATES, "on", "from"),
        imports=reader.several(kept.ImportRule, "import", MOST_IMPORT_RULES),
    )
    if (quiet := sheets.tables.get("quiet")) is not None:
        draft.quiet = reader.rows(kept.QuietRow, "[quiet]", quiet)
    if (tape := sheets.tables.get("tape")) is not None and isinstance(tape.raw, Mapping):
        holes = tape.raw.get("holes")
        if isinstance(holes, Mapping):
            draft.holes = reader.rows(kept.HolesRow, "[tape.holes]", Written(tape.file, holes))
    return draft, reader.faults


def _tape(reader: _Reader) -> Entry[kept.Tape] | None:
    """The tape without its holes, which are read row by row."""
    written = reader.sheets.tables.get("tape")
    if written is None:
        return None
    raw = written.raw
    if isinstance(raw, Mapping) and isinstance(raw.get("holes"), Mapping):
        raw = {**raw, "holes": {}}
    return reader.entry(kept.Tape, written.file, "[tape]", raw)


def _plans(reader: _Reader) -> dict[str, list[Entry[kept.PlanRing]]]:
    found: dict[str, list[Entry[kept.PlanRing]]] = {}
    for name, (file, raw) in reader.limited("plans", MOST_PLANS).items():
        table = f"[plans.{key_written(name)}]"
        if not is_name(name):
            reader.faults.append(Fault(file, table, "", None, _NAME_WORDS))
        plan, faults = read_entry(kept.Plan, file, table, raw)
        reader.faults += faults
        rings = plan.raw.get("rings")
        unsound = any(fault.key == "rings" for fault in faults)
        found[name] = [
            reader.entry(kept.PlanRing, file, f"{table} ring {place}{_dated(one, 'at')}", one)
            for place, one in enumerate([] if unsound or rings is None else rings, 1)
        ]
    return found


def _dated(raw: Any, *keys: str) -> str:
    """The time or date of an entry, in brackets, so that a person finds it in a long list."""
    if not isinstance(raw, Mapping):
        return ""
    value = next((raw[key] for key in keys if key in raw), None)
    if isinstance(value, datetime | date | time):
        return f" ({value.isoformat()})"
    short = isinstance(value, str) and 0 < len(value) <= 20 and value.isprintable()
    return f" ({value})" if short else ""
