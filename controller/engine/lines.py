"""How a line of dials is driven: one impulse at a time, stored before it is given.

    rest ──due within lead──▶ begun (stored, sent) ──done──▶ rest, shown + 1
                              begun ──never_began──▶ rest (void), judged afresh
                              begun ──cut──▶ alternating: given again, whole, same polarity
                                             single: taken, and doubtful

An impulse during which the 24 V was away counts as cut; on a single line it is not taken if it was
away throughout. One whose contact never closed is cut too, and is tried again once a minute: on a
single line it is not taken, and the line is doubtful, for the sense may be what is broken.

A line that is unread stands and asks; a held one gives nothing, not even a repeat; one without
24 V, or with a contact that does not open, stands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.dials.position import face_text, stands_until, true_position, verdict
from controller.engine.contract import Cancel, Outcome, Play
from controller.engine.line_orders import OTHER, held_text, hold_line
from controller.engine.records import LineRow, StepRow
from controller.engine.senses import supply_bears, welded
from controller.engine.state import LineState
from controller.engine.turn import Turn

if TYPE_CHECKING:
    from controller.building.installed import Line

RETRY_NS = 1_000_000_000  # after the hand refused a play
MOST_CUTS = 2  # repeats of one impulse; then it counts as taken, and the line is doubtful
UNANSWERED_RETRY_NS = 60_000_000_000  # after a contact did not close


def unread(name: str, line: Line) -> LineRow:
    """A line of which nobody has said what its dials show."""
    return LineRow(name, False, 0, line.positions, "-", False, False, None, 0, polarity_known=False)


def step_lines(turn: Turn) -> None:
    """Give each line what it needs now, or say when to look again."""
    bears = turn.hand is not None and supply_bears(turn)
    for name, state in turn.lines.items():
        line = turn.building.lines.get(name)
        if line is None:
            continue
        if state.play is not None:
            _cancel_misplanned(turn, name, state, state.play)
        elif bears and not state.row.held and not (turn.faults and welded(turn, name)):
            _consider(turn, name, line, state)


def _cancel_misplanned(turn: Turn, name: str, state: LineState, play: Play) -> None:
    """Take an impulse back that has not begun, and was planned on a clock stepped since."""
    step = state.row.step
    assert step is not None, "a play out on a line is always stored as a step"
    planned = step.counts and not (state.cancelling or step.again)
    if planned and turn.stepped(step.start_utc, step.start_mono):
        turn.lines[name] = state._replace(cancelling=True)
        turn.cancels.append(Cancel(play.id, stop=False))


def _consider(turn: Turn, name: str, line: Line, state: LineState) -> None:
    row = state.row
    if row.target == row.shown and row.step is None:
        hold_line(turn, name, state)
        turn.note("", f"{name}: has come to {face_text(line, row.shown)}, and is held")
        return
    now = turn.now
    if state.not_before > now.mono:
        turn.look_again_mono(state.not_before)
        return
    start = max(now.mono, state.rest_until)
    if row.step is not None:
        _give(turn, name, line, state, _again(turn, name, state, row.step, start))
        return
    if state.steps > 0:
        step = _new_step(turn, line, row, start, counts=False)
        _give(turn, name, line, state._replace(steps=state.steps - 1), step)
        return
    if row.target >= 0:
        _give(turn, name, line, state, _new_step(turn, line, row, start, counts=True))
        return
    if not row.read or not now.trusted:
        return
    civil = turn.building.civil
    at = turn.utc_of(start)
    driven = stands_until(line, civil, row.shown, at)
    if driven > at:
        ahead = driven - turn.building.clock.lead_ns
        if ahead > now.utc:
            turn.look_again_utc(ahead)
            return
        if verdict(line, row.shown, true_position(line, civil, driven)) != "drive":
            turn.look_again_utc(driven)
            return
        start = turn.mono_of(driven)
    _give(turn, name, line, state, _new_step(turn, line, row, start, counts=True))


def _new_step(turn: Turn, line: Line, row: LineRow, start: int, *, counts: bool) -> StepRow:
    polarity = "" if line.drive == "single" else OTHER[row.polarity]
    return StepRow(
        turn.new_play(), polarity, turn.utc_of(start), start, turn.now.boot, counts, again=False
    )


def _again(turn: Turn, name: str, state: LineState, step: StepRow, start: int) -> StepRow:
    if not (state.unanswered or step.again):
        turn.note("", f"{name}: the impulse {step.polarity} that was cut is given again")
    return StepRow(
        turn.new_play(),
        step.polarity,
        turn.utc_of(start),
        start,
        turn.now.boot,
        step.counts,
        again=True,
    )


def _give(turn: Turn, name: str, line: Line, state: LineState, step: StepRow) -> None:
    assert turn.hand is not None
    row = state.row._replace(step=step, last_utc=turn.now.utc)
    play = Play(
        step.play,
        turn.hand,
        f"lines.{name}",
        1 if step.polarity == "-" else 0,
        step.start_mono,
        step.start_mono + line.every_ns,
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
    step = state.row.step
    assert step is not None
    line = turn.building.lines.get(name)
    gap = 0 if line is None else line.gap_ns
    if outcome.how == "done" and not turn.supply_failed(outcome):
        ended = _given(turn, state, step, outcome.end + gap)
    else:
        after = _not_given(turn, name, state, step, outcome)
        rest, not_before = state.rest_until, 0
        if outcome.how != "never_began":
            rest = outcome.end + gap
        elif not state.cancelling:
            not_before = turn.now.mono + RETRY_NS
        if after.unanswered:
            not_before = turn.now.mono + UNANSWERED_RETRY_NS
        ended = after._replace(
            play=None, cancelling=False, rest_until=rest, not_before=not_before, hold_orders=()
        )
    waited = state.hold_orders
    if line is None:
        for order in waited:
            turn.refuse(order, f"The file has no line {name} any more.")
        del turn.lines[name]
        return
    turn.lines[name] = ended
    if waited:
        hold_line(turn, name, turn.lines[name])
        for order in waited:
            turn.answer(order, held_text(turn, name))


def _given(turn: Turn, state: LineState, step: StepRow, rest_until: int) -> LineState:
    """After an impulse that was given whole."""
    row = taken(state.row, step)
    owed = step.polarity != ""  # goes with the next commit: a repeat of it would do no harm
    if not owed:
        turn.store(row)
    return LineState(row, rest_until=rest_until, owed=owed or state.owed, steps=state.steps)


def _not_given(
    turn: Turn, name: str, state: LineState, step: StepRow, outcome: Outcome
) -> LineState:
    """After one that was not, or not whole: what is believed, and what is owed to the store."""
    row = state.row
    if outcome.how == "never_began":
        row = never_given(row, step)
        turn.store(row)
        ordered = not step.counts and not step.again
        return state._replace(row=row, steps=state.steps + ordered)
    closed = outcome.end > outcome.start
    if step.polarity and not _given_up(turn, state, outcome):  # it stays owed, and is given again
        return state._replace(unanswered=not closed, cuts=state.cuts + closed)
    steps = state.steps
    if closed and not turn.supply_away_throughout(outcome):
        if not row.doubtful:
            words = "an impulse was cut; it counts as taken, and the line is doubtful"
            turn.note("", f"{name}: {words}")
        row = taken(row, step)._replace(doubtful=True)
    else:
        row = row._replace(step=None, doubtful=row.doubtful or not closed)
        steps += closed and not step.counts  # one that was ordered is owed still
        if not state.unanswered:
            why = "its contact did not close" if not closed else "the supply was away"
            turn.note("", f"{name}: an impulse was not taken: {why}")
    turn.store(row)
    return state._replace(row=row, unanswered=not closed, steps=steps, cuts=0)


def _given_up(turn: Turn, state: LineState, outcome: Outcome) -> bool:
    """Whether giving it again is of no use: its contact is late each time, and the 24 V there."""
    closed = outcome.end > outcome.start
    return closed and state.cuts >= MOST_CUTS and not turn.supply_failed(outcome)


def taken(row: LineRow, step: StepRow) -> LineRow:
    """The line after an impulse that reached the dials."""
    shown = (row.shown + 1) % row.positions if step.counts else row.shown
    known = row.polarity_known or step.polarity != ""
    polarity = step.polarity or row.polarity
    return row._replace(shown=shown, polarity=polarity, step=None, polarity_known=known)


def never_given(row: LineRow, step: StepRow) -> LineRow:
    """The line after an impulse that never began; of a repeat, the first giving stays owed."""
    return row if step.again else row._replace(step=None)
