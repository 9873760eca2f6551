"""What was decided and is not stored, in the runtime folder, for as long as storing fails.

A mere restart is exact with it (design rule 19); a power cut takes it along, since that folder lies
in memory, and so does another run of the machine, whose boot it does not name.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any, get_args

from controller.engine.records import LineRow, Record, StepRow
from controller.journal.faults import StoreFault

_KINDS: dict[str, Any] = {kind.__name__: kind for kind in get_args(Record)}


class Mirror:
    """One file, `unstored.json`, written whole or not at all. For several threads in turn."""

    def __init__(self, path: Path, boot: str) -> None:
        """`boot` names this run of the machine."""
        self.path = path
        self._boot = boot

    def write(self, records: Iterable[Record]) -> None:
        """Hold these records, in place of what it held. Raises `StoreFault`."""
        plain = [[type(record).__name__, *record] for record in records]
        new = self.path.with_name(self.path.name + ".new")
        try:
            new.write_text(json.dumps({"boot": self._boot, "records": plain}), encoding="utf-8")
            new.replace(self.path)
        except OSError as fault:
            raise StoreFault(f"{self.path}: {os.strerror(fault.errno or 0)}") from fault

    def read(self) -> list[Record]:
        """What it holds of this run of the machine. Raises `StoreFault` where it makes no sense."""
        try:
            plain = json.loads(self.path.read_text(encoding="utf-8"))
            if plain["boot"] != self._boot:
                return []
            return [_record(*one) for one in plain["records"]]
        except FileNotFoundError:
            return []
        except (OSError, ValueError, TypeError, KeyError) as fault:
            raise StoreFault(f"{self.path}: cannot be read ({fault!r}); it is not used") from fault

    def clear(self) -> None:
        """All is stored."""
        try:
            self.path.unlink(missing_ok=True)
        except OSError as fault:
            raise StoreFault(f"{self.path}: {os.strerror(fault.errno or 0)}") from fault


def _record(kind: str, *fields: Any) -> Record:
    """The record of its kind and fields, in which lists stand for tuples."""
    made = _KINDS[kind](*(tuple(field) if isinstance(field, list) else field for field in fields))
    if isinstance(made, LineRow) and made.step is not None:
        made = made._replace(step=StepRow(*made.step))
    record: Record = made
    return record
