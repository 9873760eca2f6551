"""`understudy edit plan`: a plan's rings shown, or changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import time
from pathlib import Path
from typing import Any, NamedTuple

import typer

from controller.building.file import read
from controller.building.kept import PlanRing
from controller.building.model import Building
from controller.building.values import EVERY_ZONE, RESERVED, is_name
from controller.cli.edits import settle, texts_of
from controller.cli.given import must_be_known, read_keys, zone_names
from controller.cli.spoken import columns
from controller.editing.document import Texts, entries_of, with_plan, with_plan_like
from controller.editing.entry_changes import Added, EntryChange, Keys, Removed, Replaced
from controller.editing.typed import seconds_of
from controller.pictures.spoken import WEEKDAYS, counted, how_rung

_MOST_TIMES = 12  # that a refusal names


class Asked(NamedTuple):
    """What is to become of a plan."""

    add: Sequence[str] = ()  # HH:MM each
    remove: Sequence[str] = ()  # HH:MM each
    move: Sequence[str] = ()  # HH:MM=HH:MM each
    zones: str | None = None
    for_: str | None = None
    strokes: str | None = None
    says: str | None = None
    new: bool = False
    copy_of: str | None = None
    delete: bool = False


class _Edited(NamedTuple):
    """A change of one ring, and what is said of it."""

    change: EntryChange
    says: tuple[str, ...]  # in columns; () where another line says it


def edit_plan(path: Path, runtime: Path | None, name: str, asked: Asked, *, yes: bool) -> int:
    """Show a plan, or change it; the exit code. Raises as `settle` does."""
    building = read(path)
    _must_fit(name, asked, building)
    if asked == Asked():
        _show(building, name)
        return 0
    begun = texts_of(path)
    if asked.delete:
        typer.echo(f"The plan {name} goes, with {counted(len(building.plans[name]), 'ring')}.")
        return settle(path, runtime, begun, with_plan(begun, name, None), yes=yes)
    texts, rings = _begun(begun, building, name, asked)
    edited = _edited(texts, building, name, rings, asked)
    change = with_plan(texts, name, [one.change for one in edited])
    for line in columns([one.says for one in edited if one.says], indent=2):
        typer.echo(line)
    return settle(path, runtime, begun, change, yes=yes)


def _must_fit(name: str, asked: Asked, building: Building) -> None:
    """Raises `typer.BadParameter` where the options contradict each other, or the file."""
    if asked.delete and asked != Asked(delete=True):
        raise typer.BadParameter("expected alone", param_hint="--delete")
    if asked.new and asked.copy_of is not None:
        raise typer.BadParameter("expected one of the two", param_hint="--new or --copy-of")
    if not (asked.new or asked.copy_of is not None):
        must_be_known("plan", name, building.plans, "NAME")
        return
    if not is_name(name):
        raise typer.BadParameter(
            f"{name!r}: expected small letters, digits and -, at most 40, other than "
            + ", ".join(RESERVED),
            param_hint="NAME",
        )
    if name in building.plans:
        raise typer.BadParameter(f"there is a plan {name} already", param_hint="NAME")
    if asked.copy_of is not None:
        must_be_known("plan", asked.copy_of, building.plans, "--copy-of")


def _begun(
    texts: Texts, building: Building, name: str, asked: Asked
) -> tuple[Texts, Sequence[PlanRing]]:
    """The files and the plan's rings to begin from; with a copied plan already in them."""
    if asked.copy_of is not None:
        typer.echo(f"A new plan {name}, as {asked.copy_of} is.")
        change = with_plan_like(texts, name, asked.copy_of)
        return {**texts, change.file: change.text}, building.plans[asked.copy_of]
    if asked.new:
        typer.echo(f"A new plan {name}.")
        return texts, ()
    return texts, building.plans[name]


# ── changes ──────────────────────────────────────────────────────────────────────────────────────


def _edited(
    texts: Texts, building: Building, name: str, rings: Sequence[PlanRing], asked: Asked
) -> list[_Edited]:
    """Every change that is asked for. Raises `typer.BadParameter`."""
    listed = entries_of(texts, f"plans.{name}") if rings else []
    zones = None if asked.zones is None else zone_names(asked.zones, building.zones, "--zones")
    # Beside --add they are where that rings; else what is removed or moved, is so there alone.
    where = None if asked.add or zones in (None, [EVERY_ZONE]) else zones
    edited: list[_Edited] = []
    for at in asked.remove:
        for place, ring in _rings_at(name, rings, at, where, "--remove"):
            edited += _removed(place, ring, listed[place], where)
    for text in asked.move:
        was, equals, to = text.partition("=")
        if not equals:
            raise typer.BadParameter(
                f"{text!r}: expected HH:MM=HH:MM, such as 12:00=12:05", param_hint="--move"
            )
        time_of_day(to, "--move")
        for place, ring in _rings_at(name, rings, was, where, "--move"):
            edited += _moved(place, ring, listed[place], where, to)
    _must_be_apart(edited)
    return [*edited, *_added(asked, zones)]


