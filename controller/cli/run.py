"""`understudy run`: the daemon."""

from __future__ import annotations

import sys
from pathlib import Path

from controller.building.faults import Faults
from controller.circuits.folders import fake_folder, runtime_folder, state_folder
from controller.circuits.lines import PinsFault
from controller.journal.faults import StoreFault
from controller.service.daemon import FAILED, Daemon, serve
from controller.service.display import watch

BAD_FILE = 2


def run(
    path: Path, *, fake: bool, as_if_right: bool, state: Path | None, runtime: Path | None
) -> int:
    """Run until told to end; the exit code."""
    if fake:
        runtime = runtime or fake_folder(path)
        state = state or runtime / "state"
    try:
        daemon = Daemon(
            path,
            state or state_folder(),
            runtime or runtime_folder(),
            fake=fake,
            right=as_if_right,
        )
        return serve(daemon, watch if fake else lambda _: None)
    except Faults as faults:
        print(faults, file=sys.stderr)
        return BAD_FILE
    except (PinsFault, StoreFault) as fault:
        print(f"understudy: {fault}", file=sys.stderr)
        return FAILED
