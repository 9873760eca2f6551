"""Today's version installed over the one that landed before, while that one gives impulses."""

from __future__ import annotations

from pathlib import Path

import pytest
from before import before
from build_guest import build_guest
from figures import note
from guest_at_work import BEGIN, HELD, MAIN, RELAYS, WATCH, WIRES, install
from judging import HALL_LINE, drive, exact, wrong_edges
from machine import machine

pytestmark = pytest.mark.system

STATE, BUILDING = "/var/lib/understudy", "/etc/understudy/building"
SUMS = f"cd {BUILDING} && find . -type f -exec sha256sum {{}} + | sort && find . -type l"


def test_an_upgrade_loses_no_impulse_and_leaves_the_keeper_s_files_as_they_are(
    tmp_path: Path,
) -> None:
    guest = build_guest()
    older = before(guest)
    with machine(guest, tmp_path / "guest", older.disk) as one:
        one.held, one.wires = dict(HELD), WIRES
        one.boot(BEGIN)
        one.until("systemctl is-active -q understudy", 300)
        environment = one.sh("readlink /opt/understudy/current").strip()
        sums = one.sh(SUMS)
        one.order("follow", date="2026-12-24", plan="none")
        since = drive(one, HALL_LINE, "03:00")  # hours behind: an impulse a second
        one.sleep(5)
        began = one.record.now
        said = install(one)
        note("an upgrade, its environment being there", (one.record.now - began) / 1e9, "s")
        assert "The daemon runs." in said, said
        assert f"Taken away: {environment}" in said, said
        assert one.sh("readlink /opt/understudy/current").strip() != environment
        assert one.sh("ls -d /opt/understudy/*/ | wc -l").strip() == "2"  # and the link to it
        assert "store.sqlite.before-v" in one.sh(f"ls {STATE}")
        assert one.sh(SUMS) == sums
        one.sleep(5)
        exact(one, HALL_LINE, since, "03:00")
        edges = one.record.since(0)
        assert wrong_edges(edges) == []
        unread = [edge for edge in edges if edge.line in (*MAIN, WATCH) and edge.what == "level"]
        assert unread == [], "a line that nobody has read has moved"
        assert one.status()["follow"] == {"2026-12-24": "none"}, one.status()
        assert set(RELAYS) >= {edge.line for edge in edges if edge.what == "out"} - {25}
