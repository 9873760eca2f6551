"""What is read: without script, and with nobody ringing the bells."""

from __future__ import annotations

import pytest
from beech_house import NORTH, YARD
from keepers import PASSWORD
from windows import is_too_wide, letters_px, signed_in, too_small, violations_of

MOST_LOOKS = 400


def window(chromium, house, name, *, width=320, scheme="light", script=True):
    """Somebody signed in, in a window of their own."""
    context = chromium.new_context(
        viewport={"width": width, "height": 800},
        color_scheme=scheme,
        java_script_enabled=script,
        base_url=house.address,
    )
    return signed_in(context.new_page(), name, PASSWORD)


def test_without_script_all_is_read_and_bells_are_rung_and_stopped(house, chromium):
    page = window(chromium, house, "bo", script=False)
    for where, words in {
        "/": ["All is well.", "Rings next", "North wing", "silent", "Classrooms", "right"],
        "/timetable?week=2029-W52": ["Week 52 of 2029", "00:00:01", "Midnight", "kept quiet"],
        "/timetable/year?year=2030": ["2030", "1 Jan", "New year", "none"],
        "/logbook": ["first trusted instant"],
        "/rehearse": ["no bell rings"],
        "/act/line/main": ["Classrooms", "Hold"],
    }.items():
        page.goto(where)
        text = page.inner_text("main")
        assert [one for one in words if one not in text] == [], where
    page.goto("/")
    page.click("a[href='/act/ring/all']")
    page.fill("#for", "9")
    page.click(".confirm button")
    house.wait(lambda: (house.levels(NORTH)[-1], house.levels(YARD)[-1]) == (1, 1))
    page.click("form.stop button")
    assert page.inner_text(".answer").startswith("Stopped north, yard.")
    assert (house.levels(NORTH)[-1], house.levels(YARD)[-1]) == (0, 0)


def test_whoever_may_only_look_is_offered_no_act(house, chromium):
    page = window(chromium, house, "cy")
    assert "All is well." in page.inner_text("main")
    assert page.locator("a[href^='/act/'], form.stop").count() == 0
    page.goto("/act/ring/north")
    assert "cy may look" in page.inner_text("main")


def test_stop_is_in_sight_wherever_one_has_read_to(house, chromium):
    for width in (320, 1280):
        page = window(chromium, house, "bo", width=width)
        page.goto("/timetable")
        page.evaluate("scrollTo(0, 100_000)")
        assert page.evaluate("scrollY") > 1000
        box = page.locator("form.stop button").bounding_box()
        assert 0 <= box["y"] < 100, width
        page.locator("form.stop button").click(trial=True)  # and nothing lies over it


def one_ring_is_shown(page):
    """An edit up to where it would be saved."""
    page.goto("/edit/plan/daily")
    page.fill("#at", "11:30")
    page.check("input[name=zones][value=yard]")
    page.fill("#for", "4")
    page.click("form[action='/edit/plan/daily/add'] button")
    page.wait_for_selector("text=Nothing is saved yet")


def much_is_wrong_with_it(page):
    """An edit that is not taken."""
    page.goto("/edit/plan/daily")
    page.fill("#at", "8 o'clock")
    page.click("form[action='/edit/plan/daily/add'] button")
    page.wait_for_selector("text=Not right yet")


def tomorrow_falls_silent(page):
    """An edit that is hardly meant."""
    page.goto("/edit/week")
    for day in page.locator("select").all():
        day.select_option("none")
    page.click("form[action='/edit/week'] button")
    page.wait_for_selector(".silences")


def a_day_is_rehearsed(page):
    """With a cut, and its result."""
    page.goto("/rehearse")
    page.fill("#first", "2030-01-02")
    page.fill("#last", "2030-01-02")
    page.fill("#cut_at", "2030-01-02T00:00")
    page.fill("#cut_for", "5m")
    page.click("form[action='/rehearse'] button")
    for _ in range(MOST_LOOKS):  # it gives way to all else, and a busy machine has much else
        if page.locator("#result .answer").count():
            break
        page.wait_for_timeout(500)
        page.reload()  # going to the address of a place on this very page would show it as it is
    assert page.locator("#result svg").count() == 1


def a_bell_has_rung(page):
    """An act, and what the daemon answered."""
    page.goto("/act/ring/yard")
    page.fill("#for", "0.2")
    page.click(".confirm button")
    page.wait_for_selector(".answer")


# Pages without anything to tell, and edits one by one: test_pages_seen.py, test_now_seen.py.
@pytest.mark.parametrize(("width", "scheme"), [(320, "light"), (1280, "dark")])
def test_axe_finds_nothing_on_any_page_and_none_is_wider_than_its_window(
    house, chromium, width, scheme
):
    page = window(chromium, house, "ada", width=width, scheme=scheme)
    addresses = [
        "/",
        "/act/ring/north",
        "/timetable",
        "/logbook",
        "/nowhere",
    ]
    made = [
        one_ring_is_shown,
        much_is_wrong_with_it,
        tomorrow_falls_silent,
        a_day_is_rehearsed,
        a_bell_has_rung,
    ]
    for step in [*addresses, *made]:
        page.goto(step) if isinstance(step, str) else step(page)
        assert violations_of(page) == [], step
        assert not is_too_wide(page, width), step
        assert too_small(page) == [], step
    page.context.clear_cookies()
    page.goto("/sign-in")
    assert violations_of(page) == []
    assert not is_too_wide(page, width)


def test_with_the_daemon_killed_the_last_state_is_shown_with_its_age_and_the_timetable(
    house, chromium
):
    page = window(chromium, house, "ada")
    page.wait_for_selector("text=All is well.")
    house.kill_daemon()
    try:
        page.wait_for_selector(".loud:has-text('The daemon does not answer')")
        assert letters_px(page, ".loud") >= 1.2 * letters_px(page, "[data-part=zones] p")
        text = page.inner_text("main")
        assert " ago" in text
        assert "North wing" in text
        assert page.locator("main a[href^='/act/']").count() == 0
        assert violations_of(page) == []
        assert not is_too_wide(page, 320)
        for where, words in {
            "/timetable?week=2029-W52": "Midnight",
            "/timetable/year?year=2030": "New year",
            "/edit": "Nothing can be changed",
            "/logbook": "cannot be read now",
        }.items():
            page.goto(where)
            assert words in page.inner_text("main"), where
            assert "does not answer" in page.inner_text("main"), where
            assert violations_of(page) == [], where
        page.click("form.stop button")
        assert "does not answer" in page.inner_text("h1")
    finally:
        house.start_daemon_again()
    page.goto("/")
    page.wait_for_selector("text=All is well.")
