"""One change of a zone's offset as a story: a building, a window about the change, and its judge.

The judge knows the compiled table, the building's file and the rules of design section 4, and
nothing of the program: no civil time, no timetable, no dials. Instants here are whole seconds since
1970; the program's own are nanoseconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

from compiled_zones import DAY, Change, Table
from stories import Stage, Told, ns

from controller.rehearsal.record import MissedRecord, RingRecord
from controller.rehearsal.script import Script
from controller.rehearsal.world import rehearse

MINUTE, HOUR = 60, 3600
PATIENCE = 75 * MINUTE  # the file's default
IMPULSE, REST = 1, 1  # seconds; likewise
BEFORE = 50 * MINUTE  # of the window, before the change
AFTER = 50 * MINUTE  # and after all is right again


class Dials(NamedTuple):
    """An alternating line."""

    name: str
    relays: str
    face: int  # seconds
    every: int

    @property
    def positions(self) -> int:
        return self.face // self.every

    @property
    def table(self) -> str:
        return (
            f'[lines.{self.name}]\ndrive = "alternating"\nrelays = {self.relays}\n'
            f'face = "{self.face // HOUR}h"\nevery = "{self.every}s"\n'
        )


LINES = (
    Dials("small", "[22, 23]", 12 * HOUR, 60),
    Dials("whole", "[5, 6]", 24 * HOUR, 60),
    Dials("halves", "[12, 13]", 12 * HOUR, 30),
)
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
RING = 3  # seconds of each ring
ACROSS = 6  # seconds of the one that begins three seconds before the change


class Kind(NamedTuple):
    """What one change has in common with those of other zones and days.

    Two changes of one kind part the same two offsets at the same second of the UTC day; where no
    other change is near, their local times are the same, whole days apart.
    """

    second_of_day: int
    before: int
    after: int


def kind_of(change: Change) -> Kind:
    return Kind(change.at % DAY, change.before, change.after)


# ── the building ─────────────────────────────────────────────────────────────────────────────────


def written_times(kind: Kind) -> dict[int, int]:
    """The rings of every day: second of the day as written → seconds that it lasts.

    Before, in and after the gap or the fold, at both its edges; and about midnight.
    """
    last, first = kind.second_of_day + kind.before, kind.second_of_day + kind.after
    low, high = min(last, first), max(last, first)
    offsets = (-40, -1, 0, 1, 20)
    times = [edge + minutes * MINUTE for edge in (low, high) for minutes in offsets]
    times += [low + (high - low) // 2, high - MINUTE]
    times += [hour * HOUR + minute * MINUTE for hour, minute in ((0, 0), (0, 1), (0, 30))]
    times += [23 * HOUR + 30 * MINUTE, 23 * HOUR + 59 * MINUTE]
    return {time % DAY: RING for time in times} | {(last - 3) % DAY: ACROSS}


def clock_text(second: int) -> str:
    return f"{second // HOUR:02d}:{second // MINUTE % 60:02d}:{second % 60:02d}"


def text_of(day: int, second: int) -> str:
    """What a ring says: its weekday and its time, as written. `day`: days since 1970-01-01."""
    return f"{WEEKDAYS[(day + 3) % 7]} {clock_text(second)}"  # the first was a Thursday


def building_text(zone: str, kind: Kind) -> str:
    """The same rings every day, each day in words of its own."""
    week, plans = "[week]\n", ""
    for day in range(7):
        rings = ", ".join(
            f'{{ at = "{clock_text(at)}", zones = ["north"], for = "{length}s", '
            f'says = "{text_of(day, at)}" }}'
            for at, length in sorted(written_times(kind).items())
        )
        weekday = WEEKDAYS[(day + 3) % 7]
        plans += f"[plans.{weekday}]\nrings = [{rings}]\n"
        week += f'{weekday} = "{weekday}"\n'
    lines = "".join(line.table for line in LINES)
    head = f'[building]\ntimezone = "{zone}"\n[zones.north]\nrelay = 17\n'
    return head + lines + plans + week


# ── what must happen ─────────────────────────────────────────────────────────────────────────────


class Course(NamedTuple):
    """How a line goes through a change."""

    impulses: tuple[int, ...]  # when each begins
    waits: int  # seconds for which its dials stand, time reaching them
    driven: int  # impulses of the catch-up
    right: int  # from when on the dials are right


def course(line: Dials, table: Table, change: Change, start: int, until: int) -> Course:
    """Rule 11: right, or waiting for at most `patience`, or driven until right."""

    def true(utc: int) -> int:
        return (utc + table.offset_at(utc)) % DAY // line.every % line.positions

    def steps(first: int, past: int) -> Iterator[int]:
        """Where time reaches another position, in [first, past)."""
        first += -(first + table.offset_at(first)) % line.every
        yield from range(first, past, line.every)

    given = list(steps(start + 1, change.at))
    shown = true(change.at - 1)
    behind = (true(change.at) - shown) % line.positions
    ahead = line.positions - behind
    if behind == 0:
        return Course((*given, *steps(change.at, until)), 0, 0, change.at)
    if ahead * line.every <= PATIENCE:
        right = next(at for at in steps(change.at, change.at + PATIENCE + 1) if true(at) == shown)
        return Course((*given, *steps(right + 1, until)), right - change.at, 0, right)
    number = next(n for n in range(1, 10 * line.positions) if _come(line, true, change.at, n))
    catch_up = [change.at + (IMPULSE + REST) * n for n in range(number)]
    right = catch_up[-1] + IMPULSE
    return Course((*given, *catch_up, *steps(right, until)), 0, number, right)


def _come(line: Dials, true, begin: int, number: int) -> bool:
    """Whether so many impulses in a row, the first at `begin`, end with the dials right."""
    ended = begin + (IMPULSE + REST) * (number - 1) + IMPULSE
    return (true(begin - 1) + number) % line.positions == true(ended)


class Sounding(NamedTuple):
    """What is heard: rings that overlap or touch are one."""

    at: int
    seconds: int
    says: frozenset[str]


def soundings(table: Table, kind: Kind, start: int, until: int) -> list[Sounding]:
    """Every ring once, at the instant of its written time; on dates that exist."""
    midnight = (start + table.offset_at(start)) // DAY * DAY
    rings = []
    for day in range(midnight - 3 * DAY, midnight + 4 * DAY, DAY):
        if not table.date_exists(day):
            continue
        for second, length in written_times(kind).items():
            at = table.instant(day + second)
            if start <= at < until:
                rings.append(Sounding(at, length, frozenset({text_of(day // DAY, second)})))
    heard: list[Sounding] = []
    for ring in sorted(rings):
        if heard and ring.at <= heard[-1].at + heard[-1].seconds:
            one = heard.pop()
            end = max(one.at + one.seconds, ring.at + ring.seconds)
            ring = Sounding(one.at, end - one.at, one.says | ring.says)
        heard.append(ring)
    return heard


# ── the story and its judge ──────────────────────────────────────────────────────────────────────


class Story(NamedTuple):
    """A change, played through."""

    zone: str
    table: Table
    change: Change
    start: int
    until: int
    told: Told

    def __str__(self) -> str:
        at, before, after = self.change
        return f"{self.zone}: offset {before} to {after} s at {at} s since 1970"


def play(stage: Stage, zone: str, table: Table, change: Change) -> Story:
    start = change.at - BEFORE
    past = change.at + DAY
    ends = max(course(line, table, change, start, past).right for line in LINES)
    until = ends + AFTER
    near = list(table.changes(start - 3 * DAY, until + 3 * DAY))
    assert near == [change], "another change is near, and this one is no kind of its own"
    building = stage.building(building_text(zone, kind_of(change)))
    told = Told(building, list(rehearse(building, Script(ns(start), ns(until)))))
    return Story(zone, table, change, start, until, told)


def judge(story: Story) -> None:
    """Bells and dials went through the change as the rules say."""
    _rung_once_as_written(story)
    for line in LINES:
        _stepped_and_right(story, line)


def _rung_once_as_written(story: Story) -> None:
    told = story.told
    wanted = soundings(story.table, kind_of(story.change), story.start, story.until)
    heard = [
        (one.at, ns(one.length / 10**9), frozenset(one.says.split(" / "))) for one in told.rings
    ]
    assert heard == [(ns(at), ns(length), says) for at, length, says in wanted], str(story)
    assert all(one.due == one.at and not one.cut and not one.hand for one in told.rings), str(story)
    assert told.missed == [], str(story)


def _stepped_and_right(story: Story, line: Dials) -> None:
    given = [one for one in story.told.impulses if one.line == line.name]
    wanted = course(line, story.table, story.change, story.start, story.until)
    assert [one.at for one in given] == [ns(at) for at in wanted.impulses], f"{story}, {line.name}"
    assert wanted.waits <= PATIENCE
    assert all(a.polarity != b.polarity for a, b in pairwise(given)), f"{story}, {line.name}"
    assert not any(one.cut or one.again for one in given), f"{story}, {line.name}"
    assert [one.shows for one in given] == list(_shown(story, line, len(given))), str(story)
    end = story.told.end.lines[line.name]
    assert end.right, f"{story}, {line.name}"
    assert not end.doubtful, f"{story}, {line.name}"


def _shown(story: Story, line: Dials, impulses: int) -> Iterator[str]:
    """What dials show that were right at the start, after each impulse."""
    local = story.start + story.table.offset_at(story.start)
    position = local % line.face // line.every
    for _ in range(impulses):
        position = (position + 1) % line.positions
        text = clock_text(position * line.every)
        yield text if line.every % MINUTE else text[:5]


def moved(story: Story) -> list[object]:
    """All that happened, told from the change on: the same for every change of its kind.

    Weekdays are left out: they are the one thing in which two days differ.
    """
    since = ns(story.change.at)
    told: list[object] = []
    for one in story.told.records:
        if isinstance(one, RingRecord):
            says = " / ".join(text.split(" ", 1)[1] for text in one.says.split(" / "))
            one = one._replace(due=one.due - since, says=says)
        elif isinstance(one, MissedRecord):
            one = one._replace(due=one.due - since)
        told.append(one._replace(at=one.at - since))
    return told
