"""Notices to systemd, where it listens (sd_notify(3)): a datagram to NOTIFY_SOCKET."""

from __future__ import annotations

import contextlib
import functools
import os
import socket
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.engine.state import State


def notify(*lines: str) -> None:
    """Say "READY=1", "STATUS=…", "WATCHDOG=1", "STOPPING=1" …; without systemd nothing happens.

    It never waits: where nobody takes the notices, bells and dials go on.
    """
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    with contextlib.suppress(OSError):
        _link().sendto("\n".join(lines).encode(), socket.MSG_DONTWAIT, address)


@functools.cache
def _link() -> socket.socket:
    """Kept open, for a notice a second."""
    return socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC)


def status(state: State, trusted: bool) -> str:
    """What `systemctl status` shows of it."""
    trust = "" if trusted else "clock not trusted; "
    unread = [name for name, line in state.lines.items() if not line.row.read]
    return trust + (f"unread: {', '.join(unread)}" if unread else "running")
