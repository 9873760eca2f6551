"""A person before a window: by touch on a telephone, or by the keyboard alone."""

from __future__ import annotations

from typing import Protocol

from playwright.sync_api import Browser, Page

MOST_TABS = 120  # to whatever is on a page
LOCALE = "en-US"  # says in which order a date is typed
_IS_HERE = "place => document.activeElement === document.querySelector(place)"


class Hands(Protocol):
    """What a person can do. A `place` is a selector of CSS."""

    page: Page

    def press(self, place: str) -> None:
        """A link or a button; what follows is another page."""

    def pick(self, place: str) -> None:
        """One of several that exclude each other."""

    def write(self, place: str, words: str) -> None:
        """In place of what stands in a field."""

    def choose(self, place: str, words: str) -> None:
        """One of a list."""

    def date(self, place: str, day: str, at: str = "") -> None:
        """An ISO 8601 date, with a time of HH:MM where the field has one."""


class Touch:
    """Taps alone, 320 px wide. Dates and letters are the telephone's own affair."""

    def __init__(self, browser: Browser, address: str) -> None:
        self.page = browser.new_context(
            viewport={"width": 320, "height": 640},
            has_touch=True,
            is_mobile=True,
            locale=LOCALE,
            base_url=address,
        ).new_page()

    def press(self, place: str) -> None:
        with self.page.expect_navigation():
            self.page.tap(place)

    def pick(self, place: str) -> None:
        self.page.tap(place)

    def write(self, place: str, words: str) -> None:
        self.page.tap(place)
        self.page.fill(place, words)

    def choose(self, place: str, words: str) -> None:
        self.page.select_option(place, words)

    def date(self, place: str, day: str, at: str = "") -> None:
        self.page.fill(place, f"{day}T{at}" if at else day)


class Keys:
    """Tab, the arrows, Enter, Space and letters; no mouse, and nothing is focused for them."""

    def __init__(self, browser: Browser, address: str) -> None:
        self.page = browser.new_context(
            viewport={"width": 1280, "height": 800}, locale=LOCALE, base_url=address
        ).new_page()

    def press(self, place: str) -> None:
        self._go(place)
        is_button = self.page.locator(place).first.evaluate("one => one.matches('button')")
        with self.page.expect_navigation():
            self.page.keyboard.press("Space" if is_button else "Enter")

    def pick(self, place: str) -> None:
        name = self.page.locator(place).get_attribute("name")
        self._go(f"input[name={name}]:checked")
        for _ in range(self.page.locator(f"input[name={name}]").count()):
            if self.page.locator(place).is_checked():
                return
            self.page.keyboard.press("ArrowDown")
        raise AssertionError(f"never came to {place}")

    def write(self, place: str, words: str) -> None:
        self._go(place)
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(words)

    def choose(self, place: str, words: str) -> None:
        self._go(place)
        self.page.keyboard.press("Home")
        for _ in range(self.page.locator(f"{place} option").count()):
            if self.page.input_value(place) == words:
                return
            self.page.keyboard.press("ArrowDown")
        raise AssertionError(f"{place} never offered {words!r}")

    def date(self, place: str, day: str, at: str = "") -> None:
        year, month, of_month = day.split("-")
        self._go(place)
        self.page.keyboard.type(f"{month}{of_month}{year}")
        if at:
            self.page.keyboard.press("ArrowRight")  # a year may have more figures
            hour, minute = int(at[:2]), at[3:]
            self.page.keyboard.type(f"{hour % 12 or 12:02d}{minute}{'AM' if hour < 12 else 'PM'}")
        assert self.page.input_value(place) == (f"{day}T{at}" if at else day)

    def _go(self, place: str) -> None:
        """Tab from where one is, round the page where need be."""
        self.page.wait_for_selector(place)
        for _ in range(MOST_TABS):
            if self.page.evaluate(_IS_HERE, place):
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"{place} is not to be reached by the keyboard")
