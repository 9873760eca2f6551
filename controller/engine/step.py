"""One pure step: (building, state, now, input) → (state, decision). All decisions are made here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.engine.bells import (
    cancel_misplanned,
    sounding_ended,
    start_soundings,
    stored,
    take_back_unbegun,
)
from controller.engine.contract import (
    Amended,
    ContactFault,
    Decision,
    FaultFound,
    HandLost,
    HandReady,
    Input,
    NewBuilding,
    Now,
    Order,
    Outcome,
    PanelMoved,
    Stored,
    SupplyMoved,
    Tick,
)
from controller.engine.entering import enter_due_rings
from controller.engine.faults import HAND, begin_fault, end_fault, look_for_faults
from controller.engine.growing import amended, let_go
from controller.engine.lines import impulse_ended, line_of, step_lines
from controller.engine.orders import obey
from controller.engine.panel import look_at_panel, panel_at_start, panel_moved, panel_unseen
from controller.engine.rebuild import rebuilt
from controller.engine.ringing import answer_rings
from controller.engine.senses import contact_found, forget_contacts, supply_moved
from controller.engine.soundings import sounding_of
from controller.engine.state import FAR, State
from controller.engine.trust import as_vouched, keep_trust
from controller.engine.turn import Turn

if TYPE_CHECKING:
    from controller.building.model import Building


def step(building: Building, state: State, now: Now, given: Input) -> tuple[State, Decision]:
    """Take one input. After `NewBuilding` the caller goes on with the new one."""
    assert now.boot == state.boot, "a state belongs to one boot; recover makes the next"
    if isinstance(given, Stored) and given.ok == state.storing and not _awaited(state, given.batch):
        return state, _as_it_was(state)
    if isinstance(given, NewBuilding):
        state, building = rebuilt(building, given.building, state, now), given.building
    turn = Turn(building, state, now)
    turn.go_by(as_vouched(state, now))
    keep_trust(turn, vouched=now.trusted)
    _take(turn, given)
    cancel_misplanned(turn)
    enter_due_rings(turn)
    start_soundings(turn)
    answer_rings(turn)
    step_lines(turn)
    if turn.presses:
        look_at_panel(turn)
    look_for_faults(turn)
    return turn.result()


def _as_it_was(state: State) -> Decision:
    """Nothing to do beyond what was decided last."""
    utc = None if state.look_utc == FAR else state.look_utc
    mono = None if state.look_mono == FAR else state.look_mono
    return Decision(0, look_again_utc=utc, look_again_mono=mono, well=state.well)


def _awaited(state: State, batch: int) -> bool:
    """Whether a sounding's play, or its amendment, had to wait for this batch."""
    for zone in state.zones.values():
        sounding = zone.sounding
        if sounding is not None and batch in (sounding.batch, sounding.unsent):
            return True
    return False


def _take(turn: Turn, given: Input) -> None:
    match given:
        case Tick():
            pass
        case NewBuilding():
            let_go(turn)
            take_back_unbegun(turn)
        case Stored(batch, ok):
            turn.storing = ok
            stored(turn, batch)
        case Outcome():
            _ended(turn, given)
        case Amended(play, accepted):
            amended(turn, play, accepted)
        case Order():
            obey(turn, given)
        case HandReady():
            _hand_lost(turn)
            _hand_ready(turn, given)
        case HandLost(hand):
            if turn.hand == hand:
                _hand_lost(turn)
        case PanelMoved(name, closed):
            panel_moved(turn, name, closed=closed)
        case SupplyMoved(there, mono):
            supply_moved(turn, mono, there=there)
        case ContactFault():
            contact_found(turn, given)
        case FaultFound(name, says):
            if says:
                begin_fault(turn, name, says)
            else:
                end_fault(turn, name)


def _ended(turn: Turn, outcome: Outcome) -> None:
    sounding = sounding_of(turn, outcome.play)
    if sounding is not None:
        sounding_ended(turn, *sounding, outcome)
        return
    line = line_of(turn, outcome.play)
    if line is not None:
        impulse_ended(turn, *line, outcome)


def _hand_ready(turn: Turn, ready: HandReady) -> None:
    """A new hand: what its inputs read stands for whatever was known of them before."""
    turn.hand = ready.hand
    end_fault(turn, HAND)
    forget_contacts(turn)
    panel_at_start(turn, dict(ready.panel))
    supply_moved(turn, turn.now.mono, there=ready.supply)


def _hand_lost(turn: Turn) -> None:
    """Plays whose instant had not come never began; of the others nobody knows, so they are cut."""
    now = turn.now.mono
    turn.hand = None
    panel_unseen(turn)
    plays = [zone.sounding.play for zone in turn.zones.values() if zone.sounding is not None]
    plays += [line.play for line in turn.lines.values() if line.play is not None]
    for play in plays:
        ahead = play.start_mono > now
        end = min(now, play.start_mono + play.edges[-1])
        _ended(turn, Outcome(play.id, "never_began" if ahead else "cut", play.start_mono, end))
    let_go(turn)
