"""Every change of every IANA zone from 2000 to 2037: bells and dials right across each.

Of tz 2025b these are 17,425 entries under 599 names; 3,183 of them differ; they are of 179 kinds
(2026f: 17,196 under 598, 3,142, 187).
A kind is played, not each of its changes, for the same change on another day is the same story
whole days later:

- The program knows a zone only through `CivilTime`, which is held against the compiled table at
  every one of the changes, at the instants and for the written times that the stories are about.
- Two changes of a kind have the same local times, whole days apart, as no other change is near.
  A face divides the day, and the stories ring alike every day; so nothing else tells them apart.
- Of every kind at least two changes are played, and all that happened must be the same.

Which two are played differs from run to run; UNDERSTUDY_SEED=n, printed with whatever fails,
repeats a run. UNDERSTUDY_TRANSITIONS=whole plays every one of the changes that differ (190 s of one
core); in CI that is so, unless UNDERSTUDY_TRANSITIONS=kinds.
"""

from __future__ import annotations

import os
import random
import zlib
import zoneinfo
from datetime import datetime, timedelta
from functools import cache
from itertools import pairwise

import pytest
from change_stories import Kind, judge, kind_of, moved, play, written_times
from compiled_zones import DAY, Change, Table, table_of

from controller.building.civil import CivilTime

SECOND = 10**9
EPOCH = datetime(1970, 1, 1)  # on a clock's face
CHUNKS = 16
WHOLE = os.environ.get("UNDERSTUDY_TRANSITIONS", "whole" if "CI" in os.environ else "") == "whole"


@cache
def seed() -> int:
    """The same in all processes of one run."""
    told = os.environ.get("UNDERSTUDY_SEED")
    if told is not None:
        return int(told)
    run = os.environ.get("PYTEST_XDIST_TESTRUNUID")
    return zlib.crc32(run.encode()) if run else random.SystemRandom().randrange(2**32)


@cache
def zones() -> tuple[str, ...]:
    return tuple(sorted(zoneinfo.available_timezones()))


@cache
def changes_by_kind() -> dict[Kind, dict[Change, list[str]]]:
    """Every change, by its kind, and the names of the zones that have it."""
    found: dict[Kind, dict[Change, list[str]]] = {}
    for zone in zones():
        for change in table_of(zone).changes():
            found.setdefault(kind_of(change), {}).setdefault(change, []).append(zone)
    return dict(sorted(found.items()))


def test_there_are_changes_to_be_played():
    kinds = changes_by_kind()
    different = sum(len(changes) for changes in kinds.values())
    entries = sum(len(names) for changes in kinds.values() for names in changes.values())
    print(f"{entries} changes, {different} different, {len(kinds)} kinds, {len(zones())} zones")
    assert len(zones()) > 400
    assert entries > 15_000
    assert different > 2_500
    assert len(kinds) > 150


def test_all_changes_are_on_whole_minutes_and_none_is_near_another():
    """As the kinds need it; the nearest two are 166 hours apart in tz 2025b, in 2026f 122."""
    for kind in changes_by_kind():
        assert [number % 60 for number in kind] == [0, 0, 0]
    for zone in zones():
        at = [change.at for change in table_of(zone).changes()]
        assert all(b - a > 4 * DAY for a, b in pairwise(at)), zone


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_civil_time_is_that_of_the_compiled_table_at_every_change_of_every_zone(chunk):
    for zone in zones()[chunk::CHUNKS]:
        table, civil = table_of(zone), CivilTime(zone)
        for change in table.changes():
            _civil_at(zone, civil, table, change)


def _civil_at(zone: str, civil: CivilTime, table: Table, change: Change) -> None:
    at, before, after = change
    for utc, offset in ((at - 3000, before), (at, after), (at + 3000, after), (at + 9000, after)):
        assert civil.offset_seconds(utc * SECOND) == offset, (zone, change)
    assert civil.offset_seconds(at * SECOND - 1) == before, (zone, change)
    found = civil.next_change((at - 7000) * SECOND, (at + 7000) * SECOND)
    assert found == (at * SECOND if before != after else None), (zone, change)
    midnight = (at + min(before, after)) // DAY * DAY
    for day in (midnight, midnight + DAY):
        date = EPOCH + timedelta(seconds=day)
        assert civil.date_exists(date.date()) == table.date_exists(day), (zone, change, date)
        for second in written_times(kind_of(change)):
            read = civil.instant(date + timedelta(seconds=second))
            assert read == table.instant(day + second) * SECOND, (zone, change, date, second)


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_bells_and_dials_are_right_across_every_kind_of_change(stage, chunk):
    """And the same change on another day is the same story."""
    print(f"UNDERSTUDY_SEED={seed()}")
    for members in shares()[chunk]:
        first = None
        for change, zone in members:
            story = play(stage, zone, table_of(zone), change)
            judge(story)
            first = first or story
            assert moved(story) == moved(first), f"{story}, and {first}"


@cache
def shares() -> list[list[list[tuple[Change, str]]]]:
    """What each chunk plays: of some kinds, changes, each in one of its zones; alike in size."""
    chance = random.Random(seed())
    kinds = []
    for changes in changes_by_kind().values():
        some = sorted(changes) if WHOLE else chance.sample(sorted(changes), k=min(2, len(changes)))
        kinds.append([(change, chance.choice(changes[change])) for change in some])
    found: list[list[list[tuple[Change, str]]]] = [[] for _ in range(CHUNKS)]
    for members in sorted(kinds, key=len, reverse=True):
        min(found, key=lambda share: sum(map(len, share))).append(members)
    return found
