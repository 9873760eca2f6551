"""What the scenarios are told with: a building, local times, what happens, and what came of it.

The judge looks on throughout; `ends_well` lets the faults be over and judges what is left.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time

from simulator import kinds
from simulator.house import House
from simulator.judge_end import account_for, look_at_dials, nothing_is_out
from simulator.week import begun, cease, look_every
from simulator.words import HOUR, MINUTE, SECOND
from simulator.world import World

from controller.building.civil import CivilTime
from controller.dials.position import face_text
from controller.engine.records import LineRow
from controller.engine.wishes import Wish

DAY = date(2026, 11, 25)  # a Wednesday
ALTERNATING = '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\n'
SINGLE = '[lines.yard]\ndrive = "single"\nrelays = [24]\n'
SENSED = '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\nsense = [5, 6]\n'
SUPPLY = "[supply]\nsense = 26\n"
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def ring(at: str, seconds: float = 5, zones: str = "north") -> str:
    return f'{{ at = "{at}", zones = ["{zones}"], for = "{seconds:g}s" }}'


def text_of(rings: Iterable[str], more: str, timezone: str) -> str:
    """A file: two zones, these rings on every day, and more tables."""
    week = "\n".join(f'{day} = "daily"' for day in _DAYS)
    return (
        f'[building]\ntimezone = "{timezone}"\n'
        f"[zones.north]\nrelay = 17\n[zones.south]\nrelay = 27\n"
        f"{more}[plans.daily]\nrings = [{', '.join(rings)}]\n[week]\n{week}\n"
    )


class Story:
    def __init__(
        self,
        *rings: str,
        at: str = "08:00",
        more: str = ALTERNATING,
        others: Iterable[str] = (),
        timezone: str = "America/Halifax",
        seed: int = 0,
    ) -> None:
        """`others`: files that this one may be changed to."""
        self.civil = CivilTime(timezone)
        house = House(text_of(rings, more, timezone), *others)
        self.start = self.instant(at)
        self.world: World = begun(house, self.start, seed)
        look_every(self.world, HOUR, self.start + 400 * HOUR)

    # ── telling it ───────────────────────────────────────────────────────────────────────────

    def instant(self, local: str) -> int:
        """A local time, of 25 November 2026 unless a date is written."""
        if "T" in local:
            return self.civil.instant(datetime.fromisoformat(local))
        return self.civil.instant(datetime.combine(DAY, time.fromisoformat(local)))

    def until(self, local: str) -> Story:
        """Time passes."""
        self.world.run(self.instant(local))
        return self

    def passes(self, seconds: float) -> Story:
        self.world.run(self.world.t + kinds.ns(seconds))
        return self

    def happens(self, kind: str, **how) -> Story:
        kinds.strike(self.world, kind, how)
        return self

    def order(self, what: Wish) -> str:
        """What is answered, within two seconds; nothing where nobody is there."""
        number = self.world.order(what)
        self.passes(2)
        answer = self.world.answers.get(number)
        return "" if answer is None else answer.text

    def ends_well(self) -> dict[str, int]:
        """The faults are over: five hours later dials are right and every ring is accounted for."""
        cease(self.world)
        self.world.run(self.world.t + 5 * HOUR)
        self.world.run(self.world.t - self.world.utc % MINUTE + MINUTE + 30 * SECOND)
        look_at_dials(self.world.judge)
        nothing_is_out(self.world.judge)
        return account_for(self.world.judge, self.start + SECOND, self.world.t - 2 * MINUTE)

    # ── what came of it ──────────────────────────────────────────────────────────────────────

    def text(self, outside: int) -> str:
        spec = "seconds" if outside % SECOND == 0 else "milliseconds"
        return self.civil.aware(outside).time().isoformat(spec)

    def closings(self, circuit: str) -> list[tuple[int, int, int]]:
        """(relay, from, until), outside."""
        made, since = [], 0
        for t, *what in self.world.trace:
            if what[0] == circuit:
                if what[2]:
                    since = t
                else:
                    made.append((what[1], since, t))
        return made

    def sounded(self, zone: str = "north") -> list[tuple[str, float]]:
        """(local time, seconds) of every closing of a zone."""
        made = self.closings(f"zones.{zone}")
        return [(self.text(a), round((b - a) / SECOND, 3)) for _, a, b in made]

    def impulses(self, line: str = "main", since: str = "") -> list[tuple[str, str]]:
        """(local time, polarity) of every impulse."""
        after = self.instant(since) if since else 0
        made = self.closings(f"lines.{line}")
        return [(self.text(a), "+-"[relay]) for relay, a, _ in made if a >= after]

    def missed(self) -> list[tuple[str, str, str]]:
        """(time as written, zone, why), as they were settled."""
        rows = [what for _, *what in self.world.trace if what[0] == "missed"]
        return [(written[11:], zone, why) for _, zone, written, why in rows]

    def shows(self, line: str = "main") -> list[str]:
        """What its three dials show, without repeating."""
        shown, _ = self.world.judge.lines[line].look()
        of = self.world.house.buildings[self.world.file].lines[line]
        return [*dict.fromkeys(face_text(of, one) for one in shown)]

    def row(self, line: str = "main") -> LineRow:
        """What the controller believes of a line."""
        assert self.world.daemon is not None
        return self.world.daemon.state.lines[line].row

    @property
    def faults(self) -> list[str]:
        """Names of the faults that last now, by the controller's own word."""
        assert self.world.daemon is not None
        return [name for name, row in self.world.daemon.state.faults.items() if not row.until]

    @property
    def exempt(self) -> int:
        return self.world.judge.exempt_impulses
