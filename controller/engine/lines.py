"""How a line of dials is driven: one impulse at a time, stored before it is given.

    rest ──due within lead──▶ begun (stored, sent) ──done──▶ rest, shown + 1
                              begun ──never_began──▶ rest (void), judged afresh
                              begun ──cut──▶ alternating: given again, whole, same polarity
                                             single: taken, and doubtful

A line that is unread stands and asks; a held one gives nothing, not even a repeat.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.dials.position import next_change, true_position, verdict
from controller.engine.contract import Cancel, LineRow, Outcome, Play, StepRow
from controller.engine.state import LineState
from controller.engine.turn import Turn

if TYPE_CHECKING:
    from controller.building.model import Line

RETRY_NS = 1_000_000_000  # after the hand refused a play
OTHER = {"+": "-", "-": "+"}


def unread(name: str, line: Line) -> LineRow:
    """A line of which nobody has said what its dials show."""
    return LineRow(name, False, 0, line.positions, "-", False, False, None, 0)


def step_lines(turn: Turn) -> None:
    """Give each line what it needs now, or say when to look again."""
    for name, state in turn.lines.items():
        line = turn.building.lines.get(name)
        if line is not None:
            _consider(turn, name, line, state)


def _consider(turn: Turn, name: str, line: Line, state: LineState) -> None:
    row = state.row
    if state.play is not None:
        step = row.step
        assert step is not None, "a play out on a line is always stored as a step"
        planned = step.counts and not (state.cancelling or step.again)
        if planned and turn.stepped(step.start_utc, step.start_mono):
            turn.lines[name] = state._replace(cancelling=True)
            turn.cancels.append(Cancel(state.play.id, stop=False))
        return
    if turn.hand is None or row.held:
        return
    now = turn.now
    if state.not_before > now.mono:
        turn.look_again_mono(state.not_before)
        return
    start = max(now.mono, state.rest_until)
    if row.step is not None:
        _give(turn, name, line, state, start, row.step._replace(again=True))
        return
    if state.steps > 0:
        step = _new_step(turn, line, row, start, counts=False)
        _give(turn, name, line, state._replace(steps=state.steps - 1), start, step)
        return
    if not row.read or not now.trusted:
        return
    civil = turn.building.civil
    at = turn.utc_of(start)
    if verdict(line, row.shown, true_position(line, civil, at)) != "drive":
        at = next_change(line, civil, at)
        ahead = at - turn.building.clock.lead_ns
        if ahead > now.utc:
            turn.look_again_utc(ahead)
            return
        if verdict(line, row.shown, true_position(line, civil, at)) != "drive":
            turn.look_again_utc(at)
            return
        start = turn.mono_of(at)
    _give(turn, name, line, state, start, _new_step(turn, line, row, start, counts=True))


def _new_step(turn: Turn, line: Line, row: LineRow, start: int, *, counts: bool) -> StepRow:
    polarity = "" if line.drive == "single" else OTHER[row.polarity]
    return StepRow(0, polarity, turn.utc_of(start), start, turn.now.boot, counts, False)  # type: ignore[arg-type]


def _give(turn: Turn, name: str, line: Line, state: LineState, start: int, step: StepRow) -> None:
    assert turn.hand is not None
    number = turn.new_play()
    if step.again:
        turn.note("", f"{name}: the impulse {step.polarity} that was cut is given again")
        step = step._replace(start_utc=turn.utc_of(start), start_mono=start, boot=turn.now.boot)
    step = step._replace(play=number)
    row = state.row._replace(step=step, last_utc=turn.now.utc)
    play = Play(
        number,
        turn.hand,
        f"lines.{name}",
        1 if step.polarity == "-" else 0,
        start,
        start + line.every_ns,
        (0, line.impulse_ns),
    )
    turn.store(row)
    turn.plays.append(play)
    turn.lines[name] = state._replace(row=row, play=play, owed=False)


def line_of(turn: Turn, play: int) -> tuple[str, LineState] | None:
    """The line to which a play belongs."""
    for name, state in turn.lines.items():
        if state.play is not None and state.play.id == play:
            return name, state
    return None


def impulse_ended(turn: Turn, name: str, state: LineState, outcome: Outcome) -> None:
    """The hand's word on an impulse."""
    row = state.row
    step = row.step
    assert step is not None
    line = turn.building.lines.get(name)
    rest = state.rest_until
    if line is not None and outcome.how != "never_began":
        rest = outcome.end + line.gap_ns
    owed = state.owed
    if outcome.how == "done":
        row = taken(row, step)
        if step.polarity:
            owed = True  # goes with the next commit: a repeat of it would do no harm
        else:
            turn.store(row)
    elif outcome.how == "never_began":
        row = never_given(row, step)
        turn.store(row)
    elif not step.polarity:
        row = taken(row, step)._replace(doubtful=True)
        turn.store(row)
        turn.note("", f"{name}: an impulse was cut; it counts as taken, and the line is doubtful")
    if line is None:
        del turn.lines[name]
        return
    refused = outcome.how == "never_began" and not state.cancelling
    steps = state.steps + (outcome.how == "never_began" and not step.counts and not step.again)
    turn.lines[name] = state._replace(
        row=row,
        play=None,
        cancelling=False,
        rest_until=rest,
        not_before=turn.now.mono + RETRY_NS if refused else 0,
        owed=owed,
        steps=steps,
        hold_orders=(),
    )
    if state.hold_orders:
        held = row._replace(held=True)
        turn.lines[name] = turn.lines[name]._replace(row=held, owed=False, steps=0)
        turn.store(held)
        for order in state.hold_orders:
            turn.answer(order, f"{name} is held.")


def taken(row: LineRow, step: StepRow) -> LineRow:
    """The line after an impulse that reached the dials."""
    shown = (row.shown + 1) % row.positions if step.counts else row.shown
    return row._replace(shown=shown, polarity=step.polarity or row.polarity, step=None)


def never_given(row: LineRow, step: StepRow) -> LineRow:
    """The line after an impulse that never began; of a repeat, the first giving stays owed."""
    return row if step.again else row._replace(step=None)