def _rings_at(
    name: str, rings: Sequence[PlanRing], text: str, where: Sequence[str] | None, option: str
) -> list[tuple[int, PlanRing]]:
    """Places and rings at a time, in some of these zones. Raises `typer.BadParameter` at none."""
    at = time_of_day(text, option)
    found = [
        (place, ring)
        for place, ring in enumerate(rings)
        if ring.at == at and (where is None or set(where) & set(ring.zones))
    ]
    if found:
        return found
    there = "" if where is None else f" in {', '.join(where)}"
    times = sorted({ring.at for ring in rings if where is None or set(where) & set(ring.zones)})
    listed = ", ".join(map(clock, times[:_MOST_TIMES])) + (", …" if times[_MOST_TIMES:] else "")
    raise typer.BadParameter(
        f"{name} has no ring at {text}{there}; "
        + (f"it rings at {listed}" if times else f"nor any other{there}"),
        param_hint=option,
    )


def _removed(
    place: int, ring: PlanRing, keys: Keys, where: Sequence[str] | None
) -> Iterator[_Edited]:
    goes, stays = _parted(ring, where)
    change = Replaced(place, {**keys, "zones": stays}) if stays else Removed(place)
    yield _Edited(change, ("gone", *_row(ring, goes)))


def _moved(
    place: int, ring: PlanRing, keys: Keys, where: Sequence[str] | None, to: str
) -> Iterator[_Edited]:
    goes, stays = _parted(ring, where)
    at, *more = _row(ring, goes)
    says = ("moved", f"{at} → {to}", *more)
    if stays:
        yield _Edited(Replaced(place, {**keys, "zones": stays}), says)
        yield _Edited(Added({**keys, "at": to, "zones": goes}), ())
    else:
        yield _Edited(Replaced(place, {**keys, "at": to}), says)


def _parted(ring: PlanRing, where: Sequence[str] | None) -> tuple[list[str], list[str]]:
    """The zones of a ring that are meant, and the others."""
    goes = [zone for zone in ring.zones if where is None or zone in where]
    return goes, [zone for zone in ring.zones if zone not in goes]


def _must_be_apart(edited: Iterable[_Edited]) -> None:
    places = Counter(
        one.change.place for one in edited if isinstance(one.change, Replaced | Removed)
    )
    if any(times > 1 for times in places.values()):
        raise typer.BadParameter(
            "one ring is named twice; expected once", param_hint="--remove or --move"
        )


def _added(asked: Asked, zones: Sequence[str] | None) -> Iterator[_Edited]:
    lengths = {"for": asked.for_, "strokes": asked.strokes, "says": asked.says}
    if not asked.add:
        if given := next((key for key, value in lengths.items() if value is not None), None):
            raise typer.BadParameter("belongs to --add", param_hint=f"--{given}")
        return
    if (asked.for_ is None) == (asked.strokes is None):
        raise typer.BadParameter("expected one of the two", param_hint="--for or --strokes")
    for at in asked.add:
        keys: dict[str, Any] = {"at": at}
        if zones is not None:
            keys["zones"] = list(zones)
        if asked.for_ is not None:
            keys["for"] = asked.for_
        if asked.strokes is not None:
            keys["strokes"] = seconds_of(asked.strokes)
        if asked.says is not None:
            keys["says"] = asked.says
        yield _Edited(Added(keys), ("new", *_row(_read_ring(keys), keys.get("zones", ()))))


def _read_ring(keys: Mapping[str, Any]) -> PlanRing:
    try:
        return read_keys(PlanRing, keys)
    except typer.BadParameter as fault:
        if fault.param_hint == "--at":
            fault.param_hint = "--add"
        raise


def time_of_day(text: str, option: str) -> time:
    """A time of day, written as in the file. Raises `typer.BadParameter`."""
    try:
        return read_keys(PlanRing, {"at": text, "zones": ["*"]}).at
    except typer.BadParameter as fault:
        fault.param_hint = option
        raise


# ── shown ────────────────────────────────────────────────────────────────────────────────────────


def _show(building: Building, name: str) -> None:
    days = [WEEKDAYS[day - 1] for day, plan in building.week.items() if plan == name]
    typer.echo(f"{name}, {', '.join(days) if days else 'on no weekday'}")
    rows = [_row(ring, ring.zones) for ring in sorted(building.plans[name], key=_time)]
    for line in columns(rows, indent=2):
        typer.echo(line)


def _time(ring: PlanRing) -> time:
    return ring.at


def _row(ring: PlanRing, zones: Iterable[str]) -> tuple[str, str, str]:
    where = ", ".join(zones)
    return clock(ring.at), f"{where} {how_rung(ring.closings)}", ring.says


def clock(at: time) -> str:
    """ "08:30", or "08:30:20"."""
    return at.isoformat("seconds" if at.second else "minutes")
