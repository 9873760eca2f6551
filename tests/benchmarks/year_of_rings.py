"""A year's rings, a year's soundings, and the next one; against a plain loop and other libraries.

    python tests/benchmarks/year_of_rings.py

A school year in America/Halifax: 205 weekdays, 24 rings a day in each of eight zones, 39,360 rings.
All of them are asked for the same year and must answer with the same rings, or nothing is printed.

- The plain loop over dates computes the very list that the timetable gives, and nothing else: no
  quiet rows, orders, holidays or limits, and no date whose clock changes is looked at twice. The
  next one by the plain loop is a bisection in the list of the whole year.
- rrule, croniter and CronTrigger have one rule for each ring of the day and zone, recurring-ical-
  events has one event; breaks, which none but the timetable knows, are taken out of their answers
  through a set, as in the plain loop. For the next one they have a rule for each time of day only,
  and are asked on open days, so that one answer of each rule is enough.
- Every ring is on a weekday between 08:00 and 16:00 and the clock changes on Sundays at 02:00:
  croniter and CronTrigger, which give 01:30 twice in autumn, agree with RFC 5545 here.

The timetable remembers days. A year is asked of a fresh one; the next one of one that has been
asked about that day before, as the daemon's has. Ours and the plain loop alternate, a hundred
times; the rest are asked three times.
"""

from __future__ import annotations

import gc
import random
import tempfile
import time
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from datetime import time as Time
from pathlib import Path
from statistics import median
from typing import Any
from zoneinfo import ZoneInfo

import recurring_ical_events
from apscheduler.triggers.cron import CronTrigger
from croniter import croniter
from dateutil import rrule
from icalendar import Calendar
from rows import OURS, Goal, Row, show, spread

from controller.building.civil import utc_ns
from controller.building.closings import union
from controller.building.file import read
from controller.building.model import Building
from controller.timetable.contact import Closing
from controller.timetable.days import Timetable
from controller.timetable.rings import Ring
from controller.timetable.soundings import Sounding

P = "P3"
SECOND = 1_000_000_000
PLACE = ZoneInfo("America/Halifax")
FIRST, LAST = date(2026, 9, 1), date(2027, 8, 31)
START = datetime.combine(FIRST, Time.min, PLACE)
END = datetime.combine(LAST + timedelta(days=1), Time.min, PLACE)
BREAKS = (  # Monday to Friday: 10, 5 and 41 days
    (date(2026, 12, 19), date(2027, 1, 3)),
    (date(2027, 3, 15), date(2027, 3, 19)),
    (date(2027, 7, 6), date(2027, 8, 31)),
)
CLOSED = frozenset(
    first + timedelta(days=days)
    for first, last in BREAKS
    for days in range((last - first).days + 1)
)
WEEKDAYS = frozenset(range(5))
ZONES = [f"zone-{number}" for number in range(1, 9)]
TIMES = [(datetime(2026, 1, 1, 8) + timedelta(minutes=20 * n)).time() for n in range(24)]
RINGS = 39_360
SECONDS = 5
CLOSINGS: tuple[Closing, ...] = ((0, SECONDS * SECOND),)
TURNS, SLOW_TURNS = 100, 3
ASKED, SLOW_ASKED = 10_000, 20  # next ones

Due = tuple[int, str]  # utc (ns), zone


# ── ours ─────────────────────────────────────────────────────────────────────────────────────


def school() -> Building:
    """The building whose year it is."""
    zones = "".join(f"[zones.{z}]\nrelay = {2 + n}\n" for n, z in enumerate(ZONES))
    rings = "".join(f'{{ at = "{at:%H:%M}", zones = ["*"], for = "{SECONDS}s" }},' for at in TIMES)
    week = "".join(f'{day} = "open"\n' for day in ("mon", "tue", "wed", "thu", "fri"))
    breaks = "".join(
        f'[[calendar]]\nfrom = "{a}"\nuntil = "{b}"\nplan = "none"\n' for a, b in BREAKS
    )
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "school.toml"
        file.write_text(
            f'[building]\ntimezone = "{PLACE.key}"\n{zones}[plans.open]\nrings = [{rings}]\n'
            f"[week]\n{week}{breaks}"
        )
        return read(file)


# ── the plain loop ───────────────────────────────────────────────────────────────────────────


