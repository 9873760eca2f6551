"""What is drawn second by second, from the closings that the engine's own plays come to.

The caller plays the timetable, as the rehearsal does, and gives what the relays did. Currents are
those at the voltage that things are made for; sums are whole microamperes, so they are exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from controller.building.durations import DAY, HOUR, SECOND
from controller.building.installed import Line
from controller.building.model import Building
from controller.electrics.battery import amp_hours_of
from controller.electrics.coils import catch_up_duty, normal_duty
from controller.electrics.feeds import amps, feeds

_MICRO = 1_000_000


class Closing(NamedTuple):
    """A relay's contact, closed from one instant until another."""

    circuit: str  # "zones.north"
    start_utc: int
    end_utc: int


class Played(NamedTuple):
    """What the relays did in a stretch of time, such as a week of the timetable."""

    start_utc: int
    until_utc: int
    closings: tuple[Closing, ...]


class Drawn(NamedTuple):
    """A current, from one instant until another."""

    start_utc: int
    end_utc: int
    amps: float


class Second(NamedTuple):
    """One second of the clock, and the most that is drawn at once in it."""

    utc: int
    amps: float


def drawn_by(building: Building, closings: Iterable[Closing]) -> tuple[Drawn, ...]:
    """What each closing draws. `NotKnown` where the file does not say it of one of them."""
    of = {feed.name: feed for feed in feeds(building)}
    known: dict[str, float] = {}
    found = []
    for closing in closings:
        if closing.circuit not in known:
            known[closing.circuit] = amps(of[closing.circuit])
        found.append(Drawn(closing.start_utc, closing.end_utc, known[closing.circuit]))
    return tuple(found)


def seconds(drawn: Iterable[Drawn]) -> Iterator[Second]:
    """Every second in which something is drawn, in order, with the most that is drawn at once.

    That is the sum of the currents whose closings have begun and not ended.
    """
    changes: dict[int, int] = {}
    for one in drawn:
        microamps = round(one.amps * _MICRO)
        changes[one.start_utc] = changes.get(one.start_utc, 0) + microamps
        changes[one.end_utc] = changes.get(one.end_utc, 0) - microamps
    level, since = 0, 0
    utc, most = 0, 0  # of the second that is being gathered
    for instant in sorted(changes):
        if level:
            for second in range(since // SECOND, -(-instant // SECOND)):
                if second != utc and most:
                    yield Second(utc * SECOND, most / _MICRO)
                    most = 0
                utc, most = second, max(most, level)
        level, since = level + changes[instant], instant
    if most:
        yield Second(utc * SECOND, most / _MICRO)


def worst_second(drawn: Iterable[Drawn]) -> Second | None:
    """The first of the seconds in which most is drawn; None where nothing ever is."""
    return max(seconds(drawn), key=lambda one: one.amps, default=None)


def amp_hours(drawn: Iterable[Drawn]) -> float:
    """What is drawn in all, Ah: each current times how long it flows."""
    return amp_hours_of((one.amps, (one.end_utc - one.start_utc) / HOUR) for one in drawn)


def amp_hours_a_day(drawn: Sequence[Drawn], start_utc: int, until_utc: int) -> float:
    """The same for a mean day of the stretch of time that the closings are of, Ah."""
    return amp_hours(drawn) * DAY / (until_utc - start_utc)


def keeping_time_amps(line: Line, impulse_amps: float) -> float:
    """The mean current of a line that keeps time, A: it draws only while an impulse lasts."""
    return impulse_amps * normal_duty(line)


def catch_up_amps(line: Line, impulse_amps: float) -> float:
    """The mean current of a line while it is driven, A."""
    return impulse_amps * catch_up_duty(line)
