"""What `release` can learn from a building's file when nothing else is left: also from a bad one.

Only relays and the levels that open them matter here. The file need not be a valid building, nor
even be TOML throughout: tables that can be read are used.
"""

from __future__ import annotations

import contextlib
import re
import tomllib
from pathlib import Path
from typing import Any

_MOST_BYTES = 1 << 20  # of one file
_MOST_FILES = 100
_LONGEST_HEAD = 80  # characters of a line that a message repeats
_PINS = range(2, 28)  # BCM numbers on the header; 0 and 1 belong to the identification EEPROM
_TABLE = re.compile(r"^(?=\[)", re.MULTILINE)


def outputs_of(path: Path) -> tuple[dict[int, bool], list[str]]:
    """Pin → the level at which its relay is open; and what could not be made out, in words."""
    outputs: dict[int, bool] = {}
    faults: list[str] = []
    disputed: set[int] = set()
    for file in _files(path, faults):
        for table in _tables(file, faults):
            for where, keys, active in _circuits(table):
                where = f"{file}: [{where}]"
                if active not in ("high", "low"):
                    faults.append(
                        f'{where} active = {active!r}: expected "high" or "low"; its relays were '
                        "left alone"
                    )
                    continue
                for pin in keys:
                    if not isinstance(pin, int) or isinstance(pin, bool) or pin not in _PINS:
                        faults.append(f"{where} {pin!r} is not a BCM GPIO number from 2 to 27")
                    elif outputs.setdefault(pin, active == "low") != (active == "low"):
                        disputed.add(pin)
                        faults.append(f"{where} GPIO{pin} is active high and active low")
    return {pin: high for pin, high in outputs.items() if pin not in disputed}, faults


def _files(path: Path, faults: list[str]) -> list[Path]:
    try:
        if not path.is_dir():
            return [path]
        found = sorted(
            file
            for file in path.iterdir()
            if file.name.endswith(".toml") and not file.name.startswith(".")
        )
    except (OSError, ValueError) as fault:
        faults.append(f"{path}: cannot be read ({fault})")
        return []
    if not found:
        faults.append(f"{path}: this folder has no file that ends in .toml")
    return found[:_MOST_FILES]


def _tables(file: Path, faults: list[str]) -> list[dict[str, Any]]:
    """The file's tables; where it is not TOML, those of its tables that are, one by one."""
    try:
        with file.open("rb") as stream:
            text = stream.read(_MOST_BYTES).decode(errors="replace")
    except (OSError, ValueError) as fault:
        faults.append(f"{file}: cannot be read ({getattr(fault, 'strerror', None) or fault})")
        return []
    text = text.replace("\r\n", "\n")
    with contextlib.suppress(ValueError, RecursionError):
        return [tomllib.loads(text)]
    tables: list[dict[str, Any]] = []
    for piece in _TABLE.split(text):
        try:
            tables.append(tomllib.loads(piece))
        except (ValueError, RecursionError) as fault:
            if "relay" in piece:
                head = piece.strip().splitlines()[0][:_LONGEST_HEAD]
                faults.append(f"{file}: {head}: names relays, and is not TOML ({fault})")
    return tables


def _circuits(table: dict[str, Any]) -> list[tuple[str, list[Any], Any]]:
    """Zones, lines and the health relay: the table's name, its relays as written, its level."""
    found: list[tuple[str, list[Any], Any]] = []
    for kind, key in (("zones", "relay"), ("lines", "relays")):
        entries = table.get(kind)
        for name, entry in entries.items() if isinstance(entries, dict) else ():
            if isinstance(entry, dict) and key in entry:
                relays = entry[key] if isinstance(entry[key], list) else [entry[key]]
                found.append((f"{kind}.{name}", relays, entry.get("active", "high")))
    health = table.get("health")
    if isinstance(health, dict) and "relay" in health:
        found.append(("health", [health["relay"]], health.get("active", "high")))
    return found
