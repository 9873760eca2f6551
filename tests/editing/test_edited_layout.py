"""Whatever is edited, a person's file stays theirs: tried on files laid out in every way."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
import tomli
from handwritten import DATES, HALF_DAYS, PLANS, TIMES, ZONES, handwritten
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.editing.document import (
    entries_of,
    with_calendar,
    with_plan,
    with_plan_like,
    with_quiet,
    with_week,
)
from controller.editing.entry_changes import Added, Removed, Replaced

FILE = "keeper.toml"
DEMO = Path(__file__).parents[2] / "config" / "marrow-lane" / "20-timetable.toml"
DEMO_TEXT = DEMO.read_bytes().decode()
FEWER = settings(max_examples=60)  # each is a whole file
WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

texts = st.one_of(
    handwritten(),
    st.sampled_from((DEMO_TEXT, DEMO_TEXT.replace("\n", "\r\n"), "\ufeff" + DEMO_TEXT)),
)


def lines(text: str) -> list[str]:
    return text.removeprefix("\ufeff").split("\n")


def data(text: str) -> dict:
    return tomli.loads(text.removeprefix("\ufeff"))


def timed(rings: list[dict]) -> list[dict]:
    """Rings with TOML's own times as texts."""
    return [{**ring, "at": str(ring["at"])[:5]} for ring in rings]


def own_comments(text: str) -> list[str]:
    """Comments on lines of their own. (No text of these files goes over several lines.)"""
    return [line.rstrip("\r") for line in lines(text) if line.lstrip().startswith("#")]


def changed(before: str, after: str) -> tuple[list[str], list[str]]:
    """The lines that went and those that came, whatever their order; line ends included."""
    was, now = Counter(lines(before)), Counter(lines(after))
    return sorted((was - now).elements()), sorted((now - was).elements())


def inside(text: str, place: int, entry: dict) -> list[str]:
    """Comments between the heading of an entry and its last key: they are the entry's own."""
    found = [n for n, line in enumerate(lines(text)) if line.startswith("[[calendar]]")]
    below = lines(text)[found[place] :]
    keys = tuple(entry)
    last = max(n for n, line in enumerate(below[: _next(below)]) if line.startswith(keys))
    return own_comments("\n".join(below[:last]))


def _next(below: list[str]) -> int:
    return next((n for n, line in enumerate(below) if n and line.startswith("[")), len(below))


def within(part: str, line: str) -> bool:
    """Whether all letters of a line that are not blank stand in another, in their order."""
    letters = iter(line)
    return all(letter in letters for letter in part if not letter.isspace())


def only_added(before: str, after: str, items: int = 1) -> None:
    """All that was written is there still: a line for each item may have more than it had."""
    gone, come = changed(before, after)
    gone = [line for line in gone if line.strip()]
    assert len(gone) <= items
    for one in gone:
        assert any(within(one.strip("\r ],"), line) for line in come), one
    assert own_comments(before) == own_comments(after)
    assert after.endswith("\n") == before.endswith("\n") or not before
    assert after.startswith("\ufeff") == before.startswith("\ufeff")
    if "\r\n" in before:
        assert after.count("\n") == after.count("\r\n")


def only_removed(before: str, after: str, named: list[str], own: list[str]) -> None:
    """Lines that went name what went, or are comments of its `own`; a line that it shared stays."""
    gone, come = changed(before, after)
    come = [line for line in come if line.strip()]
    assert len(come) <= 2
    for line in gone:
        assert (
            come
            or not line.strip()
            or line.rstrip("\r") in own
            or any(name in line for name in named)
        ), line
    left = Counter(own_comments(before)) - Counter(own_comments(after))
    assert sorted(left.elements()) == sorted(own)


@FEWER
@given(texts, st.sampled_from(PLANS), st.sampled_from(TIMES), st.data())
def test_a_ring_is_added_and_taken_away_again_to_the_byte(text, plan, at, more):
    before = data(text)["plans"].get(plan)
    if before is None:  # the demo has no such plan
        plan = "regular"
        before = data(text)["plans"][plan]
    ring = {"at": at, "zones": ["yard"], "for": "7s", "says": 'A "new" ring'}
    after = with_plan({FILE: text}, plan, [Added(ring)]).text
    if before["rings"]:  # an empty list may be opened over several lines
        only_added(text, after)
    assert own_comments(text) == own_comments(after)
    now = data(after)
    rings = now["plans"][plan]["rings"]
    place = rings.index(ring)
    assert [*rings[:place], *rings[place + 1 :]] == before["rings"]
    assert {**now, "plans": None} == {**data(text), "plans": None}
    if before["rings"]:  # an empty list has no layout to come back to
        assert with_plan({FILE: after}, plan, [Removed(place)]).text == text


