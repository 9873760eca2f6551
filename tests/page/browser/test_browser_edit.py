"""Edits from form to file, by the page and the daemon at work."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from beech_house import HOUSE
from hands_on import Touch
from keepers import PASSWORD
from windows import letters_px, signed_in

from controller.building.values import WEEKDAYS

SAVE = "form[action='/edit/save'] button"


def test_a_ring_is_added_shown_saved_and_undone_to_the_same_bytes(house, chromium):
    hands = Touch(chromium, house.address)
    page = signed_in(hands.page, "ada", PASSWORD, "/timetable")
    hands.press("main a[href='/edit']")
    hands.press("main a[href='/edit/plan/daily']")
    hands.write("#at", "11:30")
    hands.pick("input[name=zones][value=yard]")
    hands.write("#for", "4")
    hands.write("#says", "By the page")
    hands.press("form[action='/edit/plan/daily/add'] button")
    shown = page.inner_text("main")
    assert "Nothing is saved yet" in shown
    assert "11:30" in page.inner_text(".changes")
    assert "yard" in page.inner_text(".changes")
    assert page.locator(".silences").count() == 0
    assert house.file.read_bytes().decode() == HOUSE
    hands.press(SAVE)
    assert "The file is reloaded." in page.inner_text(".answer")
    changed = house.file.read_text()
    assert '{ at = "11:30", zones = ["yard"], for = "4s", says = "By the page" }' in changed
    for kept in ("# so that no clock changes here", "# a comment to be kept", "# seldom"):
        assert kept in changed
    hands.press("nav a[href='/timetable']")
    assert "By the page" in page.inner_text("main")
    hands.press("main a[href='/edit']")
    hands.press("form[action='/edit/undo'] button")
    hands.press(SAVE)
    assert house.file.read_bytes().decode() == HOUSE
    assert house.done_by("ada").count("beech-house.toml") == 2


def test_that_tomorrow_falls_silent_stands_there_in_large_words_before_it_is_saved(house, chromium):
    hands = Touch(chromium, house.address)
    page = signed_in(hands.page, "ada", PASSWORD, "/edit")
    tomorrow = datetime.now(UTC) + timedelta(days=1)
    hands.press("main a[href='/edit/week']")
    hands.choose(f"#{WEEKDAYS[tomorrow.weekday()]}", "none")
    hands.press("form[action='/edit/week'] button")
    warning = page.locator(".silences p").first
    assert "Tomorrow" in warning.inner_text()
    assert letters_px(page, ".silences p") >= 1.25 * letters_px(page, "main > p")
    assert page.inner_text(SAVE) == "Save, although bells fall silent"
    hands.press("main .confirm a[href='/edit']")
    assert house.file.read_bytes().decode() == HOUSE
