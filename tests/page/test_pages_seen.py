"""The keeper's pages in a real browser: fit for a small telephone, the keyboard, and no script."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from keepers import PASSWORD
from keepers_desk import HOUSE
from playwright.sync_api import Browser, Page, sync_playwright

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
LEAST_TARGET = 44  # CSS px: WCAG 2.2, 2.5.5
_SMALL = """least => [...document.querySelectorAll(
  'main button, main select, main nav a, main a.button, main a.row, main label.tick, '
  + 'main .choices label, main .halves label, '
  + 'main input:not([type=hidden]):not([type=checkbox])'
)].filter(one => one.checkVisibility()).map(one => [one.outerHTML, one.getBoundingClientRect()])
  .filter(([_, box]) => box.height < least - 0.5 || box.width < least - 0.5)
  .map(([html, box]) => `${box.width} x ${box.height}: ${html.slice(0, 100)}`)"""


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox"]
        )
        yield browser
        browser.close()


@pytest.fixture
def address(visit) -> Iterator[str]:
    """The page of Elm House, served on this machine."""
    server = uvicorn.Server(uvicorn.Config(visit.app, port=0, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    deadline = time.monotonic() + 20
    while not server.started:
        assert time.monotonic() < deadline, "it never served"
        time.sleep(0.01)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(20)


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
        page = context.new_page()
        page.goto("/sign-in?to=/timetable")
        page.fill("[name=name]", "ada")
        page.fill("[name=password]", PASSWORD)
        page.click("main button")
        return page

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
        violations = Axe().run(page).response["violations"]
        assert [(one["id"], one["nodes"][0]["html"]) for one in violations] == [], where
        assert page.evaluate("document.documentElement.scrollWidth") <= width, where
        assert page.evaluate(_SMALL, LEAST_TARGET) == [], where
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
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


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


def violations_of(page: Page) -> list[str]:
    return [one["id"] for one in Axe().run(page).response["violations"]]
