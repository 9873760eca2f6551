"""Loaded by a Python under test at its start: SIGUSR1 raises an exception where it must not come.

In the daemon that is the engine's thread, in the hand its only one.
"""

from __future__ import annotations

import ctypes
import signal
import threading


class Unforeseen(Exception):
    """What nobody foresaw."""


def _raise(*_: object) -> None:
    engine = [thread for thread in threading.enumerate() if thread.name == "engine"]
    if not engine:
        raise Unforeseen("in the only thread")
    ident = ctypes.c_ulong(engine[0].ident or 0)
    ctypes.pythonapi.PyThreadState_SetAsyncExc(ident, ctypes.py_object(Unforeseen))


signal.signal(signal.SIGUSR1, _raise)
