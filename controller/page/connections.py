"""One visitor's connection: whoever connects and asks nothing must not keep a place for ever.

uvicorn limits how many connect at once, and how long one may rest after an answer; not how long its
first request takes to arrive, nor how long somebody takes to read.
"""

from __future__ import annotations

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

LOOK_SECONDS = 10.0  # a connection without a request is closed within two of these
MOST_LOOKS = 12  # at a request under way: its form has 30 s to arrive, and the daemon 30 to answer


class Connection(H11Protocol):
    """Closed where nothing goes on."""

    _look_at: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody has connected."""
        super().connection_made(transport)
        self._look_again(0)

    def connection_lost(self, exc: Exception | None) -> None:
        """They are gone."""
        if self._look_at is not None:
            self._look_at.cancel()
        super().connection_lost(exc)

    def _look_again(self, looks: int) -> None:
        self._look_at = self.loop.call_later(LOOK_SECONDS, self._look, self.cycle, looks)

    def _look(self, before: RequestResponseCycle | None, looks: int) -> None:
        """Whether another request has begun since the last look."""
        if self.cycle is not before:
            self._look_again(0)
        elif self.cycle is None or self.cycle.response_complete or looks >= MOST_LOOKS:
            self.transport.abort()
        else:
            self._look_again(looks + 1)
