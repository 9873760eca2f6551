"""Lines for the tests of dials, as the file would have them."""

from __future__ import annotations

from controller.building.installed import Line

SECOND = 1_000_000_000
MINUTE = 60 * SECOND


def line_of(drive: str = "alternating", **keys: str) -> Line:
    relays = [22, 23] if drive == "alternating" else [22]
    return Line.model_validate({"drive": drive, "relays": relays, **keys})
