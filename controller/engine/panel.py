"""The old panel: buttons and switches, as the hand reads them (design section 5).

    ring    rings while pressed, at most `longest`
    stop    has opened the bells' relays in the hand already; here it is written down
    quiet   while closed nothing rings in its zones, by hand neither: somebody may be at the bell
    step    one impulse a press, to correct dials

Only a closing that was seen counts: a button that is closed at the start, or stays closed, does
nothing more until it is let go and pressed again. A switch counts as it stands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.building.durations import MINUTE
from controller.engine.contract import Order
from controller.engine.faults import begin_fault, end_fault, fault_lasts
from controller.engine.growing import let_go
from controller.engine.line_orders import step_line
from controller.engine.ringing import ring_by_hand, stop_all
from controller.engine.soundings import end_sounding
from controller.engine.turn import NOBODY, PANEL, Turn
from controller.engine.wishes import RingByHand, StepLine, StopAll

if TYPE_CHECKING:
    from controller.building.installed import PanelEntry

MOST_PRESSES = 30  # a minute; a contact that closes more often is broken, not pressed
STUCK_NS = 2 * MINUTE  # nobody presses a button for so long


def panel_at_start(turn: Turn, closed: dict[str, bool]) -> None:
    """What a new hand reads: switches count as they stand, a button that is closed does nothing."""
    for name in turn.faults:
        if name.startswith(PANEL):
            end_fault(turn, name)
    turn.presses = {}
    turn.panel = {name: closed.get(name, False) for name in turn.building.panel}
    for name, entry in turn.building.panel.items():
        if turn.panel[name] and entry.does == "quiet":
            _keep_quiet(turn, entry)
        elif turn.panel[name]:
            begin_fault(turn, PANEL + name, "closed at the start: does nothing until let go")


def panel_unseen(turn: Turn) -> None:
    """The hand is gone: switches count as they stood, and nobody knows of a button being pressed.

    Its rings that have not begun are let go of by whoever sees to this.
    """
    turn.panel = {
        name: closed
        and (entry := turn.building.panel.get(name)) is not None
        and entry.does == "quiet"
        for name, closed in turn.panel.items()
    }


def panel_moved(turn: Turn, name: str, *, closed: bool) -> None:
    """A contact of the panel was closed or opened."""
    entry = turn.building.panel.get(name)
    if entry is None or turn.panel.get(name, False) == closed:
        return
    turn.panel = {**turn.panel, name: closed}
    who = PANEL + name
    if closed:
        since = turn.now.mono - MINUTE
        lately = [mono for mono in turn.presses.get(name, ()) if mono > since]
        turn.presses = {**turn.presses, name: (*lately[-MOST_PRESSES:], turn.now.mono)}
    else:
        end_fault(turn, who)
    chatters = len(turn.presses.get(name, ())) > MOST_PRESSES
    if not chatters:
        turn.note(who, _moved_words(entry, closed=closed))
    match entry.does, closed:
        case "quiet", True:
            _keep_quiet(turn, entry)
            if chatters:
                begin_fault(turn, f"{who} chatters", "closes and opens without end")
        case "ring", False:
            let_go(turn)
        case _, False:
            pass
        case _ if chatters:
            begin_fault(turn, f"{who} chatters", "closes and opens without end: ignored")
        case "ring", True:
            longest = max(turn.building.zones[zone].longest_ns for zone in entry.zones)
            ring_by_hand(turn, Order(NOBODY, who, RingByHand(entry.zones, longest)))
        case "stop", True:
            stop_all(turn, Order(NOBODY, who, StopAll()))
        case "step", True:
            assert entry.line is not None, "the file is refused without"
            step_line(turn, Order(NOBODY, who, StepLine(entry.line, 1)))


def _moved_words(entry: PanelEntry, *, closed: bool) -> str:
    if entry.does == "quiet":
        return f"switch {'closed: quiet' if closed else 'opened: rings again'}, {_zones(entry)}"
    return f"{entry.does} button {'pressed' if closed else 'let go'}"


def _zones(entry: PanelEntry) -> str:
    return ", ".join(entry.zones)


def _keep_quiet(turn: Turn, entry: PanelEntry) -> None:
    for zone in entry.zones:
        end_sounding(turn, zone, "panel")


def look_at_panel(turn: Turn) -> None:
    """See whether a button is held for too long, and whether one that chattered stands still."""
    for name, closings in turn.presses.items():
        last = closings[-1]
        entry = turn.building.panel.get(name)
        if entry is None:
            continue
        if turn.panel.get(name, False) and entry.does != "quiet":
            if turn.now.mono >= last + STUCK_NS:
                begin_fault(turn, PANEL + name, "stays closed: does nothing until let go")
            else:
                turn.look_again_mono(last + STUCK_NS)
        if fault_lasts(turn, f"{PANEL}{name} chatters"):
            if turn.now.mono >= last + MINUTE:
                end_fault(turn, f"{PANEL}{name} chatters")
            else:
                turn.look_again_mono(last + MINUTE)
