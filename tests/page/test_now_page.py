"""The page Now: well or not, what comes, how everything stands, and what settles it."""

from __future__ import annotations

import re

import pytest
from bell_desk import WEDNESDAY, acts, halls, links
from browsing import Read

from controller.engine.records import FaultRow
from controller.page.now_shown import now_shown

MINUTE = 60 * 1_000_000_000


@pytest.fixture
def hall(tmp_path):
    with halls(tmp_path) as found:
        yield found


@pytest.fixture
def bo(hall):
    """Who may act."""
    return hall.person("bo")


def lasting(name, says, until=0):
    return {name: FaultRow(name, says, WEDNESDAY - 3 * MINUTE, until, False)}


def told(person, address="/") -> str:
    answer = person.client.get(address)
    assert answer.status_code == 200
    return answer.text


def test_where_all_is_well_it_says_so_and_what_rings_next_and_how_everything_stands(bo):
    words = Read(told(bo)).words
    for part in (
        "All is well. 08:30:10 Wed 2026-11-25, America/Halifax",
        "Clock right by the kernel's word.",
        "Rings next 12:00:00 in 3 h 29 min south, 4 s",
        "North & new wing silent",
        "Classrooms main shows 08:30, right last impulse",
    ):
        assert part in words
    assert "To be settled" not in words
    assert "Faults" not in words


def test_what_the_building_is_called_is_text_and_never_a_part_of_the_page(bo):
    html = told(bo)
    assert "<hall>" not in html.lower()
    assert "<b>" not in html
    assert not re.search(r"<script(?![^>]*src=)|style=|<style|\son[a-z]+=", html)


def test_where_it_is_not_well_it_says_why_in_large_words(hall, bo):
    known = hall.known()._replace(faults=lasting("store", "the card is full"))
    hall.shows(hall.pictured(known))
    html = told(bo)
    assert '<p class="loud">NOT WELL: store: the card is full.</p>' in html
    assert "All is well" not in html
    assert "since 08:27:10" in html


def test_an_untrusted_clock_an_unread_and_a_doubtful_line_come_with_the_acts_that_settle_them(
    hall, bo
):
    known = hall.known(trusted=False, main={"read": False}, yard={"doubtful": True})
    hall.shows(hall.pictured(known, trusted=False))
    found = acts(told(bo).partition("To be settled")[2].partition("<h2")[0])
    assert found == {"/act/trust-clock", "/act/set/main", "/act/right/yard", "/act/hold/yard"}
    assert "NOT TRUSTED" in told(bo)


def test_a_fault_that_has_ended_is_there_until_it_was_seen(hall, bo):
    known = hall.known()._replace(faults=lasting("supply", "it was away", WEDNESDAY - MINUTE))
    hall.shows(hall.pictured(known))
    html = told(bo)
    assert "/act/acknowledge?fault=supply" in acts(html)
    assert "Running; 1 thing to settle" in html
    assert "08:27:10 to 08:29:10" in html


def test_a_zone_that_is_kept_quiet_says_until_when_and_can_be_let_ring_again(hall, bo):
    known = hall.known()
    quiet = known.zones["north"]._replace(quiet_until=WEDNESDAY + 60 * MINUTE)
    hall.shows(hall.pictured(known._replace(zones={**known.zones, "north": quiet})))
    html = told(bo)
    assert "quiet until Wed 25 Nov 09:30" in html
    assert {"/act/lift-quiet/north", "/act/quiet/south", "/act/lift-quiet/all"} <= acts(html)
    assert "/act/quiet/north" not in acts(html)


def test_a_date_that_follows_another_plan_can_go_back_to_the_usual(hall, bo):
    hall.shows(hall.pictured(hall.known()._replace(follow=(("2026-11-26", "none"),))))
    html = told(bo)
    assert "Thu 2026-11-26 follows none" in Read(html).words
    assert "/act/follow?date=2026-11-26&plan=usual" in acts(html)


def test_who_may_only_look_sees_all_of_it_and_no_act(hall):
    html = told(hall.person("cy"))
    assert "All is well." in html
    assert acts(html) == set()
    assert [form.action for form in Read(html).forms] == ["/sign-out"]


@pytest.mark.parametrize("name", ["ada", "bo"])
def test_stop_is_one_touch_on_every_page_for_who_may_act(hall, name):
    person = hall.person(name)
    for address in ("/", "/act/ring/north", "/act/line/main"):
        page = person.opens(address)
        person.sends(page, "/act/stop")
    assert hall.given == [("stop", {}, name)] * 3


def test_whoever_is_not_signed_in_is_asked_to(hall):
    for address in ("/", "/now/part", "/act/ring/north"):
        answer = hall.stranger().get(address)
        assert answer.status_code == 303
        assert answer.headers["location"].startswith("/sign-in?to=/")


# ── kept as it is now ────────────────────────────────────────────────────────────────────────────


def test_the_part_that_changes_is_told_by_itself_with_the_same_words(hall, bo):
    whole, part = told(bo), told(bo, "/now/part")
    assert part in whole
    assert "<html" not in part
    assert part.count("data-part=") == len(set(re.findall(r'data-part="(\w+)"', part)))
    hall.shows(hall.pictured(hall.known(main={"held": True})))
    assert "shows 08:30, held" in told(bo, "/now/part")


def test_the_script_is_told_when_it_is_and_when_the_next_ring_is_due(hall):
    shown = now_shown(hall.picture)
    assert shown.now == WEDNESDAY // 1_000_000
    assert shown.next[0].due - shown.now == (3 * 3600 + 29 * 60 + 50) * 1000


# ── the daemon is down ───────────────────────────────────────────────────────────────────────────


def test_where_the_daemon_is_down_it_says_so_first_and_how_old_what_follows_is(hall, bo):
    hall.ends(hall.picture)
    html = told(bo)
    words = Read(html).words
    assert words.startswith("The daemon does not answer To the page itself")  # its title
    assert "The daemon does not answer: as far as this page can tell, nothing rings" in words
    assert "s ago (Wed 2026-11-25 08:30:10)." in words
    assert "shows 08:30, right" in words
    assert "All is well" not in words
    assert "data-clock" not in html, "a time that has stood still is not shown as a clock"
    assert "Rings next" not in words
    assert acts(html) == set()
    assert "/timetable" in links(html)


def test_where_it_left_nothing_behind_that_is_said(hall, bo):
    hall.ends()
    words = Read(told(bo)).words
    assert "The daemon does not answer" in words
    assert "Nor did one leave its state behind." in words


@pytest.mark.parametrize("other", [{}, {"at": 7}, {"at": "2026-11-25T08:30:10", "zones": []}])
def test_a_last_state_of_another_version_is_no_fault(hall, bo, other):
    hall.ends(other)
    words = Read(told(bo)).words
    assert "another version" in words
    assert "The daemon does not answer" in words
