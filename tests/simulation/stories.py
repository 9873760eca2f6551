"""What the stories are told with: a building's file, a window of local time, and what happens."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from controller.building.civil import CivilTime, utc_ns
from controller.building.file import read
from controller.building.model import Building
from controller.rehearsal.record import (
    EndRecord,
    ImpulseRecord,
    MissedRecord,
    RehearsalRecord,
    RingRecord,
)
from controller.rehearsal.script import Cut, Polarity, Script, Step
from controller.rehearsal.world import rehearse

SECOND = 1_000_000_000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE

HALIFAX = '[building]\ntimezone = "America/Halifax"\n'
NORTH = "[zones.north]\nrelay = 17\n"
ALTERNATING = '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\n'
SINGLE = '[lines.main]\ndrive = "single"\nrelays = [22]\n'


def ns(seconds: float) -> int:
    """Seconds as nanoseconds, exact to the microsecond."""
    return round(seconds * 1_000_000) * 1000


def every_day(*rings: str) -> str:
    """The same plan on every weekday."""
    days = "\n".join(
        f'{day} = "daily"' for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    )
    return f"[plans.daily]\nrings = [{', '.join(rings)}]\n[week]\n{days}\n"


def ring(at: str, seconds: float = 5, zones: str = "north", says: str = "") -> str:
    return f'{{ at = "{at}", zones = ["{zones}"], for = "{seconds:g}s", says = "{says}" }}'


class Told(NamedTuple):
    """A rehearsal that has been played."""

    building: Building
    records: list[RehearsalRecord]

    @property
    def civil(self) -> CivilTime:
        return self.building.civil

    @property
    def rings(self) -> list[RingRecord]:
        return [one for one in self.records if isinstance(one, RingRecord)]

    @property
    def impulses(self) -> list[ImpulseRecord]:
        return [one for one in self.records if isinstance(one, ImpulseRecord)]

    @property
    def missed(self) -> list[MissedRecord]:
        return [one for one in self.records if isinstance(one, MissedRecord)]

    @property
    def end(self) -> EndRecord:
        end = self.records[-1]
        assert isinstance(end, EndRecord)
        return end

    def at(self, local: str) -> int:
        return instant(self.civil, local)

    def times(self, records: Iterable[RehearsalRecord]) -> list[str]:
        """Local times of day, with milliseconds only where they are not whole seconds."""
        return [time_text(self.civil, one.at) for one in records]

    def sounded(self) -> list[tuple[str, str, float]]:
        """(time of day, zone, seconds) of every sounding."""
        return [(time_text(self.civil, r.at), r.zone, r.length / SECOND) for r in self.rings]

    def misses(self) -> list[tuple[str, str, str]]:
        """(time of day due, zone, why) of every miss."""
        return [(time_text(self.civil, m.due), m.zone, m.why) for m in self.missed]


def time_text(civil: CivilTime, utc: int) -> str:
    spec = "seconds" if utc % SECOND == 0 else "milliseconds"
    return civil.aware(utc).time().isoformat(spec)


def instant(civil: CivilTime, local: str) -> int:
    """A local date and time; an offset says which of two it is."""
    moment = datetime.fromisoformat(local)
    return civil.instant(moment) if moment.tzinfo is None else utc_ns(moment)


def cut(building: Building, local: str, seconds: float) -> Cut:
    return Cut(instant(building.civil, local), ns(seconds))


class Stage(NamedTuple):
    """Where stories are played: a folder for their files."""

    folder: Path

    def building(self, text: str) -> Building:
        path = self.folder / "building.toml"
        path.write_text(text, encoding="utf-8")
        return read(path)

    def script(
        self,
        building: Building,
        start: str,
        until: str,
        *,
        cuts: Iterable[tuple[str, float]] = (),
        steps: Iterable[tuple[str, float]] = (),
        dials: dict[str, tuple[int, Polarity]] | None = None,
        lines: bool = True,
    ) -> Script:
        """Times are local; lengths of cuts and steps in seconds."""
        civil = building.civil
        return Script(
            instant(civil, start),
            instant(civil, until),
            dials or {},
            tuple(cut(building, at, seconds) for at, seconds in cuts),
            steps=tuple(Step(instant(civil, at), ns(seconds)) for at, seconds in steps),
            lines=lines,
        )

    def play(self, text: str, start: str, until: str, **happens) -> Told:
        building = self.building(text)
        return Told(
            building, list(rehearse(building, self.script(building, start, until, **happens)))
        )


def catch_up(behind: int, impulse: float, gap: float, every: float) -> tuple[int, timedelta]:
    """By hand: how many impulses bring dials right that are `behind` at a full `every`, and when.

    The n-th impulse ends (n − 1) × (impulse + gap) + impulse after the first began; meanwhile time
    has gone on by one for every full `every`.
    """
    for n in range(behind, behind + 10_000):
        ended = (n - 1) * (impulse + gap) + impulse
        if n == behind + int(ended // every):
            return n, timedelta(seconds=ended)
    raise AssertionError("dials that never come right")
