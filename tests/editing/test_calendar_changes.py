"""A later import of a calendar changes only what changed."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
import tomli
from hypothesis import given
from hypothesis import strategies as st
from ics_texts import TODAY

from controller.building.kept import CalendarEntry
from controller.editing.calendar_changes import Update, calendar_changes, entry_of, update
from controller.editing.calendar_rules import Wanted
from controller.editing.document import with_calendar


def wanted(uid: str, first: str, last: str | None = None, plan="none", says="Fair") -> Wanted:
    begin, end = date.fromisoformat(first), date.fromisoformat(last or first)
    return Wanted(uid, begin, end, last is None, plan, says, False, 0)


def imported(uid: str, first: str, last: str | None = None, **keys: Any) -> CalendarEntry:
    return entry_of(wanted(uid, first, last, **keys), "Year")


def by_hand(entry: CalendarEntry, **keys: Any) -> CalendarEntry:
    """The entry as a person changed it."""
    return entry.model_copy(update=keys)


def own(**keys: Any) -> CalendarEntry:
    return CalendarEntry.model_validate({"plan": "regular", "says": "Mine", **keys})


def updated(entries, asked, uids="abc", unread="", calendar="Year", today=TODAY) -> Update:
    return update(entries, asked, calendar, frozenset(uids), frozenset(unread), today)


def applied(entries, found: Update) -> list[CalendarEntry]:
    """The calendar after the update, by way of the file's text."""
    text = "".join(
        "[[calendar]]\n"
        + "".join(
            f"{key} = {_toml(value)}\n"
            for key, value in one.model_dump(by_alias=True, exclude_defaults=True).items()
        )
        for one in entries
    )
    text = with_calendar({"a.toml": text}, calendar_changes(entries, found)).text
    return [CalendarEntry.model_validate(one) for one in tomli.loads(text).get("calendar", [])]


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + " }"
    return str(value).lower() if isinstance(value, bool) else f'"{value}"'


def test_a_first_import_adds_all_by_date():
    asked = [wanted("b", "2026-12-09"), wanted("a", "2026-12-01", "2026-12-04")]
    found = updated([], asked)
    assert [one.first.day for one in found.added] == [1, 9]
    assert updated(applied([], found), asked).nothing


def test_the_same_again_changes_nothing():
    entries = [imported("a", "2026-12-01"), imported("b", "2026-12-03", "2026-12-04")]
    found = updated(entries, [wanted("a", "2026-12-01"), wanted("b", "2026-12-03", "2026-12-04")])
    assert found.nothing
    assert found.as_they_were == 2


@pytest.mark.parametrize(
    "now",
    [
        wanted("a", "2026-12-08"),
        wanted("a", "2026-12-01", "2026-12-02"),
        wanted("a", "2026-12-01", plan="exams"),
        wanted("a", "2026-12-01", says="Book fair"),
    ],
    ids=["moved", "longer", "another plan", "another name"],
)
def test_an_event_that_changed_is_known_again(now):
    entries = [imported("b", "2026-12-24"), imported("a", "2026-12-01")]
    found = updated(entries, [now, wanted("b", "2026-12-24")])
    (changed,) = found.changed
    assert (changed.place, changed.before) == (1, entries[1])
    assert changed.after == entry_of(now, "Year")
    assert not found.added
    assert not found.removed
    assert updated(applied(entries, found), [now, wanted("b", "2026-12-24")]).nothing


def test_of_a_series_only_the_date_that_changed_is_touched():
    entries = [imported("a", f"2026-12-{day:02}") for day in (1, 8, 15)]
    asked = [wanted("a", f"2026-12-{day:02}") for day in (1, 9, 15, 22)]
    found = updated(entries, asked)
    (changed,) = found.changed
    assert (changed.before.first.day, changed.after.first.day) == (8, 9)
    assert [one.first.day for one in found.added] == [22]
    assert found.as_they_were == 2


def test_what_the_calendar_has_no_more_is_removed_from_today_on():
    entries = [
        imported("a", "2026-11-20"),
        imported("a", "2026-11-20", "2026-12-01"),
        imported("a", "2026-12-08"),
        own(on=date(2026, 12, 9)),
    ]
    found = updated(entries, [])
    assert [one.place for one in found.removed] == [1, 2]


def test_another_calendars_entries_stay():
    entries = [imported("a", "2026-12-01")]
    assert updated(entries, [], uids="xy", calendar="Other").nothing
    found = updated(entries, [], uids="ay", calendar="Other")
    assert [one.place for one in found.removed] == [0], "it has the event, and does not count it"
    asked = [wanted("a", "2026-12-01")]
    assert updated(entries, asked, calendar="Renamed").nothing


def test_a_stretch_under_way_is_the_same_whatever_lies_behind_it():
    entries = [imported("a", "2026-10-01", "2026-12-05")]
    assert updated(entries, [wanted("a", "2026-11-02", "2026-12-05")]).nothing
    assert not updated(entries, [wanted("a", "2026-12-01", "2026-12-05")]).nothing


def test_entries_of_an_event_that_cannot_be_read_stay():
    entries = [imported("a", "2026-12-01")]
    found = updated(entries, [], unread="a")
    assert found.nothing
    assert [one.why for one in found.kept] == ["event unread"]


# ── by hand since ────────────────────────────────────────────────────────────────────────────────


def test_what_a_person_changed_is_kept_and_told():
    mine = by_hand(imported("a", "2026-12-01"), plan="exams")
    found = updated([mine], [wanted("a", "2026-12-01")])
    assert found.nothing
    (kept,) = found.kept
    assert (kept.entry, kept.why, kept.asked) == (mine, "edited", imported("a", "2026-12-01"))


