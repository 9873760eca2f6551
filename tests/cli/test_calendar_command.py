"""`understudy calendar`: as a keeper gives it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
import vobject
from desks import small_building
from houses import RINGLESS, SMALL
from icalendar import Calendar

from controller.building.civil import utc_ns
from controller.cli import calendar_export, calendar_import, local
from controller.service.order_server import Reply
from controller.timetable.days import Timetable

# By `runtime` and `state_folder` no daemon is asked, and what is kept lies in a folder of the test.
pytestmark = pytest.mark.usefixtures("runtime", "state_folder", "on_a_saturday")

RULES = """[[import]]
words = ["fair", "holiday"]
plan = "none"
"""
FAIR = ("DTSTART;VALUE=DATE:20261203", "DTEND;VALUE=DATE:20261205", "SUMMARY:Book fair")
HOLIDAY = ("DTSTART;VALUE=DATE:20261222", "SUMMARY:Holiday")
MEETING = ("DTSTART:20261209T150000", "SUMMARY:Staff meeting", "CATEGORIES:Meetings")


@pytest.fixture
def on_a_saturday(monkeypatch):
    """28 November 2026, noon UTC."""
    now = utc_ns(datetime(2026, 11, 28, 12, tzinfo=UTC))
    monkeypatch.setattr(calendar_import, "time_ns", lambda: now)
    monkeypatch.setattr(calendar_export, "time_ns", lambda: now)
    monkeypatch.setattr(local, "time", SimpleNamespace(time_ns=lambda: now))


@pytest.fixture
def office(tmp_path: Path):
    """Writes the calendar that the office exports."""

    def written(*events: tuple[str, ...], name: str = "office.ics") -> Path:
        lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Office//EN"]
        for number, event in enumerate(events):
            lines += ["BEGIN:VEVENT", f"UID:{number}@office.example", "DTSTAMP:20260901T120000Z"]
            lines += [*event, "END:VEVENT"]
        path = tmp_path / name
        path.write_bytes("\r\n".join([*lines, "END:VCALENDAR", ""]).encode())
        return path

    return written


# ── import ───────────────────────────────────────────────────────────────────────────────────────


def test_an_import_shows_asks_and_writes(understudy, house, office):
    path = house(SMALL + RULES)
    said = understudy("calendar", "import", office(FAIR, MEETING), path, typed="y\n")
    assert said.code == 0
    assert said.out.splitlines()[:12] == [
        "office: 2 events. From Sat 2026-11-28 to Mon 2029-02-05 it comes to:",
        "",
        "Added",
        "  Thu 2026-12-03 to Fri 2026-12-04  none  Book fair",
        "",
        "Left out: no rule of [[import]] fits",
        "  Wed 2026-12-09  Staff meeting",
        "",
        "1 to add, 0 to change, 0 to remove; 0 as they were; 1 event left out.",
        "",
        *said.out.splitlines()[10:12],
    ]
    entry = (
        '[[calendar]]\nfrom = "2026-12-03"\nuntil = "2026-12-04"\nplan = "none"\n'
        'says = "Book fair"\nevent = { calendar = "office", uid = "0@office.example", mark = "'
    )
    text = path.read_text()
    assert entry in text
    assert text.index(entry) < text.index('says = "Winter break"'), "before the keeper's own"
    assert all(line in text.splitlines() for line in (SMALL + RULES).splitlines())


def test_whoever_says_no_keeps_the_file(understudy, house, office):
    path = house(SMALL + RULES)
    said = understudy("calendar", "import", office(FAIR), path, typed="n\n")
    assert said.code == 1
    assert path.read_text() == SMALL + RULES


def test_the_same_calendar_again_is_nothing_to_do_and_writes_nothing(understudy, house, office):
    path, calendar = house(SMALL + RULES), office(FAIR, HOLIDAY)
    assert understudy("calendar", "import", calendar, path, "--yes").code == 0
    before = path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_ino
    said = understudy("calendar", "import", calendar, path)
    assert said.code == 0
    assert "Nothing is to be done" in said.out
    assert (path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_ino) == before


def test_a_later_import_tells_what_was_and_what_is(understudy, house, office):
    path = house(SMALL + RULES)
    assert understudy("calendar", "import", office(FAIR, HOLIDAY), path, "--yes").code == 0
    mine = path.read_text().replace('says = "Holiday"', 'says = "Holiday, gong only"')
    path.write_text(mine)
    later = FAIR[0], "DTEND;VALUE=DATE:20261206", FAIR[2]
    said = understudy("calendar", "import", office(later, HOLIDAY), path, "--yes")
    assert "was Thu 2026-12-03 to Fri 2026-12-04 none Book fair" in said.words
    assert "now Thu 2026-12-03 to Sat 2026-12-05 none Book fair" in said.words
    assert "Kept as they are" in said.out
    assert "you changed it; the calendar has still Tue 2026-12-22, none, Holiday" in said.words
    assert "Holiday, gong only" in path.read_text()


def test_where_the_keepers_own_entry_goes_before_the_calendar_it_is_told(understudy, house, office):
    path = house(SMALL.replace('plan = "none"\nsays', 'plan = "regular"\nsays') + RULES)
    said = understudy("calendar", "import", office(HOLIDAY), path, "--yes")
    assert "Where your own entries go before the calendar" in said.out
    assert "Tue 2026-12-22 regular, Winter break not none, Holiday" in said.words


def test_a_file_without_rules_is_told_how_to_have_some(understudy, small, office):
    said = understudy("calendar", "import", office(MEETING), small)
    assert said.code == 1
    assert "no [[import]] table" in said.err
    assert '"Meetings"' in said.err
    assert small.read_text() == SMALL


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"<html></html>", "is no calendar file"),
        (b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\n", "is cut off"),
        (b"BEGIN:VCALENDAR\r\n\x00\xff\r\nEND:VCALENDAR\r\n", "is no calendar that can be read"),
    ],
)
def test_a_file_that_is_no_calendar_is_a_bad_file(understudy, house, tmp_path, content, why):
    calendar = tmp_path / "page.ics"
    calendar.write_bytes(content)
    said = understudy("calendar", "import", calendar, house(SMALL + RULES), "--yes")
    assert said.code == 2
    assert why in " ".join(said.err.split())


def test_a_calendar_that_is_not_there(understudy, house, tmp_path):
    said = understudy("calendar", "import", tmp_path / "none.ics", house(SMALL + RULES))
    assert said.code == 1
    assert "No such file" in said.err


def test_a_running_daemon_writes_the_file(understudy, house, office, daemon):
    path = house(SMALL + RULES)
    daemon.desk.replies["files"] = lambda said: Reply(True, "", {"path": str(path)})
    looked = {"changes": ["Thu 3 Dec: no ring is left"], "silences": [], "fingerprint": "f"}
    daemon.desk.replies["preview"] = lambda said: Reply(True, "What would change:", looked)
    said = understudy("calendar", "import", office(FAIR), path, "--yes")
    assert said.code == 0
    assert "no ring is left" in said.out
    edit = daemon.desk.heard[-1]
    assert edit["order"] == "edit"
    assert edit["file"] == path.name
    assert 'says = "Book fair"' in edit["text"]
    assert path.read_text() == SMALL + RULES, "not by the command itself"


# ── export ───────────────────────────────────────────────────────────────────────────────────────


def exported(understudy, path, *options) -> bytes:
    said = understudy("calendar", "export", path, *options)
    assert said.code == 0, said.err
    return said.out.encode()


WINDOW = "--from", "2026-10-30", "--until", "2026-11-04"  # a clock change in it, on 1 November


def test_the_events_are_the_soundings_in_two_libraries_reading(understudy, house):
    text = SMALL.replace("[week]", '[week]\nsun = "regular"').replace(', "sun"]', "]")
    content = exported(understudy, house(text), *WINDOW)
    building = small_building(text)
    instant = building.civil.instant_of
    soundings = Timetable(building).soundings(instant("2026-10-30"), instant("2026-11-04"))
    expected = sorted((one.start, one.zone) for one in soundings)
    assert len(expected) == 13, "four days with three soundings, and a Saturday with one"

    def told(events):
        return sorted((utc_ns(start), zone) for start, zones in events for zone in zones)

    first = [
        (event.start, list(map(str, event["CATEGORIES"].cats)))
        for event in Calendar.from_ical(content).events
    ]
    second = [
        (event.dtstart.value, event.categories.value)
        for event in vobject.readOne(content.decode()).vevent_list
    ]
    assert told(first) == expected
    assert told(second) == expected


def test_an_event_says_what_for_where_and_how(understudy, small):
    content = exported(understudy, small, "--from", "2026-11-30", "--until", "2026-12-01")
    first, lunch = Calendar.from_ical(content).events
    assert str(first["SUMMARY"]) == "First class (north)"
    assert str(lunch["SUMMARY"]) == "Lunch (north, south)"
    assert str(lunch["DESCRIPTION"]) == "north, south 2 strokes"
    assert lunch.start == datetime(2026, 11, 30, 16, tzinfo=UTC)
    assert lunch.end == datetime(2026, 11, 30, 16, 0, 3, tzinfo=UTC), "2.5 s, up to whole ones"


def test_the_same_sounding_has_the_same_uid_at_each_export(understudy, small, house):
    def uids(*options):
        content = exported(understudy, small, *options)
        return {event.start: str(event["UID"]) for event in Calendar.from_ical(content).events}

    one = uids("--from", "2026-11-30", "--until", "2026-12-05")
    other = uids("--from", "2026-12-02", "--until", "2026-12-09")
    both = one.keys() & other.keys()
    assert len(both) == 6
    assert all(one[at] == other[at] for at in both)
    assert len({*one.values(), *other.values()}) == len(one.keys() | other.keys())


def test_a_day_is_one_event_with_its_plan_and_rings(understudy, small):
    options = "--each", "day", "--from", "2026-12-18T15:00", "--until", "2026-12-21"
    days = Calendar.from_ical(exported(understudy, small, *options)).events
    assert [event.start for event in days] == [date(2026, 12, 18) + timedelta(n) for n in range(3)]
    assert [str(event["SUMMARY"]) for event in days] == [
        "regular",
        "none (calendar: Winter break)",
        "none (calendar: Winter break)",
    ]
    assert str(days[0]["DESCRIPTION"]) == (
        "08:30 north 5s: First class\n12:00 north, south 2 strokes: Lunch"
    )
    assert "DESCRIPTION" not in days[1]


def test_it_is_written_to_a_file_and_said(understudy, small, tmp_path):
    out = tmp_path / "bells.ics"
    options = "--from", "2026-11-30", "--until", "2026-12-01", "--out", out
    said = understudy("calendar", "export", small, *options)
    assert said.words == f"{out}: 2 events, {out.stat().st_size:,} bytes."
    assert out.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")


def test_unless_told_it_is_the_coming_28_days_or_400(understudy, small):
    moments = Calendar.from_ical(exported(understudy, small)).events
    assert all(one.start < datetime(2026, 12, 26, 12, tzinfo=UTC) for one in moments)
    days = Calendar.from_ical(exported(understudy, small, "--each", "day")).events
    assert (days[0].start, len(days)) == (date(2026, 11, 28), 401), "the last is begun"


def test_a_building_without_a_ring_has_an_empty_calendar(understudy, house):
    content = exported(understudy, house(RINGLESS), *WINDOW)
    assert not Calendar.from_ical(content).events


def test_too_many_events_are_refused_in_words(understudy, small, monkeypatch):
    monkeypatch.setattr(calendar_export, "MOST_EVENTS", 3)
    said = understudy("calendar", "export", small, "--from", "2026-11-30", "--until", "2026-12-05")
    assert said.code == 1
    assert "more than 3 events" in said.err
    assert "BEGIN" not in said.out


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--from", "2026-12-02", "--until", "2026-12-01"), "is not after --from '2026-12-02'"),
        (("--until", "2026-11-27"), "is not after now"),
        (("--from", "1990-01-01", "--until", "2030-01-01"), "at most 20 years"),
        (("--from", "tomorrow"), "is no local date or time"),
        (("--each", "hour"), "hour"),
    ],
)
def test_a_window_that_makes_no_sense_is_refused(understudy, small, options, why):
    said = understudy("calendar", "export", small, *options)
    assert said.code == 2
    assert why in " ".join(said.err.replace("│", " ").split())
