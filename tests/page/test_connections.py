"""Whoever connects and asks nothing, or reads nothing, is parted from; others are not."""

from __future__ import annotations

import contextlib
import http.client
import socket
import threading
import time
from collections.abc import Iterator

import anyio
import pytest
import uvicorn
from starlette.requests import Request
from starlette.responses import PlainTextResponse

from controller.page import connections
from controller.page.connections import Connection

SECONDS = 20  # for what is waited for; none of it takes a tenth
LOOK = 0.05


@pytest.fixture
def port(monkeypatch) -> Iterator[int]:
    """A server that answers at `/`, and at `/never` does not."""
    monkeypatch.setattr(connections, "LOOK_SECONDS", LOOK)

    async def app(scope, receive, send) -> None:
        if Request(scope).url.path == "/never":
            await anyio.sleep_forever()
        if Request(scope).url.path == "/slow":
            await anyio.sleep(LOOK * 4)
        await PlainTextResponse("here")(scope, receive, send)

    config = uvicorn.Config(app, log_config=None, lifespan="off", http=Connection, ws="none")
    config.timeout_graceful_shutdown = 1
    server = uvicorn.Server(config)
    listening = socket.create_server(("127.0.0.1", 0))
    thread = threading.Thread(target=server.run, args=([listening],))
    thread.start()
    yield listening.getsockname()[1]
    server.should_exit = True
    thread.join(SECONDS)
    assert not thread.is_alive()


@pytest.fixture
def for_ever(monkeypatch) -> None:
    """A request under way would be waited for."""
    monkeypatch.setattr(connections, "MOST_LOOKS", 10**9)


@contextlib.contextmanager
def connected(port: int, sent: bytes) -> Iterator[socket.socket]:
    with socket.create_connection(("127.0.0.1", port), timeout=SECONDS) as link:
        link.sendall(sent)
        yield link


def is_parted_from(link: socket.socket) -> bool:
    """Waits until it is; a timeout is a fault."""
    with contextlib.suppress(ConnectionResetError):
        while link.recv(1000):
            pass
    return True


@pytest.mark.parametrize("sent", [b"", b"GET / HTTP/1.1\r\nHost: p", b"GET / HTTP/1.1\r\n\r"])
def test_whoever_asks_nothing_whole_is_parted_from(port, for_ever, sent):
    with connected(port, sent) as link:
        assert is_parted_from(link)


def test_a_header_now_and_then_is_no_request(port, for_ever):
    with connected(port, b"GET / HTTP/1.1\r\n") as link:
        link.settimeout(LOOK / 5)
        began, parted = time.monotonic(), False
        while not parted and time.monotonic() < began + SECONDS:
            try:
                link.sendall(b"X: y\r\n")
                parted = link.recv(100) == b""
            except TimeoutError:
                continue  # nothing yet
            except ConnectionError:
                parted = True
        assert parted


def test_who_asks_is_answered_and_may_ask_again_look_after_look(port, monkeypatch):
    look = LOOK * 10  # so that a busy machine comes to ask within it
    monkeypatch.setattr(connections, "LOOK_SECONDS", look)
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=SECONDS)
    began = time.monotonic()
    while time.monotonic() < began + 4 * look:
        link.request("GET", "/")
        assert link.getresponse().read() == b"here"
    link.close()


def test_an_answer_that_takes_its_time_is_waited_for(port):
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=SECONDS)
    link.request("GET", "/slow")
    assert link.getresponse().read() == b"here"
    link.close()


def test_what_never_ends_is_ended(port):
    with connected(port, b"GET /never HTTP/1.1\r\nHost: pi\r\n\r\n") as link:
        assert is_parted_from(link)
