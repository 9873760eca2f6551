"""The fake board as text: what a person standing before it would see."""

from __future__ import annotations

from typing import Any


def board_picture(state: dict[str, Any]) -> str:
    """Relays, bells, dials, inputs and the supply, a line each."""
    rows = [
        f"{state['building'] or 'fake board'}   24 V {'there' if state['supply'] else 'GONE'}",
        "",
    ]
    for relay in state["relays"]:
        contact = "closed" if relay["closed"] else "open  "
        bell = "  bell sounds" if relay["sounding"] else ""
        faults = f"  fault: {', '.join(relay['faults'])}" if relay["faults"] else ""
        rows.append(
            f"  {relay['name']:<22} GPIO{relay['pin']:<3} level {relay['level']}  "
            f"contact {contact}{bell}{faults}"
        )
    for name, line in state["lines"].items():
        apart = "" if len(set(line["texts"])) == 1 else "   they differ"
        swapped = "   wires of + and − exchanged" if line["swapped"] else ""
        rows.append(f"  dials of {name:<13} {'  '.join(line['texts'])}{apart}{swapped}")
    for one in state["inputs"]:
        contact = "closed" if one["closed"] else "open"
        rows.append(f"  input {one['name']:<16} GPIO{one['pin']:<3} {contact}")
    return "\n".join(rows)
