"""The logbook as a table for other programs."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from typing import Any, TextIO

from controller.building.civil import SECOND, CivilTime

_COLUMNS = ("at", "kind", "zone", "written", "text", "how", "seconds", "by", "rings")


def write_csv(file: TextIO, civil: CivilTime, entries: Iterable[Mapping[str, Any]]) -> None:
    """Entries as the order `logbook` answers them (RFC 4180): times are ISO 8601 with offset."""
    table = csv.writer(file)
    table.writerow(_COLUMNS)
    for entry in entries:
        at = civil.aware(entry["at"]).isoformat(
            timespec="milliseconds" if entry["at"] % SECOND else "seconds"
        )
        values = {**entry, "at": at, "written": " ".join(entry["written"])}
        table.writerow([values[column] for column in _COLUMNS])
