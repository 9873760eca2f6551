"""From a seed to a week: a building, its zone of time, at least five faults, and what people do.

One seed decides everything. Faults end before the seventh day, which is quiet.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from simulator.buildings import Wiring, changed, written
from simulator.house import House
from simulator.week import Week
from simulator.words import DAY, HOUR, MILLISECOND, MINUTE, SECOND, Fault

from controller.building.civil import utc_ns

# Zone of time, and local midnights shortly before a clock change there (IANA data).
PLACES = (
    ("America/Halifax", ("2026-10-29", "2027-03-11")),
    ("Europe/London", ("2026-10-22", "2027-03-25")),
    ("Australia/Lord_Howe", ("2026-10-01", "2027-04-01")),  # half an hour
    ("America/St_Johns", ("2026-10-28", "2027-03-10")),
    ("Africa/Casablanca", ("2027-02-04", "2027-03-11")),
    ("Asia/Kolkata", ()),
)
REAL_STORE_EVERY = 10  # weeks
LAST_STRIKE = 5 * DAY + 12 * HOUR
PATIENCE = ("75m", "75m", "60m", "59m")  # just an hour, and just what autumn takes


def week_of(seed: int) -> Week:
    """The week of a seed."""
    random = Random(seed)
    timezone, changes = random.choice(PLACES)
    if changes and random.random() < 0.35:
        first = datetime.fromisoformat(random.choice(changes))
    else:
        first = datetime(2026, 1, 5) + timedelta(days=random.randrange(500))
    start = utc_ns(first.replace(tzinfo=ZoneInfo(timezone)).astimezone(UTC))
    rarer = Random(f"{seed} rarer")  # its own, so that what it adds leaves all else as it was
    wiring = Wiring.by_chance(random, timezone)._replace(patience=rarer.choice(PATIENCE))
    text = written(wiring, first.date(), random)
    house = House(text, changed(wiring, text, random))
    changes_at = None
    if first.date().isoformat() in changes:
        changes_at = _change(ZoneInfo(timezone), start)
    faults = _faults(random, wiring, changes_at)
    people = [*_people(random, wiring), *_rarer(rarer, wiring, house, start)]
    happenings = tuple(sorted((*faults, *people), key=lambda one: one.at))
    real = seed % REAL_STORE_EVERY == 0
    return Week(seed, house, start, happenings, 6 * DAY, 7 * DAY, real)


def _change(zone: ZoneInfo, start: int) -> int:
    """When the local clock changes in the week, ns from its start; to a quarter of an hour."""
    at = datetime.fromtimestamp(start // SECOND, UTC)
    offset = at.astimezone(zone).utcoffset()
    for quarter in range(6 * 96):
        then = at + timedelta(minutes=15 * quarter)
        if then.astimezone(zone).utcoffset() != offset:
            return quarter * 15 * MINUTE
    raise AssertionError(f"no clock change in the week of {at} in {zone}")


# ── faults ───────────────────────────────────────────────────────────────────────────────────────


def _faults(random: Random, wiring: Wiring, changes_at: int | None) -> list[Fault]:
    """At least five; many soon after another, or while it lasts, or while the dials catch up."""
    faults: list[Fault] = []
    while len(faults) < 5 or (len(faults) < 12 and random.random() < 0.7):
        chance, at, moment = random.random(), random.randrange(HOUR, LAST_STRIKE), ""
        if random.random() < 0.65:
            moment = random.choice(MOMENTS)
        if faults and chance < 0.4:  # while another lasts, or soon after it
            its = faults[-1].how.get("seconds", 60)
            at = faults[-1].at + random.randrange(1 + min(4000, int(its))) * SECOND
        elif changes_at is not None and chance < 0.6:
            at, moment = changes_at + random.randrange(-60, 2400) * SECOND, ""
        elif chance > 0.85:
            faults += _catch_up(random, at)
            at, moment = at + random.randrange(1, 100) * SECOND, "catching up"
        kind = random.choices([*_CHANCES], [*_CHANCES.values()])[0]
        how = _how(random, kind, wiring)
        if how is not None:
            fraction = round(random.random(), 3)
            faults.append(Fault(min(at, LAST_STRIKE), kind, how, moment, fraction))
    if random.random() < 0.12:
        faults += _around_ring_times(random)
    return faults


def _catch_up(random: Random, at: int) -> list[Fault]:
    """Something after which the dials are driven, for a minute or some."""
    back = random.choice([300, 900, 20_000])
    by = random.choice([600, 3600, 9000, -9000])
    return [Fault(at, "clock stepped", {"by": by, "back": back, "kept": True})]


def _around_ring_times(random: Random) -> list[Fault]:
    """A day on which something strikes at every ring."""
    at = random.randrange(5) * DAY
    kind = random.choice(["daemon killed", "engine hung", "clock stepped"])
    how = {"daemon killed": {}, "engine hung": {"seconds": 1.5}, "clock stepped": None}[kind]
    faults = []
    for number in range(6):
        its = how if how is not None else {"by": random.choice([-2, 2, 0.3, -0.3]), "back": 120}
        when = at + 8 * HOUR + number * 90 * MINUTE
        faults.append(Fault(when, kind, its, "ring stored", round(random.random(), 3)))
    return faults


MOMENTS = (
    "impulse stored",
    "in an impulse",
    "after an impulse",
    "ring stored",
    "ring stored",
    "ringing",
    "ringing",
    "commit under way",
)
_CHANCES = {
    "power cut": 10,
    "cut of hours": 3,
    "three cuts in a minute": 3,
    "cut, RTC dead": 4,
    "cut, RTC a year ahead": 3,
    "daemon killed": 7,
    "daemon restarted": 4,
    "hand killed": 6,
    "hand hung": 4,
    "engine hung": 6,
    "hand wakes late": 3,
    "words come late": 4,
    "clock stepped": 12,
    "synchronisation lost": 4,
    "commits slow": 6,
    "store full": 4,
    "store stalled": 5,
    "store truncated": 1,
    "store newer": 1,
    "24 V gone": 6,
    "24 V sags": 4,
    "contact stuck": 3,
    "contact welded": 3,
    "contact slow": 2,
    "contact bouncing": 2,
    "button stuck": 2,
    "button chatters": 1,
    "file changed": 5,
}


def _how(random: Random, kind: str, wiring: Wiring) -> dict | None:
    """How it strikes; None where this building cannot have it."""
    choose, between = random.choice, random.uniform
    boot = choose([15, 20, 45])
    sync = choose([0, 0, 5, 40, 300, None])
    match kind:
        case "power cut":
            return {"seconds": choose([0.2, 2, 15, 60, 600]), "boot": boot, "sync": sync}
        case "cut of hours":
            return {"hours": choose([1, 3, 13]), "boot": boot, "sync": sync}
        case "three cuts in a minute":
            return {"first": round(between(4, 25)), "second": round(between(30, 55))}
        case "cut, RTC dead" | "cut, RTC a year ahead":
            after = choose([10, 60, 600, 5 * 3600])
            return {"seconds": choose([1, 30, 600]), "boot": boot, "sync": after}
        case "daemon killed" | "daemon restarted":
            return {"restart": choose([0.5, 3, 10, 60])}
        case "hand killed":
            return {"released": round(between(0, 2), 2), "restart": choose([3, 10])}
        case "hand hung":
            return {"released": round(between(0.5, 4), 2), "restart": choose([3, 10])}
        case "engine hung":
            return {"seconds": choose([0.4, 1.5, 1.9, 5, 20])}
        case "hand wakes late":
            return {"seconds": 3600, "late": choose([0.005, 0.05, 0.3])}
        case "words come late":
            return {"seconds": 3600, "late": choose([0.002, 0.05, 0.4, 0.9])}
        case "clock stepped":
            by = choose([0.3, 2, 40, 40, 3600, 86_400]) * choose([1, -1])
            back = choose([20, 64, 600, 3600, 20_000])
            return {"by": by, "back": back, "kept": random.random() < 0.4}
        case "synchronisation lost":
            hours = choose([2, 20, 90])
            return {"seconds": hours * 3600, "drift": round(hours * between(-0.07, 0.07), 3)}
        case "commits slow":
            return {"seconds": choose([600, 3600]), "each": choose([0.3, 0.9, 1.4, 2.5])}
        case "store full":
            return {"seconds": choose([20, 300, 1800])}
        case "store stalled":
            return {"seconds": choose([2, 5, 20, 60])}
        case "store truncated":
            return {"seconds": choose([5, 60])}
        case "store newer":
            return {"seconds": choose([60, 1800])}
        case _:
            return _how_parts(random, kind, wiring)


def _how_parts(random: Random, kind: str, wiring: Wiring) -> dict | None:
    choose = random.choice
    match kind:
        case "24 V gone":
            return {"seconds": choose([0.02, 0.3, 5, 100, 4000])} if wiring.supply_sense else None
        case "24 V sags":
            if not wiring.supply_sense:
                return None
            return {
                "times": choose([3, 20]),
                "gone": choose([0.01, 0.2]),
                "there": choose([0.1, 3]),
            }
        case "button stuck":
            return {"name": choose(wiring.panel), "seconds": 1800} if wiring.panel else None
        case "button chatters":
            if not wiring.panel:
                return None
            return {"name": choose(wiring.panel), "times": 80, "each": choose([0.03, 0.3])}
        case "file changed":
            return {"number": choose([0, 1, 1])}
    circuits = [*wiring.sensed_lines, *wiring.all_zones]
    circuit = choose(circuits)
    relay = choose([0, 1]) if circuit in wiring.pairs else 0
    how = {"circuit": circuit, "relay": relay, "seconds": choose([30, 600, 5000])}
    if kind == "contact welded" and circuit.startswith("zones."):
        how["seconds"] = 30
    if kind == "contact slow":
        how |= {"pull": round(0.15 * wiring.impulse, 3), "drop": choose([0.03, 0.12])}
    return how


def _rarer(random: Random, wiring: Wiring, house: House, start: int) -> list[Fault]:
    """What hardly ever comes together by itself."""
    happenings: list[Fault] = []
    if random.random() < 0.15:
        happenings += _held_while_owed(random, wiring)
    if random.random() < 0.15:
        happenings += _rung_again_and_again(random, wiring)
    if random.random() < 0.15:
        happenings += _heard_late(random, house, start)
    if random.random() < 0.15:
        happenings += _waiting_behind_another(random, wiring, house, start)
    if random.random() < 0.15:  # the dials are ahead by just as much as they wait for
        by = -60 * int(wiring.patience.removesuffix("m"))
        at, how = random.randrange(HOUR, LAST_STRIKE), {"by": by, "back": 3600, "kept": True}
        happenings.append(Fault(at, "clock stepped", how))
    if random.random() < 0.15:
        happenings += _wires_exchanged(random, wiring)
    return happenings


def _held_while_owed(random: Random, wiring: Wiring) -> list[Fault]:
    """The 24 V goes in an impulse, and somebody holds a line before that is given again."""
    if not wiring.supply_sense:
        return []
    at, into = random.randrange(HOUR, LAST_STRIKE), round(random.random(), 3)
    how = {"line": random.choice(wiring.lines), "seconds": 900}
    return [
        Fault(at, "24 V gone", {"seconds": 100}, "in an impulse", into),
        Fault(at + random.randrange(62, 98) * SECOND, "hold and go", how),
    ]


def _wires_exchanged(random: Random, wiring: Wiring) -> list[Fault]:
    """Somebody exchanges a line's wires, perhaps while an impulse is owed."""
    line, at = wiring.lines[0], random.randrange(HOUR, LAST_STRIKE)  # the first always alternates
    happenings = [Fault(at + 70 * SECOND, "wires exchanged", {"line": line, "seconds": 900})]
    if wiring.supply_sense and random.random() < 0.5:
        into = round(random.random(), 3)
        happenings.insert(0, Fault(at, "24 V gone", {"seconds": 120}, "in an impulse", into))
    return happenings


