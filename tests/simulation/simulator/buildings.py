"""Invented buildings by chance: two to four zones, two or three lines, some fifty rings a week or
more, a panel, senses, a supply that is just enough, a tape, quiet rows, a calendar.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from random import Random
from typing import NamedTuple

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


class Wiring(NamedTuple):
    """The installer's part."""

    timezone: str
    zones: list[str]
    lines: list[str]
    single: bool  # the second line is a single one
    impulse: float
    gap: float
    sensed_lines: list[str]  # circuits
    sensed_zones: list[str]  # circuits
    pairs: list[str]  # circuits with two relays
    all_zones: list[str]  # circuits
    supply_sense: bool
    amps: float | None
    panel: list[str]
    grace: int
    lead: float
    trust_rtc: bool
    longest: int
    a_minute: int
    patience: str = "75m"

    @classmethod
    def by_chance(cls, random: Random, timezone: str) -> Wiring:
        zones = ["north", "south", "hall", "yard-bell"][: random.choice([2, 2, 3, 4])]
        lines = ["main", "annex"]
        single = random.random() < 0.5
        impulse, gap = random.choice([(1, 1), (0.5, 0.5), (0.2, 0.2), (3, 2)])
        circuits = [f"lines.{line}" for line in lines]
        zone_circuits = [f"zones.{zone}" for zone in zones]
        panel = ["north_button", "stop_button", "south_switch"] if random.random() < 0.6 else []
        return cls(
            timezone,
            zones,
            lines,
            single,
            impulse,
            gap,
            [one for one in circuits if random.random() < 0.5],
            [one for one in zone_circuits if random.random() < 0.4],
            circuits[:1] if single else circuits,
            zone_circuits,
            random.random() < 0.75,
            random.choice([None, None, 0.6, 1.2]),
            panel,
            random.choice([30, 30, 10, 120]),
            random.choice([1, 1, 0.2, 3]),
            random.random() < 0.4,
            random.choice([6, 10]),
            random.choice([15, 30]),
        )


def written(wiring: Wiring, first: date, random: Random) -> str:
    """The whole file."""
    return "\n".join([*installers(wiring), *keepers(wiring, first, random)]) + "\n"


def installers(wiring: Wiring) -> list[str]:
    rows = ["[building]", f'timezone = "{wiring.timezone}"', "[supply]"]
    if wiring.amps is not None:
        rows.append(f"amps = {wiring.amps}")
    if wiring.supply_sense:
        rows.append("sense = 27")
    for pin, zone in enumerate(wiring.zones, 2):
        rows += [f"[zones.{zone}]", f"relay = {pin}", "bells = 2", "amps_each = 0.25"]
        rows += [f'longest = "{wiring.longest}s"', f'a_minute = "{wiring.a_minute}s"']
        if f"zones.{zone}" in wiring.sensed_zones:
            rows.append(f"sense = {pin + 20}")
    for number, line in enumerate(wiring.lines):
        alternating = f"lines.{line}" in wiring.pairs
        relays = [8 + 2 * number, 9 + 2 * number][: 2 if alternating else 1]
        rows += [f"[lines.{line}]", f'drive = "{"alternating" if alternating else "single"}"']
        rows.append(f"relays = {relays}")
        rows += [f'impulse = "{wiring.impulse}s"', f'gap = "{wiring.gap}s"']
        rows += [f'face = "{"24h" if number else "12h"}"', f'patience = "{wiring.patience}"']
        if f"lines.{line}" in wiring.sensed_lines:
            rows.append(f"sense = {[16 + 2 * number, 17 + 2 * number][: len(relays)]}")
    panel = {
        "north_button": 'does = "ring"\nzones = ["north"]',
        "stop_button": 'does = "stop"',
        "south_switch": 'does = "quiet"\nzones = ["south"]',
    }
    for pin, name in enumerate(wiring.panel, 13):
        rows += [f"[panel.{name}]", f"pin = {pin}", panel[name]]
    trust = "true" if wiring.trust_rtc else "false"
    rows += ["[clock]", f'grace = "{wiring.grace}s"', f'lead = "{wiring.lead}s"']
    return [*rows, f"trust_rtc = {trust}"]


