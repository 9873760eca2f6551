"""`understudy run`: the daemon."""

from __future__ import annotations

import sys
from pathlib import Path

from controller.circuits.folders import (
    fake_folder,
    fake_state_folder,
    runtime_folder,
    state_folder,
)
from controller.service.daemon import Daemon
from controller.service.serving import serve


def run(
    path: Path,
    *,
    fake: bool,
    as_if_right: bool,
    state: Path | None,
    runtime: Path | None,
    group: str | None,
) -> int:
    """Run until told to end; the exit code.

    Raises `Faults`, `PinsFault`, `StoreFault` or `OSError` where it cannot begin.
    """
    if fake:
        runtime = runtime or fake_folder(path)
        state = state or fake_state_folder(runtime)
    daemon = Daemon(
        path,
        state or state_folder(),
        runtime or runtime_folder(),
        fake=fake,
        right=as_if_right,
        group=group,
    )
    if fake and sys.stdout.isatty():
        from controller.service.display import watch

        return serve(daemon, watch)
    return serve(daemon, lambda _: None)
