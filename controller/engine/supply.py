"""What the supply can carry beside the lines, whose current is reserved at all times (rule 9)."""

from __future__ import annotations

from controller.engine.turn import Turn

_SLACK_AMPS = 1e-9


def draw(turn: Turn, zone: str) -> float:
    """What a zone draws, A; 0 where the file does not say."""
    known = turn.building.zones.get(zone)
    return 0.0 if known is None else known.amps


def _others(turn: Turn, zone: str) -> list[tuple[int, float]]:
    """Last end (mono) and current of every other zone's sounding; one decided is under way."""
    return [
        (other.sounding.surely_over, draw(turn, name))
        for name, other in turn.zones.items()
        if other.sounding is not None and name != zone
    ]


def supply_free(turn: Turn, zone: str, start: int) -> int | None:
    """The first instant (mono) from `start` at which the supply can carry this zone too."""
    room = turn.building.bell_amps
    assert room is not None
    others = _others(turn, zone)
    for instant in (start, *sorted(end for end, _ in others if end > start)):
        used = sum(amps for end, amps in others if end > instant)
        if used + draw(turn, zone) <= room + _SLACK_AMPS:
            return instant
    return None
