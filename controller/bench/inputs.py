"""The test `inputs`: buttons, switches and the supply, shown live while somebody works them."""

from __future__ import annotations

from collections.abc import Iterator

from controller.bench.plan import Plan
from controller.bench.steps import Announce, Note, Result, Script, Seen, Watch
from controller.building.durations import duration_text
from controller.building.faults import shown
from controller.building.wiring import PanelInput

TEST = "inputs"
SUPPLY = "supply"


def inputs(plan: Plan) -> Script:
    """Watch every input until it has been seen both ways."""
    entries = {entry.name: entry for entry in plan.panel}
    names = [*entries, *([SUPPLY] if plan.supply_sensed else [])]
    if not names:
        return
    about = f"{', '.join(names)}: until each has moved, or for {duration_text(plan.watch_ns)}."
    go = yield Announce(TEST, about, "No bell rings, and no dial moves.", " ".join(_to_do(plan)))
    seen = (yield Watch(plan.watch_ns)) if go else ()
    for one in seen:
        yield Note(_result(one, entries.get(one.name)))
    for name in names if not go else ():
        yield Note(Result(TEST, name, "", "not done", ""))


def _to_do(plan: Plan) -> Iterator[str]:
    if plan.panel:
        yield "Press each button and let it go; throw each switch and throw it back."
    if plan.supply_sensed:
        yield "Switch the 24 V off for a moment and on again."


def _result(seen: Seen, entry: PanelInput | None) -> Result:
    count = (("moves", float(seen.moves)),)
    result = Result(TEST, seen.name, _does(entry), "well", "input", (), count)
    if seen.moves >= 2:  # there and back
        return result._replace(says=(f"It moved {seen.moves} times.",))
    if seen.moves == 1:
        state = _state(seen.closed, entry)
        says = f"It moved once and stayed {state}. Work it again, and see that it comes back."
    elif entry is None:
        says = (
            "It never moved. Was the 24 V switched off? Then look at its input, and at the wire "
            "from the supply's sense."
        )
    elif seen.closed:
        says = (
            f"It reads closed all the time. Look for a stuck contact or a short circuit on "
            f"GPIO{entry.pin}, and at its `active`, which is {shown(entry.active)}."
        )
    else:
        says = (
            f"It never closed. Was it pressed? Then look at its contact, at the isolator's wetting "
            f"current, at the wire to GPIO{entry.pin}, and at its `active`, which is "
            f"{shown(entry.active)}."
        )
    return result._replace(verdict="fault", says=(says,))


def _state(closed: bool, entry: PanelInput | None) -> str:
    if entry is None:
        return "there" if closed else "gone"
    return "closed" if closed else "open"


def _does(entry: PanelInput | None) -> str:
    """What it does, in the file's words."""
    if entry is None:
        return "24 V"
    return (
        f"{entry.does} {', '.join([*entry.zones, *([entry.line] if entry.line else [])])}".strip()
    )
