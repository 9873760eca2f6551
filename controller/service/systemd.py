"""Notices to systemd, where it listens (sd_notify(3)): a datagram to NOTIFY_SOCKET."""

from __future__ import annotations

import contextlib
import os
import socket


def notify(*lines: str) -> None:
    """Say "READY=1", "STATUS=…", "WATCHDOG=1", "STOPPING=1" …; without systemd nothing happens."""
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    with (
        contextlib.suppress(OSError),
        socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as link,
    ):
        link.sendto("\n".join(lines).encode(), address)
