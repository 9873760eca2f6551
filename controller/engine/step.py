"""One pure step: (building, state, now, input) → (state, decision). All decisions are made here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.engine.bells import (
    amended,
    cancel_misplanned,
    sounding_ended,
    sounding_of,
    start_soundings,
    stored,
    take_back_unbegun,
)
from controller.engine.contract import (
    Amended,
    Decision,
    HandLost,
    HandReady,
    Input,
    NewBuilding,
    Now,
    Order,
    Outcome,
    Stored,
    Tick,
)
from controller.engine.entering import enter_due_rings
from controller.engine.lines import impulse_ended, line_of, step_lines
from controller.engine.orders import obey
from controller.engine.rebuild import rebuilt
from controller.engine.state import FAR, State
from controller.engine.turn import Turn

if TYPE_CHECKING:
    from controller.building.model import Building


def step(building: Building, state: State, now: Now, given: Input) -> tuple[State, Decision]:
    """Take one input. After `NewBuilding` the caller goes on with the new one."""
    assert now.boot == state.boot, "a state belongs to one boot; recover makes the next"
    if isinstance(given, Stored) and given.ok == state.storing and not _awaited(state, given.batch):
        return state, Decision(
            0,
            look_again_utc=None if state.look_utc == FAR else state.look_utc,
            look_again_mono=None if state.look_mono == FAR else state.look_mono,
        )
    if isinstance(given, NewBuilding):
        state, building = rebuilt(building, given.building, state, now), given.building
    turn = Turn(building, state, now)
    if not now.trusted:
        turn.trusted_from = None
    elif turn.trusted_from is None:
        turn.trusted_from = now.utc
        if turn.off_until is None:
            turn.off_until = turn.utc_of(state.started_mono)
    _take(turn, given)
    cancel_misplanned(turn)
    enter_due_rings(turn)
    start_soundings(turn)
    step_lines(turn)
    return turn.result()


def _awaited(state: State, batch: int) -> bool:
    """Whether a sounding's play had to wait for this batch."""
    soundings = (zone.sounding for zone in state.zones.values())
    return any(sounding is not None and sounding.batch == batch for sounding in soundings)


def _take(turn: Turn, given: Input) -> None:
    match given:
        case Tick():
            pass
        case NewBuilding():
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
        case HandReady(hand):
            _hand_lost(turn)
            turn.hand = hand
        case HandLost(hand):
            if turn.hand == hand:
                _hand_lost(turn)


def _ended(turn: Turn, outcome: Outcome) -> None:
    sounding = sounding_of(turn, outcome.play)
    if sounding is not None:
        sounding_ended(turn, *sounding, outcome)
        return
    line = line_of(turn, outcome.play)
    if line is not None:
        impulse_ended(turn, *line, outcome)


def _hand_lost(turn: Turn) -> None:
    """Plays whose instant had not come never began; of the others nobody knows, so they are cut."""
    now = turn.now.mono
    turn.hand = None
    plays = [zone.sounding.play for zone in turn.zones.values() if zone.sounding is not None]
    plays += [line.play for line in turn.lines.values() if line.play is not None]
    for play in plays:
        ahead = play.start_mono > now
        end = min(now, play.start_mono + play.edges[-1])
        _ended(turn, Outcome(play.id, "never_began" if ahead else "cut", play.start_mono, end))