def keepers(wiring: Wiring, first: date, random: Random) -> list[str]:
    rows = [f"[quiet]\nnorth = {['sat', 'sun night'] if random.random() < 0.4 else ['sun night']}"]
    rows.append(f"[plans.regular]\nrings = [\n{_rings(wiring, random, random.randrange(8, 15))}]")
    rows.append(f"[plans.short]\nrings = [\n{_rings(wiring, random, random.randrange(5, 8))}]")
    rows.append("[week]")
    rows += [f'{day} = "{"short" if day in ("sat", "sun") else "regular"}"' for day in WEEKDAYS]
    if random.random() < 0.4:
        on = first + timedelta(days=random.randrange(6))
        plan = random.choice(["none", "short", "regular"])
        rows.append(f'[[calendar]]\non = "{on}"\nplan = "{plan}"\nlift_quiet = true')
    if random.random() < 0.3:
        holes = sorted({_time(random, 5)[:5] for _ in range(4)})
        rows.append(f'[tape]\nlength = "24h"\nfor = "2s"\n[tape.holes]\nsouth = {holes}')
    return rows


def _rings(wiring: Wiring, random: Random, number: int) -> str:
    rings = [_ring(wiring, random, _time(random, random.choice([1, 5, 15]))) for _ in range(number)]
    if random.random() < 0.5:  # two that meet, and two zones at once
        at = f"{random.randrange(7, 20):02}:{random.randrange(59):02}"
        rings.append(f'{{ at = "{at}:00", zones = ["{wiring.zones[0]}"], for = "3s" }}')
        rings.append(f'{{ at = "{at}:02", zones = ["{wiring.zones[0]}"], for = "2s" }}')
    return "".join(f"  {ring},\n" for ring in rings)


def _time(random: Random, minutes: int) -> str:
    hour = random.choice([0, 1, 2, 3, 5, *range(7, 22), *range(8, 18)])
    return f"{hour:02}:{random.randrange(0, 60, minutes):02}:{random.choice([0, 0, 0, 30]):02}"


def _ring(wiring: Wiring, random: Random, at: str) -> str:
    zones = ["*"] if random.random() < 0.3 else random.sample(wiring.zones, 2)
    named = ", ".join(f'"{zone}"' for zone in zones)
    how = random.choice(['for = "1s"', 'for = "3s"', 'for = "4.5s"', "strokes = [1, 0.5, 1]"])
    return f'{{ at = "{at}", zones = [{named}], {how} }}'


def changed(wiring: Wiring, text: str, random: Random) -> str:
    """What the file may be changed to: some other rings, or a zone less, or a line more."""
    what = random.choice(["rings", "rings", "line", "zone"])
    if what == "zone" and len(wiring.zones) > 2:
        return _without_zone(text, wiring.zones[-1])
    if what == "line":
        return text + '[lines.attic]\ndrive = "single"\nrelays = [12]\nimpulse = "1s"\n'
    rings = [row for row in text.splitlines(keepends=True) if row.startswith("  { at")]
    for gone in random.sample(rings, 3):
        text = text.replace(gone, "", 1)
    mark = "[plans.regular]\nrings = [\n"
    more = "".join(f"  {_ring(wiring, random, _time(random, 5))},\n" for _ in range(3))
    return text.replace(mark, mark + more)


def _without_zone(text: str, gone: str) -> str:
    """The file without a zone and without its rings elsewhere."""
    kept: list[str] = []
    skipping = False
    for row in text.splitlines(keepends=True):
        if row.startswith("["):
            skipping = row.startswith(f"[zones.{gone}]")
        if not skipping:
            kept.append(re.sub(rf', "{gone}"|"{gone}", ', "", row))
    return "".join(kept)
