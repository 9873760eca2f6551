"""A board without a battery: its clock is in 1970 at power-on, and a time server comes up later."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from figures import note
from guest_at_work import HELD, RELAYS, WIRES, Installed
from judging import HALL_LINE, drive, exact, wrong_edges
from machine import machine

pytestmark = pytest.mark.system

SECOND = 1_000_000_000
RIGHT = datetime(2026, 11, 25, 13, 5, 10, tzinfo=UTC)
PORT = 11123
# chrony steps the clock at its first measurements, and disciplines it from then on. Without
# `rtcsync`, which Debian's own file has, it lets the kernel call it unsynchronised: chrony.conf(5).
CHRONY = f"""\
server 127.0.0.1 port {PORT} iburst minpoll 0 maxpoll 2
makestep 0.1 3
rtcsync
cmdport 0
pidfile /run/chronyd-test.pid
"""


def test_nothing_moves_in_1970_and_all_comes_right_by_a_time_server(
    written_down: Installed, tmp_path: Path
) -> None:
    with machine(written_down.guest, tmp_path / "guest", written_down.disk) as one:
        one.held, one.wires = dict(HELD), WIRES
        one.boot(datetime(1970, 1, 1, tzinfo=UTC))
        one.until("systemctl is-active -q understudy", 400)
        assert one.sh("date -u +%Y").strip() == "1970"
        since = drive(one, HALL_LINE, "08:45")  # it is 09:05
        one.sleep(62)
        state = one.status()
        assert not state["clock"]["trusted"], state["clock"]
        moved = [e for e in one.record.since(0) if e.what == "level" and e.line in RELAYS]
        # Before anybody claims them, lines that are pulled up are high: that is how they are found.
        assert moved == []
        one.put("/opt/time_server.py", Path(__file__).with_name("time_server.py").read_text())
        one.put("/opt/chrony.conf", CHRONY)
        mark = one.record.mark()
        right = round(RIGHT.timestamp()) * SECOND
        told = f"systemd-run -q python3 -I /opt/time_server.py {PORT} {right}"
        one.sh(f"{told} && sleep 1 && systemd-run -q chronyd -d -f /opt/chrony.conf")
        began = one.record.now
        plus = HALL_LINE.relays[0]
        first = one.record.wait_for(plus, 0, mark, 600)
        note("from chrony's start to the first impulse", (first.mono - began) / SECOND, "s")
        state = one.status()
        assert (state["clock"]["trusted"], state["clock"]["by"]) == (True, "kernel")
        one.sleep(25)
        assert one.status()["lines"]["hall"]["state"] == "right"
        shown = exact(one, HALL_LINE, since, "08:45")
        local = one.sh("TZ=America/Halifax date +%H:%M").strip()
        assert shown == local
        assert wrong_edges(one.record.since(0)) == []
