"""A school's year of 45 events imported into the demo school's file, changed, imported again."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from difflib import ndiff
from pathlib import Path

import pytest
from ics_texts import SCHOOL_YEAR, TODAY

from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source
from controller.editing.calendar_changes import Update, calendar_changes, update
from controller.editing.calendar_in import read_calendar
from controller.editing.calendar_rules import asked
from controller.editing.document import with_calendar
from controller.timetable.days import Timetable

DEMO = Path(__file__).parents[2] / "config" / "marrow-lane"
KEEPERS = "20-timetable.toml"


@pytest.fixture
def texts() -> dict[str, str]:
    """The demo school's files, as the keeper wrote them, with rules for the office's calendar."""
    return {file.name: file.read_text(encoding="utf-8") for file in sorted(DEMO.glob("*.toml"))}


def building(texts: dict[str, str]) -> Building:
    return building_of("demo", [Source(name, text.encode()) for name, text in texts.items()])


def imported(texts: dict[str, str], content: bytes) -> tuple[dict[str, str], Update]:
    """The files after an import, and what it did."""
    before = building(texts)
    calendar = read_calendar(content, before.civil, TODAY)
    own = [entry for entry in before.calendar if entry.event is None]
    asked_for = asked(calendar, before.imports, own, TODAY)
    found = update(
        before.calendar, asked_for.wanted, calendar.name, calendar.uids, frozenset(), TODAY
    )
    change = with_calendar(texts, calendar_changes(before.calendar, found))
    return texts | {change.file: change.text}, found


def changed_lines(before: str, after: str) -> Iterator[str]:
    """Lines that came (+) and went (-)."""
    lines = ndiff(before.splitlines(), after.splitlines(), None, None)
    return (line for line in lines if line[0] in "+-")


def changed_calendar() -> bytes:
    """The calendar as the office changes it in the year."""
    text = SCHOOL_YEAR.decode()
    for old, new in [
        # the open day is a week later, the exams two days longer
        ("DTSTART;VALUE=DATE:20270508\r\nDTEND;VALUE=DATE:20270509", "DTSTART;VALUE=DATE:20270515"),
        ("DTEND;VALUE=DATE:20270123", "DTEND;VALUE=DATE:20270126"),
        # one staff afternoon more does not take place, and a day is called otherwise
        ("20261216,20270317", "20261216,20270317,20270421"),
        ("SUMMARY:Turnaround day", "SUMMARY:Turnaround day\\, staff only"),
    ]:
        assert text.count(old) == 1
        text = text.replace(old, new)
    begin = text.index("BEGIN:VEVENT\r\nUID:my-017@")  # no sports day
    end = text.index("END:VEVENT\r\n", begin) + len("END:VEVENT\r\n")
    drill = (
        "BEGIN:VEVENT\r\nUID:my-101@marrow-lane.example\r\nDTSTAMP:20261128T120000Z\r\n"
        "DTSTART;VALUE=DATE:20270303\r\nSUMMARY:Storm drill\r\nCATEGORIES:Early close\r\n"
        "END:VEVENT\r\n"
    )
    return (text[:begin] + drill + text[end:]).encode()


def test_the_first_import_adds_entries_and_touches_no_line(texts):
    after, found = imported(texts, SCHOOL_YEAR)
    assert len(found.added) == 42
    assert after["10-wiring.toml"] == texts["10-wiring.toml"]
    lines = list(changed_lines(texts[KEEPERS], after[KEEPERS]))
    assert all(line.startswith("+") for line in lines)
    assert sum("[[calendar]]" in line for line in lines) == 42


def test_the_days_have_the_plans_of_their_events(texts):
    after, _ = imported(texts, SCHOOL_YEAR)
    timetable = Timetable(building(after))
    before = Timetable(building(texts))
    plans = {
        date(2026, 12, 4): "rounds",  # a single all-day event
        date(2026, 12, 16): "usual",  # an exception of the staff afternoons
        date(2026, 12, 25): "none",  # the keeper's own, not Christmas Day by its rule
        date(2026, 12, 29): "usual",  # the keeper's own within the break
        date(2027, 1, 3): "rounds",  # the last day of the break, whose DTEND is the 4th
        date(2027, 1, 4): "usual",
        date(2027, 1, 7): "usual",  # the quiz was moved …
        date(2027, 1, 8): "exams",  # … to here
        date(2027, 1, 20): "early-close",  # a single date within the exams
        date(2027, 1, 22): "exams",
        date(2027, 1, 23): "usual",
        date(2027, 1, 28): "exams",  # DURATION:P2D
        date(2027, 2, 4): "usual",  # the quiz is cancelled
        date(2027, 2, 25): "early-close",  # RDATE
        date(2027, 4, 23): "usual",  # EXDATE of the club day
        date(2027, 5, 8): "open-day",
        date(2027, 5, 26): "early-close",  # an event with times, whose rule takes them
        date(2027, 6, 16): "exams",  # the keeper's own range, not the staff afternoon
        date(2028, 12, 25): "rounds",  # yearly
    }
    assert {day: timetable.day(day).plan for day in plans} == plans
    assert not timetable.day(date(2027, 5, 8)).silenced, "its rule lifts the quiet rows"
    yesterday = TODAY - timedelta(1)
    assert timetable.day(yesterday).plan == before.day(yesterday).plan


def test_the_same_file_again_changes_no_byte(texts):
    after, _ = imported(texts, SCHOOL_YEAR)
    again, found = imported(after, SCHOOL_YEAR)
    assert found.nothing
    assert again == after


def test_a_changed_calendar_changes_only_what_changed(texts):
    first, _ = imported(texts, SCHOOL_YEAR)
    # Meanwhile the keeper writes a comment, and has the prize giving otherwise.
    mine = first[KEEPERS].replace('says = "Victoria Day"', 'says = "Victoria Day"  # a band plays')
    mine = mine.replace(
        'plan = "early-close"\nsays = "Prize giving"', 'plan = "exams"\nsays = "Prize giving"'
    )
    second, found = imported(first | {KEEPERS: mine}, changed_calendar())
    assert [one.after.says for one in found.changed] == [
        "Term exams",
        "Turnaround day, staff only",
        "Open day",
    ]
    assert [one.says for one in found.added] == ["Storm drill"]
    assert sorted(one.entry.says for one in found.removed) == ["Sports day", "Staff afternoon"]
    assert [(one.entry.says, one.why) for one in found.kept] == [("Prize giving", "edited")]
    changed = [line for line in changed_lines(mine, second[KEEPERS]) if "event = " not in line]
    gone = [line[2:] for line in changed if line.startswith("-") and line[2:].strip()]
    assert sorted(gone) == sorted(
        [
            'until = "2027-01-22"',
            'says = "Turnaround day"',
            *("[[calendar]]", 'on = "2027-04-16"', 'plan = "early-close"', 'says = "Sports day"'),
            *("[[calendar]]", 'on = "2027-04-21"', 'plan = "early-close"'),
            'says = "Staff afternoon"',
            'on = "2027-05-08"',
        ]
    )
    comments = [line for line in texts[KEEPERS].splitlines() if "#" in line]
    kept = [line for line in second[KEEPERS].splitlines() if "#" in line]
    assert [line for line in kept if "a band plays" not in line] == comments
    assert any("a band plays" in line for line in kept)
    third, nothing = imported(second, changed_calendar())
    assert nothing.nothing
    assert third == second


def test_windows_line_ends_stay(texts):
    texts[KEEPERS] = texts[KEEPERS].replace("\n", "\r\n")
    after, _ = imported(texts, SCHOOL_YEAR)
    assert "\n" not in after[KEEPERS].replace("\r\n", "")
