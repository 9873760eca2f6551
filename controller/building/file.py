"""Reads a building from its file, or says everything that is wrong with it in one go."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path

from controller.building.civil import CivilTime
from controller.building.draft import Draft, read_draft
from controller.building.faults import Fault, Faults
from controller.building.installed import PanelEntry
from controller.building.kept import PlanRing, Tape
from controller.building.model import Building
from controller.building.ring_checks import merged_faults, ring_faults
from controller.building.sheets import Source, put_together, sources
from controller.building.tape_checks import (
    closings_of_tape,
    plan_of,
    tape_faults,
    too_many_rings,
)
from controller.building.timetable_checks import timetable_faults
from controller.building.values import EVERY_ZONE, WEEKDAYS
from controller.building.wiring_checks import wiring_faults


def read(path: Path) -> Building:
    """The building of a TOML file, or of a folder's *.toml in the order of their names.

    Raises `Faults` with every fault of every file; nothing else, whatever the path holds.
    """
    files, unreadable = sources(path)
    return building_of(str(path), files, unreadable)


def building_of(path: str, files: Sequence[Source], unreadable: Sequence[Fault] = ()) -> Building:
    """The building of files already in memory. `path` is named where something is missing.

    Raises `Faults`, beginning with `unreadable`: faults of files that are not among them.
    """
    sheets, faults = put_together(path, files)
    if unreadable:
        sheets = sheets._replace(whole=False)
    draft, unsound = read_draft(sheets)
    faults += unsound
    faults += _cross_faults(draft)
    if unreadable or faults:
        raise Faults((*unreadable, *_in_order(faults, files)))
    return _built(draft, _fingerprint(files))


def fingerprint_of(path: Path) -> str:
    """What `Building.fingerprint` would be of the files as they are now, whatever they say.

    Raises `Faults` where they cannot be read.
    """
    files, unreadable = sources(path)
    if unreadable:
        raise Faults(unreadable)
    return _fingerprint(files)


def _fingerprint(files: Sequence[Source]) -> str:
    return sha256(b"".join(source.content for source in files)).hexdigest()


def _cross_faults(draft: Draft) -> list[Fault]:
    faults = wiring_faults(draft) + timetable_faults(draft)
    of_tape = closings_of_tape(draft)
    of_week = {plan_of(weekday, draft) for weekday in WEEKDAYS}
    for plan, rings in draft.plans.items():
        for ring in rings:
            faults += ring_faults(ring, draft)
        faults += merged_faults(rings, of_tape if plan in of_week else {}, draft)
    if draft.tape is not None:
        faults += tape_faults(draft.tape, draft)
    return faults + too_many_rings(draft)


def _in_order(faults: list[Fault], files: Sequence[Source]) -> list[Fault]:
    """File by file, and table by table as they first came up."""
    places = {source.file: place for place, source in enumerate(files)}
    tables: dict[tuple[str, str], int] = {}
    for fault in faults:
        tables.setdefault((fault.file, fault.table), len(tables))
    return sorted(
        faults, key=lambda fault: (places.get(fault.file, -1), tables[fault.file, fault.table])
    )


def _built(draft: Draft, fingerprint: str) -> Building:
    """The building of a draft without faults."""
    zones = {name: entry.value for name, entry in draft.zones.items()}
    every = tuple(zones)
    week = {
        number: plan
        for number, weekday in enumerate(WEEKDAYS, 1)
        if (plan := getattr(draft.week.value, weekday)) is not None
    }
    return Building(
        name=draft.premises.value.name,
        civil=CivilTime(draft.premises.value.timezone),
        supply=draft.supply.value,
        battery=None if draft.battery is None else draft.battery.value,
        zones=zones,
        lines={name: entry.value for name, entry in draft.lines.items()},
        returns={name: entry.value for name, entry in draft.returns.items()},
        panel={name: _panel_entry(entry.value, every) for name, entry in draft.panel.items()},
        relays=draft.relays.value,
        health=None if draft.health is None else draft.health.value,
        clock=draft.clock.value,
        logbook=draft.logbook.value,
        tell=None if draft.tell is None else draft.tell.value,
        halves=draft.halves.value,
        quiet={
            zone: frozenset(half for row in entry.value.half_days for half in row)
            for zone, entry in draft.quiet.items()
        },
        plans={
            name: tuple(_plan_ring(ring.value, every) for ring in rings)
            for name, rings in draft.plans.items()
        },
        week=week,
        calendar=tuple(entry.value for entry in draft.calendar),
        imports=tuple(rule.value for rule in draft.imports),
        holidays=None if draft.holidays is None else draft.holidays.value,
        tape=_tape(draft),
        fingerprint=fingerprint,
    )


def _panel_entry(entry: PanelEntry, every: tuple[str, ...]) -> PanelEntry:
    if EVERY_ZONE in entry.zones:
        return entry.model_copy(update={"zones": every})
    return entry


def _plan_ring(ring: PlanRing, every: tuple[str, ...]) -> PlanRing:
    if EVERY_ZONE in ring.zones:
        return ring.model_copy(update={"zones": every})
    return ring


def _tape(draft: Draft) -> Tape | None:
    if draft.tape is None:
        return None
    holes = {zone: tuple(sorted(row.value.offsets)) for zone, row in draft.holes.items()}
    return draft.tape.value.model_copy(update={"holes": holes})
