"""`understudy edit week` and `edit quiet`: shown, or changed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import typer

from controller.building.file import read
from controller.building.kept import QuietRow
from controller.building.model import Building
from controller.building.values import NO_RINGS, WEEKDAYS, half_days_written
from controller.cli.edits import settle, texts_of
from controller.cli.given import must_be_known, read_keys
from controller.cli.spoken import columns
from controller.editing.document import with_quiet, with_week


def edit_week(path: Path, runtime: Path | None, days: Sequence[str], *, yes: bool) -> int:
    """Show the week, or give weekdays other plans; the exit code. Raises as `settle` does."""
    building = read(path)
    if not days:
        _show(
            (day.capitalize(), building.week.get(number, "no plan"))
            for number, day in enumerate(WEEKDAYS, 1)
        )
        return 0
    plans: dict[str, str | None] = {}
    for text in days:
        day, equals, plan = text.partition("=")
        if not equals:
            raise typer.BadParameter(
                f"{text!r}: expected DAY=PLAN, such as mon=regular", param_hint="DAY=PLAN"
            )
        must_be_known("weekday", day, WEEKDAYS, "DAY=PLAN")
        must_be_known("plan", plan, (*building.plans, NO_RINGS), "DAY=PLAN")
        if day in plans:
            raise typer.BadParameter(f"{day} is given twice", param_hint="DAY=PLAN")
        plans[day] = plan
    texts = texts_of(path)
    change = with_week(texts, plans)
    _show(
        (day.capitalize(), f"{building.week.get(number, 'no plan')} → {plans[day]}")
        for number, day in enumerate(WEEKDAYS, 1)
        if day in plans
    )
    return settle(path, runtime, texts, change, yes=yes)


def edit_quiet(
    path: Path,
    runtime: Path | None,
    zone: str | None,
    half_days: Sequence[str],
    *,
    off: bool,
    yes: bool,
) -> int:
    """Show quiet rows, or give a zone another; the exit code. Raises as `settle` does."""
    building = read(path)
    if zone is not None:
        must_be_known("zone", zone, building.zones, "ZONE")
    if zone is None or not (half_days or off):
        _show((name, _row(building, name)) for name in building.zones if zone in (None, name))
        return 0
    if half_days and off:
        raise typer.BadParameter("expected one of the two", param_hint="HALF-DAY or --off")
    try:
        read_keys(QuietRow, {"ZONE": list(half_days)})
    except typer.BadParameter as fault:
        fault.param_hint = "HALF-DAY"
        raise
    texts = texts_of(path)
    change = with_quiet(texts, {zone: None if off else half_days})
    now = "never quiet" if off else ", ".join(half_days)
    _show([(zone, f"{_row(building, zone)} → {now}")])
    return settle(path, runtime, texts, change, yes=yes)


def _row(building: Building, zone: str) -> str:
    half_days = building.quiet.get(zone, frozenset())
    return ", ".join(half_days_written(half_days)) if half_days else "never quiet"


def _show(rows: Iterable[tuple[str, str]]) -> None:
    for line in columns(list(rows), indent=2):
        typer.echo(line)
