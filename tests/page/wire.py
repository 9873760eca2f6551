"""Requests as they come off the wire: nothing in them is put right by a client."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import NamedTuple
from urllib.parse import unquote

from anyio.from_thread import BlockingPortal, start_blocking_portal
from starlette.types import ASGIApp, Message

FORM = ("content-type", "application/x-www-form-urlencoded")


class Answered(NamedTuple):
    """What came back; of several headers of one name, all."""

    status: int
    headers: list[tuple[str, str]]
    body: bytes

    def all(self, name: str) -> list[str]:
        return [value for key, value in self.headers if key == name]

    def one(self, name: str) -> str:
        (value,) = self.all(name)
        return value


class Wire:
    """One visitor, at an address and with a scheme."""

    def __init__(self, app: ASGIApp, portal: BlockingPortal) -> None:
        self.app, self.portal = app, portal
        self.address, self.scheme = "192.0.2.7", "http"
        self.unread = 0  # bytes of the last body that nobody asked for

    def sends(
        self,
        method: str,
        target: str,
        headers: Iterable[tuple[str, str]] = (),
        body: bytes | None = b"",
        host: str = "pi:8470",
        *,
        stalls: Callable[[], Awaitable[None]] | None = None,
        told: list[Answered] | None = None,
    ) -> Answered:
        """One request. `target` is ASCII, as the server lets it through; a body of None: the
        visitor hangs up instead of sending it; `stalls` comes before its first part. What the site
        raises is raised, after its answer went to `told`.
        """
        path, _, query = target.partition("?")
        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": method,
            "scheme": self.scheme,
            "path": unquote(path),
            "raw_path": path.encode("ascii"),
            "query_string": query.encode("ascii"),
            "root_path": "",
            "headers": [
                (name.encode("latin-1"), value.encode("latin-1"))
                for name, value in [("host", host), *headers]
            ],
            "client": (self.address, 40_000),
            "server": ("127.0.0.1", 8470),
        }
        parts: list[Message] = []
        if body is not None:
            parts = [
                {"type": "http.request", "body": body[at : at + 60_000], "more_body": True}
                for at in range(0, len(body), 60_000)
            ]
            parts.append({"type": "http.request", "body": b"", "more_body": False})
        answered: list[Message] = []

        async def receive() -> Message:
            if stalls is not None:
                await stalls()
            return parts.pop(0) if parts else {"type": "http.disconnect"}

        async def send(message: Message) -> None:
            answered.append(message)

        try:
            self.portal.call(self.app, scope, receive, send)
        finally:
            self.unread = sum(len(part["body"]) for part in parts)
            found = _answer(answered)
            if told is not None:
                told.append(found)
        return found


def _answer(messages: list[Message]) -> Answered:
    started, *rest = messages
    headers = [
        (key.decode("latin-1"), value.decode("latin-1")) for key, value in started["headers"]
    ]
    return Answered(started["status"], headers, b"".join(part.get("body", b"") for part in rest))


@contextmanager
def wires(app: ASGIApp) -> Iterator[Wire]:
    """A visitor, and the loop that all of it runs in."""
    with start_blocking_portal() as portal:
        yield Wire(app, portal)
