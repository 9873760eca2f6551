"""How rings of the timetable enter: the fence, and everything due while nobody could ring.

Rings due before the frontier have entered; it moves with the trusted clock, `lead` ahead. Steps of
the clock need no rule of their own: forwards, what was skipped is late; backwards, the frontier
goes back and what was given is known by its identity.
"""

from __future__ import annotations

from controller.engine.bells import why_missed
from controller.engine.records import EraRow, MissCount
from controller.engine.state import ERA_NS, FAR, Waiting
from controller.engine.turn import Turn
from controller.timetable.rings import Ring

MOST_SINGLE_MISSES = 1_000
_LONGEST_ABSENCE = 400 * 86_400 * 1_000_000_000  # what lies further back is not told


def enter_due_rings(turn: Turn) -> None:
    """Let the rings enter that are due by now or within `lead`; settle those past grace."""
    now = turn.now
    if not now.trusted:
        return
    if turn.frontier is None:  # a first run with an empty store begins at its first trusted instant
        turn.frontier = turn.fence = now.utc
        turn.fence_at_start = False
        turn.note("", "first trusted instant: whatever was due before it is not rung")
    if turn.frontier > now.utc + ERA_NS:
        _begin_era(turn)
    if turn.fence_at_start:
        assert turn.off_until is not None
        _raise_fence(turn, turn.off_until)
    horizon = now.utc + turn.building.clock.lead_ns + 1
    if horizon < turn.frontier:
        _set_back(turn)
    if turn.next_due < 0:
        turn.next_due = _next_due(turn, turn.frontier)
    if turn.next_due < horizon:
        _enter(turn, turn.frontier, horizon)
        turn.next_due = _next_due(turn, horizon)
    turn.frontier = max(turn.frontier, horizon)
    turn.look_again_utc(turn.next_due - turn.building.clock.lead_ns)


def _begin_era(turn: Turn) -> None:
    """The clock was far ahead, and is right now: what it gave by then bars nothing."""
    now = turn.now.utc
    turn.era += 1
    turn.store(EraRow(turn.era, now))
    ahead = turn.building.civil.aware(turn.frontier or now)
    turn.note("", f"the clock was set back from {ahead:%Y-%m-%d %H:%M}: a new era begins")
    if turn.fence is not None and turn.fence > now + ERA_NS:
        turn.fence = now
    turn.forget_given_after(now + ERA_NS)


def _set_back(turn: Turn) -> None:
    """The clock went back: rings enter afresh; what was given is known by its identity."""
    now = turn.now.utc
    turn.frontier = max(turn.fence or 0, now - turn.building.clock.grace_ns)
    turn.next_due = -1


def _next_due(turn: Turn, after: int) -> int:
    due = turn.timetable.next_due(after)
    return FAR if due is None else due


def _raise_fence(turn: Turn, start_utc: int) -> None:
    """After a boot: all that was due before the daemon's start is settled and never rung."""
    assert turn.frontier is not None
    if turn.frontier < start_utc:
        _enter(turn, turn.frontier, start_utc)
        turn.waiting = [ring for ring in turn.waiting if ring.by]
    turn.frontier = turn.fence = start_utc
    turn.fence_at_start = False
    turn.next_due = -1


def _enter(turn: Turn, start: int, end: int) -> None:
    singly = 0
    counted: list[tuple[Ring, str]] = []
    behind_fence = turn.fence_at_start
    waiting = {(ring.zone, ring.written) for ring in turn.waiting}
    for ring in turn.timetable.window(max(start, end - _LONGEST_ABSENCE), end):
        if turn.is_given(ring.zone, ring.written) or (ring.zone, ring.written) in waiting:
            continue
        late = turn.now.utc > ring.due + turn.building.clock.grace_ns
        waits = Waiting(ring.zone, ring.written, ring.due, ring.closings, ring.says, "")
        if not late and not behind_fence:
            turn.waiting.append(waits)
        elif not turn.is_missed(ring.zone, ring.written):
            why = why_missed(turn, ring.due)
            if singly < MOST_SINGLE_MISSES:
                singly += 1
                turn.miss(waits, why)
            else:
                counted.append((ring, why))
    for why in dict.fromkeys(why for _, why in counted):
        dues = [ring.due for ring, its in counted if its == why]
        turn.store(MissCount(len(dues), min(dues), max(dues), why))