def test_what_both_changed_is_kept_and_told():
    mine = by_hand(imported("a", "2026-12-01"), plan="exams")
    found = updated([mine], [wanted("a", "2026-12-02")])
    assert found.nothing
    (kept,) = found.kept
    assert (kept.why, kept.asked) == ("both changed", imported("a", "2026-12-02"))


def test_what_a_person_changed_stays_when_its_event_is_gone():
    mine = by_hand(imported("a", "2026-12-01"), says="Fair, with bells")
    found = updated([mine], [])
    assert found.nothing
    assert [one.why for one in found.kept] == ["event gone"]


def test_of_a_series_what_a_person_moved_is_not_added_again():
    entries = [imported("a", f"2026-12-{day:02}") for day in (1, 8, 15)]
    entries[0] = by_hand(entries[0], on=date(2026, 12, 20))
    found = updated(entries, [wanted("a", f"2026-12-{day:02}") for day in (1, 8, 15)])
    assert found.nothing
    (kept,) = found.kept
    assert (kept.why, kept.asked) == ("edited", imported("a", "2026-12-01"))


def test_what_a_person_changed_as_the_calendar_did_is_as_it_should_be():
    mine = by_hand(imported("a", "2026-12-01"), plan="exams")
    found = updated([mine], [wanted("a", "2026-12-01", plan="exams")])
    assert found.nothing
    assert not found.kept


def test_an_entry_whose_event_key_was_taken_away_is_the_keepers_own():
    mine = by_hand(imported("a", "2026-12-01"), event=None)
    found = updated([mine], [wanted("a", "2026-12-01")])
    assert [one.first.day for one in found.added] == [1]
    assert applied([mine], found)[-1] == mine, "and goes before what is imported"


# ── where they stand ─────────────────────────────────────────────────────────────────────────────


def test_imported_entries_stand_by_date_before_the_keepers_own():
    entries = [
        imported("a", "2026-12-03"),
        imported("b", "2026-12-20"),
        own(on=date(2026, 12, 1)),
        own(on=date(2026, 12, 24)),
    ]
    asked = [wanted("a", "2026-12-03"), wanted("b", "2026-12-20")]
    asked += [wanted("c", "2026-12-10"), wanted("c", "2026-12-02"), wanted("c", "2026-12-30")]
    after = applied(entries, updated(entries, asked))
    assert [one.first.day for one in after] == [2, 3, 10, 20, 30, 1, 24]
    assert after[-2:] == entries[-2:]


def test_an_imported_entry_that_would_beat_the_keepers_own_is_put_before_it():
    entries = [own(on=date(2026, 12, 1)), imported("a", "2026-12-01"), imported("b", "2026-12-03")]
    asked = [wanted("a", "2026-12-01"), wanted("b", "2026-12-03")]
    after = applied(entries, updated(entries, asked))
    assert after == [entries[1], entries[0], entries[2]]
    assert updated(after, asked).nothing


def test_a_comment_above_the_keepers_own_entry_stays_above_it():
    mine = "# the office does not know of this\n[[calendar]]\non = 2026-12-09\nplan = 'none'\n"
    text = f"# the calendar\n\n{mine}"
    found = updated([own(on=date(2026, 12, 9))], [wanted("a", "2026-12-01")])
    after = with_calendar({"a.toml": text}, calendar_changes([own(on=date(2026, 12, 9))], found))
    assert after.text.startswith('# the calendar\n\n[[calendar]]\non = "2026-12-01"\n')
    assert after.text.endswith(f"}}\n\n{mine}")


# ── any calendar after any other ─────────────────────────────────────────────────────────────────

days = st.integers(0, 40).map(lambda number: date.fromordinal(TODAY.toordinal() + number - 5))
asked_for = st.builds(
    lambda uid, first, more, plan: Wanted(
        uid, first, date.fromordinal(first.toordinal() + more), more == 0, plan, "Fair", False, 0
    ),
    st.sampled_from("abc"),
    days,
    st.integers(0, 3),
    st.sampled_from(["none", "exams"]),
)
calendars = st.lists(asked_for, max_size=6, unique_by=lambda one: (one.uid, one.first)).map(
    lambda listed: [one for one in listed if one.last >= TODAY]
)


@given(calendars, calendars, st.lists(days, max_size=3, unique=True), st.data())
def test_any_calendar_after_any_other(before, after, own_days, data):
    mine = [own(on=day) for day in own_days]
    entries = applied(mine, updated(mine, before))
    hand_changed = data.draw(st.sets(st.integers(0, max(0, len(entries) - 1)), max_size=2))
    entries = [
        by_hand(one, says="By hand") if place in hand_changed and one.event else one
        for place, one in enumerate(entries)
    ]
    found = updated(entries, after)
    result = applied(entries, found)
    assert updated(result, after).nothing, "it has then been imported"
    assert [one for one in result if one.event is None] == mine, "the keeper's own are untouched"
    edited = [one for one in entries if one.says == "By hand"]
    assert [one for one in result if one.says == "By hand"] == edited
    # The rest is what is asked for now, less what the entries changed by hand stand for.
    stood_for = [one.asked for one in found.kept if one.asked is not None]
    imported_now = [one for one in result if one.event is not None and one.says != "By hand"]
    asked_now = [entry_of(one, "Year") for one in after]
    assert sorted(map(str, [*imported_now, *stood_for])) == sorted(map(str, asked_now))
