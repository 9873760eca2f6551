"""Where the command `understudy` begins.

`release` comes before anything is imported: it opens the relays after a crash, and at once.
"""

from __future__ import annotations

import os
import sys


def main() -> None:
    """Run the command line; ends the process with its exit code."""
    _ready_streams()
    if sys.argv[1:2] == ["release"]:
        from controller.circuits.release import main as release

        sys.exit(release(sys.argv[2:]))
    from controller.cli.app import app
    from controller.cli.narrowed import narrowed

    asked = narrowed(app, sys.argv[1]) if sys.argv[1:] else app
    try:
        asked(prog_name="understudy")
    except SystemExit as end:
        sys.exit(_flushed() or end.code)


def _ready_streams() -> None:
    """A terminal that cannot show a character gets a question mark in its place."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:  # closed by whoever started us
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _flushed() -> int:
    """Write out what is still held; 0, or 1 where that failed. A reader that left is no fault."""
    try:
        sys.stdout.flush()
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # so that the interpreter's own flush is quiet
        if not isinstance(error, BrokenPipeError):
            print(f"understudy: the output could not be written: {error.strerror}", file=sys.stderr)
            return 1
    return 0
