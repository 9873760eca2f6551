"""The daemon, asked through its socket in a person's name; its last state for when it is down."""

from __future__ import annotations

import time
from typing import Any, NamedTuple

import anyio
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request

from controller.page.settings import Settings
from controller.service.last_state import last_state_of
from controller.service.order_client import NoDaemon, OrderClient, Refused

PATIENT_SECONDS = 30.0  # an impulse in progress ends within 20 s, and a slow card stores it
SEEN_SECONDS = 2.0
FRESH_SECONDS = 0.5  # so long one answer serves all who look
MOST_AT_ONCE = 8  # orders under way
_LOOKS = frozenset(["status", "logbook", "files", "preview", "earlier"])  # change nothing


class Seen(NamedTuple):
    """What is known of the state."""

    picture: dict[str, Any] | None  # None: nothing at all
    live: bool
    age_seconds: float = 0.0  # of one that is not live
    why: str = ""  # no daemon answers; in words


class Asking:
    """What all requests of one page share."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.limit = anyio.CapacityLimiter(MOST_AT_ONCE)
        self._lock = anyio.Lock()
        self._seen: tuple[float, Seen] | None = None

    async def seen(self) -> Seen:
        """The state; not older than `FRESH_SECONDS`, however many look at once."""
        async with self._lock:
            if self._seen is None or time.monotonic() - self._seen[0] > FRESH_SECONDS:
                found = await run_in_threadpool(_look, self.settings)
                self._seen = time.monotonic(), found
            return self._seen[1]

    def forget(self) -> None:
        """Something was ordered: the state is another."""
        self._seen = None


async def ask(request: Request, order: str, **keys: Any) -> dict[str, Any]:
    """The daemon's answer to an order in the name of the person who asks.

    Raises `Refused` where it says no, `NoDaemon` where none answers; both in words.
    """
    asking: Asking = request.app.state.asking
    if order not in _LOOKS:
        keys["who"] = request.state.person.name
    try:
        return await anyio.to_thread.run_sync(
            _asked, asking.settings, order, keys, limiter=asking.limit
        )
    finally:
        if order not in _LOOKS:
            asking.forget()


async def seen(request: Request) -> Seen:
    """The state now, or the last that is known. Never raises."""
    asking: Asking = request.app.state.asking
    return await asking.seen()


def _asked(settings: Settings, order: str, keys: dict[str, Any]) -> dict[str, Any]:
    with OrderClient(settings.runtime, PATIENT_SECONDS) as client:
        return client.ask(order, **keys)


def _look(settings: Settings) -> Seen:
    try:
        with OrderClient(settings.runtime, SEEN_SECONDS) as client:
            return Seen(client.ask("status")["state"], live=True)
    except (NoDaemon, Refused) as gone:
        why = str(gone)
    try:
        last = last_state_of(settings.state)
    except OSError as fault:
        return Seen(None, live=False, why=f"{why} Its last state: {fault.strerror}.")
    if last is None:
        return Seen(None, live=False, why=why)
    age = max(0.0, (time.time_ns() - last.at_utc) / 1e9)
    return Seen(last.picture, live=False, age_seconds=age, why=why)