def looped_rings() -> list[Ring]:
    """What `Timetable.window` gives."""
    found = []
    entries = [(zone, at, f"T{at:%H:%M:%S}") for at in TIMES for zone in ZONES]
    day = FIRST
    while day <= LAST:
        if day.weekday() in WEEKDAYS and day not in CLOSED:
            name = day.isoformat()
            for zone, at, written in entries:
                due = int(datetime.combine(day, at, PLACE).timestamp()) * SECOND
                found.append(Ring(zone, name + written, due, CLOSINGS, ""))
        day += timedelta(days=1)
    return found


def looped_soundings() -> list[Sounding]:
    """What `Timetable.soundings` gives."""
    found: list[Sounding] = []
    newest: dict[str, int] = {}  # zone → place of its last sounding
    for ring in looped_rings():
        closings = tuple([(ring.due + on, ring.due + off) for on, off in ring.closings])
        place = newest.get(ring.zone)
        if place is not None and ring.due <= found[place].closings[-1][1]:
            before = found[place]
            found[place] = before._replace(
                closings=union((*before.closings, *closings)), rings=(*before.rings, ring)
            )
        else:
            newest[ring.zone] = len(found)
            found.append(Sounding(ring.zone, ring.due, closings, (ring,), None))
    return found


# ── the others ───────────────────────────────────────────────────────────────────────────────


def by_rrule() -> Iterator[Due]:
    for zone in ZONES:
        for at in TIMES:
            for moment in weekly(at, until=END.replace(tzinfo=None)):
                if moment.date() not in CLOSED:
                    yield int(moment.replace(tzinfo=PLACE).timestamp()) * SECOND, zone


def weekly(at: Time, **more: Any) -> rrule.rrule:
    return rrule.rrule(
        rrule.WEEKLY, byweekday=range(5), dtstart=datetime.combine(FIRST, at), **more
    )


def by_croniter() -> Iterator[Due]:
    end = END.timestamp()
    for zone in ZONES:
        for at in TIMES:
            moments = croniter(cron(at), START)
            while (moment := moments.get_next(datetime)).timestamp() < end:
                if moment.date() not in CLOSED:
                    yield int(moment.timestamp()) * SECOND, zone


def cron(at: Time) -> str:
    return f"{at.minute} {at.hour} * * 1-5"


def by_cron_trigger() -> Iterator[Due]:
    for zone in ZONES:
        for at in TIMES:
            trigger = CronTrigger(
                day_of_week="mon-fri", hour=at.hour, minute=at.minute, timezone=PLACE, end_date=END
            )
            moment = trigger.get_next_fire_time(None, START)
            while moment is not None:
                if moment.date() not in CLOSED:
                    yield int(moment.timestamp()) * SECOND, zone
                moment = trigger.get_next_fire_time(moment, moment)


def by_events() -> Iterator[Due]:
    for event in recurring_ical_events.of(events(ZONES)).between(START, END):
        moment = event["DTSTART"].dt
        if moment.date() not in CLOSED:
            yield int(moment.timestamp()) * SECOND, str(event["SUMMARY"])


def events(zones: list[str]) -> Calendar:
    text = "".join(
        f"BEGIN:VEVENT\r\nUID:{zone}-{at:%H%M}\r\nSUMMARY:{zone}\r\n"
        f"DTSTART;TZID={PLACE.key}:{FIRST:%Y%m%d}T{at:%H%M%S}\r\nDURATION:PT{SECONDS}S\r\n"
        "RRULE:FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR\r\nEND:VEVENT\r\n"
        for zone in zones
        for at in TIMES
    )
    head = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//benchmark//\r\n"
    return Calendar.from_ical(f"{head}{text}END:VCALENDAR\r\n")


OTHERS: dict[str, Callable[[], Iterable[Due]]] = {
    "dateutil.rrule": by_rrule,
    "croniter": by_croniter,
    "APScheduler CronTrigger": by_cron_trigger,
    "recurring-ical-events": by_events,
}


# ── the next one ─────────────────────────────────────────────────────────────────────────────

Next = Callable[[int], int]  # utc → when the first ring due then or later is due


def next_by_list(dues: list[int]) -> Next:
    return lambda after: dues[bisect_left(dues, after)]


