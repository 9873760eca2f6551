"""The keeper's pages in a real browser: fit for a small telephone, the keyboard, and no script."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from keepers import PASSWORD
from keepers_desk import HOUSE
from playwright.sync_api import Browser, Page
from windows import chromiums, is_too_wide, served, signed_in, too_small, violations_of

from controller.building.values import WEEKDAYS

PAGES = [
    "/timetable?week=2029-W52",
    "/timetable/year?year=2030",
    "/edit",
    "/edit/plan",
    "/edit/plan/daily",
    "/edit/plan/daily/ring/0",
    "/edit/week",
    "/edit/quiet",
    "/edit/calendar",
    "/edit/calendar/0",
    "/logbook?kind=missed",
    "/rehearse",
]


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with chromiums() as browser:
        yield browser


@pytest.fixture
def address(visit) -> Iterator[str]:
    """The page of Elm House, served on this machine."""
    with served(visit.app) as found:
        yield found


@pytest.fixture
def browse(chromium, address):
    """Opens a window of that width and signs ada in."""
    opened = []

    def made(width: int, scheme: str = "light", *, script: bool = True) -> Page:
        context = chromium.new_context(
            viewport={"width": width, "height": 800},
            color_scheme=scheme,
            java_script_enabled=script,
            base_url=address,
        )
        opened.append(context)
        return signed_in(context.new_page(), "ada", PASSWORD, "/timetable")

    yield made
    for context in opened:
        context.close()


@pytest.mark.parametrize(("width", "scheme"), [(320, "light"), (768, "dark"), (1280, "light")])
def test_every_page_is_sound_for_everyone_and_never_wider_than_its_window(browse, width, scheme):
    page = browse(width, scheme)
    told = []
    page.on("console", lambda message: told.append(message.text))
    for where in PAGES:
        page.goto(where)
        assert violations_of(page) == [], where
        assert not is_too_wide(page, width), where
        assert too_small(page) == [], where
        assert page.locator("h1").count() == 1, where
    broken = [text for text in told if "Content Security Policy" in text]
    assert broken == []


def test_an_edit_is_made_by_keyboard_alone_and_without_script(browse, daemon):
    page = browse(320, script=False)
    page.goto("/edit/plan/short")
    page.focus("#at")
    page.keyboard.type("11:30")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")  # north
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.type("4")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Nothing is saved yet")
    page.focus("form[action='/edit/save'] button")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:has-text('Saved')")
    assert '{ at = "11:30", zones = ["north"], for = "4s" }' in daemon.path.read_text()
    page.focus("form[action='/edit/undo'] button")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=is taken back")
    page.focus("form[action='/edit/save'] button")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:has-text('Saved')")
    assert daemon.path.read_bytes().decode() == HOUSE


def test_a_day_that_would_fall_silent_stands_there_in_large_letters(browse):
    page = browse(320)
    page.goto("/edit/week")
    for day in WEEKDAYS:
        page.select_option(f"#{day}", "none")
    page.click("form[action='/edit/week'] button")
    warning = page.locator(".silences p").first
    assert "nothing more would ring" in warning.inner_text() or "Tomorrow" in warning.inner_text()
    size = warning.evaluate("one => parseFloat(getComputedStyle(one).fontSize)")
    usual = page.locator("main > p").first.evaluate(
        "one => parseFloat(getComputedStyle(one).fontSize)"
    )
    assert size >= 1.25 * usual
    assert violations_of(page) == []
    assert not is_too_wide(page, 320)


def test_what_is_wrong_is_read_out_with_its_field(browse):
    page = browse(320)
    page.goto("/edit/plan/daily")
    page.fill("#at", "8 o'clock")
    page.click("form[action='/edit/plan/daily/add'] button")
    field = page.locator("#at")
    assert field.get_attribute("aria-invalid") == "true"
    described = field.get_attribute("aria-describedby").split()
    words = " ".join(page.locator(f"#{one}").inner_text() for one in described)
    assert "expected a time of day" in words
    assert violations_of(page) == []
