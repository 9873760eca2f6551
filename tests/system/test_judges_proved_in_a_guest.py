"""The judges find what they are for: the program is spoilt where it lies in the guest, one thing at
a time, and the check that every other test relies on must fail. Nothing of it is kept.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from guest_at_work import Installed
from machine import Machine
from test_crash_points import lost_at_crash_points
from test_deaths_in_a_guest import dies
from test_starts_in_a_guest import edges_of_starts

pytestmark = pytest.mark.system

PROGRAM = "/opt/understudy/current/lib/python3.11/site-packages/controller"
WITHOUT_RELEASE = "[Service]\nExecStartPre=\nExecStopPost=\n"
# As a well-known way of claiming pins has it: as input, then low, then at the level that is wanted.
ASKED = "    with in_words(chip), gpiod.Chip(str(chip)) as device:\n"
ASKED_IN_TURN = f"""{ASKED}\
        for pin in outputs:
            for way in (Direction.INPUT, Direction.OUTPUT):
                setting = gpiod.LineSettings(direction=way, output_value=Value.INACTIVE)
                device.request_lines({{pin: setting}}).release()
"""
COMMITTED = "            self._around.commit(decision.batch, decision.records)\n"
GIVEN_FIRST = f"""\
            self._send(decision.plays)
            self._held[decision.batch] = decision._replace(plays=())
{COMMITTED}"""
# A card that takes so long; else the store is nearly always done before a relay closes.
STORES = "        ok = self._commit(store, batch.records)\n"
SLOW_CARD = f"        time.sleep(0.8)\n{STORES}"


@pytest.fixture(autouse=True)
def _no_figures(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What a spoilt program measures is no figure of ours."""
    monkeypatch.setenv("UNDERSTUDY_FIGURES", str(tmp_path / "figures.jsonl"))


def spoil(on: Machine, module: str, good: str, bad: str) -> None:
    """Put other lines in the place of some of the program's."""
    text = on.sh(f"cat {PROGRAM}/{module}")
    assert text.count(good) == 1, f"{module} reads otherwise by now"
    on.put(f"{PROGRAM}/{module}", text.replace(good, bad))


def test_a_unit_without_release_is_caught_when_all_of_it_dies_in_mid_ring(work: Machine) -> None:
    work.put("/etc/systemd/system/understudy.service.d/without.conf", WITHOUT_RELEASE)
    work.sh("systemctl daemon-reload && systemctl restart understudy")
    with pytest.raises(AssertionError, match=r"both, KILL, mid-ring: \d"):
        dies(work, "both", "KILL", "ring")


def test_a_line_that_is_claimed_as_input_then_low_then_at_its_level_is_caught(
    work: Machine,
) -> None:
    spoil(work, "circuits/chip.py", ASKED, ASKED_IN_TURN)
    moved, wrong = edges_of_starts(work, "sticky", 1)
    assert moved
    assert any("made an input" in told for told in wrong), wrong


@pytest.mark.parametrize("spoilt", [False, True], ids=["slow-card", "slow-card-and-given-first"])
def test_an_impulse_that_is_sent_before_it_is_stored_is_caught(
    written_down: Installed, tmp_path: Path, spoilt: bool
) -> None:
    """And a card that is slow is none of it."""

    def spoils(on: Machine) -> None:
        spoil(on, "service/journal_thread.py", STORES, SLOW_CARD)
        if spoilt:
            spoil(on, "service/engine_room.py", COMMITTED, GIVEN_FIRST)

    lost = lost_at_crash_points(written_down, tmp_path, 60, 20, spoils)
    assert bool(lost) == spoilt, lost[:5]
