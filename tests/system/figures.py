"""What was measured, in one table.

    python tests/system/figures.py          the table of all since the last `forget`
    python tests/system/figures.py forget

Each test notes its figures as it goes; they are kept beside the guests.
"""

from __future__ import annotations

import json
import os
import statistics
import sys
from pathlib import Path

from build_guest import cache_folder


def file() -> Path:
    """Where they are kept: one JSON object a line."""
    chosen = os.environ.get("UNDERSTUDY_FIGURES")
    return Path(chosen) if chosen else cache_folder() / "figures.jsonl"


def note(what: str, value: float, unit: str = "", limit: float | None = None) -> None:
    """Keep one figure; `limit` is what it may be at most."""
    kept = {"what": what, "value": value, "unit": unit, "limit": limit}
    with file().open("a") as stream:
        stream.write(json.dumps(kept) + "\n")


def table() -> list[str]:
    """The table: each thing measured, how often, its least, middle and greatest, and its limit."""
    found: dict[tuple[str, str], list[float]] = {}
    limits: dict[tuple[str, str], float | None] = {}
    lines = file().read_text().splitlines() if file().exists() else []
    for one in map(json.loads, lines):
        key = one["what"], one["unit"]
        found.setdefault(key, []).append(one["value"])
        limits[key] = one["limit"]
    rows = [("what", "times", "least", "middle", "greatest", "at most", "")]
    for (what, unit), values in found.items():
        limit = limits[what, unit]
        told = [f"{value:.4g}" for value in (min(values), statistics.median(values), max(values))]
        most = "" if limit is None else f"{limit:.4g}"
        rows.append((what, str(len(values)), told[0], told[1], told[2], most, unit))
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


if __name__ == "__main__":
    if sys.argv[1:] == ["forget"]:
        file().unlink(missing_ok=True)
    else:
        print("\n".join(table()))
