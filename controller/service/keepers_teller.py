"""The keeper is told of faults by the command that the file names at present, if it names one."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from controller.engine.records import FaultRow
from controller.service.teller import Teller

if TYPE_CHECKING:
    from controller.building.model import Building


class KeepersTeller:
    """Nobody is told until it goes by a building; `say` as of a `Teller`."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say
        self._by: tuple[tuple[str, ...], str] | None = None
        self._teller: Teller | None = None

    def go_by(self, building: Building) -> None:
        """From now on by this file. What was being told by another command is given up."""
        by = None if building.tell is None else (building.tell.command, building.name)
        if by == self._by:
            return
        self.close(0.0)
        self._by = by
        self._teller = None if by is None else Teller(*by, self._say)

    def tell(self, fault: FaultRow) -> None:
        """It has begun, or ended."""
        if self._teller is not None:
            self._teller.tell(fault.name, "ends" if fault.until else "begins", fault.says)

    def close(self, seconds: float) -> None:
        """Wait so long for what is being told."""
        if self._teller is not None:
            self._teller.close(seconds)