def _rung_again_and_again(random: Random, wiring: Wiring) -> list[Fault]:
    """A bell rung by hand for most of a minute, and something ends the daemon as it sounds."""
    at = random.randrange(HOUR, LAST_STRIKE)
    how = {"zones": [random.choice(wiring.zones)], "seconds": 4}
    rings = [Fault(at + number * 5 * SECOND, "ring", how) for number in range(10)]
    kind, into = random.choice(["daemon killed", "power cut"]), round(random.random(), 3)
    its = {"restart": 0.5} if kind == "daemon killed" else {"seconds": 0.2, "boot": 15, "sync": 0}
    when = at + random.choice([0, 5, 10]) * SECOND - SECOND
    return [*rings, Fault(when, kind, its, "ringing", into)]


def _heard_late(random: Random, house: House, start: int) -> list[Fault]:
    """A boot shortly before a ring, and a time server that is heard shortly after it was due."""
    at = _due_by_chance(random, house, start) - 20 * SECOND
    return [Fault(at, "power cut", {"seconds": 1, "boot": 15, "sync": random.choice([22, 26])})]


def _waiting_behind_another(
    random: Random, wiring: Wiring, house: House, start: int
) -> list[Fault]:
    """The store stalls with something in it, and a ring comes to wait behind that."""
    ahead = round(wiring.lead * SECOND) + 2_900 * MILLISECOND
    at = _due_by_chance(random, house, start) - ahead
    how = {"zones": [random.choice(wiring.zones)], "seconds": 0}
    return [
        Fault(at, "store stalled", {"seconds": random.choice([20, 60])}),
        Fault(at + 100 * MILLISECOND, "quiet", how),
    ]


