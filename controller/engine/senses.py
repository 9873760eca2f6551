"""What the inputs say of contacts and supply, and what stands still for it (rules 12, 13)."""

from __future__ import annotations

from controller.building.durations import MINUTE
from controller.engine.bells import take_back
from controller.engine.contract import Cancel, ContactFault, ContactKind
from controller.engine.faults import begin_fault, end_fault, fault_lasts
from controller.engine.state import FAR
from controller.engine.turn import Turn

_REMEMBERED_NS = 10 * MINUTE  # no impulse and no sounding takes longer to end
_SAYS: dict[ContactKind, str] = {
    "stuck": "its contact does not close",
    "welded": "its contact does not open",
    "slow": "its contact moves late",
    "bouncing": "its contact bounces",
}
_KINDS = tuple(_SAYS)


def supply_moved(turn: Turn, mono: int, *, there: bool) -> None:
    """The 24 V went or came; what has not begun is taken back while it is away."""
    if there == turn.supply_there:
        return
    if there:
        *earlier, (since, _) = turn.supply_lost
        kept = (*earlier, (since, max(since, mono)))
        long_ago = turn.now.mono - _REMEMBERED_NS
        turn.supply_lost = tuple(span for span in kept if span[1] > long_ago)
        return
    turn.supply_lost = (*turn.supply_lost, (mono, FAR))
    for name, line in turn.lines.items():
        if line.play is not None and line.play.start_mono > turn.now.mono and not line.cancelling:
            turn.lines[name] = line._replace(cancelling=True)
            turn.cancels.append(Cancel(line.play.id, stop=False))
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is not None and sounding.play.start_mono > turn.now.mono:
            take_back(turn, name, sounding)


def contact_found(turn: Turn, found: ContactFault) -> None:
    """A relay's contact does not do as it is told; or does again."""
    name = _fault_name(turn, found.circuit, found.relay, found.kind)
    if name is None:
        return
    if not found.lasts:
        end_fault(turn, name)
        return
    says = _SAYS[found.kind]
    if found.circuit.startswith("zones."):
        if found.kind == "welded":
            says += ": the bells may be ringing on; take their supply away at the fuse"
        elif found.kind == "stuck":
            says += ": its rings are not given"
    elif found.kind in ("stuck", "welded"):
        says += ": the line stands"
    begin_fault(turn, name, says)


def _fault_name(turn: Turn, circuit: str, relay: int, kind: ContactKind) -> str | None:
    family, name = circuit.split(".", 1)
    if family == "zones":
        return f"{circuit} {kind}" if name in turn.building.zones else None
    line = turn.building.lines.get(name)
    if line is None:
        return None
    mark = "" if line.drive == "single" else "+-"[relay]
    return f"{circuit}{mark} {kind}"


def forget_contacts(turn: Turn) -> None:
    """A new hand sees for itself: what the one before it had found is ended."""
    for name in turn.faults:
        if name.endswith(_KINDS):
            end_fault(turn, name)


def welded(turn: Turn, line: str) -> bool:
    """Whether a contact of this line does not open: then neither polarity can be given."""
    return any(fault_lasts(turn, f"lines.{line}{mark} welded") for mark in ("", "+", "-"))
