"""The pins of the fake board, as the hand holds them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.lines import Inputs, Outputs


class FakePins:
    """Same surface as the kernel's pins. Raises `PinsFault`, in words."""

    def __init__(self, board: Path, outputs: Outputs, inputs: Inputs) -> None:
        """Claim all lines in one message, outputs at their inactive levels."""
        self._inactive = dict(outputs)
        self._board = BoardClient(board)
        self._board.claim(self._inactive)

    def set_many(self, levels: Mapping[int, bool]) -> None:
        """Drive several lines at one instant."""
        self._board.set_levels(levels)

    def close(self) -> None:
        """All outputs inactive, then let go."""
        self._board.set_levels(self._inactive)
        self._board.close()
