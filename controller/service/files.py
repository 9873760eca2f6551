"""The building's files under a running daemon: looked at, reloaded, and the keeper's edited.

One at a time; the file that runs goes on wherever the new one has faults.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from controller.building.differences import wiring_differences
from controller.building.faults import Faults
from controller.building.file import fingerprint_of, read
from controller.editing.keeper_file import EditRefused, proposed, write
from controller.editing.undoing import Earlier, earlier, versions_folder
from controller.engine.contract import FaultFound
from controller.service.last_good import last_good_folder
from controller.timetable.days import Timetable
from controller.timetable.differences import differences, summary
from controller.timetable.silences import silences

if TYPE_CHECKING:
    from controller.building.model import Building
    from controller.engine.state import State

FAULT = "file"  # the name under which a file that cannot be taken is a fault


class Foreseen(NamedTuple):
    """What another file would change in the coming fourteen days, in words."""

    changes: list[str]
    silences: list[str]  # days and zones that would not ring at all any more
    fingerprint: str  # of the files as they lie there


class Files:
    def __init__(
        self,
        path: Path,
        state_folder: Path,
        running: Callable[[], tuple[Building, State]],
        take_up: Callable[[Building], str],
        found: Callable[[FaultFound], None],
        noted: Callable[[str, str], None],
    ) -> None:
        """`take_up` keeps a copy of another building's files, gives the engine the building and
        says in words when it counts; `noted` has the logbook tell who did what.
        """
        self.path = path
        self._state_folder = state_folder
        self._running = running
        self._take_up = take_up
        self._found = found
        self._noted = noted
        self._lock = threading.Lock()

    def texts(self) -> dict[str, str]:
        """The files as they run, by name."""
        kept = sorted(last_good_folder(self._state_folder).glob("*.toml"))
        return {
            sheet.name if self.path.is_dir() else self.path.name: sheet.read_bytes().decode()
            for sheet in kept
        }

    def earlier(self) -> Earlier:
        """A file as it was before the last edit. Raises `Faults` or `EditRefused`."""
        with self._lock:
            return earlier(self.path, versions_folder(self._state_folder, self.path))

    def preview(self, name: str, text: str) -> Foreseen:
        """What a reload, or an edit, would change in the coming fourteen days.

        Raises `Faults` or `EditRefused`.
        """
        building, _ = self._running()
        with self._lock:
            fingerprint = fingerprint_of(self.path)
            new = proposed(self.path, name, text, building) if name else read(self.path)
        return Foreseen(*self._changes(new), fingerprint)

    def reload(self, fingerprint: str, who: str) -> str:
        """Take the files as they are, where they still have this fingerprint ("": whatever it is).
        Raises `Faults` or `EditRefused`.
        """
        with self._lock:
            building = self._read()
            if fingerprint not in ("", building.fingerprint):
                raise EditRefused("The files were changed since they were looked at: look again.")
            self._noted(who, "reload")
            return self._taken(building)

    def edit(self, name: str, text: str, was: str, who: str) -> str:
        """Replace the keeper's file and take it up. Raises `Faults` or `EditRefused`."""
        building, _ = self._running()
        with self._lock:
            if fingerprint_of(self.path) != was:
                raise EditRefused(
                    "The files were changed since this edit was begun: begin it again from them."
                )
            proposed(self.path, name, text, building)
            write(self.path, name, text, versions_folder(self._state_folder, self.path))
            self._noted(who, f"edit: {name} is replaced, and the version before it kept")
            taken = self._taken(self._read())
            return f"{name} is written; the version before it is kept. {taken}"

    def _read(self) -> Building:
        try:
            return read(self.path)
        except Faults:
            says = f"{self.path} has faults (`check` names them): what was running goes on"
            self._found(FaultFound(FAULT, says))
            raise

    def _taken(self, building: Building) -> str:
        changes, _ = self._changes(building)
        self._found(FaultFound(FAULT, ""))
        when = self._take_up(building)
        return when if changes else f"{when} Nothing changes in the coming 14 days."

    def _changes(self, new: Building) -> tuple[list[str], list[str]]:
        """What would change, and what would fall silent, in words."""
        building, state = self._running()
        now = time.time_ns()
        # Timetables of this thread's own: they remember days as they are asked for them.
        follow = {date.fromisoformat(day): plan for day, plan in state.follow}
        rings = differences(Timetable(building, follow), Timetable(new, follow), now)
        changes = [*wiring_differences(building, new), *summary(rings, new.civil)]
        return changes, silences(rings, new.civil.date_at(now))
