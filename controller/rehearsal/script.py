"""What a rehearsal is asked to play through."""

from __future__ import annotations

from typing import Literal, NamedTuple

from controller.building.civil import SECOND

Polarity = Literal["+", "-"]


class Cut(NamedTuple):
    """All power goes, and comes back."""

    start_utc: int
    duration_ns: int


class Step(NamedTuple):
    """The system's clock is stepped, forwards or backwards."""

    at_utc: int
    by_ns: int


class Script(NamedTuple):
    """A window of outside time and what happens in it."""

    start_utc: int
    until_utc: int
    dials: dict[str, tuple[int, Polarity]] = {}  # noqa: RUF012  line → shown, polarity last given
    cuts: tuple[Cut, ...] = ()
    boot_ns: int = 20 * SECOND
    steps: tuple[Step, ...] = ()
    lines: bool = True  # False: the dials stand, for work with bells alone
