"""What a person does about a thing that is not settled: the orders, and the same as a command."""

from __future__ import annotations

TRUST_CLOCK = ("trust-clock",)
ACKNOWLEDGE = ("acknowledge",)
_LINES = "understudy lines {line}"
COMMANDS = {
    TRUST_CLOCK: "once you have seen that the clock is right: understudy trust-clock",
    ACKNOWLEDGE: "it has ended; seen? understudy acknowledge",
    ("set",): f"{_LINES} set HH:MM",
    ("go", "set"): f"{_LINES} go, or set HH:MM",
    ("right", "set"): f"look at the dials: {_LINES} right, or set HH:MM",
    ("right", "stood"): f"look at the dials: {_LINES} right, or stood",
    ("right", "hold"): f"look at the dials: {_LINES} right; if they are not, hold, then set HH:MM",
    (): "",
}


def command_of(orders: tuple[str, ...], line: str = "") -> str:
    """What to type, for people; "" where nothing is to be settled."""
    return COMMANDS[orders].format(line=line)
