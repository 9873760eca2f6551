"""A store that an older version left is taken over; a removal leaves the keeper's files alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from guest_at_work import MAIN, RELAYS
from machine import Machine

from controller.journal.schema import STEPS

pytestmark = pytest.mark.system

# One a schema version: what the version left, as tests/journal keeps it.
KEPT = {number: Path(__file__).parents[1] / f"journal/version_{number}.sql" for number in (1, 2, 3)}
STATE, BUILDING = "/var/lib/understudy", "/etc/understudy/building"
SUMS = f"cd {BUILDING} && find . -type f -exec sha256sum {{}} + | sort && find . -type l"


@pytest.mark.parametrize("version", KEPT)
def test_a_kept_store_is_brought_up_and_its_cut_impulse_given_again(work, version: int) -> None:
    work.sh(f"systemctl stop understudy && rm -f {STATE}/store.sqlite* /run/understudy/*.json")
    work.put("/root/kept.sql", KEPT[version].read_text())
    work.sh(f"sqlite3 {STATE}/store.sqlite </root/kept.sql >/dev/null")
    work.sh(f"chown understudy: {STATE}/store.sqlite*")
    mark = work.record.mark()
    work.sh("systemctl start understudy")
    work.record.wait_for(MAIN[0], 1, mark, 240)  # + was out as that version's power went
    copied = "store.sqlite.before-v" in work.sh(f"ls {STATE}")
    assert copied == (version < len(STEPS))
    work.order("hold", line="main")
    main = work.status()["lines"]["main"]
    assert (main["polarity"], main["shows"], main["doubtful"]) == ("+", "07:12", False)


def test_there_is_a_kept_store_of_every_version() -> None:
    assert list(KEPT) == list(range(1, len(STEPS) + 1))


def test_a_removal_opens_all_and_leaves_the_keeper_s_files_as_they_are(work: Machine) -> None:
    before, store = work.sh(SUMS), work.sh(f"ls {STATE}")
    mark = work.record.mark()
    work.order("ring", zones=["north"], **{"for": "15s"})
    work.record.wait_for(17, 1, mark, 240)
    work.sh("mountpoint -q /brought || mount -o ro /dev/vdb /brought")
    said = work.sh("/brought/understudy/systemd/install --remove")
    assert "RELAYS MAY STILL BE CLOSED" not in said
    for relay, closed in RELAYS.items():
        assert work.level(relay) != closed, f"line {relay} is closed still"
    assert work.sh(SUMS) == before
    assert set(store.split()) >= {"store.sqlite"} <= set(work.sh(f"ls {STATE}").split())
    assert work.run("sh", "-c", "ls -d /opt/understudy /run/understudy", check=False).out == ""
    assert work.run("systemctl", "cat", "understudy", check=False).code != 0