def _due_by_chance(random: Random, house: House, start: int) -> int:
    """When a ring is due, ns from the start; one on a full minute, which joins no other."""
    rings = house.programs[0].between(start + HOUR, start + 5 * DAY, {})
    return random.choice([ring.due for ring in rings if ring.due % MINUTE == 0]) - start


# ── people ───────────────────────────────────────────────────────────────────────────────────────


def _people(random: Random, wiring: Wiring) -> list[Fault]:
    """Some of what a keeper does in a week."""
    done = []
    for _ in range(random.randrange(3, 9)):
        at = random.randrange(HOUR, LAST_STRIKE)
        kind = random.choices([*_PEOPLE], [*_PEOPLE.values()])[0]
        how = _people_how(random, kind, wiring)
        if how is not None:
            moment = random.choice(["", "ring stored", "ringing"])
            done.append(Fault(at, kind, how, moment, round(random.random(), 3)))
    return done


_PEOPLE = {
    "ring": 6,
    "stop": 2,
    "quiet": 3,
    "follow": 2,
    "hold and go": 2,
    "hold, read, set": 1,
    "trust": 3,
    "press": 4,
}


def _people_how(random: Random, kind: str, wiring: Wiring) -> dict | None:
    choose = random.choice
    match kind:
        case "ring":
            return {"zones": random.sample(wiring.zones, choose([1, 2])), "seconds": choose([1, 4])}
        case "quiet":
            return {"zones": [choose(wiring.zones)], "seconds": choose([0, 60, 7200])}
        case "follow":
            return {"days": choose([0, 1]), "plan": choose(["short", "none", "usual"])}
        case "hold and go":
            return {"line": choose(wiring.lines), "seconds": choose([20, 900, 7000])}
        case "hold, read, set":
            return {"line": choose(wiring.lines)}
        case "press":
            seconds = choose([0.3, 2, 15, 600])
            return {"name": choose(wiring.panel), "seconds": seconds} if wiring.panel else None
        case _:
            return {}
