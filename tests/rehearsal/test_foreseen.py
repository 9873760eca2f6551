"""What the coming days bring is found by rehearsing each distinct pair of dates once."""

from __future__ import annotations

from datetime import date, datetime, time

import pytest

from controller.building.civil import SECOND
from controller.building.file import read
from controller.building.values import WEEKDAYS
from controller.rehearsal import foreseen as at_work
from controller.rehearsal.foreseen import Finding, foreseen, reread, silenced
from controller.timetable.days import Timetable

HOUSE = """
[building]
timezone = "{zone}"
[supply]
amps = 1.0
[zones.east]
relay = 17
bells = 1
amps_each = 0.6
[zones.west]
relay = 18
bells = 1
amps_each = 0.6
[quiet]
west = ["sun"]
[plans.busy]
rings = [{{ at = "{at}", zones = ["east", "west"], for = "4s" }}]
[week]
{week}
"""
EVERY_DAY = "\n".join(f'{day} = "busy"' for day in WEEKDAYS)


@pytest.fixture
def house(tmp_path):
    def made(zone="Europe/Oslo", at="10:00", week=EVERY_DAY):
        path = tmp_path / "house.toml"
        path.write_text(HOUSE.format(zone=zone, at=at, week=week))
        building = read(path)
        return building, Timetable(building)

    return made


def test_a_wait_holds_on_every_date_that_is_like_it(house):
    (found,) = foreseen(*house(), date(2026, 11, 23), 14)
    assert found.finding == Finding("west", time(10), "waits", "supply", 4 * SECOND)
    assert found.dates == tuple(date(2026, 11, day) for day in (*range(23, 29), 30)) + tuple(
        date(2026, 12, day) for day in range(1, 6)
    )


def test_dates_that_are_alike_are_rehearsed_once(house, monkeypatch):
    asked = []

    def counting(building, script):
        asked.append(script)
        return real(building, script)

    real = at_work.rehearse
    monkeypatch.setattr(at_work, "rehearse", counting)
    foreseen(*house(), date(2026, 11, 23), 100)
    assert len(asked) == 3  # two week days, into Sunday, and out of it
    assert not any(script.lines for script in asked)


@pytest.mark.parametrize("at", ["00:00", "00:01", "11:59:58", "12:00", "23:59:58"])
def test_each_date_counts_once_at_whatever_time_it_rings(house, at):
    (found,) = foreseen(*house(at=at, week='tue = "busy"'), date(2026, 11, 24), 8)
    assert found.dates == (date(2026, 11, 24), date(2026, 12, 1))


@pytest.mark.parametrize(
    ("zone", "first"),
    [("Europe/Oslo", date(2027, 3, 28)), ("Pacific/Apia", date(2011, 12, 30))],
)
def test_a_clock_change_or_a_date_that_is_skipped_does_no_harm(house, zone, first):
    building, timetable = house(zone=zone, at="02:30", week='fri = "busy"\nsat = "busy"')
    dates = [day for one in foreseen(building, timetable, first, 9) for day in one.dates]
    assert len(dates) == len(set(dates))
    assert all(timetable.day(day).rings for day in dates)


def test_a_time_that_does_not_occur_and_one_that_occurs_twice_are_told_apart(house):
    # IANA: in Oslo clocks go on on 28 March 2027 at 02:00, back on 31 October 2027 at 03:00.
    building, timetable = house(at="02:30", week='sun = "busy"')
    found = reread(building, timetable, date(2027, 1, 1), 365)
    assert [(one.ring.zone, one.local, one.twice) for one in found] == [
        (zone, *when)
        for when in ((datetime(2027, 3, 28, 2, 30), False), (datetime(2027, 10, 31, 2, 30), True))
        for zone in ("east", "west")  # west's Sunday is quiet, and this is Saturday's night
    ]


def test_silenced_rings_are_those_due_in_the_window(house):
    building, timetable = house()
    monday = building.civil.instant(datetime(2026, 11, 23))
    sunday = building.civil.instant(datetime(2026, 11, 29, 10))
    assert list(silenced(building, timetable, monday, sunday)) == []
    (ring,) = silenced(building, timetable, monday, sunday + 1)
    assert (ring.zone, ring.written) == ("west", "2026-11-29T10:00:00")
