"""A person's word that the clock is right (design rule 15).

It holds for this run of the machine, and ends where the clock is stepped while nobody else keeps
it. What the kernel says goes before it.
"""

from __future__ import annotations

from controller.building.durations import SECOND
from controller.engine.contract import Now, Order, TrustRow
from controller.engine.state import State
from controller.engine.turn import Turn

# Both clocks are slewed alike, so only a step parts them; less than this may be two readings that
# something came between.
JUMP_NS = SECOND // 2


def by_word(state: State, now: Now) -> Now:
    """`now`, trusted where a person's word holds."""
    if now.trusted or state.word is None or jumped(state, now):
        return now
    return now._replace(trusted=True)


def jumped(state: State, now: Now) -> bool:
    """Whether the clock was stepped since the engine's last step."""
    return abs(now.utc - now.mono - state.ahead) > JUMP_NS


def take_word(turn: Turn, order: Order) -> None:
    """Somebody has looked: the clock is right."""
    local = turn.building.civil.aware(turn.now.utc)
    says = f"It says {local:%A %d %B %Y, %H:%M:%S}"
    if turn.now.trusted and turn.word is None:
        turn.answer(order.id, f"The clock is trusted already, without a person's word. {says}.")
        return
    turn.word = TrustRow(turn.now.boot, turn.now.utc, order.who)
    turn.store(turn.word)
    turn.note(order.who, "says that the clock is right")
    turn.go_by(turn.now._replace(trusted=True))
    turn.answer(
        order.id,
        f"The clock is trusted until the machine starts again or the clock jumps. {says}; "
        "bells and dials go by it from now on.",
    )


def end_word(turn: Turn) -> None:
    """The clock was stepped while nobody else kept it: the word is void."""
    assert turn.word is not None
    turn.word = None
    turn.store(TrustRow("", turn.now.utc, ""))
    turn.note("", "the clock jumped: nobody vouches for it any more")
