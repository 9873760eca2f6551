"""What the inputs say of contacts and supply, and what stands still for it (rules 12, 13)."""

from __future__ import annotations

from controller.building.durations import SECOND
from controller.engine.contract import Cancel, ContactFault, ContactKind
from controller.engine.faults import SUPPLY, begin_fault, comes_and_goes, end_fault, fault_lasts
from controller.engine.soundings import take_back, unbegun
from controller.engine.state import FAR
from controller.engine.turn import Turn
from controller.timetable.contact import Closing

_MOST_ABSENCES = 200  # of the supply, of which a play under way may still have to be told
_SETTLES_NS = SECOND  # a supply that comes and goes has to stay for so long to be used again
_SAYS: dict[ContactKind, str] = {
    "stuck": "its contact does not close",
    "welded": "its contact does not open",
    "slow": "its contact moves late",
    "bouncing": "its contact bounces",
}
_ENDINGS = tuple(f" {kind}" for kind in _SAYS)


def supply_moved(turn: Turn, mono: int, *, there: bool) -> None:
    """The 24 V went or came; what has not begun is taken back while it is away."""
    if there == turn.supply_there:
        return
    if there:
        *earlier, (since, _) = turn.supply_lost
        turn.supply_lost = _still_asked_for(turn, [*earlier, (since, max(since, mono))])
        return
    turn.supply_lost = (*turn.supply_lost, (mono, FAR))
    for name, line in turn.lines.items():
        if line.play is not None and not line.cancelling:  # one that has begun goes on
            turn.lines[name] = line._replace(cancelling=True)
            turn.cancels.append(Cancel(line.play.id, stop=False))
    for name, zone in turn.zones.items():
        sounding = zone.sounding
        if sounding is None or sounding.cancelling:
            continue
        if unbegun(turn, sounding):
            take_back(turn, name, sounding)


def _still_asked_for(turn: Turn, absences: list[Closing]) -> tuple[Closing, ...]:
    """The last, and those during which something under way may have been given."""
    plays = [line.play for line in turn.lines.values() if line.play is not None]
    plays += [zone.sounding.play for zone in turn.zones.values() if zone.sounding is not None]
    since = min((play.start_mono for play in plays), default=turn.now.mono)
    asked = [span for span in absences[:-1] if span[1] > since]
    # Of too many those in the middle go: that it was away, and came back, can still be told.
    half = _MOST_ABSENCES // 2
    if len(asked) > _MOST_ABSENCES:
        asked = asked[:half] + asked[-half:]
    return (*asked, absences[-1])


def supply_bears(turn: Turn) -> bool:
    """Whether the 24 V is there, and stays: what begins now can be given whole."""
    if not turn.supply_lost:
        return True
    came = turn.supply_lost[-1][1]
    if came == FAR:
        return False
    if comes_and_goes(turn, SUPPLY) and turn.now.mono < came + _SETTLES_NS:
        turn.look_again_mono(came + _SETTLES_NS)
        return False
    return True


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
        if found.kind == "welded":
            _may_have_moved(turn, found.circuit.removeprefix("lines."))
    begin_fault(turn, name, says)


def _may_have_moved(turn: Turn, name: str) -> None:
    """The dials of a single line take an impulse whenever current comes back through a contact
    that is welded, after a power cut or as somebody mends it: the line is doubtful. Those of an
    alternating line stay as they are, as the polarity is the same.
    """
    line = turn.lines[name]
    if turn.building.lines[name].drive != "single":
        return
    if line.row.read and not line.row.doubtful:
        row = line.row._replace(doubtful=True)
        turn.lines[name] = line._replace(row=row, owed=False)
        turn.store(row)
        turn.note("", f"{name}: its contact does not open, and the dials may move: it is doubtful")


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
        if name.endswith(_ENDINGS):
            end_fault(turn, name)


def welded(turn: Turn, line: str) -> bool:
    """Whether a contact of this line does not open: then neither polarity can be given."""
    return any(fault_lasts(turn, f"lines.{line}{mark} welded") for mark in ("", "+", "-"))
