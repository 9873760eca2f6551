"""Acts at the page of a real daemon with a fake board: what relays do, what the logbook tells."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from keepers import PASSWORD, Keeper
from starlette.testclient import TestClient
from windows import chromiums, served, signed_in

from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.lines import PinsFault
from controller.page.people import KeptPerson, People, keep_people, password_hash
from controller.page.settings import Settings
from controller.page.site import site
from controller.service.order_client import NoDaemon, OrderClient

FILE = """
[building]
name = "Elm Hall"
timezone = "America/Halifax"
[zones.north]
title = "North wing"
relay = 17
[zones.yard]
relay = 27
[lines.main]
title = "Classrooms"
drive = "alternating"
relays = [22, 23]
impulse = "300ms"
gap = "300ms"
[plans.daily]
rings = []
[week]
mon = "daily"
"""
PATIENT_SECONDS = 30.0


class Hall:
    """A daemon at work, its board, and the page before it."""

    def __init__(self, folder: Path, runtime: Path) -> None:
        file, self.runtime = folder / "elm-hall.toml", runtime
        file.write_text(FILE)
        people = folder / "people.toml"
        kept = KeptPerson(role="act", password=password_hash(PASSWORD))
        keep_people(people, People(people={"bo": kept}))
        understudy = str(Path(sys.executable).with_name("understudy"))
        folders = ["--state", str(folder), "--runtime", str(runtime)]
        command = [understudy, "run", str(file), "--fake", "--as-if-right", *folders]
        self.process = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        self.site = site(Settings(file, runtime, folder, people))
        self.wait(lambda: self.picture()["lines"]["main"]["state"] == "right")

    def picture(self) -> dict[str, Any]:
        with OrderClient(self.runtime, PATIENT_SECONDS) as daemon:
            state: dict[str, Any] = daemon.ask("status")["state"]
        return state

    def logbook(self) -> list[tuple[str, str]]:
        """What was done, and by whom."""
        with OrderClient(self.runtime, PATIENT_SECONDS) as daemon:
            entries = daemon.ask("logbook")["entries"]
        return [
            (entry["by"], f"{entry['kind']} {entry['zone']} {entry['text']}") for entry in entries
        ]

    def levels(self, pin: int) -> list[int]:
        """What the relay at a pin was told, in order."""
        with BoardClient(self.runtime / "board.sock") as board:
            return [c.to for c in board.log() if (c.what, c.name) == ("pin", f"GPIO{pin}")]

    def wait(self, what: Callable[[], Any]) -> None:
        """Look until it is so."""
        give_up = time.monotonic() + PATIENT_SECONDS
        while time.monotonic() < give_up:
            with contextlib.suppress(PinsFault, NoDaemon):
                if what():
                    return
            time.sleep(0.02)
        raise AssertionError(f"not within {PATIENT_SECONDS} s")

    def end(self) -> None:
        """The daemon ends, and its board."""
        self.process.terminate()
        self.process.wait(PATIENT_SECONDS)
        with contextlib.suppress(PinsFault), BoardClient(self.runtime / "board.sock") as board:
            board.end()


@pytest.fixture
def hall(tmp_path):
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        found = Hall(tmp_path, Path(short))
        yield found
        found.end()


@pytest.fixture(scope="module")
def chromium():
    with chromiums() as browser:
        yield browser


@pytest.fixture
def page(hall, chromium):
    """Bo's telephone."""
    with served(hall.site) as address:
        context = chromium.new_context(
            viewport={"width": 320, "height": 700}, has_touch=True, is_mobile=True, base_url=address
        )
        yield signed_in(context.new_page(), "bo", PASSWORD)
        context.close()


def test_a_bell_is_rung_by_touch_and_the_logbook_has_who_rang_it(hall, page):
    before = hall.levels(17)
    page.tap("a[href='/act/ring/north']")
    page.fill("#for", "0.5")
    assert hall.levels(17) == before, "nothing rings before it is confirmed"
    page.tap("main button")
    page.wait_for_selector(".answer:has-text('north rings now, 0.5 s.')")
    hall.wait(lambda: hall.levels(17)[len(before) :] == [1, 0])
    hall.wait(lambda: any(by == "bo" and "ring by hand: north" in it for by, it in hall.logbook()))


def test_all_bells_are_stopped_by_one_touch(hall, page):
    page.tap("a[href='/act/ring/all']")
    page.fill("#for", "9")
    page.tap("main button")
    hall.wait(lambda: hall.levels(17)[-1:] == [1] and hall.levels(27)[-1:] == [1])
    page.tap("text=Stop all bells")
    page.wait_for_selector(".answer:has-text('Stopped north, yard.')")
    assert (hall.levels(17)[-1], hall.levels(27)[-1]) == (0, 0)


def test_a_zone_is_kept_quiet_and_let_ring_again_by_the_keyboard_alone(hall, page):
    page.focus("a[href='/act/quiet/north']")
    page.keyboard.press("Enter")
    page.wait_for_url("**/act/quiet/north")
    page.focus("input[name=until][value=hour]")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_selector(".answer")
    assert hall.picture()["zones"]["north"]["state"] == "quiet"
    page.focus("main a[href='/act/lift-quiet/north']")
    page.keyboard.press("Enter")
    page.wait_for_url("**/act/lift-quiet/north")
    page.focus("main button")
    page.keyboard.press("Enter")
    page.wait_for_selector(".answer")
    assert hall.picture()["zones"]["north"]["state"] == "silent"


def test_a_bell_that_sounds_is_seen_without_asking(hall, page):
    with OrderClient(hall.runtime, PATIENT_SECONDS) as daemon:
        daemon.ask("ring", zones=["north"], **{"for": "8s"})
        page.wait_for_selector(".thing.sounding:has-text('North wing')")
        daemon.ask("stop")


def test_a_line_is_held_set_and_let_go_and_a_date_follows_another_plan(hall):
    bo = Keeper(TestClient(hall.site), "bo")

    def acts(address: str, **typed: str) -> str:
        path = address.partition("?")[0]
        return bo.sends(bo.opens(address), path, **typed).words

    def main() -> dict[str, Any]:
        found: dict[str, Any] = hall.picture()["lines"]["main"]
        return found

    acts("/act/hold/main")
    assert main()["state"] == "held"
    shows = str(main()["shows"])
    acts("/act/to/main", shows=shows)
    acts("/act/go/main")
    hall.wait(lambda: main()["state"] == "right")
    acts("/act/moved/main")
    assert main()["settle"] == ["set"]
    refused = bo.sends(bo.opens("/act/set/main"), "/act/set/main", 409, shows="8 o'clock")
    assert "8 o'clock" in refused.words
    acts("/act/set/main", shows=shows, polarity=main()["polarity"] or "-")
    hall.wait(lambda: main()["state"] == "right")
    before = len(hall.levels(22)) + len(hall.levels(23))
    acts("/act/step/main", impulses="2")
    hall.wait(lambda: len(hall.levels(22)) + len(hall.levels(23)) >= before + 4)
    acts("/act/follow", date="2030-01-02", plan="none")
    assert hall.picture()["follow"] == {"2030-01-02": "none"}
    acts("/act/follow?date=2030-01-02&plan=usual")
    assert hall.picture()["follow"] == {}
    done = [text for by, text in hall.logbook() if by == "bo"]
    for words in ("main", "2030-01-02"):
        assert any(words in text for text in done), done
