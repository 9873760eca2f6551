"""Processes of their own for the tests of the store: they open it, and die as they are told."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path


def child(code: str, *arguments: object) -> subprocess.Popen[str]:
    """Run Python code that finds the tests' modules; it is heard and spoken to through pipes."""
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, arguments)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )


_HOLDER = """
import sys
from pathlib import Path
from journal_records import stamp
from controller.journal.store import Store
store = Store(Path(sys.argv[1]))
store.commit([stamp(77)])
print("open", flush=True)
sys.stdin.readline()
store.close()
"""


def holder(store: Path) -> subprocess.Popen[str]:
    """A daemon's stand-in: it has the store open, a commit in its log, until it hears a line."""
    started = child(_HOLDER, store)
    assert started.stdout is not None
    assert started.stdout.readline() == "open\n"
    return started
