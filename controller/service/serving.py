"""One daemon from its start to its end, and the signals between."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable

from controller.service.daemon import Daemon

FAILED = 1


def serve(daemon: Daemon, watch: Callable[[Daemon], None]) -> int:
    """Run until told to end; the exit code. `watch` shows a person what happens, until then."""
    daemon.ends.hear_signals()
    signal.signal(signal.SIGTERM, lambda *_: daemon.ends.put(""))
    signal.signal(signal.SIGINT, lambda *_: daemon.ends.put(""))
    on_terminal = os.isatty(1)
    # A terminal that is closed says so with the same signal, and is no terminal any more.
    signal.signal(
        signal.SIGHUP,
        lambda *_: daemon.ends.put("" if on_terminal and not os.isatty(1) else "reload"),
    )
    daemon.start()
    threading.Thread(target=watch, args=(daemon,), name="watch", daemon=True).start()
    while (word := daemon.ends.get()) == "reload":
        daemon.reload()
    if word:
        daemon.give_up(word)
        daemon.say = daemon.print_line
        daemon.speak(f"understudy ends: {word}.")
        return FAILED
    daemon.end()
    return 0