def next_by_rrule() -> Next:
    rules = rrule.rruleset(cache=True)
    for at in TIMES:
        rules.rrule(weekly(at, until=END.replace(tzinfo=None)))
    list(rules)  # from here on it is remembered

    def asked(after: int) -> int:
        local = datetime.fromtimestamp(after // SECOND, PLACE).replace(tzinfo=None)
        return int(rules.after(local, inc=True).replace(tzinfo=PLACE).timestamp()) * SECOND

    return asked


def next_by_croniter() -> Next:
    rules = [croniter(cron(at), START) for at in TIMES]

    def asked(after: int) -> int:
        before = datetime.fromtimestamp(after // SECOND - 1, PLACE)  # it gives what is later
        return min(int(r.get_next(float, start_time=before)) for r in rules) * SECOND

    return asked


def next_by_cron_trigger() -> Next:
    rules = [
        CronTrigger(day_of_week="mon-fri", hour=at.hour, minute=at.minute, timezone=PLACE)
        for at in TIMES
    ]

    def asked(after: int) -> int:
        local = datetime.fromtimestamp(after // SECOND, PLACE)
        return utc_ns(min(r.get_next_fire_time(None, local) for r in rules).astimezone(UTC))

    return asked


def next_by_events() -> Next:
    query = recurring_ical_events.of(events(ZONES[:1]))

    def asked(after: int) -> int:
        local = datetime.fromtimestamp(after // SECOND + SECONDS, PLACE)  # it counts what goes on
        return int(next(query.after(local))["DTSTART"].dt.timestamp()) * SECOND

    return asked


# ── measured ─────────────────────────────────────────────────────────────────────────────────


def milliseconds(give: Callable[[], Iterable[Any]]) -> float:
    """How long it takes to have the list."""
    gc.collect()
    began = time.perf_counter_ns()
    list(give())
    return (time.perf_counter_ns() - began) / 1e6


def rows() -> Iterator[Row]:
    """The benchmark."""
    building = school()
    start, end = utc_ns(START), utc_ns(END)
    rings = list(Timetable(building).window(start, end))
    assert len(rings) == RINGS
    assert rings == looped_rings()
    assert Timetable(building).soundings(start, end) == looped_soundings()
    same = sorted((ring.due, ring.zone) for ring in rings)
    for name, give in OTHERS.items():
        assert sorted(give()) == same, f"{name} gives other rings"
    peers = {name: [milliseconds(give) for _ in range(SLOW_TURNS)] for name, give in OTHERS.items()}
    for what, ours, loop in (
        ("a year's rings", lambda: Timetable(building).window(start, end), looped_rings),
        ("a year's soundings", lambda: Timetable(building).soundings(start, end), looped_soundings),
    ):
        pairs = [(milliseconds(ours), milliseconds(loop)) for _ in range(TURNS)]
        most = 1.5 * median(pair[1] for pair in pairs)
        goal = Goal(most, "≤ 1.5 × the plain loop")
        yield Row(P, what, OURS, spread((pair[0] for pair in pairs), "ms"), goal)
        yield Row(P, what, "a plain loop", spread((pair[1] for pair in pairs), "ms"))
        for name, took in peers.items() if loop is looped_rings else ():
            yield Row(P, what, name, spread(took, "ms"))
    yield from next_ones(Timetable(building), [ring.due for ring in rings])


def next_ones(timetable: Timetable, dues: list[int]) -> Iterator[Row]:
    """How long it takes to find the next one."""
    chance = random.Random(39_360)
    asked = sorted(
        chance.choice(dues) - chance.randrange(SECOND, 600 * SECOND) for _ in range(ASKED)
    )
    ways: dict[str, tuple[Next, list[int]]] = {
        OURS: (lambda after: next(timetable.upcoming(after)).due, asked),
        "ours, only when": (lambda after: timetable.next_due(after) or 0, asked),
        "bisection in the year's list": (next_by_list(dues), asked),
        "dateutil.rrule": (next_by_rrule(), asked[:: ASKED // SLOW_ASKED]),
        "croniter": (next_by_croniter(), asked[:: ASKED // SLOW_ASKED]),
        "APScheduler CronTrigger": (next_by_cron_trigger(), asked[:: ASKED // SLOW_ASKED]),
        "recurring-ical-events": (next_by_events(), asked[:: ASKED // SLOW_ASKED]),
    }
    right = next_by_list(dues)
    for name, (find, instants) in ways.items():
        assert all(find(after) == right(after) for after in instants), f"{name} finds another"
        took = []
        for after in instants:
            began = time.perf_counter_ns()
            find(after)
            took.append((time.perf_counter_ns() - began) / 1e3)
        goal = Goal(5.0, "≤ 5 µs") if name == OURS else None
        yield Row(P, "the next ring", name, spread(took, "µs"), goal)


if __name__ == "__main__":
    show(rows())
