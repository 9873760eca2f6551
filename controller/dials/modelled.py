"""Model dials: what stands for the dials of a line where there are none to look at.

The rehearsal and the fake board model a line as three dials that differ in how long an impulse must
last before they take it: 30, 50 and 70 % of its set length (design §6; real movements differ, and
these shares are a choice, not a measurement). On an alternating line a dial ignores an impulse of
the polarity that it took last, as its armature already lies there; on a single line it takes each.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

Polarity = Literal["+", "-", ""]  # "" on a single line, where there is only one

SHARES_PERCENT = (30, 50, 70)


class ModelDial(NamedTuple):
    """One dial of a line."""

    share_percent: int  # of the set length: what an impulse must last for this dial to take it
    shows: int  # position, 0 up to the line's positions
    took: Polarity  # polarity of the impulse that it took last


def model_dials(shows: int, took: Polarity) -> tuple[ModelDial, ...]:
    """Three dials that agree."""
    return tuple(ModelDial(share, shows, took) for share in SHARES_PERCENT)


def needed_ns(dial: ModelDial, impulse_ns: int) -> int:
    """How long an impulse whose set length is `impulse_ns` must last for this dial to take it."""
    return -(-impulse_ns * dial.share_percent // 100)


def heeds(dial: ModelDial, polarity: Polarity) -> bool:
    """Whether an impulse of this polarity, if long enough, moves the dial."""
    return polarity == "" or polarity != dial.took


def moved(dial: ModelDial, polarity: Polarity, positions: int) -> ModelDial:
    """The dial one position on, having taken an impulse of this polarity."""
    return ModelDial(dial.share_percent, (dial.shows + 1) % positions, polarity)


def after_impulse(
    dials: tuple[ModelDial, ...],
    polarity: Polarity,
    lasted_ns: int,
    impulse_ns: int,
    positions: int,
) -> tuple[ModelDial, ...]:
    """A line's dials after an impulse that lasted `lasted_ns`, of a set length `impulse_ns`."""
    return tuple(
        [  # a list is quicker than a generator, and a rehearsal does this for every impulse
            moved(dial, polarity, positions)
            if heeds(dial, polarity) and lasted_ns >= needed_ns(dial, impulse_ns)
            else dial
            for dial in dials
        ]
    )
