"""The page served on this machine, and windows of a real browser that look at it."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

MOST_SECONDS = 20.0
LEAST_TARGET = 44  # CSS px: WCAG 2.2, 2.5.5
_SMALL = """least => [...document.querySelectorAll(
  'main button, main select, main nav a, main a.button, main a.row, main label.tick, '
  + 'main summary, main .choice, main .choices label, main .halves label, '
  + 'main input:not([type=hidden]):not([type=checkbox]):not([type=radio])'
)].filter(one => one.checkVisibility()).map(one => [one.outerHTML, one.getBoundingClientRect()])
  .filter(([_, box]) => box.height < least - 0.5 || box.width < least - 0.5)
  .map(([html, box]) => `${box.width} x ${box.height}: ${html.slice(0, 100)}`)"""

_LETTERS = """place => parseFloat(getComputedStyle(
  [...document.querySelectorAll(place)].find(one => one.checkVisibility())
).fontSize)"""


@contextmanager
def chromiums() -> Iterator[Browser]:
    """Debian's Chromium."""
    chromium = shutil.which("chromium")
    assert chromium is not None, "no browser to look with: install the package `chromium`"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium, args=["--no-sandbox", "--disable-dev-shm-usage"]
        )
        yield browser
        browser.close()


@contextmanager
def served(app: Any) -> Iterator[str]:
    """Serves an application; its address."""
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    deadline = time.monotonic() + MOST_SECONDS
    while not server.started:
        assert time.monotonic() < deadline, "it never served"
        time.sleep(0.01)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(MOST_SECONDS)


def signed_in(page: Page, name: str, password: str, to: str = "/") -> Page:
    """Somebody signs in, and goes there."""
    page.goto(f"/sign-in?to={to}")
    page.fill("[name=name]", name)
    page.fill("[name=password]", password)
    page.click("main button")
    page.wait_for_url(f"**{to}")
    return page


def violations_of(page: Page) -> list[tuple[str, str]]:
    """What axe-core finds: the rule, and the first place."""
    found = Axe().run(page).response["violations"]
    return [(one["id"], one["nodes"][0]["html"]) for one in found]


def letters_px(page: Page, place: str) -> float:
    """How large the letters are of the first thing of that selector that is seen.

    In one go, for a page that tells itself anew has another thing there a moment later.
    """
    return float(page.evaluate(_LETTERS, place))


def too_small(page: Page) -> list[str]:
    """What is to be touched and is hard to hit."""
    small: list[str] = page.evaluate(_SMALL, LEAST_TARGET)
    return small


def is_too_wide(page: Page, width: int) -> bool:
    """Whether one would have to scroll sideways."""
    return bool(page.evaluate("document.documentElement.scrollWidth") > width)
