"""Options and arguments that several commands have."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from controller.cli.completing import lines, zones

Runtime = Annotated[
    Path | None,
    typer.Option(
        metavar="FOLDER",
        help="Where the daemon's socket is; else UNDERSTUDY_RUNTIME, or the daemon's usual place.",
        show_default=False,
    ),
]
State = Annotated[
    Path | None,
    typer.Option(
        metavar="FOLDER",
        help="Where the store lives; else UNDERSTUDY_STATE, or the daemon's usual place.",
        show_default=False,
    ),
]
Zones = Annotated[
    list[str], typer.Argument(metavar="ZONE...", autocompletion=zones, show_default=False)
]
Line = Annotated[
    str | None,
    typer.Argument(metavar="LINE", help="Which line.", autocompletion=lines, show_default=False),
]
Yes = Annotated[bool, typer.Option("--yes", help="Do not ask.")]
