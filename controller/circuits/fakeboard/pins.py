"""The pins of the fake board, as the hand holds them."""

from __future__ import annotations

import contextlib
import os
import select
from collections.abc import Mapping
from pathlib import Path

from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.held import HeldLines
from controller.circuits.lines import InputEdge, Inputs, Outputs


class FakePins(HeldLines):
    """Same surface as the kernel's pins. Raises `PinsFault`, in words."""

    def __init__(self, board: Path, outputs: Outputs, inputs: Inputs) -> None:
        """Claim all lines in one message, outputs at their inactive levels."""
        super().__init__(outputs, inputs)
        self._board = BoardClient(board)
        self._closed = False
        try:
            self._told = self._board.claim(self.outputs, self.inputs)
        except BaseException:
            self._board.close()
            raise
        # An edge may come along with an answer, or with more than are read at once; then the socket
        # has nothing more to read, and a select on it alone would sleep over what was heard.
        self._heard = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._either = select.epoll()
        self._either.register(self._board, select.EPOLLIN)
        self._either.register(self._heard, select.EPOLLIN)

    def set_many(self, levels: Mapping[int, bool]) -> None:
        """Drive several lines at one instant. It is done when this returns."""
        assert levels.keys() <= self.outputs.keys(), "only outputs are driven"
        if levels:
            self._board.set_levels(levels)
            self._mark_heard()

    def level(self, pin: int) -> bool:
        """The level at the pin now: of an input, as debounced."""
        high = self._board.read([pin])[pin]
        self._mark_heard()
        return high

    def fileno(self) -> int:
        """For select: readable while an input has something to tell, or the board is gone."""
        return self._either.fileno()

    def read_events(self) -> list[InputEdge]:
        """What the inputs did since last asked, in order; does not wait. Devices are told too."""
        with contextlib.suppress(BlockingIOError):
            os.eventfd_read(self._heard)
        edges = [edge for edge in self._board.edges() if self._tell(edge)]
        self._mark_heard()
        return edges

    def close(self) -> None:
        """All outputs inactive, then let go; again is no harm. `PinsFault`: the board is gone."""
        if self._closed:
            return
        self._closed = True
        self._tell_no_more()
        try:
            if self.outputs:
                self._board.set_levels(self.outputs)
        finally:
            self._either.close()
            os.close(self._heard)
            self._board.close()

    @property
    def closed(self) -> bool:
        """Whether the lines have been let go."""
        return self._closed

    def _mark_heard(self) -> None:
        if self._board.has_edges():
            os.eventfd_write(self._heard, 1)
