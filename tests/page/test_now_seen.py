"""Now and its acts in a real browser: fit for a small telephone, kept as it is, old when it is."""

from __future__ import annotations

import re

import pytest
from bell_desk import WEDNESDAY, halls
from keepers import PASSWORD
from playwright.sync_api import expect
from windows import (
    chromiums,
    is_too_wide,
    letters_px,
    served,
    signed_in,
    too_small,
    violations_of,
)

from controller.engine.records import FaultRow

ACTS = [
    "/act/ring/north",
    "/act/quiet/all",
    "/act/lift-quiet/north",
    "/act/follow",
    "/act/set/main",
    "/act/to/main",
    "/act/step/main",
    "/act/line/main",
    "/act/acknowledge",
]
MINUTE = 60 * 1_000_000_000


@pytest.fixture(scope="module")
def chromium():
    with chromiums() as browser:
        yield browser


@pytest.fixture
def hall(tmp_path):
    with halls(tmp_path) as found:
        yield found


@pytest.fixture
def browse(chromium, hall):
    """Opens a window of that width for bo, who may act."""
    with served(hall.site) as address:
        opened = []

        def made(width=320, scheme="light", *, script=True):
            context = chromium.new_context(
                viewport={"width": width, "height": 800},
                color_scheme=scheme,
                java_script_enabled=script,
                base_url=address,
            )
            opened.append(context)
            return signed_in(context.new_page(), "bo", PASSWORD)

        yield made
        for context in opened:
            context.close()


def much_is_wrong(hall):
    """A picture in which every part of the page has something to show."""
    faults = {
        "store": FaultRow("store", "the card is full", WEDNESDAY - 3 * MINUTE, 0, False),
        "supply": FaultRow("supply", "was away", WEDNESDAY - MINUTE, WEDNESDAY, False),
    }
    known = hall.known(trusted=False, main={"read": False}, yard={"doubtful": True, "held": True})
    quiet = known.zones["north"]._replace(quiet_until=WEDNESDAY + 60 * MINUTE)
    zones = {**known.zones, "north": quiet}
    follow = (("2026-11-26", "none"),)
    known = known._replace(zones=zones, faults=faults, follow=follow)
    return hall.pictured(known, trusted=False)


@pytest.mark.parametrize(("width", "scheme"), [(320, "light"), (768, "dark"), (1280, "light")])
def test_now_and_every_act_are_sound_for_everyone_and_never_wider_than_the_window(
    hall, browse, width, scheme
):
    page = browse(width, scheme)
    told = []
    page.on("console", lambda message: told.append(message.text))
    well, ill = hall.picture, much_is_wrong(hall)
    for picture, where in [(well, "/"), (ill, "/"), *((ill, act) for act in ACTS)]:
        hall.shows(picture)
        page.goto(where)
        assert violations_of(page) == [], where
        assert not is_too_wide(page, width), where
        assert too_small(page) == [], where
        assert page.locator("h1").count() == 1, where
    hall.ends(ill)
    page.goto("/")
    loud = page.locator(".loud:visible").first
    assert loud.inner_text().startswith("The daemon does not answer")
    assert violations_of(page) == []
    assert not is_too_wide(page, width)
    assert [text for text in told if "Content Security Policy" in text] == []


def test_what_it_says_of_the_whole_can_be_read_at_arms_length(hall, browse):
    page = browse()
    usual = letters_px(page, "[data-part=zones] p")
    for place in ("[role=status] p", "[data-clock]", ".first"):
        assert letters_px(page, place) >= 1.25 * usual, place
    hall.shows(much_is_wrong(hall))
    page.reload()
    assert letters_px(page, ".loud") >= 1.2 * usual


def test_without_script_it_is_whole(browse):
    page = browse(script=False)
    text = page.inner_text("main")
    for words in ("All is well.", "08:30:10", "in 3 h 29 min", "silent", "shows 08:30, right"):
        assert words in text
    assert "heard nothing" not in text
    page.click("a[href='/act/ring/north']")
    page.click("main button")
    assert page.inner_text(".answer") == "Done: ring."


# ── kept as it is now ────────────────────────────────────────────────────────────────────────────


def test_what_has_changed_appears_by_itself_and_the_keyboard_stays_where_it_was(hall, browse):
    page = browse()
    page.click("summary")
    page.focus("a[href='/act/quiet/south']")
    known = hall.known(main={"held": True})
    quiet = known.zones["north"]._replace(quiet_until=WEDNESDAY + 60 * MINUTE)
    hall.shows(hall.pictured(known._replace(zones={**known.zones, "north": quiet})))
    page.wait_for_selector("a[href='/act/lift-quiet/north']")
    assert "shows 08:30, held" in page.inner_text("[data-part=lines]")
    assert page.evaluate("document.activeElement.getAttribute('href')") == "/act/quiet/south"
    assert page.evaluate("document.querySelector('details').open")


def test_it_says_by_itself_that_the_daemon_is_down(hall, browse):
    page = browse()
    page.wait_for_selector("text=All is well.")
    hall.ends(hall.picture)
    page.wait_for_selector("text=The daemon does not answer")
    assert page.title().startswith("The daemon does not answer")
    assert page.locator("a[href^='/act/']").count() == 0


def test_a_page_that_hears_nothing_says_that_what_it_shows_is_old(browse):
    page = browse()
    page.clock.install()
    page.goto("/")
    stale = page.locator("#stale")
    page.clock.run_for(3_000)
    assert not stale.is_visible()
    page.context.set_offline(True)
    page.clock.run_for(14_000)
    stale.wait_for(state="visible")
    assert page.title().endswith("what it shows is old.")
    page.context.set_offline(False)
    page.clock.run_for(3_000)
    stale.wait_for(state="hidden")
    assert page.title() == "All is well."


def test_who_is_signed_out_elsewhere_is_asked_to_sign_in(browse):
    page = browse()
    page.context.clear_cookies()
    page.wait_for_url("**/sign-in**")


def test_it_counts_down_to_the_next_ring(hall, browse):
    later = {**hall.picture, "at_utc": WEDNESDAY + (3 * 3600 + 29 * 60) * 1_000_000_000}
    hall.shows(later)  # so that the ring is 50 s away by the script's reckoning
    page = browse()
    expect(page.locator("[data-due]")).to_have_text(re.compile(r"^in (50|4\d) s$"))
