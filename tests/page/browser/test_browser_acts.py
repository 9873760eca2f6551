"""Every act by touch and by the keyboard alone: what relays do, and whom the logbook names."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from beech_house import MINUS, NORTH, PLUS, YARD, NewHouse
from hands_on import Keys, Touch
from keepers import PASSWORD

SIGN_IN = "main form button"
CONFIRM = ".confirm button"
ANSWER = ".answer"
STOP = "form.stop button"
NOW = "nav a[href='/']"


@pytest.fixture(params=[("bo", Touch), ("ada", Keys)], ids=["by touch", "by keyboard"])
def who(request):
    """Somebody's name, and what hands they have."""
    return request.param


def signed_in(who, chromium, house):
    """Their name, and their hands before the page Now."""
    name, kind = who
    hands = kind(chromium, house.address)
    hands.page.goto("/")
    hands.write("#name", name)
    hands.write("#password", PASSWORD)
    hands.press(SIGN_IN)
    assert hands.page.inner_text("h1") == "Beech House"
    return name, hands


@pytest.fixture
def somebody(who, house, chromium):
    """At the page of a house that runs."""
    return signed_in(who, chromium, house)


def link(act):
    return f"main a[href='/act/{act}']"


def settling(act):
    """The same, where Now says what is to be settled."""
    return f"[data-part=settle] a[href='/act/{act}']"


def act_of(hands, act):
    """From Now to the page that asks for it."""
    hands.press(NOW)
    hands.press(link(act))


def answer_of(hands):
    hands.press(CONFIRM)
    return hands.page.inner_text(ANSWER)


def test_a_zone_is_rung_and_all_are_stopped_by_one_press(house, somebody):
    name, hands = somebody
    before = house.levels(NORTH)
    hands.press(link("ring/north"))
    hands.write("#for", "0.5")
    assert house.levels(NORTH) == before, "nothing rings before it is confirmed"
    assert answer_of(hands) == "north rings now, 0.5 s."
    house.wait(lambda: house.levels(NORTH)[len(before) :] == [1, 0])
    act_of(hands, "ring/all")
    hands.write("#for", "9")
    answer_of(hands)
    house.wait(lambda: (house.levels(NORTH)[-1], house.levels(YARD)[-1]) == (1, 1))
    hands.press(STOP)
    assert hands.page.inner_text(ANSWER).startswith("Stopped north, yard.")
    assert (house.levels(NORTH)[-1], house.levels(YARD)[-1]) == (0, 0)
    house.wait(lambda: "ring by hand" in house.done_by(name) and "stop" in house.done_by(name))
    hands.press("nav a[href='/logbook']")
    assert f"ring by hand: north rings now, 0.5 s ({name})" in hands.page.inner_text("main")


def test_zones_are_kept_quiet_and_let_ring_again(house, somebody):
    name, hands = somebody
    act_of(hands, "quiet/north")
    answer_of(hands)
    assert house.picture()["zones"]["north"]["state"] == "quiet"
    hands.press("main a[href='/act/lift-quiet/north']")  # taken back from where it was answered
    answer_of(hands)
    assert house.picture()["zones"]["north"]["state"] == "silent"
    tomorrow = (datetime.now(UTC) + timedelta(days=1)).date().isoformat()
    act_of(hands, "quiet/all")
    hands.pick("input[name=until][value=time]")
    hands.date("#time", tomorrow, "09:30")
    answer_of(hands)
    zones = house.picture()["zones"]
    assert all("09:30" in zones[zone]["says"] for zone in ("north", "yard")), zones
    act_of(hands, "lift-quiet/all")
    answer_of(hands)
    assert house.picture()["zones"]["yard"]["state"] == "silent"
    assert house.done_by(name).count("quiet") >= 2


def test_a_date_follows_another_plan_and_the_usual_one_again(house, somebody):
    name, hands = somebody
    act_of(hands, "follow")
    hands.date("#date", "2030-01-02")
    hands.choose("#plan", "short")
    answer_of(hands)
    assert house.picture()["follow"] == {"2030-01-02": "short"}
    hands.press(NOW)
    hands.press("main a[href='/act/follow?date=2030-01-02&plan=usual']")
    answer_of(hands)
    assert house.picture()["follow"] == {}
    assert "2030-01-02" in house.done_by(name)


def test_a_line_is_held_set_and_let_go_and_moves_by_extra_impulses(house, somebody):
    name, hands = somebody

    def main():
        return house.picture()["lines"]["main"]

    def on_its_page(order):
        act_of(hands, "line/main")
        hands.press(link(f"{order}/main"))

    on_its_page("hold")
    answer_of(hands)
    assert main()["state"] == "held"
    on_its_page("set")
    hands.write("#shows", main()["shows"])
    hands.choose("#polarity", main()["polarity"])
    answer_of(hands)
    house.wait(lambda: main()["state"] == "right")
    given = len(house.levels(PLUS)) + len(house.levels(MINUS))
    on_its_page("step")
    hands.write("#impulses", "2")
    answer_of(hands)
    house.wait(lambda: len(house.levels(PLUS)) + len(house.levels(MINUS)) >= given + 4)
    on_its_page("hold")
    answer_of(hands)
    hands.press("main a[href='/act/go/main']")  # taken back
    answer_of(hands)
    house.wait(lambda: main()["state"] == "right")
    assert "main" in house.done_by(name)


def test_a_fault_that_has_ended_is_seen(house, somebody):
    name, hands = somebody
    with house.board() as board:
        board.supply(False)
    hands.page.wait_for_selector(".thing.lasts")  # told by itself
    with house.board() as board:
        board.supply(True)
    hands.press("[data-part=settle] a[href^='/act/acknowledge']")
    answer_of(hands)
    assert house.picture()["faults"] == []
    house.wait(lambda: "cknowledged" in house.done_by(name))


def test_on_the_first_day_the_clock_is_vouched_for_and_the_dials_are_read(tmp_path, chromium, who):
    with tempfile.TemporaryDirectory() as short:
        house = NewHouse(tmp_path, Path(short))
        try:
            name, hands = signed_in(who, chromium, house)
            assert "To be settled" in hands.page.inner_text("main")
            hands.press(settling("trust-clock"))
            answer_of(hands)
            assert house.picture()["clock"]["trusted"]
            hands.press(NOW)
            hands.press(settling("set/main"))
            hands.write("#shows", f"{datetime.now(UTC):%I:%M}")
            answer_of(hands)
            house.wait(lambda: house.picture()["lines"]["main"]["doubtful"])  # its polarity
            hands.press(NOW)
            hands.press(settling("right/main"))
            answer_of(hands)
            assert not house.picture()["lines"]["main"]["doubtful"]
            for words in ("clock", "main"):
                assert words in house.done_by(name)
        finally:
            house.end()
