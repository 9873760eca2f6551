"""Whether the clock is trusted (design rules 15 and 16).

    nobody vouches ──kernel, RTC or a person──▶ trusted, for this run of the machine
          ▲                                          │
          └── the clock is stepped while neither kernel nor RTC vouches for it

So the loss of a time server stops nothing, and a new run of the machine asks anew.
"""

from __future__ import annotations

from controller.building.durations import SECOND
from controller.engine.contract import Now, Order
from controller.engine.records import TrustRow
from controller.engine.state import State
from controller.engine.turn import Turn

# Both clocks are slewed alike, so only a step parts them; less than this may be two readings that
# something came between.
JUMP_NS = SECOND // 2


def as_vouched(state: State, now: Now) -> Now:
    """`now`, trusted also where somebody vouched for the clock earlier in this run."""
    if now.trusted or state.word is None or _jumped(state, now):
        return now
    return now._replace(trusted=True)


def _jumped(state: State, now: Now) -> bool:
    """Whether the clock was stepped since the engine's last step."""
    return abs(now.utc - now.mono - state.ahead) > JUMP_NS


def keep_trust(turn: Turn, *, vouched: bool) -> None:
    """Remember that somebody vouches for the clock, or that nobody does any more."""
    if vouched and turn.word is None:
        turn.word = TrustRow(turn.now.boot, turn.now.utc, "")
        turn.store(turn.word)
    elif turn.word is not None and not turn.now.trusted:
        turn.word = None
        turn.store(TrustRow("", turn.now.utc, ""))
        turn.note("", "the clock jumped while nobody kept it: it is not trusted any more")


def take_word(turn: Turn, order: Order) -> None:
    """Somebody has looked: the clock is right."""
    local = turn.building.civil.aware(turn.now.utc)
    says = f"It says {local:%A %d %B %Y, %H:%M:%S}"
    if turn.now.trusted:
        turn.answer(order.id, f"The clock is trusted already. {says}.")
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