@FEWER
@given(texts, st.data())
def test_a_ring_that_goes_takes_only_its_own_line_with_it(text, more):
    plans = {name: one["rings"] for name, one in data(text)["plans"].items() if one["rings"]}
    if not plans:
        return
    plan = more.draw(st.sampled_from(sorted(plans)))
    place = more.draw(st.integers(0, len(plans[plan]) - 1))
    after = with_plan({FILE: text}, plan, [Removed(place)]).text
    left = [*plans[plan][:place], *plans[plan][place + 1 :]]
    assert data(after)["plans"][plan]["rings"] == left
    assert {**data(after), "plans": None} == {**data(text), "plans": None}
    only_removed(text, after, ["at"], [])


@FEWER
@given(texts, st.sampled_from(TIMES), st.data())
def test_a_ring_that_is_moved_keeps_its_words_and_the_others_their_lines(text, at, more):
    plans = {name: one["rings"] for name, one in data(text)["plans"].items() if one["rings"]}
    if not plans:
        return
    plan = more.draw(st.sampled_from(sorted(plans)))
    place = more.draw(st.integers(0, len(plans[plan]) - 1))
    ring = {**entries_of({FILE: text}, f"plans.{plan}")[place], "at": at}
    after = with_plan({FILE: text}, plan, [Replaced(place, ring)]).text
    rings = timed(data(after)["plans"][plan]["rings"])
    others = timed([*plans[plan][:place], *plans[plan][place + 1 :]])
    found = [number for number, one in enumerate(rings) if one == ring]
    assert any([*rings[:one], *rings[one + 1 :]] == others for one in found)
    times = [str(one["at"])[:5] for one in plans[plan]]
    if times == sorted(times):
        now = [str(one["at"])[:5] for one in rings]
        assert now == sorted(now)
    assert own_comments(text) == own_comments(after)
    assert text.count("#") == after.count("#"), "no comment is lost"


@FEWER
@given(texts, st.sampled_from(DATES), st.integers(0, 9), st.data())
def test_an_entry_of_the_calendar_is_added_and_taken_away_again_to_the_byte(text, on, before, more):
    entries = data(text).get("calendar", [])
    place = min(before, len(entries))
    entry = {"on": on, "plan": "snow", "says": "Snow"}
    after = with_calendar({FILE: text}, [Added(entry, place)]).text
    only_added(text, after)
    assert data(after)["calendar"] == [*entries[:place], entry, *entries[place:]]
    assert {**data(after), "calendar": None} == {**data(text), "calendar": None}
    back = with_calendar({FILE: after}, [Removed(place)]).text
    assert data(back) == data(text)
    if entries:
        assert back == text


@FEWER
@given(texts, st.data())
def test_an_entry_that_goes_leaves_every_comment_of_the_others(text, more):
    entries = data(text).get("calendar", [])
    if not entries:
        return
    place = more.draw(st.integers(0, len(entries) - 1))
    after = with_calendar({FILE: text}, [Removed(place)]).text
    left = [*entries[:place], *entries[place + 1 :]]
    assert data(after).get("calendar", []) == left
    only_removed(text, after, [*entries[place], "calendar"], inside(text, place, entries[place]))


@FEWER
@given(texts, st.sampled_from(PLANS), st.data())
def test_an_entry_that_is_replaced_changes_no_line_of_another(text, plan, more):
    entries = data(text).get("calendar", [])
    if not entries:
        return
    place = more.draw(st.integers(0, len(entries) - 1))
    entry = {key: one for key, one in entries[place].items() if key != "says"} | {"plan": plan}
    after = with_calendar({FILE: text}, [Replaced(place, entry)]).text
    assert data(after)["calendar"] == [*entries[:place], entry, *entries[place + 1 :]]
    gone, come = changed(text, after)
    assert len(come) <= 1
    assert all("says" in line or "plan" in line for line in gone)
    assert own_comments(text) == own_comments(after)


