"""The orders that a date follows another plan, as the daemon has them."""

from __future__ import annotations

from datetime import date

from starlette.requests import Request

from controller.page.asking import Seen


def followed(request: Request) -> dict[date, str] | None:
    """Date → plan; None where no daemon answers."""
    state: Seen = request.state.seen
    if state.picture is None or not state.live:
        return None
    return {date.fromisoformat(day): plan for day, plan in state.picture["follow"].items()}