@FEWER
@given(texts, st.sampled_from(WEEK), st.sampled_from(PLANS), st.data())
def test_a_weekday_gets_another_plan_and_the_old_one_back(text, day, plan, more):
    week = data(text)["week"]
    after = with_week({FILE: text}, {day: plan}).text
    assert data(after) == {**data(text), "week": {**week, day: plan}}
    gone, come = changed(text, after)
    assert len(gone) <= 1
    assert len([line for line in come if line.strip()]) <= 1
    back = with_week({FILE: after}, {day: week.get(day)}).text
    if day not in week or f"'{week[day]}'" not in text:  # quotes are written as "…"
        assert back == text


@FEWER
@given(
    texts,
    st.sampled_from(ZONES),
    st.lists(st.sampled_from(HALF_DAYS), unique=True, min_size=1),
    st.data(),
)
def test_a_quiet_row_has_the_half_days_that_are_asked_for(text, zone, row, more):
    quiet = data(text)["quiet"]
    after = with_quiet({FILE: text}, {zone: row}).text
    now = data(after)
    assert set(now["quiet"][zone]) == set(row)
    assert len(now["quiet"][zone]) == len(row)
    assert {**now, "quiet": {**now["quiet"], zone: row}} == {
        **data(text),
        "quiet": {**quiet, zone: row},
    }
    if zone not in quiet:
        only_added(text, after)
        assert with_quiet({FILE: after}, {zone: None}).text == text
    elif set(quiet[zone]) <= set(row) and quiet[zone]:
        only_added(text, after, items=len(row) - len(quiet[zone]))


@FEWER
@given(texts, st.booleans())
def test_a_plan_is_made_and_deleted_again_to_the_byte(text, copied):
    other = sorted(data(text)["plans"])[0]
    if copied:
        after = with_plan_like({FILE: text}, "fire-drill", other).text
        rings = data(text)["plans"][other]["rings"]
        gone, _ = changed(text, after)
        assert not [line for line in gone if line.strip()]
    else:
        ring = {"at": "10:00", "zones": ["yard"], "for": "5s"}
        after = with_plan({FILE: text}, "fire-drill", [Added(ring)]).text
        rings = [ring]
        only_added(text, after)
    assert data(after)["plans"] == {**data(text)["plans"], "fire-drill": {"rings": rings}}
    assert with_plan({FILE: after}, "fire-drill", None).text == text


@FEWER
@given(texts, st.data())
def test_many_changes_of_the_calendar_in_one_go_are_as_if_each_were_made(text, more):
    """Held against a plain list that is changed by marking, and not by steps."""
    entries = data(text).get("calendar", [])
    places = range(len(entries))
    gone = more.draw(st.sets(st.sampled_from(places)) if entries else st.just(set()))
    stay = [place for place in places if place not in gone]
    other = more.draw(st.sets(st.sampled_from(stay)) if stay else st.just(set()))
    before = more.draw(st.lists(st.one_of(st.none(), st.integers(0, len(entries))), max_size=3))
    new = [{"on": f"2027-01-{number + 1:02}", "plan": "snow"} for number in range(len(before))]
    changes = [
        *(Removed(place) for place in gone),
        *(Replaced(place, {**entries[place], "plan": "none"}) for place in other),
        *(Added(entry, place) for entry, place in zip(new, before, strict=True)),
    ]
    wanted = []
    for place in range(len(entries) + 1):
        wanted += [
            entry
            for entry, put in zip(new, before, strict=True)
            if (len(entries) if put is None else put) == place
        ]
        if place < len(entries) and place not in gone:
            wanted.append({**entries[place], **({"plan": "none"} if place in other else {})})
    after = with_calendar({FILE: text}, more.draw(st.permutations(changes))).text
    found = data(after).get("calendar", [])
    assert sorted(map(str, found)) == sorted(map(str, wanted))
    assert [one for one in found if one not in new] == [one for one in wanted if one not in new]
    lost = Counter(own_comments(text)) - Counter(own_comments(after))
    assert lost == sum((Counter(inside(text, one, entries[one])) for one in gone), Counter())


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_of_the_demo_no_other_line_is_touched(end):
    text = DEMO_TEXT.replace("\n", end)
    after = with_plan({FILE: text}, "regular", [Removed(7)]).text
    assert changed(text, after)[0] == [next(line for line in lines(text) if "12:00:00" in line)]
